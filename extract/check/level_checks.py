"""Elevations held against each other: rod against what was said, a point read twice, the loop, depth against invert."""

from __future__ import annotations

import math
from collections.abc import Iterator

from extract.check.levels import Height, Reading, depth_side, rod_of, said_elevations, taped_give
from extract.check.policy import Policy
from extract.check.saying import evidence, feet, finding, inches, known, listed, place
from extract.record import BENCHMARK, Evidence, Finding, Level, Record, Structure

MISREAD = {1.0: "one foot", 0.1: "one tenth"}
"""Differences in feet that a rod held by hand gives when its large or small figure is misread."""
MISREAD_WITHIN = 0.005
HALF_DIGIT = 1e-9
"""Keeps 96.92 and 96.93 within 0.01 of each other in binary arithmetic."""


def check_levels(record: Record, policy: Policy, readings: list[Reading], points: dict[str, Height]) -> list[Finding]:
    """Elevations against rods, repeated readings, depths, and the closing sight on the benchmark."""
    said = said_elevations(record)
    last = {reading.level.point: reading for reading in readings if reading.sighted}
    findings = _rods(record.levels, policy)
    for reading in readings:
        # A reading that was taken again is no longer held against the structure's own field.
        apart = said.get(reading.level.point) if last.get(reading.level.point) is reading else None
        findings += _elevation_findings(reading, apart, policy)
    findings += _adrift(readings)
    findings += _repeats(readings, policy)
    findings += _benchmarks(record.levels)
    findings += [item for structure in record.structures for item in _depth(structure, points, policy)]
    return findings + _closure(readings, policy)


def _rods(levels: list[Level], policy: Policy) -> list[Finding]:
    """A benchmark whose rod was not read, and readings that no levelling rod shows."""
    longest, findings = policy["rod_longest_ft"], []
    for level in levels:
        rod, where = known(level.rod_ft), place(level.point)
        if rod_of(level, policy) is not None:
            continue
        if level.rod_ft is None:
            findings.append(_not_read(level))
            continue
        message = (
            f"the rod at {where} was said to read {feet(rod or 0.0)}, which no rod of {feet(longest)} does, so it is "
            "left out."
        )
        if rod is None:
            message = f"the rod at {where} has a reading that is no number, so it is left out."
        subject, source, words = _label(level.point), policy.source("rod_longest_ft"), level.evidence
        found = finding(
            "rod", subject, "fail", message, stated=rod, limit=longest, unit="ft", source=source, evidence=words
        )
        findings.append(found)
    return findings


def _not_read(level: Level) -> Finding:
    given = known(level.elevation_ft)
    said = f"was given as {given:.2f} feet" if given is not None else "has an elevation that is no number"
    message = f"{place(level.point)} {said}; the rod reading of the backsight on it is missing."
    return finding("rod", level.point, "unknown", message, stated=given, unit="ft", evidence=level.evidence)


def _elevation_findings(
    reading: Reading, said: tuple[float, list[Evidence]] | None, policy: Policy
) -> Iterator[Finding]:
    """The reduced elevation against the one said in the same breath, and the structure's own where that differs."""
    if reading.elevation_ft is None or reading.datum or (reading.level.point == BENCHMARK and reading.sighted):
        return
    own = known(reading.level.elevation_ft)
    apart, words = said or (None, [])
    if own is not None:
        yield _elevation(reading, own, "elevation_arithmetic_ft", [], policy)
    if apart is not None and apart != own:
        yield _elevation(reading, apart, "reading_ft", words, policy)
    if own is None and apart is None and reading.sighted:
        yield _computed_only(reading)


def _elevation(reading: Reading, stated: float, limit: str, words: list[Evidence], policy: Policy) -> Finding:
    computed = reading.elevation_ft or 0.0
    difference = abs(computed - stated)
    agree = difference <= policy[limit] + HALF_DIGIT
    end = "as said" if agree else f"but {stated:.2f} was said, {difference:.2f} away{_misread(difference)}"
    return finding(
        "elevation",
        _subject(reading),
        "ok" if agree else "fail",
        f"{_reduction(reading)}, {end}.",
        stated=stated,
        computed=computed,
        limit=policy[limit],
        unit="ft",
        source=policy.source(limit),
        evidence=[*reading.level.evidence, *words],
    )


