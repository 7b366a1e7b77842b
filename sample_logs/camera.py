"""A picture as a phone would have written it: turned pixels, clock, place, JPEG or HEIC."""

from __future__ import annotations

import math
import shutil
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

from PIL import Image

from sample_logs.scenes import SIZE, make_scene
from sample_logs.script import Day, Photo

FOOT = 0.3048
METRES_A_DEGREE = 111_195.0
"""Of latitude, on a sphere of 6371 km: near enough to put an invented yard on an invented spot."""
TURNS = {
    1: None,
    3: Image.Transpose.ROTATE_180,
    6: Image.Transpose.ROTATE_90,
    8: Image.Transpose.ROTATE_270,
}
"""How upright pixels are stored for each orientation tag (Exif 2.32, tag 0x0112)."""


def take_photo(day: Day, photo: Photo, folder: Path) -> Path:
    """Write one photo of the day into the folder and return its path."""
    path = folder / photo.file
    if photo.copy_of:
        shutil.copyfile(folder / photo.copy_of, path)
        return path
    return write_photo(stored(upright(photo), photo.orientation), exif(day, photo), path)


def upright(photo: Photo, shrink: int = 1) -> Image.Image:
    """The picture as a person sees it; `shrink` divides its size."""
    long, short = SIZE[0] // shrink, SIZE[1] // shrink
    size = (short, long) if photo.orientation in (6, 8) else (long, short)
    return make_scene(photo.scene, photo.options, size)


def stored(image: Image.Image, orientation: int) -> Image.Image:
    """The pixels as the sensor lay: only the orientation tag tells which way is up."""
    turn = TURNS[orientation]
    return image.transpose(turn) if turn is not None else image


def write_photo(image: Image.Image, tags: bytes, path: Path) -> Path:
    """Save as HEIC or JPEG, by the name's ending."""
    if path.suffix.upper() == ".HEIC":
        import pillow_heif

        pillow_heif.register_heif_opener()
        image.save(path, format="HEIF", quality=60, exif=tags)
    else:
        image.save(path, format="JPEG", quality=80, optimize=True, exif=tags)
    return path


def exif(day: Day, photo: Photo) -> bytes:
    """The Exif block: the camera's own clock, the true GPS time, and the place where there was a fix."""
    import piexif

    camera, moment = day.camera[photo.camera], day.moment(photo.at)
    clock = f"{moment - timedelta(seconds=camera.slow_s):%Y:%m:%d %H:%M:%S}"
    first = {
        piexif.ImageIFD.Make: camera.make,
        piexif.ImageIFD.Model: camera.model,
        piexif.ImageIFD.Orientation: photo.orientation,
        piexif.ImageIFD.DateTime: clock,
        piexif.ImageIFD.ImageDescription: "Drawn by code for an invented job",
    }
    shot = {
        piexif.ExifIFD.DateTimeOriginal: clock,
        piexif.ExifIFD.DateTimeDigitized: clock,
        piexif.ExifIFD.OffsetTimeOriginal: day.zone,
    }
    return bytes(piexif.dump({"0th": first, "Exif": shot, "GPS": _gps(day, photo, moment)}))


def _gps(day: Day, photo: Photo, moment: datetime) -> dict[int, Any]:
    import piexif

    if photo.place is None:
        return {}
    tag, utc = piexif.GPSIFD, moment.astimezone(UTC)
    lat, lon = place_on_earth(day, photo.place)
    return {
        tag.GPSVersionID: (2, 3, 0, 0),
        tag.GPSLatitudeRef: "N" if lat >= 0 else "S",
        tag.GPSLatitude: _degrees(lat),
        tag.GPSLongitudeRef: "E" if lon >= 0 else "W",
        tag.GPSLongitude: _degrees(lon),
        tag.GPSDateStamp: f"{utc:%Y:%m:%d}",
        tag.GPSTimeStamp: ((utc.hour, 1), (utc.minute, 1), (utc.second, 1)),
        tag.GPSHPositioningError: (round((photo.error_m or 0) * 100), 100),
        tag.GPSImgDirectionRef: "T",
        tag.GPSImgDirection: (round((photo.heading or 0) * 100), 100),
    }


def place_on_earth(day: Day, place: tuple[float, float]) -> tuple[float, float]:
    """Latitude and longitude, degrees, of a place given in feet east and north of the site's origin."""
    east, north = place[0] * FOOT, place[1] * FOOT
    lat = day.site.lat + north / METRES_A_DEGREE
    return lat, day.site.lon + east / (METRES_A_DEGREE * math.cos(math.radians(lat)))


def _degrees(angle: float) -> tuple[tuple[int, int], ...]:
    """Degrees, minutes and seconds as Exif's three unsigned fractions."""
    seconds = round(abs(angle) * 3600 * 10000)
    minutes, seconds = divmod(seconds, 60 * 10000)
    return (minutes // 60, 1), (minutes % 60, 1), (seconds, 10000)
