"""Drops and slopes of runs, worked out again and held against what was said."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from extract.check.falls import Account, Accounts, accounts_of
from extract.check.levels import heights
from extract.check.policy import load_policy
from extract.check.saying import evidence, feet, finding, inches, known, listed, name, percent
from extract.record import Finding, Issue, Outcome, Record

STANDS: dict[str, str] = {"standing_water": "standing water", "reverse_slope": "a belly or pipe that falls back"}
"""Issues that say that a run does not drain, in words."""


@dataclass(frozen=True)
class RunSlope:
    """The slope of one run as built. What cannot be worked out is None; `basis` then says what is missing."""

    drop_in: float | None
    """Fall over the run, inches; negative where it runs uphill."""
    slope_pct: float | None
    """Percent."""
    basis: str
    """What it was worked out from, in words."""
    disputed: bool = False
    """True where another of the crew's figures for the same run contradicts it; a finding then says how."""


def run_slopes(record: Record, overrides: Mapping[str, float] | None = None) -> dict[str, RunSlope]:
    """The slope of every run by label, whatever its state, from what the record holds.

    Inverts and length come first, then drop and length, then the slope said; but an account that another one bears
    out, within the policy's tolerances, comes before one that stands alone.
    """
    policy = load_policy(overrides)
    points = heights(record, policy=policy)
    return {run.label: _run_slope(accounts_of(run, points, policy)) for run in record.runs}


def check_slopes(runs: list[Accounts], issues: Sequence[Issue] = ()) -> list[Finding]:
    """Drop against inverts, slope against drop and length, and the direction of fall, of each run.

    Water that was seen to stand in a run speaks against all of its figures.
    """
    labels = {accounts.run.label for accounts in runs}
    findings = [_seen(issue) for issue in issues if issue.at in labels and issue.kind in STANDS and _open(issue)]
    for accounts in runs:
        if not accounts.all and accounts.slope_pct is None and accounts.run.state == "existing":
            continue  # an existing run that nobody measured is left in peace
        findings += _drop(accounts)
        findings.append(_slope(accounts))
        findings += _reverse(accounts)
    return findings


def _run_slope(accounts: Accounts) -> RunSlope:
    best, said = accounts.best, accounts.slope_pct
    if best is None:
        return RunSlope(None, said, "slope said" if said is not None else "not said")
    disputed = accounts.disputed(best)
    if accounts.length_ft is None:
        return RunSlope(best.drop_in, said, f"{best.title}{best.caveat}, no length said", disputed)
    basis = best.title if best.kind == "slope" else f"{best.title} and length"
    return RunSlope(best.drop_in, accounts.pct(best), f"{basis}{best.caveat}", disputed)


# -- the drop said against the inverts


def _drop(accounts: Accounts) -> list[Finding]:
    inverts, drop = accounts.of("inverts"), accounts.of("drop")
    if inverts is None or drop is None:
        return []
    agree, label, policy = accounts.agree(inverts, drop), accounts.run.label, accounts.policy
    message = f"{name(label)}: {inverts.words}{inverts.caveat}, and {drop.words}, "
    end = "agree." if agree else f"disagree.{_borne_out(accounts, inverts, drop)}"
    outcome: Outcome = "ok" if agree else "fail"
    if not agree and inverts.within(drop):
        outcome, end = "unknown", f"agree only if {_inside(inverts, drop)}."
    return [
        finding(
            "drop",
            label,
            outcome,
            f"{message}{end}",
            stated=drop.drop_in,
            computed=inverts.drop_in,
            limit=policy["drop_in"],
            unit="in",
            source=policy.source("drop_in"),
            evidence=inverts.evidence + drop.evidence,
        )
    ]


def _borne_out(accounts: Accounts, inverts: Account, drop: Account) -> str:
    """Which of the two the slope said stands with."""
    slope = accounts.of("slope")
    if slope is None:
        return " One of the two is wrong."
    with_inverts, with_drop = accounts.agree(inverts, slope), accounts.agree(drop, slope)
    if with_inverts == with_drop:
        return f" {slope.words[:1].upper()}{slope.words[1:]}, does not settle which."
    right, odd = (inverts, drop) if with_inverts else (drop, inverts)
    verb = "look" if odd is inverts else "looks"
    return f" The slope said stands with the {right.title}, so the {odd.title} {verb} wrong."


def _inside(inverts: Account, other: Account) -> str:
    """What brings the two together where only the other invert of a structure was said."""
    between = inches(inverts.drop_in - other.drop_in)
    return f"{between} of the fall lie inside the structure whose invert at the pipe was not said"


# -- the slope said against drop and length


def _slope(accounts: Accounts) -> Finding:
    falls = [account for account in accounts.all if account.kind != "slope"]
    if accounts.length_ft is None or not falls:
        return _slope_unknown(accounts, falls)
    slope = accounts.of("slope")
    # Where drop and inverts disagree (a finding of its own) the slope is held against the nearer one.
    fall = falls[0]
    if slope is not None and len(falls) == 2 and not accounts.agree(*falls):
        fall = min(falls, key=lambda account: abs(account.drop_in - slope.drop_in))
    return _slope_found(accounts, falls, fall, slope, accounts.length_ft)


