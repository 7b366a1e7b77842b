"""Legs, closure and bends in general; the published traverses stand in tests/outside."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from extract.check.traverse import Leg, azimuth, closure, compass_rule, least_apart_ft, offset
from extract.errors import UsageError

LEGS = st.lists(st.builds(Leg, st.floats(0, 360), st.floats(0.1, 500)), min_size=1, max_size=12)


@pytest.mark.parametrize(
    ("pole", "angle", "toward", "degrees"),
    [("N", 30, "E", 30), ("S", 30, "E", 150), ("S", 30, "W", 210), ("N", 30, "W", 330), ("N", 0, "W", 0)],
)
def test_a_bearing_as_an_azimuth(pole, angle, toward, degrees):
    assert azimuth(pole, angle, toward) == degrees


@pytest.mark.parametrize("angle", [-1, 90.5, math.nan])
def test_a_bearing_past_a_quadrant_is_refused(angle):
    with pytest.raises(UsageError, match="a bearing cannot turn"):
        azimuth("N", angle, "E")


@pytest.mark.parametrize("leg", [Leg(math.nan, 10), Leg(10, -1), Leg(10, math.inf), Leg(10, 1e308)])
def test_a_leg_that_cannot_be_is_refused(leg):
    with pytest.raises(UsageError, match="cannot be"):
        closure([leg, leg])


def test_a_square_closes_and_has_no_precision_to_speak_of():
    found = closure([Leg(turn, 20) for turn in (0, 90, 180, 270)])
    assert found.misclosure_ft < 1e-9
    assert found.length_ft == 80


def test_no_legs_close_exactly():
    found = closure([])
    assert (found.misclosure_ft, found.length_ft, found.precision) == (0, 0, None)
    assert compass_rule([Leg(0, 0.0)])[0].length_ft == 0


@given(LEGS)
def test_the_compass_rule_closes_any_traverse(legs):
    fixed = [(offset(leg), fix) for leg, fix in zip(legs, compass_rule(legs), strict=True)]
    assert sum(leg.latitude_ft + fix.latitude_ft for leg, fix in fixed) == pytest.approx(0, abs=1e-6)
    assert sum(leg.departure_ft + fix.departure_ft for leg, fix in fixed) == pytest.approx(0, abs=1e-6)


@given(st.lists(st.tuples(st.floats(0.1, 100), st.floats(-60, 60)), min_size=1, max_size=10))
def test_no_way_of_laying_bends_brings_the_ends_nearer(pieces):
    legs, heading = [], 0.0
    for length, turn in pieces:
        legs.append(Leg(heading, length))
        heading += turn
    bends = sum(abs(turn) for _, turn in pieces[:-1])
    total = sum(length for length, _ in pieces)
    assert closure(legs).misclosure_ft >= least_apart_ft(total, bends) - 1e-6


def test_one_bend_in_the_middle_is_the_least():
    legs = [Leg(0, 20), Leg(90, 20)]
    assert closure(legs).misclosure_ft == pytest.approx(least_apart_ft(40, 90))


@pytest.mark.parametrize(("length", "bends"), [(40, 180), (40, math.nan), (math.inf, 10), (-1, 0)])
def test_bends_that_bring_a_pipe_back_leave_no_bound(length, bends):
    assert least_apart_ft(length, bends) == 0
