"""Legs on the ground, by bearing and length, to a plan traverse with its closure, and what bends do to a distance.

Latitude is the distance a leg goes north, departure the distance it goes east; a loop's add up to nothing but its
errors. A run has no bearing, so of what stands here the check itself uses only what bends do to a distance. Where every
bend of a run has its place and turn, `extract.places` plots it between its ends.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal, NamedTuple

from extract.check.saying import LARGEST
from extract.errors import UsageError
from extract.record import Run

TURNING = frozenset({"elbow", "long_sweep"})
BRANCHES = frozenset({"wye", "tee"})
"""A run may go through one or turn in it; which of the two is not said."""


class Leg(NamedTuple):
    """One leg: its azimuth in degrees, clockwise from north, and its length in feet."""

    azimuth_deg: float
    length_ft: float


class Offset(NamedTuple):
    """A distance north and a distance east, feet; south and west are negative."""

    latitude_ft: float
    departure_ft: float

    @property
    def length_ft(self) -> float:
        return math.hypot(self.latitude_ft, self.departure_ft)


@dataclass(frozen=True)
class Closure:
    """How a traverse that comes back to its start misses it."""

    error: Offset
    """Where the last leg ends, seen from the start, feet."""
    length_ft: float
    """All legs, feet."""

    @property
    def misclosure_ft(self) -> float:
        """The linear misclosure, feet."""
        return self.error.length_ft

    @property
    def precision(self) -> float | None:
        """The n of a precision of 1 in n; None where it closes exactly or has no length."""
        return self.length_ft / self.misclosure_ft if self.misclosure_ft > 0 and self.length_ft > 0 else None


def azimuth(
    from_pole: Literal["N", "S"],
    angle_deg: float,
    toward: Literal["E", "W"],
    minutes: float = 0.0,
    seconds: float = 0.0,
) -> float:
    """A quadrant bearing such as S 61 degrees 25 minutes E as an azimuth, degrees from 0 up to 360.

    Raises UsageError where the whole angle is not from 0 to 90 degrees.
    Source: NAVEDTRA 14071 (seen), whose example of a latitude and departure begins with a bearing.
    """
    angle = angle_deg + minutes / 60 + seconds / 3600
    if not 0 <= angle <= 90 or min(angle_deg, minutes, seconds) < 0:
        raise UsageError(f"a bearing cannot turn {angle:g} degrees from north or south; give 0 to 90")
    turned = angle if from_pole == "N" else 180 - angle
    return (turned if toward == "E" else 360 - turned) % 360


def offset(leg: Leg) -> Offset:
    """The latitude and departure of a leg, feet: length times cosine, and times sine, of its azimuth.

    Raises UsageError for an azimuth that is no number, or a length that is none, negative or beyond a million.
    Source: NAVEDTRA 14071, figure 7-8 (seen).
    """
    if not math.isfinite(leg.azimuth_deg) or not 0 <= leg.length_ft <= LARGEST:
        raise UsageError(f"a leg of {leg.length_ft:g} feet at {leg.azimuth_deg:g} degrees cannot be; give it anew")
    turned = math.radians(leg.azimuth_deg)
    return Offset(leg.length_ft * math.cos(turned), leg.length_ft * math.sin(turned))


def closure(legs: Sequence[Leg]) -> Closure:
    """How far legs that should come back to their start miss it. No legs close exactly.

    Raises UsageError as `offset` does.
    Source: J. Mahun, open-access surveying, traverse computations, chapter I (seen).
    """
    offsets = [offset(leg) for leg in legs]
    error = Offset(*(math.fsum(way) for way in zip(*offsets, strict=True))) if offsets else Offset(0.0, 0.0)
    return Closure(error, math.fsum(leg.length_ft for leg in legs))


def compass_rule(legs: Sequence[Leg]) -> list[Offset]:
    """What to add to each leg's latitude and departure so that the traverse closes, feet, leg by leg.

    The error is shared out by length, with its sign turned (the compass rule, or Bowditch's); legs of no length at
    all get nothing. Raises UsageError as `offset` does.
    Source: Sample Traverse Computations, a solved traverse of six legs (seen).
    """
    found = closure(legs)
    shares = [leg.length_ft / found.length_ft if found.length_ft > 0 else 0.0 for leg in legs]
    return [Offset(-found.error.latitude_ft * share, -found.error.departure_ft * share) for share in shares]


def least_apart_ft(length_ft: float, bends_deg: float) -> float:
    """The least distance of the ends of a pipe so long with bends that add up to so many degrees, feet.

    Length times the cosine of half of the bends, whatever their order, hand and plane: the ends lie closest where
    one bend of them all stands in the middle. From 180 degrees on they may meet. 0 where either is no number.
    Source: plane geometry; Schur's comparison theorem.
    """
    if not (0 <= length_ft < math.inf) or not 0 <= bends_deg < 180:
        return 0.0
    return length_ft * math.cos(math.radians(bends_deg / 2))


def bends_deg(run: Run) -> float | None:
    """The bends said of a run, added up, degrees; None where they cannot be told.

    That is where none was said, for a crew may leave them all out, where a bend has no angle, where the run may turn
    in a wye or tee, and where its pipe bends by itself, or nobody said what pipe it is.
    """
    turns = [each for each in run.fittings if each.kind in TURNING]
    if not turns or run.pipe in (None, "corrugated", "dual-wall"):
        return None
    if any(each.kind in BRANCHES for each in run.fittings):
        return None
    total = 0.0
    for each in turns:
        if each.angle_deg is None or not 0 < each.angle_deg <= 180 or not 0 < each.count <= 100:
            return None
        total += each.angle_deg * each.count
    return total
