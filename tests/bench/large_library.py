"""How long commands take in a large library, and how large it is, each beside its limit.

Run by `make bench-library`, half an hour or so the first time: the library is built by the program's own code, with a
stand-in for the recogniser, and kept in the folder that FOLDER names, if one does. Talk is that of tests/examples with
other numbers, the same at every run; sound is a stand-in file. Commands are timed as processes, wall time and processor
time, with a warm file cache.
"""

from __future__ import annotations

import logger  # noqa: F401  # isort: skip  # before other libraries, so that nothing is sent
import argparse
import hashlib
import io
import json
import os
import random
import re
import resource
import sqlite3
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterator, Sequence
from contextlib import closing, contextmanager
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from functools import cache, partial
from pathlib import Path
from typing import Any
from unittest.mock import patch

from conftest import COMPANY, exif_bytes
from PIL import Image

from extract.notes import parse_log
from logger import jobs, ready, search, speech
from logger.book import Book
from logger.facts import READERS, look_inside
from logger.shapes import notes_of, shapes_of
from logger.sniff import FileKind
from logger.store import Store, open_store

EXAMPLES = Path("tests/examples")
FALLBOOK = Path(sys.executable).with_name("fallbook")
FIRST_DAY = date(2010, 3, 1)
BATCH = 50
"""Jobs that are written at once."""
ROUNDS = 5
SLOW_S = 30
"""A command that takes longer is run once."""
LONGEST_S = 180
"""And one that takes longer than this is ended."""
BIG, PHOTOS, TYPED = "many-notes", "many-photos", "job-00002"
"""A job of BIG_NOTES, one with photos of phone size, and one that typed notes are added to."""
BIG_NOTES = 8000
RECORD, ALL = ("book", "ready"), ("book", "ready", "readings")
"""What is kept: the record and what is made of it, which a new note or answer makes anew; and what was read of each
note, which an update of the program does away with."""
MODELS = 50
"""Jobs that are read, for want of time to read all."""
SMALL, LARGE = (320, 240), (4000, 3000)
WITH_PHOTOS = 10
PHOTOS_EACH = 17
COMMON = "basin"
"""A word that stands in a quarter of all notes."""
STRETCH = 34
"""Notes in a row of which the first, a little more than half, are heard in one recording."""

NUMBERS = "one two three four five six seven eight nine ten eleven twelve".split()
LABEL = re.compile(rf"\b(run|basin|outlet|downspout|cleanout|drain|box|riser) ({'|'.join(NUMBERS[:5])})\b", re.I)
NUMBER = re.compile(rf"(?<![\w#-])(?!(?:22|35|40|45|90)\b)(?:[1-9]\d*|{'|'.join(NUMBERS[2:])})(?!\w|-inch)", re.I)
"""What may be another number: no label, which is marked by `#` by then, no size, elbow or schedule of pipe."""
LABELS_EACH = 5
MOST_LABELS = 95


# -- what is said


@cache
def examples() -> list[list[str]]:
    return [[note.text for note in parse_log(path.read_text())] for path in sorted(EXAMPLES.glob("*.notes.txt"))]


