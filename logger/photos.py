"""Photos: what their EXIF says, when they were taken, and an upright copy for the page.

Everything in a photo's file is a stranger's word: only three formats are opened, every picture is decoded whole, and
broken EXIF costs nothing but itself. Pixels and EXIF of the original are never changed.
"""

from __future__ import annotations

import io
import math
import warnings
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from typing import TYPE_CHECKING, Any

from extract.errors import FallbookError
from extract.record import Model
from logger.times import ZONE

if TYPE_CHECKING:
    from PIL import Image

FORMATS = ("JPEG", "PNG", "HEIF")
"""Pillow's JPEG reader opens the several-pictures form of JPEG too."""
READER = "1"
"""Count up when reading changes, so that kept facts are read again."""
LONGEST_PX = 1600
QUALITY = 85

# Tags of Exif 2.32 (CIPA DC-008-2019), sections 4.6.4 to 4.6.6; numbers from memory, checked against exiftool.
MAKE, MODEL, ORIENTATION, EXIF_IFD, GPS_IFD = 0x010F, 0x0110, 0x0112, 0x8769, 0x8825
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
    with _opened(path, name or str(path)) as image:
        return _facts(image)


def upright_jpeg(path: Path, name: str | None = None) -> bytes:
    """The picture as a person holds it, as baseline JPEG of at most LONGEST_PX, with no metadata. Raises as above."""
    from PIL import Image

    with _opened(path, name or str(path)) as image:
        turn = None if image.format == "HEIF" else _turns().get(_facts(image).orientation)
        flat = _on_white(image)
        flat.thumbnail((LONGEST_PX, LONGEST_PX), Image.Resampling.LANCZOS)
        if turn is not None:
            flat = flat.transpose(turn)
        out = io.BytesIO()
        flat.save(out, format="JPEG", quality=QUALITY, optimize=True, progressive=False)
    return out.getvalue()


@contextmanager
def _opened(path: Path, name: str) -> Iterator[Image.Image]:
    import pillow_heif
    from PIL import Image

    pillow_heif.register_heif_opener()
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            warnings.simplefilter("error", Image.DecompressionBombWarning)
            image = Image.open(path, formats=FORMATS)
            image.load()
    except (Image.DecompressionBombWarning, Image.DecompressionBombError) as error:
        limit = (Image.MAX_IMAGE_PIXELS or 0) // 1_000_000
        raise FallbookError(f"{name}: more than {limit} million pixels; save a smaller copy and take that") from error
    except Exception as error:  # decoders raise anything on hostile bytes
        raise FallbookError(
            f"{name}: the picture is cut off or damaged; copy it from the phone or camera again"
        ) from error
    with image:
        yield image


def _turns() -> dict[int, Image.Transpose]:
    from PIL.Image import Transpose

    # Exif 2.32, 4.6.4 A, Orientation: what undoes each tag. Pillow's own helper fails on broken EXIF.
    return {
        2: Transpose.FLIP_LEFT_RIGHT,
        3: Transpose.ROTATE_180,
        4: Transpose.FLIP_TOP_BOTTOM,
        5: Transpose.TRANSPOSE,
        6: Transpose.ROTATE_270,
        7: Transpose.TRANSVERSE,
        8: Transpose.ROTATE_90,
    }


def _on_white(image: Image.Image) -> Image.Image:
    from PIL import Image

    if not image.has_transparency_data:
        return image.convert("RGB")
    layer = image.convert("RGBA")
    return Image.alpha_composite(Image.new("RGBA", layer.size, "white"), layer).convert("RGB")


def _facts(image: Image.Image) -> PhotoFacts:
    main, shot, gps, broken = _tags(image)
    lat, lon = _place(gps)
    orientation: Any = image.info.get("original_orientation") or main.get(ORIENTATION)
    return PhotoFacts(
        taken=_moment(_text(shot.get(TAKEN))),
        offset=_offset(_text(shot.get(OFFSET))),
        gps_time=_gps_time(gps),
        lat=lat,
        lon=lon,
        gps_error_m=_within(gps.get(GPS_ERROR), 0, 100_000),
        heading_deg=_within(gps.get(HEADING), 0, 360),
        orientation=orientation if orientation in range(1, 9) else 1,
        device=" ".join(filter(None, [_text(main.get(MAKE)), _text(main.get(MODEL)), _text(shot.get(SERIAL))])) or None,
        broken=broken,
    )


def _tags(image: Image.Image) -> tuple[dict[int, Any], dict[int, Any], dict[int, Any], bool]:
    """The main, Exif and GPS tags, and whether any of the three could not be read."""
    from PIL.Image import Exif

    raw = image.info.get("exif")
    if not raw:
        return {}, {}, {}, False
    read: list[dict[int, Any]] = [{}, {}, {}]
    broken = False
    with warnings.catch_warnings(record=True) as warned:  # where Pillow cannot follow, it warns and reads on
        warnings.simplefilter("always")
        for index, ifd in enumerate((None, EXIF_IFD, GPS_IFD)):
            try:
                tags = Exif()  # not the image's own, which keeps quiet about damage once it has met it
                tags.load(raw)
                read[index] = dict(tags if ifd is None else tags.get_ifd(ifd))
            except Exception:  # a stranger's bytes raise anything; the photo goes in, with a warning
                broken = True
    return read[0], read[1], read[2], broken or bool(warned)


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
