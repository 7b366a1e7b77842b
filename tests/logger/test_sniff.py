import io

import pytest
from conftest import quarters

from extract.errors import FallbookError
from logger.sniff import decoded, kind_of

HEADS = {
    "wav": (b"RIFF\x24\0\0\0WAVEfmt " + bytes(20), "sound"),
    "ogg": (b"OggS\0\x02" + bytes(20), "sound"),
    "flac": (b"fLaC\0\0\0\x22" + bytes(20), "sound"),
    "mp3 with a tag": (b"ID3\x04\0\0" + bytes(20), "sound"),
    "bare mp3": (b"\xff\xfb\x90\x64" + bytes(20), "sound"),
    "adts": (b"\xff\xf1\x50\x80" + bytes(20), "sound"),
    "webm": (b"\x1aE\xdf\xa3\x01" + bytes(20), "sound"),
    "amr": (b"#!AMR\n" + bytes(20), "sound"),
    "m4a": (b"\0\0\0\x1cftypM4A \0\0\0\0M4A mp42isom" + bytes(4), "sound"),
    "heic": (b"\0\0\0\x18ftypheic\0\0\0\0mif1heic", "photo"),
    "heic by a later brand": (b"\0\0\0\x18ftypmif1\0\0\0\0mif1heic", "photo"),
    "jpeg": (b"\xff\xd8\xff\xe0\0\x10JFIF", "photo"),
    "png": (b"\x89PNG\r\n\x1a\n\0\0\0\rIHDR", "photo"),
    "text": ("[14:05] Basin one. ½ inch\n".encode(), "text"),
    "utf-16": ("Basin one".encode("utf-16"), "text"),
    "benchmark": (b"BM is the porch step, 100\n", "text"),
}


@pytest.mark.parametrize("what", HEADS)
def test_bytes_tell_the_kind_whatever_the_name(tmp_path, what):
    raw, kind = HEADS[what]
    path = tmp_path / ("a.txt" if kind == "text" else "wrong.pdf")
    path.write_bytes(raw)
    assert kind_of(path, "x") == kind


def picture(form: str) -> bytes:
    out = io.BytesIO()
    quarters().save(out, format=form)
    return out.getvalue()


@pytest.mark.parametrize(
    ("raw", "message"),
    [
        (b"", "x: the file is empty; copy it"),
        (b"%PDF-1.7\n", "x: a PDF, which is not taken"),
        (b"PK\x03\x04\x14\0", "a zip archive or an office document.*save its words as plain text"),
        (picture("GIF"), "a GIF picture.*save it as JPEG"),
        (picture("WEBP"), "a WebP picture.*save it as JPEG"),
        (picture("BMP"), "a bitmap picture.*save it as JPEG"),
        (picture("AVIF"), "an AVIF picture.*save it as JPEG"),
        (picture("TIFF"), "a TIFF or raw picture.*save it as JPEG"),
        (bytes(range(256)), "neither sound, photo nor text, or damaged"),
    ],
)
def test_anything_else_is_refused_by_name_with_what_to_do(tmp_path, raw, message):
    path = tmp_path / "a.jpg"
    path.write_bytes(raw)
    with pytest.raises(FallbookError, match=message):
        kind_of(path, "x")


@pytest.mark.parametrize("name", ["a.jpg", "a.m4a", "a.toml", "a.json", "a.csv"])
def test_text_under_another_name_is_no_text_log(tmp_path, name):
    path = tmp_path / name
    path.write_text("a = 1")
    with pytest.raises(FallbookError, match="holds text under a name that says otherwise.*rename it to end in .txt"):
        kind_of(path, name)


@pytest.mark.parametrize("raw", ["½ inch".encode("utf-8-sig"), "½ inch".encode("utf-16"), "½ inch".encode("cp1252")])
def test_text_is_read_whichever_way_it_was_saved(raw):
    assert decoded(raw, "x") == "½ inch"


def test_bytes_that_are_no_text_are_refused():
    with pytest.raises(FallbookError, match="x: not plain text"):
        decoded(b"a\0b", "x")
