"""Rods to elevations, and what is held against them."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from extract.check import check
from extract.check.levels import elevations, heights, reduce_levels
from extract.record import Evidence, Level, Record, Structure


def backsight(rod: float, point: str = "benchmark", elevation: float | None = None) -> Level:
    return Level(point=point, kind="backsight", rod_ft=rod, elevation_ft=elevation)


def foresight(point: str, rod: float, elevation: float | None = None) -> Level:
    return Level(point=point, kind="foresight", rod_ft=rod, elevation_ft=elevation)


def findings(name: str, levels: list[Level], structures: list[Structure] | None = None):
    return [f for f in check(Record(levels=levels, structures=structures or [])) if f.check == name]


def test_every_sight_from_one_setup_is_reduced_by_its_height_of_instrument():
    levels = [
        backsight(4.56, elevation=100),
        foresight("CB-1 rim", 6.14),
        Level(point="JB-1 rim", kind="intermediate", rod_ft=5.32),
    ]
    assert elevations(Record(levels=levels)) == pytest.approx({"benchmark": 100, "CB-1 rim": 98.42, "JB-1 rim": 99.24})


def test_a_backsight_on_a_point_already_read_carries_its_height_on():
    levels = [
        backsight(3.0, elevation=100),
        foresight("TP-1", 7.5),
        backsight(2.25, point="TP-1"),
        foresight("OUT-1 invert_in", 6.0),
    ]
    assert elevations(Record(levels=levels)) == pytest.approx(
        {"benchmark": 100, "TP-1": 95.5, "OUT-1 invert_in": 91.75}
    )
    assert [reading.setup for reading in reduce_levels(Record(levels=levels))] == [1, 1, 2, 2]


def test_a_backsight_on_a_structure_takes_the_elevation_said_of_it():
    structures = [Structure(label="CB-1", kind="catch_basin", rim_ft=98.42)]
    levels = [backsight(3.0, point="CB-1 rim"), foresight("OUT-1 invert_in", 5.0)]
    assert elevations(Record(levels=levels, structures=structures))["OUT-1 invert_in"] == pytest.approx(96.42)


def test_with_no_elevation_said_falls_are_known_and_elevations_are_not():
    levels = [backsight(4.0), foresight("CB-1 invert_out", 5.44), foresight("OUT-1 invert_in", 5.80)]
    points = heights(Record(levels=levels))
    assert elevations(Record(levels=levels)) == {}
    assert points["CB-1 invert_out"].ft - points["OUT-1 invert_in"].ft == pytest.approx(0.36)
    assert points["CB-1 invert_out"].chain == points["OUT-1 invert_in"].chain
    (unknown,) = findings("elevation", levels)
    assert unknown.outcome == "unknown"
    assert "falls but no elevations" in unknown.message


def test_the_first_elevation_said_of_a_foresight_stands_in_for_a_benchmark_with_none():
    levels = [backsight(4.0), foresight("CB-1 rim", 5.0, 99.0), foresight("CB-1 invert_out", 6.5, 97.4)]
    (wrong,) = findings("elevation", levels)
    assert (wrong.outcome, wrong.stated, wrong.computed) == ("fail", 97.4, 97.5)


def test_an_elevation_without_a_rod_and_a_depth_below_the_rim_count_too():
    structures = [
        Structure(label="CB-1", kind="catch_basin", rim_ft=100.0, invert_depth_in=18),
        Structure(label="OUT-1", kind="daylight_outlet", rim_ft=97.0, invert_depth_in=6),
    ]
    assert elevations(Record(structures=structures)) == pytest.approx(
        {"CB-1 rim": 100, "CB-1 invert_out": 98.5, "OUT-1 rim": 97, "OUT-1 invert_in": 96.5}
    )


def test_an_elevation_that_follows_from_its_rod_is_ok_and_says_the_numbers():
    (ok,) = findings("elevation", [backsight(4.56, elevation=100), foresight("CB-1 invert_out", 7.64, 96.92)])
    assert (ok.outcome, ok.subject, ok.unit) == ("ok", "CB-1", "ft")
    assert ok.message == (
        "The outgoing invert of catch basin 1: instrument at 104.56 less rod 7.64 gives 96.92 feet, as said."
    )


@pytest.mark.parametrize(
    ("said", "hint"), [(97.92, "one foot"), (95.92, "one foot"), (97.02, "one tenth"), (96.82, "one tenth")]
)
def test_a_difference_of_a_foot_or_a_tenth_suggests_a_misread_rod(said, hint):
    (wrong,) = findings("elevation", [backsight(4.56, elevation=100), foresight("CB-1 invert_out", 7.64, said)])
    assert wrong.outcome == "fail"
    assert f"misread by {hint}" in wrong.message


@pytest.mark.parametrize(("said", "outcome"), [(96.93, "ok"), (96.94, "fail"), (97.25, "fail")])
def test_the_arithmetic_of_a_rod_must_come_out_to_a_hundredth(said, outcome):
    (found,) = findings("elevation", [backsight(4.56, elevation=100), foresight("CB-1 invert_out", 7.64, said)])
    assert found.outcome == outcome
    assert "misread" not in found.message


def test_an_elevation_said_elsewhere_is_held_against_the_rod_and_makes_the_height_disputed():
    structures = [Structure(label="CB-1", kind="catch_basin", invert_out_ft=97.3)]
    levels = [backsight(4.56, elevation=100), foresight("CB-1 invert_out", 7.64)]
    (wrong,) = findings("elevation", levels, structures)
    assert (wrong.outcome, wrong.stated, wrong.computed) == ("fail", 97.3, 96.92)
    assert heights(Record(levels=levels, structures=structures))["CB-1 invert_out"].disputed


def test_a_point_read_twice_has_its_last_reading_and_a_finding():
    levels = [backsight(4.0, elevation=100), foresight("CB-1 rim", 5.0), foresight("CB-1 rim", 5.1)]
    (again,) = findings("repeat_reading", levels)
    assert again.outcome == "attention"
    assert elevations(Record(levels=levels))["CB-1 rim"] == pytest.approx(98.9)


@pytest.mark.parametrize(("closing", "outcome"), [(4.0, "ok"), (4.02, "ok"), (3.97, "fail")])
def test_a_last_sight_on_the_benchmark_closes_the_loop(closing, outcome):
    levels = [backsight(4.0, elevation=100), foresight("CB-1 rim", 5.0), foresight("benchmark", closing)]
    (closure,) = findings("level_closure", levels)
    assert (closure.outcome, closure.computed) == (outcome, pytest.approx(4.0 - closing))
    assert elevations(Record(levels=levels))["benchmark"] == 100


@pytest.mark.parametrize(
    ("closing", "hint"),
    [
        (3.0, "one backsight read one foot too high, or foresight too low, would account for it"),
        (5.0, "one foresight read one foot too high, or backsight too low, would account for it"),
        (3.9, "one backsight read one tenth too high, or foresight too low, would account for it"),
        (4.1, "one foresight read one tenth too high, or backsight too low, would account for it"),
        (2.98, "one backsight read one foot too high"),
    ],
)
def test_a_misread_rod_that_would_close_the_loop_is_suggested(closing, hint):
    levels = [backsight(4.0, elevation=100), foresight("CB-1 rim", 5.0), foresight("benchmark", closing)]
    (closure,) = findings("level_closure", levels)
    assert closure.outcome == "fail"
    assert hint in closure.message


@pytest.mark.parametrize("closing", [3.5, 2.97, 3.93, 6.0])
def test_a_loop_that_no_such_misreading_would_close_has_no_hint(closing):
    levels = [backsight(4.0, elevation=100), foresight("CB-1 rim", 5.0), foresight("benchmark", closing)]
    (closure,) = findings("level_closure", levels)
    assert closure.outcome == "fail"
    assert closure.message.endswith("the elevations between cannot be relied on.")


@given(
    slip=st.sampled_from([1.0, -1.0, 0.1, -0.1]),
    at=st.integers(0, 7),
    rods=st.lists(st.integers(350, 2000), min_size=4, max_size=4),
)
def test_a_slip_in_any_rod_that_carries_the_run_is_named_with_its_direction(slip, at, rods):
    """Four setups out and back; one of the eight rods is read wrong."""
    truth = [100.0, 97.0, 99.0, 101.0, 100.0]
    points = ["benchmark", "TP-1", "TP-2", "TP-3", "benchmark"]
    levels = []
    for setup, rod in enumerate(rods):
        instrument = truth[setup] + rod / 100
        levels.append(backsight(rod / 100, points[setup], 100.0 if setup == 0 else None))
        levels.append(foresight(points[setup + 1], instrument - truth[setup + 1]))
    levels[at].rod_ft += slip
    (closure,) = findings("level_closure", levels)
    words, kind = "one foot" if abs(slip) == 1 else "one tenth", levels[at].kind
    read = f"one {kind} read {words} too high" if slip > 0 else f"{kind} too low"
    assert f"{words} too high" in closure.message
    assert read in closure.message


def test_the_misclosure_allowed_grows_with_the_root_of_the_setups():
    setups = [backsight(4.0, elevation=100)]
    for turn in ("TP-1", "TP-2", "TP-3"):
        setups += [foresight(turn, 4.0), backsight(4.0, point=turn)]
    (closure,) = findings("level_closure", [*setups, foresight("benchmark", 3.965)])
    assert (closure.outcome, closure.limit) == ("ok", 0.04)


def test_a_loop_closes_over_a_second_start_on_a_point_with_its_elevation_said():
    levels = [
        backsight(4.0, elevation=100),
        foresight("CB-1 rim", 5.0),
        backsight(3.0, point="CB-2 rim", elevation=98.0),
        foresight("benchmark", 1.5),
    ]
    (closure,) = findings("level_closure", levels)
    assert (closure.outcome, closure.computed) == ("fail", -0.5)
    assert closure.message.startswith("After 2 setups the level run misses the benchmark by 0.50 feet, 0.03 being")


def test_a_run_of_levels_that_was_not_closed_is_unknown():
    (closure,) = findings("level_closure", [backsight(4.0, elevation=100), foresight("CB-1 rim", 5.0)])
    assert closure.outcome == "unknown"


def test_no_levels_make_no_level_findings():
    assert check(Record()) == []


@pytest.mark.parametrize(("depth", "outcome"), [(18, "ok"), (18.5, "ok"), (16, "fail")])
def test_a_depth_said_is_held_against_rim_and_invert(depth, outcome):
    basin = Structure(label="CB-1", kind="catch_basin", rim_ft=98.42, invert_out_ft=96.92, invert_depth_in=depth)
    (found,) = findings("depth", [], [basin])
    assert (found.outcome, found.stated, found.computed) == (outcome, depth, 18)


def test_an_invert_above_its_rim_fails():
    (found,) = findings("depth", [], [Structure(label="CB-1", kind="catch_basin", rim_ft=96.9, invert_out_ft=98.4)])
    assert found.outcome == "fail"
    assert "above the rim" in found.message


def test_a_backsight_that_is_no_number_leaves_what_is_sighted_from_it_on_no_datum():
    levels = [
        backsight(4.0, elevation=100),
        foresight("TP-1", 5.0),
        backsight(math.nan, point="TP-1"),
        foresight("OUT-1 invert_in", 6.0),
    ]
    assert "OUT-1 invert_in" not in elevations(Record(levels=levels))


def test_evidence_is_the_words_for_the_field_or_else_all_of_the_entrys():
    field = Evidence(note=1, quote="elevation 97.3", confidence=0.9, field="invert_out_ft")
    other = Evidence(note=0, quote="basin one", confidence=0.8, field="kind")
    rod = Evidence(note=2, quote="rod 7.64", confidence=1)
    structures = [Structure(label="CB-1", kind="catch_basin", invert_out_ft=97.3, evidence=[other, field])]
    sight = foresight("CB-1 invert_out", 7.64)
    sight.evidence = [rod]
    (wrong,) = findings("elevation", [backsight(4.56, elevation=100), sight], structures)
    assert wrong.evidence == [rod, field]


ROD = st.floats(10, 15).map(lambda rod: round(rod, 2))


@given(benchmark=st.floats(0, 1000), heights_ft=st.lists(st.floats(-5, 5), min_size=1, max_size=12), rod=ROD)
def test_rods_computed_from_known_elevations_reduce_to_them_again(benchmark, heights_ft, rod):
    truth = {f"TP-{n}": benchmark + height for n, height in enumerate(heights_ft)}
    levels, instrument = [backsight(rod, elevation=benchmark)], benchmark + rod
    for point, elevation in truth.items():
        levels += [foresight(point, instrument - elevation), backsight(rod, point=point)]
        instrument = elevation + rod
    levels.append(foresight("benchmark", instrument - benchmark))
    found = elevations(Record(levels=levels))
    assert {point: found[point] for point in truth} == pytest.approx(truth, abs=1e-6)
    (closure,) = findings("level_closure", levels)
    assert closure.outcome == "ok"


def test_a_point_read_from_two_setups_is_compared_on_the_datum():
    levels = [
        backsight(4, elevation=100),
        foresight("CB-1 rim", 6),
        backsight(5, point="CB-2 rim", elevation=99),
        foresight("CB-1 rim", 6.6),
    ]
    (found,) = findings("repeat_reading", levels)
    assert (found.outcome, found.computed) == ("attention", -0.6)


def test_the_misclosure_allowed_counts_setups_since_the_benchmark_was_last_occupied():
    first = [backsight(4, elevation=100), foresight("TP-1", 6), backsight(5, point="TP-1"), foresight("benchmark", 3.0)]
    again = [backsight(4.2), foresight("CB-1 rim", 6), foresight("benchmark", 4.225)]
    whole, short = findings("level_closure", [*first, *again])
    assert (whole.limit, short.limit) == (pytest.approx(0.02 * math.sqrt(2), abs=1e-4), 0.02)
    assert (whole.outcome, short.outcome) == ("ok", "fail")


def test_two_benchmarks_are_kept_apart_and_pointed_out():
    levels = [
        backsight(4, elevation=100),
        foresight("CB-1 rim", 6),
        backsight(3, elevation=120),
        foresight("CB-2 rim", 5),
    ]
    assert elevations(Record(levels=levels)) == {"benchmark": 100, "CB-1 rim": 98, "CB-2 rim": 118}
    (found,) = [f for f in findings("elevation", levels) if f.subject == "benchmark"]
    assert found.outcome == "attention"
    assert "given as 100.00 and 120.00 feet" in found.message


def test_the_elevation_said_with_a_closing_sight_is_not_the_benchmarks():
    levels = [backsight(4, elevation=100), foresight("CB-1 rim", 6), foresight("benchmark", 4.5, elevation=99.5)]
    assert elevations(Record(levels=levels))["benchmark"] == 100
    assert [f.outcome for f in findings("level_closure", levels)] == ["fail"]


@pytest.mark.parametrize("rod", [math.nan, math.inf, 1e7, -3.0, 500.0])
def test_a_reading_that_no_rod_shows_fails(rod):
    (found,) = findings("rod", [backsight(4, elevation=100), foresight("CB-1 rim", rod)])
    assert (found.subject, found.outcome) == ("CB-1", "fail")


def test_a_rod_that_cannot_be_makes_no_elevation():
    levels = [backsight(4, elevation=100), foresight("CB-1 rim", 56.2)]
    assert "CB-1 rim" not in elevations(Record(levels=levels))


def test_a_sight_back_on_one_of_two_benchmarks_closes_on_the_one_said_with_it():
    levels = [backsight(4, elevation=100), foresight("CB-1 rim", 5), backsight(5, elevation=103.2)]
    (found,) = findings("level_closure", [*levels, foresight("benchmark", 8.2, elevation=100)])
    assert (found.outcome, found.computed) == ("ok", 0)
    (found,) = findings("level_closure", [*levels, foresight("benchmark", 8.2)])
    assert found.outcome == "unknown"


# -- a benchmark with no rod

GIVEN = Level(point="benchmark", kind="backsight", elevation_ft=100)


def test_a_benchmark_with_no_rod_keeps_its_elevation_and_gives_none():
    levels = [GIVEN, foresight("CB-1 rim", 5.0), foresight("CB-1 invert_out", 6.5)]
    assert elevations(Record(levels=levels)) == {"benchmark": 100}
    assert [reading.level.point for reading in reduce_levels(Record(levels=levels))] == ["CB-1 rim", "CB-1 invert_out"]
    (missing,) = findings("rod", levels)
    assert (missing.outcome, missing.subject, missing.stated, missing.computed) == ("unknown", "benchmark", 100, None)
    assert missing.message == (
        "The benchmark was given as 100.00 feet; the rod reading of the backsight on it is missing."
    )
    assert [f.outcome for f in findings("elevation", levels)] == ["unknown"]


@pytest.mark.parametrize("place", [0, 1, 2])
def test_said_before_any_backsight_it_parts_no_readings(place):
    levels = [foresight("CB-1 rim", 5.0), foresight("CB-1 invert_out", 6.5)]
    levels.insert(place, GIVEN)
    points = heights(Record(levels=levels))
    assert points["CB-1 rim"].ft - points["CB-1 invert_out"].ft == pytest.approx(1.5)
    assert points["CB-1 rim"].chain == points["CB-1 invert_out"].chain


def test_what_is_sighted_behind_it_in_another_setup_has_no_elevation():
    other = Level(point="benchmark", kind="backsight", elevation_ft=98)
    levels = [backsight(4.0, elevation=100), foresight("CB-1 rim", 5.0), other, foresight("CB-2 rim", 5.2)]
    assert elevations(Record(levels=levels)) == {"benchmark": 100, "CB-1 rim": 99}
    given = [f for f in findings("elevation", levels) if f.subject == "benchmark"]
    assert [f.outcome for f in given] == ["attention"]
    assert "100.00 and 98.00 feet" in given[0].message


@pytest.mark.parametrize(
    "shape",
    [
        {"point": "CB-1 rim", "kind": "foresight", "elevation_ft": 99},
        {"point": "CB-1 rim", "kind": "backsight", "elevation_ft": 99},
        {"point": "benchmark", "kind": "foresight", "elevation_ft": 99},
        {"point": "benchmark", "kind": "backsight"},
    ],
)
def test_only_a_backsight_on_the_benchmark_may_have_an_elevation_alone(shape):
    with pytest.raises(ValueError, match="needs rod_ft; only a backsight on the benchmark may have an elevation alone"):
        Level.model_validate(shape)
