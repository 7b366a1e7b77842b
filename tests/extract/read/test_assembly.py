"""The record that readings come to; no sentence here is of the corpus of talk."""

import pytest
from extract_readings import BASIN, HOSE, PIPE, ROD, asked, record, say

from extract.recount import agree


def test_a_hedged_rod_reading_stands_and_is_asked_about():
    got = record(say("the basin reads about 4.2 feet", BASIN, ("4.2 feet", "rod_ft", ROD | {"standing": "hedged"})))
    assert [level.rod_ft for level in got.levels] == [4.2]
    assert ("CB-1 rim", "rod_ft", "hedged") in asked(got)


@pytest.mark.parametrize("standing", ["", "implausible"])
def test_a_rod_reading_that_cannot_be_is_asked_about_and_does_not_stand(standing):
    words = "42 feet" if not standing else "4 feet"
    got = record(say(f"the basin reads {words}", BASIN, (words, "rod_ft", ROD | {"standing": standing})))
    assert not got.levels
    assert ("CB-1 rim", "rod_ft", "implausible") in asked(got)


def test_two_different_rods_at_one_point_are_one_level_and_a_conflict():
    got = record(
        say("the basin reads 4.2 feet", BASIN, ("4.2 feet", "rod_ft", ROD)),
        say("5.1 feet", ("5.1 feet", "rod_ft", ROD)),
    )
    assert [level.rod_ft for level in got.levels] == [5.1]
    ((question),) = [each for each in got.questions if each.why == "conflict"]
    assert (question.about, question.field, question.choices) == ("CB-1 rim", "rod_ft", [4.2, 5.1])


LENGTH = {"thing": "R.1"}


@pytest.mark.parametrize("standing", ["denied", "hearsay", "asked", "required"])
def test_another_figure_told_later_as_no_fact_is_asked_about(standing):
    got = record(
        say("the pipe is 55 feet", PIPE, ("55 feet", "length_ft", LENGTH)),
        say("65 feet", ("65 feet", "length_ft", LENGTH | {"standing": standing})),
    )
    assert got.runs[0].length_ft == 55
    assert ("R-1", "length_ft", "low_confidence") in asked(got)


def test_the_figure_that_stands_is_asked_about_where_it_is_denied_and_none_told_in_its_place():
    first = say("the pipe is 55 feet", PIPE, ("55 feet", "length_ft", LENGTH))
    no = ("55 feet", "length_ft", LENGTH | {"standing": "denied"})
    assert ("R-1", "length_ft", "low_confidence") in asked(record(first, say("not 55 feet", no)))
    instead = ("65 feet", "length_ft", LENGTH | {"standing": "corrects"})
    put_right = record(first, say("not 55 feet, 65 feet", no, instead))
    assert put_right.runs[0].length_ft == 65
    assert not asked(put_right)


@pytest.mark.parametrize(("sure", "doubted"), [(0.9, False), (0.6, True)])
def test_a_figure_denied_beside_the_one_that_stands_is_plain_unless_the_denial_is_unsure(sure, doubted):
    denied = LENGTH | {"standing": "denied", "sure": sure}
    got = record(
        say(
            "the pipe is 40 feet, not 44 feet", PIPE, ("40 feet", "length_ft", LENGTH), ("44 feet", "length_ft", denied)
        )
    )
    assert got.runs[0].length_ft == 40
    assert (("R-1", "length_ft", "low_confidence") in asked(got)) == doubted


def test_a_turning_point_is_read_forth_and_back_with_no_conflict():
    got = record(
        say("the basin reads 4.2 feet", BASIN, ("4.2 feet", "rod_ft", ROD)),
        say("5.1 feet", ("5.1 feet", "rod_ft", ROD | {"sight": "backsight"})),
    )
    assert [(level.kind, level.rod_ft) for level in got.levels] == [("foresight", 4.2), ("backsight", 5.1)]
    assert not got.questions


def test_a_rod_put_right_is_one_level_and_no_question():
    got = record(
        say("the basin reads 4.2 feet", BASIN, ("4.2 feet", "rod_ft", ROD)),
        say("no, 5.1 feet", ("5.1 feet", "rod_ft", ROD | {"standing": "corrects"})),
    )
    assert [level.rod_ft for level in got.levels] == [5.1]
    assert not got.questions


@pytest.mark.parametrize(
    ("words", "what", "value"), [("5 minutes", "duration_s", 300), ("12 gallons a minute", "flow_gpm", 12)]
)
def test_what_a_test_measured_is_asked_about_like_any_value(words, what, value):
    hedged = {"thing": "T.1", "standing": "hedged"}
    got = record(say(f"ran the hose on the pipe {words}", HOSE, PIPE, (words, what, hedged)))
    assert getattr(got.tests[0], what) == value
    assert ("R-1", what, "hedged") in asked(got)


