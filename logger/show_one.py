"""One thing of a job as text: a note, a photo, a structure or run, a reading, with where each figure comes from."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from extract import additions, listed
from extract.amend import Amendment, Change
from extract.errors import UsageError
from extract.limits import limits
from extract.record import Entry, Evidence, Level, Note, Number, Record, Run, Structure, Test
from logger.book import Book
from logger.clean import clean
from logger.show import fields, findings, note_words, questions, said, second, stage, where
from logger.subjects import NOTE, PHOTO, subject_named
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


def thing(book: Book, subject: str) -> Iterator[Block]:
    """One note, photo, structure, run or entry of a list, by any name that `amend` takes.

    Raises UsageError, naming what there is, where it is not there.
    """
    if match := NOTE.fullmatch(subject):
        return note(book, int(match[1]))
    if match := PHOTO.fullmatch(subject):
        return photo(book, int(match[1]))
    _, entry = subject_named(book, subject)
    return labelled(book, entry) if isinstance(entry, Structure | Run) else unlabelled(book, entry)


def labelled(book: Book, entry: Structure | Run) -> Iterator[Block]:
    """A structure or run: each field with its value, and where each was said; its photos, questions and findings."""
    yield f"{words.sentence(words.thing(entry))} of {book.job.name}"
    yield _fields(book, entry, entry.label)
    yield from _about(book, entry.label)


def unlabelled(book: Book, entry: Entry) -> Iterator[Block]:
    """An entry of a list in the same way; of a levelled point, all its readings."""
    record, together = book.record, alike(book.record, entry)
    for each in together:
        subject = listed.subject_of(record, each)
        yield f"{subject} of {book.job.name}: {_what(book, each)}; {_said_where(book, each)}"
        yield _fields(book, each, subject)
    asked = [each for each in record.questions if any(listed.asks_of(each, one) for one in together)]
    if asked:
        yield from questions(asked)
    found = [each for each in book.findings if isinstance(entry, Level) and each.subject == entry.point]
    if found:
        yield from findings(found)


def _what(book: Book, entry: Entry) -> str:
    """What an entry of a list is, and where: `hose test on run R-2`."""
    return words.water_test(book.record, entry) if isinstance(entry, Test) else clean(listed.in_words(entry))


def _said_where(book: Book, entry: Entry) -> str:
    said_in = sorted({item.note for item in entry.evidence if item.note < len(book.notes)})
    return "; ".join(where(book, index) for index in said_in) or "by hand"


def alike(record: Record, entry: Entry) -> list[Entry]:
    """The entries that are shown together: all readings of a levelled point, else the entry alone."""
    at_it = [each for each in record.levels if isinstance(entry, Level) and each.point == entry.point]
    return [*at_it] or [entry]


def _fields(book: Book, entry: Entry, subject: str) -> Table:
    made = Table("field", "value", "rests on", "words")
    told = {item.note for item in entry.evidence if item.field}
    named = set(range(len(book.notes))) if told and isinstance(entry, Structure | Run) else told
    values = dict(fields(entry))
    for name in (each.rstrip("_") for each in type(entry).model_fields):
        witnesses = _of_field(entry, name)
        change = next((found for item in witnesses if (found := _set_by(book, item))), None)
        if name not in values and change is None:
            continue
        text = values.get(name, "empty")
        hand = f" (set by hand, {words.moment(change.at, book.job.zone)})" if change else ""
        _add_rows(made, book, words.field(name), text + hand, witnesses)
        if change and (said := book.as_said(subject)) and (before := dict(fields(said)).get(name)):
            over = "as was said" if before == text else f"in place of {before}"
            _add_rows(made, book, "", over, _of_field(said, name) or _of_field(said, ""))
    for note_, item in {item.note: item for item in _of_field(entry, "")}.items():
        if note_ not in named:  # where a thing is no more than named is told below the table
            made.add_row("(as a whole)", "", *_witness(book, item), of=f"note:{item.note}")
    return made


def _of_field(entry: Entry, name: str) -> list[Evidence]:
    """What speaks for a field; with no name, what speaks for the entry as a whole."""
    return [item for item in entry.evidence if (item.field or "").rstrip("_") == name]


def _set_by(book: Book, item: Evidence) -> Change | None:
    """The change by hand that put a field; one that adds to what is there puts nothing."""
    change = book.changes[item.note - len(book.notes)] if item.note >= len(book.notes) else None
    adds = isinstance(change, Amendment) and additions.is_addition(change.field, change.value)
    return None if adds and isinstance(change, Amendment) and change.field == item.field else change


def _add_rows(made: Table, book: Book, name: str, text: str, witnesses: Sequence[Evidence]) -> None:
    """A field with its value, and a line for each note that speaks for it."""
    for place, item in enumerate(witnesses or [None]):
        first = (name, text) if place == 0 else ("", "")
        made.add_row(*first, *(_witness(book, item) if item else ("", "")), of=f"note:{item.note}" if item else "")


def _about(book: Book, label: str) -> Iterator[Block]:
    spoken = [f"note:{each.note}" for each in book.spoken if label in each.labels]
    yield f"spoken of in: {', '.join(spoken) or 'no note'}"
    for change in book.record.changes:
        if change.about == label:
            yield f"change of plan: {clean(change.text)}"
    for each in book.photos:
        if each.about == label:
            yield f"photo:{each.number}  {clean(each.name)}, {each.reason}; backfill: {stage(each)}"
    asked = [each for each in book.record.questions if each.about.split(" ")[0] == label]
    if asked:
        yield from questions(asked)
    found = [each for each in book.findings if label in each.subject.replace(",", " ").split()]
    if found:
        yield from findings(found)


def _witness(book: Book, item: Evidence) -> tuple[str, str]:
    sure = "" if item.confidence >= limits()["confidence"]["reading"] else f" (confidence {item.confidence:.2f})"
    note = _all_notes(book)[item.note]
    by_hand = item.note >= len(book.notes) and item.field is not None
    return where(book, item.note), clean(note.text if by_hand else note.heard or item.quote) + sure


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
            made.add_row("number", f"{clean(number.text)}: {went(number)}")
    yield made


def went(number: Number) -> str:
    """What became of a number, in words."""
    told = WENT[number.went]
    if number.went == "withdrawn" and (number.to or "").endswith(".cover_in"):
        told = "taken back, replaced or not the least"
    if number.went == "irrelevant":
        return f"{told} ({number.reason})"
    to = (number.to or "").replace(".", " ", 1)
    thing, _, name = to.partition(" ")
    plainly = words.field(name) if name in FIELDS else name
    return f"{told} {thing} {plainly}".rstrip() if to and number.went not in ("not_fact",) else told


def _note_rows(book: Book, index: int, each: Note) -> Iterator[tuple[str, str]]:
    yield "note", f"{index} of {book.job.name}"
    yield "words", note_words(book, index, each)
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
                fields_ = ", ".join(sorted({words.field(field.rstrip("_")) for field in held if field}))
                label = getattr(entry, "label", None) or getattr(entry, "point", None) or f"{name}: {said(entry)}"
                yield "rests on it", f"{label} {fields_}".strip()
    for each in book.photos:
        if each.note == index:
            yield "photo", f"photo:{each.number} {clean(each.name)}, {each.reason}"


def photo(book: Book, number: int, *, on_disk: bool = True) -> Iterator[Block]:
    """One photo: when, where and by what it was matched, and, for this machine alone, where its original lies."""
    if not book.photos:
        raise UsageError(f"no photo:{number} in {book.job.name}; it has no photos yet")
    each = next((each for each in book.photos if each.number == number), None)
    if each is None:
        first, last = book.photos[0].number, book.photos[-1].number
        raise UsageError(f"no photo:{number} in {book.job.name}; its photos go from {first} to {last}")
    made = Table("", "")
    for name, text in _photo_rows(book, each):
        made.add_row(name, text)
    if on_disk:
        made.add_row("original", str(book.store.originals.place(each.sha256)))
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
    yield "backfill", stage(each)
    if each.note is not None:
        yield "note", f"{where(book, each.note)}: {clean(book.notes[each.note].text)}"


def _all_notes(book: Book) -> list[Note]:
    return [*book.notes, *book.witnesses]
