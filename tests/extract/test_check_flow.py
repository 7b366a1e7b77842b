"""What runs carry, what a storm brings them, and whether a hose test ran long enough."""

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from pydantic import ValidationError

from extract.check import check
from extract.check.circle import PEAK_RATIO, PEAK_SHARE, depth_ratio, flow_share, velocity_share
from extract.check.flow import full_flow
from extract.check.follow import follow
from extract.check.inlets import grate_cfs, gutter_cfs, slot_cfs, spread_ft, weir_cfs
from extract.check.manning import slope_for, velocity
from extract.check.network import network_of
from extract.check.plumbing import leader_gpm, listed_gpm
from extract.check.runoff import Storm, composite_c, rational_cfs, runoff_gpm
from extract.errors import UsageError
from extract.record import Area, Finding, Record, Run, Structure, Test

KINDS = {
    "CD": "channel_drain",
    "CB": "catch_basin",
    "AD": "area_drain",
    "DS": "downspout",
    "JB": "junction_box",
    "DW": "dry_well",
    "OUT": "daylight_outlet",
}
NEW = {"capacity", "velocity", "runoff", "grate", "leader", "design_flow", "limiting_run", "travel_time"}
STORM = Storm(intensity_in_h=4)


def structure(label: str, *areas: tuple[float, str | None], state: str = "installed", **said) -> Structure:
    drained = [{"sqft": sqft, "surface": surface} for sqft, surface in areas] or None
    kind = KINDS[label.split("-")[0]]
    return Structure.model_validate({"label": label, "kind": kind, "state": state, "areas": drained, **said})


def run(label: str, upper: str | None, lower: str | None, **said) -> Run:
    pipe = {"nominal_in": 4, "pipe": "SDR 35", "length_ft": 50, "slope_pct": 1, "state": "installed"}
    return Run.model_validate({"label": label, "from": upper, "to": lower, **pipe, **said})


def line(*areas: tuple[float, str | None], **said) -> Record:
    """A downspout that drains those areas, a run, and an outlet."""
    return Record(
        structures=[structure("DS-1", *areas), structure("OUT-1")], runs=[run("R-1", "DS-1", "OUT-1", **said)]
    )


def found(name: str, record: Record, **given_too) -> dict[str, Finding]:
    return {f.subject: f for f in check(record, **given_too) if f.check == name}


def new(record: Record, **given_too) -> list[Finding]:
    return [f for f in check(record, **given_too) if f.check in NEW]


# -- capacity


def test_capacity_is_told_with_the_numbers_that_led_to_it():
    (finding,) = new(line())
    assert (finding.check, finding.subject, finding.outcome, finding.unit) == ("capacity", "R-1", "ok", "gpm")
    assert finding.computed == pytest.approx(109.2, abs=0.1)
    assert finding.message == (
        "Run 1, 4 inch SDR 35 at 1 percent, carries up to 109 gallons a minute when full, that is 0.24 cubic feet a "
        "second, at 2.8 feet a second, with a roughness of 0.01 and 3.975 inches inside (largest inside diameter the "
        "standard allows)."
    )
    assert (finding.source or "").startswith("Manning's formula, k = 1.486; n: ")


def test_corrugated_pipe_carries_less_than_smooth():
    smooth, rough = (found("capacity", line(pipe=pipe))["R-1"] for pipe in ("dual-wall", "corrugated"))
    assert (rough.computed or 0) == pytest.approx((smooth.computed or 0) * 0.011 / 0.017, rel=1e-4)


def test_d2729_tells_what_it_carries_where_it_is_perforated():
    finding = found("capacity", line(pipe="D2729"))["R-1"]
    assert "up to 116 gallons a minute when full" in finding.message
    assert finding.message.endswith("; if it is perforated, 58 gallons a minute.")
    assert "Austin" in (finding.source or "")


def test_a_disputed_slope_counts_at_its_flattest():
    finding = found("capacity", line(slope_pct=2, drop_in=6))["R-1"]
    assert "at 1 percent" in finding.message


