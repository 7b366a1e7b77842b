"""The tables of a library. The log is guarded by the database itself."""

from __future__ import annotations

VERSION = 8
"""The form of the tables and of the shapes kept in them. Count it up with each step in `logger.migrations`, and
whenever a shape kept in the log gains or changes a field: an older program then says that the library is newer."""

CACHED = """CREATE TABLE IF NOT EXISTS cached (
    id INTEGER PRIMARY KEY, job TEXT NOT NULL, what TEXT NOT NULL, made_with TEXT NOT NULL,
    value BLOB NOT NULL, digest BLOB NOT NULL, UNIQUE (job, what)
) STRICT"""
"""What was worked out of whole jobs, of the last ones only. A table by itself: its rows come and go, and among those of
`derived`, which stay, each that goes would leave unused space."""

TABLES = [
    "CREATE TABLE library (id TEXT NOT NULL) STRICT",
    """CREATE TABLE jobs (
        name TEXT PRIMARY KEY, client TEXT NOT NULL, address TEXT NOT NULL,
        day TEXT NOT NULL, zone TEXT NOT NULL, company TEXT NOT NULL, digest BLOB NOT NULL
    ) STRICT""",
    """CREATE TABLE log (
        id INTEGER PRIMARY KEY AUTOINCREMENT, job TEXT NOT NULL, kind TEXT NOT NULL, at TEXT NOT NULL,
        body TEXT NOT NULL, sha256 TEXT, name TEXT, digest BLOB NOT NULL
    ) STRICT""",
    "CREATE INDEX log_of_job ON log (job)",
    "CREATE UNIQUE INDEX log_once ON log (sha256, job) WHERE sha256 IS NOT NULL",
    "CREATE INDEX log_removals ON log (job) WHERE kind = 'removal'",
    """CREATE TABLE derived (
        id INTEGER PRIMARY KEY AUTOINCREMENT, sha256 TEXT NOT NULL, what TEXT NOT NULL, made_with TEXT NOT NULL,
        value BLOB NOT NULL, digest BLOB NOT NULL, UNIQUE (sha256, what, made_with)
    ) STRICT""",
    CACHED,
    # What each original's file looked like when its hash was last found right.
    "CREATE TABLE checked (sha256 TEXT PRIMARY KEY, size INTEGER NOT NULL, modified_ns INTEGER NOT NULL) STRICT",
    # The digest of each job's last entry, without which the loss of that entry would go unnoticed.
    "CREATE TABLE heads (job TEXT PRIMARY KEY, digest BLOB NOT NULL) STRICT",
    # Jobs that something was added to since they were indexed.
    "CREATE TABLE changed (job TEXT PRIMARY KEY) STRICT",
    # By which version of the program each job was read into `found`.
    # Its rows there have the IDs from `first` to `last`.
    "CREATE TABLE indexed (job TEXT PRIMARY KEY, reader TEXT NOT NULL, first INTEGER, last INTEGER) STRICT",
]

GUARDS = [
    """CREATE TRIGGER log_not_updated BEFORE UPDATE ON log
        BEGIN SELECT RAISE(ABORT, 'the log is never rewritten'); END""",
    """CREATE TRIGGER log_not_deleted BEFORE DELETE ON log
        BEGIN SELECT RAISE(ABORT, 'the log is never rewritten'); END""",
    # INSERT OR REPLACE deletes without the trigger above, unless its connection asks for recursive triggers.
    """CREATE TRIGGER log_not_replaced BEFORE INSERT ON log
        WHEN EXISTS (SELECT 1 FROM log WHERE id = NEW.id)
          OR EXISTS (SELECT 1 FROM log WHERE sha256 = NEW.sha256 AND job = NEW.job)
        BEGIN SELECT RAISE(ABORT, 'the log is never rewritten'); END""",
    """CREATE TRIGGER log_changes_job AFTER INSERT ON log
        BEGIN INSERT OR IGNORE INTO changed VALUES (NEW.job); END""",
    """CREATE TRIGGER job_is_new AFTER INSERT ON jobs
        BEGIN INSERT OR IGNORE INTO changed VALUES (NEW.name); END""",
    """CREATE TRIGGER log_has_head AFTER INSERT ON log
        BEGIN INSERT OR REPLACE INTO heads VALUES (NEW.job, NEW.digest); END""",
    """CREATE TRIGGER hearing_changes_job AFTER INSERT ON derived WHEN NEW.what = 'heard'
        BEGIN INSERT OR IGNORE INTO changed SELECT job FROM log WHERE sha256 = NEW.sha256; END""",
]

FOUND = """CREATE TABLE found (
    id INTEGER PRIMARY KEY, what TEXT NOT NULL, note INTEGER, at INTEGER, photos TEXT, words TEXT NOT NULL, sum INTEGER
) STRICT"""
"""What is searched. `at` is in minutes of the job's own clock since 1970; whose a row is, `indexed` says."""

FIRST_INDEX = [
    """CREATE TABLE found (
        id INTEGER PRIMARY KEY, job TEXT NOT NULL, what TEXT NOT NULL, note INTEGER, at TEXT, photos TEXT,
        words TEXT NOT NULL
    ) STRICT""",
    """CREATE VIRTUAL TABLE [found_fts] USING FTS5 ([words], tokenize='porter', content=[found], content_rowid=[id])""",
]
KEPT_IN_STEP = [
    """CREATE TRIGGER found_ai AFTER INSERT ON found BEGIN
        INSERT INTO found_fts (rowid, words) VALUES (new.id, new.words); END""",
    """CREATE TRIGGER found_ad AFTER DELETE ON found BEGIN
        INSERT INTO found_fts (found_fts, rowid, words) VALUES ('delete', old.id, old.words); END""",
    """CREATE TRIGGER found_au AFTER UPDATE ON found BEGIN
        INSERT INTO found_fts (found_fts, rowid, words) VALUES ('delete', old.id, old.words);
        INSERT INTO found_fts (rowid, words) VALUES (new.id, new.words); END""",
]
"""The full-text index follows its table. Written by hand and not by `enable_fts`, which would commit half-way: these
run in one transaction."""

FIRST = [
    """CREATE TABLE jobs (
        name TEXT PRIMARY KEY, client TEXT NOT NULL, address TEXT NOT NULL,
        day TEXT NOT NULL, zone TEXT NOT NULL, company TEXT NOT NULL
    ) STRICT""",
    """CREATE TABLE log (
        id INTEGER PRIMARY KEY AUTOINCREMENT, job TEXT NOT NULL, kind TEXT NOT NULL, at TEXT NOT NULL,
        body TEXT NOT NULL, sha256 TEXT, name TEXT
    ) STRICT""",
    """CREATE TABLE derived (
        id INTEGER PRIMARY KEY AUTOINCREMENT, sha256 TEXT NOT NULL, what TEXT NOT NULL, made_with TEXT NOT NULL,
        value TEXT NOT NULL, UNIQUE (sha256, what, made_with)
    ) STRICT""",
    "CREATE TABLE indexed (job TEXT PRIMARY KEY, state TEXT NOT NULL) STRICT",
    *FIRST_INDEX,
    *KEPT_IN_STEP,
]
"""The tables of version 1."""
