from datetime import date

import pytest

from extract.errors import UsageError
from logger import changes, jobs, search
from logger.store import open_store


@pytest.fixture
def store(tmp_path, company):
    with open_store(tmp_path / "library", create=True) as opened:
        for name, address, day in (("front-walk", "1 Larch Walk", 14), ("back-yard", "9 Tarn Lane", 15)):
            jobs.new(
                opened,
                name,
                client="A. Client",
                address=address,
                company=str(company),
                day=date(2026, 5, day),
                zone="-05:00",
            )
        jobs.say(opened, "front-walk", "Roots in the trench on run five. We cut them out.", "10:21")
        jobs.say(
            opened, "back-yard", "Run two is 12.5 feet of SDR 35, from basin one to basin two.", "2026-05-15T09:00"
        )
        yield opened


def hits(store, words: str) -> list[tuple[str, str, int | None]]:
    return [(hit.job, hit.what, hit.note) for hit in jobs.find(store, words).hits]


def test_a_word_is_found_in_its_note_with_job_day_and_time(store):
    hit = next(hit for hit in jobs.find(store, "trench").hits if hit.what == "note")
    assert (hit.job, hit.day, hit.note, hit.at) == ("front-walk", "2026-05-14", 0, "2026-05-14 10:21")
    assert hit.words == "Roots in the trench on run five. We cut them out."


def test_other_endings_and_capitals_are_found(store):
    assert ("front-walk", "note", 0) in hits(store, "ROOT cutting")


def test_addresses_labels_and_kinds_are_found(store):
    assert hits(store, "larch") == [("front-walk", "job", None)]
    assert ("back-yard", "R-2", 0) in hits(store, "R-2")
    assert ("back-yard", "CB-1", 0) in hits(store, "catch basin")
    assert ("front-walk", "issue", 0) in hits(store, "roots")


@pytest.mark.parametrize("words", ["12.5", "SDR 35", "R-2", '"basin', "run*", "run AND basin", "NEAR(", "job:x", "a^b"])
def test_no_sign_is_special(store, words):
    assert isinstance(jobs.find(store, words).hits, list)


def test_numbers_with_a_point_are_found(store):
    assert ("back-yard", "note", 0) in hits(store, "12.5 feet")


def test_all_words_must_stand_there(store):
    assert hits(store, "roots basin") == []


@pytest.mark.parametrize("words", ["", "  ", "--", '""'])
def test_nothing_to_find_is_said(store, words):
    with pytest.raises(UsageError, match="nothing to find; give a word"):
        jobs.find(store, words)


def test_of_a_word_that_stands_everywhere_the_places_indexed_last_are_ranked(store, monkeypatch):
    for minute in range(10, 20):
        jobs.say(store, "front-walk", f"Basin {minute} is set.", f"11:{minute}")
    everywhere = hits(store, "basin")
    assert ("back-yard", "note", 0) in everywhere  # a job that was indexed before
    monkeypatch.setattr(search, "RANKED", len(everywhere))
    assert hits(store, "basin") == everywhere
    monkeypatch.setattr(search, "RANKED", 4)
    last = hits(store, "basin")
    assert len(last) == 4
    assert {job for job, _, _ in last} == {"front-walk"}


def test_photos_of_a_note_come_with_it(store, hearing, make_photo):
    photo = make_photo(taken="2026:05:14 10:21:30")
    list(jobs.take(store, "front-walk", [photo], listening=lambda name: lambda done, total: None, hearing=hearing))
    (hit,) = [hit for hit in jobs.find(store, "trench").hits if hit.what == "note"]
    assert hit.photos == [1]


def test_the_index_follows_the_log_and_only_where_it_grew(store, monkeypatch):
    assert hits(store, "clay") == []
    read: list[str] = []
    index = search.index
    monkeypatch.setattr(search, "index", lambda store, job: read.append(job) or index(store, job))
    jobs.say(store, "front-walk", "Old clay line crossing run five.", "11:00")
    assert ("front-walk", "note", 1) in hits(store, "clay")
    changes.amend(store, "front-walk", "note:1", "text", "Old iron line crossing run five.")
    assert hits(store, "clay") == []
    assert ("front-walk", "note", 1) in hits(store, "iron")
    assert read == ["front-walk", "front-walk"]


def test_a_settled_job_is_not_read_by_a_search(store, monkeypatch):
    for name in ("front-walk", "back-yard"):
        jobs.settle(store, name)
    monkeypatch.setattr("logger.book.Book.__init__", lambda *_, **__: pytest.fail("a job was read"))
    assert ("front-walk", "note", 0) in hits(store, "roots")


def test_a_job_that_cannot_be_read_costs_no_other(store):
    store.connection.execute("DROP TRIGGER log_not_updated")
    store.connection.execute("UPDATE log SET body = replace(body, '12.5', '72.5') WHERE job = 'back-yard'")
    found = jobs.find(store, "roots")
    assert ("front-walk", "note", 0) in [(hit.job, hit.what, hit.note) for hit in found.hits]
    assert list(found.unread) == ["back-yard"]
    assert "entry 2 of its log is damaged" in found.unread["back-yard"]


def test_a_removed_job_is_not_found_until_it_is_back(store):
    changes.remove(store, "front-walk")
    assert hits(store, "roots") == []
    changes.remove(store, "front-walk", undo=True)
    assert ("front-walk", "note", 0) in hits(store, "roots")


def test_what_an_earlier_version_read_is_found_and_counted_until_it_is_read_again(store, monkeypatch):
    assert jobs.find(store, "roots").of_earlier == 0
    monkeypatch.setattr(search, "program", lambda: "a later version")
    monkeypatch.setattr(search, "index", lambda *_: pytest.fail("a job was read"))
    found = jobs.find(store, "roots")
    assert found.hits
    assert found.of_earlier == 2
    monkeypatch.undo()
    assert search.index_all(store, search.of_earlier(store)) == {}
    assert jobs.find(store, "roots").of_earlier == 0


def test_after_an_update_all_jobs_are_read_again_one_that_fails_left_out(store, monkeypatch):
    from logger.settle import settle_all

    jobs.find(store, "roots")
    store.connection.execute("UPDATE indexed SET reader = 'an earlier version'")
    store.connection.execute("UPDATE jobs SET company = 'name = 1' WHERE name = 'back-yard'")
    assert search.of_earlier(store) == ["back-yard", "front-walk"]
    settle_all(store)
    assert search.of_earlier(store) == ["back-yard"]
