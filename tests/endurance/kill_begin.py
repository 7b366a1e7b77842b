"""What the trials begin with: a job, a phone, and libraries to which something happened."""

from __future__ import annotations

import io
import os
import shutil
import signal
import sqlite3
import sys
import time
import wave
from contextlib import closing, redirect_stdout
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pillow_heif
from conftest import COMPANY, exif_bytes, quarters
from forked import end, start

from extract.record import Note
from logger import cli, decoding, jobs, settle, speech
from logger.store import open_store

JOB = "front-walk"
NOTE = "Need a photo of basin two before it is covered."
TALK = "[08:{0}0:00] Basin {1} is set, twelve by twelve.\n[08:{0}5:00] Run {1} is in, basin {1} to basin {2}.\n"
ANSWERS = {"an amendment": "31\n", "an answer": "not there\n"}
"""What is typed to the one question that the base leaves open, how long a run is, and what the log holds of it."""
FIXTURES = Path(__file__).resolve().parents[1] / "logger" / "libraries"
VERSIONS = tuple(sorted(path.parent.name for path in FIXTURES.glob("*/library.db")))
STRETCHES = 4


@dataclass(frozen=True)
class Place:
    """The folders of one trial."""

    at: Path
    variant: str

    def __truediv__(self, name: str) -> Path:
        return self.at / name


def base(folder: Path) -> None:
    """A job with a few notes, a photo and a text log, and what a phone brings home; made by commands in a child."""
    (folder / "reports").mkdir(parents=True)
    (folder / "company.toml").write_text(COMPANY)
    for kind, fill in (("text", text), ("photos", photo), ("sound", sound), ("first", text), ("first", photo)):
        (folder / "phone" / kind).mkdir(parents=True, exist_ok=True)
        for number in range(2 if kind != "first" else 1):
            fill(folder / "phone" / kind, number + 5 * (kind == "first"))
    commands = [[*NEW, JOB, "--company", f"{folder}/company.toml"], ["take", JOB, f"{folder}/phone/first"]]
    commands += [["say", JOB, words, "--at", at] for at, words in SAID.items()]
    commands += [["amend", JOB, "R-1", "bedding", "gravel"], ["find", "basin"]]
    for command in commands:
        must(folder, command)


NEW = ["new", "--client", "Ina Wexcombe", "--address", "27 Quillbark Row", "--day", "2026-05-14", "--zone", "-05:00"]
SAID = {
    "11:05": "Outlet one is a pop-up at the curb, four inch.",
    "11:10": "Run one is in, basin one to outlet one, four inch SDR 35, twenty feet long.",
    "11:15": "Maple roots in the trench of run one.",
}


def warm(folder: Path) -> None:
    """Have this process load what the commands load, but start no decoding process: children would share it."""
    folder.mkdir()
    (folder / "company.toml").write_text(COMPANY)
    commands = [[*NEW, JOB, "--company", f"{folder}/company.toml"], ["say", JOB, SAID["11:10"]]]
    commands += [
        ["amend", JOB, "R-1", "length_ft", "21"],
        ["report", JOB, "--for", "record", "-o", f"{folder}/walk.docx"],
    ]
    commands += [["ask", JOB], ["ask", JOB, "--undo"], ["find", "basin"]]
    commands += [["backup", f"{folder}/backup"], ["restore", f"{folder}/backup"], ["verify"]]
    commands += [["pack", JOB, "-o", f"{folder}/bag"], ["unpack", f"{folder}/bag"]]
    with redirect_stdout(io.StringIO()):
        for command in commands:
            assert run(folder, command) == 0


def text(folder: Path, number: int) -> None:
    (folder / f"notes-{number}.txt").write_text(TALK.format(number, 2 * number + 2, 2 * number + 3))


def photo(folder: Path, number: int) -> None:
    pillow_heif.register_heif_opener()
    tags = exif_bytes(taken=f"2026:05:14 09:1{number}:00")
    name, form = (f"IMG_{number}.heic", "HEIF") if number % 2 else (f"IMG_{number}.jpg", "JPEG")
    picture = quarters((160, 120))
    picture.paste((number * 29, 0, 0), (60, 40, 100, 80))
    picture.save(folder / name, format=form, quality=80, exif=tags)


def sound(folder: Path, number: int) -> None:
    with wave.open(str(folder / f"20260514_1{number}0000.wav"), "wb") as out:
        out.setparams((1, 1, 4000, 0, "NONE", ""))
        out.writeframes(bytes([128 + number, 128 - number]) * 2000 * STRETCHES)


def hear(path: Path, *, kept: dict[Any, list[Note]], **_: Any) -> list[Note]:
    """The stand-in: one note a stretch, and a diary of what was listened to."""
    for _block in decoding.samples(path):
        pass
    for second in range(STRETCHES):
        if (second, second + 0.5) not in kept:
            with Path(os.environ["DIARY"]).open("a") as diary:
                print(path.name, second, file=diary)
            time.sleep(0.01)
            words = f"Cover is {second + 12} inches."
            kept[second, second + 0.5] = [Note(text=words, start_s=second, end_s=second + 0.5)]
    return [note for notes in kept.values() for note in notes]


def run(at: Place | Path, args: list[str], typed: str = "") -> int:
    """One command as typed, on the library of a trial; `typed` is what it is answered."""
    sys.stdin = io.StringIO(typed)
    folder = at if isinstance(at, Path) else at.at
    os.environ |= {"XDG_CACHE_HOME": str(folder / "cache"), "DIARY": str(folder / "diary")}
    speech.hear, speech.describe = hear, lambda model, language: {"model": "stand-in"}  # type: ignore[assignment]
    if args == ["settle"]:
        sys.argv[1:] = [str(folder / "library")]
        settle.main()
        return 0
    settle.in_background = lambda folder: None  # it is killed by itself, as a path of its own
    return cli.run(["--library", str(folder / "library"), *args])


