"""Rod readings as they are told: several in a sentence, corrected, and from a benchmark said before, or with no rod."""

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
    assert {each.why for each in record.questions} <= {"low_confidence"}  # "I misread" puts it right


def test_a_turning_point_with_no_number_is_no_benchmark():
    said = [
        "Benchmark is 100.00, backsight 4.82.",
        "Turning point, foresight 6.11.",
        "Turning point, backsight 3.20.",
        "Foresight on basin one invert out 6.45.",
    ]
    assert [point for point, *_ in rods(*said)] == ["benchmark", "TP-1", "TP-1", "CB-1 invert_out"]


BEFORE = ["Benchmark is 100, backsight on it 4.32."]


@pytest.mark.parametrize(
    ("said", "read_there"),
    [
        (["Foresight on turning point one, 4.85."], [("TP-1", "foresight", 4.85)]),
        (["Foresight on turning point 4.85."], [("TP-1", "foresight", 4.85)]),
        (["Foresight on TP two 4.85."], [("TP-2", "foresight", 4.85)]),
        (["Foresight 4.85 on TP2."], [("TP-2", "foresight", 4.85)]),
        (
            ["Foresight on turning point one, 4.85.", "Backsight on TP1 5.10.", "Basin one rim foresight 3.20."],
            [("TP-1", "foresight", 4.85), ("TP-1", "backsight", 5.10), ("CB-1 rim", "foresight", 3.20)],
        ),
        (["TP1 foresight 6.11, backsight 3.20."], [("TP-1", "foresight", 6.11), ("TP-1", "backsight", 3.20)]),
        (
            ["Foresight basin one rim 4.40, turning point two 5.50."],
            [("CB-1 rim", "foresight", 4.40), ("TP-2", "foresight", 5.50)],
        ),
    ],
)
def test_a_turning_point_is_told_by_its_words(said, read_there):
    record = assemble([Note(text=text) for text in [*BEFORE, *said]])
    assert [(x.point, x.kind, x.rod_ft) for x in record.levels[1:]] == read_there
    assert {each.label for each in record.structures} <= {"CB-1"}
    assert {number.went for number in record.numbers} == {"field"}


def test_a_reading_on_a_turning_point_is_corrected_and_asked_about_by_its_name():
    said = [*BEFORE, "Foresight on turning point one, 4.85.", "Foresight on turning point one, 4.95."]
    record = assemble([Note(text=text) for text in said])
    assert [(x.point, x.rod_ft) for x in record.levels[1:]] == [("TP-1", 4.95)]
    assert [(q.about, q.field, q.choices) for q in record.questions] == [("TP-1", "rod_ft", [4.85, 4.95])]


def test_an_elevation_of_a_turning_point_with_no_rod_is_asked_about():
    record = assemble([Note(text=text) for text in [*BEFORE, "Turning point one is at elevation 99.47."]])
    assert [level.point for level in record.levels] == ["benchmark"]
    assert record.questions
    assert record.structures == []


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


def test_a_low_number_with_a_fraction_and_no_unit_is_a_depth_and_asked_about():
    record = assemble([Note(text="Basin one's set."), Note(text="Invert is 19 and three quarters.")])
    assert record.structures[0].invert_out_ft is None
    assert record.structures[0].invert_depth_in == 19.75
    assert [(q.about, q.field) for q in record.questions] == [("CB-1", "invert_depth_in")]


# -- the benchmark's elevation with no rod


def read(*texts):
    return assemble([Note(text=text) for text in texts])


def asked(record):
    return [(question.about, question.field, question.why) for question in record.questions]


def went(record):
    return [(number.value, number.went, number.to) for number in record.numbers]


NO_ROD = ("benchmark", "rod_ft", "missing")


@pytest.mark.parametrize(
    ("said", "elevation"),
    [
        ("Benchmark is the garage slab, call it 100.", 100),
        ("BM 100.00", 100),
        ("We'll say fifty for the benchmark, the nail in the stoop.", 50),
        ("Benchmark's elevation is 99.25.", 99.25),
        ("Benchmark elevation 10.", 10),
    ],
)
def test_the_benchmarks_elevation_with_no_rod_is_a_level_and_its_rod_is_asked_for(said, elevation):
    record = read(said)
    assert rods(said) == [("benchmark", "backsight", None, elevation)]
    assert asked(record) == [NO_ROD]
    assert went(record) == [(elevation, "field", "levels")]
    assert record.as_json()["levels"][0].keys() == {"point", "kind", "elevation_ft", "evidence"}


def test_the_rod_that_is_read_later_makes_one_entry_where_it_was_read():
    record = read("Benchmark is 100.", "Foresight basin one rim 5.10.", "Backsight 4.85.")
    assert [(x.point, x.rod_ft, x.elevation_ft) for x in record.levels] == [
        ("CB-1 rim", 5.10, None),
        ("benchmark", 4.85, 100),
    ]
    assert [(item.note, item.field) for item in record.levels[1].evidence] == [(0, "elevation_ft"), (2, None)]
    assert NO_ROD not in asked(record)


@pytest.mark.parametrize("between", [[], ["Foresight basin one rim 5.10."]])
def test_an_elevation_said_after_the_backsight_is_of_it(between):
    record = read("Backsight 4.85.", *between, "Benchmark is elevation 100.")
    assert (record.levels[0].rod_ft, record.levels[0].elevation_ft) == (4.85, 100)
    assert len(record.levels) == 1 + len(between)
    assert NO_ROD not in asked(record)


def test_an_elevation_said_in_a_note_on_other_points_is_of_the_benchmark():
    assert rods("Foresight basin one rim 5.10. Benchmark is 100.") == [
        ("benchmark", "backsight", None, 100),
        ("CB-1 rim", "foresight", 5.10, None),
    ]


