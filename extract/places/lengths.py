"""Runs told as longer than the distance between their placed ends allows."""

from __future__ import annotations

import math
from typing import cast

from extract.check.policy import Policy
from extract.check.traverse import BRANCHES, TURNING
from extract.places.adjust import FITS, WITHIN_95
from extract.places.measures import Measure
from extract.places.solve import Ground
from extract.record import Run

FLEXIBLE = frozenset({"corrugated", "dual-wall"})
"""Pipe that bends without a fitting."""


def told_longer(found: Ground, policy: Policy) -> list[Measure]:
    """The runs between things placed whose length is more than errors, and bends if any, explain.

    A straight run is as long as its ends lie apart. One whose bends were told in part, or whose pipe bends by itself,
    may be longer by `bent_over_pct`.
    """
    known = [each for each, out in found.left_out if each.kind == "run" and out > 0]
    return known + [each for each in found.used if each.kind == "run" and _longer(each, found, policy)]


def _longer(measure: Measure, found: Ground, policy: Policy) -> bool:
    if measure.exact or not {measure.one, measure.other} <= set(found.at):
        return False
    run, apart = cast(Run, measure.entry), math.dist(found.xy(measure.one), found.xy(measure.other))
    straight = run.pipe not in FLEXIBLE and not any(each.kind in TURNING | BRANCHES for each in run.fittings)
    most = apart if straight else apart * (1 + policy["bent_over_pct"] / 100)
    ends = [found.at[key].ellipse.half_long_ft / math.sqrt(WITHIN_95) for key in (measure.one, measure.other)]
    return measure.value > most + math.sqrt(FITS) * math.hypot(measure.sd, *ends)
