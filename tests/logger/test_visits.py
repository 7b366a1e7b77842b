"""A visit to an old job: its client and place, what it knows of what lies there, and what is asked of it after that."""

from datetime import UTC, date, datetime

import pytest
from typed import say

from extract.errors import FallbookError, UsageError
from logger import changes, jobs, ready, search, show_one, warranty
from logger.book import Book
from logger.read_back import read_back
from logger.undo import undo

OLD = [
    "10:00 Basin one is set, 12 by 12. Basin two is set.",
    "10:05 Run one is in, basin one to basin two, four inch SDR 35, 34 feet.",
    "10:10 Rim of basin one is 99.4.",
]


@pytest.fixture
def visited(store):
    """The library with job `j` done, and a visit to it, `back`."""
    say(store, *OLD)
    jobs.new(store, "back", callback_of="j", day=date(2026, 9, 1))
    return store


def told(store, *notes, job="back"):
    for number, text in enumerate(notes):
        jobs.say(store, job, text, f"09:{number:02}")


def lines_of(blocks):
    return "\n".join(each if isinstance(each, str) else "\n".join(each.lines(200)) for each in blocks)


# -- started


def test_all_but_the_day_comes_from_the_old_job(visited):
    old, visit = visited.job_row("j"), visited.job_row("back")
    assert {name: visit[name] for name in ("client", "address", "company", "zone")} == {
        name: old[name] for name in ("client", "address", "company", "zone")
    }
    assert (visit["day"], visit["callback_of"]) == ("2026-09-01", "j")


def test_what_is_given_counts_over_what_the_old_job_tells(store, tmp_path, company):
    other = tmp_path / "other.toml"
    other.write_text(company.read_text().replace("Call us.", "Write to us."))
    made = jobs.new(
        store, "back", callback_of="j", client="B. Client", address="3 Tarn Lane", company=str(other), zone="-06:00"
    )
    assert (made.client, made.address, made.zone) == ("B. Client", "3 Tarn Lane", "-06:00")
    assert store.job("back").company.warranty.how_to_claim == "Write to us."


def test_what_was_corrected_of_the_old_job_comes_over_corrected(store):
    changes.amend(store, "j", "client", "B. Client")
    assert jobs.new(store, "back", callback_of="j").client == "B. Client"


def test_a_visit_to_a_job_that_is_not_there_makes_no_job(store):
    with pytest.raises(FallbookError, match="no job 'gone'; those there are: j"):
        jobs.new(store, "back", callback_of="gone")
    changes.remove(store, "j")
    with pytest.raises(FallbookError, match="j: this job was removed; bring it back"):
        jobs.new(store, "back", callback_of="j")
    assert not store.has_job("back")


def test_a_job_that_is_no_visit_needs_its_client_and_place(store, company):
    with pytest.raises(UsageError, match="the client is empty; say it with --client"):
        jobs.new(store, "back", company=str(company))


def test_what_makes_a_visit_is_logged_with_it_or_not_at_all(store, monkeypatch):
    def fails(*of, **more):
        raise OSError("the disk is gone")

    monkeypatch.setattr(store, "append", fails)
    with pytest.raises(OSError, match="the disk is gone"):
        jobs.new(store, "back", callback_of="j")
    assert not store.has_job("back")


# -- what it knows


def test_run_one_said_on_the_visit_is_the_old_run_one(visited):
    told(visited, "Run one was blocked with roots, we cleared it.")
    book = Book(visited, "back")
    (issue,) = book.record.issues
    assert (issue.at, issue.action) == ("R-1", "cleared")
    run = book.record.subject("R-1")
    assert (run.state, run.length_ft, run.from_, run.to) == ("existing", 34, "CB-1", "CB-2")
    assert book.record.subject("CB-1").rim_ft == 99.4
    assert book.problems == []


