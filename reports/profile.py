"""The profile: pipe, inverts and rims along each way to the outlet, drawn from the record's own numbers."""

from __future__ import annotations

import math

from extract.record import Run, Structure
from reports import words
from reports.canvas import CLAY, GREY, INK, MOSS, PALE, SMALLEST, SOIL, WATER, Drawing, Point, Sheet, spread
from reports.doubts import Mark, marked, unique
from reports.facts import Facts
from reports.stations import Leg, Panel, Profile, profile

WIDTH, TALL, TOP = 9.2, 2.65, 0.4
ALONE = 3.9
"""Height of a row of panels, and of a row that has its sheet to itself, inches."""
LEFT, RIGHT, HEAD, BASE = 0.75, 0.45, 0.95, 0.85
"""Margins of one panel, inches: elevations at the left, structures above, runs below."""
ROWS = 2

Row = list[Panel]


def profiles(facts: Facts) -> list[Drawing]:
    """One drawing for every two rows of ways; none where no run can be drawn."""
    found = profile(facts)
    rows = _rows(found.panels)
    sheets = [rows[start : start + ROWS] for start in range(0, len(rows), ROWS)]
    return [_drawing(facts, found, sheet, number, len(sheets)) for number, sheet in enumerate(sheets, 1)]


def undrawn(found: Profile) -> str:
    """`Not drawn: R-3 (no length recorded).`, or nothing."""
    runs = ", ".join(f"{run.label} ({reason})" for run, reason in found.undrawn)
    return f" Not drawn: {runs}." if runs else ""


def _rows(panels: list[Panel]) -> list[Row]:
    """A way of several runs takes a row; ways of one run stand in pairs."""
    rows: list[Row] = []
    for panel in panels:
        if len(panel.legs) == 1 and rows and len(rows[-1]) == 1 and len(rows[-1][0].legs) == 1:
            rows[-1].append(panel)
        else:
            rows.append([panel])
    return rows


def _drawing(facts: Facts, found: Profile, rows: list[Row], number: int, count: int) -> Drawing:
    panels = [panel for row in rows for panel in row]
    ways = "; ".join(f"{panel.labels[0]} to {panel.labels[-1]}" for panel in panels)
    page = f" (sheet {number} of {count})" if count > 1 else ""
    rest = undrawn(found) if number == count else ""
    sheet, marks = _sheet(facts, rows)
    return Drawing(
        "profile" if number == 1 else f"profile-{number}",
        sheet,
        f"Profile{page}: {ways}. Stations are feet along the pipe from the upper end. {_datum(panels)}{rest}",
        f"Profile of the pipe: {'; '.join(_told(panel) for panel in panels)}.",
        marks,
    )


def _sheet(facts: Facts, rows: list[Row]) -> tuple[Sheet, list[Mark]]:
    tall = TALL if len(rows) > 1 else ALONE
    sheet = Sheet(WIDTH, TOP + tall * len(rows))
    title = "Heights are stretched to be seen; (w) a level worked out from drop or slope."
    sheet.text((0.2, sheet.height - 0.2), "Profile", 11, WATER, bold=True)
    sheet.text((1.0, sheet.height - 0.2), title, 7.8, GREY)
    marks: list[Mark] = []
    for index, row in enumerate(rows):
        base, wide = sheet.height - TOP - tall * (index + 1), WIDTH / len(row)
        for place, panel in enumerate(row):
            marks += _View(sheet, facts, panel, (place * wide, base), (wide, tall)).draw()
    return sheet, unique(marks)


def _datum(panels: list[Panel]) -> str:
    if all(panel.on_datum for panel in panels):
        return "Elevations are on the job's own datum."
    return (
        "Where no elevations were recorded the lowest invert stands at 0.00, "
        "and falls inside the structures are not known."
    )


def _told(panel: Panel) -> str:
    return ", then ".join(f"{leg.run.label} from {leg.run.from_} to {leg.run.to}" for leg in panel.legs)


