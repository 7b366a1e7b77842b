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


def jobs(store: Store) -> tuple[list[Block], list[str]]:
    """The library's jobs, the latest first, and a line for each that is damaged."""
    found = store.jobs()
    lines = store.damaged_logs(found)
    for row in found:
        if row["damaged"]:
            lines[row["name"]] = f"{row['name']}: what the library holds of this job is damaged; run: fallbook verify"
    if not found:
        return ["No jobs yet. Start one with: fallbook new"], list(lines.values())
    made = Table("job", "day", "client", "address", "files", "typed")
    for row in found:
        made.add_row(row["name"], _day(row["day"]), row["client"], row["address"], str(row["files"]), str(row["typed"]))
    return [made], list(lines.values())


def _day(kept: str) -> str:
    """As it is kept, where it is damaged."""
    try:
        return words.day(date.fromisoformat(kept))
    except ValueError:
        return kept


def hits(found: Iterable[Hit]) -> Iterator[Block]:
    """Where words were found, the best first."""
    made = Table("job", "day", "what", "note", "time", "photos", "words")
    for hit in found:
        note = "" if hit.note is None else f"note:{hit.note}"
        photos = " ".join(f"photo:{number}" for number in hit.photos)
        made.add_row(hit.job, hit.day, hit.what, note, hit.at or "", photos, hit.words)
    yield made
