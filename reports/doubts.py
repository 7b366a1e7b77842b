"""Numbers under question: which ones, how each is marked where it stands, and what is said about it.

A question marks more rather than less: one that names no field marks every number of its subject, and one whose
subject cannot be told marks whatever was said in the same notes.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from functools import reduce
from textwrap import shorten

from extract.crossing_asked import both_ways
from extract.record import BENCHMARK, Entry, Evidence, Language, Note, Question, Record, Run, Structure
from reports.words import LABEL, crossing, form, load, place, plain, sentence, thing, things, told, value

ELEVATIONS = frozenset({"rim_ft", "invert_in_ft", "invert_out_ft"})
FIELDS = frozenset(Structure.model_fields) | frozenset(Run.model_fields) | {"from", "to"}
OF_A_TEST = frozenset({"duration_s", "flow_gpm", "result"})
"""Fields of a water test: a question about one is about the test, not about the run it was made on."""
LONGEST = 160
"""Characters of a hearing that a legend quotes; the log has the rest."""
SIDE = re.compile(r"\b(rim|invert_in|invert_out)\b")


@dataclass(frozen=True, order=True)
class Mark:
    """A sign set after a number, and what it says under the table: `†2`, `being confirmed: ...`."""

    sign: str
    number: int
    words: str

    def __str__(self) -> str:
        return f"{self.sign}{self.number}"


@dataclass(frozen=True)
class Doubt:
    """One question, with the labels it touches and the fields of them (None: all fields)."""

    number: int
    question: Question
    labels: frozenset[str]
    fields: frozenset[str] | None
    language: Language = "en"
    typed: bool = False
    """Whether all notes that it comes from were typed: there is no recording to be unclear."""
    choices: Sequence[str] = ()
    """What it may be, in words."""

    @property
    def why(self) -> str:
        """`being confirmed: heard 43 ft and later 45 ft`."""
        ask = self.question
        choices = self.choices
        if ask.why == "missing":
            return self._told("not_said")
        if ask.why == "conflict" and len(choices) > 1:
            return self._told("two_heard", self._either(choices, "later"))
        if ask.why == "implausible":
            return self._told("implausible")
        said = "twice" if ask.why == "conflict" else "two_ways" if self.typed else "unclear"
        return self._told(f"{said}_or" if choices else said, self._either(choices, "or"))

    def _told(self, key: str, choices: str = "") -> str:
        said = self.question.heard
        shown = shorten(said, LONGEST, placeholder=" …") if said else ""
        heard = told("doubt", "written" if self.typed else "heard", self.language, words=shown) if said else ""
        return told("doubt", key, self.language, heard=heard, choices=choices)

    def _either(self, choices: Sequence[str], how: str) -> str:
        return reduce(lambda before, one: form(how, self.language, before, one), choices) if choices else ""


class Doubts:
    """All open questions of a record, numbered from 1 in its order; `notes` are those that it was computed from."""

    def __init__(self, record: Record, language: Language = "en", notes: Sequence[Note] = ()) -> None:
        self.record, self.language, self.notes = record, language, notes
        doubts = (self._doubt(number, question) for number, question in enumerate(record.questions, 1))
        self.all = [
            replace(doubt, language=language, typed=self._typed(doubt.question), choices=self._choices(doubt.question))
            for doubt in doubts
        ]

    def _doubt(self, number: int, question: Question) -> Doubt:
        known = {entry.label for entry in things(self.record)}
        labels = ({question.about} | set(LABEL.findall(question.about))) & known
        fields = frozenset({question.field}) if question.field in FIELDS else None
        if fields is None and (question.field in {"rod_ft", "elevation_ft"} or SIDE.search(question.about)):
            side = SIDE.search(question.about)
            fields = frozenset({f"{side[1]}_ft"}) if side else ELEVATIONS
        if (question.about, question.field, question.why) == (BENCHMARK, "rod_ft", "missing"):
            return Doubt(number, question, frozenset(), ELEVATIONS)  # no figure rests on a rod that was never read
        if self._carries_the_datum(question):
            return Doubt(number, question, frozenset(known), ELEVATIONS)
        if question.field in OF_A_TEST:
            return Doubt(number, question, frozenset(labels), frozenset({question.field}))
        if not labels:
            said = {item.note for item in question.evidence}
            labels = {entry.label for entry in things(self.record) if said & {item.note for item in entry.evidence}}
            fields = None
        return Doubt(number, question, frozenset(labels), fields)

    def _choices(self, question: Question) -> list[str]:
        run = self.record.subject(question.about) if question.field == "crossings" else None
        if both := both_ways(question, run.crossings) if isinstance(run, Run) else []:
            return [crossing(each, self.language) for each in both]
        return [value(question.field, each, self.language) for each in question.choices or [] if each is not None]

    def _typed(self, question: Question) -> bool:
        told_in = [self.notes[item.note] for item in question.evidence if 0 <= item.note < len(self.notes)]
        return bool(told_in) and all(note.heard is None for note in told_in)

    def _carries_the_datum(self, question: Question) -> bool:
        # A backsight sets the height of the instrument, so a doubt about it is a doubt about every elevation.
        if "benchmark" in question.about.lower():
            return True
        backsights = {level.point for level in self.record.levels if level.kind == "backsight"}
        return question.field in {"rod_ft", "elevation_ft"} and question.about in backsights

    def on(self, label: str, *fields: str) -> list[Doubt]:
        """The doubts about any of these fields of the label; with no field given, about any of its fields."""
        return [
            doubt
            for doubt in self.all
            if label in doubt.labels and (not fields or doubt.fields is None or doubt.fields & set(fields))
        ]

    def on_run_slope(self, run: Run) -> list[Doubt]:
        """The doubts that reach a slope computed for the run: its own numbers and the inverts at its ends."""
        ends = [(run.from_, "invert_out_ft", "invert_depth_in"), (run.to, "invert_in_ft", "invert_out_ft")]
        at_ends = [doubt for label, *fields in ends if label for doubt in self.on(label, *fields)]
        return [*self.on(run.label, "length_ft", "drop_in", "slope_pct"), *at_ends]

    def on_entry(self, entry: Entry, at: str | None = None, *fields: str) -> list[Doubt]:
        """The doubts about an entry that has no label: those on its place and fields, or said in the same notes."""
        return [*(self.on(at, *fields) if at and fields else []), *self.in_notes(entry.evidence)]

    def in_notes(self, evidence: Iterable[Evidence]) -> list[Doubt]:
        """The doubts that come from any of the same notes."""
        said = {item.note for item in evidence}
        return [doubt for doubt in self.all if said & {item.note for item in doubt.question.evidence}]

    def mark(self, doubt: Doubt) -> Mark:
        """The mark of a doubt: a dagger with its number."""
        return Mark("†", doubt.number, f"{self.subject(doubt)}: {doubt.why}.")

    def subject(self, doubt: Doubt) -> str:
        """What a doubt is about, in words: `Run R-3, length`."""
        entry = self.record.subject(doubt.question.about)
        name = thing(entry, self.language) if entry else named(doubt.question.about, self.language)
        field = doubt.question.field
        if field:
            name = told("doubt", "of_field", self.language, thing=name, field=plain("field", field, self.language))
        return sentence(name)


def named(about: str, language: Language) -> str:
    """What is asked or found, where it is about no thing of the record: `CB-1 rim`, `photo 7`, `benchmark`, or what the
    crew called it."""
    first, _, rest = about.partition(" ")
    known = load("words", language)["about"]
    if LABEL.fullmatch(first) and rest in known:
        return form("side", language, label=first, side=known[rest])
    if first in known and rest.isdigit():
        return form("thing", language, kind=known[first], label=rest)
    return str(known[about]) if about in known else place(about.replace("_", " "), language)


def unique(marks: Iterable[Mark]) -> list[Mark]:
    """Each mark once, in order."""
    return sorted(set(marks))


def marked(text: str, marks: Iterable[Mark]) -> str:
    """The text followed by its marks: `45 ft †1`."""
    return " ".join([text, *map(str, unique(marks))])
