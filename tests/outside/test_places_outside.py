"""Distances on the ground against Karney's test set and pairs of a site's scale."""

import re

import pytest
from test_check_outside import ROWS, agrees

from extract.check.places import geodesic_m
from extract.check.policy import load_policy

pytestmark = pytest.mark.outside


@pytest.mark.parametrize(
    "row_id",
    [
        "GEO-001",
        "GEO-002",
        "GEO-003",
        "GEO-004",
        "GEO-005",
        "GEO-010",
        "GEO-011",
        "GEO-012",
        "GEO-013",
        "GEO-014",
    ],
)
def test_geodesics_on_wgs84(row_id):
    numbers = [float(number) for number in re.findall(r"-?\d+\.?\d*", ROWS[row_id]["inputs"].replace("->", ","))]
    assert len(numbers) == 4
    assert agrees(row_id, geodesic_m(*numbers))


def test_the_error_of_a_phone_with_none_of_its_own():
    assert load_policy()["phone_error_m"] == float(ROWS["GEO-021"]["expected"])
