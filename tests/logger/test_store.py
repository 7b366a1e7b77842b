import hashlib
import random
import shutil
import sqlite3
import subprocess
import sys
from datetime import UTC, date, datetime
from pathlib import Path

import pytest

from extract.errors import FallbookError, UsageError
from logger.company import read_company
from logger.schema import VERSION
from logger.store import open_store
from reports.job import Job

NOW = datetime(2026, 5, 14, 12, tzinfo=UTC)


@pytest.fixture
def store(tmp_path):
    with open_store(tmp_path / "library", create=True) as opened:
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
    with store.originals.arriving(path) as copy:
        copy.logged()
        store.originals.keep(copy)
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
    original = store.originals.path(sha256)
    assert sha256 == hashlib.sha256(b"drain" * 1000).hexdigest()
    assert original.read_bytes() == source.read_bytes()
    assert not original.stat().st_mode & 0o222
    assert [path.name for path in store.originals.folder.iterdir()] == [sha256]
    assert not list((store.folder / "arriving").iterdir())


def test_a_copy_that_is_not_kept_leaves_nothing(store, tmp_path):
    source = tmp_path / "a.bin"
    source.write_bytes(b"drain")
    with store.originals.arriving(source) as copy:
        assert copy.path.read_bytes() == b"drain"
    assert [*store.originals.folder.iterdir(), *(store.folder / "arriving").iterdir()] == []


def test_what_was_computed_can_be_computed_anew_and_the_last_counts(store):
    store.remember("abc", "heard", "tiny", {"notes": [1]})
    store.remember("abc", "heard", "base", {"notes": [2]})
    assert store.recall("abc", "heard") == {"notes": [2]}
    assert store.recall("abc", "heard", "tiny") == {"notes": [1]}
    store.remember("abc", "heard", "tiny", {"notes": [3]})
    assert store.recall("abc", "heard") == {"notes": [3]}
    assert store.recall("abc", "photo") is None


def test_what_was_worked_out_of_a_job_takes_the_place_of_what_was_before(store):
    store.cache("j", "book", "1", {"runs": [1]})
    store.cache("j", "book", "2", {"runs": [2]})
    store.cache("j", "ready", "1", {"runs": [3]})
    assert store.cached("j", "book", "1") is None
    assert store.cached("j", "book", "2") == {"runs": [2]}
    assert store.cached("j", "ready", "1") == {"runs": [3]}
    assert store.cached("k", "book", "2") is None


def test_it_is_kept_of_the_last_jobs_alone_and_a_job_worked_out_again_is_the_last(store, monkeypatch):
    monkeypatch.setattr("logger.store.LAST_JOBS", 2)
    for job in ("a", "b", "a", "c"):
        store.cache(job, "book", "1", job)
    store.cache("b", "ready", "1", "b")
    assert [store.cached(job, "book", "1") for job in "abc"] == ["a", None, "c"]
    assert store.cached("b", "ready", "1") == "b"


def test_what_goes_leaves_no_room_empty_among_what_stays(store):
    """A reading of every original stays; the records of a thousand jobs went meanwhile."""
    for number in range(1000):
        store.remember(f"{number:064}", "text", "1", {"lines": number})
        store.cache(f"job-{number}", "book", "1", random.Random(number).choices(range(1000), k=3000))
    before = pages_in_use(store)
    store.connection.execute("VACUUM")
    assert before < 1.2 * pages_in_use(store)


def pages_in_use(store) -> int:
    whole, free = (
        store.connection.execute(f"PRAGMA {each}").fetchone()[0] for each in ("page_count", "freelist_count")
    )
    return whole - free


def test_a_bit_that_flips_in_what_was_worked_out_costs_that(store):
    store.cache("j", "book", "1", {"runs": [1]})
    store.connection.execute("UPDATE cached SET value = CAST(value || 'x' AS BLOB)")
    assert store.cached("j", "book", "1") is None


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


def test_the_library_waits_for_another_writer_and_a_copy_of_its_file_alone_lacks_nothing(store, tmp_path):
    assert store.db.execute("PRAGMA busy_timeout").fetchone()[0] >= 10_000
    store.append("j", "said", {"n": 1}, NOW)
    copy = tmp_path / "copy"
    copy.mkdir()
    (copy / "library.db").write_bytes((store.folder / "library.db").read_bytes())
    (copy / "originals").mkdir()
    with open_store(copy) as opened:
        assert [entry.body for entry in opened.entries("j")] == [{"n": 1}]


def test_a_library_that_cannot_be_made_is_one_line(tmp_path):
    (tmp_path / "file").write_text("in the way")
    with (
        pytest.raises(FallbookError, match="the library cannot be made here .*choose another folder with --library"),
        open_store(tmp_path / "file" / "library", create=True),
    ):
        pass


