"""Kills at random points: every command that writes is ended with SIGKILL, and the next command must find all whole.

`python tests/endurance/kills.py --times 300 --path take-photos --seed 1`; without `--path` all of them, one line each,
exit code 1 where anything was wrong. Each kill has a seed of its own, SEED plus its number, so that `--times 1 --seed
THAT` does it again, at the same part of the command's time. A long trial can be made in pieces: `--times 100` with the
seeds 1, 101 and 201 makes the kills of `--times 300`. Needs no network and no speech model.

The parent imports everything once and forks, so that a kill hits the command and not the start of Python.
"""

from __future__ import annotations

import argparse
import gc
import os
import random
import shutil
import signal
import statistics
import sys
import tempfile
import time
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, field
from itertools import chain
from pathlib import Path

from forked import asked, end, left_running, start
from kill_begin import Place, base, run, warm
from kill_checks import left_behind, library_wrong
from kill_paths import PATHS

from logger.store import open_store

LEFT = "a decoding process goes on"


@dataclass
class Outcome:
    name: str
    lasts_s: float = 0.0
    kills: int = 0
    hit: int = 0
    """How many of the kills came before the command's end."""
    wrong: list[str] = field(default_factory=list)

    def __str__(self) -> str:
        head = f"{self.name}: {self.kills} kills in {self.lasts_s:.2f} s, {self.hit} before the end"
        return "\n".join([f"{head}, {len(self.wrong)} wrong", *(f"  {line}" for line in self.wrong)])


# -- the trial


class Trials:
    """The kills of one path, in a temporary folder of their own."""

    def __init__(self, name: str, folder: Path, begun: Path, rounds: int) -> None:
        self.path, self.name, self.folder, self.begun, self.rounds = PATHS[name], name, folder, begun, rounds
        self.out = folder / "out"
        self.lasts_s: dict[str, float] = {}

    def _lay(self, variant: str) -> None:
        """What a variant begins with, and how long the command takes on it; once for each."""
        laid = Place(self.folder / "laid" / variant, variant)
        shutil.copytree(self.begun, laid.at)
        self.path.lay(laid)
        self.lasts_s[variant] = self._lasts(variant)

    def _lasts(self, variant: str) -> float:
        """How long the command takes when nobody kills it, seconds."""
        took = []
        for _ in range(self.rounds):
            at = self._fresh(variant)
            begun = time.monotonic()
            code = end(self._start(at, self.path.args(at)))
            took.append(time.monotonic() - begun)
            assert code == 0, (self.name, variant, code, self.out.read_text())
        return statistics.median(took)

    def _fresh(self, variant: str) -> Place:
        at = self.folder / "trial"
        shutil.rmtree(at, ignore_errors=True)
        shutil.copytree(self.folder / "laid" / variant, at)
        self.out.unlink(missing_ok=True)
        return Place(at, variant)

    def _start(self, at: Place, args: list[str]) -> int:
        return start(lambda: run(at.at, args, self.path.typed(at)), self.out)

    def kill(self, seed: int) -> tuple[bool, list[str]]:
        """One kill: whether it came before the end, and what was wrong then."""
        variant = self.path.variants[seed % len(self.path.variants)]
        if variant not in self.lasts_s:
            self._lay(variant)
        at = self._fresh(variant)
        delay = random.Random(f"{self.name} {seed}").uniform(0, 1.1 * self.lasts_s[variant])
        pid = self._start(at, self.path.args(at))
        time.sleep(delay)
        os.kill(pid, signal.SIGKILL)
        hit = end(pid) == -signal.SIGKILL
        wrong = [LEFT] if left_running(pid) else []
        made, found = self._right_after(at)
        wrong += found + self._next(at, ["show"] if made else self.path.args(at))
        where = f"seed {seed}{', ' + variant if variant else ''}, after {1000 * delay:.0f} ms"
        return hit, [f"{where}: {line}" for line in wrong]

    def _right_after(self, at: Place) -> tuple[bool, list[str]]:
        """Whether what the command makes is there, and what is wrong; seen in a copy, as opening a library mends it."""
        said = self.out.read_text() if self.out.exists() else ""
        copy = Place(self.folder / "copy", at.variant)
        shutil.rmtree(copy.at, ignore_errors=True)
        shutil.copytree(at.at, copy.at)
        made, *found = self._ask(lambda: chain(self._count(copy), self.path.killed(copy, said)))
        if self.path.count and said.strip() and self.path.says in said and made == "0":
            found.append(f"it was said to be done and is lost: {said.splitlines()[0]}")
        return (False, found) if made == "0" else (True, found) if made == "1" else (True, [made, *found])

    def _count(self, at: Place) -> Iterator[str]:
        """How often what the command makes is there."""
        if not self.path.count:
            yield "0"
            return
        with open_store(at / "library", create=True) as store:
            yield str(self.path.count(store))

    def _once(self, at: Place) -> Iterator[str]:
        numbers = [*self._count(at)]
        if self.path.count and numbers != ["1"]:
            yield f"what it makes should be there once, and is {numbers[0]} times"

    def _ask(self, look: Callable[[], Iterable[str]]) -> list[str]:
        return asked(look, self.folder / "seen")

    def _next(self, at: Place, args: list[str]) -> list[str]:
        """Run the next command to its end; what is wrong then."""
        self.out.unlink(missing_ok=True)
        pid = self._start(at, args)
        code = end(pid)
        wrong = [f"{args[0]} came to {code}: {self.out.read_text().strip()[-300:]}"] if code else []
        wrong += [LEFT] if left_running(pid) else []
        looks = left_behind, lambda at: library_wrong(at / "library"), self.path.after, self._once
        return wrong + self._ask(lambda: chain.from_iterable(look(at) for look in looks))


def endure(name: str, times: int, seed: int, begun: Path) -> Outcome:
    """Kill the command of that path so many times."""
    with tempfile.TemporaryDirectory() as folder:
        trials = Trials(name, Path(folder), begun, rounds=3 if times > 20 else 1)
        outcome = Outcome(name)
        for number in range(times):
            hit, wrong = trials.kill(seed + number)
            outcome.kills += 1
            outcome.hit += hit
            outcome.wrong += wrong
        outcome.lasts_s = max(trials.lasts_s.values(), default=0.0)
    return outcome


def main() -> int:
    parser = argparse.ArgumentParser(description="Kill commands at random points, and see that nothing comes of it.")
    parser.add_argument("--times", type=int, default=300, help="kills of each path")
    parser.add_argument("--path", choices=PATHS, action="append", help="one path; may be given again; all if left out")
    parser.add_argument("--every", type=int, default=1, help="take only every Nth path")
    parser.add_argument("--seed", type=int, default=1, help="of the first kill; each next one has the next number")
    given = parser.parse_args()
    wrong = 0
    with tempfile.TemporaryDirectory() as folder:
        begun = Path(folder) / "begun"
        warm(Path(folder) / "warm")
        gc.freeze()
        base(begun)
        for name in list(given.path or PATHS)[:: given.every]:
            outcome = endure(name, given.times, given.seed, begun)
            print(outcome, flush=True)
            wrong += len(outcome.wrong)
    return 1 if wrong else 0


if __name__ == "__main__":
    sys.exit(main())
