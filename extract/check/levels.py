"""Rod readings reduced to elevations, and the best height of every point.

Height of instrument = elevation + backsight; elevation = height of instrument - rod.
Source: US Navy NAVEDTRA 14081, Equipment Operator (seen).

Readings linked by turning points form a chain. A chain whose points have no elevation said still gives falls
between its points, which is all that a pipe needs; it only has no place on the job's datum.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, field, replace

from extract.check.policy import Policy, load_policy
from extract.check.saying import SIDES, evidence, known
from extract.record import BENCHMARK, Evidence, Level, Record, Structure


@dataclass(frozen=True)
class Reading:
    """One level, reduced. Heights and elevations are in feet."""

    level: Level
    setup: int
    """Which setup of the instrument, from 1; 0 before the first backsight."""
    chain: int
    """Which chain of linked setups."""
    height_ft: float
    """Height above the chain's own zero."""
    elevation_ft: float | None = None
    """Elevation on the job's datum; None where no point of the chain has an elevation said."""
    datum: bool = False
    """True for the reading whose said elevation put the chain on the datum."""

    @property
    def sighted(self) -> bool:
        """A foresight or intermediate sight: one that gives a height and does not take one."""
        return self.level.kind != "backsight"


@dataclass(frozen=True)
class Height:
    """The height of one point, in feet. Two heights compare only where their `chain` is the same."""

    ft: float
    chain: int | None
    """None on the job's datum, else the chain of readings that has no datum."""
    basis: str
    """`rod`, `said`, or `depth` (rim less the depth said)."""
    evidence: list[Evidence] = field(default_factory=list)
    disputed: bool = False
    """True where the rod and the elevation said of the same point disagree; a finding then says how."""


def reduce_levels(record: Record, policy: Policy | None = None) -> list[Reading]:
    """Every level with a reading that a rod can show, reduced in the log's order.

    A backsight on a point already read carries its height on (a turning point); on any other point it starts a
    chain. A chain stands on the first elevation said for one of its backsights, or failing that for any point.
    The misclosure of a loop is reported, not spread over the points.
    """
    said = said_elevations(record)
    readings = list(_walk(record.levels, policy or load_policy()))
    anchors: dict[int, tuple[int, float]] = {}
    for index, reading in sorted(enumerate(readings), key=lambda pair: (pair[1].sighted, pair[0])):
        elevation = _said_of(reading.level, said)
        if elevation is not None and reading.chain not in anchors:
            anchors[reading.chain] = (index, elevation - reading.height_ft)
    return [_on_datum(reading, index, anchors) for index, reading in enumerate(readings)]


def heights(record: Record, readings: list[Reading] | None = None, policy: Policy | None = None) -> dict[str, Height]:
    """The best height of each point, by name such as `CB-1 invert_out`: by rod, else as said, else rim less depth.

    The benchmark keeps the elevation it was given; any other point read twice has its last reading.
    """
    said = said_elevations(record)
    found = {point: Height(ft, None, "said", list(words)) for point, (ft, words) in said.items()}
    apart = (policy or load_policy())["reading_ft"] + 1e-9
    for reading in reduce_levels(record, policy) if readings is None else readings:
        point = reading.level.point
        if point == BENCHMARK and point in found:
            continue
        words = list(reading.level.evidence)
        if reading.elevation_ft is not None:
            own = _said_of(reading.level, said)
            disputed = own is not None and abs(own - reading.elevation_ft) > apart
            found[point] = Height(reading.elevation_ft, None, "rod", words, disputed)
        elif point not in found or found[point].basis == "rod":
            found[point] = Height(reading.height_ft, reading.chain, "rod", words)
    for structure in record.structures:
        _add_depth(structure, found)
    return found


def elevations(record: Record) -> dict[str, float]:
    """Elevation in feet on the job's datum of every point that has one, by name such as `CB-1 invert_out`.

    By rod where it can be reduced, else the elevation said, else the rim less the depth said.
    """
    return {point: height.ft for point, height in heights(record).items() if height.chain is None}


