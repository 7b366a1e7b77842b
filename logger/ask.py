"""The open questions of a job as data, the most costly first: what is asked, what was heard, what to choose from.

Nothing is printed or read here: the command and any page to come do that, and hand each answer to `logger.reply`.
"""

from __future__ import annotations

import string
import tomllib
from collections.abc import Iterator
from dataclasses import dataclass, field
from functools import cache
from importlib import resources
from typing import Any

from extract import listed
from extract.check.saying import name as named
from extract.check.saying import place
from extract.crossing_asked import both_ways
from extract.limits import plausible
from extract.record import Crossing, Entry, Level, Question, Record, Run
from extract.worked_out import worked_out
from logger import in_spanish as spanish
from logger.book import Book
from logger.clean import clean
from logger.show import fields, kept_text, value_text, where
from logger.subjects import PHOTO

SAME = 1e-3
"""Two readings nearer than this are one."""


@dataclass(frozen=True)
class Heard:
    """A note that the question came from."""

    words: str
    where: str
    """`note:11, 09:12:11, pocket.m4a at 0:31.0`."""
    source: str | None = None
    """SHA-256 of the recording; None where it was typed."""
    start_s: float = 0.0
    end_s: float = 0.0


@dataclass(frozen=True)
class Reading:
    """A value to choose."""

    letter: str
    value: Any
    words: str
    """`34 ft 8 in`."""
    how: str = ""
    """Where arithmetic made it: `by drop and slope`."""


@dataclass(frozen=True)
class Asked:
    """One open question."""

    id: str
    question: Question = field(repr=False)
    text: str
    """In plain words: `How long is run 2?`."""
    why: str
    heard: list[Heard]
    readings: list[Reading]
    stands: str | None
    """What the field holds now, in words."""
    value: Any
    """The same as the record has it; None where nothing stands."""
    subject: str | None
    """What an answer amends: `R-2`, `level:3`, `photo:7`; None where nothing is there to amend."""
    field: str | None


def open_questions(book: Book) -> list[Asked]:
    """All of them, those first that cost most when they are wrong."""
    return [asked_of(book, question) for question in in_order(book)]


def in_order(book: Book) -> list[Question]:
    """The same, with nothing worked out that an answer needs."""
    order, why = table()["order"]["fields"], table()["order"]["why"]

    def cost(question: Question) -> tuple[int, int]:
        kind = target(book.record, question)[1] or "unplaced"
        rank = next((i for i, names in enumerate(order) if kind in names), len(order))
        return rank, why.index(question.why)

    return sorted(book.record.questions, key=cost)


def find(book: Book, question_id: str) -> Asked | None:
    """The question of that ID; None where it is open no more."""
    found = (each for each in book.record.questions if each.id == question_id)
    return next((asked_of(book, question) for question in found), None)


def asked_of(book: Book, question: Question) -> Asked:
    """What a person is asked, with what was heard and the readings to choose from."""
    record = book.record
    subject, name = target(record, question)
    entry = entry_of(record, subject)
    value = getattr(entry, "from_" if name == "from" else name, None) if entry and name else None
    value = None if value == [] else value
    stands = dict(fields(entry)).get(name) if entry and name else None
    if subject and PHOTO.fullmatch(subject):
        value = stands = next(each.about for each in book.photos if subject == f"photo:{each.number}")
    return Asked(
        id=question.id or "",
        question=question,
        text=_text(question, name),
        why=table()["why"][question.why],
        heard=list(_heard(book, question)),
        readings=_readings(book, question, name),
        stands=stands,
        value=value,
        subject=subject,
        field=name,
    )


def target(record: Record, question: Question) -> tuple[str | None, str | None]:
    """What an answer amends, and which field of it."""
    name = question.field
    if question.about.startswith("photo "):
        return question.about.replace(" ", ":"), name
    thing = record.subject(question.about)
    if thing is not None and (name is None or name.removesuffix("_") in (*type(thing).model_fields, "from")):
        return question.about, name
    if listed.listed(record, question.about) is not None:
        return question.about, name
    entry = next((each for each in _listed(record) if listed.asks_of(question, each)), None)
    if entry is None:
        return None, name
    sided = not isinstance(entry, Level) or " " in entry.point or record.subject(entry.point) is None
    return listed.subject_of(record, entry), name if sided or question.why != "missing" else "point"


