"""What a person adds to the record by hand: a missed rod reading, ties, crossings, points, changes of plan."""

import io
from contextlib import redirect_stdout

import pytest
from typed import say

from extract import listed
from extract.check.levels import elevations
from extract.errors import UsageError
from logger import ask, changes, jobs, show, show_one
from logger.book import Book
from logger.printing import print_blocks
from logger.reply import reply
from logger.undo import undo

TALK = ("10:00 Basin one is set. Basin two is set.", "10:05 Benchmark elevation 100. Backsight 4.32.")

TURN = (
    "16:10 Foresight on basin one rim 6.11.",
    "16:12 Moved the level.",
    "16:15 Backsight 3.20 on basin one rim.",
)


def record(store):
    return Book(store, "j").record


def levels(store) -> list[tuple[str, str, float, float | None]]:
    return [(each.point, each.kind, each.rod_ft, each.elevation_ft) for each in record(store).levels]


def printed(blocks) -> str:
    with redirect_stdout(io.StringIO()) as out:
        print_blocks(blocks)
    return out.getvalue()


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


@pytest.mark.parametrize("point", ["pop-up invert in", "invert in of the pop-up", "OUT-1 invert in"])
def test_a_point_is_named_as_people_name_it(store, point):
    say(store, *TALK, "10:10 Pop-up emitter is in.")
    add(store, f"foresight {point} 6.85")
    assert levels(store)[-1] == ("OUT-1 invert_in", "foresight", 6.85, None)


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
        add(store, "CB-1 invert out 4.85")
    add(store, "CB-1 invert out 4.85 after benchmark")
    assert [each[0] for each in levels(store)] == ["benchmark", "CB-1 invert_out", "CB-1 rim", "CB-1 rim", "CB-2 rim"]
    with pytest.raises(UsageError, match="read 2 times; say after which of: level:3 .CB-1 rim foresight 6.*level:4"):
        add(store, "CB-2 invert out 5.85 after CB-1 rim")
    add(store, "CB-2 invert out 5.85 after level:4")
    assert [each[0] for each in levels(store)][4:] == ["CB-2 invert_out", "CB-2 rim"]


def test_a_later_setup_leaves_an_added_reading_in_its_own(store):
    say(store, *TALK)
    add(store, "CB-2 rim 4.85")
    say(store, *TURN)
    assert [each[0] for each in levels(store)] == ["benchmark", "CB-2 rim", "CB-1 rim", "CB-1 rim"]


def test_an_added_reading_stays_where_the_one_before_it_is_corrected(store):
    say(store, *TALK)
    add(store, "CB-1 rim 4.85")
    add(store, "CB-2 rim 4.95")
    changes.amend(store, "j", "CB-1 rim", "rod", "4.75")
    say(store, "16:10 Correction, backsight 4.42.")
    assert [each[2] for each in levels(store)] == [4.42, 4.75, 4.95]
    assert {each.about for each in record(store).questions} <= {"benchmark"}  # how sure the reader is of its reading


