"""Lengths, drops, slopes and least slopes of runs."""

import pytest

from extract.check import check
from extract.check.slopes import run_slopes
from extract.record import Evidence, Issue, Level, Record, Run, Structure


def run(label: str = "R-1", **said) -> Run:
    base = {"from": "CB-1", "to": "OUT-1", "state": "installed", "nominal_in": 4, "pipe": "SDR 35"}
    return Run.model_validate({"label": label, **base, **said})


def ends(out: float | None = None, into: float | None = None) -> list[Structure]:
    return [
        Structure(label="CB-1", kind="catch_basin", state="installed", invert_out_ft=out),
        Structure(label="OUT-1", kind="daylight_outlet", state="installed", invert_in_ft=into),
    ]


def one(name: str, the_run: Run, structures: list[Structure] | None = None, **overrides: float):
    record = Record(structures=ends() if structures is None else structures, runs=[the_run])
    (found,) = [f for f in check(record, overrides) if f.check == name]
    return found


def none(name: str, the_run: Run) -> bool:
    return name not in {f.check for f in check(Record(structures=ends(), runs=[the_run]))}


# -- lengths


def test_an_installed_run_with_no_length_is_unknown_and_an_existing_one_is_left_in_peace():
    found = one("length", run())
    assert (found.outcome, found.message) == ("unknown", "No length was said for run 1.")
    assert none("length", run(state="existing"))
    assert none("slope", run(state="existing"))


@pytest.mark.parametrize("length", [0, -12])
def test_a_length_of_nothing_or_less_fails(length):
    found = one("length", run(length_ft=length, drop_in=3))
    assert (found.outcome, found.stated) == ("fail", length)


@pytest.mark.parametrize(("length", "outcome"), [(34, "ok"), (34.6667, "ok"), (36, "fail"), (None, "unknown")])
def test_pieces_are_summed_against_the_length(length, outcome):
    found = one("pieces", run(length_ft=length, pieces_ft=[10, 10, 10, 4]))
    assert (found.outcome, found.computed, found.stated) == (outcome, 34, length)
    assert "3 of 10 feet and 1 of 4 feet, add up to 34 feet" in found.message


@pytest.mark.parametrize(("stations", "outcome"), [([0, 42], "ok"), ([118, 160.3], "ok"), ([0, 24], "fail")])
def test_stations_are_held_against_the_length(stations, outcome):
    found = one("stations", run(length_ft=42, stations_ft=stations))
    assert found.outcome == outcome


def test_stations_are_said_as_on_a_drawing():
    assert (
        "station 1+18 to 1+60.30 is 42.3 feet" in one("stations", run(length_ft=42, stations_ft=[118, 160.3])).message
    )


# -- slopes


def test_drop_and_length_that_bear_the_slope_out_are_ok():
    found = one("slope", run(length_ft=34.6667, drop_in=4.25, slope_pct=1.0417))
    assert found.outcome == "ok"
    assert found.message == ("Run 1 falls 4.25 inches in 34.67 feet, that is 1.02 percent; the crew said 1.04 percent.")


def test_a_slope_that_drop_and_length_contradict_fails_and_says_what_would_fit():
    found = one("slope", run(length_ft=13, drop_in=3, slope_pct=0.8))
    assert (found.outcome, found.stated, found.computed) == ("fail", 0.8, 1.9231)
    assert "the fall would be 1.25 inches, or the length 31.25 feet; one of the three is wrong" in found.message


def test_inverts_and_drop_that_stand_together_put_the_slope_said_in_doubt():
    the_run = run(length_ft=31.25, drop_in=10.5, slope_pct=2.0833)
    found = one("slope", the_run, ends(96.5, 95.62))
    assert (found.outcome, found.computed) == ("fail", 2.816)
    assert "inverts and the drop said stand together, so the slope said" in found.message
    assert one("drop", the_run, ends(96.5, 95.62)).outcome == "ok"


