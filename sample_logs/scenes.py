"""The pictures of the day, one function a scene. Feet; the trade's things at their own sizes."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any

import numpy as np
from PIL import Image

from sample_logs import bodies, looks
from sample_logs.bodies import Place, bounded, box, common, cut, disc, ground, join, pipe, rod, rough, slots
from sample_logs.eyepiece import level_view
from sample_logs.touches import finish, grow_grass, strew_leaves
from sample_logs.tracer import Array, Distance, Look, Thing, View, render

SIZE = (1024, 768)
WHITE, GREEN = (0.86, 0.86, 0.83), (0.32, 0.58, 0.40)
"""Schedule 40 and SDR 35 pipe as this crew buys them."""
COLOURS = {"white": WHITE, "green": GREEN}
BLACK = (0.09, 0.09, 0.10)


def make_scene(name: str, options: dict[str, Any], size: tuple[int, int] = SIZE) -> Image.Image:
    """The picture of that scene; `options` are the scene function's own."""
    return SCENES[name](size, **options)


def walk(size: tuple[int, int], stage: str) -> Image.Image:
    """The front walk, looking to the porch; stage is `before`, `cut`, `channel` or `hose`."""
    slab = box((0, -0.12, 3), (4, 0.2, 12), 0.02)
    lawn = cut(ground(), box((0, 0, 3), (3.9, 3, 11.9)))
    things = [Thing(lawn, looks.turf, turf=True), *_porch(12.0)]
    if stage in ("before", "cut"):
        things.append(Thing(slab, _kerfs if stage == "cut" else _jointed))
    else:
        things.append(Thing(cut(slab, box((0, 0, 3.2), (5, 0.6, 0.24))), _wet if stage == "hose" else _jointed))
        things += _channel(3.2)
    if stage == "hose":
        things += _running_hose()
    near = stage != "before"
    view = View((1.1, 3.4, -1.7), (-0.2, -0.1, 3.4)) if near else View((1.6, 5.4, -5.0), (0, 0.2, 4.5))
    return _photograph(things, view, size, seed=len(stage))


def trench(
    size: tuple[int, int],
    colour: str = "green",
    inches: float = 4,
    gravel: bool = False,
    roots: bool = False,
    clay: bool = False,
    elbow: bool = False,
    filled: bool = False,
    empty: bool = False,
) -> Image.Image:
    """A trench across the lawn, looking along it; `filled` shows it closed again."""
    things = [_opened_lawn(filled), _fence(17.0)]
    if not filled:
        things.append(Thing(_spoil(), looks.soil))
        things += _bedding() if gravel else []
        things += [] if empty else _pipe_in_trench(COLOURS[colour], inches / 24, elbow)
        things += _roots() if roots else []
        things += _clay_line() if clay else []
    sun = (-0.22, 0.9, -0.42)
    view = View((0.7, 4.6, -2.2), (-0.05, -1.1, 4.6), sun=sun)
    if roots or clay:
        view = View((0.5, 2.7, -0.3), (-0.05, -1.1, 3.3), sun=sun)
    return _photograph(things, view, size, seed=3 + roots + 2 * clay + 4 * filled + 8 * elbow)


