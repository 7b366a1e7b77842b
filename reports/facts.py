"""What every section of the report draws on, computed once: marks, computed slopes and levels, open findings."""

from __future__ import annotations

from collections.abc import Mapping, Sequence, Set
from dataclasses import dataclass

from extract.check.levels import Height, Reading, heights, reduce_levels
from extract.check.slopes import RunSlope, run_slopes
from extract.record import Entry, Evidence, Finding, Language, Level, Record, Run, Structure
from reports.doubts import Doubts, Mark
from reports.job import Closeout, Job
from reports.words import known

NO_NUMBERS = frozenset(
    "run_ends reaches_outlet loop planned velocity travel_time grate leader design_flow limiting_run evidence fit "
    "cleanout cover load caution".split()
)
"""Checks of how things hang together, whether they are large enough and what they must bear: they contradict no
figure."""
OF_HEIGHTS = frozenset({"elevation", "repeat_reading", "level_closure", "in_above_out"})
"""Checks of heights alone: a doubt about a size is none about them."""
AT_ODDS = frozenset({"elevation", "in_above_out"})
"""Checks that set a height against another: its rod's, or that of the pipe on the other side of the structure."""
HEIGHTS = ("rim_ft", "invert_in_ft", "invert_out_ft", "invert_depth_in")
ORDER = {"fail": 0, "attention": 1, "unknown": 2, "ok": 3}


@dataclass(frozen=True)
class Facts:
    closeout: Closeout
    doubts: Doubts
    slopes: Mapping[str, RunSlope]
    """Slopes worked out from inverts, drop and length, by run label."""
    heights: Mapping[str, Height]
    """The best height of each point, e.g. `CB-1 invert_out`, with the words it rests on."""
    readings: Mapping[int, Reading]
    """Level readings reduced, by their place in the record's list."""
    open: list[Finding]
    """Findings that are not ok, the gravest first; numbered from 1 in this order."""
    cautions: list[Finding]
    """Cautions that the work called for. They are no open points: nothing about them can be put right on paper."""

    @property
    def record(self) -> Record:
        return self.closeout.record

    @property
    def job(self) -> Job:
        return self.closeout.job

    @property
    def language(self) -> Language:
        return self.closeout.language

    @property
    def levels(self) -> dict[str, float]:
        """Elevations on the job's datum by point, feet."""
        return {point: height.ft for point, height in self.heights.items() if height.chain is None}

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
        marks = self.marks(structure.label, field, *(("rim_ft", "invert_depth_in") if worked_out else ()))
        return [*marks, *self._elevation_disputes(f"{structure.label} {field.removesuffix('_ft')}", AT_ODDS)]

    def slope_marks(self, run: Run) -> list[Mark]:
        """The marks of a slope worked out for a run."""
        doubts = map(self.doubts.mark, self.doubts.on_run_slope(run))
        fields = ("length_ft", "drop_in", "slope_pct")
        return [*doubts, *self._disputes(run.label, fields), *self._slope_disputes(run)]

    def reading_marks(self, level: Level) -> list[Mark]:
        """The marks of a level reading: its doubts, and ‡ where its elevation does not come out."""
        label, _, side = level.point.partition(" ")
        fields = (f"{side}_ft",) if side else ("rim_ft", "invert_in_ft", "invert_out_ft")
        disputes = self._elevation_disputes(level.point, AT_ODDS, level.evidence)
        return [*self.entry_marks(level, label, *fields), *disputes]

    def entry_marks(self, entry: Entry, at: str | None = None, *fields: str) -> list[Mark]:
        """The marks of an entry that has no label of its own, such as a level or a test."""
        return [*map(self.doubts.mark, self.doubts.on_entry(entry, at, *fields))]

    def finding_marks(self, finding: Finding) -> list[Mark]:
        """The doubts that a finding's numbers hang on: those of its subject and of what was said in its notes."""
        fields = HEIGHTS if finding.check in OF_HEIGHTS else ()
        doubts = [*self.doubts.on(subject(finding), *fields), *self.doubts.in_notes(finding.evidence)]
        return [*map(self.doubts.mark, doubts)]

    def about(self, label: str) -> list[int]:
        """The numbers of the open points on a label, save those for which too little was said."""
        return [number for number, item in self._contested() if subject(item) == label]

    def _contested(self) -> list[tuple[int, Finding]]:
        return [(number, item) for number, item in enumerate(self.open, 1) if item.outcome != "unknown"]

    def _slope_disputes(self, run: Run) -> list[Mark]:
        """‡ where the run's other figures contradict its slope, or an elevation that it rests on does not come out."""
        slope = self.slopes.get(run.label)
        if slope is None:
            return []
        own = [
            _dispute(number)
            for number, item in self._contested()
            if slope.disputed and item.check in {"drop", "slope"} and subject(item) == run.label
        ]
        ends = [f"{label} {side}" for label in (run.from_, run.to) for side in ("invert_in", "invert_out")]
        rests_on = ends if slope.basis.startswith("inverts") else []
        return [*own, *(mark for point in rests_on for mark in self._elevation_disputes(point, {"elevation"}))]

    def _elevation_disputes(self, point: str, checks: Set[str], words: Sequence[Evidence] | None = None) -> list[Mark]:
        """The findings that contradict the elevation of a point, or of the one reading that rests on those words."""
        if words is None:
            words = self.heights[point].evidence if point in self.heights else []
        said = {(item.note, item.quote) for item in words}
        return [
            _dispute(number)
            for number, item in self._contested()
            if item.check in checks and subject(item) == subject_of(point)
            if said & {(witness.note, witness.quote) for witness in item.evidence}
        ]

    def _disputes(self, label: str, fields: tuple[str, ...]) -> list[Mark]:
        entry = self.record.subject(label)
        said = {(item.note, item.field) for item in entry.evidence if item.field in fields} if entry else set()
        return [
            _dispute(number)
            for number, item in self._contested()
            if item.check not in NO_NUMBERS and said & {(witness.note, witness.field) for witness in item.evidence}
        ]


def _dispute(number: int) -> Mark:
    return Mark("‡", number, f"see open point {number}")


def subject(finding: Finding) -> str:
    """The label that a finding is about."""
    return subject_of(finding.subject)


def subject_of(point: str) -> str:
    """The label of a point such as `CB-1 invert_out`."""
    return point.split(" ")[0]


def gather(closeout: Closeout) -> Facts:
    """All that the sections need, from the closeout alone."""
    record = closeout.record
    places = {id(level): place for place, level in enumerate(record.levels)}
    return Facts(
        closeout=closeout,
        doubts=Doubts(record, closeout.language, closeout.notes),
        slopes=run_slopes(record, closeout.job.company.policy),
        heights=heights(record),
        readings={places[id(reading.level)]: reading for reading in reduce_levels(record)},
        cautions=[item for item in closeout.findings if item.check == "caution"],
        open=sorted(
            (item for item in closeout.findings if item.outcome != "ok" and item.check != "caution"),
            key=lambda item: ORDER[item.outcome],
        ),
    )
