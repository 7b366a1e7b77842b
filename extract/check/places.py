"""Positions of photos as a bound on length: a pipe is no shorter than the straight line between its ends, and no longer
than its bends can bring back within it.

A phone is good to some metres, so this never measures a run; it only tells a length that cannot be.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import NamedTuple

from extract.check.evidence import Photo
from extract.check.geometry import run_length
from extract.check.policy import Policy
from extract.check.saying import evidence, feet, finding, in_place, name
from extract.check.traverse import bends_deg, least_apart_ft
from extract.record import Finding, Record, Run

FOOT_M = 0.3048
"""Metres; exact, the international foot."""


class Apart(NamedTuple):
    """How far apart two photos were taken, and how far that may be out, both in feet."""

    ft: float
    error_ft: float


def geodesic_m(lat: float, lon: float, other_lat: float, other_lon: float) -> float:
    """Metres along the WGS84 ellipsoid between two points in degrees. Source: Karney's geodesics (geographiclib)."""
    from geographiclib.geodesic import Geodesic

    return float(Geodesic.WGS84.Inverse(lat, lon, other_lat, other_lon)["s12"])


def apart(one: Photo, other: Photo, policy: Policy) -> Apart | None:
    """The distance of two photos, errors added [ft]; None where either has no place.

    A photo that gives no error of its own counts with the policy's for phones.
    """
    if one.lat is None or one.lon is None or other.lat is None or other.lon is None:
        return None
    error = sum(policy["phone_error_m"] if each.error_m is None else each.error_m for each in (one, other))
    return Apart(geodesic_m(one.lat, one.lon, other.lat, other.lon) / FOOT_M, error / FOOT_M)


def check_places(record: Record, photos: Sequence[Photo], policy: Policy) -> list[Finding]:
    """Runs shorter than the photos of their ends lie apart, or too long to end so near each other. `attention` each."""
    shots: dict[str, Photo] = {}
    for photo in photos:
        if photo.about is not None and photo.lat is not None and photo.lon is not None:
            held = shots.get(photo.about)
            if held is None or _error(photo, policy) < _error(held, policy):
                shots[photo.about] = photo
    return [item for run in record.runs if in_place(run) for item in _of_run(run, shots, policy)]


def _error(photo: Photo, policy: Policy) -> float:
    return policy["phone_error_m"] if photo.error_m is None else photo.error_m


def _of_run(run: Run, shots: Mapping[str, Photo], policy: Policy) -> list[Finding]:
    upper, lower, length = shots.get(run.from_ or ""), shots.get(run.to or ""), run_length(run)
    if upper is None or lower is None or length is None or run.from_ == run.to:
        return []
    between = apart(upper, lower, policy)
    if between is None:
        return []
    give, bends = between.error_ft + policy["photo_reach_ft"], bends_deg(run)
    taken = (
        f"photos {upper.number} and {lower.number} of its ends were taken {feet(between.ft)} apart, "
        f"give or take {feet(between.error_ft)}"
    )
    if length < between.ft - give - 1e-9:
        message = (
            f"{name(run.label)} was said to be {feet(length)} long, but {taken}; "
            "the length, or what a photo was taken to show, is wrong."
        )
        return [_found(run, message, length, between.ft, between.ft - give, policy)]
    least = 0.0 if bends is None else least_apart_ft(length, bends)
    if least <= between.ft + give + 1e-9:
        return []
    message = (
        f"{name(run.label)} was said to be {feet(length)} long with bends of {bends:g} degrees in all, so its ends lie "
        f"{feet(least)} apart or more, but {taken}; the length, a bend that was not said, or what a photo was taken to "
        "show, is wrong."
    )
    return [_found(run, message, length, between.ft, between.ft + give, policy)]


def _found(run: Run, message: str, length: float, apart_ft: float, limit: float, policy: Policy) -> Finding:
    return finding(
        "photo_distance",
        run.label,
        "attention",
        message,
        stated=length,
        computed=apart_ft,
        limit=limit,
        unit="ft",
        source=policy.source("phone_error_m", "photo_reach_ft"),
        evidence=evidence(run, "length_ft"),
    )
