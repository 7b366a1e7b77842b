"""Pictures: opened safely, and an upright copy for the page.

Everything in a picture's file is a stranger's word: only three formats are opened, of no more pixels than memory holds;
every picture is decoded to its end, and broken EXIF costs nothing but itself. Pixels and EXIF of the original are never
changed. What the EXIF means is for `logger.photos`: to load that takes longer than to decode a picture.
"""

from __future__ import annotations

import io
import math
import warnings
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Any, BinaryIO

from extract.errors import FallbookError, UsageError

if TYPE_CHECKING:
    from PIL import Image

JPEG_START = b"\xff\xd8"
FORMATS = ("JPEG", "PNG", "HEIF")
"""Pillow's JPEG reader opens the several-pictures form of JPEG too."""
MOST_MP = {"JPEG": 250, "MPO": 250, "PNG": 100, "HEIF": 201}
"""Million pixels at most, so that all stays within a worker's memory. A JPEG is shrunk while it is decoded and takes
next to none; a PNG takes 4 bytes a pixel; a HEIC as phones make it 4.5 (pillow_heif 1.8; 200 million: 905 MB)."""
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
LONGEST_PX = 1600
"""Of the copy for the page of `serve`."""
PAPER_PX = 1000
"""Of the copy for a report: over 300 to an inch of a photo in the grid, 150 across the page. At 1600 the report of a
job with 60 photos weighs 27 MB, and takes twice as long."""
QUALITY, SMALL_QUALITY = 85, 70
LOGO_PX, LOGO_COLOURS = (520, 160), 64
"""200 to an inch where it stands; each job of the firm keeps a copy, which is so some kilobytes."""
MOST_LOGO_MB, MOST_LOGO_MP = 10, 25
ORIENTATION = 0x0112
"""Exif 2.32 (CIPA DC-008-2019), 4.6.4 A."""


def upright_jpeg(path: Path, name: str | None = None, longest_px: int = LONGEST_PX) -> bytes:
    """The picture as a person holds it, as baseline JPEG of at most so many pixels a side, with no metadata.

    `name` stands for the path in messages. Raises FallbookError for what is no whole picture of a known format.
    """
    with opened(path, name or str(path), longest_px) as image:
        flat = _upright(image, longest_px)
        out = io.BytesIO()
        flat.save(out, format="JPEG", quality=QUALITY, progressive=False)
    return out.getvalue()


def logo_png(path: Path) -> bytes:
    """A firm's logo as a PNG of few colours, at most LOGO_PX. Raises UsageError where a report cannot show it."""
    from PIL import Image, UnidentifiedImageError

    do = "name a PNG or JPEG under logo in the company file, or leave that line out"
    try:
        if path.stat().st_size > MOST_LOGO_MB * 1_000_000:
            raise UsageError(f"{path}: the logo is larger than {MOST_LOGO_MB} MB; save a smaller copy of it")
        with Image.open(path, formats=("PNG", "JPEG")) as header:
            if header.width * header.height > MOST_LOGO_MP * 1_000_000:
                raise UsageError(
                    f"{path}: the logo has more than {MOST_LOGO_MP} million pixels; save a smaller copy of it"
                )
        with opened(path, str(path), max(LOGO_PX)) as image:
            flat = _upright(image, max(LOGO_PX))
    except UnidentifiedImageError as error:
        raise UsageError(f"{path}: the logo is no PNG or JPEG; {do}") from error
    except OSError as error:
        raise UsageError(f"{path}: the logo cannot be read ({error.strerror or error}); {do}") from error
    except (FallbookError, Image.DecompressionBombError, ValueError) as error:
        if isinstance(error, UsageError):
            raise
        raise UsageError(f"{path}: the logo is cut off or damaged; {do}") from error
    flat.thumbnail(LOGO_PX)
    out = io.BytesIO()
    flat.quantize(LOGO_COLOURS).save(out, format="PNG", optimize=True)
    return out.getvalue()


def _upright(image: Image.Image, longest_px: int) -> Image.Image:
    """As a person holds it, without metadata, at most so many pixels a side."""
    turn = None if image.format == "HEIF" else _turns().get(orientation(image, tags(image)[0]))
    flat = _on_white(_shrunk(image, longest_px))
    if turn is not None:
        flat = flat.transpose(turn)
    flat.info = {}  # of which Pillow would write a comment
    return flat


def smaller(jpeg: bytes, longest_px: int) -> bytes:
    """One of our own JPEGs of at most so many pixels a side."""
    from PIL import Image

    with Image.open(io.BytesIO(jpeg), formats=["JPEG"]) as image:
        image.thumbnail((longest_px, longest_px))
        out = io.BytesIO()
        image.save(out, format="JPEG", quality=SMALL_QUALITY, progressive=False)
    return out.getvalue()


