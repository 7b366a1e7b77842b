"""The library on disk: one SQLite database, and the originals under their SHA-256.

The log is only ever added to; triggers in the database itself refuse anything else. Whatever was computed from an
original (its notes heard, its EXIF read) stands in `derived` and can be thrown away.
What every command must load before it can answer is kept small: models and the table library wait for their first use.
"""

from __future__ import annotations

import hashlib
import json
import os
import re
import sqlite3
import tempfile
import time
import tomllib
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from datetime import datetime
from functools import cached_property
from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal

from platformdirs import user_data_path

from extract.errors import FallbookError, UsageError
from logger.schema import SCHEMA, VERSION

if TYPE_CHECKING:
    from pydantic import ValidationError
    from sqlite_utils import Database

    from logger.stretches import Seconds
    from reports.job import Company, Job

Kind = Literal["sound", "photo", "text", "said", "amendment"]
SURROGATE = re.compile("[\ud800-\udfff]")
"""A byte that is no character, as Python carries it."""
PART = ".arriving-"
DEAD_S = 3600
"""A copy that nothing has written to for so long was left by a take that was killed."""
STRETCH = "stretch"
"""How the notes of one stretch of a recording are marked until the whole of it is heard."""
WAIT_S = 30
"""Seconds to wait for another process that is writing."""


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


@dataclass(frozen=True)
class Arrival:
    """A file's copy inside the library, not yet among the originals."""

    path: Path
    sha256: str


def library_folder() -> Path:
    """Where the library lies when nobody says otherwise: this user's data folder."""
    return user_data_path("fallbook", appauthor=False)


@contextmanager
def open_store(folder: Path) -> Iterator[Store]:
    """The library in `folder`, made where there is none.

    Raises FallbookError, one line, where it cannot be read or written.
    """
    store = None
    try:
        store = Store(folder)
        yield store
    except sqlite3.Error as error:
        raise FallbookError(f"{folder}: {_what_to_do(error)} ({error})") from error
    finally:
        if store:
            store.close()


def _what_to_do(error: sqlite3.Error) -> str:
    said = str(error)
    if "locked" in said:
        return "another fallbook is writing in this library; try again when it is done"
    if "readonly" in said or "unable to open" in said:
        return "the library cannot be written; check the rights of its folder, or choose another with --library"
    if "full" in said:
        return "the disk is full; make room and run it again"
    return "the library is damaged; restore this folder from its last backup, or choose another with --library"


