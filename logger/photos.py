"""Photos: what their EXIF says, and when they were taken. Broken EXIF costs nothing but itself."""

from __future__ import annotations

import math
from collections.abc import Mapping
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from typing import TYPE_CHECKING, Any

from extract.record import Model
from logger.pictures import opened, orientation, tags
from logger.times import ZONE

if TYPE_CHECKING:
    from PIL import Image

READER = "1"
"""Count up when reading changes, so that kept facts are read again."""

# Tags of Exif 2.32 (CIPA DC-008-2019), sections 4.6.4 to 4.6.6; numbers from memory, checked against exiftool.
MAKE, MODEL, EXIF_IFD, GPS_IFD = 0x010F, 0x0110, 0x8769, 0x8825
TAKEN, OFFSET, SERIAL = 0x9003, 0x9011, 0xA431
LAT_REF, LAT, LON_REF, LON, GPS_TIME, HEADING, GPS_DATE, GPS_ERROR = 1, 2, 3, 4, 7, 17, 29, 31


class PhotoFacts(Model):
    """What a photo's file says of itself. None is "not recorded"."""

    taken: datetime | None = None
    """By the camera's own clock, naive."""
    offset: str | None = None
    """The clock's offset from UTC, `-05:00`."""
    gps_time: datetime | None = None
    """Aware, UTC."""
    lat: float | None = None
    lon: float | None = None
    """Degrees, north and east positive."""
    gps_error_m: float | None = None
    heading_deg: float | None = None
    orientation: int = 1
    """As tagged, 1 to 8; in HEIC the tag only informs, the pixels come upright."""
    device: str | None = None
    """Make, model and serial number."""
    broken: bool = False
    """There is EXIF, and some of it cannot be read."""


def read_photo(path: Path, name: str | None = None) -> PhotoFacts:
    """Decode the whole picture and read its EXIF.

    `name` stands for the path in messages. Raises FallbookError for what is no whole picture of a known format.
    """
    with opened(path, name or str(path)) as image:
        return _facts(image)


def _facts(image: Image.Image) -> PhotoFacts:
    (main, bad), (shot, bad_shot), (gps, bad_gps) = tags(image), tags(image, EXIF_IFD), tags(image, GPS_IFD)
    lat, lon = _place(gps)
    return PhotoFacts(
        taken=_moment(_text(shot.get(TAKEN))),
        offset=_offset(_text(shot.get(OFFSET))),
        gps_time=_gps_time(gps),
        lat=lat,
        lon=lon,
        gps_error_m=_within(gps.get(GPS_ERROR), 0, 100_000),
        heading_deg=_within(gps.get(HEADING), 0, 360),
        orientation=orientation(image, main),
        device=" ".join(filter(None, [_text(main.get(MAKE)), _text(main.get(MODEL)), _text(shot.get(SERIAL))])) or None,
        broken=bad or bad_shot or bad_gps,
    )


def _text(value: object) -> str | None:
    if isinstance(value, bytes):
        value = value.decode("ascii", "replace")
    return value.split("\0")[0].strip() or None if isinstance(value, str) else None


def _moment(text: str | None) -> datetime | None:
    try:
        return datetime.strptime(text or "", "%Y:%m:%d %H:%M:%S")
    except ValueError:
        return None


def _offset(text: str | None) -> str | None:
    return text if text and ZONE.fullmatch(text) else None


def _number(value: Any) -> float | None:
    """A finite number, or None: a camera with no reading writes nought over nought."""
    try:
        number = float(value)
    except (TypeError, ValueError, ZeroDivisionError, OverflowError):
        return None
    return number if math.isfinite(number) else None


def _within(value: Any, low: float, high: float) -> float | None:
    number = _number(value)
    return number if number is not None and low <= number <= high else None


def _sixties(value: Any) -> float | None:
    """Degrees, minutes and seconds, or hours, minutes and seconds, as one number; None where any part is amiss."""
    if not isinstance(value, tuple) or len(value) != 3:
        return None
    parts = [_within(value[0], 0, 180), _within(value[1], 0, 60), _within(value[2], 0, 60)]
    return sum((part or 0) / 60**place for place, part in enumerate(parts)) if None not in parts else None


def _place(gps: Mapping[int, Any]) -> tuple[float | None, float | None]:
    """Latitude and longitude, or None for both: a place is recorded only where values and sides are all there."""
    lat, lon = _sixties(gps.get(LAT)), _sixties(gps.get(LON))
    north, east = _text(gps.get(LAT_REF)), _text(gps.get(LON_REF))
    if lat is None or lon is None or north not in ("N", "S") or east not in ("E", "W"):
        return None, None
    if lat > 90 or lon > 180 or lat == lon == 0:
        return None, None
    return (-lat if north == "S" else lat), (-lon if east == "W" else lon)


def _gps_time(gps: Mapping[int, Any]) -> datetime | None:
    hours, day = _sixties(gps.get(GPS_TIME)), _text(gps.get(GPS_DATE))
    if hours is None or hours >= 24 or not day:
        return None
    try:
        midnight = date.fromisoformat(day.replace(":", "-"))
    except ValueError:
        return None
    start = datetime.combine(midnight, datetime.min.time(), UTC)
    return start + timedelta(seconds=round(hours * 3600))
