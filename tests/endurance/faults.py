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
            left = 0 if number % 10 == 0 else int(600_000 * dice.random() ** 3)  # mostly little
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
    os.setuid(NOBODY)


# -- 3. many at once


def at_once(tally: Tally, base: Path, dice: random.Random, count: int = 25) -> None:
    """Eight who type, two who take photos, two who look and one who backs up, in processes of their own."""
    make_files(files := base / "files")
    make_library(tally, library := base / "made", files)
    crew = [("say", n) for n in range(8)] + [("take", n) for n in range(2)] + [("show", 0), ("show", 1), ("backup", 0)]
    for number in range(2 * count):
        Image.effect_noise((60, 40), 50 + number).save(files / f"busy{number}.jpg")
    with multiprocessing.get_context("fork").Pool(len(crew), worker.cache_clear) as pool:
        said = pool.starmap(busy, [(kind, n, library, files, count) for kind, n in crew], chunksize=1)
    for each in (one for many in said for one in many):
        if done(tally, each, "at once"):
            tally.expect(not each.err, f"at once: a line on standard error: {each}")
    logged = Counter(body for _, kind, _, body, _ in entries(library) if kind == "said" and "Typed" in body)
    tally.expect(len(logged) == 8 * count and set(logged.values()) == {1}, f"at once: {len(logged)} of {8 * count} notes")
    photos = sum(kind == "photo" for _, kind, *_ in entries(library))
    tally.expect(photos == 2 * count + 1, f"at once: {photos} photos of {2 * count + 1}")
    for folder in (library, base / "copy"):
        done(tally, run(folder, "verify"), "at once")
        tally.expect(not left_over(folder), f"at once: left {left_over(folder)}")


def busy(kind: str, number: int, library: Path, files: Path, count: int) -> list[Said]:
    job = JOBS[number % 3]
    if kind == "say":
        return [run(library, "say", job, f"Typed {number} {each}.") for each in range(count)]
    if kind == "take":
        mine = range(number * count, (number + 1) * count)
        return [run(library, "take", job, files / f"busy{each}.jpg") for each in mine]
    words = ("backup", files.parent / "copy") if kind == "backup" else ("show", job)
    return [run(library, *words) for _ in range(count)]


# -- 4. a clock that is wrong


def clock(tally: Tally, base: Path, dice: random.Random, count: int = 4) -> None:
    """Set back by an hour; and at 1970, 2038 and 2105. `count` of these four."""
    if not shutil.which("faketime"):
        tally.skipped = "faketime is not installed"
        return
    make_files(files := base / "files")
    set_back(tally, base / "back", files)
    for when in ("1970-01-01 00:10", "2105-06-01 12:00", "2038-01-20 12:00")[: count - 1]:
        far_off(tally, base / when[:4], files, when)


def run_at(when: str, folder: Path, *words: object) -> Said:
    """One command in a process whose clock says so, in UTC."""
    args = tuple(map(str, words))
    command = ["faketime", "--exclude-monotonic", when, sys.executable, "-m", "logger.cli", "--library", folder, *args]
    ended = subprocess.run(command, capture_output=True, text=True, env=os.environ | {"TZ": "UTC"})
    return Said(args, ended.returncode, ended.stdout, ended.stderr)


def set_back(tally: Tally, library: Path, files: Path) -> None:
    job = JOBS[0]
    done(tally, new(library, files, job, "--day", "2026-05-14", "--zone=+00:00"), "clock")
    laid = "Run one is laid, from basin one to basin two. Four-inch SDR 35, 34 feet long."
    done(tally, run_at("2026-05-14 14:00:00", library, "say", job, laid), "clock")
    said = run_at("2026-05-14 13:00:00", library, "say", job, "Make that 36 feet.")
    done(tally, said, "clock")
    tally.expect(said.err.count("clock was set back") == 1 == said.err.count("\n"), f"clock: not one line: {said}")
    shown = run_at("2026-05-14 13:05:00", library, "show", job, "R-1")
    tally.expect(re.search(r"length_ft\s+36\b", shown.out) is not None, f"clock: the correction is lost: {shown.out}")


