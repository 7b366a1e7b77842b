"""What a person adds to the record by hand: a rod reading that was missed."""

from datetime import UTC, datetime

import pytest

from extract.check.levels import elevations
from extract.errors import UsageError
from logger import ask, changes, jobs
from logger.book import Book
from logger.reply import reply
from logger.store import open_store
from logger.undo import undo

TALK = ("10:00 Basin one is set. Basin two is set.", "10:05 Benchmark elevation 100. Backsight 4.32.")

TURN = ("16:10 Turning point, foresight 6.11.", "16:15 Turning point, backsight 3.20.")


@pytest.fixture
def store(tmp_path, company):
    with open_store(tmp_path / "library", create=True) as opened:
        jobs.new(
            opened, "j", client="A. Client", address="2 Tarn Lane", company=str(company),
            day=datetime(2026, 5, 14, tzinfo=UTC).date(), zone="-05:00",
        )  # fmt: skip
        yield opened


def say(store, *notes: str) -> None:
    for note in notes:
        at, text = note.split(" ", 1)
        jobs.say(store, "j", text, at)


def record(store):
    return Book(store, "j").record


def levels(store) -> list[tuple[str, str, float, float | None]]:
    return [(each.point, each.kind, each.rod_ft, each.elevation_ft) for each in record(store).levels]


def add(store, words: str) -> str:
    return changes.amend(store, "j", "levels", words).words


def answer(store, line: str, *, first: bool = True):
    book = Book(store, "j")
    return reply(book, ask.open_questions(book)[0 if first else -1], line)[0]


# -- a rod reading that was missed


def test_a_missed_reading_is_added_in_plain_words(store):
    say(store, *TALK)
    assert add(store, "foresight CB-1 rim 4.85") == "CB-1 rim foresight is now 4.85"
    assert levels(store) == [("benchmark", "backsight", 4.32, 100), ("CB-1 rim", "foresight", 4.85, None)]
    assert elevations(record(store))["CB-1 rim"] == pytest.approx(99.47)


@pytest.mark.parametrize(
    ("words", "level"),
    [
        ("CB-1 rim 4.85", ("CB-1 rim", "foresight", 4.85, None)),
        ("rod on basin two invert out 5 point 1", ("CB-2 invert_out", "foresight", 5.1, None)),
        ("foresight on the rim of basin one four point eight five", ("CB-1 rim", "foresight", 4.85, None)),
        ("intermediate sight CB-2 rim 4.9", ("CB-2 rim", "intermediate", 4.9, None)),
        ("foresight TP 1 6.1", ("TP-1", "foresight", 6.1, None)),
        ("foresight CB-1 rim 4.85, elevation 99.47", ("CB-1 rim", "foresight", 4.85, 99.47)),
        ("foresight benchmark 4.33", ("benchmark", "foresight", 4.33, None)),
    ],
)
def test_ways_to_say_a_reading(store, words, level):
    say(store, *TALK)
    add(store, words)
    assert levels(store)[-1] == level


def test_a_missed_backsight_goes_first(store):
    say(store, "10:00 Basin one is set.", "10:05 Foresight on basin one rim 4.92.")
    add(store, "backsight benchmark 4.85 elevation 100")
    assert levels(store)[0] == ("benchmark", "backsight", 4.85, 100)
    assert elevations(record(store))["CB-1 rim"] == pytest.approx(99.93)


def test_an_elevation_added_with_a_rod_fills_the_structure_too(store):
    say(store, *TALK)
    add(store, "foresight CB-1 rim 4.85 elevation 99.47")
    assert record(store).structures[0].rim_ft == 99.47


def test_with_two_setups_a_reading_says_which_it_is_of(store):
    say(store, *TALK, *TURN, "16:20 Foresight basin two rim 5.00.")
    with pytest.raises(UsageError, match="there are 2 setups; say behind which reading this one goes, as in: CB-1"):
        add(store, "CB-1 rim 4.85")
    add(store, "CB-1 rim 4.85 after benchmark")
    assert [each[0] for each in levels(store)] == ["benchmark", "CB-1 rim", "TP-1", "TP-1", "CB-2 rim"]
    with pytest.raises(UsageError, match="read 2 times; say after which of: level:3 .TP-1 foresight 6.*level:4"):
        add(store, "CB-1 invert out 5.85 after TP-1")
    add(store, "CB-1 invert out 5.85 after level:4")
    assert [each[0] for each in levels(store)][4:] == ["CB-1 invert_out", "CB-2 rim"]


def test_a_later_setup_leaves_an_added_reading_in_its_own(store):
    say(store, *TALK)
    add(store, "CB-1 rim 4.85")
    say(store, *TURN)
    assert [each[0] for each in levels(store)] == ["benchmark", "CB-1 rim", "TP-1", "TP-1"]


@pytest.mark.parametrize(
    ("words", "why"),
    [
        ("rim 4.85", "write a reading as foresight CB-1 rim 4.85, or backsight benchmark 4.85 elevation 100"),
        ("foresight CB-9 rim 4.85", "write a reading as"),
        ("foresight CB-1 4.85", "write a reading as"),
        ("foresight CB-1 rim", "write a reading as"),
        ("foresight CB-1 rim banana", "cannot be banana; write it as 4.32"),
        ("foresight CB-1 rim 48.5", "CB-1 rim foresight rod cannot be 48.5; it can be 0 to 25"),
        ("foresight CB-1 rim 4.85 elevation 9", "elevation cannot be 9; it lies more than 40 feet"),
        ("backsight CB-1 rim 4.85", "there is a backsight already; say behind which reading"),
    ],
)
def test_what_is_no_reading_is_refused(store, words, why):
    say(store, *TALK)
    with pytest.raises(UsageError, match=why):
        add(store, words)
    assert len(levels(store)) == 1


