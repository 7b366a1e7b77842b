"""Whether the jobs and the log of a database are whole, and what can be read of one that is not."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from contextlib import closing, suppress
from pathlib import Path
from typing import Any

from extract.errors import FallbookError
from logger.database import connect
from logger.digests import row_digest
from logger.store import OF_ENTRY, OF_JOB

NOT_DAMAGE = ("SQLITE_BUSY", "SQLITE_LOCKED", "SQLITE_CANTOPEN", "SQLITE_PERM", "SQLITE_FULL", "SQLITE_READONLY")


def is_whole(database: Path) -> bool:
    """Whether jobs and log of a database can be read, row by row, with the digests that they should have.

    Raises NewerLibrary where a newer program made it, sqlite3.Error where it cannot be read for another reason than
    damage: it may be whole all the same.
    """
    try:
        with closing(connect(database, writable=False)) as conn:
            return not faults(conn)
    except sqlite3.Error as error:
        if not is_damage(error):
            raise
        return False


def is_damage(error: sqlite3.Error) -> bool:
    return not (getattr(error, "sqlite_errorname", "") or "").startswith(NOT_DAMAGE)


def faults(conn: sqlite3.Connection) -> list[str]:
    """What is wrong with the jobs and the log of a database, a line each: nothing but a backup can bring that back."""
    found = []
    for table in ("jobs", "log"):
        try:
            said = [row[0] for row in conn.execute(f"PRAGMA integrity_check({table})")]
        except sqlite3.DatabaseError as error:
            if not is_damage(error):
                raise
            said = [str(error)]
        found += [f"{table}: {line}" for line in said if line != "ok"][:3]
    if found:
        return found
    try:
        return _faults_of_jobs(conn) + _faults_of_log(conn) + _jobs_lost(conn)
    except sqlite3.DatabaseError as error:  # what was text is none any more
        if not is_damage(error):
            raise
        return [f"jobs and log: {error}"]


def _faults_of_jobs(conn: sqlite3.Connection) -> list[str]:
    return [
        f"job {row[0]}: its client, address, day or company file was changed on the disk"
        for *row, digest in conn.execute(f"SELECT {OF_JOB}, digest FROM jobs")
        if digest != row_digest(row)
    ]


def _faults_of_log(conn: sqlite3.Connection) -> list[str]:
    found = []
    before: dict[str, bytes] = {}
    for number, *row, digest in conn.execute(f"SELECT id, {OF_ENTRY}, digest FROM log ORDER BY id"):
        if digest != row_digest(row, before.get(row[0], b"")):
            found.append(f"job {row[0]}: entry {number} of the log was changed on the disk, or one before it is lost")
        before[row[0]] = digest
    return found


def _jobs_lost(conn: sqlite3.Connection) -> list[str]:
    rows = conn.execute("SELECT DISTINCT job FROM log WHERE job NOT IN (SELECT name FROM jobs) ORDER BY job")
    return [f"job {job}: its client, address, day and company file are lost" for (job,) in rows]


def whole_or_raise(conn: sqlite3.Connection, folder: Path) -> None:
    """Raises FallbookError where the database of that folder is damaged."""
    wrong = faults(conn)
    if wrong:
        raise FallbookError(f"{folder}: not copied, for it is damaged: {wrong[0]}; run: fallbook verify")


def readable(conn: sqlite3.Connection, table: str, columns: str) -> Iterator[tuple[Any, ...]]:
    """The rows of a damaged table that can be read, each asked for by itself, in order."""
    for number in sorted(_numbers(conn, table, "ASC") | _numbers(conn, table, "DESC")):
        with suppress(sqlite3.Error):
            yield from conn.execute(f"SELECT {columns} FROM {table} WHERE rowid = ?", [number]).fetchall()


def _numbers(conn: sqlite3.Connection, table: str, order: str) -> set[int]:
    """The rows of a table from one end of it, as far as it goes."""
    found: set[int] = set()
    with suppress(sqlite3.Error):
        for (number,) in conn.execute(f"SELECT rowid FROM {table} ORDER BY rowid {order}"):
            found.add(number)
    return found