def basin(
    size: tuple[int, int],
    shape: str = "square",
    inches: float = 12,
    grate: bool = False,
    leaves: int = 0,
    water: float | None = None,
    pipes: Sequence[Sequence[Any]] = (),
) -> Image.Image:
    """A catch basin from above. `pipes` are [degrees around from the right, colour, inches, feet down];
    `water` is feet down to its surface, None where the basin is dry."""
    half, deep = inches / 24, 2.0
    square = shape == "square"
    outer = box((0, -deep / 2, 0), (half + 0.06, deep / 2 + 0.03, half + 0.06), 0.02)
    inner = box((0, -deep / 2 + 0.1, 0), (half, deep / 2 + 0.2, half), 0.02)
    if not square:
        outer, inner = disc((0, -deep / 2, 0), half + 0.06, deep / 2 + 0.03), disc((0, 0, 0), half, deep - 0.15)
    stubs = [_stub(half, *stub) for stub in pipes]
    wall = cut(outer, inner, *(hole for _, hole in stubs))
    around = half + 0.055
    hole = box((0, 0, 0), (around, 3, around)) if square else disc((0, 0, 0), around, 3)
    lawn = cut(ground(0.035), hole)
    things = [Thing(lawn, _worn_lawn(half), turf=True), Thing(wall, looks.plain(BLACK, 0.2), shine=0.15)]
    things += [thing for thing, _ in stubs]
    if grate:
        things.append(Thing(_grate(half, square), looks.plain((0.16, 0.16, 0.17), 0.2), shine=0.4))
    if water is not None:
        pool = rough(box((0, -water - 0.5, 0), (half, 0.5, half)), 0.006, 9)
        things.append(Thing(common(pool, inner), looks.water, shine=0.5, mirror=0.45))
    view = View((0.22, 2.3, -0.95), (0.0, -0.5, 0.08), wide=60, sun=(-0.2, 0.92, -0.3))
    return _photograph(things, view, size, seed=17 + len(pipes), leaves=leaves, spread=half + 0.9)


def downspout(size: tuple[int, int]) -> Image.Image:
    """A downspout tied in at the house wall: adapter, white pipe, open trench."""
    lawn = cut(ground(0.04), rough(box((0, -0.6, 0.2), (0.42, 0.9, 2.35)), 0.12, 3))
    spout = box((0, 2.9, 2.2), (0.15, 2.75, 0.11), 0.03)
    straps = join(*(box((0, height, 2.22), (0.19, 0.05, 0.13), 0.01) for height in (1.4, 3.6)))
    line = join(
        rod((0, 0.15, 2.2), (0, -0.65, 2.2), 0.145), rod((0, -0.7, 2.15), (0, -0.8, -3.5), 0.145),
        bodies.ball((0, -0.68, 2.2), 0.2), disc((0, 0.12, 2.2), 0.2, 0.11, 0.02),
    )  # fmt: skip
    things = [
        Thing(lawn, _either_turf_or_soil, turf=True),
        Thing(box((0, 4, 2.75), (9, 4.6, 0.4)), looks.siding),
        Thing(box((0, 0.12, 2.68), (9, 0.35, 0.42)), looks.concrete),
        Thing(box((3.1, 4.6, 2.33), (1.15, 1.5, 0.06)), looks.plain((0.86, 0.85, 0.80))),
        Thing(box((3.1, 4.6, 2.29), (0.98, 1.33, 0.05)), looks.plain((0.22, 0.28, 0.33)), shine=0.8, mirror=0.35),
        Thing(join(spout, straps), looks.plain((0.80, 0.79, 0.74)), shine=0.3),
        Thing(line, looks.plain(WHITE), shine=0.5),
        Thing(rough(rod((-1.5, -0.1, -1.5), (-1.5, 0.0, 1.3), 0.5), 0.4, 2.4), looks.soil),
    ]
    view = View((1.2, 3.7, -3.4), (0.1, 0.55, 1.4), sun=(-0.25, 0.8, -0.55))
    return _photograph(things, view, size, seed=23)


def popup(size: tuple[int, int], running: bool = False) -> Image.Image:
    """The pop-up outlet in the grass, shut, or lifted by running water."""
    lift = 0.13 if running else 0.03
    hole = disc((0, 0, 0), 0.26, 1.0)
    throat = cut(disc((0, -0.15, 0), 0.27, 0.19, 0.02), disc((0, 0, 0), 0.20, 1.0))
    things = [
        Thing(cut(ground(0.05), hole), looks.turf, turf=True),
        Thing(throat, looks.plain(GREEN, 0.1), shine=0.4),
        Thing(join(disc((0, lift, 0), 0.235, 0.025, 0.015), rod((0, lift, 0), (0, -0.4, 0), 0.03)), _lid, shine=0.4),
        _fence(15.0),
    ]
    if running:
        spread = rough(disc((0.25, -0.01, -0.40), 1.05, 0.055), 0.26, 1.7)
        collar = cut(disc((0, 0.05, 0), 0.225, 0.06, 0.02), disc((0, 0, 0), 0.10, 1.0))
        wet = join(spread, rough(collar, 0.03, 9), *(bodies.ball((x, 0.03, z), 0.05) for x, z in _round(0.30, 9)))
        things.append(Thing(rough(wet, 0.02, 5), looks.water, shine=0.9, mirror=0.5))
    return _photograph(things, View((0.6, 1.9, -2.0), (0.05, 0.0, 0.1), wide=50), size, seed=29)


