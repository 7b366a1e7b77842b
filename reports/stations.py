"""A chain of runs as a profile: stations along it, and the levels of pipe and rims where they are known."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field, replace

from extract.record import Run, Structure
from reports.facts import Facts
from reports.network import Chain, chains
from reports.words import known

LONGEST = 7
"""Runs to a panel: more would not stay legible on a page."""


@dataclass(frozen=True)
class Leg:
    """One run on a profile. Stations and levels are in feet."""

    run: Run
    start_ft: float
    end_ft: float
    high_ft: float
    low_ft: float
    assumed: bool
    """True where an end's level was worked out from drop or slope and not from a level of its own."""


@dataclass(frozen=True)
class Panel:
    """Runs that follow each other and share a datum."""

    legs: list[Leg]
    labels: list[str]
    """Structures along it, one more than legs."""
    rims: list[float | None]
    on_datum: bool
    """False where the lowest point stands at zero because no elevation was recorded."""


@dataclass
class Profile:
    panels: list[Panel] = field(default_factory=list)
    undrawn: list[tuple[Run, str]] = field(default_factory=list)
    """Runs that cannot be drawn, and why."""


def profile(facts: Facts) -> Profile:
    """Every chain cut into panels; what has no length or no fall is left out and named."""
    found = Profile()
    for chain in chains(facts.record):
        for runs in _stretches(facts, chain, found):
            found.panels += [_panel(facts, part) for part in _parts(runs)]
    return found


def _stretches(facts: Facts, chain: Chain, found: Profile) -> Iterator[list[Run]]:
    stretch: list[Run] = []
    for run in chain.runs:
        reason = _undrawable(facts, run)
        if reason is None:
            stretch.append(run)
            continue
        found.undrawn.append((run, reason))
        if stretch:
            yield stretch
        stretch = []
    if stretch:
        yield stretch


def _undrawable(facts: Facts, run: Run) -> str | None:
    if not known(run.length_ft) or run.length_ft <= 0:
        return "no length recorded"
    return "no levels or fall recorded" if _fall(facts, run) is None else None


def _fall(facts: Facts, run: Run) -> float | None:
    """The fall over a run, feet: by its levels, its drop, or its slope and length, as worked out by the check."""
    slope = facts.slopes.get(run.label)
    if slope is None:
        return None
    if known(slope.drop_in):
        return slope.drop_in / 12
    return slope.slope_pct / 100 * run.length_ft if known(slope.slope_pct) and known(run.length_ft) else None


def _parts(runs: list[Run]) -> list[list[Run]]:
    count = -(-len(runs) // LONGEST)
    size = -(-len(runs) // count)
    return [runs[start : start + size] for start in range(0, len(runs), size)]


def _panel(facts: Facts, runs: list[Run]) -> Panel:
    labels = [str(runs[0].from_), *(str(run.to) for run in runs)]
    legs = _on_datum(facts, runs)
    on_datum = legs is not None
    legs = legs or _relative(facts, runs)
    return Panel(legs, labels, [_rim(facts, label, legs, on_datum) for label in labels], on_datum)


def _on_datum(facts: Facts, runs: list[Run]) -> list[Leg] | None:
    """Legs on the job's datum, or None where no end of any run has an elevation."""
    ends = [(_end(facts, run.from_, "invert_out"), _end(facts, run.to, "invert_in")) for run in runs]
    if not any(known(end) for pair in ends for end in pair):
        return None
    # A level is carried through a structure only where the next pipe has none of its own.
    for index, run in enumerate(runs):
        high, low = ends[index]
        fall = _fall(facts, run) or 0.0
        if not known(high) and index and known(ends[index - 1][1]):
            high = ends[index - 1][1]
        if not known(low) and known(high):
            low = high - fall
        ends[index] = (high, low)
    for index in range(len(runs) - 1, -1, -1):
        high, low = ends[index]
        fall = _fall(facts, runs[index]) or 0.0
        if not known(low):
            low = ends[index + 1][0]
        if not known(high) and known(low):
            high = low + fall
        ends[index] = (high, low)
    legs, station = [], 0.0
    for run, (high, low) in zip(runs, ends, strict=True):
        own = known(_end(facts, run.from_, "invert_out")) and known(_end(facts, run.to, "invert_in"))
        legs.append(Leg(run, station, station + (run.length_ft or 0), high or 0.0, low or 0.0, not own))
        station = legs[-1].end_ft
    return legs


def _relative(facts: Facts, runs: list[Run]) -> list[Leg]:
    """Legs with the lowest end at zero, each hung on the next; falls inside structures are not known."""
    legs: list[Leg] = []
    level = 0.0
    end = sum(run.length_ft or 0 for run in runs)
    for run in reversed(runs):
        fall, start = _fall(facts, run) or 0.0, end - (run.length_ft or 0)
        legs.append(Leg(run, start, end, level + fall, level, True))
        level, end = level + fall, start
    lowest = min(min(leg.high_ft, leg.low_ft) for leg in legs)
    return [replace(leg, high_ft=leg.high_ft - lowest, low_ft=leg.low_ft - lowest) for leg in reversed(legs)]


def _end(facts: Facts, label: str | None, side: str) -> float | None:
    structure = facts.record.subject(label) if label else None
    return facts.level(structure, f"{side}_ft") if isinstance(structure, Structure) else None


def _rim(facts: Facts, label: str, legs: list[Leg], on_datum: bool) -> float | None:
    structure = facts.record.subject(label)
    if not isinstance(structure, Structure):
        return None
    if on_datum and known(facts.level(structure, "rim_ft")):
        return facts.level(structure, "rim_ft")
    if not known(structure.invert_depth_in):
        return None
    out = next((leg.high_ft for leg in legs if leg.run.from_ == label), None)
    bottom = out if out is not None else next((leg.low_ft for leg in legs if leg.run.to == label), None)
    return bottom + structure.invert_depth_in / 12 if bottom is not None else None