def test_a_flow_that_no_hose_gives_does_not_stand():
    words = "9000 gallons a minute"
    got = record(say(f"ran the hose on the pipe {words}", HOSE, PIPE, (words, "flow_gpm", {"thing": "T.1"})))
    assert got.tests[0].flow_gpm is None
    assert ("R-1", "flow_gpm", "implausible") in asked(got)


def test_two_durations_of_one_test_are_a_conflict():
    got = record(
        say("ran the hose on the pipe 5 minutes", HOSE, PIPE, ("5 minutes", "duration_s", {"thing": "T.1"})),
        say("8 minutes", ("8 minutes", "duration_s", {"thing": "T.1"})),
    )
    assert got.tests[0].duration_s == 480
    assert ("R-1", "duration_s", "conflict") in asked(got)


def test_a_fitting_that_cannot_be_is_asked_about_and_does_not_stand():
    mark = ("two bends", "fitting", {"name": "elbow", "thing": "R.1", "standing": "implausible"})
    got = record(say("the pipe has two bends", PIPE, mark))
    assert got.runs[0].fittings == []
    assert ("R-1", "fittings", "implausible") in asked(got)


def test_a_hedged_fitting_put_right_asks_no_more():
    def mark(words, standing):
        return words, "fitting", {"name": "elbow", "thing": "R.1", "standing": standing}

    got = record(
        say("the pipe has maybe two bends", PIPE, ("two", "name", {"thing": "R.1"}), mark("two bends", "hedged")),
        say("no, three bends", ("three", "name", {"thing": "R.1"}), mark("three bends", "corrects")),
    )
    assert [each.count for each in got.runs[0].fittings] == [3]
    assert not [each for each in got.questions if each.field == "fittings"]


def test_a_question_about_a_thing_that_was_never_named_is_asked():
    got = record(say("fifty minutes of length", ("fifty minutes", "length_ft", {"thing": "R.1"})))
    assert ("R-1", "length_ft", "low_confidence") in asked(got)


def test_a_rod_reading_of_another_unit_is_asked_about():
    got = record(say("the basin reads 4 percent", BASIN, ("4 percent", "rod_ft", ROD)))
    assert not got.levels
    assert ("CB-1 rim", "rod_ft", "low_confidence") in asked(got)


def test_an_elevation_with_no_rod_fills_the_structure_and_is_no_level():
    got = record(say("the basin is at 98.4", BASIN, ("98.4", "elevation_ft", ROD)))
    assert not got.levels
    assert got.structures[0].rim_ft == 98.4


def test_an_elevation_with_a_rod_is_the_levels_and_the_structures():
    got = record(
        say("the basin reads 4.2, at 98.4", BASIN, ("4.2", "rod_ft", ROD), ("98.4", "elevation_ft", ROD)),
    )
    assert [(level.rod_ft, level.elevation_ft) for level in got.levels] == [(4.2, 98.4)]
    assert got.structures[0].rim_ft == 98.4


STOOP = {"side": "benchmark", "sight": "backsight"}


@pytest.mark.parametrize("turn", [1, -1])
def test_the_benchmarks_elevation_waits_for_its_backsight(turn):
    notes = [say("call it 100", ("100", "elevation_ft", STOOP)), say("it reads 4.85", ("4.85", "rod_ft", STOOP))]
    got = record(*notes[::turn])
    assert [(level.point, level.rod_ft, level.elevation_ft) for level in got.levels] == [("benchmark", 4.85, 100)]


def went(got):
    return [(number.text, number.went, number.to) for number in got.numbers]


def test_a_benchmark_that_was_never_shot_is_a_level_with_no_rod_that_is_asked_for():
    got = record(say("call it 100", ("100", "elevation_ft", STOOP)))
    assert [(x.point, x.kind, x.rod_ft, x.elevation_ft) for x in got.levels] == [("benchmark", "backsight", None, 100)]
    assert asked(got) == {("benchmark", "rod_ft", "missing")}
    assert went(got) == [("100", "field", "levels")]


def test_a_reading_on_the_benchmark_that_is_taken_back_leaves_the_elevation_and_is_asked_for():
    back = {"name": "clear", "standing": ""}
    got = record(
        say("call it 100, it reads 4.85", ("100", "elevation_ft", STOOP), ("4.85", "rod_ft", STOOP)),
        say("scrap that reading", ("scrap that reading", "order", back)),
    )
    assert [(x.rod_ft, x.elevation_ft) for x in got.levels] == [(None, 100)]
    assert asked(got) == {("benchmark", "rod_ft", "missing")}