def test_inverts_and_slope_that_stand_together_put_the_drop_said_in_doubt():
    the_run = run(length_ft=31.25, drop_in=16, slope_pct=2.8)
    found = one("drop", the_run, ends(96.5, 95.62))
    assert found.outcome == "fail"
    assert found.message.endswith("The slope said stands with the inverts, so the drop said looks wrong.")
    assert one("slope", the_run, ends(96.5, 95.62)).outcome == "ok"


def test_drop_and_slope_that_stand_together_put_the_inverts_in_doubt():
    the_run = run(length_ft=31.25, drop_in=10.5, slope_pct=2.8)
    assert one("drop", the_run, ends(97.5, 95.62)).message.endswith("so the inverts look wrong.")
    slope = run_slopes(Record(structures=ends(97.5, 95.62), runs=[the_run]))["R-1"]
    assert (slope.drop_in, slope.basis, slope.disputed) == (10.5, "drop said and length", True)


def test_three_different_falls_are_said_to_be_so():
    found = one("slope", run(length_ft=30, drop_in=20, slope_pct=1), ends(96.5, 95.62))
    assert "three different falls; measure again" in found.message


@pytest.mark.parametrize(
    ("said", "missing"),
    [
        ({}, "no length and no drop or pair of inverts"),
        ({"length_ft": 20}, "no drop or pair of inverts"),
        ({"drop_in": 3}, "no length"),
        ({"slope_pct": 0.8, "length_ft": 20}, "no drop or pair of inverts"),
    ],
)
def test_too_little_said_is_unknown_and_names_what_is_missing(said, missing):
    found = one("slope", run(**said))
    assert found.outcome == "unknown"
    assert found.message.endswith(f": {missing} was said.")


def test_the_other_invert_of_a_structure_stands_in_and_is_named():
    structures = [
        Structure(label="CB-1", kind="catch_basin", invert_out_ft=96.92),
        Structure(label="JB-1", kind="junction_box", invert_out_ft=96.5),
    ]
    found = one("slope", run(to="JB-1", length_ft=22.5, slope_pct=1.9), structures)
    assert found.outcome == "ok"
    assert "(the outgoing invert of junction box 1 was used)" in found.message


def test_rods_with_no_datum_still_give_the_drop():
    levels = [
        Level(point="CB-1 invert_out", kind="foresight", rod_ft=5.44),
        Level(point="OUT-1 invert_in", kind="foresight", rod_ft=5.94),
    ]
    record = Record(structures=ends(), runs=[run(length_ft=40)], levels=levels)
    slope = run_slopes(record)["R-1"]
    assert (slope.drop_in, slope.slope_pct) == pytest.approx((6.0, 1.25))


def test_a_rod_that_contradicts_the_elevation_said_makes_the_slope_disputed():
    levels = [
        Level(point="benchmark", kind="backsight", rod_ft=4, elevation_ft=100),
        Level(point="CB-1 invert_out", kind="foresight", rod_ft=6, elevation_ft=97),
    ]
    record = Record(structures=ends(97, 96.5), runs=[run(length_ft=40)], levels=levels)
    assert run_slopes(record)["R-1"].disputed


@pytest.mark.parametrize(
    ("said", "expected"),
    [
        ({"length_ft": 40, "drop_in": 6}, (6, 1.25, "drop said and length")),
        ({"length_ft": 40, "slope_pct": 1.25}, (6, 1.25, "slope said")),
        ({"slope_pct": 1.25}, (None, 1.25, "slope said")),
        ({"drop_in": 6}, (6, None, "drop said, no length said")),
        ({"length_ft": 40}, (None, None, "not said")),
        ({}, (None, None, "not said")),
    ],
)
def test_the_slope_as_built_is_worked_out_from_what_there_is(said, expected):
    slope = run_slopes(Record(structures=ends(), runs=[run(**said)]))["R-1"]
    assert (slope.drop_in, slope.slope_pct, slope.basis) == expected
    assert not slope.disputed


# -- direction and least slope


