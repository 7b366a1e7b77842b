"""The library on disk: one SQLite database, and the originals under their SHA-256.

The log is only ever added to; triggers in the database itself refuse anything else, and each row carries a digest, so
that a bit that flips is noticed. Whatever was computed from an original (its notes heard, its EXIF read) stands in
`derived`, what was worked out of whole jobs in `cached`; both can be thrown away.
What every command must load before it can answer is kept small: models and the table library wait for their first use.
"""

from __future__ import annotations

import json
import os
import sqlite3
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass, replace
from datetime import datetime
from functools import cached_property
from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal

from platformdirs import user_data_path

from extract.errors import FallbookError
from logger import job_facts, order
from logger.clean import SURROGATE
from logger.database import can_write, connect, in_plain_words, rows_of
from logger.digests import pack, row_digest, unpack
from logger.originals import Originals

if TYPE_CHECKING:
    from sqlite_utils import Database

    from logger.book import Book
    from logger.stretches import Seconds
    from reports.job import Job

Kind = Literal["sound", "photo", "text", "said", "amendment", "removal", "answer"]
"""`answer`: a question that needs no answer, or the last change by hand taken back."""
STRETCH = "stretch"
"""How the notes of one stretch of a recording are marked until the whole of it is heard."""
LAST_JOBS = 100
"""The jobs last worked out, of which what takes long is kept."""
EVERY = ""
"""In place of a job's name: of all of them."""
OF_JOB = "name, client, address, day, zone, company"
TOLD = ("client", "address", "day", "files", "typed")
"""What the list of jobs tells of each."""
OF_ENTRY = "job, kind, at, body, sha256, name"


@dataclass(frozen=True)
class LogEntry:
    """One thing that came in. `sha256` and `name` are empty for what is no file."""

    id: int
    kind: Kind
    at: datetime
    """When it came in, aware."""
    body: dict[str, Any]
    sha256: str = ""
    name: str = ""
    stands: datetime | None = None
    """When it stands in the log's order (see `logger.order`)."""
    visited: dict[str, Any] | None = None
    """Of a link to another job that came with a bag: what that job is known by (see `logger.job_facts`)."""


def library_folder() -> Path:
    """Where the library lies when nobody says otherwise: this user's data folder."""
    return user_data_path("fallbook", appauthor=False)


@contextmanager
def open_store(folder: Path, *, create: bool = False) -> Iterator[Store]:
    """The library in `folder`; made there, where there is none, only if `create`.

    Raises FallbookError, one line, where there is none, or it cannot be read or written.
    """
    with in_plain_words(folder):
        store = Store(folder, create=create)
        try:
            yield store
        finally:
            store.close()


