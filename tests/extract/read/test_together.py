"""What is told of several things at once, and what of one of them alone."""

import pytest

from extract.assemble import assemble
from extract.read.together import parts_of_name
from extract.record import Note, Record

YARD = (
    "Run one goes from basin one to basin two, 20 feet. Run two goes from basin two to basin three, 30 feet. "
    "Run three goes from basin three to the pop-up, 40 feet."
)


def read(*texts: str) -> Record:
    return assemble([Note(text=text) for text in (YARD, *texts)])


def doubted(record: Record, field: str) -> set[str | None]:
    return {each.about for each in record.questions if each.field == field}


@pytest.mark.parametrize(
    ("said", "sizes"),
    [
        ("Runs one and two are four inch.", [4, 4, None]),
        ("Runs one through three are all laid, all four-inch SDR 35.", [4, 4, 4]),
        ("Runs three through one are four inch.", [4, 4, 4]),
        ("Both run one and run two are four inch.", [4, 4, None]),
        ("All three runs are four-inch.", [4, 4, 4]),
        ("All the pipe is four-inch SDR 35.", [4, 4, 4]),
        ("Runs one through three are four inch, run two is six inch.", [4, 6, 4]),
        ("Runs one and two are four inch and run three is six.", [4, 4, 6]),
        ("Run one is four inch and run two is six.", [4, 6, None]),
        ("Runs one and two are in and run two is six inch.", [None, 6, None]),
        ("Run one is six inch, runs one and two are in.", [6, None, None]),
        ("Run two ties into run one, and run three is four inch.", [None, None, 4]),
    ],
)
def test_a_size_is_of_what_it_is_told_of(said, sizes):
    assert [each.nominal_in for each in read(said).runs] == sizes


@pytest.mark.parametrize(
    ("said", "covers"),
    [
        (["Runs one, two and three all have 12 inches of cover."], [12, 12, 12]),
        (["Each run has 12 inches of cover."], [12, 12, 12]),
        (["12 inches of cover on runs one and two."], [12, 12, None]),
        (["Cover is 12 inches on run one and 15 on run two."], [12, 15, None]),
        (["Twelve inches of cover on run one, and run two has two 45s."], [12, None, None]),
        (["Run one and two are in, cover on two is 12 inches."], [None, 12, None]),
        (["Run one has 20 inches of cover.", "Runs one and three are good, run three's got 8 inches of cover."],
         [20, None, 8]),
        (["Runs one and two have 12 inches of cover.", "Make that 14 inches."], [14, 14, None]),
        (["Runs one and two have 12 inches of cover.", "Twelve isn't right, it's 14."], [14, 14, None]),
        (["Runs one and two have 12 inches of cover.", "Scratch the cover."], [None, None, None]),
        (["Runs one and two have 12 inches of cover.", "Correction, cover on run one is 16 inches."],
         [16, 12, None]),
    ],
)  # fmt: skip
def test_a_cover_is_of_what_it_is_told_of_and_put_right_where_it_was_told(said, covers):
    assert [each.cover_in for each in read(*said).runs] == covers


@pytest.mark.parametrize(
    ("said", "field"),
    [
        ("All the pipe but run two is four inch.", "nominal_in"),
        ("All the pipe is laid, 6 inch on the last one.", "nominal_in"),
        ("All the pipe from basin three to the pop-up is six inch.", "nominal_in"),
        ("Picked up all the pipe, four inch SDR 35.", "nominal_in"),
        ("Almost all of the pipe is four inch SDR 35.", "nominal_in"),
        ("Both runs are at one percent.", "slope_pct"),
        ("12 inches of cover on run one and run two.", "cover_in"),
        ("Run one and run two: 12 inches of cover.", "cover_in"),
        ("Runs one and two fall 9 inches total.", "drop_in"),
        ("Runs one and two drop 4 inches each.", "drop_in"),
        ("Two 45s each on runs one and two.", "fittings"),
    ],
)
def test_what_may_be_of_several_or_of_one_is_asked_about(said, field):
    record = read(said)
    told = [each.label for each in record.runs if getattr(each, field)]
    assert told
    assert set(told) <= doubted(record, field)


def test_basins_named_together_are_of_one_size_until_one_is_put_right():
    said = "Basins one and two are 12 by 12."
    assert [each.size_in for each in read(said).structures[:3]] == [[12, 12], [12, 12], None]
    assert [each.size_in for each in read(said, "I mean 24 by 24.").structures[:3]] == [[24, 24], [24, 24], None]


def test_a_row_of_runs_shares_its_state_and_pipe():
    record = read("Runs one through three are abandoned, all SDR 35.")
    assert [(each.state, each.pipe) for each in record.runs] == [("abandoned", "SDR 35")] * 3


def test_a_number_told_of_two_stands_until_neither_has_it():
    said = ("Runs one and two have 12 inches of cover.", "Correction, cover on run two is 16 inches.")
    twelve = [each for each in read(*said).numbers if each.note == 1]
    assert [(each.went, each.to) for each in twelve] == [("field", "R-1.cover_in")]
    twelve = [each for each in read(said[0], "Scratch the cover.").numbers if each.note == 1]
    assert [each.went for each in twelve] == ["withdrawn"]


def test_a_length_told_once_of_two_runs_is_shared_by_neither():
    record = assemble([Note(text="Runs one and two are in, forty feet.")])
    assert {"R-1", "R-2"} <= doubted(record, "length_ft")


def test_a_row_names_what_lies_between_though_nobody_spoke_of_it():
    record = assemble([Note(text="Runs one through four are four inch SDR 35."), Note(text="Run two is 30 feet.")])
    assert sorted((each.label, each.nominal_in) for each in record.runs) == [(f"R-{n}", 4) for n in (1, 2, 3, 4)]
    assert record.subject("R-2").length_ft == 30


@pytest.mark.parametrize(
    ("said", "field", "values"),
    [
        (["All the pipe is four inch.", "Run three has 12 inches of cover.", "Actually it's six inch pipe."],
         "nominal_in", [4, 4, 6]),
        (["All runs have 12 inches of cover.", "Run two is SDR 35.", "No wait, 9 inches of cover."],
         "cover_in", [12, 9, 12]),
        (["Runs one and two have 12 inches of cover.", "Forget the cover on run one."], "cover_in", [None, 12, None]),
    ],
)  # fmt: skip
def test_once_another_is_spoken_of_a_figure_is_of_that_one_alone(said, field, values):
    assert [getattr(each, field) for each in read(*said).runs] == values


def test_two_figures_of_two_runs_read_crosswise_are_both_asked_about():
    record = read("Runs one and two drop 3 and 4 inches.")
    crossed = [each.drop_in for each in record.runs[:2]] != [3, 4]
    assert not crossed or {"R-1", "R-2"} <= doubted(record, "drop_in")


@pytest.mark.parametrize(
    ("name", "parts"),
    [
        ("Runs one through three", ["Runs one", "three"]),
        ("runs one and", ["runs one"]),
        ("basins 2, 3 and 4", ["basins 2", "3", "4"]),
        ("run two", ["run two"]),
        ("the corner basin", ["the corner basin"]),
    ],
)
def test_a_list_or_row_read_as_one_name_is_parted(name, parts):
    assert [name[low:high] for low, high in parts_of_name(name, 0, len(name))] == parts
