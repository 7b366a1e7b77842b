"""A small picture maker: shapes as signed distances, rays marched to them, one sun.

Feet throughout: x to the right, y up from the lawn, z away from the viewer. Points come as arrays of shape (3, n),
distances as (n,), colours as (n, 3) between 0 and 1.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any

import numpy as np
import numpy.typing as npt

Array = npt.NDArray[Any]
"""Of float32, unless it says otherwise."""
Distance = Callable[[Array], Array]
Look = Callable[[Array], Array]

FAR = 120.0
STEPS = 110
CHUNK_ROWS = 48
SKY_TOP = np.array([0.42, 0.60, 0.82], dtype=np.float32)
SKY_LOW = np.array([0.83, 0.88, 0.92], dtype=np.float32)
SUN_COLOUR = np.array([1.22, 1.14, 1.0], dtype=np.float32)
SHADE_COLOUR = np.array([0.36, 0.42, 0.52], dtype=np.float32)


@dataclass(frozen=True)
class Thing:
    """One body: how far a point is from it, and what colour it has there."""

    distance: Distance
    look: Look
    shine: float = 0.0
    mirror: float = 0.0
    """Share of the sky that it gives back, as water does."""
    turf: bool = False
    """Blades of grass grow on it."""


@dataclass(frozen=True)
class View:
    eye: tuple[float, float, float]
    at: tuple[float, float, float]
    wide: float = 62.0
    """Angle across the long side of the picture, degrees."""
    sun: tuple[float, float, float] = (-0.55, 0.75, -0.35)

    def pixel(self, size: tuple[int, int]) -> float:
        """Width of one pixel, a foot ahead of the eye, feet."""
        return float(2 * np.tan(np.radians(self.wide) / 2) / max(size))

    def axes(self) -> tuple[Array, Array, Array]:
        """Unit vectors to the right, up and forward."""
        forward = _unit(np.subtract(self.at, self.eye))
        helper = (0.0, 0.0, 1.0) if abs(forward[1]) > 0.98 else (0.0, 1.0, 0.0)
        right = _unit(np.cross(helper, forward))
        return right, _unit(np.cross(forward, right)), forward


@dataclass(frozen=True)
class Picture:
    """What was rendered: colours (rows, columns, 3), which thing stands at each pixel (-1 is sky), and how far."""

    colours: Array
    things: npt.NDArray[np.int16]
    depth: Array
    turf: set[int] = field(default_factory=set)


def render(things: list[Thing], view: View, size: tuple[int, int]) -> Picture:
    """The things seen from the view; `size` is (columns, rows)."""
    columns, rows = size
    parts = [_rows(things, view, size, row, min(row + CHUNK_ROWS, rows)) for row in range(0, rows, CHUNK_ROWS)]
    colours, kinds, depth = (np.concatenate(part) for part in zip(*parts, strict=True))
    turf = {i for i, thing in enumerate(things) if thing.turf}
    return Picture(colours.reshape(rows, columns, 3), kinds.reshape(rows, columns), depth.reshape(rows, columns), turf)


def project(view: View, size: tuple[int, int], points: Array) -> tuple[Array, Array, Array]:
    """Column, row and distance forward of points (3, n) in the picture."""
    right, up, forward = view.axes()
    from_eye = points - np.array(view.eye, dtype=np.float32).reshape(3, 1)
    ahead = np.maximum(forward @ from_eye, 1e-3)
    scale = 1 / view.pixel(size)
    return size[0] / 2 + scale * (right @ from_eye) / ahead, size[1] / 2 - scale * (up @ from_eye) / ahead, ahead


def _rows(things: list[Thing], view: View, size: tuple[int, int], first: int, last: int) -> tuple[Any, Any, Any]:
    rays = _rays(view, size, first, last)
    eye = np.array(view.eye, dtype=np.float32).reshape(3, 1)
    depth = _march(things, eye + 0 * rays, rays, STEPS, FAR)
    colours = _sky(rays)
    kinds = np.full(rays.shape[1], -1, dtype=np.int16)
    hit = np.flatnonzero(depth < FAR)
    if len(hit):
        points = eye + depth[hit] * rays[:, hit]
        kinds[hit] = np.argmin(np.stack([thing.distance(points) for thing in things]), axis=0)
        lit = _lit(things, kinds[hit], points, rays[:, hit], view)
        haze = (1 - np.exp(-depth[hit] / 260))[:, None]
        colours[hit] = lit * (1 - haze) + SKY_LOW * haze
    return colours, kinds, depth


def _rays(view: View, size: tuple[int, int], first: int, last: int) -> Array:
    right, up, forward = view.axes()
    columns, rows = size
    scale = view.pixel(size)
    across, down = np.meshgrid(np.arange(columns) - columns / 2 + 0.5, np.arange(first, last) - rows / 2 + 0.5)
    across, down = across.ravel() * scale, down.ravel() * scale
    rays = right[:, None] * across - up[:, None] * down + forward[:, None]
    return np.asarray(rays / np.linalg.norm(rays, axis=0), dtype=np.float32)


def nearest(things: list[Thing], points: Array) -> Array:
    """Distance to the nearest of the things."""
    distance = things[0].distance(points)
    for thing in things[1:]:
        distance = np.minimum(distance, thing.distance(points))
    return distance


def _march(things: list[Thing], start: Array, rays: Array, steps: int, far: float) -> Array:
    """How far along each ray the first surface is; `far` or more where there is none."""
    gone = np.full(rays.shape[1], 0.02, dtype=np.float32)
    active = np.arange(rays.shape[1])
    for _ in range(steps):
        step = nearest(things, start[:, active] + gone[active] * rays[:, active])
        gone[active] += 0.85 * step
        active = active[(step > 0.0006 * (1 + gone[active])) & (gone[active] < far)]
        if not len(active):
            break
    gone[active] = np.where(gone[active] < 0.5 * far, gone[active], far)
    return gone


def _lit(things: list[Thing], kinds: Any, points: Array, rays: Array, view: View) -> Array:
    normals = _normals(things, points)
    sun = _unit(np.array(view.sun)).reshape(3, 1)
    colours = np.zeros((points.shape[1], 3), dtype=np.float32)
    shine, mirror = np.zeros(points.shape[1], dtype=np.float32), np.zeros(points.shape[1], dtype=np.float32)
    for i, thing in enumerate(things):
        mine = kinds == i
        if mine.any():
            colours[mine] = thing.look(points[:, mine])
            shine[mine], mirror[mine] = thing.shine, thing.mirror
    facing = np.clip(sun[:, 0] @ normals, 0, 1) * _sunlight(things, points + 0.012 * normals, sun)
    open_sky = _openness(things, points, normals) * (0.65 + 0.35 * normals[1])
    light = facing[:, None] * SUN_COLOUR + open_sky[:, None] * SHADE_COLOUR
    bounced = rays - 2 * (rays * normals).sum(axis=0) * normals
    glint = np.clip(sun[:, 0] @ bounced, 0, 1) ** 40 * facing * shine
    seen = colours * light + glint[:, None]
    return np.asarray(seen * (1 - mirror[:, None]) + _sky(bounced) * mirror[:, None], dtype=np.float32)


def _normals(things: list[Thing], points: Array) -> Array:
    corners = np.array([[1, -1, -1], [-1, -1, 1], [-1, 1, -1], [1, 1, 1]], dtype=np.float32)
    reach = 0.004
    slope = sum(corner[:, None] * nearest(things, points + reach * corner[:, None]) for corner in corners)
    return np.asarray(slope / np.maximum(np.linalg.norm(slope, axis=0), 1e-9), dtype=np.float32)


def _sunlight(things: list[Thing], points: Array, sun: Array) -> Array:
    """1 in the sun, 0 in the shade, with a soft edge."""
    light = np.ones(points.shape[1], dtype=np.float32)
    gone = np.full(points.shape[1], 0.02, dtype=np.float32)
    active = np.arange(points.shape[1])
    for _ in range(40):
        clear = nearest(things, points[:, active] + gone[active] * sun)
        light[active] = np.minimum(light[active], 14 * clear / gone[active])
        gone[active] += np.clip(clear, 0.015, 1.2)
        active = active[(light[active] > 0.02) & (gone[active] < 14)]
        if not len(active):
            break
    return np.clip(light, 0, 1)


def _openness(things: list[Thing], points: Array, normals: Array) -> Array:
    """How much of the sky a point sees, roughly: 1 in the open, less in corners and holes."""
    closed = np.zeros(points.shape[1], dtype=np.float32)
    for reach, weight in ((0.06, 0.9), (0.25, 0.7), (0.8, 0.55)):
        closed += weight * np.clip(1 - nearest(things, points + reach * normals) / reach, 0, 1)
    return np.asarray(np.clip(1 - 0.62 * closed, 0.12, 1))


def _sky(rays: Array) -> Array:
    height = np.clip(rays[1], 0, 1)[:, None] ** 0.6
    return np.asarray(SKY_LOW * (1 - height) + SKY_TOP * height, dtype=np.float32)


def _unit(vector: Any) -> Array:
    return np.asarray(vector / np.linalg.norm(vector), dtype=np.float32)
