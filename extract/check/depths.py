"""Depth and cover at the ends of a run, from rims and inverts or a depth told from rim to invert, and the cover said
against them.

The ground at an end is taken to be the rim there. A record holds no ground between two structures, so what the ends
allow bounds the least cover along a run from above and never tells it.
"""

from __future__ import annotations

from typing import NamedTuple

from extract.check.levels import Height, depth_side, taped_give
from extract.check.pipes import bore, pipe_size
from extract.check.policy import Policy
from extract.check.saying import evidence, finding, in_place, inches, known, name
from extract.record import Evidence, Finding, Record, Run, Structure, StructureKind

OPEN_ENDS: frozenset[StructureKind] = frozenset({"daylight_outlet", "curb_outlet"})
"""Here the pipe comes out of the ground, so cover at the end says nothing of the run."""


class Top(NamedTuple):
    """How far the top of a pipe lies above its invert, inches, and whether that is only its nominal size."""

    above_in: float
    nominal: bool
    source: str | None


class End(NamedTuple):
    """One end of a run: its invert and the top of its pipe, in inches below the rim."""

    label: str
    depth_in: float
    """The invert."""
    cover_in: float
    """The top of the pipe; negative where it stands above the rim."""
    stand_in: bool
    """True where the way out of the structure was taken, as no way in was said: the cover is then no more than this."""
    told: bool
    """True where the depth is the one told, and no heights gave it."""
    evidence: list[Evidence]


def top_of(run: Run) -> Top | None:
    """From the invert, which is inside, to the top of the pipe, outside; None where no size was said.

    The outside diameter less one wall, which is half of outside and inside diameter together. Where pipes.toml has
    no outside diameter the nominal size stands for both, which makes the cover come out a little large.
    """
    size = known(run.nominal_in)
    if size is None or size <= 0:
        return None
    dimensions = pipe_size(run.pipe, size) if run.pipe else None
    if run.pipe is None or dimensions is None or dimensions.od_in is None:
        return Top(size, True, None)
    inside = bore(run.pipe, size)
    return Top((dimensions.od_in.value + inside.inside_in) / 2, False, dimensions.od_in.citation())


def covered_ends(run: Run, points: dict[str, Height], structures: dict[str, Structure]) -> list[End]:
    """The ends of the run whose depth from rim to invert is known, save open ones, which say nothing of the run; none
    where no size was said."""
    top = top_of(run)
    ends = [] if top is None else ends_of(run, top, points, structures)
    return [end for end in ends if end.label not in structures or structures[end.label].kind not in OPEN_ENDS]


def least_end(run: Run, points: dict[str, Height], structures: dict[str, Structure]) -> End | None:
    """That of them with the least over the pipe."""
    return min(covered_ends(run, points, structures), key=lambda end: end.cover_in, default=None)


def least_by_ends(
    run: Run, points: dict[str, Height], structures: dict[str, Structure], policy: Policy
) -> tuple[float, list[Evidence]] | None:
    """The most that the run's least cover can be [in], by the rims and inverts at its ends, and who said so.

    Readings are given their error. None where no end has a depth, and at an open end, which says nothing of the run.
    """
    least = least_end(run, points, structures)
    return None if least is None else (least.cover_in + taped_give(policy), least.evidence)


def ends_of(run: Run, top: Top, points: dict[str, Height], structures: dict[str, Structure]) -> list[End]:
    """The ends of the run whose depth from rim to invert is known.

    At the lower end the way out stands in for a way in that was not said: it lies no higher, so the bound still
    holds. At the upper end nothing can stand in for the way out.
    """
    found = []
    for label, sides in ((run.from_, ("invert_out",)), (run.to, ("invert_in", "invert_out"))):
        for side in sides if label else ():
            depth, told, words = _depth(str(label), side, points, structures)
            if depth is not None:
                found.append(End(str(label), depth, depth - top.above_in, side != sides[0], told, words))
                break
    return found


def _depth(
    label: str, side: str, points: dict[str, Height], structures: dict[str, Structure]
) -> tuple[float | None, bool, list[Evidence]]:
    """From rim to that invert [in], by their heights, else as it was told; whether it was told; and who said so."""
    rim, invert, structure = points.get(f"{label} rim"), points.get(f"{label} {side}"), structures.get(label)
    if rim is not None and invert is not None and rim.chain == invert.chain:
        return known((rim.ft - invert.ft) * 12), invert.basis == "depth", [*rim.evidence, *invert.evidence]
    if structure is not None and side == depth_side(structure):
        return known(structure.invert_depth_in), True, evidence(structure, "invert_depth_in")
    return None, False, []


def check_depths(record: Record, points: dict[str, Height], policy: Policy) -> list[Finding]:
    """Of every run in place with a depth from rim to invert at an end: that depth, and the cover said against it.

    More said than there is at an end is `attention`; a pipe whose top would stand above the rim is `fail`.
    """
    structures = {each.label: each for each in record.structures}
    return [item for run in record.runs if in_place(run) for item in _of_run(run, structures, points, policy)]


def _of_run(run: Run, structures: dict[str, Structure], points: dict[str, Height], policy: Policy) -> list[Finding]:
    top, ends, least = top_of(run), covered_ends(run, points, structures), least_end(run, points, structures)
    if top is None or least is None:
        return []
    cover = known(run.cover_in)
    give = taped_give(policy)
    good = (0 if cover is None else cover) <= least.cover_in + give + 1e-9
    sources = [policy.source("depth_in", "reading_ft"), *([top.source] if top.source else [])]
    return [
        finding(
            "cover_along",
            run.label,
            "ok" if good else "fail" if least.cover_in + give < 0 else "attention",
            f"{name(run.label)}: {'; '.join(map(_tell, ends))}{_by(top)}; {_end(cover, least, good=good)}.",
            stated=cover,
            computed=least.cover_in,
            limit=give,
            unit="in",
            source="; ".join(sources),
            evidence=[*evidence(run, "cover_in"), *(item for end in ends for item in end.evidence)],
        )
    ]


def _tell(end: End) -> str:
    side = "below" if end.depth_in >= 0 else "above"
    lies = (
        f"at {name(end.label)} the {'outgoing ' if end.stand_in else ''}invert lies {_tenth(abs(end.depth_in))} {side}"
    )
    if end.cover_in < 0:
        return f"{lies} the rim"
    most = "at the most " if end.stand_in else ""
    return f"{lies} the rim, with {most}{_tenth(end.cover_in)} over the pipe"


def _tenth(value: float) -> str:
    return inches(round(value, 1))


def _by(top: Top) -> str:
    return " (by the pipe's nominal size, as its outside diameter is not known)" if top.nominal else ""


def _end(cover: float | None, least: End, *, good: bool) -> str:
    if least.cover_in < 0 and not good:
        return f"the top of the pipe would stand {_tenth(-least.cover_in)} above that of {name(least.label)}"
    if cover is None:
        return "no cover was said"
    if good:
        return f"{inches(cover)} of cover at the least was said, which fits"
    return (
        f"{inches(cover)} of cover at the least was said, more than there is at {name(least.label)} "
        "unless the ground beside it stands above its rim"
    )