@pytest.mark.parametrize(
    "said",
    [
        {"nominal_in": None},
        {"pipe": None},
        {"slope_pct": None},
        {"slope_pct": -1},
        {"slope_pct": 0},
        {"nominal_in": -4},
        {"state": "planned"},
        {"state": "abandoned"},
    ],
)
def test_a_run_that_misses_what_it_takes_has_no_capacity_and_raises_no_noise(said):
    assert new(line(**said)) == []


def test_a_firm_may_reckon_with_a_roughness_of_its_own_but_not_with_none():
    rough = found("capacity", line(), overrides={"manning_n_pvc": 0.013})["R-1"]
    assert rough.computed == pytest.approx(109.2 / 1.3, abs=0.1)
    assert "company policy" in (rough.source or "")
    with pytest.raises(UsageError, match=r"manning_n_pvc is 0; give a number from 0.005"):
        found("capacity", line(), overrides={"manning_n_pvc": 0})


def test_water_that_scours_is_worth_a_look():
    finding = found("velocity", line(slope_pct=20))["R-1"]
    assert (finding.outcome, finding.limit) == ("attention", 10)
    assert "see that the outlet cannot scour" in finding.message
    assert found("velocity", line(slope_pct=2)) == {}


# -- the storm


def test_areas_with_no_storm_ask_for_one_once_and_say_where_to_look():
    record = line((600, "roof"))
    record.structures.append(structure("CB-1", (400, "patio")))
    (finding,) = [f for f in new(record) if f.check != "capacity"]
    assert (finding.check, finding.outcome) == ("runoff", "unknown")
    for words in ("600 square feet of roof to downspout 1", "inches an hour", "local code", "NOAA Atlas 14"):
        assert words in finding.message


def test_a_storm_with_no_areas_raises_no_noise():
    assert [f.check for f in new(line(), storm=STORM)] == ["capacity"]


def test_runoff_of_a_roof_in_a_storm():
    storm = Storm(intensity_in_h=4, found_in="table of the local code")
    finding = found("runoff", line((600, "roof")), storm=storm)["DS-1"]
    assert finding.outcome == "ok"
    assert finding.computed == pytest.approx(0.9 * 4 * 600 * 0.0103896, rel=1e-4)
    assert finding.message == (
        "600 square feet of roof shed 22 gallons a minute to downspout 1 in a storm of 4 inches an hour "
        "(table of the local code)."
    )


def test_areas_of_one_structure_take_their_composite_coefficient():
    finding = found("runoff", line((1000, "roof"), (1000, "lawn")), storm=STORM)["DS-1"]
    assert finding.computed == pytest.approx((0.9 + 0.22) * 4 * 1000 * 0.0103896, rel=1e-4)


def test_an_unsaid_surface_counts_as_roof_and_says_so_but_for_a_downspout():
    record = Record(structures=[structure("CB-1", (1000, None))])
    basin = found("runoff", record, storm=STORM)["CB-1"]
    assert basin.outcome == "unknown"
    assert "counted as roof" in basin.message
    spout = found("runoff", line((1000, None)), storm=STORM)["DS-1"]
    assert (spout.outcome, spout.computed) == ("ok", basin.computed)


def test_areas_given_for_the_job_stand_in_place_of_those_said():
    areas = {"DS-1": [Area(sqft=100, surface="gravel")]}
    finding = found("runoff", line((600, "roof")), storm=STORM, areas=areas)["DS-1"]
    assert finding.computed == pytest.approx(0.8 * 4 * 100 * 0.0103896, rel=1e-4)


def test_areas_for_a_structure_that_is_not_there_fail():
    finding = found("runoff", line(), storm=STORM, areas={"CB-9": [Area(sqft=100)]})["CB-9"]
    assert finding.outcome == "fail"
    assert "which the record does not hold" in finding.message


