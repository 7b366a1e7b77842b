"""Photos to what they show: as a person said, else by the notes spoken around that time, and by place where GPS tells
places apart. Pure."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from statistics import median
from typing import Literal

from geographiclib.geodesic import Geodesic

from extract.photo_told import NOTHING, Told
from extract.record import Record, Run
from logger.spoken import Spoken
from logger.times import MODIFIED
from reports.job import PHONE_ERROR_M, Photo
from reports.words import things

WITHIN_S = 600
"""A note further from a photo than this says nothing of it (common practice)."""
SURE_S = 120
"""A photo this near to its note is known well enough by time to tell where a structure is (common practice)."""
NAMED_PHOTO = 0.25
"""A note that names a photo counts as if it were so much nearer (common practice)."""
ASIDE_S = 60
"""What a note names besides its main thing, or as still to come, counts as so much further away (common practice)."""
APART_M = 15
"""Two places are told apart only beyond their errors and this (common practice)."""
FOOT_M = 0.3048
"""Exact: the international foot."""
NO_PART = f"by hand: it shows {NOTHING}"
"""Why a photo that a person was asked about is of nothing."""
BUILT = ("installed", "abandoned", "removed")
"""States that work was done for."""
NOT_OURS = ("left", "reported")
"""What is told of an issue that nobody worked on."""


@dataclass(frozen=True)
class Candidate:
    """A label that a photo may show."""

    label: str
    spoken: Spoken
    gap_s: float
    """Seconds from the note to the photo, negative where the photo came first, 0 while it was spoken."""
    score: float


@dataclass(frozen=True)
class Place:
    lat: float
    lon: float
    error_m: float


@dataclass(frozen=True)
class Sighting:
    """A photo that a person, or time alone, ties to a label."""

    photo: int
    label: str
    place: Place


def match(
    photos: Sequence[Photo], spoken: Sequence[Spoken], record: Record, told: Mapping[str, Told] | None = None
) -> list[Photo]:
    """The photos with `about`, `note`, `reason`, `backfill` and `before_work` set, by what the record's notes speak of;
    `told` is what a person said, by SHA-256, which goes before all else.

    Times of photos and notes must be aware.
    """
    by_hand = {photo.number: told[photo.sha256] for photo in photos if told and photo.sha256 in told}
    near = {photo.number: _candidates(photo, spoken) for photo in photos}
    sightings = [
        sighting for photo in photos for sighting in _sighted(photo, near[photo.number], by_hand.get(photo.number))
    ]
    found = [
        _by_hand(photo, by_hand[photo.number], spoken)
        if photo.number in by_hand
        else _matched(photo, near[photo.number], sightings, spoken, record)
        for photo in photos
    ]
    last = _last_before_work(spoken, record)
    sided = {number for number, each in by_hand.items() if each.backfill}
    return [
        each.model_copy(update={"before_work": each.number not in sided and _before_work(each, last)}) for each in found
    ]


def _by_hand(photo: Photo, told: Told, spoken: Sequence[Spoken]) -> Photo:
    if told.shows is None:
        return photo.model_copy(update={"about": None, "note": None, "reason": NO_PART, "backfill": "unknown"})
    side = f", from {told.backfill} backfill" if told.backfill else ""
    return photo.model_copy(
        update={
            "about": told.shows,
            "note": None,
            "reason": f"by hand: it shows {told.shows}{side}",
            "backfill": told.backfill or _backfill(photo, told.shows, spoken),
        }
    )


def _matched(
    photo: Photo, near: list[Candidate], sightings: list[Sighting], spoken: Sequence[Spoken], record: Record
) -> Photo:
    if not near:
        when = f"taken {photo.taken_at:%H:%M:%S}; " if photo.taken_at else ""
        reason = f"{when}nothing about the work was said within {WITHIN_S // 60} min of it"
        return photo.model_copy(update={"about": None, "note": None, "reason": reason, "backfill": "unknown"})
    chosen, by_place = _by_place(photo, near, sightings, record)
    return photo.model_copy(
        update={
            "about": chosen.label,
            "note": chosen.spoken.note,
            "reason": _reason(photo, chosen) + by_place,
            "backfill": _backfill(photo, chosen.label, spoken),
        }
    )


# -- by time


def _candidates(photo: Photo, spoken: Iterable[Spoken]) -> list[Candidate]:
    """Every label spoken of near the photo's time, the likeliest first."""
    found = []
    for each in spoken:
        gap = _gap(photo.taken_at, each)
        if gap is None or abs(gap) > WITHIN_S:
            continue
        for rank, label in enumerate(each.labels):
            score = abs(gap) * (NAMED_PHOTO if each.names_photo else 1) + ASIDE_S * ((rank > 0) + each.to_come)
            found.append(Candidate(label, each, gap, score))
    return sorted(found, key=lambda each: (each.score, each.spoken.note))