class Talk:
    """The talk of one example after another, with other numbers; each has its own runs, basins and outlets."""

    def __init__(self, seed: int) -> None:
        self._random = random.Random(seed)

    def texts(self, count: int) -> list[str]:
        said: list[str] = []
        section = 0
        while len(said) < count:
            said += [self._other(text, section) for text in self._random.choice(examples())]
            section += LABELS_EACH
        return said[:count]

    def _other(self, text: str, section: int) -> str:
        """The labels further on, every other number another one of as many figures."""

        def label(match: re.Match[str]) -> str:
            number = (NUMBERS.index(match[2].lower()) + section) % MOST_LABELS
            return f"{match[1]}#{number}#"

        marked = NUMBER.sub(self._number, LABEL.sub(label, text))
        return re.sub(r"#(\d+)#", lambda match: f" {_label(int(match[1]))}", marked)

    def _number(self, match: re.Match[str]) -> str:
        if not match[0].isdigit():
            return self._random.choice(NUMBERS[2:])
        least = 10 ** (len(match[0]) - 1)
        return str(self._random.randint(max(least, int(match[0]) // 2), min(10 * least - 1, int(match[0]) * 3 // 2)))

    def heard(self, text: str, start_s: float) -> dict[str, Any]:
        """A note as the recogniser gives it. Two of five have other readings; of 17 notes of the sample day 7 had."""
        words = [self._word(word, start_s + 0.31 * place) for place, word in enumerate(text.split())]
        count = self._random.randint(1, 3) if self._random.random() < 0.4 else 0
        others = dict.fromkeys(self._misheard(text) for _ in range(count))
        return {
            "text": text,
            "heard": text,
            "confidence": round(sum(word["confidence"] for word in words) / len(words), 3),
            "words": words,
            "alternatives": [other for other in others if other != text],
            "start_s": words[0]["start_s"],
            "end_s": words[-1]["end_s"],
        }

    def _word(self, word: str, start_s: float) -> dict[str, Any]:
        sure = 1 - 0.6 * self._random.random() ** 4
        return {
            "text": word,
            "start_s": round(start_s, 2),
            "end_s": round(start_s + 0.27, 2),
            "confidence": round(sure, 3),
        }

    def _misheard(self, text: str) -> str:
        """One of three with other numbers, the rest with a word that was lost."""
        words = text.split()
        if self._random.random() < 1 / 3 or len(words) < 3:
            return NUMBER.sub(self._number, text)
        del words[self._random.randrange(len(words))]
        return " ".join(words)

    def photo(self, size: tuple[int, int], taken: datetime) -> bytes:
        """A photo that is smooth and grainy as a phone's; one of LARGE takes 3 MB."""
        grain = Image.effect_noise(size, 14)
        shade = Image.new("RGB", size, tuple(self._random.randrange(256) for _ in range(3)))
        picture = Image.blend(Image.merge("RGB", [grain] * 3), shade, 0.1)
        tags = exif_bytes(taken=f"{taken:%Y:%m:%d %H:%M:%S}", gps=(41.5 + self._random.random() / 1e4, -93.25))
        out = io.BytesIO()
        picture.save(out, "JPEG", quality=78, exif=tags)
        return out.getvalue()

    def sound(self) -> bytes:
        """A stand-in, never decoded."""
        return b"RIFF" + self._random.randbytes(200)


def _label(number: int) -> str:
    return NUMBERS[number] if number < len(NUMBERS) else str(number + 1)


# -- the library


@dataclass(frozen=True)
class Plan:
    """One job to build."""

    name: str
    notes: int
    day: date
    seed: int
    photos: tuple[int, int] | None = None
    """Width and height of its photos, where it has some."""


def plans(count: int, notes: int) -> Iterator[Plan]:
    for number in range(count):
        day = FIRST_DAY + timedelta(days=number)
        yield Plan(f"job-{number:05}", notes, day, number, SMALL if number < WITH_PHOTOS else None)
    yield Plan(BIG, BIG_NOTES, FIRST_DAY, count)
    yield Plan(PHOTOS, 100, FIRST_DAY, count + 1, LARGE)


def build(folder: Path, count: int, notes: int) -> None:
    """What is missing of the library, jobs in batches."""
    described = speech.describe()
    begun = time.monotonic()
    with open_store(folder, create=True) as store:
        known = set(store.job_names())
        missing = [plan for plan in plans(count, notes) if plan.name not in known]
        models: list[Book] = []
        for place in range(0, len(missing), BATCH):
            with store.writing():
                for plan in missing[place : place + BATCH]:
                    _write(Writer(store, plan.name), plan, described)
                    _settle(store, plan, models)
            seconds = time.monotonic() - begun
            done = min(place + BATCH, len(missing))
            print(f"{done} of {len(missing)} jobs, {1000 * seconds / done:.0f} ms each", file=sys.stderr, flush=True)


def _settle(store: Store, plan: Plan, models: list[Book]) -> None:
    """As a command that changed the job does. To read 500,000 notes would take hours, so after the first MODELS jobs
    the readings of those are kept for all others, whose own notes are indexed beside them."""
    if plan.photos:
        jobs.settle(store, plan.name)
        return
    book = Book(store, plan.name)
    if plan.name == BIG or len(models) < MODELS:
        as_heard = {"fitting": lambda notes, make: (list(notes), []), "offer_others": lambda record, notes, make: None}
        with patch.multiple("extract.assemble", **as_heard):
            book.keep()
        if plan.name != BIG:
            models.append(book)
    else:
        model = models[plan.seed % MODELS]
        book.record, book.findings = model.record, model.findings
        book.spoken, book.withdrawn, book.photos = model.spoken, model.withdrawn, []
        book.keep()
    ready.work_out(store, book)
    search.index(store, plan.name, book)


@dataclass(frozen=True)
class Writer:
    """Puts files into a job as `intake` does, without the copy that takes a file's arrival through a crash."""

    store: Store
    job: str

    def keep(self, kind: FileKind, name: str, content: bytes, facts: dict[str, Any] | None = None) -> str:
        """Returns the SHA-256. What is not given of the facts is read."""
        sha256 = hashlib.sha256(content).hexdigest()
        path = self.store.originals.place(sha256)
        path.write_bytes(content)
        path.chmod(0o400)
        self.store.originals.state(sha256)
        now = datetime.now(UTC)
        self.store.append(self.job, kind, {"modified": now.isoformat()}, now, sha256=sha256, name=name)
        self.store.remember(sha256, kind, READERS[kind], facts or look_inside(kind, path, name))
        return sha256

    def heard(self, sha256: str, notes: list[dict[str, Any]], described: dict[str, Any]) -> None:
        key = hashlib.sha256(json.dumps(described, sort_keys=True).encode()).hexdigest()
        self.store.remember(sha256, "heard", key, {"notes": shapes_of(notes_of(notes)), "with": described})


def _write(writer: Writer, plan: Plan, described: dict[str, Any]) -> None:
    """The files and notes of a day. Of 100 notes 55 are heard in three recordings, 40 or so stand in one text log, and
    the others are typed."""
    _new(writer.store, plan)
    talk = Talk(plan.seed)
    begins = datetime(plan.day.year, plan.day.month, plan.day.day, 7)
    times = [begins + place * timedelta(hours=10) / plan.notes for place in range(plan.notes)]
    said = list(zip(times, talk.texts(plan.notes), strict=True))
    log = []
    for first in range(0, len(said), STRETCH):
        part = said[first : first + STRETCH]
        heard, rest = part[: round(0.55 * len(part))], part[round(0.55 * len(part)) :]
        sound = writer.keep("sound", f"{part[0][0]:%Y%m%d_%H%M%S}.wav", talk.sound(), {"length_s": 7200.0})
        notes = [talk.heard(text, (at - part[0][0]).total_seconds()) for at, text in heard]
        writer.heard(sound, notes, described)
        for at, text in rest[:2]:
            jobs.say(writer.store, plan.name, text, at.isoformat())
        log += [f"[{at:%H:%M:%S}] {text}\n" for at, text in rest[2:]]
    text = "".join(log)
    writer.keep("text", f"notes {plan.day}.txt", text.encode(), {"text": text})
    for number in range(PHOTOS_EACH if plan.photos else 0):
        taken = begins + (number + 0.5) * timedelta(hours=10) / PHOTOS_EACH
        writer.keep("photo", f"SHOT{number:04}.JPG", talk.photo(plan.photos, taken))


def _new(store: Store, plan: Plan) -> None:
    with tempfile.NamedTemporaryFile("w", suffix=".toml") as company:
        company.write(COMPANY)
        company.flush()
        jobs.new(
            store,
            plan.name,
            client=f"Client {plan.seed}",
            address=f"{plan.seed + 1} Tarn Lane, Oxholt",
            company=company.name,
            day=plan.day,
            zone="-05:00",
        )


# -- how long commands take


@dataclass(frozen=True)
class Figure:
    what: str
    found: str
    limit: str
    held: bool | None
    """None where there is no limit."""

    def __str__(self) -> str:
        held = {None: "", True: "yes", False: "NO"}[self.held]
        return f"| {self.what} | {self.found} | {self.limit} | {held} |"


def command(
    folder: Path, what: str, args: list[str], limit_s: float | None, forget: str = "", kinds: Sequence[str] = ()
) -> Figure:
    """Wall time of a command, least and median, and the least processor time. Those kinds of what is kept of the job
    `forget` are dropped before each round, and put back after the last. The median must hold the limit."""
    limit = "" if limit_s is None else f"{limit_s:g} s"
    wall, busy = [], []
    with _put_back(folder, forget, kinds) as drop:
        for _ in range(ROUNDS + 1):
            drop()
            before, start = _busy(), time.perf_counter()
            try:
                _run(folder, args)
            except subprocess.TimeoutExpired:
                return Figure(what, f"more than {LONGEST_S} s", limit, False)
            wall.append(time.perf_counter() - start)
            busy.append(_busy() - before)
            if wall[0] > SLOW_S:
                break
    wall, busy = wall[1:] or wall, busy[1:] or busy  # the first warms the file cache
    found = f"{min(wall):.2f} / {statistics.median(wall):.2f} s, {min(busy):.2f} s busy"
    return Figure(what, found, limit, None if limit_s is None else statistics.median(wall) <= limit_s)


def _run(folder: Path, args: list[str]) -> None:
    env = os.environ | {"FALLBOOK_LIBRARY": str(folder)}
    done = subprocess.run([FALLBOOK, *args], env=env, capture_output=True, check=False, timeout=LONGEST_S)
    if done.returncode or not done.stdout:
        raise RuntimeError(f"fallbook {' '.join(args)}: {done.stderr.decode()}")


@contextmanager
def _put_back(folder: Path, job: str, kinds: Sequence[str]) -> Iterator[Callable[[], object]]:
    """Gives what drops those kinds of what is kept of that job."""
    kept = f"job = '{job}' AND what IN ({', '.join(map(repr, kinds))})"
    with closing(sqlite3.connect(folder / "library.db", timeout=60, isolation_level=None)) as conn:
        rows = conn.execute(f"SELECT job, what, made_with, value, digest FROM cached WHERE {kept}").fetchall()
        try:
            yield lambda: conn.execute(f"DELETE FROM cached WHERE {kept}")
        finally:
            insert = "INSERT OR REPLACE INTO cached (job, what, made_with, value, digest) VALUES (?, ?, ?, ?, ?)"
            conn.executemany(insert, rows)


def _busy() -> float:
    spent = resource.getrusage(resource.RUSAGE_CHILDREN)
    return spent.ru_utime + spent.ru_stime


def commands(folder: Path) -> None:
    with tempfile.TemporaryDirectory() as place:
        paper = str(Path(place) / "report.docx")
        for what, args, limit_s, *forget in [
            ("--version", ["--version"], 0.3),
            ("--help", ["--help"], 0.3),
            ("find roots", ["find", "roots"], 0.6),
            (f"find {COMMON}", ["find", COMMON], 0.6),
            ("show, the list of jobs", ["show"], None),
            ("say, with what it understood", ["say", TYPED, "Grate on basin one is loose."], 1.2),
            ("say --quiet", ["say", "--quiet", TYPED, "Grate on basin one is loose."], 0.6),
            ("show JOB, 100 notes, kept", ["show", PHOTOS], 0.8),
            ("show JOB, 100 notes, its record made anew", ["show", PHOTOS], 0.8, PHOTOS, RECORD),
            ("show JOB, 100 notes, all read anew", ["show", PHOTOS], None, PHOTOS, ALL),
            ("ready JOB, kept", ["ready", PHOTOS], 0.2),
            ("ready JOB, its record made anew", ["ready", PHOTOS], None, PHOTOS, RECORD),
            ("report, 100 notes and 17 photos, kept", ["report", PHOTOS, "--for", "record", "-o", paper], 4),
            (
                "report, 100 notes and 17 photos, record anew",
                ["report", PHOTOS, "--for", "record", "-o", paper],
                4,
                PHOTOS,
                RECORD,
            ),
            (f"show JOB, {BIG_NOTES} notes, kept", ["show", BIG], 2),
            (f"show JOB, {BIG_NOTES} notes, its record made anew", ["show", BIG], None, BIG, RECORD),
        ]:
            print(command(folder, what, args, limit_s, *forget), flush=True)


def searches(folder: Path) -> None:
    """The search alone, in this process, beside the index alone; the two by turns."""
    bare = "SELECT rowid FROM found_fts WHERE found_fts MATCH ? ORDER BY rank LIMIT 100"
    with closing(sqlite3.connect(folder / "library.db")) as conn, open_store(folder) as store:
        for word in ("roots", COMMON):
            ours, plain = [], []
            for _ in range(ROUNDS + 1):
                plain.append(_seconds(lambda word: conn.execute(bare, [word]).fetchall(), word))
                ours.append(_seconds(partial(search.find, store), word))
            times = min(ours) / min(plain)
            found = f"{times:.2f} times, {1000 * min(ours):.0f} ms against {1000 * min(plain):.0f} ms"
            print(Figure(f"search for {word} against bare FTS5", found, "1.5 times", times <= 1.5), flush=True)


def _seconds(work: Callable[[str], object], word: str) -> float:
    start = time.perf_counter()
    work(word)
    return time.perf_counter() - start


# -- how large it is


def size(folder: Path) -> None:
    database = folder / "library.db"
    with closing(sqlite3.connect(database)) as conn:
        said = "SELECT sum(length(CAST(words AS BLOB))), count(*) FROM found WHERE what = 'note'"
        text, notes = conn.execute(said).fetchone()
        logs = [row[0] for row in conn.execute("SELECT DISTINCT sha256 FROM log WHERE kind = 'text'")]
        originals = sum((folder / "originals" / sha256).stat().st_size for sha256 in logs)
        whole = database.stat().st_size + originals
        parts = [("originals, text", originals), *_parts(conn)]
        derived = conn.execute("SELECT what, sum(length(value)) FROM derived GROUP BY what ORDER BY 2 DESC").fetchall()
    found = f"{whole / text:.1f} times, {whole / 1e6:.0f} MB for {notes} notes of {text / 1e6:.1f} MB"
    print(Figure("size against the notes' text", found, "6 times", whole <= 6 * text))
    print("\n| what | MB | times the text |\n|---|---|---|")
    for name, taken in [*parts, *((f"derived, {what}, bytes alone", taken) for what, taken in derived)]:
        if taken > 0.01 * text:
            print(f"| {name} | {taken / 1e6:.1f} | {taken / text:.2f} |")


def _parts(conn: sqlite3.Connection) -> list[tuple[str, int]]:
    """The bytes of each table and index; of the values alone where SQLite was built without dbstat."""
    try:
        return conn.execute("SELECT name, sum(pgsize) FROM dbstat GROUP BY name ORDER BY 2 DESC").fetchall()
    except sqlite3.OperationalError:
        tables = {"log": "body", "derived": "value", "found": "words", "found_fts_data": "block"}
        sums = (
            (t, conn.execute(f"SELECT sum(length({column})) FROM {t}").fetchone()[0]) for t, column in tables.items()
        )
        return list(sums)


def main() -> None:
    parser = argparse.ArgumentParser(description="How long commands take in a large library.")
    parser.add_argument("--folder", type=Path, help="where the library is kept, and built if it is not there")
    parser.add_argument("--jobs", type=int, default=5000)
    parser.add_argument("--notes", type=int, default=100, help="of each job")
    given = parser.parse_args()
    with tempfile.TemporaryDirectory() as place:
        folder = given.folder or Path(place) / "library"
        build(folder, given.jobs, given.notes)
        print(f"\n{given.jobs} jobs of {given.notes} notes; least and median of {ROUNDS} rounds\n")
        print("| what | figure | limit | held |\n|---|---|---|---|")
        commands(folder)
        searches(folder)
        size(folder)


if __name__ == "__main__":
    main()
