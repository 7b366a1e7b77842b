"""Is the library whole? What is wrong, which job it costs, and what can be computed again.

Only the log and the originals cannot be: those need a backup. All else is thrown away and made anew.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Callable, Iterator
from contextlib import closing, suppress
from dataclasses import dataclass
from pathlib import Path

from extract.errors import FallbookError
from logger import schema, search
from logger.book import Book
from logger.database import connect, put_in_place, unshared
from logger.digests import SHA256, unpack
from logger.integrity import faults, readable
from logger.originals import hash_of, problem
from logger.removal import files
from logger.store import Store, open_store
from reports.scratch import scratch

Progress = Callable[[str, int, int], None]
"""Told what is looked at, how much of it was, and how much there is."""
HEADS = "SELECT job, digest FROM log WHERE id IN (SELECT max(id) FROM log GROUP BY job)"
"""The digest of each job's last entry."""
DERIVED = "sha256, what, made_with, id FROM derived"
CACHED = "job, what, made_with, id FROM cached"
COMPUTED = ("derived", "cached", "found", "checked", "changed", "indexed")


@dataclass(frozen=True)
class Fault:
    """One thing that is wrong, in one line."""

    words: str
    computed: bool = False
    """It can be made anew: nothing is lost."""


def verify(store: Store, job: str | None, progress: Progress) -> Iterator[Fault]:
    """All that is wrong with the library, or with one job of it. Nothing that is kept is changed."""
    if job is not None:
        store.job(job)
    wrong = faults(store.connection)
    yield from (Fault(line) for line in wrong if job is None or line.startswith(f"job {job}:"))
    if job is None:
        yield from _tables(store, alone=bool(wrong))
    yield from _originals(store, job, progress)
    yield from _jobs(store, job, progress)


# -- the tables of what can be computed


def _tables(store: Store, *, alone: bool) -> Iterator[Fault]:
    """`alone` leaves out the file as a whole, of which a line was told already."""
    yield from (Fault(line, computed=True) for line in _damaged(store, alone=alone))
    yield from _derived(store)
    with suppress(sqlite3.DatabaseError):
        missing = {statement.split()[2] for statement in schema.GUARDS} - _triggers(store)
        if missing:
            yield Fault("the guards of the log are gone from the database", computed=True)


def _damaged(store: Store, *, alone: bool = False) -> list[str]:
    """What is wrong with the computed tables, their index, and the file that holds them; not with what stands there."""
    found = [f"{table}: {wrong}" for table in COMPUTED if (wrong := _wrong_with(store, f"({table})"))]
    if not found and not alone and (wrong := _wrong_with(store)):
        found = [f"library.db: {wrong}"]
    if store.writable:
        try:
            store.connection.execute("INSERT INTO found_fts (found_fts, rank) VALUES ('integrity-check', 1)")
        except sqlite3.DatabaseError:
            found.append("the index that find looks in does not match its words")
    return found


def _wrong_with(store: Store, table: str = "") -> str | None:
    try:
        said = [row[0] for row in store.connection.execute(f"PRAGMA integrity_check{table}")]
    except sqlite3.DatabaseError as error:
        said = [str(error)]
    return None if said == ["ok"] else said[0]


def _triggers(store: Store) -> set[str]:
    return {row["name"] for row in store.rows("SELECT name FROM sqlite_master WHERE type = 'trigger'")}


def _derived(store: Store) -> Iterator[Fault]:
    for table, what in ((DERIVED, "readings of originals"), (CACHED, "records that were worked out of jobs")):
        wrong = 0
        with suppress(sqlite3.DatabaseError):
            wrong = len(_damaged_rows(store.connection, table))
        if wrong:
            yield Fault(f"{wrong} {what} were changed on the disk", computed=True)
    with suppress(sqlite3.DatabaseError):
        whole = sum(map(search.row_is_whole, store.rows(f"SELECT i.job, f.* FROM {search.ROWS}")))
        wrong = abs(store.connection.execute("SELECT count(*) FROM found").fetchone()[0] - whole)
        if wrong:
            yield Fault(f"{wrong} rows of the index that find looks in were changed on the disk", computed=True)
        with store.at_one_moment():
            heads, last = (set(store.connection.execute(each)) for each in ("SELECT job, digest FROM heads", HEADS))
        for job in sorted({job for job, _ in heads ^ last}):
            yield Fault(
                f"job {job}: its log may lack its last entries; bring them back with: fallbook restore DIR, or accept "
                "the loss with: fallbook verify --repair"
            )