@pytest.mark.parametrize("turn", [1, -1])
def test_a_sight_back_on_the_benchmark_is_not_its_backsight(turn):
    back = STOOP | {"sight": "foresight"}
    notes = [say("call it 100", ("100", "elevation_ft", STOOP)), say("it reads 4.85", ("4.85", "rod_ft", back))]
    got = record(*notes[::turn])
    assert [(x.kind, x.rod_ft, x.elevation_ft) for x in got.levels] == [
        ("backsight", None, 100),
        ("foresight", 4.85, None),
    ]
    assert asked(got) == {("benchmark", "rod_ft", "missing")}


def test_a_backsight_that_no_rod_shows_is_one_question():
    got = record(
        say("call it 100", ("100", "elevation_ft", STOOP)),
        say("it reads 48.5", ("48.5", "rod_ft", STOOP)),
    )
    assert [(x.rod_ft, x.elevation_ft) for x in got.levels] == [(None, 100)]
    assert asked(got) == {("benchmark", "rod_ft", "implausible")}


@pytest.mark.parametrize("turn", [1, -1])
def test_where_the_rod_comes_to_nothing_the_elevation_is_the_structures(turn):
    figures = [("48.5", "rod_ft", ROD), ("98.4", "elevation_ft", ROD)][::turn]
    got = record(say(f"the basin reads {figures[0][0]} and {figures[1][0]}", BASIN, *figures))
    assert got.levels == []
    assert got.structures[0].rim_ft == 98.4
    assert ("98.4", "field", "CB-1.rim_ft") in went(got)


def test_a_level_that_was_planned_stands_and_so_does_its_number():
    got = record(say("we'll call it 100", ("100", "elevation_ft", STOOP | {"standing": "planned"})))
    assert went(got) == [("100", "field", "levels")]


def test_an_inch_in_no_feet_is_asked_about():
    slope = {"thing": "R.1"}
    got = record(
        say("the pipe falls an inch in 0 ft", PIPE, ("an inch", "slope_pct", slope), ("0 ft", "slope_pct", slope))
    )
    assert got.runs[0].slope_pct is None
    assert ("R-1", "slope_pct", "low_confidence") in asked(got)


@pytest.mark.parametrize(("standing", "value"), [("", "car"), ("corrects", "foot")])
def test_the_heaviest_traffic_stands_unless_it_is_put_right(standing, value):
    got = record(
        say("cars on the pipe", PIPE, ("cars", "traffic", {"name": "car", "thing": "R.1"})),
        say("people", ("people", "traffic", {"name": "foot", "thing": "R.1", "standing": standing})),
    )
    assert got.runs[0].traffic == value


def test_of_two_basins_called_two_the_first_has_the_label_and_the_other_is_asked_about():
    got = record(
        say("basin two", ("basin two", "mention", {"name": "CB", "thing": "CB.1", "number": 2})),
        say("box two", ("box two", "mention", {"name": "CB", "thing": "CB.2", "number": 2})),
    )
    assert [each.label for each in got.structures] == ["CB-2", "CB-1"]
    assert ("CB-1", None, "conflict") in asked(got)


@pytest.mark.parametrize(
    ("words", "size"),
    [("nine inch", [9.0]), ("twelve inch", [12.0, 12.0]), ("nine by nine", [9.0, 9.0]), ("two by two", [24.0, 24.0])],
)
def test_the_size_of_a_basin(words, size):
    got = record(say(f"a {words} the basin", BASIN, (words, "size_in", {"thing": "CB.1"})))
    assert got.structures[0].size_in == size


def test_gallons_alone_are_no_flow():
    words = "five gallons"
    got = record(say(f"ran the hose on the pipe {words}", HOSE, PIPE, (words, "flow_gpm", {"thing": "T.1"})))
    assert got.tests[0].flow_gpm is None
    assert ("R-1", "flow_gpm", "low_confidence") in asked(got)


def order(words, name, thing=""):
    return words, "order", {"name": name, "thing": thing}


def length(words, standing=""):
    return words, "length_ft", {"thing": "R.1", "standing": standing}


def test_what_a_note_said_is_taken_back_by_the_next():
    got = record(
        say("the pipe is 40 feet", PIPE, length("40 feet")),
        say("the pipe is 50 feet", PIPE, length("50 feet", "corrects")),
        say("scratch that", order("scratch that", "withdraw_note")),
    )
    assert got.runs[0].length_ft == 40
    assert [each.went for each in got.numbers] == ["field", "withdrawn"]


def test_what_was_begun_by_a_withdrawn_note_is_out_of_the_record():
    got = record(
        say("the pipe is 40 feet", PIPE, length("40 feet")),
        say("scratch that, the basin is in", order("scratch that", "withdraw_note"), BASIN),
    )
    assert not got.runs
    assert [each.label for each in got.structures] == ["CB-1"]


