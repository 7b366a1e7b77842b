"""Rod readings as they are told: several in a sentence, corrected, and from a benchmark said before."""

import pytest

from extract.assemble import assemble
from extract.record import Note


def rods(*texts):
    record = assemble([Note(text=text) for text in texts])
    return [(x.point, x.kind, x.rod_ft, x.elevation_ft) for x in record.levels]


def test_several_rods_in_one_sentence_are_each_of_their_own_point():
    said = "Rod's 5.10 at basin one rim, 5.62 at basin two rim, 7.39 at the pop-up invert."
    assert [(point, rod) for point, _, rod, _ in rods(said)] == [
        ("CB-1 rim", 5.10),
        ("CB-2 rim", 5.62),
        ("OUT-1 invert_in", 7.39),
    ]


@pytest.mark.parametrize(
    "said",
    [
        ["Benchmark is the porch slab, elevation 100.", "Backsight 4.32."],
        ["BM 100.00, BS 4.32, HI 104.32."],
        ["Backsight 4.32 on the benchmark at 100."],
    ],
)
def test_the_benchmarks_height_goes_with_the_backsight_on_it(said):
    assert rods(*said) == [("benchmark", "backsight", 4.32, 100)]


@pytest.mark.parametrize(
    ("said", "rod"),
    [("Make that five eleven.", 5.11), ("The rim shot should be 5.01.", 5.01), ("No, five point oh one.", 5.01)],
)
def test_a_rod_is_corrected(said, rod):
    assert rods("Foresight 5.10 basin one rim.", said) == [("CB-1 rim", "foresight", rod, None)]


def test_a_height_said_of_a_misread_rod_is_a_height():
    record = assemble([Note(text="Basin one rim 99.40."), Note(text="I misread the rod, rim's 99.04.")])
    assert record.structures[0].rim_ft == 99.04
    assert [question.why for question in record.questions] == ["conflict"]


def test_a_turning_point_with_no_number_is_no_benchmark():
    said = [
        "Benchmark is 100.00, backsight 4.82.",
        "Turning point, foresight 6.11.",
        "Turning point, backsight 3.20.",
        "Foresight on basin one invert out 6.45.",
    ]
    assert [point for point, *_ in rods(*said)] == ["benchmark", "TP-1", "TP-1", "CB-1 invert_out"]


def test_a_question_about_the_rod_is_answered_by_side():
    said = ["Basin one is set.", "What's the rod on basin one?", "Five point eight on the rim, 7.95 on the invert in."]
    assert [(point, rod) for point, _, rod, _ in rods(*said)] == [("CB-1 rim", 5.8), ("CB-1 invert_in", 7.95)]


@pytest.mark.parametrize("said", ["Benchmark is 40 feet from basin one.", "Benchmark is on the porch."])
def test_how_far_off_the_benchmark_lies_is_no_height(said):
    assert rods(said, "Backsight 4.32.") == [("benchmark", "backsight", 4.32, None)]


def test_what_is_read_off_a_rim_or_back_on_the_benchmark_is_a_foresight():
    said = [
        "Benchmark is 100, backsight reads 4.00.",
        "Basin one rim reads 6.00.",
        "Back on the benchmark, reads 4.01.",
    ]
    assert rods(*said) == [
        ("benchmark", "backsight", 4.0, 100.0),
        ("CB-1 rim", "foresight", 6.0, None),
        ("benchmark", "foresight", 4.01, None),
    ]
    assert rods("Slope on run two reads ninety percent on the level.") == []


@pytest.mark.parametrize(
    ("said", "depth", "asked"),
    [
        ("That 19 and a quarter to the invert. Make that 19 and three quarters.", 19.75, []),
        ("Invert on basin one. 19 and three quarters.", 19.75, ["invert_depth_in"]),
        ("Invert on basin one is 98.50.", 19.25, []),
    ],
)
def test_a_low_number_with_a_fraction_is_a_depth_in_inches_and_no_height(said, depth, asked):
    notes = ["Basin one's set, the invert on it is 19 and a quarter inches down.", said]
    record = assemble([Note(text=text) for text in notes])
    assert record.structures[0].invert_depth_in == depth
    assert record.structures[0].invert_out_ft in (None, 98.5)
    assert [question.field for question in record.questions] == asked


def test_a_low_number_with_a_fraction_and_no_unit_is_asked():
    record = assemble([Note(text="Basin one's set."), Note(text="Invert is 19 and three quarters.")])
    assert record.structures[0].invert_out_ft is None
    assert [(q.about, q.why) for q in record.questions] == [("CB-1", "low_confidence")]
