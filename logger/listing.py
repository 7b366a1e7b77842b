"""Lists to read at a terminal: the library's jobs, and where words were found. They load no book."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from datetime import date
from typing import TYPE_CHECKING

from logger.tables import Block, Table
from reports import words

if TYPE_CHECKING:
    from logger.search import Hit
    from logger.store import Store


def jobs(store: Store) -> Iterator[Block]:
    """The library's jobs, the latest first."""
    names = store.job_names()
    if not names:
        yield "No jobs yet. Start one with: fallbook new"
        return
    made = Table("job", "day", "client", "address", "files", "typed")
    found = store.jobs()
    for row in found:
        day = words.day(date.fromisoformat(row["day"]))
        made.add_row(row["name"], day, row["client"], row["address"], str(row["files"]), str(row["typed"]))
    yield made
    for row in found:
        if row["damaged"]:
            yield f"{row['name']}: what the library holds of this job is damaged; run: fallbook verify"


def hits(found: Iterable[Hit]) -> Iterator[Block]:
    """Where words were found, the best first."""
    made = Table("job", "day", "what", "note", "time", "photos", "words")
    for hit in found:
        note = "" if hit.note is None else f"note:{hit.note}"
        photos = " ".join(f"photo:{number}" for number in hit.photos)
        made.add_row(hit.job, hit.day, hit.what, note, hit.at or "", photos, hit.words)
    yield made
