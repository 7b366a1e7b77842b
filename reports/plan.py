"""The plan: a schematic of what flows where, with each run's length, size and fall."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property, partial

from extract.record import Language, Run, State, Structure
from reports import words
from reports.canvas import (
    CLAY,
    GREY,
    INK,
    MOSS,
    PALE,
    PAPER,
    SMALLEST,
    SOIL,
    WATER,
    Area,
    Drawing,
    Labels,
    Point,
    Sheet,
    between,
)
from reports.doubts import Mark, marked, unique
from reports.facts import Facts
from reports.layout import Layout, ends, layout
from reports.words import form, plain, sentence, told

WIDTH, TOP, SIDE = 9.2, 0.45, 1.0
RADIUS = 0.15
LINE = {"installed": (WATER, "-"), "existing": (CLAY, "--"), "abandoned": (GREY, "-"), "planned": (GREY, ":")}
"""Colour and dash of each state. Told apart without colour too: what is new is a heavy line, what was there before a
thin dashed one, what is abandoned a thin one with crosses on it. Source: after the US National CAD Standard, how new,
existing and abandoned work is plotted (from memory)."""
THIN, CROSS, CROSS_STEP = 1.2, 0.05, 0.35
"""Of lines of what was there before: points; half a cross, and from one cross to the next, inches."""
SAMPLE, ROW, LAST_ROW = 0.41, 0.27, 0.2
"""Of the legend: the room of a symbol or a piece of line, from one row to the next, and the last one over the sheet's
foot, inches."""
SHORTEST = 2.8 * RADIUS
"""Between the middles of two symbols, where an arrow still has room, inches."""
BRIEF = 10
"""With more runs than this the labels hold only the essentials; the table has the rest."""


def plan(facts: Facts) -> Drawing:
    """The plan of everything recorded that was not taken out again."""
    runs = [run for run in facts.record.runs if run.state != "removed"]
    laid, rows = layout(facts, runs), rows_of(keys(facts))
    foot = foot_of(rows)
    height, at = _scaled(laid, foot)
    sheet = Sheet(WIDTH, height)
    labels = Labels(sheet, Area(0.08, foot - 0.1, WIDTH - 0.08, height - 0.1))
    at |= _unjoined(sheet, laid, labels, facts.language)
    spans = _spans(runs, at)
    labels.block(Area(0, height - 0.34, WIDTH, height))
    for run in runs:
        _line(sheet, run, *spans[run.label], labels)
    for label, place in at.items():
        symbol(sheet, facts.record.subject(label), place)
        labels.block(Area(*place, *place).grown(RADIUS + 0.04), firm=True)
    marks = name_structures(facts, labels, at) + _describe(facts, labels, runs, spans)
    legend(sheet, rows)
    entitle(sheet, told("plan", "head", facts.language), facts.language)
    if laid.north_up:
        north_arrow(sheet, (WIDTH - 0.35, sheet.height - 0.41), 0.0)
    return Drawing("plan", sheet, _caption(laid, facts.language), _alt(facts, runs), unique(marks))


def _scaled(laid: Layout, foot: float) -> tuple[float, dict[str, Point]]:
    """The height of the sheet and the places in inches on it."""
    if not laid.places:
        return 1.65 + foot, {}
    across = [place[0] for place in laid.places.values()]
    up = [place[1] for place in laid.places.values()]
    wide, tall = max(across) - min(across), max(up) - min(up)
    room = WIDTH - 2 * SIDE
    if laid.north_up:
        scale = min(room / max(wide, 1e-9), 3.4 / max(tall, 1e-9))
        height = tall * scale + foot + TOP + 1.2
        steps = (scale, scale)
    else:
        height = min(max(tall, 0.5) * 1.15 + foot + TOP + 1.5, 5.3)
        steps = (room / max(wide, 1), (height - foot - TOP - 1.4) / max(tall, 1))
    left = (WIDTH - wide * steps[0]) / 2
    low = foot + (height - foot - TOP - tall * steps[1]) / 2
    return height, {
        label: (left + (x - min(across)) * steps[0], low + (y - min(up)) * steps[1])
        for label, (x, y) in laid.places.items()
    }


def _unjoined(sheet: Sheet, laid: Layout, labels: Labels, language: Language) -> dict[str, Point]:
    if not laid.unjoined:
        return {}
    text = told("plan", "unjoined", language)
    y = sheet.height - TOP - 0.3
    sheet.text((0.2, y), text, 7.5, GREY)
    start = 0.2 + sheet.measure(text, 7.5)[0] + 0.4
    labels.block(Area(0.1, y - 0.1, start, y + 0.1))
    step = min(1.2, (WIDTH - start - 0.6) / max(len(laid.unjoined) - 1, 1))
    return {label: (start + step * index, y) for index, label in enumerate(laid.unjoined)}


def _spans(runs: list[Run], at: dict[str, Point]) -> dict[str, tuple[Point, Point]]:
    """Both ends of each run on the sheet; runs between the same two ends lie side by side."""
    spans: dict[str, tuple[Point, Point]] = {}
    beside: Counter[tuple[str, ...]] = Counter()
    for run in runs:
        upper, lower = ends(run)
        pair = tuple(sorted((upper, lower)))
        spans[run.label] = _shifted(at[pair[0]], at[pair[-1]], 0.14 * beside[pair], turned=pair[0] != upper)
        beside[pair] += 1
    return spans


def _shifted(one: Point, other: Point, by: float, *, turned: bool) -> tuple[Point, Point]:
    long = math.dist(one, other) or 1.0
    x, y = (one[1] - other[1]) / long * by, (other[0] - one[0]) / long * by
    moved = (one[0] + x, one[1] + y), (other[0] + x, other[1] + y)
    return moved[::-1] if turned else moved


def _line(sheet: Sheet, run: Run, start: Point, end: Point, labels: Labels) -> None:
    stroke(sheet, run.state, [start, end], run.nominal_in)
    flow_arrow(sheet, run, start, end)
    labels.block_line(start, end)


def stroke(sheet: Sheet, state: State | None, path: Sequence[Point], nominal_in: float | None = None) -> None:
    """A run of that state along a path, heavier where the pipe is larger."""
    colour, dash = LINE.get(state or "", (INK, "-."))
    heavy = min(1.4 + 0.35 * (nominal_in or 3), 4.5)
    sheet.line(path, colour, heavy if state in ("installed", "planned", None) else THIN, dash)
    if state != "abandoned":
        return
    for start, end in zip(path, path[1:], strict=False):
        count = max(1, round(math.dist(start, end) / CROSS_STEP))
        for number in range(count):
            x, y = between(start, end, (number + 0.5) / count)
            for up in (CROSS, -CROSS):
                sheet.line([(x - CROSS, y - up), (x + CROSS, y + up)], colour, THIN)


def flow_arrow(sheet: Sheet, run: Run, start: Point, end: Point) -> None:
    """The way that the water flows, in the middle of a piece that has room for it; none on what is out of use."""
    long = math.dist(start, end)
    if long <= SHORTEST or run.state == "abandoned":
        return
    size = 20 if long > 4 * RADIUS else 11
    tip = between(start, end, 0.5 + 0.0065 * size / long)
    sheet.arrow(between(start, end, 0.5 - 0.0045 * size / long), tip, ink(run), size, layer=3)


def symbol(sheet: Sheet, entry: Structure | Run | None, place: Point) -> None:
    """The symbol of a structure about its place."""
    if not isinstance(entry, Structure):
        sheet.text(place, "?", 12, CLAY, bold=True, across="center")
        return
    edge = LINE.get(entry.state or "", (INK, "-"))[0]
    kind = entry.kind or "outlet"
    for points, filled in SYMBOLS[kind]:
        fill = (edge if filled else PAPER) if entry.state != "planned" else SOIL
        sheet.shape([(place[0] + x * RADIUS, place[1] + y * RADIUS) for x, y in points], fill, edge)
    if entry.state == "abandoned":
        for up in (RADIUS, -RADIUS):
            ends = (place[0] - RADIUS, place[1] - up), (place[0] + RADIUS, place[1] + up)
            sheet.line(ends, edge, THIN, layer=5)


def ring(radius: float, sides: int = 40, turn: float = 0.0) -> list[Point]:
    """A polygon about (0, 0) that looks round."""
    angles = [turn + 2 * math.pi * step / sides for step in range(sides)]
    return [(radius * math.cos(angle), radius * math.sin(angle)) for angle in angles]


def _box(wide: float, tall: float) -> list[Point]:
    return [(-wide, -tall), (wide, -tall), (wide, tall), (-wide, tall)]


SYMBOLS: dict[str, list[tuple[list[Point], bool]]] = {
    "channel_drain": [(_box(1.15, 0.42), False), *(([(x, -0.42), (x, 0.42)], True) for x in (-0.6, -0.2, 0.2, 0.6))],
    "catch_basin": [(_box(0.9, 0.9), False), (_box(0.5, 0.5), True)],
    "area_drain": [(ring(0.85), False), (ring(0.4), True)],
    "downspout": [([(-0.9, 0.8), (0.9, 0.8), (0, -0.9)], False)],
    "cleanout": [(ring(0.7), False), ([(-0.45, 0), (0.45, 0)], True), ([(0, -0.45), (0, 0.45)], True)],
    "junction_box": [(_box(0.9, 0.9), False), ([(-0.9, -0.9), (0.9, 0.9)], True), ([(-0.9, 0.9), (0.9, -0.9)], True)],
    "dry_well": [(ring(1.0), False), (ring(0.62), False), (ring(0.25), True)],
    "popup_outlet": [(ring(0.95), False), ([(-0.5, -0.3), (0.5, -0.3), (0, 0.6)], True)],
    "daylight_outlet": [([(-0.9, 0.75), (0.35, 0.75), (1.0, 0), (0.35, -0.75), (-0.9, -0.75)], True)],
    "curb_outlet": [(_box(1.0, 0.6), False), ([(-1.0, 0.1), (1.0, 0.1), (1.0, 0.6), (-1.0, 0.6)], True)],
    "outlet": [(ring(0.9, 4), False)],
}
"""Each kind's shapes, about its place, in units of the symbol's radius; True fills with the line's colour."""