def test_each_figure_leads_back_to_the_old_job(visited):
    book = Book(visited, "back")
    assert book.notes[0].text == "What lay here before this visit is told by job j."
    shown = lines_of(show_one.thing(book, "R-1"))
    assert "length     34 ft     note:0, from j" in shown
    assert "rests on it  R-1 from, length, pipe, pipe size, state, to" in lines_of(show_one.note(book, 0))


def test_the_old_job_is_only_read(visited):
    before = visited.state("j"), Book(visited, "j").record.model_dump_json()
    told(visited, "Run one is 36 feet.", "We took out basin two.")
    Book(visited, "back").keep()
    jobs.settle(visited, "back")
    assert (visited.state("j"), Book(visited, "j").record.model_dump_json()) == before


def test_what_the_old_job_learns_later_the_visit_knows_too(visited):
    jobs.settle(visited, "back")
    assert ready.ready(visited, "back").runs[0].state == "existing, kept"
    changes.amend(visited, "j", "R-1", "length", "36")
    assert Book(visited, "back").record.subject("R-1").length_ft == 36
    changes.remove(visited, "j", "R-1")
    assert ready.ready(visited, "back").runs == []


def test_a_held_book_of_the_visit_is_read_again_once_the_old_job_has_changed(visited):
    told(visited, "Run one is 34 feet.")
    book = Book(visited, "back")
    assert book.record.questions == []
    book.hold()
    changes.amend(visited, "j", "R-1", "length", "36")
    assert [each.choices for each in Book(visited, "back").record.questions] == [[36, 34]]


def test_a_visit_of_a_visit_knows_what_both_left_there(visited):
    told(visited, "Basin three is set, nine inch. Run two is in, from basin three to basin one, 18 feet.")
    jobs.new(visited, "again", callback_of="back", day=date(2026, 10, 1))
    record = Book(visited, "again").record
    assert {each.label: each.state for each in [*record.structures, *record.runs]} == dict.fromkeys(
        ["CB-1", "CB-2", "CB-3", "R-1", "R-2"], "existing"
    )
    assert Book(visited, "again").bare(date(2026, 10, 2)).former.former.job.name == "j"


def test_an_old_job_that_is_gone_is_one_line_and_the_rest_stands(visited):
    jobs.new(visited, "again", callback_of="back", day=date(2026, 10, 1))
    told(visited, "Run one is 34 feet.")
    changes.remove(visited, "j")
    book = Book(visited, "back")
    why = (
        "j: this job was removed; bring it back with: fallbook remove j --undo; what it left there, and its warranty, "
        "cannot be told"
    )
    assert book.problems == [why]
    assert [each.label for each in book.record.runs] == ["R-1"]
    assert Book(visited, "again").problems == [why]
    changes.remove(visited, "j", undo=True)
    assert Book(visited, "back").problems == []
    assert Book(visited, "back").record.subject("R-1").state == "existing"


def test_an_old_job_that_this_library_never_had_is_one_line(visited):
    visited.connection.execute("DELETE FROM jobs WHERE name = 'j'")
    assert Book(visited, "back").problems == [
        "j: no such job is here; unpack its archive too, or say which job it is with: fallbook amend back callback-of "
        "NAME; what it left there, and its warranty, cannot be told"
    ]


# -- what is done with it


def test_what_is_known_is_amended_like_anything_else_and_stays_so(visited):
    changes.amend(visited, "back", "R-1", "length", "35")
    told(visited, "Run one was blocked with roots, we cleared it.", "Basin three is set.")
    book = Book(visited, "back")
    assert (book.record.subject("R-1").length_ft, book.record.questions) == (35, [])


def test_what_is_known_is_taken_out_like_anything_else(visited):
    changes.remove(visited, "back", "CB-2")
    told(visited, "Run one was blocked with roots, we cleared it.")
    record = Book(visited, "back").record
    assert (record.subject("CB-2"), record.subject("R-1").to) == (None, None)
    assert Book(visited, "j").record.subject("CB-2") is not None


