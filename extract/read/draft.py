"""The record in the making: what is known so far, and whether a value may stand in it."""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Sequence
from functools import lru_cache
from typing import Any

from extract.limits import limits, plausible
from extract.read.labels import NO_FACT
from extract.read.numbers import Numbers
from extract.read.readings import Reading
from extract.read.things import KINDS, TURNING, Held, Sighted, Thing
from extract.read.values import ELEVATIONS, IMPERIAL, Crew
from extract.record import Decision, Departure, Evidence, Fitting, Issue, Note, Question, Task, Test, Why
from extract.spelling import normalise

AS_BUILT = set("length_ft drop_in slope_pct cover_in rim_ft invert_in_ft invert_out_ft pieces_ft stations_ft".split())
"""A planned value of these leaves the field once the thing is built."""
SHOWS_BUILT = AS_BUILT | {"invert_depth_in", "fittings", "pieces_ft", "stations_ft"}
OF_ENTRIES = {"rod_ft", "elevation_ft", "duration_s", "flow_gpm"}
"""Told again, the later of two stands."""
BESIDE = {"cover_in", "pieces_ft", "stations_ft"}
"""Fields of which two values are no conflict."""
BELOW_ZERO = re.compile(r"\b(?:minus|negative)[ \t]*$|(?:^|[a-z] )[-\u2212]$", re.IGNORECASE)
"""What stands before a figure below zero, which is asked about: a quantity bears no sign."""
UNSURE: float = limits()["confidence"]["reading"]
"""Probability of a reading under which its number is asked about."""
SETTLES = 0.6
"""The same for a value near the one that it settles, which bears out what it is and what it is of."""
NEAR, NEAR_HEIGHTS = 0.2, 0.5
"""How far two values of which one settles the other lie apart at most, by the larger, and two heights, in feet."""
SEVERAL = {"fittings", "areas", "ties", "crossings"}
"""Fields that hold several entries: what is told of one answers nothing about another."""
LONGEST_QUOTE = 160
SMALL = {"a", "an", "and", "of", "."}
"""Words that a recogniser is never sure of, and that tell nothing."""
LIMITS = {"areas": "area_sqft"}
"""Fields whose limits have another name."""


def near(name: str, one: Any, other: Any) -> bool:
    """Whether two numbers of a field are nearly the same."""
    if not (isinstance(one, int | float) and isinstance(other, int | float)):
        return False
    height = name in ELEVATIONS or name == "rod_ft"
    return abs(one - other) <= (NEAR_HEIGHTS if height else NEAR * max(abs(one), abs(other)))


def rounded(value: Any) -> Any:
    """A value, or a list of them, to four decimals."""
    if value is None:
        return None
    return [round(each, 4) for each in value] if isinstance(value, list) else round(value, 4)


