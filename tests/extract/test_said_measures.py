"""Measures as crews say them: slopes by a ratio, several runs at once, figures that are no measurement."""

import pytest

from extract.assemble import assemble
from extract.record import Note, Word


def read(*texts):
    return assemble([Note(text=text) for text in texts])


def run(record, label):
    return next(r for r in record.runs if r.label == label)


def asked(record):
    return {(q.about, q.field, q.why) for q in record.questions}


@pytest.mark.parametrize(
    ("said", "percent"),
    [
        ("Slope on run one is one in eighty.", 1.25),
        ("Run one, slope 1:80.", 1.25),
        ("Run one falls 3 in 20 feet.", 1.25),
        ("Run one falls two inches in every fifteen feet.", 1.1111),
        ("Run one falls two feet in a hundred.", 2),
        ('Run one, 1/8"/ft.', 1.0417),
    ],
)
def test_a_slope_is_said_as_a_ratio(said, percent):
    assert run(read("Run one is in, forty feet.", said), "R-1").slope_pct == percent


def test_lengths_of_two_runs_go_in_order():
    record = read("Runs one and two are in, thirty and forty feet.")
    assert [(r.label, r.length_ft) for r in record.runs] == [("R-1", 30), ("R-2", 40)]


def test_one_length_for_two_runs_is_asked_about_for_both():
    record = read("Runs one and two are in, forty feet.")
    assert all(run.length_ft in (None, 40) for run in record.runs)
    assert {("R-1", "length_ft"), ("R-2", "length_ft")} <= {(about, name) for about, name, _ in asked(record)}


def test_a_length_that_each_of_two_runs_has_is_no_sum():
    record = read("Run one and run two both come out at 25 feet.")
    assert [(r.label, r.length_ft) for r in record.runs] == [("R-1", 25), ("R-2", 25)]
    assert "length_ft" not in {name for _, name, _ in asked(record)}


@pytest.mark.parametrize(
    "said",
    [
        ("Runs one and two are both done, 80 feet.",),
        ("Runs one and two both go to catch basin one, 60 feet.",),
        ("Runs one and two are 80 feet.", "No, 82."),
        ("Runs one and two are 50 feet in all.",),
    ],
)
def test_a_length_that_may_be_of_both_runs_in_all_is_asked_about(said):
    record = read(*said)
    assert {each.label for each in record.runs if each.length_ft} <= {
        about for about, name, _ in asked(record) if name == "length_ft"
    }


@pytest.mark.parametrize(
    "said",
    ["Run one is in, about forty feet.", "Run one is in, forty feet or so.", "Run one is in, just shy of forty feet."],
)
def test_a_hedged_figure_of_what_is_built_is_asked_about(said):
    record = read(said)
    assert run(record, "R-1").length_ft == 40
    assert ("R-1", "length_ft", "hedged") in asked(record)


def test_a_hedged_plan_is_not_asked_about():
    record = read("Plan is run one from basin one to the pop-up, about forty feet.")
    assert run(record, "R-1").length_ft == 40
    assert not {field for about, field, _ in asked(record) if about == "R-1"}


@pytest.mark.parametrize(
    ("said", "field", "length"),
    [
        ("Drop on run one is four.", "drop_in", 40),
    ],
)
def test_a_number_with_no_unit_is_asked_about(said, field, length):
    record = read("Run one is in, forty feet.", said)
    assert ("R-1", field) in {(about, name) for about, name, _ in asked(record)}
    assert run(record, "R-1").length_ft == length


@pytest.mark.parametrize(
    "said",
    [
        "Run one was supposed to be thirty feet but it came out thirty-three.",
        "Plan shows run one at thirty feet, we measured thirty-three.",
        "Run one was bid at thirty feet, it's really thirty-three.",
        "Run one, quoted thirty feet, actual thirty-three.",
        "They wanted thirty feet on run one, got thirty-three.",
    ],
)
def test_the_crews_own_figure_stands_beside_the_one_that_was_wanted(said):
    record = read("Run one is in, forty feet.", said)
    assert ("R-1", "length_ft", "conflict") in asked(record)
    assert run(record, "R-1").length_ft == 33