@pytest.mark.parametrize("sqft", [0, -5, math.nan, math.inf, 1e9])
def test_an_area_that_is_none_fails_and_is_left_out(sqft):
    findings = new(line((sqft, "roof"), (600, "roof")), storm=STORM)
    assert [f.outcome for f in findings if f.check == "runoff"] == ["fail", "ok"]


@pytest.mark.parametrize("intensity", [0, -1, 31, math.nan, math.inf])
def test_a_storm_that_cannot_be_is_refused(intensity):
    with pytest.raises(ValidationError):
        Storm(intensity_in_h=intensity)


def network(*areas: tuple[str, float]) -> Record:
    """Two downspouts and a basin into one box, and out: R-3 carries all of it."""
    drained = dict(areas)
    upper = [
        structure(label, *([(drained[label], "roof")] if label in drained else []))
        for label in ("DS-1", "DS-2", "CB-1")
    ]
    runs = [
        run("R-1", "DS-1", "CB-1"),
        run("R-2", "DS-2", "CB-1", pipe="corrugated"),
        run("R-3", "CB-1", "OUT-1"),
    ]
    return Record(structures=[*upper, structure("OUT-1")], runs=runs)


def test_flow_adds_up_down_the_network():
    flows = found("design_flow", network(("DS-1", 500), ("DS-2", 700), ("CB-1", 300)), storm=STORM)
    each = 0.9 * 4 * 0.0103896
    assert {label: round((f.computed or 0) / each) for label, f in flows.items()} == {
        "R-1": 500,
        "R-2": 700,
        "R-3": 1500,
    }
    assert {f.outcome for f in flows.values()} == {"ok"}


def test_the_run_nearest_full_is_the_limit_of_its_outlet():
    small = found("limiting_run", network(("DS-1", 1), ("DS-2", 1000), ("CB-1", 1)), storm=STORM)["OUT-1"]
    assert small.outcome == "ok"
    assert small.message.startswith(
        "Of the runs to outlet 1, run 2 is the limit: the storm takes 57 percent of what fills it, and one of 7.0 "
        "inches an hour would fill it."
    )
    large = found("limiting_run", network(("DS-1", 2000), ("DS-2", 500)), storm=STORM)["OUT-1"]
    assert "run 3 is the limit" in large.message


def test_the_limit_says_what_the_codes_table_lists_with_its_edition_and_mark():
    limit = found("limiting_run", line((600, "roof"), slope_pct=1.0417), storm=STORM)["OUT-1"]
    assert "Table 1106.2 of the International Plumbing Code, 2015 to 2021, lists 115" in limit.message
    assert "from memory" in limit.message
    assert (
        "Table 1106.2"
        not in found("limiting_run", line((600, "roof"), pipe="corrugated"), storm=STORM)["OUT-1"].message
    )


@pytest.mark.parametrize(("sqft", "outcome"), [(2000, "ok"), (2700, "attention")])
def test_a_storm_beyond_what_the_codes_table_lists_is_worth_a_look_though_the_pipe_would_carry_it(sqft, outcome):
    limit = found("limiting_run", line((sqft, "roof"), pipe="SDR 35", slope_pct=1), storm=STORM)["OUT-1"]
    assert limit.computed < 100
    assert limit.outcome == outcome
    assert ("less than the" in limit.message) == (outcome == "attention")


@pytest.mark.parametrize(
    ("share", "outcome", "words"),
    [
        (0.5, "ok", "so it runs 0.50 of its diameter deep"),
        (0.97, "ok", "so it runs 0.79 of its diameter deep"),
        (0.99, "attention", "over the 0.8 that leaves room"),
        (1.03, "fail", "too small"),
        (3, "fail", "too small"),
    ],
)
def test_how_full_a_run_may_be(share, outcome, words):
    full = found("capacity", line())["R-1"].computed or 0
    sqft = share * full / runoff_gpm(0.9, 4, 1)
    finding = found("design_flow", line((sqft, "roof")), storm=STORM)["R-1"]
    assert (finding.outcome, finding.limit) == (outcome, full)
    assert words in finding.message


