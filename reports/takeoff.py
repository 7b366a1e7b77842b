"""Materials taken off the record: pipe by family and size, fittings, and structures that the crew put in; and against
them what was bought."""

from __future__ import annotations

import math
import re
from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass, field

from extract.record import Fitting, Purchase, Record, Run, State, Structure
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
    bought: float | None = None
    """Of it, in the unit of the total; None where nobody said that any was."""
    other: bool = False
    """Whether more of the same stands, or may stand, on another line: its state, or what it is, was not recorded."""
    lacks: str = ""
    """What was not recorded of it that tells it from others, in words; nothing bought is held against such a line."""
    assumed: bool = False
    """Whether some was bought in sticks whose length nobody said."""

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

    @property
    def left(self) -> float | None:
        """What was bought and not put in; below nothing what was put in and not bought. None where either is not known
        in full."""
        if self.bought is None or self.missing or self.other:
            return None
        return round(self.bought - self.total, 4)


@dataclass(frozen=True)
class Unmatched:
    """A purchase that is held against no line, and why."""

    purchase: Purchase
    why: str


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


def against(lines: Sequence[Line], purchases: Sequence[Purchase]) -> list[Unmatched]:
    """Holds what was bought against the lines, which it is entered in, and gives back what it matches none of.

    A purchase is of a line where both name the same thing: in any order, but in all words that tell one thing from
    another. Nothing is guessed: what only may be of a line is named beside it.
    """
    named: dict[tuple[str, ...], list[Line]] = defaultdict(list)
    vague = [line for line in lines if line.lacks]
    for line in lines:
        if not line.lacks:
            named[_telling(_stateless(line))].append(line)
    for telling, (line, *others) in named.items():
        may_be = (each for each in vague if each.group == line.group and not _more(_recorded(each), telling))
        line.other = bool(others) or any(may_be)
    unmatched = []
    for each in purchases:
        words = _telling(each.item)
        near = [line for telling, group in named.items() if words and not _more(words, telling) for line in group]
        near = [line for line in near if (line.unit == "each") == (each.unit == "each")]
        found = named.get(words, [])
        items = dict.fromkeys(_stateless(line) for line in found or near)
        if not found or len(items) > 1:
            lacking = [line for line in vague if words and words == _recorded(line)]
            unmatched.append(Unmatched(each, _used_none(list(items), lacking)))
            continue
        line = found[0]
        if (amount := _amount(each, line)) is None:
            unmatched.append(Unmatched(each, _unmeasured(each, line)))
        else:
            line.bought = (line.bought or 0) + amount
            line.assumed = line.assumed or (each.unit == "stick" and each.stick_ft is None)
    return unmatched


def _used_none(items: Sequence[str], lacking: Sequence[Line]) -> str:
    """Why a purchase is held against nothing: what it may be, or what was not recorded of what it may be."""
    told = "; ".join(f"{_stateless(line)}: {line.lacks} {NOT_RECORDED}" for line in lacking)
    used = f"used is not known ({told})" if lacking else "used 0"
    return used + (f"; is it {' or '.join(items)}?" if items else "")


def _recorded(line: Line) -> tuple[str, ...]:
    """What tells such a line from others, as far as it was recorded."""
    return _telling(re.sub(rf"\b(?:size|pipe|width) {NOT_RECORDED}", "", _stateless(line)))


def _amount(purchase: Purchase, line: Line) -> float | None:
    """In the line's unit; None where it cannot be told."""
    if line.unit == "each":
        return purchase.count if purchase.unit == "each" else None
    stick_ft = purchase.stick_ft or line.stick_ft
    if purchase.unit == "stick":
        return purchase.count * stick_ft if stick_ft else None
    return purchase.count if purchase.unit == "ft" else None


def _stateless(line: Line) -> str:
    return line.item.removesuffix(_NO_STATE)


def _unmeasured(purchase: Purchase, line: Line) -> str:
    if line.unit == "each":
        return f"{line.item} is counted in pieces"
    if purchase.unit == "stick":
        return f"nobody said how long a stick of it is, as in: 5 20 ft sticks of {purchase.item}"
    return f"{line.item} is measured in feet or sticks"


def _telling(item: str) -> tuple[str, ...]:
    """The words and figures that tell one item from another, sorted: `12`, `12`, `basin`, `catch`."""
    table = load("takeoff")
    plain = _SQUARE.sub(r"\1 \1", item.casefold())
    words = [_single(word) for word in re.findall(r"[^\W\d_]+|\d+(?:[./]\d+)?", plain)]
    silent, same = set(table["words"]["silent"].split()), table["same"]
    spelled = (part for word in words if word not in silent for part in same.get(word, word).split())
    return tuple(sorted(spelled))


_SQUARE = re.compile(r"\b(\d+(?:\.\d+)?)\s*(?:\"|″|in\b|inch\b)?\s*square\b")
"""One side of a square, which the take-off has by both."""


def _single(word: str) -> str:
    """A word as of one thing: `elbows` is `elbow`."""
    return word[:-1] if len(word) > 3 and word.endswith("s") and not word.endswith("ss") else word


def _more(words: Sequence[str], than: Sequence[str]) -> bool:
    """Whether some of the words are not among the others, each as often."""
    return any(words.count(word) > than.count(word) for word in words)


def _add(
    lines: dict[tuple[str, str], Line], group: str, item: str, unit: str, label: str, amount: float | None, lacks: str
) -> None:
    lines.setdefault((group, item), Line(group, item, unit, lacks=lacks)).add(label, amount)


def _add_run(lines: dict[tuple[str, str], Line], run: Run) -> None:
    of_what = sentence(pipe(run)) + _state(run)
    of_pipe = _lacking(kind=run.pipe, size=run.nominal_in)
    _add(lines, "Pipe", of_what, "ft", run.label, run.length_ft, of_pipe)
    lines["Pipe", of_what].stick_ft = load("takeoff")["stick_ft"].get(run.pipe)
    counts: dict[tuple[str, str], int] = defaultdict(int)
    for item in run.fittings:
        on, lacks = "", _lacking_of(item)
        if item.nominal_in is None:
            on, lacks = f" on {pipe(run)}", lacks or (of_pipe and f"{of_pipe} of its pipe")
        counts[sentence(fitting(item)) + on + _state(run), lacks] += item.count
    for (name, lacks), count in counts.items():
        _add(lines, "Fittings", name, "each", run.label, count, lacks)


def _lacking_of(item: Fitting) -> str:
    """What was not recorded of a fitting that tells it from others of its kind."""
    needs = load("takeoff")["needs"]
    angle = item.angle_deg if item.kind in needs["angle"].split() else 0
    return _lacking(angle=angle, size=item.to_nominal_in if item.kind in needs["second_size"].split() else 0)


def _lacking(**told: str | float | None) -> str:
    return " and ".join(name for name, each in told.items() if each is None)


def _add_structure(lines: dict[tuple[str, str], Line], structure: Structure) -> None:
    lacks = "" if structure.size_in else "size"
    if structure.kind == "channel_drain":
        width = inches(structure.size_in[0]) if structure.size_in else f"width {NOT_RECORDED}"
        item = f"Channel drain, {width}"
        _add(lines, "Structures", item + _state(structure), "ft", structure.label, structure.length_ft, lacks)
        return
    item = f"{sentence(kind(structure))}, {size(structure) if structure.size_in else 'size ' + NOT_RECORDED}"
    _add(lines, "Structures", item + _state(structure), "each", structure.label, 1, lacks)


def _state(entry: Run | Structure) -> str:
    return _NO_STATE if entry.state is None else ""


_NO_STATE = f" (state {NOT_RECORDED})"