class Store:
    """One library. Use it through `open_store`, which turns the database's errors into plain words."""

    def __init__(self, folder: Path, *, create: bool = False) -> None:
        self.folder = folder
        self.reading: Callable[[int, int], None] = lambda done, total: None
        """Told how many notes of a job are read, where that was not done before."""
        self.books: dict[str, Book] = {}
        """The books that this process holds (see `Book.hold`)."""
        database = folder / "library.db"
        if not _has_content(database):
            _ready_for_new(folder, create=create)
        self.writable = can_write(folder)
        self.connection = connect(database, writable=self.writable)
        self._file = _number(database)
        if self.writable:
            (folder / "originals").mkdir(exist_ok=True, mode=0o700)
            _keep_private(folder)
        self.originals = Originals(folder, self.connection, writable=self.writable)
        if self.writable:
            self.originals.sweep()

    @cached_property
    def db(self) -> Database:
        """The database as tables. It is slow to load, so what only reads and appends goes past it."""
        from sqlite_utils import Database

        return Database(self.connection)

    def rows(self, sql: str, values: list[Any] | None = None) -> Iterator[dict[str, Any]]:
        """What a SELECT finds, each row by the names of its columns."""
        return rows_of(self.connection, sql, values)

    def must_write(self) -> None:
        """Raises FallbookError where the library can be read and not written."""
        if not self.writable:
            raise FallbookError(
                f"{self.folder}: this library can be read and not written; check the rights of its folder"
            )

    @contextmanager
    def writing(self) -> Iterator[sqlite3.Connection]:
        """All or nothing, and nobody else writes meanwhile. Raises FallbookError where nothing can be written."""
        self.must_write()
        if self.connection.in_transaction:
            yield self.connection
            return
        now = _number(self.folder / "library.db")
        if now != self._file:
            what = (
                "was put in order meanwhile; run it again"
                if now
                else "is gone; bring it back, or run: fallbook restore DIR"
            )
            raise FallbookError(f"{self.folder}: the library {what}")
        self.connection.execute("BEGIN IMMEDIATE")
        try:
            yield self.connection
        except BaseException:
            with suppress(sqlite3.Error):  # a full disk has ended it already
                self.connection.execute("ROLLBACK")
            raise
        self.connection.execute("COMMIT")

    @contextmanager
    def at_one_moment(self) -> Iterator[None]:
        """What is read within stood there together, whatever others write meanwhile."""
        if self.connection.in_transaction:
            yield
            return
        self.connection.execute("BEGIN")
        try:
            yield
        finally:
            with suppress(sqlite3.Error):
                self.connection.execute("COMMIT")

    def copy_into(self, target: sqlite3.Connection) -> None:
        """The whole database as it stands at one moment, into another."""
        self.connection.backup(target)

    def close(self) -> None:
        self.connection.close()

    # -- jobs

    def job_names(self) -> list[str]:
        """All jobs that were not removed, the latest day first."""
        removed = self.removed_jobs()
        rows = self.rows("SELECT name FROM jobs ORDER BY day DESC, name")
        return [row["name"] for row in rows if row["name"] not in removed]

    def jobs(self) -> list[dict[str, Any]]:
        """All jobs that were not removed, the latest day first: name, day, client, address, how many files and typed
        notes came in, and whether a bit of the job has flipped on the disk."""
        counted = self.connection.execute("SELECT job, count(sha256), sum(kind = 'said') FROM log GROUP BY job")
        counts = {job: (files, typed) for job, files, typed in counted}
        found = []
        for row in self.job_rows():
            files, typed = counts.get(row["name"], (0, 0))
            found.append(row | {"files": files, "typed": typed})
        return sorted(found, key=lambda row: row["day"], reverse=True)

    def job_rows(self) -> list[dict[str, Any]]:
        """The rows of all jobs that were not removed, by name, with what was said of each job itself since; whether a
        bit of the row has flipped on the disk (`damaged`), or of an entry that says so (`misread`). No other entry of a
        log is read."""
        removed, said, misread = self.removed_jobs(), job_facts.of_all(self.rows), self._misread()
        found = []
        for row in self.rows(f"SELECT {OF_JOB}, digest FROM jobs ORDER BY name"):
            if row["name"] not in removed:
                damaged = row.pop("digest") != row_digest(list(row.values()))
                marks = {"damaged": damaged, "misread": row["name"] in misread}
                found.append(row | said.get(row["name"], {}) | marks)
        return found

    def _misread(self) -> set[str]:
        """The jobs of which an entry that says something of the job itself is damaged, or the one before it is lost."""
        asked = [job_facts.CORRECTED, job_facts.UNDONE]
        before = "SELECT digest FROM log b WHERE b.job = log.job AND b.id < log.id ORDER BY b.id DESC LIMIT 1"
        rows = self.rows(f"SELECT {OF_ENTRY}, digest, ({before}) AS before FROM log WHERE {job_facts.WANTED}", asked)
        found = set()
        for row in rows:
            digest, before_it = row.pop("digest"), row.pop("before")
            if digest != row_digest(list(row.values()), before_it or b""):
                found.add(row["job"])
        return found

    def damaged_logs(self, listed: list[dict[str, Any]]) -> dict[str, str]:
        """The jobs with a damaged log, each with a line that says so; `listed` is what `jobs` returns. A log is read in
        full only where its job's row has changed, appeared or gone since the last full reading."""
        told = {row["name"]: [row[key] for key in TOLD] for row in listed if not row["damaged"]}
        known = self.cached(EVERY, "told", "") or {}
        if told == known:
            return {}
        damaged = {}
        for name in sorted(name for name in told.keys() | known.keys() if told.get(name) != known.get(name)):
            try:
                self.entries(name)
            except FallbookError as error:
                damaged[name] = str(error)
            except sqlite3.OperationalError as error:  # what was text is none any more
                damaged[name] = f"{name}: its log cannot be read ({error}); run: fallbook verify"
        whole = {name: of for name, of in told.items() if name not in damaged}
        if whole != known:
            self.cache(EVERY, "told", "", whole)
        return damaged

    def damaged_jobs(self, names: set[str]) -> set[str]:
        """Those of the jobs of which a bit has flipped on the disk."""
        marks = ", ".join("?" * len(names))
        rows = self.rows(f"SELECT {OF_JOB}, digest FROM jobs WHERE name IN ({marks})", sorted(names))
        return {row["name"] for row in rows if row.pop("digest") != row_digest(list(row.values()))}

    def removed_jobs(self) -> set[str]:
        """The jobs of which the last word is that they were removed."""
        rows = self.rows("SELECT id, job, body FROM log INDEXED BY log_removals WHERE kind = 'removal'")
        last: dict[str, bool] = {}
        for row in order.in_order(self.rows, list(rows)):
            with suppress(ValueError, KeyError, TypeError):  # damaged: reading the job says so
                body = json.loads(row["body"])
                if body["what"] == "job":
                    last[row["job"]] = body.get("undone", False)
        return {job for job, undone in last.items() if not undone}

    def job(self, name: str, *, removed: bool = False) -> Job:
        """One job. Raises FallbookError as `job_row` does."""
        import tomllib

        from pydantic import ValidationError

        from reports.job import Job

        row = self.job_row(name, removed=removed)
        try:
            return Job(**row | {"company": tomllib.loads(row["company"])})
        except (ValidationError, tomllib.TOMLDecodeError) as error:
            raise FallbookError(f"{name}: its company file cannot be read any more; run: fallbook verify") from error

    def job_row(self, name: str, *, removed: bool = False) -> dict[str, Any]:
        """One job as its text in the library. Raises FallbookError with the names that exist, for a damaged one, and
        for a removed one unless `removed`."""
        row = next(self.rows(f"SELECT {OF_JOB}, digest FROM jobs WHERE name = ?", [name]), None)
        if row is None:
            names = ", ".join(self.job_names())
            there = f"those there are: {names}" if names else "there are none yet, start one with: fallbook new"
            raise FallbookError(f"no job {name!r}; {there}")
        if not removed and name in self.removed_jobs():
            raise FallbookError(f"{name}: this job was removed; bring it back with: fallbook remove {name} --undo")
        if row.pop("digest") != row_digest(list(row.values())):
            raise FallbookError(f"{name}: what the library holds of this job is damaged; run: fallbook restore DIR")
        return row | job_facts.of_one(self.rows, name)

    def has_job(self, name: str) -> bool:
        """Whether there is a job of that name, removed or not."""
        return bool(self.connection.execute("SELECT 1 FROM jobs WHERE name = ?", [name]).fetchone())

    def add_job(self, job: Job, company: str) -> None:
        """Keep a new job, with its company file's text. Raises FallbookError where the name is taken."""
        row = job.model_dump(mode="json", exclude={"company"}) | {"company": company}
        row = {name: row[name] for name in OF_JOB.split(", ")}
        with self.writing():
            if self.has_job(job.name):
                gone = job.name in self.removed_jobs()
                way = f"it was removed, bring it back with: fallbook remove {job.name} --undo" if gone else ""
                raise FallbookError(f"job {job.name!r} exists already; {way or 'choose another name'}")
            self.db.table("jobs").insert(row | {"digest": row_digest(list(row.values()))})

    # -- the log

    def append(
        self, job: str, kind: Kind, body: dict[str, Any], at: datetime, *, sha256: str = "", name: str = ""
    ) -> bool:
        """One more entry in the log, in one step; False where the job holds that file already."""
        with self.writing():
            if sha256 and self.holds(job, sha256):
                return False
            self.enter(job, LogEntry(0, kind, at, body, sha256, name))
        return True

    def enter(self, job: str, entry: LogEntry) -> int:
        """One more entry in the log, whose file, if it is one, the job does not hold; with the moment at which it
        stands, and the job that it names, where it was unpacked. Its ID, whatever `entry` says."""
        body = entry.body | ({order.STANDS: entry.stands.isoformat()} if entry.stands else {})
        body |= {} if entry.visited is None else {job_facts.VISITED: entry.visited}
        values = [job, entry.kind, entry.at.isoformat(), json.dumps(body), entry.sha256 or None, entry.name or None]
        with self.writing() as conn:
            digest = row_digest(values, self._head(job))
            row = conn.execute(f"INSERT INTO log ({OF_ENTRY}, digest) VALUES (?, ?, ?, ?, ?, ?, ?)", [*values, digest])
            return int(row.lastrowid or 0)

    def _head(self, job: str) -> bytes:
        """The digest of the job's last entry."""
        row = self.connection.execute("SELECT digest FROM heads WHERE job = ?", [job]).fetchone()
        return bytes(row[0]) if row else b""

    def holds(self, job: str, sha256: str) -> bool:
        """Whether the job's log knows of that file, removed or not."""
        return bool(self.connection.execute("SELECT 1 FROM log WHERE job = ? AND sha256 = ?", [job, sha256]).fetchone())

    def entries(self, job: str) -> list[LogEntry]:
        """The job's log, in its order (see `logger.order`). Raises FallbookError where a bit of it has flipped."""
        with self.at_one_moment():
            rows = list(self.rows(f"SELECT id, {OF_ENTRY}, digest FROM log WHERE job = ? ORDER BY id", [job]))
            head = self._head(job)
        found, before = [], b""
        for row in rows:
            digest, number = row.pop("digest"), row.pop("id")
            if digest != row_digest(list(row.values()), before):
                raise FallbookError(
                    f"{job}: entry {number} of its log is damaged, or one before it is lost; run: fallbook restore DIR"
                )
            before = digest
            found.append(_entry(number, row))
        if before != head:
            raise FallbookError(f"{job}: the last entries of its log are lost; run: fallbook verify")
        when = order.moments((entry.at, entry.stands) for entry in found)
        placed = [replace(entry, stands=moment) for entry, moment in zip(found, when, strict=True)]
        return sorted(placed, key=lambda entry: (entry.stands, entry.at, entry.id))

    def way_back(self, job: str) -> list[str]:
        """Of a visit, the jobs before it, the nearest first and the first job last, each once, there or not. Where it
        leads back to itself, it stands among them."""
        names: list[str] = []
        while (former := job_facts.former(self.rows, names[-1] if names else job)) and former not in names:
            names.append(former)
        return names

    def state(self, job: str) -> str:
        """A mark that changes whenever anything a job is computed from does; of a visit, the jobs before it too."""
        return " ".join(map(self._own_state, [job, *self.way_back(job)]))

    def _own_state(self, job: str) -> str:
        last = self.connection.execute("SELECT max(id) FROM log WHERE job = ?", [job]).fetchone()[0]
        head = self.connection.execute("SELECT digest FROM heads WHERE job = ?", [job]).fetchone()
        heard = self.connection.execute(
            "SELECT max(d.id) FROM derived d JOIN log l ON l.sha256 = d.sha256 WHERE l.job = ? AND d.what = 'heard'",
            [job],
        ).fetchone()[0]
        return f"{last or 0}/{heard or 0}/{head[0].hex()[:16] if head else ''}"

    # -- what was computed from an original

    def remember(self, sha256: str, what: str, made_with: str, value: Any) -> None:
        """Keep what was read or heard in an original, and with what it was made."""
        with self.writing() as conn:
            conn.execute(
                "INSERT OR REPLACE INTO derived (sha256, what, made_with, value, digest) VALUES (?, ?, ?, ?, ?)",
                [sha256, what, made_with, *pack(value, sha256, what, made_with)],
            )

    def recall(self, sha256: str, what: str, made_with: str | None = None) -> Any:
        """The last that was kept of that kind (made so, where it is given), or None."""
        rows = self.rows(
            "SELECT * FROM derived WHERE sha256 = ? AND what = ? AND (? IS NULL OR made_with = ?) "
            "ORDER BY id DESC LIMIT 1",
            [sha256, what, made_with, made_with],
        )
        row = next(rows, None)
        return _unpacked(row) if row else None

    # -- what was worked out of whole jobs

    def cache(self, job: str, what: str, made_with: str, value: Any) -> None:
        """Keep it in place of what was kept of that kind before, where the library can be written: what can be worked
        out again is worth no error. Of a kind the LAST_JOBS last are kept."""
        if not self.writable:
            return
        with suppress(sqlite3.DatabaseError), self.writing() as conn:
            conn.execute(
                "INSERT OR REPLACE INTO cached (job, what, made_with, value, digest) VALUES (?, ?, ?, ?, ?)",
                [job, what, made_with, *pack(value, job, what, made_with)],
            )
            conn.execute(
                "DELETE FROM cached WHERE what = ? AND id <= "
                "(SELECT id FROM cached WHERE what = ? ORDER BY id DESC LIMIT 1 OFFSET ?)",
                [what, what, LAST_JOBS],
            )

    def cached(self, job: str, what: str, made_with: str) -> Any:
        """What was kept of that kind, made so, or None."""
        rows = self.rows("SELECT * FROM cached WHERE job = ? AND what = ? AND made_with = ?", [job, what, made_with])
        row = next(rows, None)
        return unpack(row["value"], row["digest"], job, what, made_with) if row else None

    # -- what is heard so far of a recording

    def remember_stretch(self, sha256: str, seconds: Seconds, made_with: str, notes: Any) -> None:
        """Keep the notes of one stretch of a recording that is being heard, and with what they were heard."""
        self.remember(sha256, f"{STRETCH} {seconds[0]} {seconds[1]}", made_with, notes)

    def recall_stretches(self, sha256: str, made_with: str) -> dict[Seconds, Any]:
        """The notes of each stretch that was heard so before hearing was cut off."""
        rows = self.rows(
            f"SELECT * FROM derived WHERE sha256 = ? AND made_with = ? AND what GLOB '{STRETCH} *'",
            [sha256, made_with],
        )
        known = {_seconds(row["what"]): _unpacked(row) for row in rows}
        return {seconds: notes for seconds, notes in known.items() if notes is not None}

    def forget_tries(self, sha256: str) -> None:
        """Drop what came of hearing it here before: it was heard elsewhere."""
        self.forget_stretches(sha256)
        with self.writing() as conn:
            conn.execute("DELETE FROM derived WHERE sha256 = ? AND what = 'unheard'", [sha256])

    def forget_stretches(self, sha256: str) -> None:
        """Drop them, however they were heard: the recording is heard to its end."""
        with self.writing() as conn:
            conn.execute(f"DELETE FROM derived WHERE sha256 = ? AND what GLOB '{STRETCH} *'", [sha256])