def name_structures(facts: Facts, labels: Labels, at: Mapping[str, Point]) -> list[Mark]:
    """Writes beside each structure its label, size and state; the marks that these bear."""
    found = []
    named = {end for run in facts.record.runs for end in (run.from_, run.to)} | {
        s.label for s in facts.record.structures
    }
    for label, place in at.items():
        entry = facts.record.subject(label)
        text = words.place(label, facts.language) if label in named else told("plan", "no_end", facts.language)
        if isinstance(entry, Structure) and entry.size_in and len(at) <= BRIEF:
            marks = facts.marks(label, "size_in")
            text += f"\n{marked(words.size(entry, facts.language), marks)}"
            found += marks
        if isinstance(entry, Structure) and (state := words.standing(entry, facts.language)):
            text += f"\n{state}"
        labels.place(text, [place], 7.8, INK, RADIUS + 0.09)
    return found


def _describe(facts: Facts, labels: Labels, runs: list[Run], spans: dict[str, tuple[Point, Point]]) -> list[Mark]:
    found = []
    for run in runs:
        start, end = spans[run.label]
        text, marks = run_text(facts, run, brief=len(runs) > BRIEF)
        if state := words.standing(run, facts.language):
            text += f"\n{state}"
        along = [between(start, end, share) for share in (0.5, 0.4, 0.6, 0.3, 0.7)]
        labels.place(text, along, SMALLEST, ink(run), 0.13)
        found += marks
    return found


