"""How long the reports of a large job take, in how much memory, and how large they are.

Run by `make bench-report`: 25 runs and 60 photos of 12 million pixels each, held against 12 s of processor time (8 s on
two cores that nothing else keeps busy), 500 MB in the largest process and 12 MB a file. Two figures after it are
another count of runs and of photos.
"""

from __future__ import annotations

import logger  # noqa: F401  # isort: skip  # before NumPy, which it keeps to one thread
import os
import random
import subprocess
import sys
import tempfile
import time
from datetime import datetime, timedelta
from pathlib import Path
from typing import NamedTuple

import numpy as np
import piexif
from PIL import Image

from reports.closeout import READERS

SECONDS, MEGABYTES, FILE_MB = 12, 500, 12
START = datetime(2026, 5, 14, 8, 0)
COMPANY = Path(__file__).parents[2] / "sample_logs" / "company.toml"
SIZE = (4000, 3000)


class Cost(NamedTuple):
    """What one command took."""

    wall_s: float
    processor_s: float
    peak_mb: float


def log(runs: int) -> str:
    """What a crew might type of that many runs in a row, from basin to basin to a pop-up."""
    lines = []
    for run in range(1, runs + 1):
        at = START + timedelta(minutes=15 * run)
        to = f"basin {run + 1}" if run < runs else "outlet 1"
        what = "a 12 by 12 catch basin, it is set" if run < runs else "a pop-up, it is set"
        lines += [
            f"[{at:%H:%M:%S}] Basin 1 is a 12 by 12 catch basin, it is set." if run == 1 else "",
            f"[{at + timedelta(minutes=3):%H:%M:%S}] {to[0].upper()}{to[1:]} is {what}.",
            f"[{at + timedelta(minutes=6):%H:%M:%S}] Run {run} is in, {20 + run} feet of four inch SDR 35, "
            f"from basin {run} to {to}, drop {5 + run % 3} inches, cover is 14 inches.",
        ]
    return "\n".join(filter(None, lines)) + "\n"


def photo(path: Path, number: int, taken: datetime) -> None:
    """A picture as rich in detail as one of a trench, of 3 to 4 MB."""
    rng = np.random.default_rng(number)
    coarse = rng.integers(40, 200, (SIZE[1] // 40, SIZE[0] // 40, 3), np.uint8)
    ground = np.asarray(Image.fromarray(coarse).resize(SIZE, Image.Resampling.BICUBIC), np.int16)
    grain = rng.normal(0, 14, (SIZE[1], SIZE[0], 1)).astype(np.int16)
    moment = f"{taken:%Y:%m:%d %H:%M:%S}"
    exif = piexif.dump({"Exif": {piexif.ExifIFD.DateTimeOriginal: moment, piexif.ExifIFD.OffsetTimeOriginal: "-05:00"}})
    picture = Image.fromarray(np.clip(ground + grain, 0, 255).astype(np.uint8))
    picture.save(path, quality=88, exif=exif)


def build(folder: Path, runs: int, photos: int) -> None:
    """A library in `folder` with the one job `long-walk`."""
    day = folder / "day"
    day.mkdir(parents=True)
    (day / "notes.txt").write_text(log(runs), encoding="utf-8")
    chance = random.Random(4)
    for number in range(photos):
        along = timedelta(minutes=15 + 15 * runs * number / max(1, photos), seconds=chance.randrange(30))
        photo(day / f"site-{number:02}.jpg", number, START + along)
    new = ["new", "long-walk", "--client", "Ina Wexcombe", "--address", "27 Quillbark Row", "--day", "2026-05-14"]
    fallbook(folder, *new, "--zone=-05:00", "--company", COMPANY)
    fallbook(folder, "take", "long-walk", day)


def fallbook(folder: Path, *words: object) -> Cost:
    """One command, with the processes that it starts. Raises CalledProcessError where it fails."""
    environment = os.environ | {"FALLBOOK_LIBRARY": str(folder / "library")}
    command = [sys.executable, "-m", "logger.cli", *map(str, words)]
    watch = "import resource, subprocess, sys; code = subprocess.call(sys.argv[1:], stdout=subprocess.DEVNULL); "
    watch += "used = resource.getrusage(resource.RUSAGE_CHILDREN); "
    watch += "print(used.ru_utime + used.ru_stime, used.ru_maxrss); sys.exit(code)"
    started = time.perf_counter()
    told = subprocess.check_output([sys.executable, "-c", watch, *command], text=True, env=environment)
    processor, kilobytes = map(float, told.split())
    return Cost(time.perf_counter() - started, processor, kilobytes / 1024)


def main(runs: int = 25, photos: int = 60) -> int:
    """Print the figures; 1 where one is over."""
    over = False
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        build(folder, runs, photos)
        print(f"{runs} runs, {photos} photos   wall s   processor s   peak MB   file MB")
        for reader in READERS:
            path = folder / f"{reader}.docx"
            cost = fallbook(folder, "report", "long-walk", "--for", reader, "--draft", "-o", path)
            size = path.stat().st_size / 1e6
            print(f"{reader:22} {cost.wall_s:8.1f} {cost.processor_s:13.1f} {cost.peak_mb:9.0f} {size:9.1f}")
            over |= cost.processor_s > SECONDS or cost.peak_mb > MEGABYTES or size > FILE_MB
    return int(over)


if __name__ == "__main__":
    sys.exit(main(*map(int, sys.argv[1:])))
