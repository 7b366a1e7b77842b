"""The firm's logo: from its company file into every report, or refused in one line when the job is started."""

import io
import struct
import zlib

import pytest
from conftest import COMPANY, exif_bytes, new
from docx import Document
from PIL import Image

from logger.pictures import MOST_LOGO_MB
from logger.store import open_store


def logo(path, size=(900, 300), form="PNG", **more):
    image = Image.new("RGBA" if form == "PNG" else "RGB", size)
    image.paste("red", (0, 0, size[0] // 2, size[1]))
    image.save(path, form, **more)
    return path


@pytest.fixture
def firm(company):
    """Writes the company file with that logo; its path."""

    def write(name: str):
        company.write_text(f'logo = "{name}"\n{COMPANY}', encoding="utf-8")
        return company

    return write


def kept(tmp_path) -> bytes:
    with open_store(tmp_path / "library") as store:
        return store.job("front-walk").company.logo_png


@pytest.mark.parametrize("reader", ["client", "record", "locate"])
def test_each_report_begins_with_the_logo_and_says_whose_it_is(fallbook, firm, tmp_path, reader):
    logo(tmp_path / "mark.png")
    assert new(fallbook, firm("mark.png"))[0] == 0
    (tmp_path / "mark.png").unlink()  # the job has its own
    code, _, err = fallbook("report", "front-walk", "--for", reader, "--draft", "-o", tmp_path / "r.docx")
    assert (code, err) == (0, "")
    first = Document(str(tmp_path / "r.docx")).inline_shapes[0]
    assert first._inline.docPr.get("descr") == "Logo of Sedgeway Drainage"
    assert (first.width.inches / first.height.inches) == pytest.approx(3, abs=0.05)
    assert first.height.inches <= 0.76


def test_the_job_keeps_a_small_copy_on_white(fallbook, firm, tmp_path):
    logo(tmp_path / "mark.png", size=(3000, 1000))
    new(fallbook, firm("mark.png"))
    image = Image.open(io.BytesIO(kept(tmp_path)))
    assert (image.format, image.height) == ("PNG", 160)
    assert image.convert("RGB").getpixel((470, 80)) == (255, 255, 255)  # clear in the file
    assert image.width == pytest.approx(480, abs=1)
    assert len(kept(tmp_path)) < 20_000


def test_a_logo_held_on_its_side_is_set_upright(fallbook, firm, tmp_path):
    logo(tmp_path / "mark.jpg", size=(300, 900), form="JPEG", exif=exif_bytes(orientation=6))
    new(fallbook, firm("mark.jpg"))
    assert Image.open(io.BytesIO(kept(tmp_path))).height == 160


def test_a_visit_takes_the_logo_over(fallbook, firm, tmp_path):
    logo(tmp_path / "mark.png")
    new(fallbook, firm("mark.png"))
    assert fallbook("new", "back", "--callback-of", "front-walk", "--day", "2026-06-01")[0] == 0
    with open_store(tmp_path / "library") as store:
        assert store.job("back").company.logo_png == kept(tmp_path) != b""


def bomb(path):
    """The head of a PNG of 900 million pixels."""
    head = b"IHDR" + struct.pack(">IIBBBBB", 30_000, 30_000, 8, 2, 0, 0, 0)
    path.write_bytes(b"\x89PNG\r\n\x1a\n" + struct.pack(">I", 13) + head + struct.pack(">I", zlib.crc32(head)))


@pytest.mark.parametrize(
    ("make", "why"),
    [
        (lambda path: None, "the logo cannot be read (No such file or directory); name a PNG or JPEG under logo"),
        (lambda path: path.mkdir(), "the logo cannot be read (Is a directory); name a PNG or JPEG under logo"),
        (lambda path: path.write_text("<svg/>"), "the logo is no PNG or JPEG; name a PNG or JPEG under logo"),
        (lambda path: path.write_bytes(b""), "the logo is no PNG or JPEG; name a PNG or JPEG under logo"),
        (
            lambda path: path.write_bytes(logo(path).read_bytes()[:200]),
            "the logo is cut off or damaged; name a PNG or JPEG under logo",
        ),
        (lambda path: path.write_bytes(bytes(MOST_LOGO_MB * 1_000_000 + 1)), "the logo is larger than 10 MB; save a"),
        (lambda path: logo(path, size=(5100, 5000)), "the logo has more than 25 million pixels; save a smaller copy"),
        (bomb, "the logo"),
    ],
)
def test_a_logo_that_is_none_is_refused_in_one_line_when_the_job_is_started(fallbook, firm, tmp_path, make, why):
    make(tmp_path / "mark.png")
    code, out, err = new(fallbook, firm("mark.png"))
    assert (code, out, err.count("\n")) == (2, "", 1)
    assert f"fallbook: {tmp_path / 'mark.png'}: {why}" in err


def test_the_kept_copy_is_not_for_the_company_file(fallbook, company):
    company.write_text(f'logo_png = "aGVsbG8="\n{COMPANY}', encoding="utf-8")
    code, out, err = new(fallbook, company)
    assert (code, out) == (2, "")
    assert err == f"fallbook: {company}: logo_png: leave it out; the picture's own file goes under logo\n"


@pytest.mark.parametrize("reader", ["client", "record", "locate"])
def test_headings_bear_the_firms_colour(fallbook, company, tmp_path, reader):
    company.write_text(f'colour = "#5a2D82"\n{COMPANY}', encoding="utf-8")
    assert new(fallbook, company)[0] == 0
    assert fallbook("report", "front-walk", "--for", reader, "--draft", "-o", tmp_path / "r.docx")[0] == 0
    assert str(Document(str(tmp_path / "r.docx")).styles["Heading 1"].font.color.rgb) == "5A2D82"


@pytest.mark.parametrize(("colour", "why"), [("#FFE08A", "too pale to be read"), ("blue", "write it as #1F5F6B")])
def test_a_colour_that_cannot_be_read_is_refused_in_one_line(fallbook, company, colour, why):
    company.write_text(f'colour = "{colour}"\n{COMPANY}', encoding="utf-8")
    code, out, err = new(fallbook, company)
    assert (code, out, err.count("\n")) == (2, "", 1)
    assert why in err
