"""A report's Word file as a PDF, page for page, by LibreOffice. How other ways compare stands in DEVELOPERS.md."""

from __future__ import annotations

import os
import shutil
import signal
import subprocess
import tempfile
from contextlib import suppress
from pathlib import Path

from platformdirs import user_cache_path

from extract.errors import FallbookError

ELSEWHERE = (
    Path("/Applications/LibreOffice.app/Contents/MacOS/soffice"),
    Path(r"C:\Program Files\LibreOffice\program\soffice.com"),
)
"""Where its installer puts it on macOS and Windows, which no search path names."""
FORM = 'pdf:writer_pdf_Export:{"UseTaggedPDF":{"type":"boolean","value":"true"}}'
"""Tagged: headings, heads of tables and the texts of pictures reach a blind reader."""
LONGEST_S = 180
ABSENT = (
    "a PDF needs LibreOffice, which was not found here; install it (on Debian: apt install libreoffice-writer; "
    "elsewhere from libreoffice.org), or leave --pdf out"
)


def converter() -> str:
    """LibreOffice's command. Raises FallbookError where there is none."""
    found = shutil.which("soffice") or next((str(each) for each in ELSEWHERE if each.is_file()), None)
    if found is None:
        raise FallbookError(ABSENT)
    return found


def as_pdf(document: bytes, report: Path) -> bytes:
    """The PDF of a Word file that goes by the name of `report`. What LibreOffice writes meanwhile lies in a folder
    of its own in the cache, and goes away with it.

    Raises FallbookError where LibreOffice is absent, makes none, or takes longer than LONGEST_S. May raise OSError.
    """
    command, cache = converter(), user_cache_path("fallbook", ensure_exists=True)
    with tempfile.TemporaryDirectory(prefix="pdf-", dir=cache, ignore_cleanup_errors=True) as own:
        folder = Path(own)
        copy = folder / "report.docx"
        copy.write_bytes(document)
        profile = f"-env:UserInstallation={(folder / 'profile').as_uri()}"
        words = [command, profile, "--headless", "--convert-to", FORM, "--outdir", own, str(copy)]
        said = _run(words, os.environ | dict.fromkeys(("TMPDIR", "XDG_CONFIG_HOME", "XDG_CACHE_HOME"), own))
        made = folder / "report.pdf"
        if not made.is_file():  # its exit code is 0 all the same
            raise FallbookError(f"{report}: LibreOffice made no PDF of it: {said or 'it did not say why'}")
        return made.read_bytes()


def _run(words: list[str], environment: dict[str, str]) -> str:
    """Run it to its end; the last line that it said."""
    process = subprocess.Popen(
        words,
        env=environment,
        stdin=subprocess.DEVNULL,
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        start_new_session=True,
    )
    try:
        said, _ = process.communicate(timeout=LONGEST_S)
    except BaseException as error:
        _end(process)
        if isinstance(error, subprocess.TimeoutExpired):
            raise FallbookError(f"LibreOffice took longer than {LONGEST_S} s over the PDF; run it again") from error
        raise
    return " ".join(said.decode(errors="replace").split("\n")[-2:]).strip()


def _end(process: subprocess.Popen[bytes]) -> None:
    """End it with the processes that it started."""
    if os.name == "posix":
        with suppress(ProcessLookupError):
            os.killpg(process.pid, signal.SIGKILL)
    process.kill()
    process.wait()