@pytest.mark.parametrize("said", [{"drop_in": -2}, {"drop_in": 0}, {"slope_pct": -1.5}, {"slope_pct": 0}])
def test_a_run_that_does_not_fall_fails(said):
    found = one("reverse_slope", run(length_ft=20, **said))
    assert found.outcome == "fail"
    assert none("min_slope", run(length_ft=20, **said))


def test_inverts_that_rise_fail():
    found = one("reverse_slope", run(length_ft=20), ends(95.0, 95.5))
    assert (found.outcome, found.computed) == ("fail", -6)
    assert "6 inches uphill" in found.message


@pytest.mark.parametrize(
    ("pipe", "size", "slope", "outcome"),
    [
        ("SDR 35", 4, 1.0, "ok"),
        ("SDR 35", 4, 0.8, "attention"),
        ("SDR 35", 4, 0.3, "fail"),
        ("Schedule 40", 2, 2.0, "ok"),
        ("Schedule 40", 2, 1.5, "attention"),
        ("dual-wall", 8, 0.53, "ok"),
        ("dual-wall", 6, 0.9, "attention"),
        ("corrugated", 4, 1.2, "fail"),
        ("corrugated", 4, 1.44, "ok"),
        ("corrugated", 6, 1.0, "ok"),
        (None, 4, 0.8, "attention"),
        (None, 4, 1.0, "ok"),
    ],
)
def test_least_slope_by_size_and_kind_of_pipe(pipe, size, slope, outcome):
    found = one("min_slope", run(pipe=pipe, nominal_in=size, length_ft=40, slope_pct=slope))
    assert (found.outcome, found.computed) == (outcome, slope)
    assert "no model code" in found.source


def test_least_slope_without_a_size_is_unknown():
    assert one("min_slope", run(nominal_in=None, length_ft=40, slope_pct=1)).outcome == "unknown"


def test_where_figures_disagree_the_flattest_is_judged():
    found = one("min_slope", run(length_ft=40, drop_in=24, slope_pct=0.3))
    assert (found.outcome, found.computed) == ("fail", 0.3)
    assert "the flattest of its figures" in found.message


def test_a_firm_may_set_its_own_least_slope():
    found = one("min_slope", run(length_ft=40, slope_pct=0.8), min_slope_3_to_6_in_pct=0.75)
    assert (found.outcome, found.limit) == ("ok", 0.75)
    assert found.source.startswith("company policy; ")


def test_planned_abandoned_and_removed_runs_are_not_judged():
    for state in ("planned", "abandoned", "removed"):
        assert none("slope", run(state=state, length_ft=20, drop_in=-3))
        assert none("reverse_slope", run(state=state, length_ft=20, drop_in=-3))


def test_a_finding_carries_the_words_of_the_fields_it_used():
    words = [
        Evidence(note=0, quote="four inch", confidence=1, field="nominal_in"),
        Evidence(note=1, quote="twenty feet", confidence=1, field="length_ft"),
        Evidence(note=2, quote="drops three inches", confidence=0.7, field="drop_in"),
        Evidence(note=3, quote="one and a quarter percent", confidence=1, field="slope_pct"),
    ]
    found = one("slope", run(length_ft=20, drop_in=3, slope_pct=1.25, evidence=words))
    assert {item.note for item in found.evidence} == {1, 2, 3}


# -- an invert that stands in for the one at the pipe


def boxes(out: float, out_below: float) -> list[Structure]:
    """A basin and a junction box of which only the way out was said: the run's fall is no more than between them."""
    return [
        Structure(label="CB-1", kind="catch_basin", state="installed", invert_out_ft=out),
        Structure(label="JB-1", kind="junction_box", state="installed", invert_out_ft=out_below),
    ]


def test_a_slope_by_an_invert_that_stands_in_is_never_called_enough():
    found = one("min_slope", run(to="JB-1", length_ft=20), boxes(97.0, 96.5))
    assert found.outcome == "unknown"
    assert "it can be less, as the outgoing invert of junction box 1 stood in" in found.message
    assert one("min_slope", run(to="JB-1", length_ft=20), boxes(97.0, 96.9)).outcome != "ok"
    assert one("capacity", run(to="JB-1", length_ft=20), boxes(97.0, 96.5)).outcome == "unknown"