def level_rod(size: tuple[int, int], reading: float) -> Image.Image:
    """The rod through the level's eyepiece, the cross hair on the reading (feet)."""
    return level_view(size, reading)


SCENES: dict[str, Callable[..., Image.Image]] = {
    "walk": walk,
    "trench": trench,
    "basin": basin,
    "downspout": downspout,
    "popup": popup,
    "level_rod": level_rod,
}


def _photograph(
    things: list[Thing], view: View, size: tuple[int, int], *, seed: int, leaves: int = 0, spread: float = 1.0
) -> Image.Image:
    picture = render(things, view, size)
    image = grow_grass(picture, view, seed)
    if leaves:
        strew_leaves(image, view, leaves, spread, seed)
    return finish(image, seed)


# ---------------------------------------------------------------- the yard


def _fence(away: float) -> Thing:
    return Thing(join(box((0, 2.6, away), (40, 2.9, 0.08)), box((0, 4.9, away - 0.1), (40, 0.1, 0.12))), looks.boards)


def _porch(away: float) -> list[Thing]:
    steps = join(*(box((0, 0.3 + 0.3 * i, away + 0.9 * i), (2.4, 0.35 + 0.3 * i, 0.9)) for i in range(3)))
    door = box((0, 4.4, away + 4.1), (0.9, 2.6, 0.12))
    window = join(*(box((x, 4.9, away + 4.1), (1.0, 1.3, 0.1)) for x in (-4.2, 4.2)))
    shrubs = join(*(rough(bodies.ball((x, 0.8, away + 2.6), 1.25), 0.5, 2.2) for x in (-4.6, -6.6, 4.6, 6.8)))
    return [
        Thing(steps, looks.concrete),
        Thing(box((0, 6, away + 4.6), (30, 6.5, 0.5)), looks.siding),
        Thing(door, looks.plain((0.35, 0.14, 0.12))),
        Thing(window, looks.plain((0.20, 0.26, 0.31)), shine=0.7, mirror=0.35),
        Thing(shrubs, looks.hedge),
    ]


def _worn_lawn(half: float) -> Look:
    """Turf with bare earth around a basin."""

    def worn(points: Array) -> Array:
        near = np.maximum(np.abs(points[0]), np.abs(points[2])) - half
        ragged = near + 0.5 * (looks.grain(points[0] * 3, points[2] * 3, 71) - 0.5)
        return np.asarray((ragged < 0.22) | (points[1] < -0.12), dtype=np.float32)

    return looks.either(looks.turf, looks.soil, worn)


def _either_turf_or_soil(points: Array) -> Array:
    return looks.either(looks.turf, looks.soil, lambda p: (p[1] < -0.09).astype(np.float32))(points)


# ---------------------------------------------------------------- walk and channel


def _jointed(points: Array) -> Array:
    colours = looks.concrete(points)
    joint = np.abs(np.mod(points[2] + 0.4, 4.8) - 2.4) < 0.02
    joint |= np.abs(points[0]) < 0.02
    colours[joint & (points[1] > 0)] *= 0.45
    return colours


def _kerfs(points: Array) -> Array:
    """Two fresh saw cuts across the walk, with the pale slurry that the wet blade leaves."""
    colours = _jointed(points)
    from_line = np.minimum(np.abs(points[2] - 2.95), np.abs(points[2] - 3.45))
    ragged = 0.30 * looks.grain(points[0] * 1.8, points[2] * 1.8, 81)
    slurry = (from_line < ragged + 0.05)[:, None]
    colours = np.where(slurry, 0.55 * colours + 0.45 * np.array([0.86, 0.86, 0.84]), colours)
    colours[from_line < 0.022] = (0.07, 0.07, 0.07)
    return colours.astype(np.float32)