@pytest.mark.parametrize(
    "change", [lambda s: changes.amend(s, "back", "note:0", "text", "x"), lambda s: changes.remove(s, "back", "note:0")]
)
def test_the_note_that_stands_for_the_old_job_cannot_be_changed(visited, change):
    with pytest.raises(UsageError, match="note:0 stands for what j left there; it cannot be changed"):
        change(visited)


def test_a_note_is_read_back_without_what_was_known(visited):
    told(visited, "Run one is 34 feet.")
    assert read_back(visited, "back", "Run one is 34 feet.") == "R-1: length 34 ft."


def test_a_photo_of_it_shows_what_was_said_and_not_what_was_known(visited, make_photo, hearing):
    told(visited, "Took a photo of it.")
    photo = make_photo(taken="2026:09:01 09:00:30")
    list(jobs.take(visited, "back", [photo], listening=lambda name: lambda done, whole: None, hearing=hearing))
    assert [each.about for each in Book(visited, "back").photos] == [None]


def test_a_search_finds_what_lies_there_in_the_old_job_alone(visited):
    told(visited, "Run one was blocked with roots.")
    for job in ("j", "back"):
        search.index(visited, job)
    found = [(hit.job, hit.what) for hit in jobs.find(visited, "catch basin").hits]
    assert {job for job, what in found if what.startswith("CB")} == {"j"}
    assert ("back", "issue") in [(hit.job, hit.what) for hit in jobs.find(visited, "roots").hits]


# -- no visit after all


def test_a_job_is_made_a_visit_later_and_none_again(store, company):
    say(store, *OLD)
    jobs.new(store, "back", client="A", address="B", company=str(company), day=date(2026, 9, 1))
    done = changes.amend(store, "back", "callback-of", "j")
    assert (done.words, done.before) == ("callback-of is now j", None)
    assert Book(store, "back").record.subject("R-1").state == "existing"
    done = changes.amend(store, "back", "callback-of", "none")
    assert (done.words, done.before) == ("callback-of is now empty", "j")
    assert Book(store, "back").record.runs == []
    assert undo(store, "back") == "taken back: callback of none"
    assert Book(store, "back").record.subject("R-1").state == "existing"


def test_no_job_is_a_visit_to_itself_by_whatever_way(visited):
    jobs.new(visited, "again", callback_of="back")
    with pytest.raises(UsageError, match="j cannot be a visit to again, which leads back to j"):
        changes.amend(visited, "j", "callback-of", "again")
    with pytest.raises(UsageError, match="j cannot be a visit to j"):
        changes.amend(visited, "j", "callback-of", "j")
    with pytest.raises(FallbookError, match="no job 'gone'"):
        changes.amend(visited, "j", "callback-of", "gone")


def test_no_undo_makes_a_ring_of_visits(visited):
    jobs.new(visited, "other", callback_of="j", day=date(2026, 9, 2))
    changes.amend(visited, "other", "callback-of", "back")
    changes.amend(visited, "other", "callback-of", "none")
    changes.amend(visited, "back", "callback-of", "other")
    with pytest.raises(UsageError, match="leads back to"):
        undo(visited, "other")
    assert visited.job_row("other").get("callback_of", "") == ""
    assert Book(visited, "back").record is not None


def test_a_ring_of_visits_in_a_log_is_one_line(visited):
    visited.append("j", "amendment", {"subject": "job", "field": "callback_of", "value": "back"}, datetime.now(UTC))
    for job, former in (("j", "back"), ("back", "j")):
        (line,) = Book(visited, job).problems
        assert line == (
            f"{job}: by way of {former} it is a visit to itself; put that right with: "
            f"fallbook amend {job} callback-of NAME"
        )
    assert warranty.standings(visited, date(2026, 9, 1), "2 Tarn")[1] != []


def test_heights_that_rest_on_a_doubtful_benchmark_stay_behind(visited):
    told(visited, "Benchmark on the porch is maybe 100. Backsight is about 4.3, I guess.", job="j")
    asked = {each.about for each in Book(visited, "j").record.questions}
    assert "benchmark" in asked
    assert Book(visited, "back").record.subject("CB-1").rim_ft is None