def test_a_slope_too_flat_even_by_an_invert_that_stands_in_still_fails():
    assert one("min_slope", run(to="JB-1", length_ft=20), boxes(97.0, 96.99)).outcome == "fail"


def test_an_invert_that_stands_in_is_good_where_the_drop_said_bears_it_out():
    assert one("min_slope", run(to="JB-1", length_ft=20, drop_in=6), boxes(97.0, 96.5)).outcome == "ok"


def test_what_can_lie_inside_the_structure_is_no_contradiction():
    found = one("drop", run(to="JB-1", length_ft=20, drop_in=4), boxes(97.0, 96.5))
    assert (found.outcome, found.computed, found.stated) == ("unknown", 6, 4)
    assert found.message.endswith(
        "agree only if 2 inches of the fall lie inside the structure whose invert at the pipe was not said."
    )
    assert one("drop", run(to="JB-1", length_ft=20, drop_in=9), boxes(97.0, 96.5)).outcome == "fail"
    assert one("slope", run(to="JB-1", length_ft=20, slope_pct=1.2), boxes(97.0, 96.5)).outcome == "unknown"
    assert one("slope", run(to="JB-1", length_ft=20, slope_pct=4), boxes(97.0, 96.5)).outcome == "fail"


def test_a_slope_by_a_rod_that_contradicts_the_elevation_said_is_never_called_enough():
    levels = [
        Level(point="benchmark", kind="backsight", rod_ft=4, elevation_ft=100),
        Level(point="CB-1 invert_out", kind="foresight", rod_ft=6),
    ]
    record = Record(structures=ends(97, 96.9), runs=[run(length_ft=40)], levels=levels)
    (found,) = [f for f in check(record) if f.check == "min_slope"]
    assert found.outcome == "unknown"
    assert "an elevation said and its rod reading differ" in found.message


# -- level pipe, and pipe that rises


@pytest.mark.parametrize(
    ("fall_ft", "outcome", "words"),
    [
        (0.0, "attention", "lies level to its lower end"),
        (-0.02, "attention", "read both ends again"),
        (-0.05, "fail", "rises toward its lower end"),
    ],
)
def test_a_level_pipe_is_called_level_and_a_rise_within_reading_error_is_read_again(fall_ft, outcome, words):
    found = one("reverse_slope", run(length_ft=20), ends(97.0, 97.0 - fall_ft))
    assert found.outcome == outcome
    assert words in found.message


def test_a_slope_of_zero_is_level():
    assert "lies level" in one("reverse_slope", run(slope_pct=0)).message


def test_the_least_slope_of_pipe_that_may_be_perforated_says_both():
    assert "if it is perforated" in one("min_slope", run(pipe="D2729", slope_pct=2)).message
    assert "perforated" not in one("min_slope", run(slope_pct=2)).message


def test_a_size_that_no_drain_has_is_named():
    assert (
        "a size of 0.75 inches is none that a drain has" in one("min_slope", run(nominal_in=0.75, slope_pct=2)).message
    )


@pytest.mark.parametrize("bad", [float("nan"), 1e9, -10.0, 0.0])
def test_a_piece_that_is_no_measurement_is_pointed_out_and_nothing_is_added_up(bad):
    found = one("pieces", run(length_ft=20, pieces_ft=[10, 10, bad]))
    assert (found.outcome, found.computed) == ("fail", None)


@pytest.mark.parametrize(("action", "count"), [(None, 1), ("left", 1), ("repaired", 0)])
def test_a_belly_that_was_met_and_not_mended_is_told_beside_the_slope(action, count):
    issue = Issue(kind="reverse_slope", at="R-1", action=action, text="belly in the middle")
    record = Record(structures=ends(), runs=[run(length_ft=20, drop_in=6)], issues=[issue])
    found = [f for f in check(record) if f.check == "reverse_slope"]
    assert [f.outcome for f in found] == ["attention"] * count
