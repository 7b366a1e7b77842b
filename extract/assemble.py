"""Notes in order -> one record: each note is read, then the readings are put together."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from extract.alternatives import fitting, offer_others
from extract.amend import Change, with_changes
from extract.questions import name_questions
from extract.read.amounts import crew_of_readings
from extract.read.assembly import Assembly, taken_back
from extract.read.known import scene_of
from extract.read.readings import Reader, Reading, Shape
from extract.record import Evidence, Note, Question, Record
from extract.recount import agree

if TYPE_CHECKING:
    from extract.read.model import Model

BEARS_OUT = ("elevation", "repeat_reading", "depth", "drop", "slope")
"""Checks in which two numbers of the crew's own meet."""
LEVELLED = ("rod_ft", "elevation_ft", "rim_ft", "invert_in_ft", "invert_out_ft")
LONGEST_QUOTE = 200
LONGEST_READ = 20_000
"""Characters of a note that are read, as many as a line of a text log makes; a longer one is asked about."""


@dataclass
class Kept:
    """What was read of notes before; what is read now is added."""

    shapes: dict[str, Shape] = field(default_factory=dict)
    used: dict[str, None] = field(default_factory=dict)
    """The keys of what was needed this time."""
    new: bool = False
    """Whether a note was read that was not kept."""
    progress: Callable[[int, int], None] = field(default=lambda done, total: None, repr=False)
    """Told how many of the notes are read, of each that was not kept."""
    farthest: int = 0
    """How many it was told of: other hearings of a note are read later, and are no news."""

    def tell(self, done: int, total: int) -> None:
        """That so many notes are read."""
        if done > self.farthest:
            self.farthest = done
            self.progress(done, total)

    def prune(self) -> None:
        """Leaves out what was not needed this time."""
        self.shapes = {key: self.shapes[key] for key in self.used}


def assemble(
    notes: Sequence[Note], changes: Sequence[Change] = (), kept: Kept | None = None, known: Record | None = None
) -> Record:
    """The record that those notes make, then a person's changes to it (see `extract.amend`).

    A change's witness is the INDEX after the last note, in its own order. Any text makes a record, perhaps an
    empty one. Only notes that are not `kept` are read. `known` is what lies there before the first note (see
    `extract.read.known.lying_there`): it stands in the record too, and a note that bears witness to it has no text.
    """
    kept = kept or Kept()

    def made(notes: Sequence[Note]) -> Record:
        return _record(notes, kept, known)

    chosen, settled = fitting(notes, made)
    record = made(chosen)
    record.questions += settled
    offer_others(record, chosen, made)
    settle_borne_out(record)
    agree(record)
    name_questions(record)
    return with_changes(record, changes, len(notes)) if changes else record


def withdrawn(notes: Sequence[Note], kept: Kept | None = None, known: Record | None = None) -> set[int]:
    """INDEX of every note that a later one took back, and of those that do nothing else."""
    return taken_back(read(notes, kept or Kept(), set(), known), known)


def _record(notes: Sequence[Note], kept: Kept, known: Record | None) -> Record:
    """A note that cannot be read costs itself: it is left out, and asked about."""
    assembly, failed = _assembly(notes, kept, known)
    record = assembly.record()
    for index in sorted(failed):
        words = notes[index].text
        witness = Evidence(note=index, quote=words[:LONGEST_QUOTE], confidence=1)
        question = Question(
            about=f"note {index}", heard=words[:LONGEST_QUOTE], why="low_confidence", evidence=[witness]
        )
        record.questions.append(question)
    return record


def _assembly(notes: Sequence[Note], kept: Kept, known: Record | None) -> tuple[Assembly, set[int]]:
    """What the notes come to, and the INDEX of each that could not be read."""
    failed: set[int] = set()
    readings = read(notes, kept, failed, known)
    while True:
        crew = crew_of_readings([note.text for note in notes], readings)
        assembly, before = Assembly(crew, known, taken_back(readings, known)), len(failed)
        for index, (note, row) in enumerate(zip(notes, readings, strict=True)):
            try:
                assembly.take(note, row)
            except Exception:  # whatever it met, it is this note's
                failed.add(index)
                readings[index] = []
                break
        if len(failed) == before:
            return assembly, failed


def _model() -> Model:
    from extract.read.model import shipped  # takes long to load, and notes that are kept do without it

    return shipped()


def read(notes: Sequence[Note], kept: Kept, failed: set[int], known: Record | None = None) -> list[list[Reading]]:
    """The readings of each note; the INDEX of each that could not be read to its end is entered in `failed`."""
    reader, held = Reader(_model, kept.shapes, scene_of(known) if known else None), len(kept.shapes)
    out: list[list[Reading]] = []
    for index, note in enumerate(notes):
        if len(note.text) > LONGEST_READ:
            failed.add(index)
        before = len(kept.shapes)
        try:
            out.append(reader.read(index, note.text[:LONGEST_READ]) if note.text.strip() else [])
        except Exception:  # whatever the reader met, it is this note's
            failed.add(index)
            out.append([])
        if len(kept.shapes) > before:
            kept.tell(index + 1, len(notes))
    kept.used |= dict.fromkeys(reader.keys)
    kept.new = kept.new or len(kept.shapes) > held
    return out


def settle_borne_out(record: Record) -> None:
    """Drop the doubt about a number that another number of the same record bears out.

    A rod and the elevation said with it, or a drop, a length and a slope, say the same thing twice; where the check
    module finds them agreed, a low confidence of the recogniser is no reason to ask.
    """
    doubted = [question for question in record.questions if question.why == "low_confidence" and not question.choices]
    if not doubted:
        return
    from extract.check import check_figures  # the check module is larger than the reader; most logs do without it

    borne_out = {
        (finding.subject.split(" ")[0], witness.note, _sighted(witness.field))
        for finding in check_figures(record)
        if finding.outcome == "ok" and finding.check in BEARS_OUT and finding.stated is not None
        for witness in finding.evidence
    }
    for question in doubted:
        about, field_ = question.about.split(" ")[0], _sighted(question.field)
        if question.evidence and all((about, witness.note, field_) in borne_out for witness in question.evidence):
            record.questions.remove(question)


def _sighted(field_: str | None) -> str | None:
    """A rod reading bears out the elevation said with it, and that the reading: they are no fields of their own."""
    return None if field_ in LEVELLED else field_
