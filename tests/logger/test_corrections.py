"""Corrections, removals and their being taken back, over a log that grows and a reader that changes."""

import json
from datetime import UTC, datetime

import pytest
from typed import say

from extract.errors import FallbookError, UsageError
from extract.record import Note
from logger import changes, jobs
from logger.book import Book

DAY = ["new", "j"]


def take(store, hearing, *paths) -> list[str]:
    found = jobs.take(store, "j", paths, listening=lambda name: lambda done, total: None, hearing=hearing)
    return [result.line for result in found]


def basins(store) -> dict[str, float | None]:
    return {each.label: each.invert_out_ft for each in Book(store, "j").record.structures}


def asked(store) -> list[tuple[str, str | None]]:
    return [(each.about, each.field) for each in Book(store, "j").record.questions]


def test_an_earlier_note_that_comes_in_late_takes_no_correction_with_the_label(store):
    say(store, "10:00 Basin by the gate is set. Invert out 97.20.")
    changes.amend(store, "j", "CB-1", "invert_out_ft", "97.25")
    assert basins(store) == {"CB-1": 97.25}
    say(store, "09:00 Basin by the shed is set. Invert out 98.10.")
    assert basins(store) == {"CB-1": 98.1, "CB-2": 97.2}
    assert ("CB-2", "invert_out_ft") in asked(store)
    changes.amend(store, "j", "CB-2", "invert_out_ft", "97.25")
    assert basins(store) == {"CB-1": 98.1, "CB-2": 97.25}
    assert ("CB-2", "invert_out_ft") not in asked(store)


@pytest.mark.parametrize(
    ("field", "value", "told"),
    [
        ("length", "34 ft 8", "34 ft 8 in"),
        ("slope", "an eighth per foot", "1.04% (1/8 in per ft)"),
        ("fittings", "two 45s and a wye at 12", "2 × 45° elbow, 1 × wye at 12 ft"),
        ("pipe", "none", "emptied"),
    ],
)
def test_a_value_by_hand_is_asked_about_as_one_says_it(store, field, value, told):
    say(store, "10:00 Pipe from the channel to the pop-up is in. 30 feet of four inch SDR 35.")
    changes.amend(store, "j", "R-1", field, value)
    say(store, "09:00 Pipe from the area drain to the dry well is in. 20 feet of four inch SDR 35.")
    heard = [each.heard for each in Book(store, "j").record.questions if each.heard]
    assert heard == [f"{told} by hand, when it was called R-1"]


def test_a_value_by_hand_of_an_entry_that_is_gone_is_asked_about_as_one_says_it(store):
    say(store, "10:00 Hose test on run one, ten minutes, passed.")
    changes.amend(store, "j", "test:1", "time", "9 minutes")
    changes.remove(store, "j", "note:0")
    assert [each.heard for each in Book(store, "j").record.questions if each.heard] == ["9 minutes by hand"]


def test_a_correction_of_an_earlier_version_holds_to_what_its_label_meant_then(store):
    say(store, "10:00 Basin by the gate is set. Invert out 97.20.")
    body = {"subject": "CB-1", "field": "invert_out_ft", "value": 97.25, "at": "2026-05-14T10:05:00-05:00"}
    store.append("j", "amendment", body, datetime.now(UTC))
    assert basins(store) == {"CB-1": 97.25}
    say(store, "09:00 Basin by the shed is set. Invert out 98.10.")
    assert basins(store) == {"CB-1": 98.1, "CB-2": 97.2}
    assert ("CB-2", "invert_out_ft") in asked(store)


def test_a_correction_stands_while_the_log_grows_around_its_thing(store):
    say(store, "10:00 Basin one is set. Invert out 97.20.")
    changes.amend(store, "j", "CB-1", "invert_out_ft", "97.25")
    say(store, "11:00 Basin two is set. Invert out 98.10.", "11:05 Basin one is twelve by twelve.")
    assert basins(store) == {"CB-1": 97.25, "CB-2": 98.1}
    assert ("CB-1", "invert_out_ft") not in asked(store)


