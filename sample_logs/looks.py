"""What things are made of: colours with grain, from fixed tables of random numbers."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from sample_logs.tracer import Array, Look

CELLS = np.random.default_rng(20260915).random(256 * 256, dtype=np.float32)
"""A square of 256 by 256 random numbers, row by row; noise repeats beyond it."""
Colour = tuple[float, float, float]


def noise(u: Array, v: Array, seed: int = 0) -> Array:
    """Smooth random values between 0 and 1 over a plane; one lattice cell a unit."""
    u, v = np.asarray(u + 17.3 * seed, dtype=np.float32), np.asarray(v - 9.1 * seed, dtype=np.float32)
    left, low = np.floor(u), np.floor(v)
    across, up = _smooth(u - left), _smooth(v - low)
    i, j = left.astype(np.int32) & 255, low.astype(np.int32) & 255
    row, next_row, next_j = i << 8, ((i + 1) & 255) << 8, (j + 1) & 255
    bottom, low_right = CELLS.take(row | j), CELLS.take(next_row | j)
    top, top_right = CELLS.take(row | next_j), CELLS.take(next_row | next_j)
    bottom += (low_right - bottom) * across
    top += (top_right - top) * across
    return np.asarray(bottom + (top - bottom) * up, dtype=np.float32)


def grain(u: Array, v: Array, seed: int = 0, octaves: int = 4) -> Array:
    """Noise at several scales at once, between 0 and 1."""
    total, weight = np.zeros_like(u, dtype=np.float32), 0.0
    for octave in range(octaves):
        share = 0.55**octave
        total += share * noise(u * 2.03**octave, v * 2.03**octave, seed + octave)
        weight += share
    return np.asarray(total / weight, dtype=np.float32)


def plain(colour: Colour, spread: float = 0.03) -> Look:
    """One colour, a little uneven."""
    return lambda points: _tinted(colour, 1 + spread * 2 * (grain(*_folded(points, 3.0)) - 0.5))


def turf(points: Array) -> Array:
    patches = grain(points[0] * 0.5, points[2] * 0.5, 4)
    fine = grain(points[0] * 9, points[2] * 9, 8)
    return _between((0.16, 0.24, 0.07), (0.34, 0.44, 0.15), np.clip(0.65 * fine + 0.5 * patches - 0.1, 0, 1))


def hedge(points: Array) -> Array:
    leaves = grain(points[0] * 2.5 + points[2], points[1] * 2.5, 5, 5)
    return _between((0.07, 0.13, 0.06), (0.24, 0.34, 0.13), leaves)


def soil(points: Array) -> Array:
    """Brown earth with clods, pebbles and darker, damper layers."""
    sides = turned(points * np.float32(4.5))
    share = sum(grain(u, v, seed, 5) for seed, (u, v) in enumerate(sides, start=2)) / 1.3 - 0.62
    earth = _between((0.20, 0.14, 0.09), (0.50, 0.37, 0.25), np.clip(share, 0, 1))
    pebbles = noise(sides[0][0] * 2.2 + sides[1][1], sides[0][1] * 2.2 - sides[2][0], 11) > 0.87
    earth[pebbles] = 0.55 * earth[pebbles] + 0.45 * np.array([0.55, 0.52, 0.48])
    damp = np.clip(1.05 + 0.22 * points[1], 0.7, 1)
    return np.asarray(earth * damp[:, None], dtype=np.float32)


def gravel(points: Array) -> Array:
    u, v = _folded(points, 11.0)
    stones = noise(u, v, 21)
    gaps = np.clip(np.abs(noise(u * 1.0, v * 1.0, 25) - 0.5) * 5, 0.35, 1)
    return np.asarray(_between((0.38, 0.38, 0.38), (0.74, 0.71, 0.66), stones) * gaps[:, None], dtype=np.float32)


def concrete(points: Array) -> Array:
    u, v = _folded(points, 1.2)
    stain = grain(u, v, 14)
    pores = noise(u * 28, v * 28, 15)
    return _tinted((0.66, 0.65, 0.62), 0.86 + 0.22 * stain + 0.10 * (pores - 0.5))


def siding(points: Array) -> Array:
    """Painted boards, lapped every half foot."""
    lap = np.mod(points[1], 0.5) / 0.5
    shade = np.where(lap < 0.07, 0.55, 0.92 + 0.1 * lap)
    return _tinted((0.72, 0.70, 0.60), shade * (0.97 + 0.06 * grain(points[0] * 2 + points[2], points[1] * 9, 6)))


def boards(points: Array) -> Array:
    """A fence of upright boards."""
    seam = np.mod(points[0] + points[2], 0.5) < 0.04
    wood = _between((0.36, 0.27, 0.19), (0.56, 0.44, 0.32), grain(points[0] * 5, points[1] * 0.6, 31))
    wood[seam] *= 0.4
    return wood


def bark(points: Array) -> Array:
    u, v = _folded(points, 7.0)
    return _between((0.30, 0.19, 0.11), (0.62, 0.45, 0.28), grain(u, v, 41))


def clay(points: Array) -> Array:
    u, v = _folded(points, 3.0)
    return _between((0.52, 0.25, 0.15), (0.74, 0.42, 0.28), grain(u, v, 44))


def water(points: Array) -> Array:
    ripple = grain(points[0] * 3, points[2] * 6, 51)
    return _between((0.16, 0.20, 0.18), (0.34, 0.40, 0.38), ripple)


def lettered(base: Colour, ink: npt.NDArray[np.bool_], origin: tuple[float, float], scale: float) -> Look:
    """A colour with print on it: `ink` is a mask laid on x (columns) and z (rows, away), `scale` pixels a foot."""

    def look(points: Array) -> Array:
        colours = _tinted(base, 0.97 + 0.06 * grain(points[0] * 3, points[2] * 3, 61))
        column = ((points[0] - origin[0]) * scale).astype(np.int64)
        row = ((origin[1] - points[2]) * scale).astype(np.int64)
        inside = (column >= 0) & (column < ink.shape[1]) & (row >= 0) & (row < ink.shape[0])
        printed = np.zeros(len(column), dtype=bool)
        printed[inside] = ink[row[inside], column[inside]]
        colours[printed] *= 0.25
        return colours

    return look


def either(first: Look, second: Look, where: Look) -> Look:
    """The second look where `where` gives more than a half, else the first."""

    def look(points: Array) -> Array:
        return np.where((where(points) > 0.5)[:, None], second(points), first(points)).astype(np.float32)

    return look


def turned(points: Array) -> list[tuple[Array, Array]]:
    """Three slanted planes' coordinates of each point; grain over all three shows no lattice on any face."""
    x, y, z = points
    return [
        (0.79 * x + 0.61 * z, 0.79 * z - 0.61 * x + 0.23 * y),
        (0.54 * x + 0.84 * y, 0.54 * y - 0.84 * x + 0.31 * z),
        (0.36 * y + 0.93 * z, 0.36 * z - 0.93 * y + 0.27 * x),
    ]


def _folded(points: Array, scale: float) -> tuple[Array, Array]:
    """Two coordinates that change over any face of a body, so that grain never smears."""
    u = points[0] * scale + points[1] * (0.71 * scale)
    return u.astype(np.float32), (points[2] * scale - points[1] * (0.83 * scale)).astype(np.float32)


def _tinted(colour: Colour, shade: Array) -> Array:
    return np.asarray(
        np.asarray(shade, dtype=np.float32)[:, None] * np.array(colour, dtype=np.float32), dtype=np.float32
    )


def _between(dark: Colour, light: Colour, share: Array) -> Array:
    low, high = np.array(dark, dtype=np.float32), np.array(light, dtype=np.float32)
    return np.asarray(low + (high - low) * np.asarray(share, dtype=np.float32)[:, None], dtype=np.float32)


def _smooth(t: Array) -> Array:
    return np.asarray(t * t * (3 - 2 * t))
