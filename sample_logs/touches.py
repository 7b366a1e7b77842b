"""What is put on a rendered picture: blades of grass, fallen leaves, the grain of a phone's sensor."""

from __future__ import annotations

import numpy as np
from PIL import Image, ImageDraw, ImageFilter

from sample_logs.looks import grain
from sample_logs.tracer import Array, Picture, View, project

BLADES = 26000
BLADE_GREENS = np.array([(0.19, 0.26, 0.10), (0.32, 0.40, 0.16), (0.43, 0.49, 0.22), (0.55, 0.53, 0.32)])
LEAF_BROWNS = [(150, 96, 38), (181, 122, 44), (118, 70, 32), (166, 140, 62), (134, 52, 30)]


def grow_grass(picture: Picture, view: View, seed: int) -> Image.Image:
    """The picture with blades drawn, far ones first, wherever turf is what the viewer sees."""
    random = np.random.default_rng(seed)
    image = Image.fromarray(_bytes(picture.colours))
    if not picture.turf:
        return image
    columns, rows = image.size
    base = _base_points(view, image.size, random)
    column, row, ahead = project(view, image.size, base)
    inside = (column >= 0) & (column < columns) & (row >= 0) & (row < 1.1 * rows)
    base, column, row, ahead = base[:, inside], column[inside], row[inside], ahead[inside]
    seen = _is_turf(picture, view, base, column, row)
    order = np.flatnonzero(seen)[np.argsort(-ahead[seen])]
    _draw_blades(image, picture, view, base[:, order], random)
    return image


def _base_points(view: View, size: tuple[int, int], random: np.random.Generator) -> Array:
    """Feet of the blades on the lawn, evenly over the picture (a little beyond its foot)."""
    columns, rows = size
    scale = view.pixel(size)
    across = (random.uniform(-0.02, 1.02, BLADES) - 0.5) * columns * scale
    down = (random.uniform(0, 1.12, BLADES) - 0.5) * rows * scale
    right, up, forward = view.axes()
    rays = right[:, None] * across - up[:, None] * down + forward[:, None]
    rays = rays[:, rays[1] < -0.02]
    eye = np.array(view.eye).reshape(3, 1)
    return np.asarray(eye - view.eye[1] / rays[1] * rays, dtype=np.float32)


def _is_turf(picture: Picture, view: View, base: Array, column: Array, row: Array) -> np.ndarray:
    at = (np.minimum(row.astype(int), picture.depth.shape[0] - 1), column.astype(int))
    distance = np.linalg.norm(base - np.array(view.eye, dtype=np.float32).reshape(3, 1), axis=0)
    near = (np.abs(picture.depth[at] - distance) < 0.03 * distance + 0.05) | (row >= picture.depth.shape[0])
    green = picture.colours[at][:, 1] > 1.08 * picture.colours[at][:, 0]
    return np.asarray(np.isin(picture.things[at], list(picture.turf)) & near & green)


def _draw_blades(image: Image.Image, picture: Picture, view: View, base: Array, random: np.random.Generator) -> None:
    count = base.shape[1]
    height = random.uniform(0.06, 0.17, count)
    lean = random.normal(0, 0.05, (2, count))
    tips = base + np.stack([lean[0], height, lean[1]]).astype(np.float32)
    feet, ends = project(view, image.size, base), project(view, image.size, tips)
    at = (np.minimum(feet[1].astype(int), image.size[1] - 1), feet[0].astype(int))
    light = picture.colours[at].mean(axis=1) / 0.27
    greens = BLADE_GREENS[random.choice(4, count, p=(0.35, 0.4, 0.2, 0.05))] * np.clip(light, 0.25, 1.5)[:, None]
    draw = ImageDraw.Draw(image)
    for i in range(count):
        width = max(1, min(4, round(14 / feet[2][i] * max(image.size) / 1280)))
        ends_at = [(float(feet[0][i]), float(feet[1][i])), (float(ends[0][i]), float(ends[1][i]))]
        draw.line(ends_at, fill=tuple(_bytes(greens[i])), width=width)


def strew_leaves(image: Image.Image, view: View, count: int, spread: float, seed: int) -> None:
    """Fallen leaves over everything within `spread` feet of the middle."""
    random = np.random.default_rng(seed + 1)
    draw = ImageDraw.Draw(image)
    for _ in range(count):
        middle, turn = random.uniform(-spread, spread, 2), random.uniform(0, np.pi)
        draw.polygon(_leaf(view, image.size, middle, turn, random), fill=LEAF_BROWNS[random.integers(5)])


def _leaf(
    view: View, size: tuple[int, int], middle: Array, turn: float, random: np.random.Generator
) -> list[tuple[float, float]]:
    around = np.linspace(0, 2 * np.pi, 12, endpoint=False)
    long, wide = random.uniform(0.045, 0.085), random.uniform(0.02, 0.04)
    outline = np.stack([long * np.cos(around), wide * np.sin(around) * (1 + 0.35 * np.cos(5 * around))])
    x = middle[0] + outline[0] * np.cos(turn) - outline[1] * np.sin(turn)
    z = middle[1] + outline[0] * np.sin(turn) + outline[1] * np.cos(turn)
    column, row, _ = project(view, size, np.stack([x, np.full_like(x, 0.09), z]).astype(np.float32))
    return list(zip(column.tolist(), row.tolist(), strict=True))


def finish(image: Image.Image, seed: int) -> Image.Image:
    """A phone's picture: a little soft, grainy, darker to the corners."""
    soft = np.asarray(image.filter(ImageFilter.GaussianBlur(0.6)), dtype=np.float32)
    rows, columns = soft.shape[:2]
    down, across = np.mgrid[-1 : 1 : rows * 1j, -1 : 1 : columns * 1j].astype(np.float32)
    corners = 1 - 0.16 * (across**2 + down**2) / 2
    sensor = np.random.default_rng(seed).normal(0, 2.2, (rows, columns, 1))
    mottle = 5 * (grain(across * 9, down * 9, seed) - 0.5)[:, :, None]
    return Image.fromarray(np.clip(soft * corners[:, :, None] + sensor + mottle, 0, 255).astype(np.uint8))


def _bytes(colours: Array) -> np.ndarray:
    """Colours 0 to 1 as bytes, with the curve of a screen."""
    return (255 * np.clip(colours, 0, 1) ** (1 / 1.5)).astype(np.uint8)