@pytest.mark.parametrize(
    ("words", "why"),
    [
        ("rim 4.85", "write a reading as foresight CB-1 rim 4.85, or backsight benchmark 4.85 elevation 100"),
        ("foresight CB-9 rim 4.85", "levels cannot take 'foresight CB-9 rim 4.85'; there is no CB-9"),
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


@pytest.mark.parametrize("words", ["CB-1 rim", "basin one rim"])
def test_a_point_that_was_not_read_says_how_its_reading_is_added(store, words):
    say(store, *TALK)
    with pytest.raises(UsageError, match='CB-1 rim was not read; add it with: fallbook amend j levels "CB-1 rim 4.85"'):
        changes.amend(store, "j", words, "rod", "4.85")


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
    benchmark, basins = TALK[1], TALK[0]
    say(store, benchmark, "10:10 Foresight 4.85.", basins.replace("10:00", "10:20"))
    assert [each.about for each in record(store).questions] == ["levels"]
    assert answer(store, "4.85").what == "refused"
    assert answer(store, "CB-1 rim 4.85").what == "taken"
    assert (levels(store)[-1][:3], record(store).questions) == (("CB-1 rim", "foresight", 4.85), [])


# -- the benchmark's elevation with no rod


def asked(store):
    return [(each.about, each.field, each.why) for each in record(store).questions]


NO_ROD = ("benchmark", "rod_ft", "missing")


@pytest.mark.parametrize("words", ["benchmark elevation 100", "backsight benchmark, elev 100", "BM elevation 100 ft"])
def test_the_benchmarks_elevation_is_added_with_no_rod_which_is_asked_for(store, words):
    say(store, TALK[0])
    assert add(store, words) == "benchmark backsight is now elevation 100"
    assert levels(store) == [("benchmark", "backsight", None, 100)]
    assert asked(store) == [NO_ROD]
    (question,) = ask.open_questions(Book(store, "j"))
    assert (question.text, question.subject, question.stands) == (
        "What did the rod read at the benchmark?",
        "level:1",
        None,
    )
    assert undo(store, "j") == "taken back: benchmark backsight elevation 100"
    assert (levels(store), asked(store)) == ([], [])


@pytest.mark.parametrize(
    "words", ["CB-1 rim elevation 99.5", "foresight benchmark elevation 100", "TP 1 elevation 100", "benchmark"]
)
def test_nothing_else_is_a_level_with_no_rod(store, words):
    say(store, TALK[0])
    with pytest.raises(UsageError, match="write a reading as .*, or benchmark elevation 100"):
        add(store, words)


@pytest.mark.parametrize(
    ("how", "elevation"),
    [
        (("levels", "backsight benchmark 4.32"), 100),
        (("levels", "benchmark 4.32"), 100),
        (("levels", "backsight benchmark 4.32 elevation 101"), 101),
        (("benchmark", "rod", "4.32"), 100),
        (None, 100),
    ],
)
@pytest.mark.parametrize("by_hand", [True, False])
def test_its_rod_is_given_by_hand_and_makes_one_entry(store, how, elevation, by_hand):
    say(store, TALK[0], *([] if by_hand else ["10:05 Benchmark elevation 100."]))
    if by_hand:
        add(store, "benchmark elevation 100")
    add(store, "CB-1 rim 4.85")
    if how:
        changes.amend(store, "j", *how)
    else:
        assert answer(store, "4.32").what == "taken"
    assert levels(store) == [("benchmark", "backsight", 4.32, elevation), ("CB-1 rim", "foresight", 4.85, None)]
    assert asked(store) == []
    assert elevations(record(store))["CB-1 rim"] == pytest.approx(elevation - 0.53)
    stands = ["field" if elevation == 100 else "withdrawn"] if not by_hand else []
    assert [each.went for each in record(store).numbers] == stands


@pytest.mark.parametrize("talk", ["Backsight 4.32.", "Backsight 4.32, elevation 100."])
def test_its_rod_is_read_in_a_later_note_and_makes_one_entry(store, talk):
    say(store, TALK[0])
    add(store, "benchmark elevation 100")
    say(store, f"16:00 {talk}")
    assert levels(store) == [("benchmark", "backsight", 4.32, 100)]
    assert asked(store) == []


def test_another_elevation_in_a_later_note_stands_and_is_asked_about(store):
    say(store, TALK[0])
    add(store, "benchmark elevation 100")
    say(store, "16:00 Backsight 4.32, elevation 101.")
    assert levels(store) == [("benchmark", "backsight", 4.32, 101)]
    assert [(each.about, each.heard) for each in record(store).questions] == [
        ("benchmark", "benchmark backsight elevation 100 by hand")
    ]


@pytest.mark.parametrize("talk", ["10:05 Benchmark elevation 100.", TALK[1]])
def test_an_elevation_that_is_there_is_corrected_and_not_added_again(store, talk):
    say(store, TALK[0], talk)
    with pytest.raises(
        UsageError,
        match='benchmark backsight is there already; correct it with: amend JOB "benchmark" elevation FIGURE',
    ):
        add(store, "benchmark elevation 101")
    changes.amend(store, "j", "benchmark", "elevation", "101")
    assert [each[3] for each in levels(store)] == [101]
    assert [each.went for each in record(store).numbers if each.value == 100] == ["withdrawn"]


def test_of_several_setups_it_waits_in_its_own(store):
    say(store, *TALK, *TURN)
    add(store, "benchmark elevation 98 after level:3")
    add(store, "backsight benchmark 3.30 after level:4")
    assert levels(store)[3:] == [("benchmark", "backsight", 3.30, 98)]


def test_a_rod_that_is_emptied_leaves_the_elevation(store):
    say(store, *TALK)
    changes.amend(store, "j", "benchmark", "rod", "none")
    assert levels(store) == [("benchmark", "backsight", None, 100)]
    with pytest.raises(UsageError, match="benchmark elevation cannot be empty; it is taken out with"):
        changes.amend(store, "j", "benchmark", "elevation", "none")
    changes.remove(store, "j", "benchmark")
    assert levels(store) == []


def test_an_elevation_with_no_rod_that_is_taken_out_is_asked_about_no_more(store):
    say(store, "10:05 Benchmark elevation 100.")
    changes.remove(store, "j", "benchmark")
    assert (levels(store), asked(store)) == ([], [])
    assert [each.went for each in record(store).numbers] == ["withdrawn"]


def test_a_rod_that_was_amended_after_its_elevation_answers_the_question(store):
    say(store, "10:05 Benchmark elevation 100.")
    changes.amend(store, "j", "benchmark", "elevation", "101")
    changes.amend(store, "j", "benchmark", "rod", "4.32")
    assert (levels(store), asked(store)) == ([("benchmark", "backsight", 4.32, 101)], [])


def test_a_missed_reading_goes_where_it_was_read_and_not_where_the_elevation_was_said(store):
    missed = "10:15 Foresight on basin two rim 50.2."
    say(store, TALK[0], "10:05 Benchmark elevation 98.", missed, "10:20 Backsight 3.30.", *TURN)
    assert answer(store, "5.02").words == "CB-2 rim foresight is now 5.02"
    assert [each[0] for each in levels(store)] == ["CB-2 rim", "benchmark", "CB-1 rim", "CB-1 rim"]


def test_a_benchmark_with_no_rod_is_shown(store):
    say(store, "10:05 Benchmark elevation 100.")
    book = Book(store, "j")
    assert "benchmark, elevation 100.00 ft, rod not read" in printed(show.job(book))
    shown = printed(show_one.thing(book, "benchmark"))
    assert "100.00 ft" in shown
    assert "rod reading of the backsight on it is missing" in shown
    changes.remove(store, "j", "note:0")
    with pytest.raises(UsageError, match='benchmark was not read; add it with: .* "benchmark elevation 100"'):
        changes.amend(store, "j", "benchmark", "elevation", "100")


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


# -- ties, crossings, fixed points, changes of plan

BUILT = (
    "10:00 Basin one is set. Basin two is set. Run one is in, 34 feet, four inch SDR 35, from basin one to basin two.",
    "10:05 Slope on run one is 0.3 percent.",
)


def amend(store, *words: str):
    return changes.amend(store, "j", *words)


def ties(store) -> list[tuple[str, float, str | None]]:
    return [(each.from_, each.distance_ft, each.side) for each in record(store).structures[0].ties]


def test_ties_are_added_one_at_a_time_and_a_second_from_the_same_point_corrects(store):
    say(store, *BUILT)
    assert amend(store, "CB-1", "tie", "18.5 from garage corner").words == (
        "CB-1 tie is now 18.5 ft from garage corner"
    )
    amend(store, "basin one", "tie", "22 ft 3 from meter post, on the left")
    assert amend(store, "CB-1", "ties", "18.75 from Garage corner").before == "18.5 ft from garage corner"
    assert ties(store) == [("meter post", 22.25, "left"), ("Garage corner", 18.75, None)]
    undo(store, "j")
    assert ties(store) == [("garage corner", 18.5, None), ("meter post", 22.25, "left")]
    amend(store, "CB-1", "ties", "none")
    assert ties(store) == []


def test_a_side_said_later_is_put_to_its_tie_and_a_later_distance_keeps_it(store):
    say(store, *BUILT)
    amend(store, "CB-1", "tie", "18.5 from garage corner")
    assert amend(store, "CB-1", "tie", "18.5 from garage corner, left").before == "18.5 ft from garage corner"
    assert ties(store) == [("garage corner", 18.5, "left")]
    amend(store, "CB-1", "tie", "18.75 from garage corner")
    assert ties(store) == [("garage corner", 18.75, "left")]
    assert amend(store, "CB-1", "tie", "18.75 from garage corner, right").before == "18.75 ft from garage corner, left"
    assert ties(store) == [("garage corner", 18.75, "right")]


def test_a_tie_holds_to_its_thing_and_not_to_its_label(store):
    say(store, "10:00 Basin by the gate is set.")
    amend(store, "CB-1", "tie", "18.5 from garage corner")
    say(store, "09:00 Basin by the shed is set.")
    assert [each.ties for each in record(store).structures] == [[], []]
    asked = [(each.about, each.heard) for each in record(store).questions if each.heard]
    assert asked == [("CB-2", "CB-1 tie 18.5 ft from garage corner by hand, when it was called CB-1")]


def test_crossings_are_added_to_a_run(store):
    say(store, *BUILT)
    amend(store, "run one", "crossing", "gas line at 12")
    amend(store, "R-1", "crossing", "gas line at 12, 18 inches deep")
    amend(store, "R-1", "crossing", "drip line at 20 ft 6")
    assert crossings(store) == [("gas line", 12, 18), ("drip line", 20.5, None)]


def test_a_crossing_of_the_same_thing_or_at_the_same_place_takes_the_place_of_the_old(store):
    say(store, *BUILT)
    amend(store, "R-1", "crossings", '[{"what": "unnamed", "at_ft": 12}, {"what": "drip line", "at_ft": 20}]')
    assert amend(store, "R-1", "crossing", "gas line at 12.5").before == "a thing with no name yet at 12 ft"
    assert amend(store, "R-1", "crossing", "drip line at 22").before == "drip line at 20 ft"
    assert crossings(store) == [("gas line", 12.5, None), ("drip line", 22, None)]


def crossings(store) -> list[tuple[str, float | None, float | None]]:
    return [(each.what, each.at_ft, each.depth_in) for each in record(store).runs[0].crossings]


@pytest.mark.parametrize(
    ("words", "crossing"),
    [
        ("gas line 18 inches deep", ("gas line", None, 18)),
        ("gas line depth 18 inches", ("gas line", None, 18)),
        ("gas line at 12 depth 18", ("gas line", 12, 18)),
        ("gas line at 12, depth of 18 in", ("gas line", 12, 18)),
        ("gas line, eighteen inches deep", ("gas line", None, 18)),
        ("gas line", ("gas line", None, None)),
        ("it crosses a gas line at 12, 20 inches deep", ("gas line", 12, 20)),
    ],
)
def test_ways_to_say_a_crossing(store, words, crossing):
    say(store, *BUILT)
    amend(store, "R-1", "crossing", words)
    assert crossings(store) == [crossing]


@pytest.mark.parametrize(
    ("words", "why"),
    [
        (("R-1", "crossing", "gas line at 40"), "R-1 crossing cannot be gas line at 40; the run is 34 ft long"),
        (("R-1", "crossing", "gas line at soon"), "R-1 crossing place cannot be soon; write it as 34.67"),
        (("R-1", "tie", "4 from post"), "R-1 has no field tie; its fields: from, to"),
        (("CB-1", "crossing", "gas line at 4"), "CB-1 has no field crossing; its fields: kind"),
        (("CB-1", "tie", "garage corner"), "CB-1 tie cannot be garage corner; write it as 18.5 from garage corner"),
        (("CB-1", "tie", "far from garage corner"), "CB-1 tie distance cannot be far; write it as 34.67"),
        (("points", "garage corner"), "write one as garage corner 42.5 from meter post"),
        (("R-1", "crossing", "gas line 12"), "cannot be gas line 12; name it without a figure, as in: gas line at 12"),
        (("R-1", "crossing", "gas line at 18 in deep"), "R-1 crossing cannot be gas line at 18 in deep; write it as"),
        (("R-1", "crossing", "gas line eighteen inches deep"), "name it without a figure, as in: gas line at 12"),
        (("R-1", "crossing", '{"what": "gas"}'), 'R-1 crossing cannot be {"what": "gas"}; a name begins with no'),
        (("R-1", "crossing", ", 18 inches deep"), "R-1 crossing cannot be , 18 inches deep; a name holds a letter"),
        (("R-1", "crossings", '[{"what": "gas", "at_ft": 400}]'), 'at_ft": 400.*; the run is 34 ft long'),
        (("R-1", "crossings", '[{"what": "gas", "at_ft": -4}]'), "; its place can be 0 to 1000"),
        (("R-1", "crossings", '[{"what": "gas", "depth_in": NaN}]'), "; its depth can be 0 to 120"),
        (("R-1", "crossings", '[{"what": "gas 12"}]'), "; name it without a figure"),
        (("CB-1", "tie", "18.5 from ,"), "CB-1 tie cannot be 18.5 from ,; a name holds a letter"),
        (("CB-1", "ties", '[{"from": "x", "distance_ft": "-5"}]'), "; its distance can be 0.25 to 1000"),
        (
            ("points", "corner at 99999999999, 5"),
            "points cannot be corner at 99999999999, 5; its x can be -50000000 to",
        ),
        (("points", "corner 18 from post, bearing 999"), "; its bearing can be 0 to 360"),
        (("points", "corner 18 from post, bearing north"), "write one as garage corner 42.5 from meter post"),
        (("points", "corner 18 from 12"), "; a name holds a letter"),
        (("points", "{ at 1, 2"), "; a name begins with no"),
        (("R-1", "fittings", "a 45 at 120"), "R-1 fittings cannot be a 45 at 120; the run is 34 ft long"),
        (("R-1", "length", "5 feet"), "R-1 length cannot be 5 feet; its gas line lies at 12 ft"),
        (("R-1", "fittings", "two 45s at 12"), "cannot be two 45s at 12; give each its own place, as in: a 45 at 12"),
        (("R-1", "fittings", '[{"kind": "wye", "at_ft": 50}]'), "; the run is 34 ft long"),
        (("changes", "..."), "a change of plan needs words"),
        (("purchases", "4 inch SDR 35"), "write how many and of what, as in: 10 sticks of 4 inch SDR 35"),
        (("purchases", "sticks of SDR 35"), "write how many and of what"),
        (("purchases", "10 sticks of 35"), "; a name holds a letter"),
        (("purchases", "10 90 ft sticks of 4 inch SDR 35"), "; its length of a stick can be 1 to 40"),
        (("purchases", "1000000 drain grates"), "; its count can be 0.1 to 100000"),
    ],
)
def test_what_cannot_be_added_is_refused(store, words, why):
    say(store, *BUILT)
    amend(store, "R-1", "crossing", "gas line at 12")
    before = record(store)
    with pytest.raises(UsageError, match=why):
        amend(store, *words)
    assert record(store) == before


def test_fixed_points_are_put_together_by_name(store):
    amend(store, "points", "garage corner 42.5 from meter post")
    amend(store, "points", "Garage corner at 10, -20.5")
    amend(store, "points", "garage", "corner 18 from gate post 2, bearing 92.5")
    (point,) = record(store).points
    assert (point.name, point.x_ft, point.y_ft) == ("garage corner", 10, -20.5)
    assert [(each.point, each.distance_ft, each.bearing_deg) for each in point.to or []] == [
        ("meter post", 42.5, None),
        ("gate post 2", 18, 92.5),
    ]
    with pytest.raises(UsageError, match="point 1 .*; its distance can be 0.25 to 1000"):
        amend(store, "point:1", "to", '[{"point": "meter post", "distance_ft": -5}]')
    with pytest.raises(UsageError, match="cannot be 60000000; it can be -50000000 to 50000000"):
        amend(store, "point:1", "x", "60000000")
    changes.remove(store, "j", "point:1")
    assert record(store).points == []


def test_a_fixed_point_is_told_to_two_decimals(store):
    assert amend(store, "points", "corner at 2345678.125, -20.5").words == "point corner is now at 2345678.12, -20.5"


def test_a_change_of_plan_is_kept_as_said_with_the_thing_it_names(store):
    say(store, *BUILT)
    amend(store, "changes", "run one goes around the maple, not under it")
    amend(store, "changes", "the outlet stays open")
    found = [(each.about, each.text) for each in record(store).changes]
    assert found == [("R-1", "run one goes around the maple, not under it"), (None, "the outlet stays open")]
    amend(store, "change:2", "text", "the outlet is a pop-up")
    assert record(store).changes[1].text == "the outlet is a pop-up"
    undo(store, "j")
    assert undo(store, "j") == 'taken back: change of plan entered: "the outlet stays open"'


def test_fittings_are_typed_with_their_place_and_turn(store):
    say(store, *BUILT)
    words = amend(store, "R-1", "fittings", "a 45 at 12 turning left, a 45 at 20 ft 6 and two wyes").words
    assert words == "R-1 fittings is now 1 × 45° elbow at 12 ft turning left, 1 × 45° elbow at 20 ft 6 in, 2 × wye"
    found = [(each.kind, each.count, each.at_ft, each.turn) for each in record(store).runs[0].fittings]
    assert found == [("elbow", 1, 12, "left"), ("elbow", 1, 20.5, None), ("wye", 2, None, None)]
    with pytest.raises(UsageError, match="cannot be a 45 at noon; write it as two 45s and a wye, or a 45 at 12"):
        amend(store, "R-1", "fittings", "a 45 at noon")


def test_what_was_added_is_shown_and_found(store):
    say(store, *BUILT)
    amend(store, "CB-1", "tie", "18.5 from garage corner")
    amend(store, "R-1", "crossing", "gas line at 12")
    amend(store, "points", "garage corner 42.5 from meter post")
    amend(store, "changes", "run one goes around the maple")
    book = Book(store, "j")
    whole = printed(show.job(book))
    for part in (
        "ties 18.5 ft from garage corner",
        "crossings gas line at 12 ft",
        "garage corner 42.5 ft from meter post",
        "R-1: run one goes around the maple",
    ):
        assert part in whole
    assert "change of plan: run one goes around the maple" in printed(show_one.thing(book, "run one"))
    assert [hit.what for hit in jobs.find(store, "maple").hits] == ["change of plan"]


def test_what_was_bought_is_kept_shown_found_corrected_and_taken_out(store):
    say(store, *BUILT)
    assert amend(store, "purchases", "10 sticks of 4 inch SDR 35").words == "bought is now 10 sticks of 4 inch SDR 35"
    amend(store, "purchases", "3 drain", "grates")
    amend(store, "purchases", "3 drain grates")
    assert [(each.count, each.unit, each.item) for each in record(store).purchases] == [
        (10, "stick", "4 inch SDR 35"),
        (3, "each", "drain grates"),
        (3, "each", "drain grates"),
    ]
    book = Book(store, "j")
    assert "Bought: 3" in printed(show.job(book))
    assert "10 sticks of 4 inch SDR 35" in printed(show.job(book))
    assert [hit.what for hit in jobs.find(store, "grates").hits] == ["purchase", "purchase"]
    with pytest.raises(UsageError, match="its count is a whole number"):
        amend(store, "purchase:1", "count", "2.5")
    amend(store, "purchase:1", "count", "12")
    changes.remove(store, "j", "purchase:3")
    assert [listed.in_words(each) for each in record(store).purchases] == [
        "12 sticks of 4 inch SDR 35",
        "3 × drain grates",
    ]
    undo(store, "j")
    assert len(record(store).purchases) == 3


def test_of_two_purchases_alike_the_one_that_was_named_is_changed(store):
    say(store, *BUILT)
    for _ in range(3):
        amend(store, "purchases", "3 drain grates")
    amend(store, "purchase:2", "count", "5")
    assert [each.count for each in record(store).purchases] == [3, 5, 3]
    amend(store, "purchase:3", "count", "7")
    assert [each.count for each in record(store).purchases] == [3, 5, 7]
    undo(store, "j")
    changes.remove(store, "j", "purchase:3")
    assert [each.count for each in record(store).purchases] == [3, 5]


def test_what_was_not_said_is_absent_from_the_records_shape(store):
    say(store, *BUILT)
    shape = record(store).as_json()
    assert not {"ties", "crossings", "fittings"} & {*shape["structures"][0], *shape["runs"][0]}
    amend(store, "CB-1", "tie", "18.5 from garage corner")
    assert record(store).as_json()["structures"][0]["ties"] == [{"from": "garage corner", "distance_ft": 18.5}]