@contextmanager
def opened(path: Path, name: str, longest_px: int = LONGEST_PX) -> Iterator[Image.Image]:
    """The picture, decoded to its end: a JPEG at the smallest size that a copy of so many pixels a side needs."""
    from PIL import Image

    Image.MAX_IMAGE_PIXELS = MOST_MP["JPEG"] * 1_000_000  # Pillow's own limit is under what phones make
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            _check_bytes(path, name)
            with Image.open(path, formats=_formats(path)) as image:
                _check_size(image, name)
                if image.format == "HEIF":
                    yield _heif(path, image, longest_px)
                else:
                    image.draft(None, _page_size(image, longest_px))
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


def _heif(path: Path, header: Image.Image, longest_px: int) -> Image.Image:
    """The picture of a HEIC, smaller where it is large, with what its header says.

    Straight from the decoder's memory: Pillow would copy the whole first, at 4 bytes a pixel more. Its draft is no
    help: that gives the thumbnail and does not look at the picture.
    """
    import pillow_heif
    from PIL import Image

    heif = pillow_heif.open_heif(path, convert_hdr_to_8bit=True, remove_stride=False)
    data, mode, stride = memoryview(heif.data), heif.mode, heif.stride  # the size may change with decoding
    wide, high = heif.size

    def rows(top: int, bottom: int) -> Image.Image:
        part = bytes(data[top * stride : bottom * stride])
        return Image.frombytes(mode, (wide, bottom - top), part, "raw", mode, stride)

    times = max(wide, high) // (2 * longest_px)
    alike = "RGBA" if heif.has_alpha else "RGB"
    image = _reduced((wide, high), rows, alike, times) if times > 1 else rows(0, high)
    image.info, image.format = header.info, header.format
    return image


def _formats(path: Path) -> tuple[str, ...]:
    """Those that the file may be of. No JPEG waits for HEIC's reader, which takes as long to load as one to decode."""
    with path.open("rb") as file:
        if file.read(2) == JPEG_START:
            return ("JPEG",)
    import pillow_heif

    pillow_heif.register_heif_opener(decode_threads=1)  # each thread holds pieces of its own
    return FORMATS


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
    if file.read(2) != JPEG_START:
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


def _page_size(image: Image.Image, longest_px: int) -> tuple[int, int]:
    share = min(1, longest_px / max(image.size))
    return max(1, int(image.width * share)), max(1, int(image.height * share))


def _shrunk(image: Image.Image, longest_px: int) -> Image.Image:
    """At most so many pixels a side, as RGB or RGBA; the picture itself is made smaller where it needs nothing else."""
    from PIL.Image import Resampling

    mode = "RGBA" if image.has_transparency_data else "RGB"
    times = max(image.size) // (2 * longest_px)
    if times > 1:
        whole = image
        image = _reduced(image.size, lambda top, bottom: whole.crop((0, top, whole.width, bottom)), mode, times)
    elif image.mode != mode:
        image = image.convert(mode)
    image.thumbnail((longest_px, longest_px), Resampling.HAMMING)
    return image


def _reduced(size: tuple[int, int], rows: Callable[[int, int], Image.Image], mode: str, times: int) -> Image.Image:
    """So many times smaller; band by band, as a copy of the whole would take as much memory again."""
    from PIL import Image

    wide, high = size
    small = Image.new(mode, (math.ceil(wide / times), math.ceil(high / times)))
    for top in range(0, high, BAND * times):
        band = rows(top, min(top + BAND * times, high))
        small.paste(band.convert(mode).reduce(times), (0, top // times))
    return small


def _on_white(image: Image.Image) -> Image.Image:
    from PIL import Image

    if image.mode == "RGB":
        return image
    return Image.alpha_composite(Image.new("RGBA", image.size, "white"), image).convert("RGB")


def orientation(image: Image.Image, main: dict[int, Any]) -> int:
    """As tagged in the main tags, 1 to 8; 1 where that is none of them."""
    tagged: Any = image.info.get("original_orientation") or main.get(ORIENTATION)
    return tagged if tagged in range(1, 9) else 1


def tags(image: Image.Image, ifd: int | None = None) -> tuple[dict[int, Any], bool]:
    """The main tags of the EXIF, or those of another group, and whether some could not be read."""
    from PIL.Image import Exif

    raw = (image.info.get("exif") or b"")[:LONGEST_EXIF]
    if not raw:
        return {}, False
    with warnings.catch_warnings(record=True) as warned:  # where Pillow cannot follow, it warns and reads on
        warnings.simplefilter("always")
        try:
            found = Exif()  # not the image's own, which keeps quiet about damage once it has met it
            found.load(raw)
            return dict(found if ifd is None else found.get_ifd(ifd)), bool(warned)
        except Exception:  # a stranger's bytes raise anything; the photo goes in, with a warning
            return {}, True