def entry_of(record: Record, subject: str | None) -> Entry | None:
    """The entry that a subject names."""
    return (record.subject(subject) or listed.listed(record, subject)) if subject else None


def _listed(record: Record) -> Iterator[Entry]:
    yield from record.levels
    yield from record.tests
    yield from record.issues


def question_text(record: Record, question: Question) -> str:
    """A question in plain words, with what there is to choose from: `How long is run 2? 34 ft or 43 ft?`"""
    name = target(record, question)[1]
    choices = [_value_text(name, each) for each in choices_of(record, question, name)]
    text = _text(question, name)
    return f"{text} {' or '.join(choices)}?" if len(choices) > 1 else text


def _text(question: Question, name: str | None) -> str:
    words = table()["question"]
    if " " in question.about and not question.about.startswith(("note ", "photo ")):
        about = place(question.about)
    else:
        about = named(question.about) if question.about != "benchmark" else "the benchmark"
    form = words["unplaced"] if name is None else words.get(name, words["other"])
    form = words[question.about] if question.about in ("levels", "tests", "job") else form
    return str(form.format(thing=clean(about), field=(name or "").replace("_", " ")))


def in_spanish(asked: Asked) -> tuple[str, str]:
    """A question's text and its why, in Spanish."""
    return spanish.question_text(asked.question.about, asked.field), spanish.asking()["why"][asked.question.why]


def _heard(book: Book, question: Question) -> Iterator[Heard]:
    for index in sorted({item.note for item in question.evidence}):
        if index >= len(book.notes):
            yield Heard(clean(book.witnesses[index - len(book.notes)].text), "by hand")
            continue
        note = book.notes[index]
        sound = note.source if note.start_s is not None else None
        at = note.start_s or 0.0
        yield Heard(clean(note.heard or note.text), where(book, index), sound, at, note.end_s or at)


def _readings(book: Book, question: Question, name: str | None) -> list[Reading]:
    """The values offered, then what arithmetic makes of it; each once."""
    found: list[tuple[Any, str]] = [(each, "") for each in choices_of(book.record, question, name)]
    if name and record_has(book.record, question.about):
        checks = table()["worked_out"]
        worked = worked_out(book.record, book.findings, question.about, name, checks)
        found += [(each.value, table()["how"][each.by]) for each in worked if plausible(name, each.value)]
    readings: list[Reading] = []
    for value, how in found:
        if len(readings) < len(string.ascii_lowercase) and not any(_same(value, each.value) for each in readings):
            letter = string.ascii_lowercase[len(readings)]
            readings.append(Reading(letter, value, _value_text(name, value), how))
    return readings


def choices_of(record: Record, question: Question, name: str | None) -> list[Any]:
    """The values offered; of a crossing the whole of it, for a bare figure says nothing there."""
    choices = [each for each in question.choices or [] if each is not None]
    run = record.subject(question.about)
    if name != "crossings" or not isinstance(run, Run) or all(isinstance(each, list) for each in choices):
        return choices
    return list(both_ways(question, run.crossings))


def record_has(record: Record, label: str) -> bool:
    """Whether the record has a thing of that label."""
    return record.subject(label) is not None


def _value_text(name: str | None, value: Any) -> str:
    """Of areas, one is chosen by its size."""
    if name == "areas" and isinstance(value, int | float):
        return f"{value:g} square feet"
    if isinstance(value, Crossing):
        return value_text("crossings", [value])
    return kept_text(name, value) if name == "crossings" else value_text(name or "", value)


def _same(one: Any, other: Any) -> bool:
    numbers = isinstance(one, int | float) and isinstance(other, int | float)
    return abs(one - other) <= SAME * max(1.0, abs(one)) if numbers else bool(one == other)


@cache
def table() -> dict[str, Any]:
    """What logger/ask.toml holds."""
    return tomllib.loads(resources.files("logger").joinpath("ask.toml").read_text(encoding="utf-8"))
