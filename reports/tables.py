"""The record and its take-off as tables for a spreadsheet: CSV as RFC 4180 has it, in UTF-8, a line of names first.

Every cell is what the record holds, under the record's own field name with its unit; a cell is empty where nothing was
said. Numbers are bare and text is quoted. The last columns tell what is open about the row.
"""

from __future__ import annotations

import csv
import io
import json
import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field

from extract.crossing_names import UNNAMED
from extract.record import Area, Entry, Run, Structure, Task
from reports.doubts import FIELDS
from reports.facts import Facts
from reports.open_questions import open_checks, open_questions
from reports.takeoff import Line, against, takeoff
from reports.words import HOSTILE, known

Cell = str | float | None
OPEN = ("open_question", "open_check")
"""The last columns of each table."""
FORMULA = re.compile(r"[\s']*[=+\-@\uff1d\uff0b\uff0d\uff20]|[\t\r\n]")
"""How a text begins that a spreadsheet may run as a formula. Source: OWASP, CSV Injection (from memory), and OWASP ASVS
5.0, 1.2.10 (seen), which name = + - @, tab and line breaks; their wide forms, and signs after a space, are our care."""


@dataclass
class Table:
    """One file: its name without the ending, its columns, and its rows, a cell a column."""

    name: str
    columns: tuple[str, ...]
    rows: list[list[Cell]] = field(default_factory=list)

    def add(self, cells: Sequence[Cell], questions: Iterable[str] = (), checks: Iterable[str] = ()) -> None:
        """One more row, and what is open about it."""
        self.rows.append([*cells, "; ".join(questions), "; ".join(checks)])

    def csv(self) -> bytes:
        """The file's bytes."""
        out = io.StringIO()
        writer = csv.writer(out, quoting=csv.QUOTE_NONNUMERIC)
        writer.writerow(self.columns)
        writer.writerows([_written(cell) for cell in row] for row in self.rows)
        return out.getvalue().encode()


def tables(facts: Facts) -> list[Table]:
    """All of them, those without rows too, so that whoever reads them finds the same files for every job."""
    return [
        _structures(facts), _runs(facts), _fittings(facts), _levels(facts), _ties(facts), _crossings(facts),
        _points(facts), _issues(facts), _tests(facts), _questions(facts), _takeoff(facts),
    ]  # fmt: skip


def guarded(text: str) -> str:
    """Text with an apostrophe before it where a spreadsheet might run it."""
    return f"'{text}" if FORMULA.match(text) else text


def _written(cell: Cell) -> Cell:
    if isinstance(cell, str):
        return guarded(HOSTILE.sub("\ufffd", cell))
    if not known(cell):
        return None
    return int(cell) if cell == int(cell) else cell


def _named(name: str, columns: str) -> Table:
    return Table(name, (*columns.split(), *OPEN))


def _structures(facts: Facts) -> Table:
    found = _named(
        "structures",
        "label kind state size_in length_ft rim_ft invert_in_ft invert_out_ft invert_depth_in areas traffic notes",
    )
    for each in facts.record.structures:
        cells: list[Cell] = [each.label, each.kind, each.state, _many(each.size_in, " x "), each.length_ft, each.rim_ft]
        cells += [each.invert_in_ft, each.invert_out_ft, each.invert_depth_in, _areas(each.areas), each.traffic]
        _add(facts, found, cells, each)
    return found


def _runs(facts: Facts) -> Table:
    found = _named(
        "runs",
        "label from to state nominal_in pipe length_ft drop_in slope_pct cover_in traffic bedding backfill pieces_ft "
        "stations_ft notes",
    )
    for run in facts.record.runs:
        cells: list[Cell] = [run.label, run.from_, run.to, run.state, run.nominal_in, run.pipe, run.length_ft]
        cells += [run.drop_in, run.slope_pct, run.cover_in, run.traffic, run.bedding, run.backfill]
        _add(facts, found, [*cells, _many(run.pieces_ft, " + "), _many(run.stations_ft, " to ")], run)
    return found


def _add(facts: Facts, found: Table, cells: list[Cell], entry: Structure | Run, *fields: str) -> None:
    checks = open_checks(facts, facts.marks(entry.label, *(fields or FIELDS)))
    found.add([*cells, _notes(entry)], open_questions(facts, entry, *fields), checks)


def _fittings(facts: Facts) -> Table:
    found = _named("fittings", "run kind count angle_deg nominal_in to_nominal_in at_ft turn notes")
    for run in facts.record.runs:
        for item in run.fittings:
            cells: list[Cell] = [run.label, item.kind, item.count, item.angle_deg, item.nominal_in, item.to_nominal_in]
            _add(facts, found, [*cells, item.at_ft, item.turn], run, "fittings")
    return found


def _ties(facts: Facts) -> Table:
    found = _named("ties", "structure from distance_ft side notes")
    for each in facts.record.structures:
        for tie in each.ties:
            _add(facts, found, [each.label, tie.from_, tie.distance_ft, tie.side], each, "ties")
    return found


