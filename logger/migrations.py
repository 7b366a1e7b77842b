"""How a library made by an earlier version is brought to the present form. Loaded only where there is need."""

from __future__ import annotations

import json
import sqlite3
import uuid
from contextlib import suppress

from sqlite_utils import Database
from sqlite_utils.migrations import Migrations

from logger.digests import pack, row_digest
from logger.schema import FIRST, GUARDS, TABLES, VERSION

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
