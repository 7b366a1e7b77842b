"""Structures and runs as GeoJSON (RFC 7946): longitude and latitude on WGS 84, from the phone positions of photos."""

from __future__ import annotations

import json
import math
from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

from geographiclib.geodesic import Geodesic

from extract.places.solve import Ground
from extract.record import Structure
from reports.facts import Facts
from reports.job import PHONE_ERROR_M, Photo
from reports.open_questions import questions_of, said
from reports.scaled import run_path
from reports.tables import OPEN, Table
from reports.words import joined, known

M_PER_FT = 0.3048
"""The international foot. Source: NIST SP 811, appendix B (from memory; exact)."""
Metres = tuple[float, float]
"""East and north of the first photo."""
BY_TAPE = "tapes"
NORTH_BY = {"photos": "their positions", "bearing": "compass"}
DECIMALS = 7
"""Of a degree, about a centimetre; RFC 7946, 11.2, asks for no more than is known."""


@dataclass(frozen=True)
class _Fixes:
    """Where phones stood that photographed each structure."""

    origin: tuple[float, float]
    """Latitude and longitude."""
    at: dict[str, Metres]
    error_m: dict[str, float]
    photos: dict[str, list[int]]


@dataclass(frozen=True)
class _Spot:
    """A place on the earth, how far off it may be, and where it comes from in words."""

    metres: Metres
    error_m: float
    source: str
    asked: list[str]
    """Open questions about what it was worked out from."""


def geojson(facts: Facts, found: Ground, structures: Table, runs: Table) -> bytes | None:
    """Every structure and run with the cells of its row in the tables; what has no place has no geometry. None where no
    structure has a place on the earth."""
    fixes = _fixes(facts)
    if fixes is None:
        return None
    spots = _by_photos(facts, fixes) | _by_tape(facts, found, fixes)
    features = [_point(each, spots, fixes) for each in _rows(structures)]
    features += [_line(facts, found, each, spots, fixes) for each in _rows(runs)]
    shape = {"type": "FeatureCollection", "features": features}
    return (json.dumps(shape, ensure_ascii=False, indent=1, allow_nan=False) + "\n").encode()


# -- where


def _fixes(facts: Facts) -> _Fixes | None:
    """The mean of the positions of each structure's photos."""
    taken: dict[str, list[Photo]] = defaultdict(list)
    for photo in facts.closeout.photos:
        placed = photo.lat is not None and photo.lon is not None
        if placed and photo.about and isinstance(facts.record.subject(photo.about), Structure):
            taken[photo.about].append(photo)
    if not taken:
        return None
    first = next(iter(taken.values()))[0]
    origin = float(first.lat or 0), float(first.lon or 0)
    at = {}
    for label, photos in taken.items():
        places = [_metres(origin, (float(each.lat or 0), float(each.lon or 0))) for each in photos]
        at[label] = _mean(places)
    errors = {label: max(each.gps_error_m or PHONE_ERROR_M for each in photos) for label, photos in taken.items()}
    return _Fixes(origin, at, errors, {label: [each.number for each in photos] for label, photos in taken.items()})


def _by_photos(facts: Facts, fixes: _Fixes) -> dict[str, _Spot]:
    """Each structure where its photos were taken."""
    return {
        label: _Spot(at, fixes.error_m[label], f"where {_names([label], fixes)} taken", _asked([label], facts, fixes))
        for label, at in fixes.at.items()
    }


def _by_tape(facts: Facts, found: Ground, fixes: _Fixes) -> dict[str, _Spot]:
    """All that was placed by tape, laid where the phones stood; nothing where nothing tells north, or no structure was
    both taped and photographed. A photo that stands apart from the tapes lays nothing."""
    apart = {fix.key for fix, _ in found.earth.apart} if found.earth else set()
    both = [label for label in fixes.at if label in found.at and label not in apart]
    if (way := found.north) is None or not both:
        return {}
    local = {key: _turned(found.xy(key), way.way_deg) for key in found.at}
    east, north = _mean([(fixes.at[each][0] - local[each][0], fixes.at[each][1] - local[each][1]) for each in both])
    spots = {key: (x + east, y + north) for key, (x, y) in local.items()}
    # Averaging makes positions no better where all are off alike, so the worst of them stands for all.
    off = max(max(math.dist(spots[each], fixes.at[each]), fixes.error_m[each]) for each in both)
    middle, swing = _mean([spots[each] for each in both]), math.sin(math.radians(way.within_deg))
    source = f"{BY_TAPE}, laid where {_names(both, fixes)} taken, north by {NORTH_BY[way.by]}"
    asked = [*questions_of(facts, found), *_asked(both, facts, fixes)]

    def error_m(key: str) -> float:
        return off + found.at[key].ellipse.half_long_ft * M_PER_FT + math.dist(spots[key], middle) * swing

    return {key: _Spot(at, error_m(key), source, asked) for key, at in spots.items()}


