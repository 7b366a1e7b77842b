"""What a person took out: a job, a file, a note or a thing, as an entry of the log each, and taken back as another."""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Iterable
from contextlib import suppress
from datetime import datetime
from functools import partial
from typing import Any, Literal

from extract.amend import Witness
from extract.record import Model
from logger.database import rows_of
from logger.order import STANDS, in_order
from logger.store import LogEntry

What = Literal["job", "file", "note", "thing"]


class Removed(Model):
    """One removal as the log keeps it, or, where `undone`, its being taken back."""

    what: What
    name: str
    """The job's name, the file's SHA-256, what tells the note for ever, or the thing's label."""
    start_s: float | None = None
    """Of a note: seconds into its recording."""
    words: str | None = None
    """Of a note: its words as they stood."""
    rests_on: list[Witness] | None = None
    """Of a thing, as in `extract.amend.Removal`."""
    was: dict[str, Any] | None = None
    place: tuple[int, int] | None = None
    at: datetime | None = None
    undone: bool = False

    @property
    def key(self) -> tuple[What, str, float | None]:
        return self.what, self.name, self.start_s


Standing = dict[tuple[What, str, float | None, int], tuple[int, Removed]]


def standing(entries: Iterable[LogEntry]) -> Standing:
    """The removals that were not taken back, each with its entry's ID, in order. One label may have meant two things,
    so two removals of it stand."""
    found: Standing = {}
    for entry in entries:
        if entry.kind == "removal":
            removed = Removed.model_validate(entry.body)
            same = [key for key in found if key[:3] == removed.key]
            same = same[-1:] if ":" in removed.name else same  # `test:1` is another test once the first is out
            for key in same if removed.what != "thing" or removed.undone else ():
                del found[key]
            if not removed.undone:
                found[*removed.key, entry.id] = (entry.id, removed)
    return found


def removed_files(entries: Iterable[LogEntry]) -> set[str]:
    """The SHA-256 of every file that was removed."""
    return {removed.name for _, removed in standing(entries).values() if removed.what == "file"}


def files(conn: sqlite3.Connection) -> tuple[dict[str, str], dict[str, str]]:
    """The files that the log of a library names, SHA-256 to name: those in use in any job, and those that were removed
    from every job that had them, or went with it."""
    out: dict[tuple[str, str], Removed] = {}
    rows = rows_of(conn, "SELECT id, job, body FROM log INDEXED BY log_removals WHERE kind = 'removal'")
    for row in in_order(partial(rows_of, conn), list(rows)):
        with suppress(ValueError, TypeError, AttributeError):  # damaged: what it took out counts as in use
            removed = Removed.model_validate({k: v for k, v in json.loads(row["body"]).items() if k != STANDS})
            if removed.what in ("job", "file"):
                out[row["job"], removed.name if removed.what == "file" else ""] = removed
    gone = {key for key, removed in out.items() if not removed.undone}
    used: dict[str, str] = {}
    unused: dict[str, str] = {}
    for job, sha256, name in conn.execute("SELECT job, sha256, name FROM log WHERE sha256 IS NOT NULL"):
        (unused if {(job, sha256), (job, "")} & gone else used)[sha256] = name
    return used, {sha256: name for sha256, name in unused.items() if sha256 not in used}
