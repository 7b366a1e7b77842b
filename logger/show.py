"""A job as text to read at a terminal: every figure with the note, the second of sound and the photos it rests on."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from contextlib import suppress
from typing import Any

from pydantic import ValidationError

from extract.additions import crossing_words, point_words, tie_words
from extract.field_names import plain_name
from extract.listed import LISTS, bought_words
from extract.record import (
    Acceptance,
    Area,
    Crossing,
    Decision,
    Departure,
    Entry,
    Finding,
    Fitting,
    FixedPoint,
    Level,
    Model,
    Note,
    Purchase,
    Question,
    Record,
    Run,
    Structure,
    Task,
    Tie,
)
from logger.book import Book
from logger.clean import clean
from logger.tables import Block, Table
from reports import words
from reports.job import Photo

OF_MANY: dict[str, type[Model]] = {"fittings": Fitting, "areas": Area, "ties": Tie, "crossings": Crossing}
"""Fields of several entries each."""

# -- one job


def job(book: Book) -> Iterator[Block]:
    """The job, short: its files, notes, record, questions, findings."""
    at = book.job
    yield f"{at.name}: {at.client}, {at.address}, {words.day(at.day)} (UTC{at.zone})"
    yield from _visit(book)
    yield from _files(book)
    yield from _notes(book)
    yield from record(book.record)
    yield from findings(book.findings, every=False)
    yield from _photos(book.photos)
    yield from _removed(book)


def _visit(book: Book) -> Iterator[Block]:
    """Of a visit, whether its day falls under the warranty of the first job."""
    if book.job.callback_of:
        from logger.warranty import of_visit  # slow to load

        if told := of_visit(book.store, book.job):
            yield "\n".join(told)


def _files(book: Book) -> Iterator[Block]:
    yield f"\nFiles: {len(book.files)}"
    made = Table("file", "kind", "begins", "by")
    names = [line.entry.name for line in book.files]
    for line in book.files:
        twice = names.count(line.entry.name) > 1
        name = f"{line.entry.name} ({line.entry.sha256[:12]})" if twice else line.entry.name
        made.add_row(name, line.entry.kind, f"{line.when.at:%Y-%m-%d %H:%M:%S}", line.when.source)
    if book.files:
        yield made
    for name in book.unheard:
        yield f"{clean(name)}: not heard yet; run take again"


def _notes(book: Book) -> Iterator[Block]:
    yield f"\nNotes: {len(book.notes)}"
    made = Table("note", "time", "words")
    for index, each in enumerate([*book.notes, *book.witnesses]):
        made.add_row(f"note:{index}", f"{each.at:%H:%M:%S}" if each.at else "", note_words(book, index, each))
    if book.notes:
        yield made


def _removed(book: Book) -> Iterator[Block]:
    """What was taken out, by the words that put it back."""
    if book.removed:
        yield f"\nRemoved: {', '.join(book.removed)}; put back with: fallbook remove {book.job.name} WHAT --undo"


def note_words(book: Book, index: int, note: Note) -> str:
    """The words of a note, or that it was removed or emptied."""
    if index < len(book.lines) and book.lines[index].removed:
        return "(removed)"
    mark = " (withdrawn)" if index in book.withdrawn else ""
    return (clean(note.text) or "(emptied by hand)") + mark


def stage(photo: Photo) -> str:
    """`before`, `after` or `unknown` of backfill; `before the work` where it shows the place as it was found."""
    return "before the work" if photo.stage == "start" else photo.stage


def _photos(photos: Sequence[Photo]) -> Iterator[Block]:
    yield f"\nPhotos: {len(photos)}"
    made = Table("photo", "taken", "of", "backfill", "file")
    for each in photos:
        taken = f"{each.taken_at:%H:%M:%S}" if each.taken_at else ""
        made.add_row(f"photo:{each.number}", taken, each.about or "not matched", stage(each), clean(each.name))
    if photos:
        yield made


# -- a record and its findings


def record(shown: Record) -> Iterator[Block]:
    """All that a record holds, each entry with the notes it rests on, and its questions."""
    yield from entries(shown)
    yield from questions(shown.questions)


def entries(shown: Record) -> Iterator[Block]:
    """Structures, runs and all else of a record but its questions."""
    groups: list[tuple[str, Sequence[Structure | Run]]] = [("Structures", shown.structures), ("Runs", shown.runs)]
    for title, things in groups:
        yield f"\n{title}: {len(things)}"
        made = Table("label", "state", "what", "rests on")
        for entry in things:
            known = [(words.field(name), text) for name, text in fields(entry) if name not in ("state", "kind")]
            values = ", ".join(f"{name} {text}" for name, text in known)
            kind = words.kind(entry) if isinstance(entry, Structure) else ""
            what = ", ".join(filter(None, [kind, values]))
            made.add_row(entry.label, entry.state or "", what, _rests_on(entry), of=entry.label)
        if things:
            yield made
    yield from _others(shown)


TITLES = {
    "level": "Levels", "issue": "Issues", "test": "Water tests", "task": "To do", "decision": "Decisions",
    "change": "Changes of plan", "point": "Fixed points", "acceptance": "Failed checks accepted",
    "purchase": "Bought",
}  # fmt: skip
"""The lists of a record as they are shown, by the kind of their entries."""


def _others(shown: Record) -> Iterator[Block]:
    for kind, title in TITLES.items():
        told: Sequence[Entry] = getattr(shown, LISTS[kind])
        if not told:
            continue
        yield f"\n{title}: {len(told)}"
        made = Table("what", "rests on")
        for number, entry in enumerate(told, 1):
            made.add_row(said(entry), _rests_on(entry), of=f"{kind}:{number}")
        yield made


def questions(asked: Sequence[Question]) -> Iterator[Block]:
    """Open questions, each with what was heard and the notes it came from."""
    yield f"\nQuestions for a person: {len(asked)}"
    offered = ["one of"] if any(each.choices for each in asked) else []
    made = Table("about", "field", "why", "heard", *offered, "rests on")
    for each in asked:
        choices = [" or ".join(words.value(each.field, choice) for choice in each.choices or [])] if offered else []
        why = each.why.replace("_", " ")
        field = words.field(each.field) if each.field else ""
        heard = clean(each.heard or "")
        made.add_row(each.about, field, why, heard, *choices, _rests_on(each), of=f"question:{each.id}")
    if asked:
        yield made


def findings(found: Sequence[Finding], *, every: bool = True) -> Iterator[Block]:
    """Findings, those that need somebody first; all of them, or only those that are not ok."""
    order = ("fail", "attention", "unknown", "ok")
    counts = [f"{sum(each.outcome == outcome for each in found)} {outcome}" for outcome in order]
    yield f"\nFindings: {', '.join(counts)}"
    made = Table("outcome", "about", "finding", "source")
    for each in sorted(found, key=lambda each: order.index(each.outcome)):
        if every or each.outcome != "ok":
            made.add_row(each.outcome, each.subject, each.message, each.source or "")
    if made.rows:
        yield made


def fields(entry: Entry) -> list[tuple[str, str]]:
    """Each field that holds something, by its own name, with its value in words."""
    return [(name, value_text(name, value)) for name, value in held(entry)]


def held(entry: Entry) -> list[tuple[str, Any]]:
    """Each field that holds something, by its own name, with its value."""
    values = ((name, getattr(entry, name)) for name in type(entry).model_fields if name not in ("label", "evidence"))
    return [(name.rstrip("_"), value) for name, value in values if value not in (None, [])]


def value_text(name: str, value: Any) -> str:
    """A field's value as one reads it."""
    if isinstance(value, list) and value and isinstance(value[0], Fitting):
        return words.fittings(value)
    if isinstance(value, list) and value and isinstance(value[0], Tie):
        return clean("; ".join(map(tie_words, value)))
    if isinstance(value, list) and value and isinstance(value[0], Crossing):
        return clean("; ".join(map(crossing_words, value)))
    if isinstance(value, list) and value and isinstance(value[0], Area):
        from extract.check.runoff import area_words

        return ", ".join(area_words(value))
    if name in ("pieces_ft", "stations_ft"):
        return ", ".join(words.value("length_ft", piece) for piece in value)
    return clean(words.value(name, value))


