"""A sheet to draw on, measured in inches, and the one module that speaks to matplotlib.

Labels are placed so that none lies on another: each tries a few places near its anchor and takes the freest.
"""

from __future__ import annotations

import io
import math
import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Any

from reports.doubts import Mark
from reports.words import clean

INK, WATER, MOSS, CLAY, GREY, PALE, PAPER = "#22313a", "#1f5f6b", "#5f7d4f", "#a9562b", "#5f6b70", "#c9d4d7", "#ffffff"
"""Whatever lettering is written in stands 4.5 to 1 and more against the paper: WCAG 2.2, 1.4.3."""
SOIL = "#efe7d8"
DPI = 200
SMALLEST = 7.4
"""Lettering is no smaller. [pt]"""
STEP = 1.18
"""From one line of a text to the next, by its size."""
APART, ROUNDS = 0.1, 12
"""Of texts that are placed together: inches that each is kept from the others, and how often they give way at most."""
FONTS = "DejaVu Sans, Verdana, sans-serif"
"""Of an SVG: the font that its texts are measured in, then others as wide or narrower."""

Point = tuple[float, float]


@dataclass(frozen=True)
class Area:
    """A rectangle in inches, from its left lower corner to its right upper one."""

    left: float
    low: float
    right: float
    high: float

    def overlap(self, other: Area) -> float:
        """The area that both share, square inches."""
        across = min(self.right, other.right) - max(self.left, other.left)
        up = min(self.high, other.high) - max(self.low, other.low)
        return across * up if across > 0 and up > 0 else 0.0

    @property
    def corners(self) -> list[Point]:
        return [(self.left, self.low), (self.right, self.low), (self.right, self.high), (self.left, self.high)]

    def grown(self, by: float) -> Area:
        return Area(self.left - by, self.low - by, self.right + by, self.high + by)

    def holds(self, point: Point) -> bool:
        return self.left <= point[0] <= self.right and self.low <= point[1] <= self.high

    def outside(self, other: Area) -> float:
        """The part of this area that lies outside the other, square inches."""
        return (self.right - self.left) * (self.high - self.low) - self.overlap(other)


class Sheet:
    """A white sheet of so many inches, origin at the left lower corner."""

    def __init__(self, width: float, height: float) -> None:
        from matplotlib.backends.backend_agg import FigureCanvasAgg  # slow to load
        from matplotlib.figure import Figure

        self.width, self.height = width, height
        self._figure = Figure(figsize=(width, height), dpi=DPI, facecolor=PAPER)
        self._canvas: Any = FigureCanvasAgg(self._figure)
        self._axes: Any = self._figure.add_axes((0.0, 0.0, 1.0, 1.0))
        self._axes.set_xlim(0, width)
        self._axes.set_ylim(0, height)
        self._axes.axis("off")

    def line(
        self, points: Sequence[Point], colour: str = INK, width: float = 1.0, dash: str = "-", layer: int = 2
    ) -> None:
        """A line through the points; `width` in points, `dash` one of `-`, `--`, `:`."""
        from matplotlib.lines import Line2D

        across, up = zip(*points, strict=True)
        line = Line2D(across, up, color=colour, lw=width, ls=dash, zorder=layer, solid_capstyle="round")
        self._axes.add_artist(line)  # `plot` takes longer, as it would fit the axes to the line

    def shape(
        self, points: Sequence[Point], fill: str = PAPER, edge: str = INK, width: float = 1.2, layer: int = 4
    ) -> None:
        """A filled polygon."""
        from matplotlib.patches import Polygon

        self._axes.add_artist(Polygon(points, facecolor=fill, edgecolor=edge, lw=width, zorder=layer))

    def arrow(self, start: Point, end: Point, colour: str = WATER, size: float = 11, layer: int = 3) -> None:
        """An arrow head at `end`, pointing away from `start`."""
        style = {"arrowstyle": "-|>", "color": colour, "lw": 0, "mutation_scale": size, "shrinkA": 0, "shrinkB": 0}
        self._axes.annotate("", xy=end, xytext=start, arrowprops=style, zorder=layer)

    def text(
        self,
        at: Point,
        text: str,
        size: float = 8,
        colour: str = INK,
        *,
        bold: bool = False,
        across: str = "left",
        up: str = "center",
    ) -> None:
        """Text at a point; `across` and `up` say which part of it lies there. Each line is set by itself, so that it
        keeps its place in an SVG where a browser has only another font."""
        lines, step = _lines(text), STEP * size / 72
        below = {"top": 0.0, "center": (len(lines) - 1) / 2, "bottom": len(lines) - 1}[up]
        look = self._look(size, colour, bold)
        for number, line in enumerate(lines):
            self._axes.text(at[0], at[1] + (below - number) * step, line, **look, ha=across, va=up, zorder=6)

    def measure(self, text: str, size: float = 8, *, bold: bool = False) -> Point:
        """Width and height of a text, inches."""
        lines = _lines(text)
        extents = [self._extent(line, size, bold) for line in lines]
        widest, tallest = (max(each) for each in zip(*extents, strict=True))
        return widest, tallest + (len(lines) - 1) * STEP * size / 72

    def _extent(self, line: str, size: float, bold: bool) -> Point:
        probe = self._axes.text(0, 0, line, **self._look(size, INK, bold))
        extent = probe.get_window_extent(self._canvas.get_renderer())
        probe.remove()
        return extent.width / DPI, extent.height / DPI

    def _look(self, size: float, colour: str, bold: bool) -> dict[str, Any]:
        weight = "bold" if bold else "normal"
        # A dollar sign in a label is a dollar sign, not mathematics.
        return {
            "fontsize": size,
            "color": colour,
            "weight": weight,
            "parse_math": False,
            "family": "DejaVu Sans",
        }

    def png(self) -> bytes:
        """The sheet as a PNG: the same bytes for the same drawing."""
        out = io.BytesIO()
        self._figure.savefig(out, format="png", dpi=DPI, metadata={"Software": None})
        return out.getvalue()

    def svg(self) -> str:
        """The sheet as an SVG that stands alone: no style sheet and no address in it; the same text for the same
        drawing. Its lettering is text: as shapes it would weigh four times as much."""
        import matplotlib

        matplotlib.rcParams |= {"svg.fonttype": "none", "svg.hashsalt": "sheet"}
        out = io.StringIO()
        self._figure.savefig(out, format="svg", metadata=dict.fromkeys(("Creator", "Date", "Format", "Type")))
        return _plain_svg(out.getvalue())