def test_what_a_note_said_before_is_taken_back_within_it():
    got = record(
        say("the pipe is 40 feet, scratch that, 50 feet", PIPE, length("40 feet"),
            order("scratch that", "withdraw_said"), length("50 feet"))
    )  # fmt: skip
    assert got.runs[0].length_ft == 50
    assert not [each for each in got.questions if each.why == "conflict"]


def test_a_value_taken_back_leaves_its_field():
    got = record(
        say("the pipe is 40 feet at 4 inch", PIPE, length("40 feet"), ("4 inch", "nominal_in", {"thing": "R.1"})),
        say("it's not 40 feet", order("not 40 feet", "clear", "R.1"), ("40 feet", "none")),
    )
    assert (got.runs[0].length_ft, got.runs[0].nominal_in) == (None, 4)
    assert ("R-1", "length_ft", "missing") in asked(got)
    assert [each.went for each in got.numbers] == ["withdrawn", "field", "withdrawn"]


def test_an_entry_called_off_is_out_of_the_record():
    rock = ("rock", "issue", {"name": "rock", "thing": "I.1"})
    got = record(say("rock", rock), say("no rock there", order("no rock", "drop", "I.1")))
    assert not got.issues


def test_areas_stand_beside_each_other_with_their_surface():
    area = {"thing": "CB.1"}
    got = record(
        say("the basin takes 300 square feet of roof", BASIN, ("300 square feet", "area", area)),
        say("and 200 square feet of patio", ("200 square feet", "area", area)),
        say("no, 350 square feet of roof", ("350 square feet", "area", area | {"standing": "corrects"})),
    )
    assert [(each.sqft, each.surface) for each in got.structures[0].areas] == [(350, "roof"), (200, "patio")]


def test_an_area_that_no_yard_has_is_asked_about():
    words = "900000 square feet"
    got = record(say(f"the basin takes {words}", BASIN, (words, "area", {"thing": "CB.1"})))
    assert got.structures[0].areas is None
    assert ("CB-1", "areas", "implausible") in asked(got)


def test_a_tie_is_from_the_point_named_and_the_last_told_stands():
    tie = {"thing": "CB.1", "number_of": True}
    got = record(
        say("the basin is 18 feet from the garage corner, 9 feet off the maple", BASIN, ("18 feet", "tie", tie),
            ("9 feet", "tie", tie)),
        say("make it 19 feet from the garage corner", ("19 feet", "tie", tie)),
    )  # fmt: skip
    assert [(each.from_, each.distance_ft) for each in got.structures[0].ties] == [("maple", 9), ("garage corner", 19)]


def test_two_places_of_one_crossing_are_asked_about():
    number = {"thing": "R.1", "number_of": True}
    got = record(
        say("the pipe crosses the gas line at 12 feet", PIPE, ("the gas line", "crossing", {"thing": "R.1"}),
            ("12 feet", "crossing", number)),
        say("gas line at 21 feet", ("gas line", "crossing", {"thing": "R.1"}), ("21 feet", "crossing", number)),
    )  # fmt: skip
    ((crossing),) = got.runs[0].crossings
    assert crossing.at_ft == 21
    (question,) = (each for each in got.questions if each.field == "crossings")
    assert (question.why, question.choices) == ("conflict", [12, 21])
    assert [each.note for each in question.evidence] == [0, 1]
    assert [(each.value, each.went) for each in got.numbers] == [(12, "withdrawn"), (21, "field")]


def test_a_measure_taken_for_mere_words_is_asked_about_where_that_is_not_sure():
    got = record(say("maybe four inches there", ("four inches", "text", {"sure": 0.5})))
    agree(got)
    assert [(each.went, each.to) for each in got.numbers] == [("question", "job")]
    assert asked(got) == {("job", None, "low_confidence")}
    sure = record(say("maybe four inches there", ("four inches", "text", {"sure": 0.9})))
    assert asked(sure) == set()


def test_a_crossing_is_told_in_parts():
    number = {"thing": "R.1", "number_of": True}
    got = record(
        say("the pipe crosses the gas line at 12 feet", PIPE, ("the gas line", "crossing", {"thing": "R.1"}),
            ("12 feet", "crossing", number)),
        say("gas line is 18 inches deep", ("gas line", "crossing", {"thing": "R.1"}),
            ("18 inches", "crossing", number)),
    )  # fmt: skip
    ((crossing),) = got.runs[0].crossings
    assert (crossing.what, crossing.at_ft, crossing.depth_in) == ("gas line", 12, 18)


def test_a_change_of_plan_is_told_with_what_it_is_about():
    words = "went round the maple"
    got = record(say(f"the pipe {words}", PIPE, (words, "change", {"at": "R.1"})))
    assert [(each.about, each.text) for each in got.changes] == [("R-1", words)]