def test_a_reading_that_is_there_is_corrected_and_not_added_again(store):
    say(store, *TALK, "10:10 Foresight on basin one rim 4.92.")
    with pytest.raises(
        UsageError, match='CB-1 rim foresight reads 4.92 already; correct it with: amend JOB "CB-1 rim"'
    ):
        add(store, "CB-1 rim 4.85")


def test_an_added_reading_is_amended_and_taken_out_as_any_other(store):
    say(store, *TALK)
    add(store, "CB-1 rim 4.85")
    changes.amend(store, "j", "CB-1 rim", "rod", "4.95")
    assert levels(store)[-1][2] == 4.95
    changes.remove(store, "j", "CB-1 rim")
    assert len(levels(store)) == 1
    undo(store, "j")
    undo(store, "j")
    assert levels(store)[-1][2] == 4.85
    assert undo(store, "j") == "taken back: CB-1 rim foresight 4.85"
    assert len(levels(store)) == 1


def test_a_reading_of_a_label_that_means_another_thing_by_now_is_asked_about(store):
    say(store, "10:00 Basin by the gate is set.", TALK[1])
    add(store, "CB-1 rim 4.85")
    say(store, "09:00 Basin by the shed is set.")
    assert len(levels(store)) == 1
    asked = [(each.about, each.heard) for each in record(store).questions if each.heard]
    assert asked == [("CB-2", "CB-1 rim foresight 4.85 by hand, when it was called CB-1")]


def test_a_reading_goes_with_its_structure(store):
    say(store, *TALK)
    add(store, "CB-1 rim 4.85")
    changes.remove(store, "j", "CB-1")
    assert len(levels(store)) == 1


def test_a_reading_that_no_rod_shows_is_answered_with_the_right_one(store):
    say(store, *TALK, "10:10 Foresight on basin one rim 48.5.", "10:15 Foresight on basin two rim 5.02.")
    assert answer(store, "4.85").words == "CB-1 rim foresight is now 4.85"
    assert [each[:3] for each in levels(store)][1] == ("CB-1 rim", "foresight", 4.85)
    assert not [each for each in record(store).questions if each.field == "rod_ft"]
    undo(store, "j")
    assert [each.about for each in record(store).questions if each.field == "rod_ft"] == ["CB-1 rim"]


def test_a_reading_with_no_place_is_answered_with_its_place(store):
    say(store, *TALK, "10:10 Foresight 4.85.")
    assert [each.about for each in record(store).questions] == ["levels"]
    assert answer(store, "4.85").what == "refused"
    assert answer(store, "CB-1 rim 4.85").what == "taken"
    assert (levels(store)[-1][:3], record(store).questions) == (("CB-1 rim", "foresight", 4.85), [])


# -- a rod reading typed for an elevation


def test_a_rod_reading_is_not_taken_for_an_elevation(store):
    say(store, *TALK, "10:10 Invert out on basin one is 985.2.")
    assert answer(store, "4.85").words == (
        'CB-1 outgoing invert cannot be 4.85; say "rod 4.85" for a rod reading, or "elevation 4.85"'
    )
    assert answer(store, "rod 4.85").words == "CB-1 invert out foresight is now 4.85"
    assert levels(store)[-1][:3] == ("CB-1 invert_out", "foresight", 4.85)
    assert record(store).questions == []
    assert undo(store, "j") == "taken back: CB-1 invert out foresight 4.85"
    assert [each.field for each in record(store).questions] == ["invert_out_ft"]


@pytest.mark.parametrize("said", ["elevation 4.85", "elevation is 4.85 feet", "elev. 4.85"])
def test_an_elevation_that_is_called_one_is_taken(store, said):
    say(store, *TALK, "10:10 Invert out on basin one is 985.2.")
    assert answer(store, said).what == "taken"
    assert record(store).structures[0].invert_out_ft == 4.85


def test_with_no_elevation_known_a_small_figure_may_be_either(store):
    say(store, TALK[0])
    with pytest.raises(UsageError, match='say "rod 4.85" for a rod reading, or "elevation 4.85"'):
        changes.amend(store, "j", "CB-1", "rim", "4.85")
    changes.amend(store, "j", "CB-1", "rim", "elevation 4.85")
    changes.amend(store, "j", "CB-2", "rim", "4.95")
    assert [each.rim_ft for each in record(store).structures] == [4.85, 4.95]


def test_a_rod_may_be_amended_where_an_elevation_stands(store):
    say(store, *TALK)
    assert changes.amend(store, "j", "CB-1", "rim", "rod 4.85").words == "CB-1 rim foresight is now 4.85"


def test_a_called_elevation_far_off_is_refused_all_the_same(store):
    say(store, *TALK)
    with pytest.raises(UsageError, match="cannot be elevation 984.2; it lies more than 40 feet"):
        changes.amend(store, "j", "CB-1", "rim", "elevation 984.2")