@pytest.mark.parametrize(
    "said",
    [
        "Run one needs forty feet.",
        "Run one was bid at forty feet.",
        "Dug run one, forty feet.",
        "Trench on run one is forty feet, no pipe yet.",
        "Took out forty feet of old pipe at run one.",
        "Saw cut forty feet of sidewalk for run one.",
        "Put a cleanout forty feet up run one.",
    ],
)
def test_feet_of_something_else_are_no_length_of_the_run(said):
    record = read("Run one is in.", said)
    assert run(record, "R-1").length_ft is None


@pytest.mark.parametrize(
    "said",
    [
        "Run one is over 40 feet.",
        "Run one can't be more than 40 feet.",
        "I'd say run one's 40 feet.",
        "I paced run one off at 40 feet.",
        "Run one is 40ish feet.",
        "Run one, first 40 feet is in.",
        "Got 40 feet of run one in before lunch.",
        "Run one took four sticks.",
        "Run one is forty and a quarter.",
    ],
)
def test_a_figure_that_is_no_measure_is_asked_about(said):
    asked_about = {question.about for question in read("Run one is in.", said).questions}
    assert "R-1" in asked_about


@pytest.mark.parametrize(
    ("said", "lengths"),
    [
        ("Run one's 44 feet and run two's 52.", (44, 52)),
        ("44 feet on run one, 52 on run two.", (44, 52)),
        ("Run one 44, run two 52 feet.", (44, 52)),
    ],
)
def test_a_unit_is_carried_along_one_breath(said, lengths):
    record = read("Run one is in. Run two is in.", said)
    assert (run(record, "R-1").length_ft, run(record, "R-2").length_ft) == lengths


def test_a_run_named_wrongly_gives_what_it_holds_to_the_right_one():
    record = read("Run one is in, 44 feet.", "I said run one, I meant run two.")
    assert [each.label for each in record.runs] == ["R-2"]
    assert run(record, "R-2").length_ft == 44


def test_a_branch_line_is_a_run_of_its_own():
    record = read("Run one is in, 44 feet.", "Tied downspout two into run one with 12 feet of three inch.")
    assert run(record, "R-1").length_ft == 44
    assert (run(record, "R-2").from_, run(record, "R-2").length_ft, run(record, "R-2").nominal_in) == ("DS-2", 12, 3)


def test_in_plain_talk_a_measure_is_of_the_only_run_its_sentence_names():
    record = read("Run two is in. Run one is 42 feet.")
    assert (run(record, "R-1").length_ft, run(record, "R-2").length_ft) == (42, None)


def test_in_plain_talk_a_measure_of_a_run_is_of_no_other_thing():
    assert run(read("There are 50 feet of pipe in run one."), "R-1").length_ft == 50


@pytest.mark.parametrize(
    "said",
    [
        "Run one has 5 feet and 2 inches of cover.",
        "Cover on run one is 5 feet 2 inches.",
        "5 feet and 2 inches of cover on run one.",
    ],
)
def test_a_cover_in_feet_and_inches_is_one_measure(said):
    assert run(read(said), "R-1").cover_in == 62


def test_a_fitting_denied_with_none_in_its_place_is_asked_about():
    record = read("Run two has two 90s and a wye.", "There's no wye on run two.")
    assert ("R-2", "fittings") in {(each.about, each.field) for each in record.questions}


def test_how_far_off_something_is_is_no_length():
    record = read("Run one is in, forty feet. Basin one is set.", "Basin one is twenty feet from run one.")
    assert run(record, "R-1").length_ft == 40
    assert record.questions == []


def test_a_correction_goes_where_the_old_value_stands():
    record = read(
        "Basin one's set, twelve by twelve, invert is nineteen and a quarter inches down from the grate.",
        "Back on basin one, that nineteen and a quarter to the invert, make that nineteen and three-quarters.",
    )
    assert record.structures[0].invert_depth_in == 19.75
    assert record.questions == []


def test_a_slip_of_the_tongue_corrects_itself_and_nothing_else():
    record = read(
        "The channel drain is set, nineteen foot six long.",
        "From the channel to basin one we laid four-inch SDR 35, twelve foot three, make that thirteen foot two.",
    )
    assert record.structures[0].length_ft == 19.5
    assert run(record, "R-1").length_ft == 13.1667