def far_off(tally: Tally, library: Path, files: Path, when: str) -> None:
    job, good = JOBS[0], when.startswith("2038")
    start = ("new", job, "--client", "C", "--address", "A", "--company", files / "company.toml")
    said = run_at(when, library, *start)
    if not good and plain(tally, said, when, must="computer's clock says .* set it, or give the day"):
        tally.expect(said.code == 2, f"{when}: {said}")
        done(tally, run_at(when, library, *start, "--day", "2026-05-14"), when)
    taken = [("take", job, files / name) for name in ("notes1.txt", "photo1.jpg")]
    changes = [("say", job, "A word said now."), ("amend", job, "R-1", "length_ft", "13"), ("remove", job, "note:1")]
    looks = [("show",), ("show", job), ("ready", job), ("find", "basin"), ("verify",), ("backup", library / "../copy")]
    for words in [*taken, *changes, *looks]:
        said = run_at(when, library, *words)
        if words[0] != "verify":
            done(tally, said, when)
        plain(tally, said, when, must="" if said.code == 0 else "clock")
        tally.expect(said.err.count("\n") <= 2, f"{when}: many lines: {said}")
    said = run_at(when, library, "report", job, "-o", library.parent / "r.docx")
    plain(tally, said, when, must="" if good else "clock")
    kinds = Counter(kind for _, kind, *_ in entries(library))
    right = {"text": 1, "photo": 1, "said": 1, "amendment": 1, "removal": 1}
    tally.expect(kinds == right, f"{when}: in the log: {dict(kinds)}")
    shutil.rmtree(library.parent / "copy", ignore_errors=True)


# -- 5. and 6. a bit that flips in the database, and the way back


COMPUTED = ("derived", "found", "rest")


def flips(tally: Tally, base: Path, dice: random.Random, count: int = 70) -> None:
    """One bit in every kind of page, then every command; then repaired, and restored from an older backup."""
    make_files(files := base / "files")
    make_library(tally, made := base / "made", files)
    done(tally, run(made, "backup", base / "copy"), "flips")
    old = [run(made, *words).out for words in READ]
    done(tally, run(made, "say", JOBS[2], "A newer remark.", "--at", "09:00"), "flips")
    new_ = [run(made, *words).out for words in READ]
    pages = pages_of(made / "library.db")
    for number in range(count):
        group = sorted(pages)[number % len(pages)]
        hit = base / "hit"
        where = f"{group} {flip(copied(made, hit) / 'library.db', dice, pages[group], group)}"
        tally.counts[group] += 1
        one_flip(tally, hit, base, files, (old, new_), group, where)


def pages_of(database: Path) -> dict[str, list[int]]:
    """Which pages each group of tables takes."""
    found: dict[str, list[int]] = {"header": [1]}
    groups = ("jobs", "log", "derived", "found", "schema")
    with closing(sqlite3.connect(database)) as conn:
        for name, page in conn.execute("SELECT name, pageno FROM dbstat").fetchall():
            core = name.removeprefix("sqlite_autoindex_").removeprefix("sqlite_")
            group = next((each for each in groups if core.startswith(each)), "rest")
            found.setdefault(group, []).append(page)
    return found


def flip(database: Path, dice: random.Random, pages: list[int], group: str) -> str:
    """Flip one bit in one of the pages, mostly where something is written: free space is all zeros."""
    raw = bytearray(database.read_bytes())
    size = int.from_bytes(raw[16:18], "big")
    start, first, last = (dice.choice(pages) - 1) * size, 100 if group == "schema" else 0, 100 if group == "header" else size
    places = range(start + first, start + last)
    at = dice.choice(places if dice.random() < 0.1 else [each for each in places if raw[each]])
    bit = dice.randrange(8)
    raw[at] ^= 1 << bit
    database.write_bytes(raw)
    return f"byte {at} bit {bit}"