def test_a_run_whose_capacity_is_not_known_says_what_is_missing():
    record = line((600, "roof"), pipe=None, slope_pct=None)
    finding = found("design_flow", record, storm=STORM)["R-1"]
    assert finding.outcome == "unknown"
    assert "its kind of pipe and slope are not known" in finding.message


def test_a_limit_says_which_runs_it_does_not_know():
    record = network(("DS-1", 500), ("DS-2", 700))
    record.runs[1].slope_pct = None
    limit = found("limiting_run", record, storm=STORM)["OUT-1"]
    assert limit.outcome == "unknown"
    assert "what run 2 can carry is not known" in limit.message


def test_an_inlet_with_no_area_is_named_and_nothing_below_it_is_called_enough():
    record = network(("DS-1", 500))
    flows = found("design_flow", record, storm=STORM)
    assert {label: f.outcome for label, f in flows.items()} == {"R-1": "ok", "R-3": "unknown"}
    words = "what catch basin 1 and downspout 2 may bring is not counted, as no area was given for it"
    assert words in flows["R-3"].message.replace("downspout 2 and catch basin 1", "catch basin 1 and downspout 2")
    assert found("limiting_run", record, storm=STORM)["OUT-1"].outcome == "unknown"
    assert found("design_flow", network(("DS-1", 9000)), storm=STORM)["R-3"].outcome == "fail"


def test_a_surface_that_nobody_said_makes_no_failure():
    record = network(("DS-1", 500), ("DS-2", 700), ("CB-1", 1))
    record.structures[2].areas = [Area(sqft=4000)]
    flows = found("design_flow", record, storm=STORM)
    assert flows["R-3"].outcome == "unknown"
    assert "that counts the surface at catch basin 1, which was not said, as roof" in flows["R-3"].message
    record.structures[2].size_in = [12, 12]
    assert found("grate", record, storm=STORM)["CB-1"].outcome == "unknown"
    record.structures[2].areas = [Area(sqft=4000, surface="driveway")]
    assert found("design_flow", record, storm=STORM)["R-3"].outcome == "fail"
    assert found("grate", record, storm=STORM)["CB-1"].outcome == "attention"


def test_two_runs_out_of_one_basin_share_its_water():
    record = Record(
        structures=[structure("CB-1", (1000, "roof")), structure("OUT-1"), structure("OUT-2")],
        runs=[run("R-1", "CB-1", "OUT-1"), run("R-2", "CB-1", "OUT-2")],
    )
    flows = found("design_flow", record, storm=STORM)
    assert flows["R-1"].computed == flows["R-2"].computed == pytest.approx(runoff_gpm(0.9, 4, 500), rel=1e-4)


def test_water_that_goes_round_in_a_loop_is_unknown_and_the_rest_is_followed():
    record = Record(
        structures=[structure(label, (500, "roof")) for label in ("CB-1", "CB-2", "DS-1")] + [structure("OUT-1")],
        runs=[run("R-1", "CB-1", "CB-2"), run("R-2", "CB-2", "CB-1"), run("R-3", "DS-1", "OUT-1")],
    )
    lost = [f for f in check(record, storm=STORM) if f.check == "runoff" and f.outcome == "unknown"]
    assert ["go round in a loop" in f.message for f in lost] == [True]
    assert set(found("design_flow", record, storm=STORM)) == {"R-3"}


def test_planned_and_abandoned_structures_shed_nothing():
    record = line()
    record.structures[0] = structure("DS-1", (600, "roof"), state="planned")
    assert found("runoff", record, storm=STORM) == {}


# -- inlets and leaders


