"""Weighted least squares: the places that fit all measures best, how well, and how sure each is.

numpy and scipy are slow to load, so they are loaded where something was taped.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, TypeAlias

from extract.places.circles import XY
from extract.places.measures import Measure

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Array: TypeAlias = NDArray[np.float64]

WITHIN_95 = 5.991
"""Of the sum of squares of two normal errors: 95 in 100 lie within. Source: chi-square table, 2 degrees of freedom
(from memory; exact, -2 ln 0.05)."""
NORMAL_95 = 1.96
"""Standard deviations on either side that hold 95 in 100 of a normal error (from memory)."""
FITS = 12.25
"""A sum of squared residuals of one measure more than needed beyond this is a misfit: three and a half standard
deviations. Common practice among surveyors is three to four."""
FITS_MORE = 2.0
"""And so much for each measure more."""
SURE = 16.0
"""Of two places one is ruled out where it fits so much worse: four standard deviations."""
ALIKE_FT = 0.5
"""Places nearer than this are one."""


@dataclass(frozen=True)
class Ellipse:
    """Within it the place lies 95 times in 100, if the tapes are as good as assumed. Feet; the direction of the long
    axis in degrees clockwise from y, 0 up to 180."""

    half_long_ft: float
    half_short_ft: float
    direction_deg: float


NOWHERE = Ellipse(math.inf, math.inf, 0.0)


@dataclass(frozen=True)
class Adjusted:
    at: dict[str, XY]
    """What was free, feet."""
    misfit: float
    """Sum of the squares of all residuals over their standard deviations."""
    ellipses: dict[str, Ellipse]


def residual(measure: Measure, one: XY, other: XY) -> float:
    """What was said less what the places give, in standard deviations; 0 within the bounds of a bent run."""
    if measure.kind == "bearing":
        away = math.degrees(math.atan2(other[0] - one[0], other[1] - one[1]))
        return ((measure.value - away + 180) % 360 - 180) / measure.sd
    far = math.dist(one, other)
    if measure.least is None:
        return (measure.value - far) / measure.sd
    return (min(measure.value - far, 0.0) + max(measure.least - far, 0.0)) / measure.sd


def misfit(measures: Sequence[Measure], at: Mapping[str, XY]) -> float:
    """The sum of squared residuals of places as they are."""
    return sum(residual(each, at[each.one], at[each.other]) ** 2 for each in measures)


def adjust(measures: Sequence[Measure], start: Mapping[str, XY], free: Sequence[str]) -> Adjusted:
    """The places of `free` that fit the measures best, from where they `start`; all else stays.

    Source: weighted least squares, by scipy.optimize.least_squares.
    """
    import numpy as np
    from scipy.optimize import least_squares

    index = {key: i for i, key in enumerate(free)}

    def placed(x: Array) -> dict[str, XY]:
        return {**start, **{key: (float(x[2 * i]), float(x[2 * i + 1])) for key, i in index.items()}}

    def residuals(x: Array) -> Array:
        at = placed(x)
        return np.array([residual(each, at[each.one], at[each.other]) for each in measures])

    first = np.array([part for key in free for part in start[key]], dtype=float)
    if not free or not measures:
        return Adjusted({}, misfit(measures, start), {})
    way = "lm" if len(measures) >= first.size else "trf"
    found = least_squares(residuals, first, jac=lambda x: _slopes(measures, placed(x), index), method=way)
    at = placed(found.x)
    return Adjusted(
        {key: at[key] for key in free}, float(2 * found.cost), ellipses(_slopes(measures, at, index, bound=False), free)
    )


def ellipse_of(measures: Sequence[Measure], at: Mapping[str, XY], key: str) -> Ellipse:
    """The ellipse of one thing alone, all others taken as sure."""
    return ellipses(_slopes(measures, at, {key: 0}, bound=False), [key])[key]


def _slopes(measures: Sequence[Measure], at: Mapping[str, XY], index: Mapping[str, int], bound: bool = True) -> Array:
    """How each residual changes with each coordinate; of mere bounds only where they hold and are asked for."""
    import numpy as np

    slopes = np.zeros((len(measures), 2 * len(index)))
    for row, each in enumerate(measures):
        one, other = at[each.one], at[each.other]
        x, y, far = other[0] - one[0], other[1] - one[1], max(math.dist(one, other), 1e-9)
        if each.kind == "bearing":
            turn = math.degrees(1) / each.sd / far**2
            step = (-y * turn, x * turn)
        elif each.least is not None and (not bound or each.least <= far <= each.value):
            step = (0.0, 0.0)
        else:
            step = (-x / far / each.sd, -y / far / each.sd)
        for key, sign in ((each.other, 1), (each.one, -1)):
            if key in index:
                slopes[row, 2 * index[key]] += sign * step[0]
                slopes[row, 2 * index[key] + 1] += sign * step[1]
    return slopes


def ellipses(slopes: Array, free: Sequence[str]) -> dict[str, Ellipse]:
    """The ellipse of each thing from the slopes of the residuals; an endless one where nothing holds it."""
    import numpy as np

    normal = slopes.T @ slopes
    values, vectors = np.linalg.eigh(normal)
    loose = values <= 1e-9 * max(float(values[-1]), 1e-9)
    weights = np.where(loose, 1e9, 1 / np.where(loose, 1.0, values))
    covariance = (vectors * weights) @ vectors.T
    return {key: _ellipse(covariance[2 * i : 2 * i + 2, 2 * i : 2 * i + 2]) for i, key in enumerate(free)}


def _ellipse(covariance: Array) -> Ellipse:
    import numpy as np

    values, vectors = np.linalg.eigh(covariance)
    if values[1] > 1e6:
        return NOWHERE
    short, long = (math.sqrt(WITHIN_95 * max(float(value), 0.0)) for value in values)
    return Ellipse(long, short, math.degrees(math.atan2(vectors[0, 1], vectors[1, 1])) % 180)