def ink(run: Run) -> str:
    return LINE.get(run.state or "", (INK, ""))[0]


def run_text(facts: Facts, run: Run, *, brief: bool) -> tuple[str, list[Mark]]:
    """What stands beside a run: its label, pipe, length and fall, or in `brief` its label and length."""
    length = facts.marks(run.label, "length_ft")
    size = facts.marks(run.label, "nominal_in", "pipe")
    language = facts.language
    long = words.short_length(run.length_ft, language) if words.known(run.length_ft) else form("no_length", language)
    measured = marked(long, length)
    if brief:
        return f"{run.label}, {measured}", length
    slope, text = facts.slopes.get(run.label), [f"{run.label}  {marked(words.pipe(run, language), size)}", measured]
    if slope is None or not words.known(slope.slope_pct):
        return "\n".join(text), length + size
    fall = facts.slope_marks(run)
    text[1] += f", {marked(words.fall(slope.slope_pct, language), fall)}"
    return "\n".join(text), length + size + fall


@dataclass(frozen=True)
class Key:
    """One entry of a legend: its words, and what draws each of its samples at a place."""

    text: str
    samples: Sequence[Callable[[Sheet, Point], None]]

    @cached_property
    def wide(self) -> float:
        """Inches, with the gap to the next."""
        return SAMPLE * len(self.samples) + Sheet(WIDTH, 1).measure(self.text, SMALLEST)[0] + 0.26


