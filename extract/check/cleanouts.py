"""Whether a run can be rodded: its length and its bends between places from which a cable or hose gets in."""

from __future__ import annotations

from extract.check.geometry import run_length
from extract.check.policy import Policy
from extract.check.saying import LARGEST, evidence, feet, finding, in_place, known, name
from extract.record import Finding, Record, Run, StructureKind

NO_ACCESS: frozenset[StructureKind] = frozenset({"downspout"})
"""Nothing gets into the pipe from a roof leader; every basin, box, cleanout and outlet lets a cable in."""
MANHOLES_OVER_IN = 8.0
"""Pipe larger than this is reached by manholes. Source: International Plumbing Code 708.1.2 (from memory)."""


def check_cleanouts(record: Record, policy: Policy) -> list[Finding]:
    """Runs of known length that are too long, or that turn too far, for the ways into them. `attention` each."""
    access = {each.label for each in record.structures if in_place(each) and each.kind not in NO_ACCESS}
    return [item for run in record.runs if in_place(run) for item in _of_run(run, access, policy)]


def _of_run(run: Run, access: set[str], policy: Policy) -> list[Finding]:
    length = run_length(run)
    if length is None or None in (run.from_, run.to):
        return []
    own = sum(max(fitting.count, 0) for fitting in run.fittings if fitting.kind == "cleanout")
    ways_in = own + sum(end in access for end in (run.from_, run.to))
    # One more cleanout mends both, so one finding is enough.
    return _too_long(run, length, own, policy) or _too_bent(run, length, own, ways_in, policy)


def _too_long(run: Run, length: float, own: int, policy: Policy) -> list[Finding]:
    """Against the spacing, with the run's own cleanouts set evenly along it, which is the best they can do."""
    limit_name = "manhole_spacing_ft" if (known(run.nominal_in) or 0.0) > MANHOLES_OVER_IN else "cleanout_spacing_ft"
    limit = policy[limit_name]
    if length / (own + 1) <= limit + 1e-9:
        return []
    count = {0: "with no cleanout in it", 1: "with one cleanout in it"}.get(own, f"with {own} cleanouts in it")
    message = f"{name(run.label)} is {feet(length)} long {count}; a way in is asked for every {feet(limit)}."
    return [_finding(run, message, length, limit, "ft", policy.source(limit_name), ("length_ft", "fittings"))]


def _too_bent(run: Run, length: float, own: int, ways_in: int, policy: Policy) -> list[Finding]:
    turns = [
        (angle, max(fitting.count, 0))
        for fitting in run.fittings
        if fitting.kind in ("elbow", "long_sweep") and 0 < (angle := known(fitting.angle_deg) or 0.0) <= 180
    ]
    sharpest = max((angle for angle, _ in turns), default=0.0)
    total = min(sum(angle * count for angle, count in turns), LARGEST)
    single, sum_of = policy["cleanout_bend_deg"], policy["cleanout_bends_sum_deg"]
    if own or (sharpest <= single and total <= sum_of):
        return []
    reach = policy["cleanout_shared_ft"]
    if ways_in and length <= reach * ways_in + 1e-9:
        return []  # wherever the bends lie, a way in is near enough to serve them
    how = f"has a bend of {sharpest:g} degrees" if sharpest > single else f"has bends of {total:g} degrees in all"
    message = (
        f"{name(run.label)} {how} in {feet(length)} and no cleanout of its own; "
        f"one is asked for within {feet(reach)} of a turn of more than {single:g} degrees."
    )
    names = ("cleanout_bend_deg", "cleanout_shared_ft", *(() if sharpest > single else ("cleanout_bends_sum_deg",)))
    turned = sharpest if sharpest > single else total
    limit = single if sharpest > single else sum_of
    return [_finding(run, message, turned, limit, "degrees", policy.source(*names), ("fittings", "length_ft"))]


def _finding(
    run: Run, message: str, computed: float, limit: float, unit: str, source: str, fields: tuple[str, ...]
) -> Finding:
    words = evidence(run, *fields)
    return finding(
        "cleanout",
        run.label,
        "attention",
        message,
        computed=computed,
        limit=limit,
        unit=unit,
        source=source,
        evidence=words,
    )
