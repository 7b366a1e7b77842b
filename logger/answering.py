"""Questions put to the book in words, answered in one sentence from the record and the checks.

An answer tells what the book holds. It never says that the work is right or a trench safe.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterator
from functools import cache
from importlib.resources import files
from typing import TYPE_CHECKING, Any

from logger.clean import clean
from logger.ready import ready

if TYPE_CHECKING:
    from extract.record import Record, Run, Structure
    from logger.book import Book

LONGEST_QUESTION = 16
"""Words; who says more is telling, not asking."""
LONGEST_NAME = 4
"""Words that name a thing."""
THINGS = re.compile(
    r"\b(?:run|basin|box|channel|outlet|pop-up|cleanout|downspout|drain|well|tramo|caja|registro|canal)s?\b", re.I
)
WORD = re.compile(r"[\w'’-]+")


def answer(book: Book, words: str) -> str | None:
    """One or two sentences, or None where the words are no question that the book can answer."""
    kind, plain = kind_of(words), _plain(words)
    told = KINDS[kind](book, plain) if kind else None
    return clean(told[0].upper() + told[1:]) if told else None


def kind_of(words: str) -> str | None:
    """Which kind of question the words are; None where they are none. Told without the book."""
    plain = _plain(words)
    if len(plain.split()) > LONGEST_QUESTION:
        return None
    return next((kind for kind, phrases in table()["kinds"].items() for each in phrases if _holds(plain, each)), None)


def _plain(words: str) -> str:
    return " ".join(WORD.findall(words.lower().replace("’", "'")))


def _holds(plain: str, phrase: str) -> bool:
    return f" {phrase} " in f" {plain} "


@cache
def table() -> dict[str, Any]:
    """What logger/answering.toml holds."""
    return tomllib.loads(files("logger").joinpath("answering.toml").read_text(encoding="utf-8"))


def _says(form: str, **values: str) -> str:
    return str(table()["says"][form].format(**values))


# -- what is meant


def _label(book: Book, plain: str, prefix: str = "") -> str | None:
    """The label of the thing that the question names, else of the one that was spoken of last."""
    named = _named(book.record, plain)
    if named or THINGS.search(plain):
        return named
    spoken = (label for each in reversed(book.spoken) for label in each.labels if label.startswith(prefix))
    return next(spoken, None)


def _named(record: Record, plain: str) -> str | None:
    from extract.answers import label_said

    parts = plain.split()
    for length in range(min(LONGEST_NAME, len(parts)), 0, -1):
        for start in range(len(parts) - length + 1):
            if label := label_said(record, " ".join(parts[start : start + length])):
                return label
    return None


def _which(record: Record, things: list[Any]) -> str:
    from extract.check.saying import name

    if not things:
        return _says("nothing")
    return _says("which", things=", ".join(name(each.label) for each in things))


# -- the answers


def _ready(book: Book, plain: str) -> str:
    label = _label(book, plain, "R-")
    answers = ready(book.store, book.name).runs
    chosen = [each for each in answers if each.run == label]
    return " ".join(each.words for each in chosen) or _which(book.record, book.record.runs)


def _missing(book: Book, plain: str) -> str:
    named = _named(book.record, plain)
    answers = [each for each in ready(book.store, book.name).runs if each.built and named in (None, each.run)]
    if not answers and not book.record.runs:
        return _says("nothing")
    open_ = [each for each in answers if each.missing or each.questions or each.fails]
    return " ".join(each.words for each in open_) or _says("complete")


def _read_back(book: Book, plain: str) -> str:
    from extract.check.saying import name
    from logger.show import fields
    from reports.words import field as plainly

    label = _label(book, plain)
    entry = book.record.subject(label) if label else None
    if entry is None:
        return _which(book.record, [*book.record.runs, *book.record.structures])
    facts = ", ".join(f"{plainly(field)} {text}" for field, text in fields(entry))
    return _says("read_back" if facts else "bare", thing=name(entry.label), facts=facts)


def _value(book: Book, plain: str) -> str | None:
    from logger.show import fields

    wanted = list(_fields(plain))
    if not wanted:
        return None
    label = _label(book, plain)
    entry = book.record.subject(label) if label else None
    if entry is None:
        return _which(book.record, [*book.record.runs, *book.record.structures])
    stands = dict(fields(entry))
    own = {each.rstrip("_") for each in type(entry).model_fields}
    name = next((each for each in wanted if each in stands), next((each for each in wanted if each in own), None))
    return None if name is None else _told(book, entry, name, stands.get(name))


def _fields(plain: str) -> Iterator[str]:
    for word in plain.split():
        yield from table()["fields"].get(word, [])


def _told(book: Book, entry: Run | Structure, name: str, value: str | None) -> str:
    from extract.check.saying import name as said
    from extract.worked_out import worked_out
    from logger.ask import question_text
    from logger.ask import table as of_questions
    from logger.show import value_text
    from reports.words import field as plainly

    told = {"thing": said(entry.label), "field": plainly(name)}
    asked = next((each for each in book.record.questions if (each.about, each.field) == (entry.label, name)), None)
    if value and asked:
        return _says("asked", value=value, question=question_text(book.record, asked), **told)
    if value:
        return _says("planned" if entry.state == "planned" else "value", value=value, **told)
    worked = worked_out(book.record, book.findings, entry.label, name, of_questions()["worked_out"])
    for each in worked:
        return _says("worked", how=each.how, value=value_text(name, each.value), **told)
    return _says("none", **told)


KINDS = {"ready": _ready, "missing": _missing, "read_back": _read_back, "value": _value}