def quoted(text: str, one: Reading) -> str:
    """The note's words, of a long note those around the reading."""
    if len(text) <= LONGEST_QUOTE:
        return text
    low = max(0, min(one.start - LONGEST_QUOTE // 3, len(text) - LONGEST_QUOTE))
    return text[low : low + LONGEST_QUOTE]


def heard(note: Note, one: Reading) -> float:
    """The least confidence of the words that a reading was heard in; 1 for a typed note."""
    if not note.words:
        return note.confidence
    said = set(_plain_words(note.text[one.start : one.end])) - SMALL
    least: dict[str, float] = {}
    for word in note.words:
        for token in _plain_words(word.text):
            least[token] = min(word.confidence, least.get(token, 1.0))
    return min((least[each] for each in said if each in least), default=note.confidence)


@lru_cache(maxsize=10_000)
def _plain_words(text: str) -> tuple[str, ...]:
    return tuple(map(str, normalise(text)))


def reads_two_ways(one: Reading) -> bool:
    """Whether its words may mean another number: "ninety-seven four" is 97.4 and may be 97.04, where "ninety-seven oh
    four" may not."""
    said = one.quantity
    if said is None:
        return False
    height = one.what in ELEVATIONS and len(said.parts) > 1 and said.parts[-1] < 10 and said.parts[-2] != 0
    return said.glued or height


def badly_heard(note: Note, one: Reading) -> bool:
    """Whether a number was heard so badly that it must be asked about, or its whole note was."""
    bounds = limits()["confidence"]
    return bool(note.words) and (heard(note, one) < bounds["number"] or note.confidence < bounds["note"])


class Draft:
    """What the notes so far come to."""

    def __init__(self, crew: Crew = IMPERIAL) -> None:
        self.crew = crew
        self.levels_in = ""
        """What heights and rod readings are in, once that was heard: `ft` or `m`."""
        self.things: dict[str, Thing] = {}
        self.called: dict[str, int] = {}
        """By what number a note that was taken back called a thing: later notes may speak of it."""
        self.labels: set[str] = set()
        """Of the things that are not called off."""
        self.lowest: dict[str, int] = defaultdict(lambda: 1)
        """By prefix the number below which every label is taken."""
        self.together: dict[tuple[str, str], tuple[int, tuple[str, ...]]] = {}
        """By a thing's name and a field, the note that last told that of several things at once, and these."""
        self.entries: dict[str, Issue | Test | Decision] = {}
        self.same: dict[str, str] = {}
        """The names of tests told again, each with that by which the test is known."""
        self.tested: dict[str, dict[str, Held]] = {}
        """By a test's name what was measured in it."""
        self.levels: list[Sighted] = []
        self.benchmark: dict[str, Held] = {}
        """The elevation of the benchmark, for its backsight."""
        self.tasks: list[Task] = []
        self.changes: list[tuple[str, Departure]] = []
        """Departures, each with the name of what it is about."""
        self.numbers = Numbers()
        self.last_fitting: Fitting | None = None
        """The one that the note being taken told last."""
        self.told_in: dict[int, set[tuple[str, str]]] = defaultdict(set)
        """By INDEX of a note what it told figures of, with the field of each."""
        self.retold: set[int] = set()
        """INDEX of each note that told a figure again, or another one, where one stood."""
        self.taken: list[tuple[Note, Sequence[Reading]]] = []
        self.questions: dict[tuple[str, str | None, Why], Question] = {}

    def _witness(self, note: Note, one: Reading, field_: str | None = None) -> Evidence:
        confidence = round(min(1.0, heard(note, one) * one.sure), 4)
        corrects = "corrects" in one.standing
        quote = quoted(note.text, one)
        return Evidence(note=one.note, quote=quote, confidence=confidence, field=field_, corrects=corrects)

    def _thing(self, name: str, number: int | None = None) -> Thing:
        thing = self.things.get(name)
        if thing is None:
            prefix, number = name.split(".")[0], number or self.called.get(name)
            label = f"{prefix}-{number}" if number else self._free(prefix)
            thing = self.things[name] = Thing(name, KINDS.get(prefix), label)
        thing.gone = False
        self.labels.add(thing.label)
        thing.number = number or thing.number
        return thing

    def _held(self, name: str, field_: str) -> Held | None:
        """What stands in a field of the thing, if there is such a thing."""
        return self.things[name].fields.get(field_) if name in self.things else None

    def _told_with(self, name: str, field_: str) -> tuple[str, ...]:
        """The things of which this note or the one right before told that field at once."""
        note, names = self.together.get((name, field_), (-1, ()))
        return names if note >= len(self.taken) - 2 else ()

    def _free(self, prefix: str) -> str:
        """The lowest label of a prefix that no thing has."""
        while f"{prefix}-{self.lowest[prefix]}" in self.labels:
            self.lowest[prefix] += 1
        return f"{prefix}-{self.lowest[prefix]}"

    def _drop(self, thing: Thing) -> None:
        """The thing is called off, and its label free."""
        thing.gone = True
        if not any(each.label == thing.label for each in self.things.values() if not each.gone):
            self.labels.discard(thing.label)
            self.lowest[thing.label.rpartition("-")[0]] = 1

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
        # where the field was empty nothing leaves it: two sights on one point are two fields of one subject
        restated = old is not None and old.value == value
        if one.quantity is not None:  # of words that begin with a number, that stands in the words
            self.numbers.place(one, about, name, restated=restated, alone=old is not None)
        fields.pop(name, None)
        doubted = any(self._raised(about, name, why) == one.note for why in ("hedged", "low_confidence"))
        fields[name] = Held(value, one.standing, self._witness(note, one, name), one.sure, doubted)
        if one.quantity is not None:
            self.told_in[one.note].add((about, name))
        if old is not None and old.witness.note != one.note:
            self.retold.add(one.note)
        return fields[name]

    def _raised(self, about: str, name: str, why: Why) -> int | None:
        """The note that raised the question about the field, if that is open."""
        question = self.questions.get((about, name, why))
        return question.evidence[-1].note if question else None

    def _may_stand(self, note: Note, one: Reading, about: str, name: str, value: Any, old: Held | None = None) -> bool:
        """Whether a value may stand beside the old one; asks what it leaves open and closes what it settles."""
        if NO_FACT & one.standing:
            return False
        why: Why | None = None
        cannot = value is not None and not self._can_be(about, name, value)
        below = one.quantity is not None and bool(BELOW_ZERO.search(note.text[: one.start]))
        if "implausible" in one.standing or cannot or below:
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

    def _can_be(self, about: str, name: str, value: Any) -> bool:
        """Whether a yard can hold the value: a height lies no farther from all others than a yard is high."""
        if name not in ELEVATIONS:
            return plausible(LIMITS.get(name, name), value)
        held = [((thing.name, key), each) for thing in self.things.values() for key, each in thing.fields.items()]
        held += [((level.about, key), each) for level in self.levels for key, each in level.fields.items()]
        held += [(("benchmark", key), each) for key, each in self.benchmark.items()]
        others = [each.value for key, each in held if key[1] in ELEVATIONS and key != (about, name)]
        return not others or any(plausible("elevation_apart_ft", abs(value - other)) for other in others)

    @staticmethod
    def _yields(name: str, value: Any, standing: frozenset[str], old: Held) -> bool:
        """Whether a value gives way to the one that stands: a plan to a fact, a deeper cover to the least."""
        fact = "planned" not in old.standing
        least = name == "cover_in" and fact and old.value < value and "corrects" not in standing
        return least or (fact and "planned" in standing)

    def _doubt(self, note: Note, one: Reading, about: str, name: str, value: Any, old: Held | None) -> None:
        """The questions that a value which stands closes, and those that it leaves open."""
        witness, measured = self._witness(note, one, name), not isinstance(value, str)
        unsure = "hedged" in one.standing or (measured and badly_heard(note, one))
        waited = self._waits(one, about, name) or (old is not None and old.doubted and old.witness.note != one.note)
        same = name not in SEVERAL or "corrects" in one.standing
        # of two sights on one point, the one told again answers nothing about the other
        other = name == "rod_ft" and old is not None and old.value == value and not old.doubted
        answers = same and not unsure and not other and self._answered(one, about, name, value)
        confirms = waited and old is not None and old.value == value
        told_before = old is not None and old.witness.note != one.note
        later = {"again"} if name in OF_ENTRIES and told_before else set()
        settled = ({"corrects"} | later) & one.standing or name in BESIDE
        differs = measured and old and old.value != value and not settled and not answers
        if old and differs and not {"planned", "hedged"} & (old.standing | one.standing):
            self._ask_which(about, name, old, value, witness, note)
        if "hedged" in one.standing and measured:
            if "planned" not in one.standing or one.sure < UNSURE:  # a rough plan is no doubt about the work
                self._ask(about, name, "hedged", witness, note)
            return
        known = (confirms and one.sure >= SETTLES) or self._stood(old, value, one)
        bound = SETTLES if waited and old is not None and near(name, old.value, value) else UNSURE
        doubted = badly_heard(note, one) or ((one.sure < bound or reads_two_ways(one)) and not known)
        if measured and doubted and (about, name, "conflict") not in self.questions:  # which of them holds is asked
            self._ask(about, name, "low_confidence", witness, note)

    def _stood(self, old: Held | None, value: Any, one: Reading) -> bool:
        """Whether the same value stood already, and was surely read; a badly heard one told again is borne out."""
        if old is None or old.value != value:
            return False
        if self.taken[old.witness.note][0].words and old.witness.note != one.note:
            return 1 - (1 - old.sure) * (1 - one.sure) >= UNSURE
        return old.witness.confidence >= UNSURE

    def _waits(self, one: Reading, about: str, name: str) -> bool:
        """Whether another note raised a question about the field, other than which of two values it holds."""
        asked = (self.questions.get((about, name, why)) for why in ("hedged", "implausible", "low_confidence"))
        return any(question and question.evidence[-1].note != one.note for question in asked)

    def _misheard(self, one: Reading, about: str, name: str) -> bool:
        """Whether another note's sound raised a question about the field."""
        raised = self._raised(about, name, "low_confidence")
        return raised not in (None, one.note) and bool(self.taken[raised or 0][0].words)

    def _answered(self, one: Reading, about: str, name: str, value: Any) -> bool:
        """Closes the questions that the value answers; whether there was one, and another note had raised it.

        Of two values in conflict a third that is no correction settles nothing.
        """
        found = False
        for why in ("conflict", "hedged", "implausible", "low_confidence"):
            question = self.questions.get((about, name, why))
            if question is None:
                continue
            if why != "conflict" or "corrects" in one.standing or value in (question.choices or ()):
                self.questions.pop((about, name, why))
                raised = question.evidence[-1].note
                heard = why != "low_confidence" or bool(self.taken[raised][0].words)
                found = found or (heard and raised != one.note)
        return found

    def _ask_which(self, about: str, name: str, old: Held, value: Any, witness: Evidence, note: Note) -> None:
        """Asks which of the values holds that were said of a field, with the words of each."""
        known = self.questions.pop((about, name, "conflict"), None)
        choices = [*((known and known.choices) or [old.value]), value]
        self._ask(about, name, "conflict", witness, note, choices)
        self.questions[about, name, "conflict"].evidence[:0] = known.evidence if known else [old.witness]

    def _ask(
        self, name: str, field_: str | None, why: Why, witness: Evidence, note: Note, choices: list[Any] | None = None
    ) -> None:
        subject = name.partition(" ")[0]
        no_thing = subject in ("benchmark", "job") or subject in self.entries or subject.startswith(TURNING)
        if not no_thing:
            self._thing(subject)
        of = f"{name} {witness.note}" if name == "job" else name  # of nothing: each is a number of its own
        self.questions.setdefault(
            (of, field_, why),
            Question(about=name, field=field_, heard=note.text, choices=choices, why=why, evidence=[witness]),
        )