def test_a_damaged_library_is_one_line(tmp_path):
    (tmp_path / "library").mkdir()
    (tmp_path / "library" / "library.db").write_bytes(b"no database at all" * 100)
    with pytest.raises(FallbookError, match="the library is damaged; bring it back with: fallbook restore DIR"):
        open_it(tmp_path / "library")


def test_a_library_of_a_newer_program_is_left_alone(tmp_path):
    with open_store(tmp_path / "library", create=True) as store:
        store.db.execute(f"PRAGMA user_version = {VERSION + 1}")
    with pytest.raises(
        FallbookError,
        match=f"made by a newer fallbook .form {VERSION + 1}, this one knows {VERSION}.; install that version",
    ):
        open_it(tmp_path / "library")


def test_many_processes_may_start_a_library_and_write_at_once(tmp_path):
    program = (
        "import sys; from pathlib import Path; from datetime import datetime, UTC\n"
        "from logger.store import open_store\n"
        "with open_store(Path(sys.argv[1]), create=True) as store:\n"
        "    for n in range(20): store.append('j', 'said', {'n': n}, datetime.now(UTC))\n"
    )
    command = [sys.executable, "-c", program, str(tmp_path / "library")]
    running = [subprocess.Popen(command, stderr=subprocess.PIPE, text=True) for _ in range(4)]
    assert [each.communicate()[1] for each in running] == [""] * 4
    with open_store(tmp_path / "library", create=True) as store:
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
        "log_changes_job",
        "log_has_head",
        "job_is_new",
        "hearing_changes_job",
        "found_ai",
        "found_ad",
        "found_au",
    }


def test_a_library_in_use_is_one_line(tmp_path, monkeypatch):
    monkeypatch.setattr("logger.database.WAIT_S", 0.1)
    with open_store(tmp_path / "library", create=True):
        writer = sqlite3.connect(tmp_path / "library" / "library.db", isolation_level=None)
        writer.execute("BEGIN IMMEDIATE")
    with (
        pytest.raises(FallbookError, match="another fallbook is writing in this library; try again"),
        open_store(tmp_path / "library", create=True) as store,
    ):
        store.append("j", "said", {}, NOW)
    writer.close()


@pytest.mark.parametrize(
    ("name", "free", "words"),
    [
        ("SQLITE_READONLY", 1 << 30, "cannot be written; check the rights of its folder"),
        ("SQLITE_CANTOPEN", 1 << 30, "cannot be written; check the rights of its folder"),
        ("SQLITE_CANTOPEN", 0, "the disk is full; nothing was lost; make room"),
        ("SQLITE_FULL", 1 << 30, "the disk is full; nothing was lost; make room"),
        ("SQLITE_IOERR_WRITE", 0, "the disk is full; nothing was lost; make room"),
        ("SQLITE_IOERR_READ", 1 << 30, "the disk failed to read or write"),
        ("SQLITE_CORRUPT", 1 << 30, "is damaged; bring it back with: fallbook restore DIR"),
        ("SQLITE_CORRUPT", 0, "is damaged; bring it back with: fallbook restore DIR"),
    ],
)
def test_what_the_database_says_is_put_plainly(tmp_path, monkeypatch, name, free, words):
    monkeypatch.setattr("shutil.disk_usage", lambda folder: shutil._ntuple_diskusage(1 << 40, 0, free))
    error = sqlite3.OperationalError("as SQLite puts it")
    error.sqlite_errorname = name
    with pytest.raises(FallbookError, match=words), open_store(tmp_path / "library", create=True):
        raise error


def test_a_library_that_is_not_there_is_no_empty_one(tmp_path):
    with pytest.raises(FallbookError, match="no library here yet; start a job with: fallbook new"):
        open_it(tmp_path / "libary")
    assert not (tmp_path / "libary").exists()


def test_a_lost_database_beside_its_originals_is_told_and_nothing_laid_over(store, tmp_path):
    source = tmp_path / "a.bin"
    source.write_bytes(b"drain")
    kept(store, source)
    store.close()
    (store.folder / "library.db").unlink()
    for create in (False, True):
        with (
            pytest.raises(
                FallbookError, match="library.db is gone or empty, and originals are there .1.; .* fallbook restore DIR"
            ),
            open_store(store.folder, create=create),
        ):
            pass
    assert not (store.folder / "library.db").exists()


def test_nobody_else_reads_the_library(store, tmp_path):
    source = tmp_path / "a.bin"
    source.write_bytes(b"drain")
    original = store.originals.place(kept(store, source))
    assert store.folder.stat().st_mode & 0o777 == 0o700
    assert (store.folder / "library.db").stat().st_mode & 0o777 == 0o600
    assert original.stat().st_mode & 0o777 == 0o400