def one_flip(
    tally: Tally, hit: Path, base: Path, files: Path, truth: tuple[list[str], list[str]], group: str, where: str
) -> None:
    harmless = True
    for words, right in zip(READ, truth[1], strict=True):
        said = run(copied(hit, base / "look"), *words)
        plain(tally, said, where)
        if said.out != right:
            harmless = False
            tally.expect(bool(said.err or said.code), f"{where}: another answer, and not a word: {said}")
    held = copied(base / "copy", base / "held")
    report, backup = ("report", JOBS[0], "-o", base / "r.docx"), ("backup", held)
    for words in (("say", JOBS[0], "One more."), ("amend", JOBS[0], "R-2", "length_ft", "35"), report, backup):
        plain(tally, run(copied(hit, base / "look"), *words), where)
    found = plain(tally, verified := run(hit, "verify"), where) and verified.code
    if not found:
        tally.counts["unused bits"] += tally.expect(harmless, f"{where}: verify finds nothing")
        return
    if group in COMPUTED:
        mended(tally, copied(hit, base / "mended"), files, truth[1], f"{where}, repaired", [])
    mended(tally, hit, files, truth[1], f"{where}, restored", [("restore", held)], truth[0] if group not in COMPUTED else [])


def mended(
    tally: Tally, hit: Path, files: Path, right: list[str], where: str, first: list[Any], older: list[str] | None = None
) -> None:
    """After `first`, a repair where there is still need, and hearing again, all is as it was."""
    for words in first:
        done(tally, run(hit, *words), where)
    if run(hit, "verify").code:
        tally.counts["repaired"] += 1
        done(tally, run(hit, "verify", "--repair"), where)
    done(tally, run(hit, "take", JOBS[0], files / "talk1.wav"), where)
    shown = [run(hit, *words).out for words in READ]
    tally.counts["newer lost"] += shown != right and shown == older
    wrong = [" ".join(words) for words, one, other in zip(READ, shown, right, strict=True) if one != other]
    tally.expect(not wrong or shown == older, f"{where}: not as it was: {wrong}")
    done(tally, run(hit, "verify"), where)


# -- 5. other damage


def damage(tally: Tally, base: Path, dice: random.Random, count: int = 3) -> None:
    """`count` kinds of original altered and deleted; the database deleted; the folder gone; entries nobody knows."""
    make_files(files := base / "files")
    make_library(tally, made := base / "made", files)
    done(tally, run(made, "backup", base / "copy"), "damage")
    done(tally, run(made, "say", JOBS[2], "A newer remark.", "--at", "09:00"), "damage")
    right = [run(made, *words).out for words in READ]
    for _, kind, _, _, sha256 in [each for each in entries(made) if each[4]][:count]:
        for harm in (rot, alter, Path.unlink):
            for heal in (("take", JOBS[0], files), ("restore", base / "copy")):
                harm_original(tally, copied(made, base / "hit"), sha256, harm, heal, f"{kind} {harm.__name__}")
    no_database(tally, copied(made, base / "hit"), base / "copy")
    said = run(hit := copied(made, base / "hit"), "take", JOBS[0], files / "talk2.wav",
               ear=FakeEar(lambda: shutil.rmtree(hit)))  # fmt: skip
    plain(tally, said, "folder removed", must="no library here|is gone|cannot be opened")
    tally.expect(said.code == 1 and not hit.exists(), f"folder removed: {said}")
    for poison in (bad_company, unknown_kind, unknown_file, path_for_hash):
        poison(copied(made, base / "hit"))
        one_bad_job(tally, base / "hit", base, files, right, poison.__name__)


def rot(path: Path) -> None:
    """A bit flips on the disk: the file's time and size stay."""
    facts = path.stat()
    alter(path)
    os.utime(path, ns=(facts.st_atime_ns, facts.st_mtime_ns))


