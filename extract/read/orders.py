"""Orders to take something back: a thing, a reading, the value of a field."""

from __future__ import annotations

import re
from collections.abc import Sequence, Set
from dataclasses import replace
from typing import Any

from extract.field_names import fields_of_order
from extract.read.happenings import Happenings
from extract.read.labels import MEASURED
from extract.read.plain import says
from extract.read.readings import Reading
from extract.read.together import names_several
from extract.read.values import value_of
from extract.read.words import order_words, sentence_around
from extract.record import Note
from extract.text.quantities import Quantity

FieldOf = tuple[str, str]
"""What a figure is about, and its field."""
FIGURES = MEASURED | {"fittings"}
SHOT = re.compile(r"\b(?:reading|shot|rod|lectura)\b", re.IGNORECASE)
SINCE = 3
"""Notes back to which one that puts something right may speak."""
MEANT = 0.5
"""Under which an order that calls nothing may be none, or speak of other things: it is asked about."""
DO_NOT = re.compile(r"\b(?:don't|do not|no te|no se)\s+\w+\b", re.IGNORECASE)
"""What is no order to take back: "don't forget the cover"."""
NEVER = re.compile(r"\b(?:never|nunca)\s(?!mind\b)", re.IGNORECASE)
"""The same at the beginning of an order or right before it."""
THAT_WAS = re.compile(
    r"\b(?:that|those)\s+(?:was|were)\s+(?:for\s+)?(?:the\s+)?$|\beso\s+era\s+del?\s+$", re.IGNORECASE
)
"""Right before the name of the thing that a figure may have been meant for: "that was run two"."""
I_MEANT = re.compile(r"\bI\s+meant?\s+(?:for\s+)?(?:the\s+)?$|\bdigo\W+(?:del?\s+)?(?:el\s+|la\s+)?$", re.IGNORECASE)
"""The same of a figure of the same note: "eight inches, I mean for run three"."""
MORE = re.compile(
    r"(?:\s*(?:,|and|&|y)\s+(?:the\s+|that\s+|el\s+|la\s+)?[^\W\d]+(?=\s*(?:[.,;!?]|$|(?:and|y|on|of|from|en|de)\b)))+",
    re.IGNORECASE,
)
"""What an order goes on with: "and the cover", and not ", cover is fine"."""