@pytest.mark.parametrize("sha256", ["../../secret", "abc", "A" * 64, "0" * 63 + "/"])
def test_what_is_no_hash_leads_nowhere(store, sha256):
    with pytest.raises(FallbookError, match="is no SHA-256; the library's log is damaged"):
        store.originals.path(sha256)


def test_an_altered_original_is_noticed_and_healed_by_the_true_file(store, tmp_path):
    source = tmp_path / "a.bin"
    source.write_bytes(b"34 feet")
    sha256 = kept(store, source)
    original = store.originals.place(sha256)
    original.chmod(0o600)
    original.write_bytes(b"74 feet")
    with pytest.raises(FallbookError, match="a.bin: its original was altered or damaged"):
        store.originals.path(sha256, "a.bin")
    with store.originals.arriving(source) as copy:
        assert store.originals.heal(copy)
    assert store.originals.path(sha256).read_bytes() == b"34 feet"
    with store.originals.arriving(source) as copy:
        assert not store.originals.heal(copy)


def test_a_whole_original_is_hashed_once(store, tmp_path, monkeypatch):
    source = tmp_path / "a.bin"
    source.write_bytes(b"drain")
    sha256 = kept(store, source)
    monkeypatch.setattr("logger.originals.hash_of", lambda path: pytest.fail("it was hashed again"))
    assert store.originals.state(sha256) == "whole"


@pytest.mark.parametrize("logged", [True, False])
def test_a_copy_that_a_kill_left_goes_where_it_belongs(store, tmp_path, logged):
    source = tmp_path / "a.bin"
    source.write_bytes(b"drain")
    sha256 = hashlib.sha256(b"drain").hexdigest()
    left = store.folder / "arriving" / ".unfinished-left"
    left.parent.mkdir(exist_ok=True)
    left.write_bytes(b"drain")
    if logged:
        store.append("j", "photo", {}, NOW, sha256=sha256, name="a.bin")
    open_it(store.folder)
    assert not left.exists()
    assert store.originals.state(sha256) == ("whole" if logged else "gone")


def test_a_copy_that_another_process_is_writing_is_left_alone(store, tmp_path):
    source = tmp_path / "a.bin"
    source.write_bytes(b"drain")
    with store.originals.arriving(source) as copy:
        open_it(store.folder)
        assert copy.path.exists()


@pytest.mark.parametrize("column", ["body", "at", "name"])
def test_a_bit_that_flips_in_the_log_is_no_number(store, column):
    store.append("j", "photo", {"first": 1}, NOW, sha256="abc", name="a.jpg")
    store.append("j", "said", {"text": "34 feet"}, NOW)
    store.connection.execute("DROP TRIGGER log_not_updated")
    store.connection.execute(
        f"UPDATE log SET {column} = replace(coalesce({column}, 'x'), '3', '7') || ' ' WHERE id = 2"
    )
    with pytest.raises(FallbookError, match="j: entry 2 of its log is damaged.*fallbook restore"):
        store.entries("j")


def test_an_entry_that_is_lost_from_the_log_is_noticed(store):
    for number in range(3):
        store.append("j", "said", {"n": number}, NOW)
    store.connection.execute("DROP TRIGGER log_not_deleted")
    store.connection.execute("DELETE FROM log WHERE id = 2")
    with pytest.raises(FallbookError, match="entry 3 of its log is damaged, or one before it is lost"):
        store.entries("j")


def test_a_bit_that_flips_in_a_reading_costs_the_reading(store):
    store.remember("abc", "heard", "base", {"notes": [34]})
    store.connection.execute("UPDATE derived SET value = CAST(value || 'x' AS BLOB)")
    assert store.recall("abc", "heard") is None


def test_a_writer_whose_library_was_replaced_writes_nothing_into_the_void(store, tmp_path):
    (tmp_path / "other.db").write_bytes((store.folder / "library.db").read_bytes())
    (tmp_path / "other.db").replace(store.folder / "library.db")
    with pytest.raises(FallbookError, match="put in order meanwhile; run it again"):
        store.append("j", "said", {}, NOW)


def test_one_job_that_does_not_read_costs_no_other(store, company):
    for name in ("front-walk", "back-yard"):
        store.add_job(a_job(company, name), company.read_text())
    store.connection.execute("UPDATE jobs SET company = 'name = 1' WHERE name = 'back-yard'")
    assert store.job("front-walk")
    with pytest.raises(FallbookError, match="back-yard: what the library holds of this job is damaged"):
        store.job("back-yard")
    assert [job["name"] for job in store.jobs()] == ["back-yard", "front-walk"]


def open_it(folder: Path) -> None:
    with open_store(folder):
        pass
