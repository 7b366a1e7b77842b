"""The check module against published worked examples and tables.

Each row of check_values.csv names its source and whether it was seen there or is from memory; every row is used here.
"""

import csv
import math
from pathlib import Path

import pytest

from extract.check import check
from extract.check.hydraulics import MANNING_K, self_cleansing_pct
from extract.check.levels import elevations, reduce_levels
from extract.check.policy import load_policy
from extract.check.slopes import run_slopes
from extract.record import Level, Record, Run, Structure

pytestmark = pytest.mark.outside

with Path(__file__).with_name("check_values.csv").open(newline="", encoding="utf-8") as table:
    ROWS = {row["id"]: row for row in csv.DictReader(table)}


def agrees(row_id: str, value: float) -> bool:
    """Whether a value is within the row's tolerance (absolute, or exact to nine decimals) of its expected one."""
    row = ROWS[row_id]
    tolerance = 1e-9 if row["tolerance"] == "exact" else float(row["tolerance"])
    return math.isclose(value, float(row["expected"]), rel_tol=0, abs_tol=tolerance + 1e-9)


def level(kind: str, point: str, rod: float, elevation: float | None = None) -> Level:
    return Level.model_validate({"kind": kind, "point": point, "rod_ft": rod, "elevation_ft": elevation})


def one_setup(start: float, backsight: float, foresight: float) -> tuple[float, float]:
    """Height of instrument and elevation sighted, feet."""
    levels = [level("backsight", "benchmark", backsight, start), level("foresight", "TP-1", foresight)]
    reading = reduce_levels(Record(levels=levels))[1]
    assert reading.elevation_ft is not None
    return reading.elevation_ft + reading.level.rod_ft, reading.elevation_ft


def test_grade_stake_of_navedtra_14081():
    instrument, elevation = one_setup(233.0, 4.0, 4.5)
    assert agrees("SURV-010", instrument)
    assert agrees("SURV-011", elevation)


def test_differential_levelling_of_a_university_handout():
    instrument, elevation = one_setup(820.00, 8.42, 1.20)
    assert agrees("SURV-013", instrument)
    assert agrees("SURV-014", elevation)


def four_setups() -> Record:
    levels, start = [], "benchmark"
    rods = zip((3.10, 6.44, 8.76, 7.12), (9.82, 6.96, 3.27, 10.42), strict=True)
    for turn, (back, fore) in enumerate(rods, start=1):
        levels.append(level("backsight", start, back, 100.00 if turn == 1 else None))
        start = f"TP-{turn}"
        levels.append(level("foresight", start, fore, 94.91 if turn == 4 else None))
    return Record(levels=levels)


def test_level_run_of_four_setups():
    found = elevations(four_setups())
    for turn, row_id in enumerate(("SURV-020", "SURV-021", "SURV-022", "SURV-023"), start=1):
        assert agrees(row_id, found[f"TP-{turn}"]), row_id
    assert agrees("SURV-024", found["TP-4"] - found["benchmark"])


def test_misclosure_of_the_run_of_four_setups_on_a_known_point():
    (finding,) = [f for f in check(four_setups()) if f.check == "elevation" and f.stated is not None]
    assert finding.outcome == "fail"
    assert agrees("SURV-025", (finding.computed or 0) - (finding.stated or 0))


def test_sewer_stakeout_of_navedtra_14070_along_its_grade():
    ends = [
        Structure(label="JB-1", kind="junction_box", invert_out_ft=122.87),
        Structure(label="JB-2", kind="junction_box", invert_in_ft=121.78),
    ]
    run = Run.model_validate({"label": "R-1", "from": "JB-1", "to": "JB-2", "length_ft": 50, "slope_pct": 2.18})
    slope = run_slopes(Record(structures=ends, runs=[run]))["R-1"]
    assert agrees("SURV-001", 122.87 - (slope.drop_in or 0) / 12)
    (finding,) = [f for f in check(Record(structures=ends, runs=[run])) if f.check == "slope"]
    assert (finding.outcome, finding.computed) == ("ok", 2.18)