def _wet(points: Array) -> Array:
    colours = _jointed(points)
    reach = np.hypot(points[0] - 0.3, (points[2] - 3.0) * 1.3) - 0.9 * looks.grain(points[0], points[2], 83)
    return np.asarray(colours * np.where(reach < 1.0, 0.55, 1.0)[:, None], dtype=np.float32)


def _channel(z: float) -> list[Thing]:
    """Five inches wide, with a slotted grate, bedded in new concrete."""
    trough = cut(box((0, -0.2, z), (4.0, 0.28, 0.23)), box((0, 0.1, z), (4.2, 0.5, 0.17)))
    bars = common(slots(0, 0.1, 0.05), box((0, 0, z), (4, 1, 0.125)))
    grate = cut(box((0, 0.05, z), (3.98, 0.03, 0.165), 0.008), bars)
    return [
        Thing(trough, looks.plain((0.45, 0.45, 0.46), 0.1), shine=0.1),
        Thing(grate, looks.plain((0.10, 0.10, 0.11), 0.3), shine=0.5),
    ]


def _running_hose() -> list[Thing]:
    lie: list[Place] = [(3.4, 0.15, -0.6), (2.2, 0.14, 0.9), (1.5, 0.16, 1.7), (0.9, 0.30, 2.2), (0.62, 0.38, 2.45)]
    hose = bodies.bent(lie, 0.055)
    stream = bodies.bent([(0.6, 0.38, 2.5), (0.45, 0.33, 2.75), (0.34, 0.20, 2.95), (0.28, 0.05, 3.12)], 0.05)
    splash = join(*(bodies.ball((0.28 + x, 0.09, 3.12 + z * 0.5), 0.045) for x, z in _round(0.16, 7)))
    puddle = rough(disc((0.3, 0.075, 2.75), 0.50, 0.014), 0.16, 2.2)
    wet = join(rough(stream, 0.03, 16), splash)
    return [
        Thing(hose, looks.plain((0.13, 0.38, 0.22)), shine=0.4),
        Thing(rod((0.66, 0.37, 2.42), (0.58, 0.39, 2.52), 0.07), looks.plain((0.75, 0.60, 0.25)), shine=0.9),
        Thing(wet, looks.plain((0.75, 0.82, 0.86)), shine=1.0, mirror=0.35),
        Thing(puddle, looks.water, shine=0.6, mirror=0.5),
    ]


# ---------------------------------------------------------------- trench


def _opened_lawn(filled: bool) -> Thing:
    if not filled:
        hole = rough(box((0, -0.75, 6.5), (0.72, 0.95, 8.6)), 0.16, 2.6)
        return Thing(cut(ground(), hole), _either_turf_or_soil, turf=True)
    mound = rough(rough(rod((0, -1.02, -1.5), (0, -1.02, 15), 1.20), 0.06, 1.6), 0.04, 6.3)

    def strip(points: Array) -> Array:
        edge = np.abs(points[0]) + 0.35 * (looks.grain(points[0] * 3, points[2] * 3, 91) - 0.5)
        return np.asarray(edge < 0.68, dtype=np.float32)

    return Thing(join(ground(), mound), looks.either(looks.turf, looks.soil, strip), turf=True)


def _spoil() -> Distance:
    places = ((0.9, 1.0), (3.1, 0.8), (4.6, 1.1), (6.9, 0.85), (9.4, 1.0))
    heaps = [rod((-2.6, -0.3, z), (-2.3, -0.3, z + 0.9), radius) for z, radius in places]
    return bounded(rough(rough(join(*heaps), 0.30, 1.0), 0.07, 5.5, seed=9), (-2.5, 0, 5.5), (1.5, 1.3, 6.5))


def _pipe_in_trench(colour: looks.Colour, radius: float, elbow: bool) -> list[Thing]:
    low = -1.42 + radius
    bells = [rod((0, low, z), (0, low, z + 0.28), radius * 1.16) for z in (1.6, 9.6)]
    line = [rod((0, low, -2.5), (0, low, 13.4), radius)]
    if elbow:
        line = [rod((0.05, low, -2.5), (0.05, low, 4.3), radius), rod((0.05, low, 4.3), (0.05, -0.25, 4.6), radius)]
        bells = [rod((0.05, low, z), (0.05, low, z + 0.22), radius * 1.17) for z in (0.9, 3.9)]
        bells.append(rod((0.05, low + 0.15, 4.35), (0.05, low + 0.35, 4.41), radius * 1.17))
    whole = bounded(join(*line, *bells), (0, -0.8, 5.5), (0.4, 0.9, 8.5))
    return [Thing(whole, looks.plain(colour, 0.06), shine=0.45)]


