"""Debian's exiftool, a second reader of EXIF, on the same photo files."""

import json
import shutil
import subprocess
from datetime import UTC, datetime

import pytest

from logger.photos import read_photo

pytestmark = [
    pytest.mark.outside,
    pytest.mark.skipif(
        shutil.which("exiftool") is None, reason="Debian package libimage-exiftool-perl is not installed"
    ),
]
TAGS = [
    "EXIF:DateTimeOriginal",
    "EXIF:OffsetTimeOriginal",
    "EXIF:Orientation",
    "EXIF:Make",
    "EXIF:GPSHPositioningError",
    "EXIF:GPSImgDirection",
    "EXIF:GPSDateStamp",
    "EXIF:GPSTimeStamp",
    "Composite:GPSLatitude",
    "Composite:GPSLongitude",
]


def exiftool(path) -> dict[str, object]:
    command = ["exiftool", "-n", "-j", "-G0", *(f"-{tag}" for tag in TAGS), str(path)]
    return json.loads(subprocess.run(command, capture_output=True, check=True).stdout)[0]


SPOTS = [
    {"gps": (41.523456, -93.254321), "heading": 0.5, "error_m": 4.7},
    {"gps": (-33.000001, 151.999999), "heading": 359.25, "error_m": 12.34},
    {"gps": (0.0, -0.5), "heading": 180, "error_m": 65},
    {"gps": (-89.9, 179.9), "heading": None, "error_m": None},
    {"gps": None},
    {"gps": (41.5, -93.25), "gps_utc": "2026:05:14 14:41:38"},
    {"gps": (41.5, -93.25), "gps_utc": "2026:05:15 00:00:00"},
    {"taken": None, "offset": None},
    {"taken": "2026:12:31 23:59:59", "offset": "+05:45"},
]


@pytest.mark.parametrize("name", ["a.jpg", "a.heic", "a.png"])
@pytest.mark.parametrize("spot", SPOTS)
def test_both_read_the_same_of_a_photo(make_photo, name, spot):
    path = make_photo(name, **spot)
    ours, theirs = read_photo(path), exiftool(path)
    assert (f"{ours.taken:%Y:%m:%d %H:%M:%S}" if ours.taken else None) == theirs.get("EXIF:DateTimeOriginal")
    assert ours.offset == theirs.get("EXIF:OffsetTimeOriginal")
    assert ours.device == theirs["EXIF:Make"]
    for value, tag in [
        (ours.lat, "Composite:GPSLatitude"),
        (ours.lon, "Composite:GPSLongitude"),
        (ours.gps_error_m, "EXIF:GPSHPositioningError"),
        (ours.heading_deg, "EXIF:GPSImgDirection"),
    ]:
        assert (value is None) == (tag not in theirs), tag
        assert value is None or value == pytest.approx(theirs[tag], abs=1e-7), tag
    assert ours.gps_time == gps_time(theirs)


def gps_time(theirs: dict[str, object]) -> datetime | None:
    if "EXIF:GPSTimeStamp" not in theirs:
        return None
    both = f"{theirs['EXIF:GPSDateStamp']} {theirs['EXIF:GPSTimeStamp']}"
    return datetime.strptime(both, "%Y:%m:%d %H:%M:%S").replace(tzinfo=UTC)


@pytest.mark.parametrize("name", ["a.jpg", "a.heic", "a.png"])
@pytest.mark.parametrize("orientation", range(1, 9))
def test_both_read_the_same_orientation(make_photo, name, orientation):
    path = make_photo(name, orientation=orientation)
    assert read_photo(path).orientation == exiftool(path)["EXIF:Orientation"]
