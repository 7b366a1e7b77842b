"""Moments: zones, the time in a file's name, and when a recording began."""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta, timezone

from extract.errors import UsageError
from reports.days import FIRST_DAY, LAST_DAY

ZONE = re.compile(r"([+-])(0\d|1[0-4]):([0-5]\d)")
NAMED = re.compile(
    r"(?<!\d)(?P<year>20\d\d)([-_.]?)(?P<month>\d\d)\2(?P<day>\d\d)"
    r"(?:[ T_-]{1,3}(?:at )?(?P<hour>\d\d|\d(?=[-_.:h]))([-_.:h]?)(?P<minute>\d\d)\6(?P<second>\d\d)(?!\d)"
    r"\s?(?P<half>[ap]m)?)?",
    re.IGNORECASE,
)
"""`2026-05-14 07.42.10`, `20260514_074210`, `Recording 2026-05-14T074210`; or a day alone."""

MODIFIED = "file modification time"
"""A time that copying may have changed; nothing that matters should rest on it."""
BY_RECORDER = "the clock of the page or program that made it"


@dataclass(frozen=True)
class When:
    at: datetime
    """Aware, in the job's zone."""
    source: str
    """Where it came from, in words."""


def timezone_of(zone: str) -> timezone:
    """The offset `-05:00` as a timezone. Raises UsageError for anything else."""
    match = ZONE.fullmatch(zone)
    if not match:
        raise UsageError(f"{zone!r} is no offset from UTC; write it as -05:00")
    offset = timedelta(hours=int(match[2]), minutes=int(match[3]))
    return timezone(-offset if match[1] == "-" else offset)


def machine_zone(day: date) -> str:
    """This machine's offset from UTC on that day, such as `-05:00`."""
    offset = f"{datetime.combine(day, time(12)).astimezone():%z}"
    return f"{offset[:3]}:{offset[3:5]}"


def aware(moment: datetime, zone: timezone) -> datetime:
    """The moment in that zone; a naive one is taken as the zone's own."""
    if moment.tzinfo is None:
        return moment.replace(tzinfo=zone)
    try:
        return moment.astimezone(zone)
    except OverflowError:  # at the very end of the calendar no zone is left to go to
        return moment


def named_time(name: str) -> datetime | None:
    """The day and time in a file's name, naive; None where it holds none."""
    for match in NAMED.finditer(name):
        if match["hour"]:
            try:
                return _moment(match)
            except ValueError:
                continue
    return None


def named_day(name: str) -> date | None:
    """The day in a file's name, or None."""
    for match in NAMED.finditer(name):
        try:
            return date(int(match["year"]), int(match["month"]), int(match["day"]))
        except ValueError:
            continue
    return None


def _moment(match: re.Match[str]) -> datetime:
    year, month, day, hour, minute, second = (
        int(match[part]) for part in ("year", "month", "day", "hour", "minute", "second")
    )
    if match["half"]:
        if not 1 <= hour <= 12:
            raise ValueError(f"no hour {hour} on a twelve-hour clock")
        hour = hour % 12 + (12 if match["half"].lower() == "pm" else 0)
    return datetime(year, month, day, hour, minute, second)


def sound_start(started_at: datetime | None, name: str, modified: datetime, length_s: float, zone: timezone) -> When:
    """When a recording began: by its container, else its name, else its file (last written when it ended)."""
    if started_at:
        return When(aware(started_at, zone), "the recording's own metadata")
    named = named_time(name)
    if named:
        return When(aware(named, zone), "file name")
    began = aware(modified, zone) - timedelta(seconds=length_s)
    return When(began, f"{MODIFIED} less the recording's length")


def typed_moment(text: str, day: date, zone: timezone) -> datetime:
    """A moment as typed: `14:05` or `14:05:30` on the job's day, or a whole date and time. Raises UsageError."""
    try:
        if "T" in text or text.count("-") >= 2:
            moment = datetime.fromisoformat(text)
            _bounded(moment)
            return aware(moment, zone)
        hour = text.partition(":")[0]
        return datetime.combine(day, time.fromisoformat(text if len(hour) != 1 else f"0{text}"), zone)
    except ValueError as error:
        raise UsageError(f"{text!r} is no time; write 14:05, 14:05:30 or 2026-05-14T14:05:30") from error


def typed_day(text: str) -> date:
    """A day as typed, `2026-05-14`, of the years 2000 to 2100. Raises UsageError."""
    try:
        day = datetime.strptime(text, "%Y-%m-%d").date()
        _bounded(day)
    except ValueError as error:
        raise UsageError(f"{text!r} is no day of this work; write the day as 2026-05-14") from error
    return day


def in_range(moment: datetime) -> bool:
    """Whether a clock that says so can be right."""
    return FIRST_DAY <= moment.date() <= LAST_DAY


def _bounded(day: date) -> None:
    if not FIRST_DAY <= date(day.year, day.month, day.day) <= LAST_DAY:
        raise ValueError(f"no crew was out in the year {day.year}")
