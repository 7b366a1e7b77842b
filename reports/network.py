"""The drainage as a network: which chains of runs lead from each inlet to where the water leaves."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping
from dataclasses import dataclass
from graphlib import TopologicalSorter

from extract.record import Record, Run

LIVE = ("installed", "existing", None)


@dataclass(frozen=True)
class Chain:
    """Runs from upstream to downstream. It ends at an outlet, or where it `joins` a chain listed before it."""

    runs: list[Run]
    joins: bool

    @property
    def labels(self) -> list[str]:
        """The structures along it, one more than its runs."""
        return [str(self.runs[0].from_), *(str(run.to) for run in self.runs)]


def connected(record: Record) -> tuple[list[Run], list[Run]]:
    """Runs that carry water between two named ends, and the rest (an end not said, or a loop closed by a run)."""
    below: dict[str, list[str]] = defaultdict(list)
    joined, loose = [], []
    for run in record.runs:
        if run.state not in LIVE:
            continue
        if run.from_ and run.to and not _leads(below, run.to, run.from_):
            below[run.from_].append(run.to)
            joined.append(run)
        else:
            loose.append(run)
    return joined, loose


def _leads(below: Mapping[str, list[str]], start: str, end: str) -> bool:
    """Whether water at `start` comes to `end`, as it does where they are one."""
    ahead, met = [start], {start}
    while ahead:
        fresh = set(below.get(ahead.pop(), [])) - met
        met |= fresh
        ahead += fresh
    return end in met


def chains(record: Record) -> list[Chain]:
    """Every connected run once: the longest way to an outlet first, then each branch down to where it joins."""
    left, _ = connected(record)
    found: list[Chain] = []
    seen: set[str] = set()
    while left:
        path = _longest(left, seen)
        found.append(Chain(path, str(path[-1].to) in seen))
        seen.update(str(end) for run in path for end in (run.from_, run.to))
        left = [run for run in left if run not in path]
    return found


def _longest(left: list[Run], seen: set[str]) -> list[Run]:
    # A branch stops at the first structure of a chain already found, so no run is told twice.
    best: dict[str, tuple[float, list[Run]]] = {}
    for label in reversed(_downstream(left)):
        ways: list[tuple[float, list[Run]]] = []
        for run in left:
            if run.from_ == label:
                further = (0.0, []) if run.to in seen else best[str(run.to)]
                ways.append((further[0] + max(run.length_ft or 0, 1.0), [run, *further[1]]))
        best[label] = max(ways, key=lambda way: (way[0], [-left.index(run) for run in way[1]]), default=(0.0, []))
    return max(best.values(), key=lambda way: way[0])[1]


def _downstream(runs: list[Run]) -> list[str]:
    """The runs' ends, each after all from which water comes to it."""
    order: TopologicalSorter[str] = TopologicalSorter()
    for upper, lower in dict.fromkeys((str(run.from_), str(run.to)) for run in runs):
        order.add(lower, upper)
    return list(order.static_order())
