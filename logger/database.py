"""The library's database file: opened, brought up to date, and its errors in plain words."""

from __future__ import annotations

import os
import shutil
import sqlite3
from collections.abc import Iterator
from contextlib import closing, contextmanager, suppress
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any
from urllib.parse import quote

from platformdirs import user_cache_path

from extract.errors import FallbookError
from logger.schema import VERSION
from reports.scratch import Scratch

WAIT_S = 30
"""Seconds to wait for another process that is writing."""
COMPANIONS = ("-journal", "-wal", "-shm")
"""What SQLite keeps beside a database, by the ending of its name."""
COPY = "library-read-"
ROOM = 4 << 20
"""Bytes of free space below which a failed write is put down to a full disk."""


class NewerLibrary(FallbookError):
    """A newer program made it."""


def connect(path: Path, *, writable: bool) -> sqlite3.Connection:
    """The database at `path`, in its present form; a new one where there is none and it may be written.

    A library that cannot be written is read all the same; one of an earlier form is brought up to date in memory then.
    Raises NewerLibrary for one made by a newer program, sqlite3.Error for one that cannot be used.
    """
    conn = _opened(path, writable=writable)
    try:
        made_by = _version(conn)
        if made_by > VERSION:
            raise NewerLibrary(
                f"{path.parent}: this library was made by a newer fallbook (form {made_by}, this one knows {VERSION}); "
                "install that version here"
            )
        if made_by < VERSION:
            conn = _brought_up_to_date(conn, in_memory=not writable)
        _set_up(conn, writable=writable)
    except BaseException:
        conn.close()
        raise
    return conn


def _opened(path: Path, *, writable: bool) -> sqlite3.Connection:
    conn = sqlite3.connect(
        f"file:{quote(str(path))}?mode={'rwc' if writable else 'ro'}", uri=True, timeout=WAIT_S, isolation_level=None
    )
    conn.execute("PRAGMA temp_store = memory")  # no file of its own in the system's temporary folder
    try:
        _version(conn)
        return conn
    except sqlite3.OperationalError:
        conn.close()
        if writable or not _folded_in_later(path):
            raise
        return _in_memory(path)


def _folded_in_later(path: Path) -> bool:
    """Whether SQLite would write beside the database to read it: version 1 always did, and whoever was killed while
    writing left a journal."""
    try:
        with path.open("rb") as file:
            return file.read(20)[18:] == b"\2\2" or path.with_name(f"{path.name}-journal").exists()
    except OSError:
        return False


def _in_memory(path: Path) -> sqlite3.Connection:
    """What the database holds together with the files beside it, read from a copy."""
    memory = sqlite3.connect(":memory:", isolation_level=None)
    cache = user_cache_path("fallbook")
    cache.mkdir(parents=True, exist_ok=True)
    for left in cache.glob(f"{COPY}*"):  # by whoever was killed meanwhile
        shutil.rmtree(left, ignore_errors=True)
    with TemporaryDirectory(dir=cache, prefix=COPY) as folder:
        for suffix in ("", "-wal", "-journal"):
            with suppress(FileNotFoundError):
                shutil.copyfile(f"{path}{suffix}", Path(folder) / f"copy{suffix}")
        with closing(sqlite3.connect(Path(folder) / "copy")) as copy:
            copy.backup(memory)
    return memory


def _version(conn: sqlite3.Connection) -> int:
    return int(conn.execute("PRAGMA user_version").fetchone()[0])


def _brought_up_to_date(conn: sqlite3.Connection, *, in_memory: bool) -> sqlite3.Connection:
    from logger.migrations import bring_up_to_date

    if in_memory:
        copy = sqlite3.connect(":memory:", isolation_level=None)
        conn.backup(copy)
        conn.close()
        conn = copy
    bring_up_to_date(conn)
    return conn


def _set_up(conn: sqlite3.Connection, *, writable: bool) -> None:
    if writable and conn.execute("PRAGMA journal_mode").fetchone()[0] == "wal":
        # Version 1 kept its last entries in a file beside the database, and a copy of the database alone lacked them.
        with suppress(sqlite3.OperationalError):  # while another process has it open, the next one changes it
            conn.execute("PRAGMA journal_mode = delete")
    conn.execute("PRAGMA synchronous = extra")  # a commit outlasts a power cut
    conn.execute("PRAGMA recursive_triggers = on")


def rows_of(conn: sqlite3.Connection, sql: str, values: list[Any] | None = None) -> Iterator[dict[str, Any]]:
    """What a SELECT finds, each row by the names of its columns."""
    cursor = conn.execute(sql, values or [])
    names = [column[0] for column in cursor.description]
    return (dict(zip(names, row, strict=True)) for row in cursor)


def unshared(path: Path) -> sqlite3.Connection:
    """A database being made, of which nobody else knows: it needs no journal, for a kill costs all of it."""
    conn = sqlite3.connect(path, isolation_level=None)
    conn.execute("PRAGMA journal_mode = off")
    conn.execute("PRAGMA temp_store = memory")
    return conn


def put_in_place(part: Scratch, database: Path) -> None:
    """Let a database that was just written take the place of another. What the other's journal held would be laid over
    it at the next opening, so that goes too. May raise OSError."""
    for ending in COMPANIONS:
        database.with_name(database.name + ending).unlink(missing_ok=True)
    part.move(database)


@contextmanager
def in_plain_words(folder: Path) -> Iterator[None]:
    """Turns the database's errors on the library in `folder` into FallbookError: one line, and what to do."""
    try:
        yield
    except sqlite3.Error as error:
        raise FallbookError(f"{folder}: {_what_to_do(error, folder)} ({error})") from error


def _what_to_do(error: sqlite3.Error, folder: Path) -> str:
    code = getattr(error, "sqlite_errorname", "") or ""
    if code.startswith(("SQLITE_BUSY", "SQLITE_LOCKED")):
        return "another fallbook is writing in this library; try again when it is done"
    if code == "SQLITE_READONLY_DBMOVED":
        return "the library was put in order meanwhile; run it again"
    if code.startswith("SQLITE_FULL") or (code.startswith(("SQLITE_IOERR", "SQLITE_CANTOPEN")) and full(folder)):
        return "the disk is full; nothing was lost; make room and run it again"
    if code.startswith(("SQLITE_READONLY", "SQLITE_CANTOPEN", "SQLITE_PERM")):
        return "the library cannot be written; check the rights of its folder, or choose another with --library"
    if code.startswith("SQLITE_IOERR"):
        return "the disk failed to read or write; check the disk and its cable, then run: fallbook verify"
    if code.startswith(("SQLITE_CORRUPT", "SQLITE_NOTADB")):
        return "the library is damaged; bring it back with: fallbook restore DIR"
    return "the library's database reports an error; run: fallbook verify"


def full(folder: Path) -> bool:
    """Whether the disk that `folder` lies on has no room left to speak of."""
    try:
        return shutil.disk_usage(folder).free < ROOM
    except OSError:
        return False


def can_write(folder: Path) -> bool:
    """Whether files in `folder` can be made and changed."""
    database = folder / "library.db"
    return os.access(folder, os.W_OK) and (not database.exists() or os.access(database, os.W_OK))
