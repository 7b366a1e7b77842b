import io
import os
import random
import struct
import sys
import zlib
from datetime import UTC, datetime

import piexif
import pillow_heif
import pytest
from conftest import exif_bytes, quarters
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from nasty import peak_mb
from PIL import Image, ImageFile

from extract.errors import FallbookError
from logger import pictures
from logger.photos import read_photo
from logger.pictures import LONGEST_PX, upright_jpeg

TURNS = {
    1: None,
    2: Image.Transpose.FLIP_LEFT_RIGHT,
    3: Image.Transpose.ROTATE_180,
    4: Image.Transpose.FLIP_TOP_BOTTOM,
    5: Image.Transpose.TRANSPOSE,
    6: Image.Transpose.ROTATE_90,
    7: Image.Transpose.TRANSVERSE,
    8: Image.Transpose.ROTATE_270,
}
"""How an upright picture is stored under each tag: the other way round from how it is shown."""


def corners(image: Image.Image) -> list[str]:
    """The colour of each corner, by name: top left, top right, bottom left, bottom right."""
    names = {"red": (220, 20, 20), "green": (20, 180, 20), "blue": (20, 20, 220), "white": (255, 255, 255)}
    wide, high = image.size
    seen = [image.convert("RGB").getpixel(at) for at in ((8, 8), (wide - 9, 8), (8, high - 9), (wide - 9, high - 9))]
    return [
        min(names, key=lambda name: sum(abs(a - b) for a, b in zip(names[name], pixel, strict=True))) for pixel in seen
    ]


UPRIGHT = ["red", "green", "blue", "white"]


def copy_of(path) -> Image.Image:
    return Image.open(io.BytesIO(upright_jpeg(path)))


def test_all_that_a_photo_says(make_photo):
    facts = read_photo(make_photo(gps_utc="2026:05:14 14:48:38", orientation=6))
    assert facts.taken == datetime(2026, 5, 14, 9, 48, 40)
    assert facts.offset == "-05:00"
    assert facts.gps_time == datetime(2026, 5, 14, 14, 48, 38, tzinfo=UTC)
    assert (facts.lat, facts.lon) == (pytest.approx(41.5), pytest.approx(-93.25))
    assert (facts.gps_error_m, facts.heading_deg) == (5.0, 95.5)
    assert (facts.orientation, facts.device, facts.broken) == (6, "Ombrel", False)


@pytest.mark.parametrize("name", ["a.jpg", "a.heic", "a.png"])
def test_every_format_says_the_same(make_photo, name):
    facts = read_photo(make_photo(name, gps=(-12.25, 130.5)))
    assert (facts.taken, facts.offset) == (datetime(2026, 5, 14, 9, 48, 40), "-05:00")
    assert (facts.lat, facts.lon) == (pytest.approx(-12.25), pytest.approx(130.5))


def test_what_a_photo_does_not_say_is_unknown(make_photo):
    facts = read_photo(make_photo(tags=b""))
    assert facts.model_dump(exclude={"orientation", "broken"}) == dict.fromkeys(
        ["taken", "offset", "gps_time", "lat", "lon", "gps_error_m", "heading_deg", "device"]
    )
    assert not facts.broken


TAG = piexif.GPSIFD


@pytest.mark.parametrize(
    "amiss",
    [
        {TAG.GPSLatitude: ((0, 0), (0, 0), (0, 0))},
        {TAG.GPSLatitude: ((91, 1), (0, 1), (0, 1))},
        {TAG.GPSLongitude: ((180, 1), (0, 1), (1, 1))},
        {TAG.GPSLatitude: ((0, 1),) * 3, TAG.GPSLongitude: ((0, 1),) * 3},
        {TAG.GPSLatitudeRef: b"X"},
        {TAG.GPSLongitudeRef: b""},
    ],
)
def test_a_place_is_recorded_whole_or_not_at_all(make_photo, amiss):
    facts = read_photo(make_photo(extra_gps=amiss))
    assert (facts.lat, facts.lon) == (None, None)


