"""The design storm on the network: what each area sheds, what each run must carry, and which run is the limit."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence

from extract.check.circle import depth_ratio
from extract.check.falls import Accounts
from extract.check.flow import Capacities, Capacity, perforated_gpm
from extract.check.follow import SHOWN, Above, Flows, follow
from extract.check.inlets import grate_cfs, slot_cfs
from extract.check.manning import GPM_PER_CFS
from extract.check.network import Network
from extract.check.plumbing import LEADER_SOURCE, leader_gpm, listed_gpm, storm_pipes
from extract.check.policy import Policy
from extract.check.runoff import Storm, area_words, coefficient, measured, shed_gpm
from extract.check.saying import evidence, finding, gallons, in_place, inches, known, listed, name, percent
from extract.record import Area, Evidence, Finding, Outcome, Run, Structure

RATIONAL = "Rational method, Q = C i A"
WHERE_TO_FIND = (
    "look in the local code's table of rainfall rates, which comes first, or in the NOAA Atlas 14 precipitation "
    "frequency estimates for the place"
)


def check_design(
    areas: dict[str, list[Area]],
    storm: Storm | None,
    runs: list[Accounts],
    network: Network,
    capacities: Capacities,
    policy: Policy,
) -> list[Finding]:
    """Runoff, grates, leaders, every run's flow against its capacity, and the limit of each outlet.

    Silent where no areas are known; one `unknown` where they are and no storm was given.
    """
    findings = [item for label, own in areas.items() for item in _bad_areas(label, own, network)]
    good = {label: measured(own) for label, own in areas.items() if label in network.structures}
    good = {label: own for label, own in good.items() if own and in_place(network.structures[label])}
    if not good:
        return findings
    if storm is None:
        return [*findings, _no_storm(good, network)]
    shed = {label: shed_gpm(own, storm, policy) for label, own in good.items()}
    for label, own in good.items():
        findings += _at_inlet(network.structures[label], own, shed[label], storm, policy)
    guessed = [label for label in good if _guessed(network.structures[label], good[label])]
    flows = driest = follow(network, shed, capacities, guessed)
    if guessed:
        dry = {label: shed_gpm(good[label], storm, policy, driest=True) for label in guessed}
        driest = follow(network, shed | dry, capacities)
    both = (flows, driest)
    findings += [item for accounts in runs for item in _design_flow(accounts, both, capacities, storm, network)]
    for label in network.structures:
        if network.ends_at_outlet(label) and label in flows.tightest and label in flows.reached:
            findings.append(_limiting_run(label, both, capacities, storm))
    return findings + _lost_in_a_loop(shed, flows, network)


# -- areas and what they shed


def _bad_areas(label: str, own: Sequence[Area], network: Network) -> list[Finding]:
    if label not in network.structures:
        message = f"areas were given for {name(label)}, which the record does not hold."
        return [finding("runoff", label, "fail", message)]
    if len(measured(own)) == len(own):
        return []
    message = f"an area given for {name(label)} is no area a site could have; it is left out."
    words = evidence(network.structures[label], "areas")
    return [finding("runoff", label, "fail", message, unit="sqft", evidence=words)]


def _no_storm(good: dict[str, list[Area]], network: Network) -> Finding:
    words = [f"{listed(area_words(own))} to {name(label)}" for label, own in good.items()]
    more = [f"{len(words) - SHOWN} more"] if len(words) > SHOWN else []
    message = (
        f"what {listed([*words[:SHOWN], *more])} will shed cannot be worked out: no design storm was given. "
        f"It takes a rainfall intensity in inches an hour; {WHERE_TO_FIND}."
    )
    said = [item for label in good for item in evidence(network.structures[label], "areas")]
    return finding("runoff", next(iter(good)), "unknown", message, unit="in/h", source=RATIONAL, evidence=said)


def _at_inlet(structure: Structure, own: list[Area], gpm: float, storm: Storm, policy: Policy) -> list[Finding]:
    label, words = structure.label, evidence(structure, "areas")
    c = policy.source(*dict.fromkeys(coefficient(area) for area in own))
    guessed = _guessed(structure, own)
    end = "; a surface was not said and is counted as roof, which sheds most" if guessed else ""
    outcome: Outcome = "unknown" if guessed else "ok"
    message = f"{listed(area_words(own))} shed {gallons(gpm)} to {name(label)} in a storm of {storm.words}{end}."
    source = f"{RATIONAL}; C: {c}"
    found = [finding("runoff", label, outcome, message, computed=gpm, unit="gpm", source=source, evidence=words)]
    return [*found, *_grate(structure, own, gpm, storm, policy), *_leader(structure, gpm, policy)]


def _guessed(structure: Structure, own: Iterable[Area]) -> bool:
    """Whether a surface was not said; a downspout drains a roof, said or not."""
    return structure.kind != "downspout" and any(area.surface is None for area in own)


def _grate(structure: Structure, own: list[Area], gpm: float, storm: Storm, policy: Policy) -> list[Finding]:
    """What the inlet's own areas bring against what its grate takes in, where its size is known."""
    takes = _grate_gpm(structure, policy)
    if takes is None:
        return []
    guessed = _guessed(structure, own) and shed_gpm(own, storm, policy, driest=True) <= takes
    right, head = gpm <= takes, policy["grate_head_in"]
    end = "" if right else "; water will stand deeper there"
    if guessed and not right:
        end = "; that counts a surface that was not said as roof, so it may be less"
    message = (
        f"the grate of {name(structure.label)} takes in {gallons(takes)} under {inches(head)} of water with "
        f"{percent(policy['grate_clogging'] * 100)} of it clear, and the storm brings {gallons(gpm)}{end}."
    )
    return [
        finding(
            "grate",
            structure.label,
            "ok" if right else "unknown" if guessed else "attention",
            message,
            stated=gpm,
            computed=takes,
            unit="gpm",
            source=f"FHWA HEC-22, weir and orifice; {policy.source('grate_clogging', 'grate_head_in')}",
            evidence=evidence(structure, "size_in", "areas"),
        )
    ]


