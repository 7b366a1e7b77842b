"""The data model: what spoken notes become, field by field, with units.

What was said is kept apart from what was computed: these fields hold only what the crew said (or amended);
computed values appear in findings. A field that was not said is None.
"""

from __future__ import annotations

from datetime import datetime
from typing import Any, ClassVar, Literal

from pydantic import BaseModel, ConfigDict, Field, model_validator

State = Literal["planned", "installed", "existing", "abandoned", "removed"]
StructureKind = Literal[
    "channel_drain",
    "catch_basin",
    "area_drain",
    "downspout",
    "cleanout",
    "junction_box",
    "dry_well",
    "popup_outlet",
    "daylight_outlet",
    "curb_outlet",
]
Pipe = Literal["SDR 35", "Schedule 40", "D2729", "corrugated", "dual-wall"]
FittingKind = Literal[
    "elbow",
    "long_sweep",
    "wye",
    "tee",
    "coupling",
    "adapter",
    "reducer",
    "increaser",
    "cap",
    "cleanout",
    "backwater_valve",
    "sleeve",
]
Surface = Literal["roof", "patio", "driveway", "walk", "gravel", "lawn"]
Traffic = Literal["foot", "cart", "car", "truck"]
IssueKind = Literal[
    "roots",
    "utility",
    "existing_line",
    "blockage",
    "standing_water",
    "reverse_slope",
    "rock",
    "damage",
    "erosion",
    "access",
    "other",
]
IssueAction = Literal["cleared", "rerouted", "capped", "left", "repaired", "replaced", "reported"]
Why = Literal["low_confidence", "conflict", "missing", "implausible", "hedged"]
"""`hedged`: the speaker was not sure of the value himself. It may stand meanwhile."""
Outcome = Literal["ok", "attention", "fail", "unknown"]


class Model(BaseModel):
    """Base of every shape that crosses a border; an unknown field is an error, not a shrug."""

    model_config = ConfigDict(extra="forbid", populate_by_name=True)


Language = Literal["en", "es"]
"""As ISO 639-1 writes them: English and Spanish."""


class Note(Model):
    """One thing somebody said or typed. Its place in the log's list is its INDEX everywhere else."""

    text: str
    """The words to read, after trade terms were put right."""
    at: datetime | None = None
    """When it was said; naive times are the job's local time."""
    heard: str | None = None
    """The recogniser's own words, where sound was heard, in the language that was spoken."""
    language: Language = "en"
    """What was spoken; `text`, `words` and `alternatives` are in English all the same."""
    confidence: float = Field(default=1.0, ge=0, le=1)
    """Mean word confidence, 0 to 1; typed notes are 1."""
    words: list[Word] = []
    alternatives: list[str] = []
    """Other readings of the same sound, best first."""
    source: str | None = None
    """SHA-256 of the sound or text file it came from, or None for a note typed straight in."""
    start_s: float | None = None
    end_s: float | None = None
    """Seconds into the recording."""


class Word(Model):
    """One word heard, with its place in the recording (seconds) and its confidence (0 to 1)."""

    text: str
    start_s: float
    end_s: float
    confidence: float = Field(ge=0, le=1)


class Evidence(Model):
    note: int
    """INDEX of the note, from 0 in the log's order."""
    quote: str
    confidence: float = Field(ge=0, le=1)
    field: str | None = None
    """The field of the entry that this note speaks for; None where it speaks for the entry as a whole."""
    corrects: bool = Field(default=False, exclude=True)
    """Whether it was said as a correction of what stood there before."""
    by_hand: bool = Field(default=False, exclude=True)
    """Whether it is a person's change and no note."""


class Entry(Model):
    evidence: list[Evidence] = Field(default_factory=list)


class Area(Model):
    """A piece of roof or ground that drains to a structure."""

    sqft: float
    """Square feet, level (in plan)."""
    surface: Surface | None = None


class Tie(Model):
    """A taped distance that finds a structure again."""

    from_: str = Field(alias="from")
    """The fixed point, as named."""
    distance_ft: float
    side: str | None = None
    """Which of two places is meant, as said."""


class Structure(Entry):
    label: str
    kind: StructureKind | None = None
    """None only of an outlet whose kind nobody said."""
    state: State | None = None
    size_in: list[float] | None = None
    """Inches: [12, 12] square, [9] round, [width] of a channel drain, [pipe size] of an outlet or cleanout."""
    length_ft: float | None = None
    rim_ft: float | None = None
    """Elevation on the job's datum, feet; so are the inverts."""
    invert_in_ft: float | None = None
    invert_out_ft: float | None = None
    invert_depth_in: float | None = None
    """Invert said as a depth below rim or grade, inches."""
    areas: list[Area] | None = None
    """What drains to it straight from above, as said; not what comes by pipe."""
    traffic: Traffic | None = None
    """The heaviest said to go over it."""
    ties: list[Tie] = Field(default_factory=list)


class Fitting(Model):
    kind: FittingKind
    count: int = 1
    angle_deg: float | None = None
    nominal_in: float | None = None
    to_nominal_in: float | None = None
    at_ft: float | None = None
    """Along the run from its upper end, feet."""
    turn: Literal["left", "right"] | None = None
    """Looking downstream."""


class Crossing(Model):
    """What a run crosses."""

    what: str
    at_ft: float | None = None
    """Along the run from its upper end, feet."""
    depth_in: float | None = None