class Store:
    """One library. Use it through `open_store`, which turns the database's errors into plain words."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.originals = folder / "originals"
        try:
            self.originals.mkdir(parents=True, exist_ok=True)
        except OSError as error:
            raise FallbookError(
                f"{folder}: the library cannot be made here ({error.strerror}); choose another folder with --library"
            ) from error
        self._conn = _connect(folder / "library.db")

    @cached_property
    def db(self) -> Database:
        """The database as tables. It is slow to load, so what only reads and appends goes past it."""
        from sqlite_utils import Database

        return Database(self._conn)

    def _rows(self, sql: str, values: list[Any]) -> Iterator[dict[str, Any]]:
        cursor = self._conn.execute(sql, values)
        names = [column[0] for column in cursor.description]
        return (dict(zip(names, row, strict=True)) for row in cursor)

    def close(self) -> None:
        self._conn.close()

    # -- jobs

    def job_names(self) -> list[str]:
        """All jobs, the latest day first."""
        return [row["name"] for row in self._rows("SELECT name FROM jobs ORDER BY day DESC, name", [])]

    def job(self, name: str) -> Job:
        """Raises FallbookError with the names that exist."""
        from reports.job import Job

        row = next(self._rows("SELECT * FROM jobs WHERE name = ?", [name]), None)
        if row is None:
            names = ", ".join(self.job_names())
            there = f"those there are: {names}" if names else "there are none yet, start one with: fallbook new"
            raise FallbookError(f"no job {name!r}; {there}")
        return Job(**row | {"company": tomllib.loads(row["company"])})

    def add_job(self, job: Job, company: str) -> None:
        """Keep a new job, with its company file's text. Raises FallbookError where the name is taken."""
        row = job.model_dump(mode="json") | {"company": company}
        try:
            self.db.table("jobs").insert(row)
        except sqlite3.IntegrityError as error:
            raise FallbookError(f"job {job.name!r} exists already; choose another name") from error

    # -- the log

    def append(
        self, job: str, kind: Kind, body: dict[str, Any], at: datetime, *, sha256: str = "", name: str = ""
    ) -> bool:
        """One more entry in the log, in one step; False where the job holds that file already."""
        values = [job, kind, at.isoformat(), json.dumps(body), sha256 or None, name or None]
        added = self._conn.execute(
            "INSERT INTO log (job, kind, at, body, sha256, name) SELECT ?, ?, ?, ?, ?, ? "
            "WHERE NOT EXISTS (SELECT 1 FROM log WHERE job = ? AND sha256 = ?)",
            [*values, job, sha256 or None],
        )
        return added.rowcount == 1

    def entries(self, job: str) -> list[LogEntry]:
        """The job's log, in the order in which things came in."""
        rows = self._rows("SELECT id, kind, at, body, sha256, name FROM log WHERE job = ? ORDER BY id", [job])
        return [_entry(row) for row in rows]

    def state(self, job: str) -> str:
        """A mark that changes whenever anything a job is computed from does."""
        last = self._conn.execute("SELECT max(id) FROM log WHERE job = ?", [job]).fetchone()[0]
        heard = self._conn.execute(
            "SELECT max(d.id) FROM derived d JOIN log l ON l.sha256 = d.sha256 "
            f"WHERE l.job = ? AND d.what NOT GLOB '{STRETCH} *'",
            [job],
        ).fetchone()[0]
        return f"{last or 0}/{heard or 0}"

    # -- what was computed from an original

    def remember(self, sha256: str, what: str, made_with: str, value: Any) -> None:
        """Keep what was read or heard in an original, and with what it was made."""
        self._conn.execute(
            "INSERT OR REPLACE INTO derived (sha256, what, made_with, value) VALUES (?, ?, ?, ?)",
            [sha256, what, made_with, json.dumps(value)],
        )

    def remember_last(self, of: str, what: str, made_with: str, value: Any) -> None:
        """Keep it in place of all that was kept of that kind before: of a job's answers only the last is of use."""
        self._conn.execute("DELETE FROM derived WHERE sha256 = ? AND what = ?", [of, what])
        self.remember(of, what, made_with, value)

    def recall(self, sha256: str, what: str, made_with: str | None = None) -> Any:
        """The last that was kept of that kind (made so, where it is given), or None."""
        rows = self._rows(
            "SELECT value FROM derived WHERE sha256 = ? AND what = ? AND (? IS NULL OR made_with = ?) "
            "ORDER BY id DESC LIMIT 1",
            [sha256, what, made_with, made_with],
        )
        row = next(rows, None)
        return json.loads(row["value"]) if row else None

    # -- what is heard so far of a recording

    def remember_stretch(self, sha256: str, seconds: Seconds, made_with: str, notes: Any) -> None:
        """Keep the notes of one stretch of a recording that is being heard, and with what they were heard."""
        self.remember(sha256, f"{STRETCH} {seconds[0]} {seconds[1]}", made_with, notes)

    def recall_stretches(self, sha256: str, made_with: str) -> dict[Seconds, Any]:
        """The notes of each stretch that was heard so before hearing was cut off."""
        rows = self._rows(
            f"SELECT what, value FROM derived WHERE sha256 = ? AND made_with = ? AND what GLOB '{STRETCH} *'",
            [sha256, made_with],
        )
        return {_seconds(row["what"]): json.loads(row["value"]) for row in rows}

    def forget_stretches(self, sha256: str) -> None:
        """Drop them, however they were heard: the recording is heard to its end."""
        self._conn.execute(f"DELETE FROM derived WHERE sha256 = ? AND what GLOB '{STRETCH} *'", [sha256])

    # -- originals

    def original(self, sha256: str) -> Path:
        """Where that original lies. Raises FallbookError where it is gone."""
        path = self.originals / sha256
        if not path.is_file():
            raise FallbookError(f"{path}: this original is gone from the library; restore it from a backup")
        return path

    @contextmanager
    def arriving(self, source: Path) -> Iterator[Arrival]:
        """A copy of `source` to look at; it goes away again unless `keep` is called on it. May raise OSError."""
        handle, name = tempfile.mkstemp(dir=self.originals, prefix=PART)
        digest = hashlib.sha256()
        try:
            with os.fdopen(handle, "wb") as out, source.open("rb") as file:
                while block := file.read(1 << 20):
                    digest.update(block)
                    out.write(block)
                out.flush()
                os.fsync(out.fileno())
            yield Arrival(Path(name), digest.hexdigest())
        finally:
            Path(name).unlink(missing_ok=True)

    def keep(self, arrival: Arrival) -> None:
        """Make a copy that arrived an original: whole or not at all, and read-only."""
        target = self.originals / arrival.sha256
        if target.is_file() and target.stat().st_size == arrival.path.stat().st_size:
            return
        arrival.path.chmod(0o444)
        os.replace(arrival.path, target)
        _settle(self.originals)

    def sweep(self) -> None:
        """Remove what a killed take left half-copied."""
        for part in self.originals.glob(f"{PART}*"):
            with suppress(OSError):  # another process may have finished with it meanwhile
                if time.time() - part.stat().st_mtime > DEAD_S:
                    part.unlink()


