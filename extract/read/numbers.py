"""What became of each number that was said: the record's `numbers`."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field

from extract.read.labels import NO_FACT
from extract.read.readings import WORK_UNITS, Reading
from extract.record import Number, Reason, Went

REASONS: dict[str, Reason] = {
    "money": "money", "clock": "clock", "people": "people", "weather": "weather", "sport": "sport", "tool": "tool",
    "name_of": "name", "name": "name", "other": "other",
}  # fmt: skip
IN_WORDS = {
    "issue": "issues", "task": "tasks", "item": "tasks", "decision": "decisions", "change": "changes",
    "bedding": "bedding", "backfill": "backfill", "tie": "ties",
}  # fmt: skip
"""Where a number stands that is told in the words of such a span."""
FIELDS = {"fitting": "fittings", "area": "areas", "tie": "ties", "crossing": "crossings"}
"""The fields of a role that has another name."""
OF_LISTS = {"rod_ft": "levels", "elevation_ft": "levels", "duration_s": "tests", "flow_gpm": "tests", "count": "tasks"}


Place = tuple[int, int]
"""INDEX of a number's note, and the character that it begins at."""


@dataclass
class Fate:
    """A number and what became of it so far."""

    number: Number
    about: str = ""
    """What it is a value of, by the scene's own name."""
    name: str = ""
    """The field."""
    planned: bool = False
    beside: list[tuple[str, str]] = field(default_factory=list)
    """Where else it stands, told of several things at once."""


COUNTS = {"fittings", "pieces_ft", "stations_ft", "tasks"}
"""Fields that hold small numbers beside each other."""
STAND = {"field", "restated"}
"""What becomes of a number that stands in a field."""
NAMES = {"mention", "pipe"}
"""Spans whose numbers are names."""
FEW = 12
"""Of fittings, or of what is to buy: more are seldom a count."""
BEFORE = 2
"""How many notes before a number may be told of again by its figure alone: "the 26 isn't, she's 28"."""
LIKELY = 0.65
"""Under which a reading is as likely another as itself."""