class Run(Entry):
    label: str
    from_: str | None = Field(default=None, alias="from")
    to: str | None = None
    """Structure labels, upstream to downstream."""
    state: State | None = None
    nominal_in: float | None = None
    pipe: Pipe | None = None
    length_ft: float | None = None
    drop_in: float | None = None
    slope_pct: float | None = None
    cover_in: float | None = None
    """Least cover over the pipe, inches."""
    traffic: Traffic | None = None
    """The heaviest said to go over it."""
    fittings: list[Fitting] = Field(default_factory=list)
    bedding: str | None = None
    backfill: str | None = None
    pieces_ft: list[float] = Field(default_factory=list)
    """Pieces said together, feet, e.g. [10, 10, 10, 4]; kept so that the check can sum them again."""
    stations_ft: list[float] = Field(default_factory=list)
    """Start and end station said of the run, feet, e.g. [0, 42]."""
    crossings: list[Crossing] = Field(default_factory=list)


BENCHMARK = "benchmark"
"""The point of a level that stands on it, whatever the mark is called."""


class Level(Entry):
    point: str
    """`benchmark`, or a structure label and side: `CB-1 invert_out`, `CB-1 rim`, `OUT-1 invert_in`."""
    kind: Literal["backsight", "foresight", "intermediate"]
    rod_ft: float | None = None
    """None of a benchmark whose elevation was said and whose backsight is not read yet."""
    elevation_ft: float | None = None

    @model_validator(mode="after")
    def _was_read(self) -> Level:
        waits = (self.point, self.kind) == (BENCHMARK, "backsight") and self.elevation_ft is not None
        if self.rod_ft is None and not waits:
            raise ValueError("needs rod_ft; only a backsight on the benchmark may have an elevation alone")
        return self


class Issue(Entry):
    kind: IssueKind
    at: str | None = None
    action: IssueAction | None = None
    text: str


class Test(Entry):
    __test__: ClassVar[bool] = False  # a water test, not one of pytest's

    kind: Literal["hose", "flood", "camera", "air"]
    at: str | None = None
    duration_s: float | None = None
    flow_gpm: float | None = None
    result: Literal["pass", "fail", "unclear"] | None = None


class Task(Entry):
    kind: Literal["buy", "do", "ask", "photo"]
    text: str
    count: float | None = None
    item: str | None = None


class Decision(Entry):
    text: str
    state: Literal["open", "decided"]


class Departure(Entry):
    """What was done instead of what was planned, as said."""

    about: str | None = None
    text: str


class Sight(Model):
    """How far one fixed point lies from another, and in what direction."""

    point: str
    """The other one, which it is seen from."""
    distance_ft: float
    bearing_deg: float | None = None
    """From that other one to this, degrees clockwise from north."""


class FixedPoint(Entry):
    """A point that ties start from."""

    name: str
    x_ft: float | None = None
    """To the right, as y is up, on a plan seen from above; no way of the compass is meant."""
    y_ft: float | None = None
    to: list[Sight] | None = None


class Acceptance(Entry):
    """A failed check that the firm answers with a sentence, given by a person. Its evidence quotes the finding."""

    finding: str
    """The check that failed: `min_slope`."""
    about: str
    """What the finding is about: `R-1`."""
    text: str


class Purchase(Entry):
    """What was bought for the job, typed by a person from what its receipts say."""

    item: str
    """In that person's words: `4 inch SDR 35`."""
    count: float
    unit: Literal["each", "ft", "stick"]
    stick_ft: float | None = None
    """How long one stick is, where that was said."""


class Question(Entry):
    """What the record cannot settle by itself, for a person."""

    id: str | None = None
    """Short, and the same while the log grows (see `extract.questions`)."""
    about: str
    field: str | None = None
    heard: str | None = None
    choices: list[Any] | None = None
    why: Why


ELEVATIONS = ("rim_ft", "invert_in_ft", "invert_out_ft")
"""The fields of a structure that are elevations."""

Went = Literal["field", "text", "restated", "question", "withdrawn", "not_fact", "irrelevant"]
Reason = Literal["money", "clock", "people", "weather", "sport", "tool", "name", "other"]


class Number(Model):
    """A quantity that was said, and what became of it."""

    note: int
    """INDEX of the note."""
    start: int
    end: int
    """Characters of the note's text."""
    text: str
    value: float
    """In `unit`: ft, in, pct, s, gpm and so on; none for a bare number."""
    unit: str | None = None
    went: Went
    to: str | None = None
    """The field, list or question: `R-2.length_ft`, `levels`, `tasks`."""
    reason: Reason | None = None
    """Why an irrelevant one is none of the work."""


class Record(Model):
    structures: list[Structure] = []
    runs: list[Run] = []
    levels: list[Level] = []
    issues: list[Issue] = []
    tests: list[Test] = []
    tasks: list[Task] = []
    decisions: list[Decision] = []
    changes: list[Departure] = []
    points: list[FixedPoint] = []
    acceptances: list[Acceptance] = []
    purchases: list[Purchase] = []
    questions: list[Question] = []
    numbers: list[Number] = []

    def subject(self, label: str) -> Structure | Run | None:
        """The structure or run of that label, or None."""
        entries: list[Structure | Run] = [*self.structures, *self.runs]
        return next((entry for entry in entries if entry.label == label), None)

    def as_json(self) -> dict[str, Any]:
        """The contract's shape: fields that were not said are absent."""
        shape = self.model_dump(mode="json", by_alias=True, exclude_none=True)
        for entry in (*shape["structures"], *shape["runs"]):
            for name in ("fittings", "pieces_ft", "stations_ft", "crossings", "ties"):
                if entry.get(name) == []:
                    del entry[name]
        return shape


class Finding(Model):
    """One thing the check module looked at. Values are in `unit`; `source` names the standard or 'common practice'."""

    check: str
    subject: str
    outcome: Outcome
    stated: float | None = None
    computed: float | None = None
    limit: float | None = None
    unit: str | None = None
    message: str
    source: str | None = None
    evidence: list[Evidence] = Field(default_factory=list)
