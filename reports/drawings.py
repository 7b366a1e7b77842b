"""The drawings of a report: a plan and, where falls are known, a profile."""

from __future__ import annotations

from reports.canvas import Drawing
from reports.facts import Facts
from reports.plan import plan
from reports.profile import profiles, undrawn
from reports.stations import profile


def draw(facts: Facts) -> list[Drawing]:
    """The plan, then the profile in as many sheets as it needs; nothing where nothing was recorded."""
    if not facts.record.structures and not facts.record.runs:
        return []
    return [plan(facts), *profiles(facts)]


def not_drawn(facts: Facts) -> str:
    """Why a record with something to draw has no profile, for each run."""
    return f"No profile could be drawn.{undrawn(profile(facts))}"