def _grate_gpm(structure: Structure, policy: Policy) -> float | None:
    """What the grate takes in [gpm]; None for a kind that has none, and where its size or length is not known."""
    feet = [size / 12 for size in map(known, structure.size_in or []) if size is not None and size > 0]
    if not 1 <= len(feet) <= 2 or len(feet) != len(structure.size_in or []):
        return None
    depth, clear, opening = policy["grate_head_in"] / 12, policy["grate_clogging"], policy["grate_open_share"]
    if structure.kind == "channel_drain":
        length = known(structure.length_ft) or 0.0
        return slot_cfs(length * clear, feet[0] * opening, depth) * GPM_PER_CFS if length > 0 else None
    if structure.kind not in ("catch_basin", "area_drain"):
        return None
    edge, area = (math.pi * feet[0], math.pi / 4 * feet[0] ** 2) if len(feet) == 1 else (2 * sum(feet), math.prod(feet))
    return grate_cfs(edge * clear, area * opening * clear, depth) * GPM_PER_CFS


def _leader(structure: Structure, gpm: float, policy: Policy) -> list[Finding]:
    """A round downspout against what codes let an upright leader of its size carry."""
    size = known(structure.size_in[0]) if structure.size_in and len(structure.size_in) == 1 else None
    if structure.kind != "downspout" or size is None or size <= 0:
        return []
    takes = leader_gpm(size, min(1.0, policy["leader_full_share"]))
    message = f"{name(structure.label)} at {size:g} inch takes {gallons(takes)} upright; its roof sheds {gallons(gpm)}."
    return [
        finding(
            "leader",
            structure.label,
            "ok" if gpm <= takes else "attention",
            message,
            stated=gpm,
            computed=takes,
            unit="gpm",
            source=f"{LEADER_SOURCE}; {policy.source('leader_full_share')}",
            evidence=evidence(structure, "size_in", "areas"),
        )
    ]


# -- runs


def _shared(run: Run, network: Network) -> str:
    others = len(network.leaving.get(run.from_ or "", [])) - 1
    if others < 1:
        return ""
    return f"; {name(run.from_ or '')} has {others + 1} runs out of it, and each is counted as taking the same"


def _design_flow(
    accounts: Accounts, both: tuple[Flows, Flows], capacities: Capacities, storm: Storm, network: Network
) -> list[Finding]:
    """`both` are the flows with every unsaid surface counted as the wettest, and as the driest."""
    run, (flows, driest) = accounts.run, both
    gpm, capacity = flows.by_run.get(id(run)), capacities.get(id(run))
    if gpm is None:
        return []
    start = f"{name(run.label)} would carry {gallons(gpm)} in a storm of {storm.intensity_in_h:g} inches an hour"
    if capacity is None:
        message = f"{start}, but {_missing(accounts)}, so it cannot be held against what it carries."
        return [finding("design_flow", run.label, "unknown", message, computed=gpm, unit="gpm", source=RATIONAL)]
    outcome, words = _verdict(gpm / capacity.gpm, accounts.policy)
    rough = perforated_gpm(accounts, capacity)
    if outcome == "ok" and rough is not None and gpm > rough:
        outcome, words = "attention", f"{words}; but if it is perforated only {gallons(rough)} do, and it backs up"
    if outcome == "ok" and capacity.doubt is not None:
        outcome, words = "unknown", f"{words} at that slope; {capacity.doubt}"
    above, lost = _above(run, flows, network)
    if lost and outcome == "ok":
        outcome, words = "unknown", f"{words}; what comes to it at {name(run.label)} goes round in a loop"
    least = outcome
    if above.surface:
        least, _ = _verdict(driest.by_run.get(id(run), 0.0) / capacity.gpm, accounts.policy)
    outcome, more = _counted(outcome, least, above)
    words += more + _shared(run, network)
    return [
        finding(
            "design_flow",
            run.label,
            outcome,
            f"{start}; {gallons(capacity.gpm)} fill it, {words}.",
            computed=gpm,
            limit=capacity.gpm,
            unit="gpm",
            source=f"{RATIONAL}; {accounts.policy.source('max_depth_ratio')}; {capacity.source}",
            evidence=_said(run, capacity),
        )
    ]