def keys(facts: Facts) -> list[Key]:
    """The symbols and lines that the plan uses, each as it is drawn there."""
    language = facts.language
    drawn = [each for each in words.things(facts.record) if each.state != "removed"]
    structures = [each for each in drawn if isinstance(each, Structure)]
    found = []
    for kind in dict.fromkeys(each.kind or "outlet" for each in structures):
        like = [each for each in structures if (each.kind or "outlet") == kind]
        like.sort(key=lambda each: each.state != "installed")
        found.append(Key(sentence(plain("structure", kind, language)), [_sample(like[0])]))
    for state in dict.fromkeys(each.state for each in drawn):
        text = sentence(plain("state", state, language) if state else form("no_state", language))
        found.append(Key(text, _samples([each for each in drawn if each.state == state])))
    return found


def _samples(alike: Sequence[Structure | Run]) -> list[Callable[[Sheet, Point], None]]:
    """Of things in one state what shows how they are drawn: a run, and a structure where its look is not that of what
    was put in, which its kind is shown in."""
    runs = [each for each in alike if isinstance(each, Run)]
    structures = [each for each in alike if isinstance(each, Structure)]
    return [*map(_sample, runs[:1]), *map(_sample, structures[: not runs or alike[0].state != "installed"])]


def _sample(entry: Structure | Run) -> Callable[[Sheet, Point], None]:
    if isinstance(entry, Structure):
        return lambda sheet, at: symbol(sheet, entry, (at[0] + 0.15, at[1]))
    return lambda sheet, at: stroke(sheet, entry.state, [at, (at[0] + 0.3, at[1])])


def rows_of(found: Sequence[Key]) -> list[list[Key]]:
    """The entries of a legend in as many rows as they take."""
    rows: list[list[Key]] = [[]]
    for key in found:
        if rows[-1] and sum(each.wide for each in rows[-1]) + key.wide > WIDTH - 0.4:
            rows.append([])
        rows[-1].append(key)
    return rows


def foot_of(rows: Sequence[Sequence[Key]]) -> float:
    """The height of the strip that a legend takes, inches."""
    return 0.4 + LAST_ROW + ROW * (len(rows) - 1)


def legend(sheet: Sheet, rows: Sequence[Sequence[Key]]) -> None:
    """The rows of a legend along the foot of the sheet."""
    foot = foot_of(rows)
    sheet.line([(0.2, foot - 0.18), (WIDTH - 0.2, foot - 0.18)], PALE, 0.8)
    for number, row in enumerate(rows):
        x, y = 0.25, foot - 0.4 - ROW * number
        for key in row:
            for place, sample in enumerate(key.samples):
                sample(sheet, (x + SAMPLE * place, y))
            sheet.text((x + SAMPLE * len(key.samples), y), key.text, SMALLEST)
            x += key.wide


def entitle(sheet: Sheet, head: str, language: Language) -> None:
    """The title of a plan, and behind it how to read it."""
    y, title = sheet.height - 0.22, told("plan", "title", language)
    sheet.text((0.2, y), title, 11, WATER, bold=True)
    sheet.text((0.35 + sheet.measure(title, 11, bold=True)[0], y), head, 7.8, GREY)


def north_arrow(sheet: Sheet, middle: Point, turned_deg: float) -> None:
    """An arrow to north, `turned_deg` clockwise from up the sheet."""
    way = math.sin(math.radians(turned_deg)), math.cos(math.radians(turned_deg))
    foot, head = ((middle[0] + way[0] * by, middle[1] + way[1] * by) for by in (-0.21, 0.27))
    sheet.line([foot, between(foot, head, 0.85)], MOSS, 1.4)
    sheet.arrow(middle, head, MOSS, 12)
    sheet.text((middle[0] - 0.12 - 0.08 * abs(way[0]), middle[1]), "N", 9, MOSS, bold=True, across="right")


def _caption(laid: Layout, language: Language) -> str:
    return told("plan", "placed_by_phone" if laid.north_up else "placed_by_flow", language)


def _alt(facts: Facts, runs: list[Run]) -> str:
    say, unknown = partial(told, "plan", language=facts.language), form("not_recorded", facts.language)
    named = {end: words.place(end, facts.language) for run in runs for end in (run.from_, run.to) if end}
    ways = "; ".join(
        say("way", run=run.label, upper=named.get(run.from_ or "", unknown), lower=named.get(run.to or "", unknown))
        for run in runs
    )
    return say("alt", structures=len(facts.record.structures), runs=len(runs), ways=ways)
