import hashlib
import sqlite3
import subprocess
import sys
from datetime import UTC, date, datetime
from pathlib import Path

import pytest

from extract.errors import FallbookError, UsageError
from logger.schema import VERSION
from logger.store import open_store, read_company
from reports.job import Job

NOW = datetime(2026, 5, 14, 12, tzinfo=UTC)


@pytest.fixture
def store(tmp_path):
    with open_store(tmp_path / "library") as opened:
        yield opened


def a_job(company: Path, name: str = "front-walk") -> Job:
    return Job(
        name=name,
        client="A. Client",
        address="1 Larch Walk",
        day=date(2026, 5, 14),
        zone="-05:00",
        company=read_company(company.read_text(), company.name),
    )


def kept(store, path: Path) -> str:
    with store.arriving(path) as copy:
        store.keep(copy)
    return copy.sha256


def test_a_job_comes_back_as_it_went_in(store, company):
    job = a_job(company)
    store.add_job(job, company.read_text())
    assert store.job("front-walk") == job
    assert store.job_names() == ["front-walk"]


def test_a_name_is_taken_once(store, company):
    store.add_job(a_job(company), company.read_text())
    with pytest.raises(FallbookError, match="front-walk.*exists already"):
        store.add_job(a_job(company), company.read_text())


def test_a_missing_job_is_answered_with_those_there_are(store, company):
    with pytest.raises(FallbookError, match="no job 'back-yard'; there are none yet"):
        store.job("back-yard")
    store.add_job(a_job(company), company.read_text())
    with pytest.raises(FallbookError, match="no job 'back-yard'; those there are: front-walk"):
        store.job("back-yard")


@pytest.mark.parametrize(
    "statement",
    [
        "UPDATE log SET body = '{}'",
        "DELETE FROM log",
        "INSERT OR REPLACE INTO log (id, job, kind, at, body) VALUES (1, 'j', 'said', 'now', '{}')",
        "INSERT OR REPLACE INTO log (job, kind, at, body, sha256) VALUES ('j', 'photo', 'now', '{}', 'abc')",
    ],
)
def test_the_log_is_never_rewritten_by_whichever_program(store, statement):
    store.append("j", "photo", {"first": 1}, NOW, sha256="abc", name="a.jpg")
    stranger = sqlite3.connect(store.folder / "library.db")
    with pytest.raises(sqlite3.IntegrityError, match="the log is never rewritten"):
        stranger.execute(statement)
    stranger.close()
    assert [entry.body for entry in store.entries("j")] == [{"first": 1}]


def test_a_file_is_logged_once_a_job(store):
    assert store.append("j", "photo", {}, NOW, sha256="abc", name="a.jpg")
    assert not store.append("j", "photo", {}, NOW, sha256="abc", name="b.jpg")
    assert store.append("other", "photo", {}, NOW, sha256="abc", name="a.jpg")
    assert store.append("j", "said", {"text": "one"}, NOW)
    assert store.append("j", "said", {"text": "one"}, NOW)
    assert [(entry.kind, entry.name) for entry in store.entries("j")] == [
        ("photo", "a.jpg"),
        ("said", ""),
        ("said", ""),
    ]


def test_an_original_is_kept_whole_read_only_and_under_its_hash(store, tmp_path):
    source = tmp_path / "a.bin"
    source.write_bytes(b"drain" * 1000)
    sha256 = kept(store, source)
    original = store.original(sha256)
    assert sha256 == hashlib.sha256(b"drain" * 1000).hexdigest()
    assert original.read_bytes() == source.read_bytes()
    assert not original.stat().st_mode & 0o222
    assert [path.name for path in store.originals.iterdir()] == [sha256]


def test_a_copy_that_is_not_kept_leaves_nothing(store, tmp_path):
    source = tmp_path / "a.bin"
    source.write_bytes(b"drain")
    with store.arriving(source) as copy:
        assert copy.path.read_bytes() == b"drain"
    assert list(store.originals.iterdir()) == []


def test_what_was_computed_can_be_computed_anew_and_the_last_counts(store):
    store.remember("abc", "heard", "tiny", {"notes": [1]})
    store.remember("abc", "heard", "base", {"notes": [2]})
    assert store.recall("abc", "heard") == {"notes": [2]}
    assert store.recall("abc", "heard", "tiny") == {"notes": [1]}
    store.remember("abc", "heard", "tiny", {"notes": [3]})
    assert store.recall("abc", "heard") == {"notes": [3]}
    assert store.recall("abc", "photo") is None