def test_a_grate_too_small_for_its_own_area_is_worth_a_look():
    record = Record(structures=[structure("AD-1", (3000, "patio"), size_in=[6])])
    small = found("grate", record, storm=STORM)["AD-1"]
    assert small.outcome == "attention"
    assert "water will stand deeper there" in small.message
    record = Record(structures=[structure("CB-1", (300, "patio"), size_in=[12, 12])])
    large = found("grate", record, storm=STORM)["CB-1"]
    assert large.outcome == "ok"
    assert large.computed == pytest.approx(grate_cfs(2, 0.25, 1 / 12) * 448.831, rel=1e-4)


def test_a_channel_takes_water_in_along_its_length():
    record = Record(structures=[structure("CD-1", (900, "driveway"), size_in=[4], length_ft=10)])
    assert found("grate", record, storm=STORM)["CD-1"].computed == pytest.approx(
        slot_cfs(5, 2 / 12, 1 / 12) * 448.831, rel=1e-4
    )
    assert found("grate", Record(structures=[structure("CD-1", (900, "driveway"), size_in=[4])]), storm=STORM) == {}


def test_a_downspout_takes_what_codes_let_an_upright_leader_carry():
    record = line((600, "roof"))
    record.structures[0].size_in = [2]
    assert found("leader", record, storm=STORM)["DS-1"].outcome == "ok"
    record.structures[0].areas = [Area(sqft=900, surface="roof")]
    assert found("leader", record, storm=STORM)["DS-1"].outcome == "attention"
    record.structures[0].size_in = [2, 3]  # a square one has no listed capacity
    assert found("leader", record, storm=STORM) == {}


# -- hose tests


@pytest.mark.parametrize(
    ("at", "seconds", "outcome", "words"),
    [
        ("R-1", 120, "ok", "needs 33 seconds for 50 feet of run 1, so it had time to come through"),
        ("R-1", 20, "attention", "needs at least 33 seconds for 50 feet of run 1, so the test was too short"),
        ("DS-1", 300, "ok", "what runs down from downspout 1"),
    ],
)
def test_whether_a_hose_test_ran_long_enough(at, seconds, outcome, words):
    record = line()
    record.tests = [Test(kind="hose", at=at, duration_s=seconds, flow_gpm=6, result="pass")]
    finding = found("travel_time", record)[at]
    assert (finding.outcome, finding.stated, finding.unit) == (outcome, seconds, "s")
    assert words in finding.message


@pytest.mark.parametrize(
    "said",
    [
        {"at": None},
        {"flow_gpm": None},
        {"duration_s": None},
        {"kind": "camera"},
        {"flow_gpm": 0},
        {"duration_s": math.nan},
        {"at": "OUT-1"},
        {"at": "CB-7"},
    ],
)
def test_a_test_that_does_not_tell_enough_is_left_in_peace(said):
    record = line()
    record.tests = [Test.model_validate({"kind": "hose", "at": "R-1", "duration_s": 60, "flow_gpm": 6, **said})]
    assert found("travel_time", record) == {}


def test_a_way_with_a_run_not_known_is_left_in_peace_unless_the_test_was_too_short_already():
    record = network()
    record.runs[2].slope_pct = None
    record.tests = [Test(kind="hose", at="DS-1", duration_s=300, flow_gpm=6)]
    assert found("travel_time", record) == {}
    record.tests[0].duration_s = 10
    assert found("travel_time", record)["DS-1"].outcome == "attention"


# -- the arithmetic


@given(st.floats(0, PEAK_SHARE), st.floats(0, PEAK_SHARE))
def test_deeper_water_carries_more_up_to_the_peak(one, other):
    low, high = sorted((one, other))
    depths = depth_ratio(low), depth_ratio(high)
    assert depths[0] is not None
    assert depths[1] is not None
    assert 0 <= depths[0] <= depths[1] <= PEAK_RATIO
    assert flow_share(depths[1]) == pytest.approx(high, abs=1e-9)


def test_above_the_peak_no_depth_answers():
    assert depth_ratio(PEAK_SHARE * 1.0001) is None
    assert depth_ratio(math.inf) is None


