"""The commands that write: what each begins with, how it is typed, and what must hold however it was killed."""

from __future__ import annotations

import hashlib
import io
import json
import os
import shutil
import signal
import sqlite3
import sys
import tempfile
import time
import wave
import zipfile
from collections import Counter
from collections.abc import Callable, Iterator
from contextlib import closing, redirect_stdout
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import matplotlib.pyplot  # noqa: F401  (imported here so that no child has to)
import pillow_heif
from conftest import COMPANY, exif_bytes, quarters
from forked import end, start
from PIL import Image

from extract.record import Note
from logger import backup, changes, cli, decoding, jobs, migrations, ready, search, settle, speech, verify  # noqa: F401
from logger.book import Book
from logger.database import connect
from logger.store import Store, open_store
from reports import paper  # noqa: F401

JOB = "front-walk"
NOTE = "Need a photo of basin two before it is covered."
TALK = "[08:{0}0:00] Basin {1} is set, twelve by twelve.\n[08:{0}5:00] Run {1} is in, basin {1} to basin {2}.\n"
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


@dataclass(frozen=True)
class WritePath:
    """One command that writes: how it is typed, and what must hold of it."""

    args: Callable[[Place], list[str]]
    variants: tuple[str, ...] = ("",)
    lay: Callable[[Place], None] = lambda at: None
    """Makes what the trial begins with out of the base library; done once for each variant."""
    count: Callable[[Store], int] | None = None
    """How often what the command makes is in the log, where a second run would make a second one."""
    killed: Callable[[Place, str], Iterator[str]] = lambda at, said: iter(())
    """What is wrong right after the kill, seen on a copy, with what the command had printed."""
    after: Callable[[Place], Iterator[str]] = lambda at: iter(())
    """What is wrong after the next command."""


# -- what the trials begin with


def base(folder: Path) -> None:
    """A job with a few notes, a photo and a text log, and what a phone brings home; made by commands in a child."""
    (folder / "reports").mkdir(parents=True)
    (folder / "company.toml").write_text(COMPANY)
    for kind, fill in (("text", text), ("photos", photo), ("sound", sound), ("first", text), ("first", photo)):
        (folder / "phone" / kind).mkdir(parents=True, exist_ok=True)
        for number in range(3 if kind != "first" else 1):
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
    (folder / "company.toml").parent.mkdir(parents=True)
    (folder / "company.toml").write_text(COMPANY)
    new, say = [*NEW, JOB, "--company", f"{folder}/company.toml"], ["say", JOB, SAID["11:10"]]
    with redirect_stdout(io.StringIO()):
        for command in (new, say, ["report", JOB, "-o", f"{folder}/walk.docx"], ["find", "basin"], ["verify"]):
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


def run(at: Place | Path, args: list[str]) -> int:
    """One command as typed, on the library of a trial."""
    folder = at if isinstance(at, Path) else at.at
    os.environ |= {"XDG_CACHE_HOME": str(folder / "cache"), "DIARY": str(folder / "diary")}
    speech.hear, speech.describe = hear, lambda model, language: {"model": "stand-in"}  # type: ignore[assignment]
    if args == ["settle"]:
        sys.argv[1:] = [str(folder / "library")]
        settle.main()
        return 0
    settle.in_background = lambda folder: None  # it is killed by itself, as a path of its own
    return cli.run(["--library", str(folder / "library"), *args])


def must(folder: Path, args: list[str]) -> None:
    code = end(start(lambda: run(folder, args), folder / "made"))
    assert code == 0, (args, code, (folder / "made").read_text())


def lay_backup(at: Place) -> None:
    if at.variant == "over an earlier one":
        must(at.at, ["backup", str(at / "backup")])
        must(at.at, ["say", JOB, NOTE])
        must(at.at, ["take", JOB, str(at / "phone" / "photos")])


def lay_restore(at: Place) -> None:
    """A backup, entries newer than it, and what befell the library since."""
    must(at.at, ["take", JOB, str(at / "phone" / "text")])
    must(at.at, ["backup", str(at / "backup")])
    must(at.at, ["say", JOB, NOTE])
    if at.variant == "gone":
        shutil.rmtree(at / "library")
    elif at.variant == "damaged":
        raw = (at / "library" / "library.db").read_bytes()
        (at / "library" / "library.db").write_bytes(raw.replace(b"Maple roots", b"Maple boots"))
    elif at.variant == "killed":
        end(start(lambda: cut_off(at / "library"), at.at / "made"))
        assert (at / "library" / "library.db-journal").stat().st_size
    for original in (at / "library" / "originals").glob("*[02468ace]"):
        original.unlink()


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
            conn.execute("UPDATE derived SET digest = x'00' WHERE id = 1")
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


# -- what must hold