def _number(database: Path) -> int:
    """What tells one file from another that was put in its place."""
    try:
        return database.stat().st_ino
    except OSError:
        return 0


def _has_content(database: Path) -> bool:
    """Whether there is a database: an empty file is what a kill leaves of one that was about to be made."""
    try:
        return database.stat().st_size > 0
    except (FileNotFoundError, NotADirectoryError):
        return False
    except OSError as error:
        raise FallbookError(f"{database.parent}: the library cannot be opened ({error.strerror})") from error


def _ready_for_new(folder: Path, *, create: bool) -> None:
    """Make the folder of a new library. Raises FallbookError where that is not asked for, or an old one has lost its
    database: nothing is laid over what a backup could make whole."""
    originals = folder / "originals"
    count = sum(1 for _ in originals.iterdir()) if originals.is_dir() else 0
    if count:
        raise FallbookError(
            f"{folder}: library.db is gone or empty, and originals are there ({count}); bring it back with: fallbook "
            "restore DIR. Without a backup the files in originals can be taken into a new library; typed notes are lost"
        )
    if not create:
        raise FallbookError(
            f"{folder}: no library here yet; start a job with: fallbook new, or name the right folder with --library"
        )
    try:
        originals.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise FallbookError(
            f"{folder}: the library cannot be made here ({error.strerror}); choose another folder with --library"
        ) from error


