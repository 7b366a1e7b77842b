"""What a person changes in a job's book: a field or a note's words amended, a thing taken out or put back.

Each is one more entry in the log, kept with the notes and words that it was given for.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Any

from extract import additions, listed, photo_told
from extract.additions_said import LISTS, OF_A_THING, Said, level_said
from extract.amend import Amendment, checked
from extract.answers import EMPTY, answered, can_be_empty
from extract.errors import UsageError
from extract.field_names import field_named, fields_in_words, plain_name
from extract.record import ELEVATIONS, Entry, Model, Run, Structure
from logger import job_facts
from logger.book import Book
from logger.clean import written
from logger.lines import Line, find_line
from logger.removal import Removed, standing
from logger.store import Kind, LogEntry, Store
from logger.subjects import NOTE, PHOTO, called, subject_named
from logger.times import timezone_of, typed_day
from reports.job import Photo

FILE = re.compile(r"file:(.+)", re.I)


@dataclass(frozen=True)
class Done:
    """A change as it was logged, in words."""

    what: str
    """`R-2 length`."""
    now: str | None
    """None where it is empty now."""
    before: str | None

    @property
    def words(self) -> str:
        return f"{self.what} is now {self.now or 'empty'}"


def amend(store: Store, name: str, subject: str, field: str, value: str | None = None) -> Done:
    """Log a person's correction of a field, of a note's words (`note:14`, field `text`), or of what a photo shows
    (`photo:7`, fields `shows` and `backfill`), with the notes and words that it is given for. The value `none` empties
    a field. With no value, `subject` is a fact of the job itself, such as `client`, and `field` what it should be.
    `levels`, `points`, `changes` and `purchases` take what is to be added, in `field` and `value` together; so do
    `tie` of a structure and `crossing` of a run, in `value`.

    Raises UsageError where the subject or field is not there, or the value does not fit or is no yard's.
    """
    if subject.lower() in LISTS:
        return _add(Book(store, name), subject.lower(), written("the value", " ".join([field, *filter(None, [value])])))
    if value is None:
        return _amend_job(store, name, subject, field)
    book = Book(store, name)
    match = NOTE.fullmatch(subject)
    if match:
        amendment, before = _amend_note(book, match[1], field, written("the value", value))
        done = Done(f"{subject} text", amendment.value, before)
    elif match := PHOTO.fullmatch(subject):
        amendment, done = photo_amended(book, int(match[1]), field, written("the value", value))
    else:
        amendment, done = _amend_record(book, subject, field, written("the value", value))
    log_change(book, "amendment", amendment)
    return done


def _add(book: Book, name: str, words: str) -> Done:
    amendment, done = addition_of(book, name, LISTS[name](book.record, words))
    log_change(book, "amendment", amendment)
    return done


def addition_of(book: Book, field: str, said: Said) -> tuple[Amendment, Done]:
    """The amendment that adds it, with what it is given for; and what it adds, in words."""
    subject, value = said
    amendment = book.anchored(Amendment(subject=subject, field=field, value=value, at=now(book)))
    return amendment, Done(*additions.named(amendment), additions.replaced(book.record, amendment))


def log_change(book: Book, kind: Kind, change: Model) -> None:
    """One more entry in the job's log."""
    book.store.append(book.name, kind, change.model_dump(mode="json", exclude_none=True), datetime.now(UTC))


def _amend_job(store: Store, name: str, field: str, value: str) -> Done:
    """A correction of the job itself; the job's row stays as it was written."""
    row = store.job_row(name)
    fact, value = field.lower().replace("-", "_"), written("the value", value)
    if fact not in job_facts.FACTS:
        _must_be_no_thing(Book(store, name), field, value)
        facts = ", ".join(job_facts.FACTS).replace("_", "-")
        raise UsageError(f"a job has no {field}; what can be corrected: {facts}; all else takes a field and a value")
    if not value:
        raise UsageError(f"the {fact} is empty; write what it should be")
    if fact == "day":
        value = typed_day(value).isoformat()
    if fact == "zone":
        timezone_of(value)
    if fact == "callback_of":
        value = _visited(store, value)
    amendment = Amendment(subject=job_facts.SUBJECT, field=fact, value=value)
    with store.writing():
        store.append(name, "amendment", amendment.model_dump(mode="json", exclude_none=True), datetime.now(UTC))
        must_not_lead_back(store, name)
    return Done(fact.replace("_", "-"), value or None, row.get(fact) or None)


def _visited(store: Store, value: str) -> str:
    """The job that another is a visit to; empty for `none`. Raises FallbookError where there is no such job."""
    value = "" if value.lower() in EMPTY else value
    if value:
        store.job_row(value)  # which says what there is
    return value


def must_not_lead_back(store: Store, name: str) -> None:
    """Raises UsageError where a job is a visit to itself, by whatever way."""
    before = store.way_back(name)
    if name in before:
        last = [name, *before][before.index(name)]
        raise UsageError(
            f"{name} cannot be a visit to {before[0]}, which leads back to {name}; if that is wrong, say first: "
            f"fallbook amend {last} callback-of none"
        )


