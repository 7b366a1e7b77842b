"""The plan to scale, where tapes and run lengths tell where things lie.

Drafting conventions, from memory: north arrow and a bar of scale on every plan, new work heavy and what was there
before thin (US National CAD Standard); dimension lines thin, with an arrow head at each end and the figure on them
(ASME Y14.5); control points as triangles (common practice).
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import partial

from extract.check.policy import load_policy
from extract.places.gps import Position
from extract.places.lengths import told_longer
from extract.places.measures import Measure, long_of, path_of, survey_of
from extract.places.solve import Ground, ground_of
from extract.record import Crossing, Language, Run, Structure
from reports import words
from reports.canvas import CLAY, GREY, INK, SMALLEST, Area, Drawing, Labels, Point, Sheet, between
from reports.doubts import Mark, marked, unique
from reports.facts import Facts
from reports.plan import (
    BRIEF,
    LAST_ROW,
    RADIUS,
    SIDE,
    TOP,
    WIDTH,
    Key,
    entitle,
    flow_arrow,
    foot_of,
    ink,
    keys,
    legend,
    name_structures,
    north_arrow,
    ring,
    rows_of,
    run_text,
    stroke,
    symbol,
)
from reports.words import feet, joined, told

TALLEST = 4.2
"""Of what is drawn, inches: with title and legend it fills the page that the drawings stand on."""
AROUND = 0.9
"""Over and under what is drawn, together, for its names, inches."""
BAR, BAR_TAKES = 0.45, 3.0
"""Inches: the strip of the bar of scale over the legend, and the room beside the legend's last row that spares it."""
BARS_FT = (1, 2, 4, 10, 20, 40, 100, 200, 400)
"""Lengths of the bar; each can be halved twice and read."""
LONGEST_BAR = 2.2
THIN = 0.008
"""Half the width of a tape's line where names look for room, inches: they may break it, if they must."""
MOST_TIES = 24
"""With more ties than this they stand in the table alone."""
LEAST_WIDE_FT = 10.0
SHARES = tuple(sorted((each / 40 for each in range(6, 35)), key=lambda each: abs(each - 0.5)))
"""Of a tape, where its figure may stand: the nearer to the middle the better."""


@dataclass(frozen=True)
class _View:
    """Feet to inches on the sheet: turned a quarter where the yard is taller than wide."""

    ground: Ground
    scale: float
    left: float
    low: float
    turned: bool
    height: float

    def at(self, place: Point) -> Point:
        x, y = _turn(place) if self.turned else place
        return self.left + x * self.scale, self.low + y * self.scale

    def of(self, key: str) -> Point:
        return self.at(self.ground.xy(key))


def ground_under(facts: Facts) -> Ground:
    """Where everything recorded lies, as far as tapes and run lengths tell, and what the positions of photos add."""
    policy = load_policy(facts.closeout.job.company.policy)
    positions = [
        Position(each.number, each.about, each.lat, each.lon, each.gps_error_m)
        for each in facts.closeout.photos
        if each.about is not None and each.lat is not None and each.lon is not None
    ]
    return ground_of(survey_of(facts.record, policy), policy, positions)


def to_scale(facts: Facts, found: Ground, tallest: float = TALLEST) -> Drawing | None:
    """The plan to scale of all that could be placed; None where no structure could."""
    placed = placed_of(facts, found)
    if not placed:
        return None
    ties = drawn_ties(found)
    rows = rows_of([*keys(facts), *_keys(facts, bool(ties))])
    foot = foot_of(rows) + (0 if _bar_beside(rows) else BAR)
    view = _view(found, placed, foot, tallest)
    sheet = Sheet(WIDTH, view.height)
    labels = Labels(sheet, Area(0.08, foot - 0.1, WIDTH - 0.08, view.height - 0.1), backed=True)
    labels.block(Area(0, view.height - 0.34, WIDTH, view.height), Area(0, 0, WIDTH, foot - 0.05))
    paths = {run.label: run_path(run, view.of) for run in drawn_runs(facts, found)}
    _lines(sheet, facts, view, paths, ties, labels)
    at = {label: view.of(label) for label in placed}
    _symbols(sheet, facts, view, at, labels)
    marks = _write_ties(facts, view, ties, labels) + name_structures(facts, labels, at)
    for key in drawn_points(found):
        labels.place(called(facts, found, key), [view.of(key)], SMALLEST, INK, 0.16)
    marks += _write_runs(sheet, facts, paths, labels)
    _frame(sheet, facts, view, rows)
    return Drawing("plan", sheet, _caption(facts, found), _alt(facts, found), unique(marks))


