"""The record in open formats, for the firm itself: its files by name, and why one that could be there is not."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field

from extract.places.solve import Ground
from reports.cad import plan_dxf, profile_dxf
from reports.drawings import not_drawn
from reports.earth import geojson
from reports.facts import Facts, gather
from reports.job import Closeout
from reports.open_record import record_json, schema_json
from reports.scaled import drawn_structures, ground_under
from reports.tables import tables
from reports.words import joined

PLACES, PLAN, PROFILE = "places.geojson", "plan.dxf", "profile.dxf"
SOMETIMES = (PLACES, PLAN, PROFILE)
"""Files that are written where enough is known. One of an earlier export, when more was, is no longer true."""
OF_TAPES = ("tie_missing", "tie_side", "tie_fit")
"""Checks that say which tape would settle a place."""
NO_TAPE = (
    "nothing was taped; tape how far two fixed points, such as corners of the house, lie apart, and from both to each "
    "structure"
)
OWN = (
    "These files are the firm's own: the whole record, with the positions of phones where photos tell them. "
    "What a client is handed is the report."
)


@dataclass
class Export:
    files: dict[str, bytes] = field(default_factory=dict)
    lines: list[str] = field(default_factory=list)
    """What is open, what was not written and why, and whose the files are."""


def export_of(closeout: Closeout) -> Export:
    """Everything that can be written of a job. Pure; the same closeout gives the same bytes."""
    facts = gather(closeout)
    found, sheets = ground_under(facts), {table.name: table for table in tables(facts)}
    made = Export({f"{name}.csv": table.csv() for name, table in sheets.items()})
    made.files |= {"record.json": record_json(facts), "record.schema.json": schema_json()}
    drawn = {
        PLACES: geojson(facts, found, sheets["structures"], sheets["runs"]),
        PLAN: plan_dxf(facts, found),
        PROFILE: profile_dxf(facts),
    }
    made.files |= {name: content for name, content in drawn.items() if content is not None}
    made.lines = [*_open(facts), *_lacking(facts, found, set(made.files)), OWN]
    return made


def _open(facts: Facts) -> Iterator[str]:
    if count := len(facts.record.questions):
        what = "1 question is" if count == 1 else f"{count} questions are"
        yield f"{what} open, marked open_question in each file. Settle with: fallbook ask {facts.job.name}"


def _lacking(facts: Facts, found: Ground, written: set[str]) -> Iterator[str]:
    unplaced = [each.label for each in drawn_structures(facts) if each.label not in found.at]
    if PLAN not in written:
        yield f"{PLAN} is not written: {_tape(facts) if unplaced else 'no structure is recorded'}"
    elif unplaced:
        yield f"{PLAN} lacks {joined(unplaced)}: {_tape(facts)}"
    if PROFILE not in written:
        yield f"{PROFILE} is not written. {not_drawn(facts)}"
    if PLACES not in written:
        yield f"{PLACES} is not written: no photo that shows a structure tells a position on the earth"
    elif found.north is None:
        why = "no bearing tells north, nor do enough photos"
        if found.north_contradicted:
            why = "the bearing and the positions of photos disagree on north; take the bearing again"
        yield f"{PLACES} has no runs, and structures where photos of them were taken: {why}"


def _tape(facts: Facts) -> str:
    """What to tape, as the checks tell it, the first thing first."""
    told = [each for each in facts.open if each.check in OF_TAPES]
    if not told:
        return NO_TAPE
    first = next((each for each in told if each.check == OF_TAPES[0]), told[0])
    more = f" {len(told) - 1} more: fallbook show {facts.job.name}" if len(told) > 1 else ""
    return f"{first.message}{more}"
