"""The order of a job's log, where entries came in by one clock and where some were unpacked."""

import json
from datetime import UTC, datetime, timedelta

import pytest

from logger import job_facts, order
from logger.book import Book
from logger.removal import files
from logger.store import LogEntry

NOON = datetime(2026, 5, 14, 12, tzinfo=UTC)


def at(minutes: float) -> datetime:
    return NOON + timedelta(minutes=minutes)


def bodies(store) -> list[str]:
    return [entry.body["text"] for entry in store.entries("j")]


def say(store, text: str, minutes: float, stands: float | None = None) -> None:
    body = {"text": text, "at": at(minutes).isoformat()}
    store.enter("j", LogEntry(0, "said", at(minutes), body, stands=None if stands is None else at(stands)))


def test_what_came_in_here_stands_in_the_order_of_its_rows_whatever_the_clock_said(store):
    for text, minutes in (("one", 0), ("two", -60), ("three", -60), ("four", 5), ("five", 60 * 24 * 366 * 100)):
        say(store, text, minutes)
    assert bodies(store) == ["one", "two", "three", "four", "five"]
    moments = [entry.stands for entry in store.entries("j")]
    assert moments == sorted(set(moments))
    assert moments[0] == NOON
    assert moments[1] - NOON == order.STEP


def test_a_clock_that_cannot_be_right_keeps_nothing_behind_it(store):
    say(store, "in 2107", 60 * 24 * 366 * 80)
    say(store, "now", 0)
    assert [entry.stands.year for entry in store.entries("j")] == [2000, 2026]


def test_what_was_unpacked_takes_its_place_by_its_moment(store):
    say(store, "ours at noon", 0)
    say(store, "ours at ten past", 10)
    say(store, "theirs at five past", 5, stands=5)
    say(store, "theirs, their clock set back", -30, stands=5.001)
    assert bodies(store) == [
        "ours at noon",
        "theirs at five past",
        "theirs, their clock set back",
        "ours at ten past",
    ]


def test_what_comes_in_after_an_unpacking_stands_after_all_of_it(store):
    """Whoever typed it could see the others' entries, even where their clock was an hour ahead."""
    say(store, "theirs, an hour ahead", 60, stands=60)
    say(store, "ours", 1)
    assert bodies(store) == ["theirs, an hour ahead", "ours"]


def test_the_last_word_counts_after_an_unpacking_though_their_clock_was_ahead(store):
    say(store, "Run one is in, basin one to basin two, 34 feet.", 60, stands=60)
    say(store, "Make that 36 feet.", 1)
    assert Book(store, "j").record.subject("R-1").length_ft == 36


def test_the_moment_is_no_part_of_the_body(store):
    say(store, "theirs", 5, stands=5)
    (entry,) = store.entries("j")
    assert set(entry.body) == {"text", "at"}
    kept = json.loads(store.connection.execute("SELECT body FROM log").fetchone()[0])
    assert kept["stands"] == at(5).isoformat()


def amended(field: str, value: str) -> dict[str, str]:
    return {"subject": job_facts.SUBJECT, "field": field, "value": value}


def test_the_last_word_on_a_jobs_own_facts_is_by_its_moment(store):
    store.append("j", "amendment", amended("client", "Ours, later"), at(10))
    store.enter("j", LogEntry(0, "amendment", at(5), amended("client", "Theirs, earlier"), stands=at(5)))
    assert store.job_row("j")["client"] == "Ours, later"
    assert store.jobs()[0]["client"] == "Ours, later"


@pytest.mark.parametrize(("minutes", "gone"), [(5, False), (15, True)])
def test_the_last_word_on_a_removal_is_by_its_moment(store, minutes, gone):
    sha256 = "a" * 64
    store.append("j", "text", {"modified": NOON.isoformat()}, at(0), sha256=sha256, name="a.txt")
    for what, name in (("job", "j"), ("file", sha256)):
        removed = {"what": what, "name": name}
        store.append("j", "removal", removed, at(1))
        store.append("j", "removal", removed | {"undone": True}, at(10))
        store.enter("j", LogEntry(0, "removal", at(minutes), removed, stands=at(minutes)))
    assert ("j" in store.removed_jobs()) == gone
    assert (sha256 in files(store.connection)[1]) == gone


def test_a_damaged_row_costs_no_other_job(store):
    store.enter("j", LogEntry(0, "removal", at(5), {"what": "job", "name": "j"}, stands=at(5)))
    store.connection.execute("DROP TRIGGER log_not_updated")
    store.connection.execute("UPDATE log SET at = 'x'")
    assert store.removed_jobs() == {"j"}