def test_a_count_that_is_not_sure_is_asked_about_however_sure_its_fitting_is():
    turn, two = {"name": "elbow", "thing": "R.1"}, {"thing": "R.1", "sure": 0.3}
    got = record(say("the pipe has two elbows", PIPE, ("two elbows", "fitting", turn), ("two", "count", two)))
    assert ("R-1", "fittings", "low_confidence") in asked(got)


def test_a_measure_of_two_readings_is_as_sure_as_the_less_sure():
    inches = {"thing": "R.1", "sure": 0.3}
    words = "the pipe is nine foot, and a half inch"
    got = record(say(words, PIPE, ("nine foot", "length_ft", {"thing": "R.1"}), ("a half inch", "length_ft", inches)))
    assert got.runs[0].length_ft == 9.0417
    assert ("R-1", "length_ft", "low_confidence") in asked(got)


def test_pieces_are_as_sure_as_the_least_sure():
    sticks = [("ten foot", "pieces_ft", {"thing": "R.1"}), ("four foot", "pieces_ft", {"thing": "R.1", "sure": 0.3})]
    got = record(say("the pipe is ten foot and four foot", PIPE, *sticks))
    assert got.runs[0].pieces_ft == [10, 4]
    assert asked(got) >= {("R-1", "length_ft", "low_confidence")}  # one question of them and of what they come to


def test_of_three_values_in_conflict_all_are_choices():
    notes = [say(words, (words, "length_ft", {"thing": "R.1"})) for words in ("40 feet", "42 feet", "44 feet")]
    got = record(say("the pipe", PIPE), *notes)
    (question,) = [each for each in got.questions if each.why == "conflict"]
    assert question.choices == [40, 42, 44]
    assert [each.note for each in question.evidence] == [1, 2, 3]


RUNS = [("run one", "mention", {"name": "R", "thing": "R.1", "number": 1}),
        ("run two", "mention", {"name": "R", "thing": "R.2", "number": 2})]  # fmt: skip


@pytest.mark.parametrize(
    ("text", "states"),
    [
        ("run one and run two are in", ["installed", "installed"]),
        ("run one, run two are in", ["installed", "installed"]),
        ("run one meets run two, which are in", [None, "installed"]),
    ],
)
def test_what_one_list_names_shares_a_state(text, states):
    got = record(say(text, *RUNS, ("are in", "state", {"name": "installed", "thing": "R.2"})))
    assert [each.state for each in got.runs] == states


def test_a_height_farther_off_than_a_yard_is_high_is_asked_about():
    rim = ("98.5", "rim_ft", {"thing": "CB.1"})
    got = record(say("the basin's at 98.5", BASIN, rim), say("out at 196.2", ("196.2", "invert_out_ft", rim[2])))
    assert (got.structures[0].rim_ft, got.structures[0].invert_out_ft) == (98.5, None)
    assert ("CB-1", "invert_out_ft", "implausible") in asked(got)


def test_a_hedged_plan_asks_nothing_of_its_figure():
    length = {"thing": "R.1", "standing": "planned hedged"}
    got = record(say("the pipe will be about 40 feet", PIPE, ("40 feet", "length_ft", length)))
    assert not {each for each in asked(got) if each[1] == "length_ft"}


@pytest.mark.parametrize(("sure", "length", "drop"), [(0.6, 21.1667, None), (0.95, 21, 2)])
def test_inches_right_behind_feet_are_of_the_length_unless_surely_read_otherwise(sure, length, drop):
    inches = ("two inches", "drop_in", {"thing": "R.1", "sure": sure})
    feet = ("twenty-one feet", "length_ft", {"thing": "R.1"})
    got = record(say("the pipe is done, twenty-one feet and two inches of it", PIPE, feet, inches))
    assert (got.runs[0].length_ft, got.runs[0].drop_in) == (length, drop)
    assert (("R-1", "length_ft", "low_confidence") in asked(got)) == (drop is None)


def test_the_same_pipe_may_be_told_by_its_size_alone():
    got = record(
        say("run one is 4 inch", RUNS[0], ("4 inch", "nominal_in", {"thing": "R.1"})),
        say("run two the same pipe", RUNS[1], ("the same pipe", "same", {"thing": "R.2"})),
    )
    assert got.runs[1].nominal_in == 4


def test_a_time_of_a_test_that_nobody_named_is_asked_about():
    got = record(say("that one ran 5 minutes", ("5 minutes", "duration_s", {"thing": "T.9"})))
    assert not got.tests
    assert asked(got) == {("job", "duration_s", "low_confidence")}
    assert [number.went for number in got.numbers] == ["question"]


