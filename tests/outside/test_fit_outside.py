"""What joins what, and cleanouts, against the standards' outside diameters and the model plumbing code."""

import re

import pytest
from test_check_outside import ROWS, agrees

from extract.check import check
from extract.check.fit import CORRUGATED, mating
from extract.check.policy import load_policy
from extract.record import Fitting, Record, Run, Structure

pytestmark = pytest.mark.outside


@pytest.mark.parametrize(
    ("row_id", "size", "first", "second"),
    [
        ("MATE-01", 4, "SDR 35", "D2729"),
        ("MATE-02", 4, "SDR 35", "Schedule 40"),
        ("MATE-08", 4, "D2729", "Schedule 40"),
        ("MATE-03", 6, "SDR 35", "D2729"),
        ("MATE-04", 6, "SDR 35", "Schedule 40"),
        ("MATE-09", 6, "D2729", "Schedule 40"),
        ("MATE-05", 3, "D2729", "Schedule 40"),
        ("MATE-07", 8, "SDR 35", "Schedule 40"),
    ],
)
def test_joints_of_smooth_pipe(row_id, size, first, second):
    found = mating(first, size, second, size, load_policy())
    assert found.mates == ROWS[row_id]["expected"].startswith("mates")
    diameters = [float(number) for number in re.findall(r"\d\.\d+", ROWS[row_id]["expected"])]
    assert all(f"{diameter:g}" in found.why for diameter in diameters)
    assert ("from memory" in found.source) == (ROWS[row_id]["provenance"] == "memory")


@pytest.mark.parametrize("smooth", ["SDR 35", "Schedule 40", "D2729"])
@pytest.mark.parametrize("corrugated", sorted(CORRUGATED))
def test_corrugated_never_goes_onto_smooth_pipe(corrugated, smooth):
    assert ROWS["MATE-06"]["expected"].startswith("adapter")
    for size in (3, 4, 6, 8):
        assert not mating(corrugated, size, smooth, size, load_policy()).mates


@pytest.mark.parametrize(
    ("limit", "row_id"),
    [
        ("cleanout_spacing_ft", "CODE-010"),
        ("cleanout_bend_deg", "CODE-011"),
        ("cleanout_shared_ft", "CODE-012"),
        ("manhole_spacing_ft", "CODE-014"),
    ],
)
def test_limits_are_those_of_the_model_plumbing_code(limit, row_id):
    assert agrees(row_id, load_policy()[limit])
    assert load_policy().limits[limit].mark.removeprefix("from ") == ROWS[row_id]["provenance"]


@pytest.mark.parametrize(("size", "place"), [(4, 0), (6, 1), (10, 2)])
def test_a_stricter_city_is_an_override(size, place):
    """Chicago asks for a cleanout every 50 ft up to 4 inch, 150 ft from 10 inch, and 100 ft between."""
    spacing = float(ROWS["CODE-013"]["expected"].split("/")[place])
    own = {"cleanout_spacing_ft": spacing, "manhole_spacing_ft": spacing}
    ends = [Structure(label=label, kind="catch_basin", state="installed") for label in ("CB-1", "CB-2")]
    for length, asked in ((spacing, 0), (spacing + 1, 1)):
        pipe = Run.model_validate(
            {"label": "R-1", "from": "CB-1", "to": "CB-2", "nominal_in": size, "length_ft": length}
        )
        record = Record(structures=ends, runs=[pipe])
        assert len([each for each in check(record, own) if each.check == "cleanout"]) == asked


def test_one_cleanout_serves_all_sharp_turns_within_reach():
    reach, turn = float(ROWS["CODE-012"]["expected"]), float(ROWS["CODE-011"]["expected"])
    ends = [
        Structure(label="DS-1", kind="downspout", state="installed"),
        Structure(label="CO-1", kind="cleanout", state="installed"),
    ]
    for length, angle, asked in ((reach, turn + 1, 0), (reach + 1, turn + 1, 1), (reach + 1, turn, 0)):
        pipe = Run.model_validate({"label": "R-1", "from": "DS-1", "to": "CO-1", "length_ft": length})
        pipe.fittings = [Fitting(kind="elbow", angle_deg=angle)]
        record = Record(structures=ends, runs=[pipe])
        assert len([each for each in check(record) if each.check == "cleanout"]) == asked
