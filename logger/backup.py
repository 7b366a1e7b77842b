"""A library copied for safety, and brought back. A backup is itself a library: any command reads it with --library.

A backup is never laid over one that holds more, and a library that is whole is never laid over by a backup.
"""

from __future__ import annotations

import errno
import os
import shutil
import sqlite3
from collections.abc import Callable, Iterator
from contextlib import closing, contextmanager, suppress
from datetime import UTC, datetime
from pathlib import Path
from typing import NamedTuple

from extract.errors import FallbookError, UsageError
from logger.database import COMPANIONS, WAIT_S, NewerLibrary, connect, in_plain_words, put_in_place, unshared
from logger.digests import SHA256, row_digest, unpack
from logger.integrity import is_damage, is_whole, readable, whole_or_raise
from logger.originals import Originals, copy_original, hash_of, problem
from logger.removal import files
from logger.store import OF_ENTRY, OF_JOB, Store
from reports.scratch import scratch, sweep

Progress = Callable[[int, int], None]
NOT_IN_OTHER = """SELECT count(*) FROM {one}.log a WHERE NOT EXISTS
    (SELECT 1 FROM {other}.log b WHERE b.id = a.id AND b.digest = a.digest)"""


# -- out


def backup(store: Store, folder: Path, progress: Progress, *, every: bool = False) -> Iterator[str]:
    """Copy the library into `folder`, what is there already left alone; lines about what could not be copied.

    The database is copied as it stands at one moment, then every original that it names, read back and held against its
    hash; last the copied database takes its place. An original that is there already is read again where `every` says
    so. Raises UsageError, FallbookError, OSError; then the backup that was
    there still stands.
    """
    if folder.resolve() == store.folder.resolve() or store.folder.resolve() in folder.resolve().parents:
        raise UsageError(f"{folder}: a backup inside the library is lost with it; give a folder on another disk")
    if folder.exists() and not folder.is_dir():
        raise UsageError(f"{folder}: a file; give a folder on another disk")
    _check_room_for(store, folder)
    folder.mkdir(parents=True, exist_ok=True, mode=0o700)
    (folder / "originals").mkdir(exist_ok=True, mode=0o700)
    for each in (folder, folder / "originals"):
        sweep(each)
    with scratch(folder) as part, closing(unshared(part.path)) as copy:
        with _full_disk_of(folder):
            store.copy_into(copy)
        whole_or_raise(copy, folder)
        yield from _copy_originals(copy, store.originals, folder / "originals", progress, every=every)
        copy.close()
        put_in_place(part, folder / "library.db")


def _check_room_for(store: Store, folder: Path) -> None:
    """Raises FallbookError where the folder holds something else than an earlier backup of this library."""
    if not (folder / "library.db").exists():
        if folder.is_dir() and any(folder.iterdir()) and not (folder / "originals").is_dir():
            raise UsageError(f"{folder}: holds other files; give an empty folder, or one that holds a backup")
        return
    more = _compared(store.folder / "library.db", folder / "library.db")
    if more.other_library:
        raise FallbookError(f"{folder}: holds the backup of another library; give a folder of its own")
    if more.in_second:
        raise FallbookError(
            f"{folder}: the backup there holds what this library has lost (entries: {more.in_second}); nothing was "
            f"copied. Bring it back with: fallbook restore {folder}, or give another folder"
        )


def _copy_originals(
    copy: sqlite3.Connection, source: Originals, target: Path, progress: Progress, *, every: bool
) -> Iterator[str]:
    used, removed = files(copy)
    for number, (sha256, name) in enumerate((used | removed).items()):
        progress(number, len(used | removed))
        there = target / sha256
        size = there.stat().st_size if SHA256.fullmatch(sha256) and there.is_file() else -1
        why = ""
        try:
            path = source.path(sha256, name)
            held = size == path.stat().st_size and (not every or hash_of(there) == sha256)
            if not held and not copy_original(path, there, sha256):
                why = f"{name}: {problem('altered')}"
        except FallbookError as error:
            why = str(error)
        except OSError as error:
            if error.errno == errno.ENOSPC:
                raise
            why = f"{name}: cannot be copied ({error.strerror or error}); check the disks"
        if why and sha256 in used:
            yield f"not copied: {why}" if size < 0 else f"{why}; the backup holds a copy"


# -- back


