"""Finding words over all jobs: notes, records and addresses, in SQLite's full-text index.

The index follows the logs: a search first brings up to date the jobs whose log has grown since.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from importlib import metadata

from extract.record import Entry, Record
from logger import show
from logger.book import Book
from logger.store import Store
from reports import words

MOST = 100


@dataclass(frozen=True)
class Hit:
    job: str
    day: str
    what: str
    """`note`, the label or kind of an entry of the record, or `job` for its client and address."""
    note: int | None
    at: str | None
    photos: list[int]
    words: str


def find(store: Store, query: str) -> list[Hit]:
    """At most MOST places where all words of the query stand, the best first. No word or sign in it is special."""
    for job in store.job_names():
        _bring_up_to_date(store, job)
    days = {row["name"]: row["day"] for row in store.db.table("jobs").rows}
    rows = store.db.table("found").search(query, quote=True, limit=MOST)
    return [_hit(row, days[row["job"]]) for row in rows]


def _hit(row: dict[str, object], day: str) -> Hit:
    photos = [int(number) for number in str(row["photos"] or "").split()]
    note = row["note"]
    return Hit(
        job=str(row["job"]),
        day=day,
        what=str(row["what"]),
        note=note if isinstance(note, int) else None,
        at=str(row["at"]) if row["at"] else None,
        photos=photos,
        words=str(row["words"]),
    )


def _bring_up_to_date(store: Store, job: str) -> None:
    state = f"{store.state(job)}/{metadata.version('fallbook')}"
    known = next(store.db.query("SELECT state FROM indexed WHERE job = ?", [job]), None)
    if known and known["state"] == state:
        return
    rows = [{"job": job, **row} for row in _rows(Book(store, job))]
    with store.db.atomic():
        store.db.execute("DELETE FROM found WHERE job = ?", [job])
        store.db.table("found").insert_all(rows)
        store.db.table("indexed").insert({"job": job, "state": state}, replace=True)


def _rows(book: Book) -> Iterator[dict[str, object]]:
    yield _row("job", f"{book.job.name}, {book.job.client}, {book.job.address}")
    shown: dict[object, list[int]] = {}
    for photo in book.photos:
        for key in (photo.note, photo.about):
            shown.setdefault(key, []).append(photo.number)
    for index, note in enumerate(book.notes):
        if note.text:
            at = f"{note.at:%Y-%m-%d %H:%M}" if note.at else None
            yield _row("note", note.text, index, at, shown.get(index, []))
    named = {label: each.note for each in reversed(book.spoken) for label in each.labels}
    for what, text, entry in _entries(book.record):
        first = min((item.note for item in entry.evidence), default=named.get(what))
        yield _row(what, text, first, None, shown.get(what, []))


def _row(
    what: str, text: str, note: int | None = None, at: str | None = None, photos: list[int] | None = None
) -> dict[str, object]:
    return {"what": what, "words": text, "note": note, "at": at, "photos": " ".join(map(str, photos or [])) or None}


def _entries(record: Record) -> Iterator[tuple[str, str, Entry]]:
    """What the record holds, in the words a person would look for."""
    for subject in words.things(record):
        values = " ".join(f"{name.partition('_')[0]} {text}," for name, text in show.fields(subject))
        yield subject.label, f"{words.thing(subject)} {values}".rstrip(","), subject
    for issue in record.issues:
        yield "issue", show.said(issue), issue
    for other in [*record.tests, *record.tasks, *record.decisions]:
        yield type(other).__name__.lower(), show.said(other), other
