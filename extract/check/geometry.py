"""Run lengths: what was said, against the pieces laid and the stations of its ends."""

from __future__ import annotations

from collections import Counter

from extract.check.policy import Policy
from extract.check.saying import evidence, feet, finding, in_place, known, listed, name
from extract.record import Finding, Record, Run


def run_length(run: Run) -> float | None:
    """The run's length said, in feet; None where none was said or where it is zero, negative or no number."""
    length = known(run.length_ft)
    return length if length is not None and length > 0 else None


def check_geometry(record: Record, policy: Policy) -> list[Finding]:
    """Of every run in place: a length that can be, and agrees with its pieces and its stations."""
    return [item for run in record.runs if in_place(run) for item in _of_run(run, policy)]


def _of_run(run: Run, policy: Policy) -> list[Finding]:
    length = run_length(run)
    pieces = [piece for piece in map(known, run.pieces_ft) if piece is not None and piece > 0]
    stations = [station for station in map(known, run.stations_ft) if station is not None]
    findings = []
    if len(pieces) < len(run.pieces_ft):
        findings.append(_bad(run, "pieces", "pieces_ft", "a piece"))
        pieces = []
    if len(stations) < len(run.stations_ft):
        findings.append(_bad(run, "stations", "stations_ft", "a station"))
        stations = []
    if length is None:
        findings += _no_length(run)
    if pieces:
        counted = listed(f"{count} of {feet(piece)}" for piece, count in Counter(pieces).items())
        words = f"pieces laid, {counted}, add up to {feet(sum(pieces))}"
        findings.append(_against(run, "pieces", sum(pieces), words, policy))
    if len(stations) >= 2:
        along = abs(stations[-1] - stations[0])
        words = f"station {_station(stations[0])} to {_station(stations[-1])} is {feet(along)}"
        findings.append(_against(run, "stations", along, words, policy))
    return findings


def _bad(run: Run, check: str, field: str, what: str) -> Finding:
    """One that is no measurement: what the others add up to would be a wrong sum."""
    message = f"{what} in the record of {name(run.label)} is none that can be measured, so they are not added up."
    return finding(check, run.label, "fail", message, unit="ft", evidence=evidence(run, field))


def _no_length(run: Run) -> list[Finding]:
    words = evidence(run, "length_ft")
    if known(run.length_ft) is not None:
        message = f"{name(run.label)} was said to be {feet(run.length_ft or 0.0)} long, which no pipe is."
        return [finding("length", run.label, "fail", message, stated=run.length_ft, unit="ft", evidence=words)]
    if run.state == "existing":
        return []
    message = f"no length was said for {name(run.label)}."
    if run.length_ft is not None:
        message = f"the length in the record of {name(run.label)} is no measurement of a yard; measure it again."
    return [finding("length", run.label, "unknown", message, unit="ft", evidence=words)]


def _against(run: Run, check: str, computed: float, words: str, policy: Policy) -> Finding:
    stated = run_length(run)
    limit = max(policy["length_ft"], policy["length_pct"] / 100 * (stated or 0.0))
    agree = stated is not None and abs(computed - stated) <= limit + 1e-9
    said = f"the length said is {feet(stated)}" if stated is not None else "there is no length to hold it against"
    return finding(
        check,
        run.label,
        "unknown" if stated is None else "ok" if agree else "fail",
        f"{name(run.label)}: {words}; {said}.",
        stated=stated,
        computed=computed,
        limit=limit,
        unit="ft",
        source=policy.source("length_ft", "length_pct"),
        evidence=evidence(run, "length_ft", "pieces_ft", "stations_ft"),
    )


def _station(value: float) -> str:
    """A station as it is spoken on a job: 42 feet along is 0+42."""
    hundreds, rest = divmod(round(value, 2), 100)
    return f"{hundreds:.0f}+{rest:05.2f}".removesuffix(".00") if value >= 0 else f"{value:.2f}"