def _damaged_rows(conn: sqlite3.Connection, rows_of: str) -> list[int]:
    rows = conn.execute(f"SELECT value, digest, {rows_of}")
    return [number for *row, number in rows if unpack(*row) is None]


# -- originals and jobs


def _originals(store: Store, job: str | None, progress: Progress) -> Iterator[Fault]:
    used = _files(store, job)
    for number, (sha256, (name, jobs)) in enumerate(used.items()):
        progress("originals", number, len(used))
        if not SHA256.fullmatch(sha256):
            yield Fault(f"{', '.join(jobs)}: {name}: the log names it by {sha256[:20]!r}, which is no SHA-256")
            continue
        path = store.originals.place(sha256)
        state = "gone" if not path.is_file() else "whole" if hash_of(path) == sha256 else "altered"
        if state != "whole":
            _forget(store, sha256)
            yield Fault(f"{', '.join(jobs)}: {name}: {problem(state)}")  # type: ignore[arg-type]
    if job is None:
        yield from _strays(store)


def _forget(store: Store, sha256: str) -> None:
    """Whoever asks next looks at its bytes: when a bit flips on the disk, its time and size stay."""
    if store.writable:
        with suppress(sqlite3.DatabaseError):
            store.connection.execute("DELETE FROM checked WHERE sha256 = ?", [sha256])


def _files(store: Store, job: str | None) -> dict[str, tuple[str, list[str]]]:
    """The files in use, each with its name and its jobs."""
    found: dict[str, tuple[str, list[str]]] = {}
    with suppress(sqlite3.DatabaseError):
        used, _ = files(store.connection)
        for row in store.rows("SELECT job, sha256, name FROM log WHERE sha256 IS NOT NULL"):
            if row["sha256"] in used and job in (None, row["job"]):
                found.setdefault(row["sha256"], (row["name"], []))[1].append(row["job"])
    return found


def _strays(store: Store) -> Iterator[Fault]:
    known = {sha256 for names in files(store.connection) for sha256 in names}
    there = store.originals.folder.iterdir() if store.originals.folder.is_dir() else ()
    strays = [path.name for path in there if path.name not in known]
    if strays:
        yield Fault(f"originals holds {len(strays)} files that no job knows of, such as {strays[0]}; move them away")


def _jobs(store: Store, job: str | None, progress: Progress) -> Iterator[Fault]:
    names = [job] if job else _names(store)
    for number, name in enumerate(names):
        progress("jobs", number, len(names))
        try:
            book = Book(store, name)
            book.findings  # noqa: B018  (assembles and checks all of it)
            problems = [each for each in book.problems if "its original" not in each]
        except FallbookError as error:
            yield Fault(f"{name}: {str(error).removeprefix(f'{name}: ')}")
            continue
        except sqlite3.DatabaseError:
            continue  # told of with its table
        except Exception as error:  # whatever it is, it is this job's
            yield Fault(f"{name}: cannot be read ({type(error).__name__}: {error}); please report it")
            continue
        yield from (Fault(f"{name}: {each}") for each in problems)


def _names(store: Store) -> list[str]:
    with suppress(sqlite3.DatabaseError):
        return store.job_names()
    return []


# -- made anew


def repair(folder: Path, progress: Progress) -> Iterator[str]:
    """Throw away what is damaged of the computed parts and make it anew; lines of what was done.

    Raises FallbookError where the log itself is damaged: that needs a backup.
    """
    with open_store(folder) as store:
        wrong = faults(store.connection)
        if wrong:
            raise FallbookError(f"{folder}: {wrong[0]}; this needs a backup: fallbook restore DIR")
        if _damaged(store):
            _write_anew(store)
            yield "the database was written anew from its log"
    with open_store(folder) as store:
        yield from _make_anew(store, progress)