def _crossings(facts: Facts) -> Table:
    found = _named("crossings", "run what at_ft depth_in notes")
    for run in facts.record.runs:
        for each in run.crossings:
            _add(
                facts,
                found,
                [run.label, None if each.what == UNNAMED else each.what, each.at_ft, each.depth_in],
                run,
                "crossings",
            )
    return found


def _points(facts: Facts) -> Table:
    """A row a fixed point, or one for each point that it was taped to."""
    found = _named("points", "name x_ft y_ft to distance_ft bearing_deg notes")
    for point in facts.record.points:
        sights: list[list[Cell]] = [[each.point, each.distance_ft, each.bearing_deg] for each in point.to or []]
        for to in sights or [[None, None, None]]:
            cells: list[Cell] = [point.name, point.x_ft, point.y_ft]
            found.add([*cells, *to, _notes(point)], open_questions(facts, point))
    return found


def _levels(facts: Facts) -> Table:
    found = _named("levels", "point kind rod_ft elevation_ft notes")
    for each in facts.record.levels:
        checks = open_checks(facts, facts.reading_marks(each))
        cells: list[Cell] = [each.point, each.kind, each.rod_ft, each.elevation_ft, _notes(each)]
        found.add(cells, open_questions(facts, each), checks)
    return found


def _issues(facts: Facts) -> Table:
    found = _named("issues", "kind at action text notes")
    for each in facts.record.issues:
        found.add([each.kind, each.at, each.action, each.text, _notes(each)], open_questions(facts, each))
    return found


def _tests(facts: Facts) -> Table:
    found = _named("tests", "kind at duration_s flow_gpm result notes")
    for each in facts.record.tests:
        cells: list[Cell] = [each.kind, each.at, each.duration_s, each.flow_gpm, each.result, _notes(each)]
        found.add(cells, open_questions(facts, each))
    return found


def _questions(facts: Facts) -> Table:
    """What is open, a row a question; it is the mark of the rows that it is about."""
    found = Table("questions", ("id", "about", "field", "why", "heard", "choices", "notes"))
    for each in facts.record.questions:
        choices = "; ".join(json.dumps(choice, ensure_ascii=False) for choice in each.choices or [])
        found.rows.append([each.id, each.about, each.field, each.why, each.heard, choices, _notes(each)])
    return found


def _takeoff(facts: Facts) -> Table:
    """What went in and what was bought of it; under `Bought` what was bought and matches nothing that went in; under
    `To buy` what the crew said that it had to buy, in its words."""
    columns = "group item quantity unit of no_length stick_ft sticks_at_least bought left_over not_matched"
    found, lines = _named("takeoff", columns), takeoff(facts.record)
    unmatched = against(lines, facts.record.purchases)
    for line in lines:
        total = round(line.total, 4) if len(line.labels) > len(line.missing) else None
        cells: list[Cell] = [line.group, line.item, total, line.unit, ", ".join(line.labels), ", ".join(line.missing)]
        cells += [line.stick_ft, line.sticks, line.bought, line.left, None]
        found.add(cells, _line_questions(facts, line), _line_checks(facts, line))
    for each in unmatched:
        bought = each.purchase
        cells = ["Bought", bought.item, None, bought.unit, None, None, bought.stick_ft, None, bought.count, None]
        found.add([*cells, each.why], open_questions(facts, bought))
    for task in facts.record.tasks:
        if task.kind == "buy":
            found.add(_to_buy(task), open_questions(facts, task))
    return found


def _to_buy(task: Task) -> list[Cell]:
    return ["To buy", task.item or task.text, task.count, *[None] * 8]


def _line_questions(facts: Facts, line: Line) -> list[str]:
    entries = [entry for label in line.labels if (entry := facts.record.subject(label))]
    asked = [each for entry in entries for each in open_questions(facts, entry, *COUNTED[line.group])]
    return list(dict.fromkeys(asked))


def _line_checks(facts: Facts, line: Line) -> list[str]:
    return open_checks(facts, (mark for label in line.labels for mark in facts.marks(label, *COUNTED[line.group])))


COUNTED = {
    "Pipe": ("state", "nominal_in", "pipe", "length_ft"),
    "Fittings": ("state", "nominal_in", "pipe", "fittings"),
    "Structures": ("state", "kind", "size_in", "length_ft"),
}
"""What a line of the take-off rests on, by its group."""


def _many(values: Sequence[float] | None, between: str) -> str | None:
    return between.join(map(_plain, values)) if values else None


def _plain(value: float) -> str:
    """A number as a program reads it: no sign between thousands."""
    return f"{value:.10g}"


def _areas(areas: Sequence[Area] | None) -> str | None:
    """`600 roof + 200`, square feet."""
    told = (f"{_plain(each.sqft)} {each.surface or ''}".strip() for each in areas or [])
    return " + ".join(told) or None


def _notes(entry: Entry) -> str:
    """The numbers to type after `note:`."""
    return ", ".join(map(str, sorted({item.note for item in entry.evidence})))
