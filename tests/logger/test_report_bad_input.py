"""Reports of what no one would wish to print: each is a valid file, or one clear line and no half of a file."""

import errno
import io
import shutil
import subprocess
import zipfile
from pathlib import Path

import pytest
from conftest import new
from docx import Document
from lxml import etree

from reports import scratch
from reports.closeout import READERS

NAMES = {
    "200 letters": "Wexcombe " * 22 + "at",
    "one long word": "W" * 200,
    "emoji": "Ina 🛠️👷🏽‍♀️ Wexcombe",
    "right to left": "אינה וקסקומב & إينا",
    "forbidden in XML": "Ina\x00\x0b\x1b\ufffe Wexcombe",
    "signs of XML": "<w:p>&amp;]]>",
    "turned round": "Ina \u202eebmocxeW\u202c",
}
SAID = "Outlet one is a pop-up, it is set. Basin one is set. Run one is in, 40 feet, from basin one to outlet one."


def whole(path: Path) -> str:
    """The text of a Word file, every part of which is well-formed XML."""
    content = path.read_bytes()
    with zipfile.ZipFile(io.BytesIO(content)) as package:
        assert package.testzip() is None
        for name in package.namelist():
            if name.endswith((".xml", ".rels")):
                etree.fromstring(package.read(name))
    return str(etree.tostring(Document(io.BytesIO(content)).element.body, method="text", encoding="unicode"))


@pytest.mark.parametrize("reader", READERS)
@pytest.mark.parametrize("kind", NAMES)
def test_a_client_of_any_name_has_a_valid_report(fallbook, company, tmp_path, kind, reader):
    assert new(fallbook, company, client=NAMES[kind], address=f"1 Larch Walk {NAMES[kind]}")[0] == 0
    fallbook("say", "front-walk", SAID, "--at", "10:00")
    code, _, err = fallbook("report", "front-walk", "--for", reader, "--draft", "-o", tmp_path / "r.docx")
    assert (code, err) == (0, "")
    text = whole(tmp_path / "r.docx")
    assert "1 Larch Walk" in text
    assert "\u202e" not in text
    if kind in ("200 letters", "one long word", "emoji", "right to left", "signs of XML"):
        assert NAMES[kind] in text.replace("\u200e", "")


@pytest.mark.parametrize("reader", READERS)
@pytest.mark.parametrize("notes", [[], ["Basin one is set."], ["Need to buy two couplings."]])
def test_a_job_without_runs_or_photos_has_a_valid_report(fallbook, job, tmp_path, notes, reader):
    for note in notes:
        fallbook("say", job, note, "--at", "10:00")
    code, _, err = fallbook("report", job, "--for", reader, "--draft", "-o", tmp_path / "r.docx")
    assert (code, err) == (0, "")
    assert "1 Larch Walk" in whole(tmp_path / "r.docx")


@pytest.mark.parametrize("company_file", ["gone.toml", "."])
def test_without_a_company_file_no_job_is_started(fallbook, tmp_path, company_file):
    code, out, err = new(fallbook, tmp_path / company_file)
    assert (code != 0, out, err.count("\n")) == (True, "", 1)
    assert f"{tmp_path / company_file}: cannot be read" in err


@pytest.mark.outside
@pytest.mark.skipif(shutil.which("soffice") is None, reason="Debian package libreoffice-writer is not installed")
@pytest.mark.skipif(shutil.which("pdftotext") is None, reason="Debian package poppler-utils is not installed")
def test_the_worst_names_are_on_the_pages_of_a_pdf(fallbook, company, tmp_path, monkeypatch):
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "cache"))
    new(fallbook, company, client=NAMES["one long word"] + NAMES["emoji"], address=NAMES["right to left"])
    fallbook("say", "front-walk", SAID, "--at", "10:00")
    assert fallbook("report", "front-walk", "--draft", "--pdf", "-o", tmp_path / "r.docx")[0] == 0
    text = subprocess.run(["pdftotext", tmp_path / "r.pdf", "-"], check=True, capture_output=True, text=True).stdout
    assert "W" * 200 in "".join(text.split())
    assert "Wexcombe" in text
    assert "14 May 2026" in text  # behind an address that is written from right to left


# -- a disk that is full half-way


@pytest.mark.parametrize("call", ["write", "fsync", "replace"])
def test_a_report_that_finds_no_room_leaves_the_one_before_and_no_half(fallbook, job, tmp_path, monkeypatch, call):
    fallbook("say", job, SAID, "--at", "10:00")
    path = tmp_path / "papers" / "r.docx"
    path.parent.mkdir()
    fallbook("report", job, "--draft", "-o", path)
    before = {each.name: each.read_bytes() for each in path.parent.iterdir()}
    fallbook("say", job, "Basin two is set.", "--at", "10:05")

    def no_room(*_):
        raise OSError(errno.ENOSPC, "No space left on device")

    if call == "write":
        locked = scratch._locked_file

        def half(folder, mode):
            made = locked(folder, mode)
            if folder == path.parent:
                made.file = Half(made.file)
            return made

        monkeypatch.setattr(scratch, "_locked_file", half)
    else:
        monkeypatch.setattr(scratch.os, call, no_room)
    code, out, err = fallbook("report", job, "--draft", "-o", path)
    monkeypatch.undo()
    assert (code, out) == (1, "")
    assert f"{path}: cannot be written (No space left on device)" in err
    assert len(err.splitlines()) == 1
    left = {each.name: each.read_bytes() for each in path.parent.iterdir()}
    if call == "replace":  # what the new one lacks goes first, so that no old calendar lies beside it
        del before["r-care.ics"]
    assert left == before


class Half:
    """A file that takes half of what is written, and then finds no room."""

    def __init__(self, file):
        self._file = file

    def __getattr__(self, name):
        return getattr(self._file, name)

    def write(self, content):
        self._file.write(content[: len(content) // 2])
        raise OSError(errno.ENOSPC, "No space left on device")