def test_a_correction_in_feet_reaches_a_cover_in_inches():
    record = read("Run one is in, forty feet.", "Cover on run one is 12 inches.", "Make that a foot and a half.")
    assert (run(record, "R-1").length_ft, run(record, "R-1").cover_in) == (40, 18)


def test_a_bare_decimal_corrects_the_height_it_is_near():
    record = read("Basin one invert out is 96.20.", "Run one is in, forty feet.", "Make that 96.40.")
    assert record.structures[0].invert_out_ft == 96.4
    assert run(record, "R-1").length_ft == 40


@pytest.mark.parametrize(
    "said",
    [
        "Used four ten-foot sticks on run one, had three feet left over.",
        "Added ten feet to run one.",
        "Used fifty-five of the eighty feet on run one.",
        "Run one is forty to forty-two feet.",
        "Five sticks of ten foot on run one, cut three feet off the last.",
    ],
)
def test_a_length_that_must_be_worked_out_is_asked_about(said):
    assert ("R-1", "length_ft") in {(about, field) for about, field, _ in asked(read(said))}


def test_a_layer_of_stone_is_no_cover():
    record = read("Run one is fifty feet with eighteen inches of cover, six inches of bedding stone under it.")
    assert run(record, "R-1").cover_in == 18


def test_an_elevation_off_the_site_stands_nowhere():
    record = read("Basin one rim is 98.50.", "Foresight on basin one invert out 6.70, elevation 196.20.")
    assert record.structures[0].invert_out_ft is None
    assert record.levels[0].elevation_ft is None
    assert ("CB-1 invert_out", "elevation_ft", "implausible") in asked(record)


def test_two_runs_in_one_list_share_their_state_and_the_length_of_each_is_asked_about():
    record = read("Run one and run two are in, forty feet each.")
    assert [(r.label, r.state) for r in record.runs] == [("R-1", "installed"), ("R-2", "installed")]
    assert {("R-1", "length_ft"), ("R-2", "length_ft")} <= {(about, field) for about, field, _ in asked(record)}


def test_each_run_gets_what_is_said_behind_or_before_it():
    record = read(
        "Runs three and four are in.",
        "The slope is two point one percent on run three and zero point eight percent on run four.",
        "The pipe of run three is three-inch Schedule 40, and the pipe of run four is four-inch SDR 35.",
    )
    assert [(r.slope_pct, r.pipe, r.nominal_in) for r in record.runs] == [(2.1, "Schedule 40", 3), (0.8, "SDR 35", 4)]


def test_an_inch_piece_counts_among_the_pieces():
    record = read("Run one is in, SDR 35, one twenty foot stick and a six inch piece.")
    assert run(record, "R-1").length_ft == 20.5
    assert run(record, "R-1").nominal_in is None


def test_the_next_note_answers_the_question():
    record = read("Run two is in. How long's that one?", "Thirty-four and a half.")
    assert run(record, "R-2").length_ft == 34.5


def test_how_long_a_test_ran_is_no_length():
    record = read("Run one is in, forty feet.", "Hose test on run one. How long'd you run it?", "Twelve.")
    assert run(record, "R-1").length_ft == 40


UNTOUCHED = [
    "Run one was shallow, not run two.",
    "Run one is next to the fence.",
    "Run one was planned at forty feet.",
    "They wanted a drop of 6 inches on run one.",
    "Basin one is tied into run one, 44 feet.",
    "The trench for run one took 44 feet of digging.",
    "Marlo fell three feet off the truck.",
    "Had a hundred feet of it on the truck.",
    "We are two percent over budget on run one.",
    "Wye at 22 feet on run one.",
    "Lunch was 30 minutes, sorry.",
]


@pytest.mark.parametrize("said", UNTOUCHED)
def test_talk_that_measures_nothing_leaves_a_run_as_it_was(said):
    before = read("Run one from basin one to the pop-up is in, 44 feet.").runs[0]
    after = run(read("Run one from basin one to the pop-up is in, 44 feet.", said), "R-1")
    for name in ("state", "from_", "to", "length_ft", "drop_in", "slope_pct", "nominal_in", "pipe"):
        assert getattr(after, name) == getattr(before, name), name


