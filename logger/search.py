"""Finding words over all jobs: notes, records and addresses, in SQLite's full-text index.

A job is indexed when something changes in it, and a search reads no job but those that an interrupted command left
changed. What an earlier version of the program read stands in the index until it is read again.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import TYPE_CHECKING, Any

from extract.errors import FallbookError
from logger.digests import check_sum
from logger.program import program

if TYPE_CHECKING:
    from extract.record import Entry, Record
    from logger.book import Book
    from logger.store import Store

MOST = 100
START = datetime(1970, 1, 1)
RANKED = 30_000
"""Places that are held against each other for which are the best, those indexed last where a word stands in more: to
rank each place of a word that stands everywhere takes a second, and tells little."""
COLUMNS = ("what", "note", "at", "photos", "words")
ROWS = (
    "found f JOIN indexed i ON i.first <= f.id AND i.last = (SELECT min(last) FROM indexed WHERE last >= f.id) "
    "JOIN jobs j ON j.name = i.job"
)
"""The rows of the index, each with its job: a job's rows have the IDs from `first` to `last`."""


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


@dataclass(frozen=True)
class Found:
    hits: list[Hit]
    unread: dict[str, str]
    """Jobs that have changed since they were indexed and cannot be read now, each with why."""
    of_earlier: int
    """How many jobs stand in the index as an earlier version of the program read them."""


def find(store: Store, query: str) -> Found:
    """At most MOST places where all words of the query stand, the best of the RANKED last first. No word or sign in it
    is special."""
    unread = _index_changed(store)
    words = " ".join('"' + word.replace('"', '""') + '"' for word in query.split() if re.search(r"\w", word))
    rows = store.rows(
        "SELECT i.job, j.day, f.what, f.note, f.at, f.photos, f.words, f.sum FROM found_fts "
        f"JOIN {ROWS.replace('found f JOIN', 'found f ON f.id = found_fts.rowid JOIN', 1)} "
        "WHERE found_fts MATCH ? AND found_fts.rowid > coalesce("
        "(SELECT rowid FROM found_fts WHERE found_fts MATCH ? ORDER BY rowid DESC LIMIT 1 OFFSET ?), 0) "
        "ORDER BY rank LIMIT ?",
        [words, words, RANKED, MOST],
    )
    right, wrong = [], set()
    removed = store.removed_jobs()
    found = list(rows)
    damaged = store.damaged_jobs({row["job"] for row in found})
    for row in found:
        if row["job"] in removed:
            continue
        if row_is_whole(row) and row["job"] not in damaged:
            right.append(_hit(row))
        else:
            wrong.add(row["job"])
    unread |= dict.fromkeys(wrong - damaged, "a part of the index is damaged; run: fallbook verify --repair")
    unread |= dict.fromkeys(wrong & damaged, "what the library holds of this job is damaged; run: fallbook verify")
    return Found(right, unread, len(of_earlier(store)))


def row_is_whole(row: dict[str, Any]) -> bool:
    """Whether no bit of a row of the index has flipped; of one that an earlier version wrote nobody knows."""
    return row["sum"] in (None, check_sum(row["job"], *(row[name] for name in COLUMNS)))


def _hit(row: dict[str, Any]) -> Hit:
    photos = [int(number) for number in (row["photos"] or "").split()]
    at = row["at"] and f"{START + timedelta(minutes=row['at']):%Y-%m-%d %H:%M}"
    return Hit(row["job"], row["day"], row["what"], row["note"], at, photos, row["words"])


def of_earlier(store: Store) -> list[str]:
    """The jobs that stand in the index as another version of this program read them."""
    rows = store.rows(
        "SELECT name FROM jobs WHERE name IN (SELECT job FROM indexed WHERE reader <> ?) ORDER BY day DESC, name",
        [program()],
    )
    removed = store.removed_jobs()
    return [row["name"] for row in rows if row["name"] not in removed]


def changed(store: Store) -> list[str]:
    """The jobs that something was added to since they were last read into the index."""
    return [row["job"] for row in store.rows("SELECT job FROM changed ORDER BY job")]


