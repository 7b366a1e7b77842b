"""Where each structure stands on the plan: by phone positions where they tell the structures apart, else by flow."""

from __future__ import annotations

import math
from collections import defaultdict
from dataclasses import dataclass
from statistics import median

from geographiclib.geodesic import Geodesic

from extract.record import Run, Structure
from reports.facts import Facts
from reports.job import PHONE_ERROR_M
from reports.network import chains

Place = tuple[float, float]


@dataclass(frozen=True)
class Layout:
    """Places in units of no meaning (x to the right, y up). `north_up` only where phone positions made it."""

    places: dict[str, Place]
    north_up: bool
    unjoined: list[str]
    """Structures that no recorded run meets."""


def layout(facts: Facts, runs: list[Run]) -> Layout:
    """A place for every structure and for every named end of a run."""
    joined = list(dict.fromkeys(end for run in runs for end in ends(run)))
    unjoined = [item.label for item in facts.record.structures if item.label not in joined]
    schematic = _by_flow(facts, runs)
    located = _by_phone(facts)
    if len(located) >= 3 and set(joined) <= set(located) and _tells_apart(located, facts):
        return Layout({label: located[label] for label in joined}, True, unjoined)
    return Layout(schematic, False, unjoined)


def _by_flow(facts: Facts, runs: list[Run]) -> dict[str, Place]:
    """Columns by steps from the outlet; the longest way straight, each branch in the nearest free row."""
    steps: dict[str, int] = {}
    places: dict[str, Place] = {}
    rows: dict[int, list[tuple[int, int]]] = defaultdict(list)
    base = 0
    for chain in chains(facts.record):
        labels = chain.labels
        last = steps.setdefault(labels[-1], 0)
        for back, label in enumerate(reversed(labels)):
            steps.setdefault(label, last + back)
        fresh = [label for label in labels if label not in places]
        span = (min(steps[label] for label in fresh), max(steps[label] for label in fresh)) if fresh else (0, 0)
        row = _free_row(rows, span, base if chain.joins or not places else max(rows) + 1)
        rows[row].append(span)
        places |= {label: (-float(steps[label]), -float(row)) for label in fresh}
    for run in runs:
        _loose(run, places, rows)
    return places


def ends(run: Run) -> tuple[str, str]:
    """The names of a run's ends on the plan; an end that nobody named gets a name of its own, which is no label."""
    return run.from_ or f"upper end of {run.label}", run.to or f"lower end of {run.label}"


def _loose(run: Run, places: dict[str, Place], rows: dict[int, list[tuple[int, int]]]) -> None:
    # A run outside the chains hangs on whichever of its ends has a place, in a row of its own.
    upper, lower = ends(run)
    if upper in places and lower in places:
        return
    known = places.get(upper) or places.get(lower)
    column = round(-known[0]) if known else 0
    far = column if known is None else column + (1 if lower in places else -1)
    row = _free_row(rows, (far, far), round(-known[1]) + 1 if known else max(rows, default=-1) + 1)
    rows[row].append((far - 1, far + 1))
    if known is None:
        places |= {upper: (-1.0 - far, -float(row)), lower: (-float(far), -float(row))}
    else:
        places[upper if lower in places else lower] = (-float(far), -float(row))


def _free_row(rows: dict[int, list[tuple[int, int]]], span: tuple[int, int], start: int) -> int:
    for away in range(100):
        for row in (start + away, start - away):
            if all(span[1] < low - 1 or span[0] > high + 1 for low, high in rows.get(row, [])):
                return row
    return max(rows) + 1


def _by_phone(facts: Facts) -> dict[str, Place]:
    """Metres east and north of the first one, of each structure with positioned photos (their mean)."""
    found: dict[str, list[tuple[float, float]]] = defaultdict(list)
    for photo in facts.closeout.photos:
        if photo.lat is not None and photo.lon is not None and isinstance(_subject(facts, photo.about), Structure):
            found[str(photo.about)].append((photo.lat, photo.lon))
    means = {label: tuple(sum(axis) / len(axis) for axis in zip(*fixes, strict=True)) for label, fixes in found.items()}
    if not means:
        return {}
    origin = next(iter(means.values()))
    return {label: _metres(origin[0], origin[1], mean[0], mean[1]) for label, mean in means.items()}


def _subject(facts: Facts, label: str | None) -> Structure | Run | None:
    return facts.record.subject(label) if label else None


def _metres(lat: float, lon: float, to_lat: float, to_lon: float) -> Place:
    line = Geodesic.WGS84.Inverse(lat, lon, to_lat, to_lon)
    bearing = math.radians(line["azi1"])
    return line["s12"] * math.sin(bearing), line["s12"] * math.cos(bearing)


def _tells_apart(located: dict[str, Place], facts: Facts) -> bool:
    # Positions closer together than the phone can tell would draw noise as if it were a layout.
    errors = [photo.gps_error_m for photo in facts.closeout.photos if photo.lat is not None and photo.gps_error_m]
    error = median(errors) if errors else PHONE_ERROR_M
    points = list(located.values())
    return min(math.dist(a, b) for i, a in enumerate(points) for b in points[:i]) > 2 * error
