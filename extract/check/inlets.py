"""What an inlet takes in: weir flow over its edge while the water is shallow, orifice flow through it when it is deep.

Coefficients in feet and seconds, from HEC-22 (FHWA, 3rd edition) by way of US EPA SWMM 5.2.4, inlet.c, which names
the equations (seen); the gutter equations 4-2 and 4-4 are from memory. Depths and lengths in feet, areas in square
feet, flows in cubic feet a second. All raise ValueError for a negative depth, length, area or flow.
"""

from __future__ import annotations

import math

GRATE_WEIR = 3.0
"""HEC-22 equation 4-26; also TxDOT Hydraulic Design Manual chapter 10 section 6."""
GRATE_ORIFICE = 0.67
"""HEC-22 equation 4-27, of the clear opening."""
SLOT_WEIR = 2.48
"""HEC-22 equation 4-32, of a slotted drain."""
SLOT_ORIFICE = 0.8
"""HEC-22 equation 4-33."""
CURB_WEIR = 3.0
"""HEC-22 equation 4-30, of a curb opening with no depression in the gutter."""
DEPRESSED_CURB_WEIR = 2.3
"""HEC-22 equation 4-28, over the opening and 1.8 times the width of the depression."""
CURB_ORIFICE = 0.67
"""HEC-22 equation 4-31a."""
GRAVITY = 32.16
"""ft/s2, as inlet.c has it."""
GUTTER_K = 0.56
"""HEC-22 equation 4-2, from memory."""


def weir_cfs(coefficient: float, length_ft: float, depth_ft: float) -> float:
    """Flow over an edge: Q = C L d^1.5 [ft3/s]."""
    _not_negative(length_ft, depth_ft)
    return coefficient * length_ft * math.pow(depth_ft, 1.5)


def orifice_cfs(coefficient: float, opening_ft2: float, depth_ft: float) -> float:
    """Flow through an opening under water: Q = C A (2 g d)^0.5 [ft3/s]."""
    _not_negative(opening_ft2, depth_ft)
    return coefficient * opening_ft2 * math.sqrt(2 * GRAVITY * depth_ft)


def grate_cfs(perimeter_ft: float, opening_ft2: float, depth_ft: float) -> float:
    """What a grate in a low spot takes in [ft3/s]: the smaller of weir and orifice flow (HEC-22 4-26, 4-27).

    `perimeter_ft` leaves out sides against a wall or curb.
    """
    return min(
        weir_cfs(GRATE_WEIR, perimeter_ft, depth_ft),
        orifice_cfs(GRATE_ORIFICE, opening_ft2, depth_ft),
    )


def slot_cfs(length_ft: float, width_ft: float, depth_ft: float) -> float:
    """What a slot in a low spot takes in [ft3/s]: the smaller of weir and orifice flow (HEC-22 4-32, 4-33)."""
    return min(
        weir_cfs(SLOT_WEIR, length_ft, depth_ft),
        orifice_cfs(SLOT_ORIFICE, length_ft * width_ft, depth_ft),
    )


def curb_weir_cfs(length_ft: float, depth_ft: float, depression_ft: float = 0.0) -> float:
    """What a curb opening takes in as a weir [ft3/s]; `depression_ft` is the width of a dished gutter (4-28, 4-30)."""
    if depression_ft:
        return weir_cfs(DEPRESSED_CURB_WEIR, length_ft + 1.8 * depression_ft, depth_ft)
    return weir_cfs(CURB_WEIR, length_ft, depth_ft)


def frontal_share(velocity_ft_s: float, splash_over_ft_s: float) -> float:
    """Share of the flow that meets a grate on a slope head on and falls in (HEC-22 4-18), 0 to 1."""
    _not_negative(velocity_ft_s, splash_over_ft_s)
    return min(1.0, max(0.0, 1 - 0.09 * (velocity_ft_s - splash_over_ft_s)))


def side_share(velocity_ft_s: float, cross_slope: float, length_ft: float) -> float:
    """Share of the flow beside a grate on a slope that turns into it (HEC-22 4-19), 0 to 1."""
    _not_negative(velocity_ft_s, cross_slope, length_ft)
    if not cross_slope or not length_ft:
        return 0.0
    return 1 / (1 + 0.15 * math.pow(velocity_ft_s, 1.8) / (cross_slope * math.pow(length_ft, 2.3)))


def gutter_cfs(n: float, cross_slope: float, slope: float, spread_ft: float) -> float:
    """Flow in a gutter of one cross slope at that spread [ft3/s] (HEC-22 4-2). `n` must be above 0."""
    _not_negative(cross_slope, slope, spread_ft)
    if not n > 0:
        raise ValueError(f"Manning's n is {n}; it must be above 0")
    return GUTTER_K / n * math.pow(cross_slope, 5 / 3) * math.sqrt(slope) * math.pow(spread_ft, 8 / 3)


def spread_ft(flow_cfs: float, n: float, cross_slope: float, slope: float) -> float:
    """How far a gutter's water spreads [ft]: `gutter_cfs` turned round. Slopes must be above 0."""
    _not_negative(flow_cfs)
    if not cross_slope > 0 or not slope > 0:
        raise ValueError(f"a gutter with slopes {cross_slope} and {slope} has no spread")
    return math.pow(flow_cfs / gutter_cfs(n, cross_slope, slope, 1.0), 3 / 8)


def frontal_flow_share(cross_slope: float, dished_slope: float, spread: float, width: float) -> float:
    """Share of a dished gutter's flow that runs within the width [ft] of its dish (HEC-22 4-4), 0 to 1."""
    _not_negative(cross_slope, dished_slope, spread, width)
    if not cross_slope or not width or spread <= width:
        return 1.0
    steeper = dished_slope / cross_slope
    return 1 / (1 + steeper / (math.pow(1 + steeper / (spread / width - 1), 8 / 3) - 1)) if steeper else 0.0


def _not_negative(*values: float) -> None:
    if not all(value >= 0 for value in values):
        raise ValueError(f"no depth, length, area or flow is negative: {', '.join(map(str, values))}")
