"""Plan and profile as DXF drawings for a drafter, in feet: one drawing unit is one foot, on plan and profile alike.

The plan's axes are those that the tapes were worked out on; the profile has stations along x and elevations along y,
not stretched. Text that bears an open question or check says so, and what is open stands under the drawing; both are on
layers of their own.
"""

from __future__ import annotations

import io
import logging
import math
import os
import re
import textwrap
from collections.abc import Iterable, Sequence
from functools import cache
from types import ModuleType
from typing import TYPE_CHECKING

from platformdirs import user_cache_path

from extract.additions import crossing_words
from extract.places.measures import path_of
from extract.places.solve import Ground
from extract.record import Run, Structure
from reports import words
from reports.canvas import Point
from reports.doubts import FIELDS, Mark
from reports.facts import Facts
from reports.open_questions import open_checks, open_questions, questions_of
from reports.scaled import (
    along,
    crossings_of,
    drawn_points,
    drawn_runs,
    drawn_structures,
    drawn_ties,
    longer_runs,
    run_path,
)
from reports.stations import Leg, Panel, profile

if TYPE_CHECKING:
    from ezdxf.document import Drawing as Document
    from ezdxf.layouts import Modelspace

VERSION = "R2010"
"""Its text is UTF-8, as in each form from R2007 on."""
FEET = 2
"""As `$INSUNITS` of a DXF file counts units. Source: DXF reference, header variables (from memory)."""
CACHES = "XDG_CACHE_HOME"
COLOURS = {
    "RUNS": 5, "STRUCTURES": 7, "FIXED_POINTS": 3, "TAPES": 8, "CROSSINGS": 30, "UNCERTAINTY": 9, "TEXT": 7,
    "GROUND": 94, "OPEN_QUESTIONS": 1, "OPEN_CHECKS": 6,
}  # fmt: skip
"""Layers, and their colours by the index that DXF has."""
SYMBOL_FT = 0.5
"""Half of a structure's symbol; what it really measures stands in its text."""
APART_FT = 20.0
"""Between two profiles."""
FOLD = 100
"""Characters of a line under the drawing."""
DIG = "Crew's own record by tape, no survey; it does not replace the one-call marks."
LAID = ("installed", None)


def plan_dxf(facts: Facts, found: Ground) -> bytes | None:
    """The plan of all that could be placed; None where no structure could."""
    placed = [each for each in drawn_structures(facts) if each.label in found.at]
    if not placed:
        return None
    sheet = _Sheet(_text_height(found.xy(key) for key in found.at))
    for key in drawn_points(found):
        sheet.point(found.xy(key), "FIXED_POINTS")
        sheet.text(found.survey.names[key], found.xy(key), "TEXT")
    for tie in drawn_ties(found):
        start, end = found.xy(tie.one), found.xy(tie.other)
        sheet.line([start, end], "TAPES")
        asked = open_questions(facts, tie.entry, *(("ties",) if isinstance(tie.entry, Structure) else ()))
        sheet.told([(f"{tie.value:.10g} ft", bool(asked), False)], _middle(start, end))
    for structure in placed:
        _structure(sheet, facts, found, structure)
    for run in drawn_runs(facts, found):
        _run(sheet, facts, found, run)
    sheet.title([f"Plan, feet. {DIG}", _north(found), _what(facts)])
    sheet.open("places rest on", questions_of(facts, found), [])
    _open(sheet, facts, [*placed, *drawn_runs(facts, found)])
    return sheet.bytes()


def profile_dxf(facts: Facts) -> bytes | None:
    """Every way whose lengths and falls are known, side by side; None where there is none."""
    panels = profile(facts).panels
    if not panels:
        return None
    sheet = _Sheet(_text_height((leg.end_ft, leg.low_ft) for panel in panels for leg in panel.legs))
    left = 0.0
    for panel in panels:
        _panel(sheet, facts, panel, left)
        left += panel.legs[-1].end_ft + APART_FT
    relative = ["Where no elevation was recorded the lowest invert stands at 0."] * any(not p.on_datum for p in panels)
    sheet.title([f"Profile, feet: stations across, elevations up, not stretched. {DIG}", *relative, _what(facts)])
    labels = [label for panel in panels for label in (*panel.labels, *(leg.run.label for leg in panel.legs))]
    _open(sheet, facts, [entry for label in dict.fromkeys(labels) if (entry := facts.record.subject(label))])
    return sheet.bytes()


# -- plan


def _structure(sheet: _Sheet, facts: Facts, found: Ground, each: Structure) -> None:
    place, ellipse = found.xy(each.label), found.at[each.label].ellipse
    sheet.point(place, "STRUCTURES")
    sheet.space.add_circle(place, SYMBOL_FT, dxfattribs={"layer": "STRUCTURES"})
    sheet.ellipse(place, ellipse.half_long_ft, ellipse.half_short_ft, ellipse.direction_deg)
    state = words.standing(each)
    lines = [
        _line(" ".join(filter(None, [words.thing(each), state])), facts.marks(each.label, "kind", "state", "label")),
        _line(f"size {words.size(each)}", facts.marks(each.label, "size_in")),
    ]
    for name, field in (("rim", "rim_ft"), ("invert in", "invert_in_ft"), ("invert out", "invert_out_ft")):
        if words.known(level := facts.level(each, field)):
            lines.append(_line(f"{name} {words.elevation(level)}", facts.level_marks(each, field)))
    sheet.told(lines, place)


