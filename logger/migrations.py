"""How a library made by an earlier version is brought to the present form. Loaded only where there is need."""

from __future__ import annotations

import json
import sqlite3
import uuid
from contextlib import suppress
from datetime import datetime

from sqlite_utils import Database
from sqlite_utils.migrations import Migrations

from logger.digests import check_sum, pack, row_digest
from logger.schema import CACHED, FIRST, FOUND, GUARDS, KEPT_IN_STEP, TABLES, VERSION

steps = Migrations("library")


def bring_up_to_date(conn: sqlite3.Connection) -> None:
    """All steps that a library lacks, in one transaction: two processes may open it at once, and one does them.

    Raises sqlite3.Error, with nothing changed.
    """
    conn.execute("BEGIN IMMEDIATE")
    try:
        steps.apply(Database(conn))
        conn.execute(f"PRAGMA user_version = {VERSION}")
        conn.execute("COMMIT")
    except BaseException:
        conn.execute("ROLLBACK")
        raise


@steps()
def first_tables(db: Database) -> None:
    """Version 1, made before steps were counted."""
    if not db.table("log").exists():
        for statement in FIRST:
            db.execute(statement)


@steps()
def digests_and_changes(db: Database) -> None:
    """Version 2: a digest in each row, compressed readings, what changed since it was indexed, and a library's ID."""
    for (name,) in db.execute("SELECT name FROM sqlite_master WHERE type = 'trigger' AND name LIKE 'log_%'").fetchall():
        db.execute(f"DROP TRIGGER {name}")
    db.execute("DROP INDEX IF EXISTS log_once")
    for table in ("jobs", "log", "derived", "indexed"):
        db.execute(f"ALTER TABLE {table} RENAME TO {table}_1")
    for statement in TABLES:
        db.execute(statement)
    db.execute("INSERT INTO library VALUES (?)", [uuid.uuid4().hex])
    _copy_jobs(db)
    _copy_log(db)
    _copy_derived(db)
    _mark_changed(db)
    for table in ("jobs", "log", "derived", "indexed"):
        db.execute(f"DROP TABLE {table}_1")
    db.execute("ALTER TABLE found ADD COLUMN sum INTEGER")  # NULL in what an earlier version read
    db.execute("INSERT INTO heads SELECT job, digest FROM log WHERE id IN (SELECT max(id) FROM log GROUP BY job)")
    for statement in GUARDS:
        db.execute(statement)


@steps()
def smaller_index(db: Database) -> None:
    """Version 3: a row of the index holds neither its job's name nor a date in words."""
    rows = db.execute("SELECT id, job, what, note, at, photos, words, sum FROM found").fetchall()
    db.execute("DROP TABLE found")  # and its triggers; the words stay in the full-text index, under the same IDs
    for statement in [FOUND, *KEPT_IN_STEP[1:]]:
        db.execute(statement)
    for number, job, what, note, at, photos, words, known in rows:
        row = [what, note, _minutes(at), photos, words]
        whole = known == check_sum(job, what, note, at, photos, words)
        total = None if known is None else check_sum(job, *row) ^ (not whole)  # what was damaged is found so
        db.execute("INSERT INTO found VALUES (?, ?, ?, ?, ?, ?, ?)", [number, *row, total])
    db.execute(KEPT_IN_STEP[0])
    db.execute("CREATE INDEX indexed_last ON indexed (last)")


@steps()
def photos_told(db: Database) -> None:
    """Version 4: an amendment may be of a photo, and a file has what its page sent with it. What is there stands."""


@steps()
def visits(db: Database) -> None:
    """Version 5: an amendment of a job may say which job it is a visit to. What is there stands."""


@steps()
def brought_entries(db: Database) -> None:
    """Version 6: an entry may have come with a bag, and stand before rows above it. What is there stands."""


@steps()
def what_was_worked_out_apart(db: Database) -> None:
    """Version 7: what was worked out of whole jobs has a table of its own. It is worked out again."""
    db.execute(CACHED)
    db.execute("DELETE FROM derived WHERE sha256 = 'jobs' OR sha256 GLOB 'job:*'")


@steps()
def purchases(db: Database) -> None:
    """Version 8: an amendment may add what was bought. What is there stands."""


def _copy_jobs(db: Database) -> None:
    for row in db.execute("SELECT name, client, address, day, zone, company FROM jobs_1").fetchall():
        db.execute("INSERT INTO jobs VALUES (?, ?, ?, ?, ?, ?, ?)", [*row, row_digest(list(row))])


def _copy_log(db: Database) -> None:
    last: dict[str, bytes] = {}
    for row in db.execute("SELECT id, job, kind, at, body, sha256, name FROM log_1 ORDER BY id").fetchall():
        job = row[1]
        last[job] = row_digest(list(row[1:]), last.get(job, b""))
        db.execute("INSERT INTO log VALUES (?, ?, ?, ?, ?, ?, ?, ?)", [*row, last[job]])


def _copy_derived(db: Database) -> None:
    for *row, value in db.execute("SELECT id, sha256, what, made_with, value FROM derived_1").fetchall():
        with suppress(ValueError):  # one that is damaged is read again from its original
            db.execute("INSERT INTO derived VALUES (?, ?, ?, ?, ?, ?)", [*row, *pack(json.loads(value), *row[1:])])


def _mark_changed(db: Database) -> None:
    """What the old index held of each job stands until it is read again; a job that it lagged behind has changed."""
    known = dict(db.execute("SELECT job, state FROM indexed_1").fetchall())
    for (job,) in db.execute("SELECT name FROM jobs").fetchall():
        last = db.execute("SELECT coalesce(max(id), 0) FROM log WHERE job = ?", [job]).fetchone()[0]
        if known.get(job, "").partition("/")[0] == str(last):
            span = db.execute("SELECT min(id), max(id) FROM found WHERE job = ?", [job]).fetchone()
            db.execute("INSERT INTO indexed VALUES (?, '', ?, ?)", [job, *span])
        else:
            db.execute("DELETE FROM found WHERE job = ?", [job])
            db.execute("INSERT INTO changed VALUES (?)", [job])


def _minutes(at: str | None) -> int | None:
    """`2026-05-14 07:42` as minutes since 1970, of the same clock; None where it is anything else."""
    with suppress(TypeError, ValueError):
        return round((datetime.fromisoformat(at or "") - datetime(1970, 1, 1)).total_seconds() / 60)
    return None