def _bedding() -> list[Thing]:
    return [Thing(rough(box((0, -1.52, 6), (0.8, 0.22, 9)), 0.10, 9, seed=6), looks.gravel)]


def _roots() -> list[Thing]:
    corners: list[list[Place]] = [
        [(-1.2, -0.42, 2.6), (-0.45, -0.62, 2.9), (0.3, -0.52, 3.0), (1.2, -0.75, 3.4)],
        [(-1.2, -0.85, 3.5), (-0.3, -0.72, 3.3), (0.4, -0.95, 3.7), (1.2, -0.88, 3.5)],
        [(-0.45, -0.62, 2.9), (-0.1, -0.9, 2.5), (0.35, -1.15, 2.35), (1.0, -1.2, 2.0)],
        [(-1.1, -0.5, 4.6), (0.0, -0.75, 4.4), (1.1, -0.55, 4.9)],
    ]
    sizes = (0.14, 0.09, 0.05, 0.07)
    strands = [bodies.bent(path, size) for path, size in zip(corners, sizes, strict=True)]
    return [Thing(bounded(rough(join(*strands), 0.05, 8), (0, -0.8, 3.4), (1.3, 0.7, 1.7)), looks.bark)]


def _clay_line() -> list[Thing]:
    line = pipe((-1.5, -0.72, 3.1), (-0.12, -0.74, 3.2), 0.24, 0.05)
    collar = pipe((-0.62, -0.73, 3.16), (-0.40, -0.735, 3.18), 0.29, 0.06)
    cap = pipe((-0.22, -0.74, 3.195), (-0.06, -0.74, 3.205), 0.27, 0.27)
    other = pipe((0.42, -0.75, 3.25), (1.6, -0.78, 3.3), 0.24, 0.05)
    return [
        Thing(rough(join(line, collar, other), 0.02, 12), looks.clay),
        Thing(cap, looks.plain((0.14, 0.14, 0.15)), shine=0.3),
    ]


# ---------------------------------------------------------------- basins and the pop-up


def _grate(half: float, square: bool) -> Distance:
    edge = half + 0.05
    plate = box((0, 0.04, 0), (edge, 0.03, edge), 0.01) if square else disc((0, 0.04, 0), edge, 0.03, 0.01)
    field = box((0, 0, 0), (half - 0.06, 1, half - 0.06)) if square else disc((0, 0, 0), half - 0.06, 1)
    bars = common(common(slots(0, 0.13, 0.065), field), cut(field, box((0, 0, 0), (half, 1, 0.03))))
    return cut(plate, bars)


def _stub(half: float, degrees: float, colour: str, inches: float, down: float) -> tuple[Thing, Distance]:
    """A pipe end that shows inside the basin, and the hole it comes through."""
    turn, radius = np.radians(degrees), inches / 24
    x, z = float(np.cos(turn)), float(np.sin(turn))
    low = -down + radius
    inside, outside = half - 0.14, half + 0.6
    start, end = (x * inside, low, z * inside), (x * outside, low, z * outside)
    return Thing(pipe(start, end, radius, 0.03), looks.plain(COLOURS[colour], 0.06), shine=0.4), rod(start, end, radius)


def _lid(points: Array) -> Array:
    """A green lid with raised rings."""
    ring = np.mod(np.hypot(points[0], points[2]), 0.06) < 0.012
    colours = looks.plain((0.22, 0.45, 0.30), 0.1)(points)
    colours[ring] *= 0.6
    return colours


def _round(radius: float, count: int) -> list[tuple[float, float]]:
    turns = np.arange(count) * 2.399963
    return [(float(radius * np.cos(turn)), float(radius * np.sin(turn))) for turn in turns]
