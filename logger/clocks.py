"""When each photo was taken: the camera's clock, held against the GPS time that some photos carry."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta, timezone
from statistics import median

from logger.photos import PhotoFacts
from logger.times import BY_RECORDER, MODIFIED, When, aware, named_time, timezone_of

TOLERANCE_S = 90
"""A clock this near to GPS time is left alone: a fix may be a minute old (common practice)."""


@dataclass(frozen=True)
class Shot:
    """A photo's facts with its file's name and modification time (aware)."""

    facts: PhotoFacts
    name: str
    modified: datetime
    told: datetime | None = None
    """When the page that it was made in says that it was taken (aware)."""


def taken_times(shots: Sequence[Shot], zone: timezone) -> list[When]:
    """When each was taken, in the job's zone: EXIF, corrected where a device's clock is off, else GPS, its page, its
    name or its file."""
    slow = _slow_clocks(shots, zone)
    return [_taken(shot, zone, slow.get(shot.facts.device)) for shot in shots]


def _taken(shot: Shot, zone: timezone, slow_s: float | None) -> When:
    facts = shot.facts
    if facts.taken:
        return _corrected(shot, zone, slow_s)
    if facts.gps_time:
        return When(aware(facts.gps_time, zone), "GPS time")
    if shot.told:
        return When(aware(shot.told, zone), BY_RECORDER)
    named = named_time(shot.name)
    if named:
        return When(aware(named, zone), "file name, the job's zone assumed")
    return When(aware(shot.modified, zone), MODIFIED)


def _corrected(shot: Shot, zone: timezone, slow_s: float | None) -> When:
    own = _own_clock(shot.facts, zone)
    source = "EXIF time and offset" if shot.facts.offset else "EXIF time, the job's zone assumed"
    if slow_s is None:
        return When(own, source)
    gap = _behind_s(shot.facts, zone)
    if gap is not None and abs(gap - slow_s) > TOLERANCE_S:
        return When(own, f"{source}; its GPS time disagrees with this device's other photos, not corrected")
    how = f"camera clock {_span(abs(slow_s))} {'slow' if slow_s > 0 else 'fast'} against GPS time, corrected"
    return When(own + timedelta(seconds=slow_s), f"EXIF time, {how}")


def _slow_clocks(shots: Sequence[Shot], zone: timezone) -> dict[str | None, float]:
    """Seconds by which each device's clock is behind GPS time (ahead: negative), where it is off at all."""
    gaps: dict[str | None, list[float]] = defaultdict(list)
    for shot in shots:
        gap = _behind_s(shot.facts, zone)
        if gap is not None and shot.facts.device:
            gaps[shot.facts.device].append(gap)
    middles = {device: float(median(each)) for device, each in gaps.items()}
    return {device: middle for device, middle in middles.items() if abs(middle) > TOLERANCE_S}


def _behind_s(facts: PhotoFacts, zone: timezone) -> float | None:
    if not facts.gps_time or not facts.taken:
        return None
    return (facts.gps_time - _own_clock(facts, zone)).total_seconds()


def _own_clock(facts: PhotoFacts, zone: timezone) -> datetime:
    if facts.taken is None:
        raise ValueError("a photo without EXIF time has no clock")
    own = timezone_of(facts.offset) if facts.offset else zone
    return facts.taken.replace(tzinfo=own).astimezone(zone)


def _span(seconds: float) -> str:
    minutes = round(seconds / 60)
    return f"{minutes} min" if minutes < 120 else f"{minutes // 60} h {minutes % 60} min"