class Orders(Happenings):
    """Carries out what takes values back."""

    def _order(self, note: Note, one: Reading, readings: Sequence[Reading]) -> None:
        if one.name == "drop" and one.thing in self.things:
            self._drop(self.things[one.thing])
        elif one.name == "drop":
            self.entries.pop(one.thing, None)
        elif one.name == "clear":
            self._clear(note, one, readings)

    def _clear(self, note: Note, one: Reading, readings: Sequence[Reading]) -> None:
        """Values are taken back: the one of the number named, else those of the fields called, else the last given."""
        orders = [each for each in readings if (each.what, each.name) == ("order", "clear")]
        named = {each.thing for each in readings if each.what == "mention"}
        if one.thing not in self.things and len(named) == 1:
            one = replace(one, thing=named.pop())
        called, words = self._called(note, one), note.text[one.start : one.end]
        bare = not called and not SHOT.search(words)
        final = orders[-1].start == one.start
        denied = DO_NOT.search(note.text, sentence_around(note.text, one.start)[0], one.end)
        denied = denied or NEVER.search(note.text, max(0, one.start - len("never ")), one.start + len("never mind"))
        if denied or says("not_wrong", words) or (bare and not final):
            return  # "no, that can't be, forget that reading" is one order
        said = [each.quantity for each in readings if one.start <= each.start and each.end <= one.end and each.quantity]
        if self._clear_shot(note, one, said):
            return
        alone = any(each.what == "mention" for each in readings)
        places = self._places_of(one.thing, said)
        if places:
            self._clear_places(places, alone)
        elif said:  # "take off two feet"
            self._ask_of(note, one, self._last_place(one.thing))
        elif called:  # "scratch the drop, forget that drop" is one order too
            known = [self._called(note, each) for each in orders if each.start < one.start]
            self._clear_called(note, one, called.difference(*known), readings)
        elif one.sure < MEANT:
            self._ask_of(note, one, self._last_place(one.thing))
        else:
            last = self._last_place(one.thing)
            of_one = len({name for name, _ in last}) == 1
            if of_one:
                self._clear_places(last[-1:], alone)
            else:
                self._ask_of(note, one, last)

    @staticmethod
    def _called(note: Note, order: Reading) -> set[str]:
        """The fields that an order calls: "scratch the rim and the invert"."""
        words = order_words(note.text, order.start, order.end)
        more = MORE.match(note.text, order.start + len(words))
        return MEASURED & fields_of_order(words + (more[0] if more else ""))

    def _clear_shot(self, note: Note, one: Reading, said: Sequence[Quantity]) -> bool:
        """Whether an order takes back a rod reading, with the height told with it, or the benchmark's elevation: of the
        side that is called, else the last."""
        words = note.text[one.start : sentence_around(note.text, one.start)[1]].lower()
        called = self._called(note, one)
        shots = [each for each in self.levels if each.name == one.thing or one.thing not in self.things]
        sided = [each for each in shots if each.side and re.search(rf"\b{each.side.split('_')[0]}\b", words)]
        if sided or (shots and (SHOT.search(words) or (one.thing not in self.things and not called))):
            shot = (sided or shots)[-1]
            self.levels.remove(shot)
            self._take_back(shot.about, "rod_ft")
            if sided and self._held(shot.name, f"{shot.side}_ft"):
                self._clear_places([(shot.name, f"{shot.side}_ft")], alone=True)
            return True
        if not one.thing and "elevation_ft" in self.benchmark and not called:
            held = self.benchmark["elevation_ft"].value
            if said and all(value_of(each, "elevation_ft", self.crew) != held for each in said):
                return True  # "it's 97.5, forget the 100": another stands there already
            del self.benchmark["elevation_ft"]
            self._take_back("benchmark", "elevation_ft")
        return False

    def _last_place(self, name: str) -> list[tuple[str, str]]:
        """Where the numbers stand that were told last: the last of the thing, or, with no name, all those of the last
        note that told any."""
        told = [
            (held.witness.note, thing.name, field)
            for thing in self.things.values()
            for field, held in thing.fields.items()
            if not thing.gone and name in ("", thing.name) and not isinstance(held.value, str)
        ]
        last = max((place[0] for place in told), default=0)
        places = [place[1:] for place in told if place[0] == last]
        return places[-1:] if name else places

    def _ask_of(self, note: Note, one: Reading, places: Sequence[tuple[str, str]]) -> None:
        for name, field in places:
            self._ask(name, field, "low_confidence", self._witness(note, one, field), note)

    def _told_at(self, said: Sequence[Quantity]) -> list[tuple[int, str, str]]:
        """Wherever one of the numbers stands: the note that told it, the thing and the field."""
        return [
            (held.witness.note, thing.name, field)
            for thing in self.things.values()
            for field, held in thing.fields.items()
            if field in MEASURED and any(held.value == value_of(each, field, self.crew) for each in said)
        ]

    def _places_of(self, name: str, said: Sequence[Quantity]) -> list[tuple[str, str]]:
        """Where one of the numbers stands: of the thing, else where it was told last."""
        stand = self._told_at(said)
        return [max(stand, key=lambda place: (place[1] == name, place[0]))[1:]] if stand else []

    def _clear_called(self, note: Note, one: Reading, called: Set[str], readings: Sequence[Reading]) -> None:
        """Takes back the fields that an order calls: of the thing, else, where the note names none, of the thing of
        which one was told last. Where it may mean several, or finds nothing, it is asked about."""
        told = [
            (held.witness.note, thing.name, field)
            for thing in self.things.values()
            for field, held in thing.fields.items()
            if field in called
        ]
        own = [place for place in told if place[1] == one.thing]
        named = any(each.what == "mention" for each in readings)
        last = [place for place in told if not named and place[1] == max(told)[1]]
        if told and (names_several(note.text, one.start) or not (own or last)):
            self._ask_of(note, one, [place[1:] for place in told])
        else:
            self._clear_places([place[1:] for place in own or last], alone=named)

    def _clear_places(self, places: Sequence[tuple[str, str]], alone: bool) -> None:
        """Takes back what stands there and, unless it is meant `alone`, what was told together with it."""
        for name, field in places:
            value = self.things[name].fields[field].value
            for each in (name,) if alone else self._told_with(name, field) or (name,):
                held = self._held(each, field)
                if held and held.value == value:
                    del self.things[each].fields[field]
                    self._take_back(each, field)

    def _meant_for_other(self, note: Note, readings: Sequence[Reading]) -> list[tuple[str, str, str]]:
        """Of "that was run two", and no figure with it: each figure that the note before told of another thing of the
        kind, as that thing, the one named now, and the field. Of "I mean run two" those of the note itself."""
        told = [one for one in readings if one.what in MEASURED]
        for named in readings:
            before, other = note.text[: named.start], named.thing
            if named.what != "mention" or not other:
                continue
            if I_MEANT.search(before):
                own = [one for one in told if one.end <= named.start and _is_another(one.thing, other)]
                return [(one.thing, other, one.what) for one in own[-1:]]
            if THAT_WAS.search(before) and not told:
                return self._told_before_of_another(other)
        return []

    def _told_before_of_another(self, other: str) -> list[tuple[str, str, str]]:
        """Each figure that the note before told of another thing of the kind: see `_meant_for_other`."""
        last = len(self.taken) - 2
        figures = [
            (thing.name, other, field)
            for thing in self.things.values()
            if not thing.gone and _is_another(thing.name, other)
            for field, held in thing.fields.items()
            if field in MEASURED and held.witness.note == last
        ]
        tests = [
            (name, other, field)
            for name, held in self.tested.items()
            if _is_another(getattr(self.entries.get(name), "at", None) or "", other)
            for field in held
            if held[field].witness.note == last
        ]
        return figures + tests

    def _ask_of_other(self, note: Note, meant: Sequence[tuple[str, str, str]]) -> None:
        """Asks about figures that may have been meant for another thing, of both; `meant`: see `_meant_for_other`."""
        one = Reading(len(self.taken) - 1, 0, len(note.text), "order")
        for owner, other, field in meant:
            of_test = [(owner, field)] if owner in self.tested else []
            self._ask_of(
                note, one, of_test or [(other, field), *([(owner, field)] if self._held(owner, field) else [])]
            )

    def _ask_of_slip(self, note: Note, readings: Sequence[Reading]) -> None:
        """Where a note says that something was wrong and nothing came of it ("other way about"), the figures that were
        told last are asked about."""
        told = any(one.quantity or one.what == "order" or "corrects" in one.standing for one in readings)
        if told or not (says("slip", note.text) or says("mended", note.text)):
            return
        index = len(self.taken) - 1
        stand = [
            (item.note, thing.name, item.field)
            for thing in self.things.values()
            for item in thing.evidence
            if not thing.gone and item.note < index and item.field in FIGURES
        ]
        last = max(stand)[0] if stand else 0
        one = Reading(index, 0, len(note.text), "order")
        self._ask_of(note, one, [place[1:] for place in stand if place[0] == last])

    def _told_last(self) -> dict[FieldOf, Any]:
        """The figures of the last note before that told any, where they stand still."""
        index = len(self.taken) - 1
        lately = (self.told_in[note] for note in range(index - 1, index - 1 - SINCE, -1) if self.told_in.get(note))
        stand = {place: self._stands_at(*place) for place in next(lately, set())}
        return {place: value for place, value in stand.items() if value is not None}

    def _stands_at(self, about: str, field: str) -> Any:
        """What stands in a field of a thing, level or test."""
        thing = self.things.get(about)
        if field == "fittings":
            return [each.model_copy() for each in thing.fittings] or None if thing and not thing.gone else None
        levels = [level.fields for level in reversed(self.levels) if level.about == about]
        of_benchmark = [self.benchmark] if about == "benchmark" else []
        own = [thing.fields] if thing and not thing.gone else []
        told = (
            fields[field] for fields in [*own, *levels, *of_benchmark, self.tested.get(about, {})] if field in fields
        )
        held = next(told, None)
        return held.value if held else None

    def _ask_of_mended(self, note: Note, readings: Sequence[Reading], before: dict[FieldOf, Any]) -> None:
        """Where a note likely puts right what was told before and nothing came of it, the figures told last are asked
        about, as are those fields of things of the kind that the note names and tells none of; `before`: these figures
        as they were before the note."""
        index = len(self.taken) - 1
        told_now = self.told_in.get(index, set())
        corrects = any(one.what == "order" or {"corrects", "denied"} & one.standing for one in readings)
        after = {place: self._stands_at(*place) for place in before}
        unchanged = after == before and not corrects and index not in self.retold
        of_others = told_now or not unchanged  # it tells of other figures, or puts others right
        if of_others and not told_now & set(before) and None not in after.values():
            return
        others = {
            (f"{other} {side}".strip(), field)
            for about, field in before
            for name, _, side in [about.partition(" ")]
            for other in _named(readings)
            if _is_another(name, other) and self._stays(other) and (other, field) not in told_now
            if unchanged or not self._held(other, field)
        }
        one = Reading(index, 0, len(note.text), "order")
        self._ask_of(note, one, [*(before if unchanged else ()), *sorted(others)])

    def _stays(self, name: str) -> bool:
        """Whether there is such a thing, and it was not called off."""
        return name in self.things and not self.things[name].gone

    def _take_back(self, about: str, name: str) -> None:
        """No number stands in the field any more, and nothing is asked about it."""
        self.numbers.leave(about, name)
        for why in ("conflict", "hedged", "implausible", "low_confidence"):
            self.questions.pop((about, name, why), None)


def _named(readings: Sequence[Reading]) -> set[str]:
    """The things that a note names."""
    return {one.thing for one in readings if one.what == "mention" and one.thing}


def _is_another(name: str, other: str) -> bool:
    """Whether two names are of two things of one kind."""
    return name != other and name.partition(".")[0] == other.partition(".")[0]