def library_wrong(folder: Path) -> Iterator[str]:
    """Of any library at rest: the database, every chain of digests, and the originals, byte for byte."""
    with open_store(folder) as store:
        for (line,) in store.connection.execute("PRAGMA integrity_check"):
            if line != "ok":
                yield f"integrity_check: {line}"
        for name in store.job_names():
            store.entries(name)
        known = [row["sha256"] for row in store.rows("SELECT DISTINCT sha256 FROM log WHERE sha256 IS NOT NULL")]
        found = {path.name: hashlib.sha256(path.read_bytes()).hexdigest() for path in store.originals.folder.iterdir()}
        if sorted(found) != sorted(known) or any(name != sha256 for name, sha256 in found.items()):
            yield f"originals: {len(found)} files, the log names {len(known)}; {sorted(set(found) ^ set(known))[:3]}"
        yield from (f"verify: {fault.words}" for fault in verify.verify(store, None, lambda *_: None))


def left_behind(at: Place) -> Iterator[str]:
    for path in at.at.rglob("*"):
        begun = path.name.startswith(".unfinished-") or path.name.endswith((".part", "-wal", "-shm"))
        # A journal that was not synced yet says nothing; the next write takes it away.
        if begun or (path.name.endswith("-journal") and path.read_bytes()[:8].strip(b"\0")):
            yield f"left behind: {path.relative_to(at.at)}"


def log_of(library: Path) -> list[tuple[Any, ...]]:
    """The log's rows as they stand, without the program's help; digests are of a new form only."""
    with closing(sqlite3.connect(library / "library.db")) as conn:
        return conn.execute("SELECT id, job, kind, at, body, sha256, name FROM log ORDER BY id").fetchall()


def taken(at: Place, said: str) -> Iterator[str]:
    """No file twice, and every one that was said to be taken."""
    names = Counter(row[6] for row in log_of(at / "library"))
    yield from (f"{name} is in the log {count} times" for name, count in names.items() if name and count > 1)
    acknowledged = [Path(line.split(": ")[0]).name for line in said.splitlines() if line.endswith(" taken")]
    yield from (f"{name} was said to be taken and is lost" for name in acknowledged if not names[name])


def all_taken(kind: str) -> Callable[[Place], Iterator[str]]:
    def wrong(at: Place) -> Iterator[str]:
        yield from taken(at, "")
        files = [*(at / "phone" / kind).iterdir(), *(at / "phone" / "first").iterdir()]
        if {hashlib.sha256(path.read_bytes()).hexdigest() for path in files} != {
            row[5] for row in log_of(at / "library") if row[5]
        }:
            yield "the log holds other files than were taken"

    return wrong


def all_heard(at: Place) -> Iterator[str]:
    yield from all_taken("sound")(at)
    with open_store(at / "library") as store:
        notes = [note for note in Book(store, JOB).notes if note.text.startswith("Cover is")]
        stretches = list(store.rows("SELECT 1 FROM derived WHERE what GLOB 'stretch *'"))
    again = [line for line, count in Counter((at / "diary").read_text().splitlines()).items() if count > 1]
    if len(notes) != 3 * STRETCHES or stretches or len(again) > 1:
        yield f"{len(notes)} notes heard, {len(stretches)} stretches left, heard twice: {again}"


def entries(kind: str, **body: str) -> Callable[[Store], int]:
    """Counts the log's entries of a kind that say so."""

    def count(store: Store) -> int:
        found = [json.loads(row["body"]) for row in store.rows("SELECT body FROM log WHERE kind = ?", [kind])]
        return sum(body.items() <= each.items() for each in found)

    return count


def lay_settle(at: Place) -> None:
    with open_store(at / "library") as store:
        jobs.say(store, JOB, NOTE)


def settled(at: Place) -> Iterator[str]:
    with open_store(at / "library") as store:
        hits = [hit.words for hit in jobs.find(store, "covered").hits if hit.what == "note"]
        if hits != [NOTE] or list(store.rows("SELECT job FROM changed")):
            yield f"the note is not in the index once: {hits}"


def lay_new(at: Place) -> None:
    if at.variant == "the first":
        shutil.rmtree(at / "library")


def lay_report(at: Place) -> None:
    if at.variant == "over another":
        must(at.at, ["report", JOB, "-o", str(at / "reports" / "walk.docx")])
        must(at.at, ["say", JOB, NOTE])


def job_is_there(store: Store) -> int:
    if "back-walk" not in store.job_names():
        return 0
    return 1 + (store.job("back-walk").company.name != "Sedgeway Drainage")


