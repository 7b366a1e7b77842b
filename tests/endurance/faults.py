"""Endurance trial: what a crew's machine does to a library, and whether each command then says the right sentence.

    python tests/endurance/faults.py [--only disk-full,flips] [--seed N]

One line a trial, with counts; each thing that is wrong is a line of its own, and the exit code is 1. The trials of full
and read-only disks need the right to mount (root on Linux); where it is missing they are skipped by name.
"""

from __future__ import annotations

import argparse
import multiprocessing
import os
import random
import re
import shutil
import subprocess
import sys
import tempfile
import time
from collections import Counter
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

from crew import JOBS, READ, Said, Tally, begin, copied, done, entries, left_over, make_files, new, plain, run
from damage import damage, flips, old_sins
from PIL import Image

from logger.worker import worker

MB = 1 << 20
NOBODY = 65534


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


def disk_full(tally: Tally, base: Path, dice: random.Random, count: int = 50 * 15) -> None:
    """`count` commands with 0 to 600 kB left, mostly little, the first round with nothing; then again with room."""
    files, made = begin(base)
    with disk(tally, base / "disk", 8 * MB) as small:
        commands = full_commands(files, small, base, made) if small else []
        for number in range(count if small else 0):
            left = 0 if number < len(commands) else int(600_000 * dice.random() ** 3)
            on_full_disk(tally, made, small, left, commands[number % len(commands)])


def full_commands(files: Path, small: Path, base: Path, made: Path) -> list[tuple[object, ...]]:
    job, others = JOBS[0], copied(made, base / "others")
    for words in (("take", job, files / "photo2.jpg"), ("say", job, "A word said by others.")):
        run(others, *words)
    run(others, "pack", job, "-o", base / "bag")
    taken = [("take", job, files / name) for name in ("notes2.txt", "photo2.jpg", "talk2.wav")]
    report = [("report", job, "--for", "record", "-o", folder / "r.docx") for folder in (small, base)]
    export = ("export", job, "-o", small / "open")
    start = ("new", "new-job", "--client", "C", "--address", "A", "--company", files / "company.toml", "--zone=-05:00")
    changes = [("say", job, "A word said now."), ("amend", job, "R-2", "length_ft", "35"), ("remove", job, "note:1")]
    copies = [("backup", small / "copy"), ("pack", job, "-o", small / "bag"), ("unpack", base / "bag")]
    return [*taken, *changes, *READ[:2], *READ[4:], *report, export, ("verify",), *copies, start]


def on_full_disk(tally: Tally, made: Path, small: Path, left: int, words: tuple[object, ...]) -> None:
    for each in small.iterdir():
        shutil.rmtree(each) if each.is_dir() else each.unlink()
    library = copied(made, small / "library")
    before, where = entries(library), f"{left // 1000} kB left"
    fill(small, left)
    said = run(library, *words)
    writes = words[0] in ("take", "say", "amend", "remove", "new", "backup", "unpack") or str(small) in str(words[-1])
    if plain(tally, said, "full disk", must="" if said.code == 0 else "disk is full|No space left"):
        tally.expect(said.code == 0 or writes, f"full disk: only reads, and must work: {said}")
        tally.expect("damaged" not in said.err, f"full disk: {said}")
        lines = [line for line in said.err.splitlines() if " already there, " not in line]
        most = 2 if words[0] == "take" else 1  # of take one for the file besides
        tally.expect(said.code == 0 or len(lines) <= most, f"full disk: more than one line: {said}")
    tally.counts["refused"] += said.code != 0
    (small / "ballast").unlink()
    after = entries(library)
    tally.expect(after[: len(before)] == before, f"full disk: entries lost: {said}")
    logged = len(after) > len(before) or not writes or words[0] in ("new", "backup", "report", "pack", "export")
    tally.expect(logged or said.code != 0, f"full disk: acknowledged and not logged: {said}")
    tally.expect(not (said.code and words[0] in ("say", "amend", "remove") and len(after) > len(before)),
                 f"full disk: logged, and told to run it again: {said}")  # fmt: skip
    again = run(library, *words)
    twice = said.code == 0 and words[0] in ("remove", "new", "pack")
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


