"""How fast notes are read: start-up, notes a second for whole jobs, and what that is beside spaCy's blank tokeniser.

Run by `make bench-read`. All figures are processor time of one core, from one run on the jobs of tests/examples.
"""

from __future__ import annotations

import logger  # noqa: F401  # isort: skip  # before NumPy, which it keeps to one thread
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path

from spacy.lang.en import English

from extract.assemble import assemble
from extract.notes import parse_log

ROUNDS = 7
START = (
    "import logger; from extract.assemble import assemble; from extract.record import Note; "
    "assemble([Note(text='Run one is in.')])"
)


def fastest(work: Callable[[], object]) -> float:
    """The least processor time of several rounds, seconds."""
    times = []
    for _ in range(ROUNDS):
        start = time.process_time()
        work()
        times.append(time.process_time() - start)
    return min(times)


def start_up() -> float:
    """Wall time of a new interpreter that imports the reader and reads one note, seconds."""
    times = []
    for _ in range(ROUNDS):
        start = time.perf_counter()
        subprocess.run([sys.executable, "-c", START], check=True)
        times.append(time.perf_counter() - start)
    return min(times)


def main() -> None:
    jobs = [parse_log(path.read_text()) for path in sorted(Path("tests/examples").glob("*.notes.txt"))]
    texts = [note.text for job in jobs for note in job]
    tokenise = English()
    reading = len(texts) / fastest(lambda: [assemble(job) for job in jobs])
    one_job = len(texts) / fastest(lambda: assemble([note for job in jobs for note in job]))
    tokenising = len(texts) / fastest(lambda: [tokenise(text) for text in texts])
    print(f"start-up with one note read     {start_up():8.2f} s")
    print(f"notes read a second, {len(jobs)} jobs    {reading:8.0f}")
    print(f"the same notes as one job       {one_job:8.0f}")
    print(f"spaCy's blank tokeniser alone   {tokenising:8.0f}   ({tokenising / reading:.0f} times as many)")


if __name__ == "__main__":
    main()
