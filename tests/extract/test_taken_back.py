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


def test_the_same_figure_of_another_run_puts_nothing_in_doubt():
    assert ("R-1", "length_ft") not in asked(read("Run one is 42 feet.", "Run two is 42 feet."))


@pytest.mark.parametrize(
    ("guess", "told"),
    [
        ("Drop on run three maybe two inches.", "No maybe about it, two inches on run three."),
        ("Sixty or so feet on run three.", "Can confirm sixty on run three."),
    ],
)
def test_the_same_figure_told_again_settles_the_guess(guess, told):
    assert "hedged" in {each.why for each in read(guess).questions}
    assert "hedged" not in {each.why for each in read(guess, told).questions}


def test_a_guess_repeated_is_a_guess():
    record = read("Drop on run three maybe two inches.", "Two inches maybe, on run three.")
    assert "hedged" in {each.why for each in record.questions}