def read_only(tally: Tally, base: Path, dice: random.Random, count: int = 9) -> None:
    """A disk that cannot be written, with `count` libraries of earlier versions; and another user of the machine."""
    files, made = begin(base)
    base.chmod(0o755)
    earlier = sorted(Path(__file__).parent.parent.glob("logger/libraries/*/library.db"))[:count]
    with disk(tally, base / "disk", 64 * MB) as small:
        if small:
            copied(made, small / "library")
            for database in earlier:
                copied(database.parent, small / database.parent.name)
            subprocess.run(["mount", "-o", "remount,ro", str(small)], check=True)
            made_of_it = [
                ("report", JOBS[0], "--for", "record", "-o", base / "ro.docx"),
                ("pack", JOBS[0], "-o", base / "bag"),
            ]
            reads(tally, run, small / "library", base, *made_of_it)
            refuses(tally, run, small / "library", files, ("unpack", base / "bag"))
            for database in earlier:
                job_reads(tally, run, small / database.parent.name)
    if os.getuid() == 0:
        as_nobody(tally, made, base, files, count)


def reads(tally: Tally, do: Callable[..., Said], library: Path, elsewhere: Path, *more: tuple[object, ...]) -> None:
    for words in [*READ, *more, ("verify",), ("backup", elsewhere / "copy")]:
        done(tally, do(library, *words), "read-only")
    shutil.rmtree(elsewhere / "copy", ignore_errors=True)


def job_reads(tally: Tally, do: Callable[..., Said], library: Path) -> None:
    """An earlier version's library."""
    for words in (("show",), ("show", JOBS[0]), ("ready", JOBS[0]), ("find", "basin"), ("verify", JOBS[0])):
        done(tally, do(library, *words), f"read-only, of {library.name}")


def refuses(tally: Tally, do: Callable[..., Said], library: Path, files: Path, *more: tuple[object, ...]) -> None:
    job, company = JOBS[0], files / "company.toml"
    start = ("new", "more", "--client", "C", "--address", "A", "--company", company, "--day", "2026-05-14")
    changes = [("say", job, "A word."), ("amend", job, "R-2", "length_ft", "35"), ("remove", job, "note:1")]
    for words in [*changes, *more, start, *(("take", job, files / name) for name in ("notes2.txt", "talk2.wav"))]:
        said = do(library, *words)
        plain(tally, said, "read-only", must="can be read and not written")
        tally.expect(said.code != 0, f"read-only: should have been refused: {said}")


def as_nobody(tally: Tally, made: Path, base: Path, files: Path, count: int) -> None:
    """Another user of the machine: without rights; and in `count` of two, with the right to read, and as the owner of
    a folder that cannot be written."""
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
            plain(tally, said, "no rights", must="Permission denied|check the rights|is not readable")
            tally.expect(said.code != 0, f"no rights: {said}")
        for name, mode, owner in (("readable", 0o755, 0), ("own", 0o500, NOBODY))[:count]:
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
    files, library = begin(base)
    crew = [("say", n) for n in range(8)] + [("take", n) for n in range(2)] + [("show", 0), ("show", 1), ("backup", 0)]
    for number in range(2 * count):
        Image.effect_noise((60, 40), 50 + number).save(files / f"busy{number}.jpg")
    with multiprocessing.get_context("fork").Pool(len(crew), worker.cache_clear) as pool:
        said = pool.starmap(busy, [(kind, n, library, files, count) for kind, n in crew], chunksize=1)
    for each in (one for many in said for one in many):
        if done(tally, each, "at once"):
            first = re.sub(r"\d+", "N", each.err.partition("\n")[0])
            tally.expect(not each.err, f"at once: {each.words[0]}: a line on standard error: {first}")
    logged = Counter(body for _, kind, _, body, _ in entries(library) if kind == "said" and "Typed" in body)
    once = len(logged) == 8 * count and set(logged.values()) == {1}
    tally.expect(once, f"at once: {len(logged)} of {8 * count} notes, or one twice")
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
    stands = re.search(r"^length\s+36 ft\b", shown.out, re.MULTILINE)
    tally.expect(stands is not None, f"clock: the correction is lost: {shown.out}")


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
    said = run_at(when, library, "report", job, "--for", "record", "-o", library.parent / "r.docx")
    plain(tally, said, when, must="" if good else "clock")
    kinds = Counter(kind for _, kind, *_ in entries(library))
    right = {"text": 1, "photo": 1, "said": 1, "amendment": 1, "removal": 1}
    tally.expect(kinds == right, f"{when}: in the log: {dict(kinds)}")
    shutil.rmtree(library.parent / "copy", ignore_errors=True)


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
    with tempfile.TemporaryDirectory(ignore_cleanup_errors=True) as folder:
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
