"""A job as text to read at a terminal: every figure with the note, the second of sound and the photos it rests on."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Sequence
from typing import Any

from extract.errors import UsageError
from extract.record import (
    Area,
    Decision,
    Entry,
    Evidence,
    Finding,
    Fitting,
    Note,
    Number,
    Question,
    Record,
    Run,
    Structure,
    Task,
)
from logger.book import Book
from logger.clean import clean
from logger.tables import Block, Table
from reports import words
from reports.doubts import FIELDS
from reports.job import Photo

WENT = {
    "field": "stands in",
    "text": "stands in the words of",
    "restated": "said before, stands in",
    "question": "asked about:",
    "withdrawn": "taken back or replaced",
    "not_fact": "no fact: planned, denied, asked or told by others",
    "irrelevant": "not of the work",
}
UNSURE = 0.6
"""Words heard with less confidence are named."""
PHOTO = re.compile(r"photo:(\d{1,6})", re.I)
NOTE = re.compile(r"note:(\d{1,6})", re.I)


def thing(book: Book, subject: str) -> Iterator[Block]:
    """One note, photo, structure or run. Raises UsageError, naming what there is, where it is not there."""
    if match := NOTE.fullmatch(subject):
        return note(book, int(match[1]))
    if match := PHOTO.fullmatch(subject):
        return photo(book, int(match[1]))
    entry = book.record.subject(subject.upper())
    if entry is None:
        labels = ", ".join(each.label for each in words.things(book.record)) or "none yet"
        raise UsageError(f"no {subject} in {book.job.name}; there are: {labels}; or note:N, photo:N")
    return labelled(book, entry)


# -- one job


def job(book: Book) -> Iterator[Block]:
    """The job, short: its files, notes, record, questions, findings."""
    at = book.job
    yield f"{at.name}: {at.client}, {at.address}, {words.day(at.day)} (UTC{at.zone})"
    yield from _files(book)
    yield from _notes(book)
    yield from record(book.record)
    yield from findings(book.findings, every=False)
    yield from _photos(book.photos)
    yield from _removed(book)


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
        made.add_row(f"note:{index}", f"{each.at:%H:%M:%S}" if each.at else "", _words(book, index, each))
    if book.notes:
        yield made


def _removed(book: Book) -> Iterator[Block]:
    """What was taken out, by the words that put it back."""
    if book.removed:
        yield f"\nRemoved: {', '.join(book.removed)}; put back with: fallbook remove {book.job.name} WHAT --undo"


def _words(book: Book, index: int, note: Note) -> str:
    if index < len(book.lines) and book.lines[index].removed:
        return "(removed)"
    mark = " (withdrawn)" if index in book.withdrawn else ""
    return (clean(note.text) or "(emptied by hand)") + mark


def _photos(photos: Sequence[Photo]) -> Iterator[Block]:
    yield f"\nPhotos: {len(photos)}"
    made = Table("photo", "taken", "of", "backfill", "file")
    for each in photos:
        taken = f"{each.taken_at:%H:%M:%S}" if each.taken_at else ""
        made.add_row(f"photo:{each.number}", taken, each.about or "not matched", each.backfill, clean(each.name))
    if photos:
        yield made


# -- a record and its findings


def record(shown: Record) -> Iterator[Block]:
    """Structures, runs and all else of a record, each with the notes it rests on."""
    for title, entries in (("Structures", shown.structures), ("Runs", shown.runs)):
        yield f"\n{title}: {len(entries)}"
        made = Table("label", "state", "what", "rests on")
        for entry in entries:
            known = [(_plainly(name), text) for name, text in fields(entry) if name not in ("state", "kind")]
            values = ", ".join(f"{name} {text}" for name, text in known)
            kind = words.kind(entry) if isinstance(entry, Structure) else ""
            made.add_row(entry.label, entry.state or "", ", ".join(filter(None, [kind, values])), _rests_on(entry))
        if entries:
            yield made
    yield from _others(shown)
    yield from _questions(shown.questions)


def _plainly(field: str) -> str:
    return field if field in ("from", "to") else words.plain("field", field)


def _others(shown: Record) -> Iterator[Block]:
    groups: list[tuple[str, Sequence[Entry]]] = [
        ("Levels", shown.levels),
        ("Issues", shown.issues),
        ("Water tests", shown.tests),
        ("To do", shown.tasks),
        ("Decisions", shown.decisions),
    ]
    for title, entries in groups:
        if not entries:
            continue
        yield f"\n{title}: {len(entries)}"
        made = Table("what", "rests on")
        for entry in entries:
            made.add_row(said(entry), _rests_on(entry))
        yield made


def _questions(questions: Sequence[Question]) -> Iterator[Block]:
    yield f"\nQuestions for a person: {len(questions)}"
    offered = ["one of"] if any(each.choices for each in questions) else []
    made = Table("about", "field", "why", "heard", *offered, "rests on")
    for each in questions:
        choices = [" or ".join(words.value(each.field, choice) for choice in each.choices or [])] if offered else []
        why = each.why.replace("_", " ")
        made.add_row(each.about, each.field or "", why, clean(each.heard or ""), *choices, _rests_on(each))
    if questions:
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
    values = ((name, getattr(entry, name)) for name in type(entry).model_fields if name not in ("label", "evidence"))
    return [(name.rstrip("_"), value_text(name, value)) for name, value in values if value not in (None, [])]


def value_text(name: str, value: Any) -> str:
    """A field's value as one reads it."""
    if isinstance(value, list) and value and isinstance(value[0], Fitting):
        return ", ".join(f"{item.count} {words.fitting(item)}" for item in value)
    if isinstance(value, list) and value and isinstance(value[0], Area):
        from extract.check.runoff import area_words

        return ", ".join(area_words(value))
    if name in ("pieces_ft", "stations_ft"):
        return ", ".join(words.value("length_ft", piece) for piece in value)
    return clean(words.value(name, value))