def _keep_private(folder: Path) -> None:
    """Jobs hold people's addresses: no other account of this machine reads them."""
    if os.name != "posix":
        return
    with suppress(OSError):  # somebody else's folder, or a disk that has no rights
        if folder.stat().st_mode & 0o077:
            folder.chmod(0o700)
            (folder / "originals").chmod(0o700)
            for original in (folder / "originals").iterdir():
                original.chmod(0o400)
        if (folder / "library.db").stat().st_mode & 0o077:
            (folder / "library.db").chmod(0o600)


def _unpacked(row: dict[str, Any]) -> Any:
    return unpack(row["value"], row["digest"], row["sha256"], row["what"], row["made_with"])


def _seconds(what: str) -> Seconds:
    _, start, end = what.split(" ")
    return float(start), float(end)


def _entry(number: int, row: dict[str, Any]) -> LogEntry:
    known = {key: value for key, value in row.items() if value is not None and key != "job"}
    body = {key: _readable(value) for key, value in json.loads(row["body"]).items()}
    stands = datetime.fromisoformat(body.pop(order.STANDS)) if order.STANDS in body else None
    brought = {"stands": stands, "visited": body.pop(job_facts.VISITED, None)}
    return LogEntry(number, **known | {"at": datetime.fromisoformat(row["at"]), "body": body} | brought)


def _readable(value: Any) -> Any:
    """Bytes that are no characters, kept by an older version, as the sign for that."""
    return SURROGATE.sub("\ufffd", value) if isinstance(value, str) else value
