"""What each run carries by Manning's formula, how fast, and whether a hose test's water had time to come through."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from typing import NamedTuple

from extract.check.circle import depth_ratio, velocity_share
from extract.check.falls import Accounts
from extract.check.geometry import run_length
from extract.check.hydraulics import PIPE_SIZES_IN
from extract.check.manning import FORMULA, GPM_PER_CFS, roughness, velocity
from extract.check.network import Network
from extract.check.pipes import Bore, bore
from extract.check.policy import Policy
from extract.check.saying import evidence, feet, finding, gallons, in_place, known, lasting, name, percent
from extract.record import Evidence, Finding, Record, Run, Test

LEAST_GPM = 0.01
"""A run that carries less has no slope worth the name."""
SLOWEST_FT_S = 1e-6


class Capacity(NamedTuple):
    """What a run carries when it runs full with a free surface, and what that is worked out from."""

    gpm: float
    ft_s: float
    slope_pct: float
    n: float
    bore: Bore
    source: str
    evidence: list[Evidence]
    doubt: str | None = None
    """Why its slope may be less than that, and so what it carries; None where nothing says so."""


Capacities = Mapping[int, Capacity]
"""By `id` of the run, for labels may come twice in a record; a run whose capacity is not known is left out."""


def capacities_of(runs: Iterable[Accounts]) -> dict[int, Capacity]:
    """The capacity of each run whose size, family and slope are known; a disputed slope counts at its flattest."""
    found = ((accounts, _capacity(accounts)) for accounts in runs)
    return {id(accounts.run): capacity for accounts, capacity in found if capacity is not None}


def full_flow(inside_in: float, n: float, slope: float) -> tuple[float, float]:
    """Flow [gpm] and velocity [ft/s] of a round pipe of that inside diameter [in] just full, by Manning's formula.

    `slope` is the fall per length [-]. Raises ValueError for an `n` that is not above 0, and for a negative slope.
    """
    diameter = inside_in / 12
    ft_s = velocity(n, diameter / 4, slope)
    return ft_s * math.pi / 4 * diameter**2 * GPM_PER_CFS, ft_s


def velocity_at(capacity: Capacity, gpm: float) -> float:
    """Velocity [ft/s] at a flow [gpm]: part full at its normal depth, or as full where it carries no more freely.

    Raises ValueError for a negative flow.
    """
    ratio = depth_ratio(gpm / capacity.gpm)
    return capacity.ft_s if ratio is None else capacity.ft_s * velocity_share(ratio)


def check_flow(record: Record, runs: list[Accounts], network: Network, capacities: Capacities) -> list[Finding]:
    """Capacity and velocity of each run whose size, family and slope are known, then hose tests that were too short."""
    findings = []
    for accounts in runs:
        if (capacity := capacities.get(id(accounts.run))) is not None:
            findings.append(_carries(accounts, capacity))
            findings += _too_fast(accounts.run, capacity, accounts.policy)
    by_label = {run.label: run for run in reversed(record.runs) if in_place(run)}
    return findings + [item for test in record.tests for item in _travel_time(test, by_label, network, capacities)]


def _capacity(accounts: Accounts) -> Capacity | None:
    run, slope, policy = accounts.run, accounts.judged, accounts.policy
    size = known(run.nominal_in)
    if slope is None or run.pipe is None or size is None or not PIPE_SIZES_IN[0] <= size <= PIPE_SIZES_IN[1]:
        return None
    limit, inside = roughness(run.pipe, size), bore(run.pipe, size)
    if slope.pct <= 0:
        return None
    gpm, ft_s = full_flow(inside.inside_in, policy[limit], slope.pct / 100)
    if gpm < LEAST_GPM:
        return None
    source = f"{FORMULA}; n: {policy.source(limit)}; inside diameter: {inside.source}"
    return Capacity(gpm, ft_s, slope.pct, policy[limit], inside, source, slope.evidence, slope.doubt)


def _carries(accounts: Accounts, capacity: Capacity) -> Finding:
    run = accounts.run
    inside = f"{capacity.bore.inside_in:g} inches inside ({capacity.bore.basis})"
    perforated, source = _if_perforated(accounts, capacity)
    slope = percent(capacity.slope_pct) + ("" if capacity.doubt is None else f" ({capacity.doubt})")
    return finding(
        "capacity",
        run.label,
        "ok" if capacity.doubt is None else "unknown",
        f"{name(run.label)}, {run.nominal_in:g} inch {run.pipe} at {slope}, carries "
        f"{'up to ' if capacity.bore.upper or capacity.doubt else ''}{gallons(capacity.gpm)} when full, that is "
        f"{capacity.gpm / GPM_PER_CFS:.2f} cubic feet a second, at {capacity.ft_s:.1f} feet a second, with a roughness "
        f"of {capacity.n:g} and {inside}{perforated}.",
        computed=capacity.gpm,
        unit="gpm",
        source=f"{capacity.source}{source}",
        evidence=capacity.evidence + evidence(run, "nominal_in", "pipe"),
    )


def perforated_gpm(accounts: Accounts, capacity: Capacity) -> float | None:
    """What a run of D2729 carries when full [gpm] if it is perforated; None for other pipe."""
    rough = accounts.policy["manning_n_perforated"]
    if accounts.run.pipe != "D2729" or rough <= capacity.n:
        return None
    return capacity.gpm * capacity.n / rough


def _if_perforated(accounts: Accounts, capacity: Capacity) -> tuple[str, str]:
    """Words and source for D2729, which is sold solid and perforated; the record does not know which it is."""
    less = perforated_gpm(accounts, capacity)
    if less is None:
        return "", ""
    return f"; if it is perforated, {gallons(less)}", f"; perforated: {accounts.policy.source('manning_n_perforated')}"


def _too_fast(run: Run, capacity: Capacity, policy: Policy) -> list[Finding]:
    limit = policy["max_velocity_ft_s"]
    if capacity.ft_s <= limit:
        return []
    message = (
        f"{name(run.label)} runs at {capacity.ft_s:.1f} feet a second when full, and {limit:g} is as fast as it "
        "should; see that the outlet cannot scour."
    )
    return [
        finding(
            "velocity",
            run.label,
            "attention",
            message,
            computed=capacity.ft_s,
            limit=limit,
            unit="ft/s",
            source=f"{policy.source('max_velocity_ft_s')}; {capacity.source}",
            evidence=capacity.evidence,
        )
    ]


# -- the hose test


def _travel_time(test: Test, runs: Mapping[str, Run], network: Network, capacities: Capacities) -> list[Finding]:
    """Whether the water of a hose test can have come through in the time it ran; silent where that is not known."""
    flow, ran = known(test.flow_gpm), known(test.duration_s)
    if test.kind != "hose" or test.at is None or not flow or not ran or flow <= 0 or ran <= 0:
        return []
    needed, length, doubt = 0.0, 0.0, None
    for run in _way_down(test.at, runs, network):
        capacity, long = capacities.get(id(run)), run_length(run)
        if capacity is None or long is None or (ft_s := velocity_at(capacity, flow)) < SLOWEST_FT_S:
            return []
        needed, length, doubt = needed + long / ft_s, length + long, doubt or capacity.doubt
        if needed > ran:
            break
    return [_travelled(test, needed, length, ran, doubt)] if length else []


def _way_down(label: str, runs: Mapping[str, Run], network: Network) -> Iterable[Run]:
    """The run itself, or from a structure the runs down to its outlet, as far as there is only one way."""
    if label in runs:
        yield runs[label]
        return
    met: set[str | None] = set()
    while label not in met and len(network.leaving.get(label, ())) == 1:
        met.add(label)
        (run,) = network.leaving[label]
        yield run
        label = run.to or ""


def _travelled(test: Test, needed: float, length: float, ran: float, doubt: str | None) -> Finding:
    at, enough, sure = test.at or "", needed <= ran, doubt is None
    of = name(at) if at.startswith("R-") else f"what runs down from {name(at)}"
    end = "it had time to come through" if enough else "the test was too short to show that it comes through"
    if enough and not sure:
        end = f"it had time to come through by the slope that is known; {doubt}"
    return finding(
        "travel_time",
        at,
        "attention" if not enough else "ok" if sure else "unknown",
        f"the hose test at {name(at)} ran {lasting(ran)} at {gallons(test.flow_gpm or 0.0)}; water at that flow needs "
        f"{'' if enough and sure else 'at least '}{lasting(needed)} for {feet(length)} of {of}, so {end}.",
        stated=ran,
        computed=needed,
        unit="s",
        source=f"{FORMULA}, part full",
        evidence=test.evidence,
    )