def _run(sheet: _Sheet, facts: Facts, found: Ground, run: Run) -> None:
    path = run_path(run, found.xy)
    sheet.line(path, "RUNS", dashed=run.state not in LAID)
    lines = _of_run(facts, run)
    if path_of(run) is None:
        lines.append(("drawn straight, as its bends were not all told", False, False))
    if run.label in longer_runs(facts, found):
        lines.append(("told as longer than its ends lie apart", False, False))
    sheet.told(lines, along(path, 0.5)[0])
    crossed = bool(facts.doubts.on(run.label, "crossings"))
    for each, (place, way) in crossings_of(run, path):
        sheet.line([(place[0] + by * way[1], place[1] - by * way[0]) for by in (-1.0, 1.0)], "CROSSINGS")
        sheet.told([(crossing_words(each), crossed, False)], place)


def _of_run(facts: Facts, run: Run) -> list[tuple[str, bool, bool]]:
    slope = facts.slopes.get(run.label)
    fall = words.fall(slope.slope_pct if slope else None)
    name = " ".join(filter(None, [run.label, words.pipe(run), words.standing(run)]))
    return [
        _line(name, facts.marks(run.label, "nominal_in", "pipe", "state")),
        _line(words.short_length(run.length_ft), facts.marks(run.label, "length_ft")),
        _line(fall, facts.slope_marks(run)),
    ]


def _line(text: str, marks: Iterable[Mark]) -> tuple[str, bool, bool]:
    """A line of text, and whether it bears an open question, and a check that is open."""
    signs = {mark.sign for mark in marks}
    return text, "†" in signs, "‡" in signs


def _open(sheet: _Sheet, facts: Facts, entries: Iterable[Structure | Run]) -> None:
    """What is open about these, under the drawing."""
    for entry in entries:
        marks = facts.slope_marks(entry) if isinstance(entry, Run) else []
        checks = open_checks(facts, [*marks, *facts.marks(entry.label, *FIELDS)])
        sheet.open(f"{entry.label}:", open_questions(facts, entry), checks)


def _north(found: Ground) -> str:
    if found.north_contradicted:
        return "North not shown, as the bearing and the positions of photos disagree: the axes are the tapes' own."
    if found.north is None:
        return "North not recorded: the axes are the tapes' own."
    way = found.north.way_deg % 360
    if found.north.by == "bearing":
        return f"North by compass, not corrected: {way:.10g} degrees clockwise from y."
    within = math.ceil(found.north.within_deg)
    return f"North by the positions of photos: {way:.0f} degrees clockwise from y, ± {within} degrees 95 times in 100."


def _what(facts: Facts) -> str:
    return f"{facts.job.name}, {facts.job.address}, work of {words.day(facts.job.day)}, {facts.job.company.name}"


# -- profile


def _panel(sheet: _Sheet, facts: Facts, panel: Panel, left: float) -> None:
    stations = [0.0, *(leg.end_ft for leg in panel.legs)]
    rims = [(left + at, rim) for at, rim in zip(stations, panel.rims, strict=True) if words.known(rim)]
    if len(rims) > 1:
        sheet.line(rims, "GROUND", dashed=True)
    for leg in panel.legs:
        _leg(sheet, facts, leg, left)
    for index, (label, at) in enumerate(zip(panel.labels, stations, strict=True)):
        ends = [leg.high_ft for leg in panel.legs[index : index + 1]]
        ends += [leg.low_ft for leg in panel.legs[max(index - 1, 0) : index]]
        rim = panel.rims[index]
        top = rim if words.known(rim) else max(ends)
        if top > min(ends):
            sheet.line([(left + at, min(ends)), (left + at, top)], "STRUCTURES")
        entry = facts.record.subject(label)
        lines = [(label, False, False)]
        if isinstance(entry, Structure):
            lines += _heights(facts, entry)
        sheet.told(lines, (left + at, top), up=True)


def _heights(facts: Facts, each: Structure) -> list[tuple[str, bool, bool]]:
    told = (("rim", "rim_ft"), ("in", "invert_in_ft"), ("out", "invert_out_ft"))
    return [
        _line(f"{name} {words.elevation(level)}", facts.level_marks(each, field))
        for name, field in told
        if words.known(level := facts.level(each, field))
    ]


