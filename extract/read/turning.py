"""Turning points of the level: the model has no such thing among its labels, so their words tell them."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import replace
from typing import NamedTuple

from extract.read.readings import Reading
from extract.read.things import TURNING
from extract.read.words import turning_points

STOP = re.compile(r"[.;:!?](?:\s|$)")
"""Between two sentences."""
READ_THERE = ("rod_ft", "elevation_ft")
SIGHT = re.compile(r"\b(backsight|foresight|intermediate)\b", re.IGNORECASE)
"""Levelling's own words for the sights, which tell more than the model can that was never taught a turning point."""


class Point(NamedTuple):
    """Where a rod may stand: characters [start, end)."""

    start: int
    end: int
    number: int | None
    turning: bool


def at_turning_points(text: str, readings: Sequence[Reading], known: Iterable[str]) -> list[Reading]:
    """The readings with those of a turning point given to it: the ones behind its words in the same sentence, up to
    the next point that is named, and the one right before where no number stands between.

    `known`: the turning points read so far. With no number, a backsight stands on the last one, and any other sight
    makes the next.
    """
    turning = [Point(*found, True) for found in turning_points(text)]
    if not turning:
        return list(readings)
    known = list(known)
    mentions = [one for one in readings if one.what == "mention"]
    points = sorted([*turning, *(Point(one.start, one.end, one.number, False) for one in mentions)])
    names: dict[int, str] = {}
    out: list[Reading] = []
    for one in readings:
        at = _point_of(text, one, points, readings) if one.what in READ_THERE else None
        if at:
            one = replace(one, sight=_sight(text, one) or one.sight)
            name = names.setdefault(at.start, _name(at, one, [*known, *names.values()]))
            one = replace(one, thing=name, side="")
        out.append(one)
    return out


def _point_of(text: str, one: Reading, points: Sequence[Point], readings: Sequence[Reading]) -> Point | None:
    """The turning point that a reading is of, if any."""
    before = [each for each in points if each.end <= one.start and not STOP.search(text[each.end : one.start])]
    if before:
        return before[-1] if before[-1].turning else None
    behind = next((each for each in points if each.start >= one.end), None)
    if behind is None or not behind.turning or STOP.search(text[one.end : behind.start]):
        return None
    between = any(each.quantity and one.end <= each.start and each.end <= behind.start for each in readings)
    return None if between or one.side == "benchmark" else behind


def _sight(text: str, one: Reading) -> str | None:
    """The sight that is named last before a reading in its sentence, if any."""
    said = [found for found in SIGHT.finditer(text, 0, one.start) if not STOP.search(text[found.end() : one.start])]
    return said[-1][1].lower() if said else None


def _name(at: Point, one: Reading, known: Sequence[str]) -> str:
    if at.number:
        return f"{TURNING}{at.number}"
    if one.sight == "backsight" and known:
        return known[-1]
    return f"{TURNING}{max((int(each.removeprefix(TURNING)) for each in known), default=0) + 1}"