def test_a_heading_or_error_of_nought_over_nought_is_unknown(make_photo):
    facts = read_photo(make_photo(extra_gps={TAG.GPSImgDirection: (0, 0), TAG.GPSHPositioningError: (0, 0)}))
    assert (facts.heading_deg, facts.gps_error_m) == (None, None)


@pytest.mark.parametrize("offset", ["-5:00", "EST", "+25:00"])
def test_an_offset_that_is_none_is_unknown(make_photo, offset):
    assert read_photo(make_photo(offset=offset)).offset is None


def test_a_camera_clock_that_was_never_set_is_unknown(make_photo):
    assert read_photo(make_photo(taken="0000:00:00 00:00:00")).taken is None


@pytest.mark.parametrize("orientation", range(1, 9))
def test_jpeg_comes_out_upright(make_photo, orientation):
    turn = TURNS[orientation]
    stored = quarters() if turn is None else quarters().transpose(turn)
    path = make_photo(image=stored, orientation=orientation)
    upright = copy_of(path)
    assert corners(upright) == UPRIGHT
    assert upright.size == (80, 40)
    assert read_photo(path).orientation == orientation


@pytest.mark.parametrize("orientation", range(1, 9))
def test_heic_is_turned_once(make_photo, orientation):
    path = make_photo("a.heic", image=quarters(), orientation=orientation)
    pixels = pillow_heif.open_heif(path).to_pillow()  # as the decoder gives them, already turned
    assert corners(copy_of(path)) == corners(pixels)
    assert read_photo(path).orientation == orientation


def test_a_heic_tag_that_only_informs_turns_nothing(make_photo):
    path = make_photo("a.heic", image=quarters(), orientation=1)
    raw = path.read_bytes()
    tag = bytes.fromhex("01120003000000010001")
    assert raw.count(tag) == 1
    path.write_bytes(raw.replace(tag, bytes.fromhex("01120003000000010006")))
    assert read_photo(path).orientation == 6
    assert corners(copy_of(path)) == UPRIGHT


