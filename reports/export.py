"""The record in open formats, for the firm itself: its files by name, and why one that could be there is not."""

from __future__ import annotations

from dataclasses import dataclass, field

from reports.facts import gather
from reports.job import Closeout
from reports.open_record import record_json, schema_json
from reports.tables import tables

OFTEN = ("places.geojson", "plan.dxf", "profile.dxf")
"""Files that are written where enough is known. One of an earlier export, when more was, is no longer true."""


@dataclass
class Export:
    files: dict[str, bytes] = field(default_factory=dict)
    lines: list[str] = field(default_factory=list)


def export_of(closeout: Closeout) -> Export:
    """Everything that can be written of a job. Pure; the same closeout gives the same bytes."""
    facts = gather(closeout)
    made = Export({f"{table.name}.csv": table.csv() for table in tables(facts)})
    made.files |= {"record.json": record_json(facts), "record.schema.json": schema_json()}
    return made