def said(entry: Entry) -> str:
    """An entry that has no label, in one line."""
    if isinstance(entry, Task | Decision):
        return clean(f"{entry.kind if isinstance(entry, Task) else entry.state}: {entry.text}")
    values = entry.model_dump(exclude={"evidence"}, exclude_none=True)
    return ", ".join(value_text(name, value).replace("_", " ") for name, value in values.items())


def _rests_on(entry: Entry) -> str:
    return words.notes(entry.evidence) if entry.evidence else ""


# -- one thing


def labelled(book: Book, entry: Structure | Run) -> Iterator[Block]:
    """A structure or run: each field with its value, and where each was said; its photos, questions and findings."""
    yield f"{words.sentence(words.thing(entry))} of {book.job.name}"
    made = Table("field", "value", "rests on", "words")
    for name, text in fields(entry):
        witnesses = [item for item in entry.evidence if (item.field or "").rstrip("_") == name]
        for place, item in enumerate(witnesses or [None]):
            first = (name, text) if place == 0 else ("", "")
            made.add_row(*first, *(_witness(book, item) if item else ("", "")))
    for item in entry.evidence:
        if item.field is None:
            made.add_row("(as a whole)", "", *_witness(book, item))
    yield made
    yield from _about(book, entry.label)


def _about(book: Book, label: str) -> Iterator[Block]:
    spoken = [f"note:{each.note}" for each in book.spoken if label in each.labels]
    yield f"spoken of in: {', '.join(spoken) or 'no note'}"
    for each in book.photos:
        if each.about == label:
            yield f"photo:{each.number}  {clean(each.name)}, {each.reason}; backfill: {each.backfill}"
    asked = [each for each in book.record.questions if each.about.split(" ")[0] == label]
    if asked:
        yield from _questions(asked)
    found = [each for each in book.findings if label in each.subject.replace(",", " ").split()]
    if found:
        yield from findings(found)


def _witness(book: Book, item: Evidence) -> tuple[str, str]:
    sure = "" if item.confidence >= 1 else f" (confidence {item.confidence:.2f})"
    heard = _all_notes(book)[item.note].heard if item.note < len(_all_notes(book)) else None
    return where(book, item.note), clean(heard or item.quote) + sure


def _all_notes(book: Book) -> list[Note]:
    return [*book.notes, *book.witnesses]


def where(book: Book, index: int) -> str:
    """`note:22, 10:19:12, pocket.m4a at 0:31`."""
    if index >= len(book.notes):
        return f"note:{index}, by hand"
    each = book.notes[index]
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


def note(book: Book, index: int) -> Iterator[Block]:
    """One note: its words, where it came from, what is unsure in it, and what rests on it."""
    known = _all_notes(book)
    if index >= len(known):
        raise UsageError(f"no note:{index} in {book.job.name}; its notes go from 0 to {len(known) - 1}")
    each = known[index]
    made = Table("", "")
    for name, text in _note_rows(book, index, each):
        made.add_row(name, text)
    for name, text in _resting(book, index):
        made.add_row(name, text)
    for number in book.record.numbers:
        if number.note == index:
            made.add_row("number", f"{clean(number.text)}: {_went(number)}")
    yield made


