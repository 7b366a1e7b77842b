"""What a record says of how far things lie from each other: tapes, run lengths with their bends, and bearings."""

from __future__ import annotations

import math
import re
import tomllib
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from functools import lru_cache
from importlib.resources import files
from typing import Any, Literal

from extract.check.geometry import run_length
from extract.check.policy import Policy
from extract.check.saying import feet, known, name
from extract.check.traverse import BRANCHES, TURNING, least_apart_ft
from extract.places.circles import XY
from extract.record import Entry, FixedPoint, Record, Run, Structure, Tie

IN_GROUND = ("installed", "existing", "abandoned", None)
UNNAMED = "unnamed"
BENDING = (None, "corrugated", "dual-wall")
"""Pipe that bends without a fitting, or may."""


@dataclass(frozen=True)
class Measure:
    """One distance [ft] or bearing [degrees, clockwise from north] between two things, by their keys."""

    kind: Literal["tape", "run", "bearing"]
    one: str
    other: str
    """Of a tie the structure; of a bearing what is looked at from `one`."""
    value: float
    sd: float
    """Standard deviation, in the unit of `value`."""
    words: str
    """`the tape from garage corner to catch basin 1`."""
    entry: Entry
    least: float | None = None
    """Of a run whose bends were not all told, or of which none was: its ends lie from this far apart to `value`."""
    side: str | None = None

    @property
    def exact(self) -> bool:
        """Whether it gives the distance and no mere bounds of it."""
        return self.least is None

    def joins(self, key: str) -> str | None:
        """What it ties that thing to."""
        return {self.one: self.other, self.other: self.one}.get(key)


@dataclass
class Survey:
    """Everything that can be placed, by key (a structure's label, a fixed point's plain name), and what ties it."""

    names: dict[str, str] = field(default_factory=dict)
    """How each is called, fixed points first."""
    points: list[str] = field(default_factory=list)
    """Keys of the fixed points."""
    given: dict[str, XY] = field(default_factory=dict)
    """Coordinates said, feet: x to the right and y up."""
    measures: list[Measure] = field(default_factory=list)
    unusable: list[tuple[Entry, str]] = field(default_factory=list)
    """What was said and cannot be used, and why, in words."""


def survey_of(record: Record, policy: Policy) -> Survey:
    """All that the record says of places. Errors: what cannot be used is named in `unusable`, nothing is raised."""
    found = Survey()
    for point in record.points:
        _point(found, record, point)
    for structure in record.structures:
        if structure.state in IN_GROUND:
            found.names.setdefault(structure.label, name(structure.label))
    for point in record.points:
        found.measures += _sights(found, record, point, policy)
    for structure in record.structures:
        if structure.state in IN_GROUND:
            found.measures += _ties(found, record, structure, policy)
    for run in record.runs:
        found.measures += _length(found, run, policy)
    return found


def long_of(run: Run) -> float | None:
    """The length of a run as said, else by the stations of its ends, feet."""
    length, stations = run_length(run), [known(each) for each in run.stations_ft]
    if length is not None or len(stations) < 2 or stations[0] is None or stations[-1] is None:
        return length
    return abs(stations[-1] - stations[0]) or None


def side_of(words: str | None) -> str | None:
    """`left`, `right`, `north`, `south`, `east` or `west` where the words say one of them and no other."""
    said = set(re.findall(r"\w+", (words or "").casefold()))
    told = [side for side, names in table()["sides"].items() if said & set(names.split())]
    return told[0] if len(told) == 1 else None


def bends_of(run: Run) -> list[tuple[float, float]] | None:
    """The bends of a run along it: (feet from the upper end, degrees to the left); None where any is not fully said,
    and where it may also turn in a wye or tee."""
    length, found = long_of(run), []
    if any(each.kind in BRANCHES for each in run.fittings):
        return None
    for each in run.fittings:
        if each.kind in TURNING:
            at, angle = known(each.at_ft), known(each.angle_deg)
            if length is None or at is None or angle is None or each.turn is None or each.count != 1:
                return None
            if not 0 <= at <= length or not 0 < angle <= 180:
                return None
            found.append((at, angle if each.turn == "left" else -angle))
    return sorted(found)


def path_of(run: Run) -> list[XY] | None:
    """The run drawn from (0, 0), its first piece along x, by its bends; None where they or its length are not known."""
    length, bends = long_of(run), bends_of(run)
    if length is None or bends is None:
        return None
    x = y = way = along = 0.0
    path = [(x, y)]
    for at, turn in [*bends, (length, 0.0)]:
        x, y = x + (at - along) * math.cos(way), y + (at - along) * math.sin(way)
        path.append((x, y))
        along, way = at, way + math.radians(turn)
    return path


# -- from the record


def _point(found: Survey, record: Record, point: FixedPoint) -> None:
    key = _key(record, point.name)
    if key is None:
        return
    found.names.setdefault(key, name(key) if record.subject(key) else point.name)
    if key not in found.points and not record.subject(key):
        found.points.append(key)
    x, y = known(point.x_ft), known(point.y_ft)
    if x is not None and y is not None:
        found.given[key] = (x, y)