def test_a_recording_heard_otherwise_by_now_is_asked_about(store, hearing, make_sound):
    hearing.answers += [[Note(text="Run one is in, 43 feet.", heard="Run one is in, 43 feet.", start_s=1, end_s=3)]]
    sound = make_sound("2026-05-14T100000.wav")
    take(store, hearing, sound)
    changes.amend(store, "j", "R-1", "cover_in", "14")
    hearing.version = "2"
    hearing.answers += [[Note(text="Run one is in, 33 feet.", heard="Run one is in, 33 feet.", start_s=1, end_s=3)]]
    take(store, hearing, sound)
    record = Book(store, "j").record
    assert (record.runs[0].length_ft, record.runs[0].cover_in) == (33, None)
    assert ("R-1", "cover_in") in asked(store)


def test_a_note_of_a_text_log_is_amended_wherever_its_words_stand(store, hearing, tmp_path, monkeypatch):
    log = tmp_path / "notes.txt"
    log.write_text("[09:00] Basin one is set.\n[09:05] Run one is in, 34 feet.\n")
    take(store, hearing, log)
    changes.amend(store, "j", "note:1", "text", "Run one is in, 36 feet.")
    from extract import notes as parser

    whole = parser.parse_log
    monkeypatch.setattr("logger.book.parse_log", lambda text, day=None: [Note(text="Heading."), *whole(text, day)])
    texts = [note.text for note in Book(store, "j").notes]
    assert sorted(texts) == ["Basin one is set.", "Heading.", "Run one is in, 36 feet."]


@pytest.mark.parametrize(
    "two",
    ["Basin by the gate is set. Another basin by the shed is set.", "Set a catch basin. Set another catch basin."],
)
def test_of_two_that_one_note_speaks_for_neither_takes_the_others_correction(store, two):
    say(store, f"10:00 {two}")
    assert list(basins(store)) == ["CB-1", "CB-2"]
    jobs_given = {"CB-1": 98.5, "CB-2": 97.25}
    for label, value in jobs_given.items():
        changes.amend(store, "j", label, "invert_out_ft", str(value))
    assert basins(store) == jobs_given
    say(store, "09:00 Basin by the road is set.")
    record = Book(store, "j").record
    offered = {choice for question in record.questions for choice in question.choices or []}
    stands = set(basins(store).values())
    assert {98.5, 97.25} <= offered | stands
    assert basins(store)["CB-1"] is None  # by the road


def test_a_note_said_close_to_another_keeps_its_amendment(store, hearing, make_sound):
    said = [("Okay.", 1.0), ("Run one is 40 feet.", 1.4)]
    hearing.answers += [[Note(text=text, heard=text, start_s=at, end_s=at + 0.3) for text, at in said]]
    take(store, hearing, make_sound("2026-05-14T100000.wav"))
    changes.amend(store, "j", "note:1", "text", "Run one is 44 feet.")
    assert [note.text for note in Book(store, "j").notes] == ["Okay.", "Run one is 44 feet."]


# -- taking out


def test_a_thing_is_taken_out_and_put_back(store):
    say(store, "10:00 Basin one is set.", "10:05 Basin two is set.")
    changes.remove(store, "j", "CB-1")
    assert list(basins(store)) == ["CB-2"]
    assert Book(store, "j").removed == ["CB-1"]
    changes.remove(store, "j", "CB-1", undo=True)
    assert list(basins(store)) == ["CB-1", "CB-2"]


def test_a_removal_does_not_pass_to_another_thing(store):
    say(store, "10:00 Basin by the gate is set.")
    changes.remove(store, "j", "CB-1")
    say(store, "09:00 Basin by the shed is set.")
    assert list(basins(store)) == ["CB-1", "CB-2"]
    assert asked(store)[-1] == ("CB-2", None)
    changes.remove(store, "j", "CB-2")
    assert list(basins(store)) == ["CB-1"]