def whole(facts: Facts, found: Ground) -> bool:
    """Whether every structure, and both ends of every run, could be placed."""
    labels = {each.label for each in drawn_structures(facts)}
    ends = {end for run in facts.record.runs if run.state != "removed" for end in (run.from_, run.to)}
    return labels | ends <= set(found.at)


# -- what is drawn, and where


def drawn_structures(facts: Facts) -> list[Structure]:
    return [each for each in facts.record.structures if each.state != "removed"]


def placed_of(facts: Facts, found: Ground) -> list[str]:
    """The labels of the structures that could be placed; with none there is no plan to scale."""
    return [each.label for each in drawn_structures(facts) if each.label in found.at]


def drawn_runs(facts: Facts, found: Ground) -> list[Run]:
    return [run for run in facts.record.runs if run.state != "removed" and run.from_ in found.at and run.to in found.at]


def longer_runs(facts: Facts, found: Ground) -> list[str]:
    """Labels of the runs drawn whose length told is more than the distance between their ends can be."""
    longer = told_longer(found, load_policy(facts.closeout.job.company.policy))
    return [run.label for run in drawn_runs(facts, found) if any(each.entry is run for each in longer)]


def drawn_ties(found: Ground) -> list[Measure]:
    """The tapes that hold what is placed, without those left out."""
    gone = [each for each, _ in found.left_out] + [each for doubt in found.branch.dropped for each, _ in doubt.out]
    kept = [
        each
        for each in found.survey.measures
        if each.kind == "tape" and {each.one, each.other} <= set(found.at) and not any(each is one for one in gone)
    ]
    return kept if len(kept) <= MOST_TIES else []


def _view(found: Ground, placed: list[str], foot: float, tallest: float) -> _View:
    """The scale at which all of it fits the sheet, over a strip at its foot."""
    keys = {*placed, *(each for each in found.survey.points if each in found.at)}
    places = [found.xy(key) for key in keys]
    wide, tall = _reach(places)
    turned = tall > wide
    places = [_turn(place) for place in places] if turned else places
    wide, tall = (max(each, LEAST_WIDE_FT) for each in _reach(places))
    scale = min((WIDTH - 2.4 * SIDE) / wide, (tallest - 0.9) / tall)
    height = tall * scale + foot + TOP + AROUND
    middle_x, middle_y = (_middle(place[axis] for place in places) for axis in (0, 1))
    low = (foot + height - TOP) / 2 - middle_y * scale
    return _View(found, scale, WIDTH / 2 - middle_x * scale, low, turned, height)


def _reach(places: list[Point]) -> Point:
    across, up = [place[0] for place in places], [place[1] for place in places]
    return max(across) - min(across), max(up) - min(up)


def _middle(values: Iterable[float]) -> float:
    each = list(values)
    return (min(each) + max(each)) / 2


def _turn(place: Point) -> Point:
    """A quarter clockwise."""
    return place[1], -place[0]


def run_path(run: Run, of: Callable[[str], Point]) -> list[Point]:
    """The run between its ends, by its bends where these are known; they are stretched to where the ends lie, `of` a
    label."""
    start, end = of(str(run.from_)), of(str(run.to))
    path = path_of(run)
    if path is None or math.dist(path[0], path[-1]) < 0.01:
        return [start, end]
    shape, way = complex(*path[-1]), complex(end[0] - start[0], end[1] - start[1])
    spots = [complex(*start) + complex(*place) / shape * way for place in path]
    return [(spot.real, spot.imag) for spot in spots]


def along(path: list[Point], share: float) -> tuple[Point, Point]:
    """The point at that share of a path, and the way that it goes there, of length one."""
    left = share * sum(math.dist(one, other) for one, other in zip(path, path[1:], strict=False))
    for start, end in zip(path, path[1:], strict=False):
        long = math.dist(start, end)
        if left <= long or end is path[-1]:
            way = ((end[0] - start[0]) / long, (end[1] - start[1]) / long) if long else (1.0, 0.0)
            return between(start, end, min(left / long, 1.0) if long else 0.0), way
        left -= long
    return path[0], (1.0, 0.0)


# -- lines and symbols


def _lines(
    sheet: Sheet, facts: Facts, view: _View, paths: Mapping[str, list[Point]], ties: list[Measure], labels: Labels
) -> None:
    for tie in ties:
        start, end = view.of(tie.one), view.of(tie.other)
        sheet.line([start, end], GREY, 0.5, layer=1)
        for tip, tail in ((end, start), (start, end)):
            sheet.arrow(tail, _short(tip, tail, RADIUS), GREY, 5, layer=1)
        labels.block_line(start, end, THIN)
    for label, path in paths.items():
        run = facts.record.subject(label)
        assert isinstance(run, Run)
        stroke(sheet, run.state, path, run.nominal_in)
        flow_arrow(sheet, run, *max(zip(path, path[1:], strict=False), key=lambda leg: math.dist(*leg)))
        for one, other in zip(path, path[1:], strict=False):
            labels.block_line(one, other, firm=True)


