"""Signed distances of plain bodies, and ways to join and cut them. Shapes as in tracer.py."""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np
import numpy.typing as npt

from sample_logs.looks import noise, turned
from sample_logs.tracer import Array, Distance

Place = tuple[float, float, float]


def box(centre: Place, half: Place, round_by: float = 0.0) -> Distance:
    """A block, with its edges rounded."""
    middle, reach = _column(centre), _column(half) - np.float32(round_by)

    def distance(points: Array) -> Array:
        out = np.abs(points - middle) - reach
        highest = np.maximum(np.maximum(out[0], out[1]), out[2])
        return np.asarray(_length(np.maximum(out, 0)) + np.minimum(highest, 0) - np.float32(round_by), dtype=np.float32)

    return distance


def rod(start: Place, end: Place, radius: float) -> Distance:
    """A round bar with round ends."""
    first, along = _column(start), _column(end) - _column(start)
    length = float((along * along).sum())

    def distance(points: Array) -> Array:
        from_start = points - first
        share = np.clip(along[:, 0] @ from_start / np.float32(length), 0, 1)
        return np.asarray(_length(from_start - along * share) - np.float32(radius), dtype=np.float32)

    return distance


def pipe(start: Place, end: Place, radius: float, wall: float = 0.03) -> Distance:
    """A hollow round pipe with square ends."""
    first, along = _column(start), _column(end) - _column(start)
    length = np.float32(np.sqrt((along * along).sum()))
    axis = along / length

    def distance(points: Array) -> Array:
        from_start = points - first
        height = axis[:, 0] @ from_start
        across = _length(from_start - axis * height)
        shell = np.abs(across - radius + wall / 2) - wall / 2
        ends = np.abs(height - length / 2) - length / 2
        return _edge(shell, ends)

    return distance


def disc(centre: Place, radius: float, half_height: float, round_by: float = 0.0) -> Distance:
    """A flat round plate or an upright drum."""
    middle = _column(centre)

    def distance(points: Array) -> Array:
        out = points - middle
        across = np.hypot(out[0], out[2]) - radius + round_by
        return _edge(across, np.abs(out[1]) - half_height + round_by) - np.float32(round_by)

    return distance


def ball(centre: Place, radius: float) -> Distance:
    middle = _column(centre)
    return lambda points: _length(points - middle) - np.float32(radius)


def bent(corners: Sequence[Place], radius: float) -> Distance:
    """A bar through several corners, as a hose or a root."""
    return join(*(rod(a, b, radius) for a, b in zip(corners, corners[1:], strict=False)))


def ground(rough: float = 0.05, scale: float = 1.1, level: float = 0.0, seed: int = 1) -> Distance:
    """The earth below an uneven surface."""

    def distance(points: Array) -> Array:
        above = points[1] - np.float32(level)
        return _bumped(above, rough, lambda near: 2 * noise(points[0][near] * scale, points[2][near] * scale, seed))

    return distance


def rough(body: Distance, depth: float, scale: float, seed: int = 3) -> Distance:
    """The same body with a lumpy surface; lumps are about `depth` feet deep and 1/`scale` feet wide."""

    def lumps(points: Array) -> Array:
        sides = turned(points * np.float32(scale))
        return np.asarray(sum(noise(u, v, seed + i) for i, (u, v) in enumerate(sides)) / 1.5, dtype=np.float32)

    def distance(points: Array) -> Array:
        return _bumped(body(points), depth, lambda near: lumps(points[:, near]))

    return distance


def _bumped(plain: Array, depth: float, height: Callable[[npt.NDArray[np.bool_]], Array]) -> Array:
    """The plain distance, with a height of 0 to 2 times the depth about its middle taken off where it is near.

    Grain costs time, and a ray that is far off need only know that it is.
    """
    near = np.abs(plain) < 3 * depth
    bumped = plain - np.float32(1.5 * depth) * np.sign(plain)
    if near.any():
        bumped[near] = plain[near] - depth * (height(near) - 1)
    return np.asarray(bumped, dtype=np.float32)


def join(*bodies: Distance) -> Distance:
    def distance(points: Array) -> Array:
        near = bodies[0](points)
        for body in bodies[1:]:
            near = np.minimum(near, body(points))
        return near

    return distance


def cut(body: Distance, *holes: Distance) -> Distance:
    """The body less the holes."""

    def distance(points: Array) -> Array:
        near = body(points)
        inside = near < 0.15
        if inside.any():
            within = points[:, inside]
            for hole in holes:
                near[inside] = np.maximum(near[inside], -hole(within))
        return near

    return distance


def bounded(body: Distance, centre: Place, half: Place) -> Distance:
    """The same body, known to lie within that block: points far from the block do without the body's detail."""
    block = box(centre, half)

    def distance(points: Array) -> Array:
        near = block(points)
        close = near < 0.25
        near[close] = body(points[:, close])
        return near

    return distance


def common(body: Distance, other: Distance) -> Distance:
    """What two bodies share."""
    return lambda points: np.maximum(body(points), other(points))


def slots(across: int, pitch: float, width: float) -> Distance:
    """Endless slots through everything, `pitch` apart along axis 0 (x) or 2 (z)."""

    def distance(points: Array) -> Array:
        place = np.mod(points[across] + pitch / 2, pitch) - pitch / 2
        return np.asarray(np.abs(place) - width / 2, dtype=np.float32)

    return distance


def _edge(a: Array, b: Array) -> Array:
    outside = np.hypot(np.maximum(a, 0), np.maximum(b, 0))
    return np.asarray(outside + np.minimum(np.maximum(a, b), 0), dtype=np.float32)


def _length(vectors: Array) -> Array:
    # Spelled out: it is several times quicker than a norm along the short axis.
    x, y, z = vectors
    return np.asarray(np.sqrt(x * x + y * y + z * z), dtype=np.float32)


def _column(place: Place) -> Array:
    return np.array(place, dtype=np.float32).reshape(3, 1)