@pytest.mark.parametrize(
    ("notes", "field", "value"),
    [
        (("Run one is forty feet.", "Scratch that, thirty-nine."), "length_ft", 39),
        (("Run one is forty feet, strike that, forty-one.",), "length_ft", 41),
        (("Run one is forty feet.", "Thirty-nine actually."), "length_ft", 39),
        (("Run one not forty feet but thirty.",), "length_ft", 30),
        (("Run one slopes one percent, no one and a half.",), "slope_pct", 1.5),
        (("Run one is in, 44 feet, 14 inches of cover.", "Make that 44 and a half."), "length_ft", 44.5),
        (("Run one is in, 38 feet, drops 6 inches.", "Scratch that, it drops 8 inches."), "drop_in", 8),
        (("Run one is in, 44 feet.", "What's the drop on run one?", "Six and a quarter."), "drop_in", 6.25),
        (("Run one has 16 inches of cover at the basin and only 9 at the driveway.",), "cover_in", 9),
        (("City wants 18 inches of cover on run one, we've got 20.",), "cover_in", 20),
        (("Run one, 10' + 10' + 4'6\", laid.",), "length_ft", 24.5),
        (("Run one, four ten footers.",), "length_ft", 40),
        (("Run one is in, fifteen feet.", "Correction, that's forty, four zero, feet."), "length_ft", 40),
        (("Run one drops three inches. Run one is forty-two feet.",), "length_ft", 42),
        (("Run one is 44 feet along the wall.",), "length_ft", 44),
    ],
)
def test_a_measure_in_other_words(notes, field, value):
    assert getattr(run(read(*notes), "R-1"), field) == value


@pytest.mark.parametrize(
    ("said", "size"),
    [
        ("Basin one is a twelve-inch square.", [12, 12]),
        ("Basin one is a twelve-inch basin.", [12, 12]),
        ("Basin one is a twelve-inch round basin.", [12]),
        ("Basin one has a 6 inch sump.", None),
        ("Basin one is set, 12 by 12 with a 4 inch outlet.", [12, 12]),
    ],
)
def test_a_basins_own_size(said, size):
    record = read("Basin one is set.", said)
    assert [each.label for each in record.structures] == ["CB-1"]
    assert record.structures[0].size_in == size


def test_both_sides_of_an_invert():
    basin = read("Basin one inverts are 98.04 in and 97.94 out.").structures[0]
    assert (basin.invert_in_ft, basin.invert_out_ft) == (98.04, 97.94)


@pytest.mark.parametrize(
    "said",
    [
        "Run four invert at the start is 100.35.",
        "Basin one invert out ninety-seven four.",
        "Run one forty feet four inch.",
        "Run one is 44 feet and 6.",
        "Set a two by two basin at the low spot.",
        "It's 14 inches down.",
        "Take a foot off that.",
    ],
)
def test_what_may_mean_two_things_is_asked_about(said):
    assert read("Run one is in, 44 feet.", said).questions


def test_what_stands_between_two_basins_is_a_run():
    record = read("Ran 44 feet of four inch between basin one and basin two.")
    assert (record.runs[0].from_, record.runs[0].to, record.runs[0].length_ft) == ("CB-1", "CB-2", 44)
    record = read("Basin one to basin two is 44 feet.")
    assert (record.runs[0].from_, record.runs[0].to, record.runs[0].length_ft) == ("CB-1", "CB-2", 44)


def test_feet_of_a_roof_are_no_size_of_a_structure():
    record = read("Set pop-up one.", "Roof to downspout one is 30 by 20.")
    assert all(each.size_in is None for each in record.structures)
    assert ("DS-1", "areas", "low_confidence") in asked(record)


@pytest.mark.parametrize(
    ("said", "field"),
    [
        ("Run one drops -2 inches.", "drop_in"),
        ("Run one falls minus two inches.", "drop_in"),
        ("Run one slope is negative one percent.", "slope_pct"),
        ("Run one is -20 feet.", "length_ft"),
    ],
)
def test_a_figure_below_zero_is_asked_about(said, field):
    record = read("Run one is in.", said)
    assert getattr(run(record, "R-1"), field) is None
    assert ("R-1", field, "implausible") in asked(record)


