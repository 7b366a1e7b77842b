"""Areas that drain to a structure, as crews say them; and that no area is ever taken for a length."""

import pytest

from extract.assemble import assemble
from extract.record import Note, Record
from extract.spelling import normalise
from extract.text.quantities import find_quantities


def read(*notes: str) -> Record:
    return assemble([Note(text=text) for text in notes])


def areas(*notes: str) -> dict[str, list[tuple[float, str | None]]]:
    return {s.label: [(area.sqft, area.surface) for area in s.areas or []] for s in read(*notes).structures}


@pytest.mark.parametrize(
    ("text", "sqft"),
    [
        ("six hundred square feet", 600),
        ("600 square foot", 600),
        ("600 sq. ft. of roof", 600),
        ("600 sq ft.", 600),
        ("600sqft", 600),
        ("600sf", 600),
        ("600 ft²", 600),
        ("1,200 square-foot patio", 1200),
        ("ten square yards", 90),
        ("40 square meters", 430.5564),
    ],
)
def test_the_ways_of_saying_square_feet(text, sqft):
    (quantity,) = find_quantities(normalise(text))
    assert (round(quantity.value, 4), quantity.unit) == (sqft, "sqft")


def test_nine_feet_square_is_a_length_and_a_square_basin_a_size():
    assert [q.unit for q in find_quantities(normalise("nine feet square"))] == ["ft"]
    assert [q.unit for q in find_quantities(normalise("a 12 inch square basin"))] == ["in"]


@pytest.mark.parametrize(
    ("notes", "expected"),
    [
        (["Roof to downspout one is 600 square feet."], {"DS-1": [(600, "roof")]}),
        (["600 square feet of flat roof goes to downspout two."], {"DS-2": [(600, "roof")]}),
        (
            ["Basin one is set.", "It takes 400 square feet of patio and 200 square feet of lawn."],
            {"CB-1": [(400, "patio"), (200, "lawn")]},
        ),
        (
            ["Downspout one gets 600 square feet of roof, downspout two 450 square feet."],
            {"DS-1": [(600, "roof")], "DS-2": [(450, "roof")]},
        ),
        (["Basin two is set.", "It drains 300 square feet."], {"CB-2": [(300, None)]}),
        (["Basin one takes 400 square feet of patio.", "Make that 450 square feet."], {"CB-1": [(450, "patio")]}),
        (["Basin one takes 400 square feet of patio, no, 450 square feet."], {"CB-1": [(450, "patio")]}),
        (["Basin one takes 400 square feet of patio.", "Basin one takes 90 square feet of gravel."],
         {"CB-1": [(400, "patio"), (90, "gravel")]}),
    ],
)  # fmt: skip
def test_an_area_belongs_to_the_structure_it_drains_to(notes, expected):
    assert areas(*notes) == expected


@pytest.mark.parametrize(
    "text",
    [
        "We seeded 600 square feet of lawn by basin one.",
        "Put 300 square feet of fabric around basin one.",
        "The lawn is 4,000 square feet.",
    ],
)
def test_an_area_that_nothing_drains_is_left_alone(text):
    assert not any(areas("Basin one is set.", text).values())


@pytest.mark.parametrize(
    "notes",
    [
        ["Run two is four-inch SDR 35. 600 square feet."],
        ["Run two is 600 square feet."],
        ["How long is run two?", "600 square feet."],
        ["Channel drain one is in, it takes 600 square feet of driveway."],
        ["Run two is in. Roof to downspout one is 600 square feet."],
        ["Run two is forty feet, and drops 600 square feet."],
        ["Basin one, cover on run one is 600 sq ft."],
    ],
)
def test_square_feet_are_never_a_length_nor_a_size(notes):
    record = read(*notes)
    for run in record.runs:
        assert run.length_ft in (None, 40)
        assert (run.nominal_in, run.drop_in, run.cover_in, run.slope_pct) in (
            (None, None, None, None),
            (4, None, None, None),
        )
    for structure in record.structures:
        assert (structure.length_ft, structure.size_in, structure.rim_ft, structure.invert_depth_in) == (None,) * 4


def test_an_area_gives_a_run_no_end():
    record = read("Run one leaves basin one, 40 feet.", "Roof to downspout one is 600 square feet.")
    assert [run.to for run in record.runs] == [None]


def test_an_area_said_twice_and_differently_is_asked_about():
    said = ["Basin one is set. It takes 400 square feet of patio.", "Basin one takes 500 square feet of patio."]
    record = read(*said)
    (question,) = record.questions
    assert (question.about, question.field, question.why, question.choices) == ("CB-1", "areas", "conflict", [400, 500])
    assert [item.note for item in question.evidence] == [0, 1]
    assert areas(*said) == {"CB-1": [(500, "patio")]}
    assert [(number.value, number.went) for number in record.numbers] == [(400, "withdrawn"), (500, "field")]


def test_an_area_told_again_is_no_second_one():
    said = ["Basin one is set. It takes 400 square feet of patio.", "Basin one takes 400 square feet of patio."]
    assert areas(*said) == {"CB-1": [(400, "patio")]}
    assert [number.went for number in read(*said).numbers] == ["field", "restated"]


def test_an_area_that_no_yard_has_is_asked_about_and_left_out():
    record = read("Basin one is set. It takes 600,000 square feet of patio.")
    assert [(q.about, q.field, q.why) for q in record.questions] == [("CB-1", "areas", "implausible")]
    assert record.structures[0].areas is None


def test_an_area_leads_back_to_its_note_and_is_absent_where_none_was_said():
    record = read("Basin one is set.", "It takes 400 square feet of patio.")
    assert [item.note for item in record.structures[0].evidence if item.field == "areas"] == [1]
    assert record.as_json()["structures"][0]["areas"] == [{"sqft": 400.0, "surface": "patio"}]
    assert "areas" not in read("Basin one is set.").as_json()["structures"][0]


def test_what_is_bought_by_the_square_foot_keeps_its_words():
    (task,) = read("Need to buy 200 square feet of sod.").tasks
    assert task.item == "200 square feet of sod"