def test_stretches_of_a_recording_are_kept_by_their_seconds_until_all_of_it_is_heard(store):
    store.remember_stretch("abc", (0.5, 2.25), "base", [{"text": "one"}])
    store.remember_stretch("abc", (3.0, 4.125), "base", [])
    store.remember_stretch("abc", (0.5, 2.25), "tiny", [{"text": "won"}])
    store.remember_stretch("def", (0.5, 2.25), "base", [{"text": "two"}])
    assert store.recall_stretches("abc", "base") == {(0.5, 2.25): [{"text": "one"}], (3.0, 4.125): []}
    store.forget_stretches("abc")
    assert store.recall_stretches("abc", "base") == store.recall_stretches("abc", "tiny") == {}
    assert store.recall_stretches("def", "base")


def test_a_stretch_heard_changes_nothing_that_is_computed(store):
    store.append("j", "sound", {}, NOW, sha256="abc", name="a.wav")
    before = store.state("j")
    store.remember_stretch("abc", (0.5, 2.25), "base", [])
    assert store.state("j") == before
    store.remember("abc", "heard", "base", {"notes": []})
    assert store.state("j") != before


def test_the_library_waits_for_another_writer_and_keeps_its_journal(store):
    assert store.db.journal_mode == "wal"
    assert store.db.execute("PRAGMA busy_timeout").fetchone()[0] >= 10_000


def test_a_library_that_cannot_be_made_is_one_line(tmp_path):
    (tmp_path / "file").write_text("in the way")
    with (
        pytest.raises(FallbookError, match="the library cannot be made here .*choose another folder with --library"),
        open_store(tmp_path / "file"),
    ):
        pass


def test_a_damaged_library_is_one_line(tmp_path):
    (tmp_path / "library").mkdir()
    (tmp_path / "library" / "library.db").write_bytes(b"no database at all" * 100)
    with pytest.raises(FallbookError, match="the library is damaged; restore"), open_store(tmp_path / "library"):
        pass


def test_a_library_of_a_newer_program_is_left_alone(tmp_path):
    with open_store(tmp_path / "library") as store:
        store.db.execute(f"PRAGMA user_version = {VERSION + 1}")
    with pytest.raises(FallbookError, match="made by a newer fallbook"), open_store(tmp_path / "library"):
        pass


def test_many_processes_may_start_a_library_and_write_at_once(tmp_path):
    program = (
        "import sys; from pathlib import Path; from datetime import datetime, UTC\n"
        "from logger.store import open_store\n"
        "with open_store(Path(sys.argv[1])) as store:\n"
        "    for n in range(20): store.append('j', 'said', {'n': n}, datetime.now(UTC))\n"
    )
    command = [sys.executable, "-c", program, str(tmp_path / "library")]
    running = [subprocess.Popen(command, stderr=subprocess.PIPE, text=True) for _ in range(4)]
    assert [each.communicate()[1] for each in running] == [""] * 4
    with open_store(tmp_path / "library") as store:
        assert len(store.entries("j")) == 80


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("name = ", "company.toml: not a company file in TOML"),
        ('name = "x"', "company.toml: address is missing; add a line  address = "),
    ],
)
def test_what_is_off_in_a_company_file_is_named(text, message):
    with pytest.raises(UsageError, match=message):
        read_company(text, "company.toml")


def test_the_index_has_its_triggers(store):
    names = {row["name"] for row in store.db.query("SELECT name FROM sqlite_master WHERE type = 'trigger'")}
    assert names == {
        "log_not_updated",
        "log_not_deleted",
        "log_not_replaced",
        "found_ai",
        "found_ad",
        "found_au",
    }


def test_a_library_in_use_is_one_line(tmp_path, monkeypatch):
    monkeypatch.setattr("logger.store.WAIT_S", 0.1)
    with open_store(tmp_path / "library"):
        writer = sqlite3.connect(tmp_path / "library" / "library.db", isolation_level=None)
        writer.execute("BEGIN IMMEDIATE")
    with (
        pytest.raises(FallbookError, match="another fallbook is writing in this library; try again"),
        open_store(tmp_path / "library") as store,
    ):
        store.append("j", "said", {}, NOW)
    writer.close()


@pytest.mark.parametrize(
    ("error", "words"),
    [
        ("attempt to write a readonly database", "cannot be written; check the rights of its folder"),
        ("unable to open database file", "cannot be written; check the rights of its folder"),
        ("database or disk is full", "the disk is full; make room"),
        ("database disk image is malformed", "is damaged; restore this folder"),
    ],
)
def test_what_the_database_says_is_put_plainly(tmp_path, error, words):
    with pytest.raises(FallbookError, match=words), open_store(tmp_path / "library"):
        raise sqlite3.OperationalError(error)
