"""Rain to flow by the Rational method, Q = C i A, from the areas that drain to each structure."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence

from pydantic import Field

from extract.check.manning import GPM_PER_CFS
from extract.check.policy import Policy
from extract.check.saying import feet_square, known
from extract.record import Area, Model, Record

SQFT_PER_ACRE = 43_560
UNIT_FACTOR = SQFT_PER_ACRE / 12 / 3600
"""Cubic feet a second in one inch an hour on one acre: 1.0083, which most books drop."""
WETTEST = "runoff_c_roof"
"""What an area of unsaid surface is counted as: a roof sheds most."""
DRIEST = "runoff_c_lawn"
"""What it is counted as where a failure must be sure: a lawn sheds least."""


class Storm(Model):
    """The storm that the drains are to carry. It is the user's to give; none is ever taken for granted."""

    intensity_in_h: float = Field(gt=0, le=30, allow_inf_nan=False)
    """Design rainfall intensity, inches an hour."""
    found_in: str | None = None
    """Where it was found: the local code's table, NOAA Atlas 14 for the place, ..."""

    @property
    def words(self) -> str:
        """`3.2 inches an hour (NOAA Atlas 14)`."""
        where = f" ({self.found_in})" if self.found_in else ""
        return f"{self.intensity_in_h:g} inches an hour{where}"


def rational_cfs(c: float, intensity_in_h: float, acres: float) -> float:
    """Peak flow Q = C i A [ft3/s] for inches an hour and acres, with the unit factor of 1.008 dropped.

    Source: FHWA HEC-22, 3rd edition, chapter 3. Raises ValueError for a negative number.
    """
    if not (c >= 0 and intensity_in_h >= 0 and acres >= 0):
        raise ValueError(f"no coefficient, rain or area is negative: {c}, {intensity_in_h}, {acres}")
    return c * intensity_in_h * acres


def runoff_gpm(c: float, intensity_in_h: float, sqft: float) -> float:
    """Peak flow [gpm] for inches an hour and square feet, unit factor kept. Raises ValueError for a negative number."""
    return rational_cfs(c, intensity_in_h, sqft / SQFT_PER_ACRE) * UNIT_FACTOR * GPM_PER_CFS


def composite_c(parts: Iterable[tuple[float, float]]) -> float:
    """Coefficient of surfaces together: the mean of (area, C) pairs weighted by area; 0 where there is no area.

    Source: FHWA HEC-22, 3rd edition, chapter 3. Raises ValueError for a negative area or coefficient.
    """
    pairs = list(parts)
    if not all(area >= 0 and c >= 0 for area, c in pairs):
        raise ValueError("no area or coefficient is negative")
    whole = sum(area for area, _ in pairs)
    return sum(area * c for area, c in pairs) / whole if whole else 0.0


def coefficient(area: Area) -> str:
    """Name of the policy limit that holds an area's runoff coefficient."""
    return f"runoff_c_{area.surface}" if area.surface else WETTEST


def areas_of(record: Record, given: Mapping[str, Sequence[Area]] | None) -> dict[str, list[Area]]:
    """The areas that drain to each structure; those given for the job stand in place of those said of the same one."""
    said = {structure.label: list(structure.areas or []) for structure in record.structures}
    together = said | {label: list(areas) for label, areas in (given or {}).items()}
    return {label: areas for label, areas in together.items() if areas}


def measured(areas: Iterable[Area]) -> list[Area]:
    """Those that can be areas: a number above zero and no larger than any site."""
    return [area for area in areas if (known(area.sqft) or 0.0) > 0]


def shed_gpm(areas: Sequence[Area], storm: Storm, policy: Policy, *, driest: bool = False) -> float:
    """What those areas shed in the storm [gpm], by their composite coefficient.

    A surface that was not said counts as the one that sheds most, or with `driest` as the one that sheds least.
    """
    areas = measured(areas)
    unsaid = DRIEST if driest else WETTEST
    c = composite_c((area.sqft, policy[coefficient(area) if area.surface else unsaid]) for area in areas)
    return runoff_gpm(c, storm.intensity_in_h, sum(area.sqft for area in areas))


def area_words(areas: Iterable[Area]) -> list[str]:
    """`600 square feet of roof` of each."""
    return [f"{feet_square(area.sqft)} of {area.surface or 'unsaid surface'}" for area in areas]
