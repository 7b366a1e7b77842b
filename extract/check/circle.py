"""A round pipe running part full, as shares of the same pipe running full.

`ratio` is depth over inside diameter, 0 to 1. With theta = 2 acos(1 - 2 ratio), the angle that the water's surface
spans at the centre: area = D^2 (theta - sin theta) / 8, wetted perimeter = D theta / 2. Source: exact geometry; within
0.0005 of the tables in US EPA SWMM 5.2.4, xsect.dat. Manning's n is taken as the same at every depth.
"""

from __future__ import annotations

import math

PEAK_RATIO = 0.93818
"""Depth over diameter at which a pipe carries most; above it the crown slows the water more than it adds room."""
BISECTIONS = 42
"""Halvings of theta; they leave less than 1e-11 of the diameter."""


def _theta(ratio: float) -> float:
    if not 0 <= ratio <= 1:
        raise ValueError(f"depth over diameter is {ratio}; a pipe holds 0 to 1")
    return 2 * math.acos(1 - 2 * ratio)


def area_share(ratio: float) -> float:
    """Area of flow over that of the full pipe. Raises ValueError for a ratio outside 0 to 1."""
    theta = _theta(ratio)
    return max(0.0, theta - math.sin(theta)) / (2 * math.pi)


def perimeter_share(ratio: float) -> float:
    """Wetted perimeter over the pipe's circumference. Raises ValueError for a ratio outside 0 to 1."""
    return _theta(ratio) / (2 * math.pi)


def radius_share(ratio: float) -> float:
    """Hydraulic radius over that of the full pipe, D/4; 0 in an empty pipe. Raises ValueError outside 0 to 1."""
    perimeter = perimeter_share(ratio)
    return area_share(ratio) / perimeter if perimeter else 0.0


def velocity_share(ratio: float) -> float:
    """Velocity over that of the full pipe; most at a ratio of 0.81. Raises ValueError outside 0 to 1."""
    return math.pow(radius_share(ratio), 2 / 3)


def flow_share(ratio: float) -> float:
    """Flow over that of the full pipe; most, 1.0757, at PEAK_RATIO. Raises ValueError outside 0 to 1."""
    return area_share(ratio) * velocity_share(ratio)


PEAK_SHARE = flow_share(PEAK_RATIO)
"""The most a pipe carries with its surface free, over what it carries full: 1.0757."""


def depth_ratio(share: float) -> float | None:
    """Depth over diameter at which a pipe carries that share of its full flow in steady flow (normal depth).

    The lower of the two depths where there are two. None above PEAK_SHARE: the pipe runs under pressure, and no depth
    answers. Found by halving, as flow only grows up to PEAK_RATIO. Raises ValueError for a negative share.
    """
    if not share >= 0:
        raise ValueError(f"a pipe cannot carry {share} of its full flow")
    if share > PEAK_SHARE:
        return None
    # Flow is (theta - sin theta)^(5/3) / theta^(2/3) / 2 pi; cubed, it takes no roots, and this is done for every run.
    low, high, wanted = 0.0, _theta(PEAK_RATIO), (2 * math.pi * share) ** 3
    for _ in range(BISECTIONS):
        middle = (low + high) / 2
        less = (middle - math.sin(middle)) ** 5 < wanted * middle * middle
        low, high = (middle, high) if less else (low, middle)
    return (1 - math.cos(high / 2)) / 2 if share else 0.0
