"""Libraries made by earlier commits, opened by this one (see libraries/README.md)."""

import json
import shutil
import sqlite3
from pathlib import Path

import pytest

from logger import cli, jobs
from logger.book import Book
from logger.integrity import faults
from logger.schema import VERSION
from logger.store import open_store

HERE = Path(__file__).parent / "libraries"
READ_NOW = {"fittings": [{"kind": "elbow", "count": 1, "angle_deg": 45.0}], "backfill": None}
"""What the reader of today makes of the stored words where earlier ones made something of them: of "one elbow,
forty-five" they left out the angle, and "backfilled" is no material."""
COMMITS = sorted(path.name for path in HERE.iterdir() if (path / "library.db").is_file())


def form_of(commit: str) -> int:
    """The form of a library's tables, told by the header of its file."""
    with (HERE / commit / "library.db").open("rb") as file:
        return int.from_bytes(file.read(64)[60:64])


@pytest.fixture
def copy(tmp_path):
    def made(commit: str) -> Path:
        return Path(shutil.copytree(HERE / commit, tmp_path / commit))

    return made


def test_there_is_a_library_of_each_shape():
    assert len(COMMITS) >= 6


@pytest.mark.parametrize("commit", COMMITS)
def test_a_library_of_an_earlier_version_keeps_every_note_and_photo(copy, commit):
    with open_store(copy(commit)) as store:
        assert store.connection.execute("PRAGMA user_version").fetchone()[0] == VERSION
        assert faults(store.connection) == []
        book = Book(store, "front-walk")
        assert as_json(book.notes) == json.loads((HERE / commit / "notes.json").read_text())
        before = json.loads((HERE / commit / "photos.json").read_text())
        for now, then in zip(book.photos, before, strict=True):
            assert now.model_dump(mode="json", exclude_none=True, include=set(then)) == then
        assert book.problems == []


@pytest.mark.parametrize("commit", COMMITS)
def test_its_record_is_what_it_was_but_for_what_is_read_better_by_now(copy, commit):
    with open_store(copy(commit)) as store:
        record = Book(store, "front-walk").record.model_dump(mode="json", by_alias=True, exclude_none=True)
    before = json.loads((HERE / commit / "expected.json").read_text())
    for now, then in zip(record["runs"], before["runs"], strict=True):
        expected = {name: READ_NOW.get(name, value) for name, value in without_evidence(then).items()}
        assert {name: now.get(name) for name in expected} == expected
    assert [each["label"] for each in record["structures"]] == [each["label"] for each in before["structures"]]
    assert list(map(without_evidence, record["levels"])) == list(map(without_evidence, before["levels"]))


@pytest.mark.parametrize("commit", [commit for commit in COMMITS if (HERE / commit / "visit.json").exists()])
def test_a_visit_reads_as_it_did(copy, commit):
    with open_store(copy(commit)) as store:
        record = Book(store, "front-walk-roots").record.as_json()
    before = json.loads((HERE / commit / "visit.json").read_text())
    for group in ("structures", "runs"):
        assert list(map(without_evidence, record[group])) == list(map(without_evidence, before[group]))


@pytest.mark.parametrize("commit", [commit for commit in COMMITS if form_of(commit) < 7])
def test_what_was_worked_out_of_jobs_stands_no_more_among_the_readings_of_originals(copy, commit):
    with open_store(copy(commit)) as store:
        assert all(row["sha256"].isalnum() for row in store.rows("SELECT sha256 FROM derived"))
        assert not store.db["cached"].count


@pytest.mark.parametrize("commit", COMMITS)
def test_every_command_works_on_it(copy, commit, capsys, tmp_path):
    library = str(copy(commit))
    for words in (["show"], ["show", "front-walk"], ["find", "basin"], ["ready", "front-walk"], ["verify"]):
        assert cli.run(["--library", library, *words]) == 0, capsys.readouterr()
    assert cli.run(["--library", library, "say", "front-walk", "Basin nine is set."]) == 0


@pytest.mark.parametrize("commit", COMMITS)
def test_the_index_of_an_earlier_version_is_searched_until_it_is_read_again(copy, commit, capsys):
    library = copy(commit)
    with open_store(library) as store:
        assert jobs.find(store, "basin").hits
        assert store.db.table("found").count


def test_two_that_open_it_at_once_bring_it_up_to_date_once(copy):
    from concurrent.futures import ThreadPoolExecutor

    library = copy(COMMITS[0])

    def entries(_: int) -> int:
        with open_store(library) as store:
            return len(store.entries("front-walk"))

    with ThreadPoolExecutor(4) as pool:
        assert len(set(pool.map(entries, range(4)))) == 1


def test_a_step_that_fails_changes_nothing(copy, monkeypatch):
    library = copy("ebdc942")
    monkeypatch.setattr("logger.migrations._copy_derived", lambda db: db.execute("no such statement"))
    with pytest.raises(Exception, match="no such statement|syntax error"), open_store(library):
        pass
    with sqlite3.connect(library / "library.db") as conn:
        assert conn.execute("PRAGMA user_version").fetchone()[0] == 1
        assert {row[0] for row in conn.execute("SELECT name FROM sqlite_master WHERE type = 'table'")} >= {
            "log",
            "jobs",
        }
    monkeypatch.undo()
    with open_store(library) as store:
        assert store.entries("front-walk")


def as_json(shapes):
    return [shape.model_dump(mode="json", exclude_defaults=True) for shape in shapes]


def without_evidence(entry):
    return {name: value for name, value in entry.items() if name != "evidence"}