def restore(folder: Path, library: Path, progress: Progress) -> Iterator[str]:
    """Bring `library` back to what the backup in `folder` holds, and keep what it has beyond that; lines of what was
    done.

    Raises FallbookError where there is no backup, or where library and backup each hold what the other lacks.
    """
    if not (folder / "library.db").is_file():
        raise UsageError(f"{folder}: no backup here; give the folder that fallbook backup wrote")
    with in_plain_words(folder), closing(connect(folder / "library.db", writable=False)) as held:
        whole_or_raise(held, folder)
        (library / "originals").mkdir(parents=True, exist_ok=True, mode=0o700)
        for each in (library, library / "originals"):
            sweep(each)
        yield from _bring_back_database(held, folder, library)
        with in_plain_words(library), closing(connect(library / "library.db", writable=True)) as conn:
            yield from _bring_back_originals(conn, folder, library, progress)


def _bring_back_database(held: sqlite3.Connection, folder: Path, library: Path) -> Iterator[str]:
    database = library / "library.db"
    if not database.exists() or not database.stat().st_size:
        with scratch(library) as part:
            _write(held, part.path)
            put_in_place(part, database)
        yield "library.db: brought back"
        return
    if not _is_whole_here(database):
        yield from _put_aside_and_replace(held, database)
        return
    more = _compared(database, folder / "library.db")
    if more.other_library or (more.in_second and more.in_first):
        what = "is another library's" if more.other_library else "and this library each hold what the other lacks"
        raise FallbookError(
            f"{folder}: this backup {what}; nothing was changed. Look at it with --library {folder}, or restore it "
            "into an empty folder: fallbook --library NEW restore"
        )
    if more.in_second:
        yield from _replace(held, database)
        yield f"library.db: entries brought back: {more.in_second}"
    else:
        yield "library.db: is whole and holds all that the backup holds; it was left as it is"


def _is_whole_here(database: Path) -> bool:
    try:
        with in_plain_words(database.parent):
            return is_whole(database)
    except NewerLibrary as error:
        raise FallbookError(f"{error}; if there never was one, move library.db away and restore again") from error


def _replace(held: sqlite3.Connection, database: Path) -> Iterator[str]:
    """A copy of the backup, with what can be read of newer entries and of readings, takes the database's place in one
    step."""
    with scratch(database.parent) as part, _nobody_writing(database):
        _write(held, part.path)
        lines = list(_take_over(database, part.path))
        put_in_place(part, database)
    yield from lines


@contextmanager
def _nobody_writing(database: Path) -> Iterator[None]:
    """Nobody adds to a database that is about to be replaced, as far as it can still be locked. Raises FallbookError
    where another process is writing."""
    if not database.exists():
        yield
        return
    with (
        in_plain_words(database.parent),
        closing(sqlite3.connect(database, timeout=WAIT_S, isolation_level=None)) as conn,
    ):
        try:
            conn.execute("BEGIN IMMEDIATE")
        except sqlite3.DatabaseError as error:
            if not is_damage(error):
                raise
        yield


def _put_aside_and_replace(held: sqlite3.Connection, database: Path) -> Iterator[str]:
    """The same of a damaged database, which is kept beside the new one."""
    written = datetime.fromtimestamp(database.stat().st_mtime, UTC)  # a second try after a kill gives the same name
    aside = database.with_name(f"library-damaged-{written:%Y%m%d-%H%M%S}.db")
    for ending in ("", *COMPANIONS):
        with suppress(FileNotFoundError):
            _copy_beside(Path(f"{database}{ending}"), Path(f"{aside}{ending}"))
    yield f"library.db: was damaged; brought back, and the damaged one kept as {aside.name}"
    yield from _replace(held, database)


def _write(held: sqlite3.Connection, path: Path) -> None:
    with closing(unshared(path)) as copy, _full_disk_of(path.parent):
        held.backup(copy)


def _copy_beside(path: Path, copy: Path) -> None:
    try:
        os.link(path, copy)
    except FileExistsError:  # by a try that was killed
        return
    except FileNotFoundError:
        raise
    except OSError:  # a disk that knows no links
        shutil.copyfile(path, copy)


@contextmanager
def _full_disk_of(folder: Path) -> Iterator[None]:
    """Where a database is copied into `folder`, a full disk is that of the copy."""
    try:
        yield
    except sqlite3.Error as error:
        if not (getattr(error, "sqlite_errorname", "") or "").startswith("SQLITE_FULL"):
            raise
        raise FallbookError(f"{folder}: the disk is full; nothing was lost; make room and run it again") from error


def _take_over(damaged: Path, database: Path) -> Iterator[str]:
    """Put what the damaged database holds beyond the backup, row by row as far as it can be read, into the new one;
    lines of what that was, and of what was lost."""
    try:
        with closing(connect(damaged, writable=False)) as old, closing(connect(database, writable=True)) as new:
            new.execute("BEGIN IMMEDIATE")
            _take_over_jobs(old, new)
            kept, lost = _take_over_entries(old, new)
            _take_over_readings(old, new)
            new.execute("COMMIT")
    except (sqlite3.Error, FallbookError, ValueError, TypeError) as error:
        yield f"nothing newer than the backup could be read in {damaged.name} ({error})"
        return
    if kept:
        yield f"entries newer than the backup that could still be read and were kept: {kept}"
    if lost:
        yield f"entries newer than the backup that are damaged and lost: {lost}"