@pytest.mark.parametrize(("row_id", "hub", "invert"), [("SURV-002", 126.94, 122.87), ("SURV-003", 127.33, 121.78)])
def test_cuts_of_the_sewer_stakeout_of_navedtra_14070(row_id, hub, invert):
    cut_in = float(ROWS[row_id]["expected"]) * 12
    box = Structure(label="JB-1", kind="junction_box", rim_ft=hub, invert_out_ft=invert, invert_depth_in=cut_in)
    (finding,) = [f for f in check(Record(structures=[box])) if f.check == "depth"]
    assert finding.outcome == "ok"
    assert agrees(row_id, (finding.computed or 0) / 12)


@pytest.mark.parametrize("row_id", ["GRADE-0.0625", "GRADE-0.125", "GRADE-0.25", "GRADE-0.5", "GRADE-1"])
def test_grades_in_inches_per_foot(row_id):
    run = Run(label="R-1", length_ft=20, drop_in=20 * float(row_id.removeprefix("GRADE-")))
    slope = run_slopes(Record(runs=[run]))["R-1"]
    assert agrees(row_id, slope.slope_pct or 0)


def test_fall_over_a_run():
    slope = run_slopes(Record(runs=[Run(label="R-1", length_ft=50, slope_pct=1.0)]))["R-1"]
    assert agrees("GRADE-fall", slope.drop_in or 0)


@pytest.mark.parametrize(
    ("row_id", "pipe", "inside_in", "limit", "n"),
    [
        ("HYD-08-4inSDR35-9", "SDR 35", 3.975, "manning_n_pvc", 0.009),
        ("HYD-08-6inSDR35-9", "SDR 35", 5.915, "manning_n_pvc", 0.009),
        ("HYD-08-4incorrugated-17", "corrugated", 4.0, "manning_n_corrugated_4_to_6_in", 0.017),
        ("HYD-08-4incorrugated-22", "corrugated", 4.0, "manning_n_corrugated_4_to_6_in", 0.022),
    ],
)
def test_slope_for_two_feet_a_second_by_manning(row_id, pipe, inside_in, limit, n):
    assert agrees("HYD-002", MANNING_K)
    assert agrees(row_id, self_cleansing_pct(pipe, inside_in, load_policy({limit: n})) / 100)


@pytest.mark.parametrize(
    ("limit", "row_id"),
    [
        ("manning_n_pvc", "N-10"),
        ("manning_n_dual_wall", "N-11"),
        ("manning_n_corrugated_to_3_in", "N-14-3"),
        ("manning_n_corrugated_4_to_6_in", "N-14-4"),
        ("manning_n_corrugated_4_to_6_in", "N-14-6"),
        ("manning_n_corrugated_8_in_up", "N-14-8"),
        ("min_velocity_ft_s", "VEL-001"),
    ],
)
def test_limits_are_those_of_their_sources(limit, row_id):
    assert agrees(row_id, load_policy()[limit])
    assert load_policy().limits[limit].mark == ROWS[row_id]["provenance"]


def test_house_rules_for_slope_are_the_plumbing_codes_own_percentages():
    policy = load_policy()
    small, common, large = (policy[f"min_slope_{sizes}_pct"] for sizes in ("under_3_in", "3_to_6_in", "8_in_up"))
    assert ROWS["CODE-005"]["expected"] == f"{small:g}/{common:g}"
    assert float(ROWS["CODE-004"]["expected"]) == common
    # The table in inches per foot says the same, before the percentages were rounded down.
    for row_id, percent in (("CODE-001", small), ("CODE-002", common), ("CODE-003", large)):
        assert 0 <= float(ROWS[row_id]["expected"]) / 12 * 100 - percent < 0.1, row_id


def test_every_row_kept_here_was_used():
    code = "".join(path.read_text(encoding="utf-8") for path in Path(__file__).parent.glob("test_*.py"))
    assert [row_id for row_id in ROWS if f'"{row_id}"' not in code] == []