@given(st.floats(0, 1))
def test_shares_are_numbers_within_bounds_at_every_depth(ratio):
    assert 0 <= flow_share(ratio) <= PEAK_SHARE + 1e-9
    assert 0 <= velocity_share(ratio) <= 1.1401


@given(st.floats(0.5, 60), st.floats(0.005, 0.05), st.floats(0, 2), st.floats(0, 2))
def test_a_steeper_run_carries_more_and_a_rougher_one_less(inside, n, one, other):
    low, high = sorted((one, other))
    assert full_flow(inside, n, low) <= full_flow(inside, n, high)
    assert full_flow(inside, n * 1.1, high) <= full_flow(inside, n, high)


@given(st.floats(0.01, 20), st.floats(0.005, 0.05), st.floats(0.01, 5))
def test_the_slope_for_a_velocity_gives_that_velocity(wanted, n, radius):
    assert velocity(n, radius, slope_for(wanted, n, radius)) == pytest.approx(wanted)


@given(st.floats(0.1, 20), st.floats(0.001, 0.2), st.floats(0.001, 0.2))
def test_the_spread_of_a_gutters_flow_gives_that_flow(spread, cross, slope):
    assert spread_ft(gutter_cfs(0.016, cross, slope, spread), 0.016, cross, slope) == pytest.approx(spread)


@pytest.mark.parametrize(
    "call",
    [
        lambda: velocity(0, 1, 1),
        lambda: velocity(0.01, -1, 1),
        lambda: velocity(math.nan, 1, 1),
        lambda: slope_for(2, 0.01, 0),
        lambda: depth_ratio(-0.1),
        lambda: depth_ratio(math.nan),
        lambda: flow_share(1.01),
        lambda: weir_cfs(3, -1, 1),
        lambda: gutter_cfs(0, 0.02, 0.01, 6),
        lambda: spread_ft(1, 0.016, 0, 0.01),
        lambda: rational_cfs(0.9, -1, 1),
        lambda: composite_c([(-1, 0.9)]),
        lambda: leader_gpm(4, 1.1),
    ],
)
def test_what_cannot_be_is_refused(call):
    with pytest.raises(ValueError, match=r"\w"):
        call()


def test_the_codes_table_takes_the_steepest_fall_that_the_run_has():
    assert [listed_gpm(4, pct) for pct in (0.5, 0.53, 1.0417, 2, 2.0834, 9)] == [None, 81, 115, 115, 163, 231]
    assert listed_gpm(5, 1.1) is None  # a doubtful row
    assert listed_gpm(7, 1.1) is None


# -- any record


LABELS = st.sampled_from(["CB-1", "CB-2", "CD-1", "DS-1", "DW-1", "OUT-1", "XX-1", ""])
NUMBERS = st.none() | st.floats() | st.floats(0, 100) | st.sampled_from([0, -1, 1e308, 5e-324, 4])
AREAS = st.lists(
    st.builds(Area, sqft=st.floats() | st.floats(1, 5000), surface=st.sampled_from(["roof", "lawn", None]))
)
STRUCTURES = st.builds(
    Structure,
    label=LABELS,
    kind=st.sampled_from(list(KINDS.values())),
    state=st.sampled_from(["installed", "planned", "abandoned", None]),
    size_in=st.none() | st.lists(st.floats() | st.floats(1, 24), max_size=3),
    length_ft=NUMBERS,
    areas=st.none() | AREAS,
)
RUNS = st.builds(
    Run,
    label=st.sampled_from(["R-1", "R-2", "R-3"]),
    from_=st.none() | LABELS,
    to=st.none() | LABELS,
    state=st.sampled_from(["installed", "existing", "abandoned"]),
    nominal_in=NUMBERS | st.sampled_from([3, 4, 6]),
    pipe=st.sampled_from(["SDR 35", "Schedule 40", "D2729", "corrugated", "dual-wall", None]),
    length_ft=NUMBERS,
    slope_pct=NUMBERS,
    drop_in=NUMBERS,
)
TESTS = st.builds(
    Test, kind=st.just("hose"), at=st.none() | LABELS | st.just("R-1"), duration_s=NUMBERS, flow_gpm=NUMBERS
)