def alter(path: Path) -> None:
    raw = bytearray(path.read_bytes())
    raw[len(raw) // 2] ^= 4
    path.chmod(0o600)
    path.write_bytes(raw)


def harm_original(tally: Tally, hit: Path, sha256: str, harm: Callable[[Path], None], heal: Any, where: str) -> None:
    harm(hit / "originals" / sha256)
    shown = run(hit, "show", JOBS[0])
    done(tally, shown, where)
    tally.expect(harm is rot or "its original" in shown.err, f"{where}: show says nothing: {shown}")
    held = hit.parent / "held"
    shutil.rmtree(held, ignore_errors=True)
    plain(tally, run(hit, "backup", held), where, must="not copied: .*its original")
    tally.expect(run(held, "show", JOBS[1]).code == 0, f"{where}: one original costs the backup")
    if heal[0] == "take":
        said = run(hit, "verify")
        plain(tally, said, where, must="its original (is gone|was altered)")
        tally.expect(said.code == 1, f"{where}: verify: {said}")
    plain(tally, run(hit, *heal), where)
    done(tally, run(hit, "verify"), f"{where}, after {heal[0]}")


def no_database(tally: Tally, hit: Path, copy: Path) -> None:
    (hit / "library.db").unlink()
    for words in [*READ, ("say", JOBS[0], "A word."), ("verify",), ("backup", hit.parent / "other")]:
        said = run(hit, *words)
        plain(tally, said, "database deleted", must="library.db is gone.*fallbook restore")
        tally.expect(said.code == 1, f"database deleted: {said}")
    done(tally, run(hit, "restore", copy), "database deleted")
    done(tally, run(hit, "verify"), "database deleted")


def bad_company(hit: Path) -> None:
    """A company file that an earlier version took, and this one cannot read."""
    with open_store(hit) as store:
        job = store.job(JOBS[2])
        store.add_job(job.model_copy(update={"name": "odd-job"}), "name = 3")


def unknown_kind(hit: Path) -> None:
    _append(hit, kind="video")


def unknown_file(hit: Path) -> None:
    _append(hit, kind="video", sha256="ab" * 32, name="a.mov")


def path_for_hash(hit: Path) -> None:
    _append(hit, kind="photo", sha256="../../company.toml", name="a.jpg")


def _append(hit: Path, kind: Any, **of_file: str) -> None:
    with open_store(hit) as store:
        body = {"modified": "2026-05-14T12:00:00+00:00"}
        store.append(JOBS[2], kind, body, datetime(2026, 5, 14, 12, tzinfo=UTC), **of_file)


def one_bad_job(tally: Tally, hit: Path, base: Path, files: Path, right: list[str], where: str) -> None:
    """It costs itself alone."""
    others = [(words, out) for words, out in zip(READ, right, strict=True) if words[-1] not in (JOBS[2], "show")]
    done(tally, run(hit, "show"), where)
    for words in (("show", "odd-job"), ("show", JOBS[2]), ("ready", JOBS[2]), ("say", JOBS[2], "A word.")):
        plain(tally, run(hit, *words), where)
    shutil.rmtree(base / "held", ignore_errors=True)
    plain(tally, run(hit, "backup", base / "held"), where)
    shutil.rmtree(base / "empty", ignore_errors=True)
    plain(tally, run(base / "empty", "restore", base / "held"), where)
    for words in (("verify",), ("verify", "--repair"), ("verify", "--prune", "--yes")):
        plain(tally, run(hit, *words), where)
    tally.expect(run(hit, "verify").code == 1 or where == "unknown_kind", f"{where}: verify finds nothing")
    for folder in (hit, base / "held", base / "empty"):
        for words, out in others:
            said = run(folder, *words)
            tally.expect(said.out == out, f"{where}: costs another job, in {folder.name}: {said}")
    done(tally, run(hit, "take", JOBS[1], files / "notes2.txt"), where)


# -- 7. old sins


EVIL = "Ev\x1b[31mil\x9b2J\u202eeman\u2066\x07"


def old_sins(tally: Tally, base: Path, dice: random.Random, count: int = 0) -> None:
    make_files(files := base / "files")
    mask = os.umask(0)
    try:
        make_library(tally, library := base / "made", files)
        evil_words(tally, library, base, files)
    finally:
        os.umask(mask)
    for folder in (library, base / "copy"):
        for path in [folder, *folder.rglob("*")]:
            open_to = path.stat().st_mode & 0o077
            tally.expect(not open_to, f"rights: {path.name if path.parent == folder else 'an original'} {open_to:o}")
    (files / "link.txt").symlink_to(files / "company.toml")
    said = run(library, "take", JOBS[0], files)
    plain(tally, said, "a link", must="link to another file, which is not followed")
    (files / "long.txt").write_text("pipe " * MB)
    began = time.monotonic()
    said = run(library, "take", JOBS[0], files / "long.txt")
    plain(tally, said, "5 MB of text", must="more than 1 MB of text")
    tally.expect(said.code == 1 and time.monotonic() - began < 5, f"5 MB of text: {time.monotonic() - began:.1f} s")


def evil_words(tally: Tally, library: Path, base: Path, files: Path) -> None:
    job, evil = "evil", files / EVIL
    evil.mkdir()
    for name in ("notes1.txt", "photo1.jpg", "talk1.wav"):
        shutil.copy(files / name, evil / f"{EVIL}.{name}")
    (evil / f"{EVIL}.mov").write_bytes(b"no such thing")
    firm = files / "evil.toml"
    firm.write_text(COMPANY)
    start = ("new", job, "--client", EVIL, "--address", EVIL, "--day", "2026-05-14", "--company", firm)
    sound, text = (evil / f"{EVIL}.{name}" for name in ("talk1.wav", "notes1.txt"))
    writes = [start, start, ("take", job, evil), ("say", job, EVIL), ("amend", job, "note:0", "text", EVIL)]
    wrong = [("amend", job, EVIL, EVIL, EVIL), ("remove", job, EVIL), ("remove", job, f"file:{EVIL}"), ("show", EVIL)]
    wrong += [("new", EVIL, *start[2:]), (EVIL,), ("find", EVIL), ("ready", job, EVIL), ("take", job, evil / "none")]
    looks = [("show",), ("show", job), ("show", job, "note:0"), ("show", job, "R-1"), ("ready", job), ("find", "Ev")]
    alone = [("ready", job, "--json"), ("hear", sound), ("hear", sound, "--json"), ("hear", sound, "--extract", "--json")]
    alone += [("extract", text), ("extract", text, "--json"), ("check", text), ("hear", text), ("extract", evil / "no")]
    report = ("report", job, "-o", evil / f"{EVIL}.docx")
    whole = [("verify",), ("backup", base / "copy"), ("backup", evil), ("restore", evil), ("restore", base / "copy")]
    gone = [("remove", job, "note:0"), ("remove", job, f"file:{EVIL}.talk1.wav"), ("remove", job), ("show",)]
    for words in [*writes, *wrong, *looks, *alone, report, *whole, *gone, ("verify", "--prune", "--yes")]:
        plain(tally, run(library, *words), "control characters")


# -- the command line


TRIALS: dict[str, Callable[..., None]] = {
    "disk-full": disk_full,
    "read-only": read_only,
    "at-once": at_once,
    "clock": clock,
    "flips": flips,
    "damage": damage,
    "old-sins": old_sins,
}


def try_out(name: str, seed: int, *count: int) -> Tally:
    """One trial, in a folder of its own; `count` for fewer rounds."""
    tally = Tally()
    with tempfile.TemporaryDirectory() as folder:
        TRIALS[name](tally, Path(folder), random.Random(seed), *count)
    return tally


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--only", default=",".join(TRIALS), help="the trials to make, with commas between")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--count", type=int, nargs="*", default=[], help="rounds of each trial, in place of its own")
    asked = parser.parse_args()
    wrong = 0
    for name in asked.only.split(","):
        began = time.monotonic()
        tally = try_out(name, asked.seed, *asked.count)
        counts = ", ".join(f"{count} {what}" for what, count in sorted(tally.counts.items()) if count)
        skipped = f"; skipped in part: {tally.skipped}" if tally.skipped else ""
        print(f"{name}: {counts}; {len(tally.wrong)} wrong; {time.monotonic() - began:.0f} s{skipped}", flush=True)
        for line, times in tally.wrong.items():
            print(f"  {times} x {line}", flush=True)
        wrong += len(tally.wrong)
    return 1 if wrong else 0


if __name__ == "__main__":
    sys.exit(main())
