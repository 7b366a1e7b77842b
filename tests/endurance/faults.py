"""Endurance trial: what a crew's machine does to a library, and whether each command then says the right sentence.

    python tests/endurance/faults.py [--only disk-full,flips] [--seed N]

One line a trial, with counts; each thing that is wrong is a line of its own, and the exit code is 1. The trials of full
and read-only disks need the right to mount (root on Linux); where it is missing they are skipped by name.
"""

from __future__ import annotations

import argparse
import io
import multiprocessing
import os
import random
import re
import shutil
import sqlite3
import subprocess
import sys
import tempfile
import time
import wave
from collections import Counter
from collections.abc import Callable, Iterator
from contextlib import closing, contextmanager, redirect_stderr, redirect_stdout
from dataclasses import dataclass, field
from datetime import UTC, datetime
from pathlib import Path
from typing import Any
from unittest.mock import patch

from PIL import Image

from extract.record import Note
from logger import cli, speech
from logger.store import open_store
from logger.worker import worker

COMPANY = """name = "Sedgeway Drainage"\naddress = "2 Tarn Lane, Oxholt"\nphone = "555-0100"\nemail = "a@sedgeway.example"
[warranty]\nworkmanship_months = 12\ncovers = ["joints we made"]\nexcludes = []\nhow_to_claim = "Call us."\n"""
NOTES = """[09:48:00] Basin one is set. Twelve by twelve.
[09:50:00] Run one is laid, from basin one to basin two. Four-inch SDR 35, 12 feet long.
[09:52:00] Drop on run one is 3 inches.
[09:55:00] Run two is laid, from basin two to the pop-up. Four-inch SDR 35, 34 feet long.
"""
JOBS = ("front-walk", "back-yard", "side-gate")
HEARD = [Note(text="Drop on run two is 8 inches.", start_s=0.0, end_s=1.0)]
READ = [("show",), *(("show", job) for job in JOBS), ("ready", JOBS[0]), ("find", "run")]
MB = 1 << 20
NOBODY = 65534
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
    with patch.multiple(speech, hear=ear.hear, describe=ear.describe), redirect_stdout(out), redirect_stderr(err):
        code = cli.run(["--library", str(folder), *args])
    return Said(tuple(args), code, out.getvalue(), err.getvalue())


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


@contextmanager
def disk(tally: Tally, at: Path, size: int) -> Iterator[Path]:
    """A small disk of its own; None where this user may not mount one."""
    at.mkdir(parents=True)
    made = subprocess.run(["mount", "-t", "tmpfs", "-o", f"size={size}", "tmpfs", str(at)], capture_output=True)
    if made.returncode:
        tally.skipped = "no right to mount a disk"
        yield None
        return
    try:
        yield at
    finally:
        subprocess.run(["umount", "-l", str(at)], check=True)


# -- 1. a full disk


def disk_full(tally: Tally, base: Path, dice: random.Random, count: int = 50) -> None:
    """Each command with 0 to 600 kB left; then again with room."""
    make_files(files := base / "files")
    make_library(tally, made := base / "made", files)
    with disk(tally, base / "disk", 8 * MB) as small:
        for number in range(count if small else 0):
            left = 0 if number % 10 == 0 else dice.randrange(600_000)
            for words in full_commands(files, small, base):
                on_full_disk(tally, made, small, left, words)
                tally.counts["points"] += 1


def full_commands(files: Path, small: Path, base: Path) -> list[tuple[object, ...]]:
    job = JOBS[0]
    taken = [("take", job, files / name) for name in ("notes2.txt", "photo2.jpg", "talk2.wav")]
    report = [("report", job, "-o", folder / "r.docx") for folder in (small, base)]
    start = ("new", "new-job", "--client", "C", "--address", "A", "--company", files / "company.toml", "--zone=-05:00")
    changes = [("say", job, "A word said now."), ("amend", job, "R-2", "length_ft", "35"), ("remove", job, "note:1")]
    return [*taken, *changes, *READ[:2], *READ[4:], *report, ("verify",), ("backup", small / "copy"), start]