class Numbers:
    """The numbers of all notes, in order."""

    def __init__(self) -> None:
        self.rows: dict[Place, Fate] = {}
        self._at: dict[tuple[str, str], dict[Place, None]] = defaultdict(dict)
        """Where the numbers stand that ever were of a field."""
        self._of: dict[int, list[Place]] = defaultdict(list)
        """Where those of a note stand."""

    def meet(self, text: str, one: Reading, readings: Sequence[Reading]) -> None:
        """A quantity is read; until it finds a place it is asked about."""
        if one.quantity is None:
            return
        around = [each for each in readings if each.quantity is None and _within(one, each)]
        over = any(each.quantity is None and _touches(one, each) for each in readings)
        named = any(each.what in NAMES for each in around)
        if one.what == "name" and (named or one.sure >= LIKELY):
            return
        loose = one.what == "none" and not any(each.what in ("order", *IN_WORDS) for each in around)
        if loose and (named or (over and text[one.start : one.end].lower() == "one")):
            return  # it is part of a name, or a pronoun
        number = Number(
            note=one.note, start=one.start, end=one.end, text=text[one.start : one.end], value=one.quantity.value,
            unit=one.quantity.unit, went="question",
        )  # fmt: skip
        name = FIELDS.get(one.what, one.what)
        fate = self.rows[one.note, one.start] = Fate(number, one.thing, name, "planned" in one.standing)
        unsure = one.quantity.unit in WORK_UNITS and one.sure < LIKELY
        if loose and over and one.quantity.unit in (*WORK_UNITS, "s"):
            fate.about, fate.name = "", ""  # of a result or a state
        elif one.what in REASONS and unsure:
            fate.about, fate.name = "", ""  # of other things, and may well be of the work
        elif one.what in REASONS or loose:
            number.went, number.reason = "irrelevant", REASONS.get(one.what, "other")
        elif one.what == "text" and not around and unsure:
            fate.about, fate.name = "", ""  # words of nothing that may well be a measure
        elif one.what in ("text", "none"):
            words = next((IN_WORDS[each.what] for each in reversed(around) if each.what in IN_WORDS), None)
            number.went, fate.about, fate.name = (
                ("text" if words or one.what == "text" else "withdrawn"),
                "",
                words or "",
            )
        elif NO_FACT & one.standing:
            number.went = "not_fact"
        elif one.what == "count":
            number.went, fate.about, fate.name = "field", "", "tasks"
        self._of[one.note].append((one.note, one.start))
        self._at[fate.about, fate.name][one.note, one.start] = None

    def place(self, one: Reading, about: str, name: str, restated: bool = False, alone: bool = True) -> None:
        """The number stands in a field, where it takes the place of the others unless they stand beside it."""
        if alone and not restated:
            self.leave(about, name)
        self.went(one, "restated" if restated else "field", about, name)

    def leave(self, about: str, name: str, value: float | None = None) -> None:
        """What stood in a field does so no more; in a list, that value of it."""
        for fate in self._fates(self._at[about, name]):
            if fate.number.went not in STAND or value not in (None, fate.number.value):
                continue
            if (about, name) in fate.beside:
                fate.beside.remove((about, name))
            elif (fate.about, fate.name) == (about, name) and fate.beside:
                fate.about, fate.name = fate.beside.pop()
            elif (fate.about, fate.name) == (about, name):
                fate.number.went = "withdrawn"

    def move(self, about: str, name: str, to: tuple[str, str]) -> None:
        """What stood in a field stands in another."""
        for fate in self._fates(self._at[about, name]):
            if (fate.about, fate.name) == (about, name):
                fate.about, fate.name = to
            fate.beside = [to if place == (about, name) else place for place in fate.beside]
        self._at[to] |= self._at[about, name]

    def went(self, one: Reading, went: Went, about: str, name: str) -> None:
        fate = self.rows.get((one.note, one.start))
        if fate:
            if {went, fate.number.went} <= STAND and fate.name == name and fate.about not in ("", about):
                fate.beside.append((fate.about, name))
            fate.number.went, fate.about, fate.name = went, about, name
            self._at[about, name][one.note, one.start] = None

    def echoed(self, one: Reading) -> list[tuple[str, str]]:
        """Where the same figure stands that was told in the notes right before, of which a figure alone may speak: in
        the same field of another thing, or in any, if it is not known what it is itself."""
        own = self.rows.get((one.note, one.start))
        if own is None or own.number.went == "restated" or own.number.value == 1:  # "one" may be a pronoun
            return []
        before = [place for note in range(one.note - BEFORE, one.note) for place in self._of[note]]
        same = [each for each in self._fates(before) if each.number.went == "field" and each.about]
        same = [each for each in same if own.number.unit in (None, each.number.unit)]
        same = [each for each in same if each.number.value == own.number.value and each.name not in COUNTS]
        places = dict.fromkeys((each.about, each.name) for each in same)
        unknown = own.number.went not in (*STAND, "text") and own.number.reason in (None, "other")
        few = own.name == "fittings" or own.number.went == "not_fact"
        loose = own.number.value > FEW if few else unknown
        return [place for place in places if place != (own.about, own.name) and (loose or place[1] == own.name)]

    def drop(self, one: Reading) -> None:
        """It was no number."""
        self.rows.pop((one.note, one.start), None)

    def like(self, one: Reading, others: Sequence[Reading]) -> None:
        """The others went where the one did: pieces said together, the numbers of a fitting."""
        fate = self.rows.get((one.note, one.start))
        for other in others:
            if fate and fate.number.went != "withdrawn":
                self.went(other, fate.number.went, fate.about, fate.name)

    def withdraw(self, note: int, before: int | None = None) -> None:
        """A note is taken back, or what it said before that character."""
        for fate in self._fates(self._of[note]):
            told = before is None or fate.number.start < before
            if told and fate.number.went not in ("irrelevant", "not_fact"):
                fate.number.went = "withdrawn"

    def _fates(self, places: Iterable[Place]) -> list[Fate]:
        return [self.rows[place] for place in places if place in self.rows]

    def settled(self, label_of: Callable[[str], str | None], stands: Callable[[str, str], bool]) -> list[Number]:
        """All of them as the record tells them. `stands`: whether a planned value of a thing's field is left in it."""
        out = []
        for _, fate in sorted(self.rows.items()):
            number = fate.number.model_copy()
            label = label_of(fate.about) if fate.about else ""
            listed = OF_LISTS.get(fate.name)
            if label is None and number.went in ("field", "restated", "question"):
                number.went = "withdrawn"
            elif (
                number.went == "field" and fate.about and fate.planned and not (listed or stands(fate.about, fate.name))
            ):
                number.went = "not_fact"
            if number.went in ("field", "restated", "text", "withdrawn"):
                number.to = listed or ".".join(part for part in (label, fate.name) if part) or None
            elif number.went == "question":
                number.to = ".".join(part for part in (label or listed or "job", fate.name) if part)
            out.append(number)
        return out


def _touches(one: Reading, other: Reading) -> bool:
    return one.start < other.end and other.start < one.end


def _within(one: Reading, other: Reading) -> bool:
    return other.start <= one.start and one.end <= other.end
