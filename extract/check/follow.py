"""The storm's water followed down the network, with what is not known of it on the way."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping
from contextlib import suppress
from dataclasses import dataclass, field
from graphlib import CycleError, TopologicalSorter

from extract.check.flow import Capacities, Capacity
from extract.check.network import INLETS, Network
from extract.check.saying import in_place
from extract.record import Run

SHOWN = 3
"""How many of a kind a message names before it says how many more there are."""


@dataclass
class Above:
    """What is not known of the water that comes to a structure: labels, of each kind as many as a message needs."""

    capacity: list[str] = field(default_factory=list)
    """Runs that carry water and whose capacity is not known, or not for sure."""
    area: list[str] = field(default_factory=list)
    """Inlets whose area nobody gave, so that more water comes than was counted."""
    surface: list[str] = field(default_factory=list)
    """Inlets whose surface nobody said, so that less water may come than was counted."""

    def add(self, other: Above) -> None:
        self.capacity = _some(self.capacity, other.capacity)
        self.area = _some(self.area, other.area)
        self.surface = _some(self.surface, other.surface)


@dataclass
class Flows:
    """The storm's water followed down the network."""

    by_run: dict[int, float] = field(default_factory=dict)
    """Flow [gpm] by `id` of the run."""
    arriving: dict[str, float] = field(default_factory=dict)
    """Flow [gpm] that comes to each structure, by pipe and from above."""
    tightest: dict[str, tuple[float, Run]] = field(default_factory=dict)
    """Of the runs above each structure the one that is fullest, with its share of full flow."""
    reached: set[str] = field(default_factory=set)
    """Structures whose water is known; those in a loop or below one are not."""
    above: dict[str, Above] = field(default_factory=dict)
    """What is not known above each structure, and at it."""


def follow(network: Network, own: Mapping[str, float], capacities: Capacities, guessed: Collection[str] = ()) -> Flows:
    """Add up flows [gpm] from each structure down; where several runs leave one, they share it equally.

    Structures in a loop, and below one, are left out: nobody can say what flows there. `guessed` are the structures
    whose own flow was worked out with a surface that nobody said.
    """
    flows = Flows()
    for label in _downstream(network, own):
        flows.reached.add(label)
        flows.above.setdefault(label, Above()).add(_at(label, network, own, guessed))
        come = flows.arriving[label] = flows.arriving.get(label, 0.0) + own.get(label, 0.0)
        leaving = network.leaving.get(label, [])
        for run in leaving:
            flows.above.setdefault(run.to or "", Above()).add(flows.above[label])
            if come:
                _pass_on(flows, label, run, come / len(leaving), capacities.get(id(run)))
    return flows


def _at(label: str, network: Network, own: Mapping[str, float], guessed: Collection[str]) -> Above:
    if label in own:
        return Above(surface=[label] if label in guessed else [])
    structure = network.structures.get(label)
    dry = structure is None or structure.kind not in INLETS or not in_place(structure)
    return Above() if dry else Above(area=[label])


def _some(first: list[str], more: list[str]) -> list[str]:
    return list(dict.fromkeys([*first, *more]))[: SHOWN + 1] if more else first


def _downstream(network: Network, own: Iterable[str]) -> Iterable[str]:
    """Labels in the order of flow, each after all that drain to it."""
    sorter = TopologicalSorter({label: () for label in own})
    for label, runs in network.leaving.items():
        sorter.add(label)
        for run in runs:
            if run.to is not None:
                sorter.add(run.to, label)
    with suppress(CycleError):  # a loop is a finding of its own; the sorter goes on with what lies outside
        sorter.prepare()
    while ready := sorter.get_ready():
        yield from ready
        sorter.done(*ready)


def _pass_on(flows: Flows, label: str, run: Run, share: float, capacity: Capacity | None) -> None:
    """Give a run's flow to its lower end, with what is tightest on the way so far.

    A run that another one ends at is passed more than once, and carries all of it.
    """
    to = run.to or ""
    carried = flows.by_run[id(run)] = flows.by_run.get(id(run), 0.0) + share
    flows.arriving[to] = flows.arriving.get(to, 0.0) + share
    above = [each for each in (flows.tightest.get(label), flows.tightest.get(to)) if each is not None]
    if capacity is not None:
        above.append((carried / capacity.gpm, run))
    if above:
        flows.tightest[to] = max(above, key=lambda each: each[0])
    if capacity is None or capacity.doubt is not None:
        flows.above[to].add(Above(capacity=[run.label]))