@pytest.mark.parametrize(("first", "tests"), [([], 1), ([("5 minutes", "duration_s", {"thing": "T.1"})], 2)])
def test_a_test_that_was_only_named_is_the_one_told_of_later(first, tests):
    again = ("the hose", "test", {"name": "hose", "thing": "T.2", "at": "R.1"})
    got = record(
        say("ran the hose on the pipe 5 minutes", HOSE, PIPE, *first),
        say("the hose 9 minutes", again, ("9 minutes", "duration_s", {"thing": "T.2"})),
    )
    assert [test.duration_s for test in got.tests][-1] == 540
    assert len(got.tests) == tests


def test_an_issue_read_in_two_spans_is_one():
    first = ("there are", "issue", {"name": "roots", "thing": "I.1", "at": "R.1"})
    rest = ("roots in the pipe", "issue", {"name": "roots", "thing": "I.2", "at": "R.1"})
    got = record(say("there are roots in the pipe", first, rest, PIPE))
    assert [issue.text for issue in got.issues] == ["there are roots in the pipe"]


def test_a_number_that_is_no_value_and_no_part_of_a_name_is_listed():
    got = record(say("the pipe and 40 more", PIPE, ("40", "none", {})))
    assert [(number.text, number.went, number.reason) for number in got.numbers] == [("40", "irrelevant", "other")]


def test_words_read_as_bedding_and_backfill_are_backfill():
    bed, fill = {"thing": "R.1", "sure": 0.9}, {"thing": "R.1", "sure": 0.8}
    got = record(say("backfill on the pipe is sand", PIPE, ("sand", "bedding", bed), ("sand", "backfill", fill)))
    assert (got.runs[0].bedding, got.runs[0].backfill) == (None, "sand")


@pytest.mark.parametrize(("orders", "left"), [(1, 42), (2, 40)])
def test_each_withdrawal_takes_back_the_last_note_that_stands(orders, left):
    notes = [say(words, (words, "length_ft", {"thing": "R.1"})) for words in ("40 feet", "42 feet", "44 feet")]
    scratch = [say("scratch that", ("scratch that", "order", {"name": "withdraw_note"})) for _ in range(orders)]
    assert record(say("the pipe", PIPE), *notes, *scratch).runs[0].length_ft == left


def test_a_planned_count_of_a_task_costs_nothing():
    task = ("buy four caps", "task", {"name": "buy"})
    got = record(say("buy four caps", task, ("four", "count", {"standing": "planned"})))
    assert [each.count for each in got.tasks] == [4]


def test_pieces_are_hedged_where_one_of_them_is():
    ten, four = {"thing": "R.1"}, {"thing": "R.1", "standing": "hedged"}
    words = "the pipe is ten feet and maybe four feet"
    got = record(say(words, PIPE, ("ten feet", "pieces_ft", ten), ("four feet", "pieces_ft", four)))
    assert "hedged" in {why for _, _, why in asked(got)}


def test_a_sure_fitting_leaves_the_question_about_another_open():
    three = ("three 45s", "fitting", {"name": "elbow", "thing": "R.1", "standing": "hedged"})
    wye = ("one wye", "fitting", {"name": "wye", "thing": "R.1"})
    got = record(say("the pipe has about three 45s", PIPE, three), say("and one wye on it", wye))
    assert ("R-1", "fittings", "hedged") in asked(got)


def test_a_fitting_that_does_not_stand_is_answered_by_another_telling_of_its_kind_alone():
    def told(words, name, standing=""):
        return words, "fitting", {"name": name, "thing": "R.1", "standing": standing}

    doubted = say("the pipe has forty bends", PIPE, told("forty bends", "elbow", "implausible"))
    count = ("two", "name", {"thing": "R.1"})
    wye, bends = say("one wye on it", told("one wye", "wye")), say("two bends", count, told("two bends", "elbow"))
    assert ("R-1", "fittings", "implausible") in asked(record(doubted, wye))
    assert not asked(record(doubted, wye, bends)) & {("R-1", "fittings", "implausible")}


def tie(words, **more):
    return words, "tie", {"thing": "CB.1", "number_of": True, **more}


def test_two_ties_told_at_once_both_stand():
    words = "the basin is 18 feet to the garage corner and 22 feet to the meter post"
    got = record(say(words, BASIN, tie("18 feet"), tie("22 feet")))
    told = [(each.from_, each.distance_ft) for each in got.structures[0].ties]
    assert told == [("garage corner", 18), ("meter post", 22)]


def test_ties_to_no_point_that_was_named_stand_beside_each_other():
    got = record(say("the basin is 18 feet in", BASIN, tie("18 feet")), say("22 feet out", tie("22 feet")))
    assert [each.distance_ft for each in got.structures[0].ties] == [18, 22]


