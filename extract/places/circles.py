"""Where two measures of one thing meet: circles about the points taped from, and lines of sight. Plane geometry."""

from __future__ import annotations

import math

XY = tuple[float, float]
"""Feet: x to the right and y up."""


def tapes_meet(one: XY, one_ft: float, other: XY, other_ft: float) -> list[XY]:
    """The two places so far from both points; where the tapes do not reach each other, or one lies inside the other,
    the one place that misses both by the same. None for one point twice. Source: plane geometry."""
    apart = math.dist(one, other)
    if apart < 1e-6:
        return []
    along = (apart**2 + one_ft**2 - other_ft**2) / (2 * apart)
    way = (other[0] - one[0]) / apart, (other[1] - one[1]) / apart
    square = one_ft**2 - along**2
    if square <= 0:
        along = _between(apart, one_ft, other_ft)
        return [(one[0] + along * way[0], one[1] + along * way[1])]
    off = math.sqrt(square)
    foot = one[0] + along * way[0], one[1] + along * way[1]
    return [(foot[0] - side * off * way[1], foot[1] + side * off * way[0]) for side in (1, -1)]


def _between(apart: float, one_ft: float, other_ft: float) -> float:
    """How far along the line from one point to the other the tapes miss each other by the same."""
    if one_ft + other_ft <= apart:
        return (one_ft + apart - other_ft) / 2
    return (one_ft + apart + other_ft) / 2 if one_ft > other_ft else (apart - other_ft - one_ft) / 2


def sight_meets_tape(eye: XY, azimuth_deg: float, centre: XY, far_ft: float) -> list[XY]:
    """The places on a line of sight that lie so far from a point; the nearest on it where none does."""
    way = direction(azimuth_deg)
    to = centre[0] - eye[0], centre[1] - eye[1]
    along = to[0] * way[0] + to[1] * way[1]
    square = far_ft**2 - (to[0] ** 2 + to[1] ** 2 - along**2)
    roots = [along] if square <= 0 else [along + math.sqrt(square), along - math.sqrt(square)]
    return [(eye[0] + t * way[0], eye[1] + t * way[1]) for t in roots if t > 0]


def direction(azimuth_deg: float) -> XY:
    """The step of one foot at an azimuth, clockwise from y."""
    return math.sin(math.radians(azimuth_deg)), math.cos(math.radians(azimuth_deg))


def azimuth_of(start: XY, end: XY) -> float:
    """Degrees clockwise from y, 0 up to 360."""
    return math.degrees(math.atan2(end[0] - start[0], end[1] - start[1])) % 360


def off_line(point: XY, start: XY, end: XY) -> float:
    """How far a point lies to the left of the line from start to end, feet; to the right it is negative."""
    long = math.dist(start, end)
    if long == 0:
        return 0.0
    return ((end[0] - start[0]) * (point[1] - start[1]) - (end[1] - start[1]) * (point[0] - start[0])) / long
