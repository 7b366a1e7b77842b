"""Manning's formula: how fast and how much water a slope carries, and the slope that a velocity needs.

V = (k / n) R^(2/3) S^(1/2), with R the area of flow over its wetted perimeter and S the fall per unit of length.
"""

from __future__ import annotations

import math

from extract.record import Pipe

MANNING_K = 1.486
"""Unit factor of Manning's formula in feet and seconds. Source: US EPA SWMM 5.2.4, consts.h (seen)."""
FORMULA = f"Manning's formula, k = {MANNING_K}"
"""How a finding cites it; many local codes print 1.49, which gives 0.27 percent more flow."""
GPM_PER_CFS = 60 * 1728 / 231
"""US gallons a minute in one cubic foot a second, 448.83: a gallon is 231 cubic inches."""


def velocity(n: float, radius: float, slope: float, k: float = MANNING_K) -> float:
    """Mean velocity [ft/s] by Manning's formula; 0 where there is no water or no fall.

    `n` is Manning's roughness, `radius` the hydraulic radius [ft], `slope` the fall per length [-]. With k = 1 the
    same in metres. Raises ValueError for a roughness that is not above 0 and for a negative radius or slope.
    """
    if not n > 0 or not radius >= 0 or not slope >= 0:
        raise ValueError(f"Manning's formula needs n above 0 and no negative radius or slope: {n}, {radius}, {slope}")
    return k / n * math.pow(radius, 2 / 3) * math.sqrt(slope)


def slope_for(wanted: float, n: float, radius: float) -> float:
    """Slope [-] at which water of a hydraulic radius [ft] moves at the wanted velocity [ft/s]; `velocity` turned round.

    Raises ValueError for a radius that is not above 0 and for a negative velocity or roughness.
    """
    if not radius > 0 or not wanted >= 0 or not n >= 0:
        raise ValueError(f"Manning's formula needs a radius above 0 and no negative velocity or n: {wanted}, {n}")
    root: float = wanted * n / (MANNING_K * math.pow(radius, 2 / 3))
    return root**2


def roughness(pipe: Pipe, nominal_in: float) -> str:
    """Name of the policy limit that holds Manning's n for a kind and nominal size [in] of pipe."""
    if pipe == "dual-wall":
        return "manning_n_dual_wall"
    if pipe != "corrugated":
        return "manning_n_pvc"
    if nominal_in < 4:
        return "manning_n_corrugated_to_3_in"
    return "manning_n_corrugated_4_to_6_in" if nominal_in < 8 else "manning_n_corrugated_8_in_up"
