"""Materials taken off the record: pipe by family and size, fittings, and structures that the crew put in."""

from __future__ import annotations

import math
from collections import defaultdict
from dataclasses import dataclass, field

from extract.record import Record, Run, State, Structure
from reports.words import (
    HUGE,
    NOT_RECORDED,
    fitting,
    inches,
    kind,
    known,
    load,
    number,
    pipe,
    sentence,
    short_length,
    size,
)

BUILT: tuple[State | None, ...] = ("installed", None)


@dataclass
class Line:
    """One kind of item. `total` is in feet for pipe and channel, else a count; `missing` had no length to add."""

    group: str
    item: str
    unit: str
    total: float = 0.0
    labels: list[str] = field(default_factory=list)
    missing: list[str] = field(default_factory=list)
    stick_ft: float | None = None
    """Of pipe that is sold by the stick, a stick's length."""

    def add(self, label: str, amount: float | None) -> None:
        if label not in self.labels:
            self.labels.append(label)
        if not known(amount):
            self.missing.append(label)
        else:
            self.total += amount

    @property
    def sticks(self) -> int | None:
        """Whole sticks that the pipe takes at least, every cut piece used up; None where it is not sold by the stick,
        or no length is known."""
        if self.stick_ft is None or not 0 < self.total < HUGE:
            return None
        return math.ceil(round(self.total / self.stick_ft, 4))

    @property
    def quantity(self) -> str:
        """`34 ft 8 in`, `3`, or with what is missing: `34 ft 8 in, and R-4: length not recorded`."""
        counted = len(self.labels) > len(self.missing)
        known = short_length(round(self.total, 4)) if self.unit == "ft" else number(self.total)
        missing = f"{', '.join(self.missing)}: length {NOT_RECORDED}" if self.missing else ""
        return ", and ".join(part for part in (known if counted else "", missing) if part)


def takeoff(record: Record) -> list[Line]:
    """What went in, summed. Planned, existing, abandoned and removed things are left out; so nothing is counted twice
    and nothing is counted that was not built. Things with no state said are counted under a line of their own."""
    lines: dict[tuple[str, str], Line] = {}
    for run in record.runs:
        if run.state in BUILT:
            _add_run(lines, run)
    for structure in record.structures:
        if structure.state in BUILT:
            _add_structure(lines, structure)
    order = {"Pipe": 0, "Fittings": 1, "Structures": 2}
    return sorted(lines.values(), key=lambda line: (order[line.group], line.item))


def _add(
    lines: dict[tuple[str, str], Line], group: str, item: str, unit: str, label: str, amount: float | None
) -> None:
    lines.setdefault((group, item), Line(group, item, unit)).add(label, amount)


def _add_run(lines: dict[tuple[str, str], Line], run: Run) -> None:
    of_what = sentence(pipe(run)) + _state(run)
    _add(lines, "Pipe", of_what, "ft", run.label, run.length_ft)
    lines["Pipe", of_what].stick_ft = load("takeoff")["stick_ft"].get(run.pipe)
    counts: dict[str, int] = defaultdict(int)
    for item in run.fittings:
        on = "" if item.nominal_in is not None else f" on {pipe(run)}"
        counts[sentence(fitting(item)) + on + _state(run)] += item.count
    for name, count in counts.items():
        _add(lines, "Fittings", name, "each", run.label, count)


def _add_structure(lines: dict[tuple[str, str], Line], structure: Structure) -> None:
    if structure.kind == "channel_drain":
        width = inches(structure.size_in[0]) if structure.size_in else f"width {NOT_RECORDED}"
        item = f"Channel drain, {width}"
        _add(lines, "Structures", item + _state(structure), "ft", structure.label, structure.length_ft)
        return
    item = f"{sentence(kind(structure))}, {size(structure) if structure.size_in else 'size ' + NOT_RECORDED}"
    _add(lines, "Structures", item + _state(structure), "each", structure.label, 1)


def _state(entry: Run | Structure) -> str:
    return f" (state {NOT_RECORDED})" if entry.state is None else ""
