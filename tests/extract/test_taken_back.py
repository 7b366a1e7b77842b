"""What is taken back by its field alone, and figures that speak of one told right before."""

import pytest

from extract.assemble import assemble
from extract.record import Note, Record

RUN = "Run one's fifty feet long, fourteen inches of cover and drops 5 inches."


def read(*texts: str) -> Record:
    return assemble([Note(text=text) for text in texts])


def asked(record: Record) -> set[tuple[str | None, str | None]]:
    return {(each.about, each.field) for each in record.questions}


@pytest.mark.parametrize(
    ("order", "field"),
    [
        ("Scratch the drop.", "drop_in"),
        ("Scratch the length, we never taped it.", "length_ft"),
        ("Forget what I said about the cover, that was before grading.", "cover_in"),
        ("Ignore that drop.", "drop_in"),
    ],
)
def test_a_field_that_is_called_is_taken_back_alone(order, field):
    (before,), (after,) = read(RUN).runs, read(RUN, order).runs
    changed = {name for name in type(before).model_fields if getattr(before, name) != getattr(after, name)}
    assert changed - {"evidence"} == {field}
    assert getattr(after, field) is None


@pytest.mark.parametrize(
    ("order", "left"),
    [
        ("Scratch the drop and cover.", (50, None, None)),
        ("Forget the length and the fall.", (None, 14, None)),
        ("No wait, scratch the drop, forget that drop.", (50, 14, None)),
        ("Don't forget the cover.", (50, 14, 5)),
    ],
)
def test_all_fields_that_are_called_are_taken_back_once(order, left):
    (run,) = read(RUN, order).runs
    assert (run.length_ft, run.cover_in, run.drop_in) == left


@pytest.mark.parametrize(
    ("said", "left"),
    [
        (("Run one drops 5 inches.", "Run two drops 4 inches.", "No wait, scratch the drop, forget that drop."),
         {"R-1": 5}),
        (("Run one drops 5 inches.", "Run two is 30 feet.", "Scratch the drop on run two."), {"R-1": 5}),
        (("Run one falls 4 inches.", "Run two falls 3 inches.", "Scratch the fall on both."), {"R-1": 4, "R-2": 3}),
    ],
)  # fmt: skip
def test_what_an_order_may_not_mean_stands(said, left):
    record = read(*said)
    assert {each.label: each.drop_in for each in record.runs if each.drop_in} == left


@pytest.mark.parametrize(
    "said",
    [
        ("Run one drops 5 inches.", "Run two is 30 feet.", "Scratch the drop on run two."),
        ("Run one falls 4 inches.", "Run two falls 3 inches.", "Scratch the fall on both."),
    ],
)
def test_an_order_that_finds_nothing_or_several_is_asked_about(said):
    assert ("R-1", "drop_in") in asked(read(*said))


@pytest.mark.parametrize("order", ["Scratch the 50 foot length.", "The fifty was wrong."])
def test_the_number_named_is_taken_back_wherever_it_stands(order):
    record = read("Run one is 50 feet.", "Run two is 40 feet.", order)
    assert {each.label: each.length_ft for each in record.runs if each.length_ft} == {"R-2": 40}


@pytest.mark.parametrize("order", ["Scratch that elevation.", "Delete that reading.", "Scratch that rim and invert."])
def test_heights_of_a_basin_are_taken_back(order):
    record = read("Basin two rim 99.1.", order)
    assert all(each.rim_ft is None for each in record.structures)


def test_a_field_is_taken_back_of_what_holds_it():
    record = read("Basin one rim 99.1.", RUN, "Scratch the rim.")
    assert record.structures[0].rim_ft is None
    assert (record.runs[0].length_ft, record.runs[0].cover_in, record.runs[0].drop_in) == (50, 14, 5)


def test_a_field_that_nothing_holds_takes_nothing_back():
    record = read(RUN, "Delete the slope.")
    assert (record.runs[0].length_ft, record.runs[0].cover_in, record.runs[0].drop_in) == (50, 14, 5)


def test_a_reading_taken_back_is_no_longer_asked_about():
    record = read("Basin one rim 99.1.", "Foresight 5.2 on the rim of basin two.", "Scratch the last reading.")
    assert not record.levels
    assert "rod_ft" not in {field for _, field in asked(record)}


@pytest.mark.parametrize(
    ("notes", "doubted"),
    [
        (("Run two 26 feet and it falls 4 inches.", "Fall's good but the 26 isn't, she's 28."), ("R-2", "length_ft")),
        (("Sixteen inches cover run one.", "Sixteen was run two's. Run one's nineteen."), ("R-1", "cover_in")),
        (("Run one's thirty-seven feet.", "Thirty-seven is the neighbour's. Ours is seventeen."), ("R-1", "length_ft")),
    ],
)
def test_a_figure_told_of_again_by_itself_puts_what_stands_in_doubt(notes, doubted):
    assert doubted in asked(read(*notes))