def _went(number: Number) -> str:
    """What became of a number, in words."""
    told = WENT[number.went]
    if number.went == "irrelevant":
        return f"{told} ({number.reason})"
    to = (number.to or "").replace(".", " ", 1)
    thing, _, name = to.partition(" ")
    plainly = _plainly(name) if name in FIELDS else name
    return f"{told} {thing} {plainly}".rstrip() if to and number.went not in ("not_fact",) else told


def _note_rows(book: Book, index: int, each: Note) -> Iterator[tuple[str, str]]:
    yield "note", f"{index} of {book.job.name}"
    yield "words", _words(book, index, each)
    if each.heard is not None:
        yield "as heard", clean(each.heard)
        yield "confidence", f"{each.confidence:.2f}"
    for before in book.lines[index].amended if index < len(book.lines) else ():
        yield "before it was amended", clean(before)
    yield "said", f"{each.at:%Y-%m-%d %H:%M:%S}" if each.at else "time not recorded"
    if each.source:
        line = book.file(each.source)
        place = f", {second(each.start_s)} to {second(each.end_s or each.start_s)}" if each.start_s is not None else ""
        yield "in", f"{clean(line.entry.name)}{place} (SHA-256 {each.source[:12]})"
        stamped = line.entry.kind == "text" and each.at is not None
        yield "time by", "the note's own stamp" if stamped else line.when.source
    low = [f"{word.text.strip()} {word.confidence:.2f}" for word in each.words if word.confidence < UNSURE]
    if low:
        yield "unsure words", clean(", ".join(low))
    for other in each.alternatives:
        yield "or", clean(other)


def _resting(book: Book, index: int) -> Iterator[tuple[str, str]]:
    for name, entries in book.record:
        for entry in entries if name != "numbers" else ():
            held = [item.field for item in entry.evidence if item.note == index]
            if held:
                fields_ = ", ".join(sorted({field.rstrip("_") for field in held if field}))
                label = getattr(entry, "label", None) or getattr(entry, "point", None) or f"{name}: {said(entry)}"
                yield "rests on it", f"{label} {fields_}".strip()
    for each in book.photos:
        if each.note == index:
            yield "photo", f"photo:{each.number} {clean(each.name)}, {each.reason}"


def photo(book: Book, number: int) -> Iterator[Block]:
    """One photo: when, where and by what it was matched, and the original it is."""
    if not book.photos:
        raise UsageError(f"no photo:{number} in {book.job.name}; it has no photos yet")
    if not 1 <= number <= len(book.photos):
        raise UsageError(f"no photo:{number} in {book.job.name}; its photos go from 1 to {len(book.photos)}")
    each = book.photos[number - 1]
    made = Table("", "")
    for name, text in _photo_rows(book, each):
        made.add_row(name, text)
    yield made


def _photo_rows(book: Book, each: Photo) -> Iterator[tuple[str, str]]:
    yield "photo", f"{each.number} of {book.job.name}, {clean(each.name)} (SHA-256 {each.sha256[:12]})"
    yield "taken", f"{each.taken_at:%Y-%m-%d %H:%M:%S}" if each.taken_at else "time not recorded"
    yield "time by", each.time_source
    if each.lat is not None and each.lon is not None:
        error = f", within {each.gps_error_m:g} m" if each.gps_error_m is not None else ", error not recorded"
        yield "place", f"{each.lat:.6f}, {each.lon:.6f}{error}"
    else:
        yield "place", "not recorded"
    yield "heading", f"{each.heading_deg:.0f}°" if each.heading_deg is not None else "not recorded"
    yield "shows", each.about or "not matched"
    yield "because", each.reason
    yield "backfill", each.backfill
    if each.note is not None:
        yield "note", f"{where(book, each.note)}: {clean(book.notes[each.note].text)}"
    yield "original", str(book.store.originals.place(each.sha256))


# -- heard only


def heard(path: str, notes: Iterable[Note]) -> Iterator[Block]:
    """What was heard in one recording."""
    made = Table("from", "to", "sure", "words")
    for each in notes:
        said = each.text if each.language == "en" else f"{each.text} ({each.heard})"
        made.add_row(second(each.start_s or 0), second(each.end_s or 0), f"{each.confidence:.2f}", clean(said))
    yield clean(path)
    yield made