def _short(tip: Point, tail: Point, by: float) -> Point:
    long = math.dist(tip, tail)
    return between(tip, tail, by / long) if long > 2 * by else tip


def _symbols(sheet: Sheet, facts: Facts, view: _View, at: Mapping[str, Point], labels: Labels) -> None:
    for label, place in at.items():
        _ellipse(sheet, view, label, place)
        symbol(sheet, facts.record.subject(label), place)
        labels.block(Area(*place, *place).grown(RADIUS + 0.04), firm=True)
    for key in drawn_points(view.ground):
        place = view.of(key)
        fixed_point(sheet, place)
        labels.block(Area(*place, *place).grown(0.13), firm=True)


def drawn_points(found: Ground) -> list[str]:
    return [key for key in found.survey.points if key in found.at]


def fixed_point(sheet: Sheet, place: Point) -> None:
    """A triangle with a dot."""
    sheet.shape([(place[0] + x, place[1] + y) for x, y in ((-0.11, -0.08), (0.11, -0.08), (0, 0.12))], edge=INK)
    sheet.shape([(place[0] + x, place[1] + y) for x, y in ring(0.02, 12)], INK, INK, layer=5)


def _ellipse(sheet: Sheet, view: _View, label: str, place: Point) -> None:
    """Where it lies 95 times in 100, where that reaches beyond its symbol."""
    ellipse = view.ground.at[label].ellipse
    if ellipse.half_long_ft * view.scale <= RADIUS:
        return
    turn = math.radians(ellipse.direction_deg + (90 if view.turned else 0))
    long, short = ellipse.half_long_ft * view.scale, ellipse.half_short_ft * view.scale
    spots = [
        (place[0] + x * long * math.sin(turn) + y * short * math.cos(turn),
         place[1] + x * long * math.cos(turn) - y * short * math.sin(turn))
        for x, y in ring(1.0)
    ]  # fmt: skip
    sheet.line([*spots, spots[0]], GREY, 0.7, ":")


# -- words


def _write_ties(facts: Facts, view: _View, ties: list[Measure], labels: Labels) -> list[Mark]:
    """The figure of each tape on its line, in feet, as the legend says once for all. They come before all names, which
    can stand elsewhere."""
    found: list[Mark] = []
    figures = []
    for tie in ties:
        entry = tie.entry
        marks = facts.marks(entry.label, "ties") if isinstance(entry, Structure) else facts.entry_marks(entry)
        start, end = view.of(tie.one), view.of(tie.other)
        figures.append((marked(f"{tie.value:g}", marks), [between(start, end, share) for share in SHARES]))
        found += marks
    labels.place_on(figures, SMALLEST, GREY)
    return found


def _write_runs(sheet: Sheet, facts: Facts, paths: Mapping[str, list[Point]], labels: Labels) -> list[Mark]:
    found: list[Mark] = []
    for label, path in paths.items():
        run = facts.record.subject(label)
        assert isinstance(run, Run)
        crossed = facts.marks(label, "crossings")
        for each, place in crossings_of(run, path):
            _crossing(sheet, *place, labels)
            labels.place(marked(words.crossing(each, facts.language), crossed), [place[0]], SMALLEST, CLAY, 0.12)
            found += crossed
        text, marks = run_text(facts, run, brief=len(paths) > BRIEF)
        state = words.standing(run, facts.language)
        spots = [along(path, share)[0] for share in (0.5, 0.4, 0.6, 0.3, 0.7)]
        labels.place(f"{text}\n{state}" if state else text, spots, SMALLEST, ink(run), 0.13)
        found += marks
    return found


def crossings_of(run: Run, path: list[Point]) -> Iterator[tuple[Crossing, tuple[Point, Point]]]:
    """Each thing that a run crosses at a place that was told, where that is on its path, and the way that the path goes
    there, of length one."""
    length = long_of(run)
    for each in run.crossings:
        if words.known(each.at_ft) and words.known(length) and 0 <= each.at_ft <= length:
            yield each, along(path, each.at_ft / length)


def _crossing(sheet: Sheet, place: Point, way: Point, labels: Labels) -> None:
    """A short line across the run at a thing that it crosses."""
    start, end = ((place[0] + by * way[1], place[1] - by * way[0]) for by in (-0.22, 0.22))
    sheet.line([start, end], CLAY, 1.6, "-.", layer=4)
    labels.block_line(start, end, 0.04)