def _sights(found: Survey, record: Record, point: FixedPoint, policy: Policy) -> Iterator[Measure]:
    here = _key(record, point.name)
    for sight in point.to or []:
        there, far = _key(record, sight.point), known(sight.distance_ft)
        if here is None or there is None or here == there:
            continue
        _name_point(found, record, there, sight.point)
        words = f"the tape from {found.names[there]} to {found.names[here]}"
        if far is None or far <= 0:
            found.unusable.append((point, f"{words} reads nothing that can be taped; tape it again"))
            continue
        yield Measure("tape", there, here, far, policy["tape_sd_ft"], words, point)
        if (bearing := known(sight.bearing_deg)) is not None:
            words = f"the bearing from {found.names[there]} to {found.names[here]}"
            yield Measure("bearing", there, here, bearing % 360, policy["bearing_sd_deg"], words, point)


def _ties(found: Survey, record: Record, structure: Structure, policy: Policy) -> Iterator[Measure]:
    label = structure.label
    by_start: dict[str, list[Tie]] = {}
    for tie in structure.ties:
        start = _key(record, tie.from_)
        if start is None:
            found.unusable.append((structure, f"a tape to {name(label)} starts from a point that nobody named"))
        elif start != label:
            _name_point(found, record, start, tie.from_)
            by_start.setdefault(start, []).append(tie)
    for start, ties in by_start.items():
        words, far = f"the tape from {found.names[start]} to {name(label)}", known(ties[0].distance_ft)
        if far is None or far <= 0:
            found.unusable.append((structure, f"{words} reads nothing that can be taped; tape it again"))
        elif (other := next((each.distance_ft for each in ties if each.distance_ft != far), None)) is not None:
            said = f"{feet(far)} and {feet(other)}"
            found.unusable.append((structure, f"{words} was said to be {said}; tape it again"))
        elif len(sides := {side: each.side for each in ties if (side := side_of(each.side))}) > 1:
            said = " and ".join(f'"{side}"' for side in sides.values())
            found.unusable.append((structure, f"{words} was said to have {name(label)} {said}; say the side again"))
        else:
            side = next(iter(sides.values()), ties[0].side)
            yield Measure("tape", start, label, far, policy["tape_sd_ft"], words, structure, side=side)


def _name_point(found: Survey, record: Record, key: str, said: str) -> None:
    found.names.setdefault(key, name(key) if record.subject(key) else " ".join(said.split()))
    if key not in found.points and not record.subject(key):
        found.points.append(key)


def _length(found: Survey, run: Run, policy: Policy) -> Iterator[Measure]:
    upper, lower, length = run.from_, run.to, long_of(run)
    if upper not in found.names or lower not in found.names or upper == lower or run.state not in IN_GROUND:
        return
    if length is None or upper is None or lower is None:
        return
    words = f"{name(run.label)} from {name(upper)} to {name(lower)}"
    path, least, far = path_of(run), None, length
    # That no bend was told does not say that there is none.
    if path is not None and bends_of(run) and run.pipe not in BENDING:
        far = math.dist(path[0], path[-1])
    else:
        least = _least(run, length)
    yield Measure("run", upper, lower, far, policy["run_sd_ft"], words, run, least)


def _least(run: Run, length: float) -> float:
    """The least distance of the ends of a run of which not every bend is fully said; 0 where it may be any."""
    turns = [each for each in run.fittings if each.kind in TURNING]
    loose = not turns or run.pipe in BENDING or any(each.kind in BRANCHES for each in run.fittings)
    total = 0.0
    for each in turns:
        if known(each.angle_deg) is None or not 0 < (each.angle_deg or 0) <= 180 or not 0 < each.count <= 100:
            return 0.0
        total += (each.angle_deg or 0) * each.count
    return 0.0 if loose else least_apart_ft(length, total)


def _key(record: Record, words: str) -> str | None:
    """The key of what those words name: a structure's label, else the plain name of a point, of which an article at its
    start is no part; a last or only word is no article ("corner A")."""
    said = re.findall(r"\w+", words.casefold())
    while len(said) > 1 and said[0] in _articles():
        said.pop(0)
    plain = " ".join(said)
    if not plain or plain == UNNAMED:
        return None
    label = _structure(record.structures, words)
    return label if label is not None else plain


def _structure(structures: Sequence[Structure], words: str) -> str | None:
    """The label of the structure that the words name, as `CB-1` or `catch basin 1`."""
    said = " ".join(words.split()).casefold()
    return next((each.label for each in structures if said in (each.label.casefold(), name(each.label))), None)


@lru_cache(maxsize=1)
def _articles() -> frozenset[str]:
    return frozenset(table()["names"]["articles"].split())


@lru_cache(maxsize=1)
def table() -> dict[str, Any]:
    """What places.toml holds."""
    return tomllib.loads(files("extract.places").joinpath("places.toml").read_text(encoding="utf-8"))
