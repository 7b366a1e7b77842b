"""The report as a PDF, and what is said where none can be made."""

import os
import shutil
import subprocess
import sys
import time
from pathlib import Path

import pytest

from logger import pdf

SETTLED = (
    "Outlet one is a pop-up, it is set. Basin one is set. Run one is in, 40 feet, from basin one to outlet one, "
    "four inch SDR 35, drop 10 inches."
)


def needs(*programs: str):
    packages = {"soffice": "libreoffice-writer", "qpdf": "qpdf", "pdftotext": "poppler-utils"}
    absent = [packages[each] for each in programs if shutil.which(each) is None]
    return pytest.mark.skipif(bool(absent), reason=f"Debian packages not installed: {', '.join(absent)}")


def asked(*words: object) -> str:
    return subprocess.run([str(each) for each in words], check=True, capture_output=True, text=True).stdout


@pytest.fixture
def cache(tmp_path, monkeypatch):
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "cache"))
    return tmp_path / "cache" / "fallbook"


@pytest.fixture
def office(tmp_path, monkeypatch, cache):
    """Puts a program in LibreOffice's place, as Python code."""

    def put(code: str) -> None:
        program = tmp_path / "soffice.py"
        program.write_text(f"#!{sys.executable}\nimport subprocess, sys, time\n{code}")
        program.chmod(0o755)
        monkeypatch.setattr(pdf, "converter", lambda: str(program))

    return put


@pytest.mark.outside
@needs("soffice", "qpdf", "pdftotext")
@pytest.mark.parametrize("reader", ["client", "record", "locate"])
def test_a_pdf_lies_beside_the_report_and_is_whole(fallbook, job, cache, tmp_path, reader):
    fallbook("say", job, SETTLED, "--at", "10:00")
    code, out, err = fallbook("report", job, "--for", reader, "--pdf", "-o", tmp_path / "r.docx")
    assert (code, err) == (0, "")
    made = tmp_path / "r.pdf"
    assert out.splitlines()[:2] == [str(tmp_path / "r.docx"), str(made)]
    assert "No syntax or stream encoding errors found" in asked("qpdf", "--check", made)
    text = asked("pdftotext", made, "-")
    assert "Sedgeway Drainage" in text
    assert "1 Larch Walk" in text
    assert "Tagged:          yes" in asked("pdfinfo", made)
    assert not list(cache.glob("pdf-*"))


@pytest.mark.parametrize("there", [True, False])
def test_where_libreoffice_is_absent_one_line_says_what_to_install(fallbook, job, tmp_path, monkeypatch, there):
    at = tmp_path / "soffice.com"
    if there:
        at.touch()
    monkeypatch.setattr(pdf, "ELSEWHERE", (at,))
    monkeypatch.setattr(shutil, "which", lambda name: None)
    if there:
        assert pdf.converter() == str(at)
        return
    code, out, err = fallbook("report", job, "--pdf", "--draft", "-o", tmp_path / "r.docx")
    assert (code, out, err) == (1, "", f"fallbook: {pdf.ABSENT}\n")
    assert not (tmp_path / "r.docx").exists()


def test_a_program_that_makes_no_pdf_is_one_line_and_what_lay_there_stays(fallbook, job, tmp_path, office, cache):
    office("print('Error: source file could not be loaded')")
    for name in ("r.docx", "r.pdf"):
        (tmp_path / name).write_bytes(b"of an earlier report")
    code, out, err = fallbook("report", job, "--pdf", "--draft", "-o", tmp_path / "r.docx")
    assert (code, out) == (1, "")
    assert (
        err == f"fallbook: {tmp_path}/r.docx: LibreOffice made no PDF of it: Error: source file could not be loaded\n"
    )
    assert {(tmp_path / name).read_bytes() for name in ("r.docx", "r.pdf")} == {b"of an earlier report"}
    assert not list(cache.iterdir())


@pytest.mark.skipif(os.name != "posix", reason="ends a group of processes")
def test_one_that_hangs_is_ended_with_what_it_started(tmp_path, office, monkeypatch):
    office(
        "child = subprocess.Popen(['sleep', '60'])\n"
        f"open({str(tmp_path / 'child')!r}, 'w').write(str(child.pid))\ntime.sleep(60)"
    )
    monkeypatch.setattr(pdf, "LONGEST_S", 2)
    with pytest.raises(pdf.FallbookError, match="LibreOffice took longer than 2 s over the PDF; run it again"):
        pdf.as_pdf(b"", tmp_path / "r.docx")
    assert ends(Path(f"/proc/{(tmp_path / 'child').read_text()}/stat"))


def ends(stat: Path, within_s: float = 10) -> bool:
    """Whether a process ends: the system takes a moment over one that was killed."""
    last = time.monotonic() + within_s
    while stat.exists() and stat.read_text().split()[2] != "Z":
        if time.monotonic() > last:
            return False
        time.sleep(0.05)
    return True


def test_a_pdf_that_cannot_be_written_is_one_line(fallbook, job, tmp_path, office):
    office("open(sys.argv[-1].replace('docx', 'pdf'), 'w').write('%PDF-')")
    (tmp_path / "r.pdf").mkdir()
    code, out, err = fallbook("report", job, "--pdf", "--draft", "-o", tmp_path / "r.docx")
    assert (code, out) == (1, "")
    assert err.startswith(f"fallbook: {tmp_path / 'r.docx'}: cannot be written (Is a directory)")
    assert not (tmp_path / "r.docx").exists()
