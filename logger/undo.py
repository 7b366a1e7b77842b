"""The last change by hand taken back: an amendment, an answer or a removal, each as one more entry of the log."""

from __future__ import annotations

from datetime import UTC, datetime
from typing import Any

from extract import additions
from extract.amend import Amendment
from extract.errors import UsageError
from logger import job_facts
from logger.book import Book
from logger.changes import now
from logger.removal import standing
from logger.show import value_text
from logger.store import LogEntry, Store
from reports.words import field as plainly


def undo(store: Store, name: str) -> str:
    """Take back the last change by hand that stands; what it was, in words. Raises UsageError where there is none."""
    book = Book(store, name)
    last = _last(book)
    if last is None:
        raise UsageError(f"{name}: there is no answer to take back")
    if last.kind == "removal" and last.body["what"] != "thing":
        raise UsageError(f"{name}: the last change took out a note or a file; put it back with: fallbook remove --undo")
    if last.kind == "removal":
        body: dict[str, Any] = last.body | {"at": now(book).isoformat(), "undone": True}
        store.append(name, "removal", body, datetime.now(UTC))
    else:
        store.append(name, "answer", {"what": "undone", "entry": last.id}, datetime.now(UTC))
    return _words(last)


def _last(book: Book) -> LogEntry | None:
    removals = {number for number, removed in standing(book.log).values() if removed.what != "job"}
    made = [
        entry
        for entry in book.log
        if entry.kind == "amendment" or entry.id in removals or (entry.kind == "answer" and "question" in entry.body)
    ]
    return made[-1] if made else None


def _words(entry: LogEntry) -> str:
    if entry.kind == "removal":
        return f"{entry.body['name']} is back"
    given = entry.body if entry.kind == "amendment" else entry.body.get("amendment")
    if given is None:
        asked = entry.body["question"]
        return f"asked again: {asked['subject']} {plainly(asked['field']) if 'field' in asked else ''}".rstrip()
    if additions.is_addition(given["field"], given.get("value")):
        return f"taken back: {additions.in_words(Amendment(**given))}"
    subject = "" if given["subject"] == job_facts.SUBJECT else f"{given['subject']} "
    value = given.get("value")
    text = "none" if value is None else value_text(given["field"], value) if not _nested(value) else ""
    return f"taken back: {subject}{plainly(given['field'])} {text}".rstrip()


def _nested(value: Any) -> bool:
    """Fittings and areas, which are too long for a line."""
    return isinstance(value, list) and any(isinstance(each, dict) for each in value)
