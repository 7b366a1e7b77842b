"""The last change by hand taken back: an amendment, an answer or a removal, each as one more entry of the log."""

from __future__ import annotations

from datetime import UTC, datetime
from typing import Any

from extract import additions, photo_told
from extract.amend import Amendment
from extract.errors import UsageError
from logger import job_facts
from logger.book import Book
from logger.changes import must_not_lead_back, now
from logger.lines import find_line
from logger.removal import standing
from logger.show import field_of, kept_text
from logger.store import LogEntry, Store
from reports.words import field as plainly


def undo(store: Store, name: str, entry: str | None = None) -> str:
    """Take back the last change by hand that stands; what it was, in words. Raises UsageError where there is none, or
    where it is another than `entry`, as `last_change` told it."""
    book = Book(store, name)
    last = _last(book)
    if last is None:
        raise UsageError(f"{name}: there is no answer to take back")
    if entry is not None and str(last.id) != entry:
        raise UsageError("something else was changed or taken back meanwhile; look at it before you take it back")
    if last.kind == "removal" and last.body["what"] != "thing":
        way = f"fallbook remove {name} WHAT --undo"
        raise UsageError(f"{name}: the last change took out a note or a file, WHAT; put it back with: {way}")
    if last.kind == "removal":
        body: dict[str, Any] = last.body | {"at": now(book).isoformat(), "undone": True}
        store.append(name, "removal", body, datetime.now(UTC))
    else:
        with store.writing():
            store.append(name, "answer", {"what": "undone", "entry": last.id}, datetime.now(UTC))
            must_not_lead_back(store, name)
    return _words(book, last)


def last_change(book: Book) -> str:
    """What names the change that `undo` would take back; empty where there is none."""
    last = _last(book)
    return str(last.id) if last else ""


def _last(book: Book) -> LogEntry | None:
    removals = {number for number, removed in standing(book.log).values() if removed.what != "job"}
    made = [
        entry
        for entry in book.log
        if entry.kind == "amendment" or entry.id in removals or (entry.kind == "answer" and "question" in entry.body)
    ]
    return made[-1] if made else None


def _words(book: Book, entry: LogEntry) -> str:
    if entry.kind == "removal":
        return f"{entry.body['name']} is back"
    given = entry.body if entry.kind == "amendment" else entry.body.get("amendment")
    if given is None:
        asked = entry.body["question"]
        return f"asked again: {asked['subject']} {plainly(asked['field']) if 'field' in asked else ''}".rstrip()
    if given["subject"] == photo_told.SUBJECT:
        number = book.photo_numbers.get(given["photo"])
        said = Amendment(**given | {"subject": f"photo:{number}" if number else "a photo"})
        return f"taken back: {photo_told.in_words(said)}"
    if additions.is_addition(given["field"], given.get("value")):
        return f"taken back: {additions.in_words(Amendment(**given))}"
    subject, field, value = given["subject"], given["field"], given.get("value")
    text = "none" if value in (None, "") else kept_text(field, value)
    if subject == job_facts.SUBJECT:
        return f"taken back: {field_of(subject, field)} {text}"
    name = _note(book, given) if "note_source" in given else subject
    return f"taken back: {name} {field_of(subject, field)} {text}"


def _note(book: Book, given: dict[str, Any]) -> str:
    """The note that was amended, by the words put in its place."""
    place = find_line(book.lines, given["note_source"], given.get("note_start_s"), given.get("value") or "")
    return "a note's" if place is None else f"note:{place}"