def test_the_copy_is_baseline_jpeg_of_page_size_with_no_metadata(make_photo):
    path = make_photo(image=quarters((4000, 2000)))
    raw = upright_jpeg(path)
    copy = Image.open(io.BytesIO(raw))
    assert (copy.format, copy.mode, copy.size) == ("JPEG", "RGB", (LONGEST_PX, LONGEST_PX // 2))
    assert b"\xff\xc0" in raw
    assert b"\xff\xc2" not in raw[:2000]
    assert "exif" not in copy.info


@pytest.mark.parametrize("mode", ["RGB", "L"])
def test_a_jpegs_comment_is_not_in_the_copy(tmp_path, mode):
    path = tmp_path / "a.jpg"
    quarters((3000, 2000)).convert(mode).save(path, comment="not for the client")
    assert b"not for the client" in path.read_bytes()
    assert b"not for the client" not in upright_jpeg(path)


@pytest.mark.parametrize("mode", ["RGBA", "P", "L", "LA", "I;16", "1", "RGB"])
def test_a_picture_of_any_mode_makes_a_copy(tmp_path, mode):
    path = tmp_path / "a.png"
    quarters().convert("L" if mode == "I;16" else mode).convert(mode).save(path)
    assert Image.open(io.BytesIO(upright_jpeg(path))).mode == "RGB"


@pytest.mark.parametrize("mode", ["RGBA", "LA", "P", "RGB", "L"])
@pytest.mark.parametrize("side", [20, 7000])
def test_what_is_see_through_turns_white(tmp_path, mode, side):
    path = tmp_path / "a.png"
    key = {"P": 0, "RGB": (0, 0, 0), "L": 0}.get(mode)
    Image.new(mode, (side, side // 2), 0).save(path, transparency=key, compress_level=1)
    assert Image.open(io.BytesIO(upright_jpeg(path))).getpixel((5, 5)) == (255, 255, 255)


@pytest.mark.parametrize("name", ["a.jpg", "a.heic", "a.png"])
@pytest.mark.parametrize("share", [0.3, 0.6, 0.9])
def test_a_picture_cut_off_is_refused(make_photo, name, share):
    noise = Image.frombytes("RGB", (200, 100), random.Random(1).randbytes(60_000))
    path = make_photo(name, image=noise)
    raw = path.read_bytes()
    path.write_bytes(raw[: round(len(raw) * share)])
    with pytest.raises(FallbookError, match="IMG_1.JPG: the picture is cut off or damaged; copy it"):
        read_photo(path, "IMG_1.JPG")


# -- large pictures and hostile ones


def speckled(wide: int, high: int) -> Image.Image:
    """A picture of random patches, quickly."""
    few = Image.frombytes("RGB", (wide // 40, high // 40), random.Random(1).randbytes(wide // 40 * (high // 40) * 3))
    return few.resize((wide, high), Image.Resampling.NEAREST)


READ = """
import sys
from pathlib import Path
from logger.photos import read_photo
from logger.pictures import upright_jpeg
assert read_photo(Path(sys.argv[1])).device == "Ombrel"
assert len(upright_jpeg(Path(sys.argv[1]))) > 10_000
"""


@pytest.mark.skipif(sys.platform != "linux", reason="memory is counted as Linux counts it")
@pytest.mark.parametrize("size", [(12_000, 9000), (16_320, 12_240)], ids=["108", "200"])
def test_a_phones_largest_jpeg_is_taken_in_little_memory(make_photo, size):
    path = make_photo(image=speckled(*size), orientation=6)
    assert peak_mb(READ, path) < 200
    assert copy_of(path).size == (1200, 1600)


@pytest.mark.skipif(sys.platform != "linux", reason="memory is counted as Linux counts it")
@pytest.mark.skipif("FALLBOOK_WHOLE" not in os.environ, reason="half a minute: with FALLBOOK_WHOLE=1")
def test_a_large_heic_is_never_copied_whole(make_photo):
    """So that a phone's largest, 200 million pixels, fits in a worker's memory."""
    read = READ.replace("> 10_000", "> 1_000")
    small, large = (
        peak_mb(read, make_photo(image=quarters(size), name=f"{size}.heic")) for size in [(2000, 1600), (6600, 4400)]
    )
    assert (large - small) / (29 - 3.2) < 5.5


def test_half_of_a_large_jpeg_is_refused(make_photo):
    """Shrinking while decoding still reads all that there is."""
    path = make_photo(image=speckled(12_000, 9000))
    raw = path.read_bytes()
    for share in (0.5, 0.98):
        path.write_bytes(raw[: round(len(raw) * share)])
        for door in (read_photo, upright_jpeg):
            with pytest.raises(FallbookError, match="cut off or damaged"):
                door(path)


@pytest.mark.skipif(sys.platform != "linux", reason="memory is counted as Linux counts it")
def test_a_large_png_is_shrunk_without_a_second_copy(make_photo):
    """28 million pixels are 112 MB in Pillow, whatever their mode."""
    image = speckled(7000, 4000)
    image.putalpha(120)
    assert peak_mb(READ, make_photo("a.png", image=image)) < 112 + 150


@pytest.mark.parametrize(("name", "limit"), [("a.jpg", 250), ("a.png", 100), ("a.heic", 201)])
def test_a_picture_of_too_many_pixels_is_refused(make_photo, monkeypatch, name, limit):
    assert pictures.MOST_MP[Image.open(make_photo(name)).format] == limit
    path = make_photo(name, image=quarters((1100, 1000)))
    monkeypatch.setattr(pictures, "MOST_MP", dict.fromkeys(pictures.MOST_MP, 1))
    for door in (read_photo, upright_jpeg):
        with pytest.raises(FallbookError, match=r": more than 1 million pixels; save a smaller copy and take that$"):
            door(path)


def test_a_progressive_jpeg_has_a_limit_of_its_own(tmp_path, monkeypatch):
    path = tmp_path / "a.jpg"
    quarters((1100, 1000)).save(path, progressive=True)
    assert read_photo(path).device is None
    monkeypatch.setattr(pictures, "MOST_PROGRESSIVE_MP", 1)
    with pytest.raises(FallbookError, match="more than 1 million pixels"):
        read_photo(path)


def chunk(name: bytes, body: bytes) -> bytes:
    return struct.pack(">I", len(body)) + name + body + struct.pack(">I", zlib.crc32(name + body))


def bomb(wide: int, high: int) -> bytes:
    """A PNG of no pixels whose header says how many there are."""
    head = chunk(b"IHDR", struct.pack(">IIBBBBB", wide, high, 8, 2, 0, 0, 0))
    return b"\x89PNG\r\n\x1a\n" + head + chunk(b"IDAT", zlib.compress(bytes(1000))) + chunk(b"IEND", b"")


@pytest.mark.parametrize("size", [(30_000, 30_000), (16_000, 16_000), (2**31 - 1, 1), (2**31 - 1, 2**31 - 1)])
def test_a_bomb_is_refused_by_its_header_alone(tmp_path, monkeypatch, size):
    path = tmp_path / "a.png"
    path.write_bytes(bomb(*size))
    monkeypatch.setattr(ImageFile.ImageFile, "load", lambda self: pytest.fail("decoded"))
    for door in (read_photo, upright_jpeg):
        with pytest.raises(FallbookError, match=r"more than \d+ million pixels; save a smaller copy"):
            door(path)


def test_a_heic_that_says_it_is_huge_is_refused(make_photo):
    path = make_photo("a.heic")
    raw = path.read_bytes()
    at = raw.index(b"ispe")
    path.write_bytes(raw[: at + 8] + struct.pack(">II", 32_000, 32_000) + raw[at + 16 :])
    with pytest.raises(FallbookError, match=r"a\.heic: (more than|the picture is)"):
        read_photo(path)


def test_memory_that_runs_out_is_said_so(make_photo, monkeypatch):
    def full(self):
        raise self.error

    monkeypatch.setattr(ImageFile.ImageFile, "load", full)
    for error in (MemoryError(), RuntimeError("Memory allocation error: Unspecified: Allocating 9 bytes failed")):
        monkeypatch.setattr(ImageFile.ImageFile, "error", error, raising=False)
        with pytest.raises(FallbookError, match="takes too much memory; save a smaller copy"):
            read_photo(make_photo())


def test_a_file_larger_than_any_photo_is_refused_unread(tmp_path):
    path = tmp_path / "a.jpg"
    path.write_bytes(b"\xff\xd8\xff")
    os.truncate(path, 251_000_000)
    with pytest.raises(FallbookError, match=r"a\.jpg: larger than 250 MB; save a smaller copy"):
        read_photo(path)


def segments(path, count: int, name: bytes = b"Exif\0\0") -> None:
    """Put so many of the largest segments before the picture."""
    raw = path.read_bytes()
    path.write_bytes(raw[:2] + (b"\xff\xe1\xff\xff" + name + bytes(65_533 - len(name))) * count + raw[2:])


def test_exif_in_many_pieces_is_refused_before_it_is_joined(make_photo):
    path = make_photo()
    segments(path, 20)
    assert copy_of(path).size == (80, 40)
    segments(path, 300)
    with pytest.raises(FallbookError, match=r"more than 20 MB stand before the picture; save it again as JPEG"):
        read_photo(path)


@pytest.mark.skipif(sys.platform != "linux", reason="memory is counted as Linux counts it")
def test_a_tag_of_forty_megabytes_is_not_unpacked(tmp_path):
    """As twenty million numbers it would take 160 MB more."""
    count = 20_000_000
    rows = struct.pack(">H", 2) + struct.pack(">HHL4s", 0x010F, 2, 4, b"Omb\0")
    tags = b"Exif\0\0MM\0*\0\0\0\x08" + rows + struct.pack(">HHLL", 0x8001, 3, count, 38) + bytes(4 + 2 * count)
    path = tmp_path / "a.png"
    speckled(1000, 1000).save(path, exif=tags)
    assert peak_mb(READ.replace("Ombrel", "Omb"), path) < 250


def test_large_exif_is_read_as_far_as_a_jpeg_could_hold_it(make_photo):
    tags = exif_bytes()
    facts = read_photo(make_photo("a.png", tags=tags + bytes(2_000_000)))
    assert (facts.device, facts.broken) == ("Ombrel", False)


@pytest.mark.parametrize("size", [(9000, 20), (20, 9000), (3301, 3299), (1601, 1)])
@pytest.mark.parametrize("name", ["a.jpg", "a.png"])
def test_a_picture_of_any_shape_fits_the_page(make_photo, size, name):
    path = make_photo(name, image=quarters(size))
    copy = copy_of(path)
    assert max(copy.size) == LONGEST_PX
    assert min(copy.size) == pytest.approx(LONGEST_PX * min(size) / max(size), abs=1)
    assert (copy.width > copy.height) == (size[0] > size[1])


def test_a_large_png_is_shrunk_to_what_it_shows(make_photo):
    path = make_photo("a.png", image=quarters((7001, 2003)))
    assert corners(copy_of(path)) == UPRIGHT


def test_a_cmyk_jpeg_makes_a_copy(tmp_path):
    path = tmp_path / "a.jpg"
    quarters().convert("CMYK").save(path)
    assert corners(copy_of(path)) == UPRIGHT


def test_a_heic_whose_picture_is_damaged_is_not_taken_for_its_thumbnail(tmp_path):
    path = tmp_path / "a.heic"
    image = speckled(800, 640)
    pillow_heif.from_pillow(image).save(path, thumbnails=[700], quality=80)
    raw = path.read_bytes()
    at = raw.index(b"mdat")
    path.write_bytes(raw[: at + 4] + bytes(len(raw) - at - 4))
    with pytest.raises(FallbookError, match="cut off or damaged"):
        read_photo(path)


def test_other_formats_are_not_opened(tmp_path):
    path = tmp_path / "a.jpg"
    quarters().save(path, format="GIF")
    with pytest.raises(FallbookError, match="cut off or damaged"):
        read_photo(path)


def test_a_phone_picture_of_several_frames_is_a_jpeg(tmp_path):
    path = tmp_path / "a.jpg"
    quarters().save(path, format="MPO", save_all=True, append_images=[quarters()])
    assert corners(copy_of(path)) == UPRIGHT


@pytest.mark.parametrize("junk", [b"Exif\0\0junk", b"Exif\0\0MM\0*\xff\xff\xff\xff", b"Exif\0\0"])
def test_broken_exif_costs_only_itself(make_photo, junk):
    path = make_photo(image=quarters(), tags=junk)
    facts = read_photo(path)
    assert facts.taken is None
    assert corners(copy_of(path)) == UPRIGHT


def test_broken_exif_is_said_to_be_broken(make_photo):
    assert read_photo(make_photo(tags=b"Exif\0\0junk")).broken


@settings(max_examples=150, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(st.lists(st.tuples(st.integers(0, 10_000), st.integers(0, 255)), min_size=1, max_size=30))
def test_no_damage_to_exif_stops_a_good_picture(tmp_path, damage):
    tags = exif_bytes(gps_utc="2026:05:14 14:48:38")
    out = io.BytesIO()
    quarters().save(out, format="JPEG", exif=tags)
    raw = bytearray(out.getvalue())
    start = raw.find(tags[6:])
    for place, value in damage:
        raw[start + place % (len(tags) - 6)] = value
    path = tmp_path / "a.jpg"
    path.write_bytes(raw)
    facts = read_photo(path)
    assert facts.lat is None or abs(facts.lat) <= 90
    assert upright_jpeg(path).startswith(b"\xff\xd8")
