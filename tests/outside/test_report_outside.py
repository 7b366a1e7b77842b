"""The reports' pages, as LibreOffice sets them, of jobs small and large. `FALLBOOK_WHOLE=1` looks at every size."""

from __future__ import annotations

import math
import os
import re
import shutil
import subprocess
from collections import Counter
from dataclasses import dataclass
from datetime import datetime
from functools import cached_property
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from docx import Document
from made_up import closeout
from PIL import Image

from extract.check.safety import client_cautions
from extract.record import FixedPoint, Language, Record, Tie
from reports.closeout import READERS, write_closeout
from reports.paper import WHOLE_IN, Paper, _height

NEEDED = {"soffice": "libreoffice-writer", "pdftotext": "poppler-utils"}
ABSENT = [package for program, package in NEEDED.items() if shutil.which(program) is None]
pytestmark = [
    pytest.mark.outside,
    pytest.mark.skipif(bool(ABSENT), reason=f"Debian packages not installed: {', '.join(ABSENT)}"),
]
SIZES = [(1, 0), (1, 11), (1, 60), (5, 0), (5, 11), (5, 60), (25, 0), (25, 11), (25, 60)]
"""Runs and photos."""
LOOKED_AT = SIZES if os.environ.get("FALLBOOK_WHOLE") else [(1, 0), (5, 11), (25, 60)]
NAMES = [f"{reader}-{runs}-{photos}" for reader in READERS for runs, photos in LOOKED_AT]
DPI = 30
INK = 200
"""A pixel darker than that is ink, of 255."""
HALF = 0.5


@dataclass(frozen=True)
class Page:
    picture: np.ndarray[Any, Any]
    """Grey, (height, width), DPI to an inch."""
    text: str
    images: int

    @property
    def upright(self) -> bool:
        return self.picture.shape[0] > self.picture.shape[1]

    def ink(self, top: float, bottom: float, left: float = 0.0, right: float = 0.0) -> np.ndarray[Any, Any]:
        """Where ink is, of the part that is left when so many inches are taken off each side."""
        high, wide = self.picture.shape
        cut = [round(each * DPI) for each in (top, bottom, left, right)]
        return self.picture[cut[0] : high - cut[1], cut[2] : wide - cut[3]] < INK

    @cached_property
    def filled(self) -> float:
        """How far down its body the last ink stands, 0 to 1."""
        rows = np.flatnonzero(self.ink(0.9, 0.75).any(axis=1))
        return float(rows[-1] + 1) / (self.picture.shape[0] - round(1.65 * DPI)) if rows.size else 0.0


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Every report as DOCX and PDF: one start of LibreOffice for all."""
    made = tmp_path_factory.mktemp("pages")
    for runs, photos in LOOKED_AT:
        job = closeout(runs, photos)
        for reader in READERS:
            write_closeout(job, made / f"{reader}-{runs}-{photos}.docx", reader=reader)
    _convert(made)
    return made


def _convert(folder: Path) -> None:
    profile = f"-env:UserInstallation={(folder / 'profile').as_uri()}"
    files = map(str, sorted(folder.glob("*.docx")))
    command = ["soffice", profile, "--headless", "--convert-to", "pdf", "--outdir", str(folder), *files]
    subprocess.run(command, check=True, capture_output=True, timeout=500)


@pytest.fixture(scope="module")
def pages(folder: Path) -> dict[str, list[Page]]:
    return {name: _pages(folder / f"{name}.pdf") for name in NAMES}


def _pages(pdf: Path) -> list[Page]:
    subprocess.run(["pdftoppm", "-r", str(DPI), "-gray", str(pdf), str(pdf.with_suffix(""))], check=True)
    texts = _told("pdftotext", "-layout", pdf, "-").split("\f")
    rows = [line.split() for line in _told("pdfimages", "-list", pdf).splitlines()[2:]]
    images = Counter(int(row[0]) for row in rows if row[2] == "image")
    files = sorted(pdf.parent.glob(f"{pdf.stem}-*.pgm"), key=lambda path: int(path.stem.rpartition("-")[2]))
    pictures = [np.asarray(Image.open(path)) for path in files]
    return [Page(picture, texts[at], images[at + 1]) for at, picture in enumerate(pictures)]


def _told(*words: object) -> str:
    return subprocess.run([str(each) for each in words], check=True, capture_output=True, text=True).stdout


@pytest.mark.parametrize("name", NAMES)
def test_nothing_reaches_over_the_edge_of_the_page(pages: dict[str, list[Page]], name: str) -> None:
    beside, over, under = (0.4, 0.68, 0.6) if name.startswith("locate") else (0.75, 0.72, 0.62)
    for number, page in enumerate(pages[name], 1):
        high, wide = (each / DPI for each in page.picture.shape)
        assert not page.ink(0, 0, right=wide - beside).any(), f"left of page {number}"
        assert not page.ink(0, 0, left=wide - beside).any(), f"right of page {number}"
        assert not page.ink(high - over, under).any(), f"under page {number}"


@pytest.mark.parametrize("name", NAMES)
def test_no_page_but_the_last_of_a_part_is_half_empty(pages: dict[str, list[Page]], name: str) -> None:
    """A part ends where the paper turns, and at the cover's end."""
    for number, (page, after) in enumerate(zip(pages[name], pages[name][1:], strict=False), 1):
        starts_anew = "1 Summary" in " ".join(after.text.split())
        if page.upright == after.upright and not starts_anew:
            assert page.filled > HALF, f"page {number} is filled to {page.filled:.2f}"