def _slope_found(
    accounts: Accounts, falls: list[Account], fall: Account, slope: Account | None, length: float
) -> Finding:
    agree = slope is None or accounts.agree(fall, slope)
    outcome: Outcome = "ok"
    message = f"{_falls(accounts, fall, length)}; "
    message += (
        f"the crew said {percent(accounts.slope_pct)}." if accounts.slope_pct is not None else "no slope was said."
    )
    if slope is not None and not agree:
        inside = len(falls) == 1 and fall.within(slope)
        message += (
            f" Both hold only if {_inside(fall, slope)}." if inside else _who_is_out(accounts, falls, slope, length)
        )
        outcome = "unknown" if inside else "fail"
    return finding(
        "slope",
        accounts.run.label,
        outcome,
        message,
        stated=accounts.slope_pct,
        computed=accounts.pct(fall),
        limit=accounts.allowed_in(fall, slope) / 12 / length * 100 if slope else None,
        unit="percent",
        source=accounts.policy.source("slope_pct", "drop_in"),
        evidence=[*(slope.evidence if slope else []), *fall.evidence, *evidence(accounts.run, "length_ft")],
    )


def _falls(accounts: Accounts, fall: Account, length: float) -> str:
    verb = "rises" if fall.drop_in < 0 else "falls"
    drop, slope = inches(abs(fall.drop_in)), percent(abs(accounts.pct(fall) or 0.0))
    by = f" by the inverts{fall.caveat}" if fall.kind == "inverts" else ""
    return f"{name(accounts.run.label)} {verb} {drop} in {feet(length)}{by}, that is {slope}"


def _who_is_out(accounts: Accounts, falls: list[Account], slope: Account, length: float) -> str:
    if len(falls) == 2 and accounts.agree(*falls):
        return " The inverts and the drop said stand together, so the slope said, or the length, looks wrong."
    if len(falls) == 2:
        return " Inverts, drop said and slope said give three different falls; measure again."
    needed = f" For {percent(accounts.slope_pct or 0.0)} the fall would be {inches(slope.drop_in)}"
    if slope.drop_in * falls[0].drop_in > 0 and known(length * falls[0].drop_in / slope.drop_in) is not None:
        needed += f", or the length {feet(length * falls[0].drop_in / slope.drop_in)}"
    return f"{needed}; one of the three is wrong."


def _slope_unknown(accounts: Accounts, falls: list[Account]) -> Finding:
    run, said = accounts.run, accounts.slope_pct
    missing = (
        [] if accounts.length_ft is not None else ["length that can be" if run.length_ft is not None else "length"]
    )
    missing += [] if falls else ["drop or pair of inverts"]
    start = f"the slope of {name(run.label)} cannot be worked out"
    if said is not None:
        start = f"the slope said of {name(run.label)}, {percent(said)}, cannot be checked"
    return finding(
        "slope",
        run.label,
        "unknown",
        f"{start}: no {' and no '.join(missing)} was said.",
        stated=said,
        unit="percent",
        evidence=evidence(run, "slope_pct", "drop_in", "length_ft"),
    )


# -- the direction of fall


def _open(issue: Issue) -> bool:
    return issue.action not in ("cleared", "rerouted", "repaired", "replaced")


def _seen(issue: Issue) -> Finding:
    message = (
        f"{STANDS[issue.kind]} was met at {name(issue.at or '')}, and nobody said that it was mended; "
        "whatever its figures say, look before it is covered."
    )
    return finding("reverse_slope", issue.at or "", "attention", message, evidence=issue.evidence)


def _reverse(accounts: Accounts) -> list[Finding]:
    uphill = [account for account in accounts.all if account.drop_in <= 0]
    words = [account.words for account in uphill]
    said, label = accounts.slope_pct, accounts.run.label
    if said is not None and said <= 0 and accounts.length_ft is None:
        words.append(f"the slope said, {percent(said)}")
    if not words:
        return []
    lowest = min((account.drop_in for account in uphill), default=said if said is not None else 0.0)
    verb, end = "rises toward", "water would run back in it, unless its ends were named the wrong way round"
    outcome: Outcome = "fail"
    if lowest == 0:
        verb, end = "lies level to", "water would stand in it"
    if accounts.may_fall:
        outcome, end = "attention", "that is less than two readings of a rod can tell, so read both ends again"
    message = f"{name(label)} {verb} its lower end by {listed(words)}; {end}."
    return [
        finding(
            "reverse_slope",
            label,
            outcome,
            message,
            computed=min((account.drop_in for account in uphill), default=None),
            limit=0.0,
            unit="in",
            evidence=[item for account in uphill for item in account.evidence] or evidence(accounts.run, "slope_pct"),
        )
    ]
