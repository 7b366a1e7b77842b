"""The tables of a library. The log is guarded by the database itself."""

VERSION = 1

SCHEMA = [
    """CREATE TABLE jobs (
        name TEXT PRIMARY KEY, client TEXT NOT NULL, address TEXT NOT NULL,
        day TEXT NOT NULL, zone TEXT NOT NULL, company TEXT NOT NULL
    ) STRICT""",
    """CREATE TABLE log (
        id INTEGER PRIMARY KEY AUTOINCREMENT, job TEXT NOT NULL, kind TEXT NOT NULL, at TEXT NOT NULL,
        body TEXT NOT NULL, sha256 TEXT, name TEXT
    ) STRICT""",
    "CREATE UNIQUE INDEX log_once ON log (job, sha256)",
    """CREATE TRIGGER log_not_updated BEFORE UPDATE ON log
        BEGIN SELECT RAISE(ABORT, 'the log is never rewritten'); END""",
    """CREATE TRIGGER log_not_deleted BEFORE DELETE ON log
        BEGIN SELECT RAISE(ABORT, 'the log is never rewritten'); END""",
    # INSERT OR REPLACE deletes without the trigger above, unless its connection asks for recursive triggers.
    """CREATE TRIGGER log_not_replaced BEFORE INSERT ON log
        WHEN EXISTS (SELECT 1 FROM log WHERE id = NEW.id OR (job = NEW.job AND sha256 = NEW.sha256))
        BEGIN SELECT RAISE(ABORT, 'the log is never rewritten'); END""",
    """CREATE TABLE derived (
        id INTEGER PRIMARY KEY AUTOINCREMENT, sha256 TEXT NOT NULL, what TEXT NOT NULL, made_with TEXT NOT NULL,
        value TEXT NOT NULL, UNIQUE (sha256, what, made_with)
    ) STRICT""",
    """CREATE TABLE found (
        id INTEGER PRIMARY KEY, job TEXT NOT NULL, what TEXT NOT NULL, note INTEGER, at TEXT, photos TEXT,
        words TEXT NOT NULL
    ) STRICT""",
    "CREATE TABLE indexed (job TEXT PRIMARY KEY, state TEXT NOT NULL) STRICT",
    """CREATE VIRTUAL TABLE [found_fts] USING FTS5 ([words], tokenize='porter', content=[found], content_rowid=[id])""",
    """CREATE TRIGGER found_ai AFTER INSERT ON found BEGIN
        INSERT INTO found_fts (rowid, words) VALUES (new.id, new.words); END""",
    """CREATE TRIGGER found_ad AFTER DELETE ON found BEGIN
        INSERT INTO found_fts (found_fts, rowid, words) VALUES ('delete', old.id, old.words); END""",
    """CREATE TRIGGER found_au AFTER UPDATE ON found BEGIN
        INSERT INTO found_fts (found_fts, rowid, words) VALUES ('delete', old.id, old.words);
        INSERT INTO found_fts (rowid, words) VALUES (new.id, new.words); END""",
]
"""Written by hand and not by `enable_fts`, which would commit half-way: these run in one transaction."""