class _View:
    """One panel on a sheet, its left lower corner at `corner` and of that `size`, inches."""

    def __init__(self, sheet: Sheet, facts: Facts, panel: Panel, corner: Point, size: Point) -> None:
        self.sheet, self.facts, self.panel = sheet, facts, panel
        self.left, self.right = corner[0], corner[0] + size[0]
        self.low_in, self.high_in = corner[1] + BASE, corner[1] + size[1] - HEAD
        inverts = [(level, level + _bore(leg)) for leg in panel.legs for level in (leg.high_ft, leg.low_ft)]
        levels = [level for pair in inverts for level in pair] + [rim for rim in panel.rims if rim is not None]
        self.step = _step(max(levels) - min(levels))
        self.bottom = math.floor(min(levels) / self.step + 1e-6) * self.step
        self.top = max(math.ceil(max(levels) / self.step - 1e-6) * self.step, self.bottom + self.step)
        self.length = max(panel.legs[-1].end_ft, 1e-6)

    def draw(self) -> list[Mark]:
        self._grid()
        self._ground()
        for leg in self.panel.legs:
            self._pipe(leg)
        return self._structures() + self._runs()

    def at(self, station: float, level: float) -> Point:
        room = self.right - self.left - LEFT - RIGHT - 0.5
        across = self.left + LEFT + 0.25 + station / self.length * room
        return across, self.low_in + (level - self.bottom) / (self.top - self.bottom) * (self.high_in - self.low_in)

    def _grid(self) -> None:
        count = round((self.top - self.bottom) / self.step)
        for index in range(count + 1):
            level = self.bottom + index * self.step
            y = self.at(0, level)[1]
            self.sheet.line([(self.left + LEFT, y), (self.right - RIGHT, y)], PALE, 0.6, layer=1)
            self.sheet.text(
                (self.left + LEFT - 0.06, y), f"{level:.{1 if self.step < 1 else 0}f}", SMALLEST, GREY, across="right"
            )
        name = "elevation, ft" if self.panel.on_datum else "relative, ft"
        self.sheet.text((self.left + 0.12, self.high_in + 0.16), name, SMALLEST, GREY)

    def _ground(self) -> None:
        rims = zip(self._stations(), self.panel.rims, strict=True)
        known = [self.at(station, rim) for station, rim in rims if rim is not None]
        if len(known) > 1:
            self.sheet.line(known, MOSS, 0.9, ":", layer=2)
            self.sheet.text((known[-1][0] + 0.12, known[-1][1]), "rims", SMALLEST, MOSS)

    def _pipe(self, leg: Leg) -> None:
        bore = _bore(leg)
        (x0, y0), (x1, y1) = self.at(leg.start_ft, leg.high_ft), self.at(leg.end_ft, leg.low_ft)
        lift = self.at(0, bore)[1] - self.at(0, 0)[1]
        colour = CLAY if leg.run.state == "existing" else WATER
        self.sheet.shape([(x0, y0), (x1, y1), (x1, y1 + lift), (x0, y0 + lift)], SOIL, "none", 0, layer=2)
        if bore:
            self.sheet.line([(x0, y0 + lift), (x1, y1 + lift)], colour, 0.8)
        self.sheet.line([(x0, y0), (x1, y1)], colour, 1.8)

    def _stations(self) -> list[float]:
        return [0.0, *(leg.end_ft for leg in self.panel.legs)]

    def _structures(self) -> list[Mark]:
        blocks = [self._structure_text(index) for index in range(len(self.panel.labels))]
        stations = [self.at(station, self.bottom)[0] for station in self._stations()]
        sizes = [self.sheet.measure(text, SMALLEST)[0] + 0.14 for text, _ in blocks]
        places = spread(stations, sizes, self.left + 0.1, self.right - 0.1)
        for index, ((text, _), place) in enumerate(zip(blocks, places, strict=True)):
            self._post(index, stations[index])
            self.sheet.line([(stations[index], self.high_in + 0.05), (place, self.high_in + 0.22)], GREY, 0.6)
            self.sheet.text((place, self.high_in + 0.25), text, SMALLEST, across="center", up="bottom")
        return [mark for _, marks in blocks for mark in marks]

    def _post(self, index: int, across: float) -> None:
        levels = [leg.high_ft for leg in self.panel.legs[index : index + 1]]
        levels += [leg.low_ft for leg in self.panel.legs[max(index - 1, 0) : index]]
        rim = self.panel.rims[index]
        low = self.at(0, min(levels))[1]
        high = self.at(0, rim)[1] if rim is not None else self.high_in
        self.sheet.line(
            [(across, low), (across, high)], INK, 1.6 if rim is not None else 0.8, "-" if rim is not None else ":"
        )
        if rim is not None:
            self.sheet.line([(across - 0.09, high), (across + 0.09, high)], INK, 1.6)
        self.sheet.line([(across, high), (across, self.high_in + 0.05)], GREY, 0.5, ":")

    def _structure_text(self, index: int) -> tuple[str, list[Mark]]:
        label = self.panel.labels[index]
        before = [leg.run.label for leg in self.panel.legs[:index]]
        found = [mark for run in before for mark in self.facts.marks(run, "length_ft")]
        lines = [f"{label}  at {marked(words.short_length(self._stations()[index]), found)}"]
        entry = self.facts.record.subject(label)
        for name, level, field in self._levels(index):
            own = isinstance(entry, Structure) and self.panel.on_datum and words.known(self.facts.level(entry, field))
            marks = self._level_marks(index, entry, field, own=own)
            lines.append(marked(f"{name} {level:.2f}{'' if own else ' (w)'}", marks))
            found += marks
        return "\n".join(lines), found

    def _level_marks(self, index: int, entry: Structure | Run | None, field: str, *, own: bool) -> list[Mark]:
        if own and isinstance(entry, Structure):
            return self.facts.level_marks(entry, field)
        found = self._worked_out_marks(index)
        depth = self.facts.marks(entry.label, "invert_depth_in") if entry and field == "rim_ft" else []
        return [*found, *depth]

    def _worked_out_marks(self, index: int) -> list[Mark]:
        """Those of what a level worked out along the pipe can hang on: both ways, the falls up to a height that was
        levelled, and that height."""
        last = len(self.panel.legs)
        down = next((i for i in range(index + 1, last + 1) if self._levelled(i, "invert_in_ft")), last)
        up = next((i for i in range(index - 1, -1, -1) if self._levelled(i, "invert_out_ft")), 0)
        found = [mark for leg in self.panel.legs[up:down] for mark in self.facts.slope_marks(leg.run)]
        for at, field in ((down, "invert_in_ft"), (up, "invert_out_ft")):
            entry = self._levelled(at, field)
            found += self.facts.level_marks(entry, field) if entry else []
        return found

    def _levelled(self, index: int, field: str) -> Structure | None:
        entry = self.facts.record.subject(self.panel.labels[index])
        return entry if isinstance(entry, Structure) and words.known(self.facts.level(entry, field)) else None

    def _levels(self, index: int) -> list[tuple[str, float, str]]:
        found = []
        rim = self.panel.rims[index]
        if rim is not None:
            found.append(("rim", rim, "rim_ft"))
        if index:
            found.append(("in", self.panel.legs[index - 1].low_ft, "invert_in_ft"))
        if index < len(self.panel.legs):
            found.append(("out", self.panel.legs[index].high_ft, "invert_out_ft"))
        return found

    def _runs(self) -> list[Mark]:
        blocks = [self._run_text(leg) for leg in self.panel.legs]
        middles = [self.at((leg.start_ft + leg.end_ft) / 2, (leg.high_ft + leg.low_ft) / 2) for leg in self.panel.legs]
        sizes = [self.sheet.measure(text, SMALLEST)[0] + 0.14 for text, _ in blocks]
        places = spread([middle[0] for middle in middles], sizes, self.left + 0.1, self.right - 0.1)
        y = self.low_in - 0.25
        for (text, _), middle, place in zip(blocks, middles, places, strict=True):
            self.sheet.line(
                [(middle[0], middle[1] - 0.02), (middle[0], self.low_in - 0.1), (place, y + 0.04)], PALE, 0.7, layer=1
            )
            self.sheet.text((place, y), text, SMALLEST, WATER, across="center", up="top")
        return [mark for _, marks in blocks for mark in marks]

    def _run_text(self, leg: Leg) -> tuple[str, list[Mark]]:
        run, slope = leg.run, self.facts.slopes[leg.run.label]
        length, size = self.facts.marks(run.label, "length_ft"), self.facts.marks(run.label, "nominal_in", "pipe")
        fall = self.facts.slope_marks(run)
        name = ", ".join(filter(None, [run.label, words.standing(run)]))
        lines = [name, marked(words.short_length(run.length_ft), length), marked(words.pipe(run), size)]
        lines.append(marked(words.fall(slope.slope_pct), fall))
        return "\n".join(lines), length + size + fall


def _bore(leg: Leg) -> float:
    # Of a pipe whose size nobody said only the invert is drawn.
    return leg.run.nominal_in / 12 if words.known(leg.run.nominal_in) else 0.0


def _step(span: float) -> float:
    """A round spacing for three to seven lines over a span. [ft]"""
    steps = (0.1, 0.2, 0.5, 1, 2, 5, 10, 20, 50, 100, 200, 500, 1000)
    return next((step for step in steps if span / step <= 5), 10.0 ** math.ceil(math.log10(span)))