def _plain_svg(whole: str) -> str:
    """An SVG without head and remarks, its styles as attributes: a page that allows no styles shows it all the same."""
    _, _, root = re.sub(r"<!--.*?-->", "", whole, flags=re.S).partition("<svg")
    bare = re.sub(r"<defs>\s*<style.*?</style>\s*</defs>", "", root, flags=re.S)
    plain = re.sub(r'(<[^<>]*)style="([^"]*)"', lambda tag: tag[1] + _attributes(tag[2]), bare)
    close = re.sub(r"\s+", " ", plain).replace("> <", "><").strip()
    return f'<svg stroke-linejoin="round" stroke-linecap="butt" font-family="{FONTS}" {close}'


def _attributes(style: str) -> str:
    """`fill: none; stroke-width: 2` as attributes of a tag; the font is told once, at the root."""
    pairs = (pair.split(": ", 1) for pair in style.split("; "))
    return " ".join(f'{name}="{value}"' for name, value in pairs if name != "font-family")


@dataclass(frozen=True)
class Drawing:
    name: str
    """`plan`, `profile`, `profile-2`: the end of its file's name."""
    sheet: Sheet
    caption: str
    alt: str
    """What it shows, for a reader who cannot see it."""
    marks: list[Mark]

    @cached_property
    def png(self) -> bytes:
        return self.sheet.png()

    @property
    def svg(self) -> str:
        return self.sheet.svg()


