"""The drawings of a report: a plan, to scale where enough was taped, and, where falls are known, a profile."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from reports.canvas import Drawing
from reports.facts import Facts
from reports.plan import plan
from reports.profile import profiles, undrawn
from reports.scaled import TALLEST, ground_under, to_scale, whole
from reports.stations import profile

SCHEMATIC = "schematic"


def draw(facts: Facts, tallest: float = TALLEST) -> list[Drawing]:
    """The plan, then the profile in as many sheets as it needs; nothing where nothing was recorded.

    The plan is to scale where that holds all that was recorded; where it holds a part, the schematic stands behind it.
    What it holds to scale is no taller than `tallest`, inches.
    """
    if not facts.record.structures and not facts.record.runs:
        return []
    ground = ground_under(facts)
    scaled = to_scale(facts, ground, tallest)
    if scaled is None:
        return [plan(facts), *profiles(facts)]
    schematic = [] if whole(facts, ground) else [replace(plan(facts), name=SCHEMATIC)]
    return [scaled, *schematic, *profiles(facts)]


def plans(drawings: Sequence[Drawing]) -> list[Drawing]:
    """Those of the drawings that show where things lie; a profile is for those who build on it."""
    return [each for each in drawings if each.name in ("plan", SCHEMATIC)]


def not_drawn(facts: Facts) -> str:
    """Why a record with something to draw has no profile, for each run."""
    return f"No profile could be drawn.{undrawn(profile(facts))}"