def _keys(facts: Facts, tied: bool) -> list[Key]:
    """What the legend has beside the symbols and lines of any plan."""
    say = partial(told, "scaled", language=facts.language)
    found = [Key(say("fixed_point"), [lambda sheet, at: fixed_point(sheet, (at[0] + 0.15, at[1]))])]
    tape = Key(say("taped"), [lambda sheet, at: sheet.line([at, (at[0] + 0.3, at[1])], GREY, 0.5)])
    return [*found, tape] if tied else found


def _frame(sheet: Sheet, facts: Facts, view: _View, rows: list[list[Key]]) -> None:
    """Title, north arrow, bar of scale and legend."""
    say, y = partial(told, "scaled", language=facts.language), sheet.height - 0.22
    entitle(sheet, say("head"), facts.language)
    if (north := view.ground.north) is not None:
        north_arrow(sheet, (WIDTH - 0.4, y - 0.12), north.way_deg + (90 if view.turned else 0))
        if north.by == "photos":
            text = say("north_by_photos", within=f"{math.ceil(north.within_deg)}")
            sheet.text((WIDTH - 0.75, y), text, SMALLEST, GREY, across="right")
    else:
        text = say("two_norths" if view.ground.north_contradicted else "no_north")
        sheet.text((WIDTH - 0.2, y), text, SMALLEST, GREY, across="right")
    _bar(sheet, view.scale, rows, facts.language)
    legend(sheet, rows)


def _bar_beside(rows: Sequence[Sequence[Key]]) -> bool:
    return sum(each.wide for each in rows[-1]) < WIDTH - BAR_TAKES


def _bar(sheet: Sheet, scale: float, rows: Sequence[Sequence[Key]], language: Language) -> None:
    """A bar of scale in four pieces beside the legend's last row, or over the legend where that has no room. It stays
    true however the sheet is printed."""
    long = max((each for each in BARS_FT if each * scale <= LONGEST_BAR), default=BARS_FT[0])
    piece, x, y, over = long * scale / 4, 0.3, foot_of(rows) + 0.02, 0.17
    if _bar_beside(rows):
        x, y, over = WIDTH - 0.45 - 4 * piece, LAST_ROW - 0.02, -0.1
    for number in range(4):
        left = x + number * piece
        corners = [(left, y), (left + piece, y), (left + piece, y + 0.07), (left, y + 0.07)]
        sheet.shape(corners, INK if number % 2 == 0 else "#ffffff", INK, 0.8)
    for share, text in ((0, "0"), (2, f"{long / 2:g}"), (4, feet(f"{long:g}", language))):
        sheet.text((x + share * piece, y + over), text, SMALLEST, across="center")


# -- beside the drawing


def _caption(facts: Facts, found: Ground) -> str:
    reach = max(found.at[each.label].ellipse.half_long_ft for each in drawn_structures(facts) if each.label in found.at)
    worst = math.ceil(reach * 10 - 1e-6) / 10
    sd = load_policy(facts.closeout.job.company.policy)["tape_sd_ft"]
    language, say = facts.language, partial(told, "scaled", language=facts.language)
    lines = [say("caption", reach=feet(f"{worst:g}", language), sd=feet(f"{sd:g}", language))]
    if loose := [run.label for run in drawn_runs(facts, found) if path_of(run) is None]:
        lines.append(words.tallied("scaled", "straight", len(loose), language, runs=joined(loose, language)))
    if drawn := longer_runs(facts, found):
        lines.append(words.tallied("scaled", "longer", len(drawn), language, runs=joined(drawn, language)))
    missing = [each.label for each in drawn_structures(facts) if each.label not in found.at]
    if missing:
        lines.append(say("missing", things=joined(missing, language)))
    return " ".join([*lines, say("no_survey")])


def _alt(facts: Facts, found: Ground) -> str:
    say = partial(told, "scaled", language=facts.language)
    ties = "; ".join(
        say(
            "tie",
            one=called(facts, found, each.one),
            other=called(facts, found, each.other),
            distance=feet(f"{each.value:g}", facts.language),
        )
        for each in drawn_ties(found)
    )
    ways = "; ".join(
        told("plan", "way", facts.language, run=run.label, upper=run.from_, lower=run.to)
        for run in drawn_runs(facts, found)
    )
    return say("alt", ties=ties or say("no_ties"), ways=ways or say("no_ways"))


def called(facts: Facts, found: Ground, key: str) -> str:
    """A structure by its kind and label, a fixed point as the crew calls it."""
    entry = facts.record.subject(key)
    return words.thing(entry, facts.language) if entry else words.own(found.survey.names[key], facts.language)
