"""The least slope of a run: the house rule for its size, and the slope at which its water carries silt along."""

from __future__ import annotations

from extract.check.falls import Accounts, Slope
from extract.check.manning import roughness, slope_for
from extract.check.policy import Policy
from extract.check.saying import evidence, finding, known, name, percent
from extract.record import Finding, Outcome, Pipe, Run

PIPE_SIZES_IN = (1.0, 60.0)
"""Nominal sizes outside this range are no drain pipe, and get no least slope."""
ROUNDING_PCT = 0.005
"""Slopes are said to a hundredth of a percent; 1.44 said is not under a limit of 1.4397."""
HOUSE_RULE = "house rule: no model code section sets a least slope for open-yard drains"


def check_hydraulics(runs: list[Accounts]) -> list[Finding]:
    """The least slope of each run whose slope is known and falls the right way.

    Under the house rule is `attention`; too flat to carry silt along is `fail`.
    """
    return [item for accounts in runs for item in _least_slope(accounts)]


def self_cleansing_pct(pipe: Pipe, nominal_in: float, policy: Policy) -> float:
    """Slope in percent at which a pipe running full or half full reaches the policy's least velocity.

    By Manning's formula, with a hydraulic radius of a quarter of `nominal_in` [in].
    """
    n = policy[roughness(pipe, nominal_in)]
    return 100 * slope_for(policy["min_velocity_ft_s"], n, nominal_in / 12 / 4)


def _if_perforated_pct(run: Run, nominal_in: float, policy: Policy) -> float | None:
    """The same for D2729 with holes; None for other pipe, and where holes make it no rougher."""
    n = policy["manning_n_perforated"]
    if run.pipe != "D2729" or n <= policy[roughness(run.pipe, nominal_in)]:
        return None
    return 100 * slope_for(policy["min_velocity_ft_s"], n, nominal_in / 12 / 4)


def house_rule(nominal_in: float) -> str:
    """Name of the policy limit for a nominal size [in]; a size between two steps takes the steeper one."""
    if nominal_in < 3:
        return "min_slope_under_3_in_pct"
    return "min_slope_3_to_6_in_pct" if nominal_in < 8 else "min_slope_8_in_up_pct"


def _least_slope(accounts: Accounts) -> list[Finding]:
    run, slope = accounts.run, accounts.judged
    if slope is None or slope.pct <= 0:
        return []  # nothing to judge, or a reverse slope, which is a finding of its own
    start = f"{name(run.label)} slopes {percent(slope.pct)}, going by {slope.basis}"
    size = known(run.nominal_in)
    if size is None:
        return [_unknown(run, slope, f"{start}, but no pipe size was said to judge it by.")]
    if not PIPE_SIZES_IN[0] <= size <= PIPE_SIZES_IN[1]:
        return [_unknown(run, slope, f"{start}, but a size of {size:g} inches is none that a drain has.")]
    return [_judged(accounts, slope, size, start)]


def _unknown(run: Run, slope: Slope, message: str) -> Finding:
    words = slope.evidence + evidence(run, "nominal_in")
    return finding("min_slope", run.label, "unknown", message, computed=slope.pct, unit="percent", evidence=words)


def _judged(accounts: Accounts, slope: Slope, size: float, start: str) -> Finding:
    pct, run, policy, rule = slope.pct, accounts.run, accounts.policy, house_rule(size)
    flushing = None if run.pipe is None else self_cleansing_pct(run.pipe, size, policy)
    names = [] if run.pipe is None else ["min_velocity_ft_s", roughness(run.pipe, size)]
    limit = max(policy[rule], flushing or 0.0)
    outcome: Outcome = "ok" if pct + ROUNDING_PCT >= limit else "attention"
    if flushing is not None and pct + ROUNDING_PCT < flushing:
        outcome = "fail"
    rough = _if_perforated_pct(run, size, policy)
    names += ["manning_n_perforated"] if rough is not None else []
    if outcome == "ok" and slope.doubt is not None:
        outcome, start = "unknown", f"{start} ({slope.doubt})"
    silt = "the kind of pipe was not said"
    if flushing is not None:
        velocity = f"{policy['min_velocity_ft_s']:g} feet a second"
        silt = f"{run.pipe} needs {percent(flushing)} to carry silt along at {velocity}"
        silt += "" if rough is None else f", or {percent(rough)} if it is perforated"
    return finding(
        "min_slope",
        run.label,
        outcome,
        f"{start}; {_verdict(outcome, f'{percent(policy[rule])} for {size:g} inch pipe', silt)}",
        computed=pct,
        limit=limit,
        unit="percent",
        source=f"{policy.source(rule, *names)}; {HOUSE_RULE}",
        evidence=slope.evidence + evidence(run, "nominal_in", "pipe"),
    )


def _verdict(outcome: Outcome, rule: str, silt: str) -> str:
    if outcome in ("ok", "unknown"):
        return f"the house rule is {rule}, and {silt}."
    if outcome == "fail":
        return f"that is too flat: {silt}, and the house rule is {rule}."
    return f"that is under the house rule of {rule}, though no model code sets one for yard drains; {silt}."