def test_an_elevation_said_again_is_the_same_level():
    record = read("Benchmark is 100. Backsight 4.85.", "Benchmark is 100, remember.")
    assert [(x.rod_ft, x.elevation_ft) for x in record.levels] == [(4.85, 100)]
    assert asked(record) == []


def test_two_elevations_before_a_rod_are_a_conflict_that_one_of_them_settles():
    record = read("Benchmark is 100.", "Benchmark is 102.")
    assert rods("Benchmark is 100.", "Benchmark is 102.") == [("benchmark", "backsight", None, 102)]
    assert [question.choices for question in record.questions if question.why == "conflict"] == [[100, 102]]
    assert went(record) == [(100, "withdrawn", "levels"), (102, "field", "levels")]
    for answer in ("Benchmark is 102.", "102."):
        assert asked(read("Benchmark is 100.", "Benchmark is 102.", answer)) == [NO_ROD]


@pytest.mark.parametrize("said", ["Make that 101.", "No, 101.", "Correction, the benchmark is 101."])
@pytest.mark.parametrize("rod", [None, 4.85])
def test_the_benchmarks_elevation_is_corrected(said, rod):
    record = read(f"Benchmark is 100.{' Backsight 4.85.' if rod else ''}", said)
    assert [(x.rod_ft, x.elevation_ft) for x in record.levels] == [(rod, 101)]
    assert [number.went for number in record.numbers if number.value in (100, 101)] == ["withdrawn", "field"]
    assert [each for each in asked(record) if each != NO_ROD] == []


def test_a_correction_near_the_rod_is_of_the_rod():
    assert rods("Backsight 4.85 on the benchmark, elevation 100.", "Make that 4.95.") == [
        ("benchmark", "backsight", 4.95, 100)
    ]


def test_an_elevation_that_is_taken_back_is_gone():
    record = read("Benchmark is 100.", "Take that off.")
    assert (record.levels, record.questions) == ([], [])
    assert went(record) == [(100, "withdrawn", "levels")]


def test_another_elevation_than_that_of_a_reading_is_asked_about():
    record = read("Benchmark is 100. Backsight 4.85.", "Foresight basin one rim 5.10.", "Benchmark is 101.")
    assert [(x.point, x.rod_ft, x.elevation_ft) for x in record.levels] == [
        ("benchmark", 4.85, 101),
        ("CB-1 rim", 5.10, None),
    ]
    assert [(q.about, q.choices) for q in record.questions] == [("benchmark", [100, 101])]


def test_a_sight_back_on_the_benchmark_leaves_the_backsight_as_it_was():
    record = read("Benchmark is 100. Backsight 4.85.", "Back on the benchmark, reads 4.84.")
    assert [(x.kind, x.rod_ft, x.elevation_ft) for x in record.levels] == [
        ("backsight", 4.85, 100),
        ("foresight", 4.84, None),
    ]
    assert {number.went for number in record.numbers} == {"field"}


@pytest.mark.parametrize("said", [["Backsight on the benchmark 48.5."], ["Benchmark is 100.", "Backsight 48.5."]])
def test_a_backsight_that_no_rod_shows_is_one_question_and_no_elevation(said):
    record = read(*said)
    assert asked(record) == [("benchmark", "rod_ft", "implausible")]
    assert [(x.rod_ft, x.elevation_ft) for x in record.levels] == [(None, 100)] * (len(said) - 1)


def test_a_correction_of_a_backsight_that_was_never_read_is_its_reading():
    assert rods("Benchmark is 100.", "Correction, backsight 4.42.") == [("benchmark", "backsight", 4.42, 100)]


def test_with_no_backsight_a_small_figure_is_asked_about_and_no_rod():
    record = read("Benchmark is 100.", "Basin one is set.", "Coming out of basin one it's 4.85.")
    assert [level.point for level in record.levels] == ["benchmark"]
    assert ("CB-1", "invert_out_ft", "implausible") in asked(record)


def test_on_a_low_datum_a_rim_is_no_rod():
    record = read("Benchmark elevation 10.", "Basin one is set, rim elevation is 9.42.")
    assert record.structures[0].rim_ft == 9.42
    assert ("CB-1", "rim_ft", "implausible") not in asked(record)


def test_a_structures_elevation_with_no_rod_is_no_level():
    record = read("Basin one rim is 99.40.")
    assert record.levels == []
    assert record.structures[0].rim_ft == 99.40


def rods_asked_about(*texts):
    return [each.about for each in assemble([Note(text=text) for text in texts]).questions if each.field == "rod_ft"]


def test_a_doubted_sight_told_again_beside_another_on_the_same_point_is_settled():
    said = ["Benchmark is 100, backsight on it 4.32.", "Foresight back on the benchmark, maybe 4.32."]
    assert "benchmark" in rods_asked_about(*said)
    again = "Backsight on the benchmark is 4.32. Foresight back on the benchmark is 4.32."
    assert "benchmark" not in rods_asked_about(*said, again)


def test_one_sight_told_again_settles_nothing_of_the_other():
    said = ["Benchmark is 100, backsight on it 4.32.", "Foresight back on the benchmark, maybe 4.35."]
    assert "benchmark" in rods_asked_about(*said, "Backsight on the benchmark is 4.32.")


def test_an_elevation_told_with_the_last_foresight_on_the_benchmark_is_that_foresights():
    said = (
        "Benchmark is the step, elevation 100, backsight 4.20.",
        "Foresight on the benchmark 4.22, elevation 99.98.",
    )
    record = assemble([Note(text=text) for text in said])
    told = [(level.kind, level.rod_ft, level.elevation_ft) for level in record.levels if level.point == "benchmark"]
    assert told == [("backsight", 4.20, 100), ("foresight", 4.22, 99.98)]
