"""Measures as crews say them: slopes by a ratio, several runs at once, figures that are no measurement."""

import pytest

from extract.assemble import assemble
from extract.record import Note


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


def test_one_length_for_two_runs_is_nobodys():
    record = read("Runs one and two are in, forty feet.")
    assert [r.length_ft for r in record.runs] == [None, None]
    assert {("R-1", "length_ft", "low_confidence"), ("R-2", "length_ft", "low_confidence")} <= asked(record)


def test_what_both_have_goes_to_both():
    record = read("Runs one and two both have fourteen inches of cover.")
    assert [r.cover_in for r in record.runs] == [14, 14]


@pytest.mark.parametrize(
    "said",
    ["Run one is in, about forty feet.", "Run one is in, forty feet or so.", "Run one is in, just shy of forty feet."],
)
def test_a_hedged_figure_of_what_is_built_is_asked_about(said):
    record = read(said)
    assert run(record, "R-1").length_ft == 40
    assert ("R-1", "length_ft", "low_confidence") in asked(record)


def test_a_hedged_plan_is_not_asked_about():
    assert read("Plan is run one from basin one to the pop-up, about forty feet.").questions == []


@pytest.mark.parametrize(
    ("said", "field"),
    [
        ("Kid measured run one again, forty-two.", "length_ft"),
        ("Drop on run one is four.", "drop_in"),
        ("Run one was supposed to be thirty feet but it came out thirty-three.", "length_ft"),
    ],
)
def test_a_number_that_found_no_place_is_asked_about(said, field):
    record = read("Run one is in, forty feet.", said)
    assert ("R-1", field, "low_confidence") in asked(record)
    assert run(record, "R-1").length_ft == 40


def test_how_far_off_something_is_is_no_length():
    record = read("Run one is in, forty feet.", "Basin one is twenty feet from run one.")
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
