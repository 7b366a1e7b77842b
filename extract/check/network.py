"""The network that the runs make: where water enters, where it leaves, and whether it gets from one to the other.

Only what is in place carries water (installed, existing, or said with no state); what is planned is named as
planned; what is abandoned or removed is left out.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from dataclasses import dataclass, field
from typing import Any

from extract.check.levels import Height
from extract.check.policy import Policy
from extract.check.saying import evidence, finding, in_place, known, listed, name
from extract.record import Finding, Outcome, Record, Run, Structure

INLETS = {"channel_drain", "catch_basin", "area_drain", "downspout"}
OUTLETS = {"dry_well", "popup_outlet", "daylight_outlet", "curb_outlet"}
ABOVE_GROUND_ENDS = OUTLETS - {"dry_well"}
"""Outlets that nothing runs on from; a dry well may have an overflow."""


def is_outlet(structure: Structure) -> bool:
    """By its kind; where that was not said, by its label."""
    return structure.kind in OUTLETS or (structure.kind is None and structure.label.startswith("OUT-"))


@dataclass
class Network:
    """Structures by label, and the runs in place that leave and enter each.

    A run that ends at another run enters that one's label, and what leaves there is that other run.
    """

    structures: dict[str, Structure]
    runs: dict[str, Run] = field(default_factory=dict)
    """Every run by label, in place or not."""
    leaving: dict[str, list[Run]] = field(default_factory=lambda: defaultdict(list))
    entering: dict[str, list[Run]] = field(default_factory=lambda: defaultdict(list))

    def ends_at_outlet(self, label: str) -> bool:
        return label in self.structures and is_outlet(self.structures[label]) and in_place(self.structures[label])


@dataclass(frozen=True)
class Way:
    """Where the water of a structure gets to."""

    last: str
    """The structure furthest down one way that the runs make."""
    outlets: list[str]
    """The outlets at the ends of its branches, one a branch; empty where none is reached."""


def check_network(record: Record, network: Network, policy: Policy, points: dict[str, Height]) -> list[Finding]:
    """Ends of runs, loops, the way of every inlet to an outlet, inverts and sizes at each structure, and plans."""
    findings = [*_twice(record), *(item for run in record.runs if in_place(run) for item in _ends(run, network))]
    ways, loops = _follow(network)
    findings += [_loop(loop, network) for loop in loops]
    for structure in filter(in_place, record.structures):
        way = ways.get(structure.label, Way(structure.label, []))
        findings += _way_out(structure, network, way, record)
        findings += _in_above_out(structure, network, policy, points)
        findings += _reduction(structure, network, policy)
    findings += [item for run in record.runs if in_place(run) for item in _reducers(run, policy)]
    findings += [_planned(structure) for structure in record.structures if structure.state == "planned"]
    return findings + [_planned(run) for run in record.runs if run.state == "planned"]


def network_of(record: Record) -> Network:
    """The structures of the record, and the runs of it that are in place."""
    structures = {structure.label: structure for structure in record.structures}
    network = Network(structures, {run.label: run for run in record.runs})
    for run in filter(in_place, record.runs):
        if run.from_ is not None:
            network.leaving[run.from_].append(run)
        if run.to is not None:
            network.entering[run.to].append(run)
    labels = {run.label: run for run in record.runs if in_place(run)}
    for run in labels.values():
        if run.to in labels and run.to != run.label:
            network.leaving[run.to] = [labels[run.to]]
    return network


def _follow(network: Network) -> tuple[dict[str, Way], list[list[str]]]:
    """The way of every structure that has a run, and the loops that water could go round in."""
    pairs = [(label, run.to) for label, runs in network.leaving.items() for run in runs if run.to is not None]
    if not pairs:
        return {}, []
    # networkx takes longer to load than a whole check takes to run; a record with no runs does without it.
    import networkx

    knots = networkx.condensation(networkx.DiGraph(pairs))
    members = {knot: sorted(knots.nodes[knot]["members"]) for knot in knots}
    ways: dict[Any, Way] = {}
    for knot in reversed(list(networkx.topological_sort(knots))):
        ways[knot] = _way_from(members[knot], [ways[below] for below in knots.successors(knot)], network)
    loops = [labels for labels in members.values() if len(labels) > 1]
    return {label: ways[knot] for knot, labels in members.items() for label in labels}, loops


def _way_from(labels: list[str], below: list[Way], network: Network) -> Way:
    own = [label for label in labels if network.ends_at_outlet(label)]
    # One outlet a branch is proof enough, and keeps the work linear on a site with many.
    outlets = own or sorted({way.outlets[0] for way in below if way.outlets})
    return Way(below[0].last if below else labels[0], outlets)


def _twice(record: Record) -> list[Finding]:
    """Labels that two entries share: what is said of the one would be taken for the other."""
    counted = Counter([*(each.label for each in record.structures), *(each.label for each in record.runs)])
    return [
        finding("label", label, "fail", f"the record holds {name(label)} {times} times; each needs a label of its own.")
        for label, times in counted.items()
        if times > 1
    ]


# -- ends of runs


def _ends(run: Run, network: Network) -> list[Finding]:
    findings = []
    for label, side in ((run.from_, "upper"), (run.to, "lower")):
        problem = _end_problem(label, side, network)
        if problem:
            outcome, words = problem
            findings.append(_end_finding(run, outcome, f"{name(run.label)} {words}."))
    if run.from_ is not None and run.from_ == run.to:
        findings.append(_end_finding(run, "fail", f"{name(run.label)} begins and ends at {name(run.to)}."))
    if run.from_ in network.structures and network.structures[run.from_].kind in ABOVE_GROUND_ENDS:
        words = f"{name(run.label)} runs out of {name(run.from_)}, which is an outlet; its ends may be swapped."
        findings.append(_end_finding(run, "attention", words))
    if not findings and run.from_ and run.to:
        words = f"{name(run.label)} runs from {name(run.from_)} to {name(run.to)}."
        findings.append(_end_finding(run, "ok", words))
    return findings


def _end_problem(label: str | None, side: str, network: Network) -> tuple[Outcome, str] | None:
    if label is None:
        return "unknown", f"has no {side} end said"
    structure = network.structures.get(label)
    if structure is None and (other := network.runs.get(label)) is not None:
        return _at_run(label, other.state, side)
    if structure is None:
        return "fail", f"has its {side} end at {name(label)}, which the record does not hold"
    if structure.state == "planned":
        return "attention", f"has its {side} end at {name(label)}, which is planned and not built"
    if not in_place(structure):
        return "fail", f"has its {side} end at {name(label)}, which is {structure.state}"
    return None


def _at_run(label: str, state: str | None, side: str) -> tuple[Outcome, str] | None:
    """What is wrong with an end at another run; nothing where one in place takes the water in."""
    if side == "upper":
        return "attention", f"begins at {name(label)}; name the structure where the two part"
    if state == "planned":
        return "attention", f"has its lower end at {name(label)}, which is planned and not built"
    if state in ("abandoned", "removed"):
        return "fail", f"has its lower end at {name(label)}, which is {state}"
    return None


def _end_finding(run: Run, outcome: Outcome, message: str) -> Finding:
    return finding("run_ends", run.label, outcome, message, evidence=evidence(run, "from", "to", "from_"))


def _loop(loop: list[str], network: Network) -> Finding:
    members = set(loop)
    runs = [run for label in loop for run in network.leaving[label] if run.to in members]
    shown = listed([*map(name, loop[:6]), *(["others"] if len(loop) > 6 else [])])
    return finding(
        "loop",
        loop[0],
        "fail",
        f"the runs between {shown} go round in a loop; one of them has its ends swapped.",
        evidence=[item for run in runs for item in evidence(run, "from", "to", "from_")],
    )


# -- the way out


def _way_out(structure: Structure, network: Network, way: Way, record: Record) -> list[Finding]:
    label, kind = structure.label, structure.kind
    if is_outlet(structure):
        return [] if network.entering[label] or not record.runs else [_dry(structure)]
    if kind not in INLETS and not network.entering[label]:
        return []
    outcome, words = _way_in_words(structure, network, way)
    words_of = [item for run in network.leaving[label] for item in evidence(run, "from", "to", "from_")]
    message = f"{name(label)} {words}."
    return [finding("reaches_outlet", label, outcome, message, evidence=words_of or structure.evidence)]


def _way_in_words(structure: Structure, network: Network, way: Way) -> tuple[Outcome, str]:
    if way.outlets:
        return "ok", f"drains to {listed(map(name, way.outlets))}"
    if not network.leaving[structure.label]:
        outcome: Outcome = "attention" if structure.state == "existing" else "fail"
        return outcome, "has no run out of it, so nothing says where its water goes"
    unended = next((run for run in network.leaving[way.last] if run.to is None), None)
    if unended is not None:
        return "unknown", f"drains to {name(unended.label)}, and nobody said where that ends"
    if way.last in network.structures and network.structures[way.last].state == "planned":
        return "attention", f"drains to {name(way.last)}, which is planned and not built"
    return "fail", f"reaches no outlet: its water gets as far as {name(way.last)}"


def _dry(structure: Structure) -> Finding:
    message = f"no run to {name(structure.label)} was recorded, so nothing drains to it."
    return finding("reaches_outlet", structure.label, "attention", message, evidence=structure.evidence)


def _planned(entry: Structure | Run) -> Finding:
    message = f"{name(entry.label)} is planned, not built."
    return finding("planned", entry.label, "attention", message, evidence=evidence(entry, "state"))


# -- at each structure


def _in_above_out(structure: Structure, network: Network, policy: Policy, points: dict[str, Height]) -> list[Finding]:
    """The incoming invert against the outgoing one; unknown at a structure that water runs through."""
    label = structure.label
    above, below = points.get(f"{label} invert_in"), points.get(f"{label} invert_out")
    if above is None or below is None or above.chain != below.chain:
        return _inverts_missing(structure, network, above, below)
    step = above.ft - below.ft
    right = step >= -policy["reading_ft"] - 1e-9
    where = "is below" if step < -1e-9 else "is level with" if step <= 1e-9 else "is above"
    gap = "" if where == "is level with" else f" by {abs(step):.2f} feet"
    heights = f"{above.ft:.2f} against {below.ft:.2f}" if above.chain is None else "by rod"
    end = (
        "; water would stand in the incoming pipe" if not right else ", within what a rod can tell" if step < 0 else ""
    )
    return [
        finding(
            "in_above_out",
            label,
            "ok" if right else "fail",
            f"at {name(label)} the incoming invert {where} the outgoing one{gap} ({heights}){end}.",
            computed=step,
            limit=0.0,
            unit="ft",
            source=policy.source("reading_ft"),
            evidence=above.evidence + below.evidence,
        )
    ]


def _inverts_missing(
    structure: Structure, network: Network, above: Height | None, below: Height | None
) -> list[Finding]:
    label = structure.label
    if not network.entering[label] or not network.leaving[label]:
        return []
    missing = [words for words, height in (("incoming", above), ("outgoing", below)) if height is None]
    said = f"no elevation is known for the {listed(missing)} invert" if missing else "they are on no common datum"
    message = f"at {name(label)} the incoming invert cannot be held against the outgoing one: {said}."
    return [finding("in_above_out", label, "unknown", message, unit="ft", evidence=structure.evidence)]


def _reduction(structure: Structure, network: Network, policy: Policy) -> list[Finding]:
    """The pipes out of a structure against the largest pipe into it."""
    sized = [run for run in network.entering[structure.label] if known(run.nominal_in) is not None]
    if not sized:
        return []
    largest = max(sized, key=lambda run: run.nominal_in or 0.0)
    return [
        _sizes(structure, largest, run, policy)
        for run in network.leaving[structure.label]
        if known(run.nominal_in) is not None
    ]


def _sizes(structure: Structure, above: Run, below: Run, policy: Policy) -> Finding:
    upper, lower = above.nominal_in or 0.0, below.nominal_in or 0.0
    right = upper - lower <= policy["reduction_in"]
    end = "" if right else "; drain pipe is not made smaller downstream"
    return finding(
        "pipe_size",
        below.label,
        "ok" if right else "fail",
        f"at {name(structure.label)} {name(above.label)} comes in at {upper:g} inch and "
        f"{name(below.label)} goes on at {lower:g} inch{end}.",
        stated=lower,
        limit=upper,
        unit="in",
        source=policy.source("reduction_in"),
        evidence=evidence(above, "nominal_in") + evidence(below, "nominal_in"),
    )


def _reducers(run: Run, policy: Policy) -> list[Finding]:
    """A reducer among a run's own fittings."""
    if not any(fitting.kind == "reducer" for fitting in run.fittings):
        return []
    message = f"{name(run.label)} has a reducer in it; drain pipe is not made smaller downstream, so look how it faces."
    words, source = evidence(run, "fittings"), policy.source("reduction_in")
    return [finding("pipe_size", run.label, "attention", message, source=source, evidence=words)]
