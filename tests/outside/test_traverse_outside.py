"""Latitudes, departures, closure and the compass rule against published traverses."""

import math
import re

import pytest
from test_check_outside import ROWS, agrees

from extract.check.places import FOOT_M, geodesic_m
from extract.check.traverse import Closure, Leg, Offset, azimuth, closure, compass_rule, offset

pytestmark = pytest.mark.outside

BEARING = re.compile(r"([NS])(\d+)d(\d+)'(?:(\d+)\"+)?([EW]) ([\d.]+)")


def legs_of(row_id: str) -> list[Leg]:
    found = BEARING.findall(ROWS[row_id]["inputs"])
    assert len(found) == ROWS[row_id]["inputs"].count(";") + 1
    return [
        Leg(azimuth(pole, float(degrees), toward, float(minutes), float(seconds or 0)), float(feet))
        for pole, degrees, minutes, seconds, toward, feet in found
    ]


def test_latitude_and_departure_of_navedtra_14071():
    found = offset(Leg(azimuth("S", 61, "E", minutes=25), 520.16))
    assert ROWS["SURV-030"]["inputs"] == ROWS["SURV-031"]["inputs"] == "520.16 ft; S61d25'E"
    assert agrees("SURV-030", -found.latitude_ft)
    assert agrees("SURV-031", found.departure_ft)


def test_loop_of_four_legs_of_an_open_access_text():
    found = closure(legs_of("SURV-040"))
    assert agrees("SURV-040", found.error.latitude_ft)
    assert agrees("SURV-041", found.error.departure_ft)
    assert agrees("SURV-042", found.length_ft)
    assert agrees("SURV-043", found.misclosure_ft)


def test_traverse_of_six_legs_and_its_compass_rule():
    legs = legs_of("SURV-050")
    found, first = closure(legs), compass_rule(legs)[0]
    assert agrees("SURV-050", found.error.latitude_ft)
    assert agrees("SURV-051", found.error.departure_ft)
    assert agrees("SURV-052", found.length_ft)
    assert agrees("SURV-053", found.misclosure_ft)
    assert agrees("SURV-054", first.latitude_ft)
    assert agrees("SURV-055", first.departure_ft)
    assert found.precision == pytest.approx(5000.13 / 24.6876, abs=0.01)


def test_error_of_closure_and_precision_from_sums():
    north, south, east, west = map(float, re.findall(r"\d+\.\d+", ROWS["SURV-056"]["inputs"]))
    found = Closure(Offset(north - south, east - west), 3739)
    assert agrees("SURV-056", found.misclosure_ft)
    assert agrees("SURV-057", found.precision or 0)


def test_the_classic_pair_of_flinders_peak_and_buninyong():
    """Ellipsoids GRS80 and WGS84 differ by a tenth of a millimetre in the short axis, far below the tolerance."""
    found = re.findall(r"(-?)(\d+)d(\d+)'([\d.]+)", ROWS["GEO-006"]["inputs"])
    lats_lons = [
        math.copysign(int(degrees) + int(minutes) / 60 + float(seconds) / 3600, -1 if sign else 1)
        for sign, degrees, minutes, seconds in found
    ]
    assert agrees("GEO-006", geodesic_m(*lats_lons))


def test_the_foot_is_the_international_one_and_the_surveyors_is_two_millionths_longer():
    assert agrees("GEO-020", (1200 / 3937 / FOOT_M - 1) * 1e6)
