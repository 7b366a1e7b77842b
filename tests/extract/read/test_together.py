"""What is told of several things at once."""

import pytest

from extract.assemble import assemble
from extract.record import Note, Record

YARD = (
    "Run one goes from basin one to basin two, 20 feet. Run two goes from basin two to basin three, 30 feet. "
    "Run three goes from basin three to the pop-up, 40 feet."
)


def read(*texts: str) -> Record:
    return assemble([Note(text=text) for text in (YARD, *texts)])


@pytest.mark.parametrize(
    ("said", "sizes"),
    [
        ("Runs one and two are four inch.", [4, 4, None]),
        ("Runs one through three are all laid, all four-inch SDR 35.", [4, 4, 4]),
        ("Both run one and run two are four inch.", [4, 4, None]),
        ("All three runs are four-inch.", [4, 4, 4]),
        ("All the pipe is four-inch SDR 35.", [4, 4, 4]),
        ("Run one is four inch and run two is six.", [4, 6, None]),
        ("Run two ties into run one, and run three is four inch.", [None, None, 4]),
    ],
)
def test_what_is_named_together_is_of_one_size(said, sizes):
    assert [each.nominal_in for each in read(said).runs] == sizes


@pytest.mark.parametrize(
    ("said", "covers"),
    [
        ("Runs one, two and three all have 12 inches of cover.", [12, 12, 12]),
        ("Cover is 12 inches on run one and 15 on run two.", [12, 15, None]),
        ("Twelve inches of cover on run one, and run two has two 45s.", [12, None, None]),
    ],
)
def test_a_cover_is_of_all_that_is_named_together_and_of_nothing_else(said, covers):
    assert [each.cover_in for each in read(said).runs] == covers


def test_basins_named_together_are_of_one_size():
    assert [each.size_in for each in read("Basins one and two are 12 by 12.").structures[:3]] == [[12, 12]] * 2 + [None]


def test_a_row_of_runs_shares_its_state_and_pipe():
    record = read("Runs one through three are abandoned, all SDR 35.")
    assert [(each.state, each.pipe) for each in record.runs] == [("abandoned", "SDR 35")] * 3


def test_both_of_three_runs_is_of_none_but_the_one_it_was_read_of():
    told = [each.nominal_in for each in read("Both runs are four inch.").runs]
    assert told.count(4) <= 1


def test_a_length_told_once_of_two_runs_is_shared_by_neither():
    record = assemble([Note(text="Runs one and two are in, forty feet.")])
    assert {("R-1", "length_ft"), ("R-2", "length_ft")} <= {(each.about, each.field) for each in record.questions}