def _make_anew(store: Store, progress: Progress) -> Iterator[str]:
    _drop_damaged(store)
    jobs = [row["name"] for row in store.rows("SELECT name FROM jobs ORDER BY day DESC, name")]
    failed = search.index_all(store, jobs, lambda at, of: progress("jobs", at, of))
    yield f"{len(jobs) - len(failed)} of {len(jobs)} jobs were read again into the index"
    yield from (f"{job}: not read: {why}" for job, why in failed.items())


def _drop_damaged(store: Store) -> None:
    with store.writing() as conn:
        damaged = [*_damaged_rows(conn, DERIVED), *_unusable(conn)]
        conn.executemany("DELETE FROM derived WHERE id = ?", [[number] for number in damaged])
        conn.executemany("DELETE FROM cached WHERE id = ?", [[number] for number in _damaged_rows(conn, CACHED)])
        conn.execute("DELETE FROM heads")
        conn.execute(f"INSERT INTO heads {HEADS}")
        for statement in schema.GUARDS:
            conn.execute(statement.replace("CREATE TRIGGER", "CREATE TRIGGER IF NOT EXISTS", 1))
        conn.execute("INSERT INTO found_fts (found_fts) VALUES ('rebuild')")  # so that its rows can be taken out
        conn.execute("DELETE FROM found")
        conn.execute("DELETE FROM indexed")


def _unusable(conn: sqlite3.Connection) -> list[int]:
    """What was read of files that cannot be used: the next take tries them again."""
    rows = conn.execute(
        "SELECT value, digest, sha256, what, made_with, id FROM derived WHERE what IN ('sound', 'photo')"
    )
    found = [number for *row, number in rows if "unusable" in (unpack(*row) or {})]
    return found + [row[0] for row in conn.execute("SELECT id FROM derived WHERE what = 'unheard'")]


def _write_anew(store: Store) -> None:
    """Jobs, log and what can still be read of the rest into a fresh database, which takes this one's place."""
    database = store.folder / "library.db"
    # It is read by a connection of its own: where that meets damage, nothing more can be committed on it.
    with scratch(store.folder) as part, store.writing(), closing(connect(database, writable=False)) as conn:
        fresh = unshared(part.path)
        from logger.migrations import bring_up_to_date

        bring_up_to_date(fresh)
        fresh.execute("BEGIN")
        fresh.execute("DELETE FROM library")
        for table in ("library", "jobs", "log"):  # the heads of the log follow by its trigger
            rows = conn.execute(f"SELECT * FROM {table}").fetchall()
            marks = ", ".join("?" * len(rows[0])) if rows else "NULL"
            fresh.executemany(f"INSERT INTO {table} VALUES ({marks})", rows)
        _copy_readings(conn, fresh)
        fresh.execute("COMMIT")
        fresh.close()
        put_in_place(part, database)


def _copy_readings(conn: sqlite3.Connection, fresh: sqlite3.Connection) -> None:
    """Each by itself: hours of hearing stand in them, and one that cannot be read costs itself. What was worked out of
    whole jobs is left out, and worked out again."""
    for row in readable(conn, "derived", "*"):
        with suppress(TypeError):  # what is damaged may be of any type
            if SHA256.fullmatch(row[1]) and unpack(*row[4:], *row[1:4]) is not None:
                fresh.execute("INSERT OR IGNORE INTO derived VALUES (?, ?, ?, ?, ?, ?)", row)  # one may be read twice


# -- deleted for good


def prunable(store: Store) -> dict[str, str]:
    """The originals of removed files and jobs that are still there, SHA-256 to name."""
    _, removed = files(store.connection)
    return {sha256: name for sha256, name in removed.items() if store.originals.place(sha256).is_file()}


def prune(store: Store, chosen: dict[str, str]) -> int:
    """Delete those originals and what was read in them; the log keeps their hash. How many bytes that frees."""
    freed = 0
    with store.writing() as conn:
        for sha256 in chosen.keys() & prunable(store).keys():  # some may have been put back while somebody was asked
            # What a photo's file said of itself stays: the numbers of the others hang on it.
            conn.execute("DELETE FROM derived WHERE sha256 = ? AND what <> 'photo'", [sha256])
            conn.execute("DELETE FROM checked WHERE sha256 = ?", [sha256])
            path = store.originals.place(sha256)
            freed += path.stat().st_size
            path.chmod(0o600)
            path.unlink()
    return freed