@pytest.mark.parametrize(
    "said",
    [
        ("Run one is 42 feet.", "Run two is 42 feet."),
        ("Run one is 4 feet.", "Need 4 more sticks."),
        ("Run one is 4 feet.", "Run two falls 4."),
    ],
)
def test_the_same_figure_of_another_thing_puts_nothing_in_doubt(said):
    assert ("R-1", "length_ft") not in asked(read(*said))


def test_the_answer_to_a_question_opens_no_other():
    record = read("Benchmark is 100.", "Benchmark is 102.", "102.")
    assert "low_confidence" not in {each.why for each in record.questions}


def test_the_same_figure_told_again_settles_the_guess():
    guess, told = "Sixty or so feet on run three.", "Can confirm sixty on run three."
    assert "hedged" in {each.why for each in read(guess).questions}
    assert "hedged" not in {each.why for each in read(guess, told).questions}


@pytest.mark.parametrize("again", ["Two inches maybe, on run three.", "I think run three drops two inches, yeah."])
def test_a_guess_repeated_is_a_guess(again):
    record = read("Drop on run three maybe two inches.", again)
    assert "hedged" in {each.why for each in record.questions}


def test_a_fitting_taken_back_on_another_run_puts_the_one_that_stands_in_doubt():
    assert ("R-1", "fittings") in asked(read("There's a wye on run one.", "Ignore the wye, that's on run two."))
    assert ("R-1", "fittings") not in asked(read("There's a wye on run one.", "There's no wye on run two."))


@pytest.mark.parametrize(
    "said",
    [
        ("Run one has twelve inches of cover.", "That other pipe, no, that's the neighbor's, ignore it."),
        ("Run one has twelve inches of cover.", "Two by eight culvert, no, that's the neighbor's, ignore it."),
        ("Run one has twelve inches of cover.", "Don't forget the cover."),
    ],
)
def test_an_order_about_something_else_takes_nothing_back(said):
    assert read(*said).runs[0].cover_in == 12


@pytest.mark.parametrize("order", ["Forget the drop, cover is fine.", "Scratch the drop, not the cover."])
def test_what_an_order_leaves_stands(order):
    (run,) = read(RUN, order).runs
    assert (run.length_ft, run.cover_in, run.drop_in) == (50, 14, None)


def test_the_number_called_is_taken_back_and_not_the_note():
    (run,) = read(RUN, "Scratch the 14.").runs
    assert (run.length_ft, run.cover_in, run.drop_in) == (50, None, 5)


def test_a_height_is_taken_back_with_its_rod():
    record = read(
        "Benchmark 100, backsight 5.2.", "Foresight 5.7 on the rim of basin one, elevation 99.5.", "Scratch the rim."
    )
    assert [each.point for each in record.levels] == ["benchmark"]
    assert record.structures[0].rim_ft is None


def test_what_is_taken_off_a_figure_is_asked_about():
    assert ("R-1", "length_ft") in asked(read("Run one is 42 feet.", "Take off two feet."))


def test_a_field_that_is_called_takes_back_no_turning_point():
    said = ("Benchmark 100, backsight 5.2.", "Turning point, foresight 6.11.", "Run one has 14 inches of cover.")
    record = read(*said, "Scratch the cover on run one.")
    assert [each.point for each in record.levels] == [each.point for each in read(*said).levels]
    assert all(each.cover_in is None for each in record.runs)


def test_an_order_never_to_take_back_takes_nothing_back():
    (run,) = read("Run one drops 3 inches.", "Run one is 40 feet.", "never scratch the drop").runs
    assert (run.drop_in, run.length_ft) == (3, 40)


def test_never_elsewhere_in_an_order_leaves_it_one():
    said = "I never measured run one, scratch the length."
    assert read("Run one is 40 feet long, drops 3 inches.", said).runs[0].length_ft is None


def test_a_figure_of_several_is_taken_back_of_all():
    record = read("Runs one, two and three have 12 inches of cover.", "The 12 isn't right")
    assert [run.cover_in for run in record.runs] == [None, None, None]


def test_a_guess_that_was_checked_is_no_guess():
    record = read("Drop on run one maybe two inches.", "Two inches on run one, checked it with the level.")
    assert record.runs[0].drop_in == 2
    assert ("R-1", "drop_in") not in asked(record)


@pytest.mark.parametrize("again", ["Didn't tape it, maybe two inches on run one.", "Two inches, about, on the rod."])
def test_a_guess_told_again_unchecked_is_a_guess(again):
    assert ("R-1", "drop_in") in asked(read("Drop on run one maybe two inches.", again))