def report_wrong(at: Place, said: str = "") -> Iterator[str]:
    """Each paper is whole, if it is there."""
    for path in (at / "reports").glob("[!.]*"):
        try:
            if path.suffix == ".docx":
                zipfile.ZipFile(path).testzip()
            else:
                Image.open(io.BytesIO(path.read_bytes())).load()
        except (OSError, SyntaxError, zipfile.BadZipFile) as error:
            yield f"{path.name}: {error}"


def report_there(at: Place) -> Iterator[str]:
    yield from report_wrong(at)
    if len(list((at / "reports").iterdir())) < 2:
        yield "the report and its drawings are not all there"


def backup_wrong(at: Place, said: str = "") -> Iterator[str]:
    """A backup is none yet, or an earlier state, or the present one, with every original that it names."""
    if not (at / "backup" / "library.db").exists():
        return
    with closing(connect(at / "backup" / "library.db", writable=False)) as conn:
        yield from backup.faults(conn)
    held, now = log_of(at / "backup"), log_of(at / "library")
    if held != now[: len(held)]:
        yield "the backup is no earlier state of the library"
    for *_, sha256, name in held:
        if sha256 and hashlib.sha256((at / "backup" / "originals" / sha256).read_bytes()).hexdigest() != sha256:
            yield f"the backup of {name} is not whole"


def backed_up(at: Place) -> Iterator[str]:
    yield from library_wrong(at / "backup")
    if log_of(at / "backup") != log_of(at / "library"):
        yield "the backup lacks something"


def restored(at: Place) -> Iterator[str]:
    """All that the backup holds, and the note that was newer where it could still be read."""
    held, now = log_of(at / "backup"), log_of(at / "library")
    if now[: len(held)] != held:
        yield "what the backup holds is not back"
    if len(list((at / "library").glob("library-damaged-*.db"))) > 1:
        yield "the damaged library was set aside more than once"
    newer = [json.loads(row[4]).get("text") for row in now[len(held) :]]
    if newer != [NOTE] * (at.variant != "gone"):
        yield f"newer than the backup should be one note, and is {newer}"


def as_before(at: Place) -> Iterator[str]:
    """A library of an earlier version holds the same entries, and reads as that version read it."""
    with tempfile.TemporaryDirectory() as folder:
        shutil.copytree(FIXTURES / at.variant, folder, dirs_exist_ok=True)
        if log_of(Path(folder)) != log_of(at / "library"):
            yield "the log is not what it was"
    with open_store(at / "library") as store:
        book = Book(store, JOB)
        got = {
            "notes": [note.model_dump(mode="json", exclude_defaults=True) for note in book.notes],
            "photos": [each.model_dump(mode="json", exclude_none=True) for each in book.photos],
        }
    for name, notes in got.items():
        if notes != json.loads((at / "library" / f"{name}.json").read_text()):
            yield f"{name} read otherwise than that version read them"


# -- the paths


def take(kind: str) -> Callable[[Place], list[str]]:
    return lambda at: ["take", JOB, str(at / "phone" / kind)]


def say(*words: str) -> Callable[[Place], list[str]]:
    return lambda at: list(words)


PATHS = {
    "take-text": WritePath(take("text"), killed=taken, after=all_taken("text")),
    "take-photos": WritePath(take("photos"), killed=taken, after=all_taken("photos")),
    "take-sound": WritePath(take("sound"), killed=taken, after=all_heard),
    "say": WritePath(say("say", JOB, NOTE), count=entries("said", text=NOTE)),
    "settle": WritePath(say("settle"), lay=lay_settle, after=settled),
    "amend": WritePath(say("amend", JOB, "R-1", "length_ft", "23"), count=entries("amendment", value=23.0)),
    "new": WritePath(
        lambda at: [*NEW, "back-walk", "--company", str(at / "company.toml")],
        variants=("the first", "one more"),
        lay=lay_new,
        count=job_is_there,
    ),
    "report": WritePath(
        lambda at: ["report", JOB, "-o", str(at / "reports" / "walk.docx")],
        variants=("first", "over another"),
        lay=lay_report,
        killed=report_wrong,
        after=report_there,
    ),
    "remove": WritePath(lambda at: ["remove", JOB, at.variant], ("R-1", "photo:1"), count=entries("removal")),
    "backup": WritePath(
        lambda at: ["backup", str(at / "backup")],
        variants=("first", "over an earlier one"),
        lay=lay_backup,
        killed=backup_wrong,
        after=backed_up,
    ),
    "restore": WritePath(
        lambda at: ["restore", str(at / "backup")],
        variants=("gone", "damaged", "killed", "whole"),
        lay=lay_restore,
        after=restored,
    ),
    "migrate": WritePath(say("show"), variants=VERSIONS, lay=lay_migrate, after=as_before),
    "repair": WritePath(say("verify", "--repair"), ("a page gone", "a reading flipped"), lay=lay_repair),
}
