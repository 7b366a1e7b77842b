"""What a typed note was understood to say, in one line, for whoever typed it: what it entered, and what it asks."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from typing import TYPE_CHECKING, Any

from logger.answering import answer, put

if TYPE_CHECKING:
    from extract.record import Entry, Language, Note, Record
    from logger.book import Book
    from logger.store import Store

WORD = re.compile(r"[a-z']+|\d")
SPOKEN_OF = ("structure", "run", "pipe", "fitting", "attribute", "level", "issue", "test", "task", "decision")
"""The lists of the lexicon of which a note that goes into the record holds a word."""
PLAIN = frozenset(
    "it is in of on the a to and that out that's we're it's my or be no not going off by at we me an th up".split()
)
TAKES_BACK = frozenset("scratch strike delete erase".split())
MOST_ASKED = 3
"""Questions that one line holds."""
LABEL = re.compile(r"\b(?:CD|CB|AD|DS|CO|JB|DW|OUT|R)-\d+\b")
UNITS = {"ft": "feet", "in": "inches"}
UNIT = re.compile(r"(\d|per) (ft|in)\b")
SHORT = re.compile(r"[^\W\d]+|×")


@dataclass(frozen=True)
class Told:
    """What is told of a note to whoever said or typed it."""

    line: str
    """What it was understood to say and what it asks, or the answer where it is a question."""
    aloud: str
    """The answer, or what was entered where that has figures, with labels and units in words; else empty."""
    answers: bool
    language: Language = "en"
    """Of both: an answer's is that of the question."""

    @property
    def shape(self) -> dict[str, Any]:
        """As JSON can hold it."""
        return dict(vars(self))


def read_back(store: Store, name: str, text: str) -> str | None:
    """One line on a typed note, or None where it holds no word that a record is made of. It is in the log already.

    A question is answered.
    """
    if not _worth(text):
        return None
    from logger.book import Book

    book = Book(store, name)
    typed = [entry.id for entry in book.log if entry.kind == "said" and entry.body["text"] == text]
    index = next((i for i, line in enumerate(book.lines) if typed and line.mark == f"log:{typed[-1]}"), None)
    return None if index is None else tell(book, [index])[index].line


def tell(book: Book, notes: Iterable[int]) -> dict[int, Told]:
    """What is told of each of those notes, by its INDEX; nothing of one without a word that a record is made of."""
    said = [index for index in notes if not book.lines[index].former]
    worth = [index for index in said if _worth(book.lines[index].words) or _worth(book.notes[index].text)]
    if worth:
        _read_quickly(book)
    return {index: _told(book, index) for index in worth}


def _told(book: Book, index: int) -> Told:
    note, said = book.notes[index], book.lines[index].words
    for words in [said] if note.language == "es" else [said, note.text]:  # the text of Spanish is its English
        if (asked := put(words)) and (told := answer(book, asked)):
            return Told(told, aloud(told, asked.language), answers=True, language=asked.language)
    entered, open_ = _entered(book, index), _asks(book.record, index)
    words = entered or "Nothing of it was entered."
    figures = any(each.isdigit() for each in LABEL.sub("", entered))
    line = f"{words} Asks: {' '.join(open_)}" if open_ else words
    return Told(line, aloud(entered) if figures else "", answers=False)


def _worth(text: str) -> bool:
    return put(text) is not None or of_the_work(text)


def aloud(line: str, language: Language = "en") -> str:
    """A line with labels and units in words, for a voice that reads it. A Spanish one has no labels."""
    from extract.check.saying import name
    from logger.wording import table

    if language == "es":
        return SHORT.sub(lambda match: str(table("es")["aloud"].get(match[0], match[0])), line)

    line = LABEL.sub(lambda match: name(match[0]), line)
    return UNIT.sub(lambda match: f"{match[1]} {UNITS[match[2]]}", line)


def of_the_work(text: str) -> bool:
    """Whether a note holds a figure or a word of the trade; told without loading the reader."""
    words = WORD.findall(text.lower())
    return any(word.isdigit() or word in _trade() or word in TAKES_BACK for word in words)