@pytest.mark.parametrize("name", [name for name in NAMES if not name.startswith("locate")])
def test_the_signatures_stand_on_the_page_of_what_is_signed_for(pages: dict[str, list[Page]], name: str) -> None:
    last = " ".join(pages[name][-1].text.split())
    assert "Handover" in last
    assert client_cautions("en")[-1].title in last


@pytest.mark.parametrize("name", [name for name in NAMES if name.startswith("client")])
def test_a_clients_copy_has_six_pages_beside_those_of_photos(pages: dict[str, list[Page]], name: str) -> None:
    assert sum(not re.search(r"\bPhoto \d+\. ", page.text) for page in pages[name]) <= 6


@pytest.mark.parametrize("language", ["en", "es"])
@pytest.mark.parametrize("taped", [False, True])
def test_what_finds_a_yard_of_five_runs_again_is_one_sheet(tmp_path: Path, language: Language, taped: bool) -> None:
    job = closeout(5, 0)
    if taped:
        tape(job.record)
    job = job.model_copy(update={"language": language})
    write_closeout(job, tmp_path / "it.docx", reader="locate")
    _convert(tmp_path)
    (page,) = _pages(tmp_path / "it.pdf")
    assert page.filled > 0.8


def tape(record: Record) -> None:
    """Ties each structure to two corners of a house, 40 feet apart."""
    house = {"garage corner": (0.0, 0.0), "porch post": (40.0, 0.0)}
    record.points = [
        FixedPoint(name="garage corner"),
        FixedPoint.model_validate({"name": "porch post", "to": [{"point": "garage corner", "distance_ft": 40}]}),
    ]
    place = (5.0, 30.0)
    for item in record.structures:
        item.ties = [
            Tie.model_validate({"from": name, "distance_ft": round(math.dist(place, at), 1), "side": "left"})
            for name, at in house.items()
        ]
        place = (place[0] + 20.0, place[1] + 7.0)


@pytest.mark.parametrize("name", NAMES)
def test_each_photo_stands_on_the_page_of_its_caption(pages: dict[str, list[Page]], name: str) -> None:
    shown = 0
    for number, page in enumerate(pages[name], 1):
        captions = len(re.findall(r"\bPhoto \d+\. ", page.text))
        shown += captions
        if captions:
            assert page.images == captions, f"page {number}"
    photos = int(name.rpartition("-")[2])
    if name.startswith("record"):
        assert shown == photos


def test_a_small_table_that_would_be_parted_goes_to_the_next_page(tmp_path: Path) -> None:
    lines = range(18, 34, 3)
    for count in lines:
        paper = Paper(title="t", subject="s", author="a", day=datetime(2026, 5, 15), header=("h", "h"), footer="f")
        for line in range(count):
            paper.text(f"Line {line}.")
        paper.table("Rows.", ["Row", "What"], [[f"row-{row}", "x"] for row in range(12)], [1, 1])
        (tmp_path / f"{count}.docx").write_bytes(paper.save())
    _convert(tmp_path)
    pages = [_told("pdftotext", tmp_path / f"{count}.pdf", "-").split("\f") for count in lines]
    assert {len(each) - 1 for each in pages} == {1, 2}
    for each in pages:
        assert sum(bool(re.search(r"\brow-\d", page)) for page in each) == 1
        assert all(("Table 1." in page) == ("row-0" in page) for page in each)


@pytest.mark.parametrize("name", NAMES)
def test_a_small_table_is_on_one_page(folder: Path, pages: dict[str, list[Page]], name: str) -> None:
    """Its head, which each page repeats that it goes on to, stands there once."""
    heads: Counter[str] = Counter()
    for table in Document(str(folder / f"{name}.docx")).tables:
        head = table.rows[0].cells
        if table.style is None or table.style.name != "Fallbook Table":
            continue
        widths = [cell.width.inches for cell in head]
        high = sum(_height([cell.text for cell in row.cells], widths) for row in table.rows[1:])
        if high <= WHOLE_IN:
            heads[rf"^ *{re.escape(head[0].text)} +{re.escape(head[1].text)} "] += 1
    assert heads or name.startswith("locate-25")
    for head, count in heads.items():
        assert sum(len(re.findall(head, page.text, re.M)) for page in pages[name]) == count