def _computed_only(reading: Reading) -> Finding:
    return finding(
        "elevation",
        _subject(reading),
        "ok",
        f"{_reduction(reading)}; no elevation was said to hold it against.",
        computed=reading.elevation_ft,
        unit="ft",
        evidence=reading.level.evidence,
    )


def _reduction(reading: Reading) -> str:
    elevation = reading.elevation_ft or 0.0
    if not reading.sighted:
        return f"{place(reading.level.point)} was carried here by turning points as {elevation:.2f} feet"
    point, rod = place(reading.level.point), reading.level.rod_ft or 0.0
    instrument = elevation + rod
    return f"{point}: instrument at {instrument:.2f} less rod {rod:.2f} gives {elevation:.2f} feet"


def _misread(difference: float) -> str:
    for slip, words in MISREAD.items():
        if abs(difference - slip) <= MISREAD_WITHIN + HALF_DIGIT:
            return f"; that is {words} to the hundredth, so the rod may have been misread by {words}"
    return ""


def _adrift(readings: list[Reading]) -> list[Finding]:
    """One finding for each chain that is on no datum."""
    first = {reading.chain: reading for reading in reversed(readings) if reading.elevation_ft is None}
    return [
        finding(
            "elevation",
            _subject(reading),
            "unknown",
            f"no elevation was said for {place(reading.level.point)} or for any point read with it, "
            "so its rod readings give falls but no elevations.",
            evidence=reading.level.evidence,
        )
        for _, reading in sorted(first.items())
    ]


def _repeats(readings: list[Reading], policy: Policy) -> list[Finding]:
    """Points other than the benchmark that were sighted twice, on the job's datum or in one chain off it."""
    last: dict[tuple[int | None, str], Reading] = {}
    findings = []
    for reading in (r for r in readings if r.sighted and r.level.point != BENCHMARK):
        key = (reading.chain if reading.elevation_ft is None else None, reading.level.point)
        if (before := last.get(key)) is not None:
            findings.append(_repeat(before, reading, policy))
        last[key] = reading
    return findings


def _repeat(before: Reading, again: Reading, policy: Policy) -> Finding:
    difference = again.height_ft - before.height_ft
    if again.elevation_ft is not None and before.elevation_ft is not None:
        difference = again.elevation_ft - before.elevation_ft
    agree = abs(difference) <= policy["reading_ft"] + HALF_DIGIT
    end = "they agree" if agree else f"the last one is used{_misread(abs(difference))}"
    return finding(
        "repeat_reading",
        _subject(again),
        "ok" if agree else "attention",
        f"{place(again.level.point)} was read twice, {abs(difference):.2f} feet apart; {end}.",
        computed=difference,
        limit=policy["reading_ft"],
        unit="ft",
        source=policy.source("reading_ft"),
        evidence=[*before.level.evidence, *again.level.evidence],
    )


def _benchmarks(levels: list[Level]) -> list[Finding]:
    """More than one elevation said of the benchmark with a backsight: two benchmarks, or a slip."""
    sights = [level for level in levels if level.point == BENCHMARK and level.kind == "backsight"]
    shown = [f"{elevation:.2f}" for elevation in _given(sights)]
    if len(shown) < 2:
        return []
    message = (
        f"the benchmark was given as {listed(shown)} feet; each setup goes by the one said with it, so if they are two "
        "benchmarks see that they stand on one datum, and if they are one, which is right."
    )
    words = [item for level in sights for item in level.evidence]
    return [finding("elevation", BENCHMARK, "attention", message, unit="ft", evidence=words)]


def _closure(readings: list[Reading], policy: Policy) -> list[Finding]:
    """Each sight back on the benchmark; unknown where it was never sighted again."""
    start: dict[int | None, float] = {}
    findings, first, occupied = [], None, 1
    given = _given([reading.level for reading in readings])
    for reading in (r for r in readings if r.level.point == BENCHMARK):
        # On the job's datum all chains compare; off it only readings of one chain do.
        adrift = reading.elevation_ft is None
        chain, height = (reading.chain, reading.height_ft) if adrift else (None, reading.elevation_ft or 0.0)
        if reading.sighted and chain in start and not reading.datum:
            findings.append(_closing(reading, height, start[chain], given, reading.setup - occupied + 1, policy))
        if not reading.sighted:
            start[chain], occupied = height, reading.setup
        start.setdefault(chain, height)
        first = first or reading
    if findings or first is None or not any(reading.sighted for reading in readings):
        return findings
    message = "the level run was not closed: no last foresight back on the benchmark was said."
    return [finding("level_closure", BENCHMARK, "unknown", message, evidence=first.level.evidence)]


