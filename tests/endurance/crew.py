"""A crew and its library for the trials of what a machine does to it: commands typed, and whether they end plainly."""

from __future__ import annotations

import io
import re
import shutil
import sqlite3
import wave
from collections import Counter
from collections.abc import Callable
from contextlib import closing, redirect_stderr, redirect_stdout, suppress
from dataclasses import dataclass, field
from functools import lru_cache
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any
from unittest.mock import patch

from PIL import Image

from extract.errors import FallbookError
from extract.record import Note
from logger import cli, settle, speech
from logger.store import open_store

COMPANY = """name = "Sedgeway Drainage"
address = "2 Tarn Lane, Oxholt"
phone = "555-0100"
email = "a@sedgeway.example"
[warranty]
workmanship_months = 12
covers = ["joints we made"]
excludes = []
how_to_claim = "Call us."
"""
NOTES = """[09:48:00] Basin one is set. Twelve by twelve.
[09:50:00] Run one is laid, from basin one to basin two. Four-inch SDR 35, 12 feet long.
[09:52:00] Drop on run one is 3 inches.
[09:55:00] Run two is laid, from basin two to the pop-up. Four-inch SDR 35, 34 feet long.
"""
JOBS = ("front-walk", "back-yard", "side-gate")
HEARD = [Note(text="Drop on run two is 8 inches.", start_s=0.0, end_s=1.0)]
READ = [("show",), *(("show", job) for job in JOBS), ("ready", JOBS[0]), ("find", "run")]
CONTROLS = re.compile("[\x00-\x09\x0b-\x1f\x7f-\x9f\u200e\u200f\u2028-\u202e\u2066-\u2069]")


@dataclass
class Tally:
    """What a trial looked at and how often, and what was wrong, a line each."""

    counts: Counter[str] = field(default_factory=Counter)
    wrong: Counter[str] = field(default_factory=Counter)
    skipped: str = ""

    def expect(self, right: bool, words: str) -> bool:
        if not right:
            self.wrong[words] += 1
        return right


@dataclass(frozen=True)
class Said:
    """What one command came to."""

    words: tuple[str, ...]
    code: int
    out: str
    err: str

    def __str__(self) -> str:
        said = " | ".join(f"{self.err}{self.out if self.code else ''}".splitlines()[:3])
        return f"{' '.join(self.words)[:60]}: exit {self.code}: {said[:240]}"


class FakeEar:
    """A recogniser that hears the same in every recording; `before` is called first."""

    def __init__(self, before: Callable[[], None] = lambda: None) -> None:
        self.before = before

    def hear(self, path: Path, **_: Any) -> list[Note]:
        self.before()
        return HEARD

    def describe(self, *_: Any) -> dict[str, Any]:
        return {"model": "stand-in"}


# -- a crew and its library


def run(folder: Path, *words: object, ear: FakeEar | None = None) -> Said:
    """One command as typed, on the library in `folder`, with a stand-in recogniser."""
    args, out, err, ear = [str(word) for word in words], io.StringIO(), io.StringIO(), ear or FakeEar()
    ears = patch.multiple(speech, hear=ear.hear, describe=ear.describe)
    with ears, patch.object(settle, "in_background", settle_at_once), redirect_stdout(out), redirect_stderr(err):
        code = cli.run(["--library", str(folder), *args])
    return Said(tuple(args), code, out.getvalue(), err.getvalue())


def settle_at_once(folder: Path) -> None:
    """What the background process does, in this one: each trial has to know when it is over."""
    with suppress(FallbookError, OSError), open_store(folder) as store:
        settle.settle_all(store)


def plain(tally: Tally, said: Said, where: str, *, must: str = "") -> bool:
    """Whether it came to a plain end: done, or at least one line and no traceback; with `must`, a line that says so."""
    tally.counts["commands"] += 1
    told = said.err + said.out
    right = "Traceback" not in told and "--debug" not in told and said.code in (0, 1, 2)
    right = right and (said.code == 0 or bool(told.strip())) and not CONTROLS.search(told)
    return tally.expect(right and (not must or re.search(must, told) is not None), f"{where}: {said}")


def done(tally: Tally, said: Said, where: str) -> bool:
    return plain(tally, said, where) and tally.expect(said.code == 0, f"{where}: should have worked: {said}")


def make_files(folder: Path) -> None:
    """A company file, and files to take: two text logs, two photos, two recordings."""
    folder.mkdir(parents=True)
    (folder / "company.toml").write_text(COMPANY)
    for number in (1, 2):
        (folder / f"notes{number}.txt").write_text(NOTES if number == 1 else "[10:30:00] Basin two is 20 deep.\n")
        image = Image.effect_noise((200, 120), 60 + number)
        image.save(folder / f"photo{number}.jpg", quality=90)
        with wave.open(str(folder / f"talk{number}.wav"), "wb") as file:
            file.setnchannels(1), file.setsampwidth(2), file.setframerate(8000)
            file.writeframes(bytes([number, 0, 0, number]) * 4000)


def new(library: Path, files: Path, job: str, *more: object) -> Said:
    words = ("new", job, "--client", "A. Client", "--address", "1 Larch Walk", "--company", files / "company.toml")
    return run(library, *words, *(more or ("--day", "2026-05-14", "--zone=-05:00")))


def make_library(tally: Tally, library: Path, files: Path) -> None:
    """Three jobs: the first with a text log, a photo, a recording, a correction and a removal."""
    for job in JOBS:
        done(tally, new(library, files, job), "set up")
        for number in range(6):
            done(tally, run(library, "say", job, f"Remark {number} of {job}.", "--at", f"08:{number:02}"), "set up")
    taken = [files / f"{name}1.{kind}" for name, kind in (("notes", "txt"), ("photo", "jpg"), ("talk", "wav"))]
    for words in (
        ("take", JOBS[0], *taken),
        ("amend", JOBS[0], "R-1", "length_ft", "13"),
        ("remove", JOBS[1], "note:3"),
        *READ,
    ):
        done(tally, run(library, *words), "set up")


def begin(base: Path) -> tuple[Path, Path]:
    """The files and the library, in `base`: a copy of what was made once."""
    for name in ("files", "made"):
        shutil.copytree(Path(_made_once().name) / name, base / name)
    return base / "files", base / "made"


@lru_cache(maxsize=1)
def _made_once() -> TemporaryDirectory[str]:
    folder, tally = TemporaryDirectory(), Tally()
    make_files(files := Path(folder.name) / "files")
    make_library(tally, Path(folder.name) / "made", files)
    if tally.wrong:
        raise RuntimeError(f"the library could not be made: {list(tally.wrong)}")
    return folder


def entries(library: Path) -> list[tuple[Any, ...]]:
    with closing(sqlite3.connect(library / "library.db")) as conn:
        return conn.execute("SELECT job, kind, at, body, sha256 FROM log ORDER BY id").fetchall()


def copied(source: Path, target: Path) -> Path:
    """A copy of a library in an empty place."""
    shutil.rmtree(target, ignore_errors=True)
    shutil.copytree(source, target)
    return target


def left_over(library: Path) -> list[str]:
    return [str(path.relative_to(library)) for path in library.rglob(".unfinished-*")]