@pytest.mark.parametrize(
    ("said", "field", "value"),
    [
        ("Cover on two is fifteen inches.", "cover_in", 15),
        ("Cover on two, fifteen inches.", "cover_in", 15),
        ("Drop on 2 is three inches.", "drop_in", 3),
        ("Slope on two was one percent.", "slope_pct", 1),
        ("Length for two is forty feet.", "length_ft", 40),
    ],
)
def test_a_measure_on_a_bare_number_is_of_that_run(said, field, value):
    runs = "Run one is from basin one to outlet one. Run two is from basin two to outlet one."
    record = assemble([Note(text=runs), Note(text=said)])
    assert getattr(record.subject("R-2"), field) == value
    assert getattr(record.subject("R-1"), field) is None


def test_a_cover_on_a_bare_number_is_never_that_number():
    record = assemble([Note(text="Run one is in, twenty feet."), Note(text="Cover on two is fifteen.")])
    assert all(run.cover_in != 2 for run in record.runs)
    record = assemble([Note(text="Runs one and two are in."), Note(text="Cover on one and two is fifteen inches.")])
    assert [run.cover_in for run in record.runs] == [15, 15]


def test_a_cover_of_a_bare_number_is_still_that_number():
    record = assemble([Note(text="Run one is in, twenty feet, cover of 15, SDR 35.")])
    assert record.runs[0].cover_in == 15


def heard(text: str, confidence: float) -> Note:
    words = [Word(text=word, start_s=0, end_s=1, confidence=confidence) for word in text.split()]
    return Note(text=text, heard=text, confidence=confidence, words=words)


@pytest.mark.parametrize(
    ("said", "corrected", "asked"),
    [
        ("Drop on run two is 10 inches.", "Make that 9 inches.", ("R-2", "drop_in")),
        ("Rod on basin one rim, 5.42.", "Correction, rod on basin one rim, 5.62.", ("CB-1 rim", "rod_ft")),
        ("Air test on run two, ten minutes, pass.", "Make that fifteen minutes.", ("R-2", "duration_s")),
    ],
)
def test_a_correction_that_was_badly_heard_is_asked_about(said, corrected, asked):
    record = assemble([heard(said, 0.95), heard(corrected, 0.3)])
    assert asked in {(question.about, question.field) for question in record.questions}
    record = assemble([heard(said, 0.3), heard(corrected, 0.95)])
    assert asked not in {(question.about, question.field) for question in record.questions}


def test_a_fraction_that_lost_its_whole_number_is_asked_about():
    record = assemble([heard("Drop on run two is well, and a quarter inches.", 0.95)])
    assert ("R-2", "drop_in") in {(question.about, question.field) for question in record.questions}
    record = assemble([heard("Drop on run two is four and a quarter inches.", 0.95)])
    assert ("R-2", "drop_in") not in {(question.about, question.field) for question in record.questions}


def test_a_benchmark_s_elevation_badly_heard_is_asked_about():
    record = assemble([heard("Benchmark, elevation 100.", 0.3)])
    assert ("benchmark", "elevation_ft") in {(question.about, question.field) for question in record.questions}


IN_BRACKETS = ["Run 1 is installed, {} feet, four inch SDR 35.", "Run 1 is {} feet.", "Run 1 is in, length {} feet."]


@pytest.mark.parametrize("note", IN_BRACKETS)
@pytest.mark.parametrize(
    "said", ["forty five (35)", "five (25)", "forty (45)", "fifteen (5)", "six (60)", "one hundred forty five (45)"]
)
def test_figures_in_brackets_that_contradict_their_words_are_asked_about(note, said):
    assert "length_ft" in {
        q.field for q in read(note.format(said)).questions if q.why in ("conflict", "low_confidence", "hedged")
    }


def test_a_cover_said_twice_over_is_asked_about():
    assert "cover_in" in {q.field for q in read("Cover on run 1 is one hundred forty five (45) inches.").questions}


@pytest.mark.parametrize("note", IN_BRACKETS)
@pytest.mark.parametrize(
    ("said", "feet"),
    [
        ("forty-five (45)", 45),
        ("five (5)", 5),
        ("twenty (20)", 20),
        ("one hundred six (106)", 106),
        ("forty five and a half (45.5)", 45.5),
    ],
)
def test_figures_in_brackets_that_say_their_words_again_are_no_conflict(note, said, feet):
    record = read(note.format(said))
    assert run(record, "R-1").length_ft == feet
    assert not {"conflict", "implausible"} & {q.why for q in record.questions}
