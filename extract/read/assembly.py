"""Readings of all notes, in order, into one record: what exists, in what state, every value with its witness.

`Assembly.take` is called note by note; `Assembly.record` computes the record. A value goes where its reading says,
unless it stands as no fact (a plan, a denial, hearsay); a later fact wins over an earlier plan; of two facts that
differ with no word of correction the later stands, and a question names both.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from itertools import pairwise
from typing import Any

from extract.read.fittings import fitting_of
from extract.read.labels import NO_FACT, PREFIXES
from extract.read.listed import area_of, crossing_of, joined_areas, joined_crossings, joined_ties, tie_of
from extract.read.numbers import Numbers
from extract.read.readings import Reading
from extract.read.values import (
    A_HUNDRED,
    ELEVATIONS,
    FEET,
    IMPERIAL,
    METRES,
    Crew,
    completed,
    crew_of,
    in_thousandths,
    list_of,
    rod_in_metres,
    sizes_of,
    value_of,
)
from extract.record import (
    Area,
    Crossing,
    Decision,
    Departure,
    Evidence,
    Fitting,
    Issue,
    Level,
    Note,
    Question,
    Record,
    Run,
    Structure,
    Task,
    Test,
    Tie,
    Went,
    Why,
)
from extract.site import plausible
from extract.text.quantities import Quantity

KINDS = {
    "CD": "channel_drain", "CB": "catch_basin", "AD": "area_drain", "DS": "downspout", "CO": "cleanout",
    "JB": "junction_box", "DW": "dry_well",
}  # fmt: skip
AS_BUILT = set("length_ft drop_in slope_pct cover_in rim_ft invert_in_ft invert_out_ft pieces_ft stations_ft".split())
"""A planned value of these leaves the field once the thing is built."""
SHOWS_BUILT = AS_BUILT | {"invert_depth_in", "fittings", "pieces_ft", "stations_ft"}
VALUES = AS_BUILT | {"nominal_in", "invert_depth_in", "size_in", "pieces_ft", "stations_ft"}
LISTED = {"area": "areas", "tie": "ties", "crossing": "crossings"}
LIMITS = {"areas": "area_sqft"}
"""Fields whose limits have another name."""
HAPPENINGS = ("issue", "test", "task", "decision", "change")
WITHDRAWS = ("withdraw_note", "withdraw_said")
SHOT = re.compile(r"\b(?:reading|shot|rod|lectura)\b", re.IGNORECASE)
TRAFFIC = ("foot", "cart", "car", "truck")
MOST_FEET = 5
"""Of the side of a box: a bare number to here is in feet, a larger one in inches."""
USUALLY_ROUND = 9.0
"""A basin of one number is square, but for one of nine inches so called; "the nine" is square."""
SQUARE = re.compile(r"\b(?:square|cuadrad\w+|each side|each way|both ways|por lado)\b", re.IGNORECASE)
ROUND = re.compile(r"\b(?:round|roond|circular|across|diameter|redond\w*|di[aá]metro)\b", re.IGNORECASE)
BY = re.compile(r"\W*(?:by|x|on|por)\W*", re.IGNORECASE)
ADDS = re.compile(r"\s*,?\s*(?:and|plus|y|con)?\s*(?:a\s)?", re.IGNORECASE)
"""Between feet and their inches."""
WAVERS = re.compile(r"\W*(?:wide|long|deep)?\W*(?:(?:or|to|maybe|could be|o|quiz[aá]s?)\W+)+|\W+", re.IGNORECASE)
APART = ("fitting", "pieces_ft", "stations_ft")
"""Where two numbers side by side are two."""
OF_ENTRIES = {"rod_ft", "elevation_ft", "duration_s", "flow_gpm"}
"""Told again, the later of two stands."""
BESIDE = {"cover_in", "pieces_ft", "stations_ft"}
"""Fields of which two values are no conflict."""
UNSURE = 0.5
"""Probability of a reading under which its number is asked about."""


@dataclass
class Held:
    """A value as it stands in a field."""

    value: Any
    standing: frozenset[str]
    witness: Evidence


@dataclass
class Thing:
    """A structure or run as the talk has it so far."""

    name: str
    kind: str | None
    label: str
    number: int | None = None
    state: str | None = None
    built: bool = False
    gone: bool = False
    fields: dict[str, Held] = field(default_factory=dict)
    fittings: list[Fitting] = field(default_factory=list)
    areas: list[Area] = field(default_factory=list)
    ties: list[Tie] = field(default_factory=list)
    crossings: list[Crossing] = field(default_factory=list)
    evidence: list[Evidence] = field(default_factory=list)

    votes: dict[str, float] = field(default_factory=dict)
    """How surely it was called each kind, summed over its mentions."""

    @property
    def prefix(self) -> str:
        """Of the kind that it was called most surely."""
        own = self.name.split(".")[0]
        return max(self.votes, key=lambda each: self.votes[each], default=own) if own != "R" else own


@dataclass
class Sighted:
    """A rod reading, and the elevation said with it."""

    name: str
    """Of the structure; empty for the benchmark."""
    side: str
    kind: str
    fields: dict[str, Held] = field(default_factory=dict)
    evidence: list[Evidence] = field(default_factory=list)

    @property
    def about(self) -> str:
        """What a question about it is about."""
        return f"{self.name} {self.side}" if self.name else "benchmark"


def crew_of_readings(texts: Sequence[str], readings: Sequence[Sequence[Reading]]) -> Crew:
    """How the crew of a log measures, by the readings of all of its notes."""
    said = [
        (one.quantity, text[one.start : one.end])
        for text, row in zip(texts, readings, strict=True)
        for one in row
        if one.quantity is not None
    ]
    return crew_of("\n".join(texts), said)


def joined(text: str, readings: Sequence[Reading], crew: Crew) -> list[Reading]:
    """The readings with those of one measure as one: "nine foot, and a half inch", "fifty-three, four"."""
    out: list[Reading] = []
    for one in readings:
        last = out[-1] if out else None
        if last and (last.what, last.thing) == (one.what, one.thing) and one.what not in APART:
            quantity = _one_measure(last, one, text[last.end : one.start], crew)
            if quantity:
                out[-1] = replace(last, end=one.end, quantity=quantity, standing=last.standing | one.standing)
                continue
        out.append(one)
    return out


def _one_measure(first: Reading, second: Reading, gap: str, crew: Crew) -> Quantity | None:
    a, b = first.quantity, second.quantity
    if a is None or b is None or a.parts or b.parts or crew.metric:
        return None
    if (
        crew.digits
        and gap in (" ", "-")
        and a.unit is None
        and 0 < a.value < 10 > b.value
        and b.unit in (None, "ft", "in")
    ):
        return b._replace(value=10 * a.value + b.value)  # "two three foot" is 23 ft
    feet = first.what == "length_ft" and a.unit in (None, "ft") and a.value % 1 == 0 and b.unit in (None, "in")
    sure = "hedged" not in first.standing | second.standing
    follow = b.value < 12 and int(b.value) != a.value and ADDS.fullmatch(gap) is not None
    inches = bool(b.unit or b.value % 1) or (sure and b.value < a.value)
    return a._replace(value=a.value + b.value / 12, unit="ft") if feet and follow and inches else None


class Assembly:
    """What the readings of the notes so far come to."""

    def __init__(self, crew: Crew = IMPERIAL) -> None:
        self.crew = crew
        self.levels_in = ""
        """What heights and rod readings are in, once that was heard: `ft` or `m`."""
        self.things: dict[str, Thing] = {}
        self.entries: dict[str, Issue | Test | Decision] = {}
        self.tested: dict[str, dict[str, Held]] = {}
        """By a test's name what was measured in it."""
        self.levels: list[Sighted] = []
        self.benchmark: dict[str, Held] = {}
        """The elevation of the benchmark, for its backsight."""
        self.tasks: list[Task] = []
        self.changes: list[tuple[str, Departure]] = []
        """Departures, each with the name of what it is about."""
        self.numbers = Numbers()
        self.taken: list[tuple[Note, Sequence[Reading]]] = []
        self.questions: dict[tuple[str, str | None, Why], Question] = {}

    def take(self, note: Note, readings: Sequence[Reading]) -> None:
        """One note's readings, in order: what is named first, then what is said of it."""
        self.taken.append((note, readings))
        readings = joined(note.text, readings, self.crew)
        order = next((one for one in reversed(readings) if one.what == "order" and one.name in WITHDRAWS), None)
        if order:
            self._rewind(len(self.taken) - 1 - (order.name == "withdraw_note"))
        for one in readings:
            self.numbers.meet(note.text, one, readings)
        if order:
            self.numbers.withdraw(order.note, order.end)
            readings = [one for one in readings if one.start >= order.end or one.what in (*HAPPENINGS, "item")]
        for one in readings:
            if one.what == "mention" and one.thing:
                self._mention(note, one)
        for one in readings:
            self._entry(note, one, readings)
        for one in readings:
            if one.quantity is not None:
                self._quantity(note, one, readings)
            elif one.what in SAYS:
                SAYS[one.what](self, note, one, readings)

    def _rewind(self, count: int) -> None:
        """All as it stood after that many notes; the numbers of the later ones are withdrawn."""
        taken, numbers = self.taken, self.numbers
        fresh = Assembly(self.crew)
        for note, readings in taken[: max(count, 0)]:
            fresh.take(note, readings)
        vars(self).update(vars(fresh))
        self.taken = taken
        for key, fate in numbers.rows.items():
            if key not in self.numbers.rows:
                self.numbers.rows[key] = fate
                self.numbers.withdraw(key[0])

    def _witness(self, note: Note, one: Reading, field_: str | None = None) -> Evidence:
        words = note.text[one.start : one.end]
        return Evidence(
            note=one.note, quote=words, confidence=round(min(1.0, note.confidence * one.sure), 4), field=field_
        )

    def _thing(self, name: str, number: int | None = None) -> Thing:
        thing = self.things.get(name)
        if thing is None:
            prefix = name.split(".")[0]
            taken = {each.label for each in self.things.values() if not each.gone}
            free = next(n for n in range(1, 10_000) if f"{prefix}-{n}" not in taken)
            thing = self.things[name] = Thing(name, KINDS.get(prefix), f"{prefix}-{number or free}")
        thing.gone = False
        thing.number = number or thing.number
        return thing

    def _mention(self, note: Note, one: Reading) -> None:
        if {"denied"} & one.standing and one.thing not in self.things:
            return
        thing = self._thing(one.thing, one.number)
        if one.name in PREFIXES and one.name != "R":
            thing.votes[one.name] = thing.votes.get(one.name, 0) + one.sure
        thing.evidence.append(self._witness(note, one))
        for run, end in ((one.from_of, "from"), (one.to_of, "to")):
            if run:
                witness = self._witness(note, one, end)
                self._thing(run).fields[end] = Held(one.thing, one.standing, witness)
                self._thing(run).evidence.append(witness)

    def _entry(self, note: Note, one: Reading, readings: Sequence[Reading]) -> None:
        witness = self._witness(note, one)
        words = note.text[one.start : one.end]
        name: Any = one.name
        if not one.name:
            return
        if one.what == "task":
            inside = [each for each in readings if one.start <= each.start and each.end <= one.end]
            item = next((note.text[each.start : each.end] for each in inside if each.what == "item"), None)
            count = next((each.quantity.value for each in inside if each.what == "count" and each.quantity), None)
            self.tasks.append(Task(kind=name, text=words, item=item, count=count, evidence=[witness]))
            return
        if (
            one.what not in ("issue", "test", "decision")
            or not one.thing
            or {"denied", "asked", "hypothetical"} & one.standing
        ):
            return
        entry = self.entries.get(one.thing)
        if entry is None:
            if one.what == "issue":
                entry = Issue(kind=name, text=words)
            elif one.what == "test":
                entry = Test(kind=name)
            else:
                entry = Decision(text=words, state=name)
            self.entries[one.thing] = entry
        elif isinstance(entry, Decision):
            entry.state, entry.text = one.name, words  # type: ignore[assignment]
        if isinstance(entry, Issue | Test) and one.at and not entry.at:
            entry.at = one.at
        entry.evidence.append(witness)

    def _quantity(self, note: Note, one: Reading, readings: Sequence[Reading]) -> None:
        assert one.quantity is not None
        if one.what in ("rod_ft", "elevation_ft"):
            self._level(note, one, readings)
        elif one.what in ("duration_s", "flow_gpm"):
            self._measured(note, one, readings)
        elif one.what in LISTED:
            self._listed(note, one, readings)
        elif one.what in VALUES:
            self._value(note, one, readings)

    def _measured(self, note: Note, one: Reading, readings: Sequence[Reading]) -> None:
        """How long a test took, and how much water it was."""
        entry = self.entries.get(one.thing)
        if not isinstance(entry, Test) or NO_FACT & one.standing or self._less_cautious(note, one, readings):
            return
        held = self.tested.setdefault(one.thing, {})
        put = self._stands(note, one, one.what, self._worth(note, one), held, one.thing)
        if put:
            setattr(entry, one.what, put.value)
            entry.evidence.append(put.witness)

    def _listed(self, note: Note, one: Reading, readings: Sequence[Reading]) -> None:
        """An area, a tie or a crossing."""
        if (NO_FACT | {"planned"}) & one.standing:
            self.numbers.went(one, "not_fact", one.thing, one.what)
            return
        name = LISTED[one.what]
        value = None if one.quantity is None else _rounded(self._worth(note, one))
        if one.quantity is not None and not self._may_stand(note, one, one.thing, name, value):
            return
        if not one.thing:
            return
        thing = self._thing(one.thing)
        if one.what == "area" and value is not None:
            anew = bool({"corrects", "again"} & one.standing)
            thing.areas = joined_areas(thing.areas, area_of(note.text, one, value), anew)
        elif one.what == "tie" and value is not None:
            thing.ties = joined_ties(thing.ties, tie_of(note.text, one, value))
        elif one.what == "crossing":
            crossing = crossing_of(note.text, one, readings, self.crew)
            thing.crossings = joined_crossings(thing.crossings, crossing) if crossing else thing.crossings
        thing.evidence.append(self._witness(note, one, name))
        self.numbers.place(one, one.thing, name, alone=False)

    def _worth(self, note: Note, one: Reading) -> float | None:
        """The value of a reading's quantity in the unit of its field."""
        assert one.quantity is not None
        crew = self.crew
        if one.what in ELEVATIONS or one.what == "rod_ft":
            crew = crew._replace(small=self._small_of_levels(note, one))
        value = value_of(one.quantity, one.what, crew)
        return None if value is None else completed(one.quantity, value, self._old(one), one.what, crew)

    def _small_of_levels(self, note: Note, one: Reading) -> str:
        """The small unit of heights: a crew that measures pipe in metres may have a rod in feet."""
        assert one.quantity is not None
        words, metric = note.text[one.start : one.end], None
        if METRES.search(words) or FEET.search(words):
            metric = bool(METRES.search(words))
        elif not self.crew.metric and self.levels_in != "m":
            metric = one.what == "rod_ft" and in_thousandths(one.quantity)
        elif one.what == "rod_ft":
            metric = rod_in_metres(one.quantity)
        elif not self.levels_in and (value_of(one.quantity, one.what) or 0) >= A_HUNDRED:
            metric = False
        if metric is not None:
            self.levels_in = "m" if metric else "ft"
        return "in" if self.levels_in == "ft" or (not self.levels_in and not self.crew.metric) else "mm"

    def _old(self, one: Reading) -> float | None:
        """The value that the field holds so far."""
        if one.what in ("rod_ft", "elevation_ft"):
            name = "" if one.side == "benchmark" else one.thing
            if one.what == "elevation_ft":
                known = self.things[name].fields if name in self.things else self.benchmark
                last = known.get(f"{one.side}_ft" if name else one.what)
                if last or not name:
                    return last.value if last else None
            same = [level for level in self.levels if (level.name, level.side) == (name, one.side)]
            last = same[-1].fields.get(one.what) if same else None
            return last.value if last else None
        held = self.things[one.thing].fields.get(one.what) if one.thing in self.things else None
        return held.value if held and isinstance(held.value, int | float) else None

    def _value(self, note: Note, one: Reading, readings: Sequence[Reading]) -> None:
        assert one.quantity is not None
        if NO_FACT & one.standing:
            return
        if one.what in ("pieces_ft", "stations_ft"):
            self._pieces(note, one, readings)
            return
        before, gap = self._before(note, one, readings)
        pronoun = before is not None and note.text[one.start : one.end].lower() == "one"
        if pronoun:
            self.numbers.drop(one)
        if pronoun or self._less_cautious(note, one, readings):
            return
        value: Any = self._sizes(note, one, readings) if one.what == "size_in" else self._worth(note, one)
        rise = before.quantity if before else None
        if (
            rise
            and one.what == "slope_pct"
            and rise.unit == "in"
            and one.quantity.unit == "ft"
            and one.quantity.value > 0
        ):
            value = rise.value / 12 / one.quantity.value * 100  # "an inch in ten foot"
        first = self._worth(note, before) if before and one.what == "slope_pct" else None
        if first is not None and value is not None and abs(first - value) < 0.03 * first:
            self.numbers.went(one, "restated", one.thing, one.what)
            return  # "one point six, one in sixty-two": the same told in another way
        self._put(note, one, one.what, _rounded(value))
        if before and (rise or BY.fullmatch(gap)) and one.what in ("slope_pct", "size_in"):
            self.numbers.like(one, [before])

    def _pieces(self, note: Note, one: Reading, readings: Sequence[Reading]) -> None:
        """Pieces or stations of a run, all that the note says of them at once; pieces come to a length."""
        alike = [each for each in readings if each.what == one.what and each.thing == one.thing]
        alike = [each for each in alike if not (NO_FACT | {"again"}) & each.standing]
        anew = next((i for i, each in enumerate(alike) if "corrects" in each.standing), 0)
        alike = alike[anew:]
        if not alike or one is not alike[0]:
            return
        gaps = [note.text[each.end : after.start] for each, after in pairwise(alike)]
        words = note.text[alike[0].start : alike[-1].end]
        crew = self.crew._replace(small="in") if FEET.search(words) and not METRES.search(words) else self.crew
        pieces = list_of([each.quantity for each in alike if each.quantity], one.what, crew, gaps)
        self._put(note, one, one.what, pieces)
        self.numbers.like(one, alike[1:])
        lengths = [each for each in readings if each.what == "length_ft" and each.thing == one.thing]
        said = any(not NO_FACT & each.standing for each in lengths)
        if one.what == "pieces_ft" and pieces and not said:
            self._put(note, one, "length_ft", round(sum(pieces), 4))

    @staticmethod
    def _before(note: Note, one: Reading, readings: Sequence[Reading]) -> tuple[Reading | None, str]:
        """The reading right before of the same field of the same thing, and the words between."""
        alike = [each for each in readings if each.what == one.what and each.thing == one.thing and each.quantity]
        at = alike.index(one)
        return (alike[at - 1], note.text[alike[at - 1].end : one.start]) if at else (None, "")

    def _less_cautious(self, note: Note, one: Reading, readings: Sequence[Reading]) -> bool:
        """Whether the larger of two is said that the speaker wavers between: "seven foot or eight"."""
        before, gap = self._before(note, one, readings)
        if before is None or not WAVERS.fullmatch(gap) or not {"hedged", "asked"} & one.standing:
            return False
        old, new = self._worth(note, before), self._worth(note, one)
        return old is not None and new is not None and new > old

    def _sizes(self, note: Note, one: Reading, readings: Sequence[Reading]) -> list[float]:
        """The numbers of a size: one of a basin is a square's unless it is said to be round; of others, if square."""
        assert one.quantity is not None
        sizes = sizes_of(one.quantity, self.crew)
        before, gap = self._before(note, one, readings)
        if len(sizes) == 1 and before and before.quantity and BY.fullmatch(gap):
            return self._of_ground(one, sizes_of(before.quantity, self.crew)[:1] + sizes)
        around = note.text[max(0, one.start - 30) : one.end + 30]
        usually = sizes == [USUALLY_ROUND] and one.quantity.unit == "in"
        basin = one.thing.startswith("CB.") and not usually and not ROUND.search(around)
        square = SQUARE.search(around) or basin
        return self._of_ground(one, sizes * 2 if len(sizes) == 1 and square else sizes)

    def _of_ground(self, one: Reading, sizes: list[float]) -> list[float]:
        """As in "two by two": of a basin, box or dry well they are feet."""
        feet = (
            len(sizes) == 2
            and max(sizes) <= MOST_FEET
            and one.thing.split(".")[0] in ("CB", "JB", "DW")
            and not self.crew.metric
        )
        return [12 * size for size in sizes] if feet else sizes

    def _put(self, note: Note, one: Reading, name: str, value: Any) -> None:
        """Puts a value of a thing, if it may stand."""
        if NO_FACT & one.standing:
            return
        if not one.thing:
            self._may_stand(note, one, "", name, value)
            return
        thing = self._thing(one.thing)
        put = self._stands(note, one, name, value, thing.fields, one.thing)
        if put:
            thing.built = thing.built or (name in SHOWS_BUILT and "planned" not in one.standing)
            thing.evidence.append(put.witness)

    def _stands(
        self, note: Note, one: Reading, name: str, value: Any, fields: dict[str, Held], about: str
    ) -> Held | None:
        """Puts the value among the fields if it may stand."""
        if "implausible" in one.standing and not NO_FACT & one.standing and name not in OF_ENTRIES:
            fields.pop(name, None)
            self.numbers.leave(about, name)
        old = fields.get(name)
        if not self._may_stand(note, one, about, name, value, old):
            return None
        self.numbers.place(one, about, name, restated=old is not None and old.value == value)
        fields.pop(name, None)
        fields[name] = Held(value, one.standing, self._witness(note, one, name))
        return fields[name]

    def _may_stand(self, note: Note, one: Reading, about: str, name: str, value: Any, old: Held | None = None) -> bool:
        """Whether a value may stand beside the old one; asks what it leaves open and closes what it settles."""
        if NO_FACT & one.standing:
            return False
        why: Why | None = None
        if "implausible" in one.standing or (value is not None and not plausible(LIMITS.get(name, name), value)):
            why = "implausible"
        elif value is None or value == []:
            why = "low_confidence"
        if not about:
            about, why = "job", why or "low_confidence"
        if why:
            self._ask(about, name, why, self._witness(note, one, name), note)
            self.numbers.went(one, "question", about, name)
            return False
        if old and self._yields(name, value, one.standing, old):
            self.numbers.went(one, "not_fact" if "planned" in one.standing else "withdrawn", about, name)
            return False
        self._doubt(note, one, about, name, value, old)
        return True

    @staticmethod
    def _yields(name: str, value: Any, standing: frozenset[str], old: Held) -> bool:
        """Whether a value gives way to the one that stands: a plan to a fact, a deeper cover to the least."""
        fact = "planned" not in old.standing
        least = name == "cover_in" and fact and old.value < value and "corrects" not in standing
        return least or (fact and "planned" in standing)

    def _doubt(self, note: Note, one: Reading, about: str, name: str, value: Any, old: Held | None) -> None:
        """The questions that a value which stands closes, and those that it leaves open."""
        witness, measured = self._witness(note, one, name), not isinstance(value, str)
        if "hedged" not in one.standing:
            for why in ("conflict", "hedged", "implausible", "low_confidence"):
                self.questions.pop((about, name, why), None)
        settled = {"corrects", *(("again",) if name in OF_ENTRIES else ())} & one.standing or name in BESIDE
        differs = measured and old and old.value != value and not settled
        if old and differs and not {"planned", "hedged"} & (old.standing | one.standing):
            self._ask(about, name, "conflict", witness, note, [old.value, value])
        if "hedged" in one.standing and measured:
            self._ask(about, name, "hedged", witness, note)
        elif one.sure < UNSURE and measured:
            self._ask(about, name, "low_confidence", witness, note)

    def _ask(
        self, name: str, field_: str | None, why: Why, witness: Evidence, note: Note, choices: list[Any] | None = None
    ) -> None:
        subject = name.partition(" ")[0]
        if subject not in ("benchmark", "job") and subject not in self.entries:
            self._thing(subject)
        self.questions.setdefault(
            (name, field_, why),
            Question(about=name, field=field_, heard=note.text, choices=choices, why=why, evidence=[witness]),
        )

    def _level(self, note: Note, one: Reading, readings: Sequence[Reading]) -> None:
        assert one.quantity is not None
        if NO_FACT & one.standing or not (one.thing or one.side == "benchmark"):
            return
        level, value = self._sighted(one), _rounded(self._worth(note, one))
        if one.what == "elevation_ft" and level.about == "benchmark":
            put = self._stands(note, one, one.what, value, self.benchmark, level.about)
            if put and level not in self.levels:
                self._ask(level.about, "rod_ft", "missing", put.witness, note)
            return
        rods = [each for each in readings if each.what == "rod_ft" and not NO_FACT & each.standing]
        shot = level in self.levels or any((each.thing, each.side) == (one.thing, one.side) for each in rods)
        if one.what == "elevation_ft" and not shot:
            self._put(note, one, f"{one.side}_ft", value)
            return
        put = self._stands(note, one, one.what, value, level.fields, level.about)
        if put:
            level.evidence.append(put.witness)
            if level not in self.levels:
                self.levels.append(level)
            self.questions.pop((level.about, "rod_ft", "missing"), None)
            if level.name:
                self._thing(level.name).built = True

    def _sighted(self, one: Reading) -> Sighted:
        """The reading that is meant: of the same point and sight, or the point's last where it is put right."""
        name = "" if one.side == "benchmark" else one.thing
        kind = one.sight or ("foresight" if name else "backsight")
        same = [each for each in self.levels if (each.name, each.side) == (name, one.side)]
        anyhow = {"corrects", "again"} & one.standing or one.what == "elevation_ft"
        same = [each for each in same if anyhow or each.kind == kind]
        return same[-1] if same else Sighted(name, one.side, kind)

    def _state(self, note: Note, one: Reading, readings: Sequence[Reading]) -> None:
        if not one.thing or (NO_FACT - {"hearsay"}) & one.standing:
            return
        thing = self._thing(one.thing)
        if one.name == "planned" and (thing.built or thing.state not in (None, "planned")):
            return
        thing.state = one.name
        thing.evidence.append(self._witness(note, one, "state"))

    def _word(self, note: Note, one: Reading, readings: Sequence[Reading]) -> None:
        """A class that is a field's value, or the words themselves."""
        if not one.thing:
            return
        value = one.name or note.text[one.start : one.end]
        if one.what == "kind":
            if not NO_FACT & one.standing:
                self._thing(one.thing).kind = value
            return
        old = self._thing(one.thing).fields.get(one.what)
        corrects = "corrects" in one.standing
        if one.what == "traffic" and old and not corrects and TRAFFIC.index(old.value) > TRAFFIC.index(value):
            return
        self._put(note, one, one.what, value)

    def _same(self, note: Note, one: Reading, readings: Sequence[Reading]) -> None:
        """The pipe of the run, or the size of the basin, named in the same note, or else of the one before."""
        kind = one.thing.split(".")[0]
        main, *more = ("pipe", "nominal_in") if kind == "R" else ("size_in",)
        others = [each.thing for each in readings if each.what == "mention" and each.name == kind]
        known = [name for name in self.things if name.startswith(f"{kind}.") and name != one.thing]
        near = [self.things[name].fields for name in [*reversed(others), *reversed(known)] if name in self.things]
        source = next((fields for fields in near if main in fields), {})
        for what in (main, *more):
            if what in source and one.thing:
                self._put(note, one, what, source[what].value)

    def _fitting(self, note: Note, one: Reading, readings: Sequence[Reading]) -> None:
        if "planned" in one.standing or NO_FACT & one.standing:
            self._placed_inside(one, readings, "not_fact")
            return
        fitting = fitting_of(one, readings, note.text, self.crew)
        if not self._may_stand(note, one, one.thing, "fittings", fitting.count):
            return
        run = self._thing(one.thing)
        same = [each for each in run.fittings if each.kind == fitting.kind]
        if {"corrects", "again"} & one.standing and same and _key(fitting)[1:] == (None, None, None):
            fitting = same[-1].model_copy(update={"count": fitting.count})  # "no, three": of those told of before
        alike = [each for each in run.fittings if _key(each) == _key(fitting)]
        if "corrects" in one.standing:
            alike = alike or same
            if alike:
                run.fittings.remove(alike[-1])
        elif "again" in one.standing and alike:
            self._placed_inside(one, readings, "restated")
            return
        self._placed_inside(one, readings, "field")
        run.built = True
        run.fittings.append(fitting)
        run.evidence.append(self._witness(note, one, "fittings"))

    def _placed_inside(self, one: Reading, readings: Sequence[Reading], went: Went) -> None:
        """The numbers of a fitting stand among the fittings."""
        for each in readings:
            if each.quantity and each.start < one.end and one.start < each.end:
                self.numbers.went(each, went, one.thing, "fittings")

    def _told(self, note: Note, one: Reading, readings: Sequence[Reading]) -> None:
        entry = self.entries.get(one.thing)
        if one.what == "action" and isinstance(entry, Issue) and not NO_FACT & one.standing:
            entry.action = one.name  # type: ignore[assignment]
        elif one.what == "result" and isinstance(entry, Test) and not NO_FACT & one.standing:
            entry.result = one.name  # type: ignore[assignment]

    def _order(self, note: Note, one: Reading, readings: Sequence[Reading]) -> None:
        if one.name == "drop" and one.thing in self.things:
            self.things[one.thing].gone = True
        elif one.name == "drop":
            self.entries.pop(one.thing, None)
        elif one.name == "clear":
            self._clear(note, one, readings)

    def _clear(self, note: Note, one: Reading, readings: Sequence[Reading]) -> None:
        """A value is taken back: the one of the number named, else the last that was given."""
        inside = [each for each in readings if each.quantity and one.start <= each.start and each.end <= one.end]
        shots = [each for each in self.levels if each.name == one.thing or one.thing not in self.things]
        if shots and (SHOT.search(note.text[one.start : one.end]) or one.thing not in self.things):
            self.levels.remove(shots[-1])
            self.numbers.leave(shots[-1].about, "rod_ft")
            return
        if one.thing not in self.things:
            return
        fields = self.things[one.thing].fields
        numeric = [name for name, held in fields.items() if not isinstance(held.value, str)]
        said = [
            name for name in numeric for each in inside
            if each.quantity and value_of(each.quantity, name, self.crew) == fields[name].value
        ]  # fmt: skip
        for name in [*numeric, *said][-1:]:
            fields.pop(name)
            self.numbers.leave(one.thing, name)
            for why in ("conflict", "hedged", "implausible", "low_confidence"):
                self.questions.pop((one.thing, name, why), None)

    def _change(self, note: Note, one: Reading, readings: Sequence[Reading]) -> None:
        if not NO_FACT & one.standing:
            text = note.text[one.start : one.end]
            self.changes.append((one.at, Departure(text=text, evidence=[self._witness(note, one)])))

    def record(self) -> Record:
        """The record as it stands."""
        self._settle_labels()
        for entry in self.entries.values():
            if isinstance(entry, Test) and entry.at in self.things:
                self.things[entry.at].built = True
        names = {thing.name: thing.label for thing in self.things.values() if not thing.gone}
        record = Record(tasks=self.tasks)
        for thing in self.things.values():
            if not thing.gone:
                self._enter(record, thing, names)
        for level in self.levels:
            if "rod_ft" in level.fields and (not level.name or level.name in names):
                self._enter_level(record, level, names)
        for entry in self.entries.values():
            if isinstance(entry, Issue | Test):
                entry = entry.model_copy(update={"at": names.get(entry.at or "")})
            group = {Issue: record.issues, Test: record.tests, Decision: record.decisions}[type(entry)]
            group.append(entry)  # type: ignore[attr-defined]
        record.changes = [each.model_copy(update={"about": names.get(about)}) for about, each in self.changes]
        record.numbers = self.numbers.settled(
            lambda about: self._about(about, names), lambda about, name: self._left(record.subject(names[about]), name)
        )
        self._ask_of_lost(record, names)
        for question in self.questions.values():
            about = self._about(question.about, names)
            if about:
                record.questions.append(question.model_copy(update={"about": about}))
        return record

    def _ask_of_lost(self, record: Record, names: dict[str, str]) -> None:
        """A question about each measure of the work that found no place, unless another has come to stand there."""
        asked = {(self._about(about, names), name) for about, name, _ in self.questions}
        shot = {level.point for level in record.levels}
        for number in record.numbers:
            about, _, name = (number.to or "").partition(".")
            if number.went != "question" or (about, name) in asked:
                continue
            if about in shot or self._left(record.subject(about), name):
                number.went, number.to = "withdrawn", None
                continue
            asked.add((about, name))
            note = self.taken[number.note][0]
            witness = Evidence(note=number.note, quote=number.text, confidence=note.confidence, field=name)
            record.questions.append(
                Question(about=about, field=name, heard=note.text, why="low_confidence", evidence=[witness])
            )

    @staticmethod
    def _left(entry: Structure | Run | None, name: str) -> bool:
        """Whether a field of the record's entry holds anything."""
        return bool(getattr(entry, LISTED.get(name, name), None))

    def _about(self, about: str, names: dict[str, str]) -> str | None:
        """The label that a question is about; none where that is out of the record."""
        name, _, side = about.partition(" ")
        if about in ("benchmark", "job"):
            return about
        entry = self.entries.get(name)
        if entry is not None:
            return names.get(getattr(entry, "at", None) or "", "job")
        return f"{names[name]} {side}".strip() if name in names else None

    def _enter_level(self, record: Record, level: Sighted, names: dict[str, str]) -> None:
        point = f"{names[level.name]} {level.side}" if level.name else "benchmark"
        said = {name: held.value for name, held in level.fields.items()}
        if not level.name and level.kind == "backsight" and self.benchmark:
            said["elevation_ft"] = self.benchmark["elevation_ft"].value
        shape: Any = {"point": point, "kind": level.kind, "evidence": level.evidence} | said
        record.levels.append(Level(**shape))
        structure = record.subject(names.get(level.name, ""))
        free = isinstance(structure, Structure) and getattr(structure, f"{level.side}_ft") is None
        if free and "elevation_ft" in said:
            setattr(structure, f"{level.side}_ft", said["elevation_ft"])

    def _settle_labels(self) -> None:
        """A spoken number wins, of two with the same the first; what stood in its place takes the lowest free."""
        live = [thing for thing in self.things.values() if not thing.gone]
        first = {f"{thing.prefix}-{thing.number}": thing for thing in reversed(live) if thing.number}
        taken = set(first)
        for thing in live:
            said = f"{thing.prefix}-{thing.number}"
            if first.get(said) is thing:
                thing.label = said
                continue
            if thing.number and thing.evidence:
                self.questions.setdefault((thing.name, "label", "conflict"), _twice(thing, said))
            if thing.label in taken or not thing.label.startswith(f"{thing.prefix}-"):
                free = next(n for n in range(1, 10_000) if f"{thing.prefix}-{n}" not in taken)
                thing.label = f"{thing.prefix}-{free}"
            taken.add(thing.label)

    def _enter(self, record: Record, thing: Thing, names: dict[str, str]) -> None:
        state: Any = thing.state
        if thing.built and state in (None, "planned"):
            state = "installed"
        entry: Structure | Run
        if thing.prefix == "R":
            entry = Run(label=thing.label, state=state, fittings=thing.fittings, evidence=thing.evidence)
            entry.crossings = thing.crossings
        else:
            kind: Any = (thing.kind or None) if thing.prefix == "OUT" else KINDS[thing.prefix]
            entry = Structure(label=thing.label, kind=kind, state=state, evidence=thing.evidence)
            entry.areas, entry.ties = thing.areas or None, thing.ties
        allowed = type(entry).model_fields
        for name, held in thing.fields.items():
            left = "planned" in held.standing and name in AS_BUILT and state not in (None, "planned")
            if name in ("from", "to"):
                setattr(entry, "from_" if name == "from" else "to", names.get(held.value))
            elif name in allowed and not left:
                setattr(entry, name, held.value)
        if isinstance(entry, Run):
            record.runs.append(entry)
        else:
            record.structures.append(entry)
        asked = {field_ for name, field_, _ in self.questions if name == thing.name}
        first = thing.evidence[:1]
        if state is None and "state" not in asked:
            record.questions.append(Question(about=thing.label, field="state", why="missing", evidence=first))
        if isinstance(entry, Run) and state == "installed" and entry.length_ft is None and "length_ft" not in asked:
            record.questions.append(Question(about=thing.label, field="length_ft", why="missing", evidence=first))


def _twice(thing: Thing, label: str) -> Question:
    """Asks which of two things that were called by the same number is meant."""
    heard = thing.evidence[0].quote
    return Question(about=thing.name, heard=heard, choices=[label], why="conflict", evidence=thing.evidence[:1])


def _rounded(value: Any) -> Any:
    if value is None:
        return None
    return [round(each, 4) for each in value] if isinstance(value, list) else round(value, 4)


def _key(fitting: Fitting) -> tuple[Any, ...]:
    return fitting.kind, fitting.angle_deg, fitting.nominal_in, fitting.to_nominal_in


SAYS = {
    "state": Assembly._state,
    "pipe": Assembly._word,
    "kind": Assembly._word,
    "traffic": Assembly._word,
    "bedding": Assembly._word,
    "backfill": Assembly._word,
    "fitting": Assembly._fitting,
    "same": Assembly._same,
    "action": Assembly._told,
    "result": Assembly._told,
    "order": Assembly._order,
    "change": Assembly._change,
    "crossing": Assembly._listed,
}