def _seconds(what: str) -> Seconds:
    _, start, end = what.split(" ")
    return float(start), float(end)


def _settle(folder: Path) -> None:
    """Let a new name in the folder outlast a power cut: the log must not know of a file that is lost."""
    if os.name == "posix":
        handle = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)


def read_company(text: str, name: str) -> Company:
    """A company file's text as a Company. Raises UsageError with the file and the field."""
    from pydantic import ValidationError

    from reports.job import Company

    try:
        return Company.model_validate(tomllib.loads(text))
    except tomllib.TOMLDecodeError as error:
        raise UsageError(f"{name}: not a company file in TOML: {error}") from error
    except ValidationError as error:
        raise UsageError(f"{name}: {_company_fault(error)}") from error


def _company_fault(error: ValidationError) -> str:
    from logger.wrong import first_wrong

    field, kind, words = first_wrong(error)
    if kind != "missing":
        return words
    group, _, last = field.rpartition(".")
    if field == "warranty":
        return f"{words}; add a group  [warranty]"
    if field == "warranty.excludes":
        return (
            f"{words}; add groups  [[warranty.excludes]]  with what and why, or a line under [warranty]  excludes = []"
        )
    under = f" under [{group}]" if group else ""
    return f"{words}; add a line{under}  {last} = ..."


def _entry(row: dict[str, Any]) -> LogEntry:
    known = {key: value for key, value in row.items() if value is not None}
    body = {key: _readable(value) for key, value in json.loads(row["body"]).items()}
    return LogEntry(**known | {"at": datetime.fromisoformat(row["at"]), "body": body})


def _readable(value: Any) -> Any:
    """Bytes that are no characters, kept by an older version, as the sign for that."""
    return SURROGATE.sub("\ufffd", value) if isinstance(value, str) else value


def _connect(path: Path) -> sqlite3.Connection:
    conn = sqlite3.connect(path, timeout=WAIT_S, isolation_level=None)
    try:
        made_by = conn.execute("PRAGMA user_version").fetchone()[0]
        if made_by > VERSION:
            raise FallbookError(f"{path.parent}: this library was made by a newer fallbook; install that one here")
        conn.execute("PRAGMA journal_mode = wal")
        conn.execute("PRAGMA recursive_triggers = on")
        if made_by < VERSION:
            _lay_out(conn)
    except BaseException:
        conn.close()
        raise
    return conn


def _lay_out(conn: sqlite3.Connection) -> None:
    """All tables in one transaction, so that two processes may start a library at once."""
    conn.execute("BEGIN IMMEDIATE")
    try:
        if conn.execute("PRAGMA user_version").fetchone()[0] < VERSION:
            for statement in SCHEMA:
                conn.execute(statement)
            conn.execute(f"PRAGMA user_version = {VERSION}")
        conn.execute("COMMIT")
    except BaseException:
        conn.execute("ROLLBACK")
        raise
