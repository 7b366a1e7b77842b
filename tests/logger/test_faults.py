"""A quick sample of the endurance trial of faults: see tests/endurance/faults.py, which has all of it."""

import os
import sqlite3
import sys
from contextlib import closing
from pathlib import Path

import pytest

from logger.database import connect

sys.path.insert(0, str(Path(__file__).parent.parent / "endurance"))

import crew  # noqa: E402
from faults import TRIALS, disk, fill, try_out  # noqa: E402

SAMPLES = [
    ("disk-full", 4),
    ("read-only", 1),
    ("at-once", 1),
    ("clock", 1),
    ("flips", 2),
    ("damage", 0),
    ("old-sins", 1),
]


@pytest.mark.parametrize(("trial", "count"), SAMPLES)
def test_what_a_machine_does_costs_nothing_and_is_told(trial, count):
    tally = try_out(trial, 1, count)
    if tally.skipped:
        pytest.skip(tally.skipped)
    assert tally.counts["commands"]
    assert not list(tally.wrong)


def test_each_trial_is_sampled():
    assert list(TRIALS) == [trial for trial, _ in SAMPLES]


@pytest.fixture
def library(tmp_path):
    """A library with a note that its backup in `copy` lacks."""
    tally, files = crew.Tally(), tmp_path / "files"
    crew.make_files(files)
    crew.done(tally, crew.new(tmp_path / "made", files, "front-walk"), "set up")
    for words in (("say", "front-walk", "One."), ("backup", tmp_path / "copy"), ("say", "front-walk", "Two.")):
        crew.done(tally, crew.run(tmp_path / "made", *words), "set up")
    assert not tally.wrong
    return tmp_path / "made"


def test_a_library_that_somebody_writes_in_is_not_taken_for_a_damaged_one(library, monkeypatch):
    monkeypatch.setattr("logger.database.WAIT_S", 0.1)
    with closing(sqlite3.connect(library / "library.db", isolation_level=None)) as writer:
        writer.execute("BEGIN EXCLUSIVE")
        said = crew.run(library, "restore", library.parent / "copy")
    assert (said.code, "another fallbook is writing" in said.err) == (1, True)
    assert not list(library.glob("library-damaged-*"))


def test_a_library_of_a_newer_program_is_not_laid_over(library):
    with closing(sqlite3.connect(library / "library.db")) as newer:
        newer.execute("PRAGMA user_version = 99")
    said = crew.run(library, "restore", library.parent / "copy")
    assert (said.code, "made by a newer fallbook" in said.err) == (1, True)
    assert not list(library.glob("library-damaged-*"))


def test_a_newer_entry_after_a_damaged_older_one_is_kept(library):
    """The digest of the newer one rests on it."""
    raw = (library / "library.db").read_bytes()
    (library / "library.db").write_bytes(raw.replace(b'"One."', b'"Ome."'))
    said = crew.run(library, "restore", library.parent / "copy")
    assert (said.code, "could still be read and were kept: 1" in said.out) == (0, True)
    shown = crew.run(library, "show", "front-walk").out
    assert ("One." in shown, "Two." in shown, "Ome." in shown) == (True, True, False)


def test_a_library_whose_writer_was_killed_is_read_from_a_disk_that_cannot_be_written(library):
    """A journal is left, which SQLite would play back first."""
    pid = os.fork()
    if not pid:
        conn = sqlite3.connect(library / "library.db", isolation_level=None)
        conn.execute("PRAGMA cache_size = 1")
        conn.execute("BEGIN IMMEDIATE")
        conn.executemany("INSERT INTO changed VALUES (?)", [[f"{number:0200}"] for number in range(300)])
        os.kill(os.getpid(), 9)
    os.waitpid(pid, 0)
    assert (library / "library.db-journal").exists()
    with closing(connect(library / "library.db", writable=False)) as conn:
        assert [body for (body,) in conn.execute("SELECT count(*) FROM log")] == [2]
        assert conn.execute("SELECT count(*) FROM changed WHERE length(job) = 200").fetchone() == (0,)


def test_a_restore_that_finds_no_room_changes_nothing(library, tmp_path):
    copy = tmp_path / "copy"
    with disk(tally := crew.Tally(), tmp_path / "disk", 4 << 20) as small:
        if small is None:
            pytest.skip(tally.skipped)
        crew.copied(library, small / "library")
        damaged = (small / "library" / "library.db").read_bytes().replace(b'"One."', b'"Ome."')
        (small / "library" / "library.db").write_bytes(damaged)
        fill(small, 40_000)
        said = crew.run(small / "library", "restore", copy)
        assert (said.code, f"{small / 'library'}: the disk is full" in said.err) == (1, True)
        assert (small / "library" / "library.db").read_bytes() == damaged
        (small / "ballast").unlink()
        assert "could still be read and were kept: 1" in crew.run(small / "library", "restore", copy).out


def test_a_backup_names_the_disk_that_is_full(library, tmp_path):
    with disk(tally := crew.Tally(), tmp_path / "disk", 4 << 20) as small:
        if small is None:
            pytest.skip(tally.skipped)
        fill(small, 40_000)
        said = crew.run(library, "backup", small / "other")
        assert (said.code, f"{small / 'other'}: the disk is full" in said.err) == (1, True)


def test_an_export_that_finds_no_room_leaves_what_was_there(library, tmp_path):
    with disk(tally := crew.Tally(), tmp_path / "disk", 4 << 20) as small:
        if small is None:
            pytest.skip(tally.skipped)
        (small / "out").mkdir()
        (small / "out" / "runs.csv").write_text("old")
        fill(small, 40_000)
        said = crew.run(library, "export", crew.JOBS[0], "-o", small / "out")
        assert (said.code, f"{small / 'out'}: cannot be written (No space left on device)" in said.err) == (1, True)
        assert [(each.name, each.read_text()) for each in (small / "out").iterdir()] == [("runs.csv", "old")]
        assert crew.run(library, "export", crew.JOBS[0], "-o", small / "new").code == 1
        assert not (small / "new").exists()


def test_on_a_full_disk_there_is_no_report_and_one_line(library, tmp_path):
    with disk(tally := crew.Tally(), tmp_path / "disk", 4 << 20) as small:
        if small is None:
            pytest.skip(tally.skipped)
        fill(small, 20_000)
        said = crew.run(library, "report", crew.JOBS[0], "--draft", "-o", small / "r.docx")
        assert (said.code, said.out, said.err.count("\n")) == (1, "", 1)
        assert "r.docx: cannot be written (No space left on device)" in said.err
        assert [each.name for each in small.iterdir()] == ["ballast"]
