"""The quantities of a note as values of fields."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import replace
from itertools import pairwise
from typing import Any

from extract.read.draft import SETTLES, UNSURE, Draft, badly_heard, rounded
from extract.read.fittings import ALONG, ANGLES, AT, COMMON, STEPS, TURNS, fitting_of, place_alone, uncounted
from extract.read.labels import NO_FACT
from extract.read.listed import (
    area_before,
    area_of,
    crossing_before,
    crossing_of,
    is_clearance,
    joined_areas,
    joined_crossings,
    tie_before,
    tie_of,
)
from extract.read.numbers import LIKELY
from extract.read.plain import says
from extract.read.readings import Reading
from extract.read.things import Held, Thing
from extract.read.values import (
    A_HUNDRED,
    ELEVATIONS,
    FEET,
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
from extract.read.words import sentence_around
from extract.record import Area, Crossing, Fitting, Note, Tie, Went, Why
from extract.text.quantities import Quantity

LISTED = {"area": "areas", "tie": "ties", "crossing": "crossings"}
MOST_FEET = 5
"""Of the side of a box: a bare number to here is in feet, a larger one in inches."""
USUALLY_ROUND = 9.0
"""A basin of one number is square, but for one of nine inches so called; "the nine" is square."""
SQUARE = re.compile(r"\b(?:square|cuadrad\w+|each side|each way|both ways|por lado)\b", re.IGNORECASE)
ROUND = re.compile(r"\b(?:round|roond|circular|across|diameter|redond\w*|di[aá]metro)\b", re.IGNORECASE)
BY = re.compile(r"\W*(?:by|x|on|por)\W*", re.IGNORECASE)
ADDS = re.compile(r"\s*,?\s*(?:and|plus|y|con)?\s*(?:a\s)?", re.IGNORECASE)
"""Between feet and their inches."""
STICKS = re.compile(
    r"\s+(?:full|whole|complete|more)\s+(?:sticks?|lengths?|joints?|pieces?|pipes?)\b"
    r"|\s+(?:tubos?|tiras?|tramos?)\s+(?:enter|complet)[oa]s?\b",
    re.IGNORECASE,
)
"""Behind a count of pieces whose length nobody told."""
WAVERS = re.compile(r"\W*(?:wide|long|deep)?\W*(?:(?:or|to|maybe|could be|o|quiz[aá]s?)\W+)+|\W+", re.IGNORECASE)
INCHES = 12
"""Of a foot."""
COUNT_ALONE = re.compile(r"[^\W\d]+(?:\s+of\s+(?:'?em|them|those|these))?|\d+", re.IGNORECASE)
"""Words of a fitting that tell nothing but a number."""
ANGLES_SINCE = 2
"""Notes in which it may have been said of what."""
OF_BENDS = (None, "deg", "angle")
"""Units of an angle."""
DENIES = re.compile(r"\b(?:not|no)\s", re.IGNORECASE)
"""What a fitting begins with that is none: "not a wye"."""
ECHO = 20
"""Characters at most between a number and its digits."""
ANOTHER = 0.9
"""Probability from which inches behind feet and an "and" are a value of their own."""
APART = ("fitting", "pieces_ft", "stations_ft")
"""Where two numbers side by side are two."""


IN_FEET_TOO = {"cover_in", "drop_in", "invert_depth_in"}
"""Fields kept in inches that may be told in feet and inches."""
MOST_FEET_DEEP = 10
"""Of a cover or fall that is told in feet and inches."""
TEENS_OF = {"cover_in", "invert_depth_in"}
"""Fields that seldom are as much as thirty, but in the teens as a rule."""
NEAR_FT = 0.05
DOUBTS: tuple[Why, ...] = ("hedged", "low_confidence")


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
        one = _as_inches(last, one, text)
        if last and _are_feet_of(last, one, text):
            last = out[-1] = replace(last, what=one.what, thing=one.thing)
        if last and (last.what, last.thing) == (one.what, one.thing) and one.what not in APART:
            quantity = _one_measure(last, one, text[last.end : one.start], crew)
            if quantity:
                both, sure = last.standing | one.standing, min(last.sure, one.sure)
                out[-1] = replace(last, end=one.end, quantity=quantity, standing=both, sure=sure)
                continue
        out.append(one)
    return out


def told_by_digits(text: str, readings: Sequence[Reading]) -> list[Reading]:
    """The readings, with each number that tells the one right before it, of the same thing, again by its digits,
    "fifty minutes, five zero", as that one: "five three" alone may be five feet three."""
    out: list[Reading] = []
    for one in readings:
        alike = [each for each in out if (each.what, each.thing) == (one.what, one.thing)]
        near = [each for each in alike if one.start - each.end <= ECHO]
        same = [each.quantity for each in near if not says("turns", text[each.end : one.start])]
        whole = next((each for each in same if _spells(one.quantity, each)), None)
        if one.quantity and whole:
            one = replace(one, quantity=one.quantity._replace(value=whole.value, unit=whole.unit, parts=()))
        out.append(one)
    return out


def _spells(digits: Quantity | None, whole: Quantity | None) -> bool:
    """Whether digits read out, "one six", are those of a whole number before them."""
    if digits is None or whole is None:
        return False
    by_digits = digits.unit is None and len(digits.parts) > 1 and max(digits.parts) < 10
    times = (1, 60, 3600) if whole.unit == "s" else (1,)
    return by_digits and not whole.parts and any(whole.value == digits.value * each for each in times)


def _as_inches(feet: Reading | None, one: Reading, text: str) -> Reading:
    """Inches right behind a length in feet are of that length, where nothing else is likelier than not."""
    gap = text[feet.end : one.start] if feet else ""
    follows = feet and feet.what == "length_ft" and ADDS.fullmatch(gap)
    inches = one.quantity and one.quantity.unit == "in" and one.quantity.value < INCHES and "," not in gap
    most = ANOTHER if "and" in gap else LIKELY
    if feet and follows and inches and one.sure < most:
        return replace(one, what=feet.what, thing=feet.thing)
    return one


def _are_feet_of(feet: Reading, inches: Reading, text: str) -> bool:
    """Whether a few feet right before the inches of a cover or fall are less surely a length than those are what they
    are: "5 feet and 2 inches of cover"."""
    a, b = feet.quantity, inches.quantity
    if a is None or b is None or (a.unit, b.unit) != ("ft", "in") or feet.what != "length_ft":
        return False
    few = a.value < MOST_FEET_DEEP and b.value < INCHES and ADDS.fullmatch(text[feet.end : inches.start]) is not None
    return few and inches.what in IN_FEET_TOO and feet.sure < inches.sure


def counts_sticks(text: str, one: Reading) -> bool:
    """Whether a number of pieces counts sticks whose length is not told: "two full sticks"."""
    return one.quantity is not None and one.quantity.unit is None and STICKS.match(text, one.end) is not None


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
    length = first.what == "length_ft" and a.unit in (None, "ft") and b.unit in (None, "in")
    feet = (length or (first.what in IN_FEET_TOO and (a.unit, b.unit) == ("ft", "in"))) and a.value % 1 == 0
    sure = "hedged" not in first.standing | second.standing
    follow = b.value < 12 and int(b.value) != a.value and ADDS.fullmatch(gap) is not None
    inches = bool(b.unit or b.value % 1) or (sure and b.value < a.value)
    return a._replace(value=a.value + b.value / 12, unit="ft") if feet and follow and inches else None


def _teen(value: float) -> float | None:
    """What "forty and a half" may have been, "fourteen and a half"; None where no teen sounds like it."""
    tens, rest = divmod(value, 10)
    return 10 + tens + rest if 3 <= tens <= 9 and rest < 1 else None


def _alike(one: Fitting, other: Fitting) -> bool:
    """Whether two may be the same: of one kind, angle and sizes, and not said to lie at two places."""
    return _key(one) == _key(other) and _at_one_place(one, other)


def _at_one_place(one: Fitting, other: Fitting) -> bool:
    return None in (one.at_ft, other.at_ft) or one.at_ft == other.at_ft


def _key(fitting: Fitting) -> tuple[Any, ...]:
    return fitting.kind, fitting.angle_deg, fitting.nominal_in, fitting.to_nominal_in


class Amounts(Draft):
    """Puts the values of things."""

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
        held = self._held(one.thing, one.what)
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
        stood = before if before and not NO_FACT & before.standing else None
        first = self._worth(note, stood) if stood and one.what == "slope_pct" else None
        if first is not None and value is not None and abs(first - value) < 0.03 * first:
            self.numbers.went(one, "restated", one.thing, one.what)
            return  # "one point six, one in sixty-two": the same told in another way
        self._put(note, one, one.what, rounded(value))
        if one.what == "length_ft" and "corrects" in one.standing and one.thing:
            self._drop_pieces(self._thing(one.thing))
        if note.words and one.what in TEENS_OF and one.thing and (teen := _teen(one.quantity.value)):
            witness = self._witness(note, one, one.what)
            self._ask(one.thing, one.what, "low_confidence", witness, note, [rounded(value), teen])
        if before and (rise or BY.fullmatch(gap)) and one.what in ("slope_pct", "size_in"):
            self.numbers.like(one, [before])

    def _drop_pieces(self, run: Thing) -> None:
        """Pieces that do not come to a length that was put right were wrong as well."""
        pieces, length = run.fields.get("pieces_ft"), run.fields.get("length_ft")
        if pieces and length and abs(sum(pieces.value) - length.value) > NEAR_FT:
            del run.fields["pieces_ft"]
            self.numbers.leave(run.name, "pieces_ft")

    def _pieces(self, note: Note, one: Reading, readings: Sequence[Reading]) -> None:
        """Pieces or stations of a run, all that the note says of them at once; pieces come to a length."""
        alike = [each for each in readings if each.what == one.what and each.thing == one.thing]
        alike = [each for each in alike if not (NO_FACT | {"again"}) & each.standing]
        anew = next((i for i, each in enumerate(alike) if "corrects" in each.standing), 0)
        alike = alike[anew:]
        if not alike or one is not alike[0]:
            return
        if any(counts_sticks(note.text, each) for each in alike):
            self._ask(one.thing or "job", one.what, "low_confidence", self._witness(note, one, one.what), note)
            for each in alike:
                self.numbers.went(each, "question", one.thing, one.what)
            return
        both: frozenset[str] = frozenset().union(*(each.standing for each in alike))
        one = replace(one, end=alike[-1].end, standing=both, sure=min(each.sure for each in alike))
        gaps = [note.text[each.end : after.start] for each, after in pairwise(alike)]
        words = note.text[alike[0].start : alike[-1].end]
        crew = self.crew._replace(small="in") if FEET.search(words) and not METRES.search(words) else self.crew
        pieces = list_of([each.quantity for each in alike if each.quantity], one.what, crew, gaps)
        self._put_pieces(note, one, readings, pieces)
        self.numbers.like(one, alike[1:])

    def _put_pieces(self, note: Note, one: Reading, readings: Sequence[Reading], pieces: list[float]) -> None:
        """The length that they come to is put first: in doubt it is asked about, and no piece besides."""
        lengths = [each for each in readings if each.what == "length_ft" and each.thing == one.thing]
        said = any(not NO_FACT & each.standing for each in lengths)
        summed = one.what == "pieces_ft" and pieces and not said
        if summed:
            self._put(note, one, "length_ft", round(sum(pieces), 4))
        self._put(note, one, one.what, pieces)
        if summed:
            for why in DOUBTS:
                self.questions.pop((one.thing, one.what, why), None)

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
        """As in "two by two": of a basin, box or dry well they are feet, unless they are said to be inches."""
        feet = (
            len(sizes) == 2
            and one.quantity is not None
            and one.quantity.unit != "in"
            and max(sizes) <= MOST_FEET
            and one.thing.split(".")[0] in ("CB", "JB", "DW")
            and not self.crew.metric
        )
        return [12 * size for size in sizes] if feet else sizes

    def _listed(self, note: Note, one: Reading, readings: Sequence[Reading]) -> None:
        """An area, a tie or a crossing."""
        if (NO_FACT | {"planned"}) & one.standing:
            self.numbers.went(one, "not_fact", one.thing, one.what)
            return
        name = LISTED[one.what]
        if one.what == "crossing" and is_clearance(note.text, one, readings):
            self._ask(one.thing or "job", name, "low_confidence", self._witness(note, one, name), note)
            self.numbers.went(one, "question", one.thing, name)
            return
        value = None if one.quantity is None else rounded(self._worth(note, one))
        if one.quantity is not None and not self._may_stand(note, one, one.thing, name, value):
            return
        if not one.thing:
            return
        thing = self._thing(one.thing)
        if one.what == "area" and value is not None:
            self._area(note, one, thing, area_of(note.text, one, value))
            return
        if one.what == "tie" and value is not None:
            self._tie(note, one, thing, tie_of(note.text, one, value))
            return
        if one.what == "crossing":
            self._crossing(note, one, thing, crossing_of(note.text, one, readings, self.crew))
        thing.evidence.append(self._witness(note, one, name))
        self.numbers.place(one, one.thing, name, alone=False)

    def _crossing(self, note: Note, one: Reading, thing: Thing, new: Crossing | None) -> None:
        """What it crosses, told in parts; another place or depth of it is asked about unless it is put right."""
        if new is None:
            return
        old = crossing_before(thing.crossings, new)
        for name in ("at_ft", "depth_in") if old else ():
            was, value = getattr(old, name), getattr(new, name)
            if None in (was, value) or was == value:
                continue
            self.numbers.leave(thing.name, "crossings", was)
            told = [each for each in thing.evidence if each.field == "crossings" and each.note != one.note]
            if told and not {"corrects", "again"} & one.standing:
                held = Held(was, frozenset(), told[-1])
                self._ask_which(thing.name, "crossings", held, value, self._witness(note, one, "crossings"), note)
        thing.crossings = joined_crossings(thing.crossings, new, old)

    def _tie(self, note: Note, one: Reading, thing: Thing, new: Tie) -> None:
        """A tie: put right, told again, one more, or asked about beside another distance from the same point."""
        old, witness = tie_before(thing.ties, new), self._witness(note, one, "ties")
        if old and old.distance_ft != new.distance_ft:
            told = [each for each in thing.evidence if each.field == "ties"]
            if not {"corrects", "again"} & one.standing:
                held = Held(old.distance_ft, frozenset(), told[-1])
                self._ask_which(thing.name, "ties", held, new.distance_ft, witness, note)
            self.numbers.leave(thing.name, "ties", old.distance_ft)
        thing.ties = [*(each for each in thing.ties if each is not old), new]
        thing.evidence.append(witness)
        self.numbers.place(one, thing.name, "ties", restated=old == new, alone=False)

    def _area(self, note: Note, one: Reading, thing: Thing, new: Area) -> None:
        """An area: put right, told again, one more in the same note, or asked about beside one told before."""
        anew = {"corrects", "again"} & one.standing
        old, at = area_before(thing.areas, new, "corrects" in one.standing), None
        told = [each for each in thing.evidence if each.field == "areas"]
        if old and (anew or told[-1].note != one.note):
            at = old
        if at and not anew and at.sqft != new.sqft:
            held = Held(at.sqft, frozenset(), told[-1])
            self._ask_which(thing.name, "areas", held, new.sqft, self._witness(note, one, "areas"), note)
        if at and at.sqft != new.sqft:
            self.numbers.leave(thing.name, "areas", at.sqft)
        thing.areas = joined_areas(thing.areas, new, at)
        thing.evidence.append(self._witness(note, one, "areas"))
        self.numbers.place(one, thing.name, "areas", restated=at is not None and at.sqft == new.sqft, alone=False)

    def _fitting(self, note: Note, one: Reading, readings: Sequence[Reading]) -> None:
        denied = "denied" in one.standing or DENIES.match(note.text, one.start)
        if "planned" in one.standing or NO_FACT & one.standing or denied:
            self._placed_inside(note, one, readings, "not_fact")
            if denied:
                self._strip(note, one, readings)
            return
        place = place_alone(one, readings, note.text, self.crew)
        if place:
            self._lies_at(note, one, readings, place.at_ft)
            return
        fitting = fitting_of(one, readings, note.text, self.crew)
        if fitting.kind in TURNS and fitting.angle_deg is None and not fitting.nominal_in:
            fitting.angle_deg = self._angle_spoken_of(note, one, readings)
        one = self._as_sure(note, one, readings)
        known = self.things.get(one.thing)
        waits = fitting.kind in self._kinds_told(one.thing) and self._waits(one, one.thing, "fittings")
        told = [each for each in known.fittings if _alike(each, fitting)] if known else []
        same = [each for each in known.fittings if _key(each) == _key(fitting)] if known else []
        told = told or (same if len(same) == 1 else [])
        again = bool(told) and "again" in one.standing
        if again and told[-1].count == fitting.count:
            told[-1].turn = fitting.turn or told[-1].turn
            self._move(note, one, told[-1], fitting.at_ft)
            if not badly_heard(note, one):
                self._answered(one, one.thing, "fittings", fitting.count)
            self._placed_inside(note, one, readings, "restated", told[-1].at_ft)
            return
        if waits and "again" not in one.standing:
            one = replace(one, standing=one.standing | {"corrects"})  # told again, it stands in place of the last
        if not self._may_stand(note, one, one.thing, "fittings", fitting.count):
            return
        run = self._thing(one.thing)
        asked = waits or any((one.thing, "fittings", why) in self.questions for why in ("hedged", "low_confidence"))
        if again and not asked and "corrects" not in one.standing:
            self._ask(one.thing, "fittings", "conflict", self._witness(note, one, "fittings"), note)
        if again:
            one = replace(one, standing=one.standing | {"corrects"})
        same = [each for each in run.fittings if each.kind == fitting.kind]
        same = [each for each in same if "corrects" in one.standing or _at_one_place(each, fitting)]
        if {"corrects", "again"} & one.standing and same and _key(fitting)[1:] == (None, None, None):
            told_now = fitting.model_dump(include={"count", "at_ft", "turn"}, exclude_none=True)
            fitting = same[-1].model_copy(update=told_now)  # "no, three": of those told of before
        if fitting.count > 1:  # nobody said where which of them lies
            fitting.at_ft = fitting.turn = None
        alike = [each for each in run.fittings if _alike(each, fitting)]
        if "corrects" in one.standing:
            alike = alike or same
            if alike:
                run.fittings.remove(alike[-1])
                if alike[-1].at_ft not in (None, fitting.at_ft):
                    self.numbers.leave(one.thing, "fittings", alike[-1].at_ft)
        self._placed_inside(note, one, readings, "field", fitting.at_ft)
        run.built = True
        self.last_fitting = fitting
        lies_at, fitting.at_ft = fitting.at_ft, None
        self._move(note, one, fitting, lies_at)
        run.fittings.append(fitting)
        self.told_in[one.note].add((one.thing, "fittings"))
        run.evidence.append(self._witness(note, one, "fittings"))

    def _angle_spoken_of(self, note: Note, one: Reading, readings: Sequence[Reading]) -> float | None:
        """The angle of bends of which a bare number is a count, "three", if the notes speak of bends of one angle."""
        counts = any(each.quantity and one.start <= each.start and each.end <= one.end for each in readings)
        if not counts or not COUNT_ALONE.fullmatch(note.text[one.start : one.end]):
            return None
        for _, told in reversed(self.taken[-ANGLES_SINCE:]):
            bends = (
                each.quantity for each in told if each.quantity and (each.note, each.start) < (one.note, one.start)
            )
            said = {value for each in bends if each.unit in OF_BENDS for value in (*each.parts[1:], each.value)}
            angles = {ANGLES[value] for value in said if ANGLES.get(value) in COMMON}
            if angles:
                return angles.pop() if len(angles) == 1 else None
        return None

    def _strip(self, note: Note, one: Reading, readings: Sequence[Reading]) -> None:
        """A fitting is denied that stands: of the run named or, where the words are an order, of the last of which such
        a one was told. It is taken out where the note tells another of that run in its place, and else asked about."""
        denied = fitting_of(one, readings, note.text, self.crew)

        def alike(run: Thing) -> list[Fitting]:
            kind = [each for each in run.fittings if each.kind == denied.kind]
            return [each for each in kind if denied.angle_deg in (None, each.angle_deg)]

        order = any(each.what == "order" and each.start < one.end and one.start < each.end for each in readings)
        runs = [run for run in self.things.values() if alike(run) and (order or run.name == one.thing)]
        run = max(runs, key=lambda each: (each.name == one.thing, each.evidence[-1].note), default=None)
        if run is None:
            return
        told = [each for each in readings if (each.what, each.thing) == ("fitting", run.name)]
        others = [each for each in told if not one.start <= each.start < one.end]
        instead = [each for each in others if not NO_FACT & each.standing]
        known = [fitting_of(each, readings, note.text, self.crew) for each in instead if each.name]
        another = known and all((each.kind, each.angle_deg) != (denied.kind, denied.angle_deg) for each in known)
        same = alike(run)
        whole = len(same) == 1 and same[0].count == denied.count and same[0].at_ft is None
        if another and whole and one.sure >= SETTLES:
            run.fittings.remove(same[0])
        if not instead or (another and not (whole and one.sure >= UNSURE)):
            for name in {run.name, one.thing} - {""}:
                self._ask(name, "fittings", "low_confidence", self._witness(note, one, "fittings"), note)

    @staticmethod
    def _as_sure(note: Note, one: Reading, readings: Sequence[Reading]) -> Reading:
        """A fitting, as sure as the least sure of its numbers; hedged, where one of these is a range or not told, or
        where it was bought."""
        inside = [each for each in readings if each.quantity and one.start <= each.start and each.end <= one.end]
        bounded = any(each.quantity and (each.quantity.bound or each.quantity.glued) for each in inside)
        low, high = sentence_around(note.text, one.start)
        hedged = uncounted(one, readings, note.text) or (bounded and one.name not in STEPS)
        hedged = hedged or says("bought", note.text[low:high])
        standing = one.standing | {"hedged"} if hedged else one.standing
        return replace(one, sure=min([one.sure, *(each.sure for each in inside)]), standing=standing)

    def _lies_at(self, note: Note, one: Reading, readings: Sequence[Reading], place: float | None) -> None:
        """The place of the fitting that this note told last, else of the only one of its kind; where it is not sure,
        the number is asked about."""
        known = self.things[one.thing].fittings if one.thing in self.things else []
        told = [each for each in known if each is self.last_fitting]
        told = told or [each for each in known if each.kind == one.name and self.last_fitting is None]
        if place is None or len(told) != 1 or told[0].count > 1:
            return
        self._move(note, one, told[0], place)
        self._placed_inside(note, one, readings, "field", place)

    def _move(self, note: Note, one: Reading, fitting: Fitting, place: float | None) -> None:
        """A fitting lies at a place along its run, which is asked about where that is in doubt or beyond its end."""
        if place is None:
            return
        length = self.things[one.thing].fields.get("length_ft") if one.thing in self.things else None
        beyond = length is not None and place > length.value
        other = fitting.at_ft not in (None, place) and "corrects" not in one.standing
        if fitting.at_ft not in (None, place):
            self.numbers.leave(one.thing, "fittings", fitting.at_ft)
        fitting.at_ft = place
        why: Why = "implausible" if beyond else "conflict" if other else "low_confidence"
        if beyond or other or one.sure < UNSURE or "hedged" in one.standing:
            self._ask(one.thing, "fittings", why, self._witness(note, one, "fittings"), note)

    def _kinds_told(self, thing: str) -> set[str]:
        """The kinds of fittings of a run that stand, or were told by a note that raised a question about them."""
        standing = {each.kind for each in self.things[thing].fittings} if thing in self.things else set()
        asked = (self.questions.get((thing, "fittings", why)) for why in ("hedged", "implausible", "low_confidence"))
        raised = {question.evidence[-1].note for question in asked if question}
        doubted = (one for note in raised for one in self.taken[note][1] if (one.what, one.thing) == ("fitting", thing))
        return standing | {one.name for one in doubted}

    def _placed_inside(
        self, note: Note, one: Reading, readings: Sequence[Reading], went: Went, place: float | None = None
    ) -> None:
        """The numbers of a fitting stand among the fittings; a distance that is not its `place` found none."""
        for each in readings:
            if each.quantity and each.start < one.end and one.start < each.end:
                said = each.quantity
                angle = said.unit is None and said.value in ANGLES
                far = said.unit in ALONG or (said.unit is None and AT.search(note.text, 0, each.start) and not angle)
                if went == "not_fact" or not far or place == rounded(value_of(said, "length_ft", self.crew)):
                    self.numbers.went(each, went, one.thing, "fittings")