class Labels:
    """The labels of a sheet, placed one after another beside what is already there; where they are `backed`, each
    breaks the thin lines of the lowest layer that run under it."""

    def __init__(self, sheet: Sheet, within: Area, *, backed: bool = False) -> None:
        self._sheet, self._within, self._backed = sheet, within, backed
        self.taken: list[Area] = []
        """All ground that is in use."""
        self.firm: list[Area] = []
        """The part of it that a text on a line keeps clear of too, such as symbols and pipes."""
        self.written: list[Area] = []
        """Where the texts stand, in the order written."""

    def block(self, *areas: Area, firm: bool = False) -> None:
        """Ground on which no label may lie."""
        self.taken += areas
        self.firm += areas if firm else ()

    def block_line(self, start: Point, end: Point, half: float = 0.06, *, firm: bool = False) -> None:
        """Blocks a line as a string of small areas."""
        steps = max(2, round((abs(end[0] - start[0]) + abs(end[1] - start[1])) / 0.12))
        for step in range(steps + 1):
            x, y = between(start, end, step / steps)
            self.block(Area(x - half, y - half, x + half, y + half), firm=firm)

    def place(
        self, text: str, anchors: Iterable[Point], size: float = 7.5, colour: str = INK, clear: float = 0.16
    ) -> None:
        """Writes the text beside the freest of the anchors, with a thin leader where it had to go far."""
        width, height = self._sheet.measure(text, size)
        choices = [
            (anchor, _beside(anchor, side, reach, width, height))
            for reach in (clear, clear + 0.3, clear + 0.65, clear + 1.1)
            for anchor in anchors
            for side in SIDES
        ]
        anchor, area = self._freest(choices)
        if _distance(anchor, area) > clear + 0.25:
            self._sheet.line([anchor, _nearest(anchor, area)], GREY, 0.5, layer=3)
            self.block_line(anchor, _nearest(anchor, area), 0.02)
        self._write(text, area, size, colour)

    def place_on(self, texts: Sequence[tuple[str, Sequence[Point]]], size: float = 7.5, colour: str = INK) -> None:
        """Writes each text upon one of its anchors, such as the line whose length it gives; all of them together, so
        that they keep clear of one another as well as they can. Of anchors alike the first."""
        choices = [self._centred(text, anchors, size) for text, anchors in texts]
        costs = [[self._in_use(area) for area in areas] for areas in choices]
        chosen = [areas[costs[at].index(min(costs[at]))] for at, areas in enumerate(choices)]
        for _ in range(ROUNDS):
            before = [*chosen]
            for at, areas in enumerate(choices):
                others = [area.grown(APART) for place, area in enumerate(chosen) if place != at]
                near = [50 * sum(area.overlap(other) for other in others) for area in areas]
                total = [own + more for own, more in zip(costs[at], near, strict=True)]
                chosen[at] = areas[total.index(min(total))]
            if chosen == before:
                break
        for (text, _), area in zip(texts, chosen, strict=True):
            self._write(text, area, size, colour)

    def _centred(self, text: str, anchors: Sequence[Point], size: float) -> list[Area]:
        width, height = self._sheet.measure(text, size)
        return [Area(x - width / 2, y - height / 2, x + width / 2, y + height / 2) for x, y in anchors]

    def _in_use(self, area: Area) -> float:
        """How much of an area is in use or off the sheet, square inches; what is written or drawn there weighs most."""
        struck = sum(area.grown(0.03).overlap(other) for other in [*self.written, *self.firm])
        return sum(area.overlap(other) for other in self.taken) + 4 * area.outside(self._within) + 10 * struck

    def _write(self, text: str, area: Area, size: float, colour: str) -> None:
        if self._backed:
            self._sheet.shape(area.corners, PAPER, PAPER, 0, layer=1)
        middle = ((area.left + area.right) / 2, (area.low + area.high) / 2)
        self._sheet.text(middle, text, size, colour, across="center")
        self.block(area.grown(0.02))
        self.written.append(area)

    def _freest(self, choices: Sequence[tuple[Point, Area]]) -> tuple[Point, Area]:
        """The first of those that cost least. Distance is part of the cost, so one farther off than that is skipped."""
        best, least = choices[0], math.inf
        for choice in choices:
            if _distance(*choice) < least and (cost := self._cost(*choice)) < least:
                best, least = choice, cost
        return best

    def _cost(self, anchor: Point, area: Area) -> float:
        ground = area.grown(0.03)
        near_by = [other for other in self.taken if other.left < ground.right and other.right > ground.left]
        crowded = sum(ground.overlap(other) for other in near_by) + 4 * area.outside(self._within)
        crowded += 10 * sum(ground.overlap(other) for other in self.written)
        # A leader never crosses another label, and a pipe or symbol other than its own only where it must.
        near = _nearest(anchor, area)
        spots = [between(anchor, near, step / 8) for step in range(9)]
        struck = sum(other.holds(spot) for other in self.written for spot in spots)
        crossed = sum(not other.holds(anchor) and other.holds(spot) for other in self.firm for spot in spots)
        return crowded * 100 + struck * 10 + crossed / 2 + _distance(anchor, area)


SIDES = ((0, 1), (0, -1), (1, 0), (-1, 0), (1, 1), (-1, 1), (1, -1), (-1, -1))


def spread(places: Sequence[float], widths: Sequence[float], low: float, high: float) -> list[float]:
    """The places moved along a line, as little as needed, so that things of these widths do not touch.

    Order is kept. Where they cannot all fit between `low` and `high` they stand edge to edge from `low`.
    """
    found: list[float] = []
    edge = low
    for place, width in zip(places, widths, strict=True):
        found.append(max(place, edge + width / 2))
        edge = found[-1] + width / 2
    edge = high
    for index in range(len(found) - 1, -1, -1):
        found[index] = max(min(found[index], edge - widths[index] / 2), low + sum(widths[:index]) + widths[index] / 2)
        edge = found[index] - widths[index] / 2
    return found


def _lines(text: str) -> list[str]:
    return [clean(line) for line in text.split("\n")]


def between(start: Point, end: Point, share: float) -> Point:
    return start[0] + (end[0] - start[0]) * share, start[1] + (end[1] - start[1]) * share


def _beside(anchor: Point, side: tuple[int, int], reach: float, width: float, height: float) -> Area:
    x = anchor[0] + side[0] * (reach + width / 2)
    y = anchor[1] + side[1] * (reach + height / 2)
    return Area(x - width / 2, y - height / 2, x + width / 2, y + height / 2)


def _nearest(anchor: Point, area: Area) -> Point:
    return min(max(anchor[0], area.left), area.right), min(max(anchor[1], area.low), area.high)


def _distance(anchor: Point, area: Area) -> float:
    near = _nearest(anchor, area)
    return float(((near[0] - anchor[0]) ** 2 + (near[1] - anchor[1]) ** 2) ** 0.5)