def _take_over_jobs(old: sqlite3.Connection, new: sqlite3.Connection) -> None:
    for *row, digest in readable(old, "jobs", f"{OF_JOB}, digest"):
        if digest == row_digest(row):
            new.execute("INSERT OR IGNORE INTO jobs VALUES (?, ?, ?, ?, ?, ?, ?)", [*row, digest])


def _take_over_entries(old: sqlite3.Connection, new: sqlite3.Connection) -> tuple[int, int]:
    """How many entries newer than the backup were kept, and how many could not be."""
    last = new.execute("SELECT coalesce(max(id), 0) FROM log").fetchone()[0]
    jobs = {row[0] for row in new.execute("SELECT name FROM jobs")}
    before: dict[str, bytes] = {}
    kept = lost = 0
    for number, *row, digest in readable(old, "log", f"id, {OF_ENTRY}, digest"):
        job = row[0]
        head = new.execute("SELECT digest FROM heads WHERE job = ?", [job]).fetchone()
        known = head[0] if head else b""
        # The entry before it may be one that only the backup still holds whole.
        right = digest in (row_digest(row, before.get(job, b"")), row_digest(row, known)) and job in jobs
        before[job] = digest
        if number > last and right:
            new.execute("INSERT INTO log VALUES (?, ?, ?, ?, ?, ?, ?, ?)", [number, *row, row_digest(row, known)])
            kept += 1
        elif number > last:
            lost += 1
    return kept, lost


def _take_over_readings(old: sqlite3.Connection, new: sqlite3.Connection) -> None:
    """Hours of hearing may stand in them; what was worked out of whole jobs is worked out again."""
    for sha256, *row in readable(old, "derived", "sha256, what, made_with, value, digest"):
        with suppress(TypeError):  # what is damaged may be of any type
            if SHA256.fullmatch(sha256) and unpack(*row[2:], sha256, *row[:2]) is not None:
                new.execute(
                    "INSERT OR IGNORE INTO derived (sha256, what, made_with, value, digest) VALUES (?, ?, ?, ?, ?)",
                    [sha256, *row],
                )


def _bring_back_originals(conn: sqlite3.Connection, folder: Path, library: Path, progress: Progress) -> Iterator[str]:
    used, _ = files(conn)
    for number, (sha256, name) in enumerate(used.items()):
        progress(number, len(used))
        place, source = (each / "originals" / sha256 for each in (library, folder))
        if not SHA256.fullmatch(sha256):
            yield f"{name}: the log names it by {sha256[:20]!r}, which is no SHA-256; it was left out"
        elif _is_whole(place, sha256):
            continue
        elif source.is_file() and copy_original(source, place, sha256):
            yield f"{name}: its original was brought back"
        else:
            yield f"{name}: its original is not in the backup either; take the true file again"


def _is_whole(original: Path, sha256: str) -> bool:
    """By its bytes: time and size stay when a bit flips on the disk."""
    return original.is_file() and hash_of(original) == sha256


# -- one held against the other


class _Compared(NamedTuple):
    """How many entries each of two libraries holds that the other lacks."""

    in_first: int
    in_second: int
    other_library: bool


def _compared(first: Path, second: Path) -> _Compared:
    with closing(sqlite3.connect(":memory:")) as both:
        for name, path in (("one", first), ("two", second)):
            with in_plain_words(path.parent), closing(connect(path, writable=False)) as conn:
                both.execute(f"ATTACH ':memory:' AS {name}")
                both.execute(f"CREATE TABLE {name}.log (id INTEGER PRIMARY KEY, digest BLOB)")
                both.executemany(f"INSERT INTO {name}.log VALUES (?, ?)", conn.execute("SELECT id, digest FROM log"))
                both.execute(f"CREATE TABLE {name}.library (id TEXT)")
                both.executemany(f"INSERT INTO {name}.library VALUES (?)", conn.execute("SELECT id FROM library"))
        one, two = (
            both.execute(NOT_IN_OTHER.format(one=a, other=b)).fetchone()[0] for a, b in (("one", "two"), ("two", "one"))
        )
        ids = {both.execute(f"SELECT max(id) FROM {name}.library").fetchone()[0] for name in ("one", "two")}
    return _Compared(one, two, len(ids) > 1)