@pytest.mark.parametrize(("standing", "conflict"), [("", True), ("corrects", False)])
def test_two_distances_from_one_point_are_a_conflict_unless_one_puts_right(standing, conflict):
    first = say("the basin is 18 feet from the garage corner", BASIN, tie("18 feet"))
    got = record(first, say("28 feet from the garage corner", tie("28 feet", standing=standing)))
    assert [each.distance_ft for each in got.structures[0].ties] == [28]
    assert (("CB-1", "ties", "conflict") in asked(got)) == conflict
    assert [each.went for each in got.numbers] == ["withdrawn", "field"]


def test_each_number_that_is_of_nothing_is_asked_about():
    got = record(say("it is 42 feet", ("42 feet", "length_ft")), say("that one is 18 feet", ("18 feet", "length_ft")))
    assert [each.evidence[0].note for each in got.questions] == [0, 1]


@pytest.mark.parametrize(("standing", "state"), [("", "installed"), ("denied", None)])
def test_a_basin_that_a_run_is_said_not_to_reach_is_not_built_by_it(standing, state):
    got = record(
        say("a pipe is in, and the basin by the gate", ("a pipe", "mention", {"name": "R", "thing": "R.1"}),
            ("is in", "state", {"name": "installed", "thing": "R.1"}), BASIN),
        say("it goes to the basin", (*BASIN[:2], BASIN[2] | {"to_of": "R.1", "standing": standing})),
    )  # fmt: skip
    assert got.structures[0].state == state
    assert got.runs[0].to == ("CB-1" if state else None)


def crossing(words, **more):
    return words, "crossing", {"thing": "R.1", **more}


def place(words):
    return crossing(words, number_of=True)


@pytest.mark.parametrize(
    ("text", "spans", "number", "what"),
    [
        ("Gas line crosses the pipe at 12 feet", ["Gas line crosses", "at 12 feet"], "12 feet", "Gas line"),
        ("Gas line crosses the pipe at 12 feet", ["at 12 feet"], "12 feet", "Gas line"),
        ("Gas line crosses the pipe at 12 feet", ["Gas line crosses the"], "12 feet", "Gas line"),
        ("the pipe crosses a gas line at 12 feet", ["a gas line at 12 feet"], "12 feet", "gas line"),
        ("the pipe is in, 34 feet, and a gas line crosses it at 12 feet", [], "12 feet", "gas line"),
        ("the pipe crosses under a walk at 12 feet", [], "12 feet", "walk"),
        ("There's an old clay line crossing the pipe at 9 feet", [], "9 feet", "old clay line"),
        ("on the pipe, the power cable goes over at 9 feet", ["the power cable goes over"], "9 feet", "power cable"),
        ("on the pipe a water line runs across at 9 feet", [], "9 feet", "water line"),
        ("una línea de gas cruza the pipe a 12 feet", ["una línea de gas cruza the pipe a 12 feet"], "12 feet",
         "línea de gas"),
        ("sobre the pipe pasa un cable a 12 feet", [], "12 feet", "cable"),
        ("Gas line crosses the pipe at 12 feet, water line at 20 feet", ["Gas line crosses", "water line at 20 feet"],
         "12 feet", "Gas line"),
    ],
)  # fmt: skip
def test_what_is_crossed_is_named_without_the_verb_and_the_run(text, spans, number, what):
    got = record(say(text, *map(crossing, spans), PIPE, place(number)))
    assert [each.what for each in got.runs[0].crossings if each.at_ft is not None] == [what]
    assert ("R-1", "crossings", "low_confidence") not in asked(got)


def test_what_is_crossed_and_has_no_name_is_asked():
    got = record(say("it crosses the pipe at 12 feet", PIPE, place("12 feet")))
    assert ("R-1", "crossings", "low_confidence") in asked(got)


def _length(words, standing=""):
    return (words, "length_ft", {"thing": "R.1", "standing": standing})


@pytest.mark.parametrize(
    ("words", "length", "cover"),
    [
        ("no, not 15 on the pipe, 50", 50, 18),
        ("50 on the pipe, not 15", 50, 18),
        ("no, not 15, the cover is 20 inches", 15, 20),
        ("cover on the pipe is 20, not 15", 15, 20),
    ],
)
def test_a_bare_number_that_is_denied_tells_what_is_put_right_and_it_is_asked_about(words, length, cover):
    new = "50" if "50" in words else "20 inches" if "inches" in words else "20"
    got = record(
        say("the pipe is 15 feet, 18 inches", PIPE, _length("15 feet"), ("18 inches", "cover_in", {"thing": "R.1"})),
        say(
            words,
            ("15", "cover_in", {"thing": "R.1", "standing": "denied"}),
            (new, "cover_in", {"thing": "R.1", "standing": "corrects", "sure": 0.6}),
        ),
    )
    assert (got.runs[0].length_ft, got.runs[0].cover_in) == (length, cover)
    assert ("R-1", "length_ft" if length == 50 else "cover_in", "low_confidence") in asked(got)


