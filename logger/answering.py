"""Questions put to the book in words, answered in one sentence from the record and the checks.

An answer tells what the book holds. It never says that the work is right or a trench safe.
"""

from __future__ import annotations

import re
import tomllib
from functools import cache
from importlib.resources import files
from typing import TYPE_CHECKING, Any

from logger.clean import clean
from logger.ready import ready

if TYPE_CHECKING:
    from extract.record import Record, Run, Structure
    from logger.book import Book
    from logger.ready import Answers

LONGEST_QUESTION = 16
"""Words; who says more is telling, not asking."""
LONGEST_NAME = 4
"""Words that name a thing."""
THINGS = re.compile(
    r"\b(?:run|basin|box|channel|outlet|pop-up|cleanout|downspout|(?<!\bit )(?<!\bthat )drain|well|tramo|caja|registro|"
    r"canal)s?\b",
    re.I,
)
OF_WHAT = {"pipe", "tubo", "drain"}
"""Words that name a field, and as often the thing itself."""
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
    answers = ready(book.store, book.name)
    chosen = [each for each in answers.runs if each.run == label]
    return _with_unheard(" ".join(each.words for each in chosen) or _which(book.record, book.record.runs), answers)


def _missing(book: Book, plain: str) -> str:
    named, answers = _named(book.record, plain), ready(book.store, book.name)
    chosen = [each for each in answers.runs if named in (None, each.run)]
    built = [each for each in chosen if each.built]
    lacking = [each for each in built if each.missing or each.questions or each.fails]
    if not chosen:  # none in the book, or it is no run that was named
        told = _which(book.record, book.record.runs)
    elif built and not lacking:
        told = _says("complete")
    else:
        told = " ".join(each.words for each in lacking or chosen)
    return _with_unheard(told, answers)


def _with_unheard(told: str, answers: Answers) -> str:
    """What no one has listened to yet may say otherwise."""
    return f"{told} {_says('unheard', names=', '.join(answers.unheard))}" if answers.unheard else told


def _read_back(book: Book, plain: str) -> str:
    from extract.check.saying import name
    from logger.show import fields
    from reports.words import field as plainly

    label = _label(book, plain)
    entry = book.record.subject(label) if label else None
    if entry is None:
        return _which(book.record, [*book.record.runs, *book.record.structures])
    asked = {each.field for each in book.record.questions if each.about == entry.label}
    facts = ", ".join(
        _says("in_doubt" if field in asked else "fact", field=plainly(field), value=text)
        for field, text in fields(entry)
    )
    return _says("read_back" if facts else "bare", thing=name(entry.label), facts=facts)


def _value(book: Book, plain: str) -> str | None:
    from logger.show import fields

    wanted = _fields(plain)
    if not wanted:
        return None
    label = _label(book, plain)
    entry = book.record.subject(label) if label else None
    if entry is None:
        return _which(book.record, [*book.record.runs, *book.record.structures])
    stands = dict(fields(entry))
    known = {each.rstrip("_") for each in type(entry).model_fields}
    own = next((each for names in wanted if (each := [name for name in names if name in known])), None)
    if own is None:
        return None
    name = next((each for each in own if each in stands), own[0])
    return _told(book, entry, name, stands.get(name))


def _fields(plain: str) -> list[list[str]]:
    """The fields that each word names, in order; last those of a word that may only say of what: `the pipe length`."""
    known = table()["fields"]
    words = sorted(filter(known.get, plain.split()), key=lambda word: word in OF_WHAT)
    return [known[word] for word in words]


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