def _verdict(share: float, policy: Policy) -> tuple[Outcome, str]:
    ratio = depth_ratio(share)
    if share > 1 or ratio is None:
        return "fail", "so it is too small: it runs under pressure and backs up"
    depth = f"so it runs {ratio:.2f} of its diameter deep"
    if ratio > policy["max_depth_ratio"]:
        return "attention", f"{depth}, over the {policy['max_depth_ratio']:g} that leaves room for leaves and bursts"
    return "ok", depth


def _above(run: Run, flows: Flows, network: Network) -> tuple[Above, bool]:
    """What is not known of the water in a run, from its upper end and from runs that end at it; whether any is lost."""
    above = Above()
    for label in (run.from_ or "", run.label):
        above.add(flows.above.get(label, Above()))
    return above, bool(network.entering.get(run.label)) and run.label not in flows.reached


def _counted(outcome: Outcome, least: Outcome, above: Above) -> tuple[Outcome, str]:
    """What becomes of a verdict where not all of the water was counted, or some at a guess; and why, in words.

    `least` is the verdict with the least water that the guess can stand for.
    """
    if above.area and outcome in ("ok", "unknown"):
        return "unknown", f"; what {_names(above.area)} may bring is not counted, as no area was given for it"
    if above.surface and outcome in ("attention", "fail"):
        words = f"; that counts the surface at {_names(above.surface)}, which was not said, as roof"
        return ("unknown", words) if least == "ok" else (least, f"{words}, and as lawn it would still be too much")
    return outcome, ""


def _names(labels: list[str]) -> str:
    return listed([*map(name, labels[:SHOWN]), *(["others"] if len(labels) > SHOWN else [])])


def _missing(accounts: Accounts) -> str:
    run = accounts.run
    missing = ["size"] if known(run.nominal_in) is None else []
    missing += ["kind of pipe"] if run.pipe is None else []
    missing += ["slope"] if accounts.judged is None else []
    verb = "is" if len(missing) == 1 else "are"
    return f"its {listed(missing)} {verb} not known" if missing else "its size and slope are none that a drain has"


def _limiting_run(label: str, both: tuple[Flows, Flows], capacities: Capacities, storm: Storm) -> Finding:
    flows, driest = both
    share, run = flows.tightest[label]
    least: Outcome = "attention" if driest.tightest[label][0] > 1 else "ok"
    capacity, above = capacities[id(run)], flows.above[label]
    outcome, more = _counted("attention" if share > 1 else "unknown" if above.capacity else "ok", least, above)
    message = (
        f"of the runs to {name(label)}, {name(run.label)} is the limit: the storm takes {_share(share)} of what fills "
        f"it, and {_intensity(storm.intensity_in_h / share)} would fill it"
    )
    message += f"; what {_names(above.capacity)} can carry is not known for sure" if above.capacity else ""
    message += more
    printed = None if run.pipe == "corrugated" else listed_gpm(run.nominal_in or 0.0, capacity.slope_pct)
    if printed is not None:
        table = storm_pipes()
        beyond = share * capacity.gpm > printed
        outcome = "attention" if beyond and outcome == "ok" else outcome
        than = f", less than the {gallons(share * capacity.gpm)} of this storm" if beyond else ""
        message += (
            f". For its size and fall {table.section} of the {table.source}, {table.edition}, lists {gallons(printed)} "
            f"({table.mark}; go by the edition in force where you are){than}"
        )
    return finding(
        "limiting_run",
        label,
        outcome,
        f"{message}.",
        computed=share * 100,
        limit=100.0,
        unit="percent",
        source=f"{RATIONAL}; {capacity.source}",
        evidence=_said(run, capacity),
    )


def _lost_in_a_loop(shed: dict[str, float], flows: Flows, network: Network) -> list[Finding]:
    """What enters where the runs go round in a loop, or below one."""
    lost = [label for label in {**shed, **flows.arriving} if label in network.structures and label not in flows.reached]
    if not lost:
        return []
    message = (
        f"the storm's water cannot be followed from {listed(map(name, lost[:SHOWN]))}: the runs go round in a loop."
    )
    said = [item for label in lost for item in evidence(network.structures[label], "areas")]
    return [finding("runoff", lost[0], "unknown", message, source=RATIONAL, evidence=said)]


def _share(share: float) -> str:
    return f"{share * 100:.0f} percent" if share < 10 else "many times all"


def _intensity(in_h: float) -> str:
    return f"one of {in_h:.1f} inches an hour" if in_h < 100 else "no rain that falls"


def _said(run: Run, capacity: Capacity) -> list[Evidence]:
    return [*capacity.evidence, *evidence(run, "nominal_in", "pipe")]
