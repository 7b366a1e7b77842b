"""Cover and load against the agencies', makers' and standards' figures."""

import pytest
from test_check_outside import ROWS, agrees

from extract.check import check
from extract.check.cover import load_class, loads
from extract.check.pipes import pipe_size
from extract.check.policy import load_policy
from extract.record import Record, Run

pytestmark = pytest.mark.outside


def test_cover_of_an_agency_by_street_drive_and_elsewhere():
    street, drive, elsewhere = map(float, ROWS["INST-007"]["expected"].split("/"))
    policy = load_policy()
    assert (policy["cover_truck_in"], policy["cover_car_in"]) == (street, drive)
    assert f"{elsewhere:g} in elsewhere" in policy.limits["cover_car_in"].why


def test_cover_of_a_state_is_recommended_and_least():
    recommended, least = (float(feet) * 12 for feet in ROWS["INST-008"]["expected"].split("/"))
    policy = load_policy()
    assert policy["cover_truck_in"] == recommended
    assert policy["cover_floor_in"] == policy["cover_cart_in"] == least


def test_cover_of_corrugated_pipe_under_trucks_by_its_makers():
    assert agrees("INST-009", load_policy()["cover_dual_wall_vehicles_in"])
    for cover, outcome in ((float(ROWS["INST-009"]["expected"]), "ok"), (11, "fail")):
        pipe = Run(label="R-1", pipe="dual-wall", traffic="truck", cover_in=cover)
        (finding,) = [each for each in check(Record(runs=[pipe])) if each.check == "cover"]
        assert finding.outcome == outcome


@pytest.mark.parametrize("row_id", ["INST-004", "INST-005"])
def test_cover_before_machines_cross_is_told_with_its_section_and_its_mark(row_id):
    why = load_policy().limits["cover_truck_in"].why
    assert f"{float(ROWS[row_id]['expected']):g} in" in why
    assert "D2321 section 7.6" in why
    assert "from memory" in why
    assert ROWS[row_id]["provenance"] == "memory"


@pytest.mark.parametrize(
    ("load_row", "lbf_row"),
    [
        ("LOAD-EN-A15", "LOAD-LBF-A15"),
        ("LOAD-EN-B125", "LOAD-LBF-B125"),
        ("LOAD-EN-C250", "LOAD-LBF-C250"),
        ("LOAD-EN-D400", "LOAD-LBF-D400"),
        ("LOAD-EN-E600", "LOAD-LBF-E600"),
        ("LOAD-EN-F900", "LOAD-LBF-F900"),
    ],
)
def test_load_classes_of_en_124_and_en_1433(load_row, lbf_row):
    name = load_row.removeprefix("LOAD-EN-")
    (found,) = [each for each in loads().classes if each.name == name]
    assert agrees(load_row, found.kn)
    assert agrees(lbf_row, found.lbf)
    assert ROWS[load_row]["provenance"] == loads().source["en_mark"]


@pytest.mark.parametrize(
    ("traffic", "row_id", "word"),
    [
        ("foot", "LOAD-EN-A15", "pedestrians"),
        ("car", "LOAD-EN-B125", "driveways"),
        ("truck", "LOAD-EN-D400", "vehicles"),
    ],
)
def test_the_class_for_a_traffic_is_that_of_its_typical_place(traffic, row_id, word):
    assert word in ROWS[row_id]["inputs"]
    assert word in load_class(traffic).place


def test_the_h20_truck():
    truck = loads().h20
    assert agrees("LOAD-001", truck.front_axle_lbf)
    assert agrees("LOAD-002", truck.rear_axle_lbf)
    assert agrees("LOAD-003", truck.axle_spacing_ft)
    assert agrees("LOAD-004", truck.wheel_lbf)
    assert agrees("LOAD-005", truck.tire_psi)


@pytest.mark.parametrize(
    ("row_id", "family", "size"),
    [
        ("PIPE-SDR35-PS", "SDR 35", 4),
        ("PIPE-D2729-3-PS", "D2729", 3),
        ("PIPE-D2729-4-PS", "D2729", 4),
        ("PIPE-D2729-6-PS", "D2729", 6),
    ],
)
def test_stiffness_that_tells_d2729_from_sdr_35(row_id, family, size):
    assert agrees(row_id, pipe_size(family, size).stiffness_psi.value)
