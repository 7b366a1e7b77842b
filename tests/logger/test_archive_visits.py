"""A visit's bag finds the job that it goes back to."""

import shutil
from datetime import date
from pathlib import Path

import pytest
from bags import JOB, log, packed, packed_with_remarks, read, taken_in, wrong_with

from extract.errors import UsageError
from logger import changes, cli, jobs, undo
from logger.book import Book
from logger.store import open_store

pytest_plugins = ["bag_fixtures"]

# -- visits

VISIT = "roots"


@pytest.fixture(scope="module")
def visited(made, tmp_path_factory):
    """The bags of the job, `first`, and of a visit to it, `visit`, and the library that both came from, `a`."""
    at = tmp_path_factory.mktemp("visited")
    shutil.copytree(made / "a", at / "a")
    with open_store(at / "a") as store:
        jobs.new(store, VISIT, callback_of=JOB, day=date(2026, 9, 1))
        jobs.say(store, VISIT, "Run one was blocked with roots, we cleared it.", "10:00")
        changes.amend(store, VISIT, "CB-1", "size", "12x15")
        changes.remove(store, VISIT, "CB-2")
    for name, job in (("first", JOB), ("visit", VISIT)):
        packed(at / "a", at / name, job)
    return at


def reads_as_there(visited: Path, library: Path, job: str = VISIT) -> bool:
    here, there = read(library, job), read(visited / "a", VISIT)
    return {key: here[key] for key in ("record", "notes", "amiss")} == {
        key: there[key] for key in ("record", "notes", "amiss")
    }


@pytest.mark.parametrize("order", [("first", "visit"), ("visit", "first")])
def test_a_visit_finds_its_way_back_whichever_is_unpacked_first(visited, tmp_path, order):
    for name in order:
        taken_in(visited / name, tmp_path / "b")
    assert reads_as_there(visited, tmp_path / "b")
    with open_store(tmp_path / "b") as store:
        assert Book(store, VISIT).record.subject("CB-1").size_in == [12, 15]
        assert Book(store, VISIT).record.subject("CB-2") is None
        assert store.way_back(VISIT) == [JOB]
    assert taken_in(visited / "visit", tmp_path / "b") == (0, 0, ())
    assert wrong_with(tmp_path / "b") == []


def test_a_visit_whose_first_job_is_not_here_says_so_and_reads_without_it(visited, tmp_path, capsys):
    library = ["--library", str(tmp_path / "b")]
    assert cli.run([*library, "unpack", str(visited / "visit")]) == 0
    old = "front-walk (Ina Wexcombe, 27 Quillbark Lane)"
    assert capsys.readouterr().err == (
        f"fallbook: roots: it leads back to job {old}, which is not here; unpack its archive too, into this library\n"
    )
    assert read(tmp_path / "b", VISIT)["amiss"] == [
        f"{old}: no such job is here; unpack its archive too, or say which job it is with: fallbook amend roots "
        "callback-of NAME; what it left there, and its warranty, cannot be told"
    ]
    with open_store(tmp_path / "b") as store:
        assert [each.at for each in Book(store, VISIT).record.issues] == ["R-1"]
    capsys.readouterr()
    assert cli.run([*library, "warranty", "27", "Quillbark"]) == 0
    assert f"job {old}, which it leads back to, cannot be read" in capsys.readouterr().err
    assert cli.run([*library, "pack", VISIT, "-o", str(tmp_path / "again")]) == 0
    assert "packed without the report for the client" in capsys.readouterr().err
    assert (tmp_path / "again" / "data" / "log.jsonl").read_bytes() == (
        visited / "visit" / "data" / "log.jsonl"
    ).read_bytes()


def test_a_first_job_that_has_another_name_here_is_found_all_the_same(visited, tmp_path):
    taken_in(visited / "visit", tmp_path / "b", "wexcombe-roots")
    taken_in(visited / "first", tmp_path / "b", "wexcombe-walk")
    with open_store(tmp_path / "b") as store:
        assert store.way_back("wexcombe-roots") == ["wexcombe-walk"]
    assert reads_as_there(visited, tmp_path / "b", "wexcombe-roots")
    again = packed(tmp_path / "b", tmp_path / "again", "wexcombe-roots")
    assert (again / "data" / "log.jsonl").read_bytes() == (visited / "visit" / "data" / "log.jsonl").read_bytes()


def test_another_clients_job_of_the_first_jobs_name_tells_a_visit_nothing(visited, crew):
    other = crew("b", client="Tam Orrin", address="3 Sallow Bank")
    with open_store(other) as store:
        jobs.say(store, JOB, "Run one is in, basin one to basin two, 77 feet.", "09:00")
    lost = "roots: it leads back to job front-walk (Ina Wexcombe, 27 Quillbark Lane), which is not here"
    assert taken_in(visited / "visit", other)[2][0].startswith(lost)
    with open_store(other) as store:
        assert Book(store, VISIT).record.subject("R-1").length_ft is None
    taken_in(visited / "first", other, "wexcombe-walk")
    assert reads_as_there(visited, other)


def test_a_first_job_that_was_corrected_since_is_found(visited, tmp_path):
    taken_in(visited / "first", tmp_path / "b")
    with open_store(tmp_path / "b") as store:
        changes.amend(store, JOB, "client", "I. Wexcombe")
    taken_in(visited / "visit", tmp_path / "b")
    with open_store(tmp_path / "b") as store:
        assert store.way_back(VISIT) == [JOB]


def test_of_two_jobs_that_might_be_the_first_none_is_taken(visited, tmp_path):
    for name in ("one-walk", "other-walk"):
        taken_in(visited / "first", tmp_path / "b", name)
    assert "which is not here" in taken_in(visited / "visit", tmp_path / "b")[2][0]
    with open_store(tmp_path / "b") as store:
        changes.amend(store, VISIT, "callback-of", "other-walk")
        assert store.way_back(VISIT) == ["other-walk"]
        undo.undo(store, VISIT)
        assert not store.has_job(store.way_back(VISIT)[0])


def test_what_one_crew_says_of_the_way_back_holds_for_the_other(visited, tmp_path):
    """Though the first job has another name there."""
    one, other = Path(shutil.copytree(visited / "a", tmp_path / "a")), tmp_path / "b"
    with open_store(one) as store:
        changes.amend(store, VISIT, "callback-of", "none")
    for name, job, called in (("of visit", VISIT, None), ("of first", JOB, "wexcombe-walk")):
        taken_in(packed(one, tmp_path / name, job), other, called)
    with open_store(other) as store:
        assert store.way_back(VISIT) == []
        changes.amend(store, VISIT, "callback-of", "wexcombe-walk")
    taken_in(packed(other, tmp_path / "back", VISIT), one)
    with open_store(one) as store:
        assert store.way_back(VISIT) == [JOB]


def test_no_two_crews_make_a_ring_of_visits(visited, tmp_path):
    one, other = (Path(shutil.copytree(visited / "a", tmp_path / name)) for name in ("a", "b"))
    with open_store(other) as store:
        changes.amend(store, VISIT, "callback-of", "none")
        changes.amend(store, JOB, "callback-of", VISIT)
    bag, before = packed_with_remarks(other, tmp_path / "bag"), log(one)
    with pytest.raises(
        UsageError, match="front-walk cannot be a visit to roots.*: fallbook amend roots callback-of none"
    ):
        taken_in(bag, one)
    assert log(one) == before
    with open_store(one) as store:
        changes.amend(store, VISIT, "callback-of", "none")
    taken_in(bag, one)
    with open_store(one) as store:
        assert store.way_back(JOB) == [VISIT]
