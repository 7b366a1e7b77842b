"""Questions put to the book in words, answered in a sentence or two from the record and the checks.

An answer is in the language of its question. It tells what the book holds, and never says that the work is right or a
trench safe.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from functools import cache
from typing import TYPE_CHECKING, Any, NamedTuple

from extract.spanish import in_digits
from logger import asked_in_spanish
from logger.asked_in_spanish import Named
from logger.asked_in_spanish import named as named_in_spanish
from logger.clean import clean
from logger.ready import ready
from logger.wording import table, wording
from reports.words import crossing, things

if TYPE_CHECKING:
    from extract.record import Language, Record, Run, Structure
    from logger.book import Book
    from logger.ready import Answers
    from logger.wording import Wording

    Thing = Run | Structure

LONGEST_QUESTION = 16
"""Words; who says more is telling, not asking."""
LONGEST_NAME = 4
"""Words that name a thing."""
THINGS = re.compile(
    r"\b(?:run|basin|box|channel|outlet|pop-up|cleanout|downspout|(?<!\bit )(?<!\bthat )drain|well)s?\b", re.I
)
WORD = re.compile(r"[\w'’-]+")


class Put(NamedTuple):
    """A question as it was put."""

    kind: str
    language: Language
    words: str

    @property
    def plain(self) -> str:
        """Its words in small letters; of Spanish without accents, numbers as digits."""
        return in_digits(self.words) if self.language == "es" else _plain(self.words)

    @property
    def say(self) -> Wording:
        """The words of its answer."""
        return wording(self.language)

    def says(self, form: str, **values: str) -> str:
        """A form of its answer, filled in."""
        return self.say.words("says", form).format(**values)


def put(words: str) -> Put | None:
    """The words as a question; None where they are none that the book can be asked. Told without the book."""
    plain = _plain(words)
    if len(plain.split()) > LONGEST_QUESTION:
        return None
    english = table("en")["kinds"].items()
    if kind := next((kind for kind, phrases in english for each in phrases if _holds(plain, each)), None):
        return Put(kind, "en", words)
    spanish = asked_in_spanish.kind_of(words)
    return Put(spanish, "es", words) if spanish else None


def answer(book: Book, asked: Put) -> str | None:
    """One or two sentences, or None where the book cannot answer it."""
    told = KINDS[asked.kind](book, asked)
    return clean(told[0].upper() + told[1:]) if told else None


def _plain(words: str) -> str:
    return " ".join(WORD.findall(words.lower().replace("’", "'")))


def _holds(plain: str, phrase: str) -> bool:
    return f" {phrase} " in f" {plain} "


# -- what is meant


def _label(book: Book, asked: Put, of: Sequence[Thing], last: str = "") -> str | None:
    """The label of the thing that the question names, a number alone being one of these; else of the thing spoken of
    last whose label begins so."""
    named = _named(book.record, asked, of)
    if named:
        return named.label
    spoken = (label for each in reversed(book.spoken) for label in each.labels if label.startswith(last))
    return next(spoken, None)


def _named(record: Record, asked: Put, of: Sequence[Thing]) -> Named | None:
    """What the question names; None where it names nothing. Crews mix the names of both languages."""
    labels, by_number = ([each.label for each in every] for every in (things(record), of))
    spanish = named_in_spanish(labels, asked.words, by_number if asked.language == "es" else ())
    if asked.language == "es" and spanish:
        return spanish
    plain = _plain(asked.words)
    label, thing = _in_english(record, plain), THINGS.search(plain)
    if label:
        return Named(label, number=True)
    return Named(None, number=_numbered(plain[thing.end() :])) if thing else spanish


def _numbered(behind: str) -> bool:
    """Whether the words behind a thing begin with its number, be there such a thing or not."""
    from extract.text.grammar import TABLE

    word = next(iter(behind.removeprefix(" number").split()), "")
    return word.isdigit() or any(word in TABLE["words"][each] for each in ("ones", "teen", "tens"))


def _in_english(record: Record, plain: str) -> str | None:
    from extract.answers import label_said

    parts = plain.split()
    for length in range(min(LONGEST_NAME, len(parts)), 0, -1):
        for start in range(len(parts) - length + 1):
            if label := label_said(record, " ".join(parts[start : start + length])):
                return label
    return None


def _which(asked: Put, of: Sequence[Thing]) -> str:
    if not of:
        return asked.says("nothing")
    return asked.says("which", things=", ".join(asked.say.thing(each.label) for each in of))


# -- the answers


def _ready(book: Book, asked: Put) -> str:
    label = _label(book, asked, book.record.runs, "R-")
    answers = ready(book.store, book.name, asked.language)
    chosen = [each for each in answers.runs if each.run == label]
    told = " ".join(each.words for each in chosen) or _which(asked, book.record.runs)
    return _with_unheard(asked, told, answers)


def _missing(book: Book, asked: Put) -> str:
    named, answers = _named(book.record, asked, book.record.runs), ready(book.store, book.name, asked.language)
    of_one = named is not None and (named.number or named.label is not None)
    chosen = [each for each in answers.runs if not of_one or (named and each.run == named.label)]
    built = [each for each in chosen if each.built]
    lacking = [each for each in built if each.missing or each.questions or each.fails or each.accepted]
    if not chosen:  # none in the book, or it is no run that was named
        told = _which(asked, book.record.runs)
    elif built and not lacking:
        told = asked.says("complete")
    else:
        told = " ".join(each.words for each in lacking or chosen)
    return _with_unheard(asked, told, answers)


def _with_unheard(asked: Put, told: str, answers: Answers) -> str:
    """What no one has listened to yet may say otherwise."""
    return f"{told} {asked.says('unheard', names=', '.join(answers.unheard))}" if answers.unheard else told


def _read_back(book: Book, asked: Put) -> str:
    from logger.show import held

    label = _label(book, asked, things(book.record))
    entry = book.record.subject(label) if label else None
    if entry is None:
        return _which(asked, [*book.record.runs, *book.record.structures])
    open_ = {each.field for each in book.record.questions if each.about == entry.label}
    facts = ", ".join(
        asked.says(
            "in_doubt" if name in open_ else "fact", field=asked.say.field(name), value=asked.say.value(name, value)
        )
        for name, value in held(entry)
    )
    return asked.says("read_back" if facts else "bare", facts=facts, **_called(asked, entry))


def _value(book: Book, asked: Put) -> str | None:
    from logger.show import held

    wanted = _fields(asked)
    if not wanted:
        return None
    if crossed := _crossed(book, asked):
        return crossed
    label = _label(book, asked, [each for each in things(book.record) if _own(each, wanted[:1])])
    entry = book.record.subject(label) if label else None
    if entry is None:
        return _which(asked, [*book.record.runs, *book.record.structures])
    stands, own = dict(held(entry)), _own(entry, wanted)
    if not own:
        return None
    name = next((each for each in own if each in stands), own[0])
    return _told(book, asked, entry, name, stands.get(name))


def _crossed(book: Book, asked: Put) -> str | None:
    """What was told of a line that the question names and a run only crosses; None where it names none."""
    names = [in_digits(each) if asked.language == "es" else each for each in table(asked.language)["crossed"]["names"]]
    named = [each for each in names if _holds(asked.plain, each)]
    if not named:
        return None
    told = (
        asked.says("crossed", what=crossing(each, asked.language), **_called(asked, run))
        for run in book.record.runs
        for each in run.crossings
        if any(_holds(_plain(each.what), word) for word in named)
    )
    return " ".join(told) or asked.says("not_crossed")


def _own(entry: Thing, wanted: Sequence[list[str]]) -> list[str]:
    """Of the first of those lists that names a field which such a thing can have, these fields."""
    known = {each.rstrip("_") for each in type(entry).model_fields}
    return next((own for names in wanted if (own := [name for name in names if name in known])), [])


def _fields(asked: Put) -> list[list[str]]:
    """The fields that each word names, in order; last those of a word that may only say of what: `the pipe length`."""
    named = _fields_named(asked.language)
    found = _field_named(asked.language).findall(asked.plain)
    return [fields[word] for fields in named for word in found if word in fields]


@cache
def _fields_named(language: Language) -> list[dict[str, list[str]]]:
    """The fields that each word names, by the word as `Put.plain` writes it; those that count last come last."""
    parts = [table(language)["fields"], table(language)["last"]]
    return [{in_digits(word): fields for word, fields in part.items()} for part in parts]


@cache
def _field_named(language: Language) -> re.Pattern[str]:
    words = sorted((word for part in _fields_named(language) for word in part), key=len, reverse=True)
    return re.compile(rf"(?<!\S)(?:{'|'.join(map(re.escape, words))})(?!\S)")


def _told(book: Book, asked: Put, entry: Thing, name: str, value: Any) -> str:
    from extract.worked_out import worked_out
    from logger.ask import table as of_questions

    say = asked.say
    told = {"field": say.field(name), "the_field": say.field(name, "the"), **_called(asked, entry)}
    open_ = next((each for each in book.record.questions if (each.about, each.field) == (entry.label, name)), None)
    if value is not None and open_:
        question = say.question(book.record, open_)
        return asked.says("asked", value=say.value(name, value), question=question, **told)
    if value is not None:
        form = "planned" if entry.state == "planned" else "value"
        return asked.says(form, value=say.value(name, value), **told)
    worked = worked_out(book.record, book.findings, entry.label, name, of_questions()["worked_out"])
    for each in worked:
        return asked.says("worked", how=say.words("how", each.by), value=say.value(name, each.value), **told)
    return asked.says("none", **told)


def _called(asked: Put, entry: Thing) -> dict[str, str]:
    """The thing's name, in each form that an answer may take."""
    say, label = asked.say, entry.label
    return {"thing": say.thing(label), "title": say.title(label), "of": say.of(label)}


KINDS = {"ready": _ready, "missing": _missing, "read_back": _read_back, "value": _value}