def _given(levels: list[Level]) -> list[float]:
    """Elevations said of the benchmark with a backsight, each once."""
    sights = (level for level in levels if level.point == BENCHMARK and level.kind == "backsight")
    said = dict.fromkeys(known(level.elevation_ft) for level in sights)
    return [elevation for elevation in said if elevation is not None]


def _closing(reading: Reading, height: float, start: float, given: list[float], count: int, policy: Policy) -> Finding:
    """A sight back on the benchmark: of two, on the one whose elevation was said with it."""
    own = known(reading.level.elevation_ft)
    if len(given) < 2 or reading.elevation_ft is None:
        return _misclosure(reading, height - start, count, policy)
    if own in given:
        return _misclosure(reading, height - own, count, policy)
    message = f"the last sight on the benchmark gives {height:.2f} feet, and nobody said which benchmark it was on."
    return finding(
        "level_closure", BENCHMARK, "unknown", message, computed=height, unit="ft", evidence=reading.level.evidence
    )


def _misclosure(reading: Reading, error: float, count: int, policy: Policy) -> Finding:
    """The error of closure, computed less fixed elevation, over `count` setups since the benchmark was occupied.

    Source: US Army FM 5-233, App. B (seen).
    """
    limit = policy["closure_ft_per_root_setup"] * math.sqrt(max(1, count))
    closes = abs(error) <= limit + HALF_DIGIT
    setups = "1 setup" if count <= 1 else f"{count} setups"
    message = f"after {setups} the level run comes back to the benchmark within {abs(error):.2f} feet"
    if not closes:
        message = f"after {setups} the level run misses the benchmark by {abs(error):.2f} feet"
    end = "" if closes else f"; the elevations between cannot be relied on{_would_close(error, limit)}"
    return finding(
        "level_closure",
        BENCHMARK,
        "ok" if closes else "fail",
        f"{message}, {limit:.2f} being allowed{end}.",
        computed=error,
        limit=limit,
        unit="ft",
        source=policy.source("closure_ft_per_root_setup"),
        evidence=reading.level.evidence,
    )


def _would_close(error: float, limit: float) -> str:
    """The one misread rod that would close the run to within the limit; nothing where none would.

    A height carried too far up comes of a backsight read too high or a foresight read too low.
    """
    for slip, words in MISREAD.items():
        if abs(abs(error) - slip) <= limit + HALF_DIGIT:
            high, low = ("backsight", "foresight") if error > 0 else ("foresight", "backsight")
            return f"; one {high} read {words} too high, or {low} too low, would account for it, so look for that"
    return ""


def _depth(structure: Structure, points: dict[str, Height], policy: Policy) -> list[Finding]:
    """The depth said, against rim less invert; and an invert that is not below its rim at all."""
    point = f"{structure.label} {depth_side(structure)}"
    rim, invert, depth = points.get(f"{structure.label} rim"), points.get(point), known(structure.invert_depth_in)
    if rim is None or invert is None or invert.basis == "depth" or rim.chain != invert.chain:
        return []
    below = (rim.ft - invert.ft) * 12
    if below > 0 and depth is None:
        return []
    agree = below > 0 and (depth is None or abs(below - depth) <= taped_give(policy) + HALF_DIGIT)
    said = "no depth was said" if depth is None else f"the depth said is {inches(depth)}"
    lies = "level with" if below == 0 else f"{inches(abs(below))} {'below' if below > 0 else 'above'}"
    return [
        finding(
            "depth",
            structure.label,
            "ok" if agree else "fail",
            f"{place(point)} lies {lies} the rim{_from(rim, invert)}; {said}.",
            stated=depth,
            computed=below,
            limit=taped_give(policy),
            unit="in",
            source=policy.source("depth_in", "reading_ft"),
            evidence=[*rim.evidence, *invert.evidence, *evidence(structure, "invert_depth_in")],
        )
    ]


def _from(rim: Height, invert: Height) -> str:
    return f" by elevations {rim.ft:.2f} and {invert.ft:.2f}" if rim.chain is None else " by rod"


def _subject(reading: Reading) -> str:
    return _label(reading.level.point)


def _label(point: str) -> str:
    return point.rpartition(" ")[0] or point