def test_a_number_denied_that_stands_nowhere_leaves_the_other_where_it_was_read():
    got = record(
        say("the pipe is 15 feet", PIPE, _length("15 feet")),
        say(
            "not 12, 20 on the pipe",
            PIPE,
            ("12", "cover_in", {"thing": "R.1", "standing": "denied"}),
            ("20", "cover_in", {"thing": "R.1", "standing": "corrects"}),
        ),
    )
    assert (got.runs[0].length_ft, got.runs[0].cover_in) == (15, 20)


def test_where_a_fitting_lies_is_told_behind_it_and_makes_no_second_one():
    tee = {"name": "tee", "thing": "R.1"}
    got = record(
        say(
            "a tee on the pipe, twelve feet down",
            PIPE,
            ("a tee", "fitting", tee),
            (", twelve feet down", "fitting", tee),
            ("twelve feet", "fitting", {"thing": "R.1"}),
        ),
    )
    assert [(each.kind, each.count, each.at_ft) for each in got.runs[0].fittings] == [("tee", 1, 12)]


def test_a_fitting_told_again_with_its_place_is_one():
    tee = {"name": "tee", "thing": "R.1"}
    got = record(
        say("a tee on the pipe", PIPE, ("a tee", "fitting", tee)),
        say(
            "the tee at 11 feet",
            ("the tee at 11 feet", "fitting", tee | {"standing": "again"}),
            ("11 feet", "fitting", {"thing": "R.1"}),
        ),
        say(
            "a tee at 20 feet",
            ("a tee at 20 feet", "fitting", tee),
            ("20 feet", "fitting", {"thing": "R.1"}),
        ),
    )
    assert [(each.count, each.at_ft) for each in got.runs[0].fittings] == [(1, 11), (1, 20)]


@pytest.mark.parametrize(
    ("said", "places", "why"),
    [
        (["a tee at 12 feet", "the tee at 14 feet"], [14], "conflict"),
        (["a tee at 400 feet"], [400], "implausible"),
        (["two tees", "at 20 feet"], [None], None),
    ],
)
def test_a_place_in_doubt_is_asked_about(said, places, why):
    tee, notes = {"name": "tee", "thing": "R.1"}, [say("the pipe is 40 feet", PIPE, _length("40 feet"))]
    for words in said:
        start = words.find("at ")
        numbers = [(words[start + 3 :] if start >= 0 else words.split()[0], "fitting", {"thing": "R.1"})]
        notes.append(say(words, (words, "fitting", tee | {"standing": "again" if "the" in words else ""}), *numbers))
    got = record(*notes)
    assert got.runs[0].fittings[0].at_ft == places[0]
    assert why is None or ("R-1", "fittings", why) in asked(got)


def test_a_distance_that_is_no_place_is_asked_about():
    wye = "a wye at 10 feet from basin two"
    got = record(say(wye, (wye, "fitting", {"name": "wye", "thing": "R.1"}), ("10 feet", "fitting", {"thing": "R.1"})))
    assert got.runs[0].fittings[0].at_ft is None
    assert [number.went for number in got.numbers] == ["question"]
    assert got.questions


def test_a_number_of_what_was_asked_after_is_not_lost():
    nine = ("run nine", "mention", {"name": "R", "thing": "R.9", "number": 9})
    got = record(say("how long is run nine? 900 yards", nine, ("900 yards", "length_ft", {"thing": "R.9"})))
    assert ("R-9", "length_ft", "implausible") in asked(got)


def test_a_count_that_is_denied_puts_no_size_right():
    elbow, size = {"name": "elbow", "thing": "R.1"}, {"thing": "R.1"}
    no, yes = {"standing": "denied"}, {"standing": "corrects"}
    got = record(
        say("the pipe is 3 inch", PIPE, ("3 inch", "nominal_in", size)),
        say(
            "not 3, 4 45s on it",
            ("3", "fitting", size | no),
            ("4 45s", "fitting", elbow | yes),
            ("4", "fitting", size | yes),
        ),
    )
    assert got.runs[0].nominal_in == 3


def test_what_is_only_asked_after_is_no_thing():
    nine = ("run nine", "mention", {"name": "R", "thing": "R.9", "number": 9})
    got = record(say("is run nine in yet?", nine))
    assert not got.runs
    assert not got.questions
    got = record(
        say("is run nine in yet?", nine), say("run nine is 40 feet", nine, ("40 feet", "length_ft", {"thing": "R.9"}))
    )
    assert [(run.label, run.length_ft) for run in got.runs] == [("R-9", 40)]