def test_two_removals_under_one_label_both_stand(store):
    say(store, "10:00 Basin by the gate is set.")
    changes.remove(store, "j", "CB-1")
    say(store, "09:00 Basin by the shed is set.")
    changes.remove(store, "j", "CB-1")
    assert list(basins(store)) == ["CB-2"]
    assert ("CB-2", None) in asked(store)
    changes.remove(store, "j", "CB-1", undo=True)
    assert len(basins(store)) == 2


def test_a_removed_note_heard_a_little_later_by_now_can_be_put_back(store, hearing, make_sound):
    sound = make_sound("2026-05-14T100000.wav")
    for version, at in (("1", 1.0), ("2", 1.2)):
        hearing.version = version
        hearing.answers += [[Note(text="Mumble.", heard="Mumble.", start_s=at, end_s=3)]]
        take(store, hearing, sound)
        if version == "1":
            changes.remove(store, "j", "note:0")
    assert Book(store, "j").notes[0].text == ""
    changes.remove(store, "j", "note:0", undo=True)
    assert Book(store, "j").notes[0].text == "Mumble."


def test_a_note_is_taken_out_and_keeps_its_number(store):
    say(store, "10:00 Basin one is set.", "10:05 Run one is in, 34 feet.", "10:10 Basin two is set.")
    changes.remove(store, "j", "note:1")
    book = Book(store, "j")
    assert [note.text for note in book.notes] == ["Basin one is set.", "", "Basin two is set."]
    assert book.record.runs == []
    with pytest.raises(UsageError, match="note:1 was removed; put it back with"):
        changes.amend(store, "j", "note:1", "text", "x")
    changes.remove(store, "j", "note:1", undo=True)
    assert Book(store, "j").record.runs


def test_a_removed_note_that_reads_otherwise_by_now_stands_and_is_told_of(store, hearing, make_sound):
    hearing.answers += [[Note(text="Mumble.", heard="Mumble.", start_s=1, end_s=3)]]
    sound = make_sound("2026-05-14T100000.wav")
    take(store, hearing, sound)
    changes.remove(store, "j", "note:0")
    hearing.version = "2"
    hearing.answers += [[Note(text="Run one is in, 33 feet.", heard="Run one is in, 33 feet.", start_s=1, end_s=3)]]
    take(store, hearing, sound)
    book = Book(store, "j")
    assert book.record.runs[0].length_ft == 33
    assert book.remarks == [
        "note:0 was removed when it read 'Mumble.', and reads 'Run one is in, 33 feet.' by now; "
        "it stands unless it is removed again"
    ]
    assert jobs.amiss(store, "j") == book.remarks


def test_photos_keep_their_numbers_when_one_is_taken_out(store, hearing, make_photo):
    paths = [make_photo(f"{n}.jpg", taken=f"2026:05:14 09:0{n}:00") for n in range(3)]
    take(store, hearing, *paths)
    changes.remove(store, "j", "photo:2")
    assert [photo.number for photo in Book(store, "j").photos] == [1, 3]
    assert take(store, hearing, paths[1]) == [
        f"{paths[1]}: was removed from this job; put it back with: fallbook remove j file:NAME --undo"
    ]
    changes.remove(store, "j", "photo:2", undo=True)
    assert [photo.number for photo in Book(store, "j").photos] == [1, 2, 3]


def test_a_file_is_taken_out_by_its_name(store, hearing, tmp_path):
    log = tmp_path / "other site.txt"
    log.write_text("Basin nine is set.\n")
    take(store, hearing, log)
    changes.remove(store, "j", "file:other site.txt")
    assert Book(store, "j").notes == []
    with pytest.raises(UsageError, match="no file gone.txt in j"):
        changes.remove(store, "j", "file:gone.txt")
    changes.remove(store, "j", "file:other site.txt", undo=True)
    assert len(Book(store, "j").notes) == 1


