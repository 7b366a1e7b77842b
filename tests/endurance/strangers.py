"""Damaged files of every kind taken into a job, a good one after each: `python tests/endurance/strangers.py 2000 21`.

Every file must be taken or refused with one line, the good one after it taken, and nothing may take long or much
memory. Prints one line; exit code 1 where anything was wrong.
"""

from __future__ import annotations

import logger  # noqa: F401  # isort: skip  # before other libraries, so that nothing is sent
import random
import resource
import sys
import time
from collections import Counter
from collections.abc import Callable
from pathlib import Path
from tempfile import TemporaryDirectory

from conftest import COMPANY
from nasty import damaged, seeds

from extract.record import Note
from logger import intake, jobs
from logger.store import Store, open_store
from logger.verify import verify

SLOW_S = 60


class Deaf:
    """A recogniser that hears the same in everything, once it was decoded."""

    def hear(self, path: Path, **_: object) -> list[Note]:
        from logger.decoding import samples

        for _block in samples(path):
            pass
        return [Note(text="Basin one is set.", start_s=0, end_s=1)]

    def describe(self, *_: object) -> dict[str, object]:
        return {}


def quiet(_: str) -> Callable[[float, float], None]:
    return lambda done, total: None


def trial(folder: Path, count: int, seed: int) -> Counter[str]:
    """What became of the files, and what was wrong."""
    tally: Counter[str] = Counter()
    (folder / "company.toml").write_text(COMPANY)
    (folder / "seeds").mkdir()
    with open_store(folder / "library", create=True) as store:
        for number, (name, raw) in enumerate(damaged(seeds(folder / "seeds"), random.Random(seed), count)):
            if number % 50 == 0:  # a job of a day's size
                job = f"job-{number}"
                jobs.new(store, job, client="A", address="B", company=str(folder / "company.toml"))
            _take(store, job, folder, number, name, raw, tally)
        found = [fault.words for fault in verify(store, None, lambda *_: None)]
        tally.update({f"wrong: {words}": 1 for words in found if "cannot be used" not in words})
    return tally


def _take(store: Store, job: str, folder: Path, number: int, name: str, raw: bytes, tally: Counter[str]) -> None:
    bad, good = folder / f"{number}-{name}", folder / f"{number}-good.txt"
    bad.write_bytes(raw)
    good.write_text(f"Basin {number} is set.\n")
    began = time.monotonic()
    results = list(intake.take(store, job, [bad, good], Deaf(), quiet))  # type: ignore[arg-type]
    if time.monotonic() - began > SLOW_S:
        tally[f"wrong: {name} took {time.monotonic() - began:.0f} s"] += 1
    lines = [result.line for result in results if bad.name in result.line]
    if not lines or any("\n" in line for line in lines):
        tally[f"wrong: {name}: {lines}"] += 1
    if not any(result.outcome == "taken" and good.name in result.line for result in results):
        tally[f"wrong: the good file after {name} was not taken"] += 1
    tally[next((result.outcome for result in results if bad.name in result.line), "nothing")] += 1
    bad.unlink()
    good.unlink()


def main() -> None:
    count, seed = (int(each) for each in sys.argv[1:3])
    with TemporaryDirectory() as folder:
        tally = trial(Path(folder), count, seed)
    memory = max(resource.getrusage(who).ru_maxrss for who in (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN)) / 1024
    print(f"strangers: {dict(tally)}; at most {memory:.0f} MB in one process")
    sys.exit(any(key.startswith("wrong") for key in tally) or memory > 1024)


if __name__ == "__main__":
    main()