def on_full_disk(tally: Tally, made: Path, small: Path, left: int, words: tuple[object, ...]) -> None:
    for each in small.iterdir():
        shutil.rmtree(each) if each.is_dir() else each.unlink()
    library = copied(made, small / "library")
    before, where = entries(library), f"{left // 1000} kB left"
    fill(small, left)
    said = run(library, *words)
    writes = words[0] in ("take", "say", "amend", "remove", "new", "backup") or str(small) in str(words[-1])
    if plain(tally, said, "full disk", must="" if said.code == 0 else "disk is full|No space left"):
        tally.expect(said.code == 0 or writes, f"full disk: only reads, and must work: {said}")
        tally.expect("damaged" not in said.err, f"full disk: {said}")
        lines = [line for line in said.err.splitlines() if "not as they should be" not in line]
        tally.expect(said.code == 0 or len(lines) == 1, f"full disk: more than one line: {said}")
    tally.counts["refused"] += said.code != 0
    (small / "ballast").unlink()
    after = entries(library)
    tally.expect(after[: len(before)] == before, f"full disk: entries lost: {said}")
    logged = len(after) > len(before) or not writes or words[0] in ("new", "backup", "report")
    tally.expect(logged or said.code != 0, f"full disk: acknowledged and not logged: {said}")
    tally.expect(not (said.code and words[0] in ("say", "amend", "remove") and len(after) > len(before)),
                 f"full disk: logged, and told to run it again: {said}")  # fmt: skip
    again = run(library, *words)
    twice = said.code == 0 and words[0] in ("remove", "new")
    (plain if twice else done)(tally, again, f"room again ({where})")
    done(tally, run(library, "verify"), f"whole again ({where}, after {words[0]})")
    over = left_over(small)
    tally.expect(not over, f"full disk: {words[0]} left {over}")


def fill(small: Path, left: int) -> None:
    """Fill the disk but for about so many bytes."""
    room = shutil.disk_usage(small).free - left
    with (small / "ballast").open("wb") as file:
        os.posix_fallocate(file.fileno(), 0, max(room, 1))


# -- 2. read-only


def read_only(tally: Tally, base: Path, dice: random.Random, count: int = 0) -> None:
    make_files(files := base / "files")
    make_library(tally, made := base / "made", files)
    base.chmod(0o755)
    earlier = sorted(Path(__file__).parent.parent.glob("logger/libraries/*/library.db"))
    with disk(tally, base / "disk", 64 * MB) as small:
        if small:
            copied(made, small / "library")
            for database in earlier:
                copied(database.parent, small / database.parent.name)
            subprocess.run(["mount", "-o", "remount,ro", str(small)], check=True)
            reads(tally, run, small / "library", base)
            refuses(tally, run, small / "library", files)
            for database in earlier:
                job_reads(tally, run, small / database.parent.name)
    if os.getuid() == 0:
        as_nobody(tally, made, base, files)


def reads(tally: Tally, do: Callable[..., Said], library: Path, elsewhere: Path) -> None:
    for words in [*READ, ("report", JOBS[0], "-o", elsewhere / "ro.docx"), ("verify",), ("backup", elsewhere / "copy")]:
        done(tally, do(library, *words), "read-only")
    shutil.rmtree(elsewhere / "copy", ignore_errors=True)


def job_reads(tally: Tally, do: Callable[..., Said], library: Path) -> None:
    """An earlier version's library."""
    for words in (("show",), ("show", JOBS[0]), ("ready", JOBS[0]), ("find", "basin"), ("verify", JOBS[0])):
        done(tally, do(library, *words), f"read-only, of {library.name}")


def refuses(tally: Tally, do: Callable[..., Said], library: Path, files: Path, must: str = "can be read and not writ") -> None:
    job, company = JOBS[0], files / "company.toml"
    start = ("new", "more", "--client", "C", "--address", "A", "--company", company, "--day", "2026-05-14")
    changes = [("say", job, "A word."), ("amend", job, "R-2", "length_ft", "35"), ("remove", job, "note:1")]
    for words in [*changes, start, *(("take", job, files / name) for name in ("notes2.txt", "talk2.wav"))]:
        said = do(library, *words)
        plain(tally, said, "read-only", must=must)
        tally.expect(said.code != 0, f"read-only: should have been refused: {said}")


def as_nobody(tally: Tally, made: Path, base: Path, files: Path) -> None:
    """Another user of the machine: without rights, with the right to read, and owner of a folder without rights."""
    (elsewhere := base / "nobody").mkdir()
    os.chown(elsewhere, NOBODY, NOBODY)
    for path in [files, *files.iterdir()]:
        path.chmod(0o755)
    with multiprocessing.get_context("fork").Pool(1, _become_nobody) as other:

        def do(*words: object) -> Said:
            return other.apply(run, words)

        shut = copied(made, base / "shut")
        for words in [*READ, ("say", JOBS[0], "A word."), ("verify",), ("backup", elsewhere / "copy")]:
            said = do(shut, *words)
            plain(tally, said, "no rights", must="Permission denied|check the rights")
            tally.expect(said.code == 1, f"no rights: {said}")
        for name, mode, owner in (("readable", 0o755, 0), ("own", 0o500, NOBODY)):
            library = copied(made, base / name)
            for path in [*library.rglob("*"), library]:
                os.chown(path, owner, owner)
                path.chmod(mode if path.is_dir() else mode & 0o644)
            reads(tally, do, library, elsewhere)
            refuses(tally, do, library, files)


def _become_nobody() -> None:
    worker.cache_clear()
    os.setgid(NOBODY)
    os.setuid(NOBODY)