def test_a_job_is_taken_out_and_put_back(store, company):
    changes.remove(store, "j")
    assert store.job_names() == []
    with pytest.raises(FallbookError, match="this job was removed; bring it back with: fallbook remove j --undo"):
        Book(store, "j")
    with pytest.raises(FallbookError, match="exists already; it was removed, bring it back"):
        jobs.new(store, "j", client="B", address="C", company=str(company))
    changes.remove(store, "j", undo=True)
    assert store.job_names() == ["j"]


def test_what_was_not_removed_cannot_be_put_back(store):
    for what in (None, "CB-1", "note:0", "photo:1"):
        with pytest.raises(UsageError, match="was not removed"):
            changes.remove(store, "j", what, undo=True)


def test_the_log_holds_every_removal_and_its_being_taken_back(store):
    say(store, "10:00 Basin one is set.")
    changes.remove(store, "j", "CB-1")
    changes.remove(store, "j", "CB-1", undo=True)
    bodies = [entry.body for entry in store.entries("j") if entry.kind == "removal"]
    assert [(body["what"], body["name"], body["undone"]) for body in bodies] == [
        ("thing", "CB-1", False),
        ("thing", "CB-1", True),
    ]
    assert json.dumps(bodies)


# -- the clock


@pytest.mark.parametrize(
    ("later", "remark"),
    [
        (
            "2026-05-14T13:00:00-05:00",
            "this computer's clock was set back from 14:00 to 13:00; "
            "the notes typed since stand in the order in which they were typed",
        ),
        (
            "1970-01-01T00:00:10+00:00",
            "a note was typed while this computer's clock said 1970-01-01; set the clock",
        ),
    ],
)
def test_a_clock_that_was_set_back_or_never_set_loses_no_correction(store, monkeypatch, later, remark):
    clock(monkeypatch, "2026-05-14T14:00:00-05:00")
    jobs.say(store, "j", "Run one is in, 43 feet.")
    clock(monkeypatch, later)
    jobs.say(store, "j", "Make that 36 feet.")
    book = Book(store, "j")
    assert book.record.runs[0].length_ft == 36
    assert book.remarks == [remark]
    assert jobs.amiss(store, "j") == [remark]


def test_notes_typed_with_a_time_of_their_own_stand_by_it(store):
    say(store, "14:00 Run one is in, 43 feet.", "13:00 Basin one is set.")
    assert [note.text for note in Book(store, "j").notes] == ["Basin one is set.", "Run one is in, 43 feet."]
    assert Book(store, "j").remarks == []


def test_a_note_typed_the_day_before_the_job_stands_by_its_time(store, monkeypatch):
    clock(monkeypatch, "2026-05-13T14:00:00-05:00")
    jobs.say(store, "j", "Need to buy one four inch coupling.")
    book = Book(store, "j")
    assert book.lines[0].when.isoformat() == "2026-05-13T14:00:00-05:00"
    assert book.remarks == []


def clock(monkeypatch, moment: str) -> None:
    class Frozen(datetime):
        @classmethod
        def now(cls, tz=None):
            return datetime.fromisoformat(moment).astimezone(tz)

    monkeypatch.setattr(jobs, "datetime", Frozen)


def test_a_note_typed_after_an_amendment_has_the_last_word(store, monkeypatch):
    clock(monkeypatch, "2026-05-14T14:00:00-05:00")
    jobs.say(store, "j", "Run one is in, 43 feet.")
    changes.amend(store, "j", "R-1", "length_ft", "34 ft")
    assert Book(store, "j").record.runs[0].length_ft == 34
    jobs.say(store, "j", "Make that 36 feet.")
    assert Book(store, "j").record.runs[0].length_ft == 36
    changes.amend(store, "j", "R-1", "length_ft", "35 ft")
    assert Book(store, "j").record.runs[0].length_ft == 35
