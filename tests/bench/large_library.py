"""How long commands take in a large library, and how large it is, each beside its limit.

Run by `make bench-library`, half an hour or so the first time: the library is built by the program's own code, with a
stand-in for the recogniser, and kept in the folder that FOLDER names, if one does. Talk is that of tests/examples with
other numbers, the same at every run; sound is a stand-in file. Commands are timed as processes, wall time and processor
time, with a warm file cache.
"""

from __future__ import annotations

import logger  # noqa: F401  # isort: skip  # before other libraries, so that nothing is sent
import hashlib
import random
import re
import sys
import tempfile
import time
import wave
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from functools import cache
from pathlib import Path
from typing import Any

from conftest import COMPANY, exif_bytes
from PIL import Image

from extract.notes import parse_log
from extract.record import Note, Word
from logger import jobs, speech
from logger.store import Store, open_store

EXAMPLES = Path("tests/examples")
FALLBOOK = Path(sys.executable).with_name("fallbook")
FIRST_DAY = date(2010, 3, 1)
BATCH = 50
"""Jobs that are written at once."""
ROUNDS = 5
BIG, PHOTOS, TYPED = "many-notes", "many-photos", "job-00002"
"""A job of BIG_NOTES, one with photos of phone size, and one that typed notes are added to."""
BIG_NOTES = 8000
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

    def heard(self, text: str, start_s: float) -> Note:
        """A note as the recogniser gives it: three of four have other readings too."""
        words = []
        for place, word in enumerate(text.split()):
            begins, sure = start_s + 0.31 * place, min(0.999, 0.35 + self._random.expovariate(0.6))
            ends = begins + 0.27
            words.append(
                Word(text=word, start_s=round(begins, 2), end_s=round(ends, 2), confidence=round(sure, 3))
            )
        mean = sum(word.confidence for word in words) / len(words)
        others = [NUMBER.sub(self._number, text) for _ in range(self._random.randint(0, 3))]
        return Note(
            text=text,
            heard=text,
            confidence=round(mean, 3),
            words=words,
            alternatives=[other for other in dict.fromkeys(others) if other != text],
            start_s=words[0].start_s,
            end_s=words[-1].end_s,
        )

    def noise(self, path: Path, size: tuple[int, int], taken: datetime) -> None:
        """A photo that is smooth and grainy as a phone's; one of LARGE takes 3 MB."""
        grain = Image.effect_noise(size, 14)
        shade = Image.new("RGB", size, tuple(self._random.randrange(256) for _ in range(3)))
        picture = Image.blend(Image.merge("RGB", [grain] * 3), shade, 0.1)
        tags = exif_bytes(taken=f"{taken:%Y:%m:%d %H:%M:%S}", gps=(41.5 + self._random.random() / 1e4, -93.25))
        picture.save(path, quality=78, exif=tags)

    def hum(self, path: Path) -> None:
        with wave.open(str(path), "wb") as file:
            file.setparams((1, 1, 8000, 0, "NONE", ""))
            file.writeframes(self._random.randbytes(200))


def _label(number: int) -> str:
    return NUMBERS[number] if number < len(NUMBERS) else str(number + 1)


# -- the library


@dataclass
class Told:
    """A recogniser that is told what it hears, by the SHA-256 of the recording; it describes itself as the real one."""

    notes: dict[str, list[Note]]
    described: dict[str, Any]

    def hear(self, path: Path, **settings: Any) -> list[Note]:
        return self.notes[path.name]

    def describe(self, model: str | None = None, language: str | None = None) -> dict[str, Any]:
        return self.described


@dataclass(frozen=True)
class Plan:
    """One job to build."""

    name: str
    notes: int
    day: date
    seed: int
    photos: tuple[int, int] | None = None


def plans(count: int, notes: int) -> Iterator[Plan]:
    for number in range(count):
        day = FIRST_DAY + timedelta(days=number)
        yield Plan(f"job-{number:05}", notes, day, number, SMALL if number < WITH_PHOTOS else None)
    yield Plan(BIG, BIG_NOTES, FIRST_DAY, count)
    yield Plan(PHOTOS, 100, FIRST_DAY, count + 1, LARGE)


def build(folder: Path, count: int, notes: int) -> None:
    """What is missing of the library: each job taken, its talk heard and typed, and settled as `take` leaves it."""
    described = speech.describe()
    begun = time.monotonic()
    with open_store(folder, create=True) as store:
        known = set(store.job_names())
        missing = [plan for plan in plans(count, notes) if plan.name not in known]
        for place in range(0, len(missing), BATCH):
            with store.writing():
                for plan in missing[place : place + BATCH]:
                    _job(store, plan, described)
            _progress(place + BATCH, len(missing), time.monotonic() - begun)


def _progress(done: int, total: int, seconds: float) -> None:
    done = min(done, total)
    print(f"built {done} of {total} jobs, {1000 * seconds / done:.0f} ms a job", file=sys.stderr, flush=True)


def _job(store: Store, plan: Plan, described: dict[str, Any]) -> None:
    with tempfile.TemporaryDirectory() as place:
        company, files = Path(place) / "company.toml", Path(place) / "day"
        company.write_text(COMPANY)
        files.mkdir()
        jobs.new(
            store,
            plan.name,
            client=f"Client {plan.seed}",
            address=f"{plan.seed + 1} Tarn Lane, Oxholt",
            company=str(company),
            day=plan.day,
            zone="-05:00",
        )
        typed, heard = _day(Talk(plan.seed), plan, files)
        results = jobs.take(store, plan.name, [files], listening=_unheeded, hearing=Told(heard, described))
        if failed := [each.line for each in results if each.outcome == "failed"]:
            raise RuntimeError(f"{plan.name}: {failed[0]}")
    for text, at in typed:
        jobs.say(store, plan.name, text, at.isoformat())
    jobs.settle(store, plan.name)


def _unheeded(name: str) -> Callable[[float, float], None]:
    return lambda done, total: None


def _day(talk: Talk, plan: Plan, files: Path) -> tuple[list[tuple[str, datetime]], dict[str, list[Note]]]:
    """Writes the files of a day; gives what was typed, with its times, and what is heard in each recording.

    Of 100 notes 55 are heard in three recordings, 40 or so stand in one text log, and the others are typed.
    """
    texts = talk.texts(plan.notes)
    begins = datetime(plan.day.year, plan.day.month, plan.day.day, 7)
    step = timedelta(hours=10) / plan.notes
    typed, heard, log = [], {}, []
    for first in range(0, len(texts), STRETCH):
        part = list(enumerate(texts[first : first + STRETCH], first))
        said, rest = part[: round(0.55 * len(part))], part[round(0.55 * len(part)) :]
        at = begins + first * step
        sound = files / f"{at:%Y%m%d_%H%M%S}.wav"
        talk.hum(sound)
        heard[hashlib.sha256(sound.read_bytes()).hexdigest()] = [talk.heard(text, (place - first) * step.total_seconds()) for place, text in said]
        for place, text in rest:
            if place % 9 == 8:
                typed.append((text, begins + place * step))
            else:
                log.append(f"[{begins + place * step:%H:%M:%S}] {text}\n")
    (files / f"notes {plan.day}.txt").write_text("".join(log))
    for number in range(PHOTOS_EACH if plan.photos else 0):
        taken = begins + (number + 0.5) * timedelta(hours=10) / PHOTOS_EACH
        talk.noise(files / f"SHOT{number:04}.JPG", plan.photos, taken)
    return typed, heard