def _index_changed(store: Store) -> dict[str, str]:
    if store.writable:
        return index_all(store, changed(store))
    return dict.fromkeys(changed(store), "changed since it was indexed, and this library cannot be written")


def index_all(
    store: Store, jobs: list[str], progress: Callable[[int, int], None] = lambda at, of: None
) -> dict[str, str]:
    """Read those jobs into the index; the ones that cannot be read, each with why. One of them costs no other."""
    failed = {}
    for number, job in enumerate(jobs):
        progress(number, len(jobs))
        try:
            index(store, job)
        except FallbookError as error:
            failed[job] = str(error).removeprefix(f"{job}: ")
        except Exception as error:  # whatever it is, it is this job's
            failed[job] = f"cannot be read ({type(error).__name__}: {error})"
    return failed


def index(store: Store, job: str, book: Book | None = None) -> None:
    """Read one job into the index, or out of it where it was removed. Raises FallbookError where it cannot be read."""
    from logger.book import Book

    before = book.state if book else store.state(job)
    if job in store.removed_jobs():
        rows = []
    else:
        book = book or Book(store, job)
        rows = list(_rows(book))
    with store.writing() as conn:
        old = conn.execute("SELECT first, last FROM indexed WHERE job = ?", [job]).fetchone()
        conn.execute("DELETE FROM found WHERE id BETWEEN ? AND ?", old or (None, None))
        first = conn.execute("SELECT coalesce(max(id), 0) + 1 FROM found").fetchone()[0]
        conn.executemany(
            f"INSERT INTO found ({', '.join(COLUMNS)}, sum) VALUES (?, ?, ?, ?, ?, ?)",
            [[*row, check_sum(job, *row)] for each in rows for row in [[each[name] for name in COLUMNS]]],
        )
        span = (first, first + len(rows) - 1)  # nobody else writes meanwhile
        conn.execute("INSERT OR REPLACE INTO indexed VALUES (?, ?, ?, ?)", [job, program(), *span])
        # Else something came in meanwhile, or could not be read this time: the next search reads it.
        if store.state(job) == before and (book is None or book.whole):
            conn.execute("DELETE FROM changed WHERE job = ?", [job])


def _rows(book: Book) -> Iterator[dict[str, Any]]:
    yield _row("job", f"{book.job.name}, {book.job.client}, {book.job.address}")
    shown: dict[object, list[int]] = {}
    for photo in book.photos:
        for key in (photo.note, photo.about):
            shown.setdefault(key, []).append(photo.number)
    for index, note in enumerate(book.notes):
        if note.text:
            at = int((note.at.replace(tzinfo=None) - START).total_seconds() // 60) if note.at else None
            yield _row("note", note.text, index, at, shown.get(index, []))
    named = {label: each.note for each in reversed(book.spoken) for label in each.labels}
    for what, text, entry in _entries(book.record):
        if book.job.callback_of and entry.evidence and {item.note for item in entry.evidence} == {0}:
            continue  # the job that a visit is to has it in the index already
        first = min((item.note for item in entry.evidence), default=named.get(what))
        yield _row(what, text, first, None, shown.get(what, []))


def _row(
    what: str, text: str, note: int | None = None, at: int | None = None, photos: list[int] | None = None
) -> dict[str, Any]:
    return {"what": what, "words": text, "note": note, "at": at, "photos": " ".join(map(str, photos or [])) or None}


def _entries(record: Record) -> Iterator[tuple[str, str, Entry]]:
    """What the record holds, in the words a person would look for."""
    from logger import show
    from reports import words

    for subject in words.things(record):
        values = " ".join(f"{name.partition('_')[0]} {text}," for name, text in show.fields(subject))
        yield subject.label, f"{words.thing(subject)} {values}".rstrip(","), subject
    for issue in record.issues:
        yield "issue", show.said(issue), issue
    for other in [*record.tests, *record.tasks, *record.decisions, *record.acceptances, *record.purchases]:
        yield type(other).__name__.lower(), show.said(other), other
    for change in record.changes:
        yield "change of plan", show.said(change), change