def kept_text(name: str, value: Any) -> str:
    """A value as the log keeps it, as one reads it; `emptied` where there is none."""
    kind = OF_MANY.get(name)
    if kind and isinstance(value, list):
        with suppress(ValidationError):  # kept by an earlier version, which allowed it
            value = [kind.model_validate(each) for each in value]
    return "emptied" if value in (None, []) else value_text(name, value)


def field_of(subject: str, name: str) -> str:
    """A field's plain name, to stand behind its subject: of a test its `result`, and no `test result`."""
    told = words.field(name)
    return plain_name(name) if "test" in told and subject.startswith("test:") else told


def said(entry: Entry) -> str:
    """An entry that has no label, in one line."""
    if isinstance(entry, Task | Decision):
        return clean(f"{entry.kind if isinstance(entry, Task) else entry.state}: {entry.text}")
    if isinstance(entry, Departure):
        return clean(f"{entry.about}: {entry.text}" if entry.about else entry.text)
    if isinstance(entry, FixedPoint):
        return clean(point_words(entry))
    if isinstance(entry, Acceptance):
        return clean(f"{entry.about.replace('_', ' ')}, {words.plain('check', entry.finding)}: {entry.text}")
    if isinstance(entry, Purchase):
        return clean(bought_words(entry))
    if isinstance(entry, Level) and entry.rod_ft is None:
        return f"{entry.point}, elevation {words.elevation(entry.elevation_ft)}, rod not read"
    values = entry.model_dump(exclude={"evidence"}, exclude_none=True)
    return ", ".join(value_text(name, value).replace("_", " ") for name, value in values.items())


def _rests_on(entry: Entry) -> str:
    return words.notes(entry.evidence) if entry.evidence else ""


# -- where it was said


def where(book: Book, index: int) -> str:
    """`note:22, 10:19:12, pocket.m4a at 0:31`."""
    if index >= len(book.notes):
        return f"note:{index}, by hand"
    each = book.notes[index]
    if former := book.lines[index].former:
        return f"note:{index}, from {former}"
    parts = [f"note:{index}"]
    if each.at:
        parts.append(f"{each.at:%H:%M:%S}")
    name = clean(book.sources[each.source]) if each.source else "typed in"
    parts.append(name if each.start_s is None else f"{name} at {second(each.start_s)}")
    return ", ".join(parts)


def second(seconds: float) -> str:
    """A place in a recording: `1:04.5`."""
    minutes, rest = divmod(round(seconds, 1), 60)
    return f"{int(minutes)}:{rest:04.1f}"


# -- heard only


def heard(path: str, notes: Iterable[Note]) -> Iterator[Block]:
    """What was heard in one recording."""
    made = Table("from", "to", "sure", "words")
    for each in notes:
        said = each.text if each.language == "en" else f"{each.text} ({each.heard})"
        made.add_row(second(each.start_s or 0), second(each.end_s or 0), f"{each.confidence:.2f}", clean(said))
    yield clean(path)
    yield made