def _gap(taken: datetime | None, each: Spoken) -> float | None:
    if taken is None or each.start is None or each.end is None:
        return None
    if taken < each.start:
        return (taken - each.start).total_seconds()
    return max((taken - each.end).total_seconds(), 0.0)


def _reason(photo: Photo, chosen: Candidate) -> str:
    if not chosen.gap_s:
        where = "during"
    else:
        side = "after" if chosen.gap_s > 0 else "before"
        where = f"{_span(abs(chosen.gap_s))} {side}"
    named = ", which names a photo" if chosen.spoken.names_photo else ""
    return f"taken {photo.taken_at:%H:%M:%S}, {where} note {chosen.spoken.note} about {chosen.label}{named}"


def _span(seconds: float) -> str:
    whole = round(seconds)
    return f"{whole} s" if whole < 120 else f"{whole // 60} min {whole % 60} s"


# -- by place


def _sighted(photo: Photo, near: list[Candidate], told: Told | None) -> list[Sighting]:
    place = _place(photo)
    sure = near[0].label if near and abs(near[0].gap_s) <= SURE_S else None
    label = told.shows if told else sure
    return [Sighting(photo.number, label, place)] if place and label else []


def _place(photo: Photo) -> Place | None:
    if photo.lat is None or photo.lon is None:
        return None
    return Place(photo.lat, photo.lon, PHONE_ERROR_M if photo.gps_error_m is None else photo.gps_error_m)


def _by_place(photo: Photo, near: list[Candidate], sightings: list[Sighting], record: Record) -> tuple[Candidate, str]:
    """The candidate that stands, with the reason where GPS overrules the nearest in time."""
    first, here = near[0], _place(photo)
    if here is None:
        return first, ""
    others = [sighting for sighting in sightings if sighting.photo != photo.number]
    far = _distance(here, first.label, others, record)
    if far is None or not far[1]:
        return first, ""
    for other in near[1:]:
        found = _distance(here, other.label, others, record)
        if found and not found[1] and other.label != first.label:
            place = f"; by GPS {found[0]:.0f} m from {other.label} but {far[0]:.0f} m from {first.label}"
            return other, f"{place}, which was spoken of nearer in time"
    return first, ""


def _distance(here: Place, label: str, sightings: list[Sighting], record: Record) -> tuple[float, bool] | None:
    """Metres from a label's place, and whether that is beyond all errors; None where its place is not known."""
    seen = [sighting.place for sighting in sightings if sighting.label == label]
    if len(seen) < 2:
        return None
    middle = Place(median(p.lat for p in seen), median(p.lon for p in seen), max(p.error_m for p in seen))
    reach = APART_M + _half_length(label, record)
    if any(_metres(middle, place) > middle.error_m + place.error_m + reach for place in seen):
        return None
    apart = _metres(here, middle)
    return apart, apart > here.error_m + middle.error_m + reach


def _half_length(label: str, record: Record) -> float:
    """Metres: photos of a long run are taken all along it."""
    entry = record.subject(label)
    return (entry.length_ft or 0) * FOOT_M / 2 if isinstance(entry, Run) else 0.0


def _metres(a: Place, b: Place) -> float:
    return float(Geodesic.WGS84.Inverse(a.lat, a.lon, b.lat, b.lon)["s12"])


# -- before the work, open or closed


def _before_work(photo: Photo, last: datetime | None) -> bool:
    """Whether it was taken no later than that note."""
    if photo.taken_at is None or last is None or photo.time_source.startswith(MODIFIED):
        return False
    return photo.taken_at <= last and photo.backfill != "after"


def _last_before_work(spoken: Sequence[Spoken], record: Record) -> datetime | None:
    """The end of the last note about the things of the record ahead of the first that tells of work done; None where
    there is none. A crew that says nothing before it digs leaves it open what a photo from before that note shows."""
    built = {each.label for each in things(record) if each.state in BUILT}
    dealt_with = [each for each in record.issues if each.action and each.action not in NOT_OURS]
    done = {item.note for each in dealt_with for item in each.evidence if item.field == "action"}
    timed = [(each.start, each.end, each) for each in spoken if each.start and each.end and each.labels]
    work = [start for start, _, each in timed if each.note in done or (built & {*each.labels} and not each.to_come)]
    return max((end for start, end, _ in timed if work and start < min(work)), default=None)


def _backfill(photo: Photo, label: str, spoken: Iterable[Spoken]) -> Literal["before", "after", "unknown"]:
    """Against the first note that says the thing is backfilled; a time that copying may have changed proves nothing."""
    moments = [each.start for each in spoken if label in each.backfilled and each.start]
    if not moments or photo.taken_at is None or photo.time_source.startswith(MODIFIED):
        return "unknown"
    return "before" if photo.taken_at < min(moments) else "after"
