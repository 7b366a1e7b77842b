"""The drainage as a network: which chains of runs lead from each inlet to where the water leaves."""

from __future__ import annotations

from dataclasses import dataclass

import networkx as nx

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
    graph, joined, loose = nx.DiGraph(), [], []
    for run in record.runs:
        if run.state not in LIVE:
            continue
        if run.from_ and run.to and run.from_ != run.to and not _closes_a_loop(graph, run):
            graph.add_edge(run.from_, run.to)
            joined.append(run)
        else:
            loose.append(run)
    return joined, loose


def _closes_a_loop(graph: nx.DiGraph, run: Run) -> bool:
    return run.from_ in graph and run.to in graph and bool(nx.has_path(graph, run.to, run.from_))


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
    graph = nx.MultiDiGraph()
    for index, run in enumerate(left):
        graph.add_edge(run.from_, run.to, index)
    for label in reversed(list(nx.topological_sort(graph))):
        ways: list[tuple[float, list[Run]]] = [(0.0, [])] if not graph.out_degree(label) else []
        for _, to, index in graph.out_edges(label, keys=True):
            further = (0.0, []) if to in seen else best[to]
            ways.append((further[0] + max(left[index].length_ft or 0, 1.0), [left[index], *further[1]]))
        best[label] = max(ways, key=lambda way: (way[0], [-left.index(run) for run in way[1]]))
    return max(best.values(), key=lambda way: way[0])[1]