@settings(max_examples=200, deadline=None)
@given(
    st.lists(STRUCTURES, max_size=8),
    st.lists(RUNS, max_size=8),
    st.lists(TESTS, max_size=3),
    st.none() | st.builds(Storm, intensity_in_h=st.floats(0.1, 30) | st.just(5e-324)),
    st.dictionaries(LABELS, AREAS, max_size=3),
)
def test_no_record_raises_and_no_finding_holds_nan_or_infinity(structures, runs, tests, storm, areas):
    record = Record(structures=structures, runs=runs, tests=tests)
    for each in check(record, storm=storm, areas=areas):
        assert all(math.isfinite(n) for n in (each.stated, each.computed, each.limit) if n is not None), each
        assert each.message.endswith("."), each
        assert not {"nan", "inf", "-inf", "None"} & set(each.message.replace(",", " ").replace(".", " ").split()), each


@settings(max_examples=100, deadline=None)
@given(st.lists(st.tuples(LABELS, LABELS), max_size=12), st.floats(1, 100))
def test_more_rain_never_makes_less_flow_and_none_of_it_is_lost(ends, gpm):
    runs = [run(f"R-{n}", upper, lower) for n, (upper, lower) in enumerate(ends)]
    net = network_of(Record(runs=runs))
    once, twice = (follow(net, {"CB-1": each, "DS-1": each}, {}) for each in (gpm, 2 * gpm))
    assert all(twice.by_run[key] == pytest.approx(2 * flow) for key, flow in once.by_run.items())
    if {upper for upper, _ in ends} <= once.reached:
        last = [label for label in once.reached if label not in net.leaving]
        assert sum(once.arriving[label] for label in last) == pytest.approx(2 * gpm)


def test_the_water_of_a_run_that_ends_at_another_is_carried_on_by_it():
    record = Record(
        structures=[structure("CB-1", (500, "roof")), structure("DS-1", (700, "roof")), structure("OUT-1")],
        runs=[run("R-1", "CB-1", "OUT-1"), run("R-2", "DS-1", "R-1")],
    )
    flows = found("design_flow", record, storm=STORM)
    assert flows["R-1"].computed == pytest.approx(runoff_gpm(0.9, 4, 1200), rel=1e-4)
    limit = found("limiting_run", record, storm=STORM)["OUT-1"]
    assert "run 1 is the limit" in limit.message


def test_a_surface_that_nobody_said_leaves_a_sure_failure_standing():
    record = network(("DS-1", 9000), ("DS-2", 700), ("CB-1", 1))
    record.structures[2].areas = [Area(sqft=10)]
    flows = found("design_flow", record, storm=STORM)
    assert flows["R-3"].outcome == "fail"
    assert "and as lawn it would still be too much" in flows["R-3"].message


def test_what_is_not_counted_above_a_run_that_another_ends_at_is_told_of_it():
    record = Record(
        structures=[structure("CB-1"), structure("CB-2", (600, "roof")), structure("OUT-1")],
        runs=[run("R-1", "CB-1", "R-2"), run("R-2", "CB-2", "OUT-1")],
    )
    assert found("design_flow", record, storm=STORM)["R-2"].outcome == "unknown"
    record.runs[1].from_ = None  # and one with no upper end of its own is no trouble
    record.structures[0].areas = [Area(sqft=600, surface="roof")]
    assert found("design_flow", record, storm=STORM)["R-2"].outcome == "ok"


def test_water_lost_in_a_loop_is_told_of_the_run_that_it_comes_to():
    record = Record(
        structures=[structure("CB-1"), structure("CB-2", (600, "roof"))],
        runs=[run("R-1", "CB-1", "R-2"), run("R-2", "CB-2", "CB-1")],
    )
    assert found("design_flow", record, storm=STORM)["R-2"].outcome == "unknown"