def _names(labels: Iterable[str], fixes: _Fixes) -> str:
    """`photo 4 was`, `photos 4 and 7 were`."""
    numbers = [str(number) for label in labels for number in fixes.photos[label]]
    return f"photo {numbers[0]} was" if len(numbers) == 1 else f"photos {joined(numbers)} were"


def _asked(labels: Iterable[str], facts: Facts, fixes: _Fixes) -> list[str]:
    """The open questions about what those photos show."""
    names = {f"photo {number}" for label in labels for number in fixes.photos[label]}
    return said(each for each in facts.doubts.all if " ".join(each.question.about.split()[:2]) in names)


def _turned(place: tuple[float, float], north_deg: float) -> Metres:
    """Feet on the tapes' axes to metres east and north."""
    turn = math.radians(north_deg)
    x, y = place[0] * M_PER_FT, place[1] * M_PER_FT
    return x * math.cos(turn) - y * math.sin(turn), x * math.sin(turn) + y * math.cos(turn)


def _mean(places: list[Metres]) -> Metres:
    return sum(each[0] for each in places) / len(places), sum(each[1] for each in places) / len(places)


def _metres(origin: tuple[float, float], place: tuple[float, float]) -> Metres:
    line = Geodesic.WGS84.Inverse(*origin, *place)
    bearing = math.radians(line["azi1"])
    return line["s12"] * math.sin(bearing), line["s12"] * math.cos(bearing)


def _position(origin: tuple[float, float], at: Metres) -> list[float]:
    """Longitude, latitude."""
    line = Geodesic.WGS84.Direct(*origin, math.degrees(math.atan2(at[0], at[1])), math.hypot(*at))
    return [round(line["lon2"], DECIMALS), round(line["lat2"], DECIMALS)]


# -- features


def _rows(table: Table) -> list[dict[str, Any]]:
    return [dict(zip(table.columns, row, strict=True)) for row in table.rows]


def _point(row: dict[str, Any], spots: Mapping[str, _Spot], fixes: _Fixes) -> dict[str, Any]:
    spot = spots.get(row["label"])
    geometry = {"type": "Point", "coordinates": _position(fixes.origin, spot.metres)} if spot else None
    return _feature("structure", row, geometry, [spot] if spot else [])


def _line(
    facts: Facts, found: Ground, row: dict[str, Any], spots: Mapping[str, _Spot], fixes: _Fixes
) -> dict[str, Any]:
    """A run by tape. Phone positions alone draw no run: they are off by as much as a run is long."""
    run = next(each for each in facts.record.runs if each.label == row["label"])
    ends = [spots[end] for end in (run.from_, run.to) if end in spots and end in found.at]
    if len(ends) < 2 or not ends[0].source.startswith(BY_TAPE) or run.from_ == run.to:
        return _feature("run", row, None, [])
    path = run_path(run, lambda key: spots[key].metres)
    return _feature(
        "run", row, {"type": "LineString", "coordinates": [_position(fixes.origin, at) for at in path]}, ends
    )


def _feature(what: str, row: dict[str, Any], geometry: dict[str, Any] | None, spots: list[_Spot]) -> dict[str, Any]:
    told = {key: value if key not in OPEN else value or None for key, value in row.items()}
    error = round(max(each.error_m for each in spots), 1) if spots else None
    place = {
        "position_error_m": error,
        "position_from": spots[0].source if spots else None,
        "position_open_question": "; ".join(spots[0].asked) or None if spots else None,
    }
    properties = {"feature": what} | {key: _finite(value) for key, value in told.items()} | place
    return {"type": "Feature", "id": row["label"], "geometry": geometry, "properties": properties}


def _finite(value: Any) -> Any:
    return value if not isinstance(value, float) or known(value) else None