def must(folder: Path, args: list[str], typed: str = "") -> None:
    code = end(start(lambda: run(folder, args, typed), folder / "made"))
    assert code == 0, (args, code, (folder / "made").read_text())


def lay_backup(at: Place) -> None:
    if at.variant == "first":
        return
    must(at.at, ["backup", str(at / "backup")])
    if at.variant == "over one cut off":
        end(start(lambda: cut_off(at / "backup"), at / "made"))
    grow(at)


def grow(at: Place) -> None:
    """By a few pages of the database."""
    must(at.at, ["take", JOB, str(at / "phone" / "photos")])
    with open_store(at / "library") as store:
        for number in range(12):
            jobs.say(store, JOB, f"Bag {number} of gravel is in. {'It is clean. ' * 70}")


def lay_restore(at: Place) -> None:
    """A backup, one entry newer than it, and what befell the library since."""
    early = shutil.copytree(at / "library", at / "early")
    grow(at)
    must(at.at, ["backup", str(at / "backup")])
    must(at.at, ["say", JOB, NOTE])
    database = at / "library" / "library.db"
    if at.variant == "gone":
        shutil.rmtree(at / "library")
    elif at.variant == "gone but for a journal":
        end(start(lambda: cut_off(early), at / "made"))
        database.unlink()
        (early / "library.db-journal").rename(at / "library" / "library.db-journal")
    elif at.variant == "damaged":
        database.write_bytes(database.read_bytes().replace(b"Maple roots", b"Maple boots"))
    elif at.variant == "killed":
        end(start(lambda: cut_off(at / "library"), at / "made"))
        assert (at / "library" / "library.db-journal").stat().st_size
    for original in (at / "library" / "originals").glob("*[02468ace]"):
        original.unlink()
    shutil.rmtree(early)


def lay_unpack(at: Place) -> None:
    """A bag of another crew's, the library that it is to come into, and, in `whole`, that library once it is in."""
    early = shutil.copytree(at / "library", at / "early")
    must(at.at, ["take", JOB, str(at / "phone" / "photos"), str(at / "phone" / "sound")])
    must(at.at, ["amend", JOB, "R-1", "length_ft", "23"])
    with open_store(at / "library") as store:
        photo = next(entry.sha256 for entry in store.entries(JOB) if entry.kind == "photo")
        for number in range(80):  # so many entries take a while to log, and none to read
            removed = {"what": "file", "name": photo, "undone": number % 2 == 1}
            store.append(JOB, "removal", removed, datetime.now(UTC))
    must(at.at, ["pack", JOB, "-o", str(at / "bag")])
    shutil.rmtree(at / "library")
    if at.variant != "the first":
        early.rename(at / "library")
        must(at.at, ["take", JOB, str(at / "phone" / "text"), str(at / "phone" / "photos")])
        must(at.at, ["amend", JOB, "R-1", "length_ft", "24"])
        shutil.copytree(at / "library", at / "before")
        shutil.copytree(at / "library", at / "whole" / "library")
    (at / "whole").mkdir(exist_ok=True)
    must(at / "whole", ["unpack", str(at / "bag")])
    shutil.rmtree(early, ignore_errors=True)


def cut_off(library: Path) -> int:
    """A write that is killed when the database holds half of it: only its journal can put that right."""
    conn = sqlite3.connect(library / "library.db")
    conn.execute("PRAGMA cache_size = 1")
    rows = [(str(number), "x", "x", os.urandom(3000), b"") for number in range(100)]
    conn.executemany("INSERT INTO derived (sha256, what, made_with, value, digest) VALUES (?, ?, ?, ?, ?)", rows)
    os.kill(os.getpid(), signal.SIGKILL)
    return 0


def lay_repair(at: Place) -> None:
    must(at.at, ["take", JOB, str(at / "phone" / "text")])
    with closing(sqlite3.connect(at / "library" / "library.db")) as conn:
        if at.variant == "a reading flipped":
            conn.execute("UPDATE derived SET digest = x'00' WHERE id = (SELECT min(id) FROM derived)")
            assert conn.total_changes, "there is no reading to flip"
            conn.commit()
            return
        (root,) = conn.execute("SELECT rootpage FROM sqlite_master WHERE name = 'found'").fetchone()
        (size,) = conn.execute("PRAGMA page_size").fetchone()
    with (at / "library" / "library.db").open("r+b") as file:
        file.seek((root - 1) * size)
        file.write(bytes(size))


def lay_migrate(at: Place) -> None:
    shutil.rmtree(at / "library")
    shutil.copytree(FIXTURES / at.variant, at / "library")


def lay_settle(at: Place) -> None:
    with open_store(at / "library") as store:
        jobs.say(store, JOB, NOTE)


def lay_undo(at: Place) -> None:
    if at.variant == "a removal":
        must(at.at, ["remove", JOB, "R-1"])
    else:
        must(at.at, ["ask", JOB], ANSWERS[at.variant])


def lay_new(at: Place) -> None:
    if at.variant == "the first":
        shutil.rmtree(at / "library")


def lay_report(at: Place) -> None:
    if at.variant == "over another":
        must(at.at, ["report", JOB, "--for", "record", "-o", str(at / "reports" / "walk.docx")])
        must(at.at, ["say", JOB, NOTE])