@cache
def _trade() -> frozenset[str]:
    lexicon, numbers = (_toml(name) for name in ("lexicon.toml", "text/grammar.toml"))
    said = [phrase for name in SPOKEN_OF for phrases in lexicon[name].values() for phrase in phrases]
    said += [word for word in _strings(numbers["words"])]
    return frozenset(WORD.findall(" ".join(said).lower())) - PLAIN


def _toml(name: str) -> dict[str, dict[str, list[str]]]:
    return tomllib.loads(files("extract").joinpath(name).read_text(encoding="utf-8"))


def _strings(value: object) -> Iterator[str]:
    if isinstance(value, str):
        yield value
    elif isinstance(value, dict):
        yield from value
        for each in value.values():
            yield from _strings(each)
    elif isinstance(value, list):
        for each in value:
            yield from _strings(each)


def _read_quickly(book: Book) -> None:
    """How surely recordings were heard is left aside: that is asked of their own notes, and takes long to weigh."""
    book.__dict__["_kept"] = {}
    book.__dict__["_read"] = _assembled(book, book.said)
    book.keep_readings()


def _assembled(book: Book, notes: Sequence[Note]) -> Record:
    from extract.assemble import assemble

    sure = {"alternatives": [], "words": [], "confidence": 1.0}
    return assemble([note.model_copy(update=sure) for note in notes], kept=book.readings, known=book.known)


def _entered(book: Book, index: int) -> str:
    record = book.record
    entered = [*_things(record, index), *_greater_cover(record, index), *_listed(record, index), *_new(record, index)]
    return f"{'; '.join(entered).rstrip('.')}." if entered else ""


def _things(record: Record, index: int) -> Iterator[str]:
    from logger.show import fields
    from reports.words import field as plainly
    from reports.words import thing, things

    for entry in things(record):
        named = {item.field.rstrip("_") for item in entry.evidence if item.note == index and item.field}
        values = [f"{plainly(name)} {text}" for name, text in fields(entry) if name in named]
        if named:
            what = thing(entry).removesuffix(f" {entry.label}")
            yield f"{entry.label}: {', '.join(values) or what}"


def _greater_cover(record: Record, index: int) -> Iterator[str]:
    """Of two covers of a run the least stands: the note that tells the greater changes nothing."""
    from logger.show import value_text

    for run in record.runs:
        before = any(item.field == "cover_in" and item.note < index for item in run.evidence)
        told = [each for each in record.numbers if (each.note, each.to) == (index, f"{run.label}.cover_in")]
        inches = [each.value * (12 if each.unit == "ft" else 1) for each in told if each.went == "withdrawn"]
        if before and run.cover_in is not None and inches and min(inches) > run.cover_in:
            yield f"{run.label}: cover stays {value_text('cover_in', run.cover_in)}, the least that was told"


def _new(record: Record, index: int) -> Iterator[str]:
    """What the note names first and nothing else was said of."""
    from reports.words import joined, thing, things

    alone = {(index, None)}
    named = [each for each in things(record) if {(item.note, item.field) for item in each.evidence} == alone]
    new = [thing(each) for each in named]
    if new:
        yield f"new: {joined(new)}, nothing else said of {'it' if len(new) == 1 else 'them'} yet"


def _listed(record: Record, index: int) -> Iterator[str]:
    from logger.show import said

    groups: dict[str, Sequence[Entry]] = {"level": record.levels, "test": record.tests, "issue": record.issues}
    groups |= {"to do": record.tasks, "decision": record.decisions, "change of plan": record.changes}
    for name, entries in groups.items():
        for entry in entries:
            if any(item.note == index for item in entry.evidence):
                yield f"{name}: {said(entry)}"


def _asks(record: Record, index: int) -> list[str]:
    """What the note raises, and what it leaves unsaid of what it speaks of."""
    from logger.ask import question_text
    from reports.words import things

    touched = {each.label for each in things(record) if any(item.note == index for item in each.evidence)}
    asked = [
        each
        for each in record.questions
        if any(item.note == index for item in each.evidence) or (each.why == "missing" and each.about in touched)
    ]
    more = [f"And {len(asked) - MOST_ASKED} more."] if len(asked) > MOST_ASKED else []
    return [*(question_text(record, each) for each in asked[:MOST_ASKED]), *more]