def _must_be_no_thing(book: Book, subject: str, field: str) -> None:
    """Raises UsageError where that names a thing of the record, of which a field or a value was left out."""
    try:
        label, entry = subject_named(book, subject)
    except UsageError:
        return
    if field.lower() in EMPTY:
        raise UsageError(f"{called(book.record, label)} is {_out(book, label)}")
    own = field_named(entry, field)
    if own not in type(entry).model_fields:
        raise UsageError(f"{label} needs a field and a value; its fields: {fields_in_words(entry)}")
    plain = plain_name(own)
    raise UsageError(f"{label} {plain} needs a value: fallbook amend {book.job.name} {label} {plain} VALUE")


def _out(book: Book, label: str) -> str:
    return f"taken out with: fallbook remove {book.job.name} {label}"


def _amend_note(book: Book, number: str, field: str, value: str) -> tuple[Amendment, str | None]:
    line = _line(book, int(number))
    if field != "text":
        raise UsageError(f"of a note only its text can be amended, not {written('the field', field)}")
    amendment = Amendment(
        subject="note",
        field="text",
        value=None if value.lower() == "none" else value,
        at=now(book),
        note_source=line.mark,
        note_start_s=line.note.start_s,
        note_words=line.words,
    )
    return amendment, line.note.text or None


def _line(book: Book, index: int) -> Line:
    """A note that stands. Raises UsageError where there is none of that number, or it was removed."""
    if len(book.lines) <= index < len(book.lines) + len(book.witnesses):
        raise UsageError(f"note:{index} tells of a change by hand; amend the same field again")
    if index >= len(book.lines):
        raise UsageError(f"no note:{index} in {book.job.name}; its notes go from 0 to {len(book.lines) - 1}")
    line = book.lines[index]
    if line.former:
        raise UsageError(f"note:{index} stands for what {line.former} left there; it cannot be changed")
    if line.removed:
        raise UsageError(
            f"note:{index} was removed; put it back with: fallbook remove {book.job.name} note:{index} --undo"
        )
    return line


def photo_amended(book: Book, number: int, field: str, words: str) -> tuple[Amendment, Done]:
    """The amendment that says what a photo shows, or whether it is from before or after backfill, with the thing that
    it is said of; and what it changes, in words."""
    photo, name = _photo(book, number), f"photo:{number}"
    empty = words.lower() in EMPTY
    if field == photo_told.SHOWS:
        label = value = None if empty else _shown(book, name, words)
        done = Done(f"what {name} shows", label or photo_told.NOTHING, photo.about or photo_told.NOTHING)
    elif field == photo_told.BACKFILL:
        label, value = _of_what(book, photo), None if empty else words.lower()
        if value not in (None, *photo_told.SIDES):
            raise UsageError(
                f"{name} backfill cannot be {words!r}; write before or after, or none for what its time tells"
            )
        done = Done(f"{name} backfill", value or "told by its time", photo.backfill)
    else:
        raise UsageError(f"of a photo only shows and backfill can be amended, not {written('the field', field)}")
    anchor = book.anchor(label) if label else {}
    said = Amendment(
        subject=photo_told.SUBJECT, field=field, value=value, at=now(book), photo=photo.sha256, shows=label
    )
    return said.model_copy(update=anchor), done


def _photo(book: Book, number: int) -> Photo:
    """A photo that is here. Raises UsageError where there is none of that number, or it was removed."""
    photo, name = next((each for each in book.photos if each.number == number), None), book.job.name
    if photo is None and number in book.photo_numbers.values():
        raise UsageError(f"photo:{number} was removed; put it back with: fallbook remove {name} photo:{number} --undo")
    if photo is None:
        raise UsageError(f"no photo:{number} in {name}; its photos are listed by: fallbook show {name}")
    return photo


def _shown(book: Book, name: str, words: str) -> str:
    label, entry = subject_named(book, words)
    if not isinstance(entry, Structure | Run):
        raise UsageError(f"{name} can show a structure or a run, or none; {called(book.record, label)} is neither")
    return label


def _of_what(book: Book, photo: Photo) -> str:
    if photo.about is None:
        say = f"fallbook amend {book.job.name} photo:{photo.number} shows R-2"
        raise UsageError(f"photo:{photo.number} shows {photo_told.NOTHING}; say first what it shows: {say}")
    return photo.about


def _amend_record(book: Book, subject: str, field: str, value: str) -> tuple[Amendment, Done]:
    label, entry = subject_named(book, subject)
    own, name = field_named(entry, field), called(book.record, label)
    if value.lower() in EMPTY and not can_be_empty(entry, own):
        raise UsageError(f"{name} {plain_name(own)} cannot be empty; it is {_out(book, label)}")
    if own in OF_A_THING and own in type(entry).model_fields and value.lower() not in EMPTY and value[:1] != "[":
        return addition_of(book, own, OF_A_THING[own](book.record, label, value))
    if of_rod := rod_for(book, label, own, value):
        return of_rod
    return amendment_of(
        book, label, entry, own, answered(book.record, entry, name, own, value, None if own == field else field)
    )


