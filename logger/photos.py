"""Photos: what their EXIF says, when they were taken, and an upright copy for the page.

Everything in a photo's file is a stranger's word: only three formats are opened, of no more pixels than memory holds;
every picture is decoded to its end, and broken EXIF costs nothing but itself. Pixels and EXIF of the original are never
changed.
"""

from __future__ import annotations

import io
import math
import warnings
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from typing import TYPE_CHECKING, Any, BinaryIO

from extract.errors import FallbookError
from extract.record import Model
from logger.times import ZONE

if TYPE_CHECKING:
    from PIL import Image

FORMATS = ("JPEG", "PNG", "HEIF")
"""Pillow's JPEG reader opens the several-pictures form of JPEG too."""
MOST_MP = {"JPEG": 250, "MPO": 250, "PNG": 100, "HEIF": 110}
"""Million pixels at most, so that all stays under 900 MB. A JPEG is shrunk while it is decoded and takes next to none;
a PNG takes 4 bytes a pixel; a HEIC as phones make it 7.2 (pillow_heif 1.8, 108 million pixels: 785 MB)."""
MOST_PROGRESSIVE_MP = 100
"""A progressive JPEG takes 3 to 8 bytes a pixel, as all of it is held until its end; no phone makes one."""
BIGGEST_MB = 250
"""Of a file. Of a HEIC the whole is read at once, of the others what stands before the picture."""
MOST_HEAD_MB = 20
"""Of a JPEG before its picture: Pillow joins pieces of EXIF one by one, which for 200 MB takes over five minutes."""
LONGEST_EXIF = 65_536
"""Bytes of EXIF that are read. A JPEG's segment holds no more (Exif 2.32, 4.5.2); a byte may unpack to eight."""
BAND = 64
"""Rows of a shrunk picture that are made at once."""
READER = "1"
"""Count up when reading changes, so that kept facts are read again."""
LONGEST_PX = 1600
"""Of the copy for the page."""
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
    with _opened(path, name or str(path)) as image:
        turn = None if image.format == "HEIF" else _turns().get(_facts(image).orientation)
        flat = _on_white(_shrunk(image))
        if turn is not None:
            flat = flat.transpose(turn)
        out = io.BytesIO()
        flat.save(out, format="JPEG", quality=QUALITY, optimize=True, progressive=False)
    return out.getvalue()


@contextmanager
def _opened(path: Path, name: str) -> Iterator[Image.Image]:
    """The picture, decoded to its end: a JPEG at the smallest size that a page needs."""
    import pillow_heif
    from PIL import Image

    pillow_heif.register_heif_opener(decode_threads=1)  # each thread holds pieces of its own
    Image.MAX_IMAGE_PIXELS = MOST_MP["JPEG"] * 1_000_000  # Pillow's own limit is under what phones make
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            _check_bytes(path, name)
            with Image.open(path, formats=FORMATS) as image:
                _check_size(image, name)
                if image.format in ("JPEG", "MPO"):  # a HEIC's would give its thumbnail, and not look at the picture
                    image.draft(None, _page_size(image))
                image.load()
                yield image
    except FallbookError:
        raise
    except Image.DecompressionBombError as error:
        raise _too_large(name, MOST_MP["JPEG"]) from error
    except Exception as error:  # decoders raise anything on hostile bytes
        if isinstance(error, MemoryError) or "Memory allocation" in str(error):  # libheif has no error of its own
            raise FallbookError(f"{name}: takes too much memory; save a smaller copy and take that") from error
        raise FallbookError(
            f"{name}: the picture is cut off or damaged; copy it from the phone or camera again"
        ) from error


def _check_bytes(path: Path, name: str) -> None:
    """Before any of it is read. Raises FallbookError."""
    if path.stat().st_size > BIGGEST_MB * 1_000_000:
        raise FallbookError(f"{name}: larger than {BIGGEST_MB} MB; save a smaller copy and take that")
    with path.open("rb") as file:
        if _head_length(file) > MOST_HEAD_MB * 1_000_000:
            raise FallbookError(
                f"{name}: more than {MOST_HEAD_MB} MB stand before the picture; save it again as JPEG and take that"
            )


def _head_length(file: BinaryIO) -> int:
    """Bytes of a JPEG before its picture, or as far as its segments can be followed; 0 for any other format."""
    if file.read(2) != b"\xff\xd8":
        return 0
    at = 2
    while at <= MOST_HEAD_MB * 1_000_000:
        file.seek(at)
        mark = file.read(4)
        if len(mark) < 4 or mark[0] != 0xFF or mark[1] == 0xDA:  # the picture begins
            break
        at += 1 if mark[1] == 0xFF else 2 + max(2, int.from_bytes(mark[2:], "big"))
    return at


def _check_size(image: Image.Image, name: str) -> None:
    """By the header alone. Raises FallbookError."""
    limit = MOST_MP[image.format or ""]
    if image.info.get("progressive"):
        limit = min(limit, MOST_PROGRESSIVE_MP)
    if image.width * image.height > limit * 1_000_000:
        raise _too_large(name, limit)


def _too_large(name: str, limit: int) -> FallbookError:
    return FallbookError(f"{name}: more than {limit} million pixels; save a smaller copy and take that")


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


def _page_size(image: Image.Image) -> tuple[int, int]:
    share = min(1, LONGEST_PX / max(image.size))
    return max(1, int(image.width * share)), max(1, int(image.height * share))


def _shrunk(image: Image.Image) -> Image.Image:
    """At most LONGEST_PX, as RGB or RGBA; band by band, as a copy of the whole would take as much memory again."""
    from PIL import Image

    mode = "RGBA" if image.has_transparency_data else "RGB"
    times = max(1, max(image.size) // (2 * LONGEST_PX))
    small = Image.new(mode, (math.ceil(image.width / times), math.ceil(image.height / times)))
    for top in range(0, image.height, BAND * times):
        band = image.crop((0, top, image.width, min(top + BAND * times, image.height)))
        small.paste(band.convert(mode).reduce(times), (0, top // times))
    small.thumbnail((LONGEST_PX, LONGEST_PX), Image.Resampling.BICUBIC)
    return small


def _on_white(image: Image.Image) -> Image.Image:
    from PIL import Image

    if image.mode == "RGB":
        return image
    return Image.alpha_composite(Image.new("RGBA", image.size, "white"), image).convert("RGB")


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

    raw = (image.info.get("exif") or b"")[:LONGEST_EXIF]
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
