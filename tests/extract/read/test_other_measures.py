"""Measures, captions and troubles that look like what they are not."""

import pytest

from extract.assemble import assemble
from extract.record import Note, Record


def read(*texts: str) -> Record:
    return assemble([Note(text=text) for text in ("Run one is in.", "Run two is in.", *texts)])


def asked(record: Record) -> set[tuple[str | None, str | None]]:
    return {(each.about, each.field) for each in record.questions}


@pytest.mark.parametrize(
    ("said", "field"),
    [
        ("Camera went 40 feet into run one, clean.", "length_ft"),
        ("Hose test run one, 100 foot hose, clean.", "length_ft"),
        ("Run one's old length was 40 feet.", "length_ft"),
        ("Run one is 18 inches from run two.", "cover_in"),
    ],
)
def test_what_may_be_of_something_else_is_asked_about_or_left_out(said, field):
    record = read(said)
    assert getattr(record.subject("R-1"), field) is None or ("R-1", field) in asked(record)


@pytest.mark.parametrize(
    "said", ["Phone line six inches above run two at twenty-two feet.", "Gas line passes eight inches under run two."]
)
def test_how_far_off_a_line_passes_is_not_how_deep_it_lies(said):
    record = read(said)
    assert all(each.depth_in is None for each in record.subject("R-2").crossings)
    assert ("R-2", "crossings") in asked(record)


def test_full_sticks_of_no_told_length_are_asked_about():
    record = read("Run two is twenty-eight feet, two full sticks and an eight-foot cut.")
    assert (record.subject("R-2").length_ft, record.subject("R-2").pieces_ft) == (28, [])
    assert ("R-2", "pieces_ft") in asked(record)


@pytest.mark.parametrize(
    ("said", "tasks"),
    [
        ("Photo of basin two, with the rod in it.", 0),
        ("Photo of the pop-up with the lid open.", 0),
        ("Photo of basin two before we cover it, tomorrow.", 1),
    ],
)
def test_a_caption_is_no_task(said, tasks):
    assert len(read("Basin two is set.", said).tasks) == tasks


def test_a_trouble_of_a_doubtful_kind_is_told_by_its_words():
    record = read("Run one has a drip at the wye, fixed it with new glue.")
    assert [each.kind for each in record.issues] == ["other"]


def test_a_height_said_with_an_oh_reads_one_way():
    record = read("The rim on basin one is ninety-seven oh five.")
    assert record.subject("CB-1").rim_ft == 97.05
    assert ("CB-1", "rim_ft") not in asked(record)
    assert ("CB-1", "rim_ft") in asked(read("The rim on basin one is ninety-seven four."))


def test_how_thick_a_bedding_is_stands_in_its_words():
    record = read("Bedding on run one, three inches of pea gravel.")
    assert record.subject("R-1").bedding == "three inches of pea gravel"
    assert [(each.went, each.to) for each in record.numbers] == [("text", "bedding")]