def _leg(sheet: _Sheet, facts: Facts, leg: Leg, left: float) -> None:
    bore = leg.run.nominal_in / 12 if words.known(leg.run.nominal_in) else 0.0
    for lift in {0.0, bore}:
        ends = [(left + leg.start_ft, leg.high_ft + lift), (left + leg.end_ft, leg.low_ft + lift)]
        sheet.line(ends, "RUNS", dashed=leg.run.state not in LAID)
    lines = _of_run(facts, leg.run)
    if leg.assumed:
        lines.append(("ends worked out from drop or slope", False, False))
    middle = left + (leg.start_ft + leg.end_ft) / 2, (leg.high_ft + leg.low_ft) / 2 - sheet.height
    sheet.told(lines, middle)


# -- the file


def _middle(one: Point, other: Point) -> Point:
    return (one[0] + other[0]) / 2, (one[1] + other[1]) / 2


def _text_height(places: Iterable[Point]) -> float:
    """Small beside what is drawn, within what one reads. [ft]"""
    each = list(places)
    reach: float = max(max(axis) - min(axis) for axis in zip(*each, strict=True))
    return min(max(reach / 140, 0.2), 2.0)


class _Sheet:
    """A drawing, and where its next title goes."""

    def __init__(self, height: float) -> None:
        self.document, self.height = _document(), height
        self.space: Modelspace = self.document.modelspace()
        self.low, self.left = math.inf, math.inf

    def line(self, path: Sequence[Point], layer: str, *, dashed: bool = False) -> None:
        self._reach(path)
        more = {"linetype": "DASHED"} if dashed else {}
        self.space.add_lwpolyline(path, dxfattribs={"layer": layer, **more})

    def point(self, place: Point, layer: str) -> None:
        self._reach([place])
        self.space.add_point(place, dxfattribs={"layer": layer})

    def ellipse(self, place: Point, long: float, short: float, direction_deg: float) -> None:
        """Within it the structure lies 95 times in 100; the direction is clockwise from y."""
        if not math.isfinite(long) or long <= 0:
            return
        turn = math.radians(direction_deg)
        axis = long * math.sin(turn), long * math.cos(turn)
        ratio = min(max(short / long, 1e-6), 1.0)
        self.space.add_ellipse(place, axis, ratio, dxfattribs={"layer": "UNCERTAINTY"})

    def told(self, lines: Sequence[tuple[str, bool, bool]], place: Point, *, up: bool = False) -> None:
        """Lines of text beside a place."""
        lift = (len(lines) + 1) * 1.5 * self.height if up else 0.0
        for row, (text, asked, disputed) in enumerate(lines):
            layer = "OPEN_QUESTIONS" if asked else "OPEN_CHECKS" if disputed else "TEXT"
            at = (place[0], place[1] + lift - row * 1.5 * self.height)
            self.text(text + " (open question)" * asked + " (open check)" * disputed, at, layer)

    def text(self, text: str, place: Point, layer: str) -> None:
        """One line, a little to the right of a place."""
        at = place[0] + SYMBOL_FT + 0.5 * self.height, place[1]
        self._reach([place])
        self.space.add_text(_plain(text), height=self.height, dxfattribs={"layer": layer, "insert": at})

    def title(self, lines: Iterable[str], layer: str = "TEXT") -> None:
        """Lines under all that is drawn."""
        left, low = self.left, self.low - 4 * self.height
        for row, text in enumerate(lines):
            self.text(text, (left, low - row * 2 * self.height), layer)

    def open(self, of: str, questions: Iterable[str], checks: Iterable[str]) -> None:
        """What is open about something, folded, under the title."""
        for lines, layer, name in ((questions, "OPEN_QUESTIONS", "question"), (checks, "OPEN_CHECKS", "check")):
            for each in lines:
                self.title(textwrap.wrap(f"{of} open {name}: {words.clean(each)}", FOLD), layer)

    def bytes(self) -> bytes:
        out = io.StringIO()
        self.document.write(out)
        return out.getvalue().encode("utf-8")

    def _reach(self, places: Iterable[Point]) -> None:
        for x, y in places:
            self.left, self.low = min(self.left, x), min(self.low, y)


def _plain(text: str) -> str:
    """One line in which a drawing program finds no codes of its own: `%%` and `^` begin them."""
    return re.sub("%(?=%)", "% ", words.clean(text)).replace("^", "^ ")


def _document() -> Document:
    ezdxf = _ezdxf()
    ezdxf.options.write_fixed_meta_data_for_testing = True  # no clock and no random IDs: the same job, the same bytes
    document: Document = ezdxf.new(VERSION, setup=["linetypes"], units=FEET)
    for name, colour in COLOURS.items():
        document.layers.add(name, color=colour)
    return document


@cache
def _ezdxf() -> ModuleType:
    """The library, which is slow to load. As it is loaded it keeps a list of the machine's fonts: in the program's own
    cache, as the charts do, and without a word where that cannot be written."""
    logging.getLogger("ezdxf").setLevel(logging.ERROR)
    before = os.environ.get(CACHES)
    os.environ[CACHES] = str(user_cache_path("fallbook"))
    try:
        import ezdxf
    finally:
        os.environ.pop(CACHES)
        if before is not None:
            os.environ[CACHES] = before
    return ezdxf