def rod_for(book: Book, label: str, field: str, words: str, note: int | None = None) -> tuple[Amendment, Done] | None:
    """The reading that `rod 4.85` adds where an elevation is asked for; None for other words."""
    if field not in ELEVATIONS or not words.lower().startswith("rod "):
        return None
    return addition_of(book, "levels", level_said(book.record, words, f"{label} {field.removesuffix('_ft')}", note))


def amendment_of(book: Book, label: str, entry: Entry, field: str, value: Any) -> tuple[Amendment, Done]:
    """The amendment that puts that value into a field, with what it is given for; and what it changes, in words."""
    from logger.show import field_of, fields, value_text

    amendment = book.anchored(Amendment(subject=label, field=field, value=value, at=now(book)))
    held = checked(entry, "from_" if field == "from" else field, value)
    stands = None if held in (None, []) else value_text(field, held)
    return amendment, Done(
        f"{called(book.record, label)} {field_of(label, field)}", stands, dict(fields(entry)).get(field)
    )


def now(book: Book) -> datetime:
    """The moment, in the job's time, to the second."""
    return datetime.now(book.zone).replace(microsecond=0)


# -- taking out


def remove(store: Store, name: str, what: str | None = None, *, undo: bool = False) -> str:
    """Log that a job (no `what`), or `R-2`, `note:14`, `photo:7`, `file:NAME` of it, was taken out, or put back.

    Nothing is deleted: see `logger.verify.prune`. Returns what was removed, in words.
    Raises UsageError where there is no such thing, or it was not removed.
    """
    book = Book(store, name, removed=True)
    removed, words = _put_back(book, what) if undo else _take_out(book, what)
    removed = removed.model_copy(update={"at": now(book), "undone": undo})
    store.append(name, "removal", removed.model_dump(mode="json", exclude_none=True), datetime.now(UTC))
    return words


def _take_out(book: Book, what: str | None) -> tuple[Removed, str]:
    name = book.job.name
    if what is None:
        book.store.job(name)  # which says so where it is removed already
        return Removed(what="job", name=name), name
    if match := NOTE.fullmatch(what):
        line = _line(book, int(match[1]))
        return _of_line(line), f"{what}, {line.note.text!r}"
    if match := PHOTO.fullmatch(what):
        photo = _photo(book, int(match[1]))
        return Removed(what="file", name=photo.sha256), f"{what}, {photo.name}"
    if match := FILE.fullmatch(what):
        entry = _file(book, match[1])
        return Removed(what="file", name=entry.sha256), entry.name
    label, thing = subject_named(book, what)
    words = f"{label} ({listed.in_words(thing)})" if ":" in label else label
    return Removed(what="thing", name=label, **book.anchor(label)), words


def _of_line(line: Line) -> Removed:
    return Removed(what="note", name=line.mark, start_s=line.note.start_s, words=line.words)


def _file(book: Book, name: str) -> LogEntry:
    """A file of the job by its name or the first characters of its SHA-256."""
    files = [entry for entry in book.log if entry.sha256]
    found = [entry for entry in files if entry.name == name or (len(name) >= 8 and entry.sha256.startswith(name))]
    if len(found) != 1:
        ways = ", ".join(f"file:{entry.sha256[:12]}" for entry in found)
        told = f"{len(found)} files are called {name}; say which: {ways}" if found else f"no file {name}"
        raise UsageError(f"{told} in {book.job.name}; its files are listed by: fallbook show {book.job.name}")
    return found[0]


def _put_back(book: Book, what: str | None) -> tuple[Removed, str]:
    known = [removed for _, removed in standing(book.log).values()]
    for removed in known:
        if _is_meant(book, removed, what):
            return removed, f"{what or book.job.name}{_deleted(book, removed)}"
    raise UsageError(f"{what or book.job.name} was not removed from the {'job' if what else 'library'}")


def _deleted(book: Book, removed: Removed) -> str:
    if removed.what != "file" or book.store.originals.state(removed.name) == "whole":
        return ""
    return " (its original is no longer there: take the file again)"


def _is_meant(book: Book, removed: Removed, what: str | None) -> bool:
    if what is None:
        return removed.what == "job"
    if match := NOTE.fullmatch(what):
        place = find_line(book.lines, removed.name, removed.start_s, removed.words)
        return removed.what == "note" and place == int(match[1])
    if match := PHOTO.fullmatch(what):
        return removed.what == "file" and book.photo_numbers.get(removed.name) == int(match[1])
    if match := FILE.fullmatch(what):
        return removed.what == "file" and removed.name == _file(book, match[1]).sha256
    return removed.what == "thing" and removed.name.lower() == what.lower()