def depth_side(structure: Structure) -> str:
    """The invert that a depth is of: the outgoing one, except at an outlet, which has only an incoming one."""
    return "invert_in" if structure.label.startswith("OUT-") else "invert_out"


def taped_give(policy: Policy) -> float:
    """How far a taped depth may lie from rim less invert, inches.

    Two readings and a tape, each with its own error, add by root sum of squares.
    """
    return math.hypot(policy["depth_in"], math.sqrt(2) * policy["reading_ft"] * 12)


def _walk(levels: list[Level], policy: Policy) -> Iterator[Reading]:
    """Readings with heights above each chain's own zero.

    A backsight on the benchmark with another elevation than before is on another benchmark, and starts a chain. A
    benchmark with no rod read on it gives no height, nor does what is sighted behind it in another setup.
    """
    seen: dict[str, tuple[int, float]] = {}
    setup = chain = 0
    instrument, said_last = 0.0, None
    for level in levels:
        rod = rod_of(level, policy)
        if level.rod_ft is None and setup == 0:
            continue  # the elevation was said before the instrument stood anywhere
        if level.kind == "backsight":
            setup += 1
            if rod is None:
                # The instrument stands at a height that nobody knows: what is sighted from it hangs on nothing before.
                chain, instrument = setup, 0.0
                continue
            if _another_benchmark(level, said_last):
                seen.pop(BENCHMARK, None)
            chain, height = seen.setdefault(level.point, (setup, 0.0))
            instrument = height + rod
            if level.point == BENCHMARK:
                said_last = known(level.elevation_ft) if said_last is None or chain == setup else said_last
        elif rod is None:
            continue
        else:
            height = instrument - rod
            if level.point != BENCHMARK or level.point not in seen:
                seen[level.point] = (chain, height)
        yield Reading(level, setup, chain, height)


def rod_of(level: Level, policy: Policy) -> float | None:
    """The reading in feet, or None where it is one that no rod shows."""
    rod = known(level.rod_ft)
    return rod if rod is not None and 0 <= rod <= policy["rod_longest_ft"] else None


def _another_benchmark(level: Level, before: float | None) -> bool:
    own = known(level.elevation_ft)
    return level.point == BENCHMARK and own is not None and before is not None and own != before


def _on_datum(reading: Reading, index: int, anchors: dict[int, tuple[int, float]]) -> Reading:
    if reading.chain not in anchors:
        return reading
    anchor, zero = anchors[reading.chain]
    return replace(reading, elevation_ft=reading.height_ft + zero, datum=index == anchor)


def said_elevations(record: Record) -> dict[str, tuple[float, list[Evidence]]]:
    """Elevations said, by point: the structure's own field, else the one last said with a rod.

    The benchmark has the one it was first given: what is said of it after that is a sight to close on it.
    """
    said: dict[str, tuple[float, list[Evidence]]] = {}
    for level in record.levels:
        elevation = known(level.elevation_ft)
        if elevation is not None and (level.point != BENCHMARK or BENCHMARK not in said):
            said[level.point] = (elevation, evidence(level, "elevation_ft"))
    for structure in record.structures:
        for side in SIDES:
            elevation = known(getattr(structure, f"{side}_ft"))
            if elevation is not None:
                said[f"{structure.label} {side}"] = (elevation, evidence(structure, f"{side}_ft"))
    return said


def _said_of(level: Level, said: dict[str, tuple[float, list[Evidence]]]) -> float | None:
    own = known(level.elevation_ft)
    return own if own is not None else said.get(level.point, (None, []))[0]


def _add_depth(structure: Structure, found: dict[str, Height]) -> None:
    invert = f"{structure.label} {depth_side(structure)}"
    rim, depth = found.get(f"{structure.label} rim"), known(structure.invert_depth_in)
    if rim is not None and depth is not None and invert not in found:
        words = rim.evidence + evidence(structure, "invert_depth_in")
        found[invert] = Height(rim.ft - depth / 12, rim.chain, "depth", words, rim.disputed)
