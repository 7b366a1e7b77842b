"""What every section of the report draws on, computed once: marks, computed slopes and levels, open findings."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from extract.check.levels import elevations
from extract.check.slopes import RunSlope, run_slopes
from extract.record import Entry, Finding, Record, Run, Structure
from reports.doubts import Doubts, Mark
from reports.job import Closeout, Job
from reports.words import known

ORDER = {"fail": 0, "attention": 1, "unknown": 2, "ok": 3}


@dataclass(frozen=True)
class Facts:
    closeout: Closeout
    doubts: Doubts
    slopes: Mapping[str, RunSlope]
    """Slopes worked out from inverts, drop and length, by run label."""
    levels: Mapping[str, float]
    """Elevations by point, e.g. `CB-1 invert_out`, feet."""
    open: list[Finding]
    """Findings that are not ok, the gravest first; numbered from 1 in this order."""

    @property
    def record(self) -> Record:
        return self.closeout.record

    @property
    def job(self) -> Job:
        return self.closeout.job

    def level(self, structure: Structure, field: str) -> float | None:
        """The elevation of a structure's point: as said, else worked out from rods or from a depth. [ft]"""
        said: float | None = getattr(structure, field)
        return said if known(said) else self.levels.get(f"{structure.label} {field.removesuffix('_ft')}")

    def marks(self, label: str, *fields: str) -> list[Mark]:
        """The marks that these fields of a structure or run bear: † under question, ‡ contradicted by a finding."""
        return [*map(self.doubts.mark, self.doubts.on(label, *fields)), *self._disputes(label, fields)]

    def level_marks(self, structure: Structure, field: str) -> list[Mark]:
        """The marks of an elevation, and where it was worked out from a depth, those of what it hangs on."""
        worked_out = not known(getattr(structure, field)) and known(self.level(structure, field))
        return self.marks(structure.label, field, *(("rim_ft", "invert_depth_in") if worked_out else ()))

    def slope_marks(self, run: Run) -> list[Mark]:
        """The marks of a slope worked out for a run."""
        doubts = map(self.doubts.mark, self.doubts.on_run_slope(run))
        return [*doubts, *self._disputes(run.label, ("length_ft", "drop_in", "slope_pct"))]

    def entry_marks(self, entry: Entry, at: str | None = None, *fields: str) -> list[Mark]:
        """The marks of an entry that has no label of its own, such as a level or a test."""
        return [*map(self.doubts.mark, self.doubts.on_entry(entry, at, *fields))]

    def finding_marks(self, finding: Finding) -> list[Mark]:
        """The doubts that a finding's numbers hang on: those of its subject and of what was said in its notes."""
        doubts = [*self.doubts.on(subject(finding)), *self.doubts.in_notes(finding.evidence)]
        return [*map(self.doubts.mark, doubts)]

    def about(self, label: str) -> list[int]:
        """The numbers of the open points on a label, save those for which too little was said."""
        return [number for number, item in self._contested() if subject(item) == label]

    def _contested(self) -> list[tuple[int, Finding]]:
        return [(number, item) for number, item in enumerate(self.open, 1) if item.outcome != "unknown"]

    def _disputes(self, label: str, fields: tuple[str, ...]) -> list[Mark]:
        entry = self.record.subject(label)
        said = {(item.note, item.field) for item in entry.evidence if item.field in fields} if entry else set()
        return [
            Mark("‡", number, f"see open point {number}")
            for number, item in self._contested()
            if said & {(witness.note, witness.field) for witness in item.evidence}
        ]


def subject(finding: Finding) -> str:
    """The label that a finding is about."""
    return finding.subject.split(" ")[0]


def gather(closeout: Closeout) -> Facts:
    """All that the sections need, from the closeout alone."""
    record = closeout.record
    return Facts(
        closeout=closeout,
        doubts=Doubts(record),
        slopes=run_slopes(record, closeout.job.company.policy),
        levels=elevations(record),
        open=sorted((item for item in closeout.findings if item.outcome != "ok"), key=lambda item: ORDER[item.outcome]),
    )
