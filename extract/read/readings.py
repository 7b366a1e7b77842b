"""A day's notes into readings: what each span of words and each quantity is, how it stands, and what it speaks of."""

from __future__ import annotations

import hashlib
import json
import re
from collections.abc import Callable, Iterator, Sequence, Set
from dataclasses import dataclass, field, replace
from itertools import count
from typing import TYPE_CHECKING, Any, Protocol

from extract.field_names import fields_of_order
from extract.read.labels import MEASURED, OF_RUN, ROLES, SIDES, SIGHTS, STANDINGS, TYPES
from extract.read.plain import is_caption, is_plain, says
from extract.read.scene import CONTEXT, NOT_HELD, About, Scene, Value
from extract.read.together import missing_in_row, parts_of_name, told_of_all
from extract.read.words import SENTENCE, form_of, order_words, quantities_of, sentence_around, turning_points
from extract.spelling import normalise
from extract.text.grammar import classes_of
from extract.text.quantities import Quantity, find_quantities, ordinal_before
from extract.text.tokens import Token

if TYPE_CHECKING:  # where all notes are kept, nothing loads the model or what it is run with
    from extract.read.model import Encoded, Model, Vector

INSIDE, PEAK, PARTS = 0.3, 0.65, 0.7
"""Probabilities, chosen on the tuning days: from the first a piece goes with a span, from the second one is taken at
its surest piece, from the third another begins inside it."""
SURE, CORRECTS = 0.3, 0.7
"""Probability from which a standing is taken to hold, and from which a value is taken to put another right: under it
both are asked about."""
OF_NOTE = 0.3
"""Probability from which a note as a whole likely puts right what was told before: a reading of no words, `mends`."""
KIND = 0.5
"""Probability from which an issue is of the kind that it is likeliest of; under it, it is told by its words alone."""
AGAIN = 0.45
"""Probability from which a value that another note told already is taken for a guess once more. Under it
whether it is one counts for nothing: a guess told before makes all that comes after it look a little like one."""
DOUBT_OF_PLAIN = 0.6
"""How much of its doubt about a measure is left in plain talk."""
DOUBT_OF_BRIEF = 0.6
"""The same in a brief note that names what it tells of."""
BRIEF = 16
"""Words of a brief note at most."""
FEW = 3
"""Ordinals that may be of an order, and name nothing."""
OF_PLAIN = {"corrects", "again", "numbered"}
"""Standings that what is said plainly may have."""
ONLY = {"gpm": "flow_gpm", "pct": "slope_pct", "s": "duration_s"}
"""The one field that is measured in a unit: what a plain sentence says in it is that field."""
UNITS = {
    "slope_pct": ("", "pct", "in", "bubble"),
    "duration_s": ("", "s", "clock", "other"),
    "flow_gpm": ("", "gpm"),
    **dict.fromkeys(("length_ft", "drop_in", "cover_in", "rim_ft", "invert_depth_in"), ("", "ft", "in")),
}
"""The units, of those that the grammar of measures tells apart, in which people give a field; a fall may be told by
its inches alone."""
WORK_UNITS = ("ft", "in", "pct", "gpm")
"""Units of the work: in plain talk a figure in one is of nothing else, unless there is no doubt that it is."""
NO_DOUBT = 0.9
"""Nearly the most that a role can have, since they were taught with some of it spread over all."""
WITHOUT_UNIT = {"rod_ft", "elevation_ft", "rim_ft", "invert_in_ft", "invert_out_ft"}
"""Fields that people give with no unit."""
ELSEWHERE = 0.5
"""How much less sure a figure is that stands in a sentence about another run, or may be of no run at all: little enough
to be asked about."""
FROM = re.compile(r"\s+(?:away\s+|over\s+)?(?:from|off)\b", re.IGNORECASE)
"""Behind how far something lies from another."""
OF_TEST_TOO = {"length_ft", "drop_in", "slope_pct"}
"""Fields whose figures tests have too."""
HIGHEST = 9999
"""Number that a name bears."""
THE = re.compile(r"\b(?:the|that|el|la|los|las)\s+$", re.IGNORECASE)
"""Before a number that is known."""
INTO = re.compile(r"\b(?:into|to|onto|toward|towards)\s+(?:the\s+)?$", re.IGNORECASE)
"""Before what something else ends in."""
LABELLED = re.compile(r"[^\W\d][ #-]*([1-9]\d{0,3})(?!\d)(?!\s*(?:in|ft|mm|cm|m|inch|foot|feet)\b|[\"'.]\d|\")")
"""The figure of a name such as CB2, R-1 or basin #3, and none of a measure: "the 12 inch basin"."""
MOST_BEFORE = 400
"""Characters of the notes before that may go in with a note, at most ten a piece."""
KEY = 20
"""Characters of a key: too many for two notes to share one."""
Shape = dict[str, Any]
"""What was read of a note, as JSON can hold it: its readings, and what they changed of the scene."""
INTRODUCES = {"mention", "issue", "test", "decision"}
NO_THING = {"none", "text", "name", "count", "money", "clock", "people", "weather", "sport", "tool", "name_of", "other"}


@dataclass
class Reading:
    """A span of a note, characters [start, end). `what` is a type of span or the role of a quantity."""

    note: int
    start: int
    end: int
    what: str
    name: str = ""
    """Its class, such as the kind of thing or fitting."""
    standing: frozenset[str] = frozenset()
    thing: str = ""
    """What it speaks of, by the scene's own name."""
    at: str = ""
    from_of: str = ""
    to_of: str = ""
    side: str = ""
    sight: str = ""
    number: int | None = None
    quantity: Quantity | None = None
    sure: float = 1.0
    """How sure it is, 0 to 1: the product of the probabilities of what it is, how it stands, what it speaks of, and
    that there is such a thing. A score to rank by: it is not calibrated."""
    seen: float = 1.0
    """Probability that these words are such a span at all."""
    firm: float = 1.0
    """Probability that it stands as it is said to."""
    linked: float = 1.0
    """Probability that it speaks of what it is said to."""
    vector: Any = field(default=None, repr=False)
    """Of its pieces, while its note is being read."""


class Reader:
    """Reads notes one after the other; what exists so far is kept in `scene`.

    `kept` has what was read before, by `_key`, and takes what is read now; where all is kept no model is loaded.
    `scene` holds what is known before the first note.
    """

    def __init__(
        self, load: Callable[[], Model], kept: dict[str, Shape] | None = None, scene: Scene | None = None
    ) -> None:
        self.load = load
        self.kept = {} if kept is None else kept
        self.scene = scene or Scene()
        self.texts: list[str] = []
        self.keys: list[str] = []
        """Of the notes read so far."""
        self.plain = False
        """Whether the note being read leaves no room for doubt about how it stands."""
        self.told: list[Vector] = []
        self.here: list[Vector] = []

    @property
    def model(self) -> Model:
        return self.load()

    def read(self, index: int, text: str) -> list[Reading]:
        """The readings of one note, in order of their start."""
        self.scene.begin(index)
        told = self.scene.told()
        key = self._key(text)
        shape = self.kept.get(key)
        if shape is None:
            readings = self._read(index, text, told)
            self.kept[key] = {"readings": [row_of(one) for one in readings], "changes": self.scene.changes}
        else:
            readings = readings_of(index, text, shape["readings"])
            self.scene.again(shape["changes"])
        self.texts.append(text)
        self.keys.append(key)
        return readings

    def _read(self, index: int, text: str, told: Sequence[str]) -> list[Reading]:
        coded = self.model.encode(text, self._before(), told)
        self.told = coded.told
        turning = turning_points(text)
        spans = [one for one in self._spans(index, text, coded) if not names_turning_point(one, turning)]
        spans = with_ordinals(text, with_whole_names(text, without_measures(text, with_whole_materials(text, spans))))
        self.plain = any(one.what == "mention" for one in spans) and is_plain(text)
        if is_caption(text):  # said of one that is being taken, not to be taken
            spans = [one for one in spans if one.what != "task"]
        readings = sorted([*spans, *self._quantities(index, text, coded, names_in(spans))], key=_place)
        with_own_orders(readings)
        self.here = [one.vector for one in readings]
        self._introduce(index, text, readings)
        self._ends(index, text, readings)
        self._rest(index, text, readings)
        readings = sorted([*readings, *self._introduce_rows(text, readings)], key=_place)
        self._hold_of_others(text, readings)
        for one in readings:
            one.sure = one.sure * one.firm
            if self._leaves_no_room(one) and tells_what(one, text):
                one.sure = with_less_doubt(one.sure, DOUBT_OF_PLAIN)
            one.sure = round(float(one.sure), 4)
        mends = self.model.mends(coded.vectors)
        return [*([Reading(index, 0, 0, "mends", sure=mends)] if mends > OF_NOTE else []), *readings]

    def _before(self) -> list[int]:
        """The pieces of the notes before that go in with a note."""
        pieces: list[int] = []
        for text in reversed(self.texts):
            if len(pieces) >= CONTEXT:
                break
            pieces = [*self.model.pieces(text), *pieces]
        return pieces[-CONTEXT:]

    def _key(self, text: str) -> str:
        """Of all that a note's readings depend on: its words, those before it, and what is known."""
        before, left = [], MOST_BEFORE
        for each in reversed(self.texts):
            if left <= 0:
                break
            before.append(each[-left:])
            left -= len(each)
        said = json.dumps([text, before, self.scene.state()])
        return hashlib.sha256(said.encode()).hexdigest()[:KEY]

    def _spans(self, index: int, text: str, coded: Encoded) -> Iterator[Reading]:
        if not coded.ids:
            return
        odds = self.model.tags(coded.vectors)
        inside, begins = odds[..., 0] > INSIDE, odds[..., 1] > PARTS
        for column, type_ in enumerate(TYPES):
            if odds[:, column, 0].max() <= PEAK:
                continue
            low = 0
            while low < len(inside):
                if not inside[low, column]:
                    low += 1
                    continue
                high = low + 1
                while high < len(inside) and inside[high, column] and not begins[high, column]:
                    high += 1
                sure = float(odds[low:high, column, 0].max())
                if sure > PEAK:
                    for part in pieces_of_names(text, coded, low, high) if type_ == "mention" else [(low, high)]:
                        yield self._span(index, text, coded, type_, *part, sure)
                low = high

    def _span(self, index: int, text: str, coded: Encoded, type_: str, low: int, high: int, sure: float) -> Reading:
        vector = self.model.span(coded.vectors, low, high)
        name, odds = self.model.class_of(vector, type_)
        if type_ == "issue" and (odds < KIND or (name == "reverse_slope" and not says("fall", text))):
            name = "other"
        start, end = _words(text, coded.offsets[low][0], coded.offsets[high - 1][1])
        one = Reading(index, start, end, type_, name, sure=sure * odds, vector=vector)
        one.seen = sure
        self._stand(one)
        if "numbered" in one.standing:
            one.number = number_said(text[start:end])
        named = any(start <= at < end and THE.search(text, start, at) for at, _, _ in quantities_of(text))
        order = order_words(text, start, end) if type_ == "order" else ""
        called = MEASURED & fields_of_order(order) or says("figure", order)
        if (one.name == "withdraw_note" and (named or called)) or (one.name == "drop" and called):
            one.name = "clear"  # "scratch the drop", "scratch the 50" take no more back than that
        return one

    def _stand(self, one: Reading, held: Sequence[float] = NOT_HELD) -> None:
        """How a span stands, and how surely, given how it lies to what was told before: whether it is a guess counts by
        itself, and of the other standings, which exclude one another, the least sure."""
        odds = self.model.standings(one.vector, one.what, held)
        likely = dict(zip(STANDINGS, map(float, odds), strict=True))
        least = {name: CORRECTS if name == "corrects" else SURE for name in likely}
        least["hedged"] = AGAIN if told_before(held) else SURE
        one.standing = frozenset(name for name, odd in likely.items() if odd > least[name])
        settles = told_before(held) and "hedged" not in one.standing
        left = makes_no_odds(one, held) | ({"hedged"} if settles else set())
        if self._leaves_no_room(one):
            one.standing, left = one.standing & OF_PLAIN, left | set(likely) - OF_PLAIN
        odds_of = {name: odd if name in one.standing else 1 - odd for name, odd in likely.items() if name not in left}
        one.firm = odds_of.pop("hedged", 1.0) * min(odds_of.values(), default=1.0)
        if one.quantity is not None and one.quantity.bound:
            one.standing |= {"hedged"}

    def _leaves_no_room(self, one: Reading) -> bool:
        """Whether it is a figure that can be no guess, plan or denial: of plain talk, with its unit if it needs one."""
        said = one.quantity
        return bool(self.plain and said and not said.glued and (said.unit or one.what in WITHOUT_UNIT))

    def _quantities(self, index: int, text: str, coded: Encoded, named: Sequence[tuple[int, int]]) -> Iterator[Reading]:
        for start, end, quantity in quantities_of(text, named):
            inside = [i for i, (low, high) in enumerate(coded.offsets) if low < end and start < high]
            if not inside:
                continue
            vector = self.model.span(coded.vectors, inside[0], inside[-1] + 1)
            role, sure = self._role(vector, quantity)
            certain = self.plain and one_sentence(text) and ONLY.get(quantity.unit or "") == role
            sure = 1.0 if certain else sure
            one = Reading(index, start, end, role, quantity=quantity, sure=sure, vector=vector)
            if role in ("rod_ft", "elevation_ft"):
                sides, sights = self.model.sides(vector), self.model.sights(vector)
                one.side, one.sight = SIDES[int(sides.argmax())], SIGHTS[int(sights.argmax())]
                one.sure *= float(min(sides.max(), sights.max()))  # what misreads the one misreads the other
            self._stand(one)
            yield one

    def _role(self, vector: Vector, quantity: Quantity) -> tuple[str, float]:
        """The likeliest role of a quantity, of those that its unit can be and that plain talk leaves room for, and its
        probability among them."""
        unit = quantity.unit or ""
        odds = dict(zip(ROLES, map(float, self.model.roles(vector, form_of(quantity))), strict=True))
        of_work = self.plain and unit in WORK_UNITS and max(odds.values()) < NO_DOUBT
        left = NO_THING if of_work else set()
        can = {role: odd for role, odd in odds.items() if role not in left and unit in UNITS.get(role, (unit,))}
        likeliest = max(can, key=can.__getitem__)
        return likeliest, can[likeliest] / sum(can.values())

    def _introduce(self, index: int, text: str, readings: Sequence[Reading]) -> None:
        for i, one in enumerate(readings):
            if one.what in INTRODUCES:
                one.thing, one.linked = self._linked(index, i, one, text, "main")
                one.sure *= one.linked
                self._meet(index, i, one, text, one.thing, one.seen * one.linked)

    def _introduce_rows(self, text: str, readings: Sequence[Reading]) -> list[Reading]:
        """What lies in a row between two things that are named, "runs one through three", and was not yet spoken of."""
        out = []
        for i, one in enumerate(readings):
            for number in missing_in_row(text, one, readings, list(self.scene.known.values())):
                name = self._new(one.name, f"{text} {number}", i)
                self.scene.meet(name, i, one.start, one.end, "", number)
                self.scene.trust(name, one.seen * one.linked)
                out.append(replace(one, thing=name, number=number, from_of="", to_of=""))
        return out

    def _ends(self, index: int, text: str, readings: Sequence[Reading]) -> None:
        for i, one in enumerate(readings):
            if one.what == "mention" and one.thing and not one.thing.startswith("R."):
                for relation in ("from_of", "to_of"):
                    run, likely = self._linked(index, i, one, text, relation, "R", runs_apart(one, readings, text))
                    if run:
                        setattr(one, relation, run)
                        self._meet(index, i, one, text, run, one.seen * one.linked * likely)
                        self.scene.end(one.thing, run)

    def _rest(self, index: int, text: str, readings: Sequence[Reading]) -> None:
        for i, one in enumerate(readings):
            if one.what in ("issue", "test", "change"):
                one.at, _ = self._linked(index, i, one, text, "at")
        for i, one in enumerate(readings):
            if one.what in INTRODUCES or one.what in NO_THING or one.what in ("task", "item", "change"):
                continue
            if one.what == "order" and one.name.startswith("withdraw"):
                continue
            if one.side == "benchmark":
                if is_brief(text) and not self.plain:
                    one.sure = with_less_doubt(one.sure, DOUBT_OF_BRIEF)
                continue
            apart = runs_apart(one, readings, text) if is_plainly_of_run(one, text) else set()
            one.thing, one.linked = self._linked(index, i, one, text, "main", without=apart)
            one.sure *= one.linked
            if speaks_elsewhere(one, readings, text) or is_of_other(one, text):
                one.sure *= ELSEWHERE
            if not one.thing:
                continue
            sort, value = sort_of(one, readings), told_of(one, text)
            held = self.scene.held(one.thing, one.what, sort, value)
            self._stand(one, held)
            if one.thing in self.scene.known:
                one.sure *= self.scene.known[one.thing].sure
            else:
                self._meet(index, i, one, text, one.thing, one.seen * one.linked)
            brief = is_brief(text) and not self.plain and not (one.what in MEASURED and says("others", text))
            if brief and names_its_thing(one, readings) and not told_otherwise(held):
                one.sure = with_less_doubt(one.sure, DOUBT_OF_BRIEF)
            self.scene.see(one.thing, i)
            if one.what == "state":
                self.scene.stand(one.thing, one.name)
            elif not {"asked", "denied", "required", "hypothetical"} & one.standing:
                self.scene.hold(one.thing, one.what, sort, value)

    def _hold_of_others(self, text: str, readings: Sequence[Reading]) -> None:
        """What is told of several things at once is known of all of them."""
        own = {(one.start, one.what, one.thing) for one in readings}
        for one in told_of_all(text, readings, list(self.scene.known.values())):
            if one.quantity and (one.start, one.what, one.thing) not in own:
                self.scene.hold(one.thing, one.what, sort_of(one, readings), told_of(one, text))

    def _linked(
        self, index: int, i: int, one: Reading, text: str, relation: str, new: str = "", without: Set[str] = frozenset()
    ) -> tuple[str, float]:
        """The name of what the reading speaks of (known, new and met by the caller, or empty) and its probability.

        `new`: the prefix of what may be new; `without`: names of what it cannot be.
        """
        words, value = text[one.start : one.end], told_of(one, text)
        about = About(index, one.start, one.end, one.what, one.name, relation, words, one.number, value)
        known, rows = self.scene.candidates(about)
        pairs = [(self._as_told(each.name), self.here[each.span] if each.span >= 0 else None) for each in known]
        odds = self.model.links(one.vector, one.what, relation, pairs, rows)
        for place, each in enumerate(known):
            if each.name in without:
                odds[place] = 0
        if relation == "at":
            odds[-2] = 0
        if relation == "main" and one.what in INTRODUCES:
            odds[-1] = 0
        best = int(odds.argmax())
        likely = float(odds[best] / odds.sum())
        if best < len(known):
            return known[best].name, likely
        return (self._new(new or _prefix(one), text, i) if best == len(known) else ""), likely

    def _as_told(self, name: str) -> Vector | None:
        slot = self.scene.slots.get(name)
        return None if slot is None else self.told[slot]

    def _new(self, prefix: str, text: str, span: int) -> str:
        """A name for a new thing, which other notes put in before do not change."""
        if not prefix:
            return ""
        told = hashlib.sha256(f"{text} {span}".encode()).hexdigest()[:6]
        names = (f"{prefix}.{told}{again or ''}" for again in count())
        return next(name for name in names if name not in self.scene.known)

    def _meet(self, index: int, i: int, one: Reading, text: str, name: str, sure: float) -> None:
        if not name:
            return
        own = name == one.thing
        words = text[one.start : one.end] if own else ""
        number = one.number if own else None
        self.scene.meet(name, i, one.start, one.end, words, number)
        self.scene.trust(name, sure)


def pieces_of_names(text: str, coded: Encoded, low: int, high: int) -> list[tuple[int, int]]:
    """The pieces [low, high) of a name, and of a list or row of names those of each."""
    start, end = _words(text, coded.offsets[low][0], coded.offsets[high - 1][1])
    out = []
    for first, last in parts_of_name(text, start, end):
        inside = [i for i in range(low, high) if coded.offsets[i][0] < last and first < coded.offsets[i][1]]
        out += [(inside[0], inside[-1] + 1)] if inside else []
    return out or [(low, high)]


def one_sentence(text: str) -> bool:
    """Whether a note is no more than one sentence."""
    return SENTENCE.search(text.rstrip(".!?; \n")) is None


def with_less_doubt(sure: float, left: float) -> float:
    """How sure a reading is with that share left of its doubt."""
    return 1 - (1 - sure) * left


def is_brief(text: str) -> bool:
    """Whether a note is no longer than a sentence or two."""
    return len(text.split()) <= BRIEF


def names_its_thing(one: Reading, readings: Sequence[Reading]) -> bool:
    """Whether it is a figure of a thing that its own note names."""
    return one.quantity is not None and any(each.what == "mention" and each.thing == one.thing for each in readings)


def tells_what(one: Reading, text: str) -> bool:
    """Whether plain talk leaves little doubt what a figure is: a measure with its unit, in which no word tells of other
    things that are measured, or a rod that is called so."""
    if one.what == "rod_ft":
        return says("levels", text)
    of_other = one.what in MEASURED and says("others", text)
    return one.quantity is not None and one.quantity.unit is not None and not of_other


def is_plainly_of_run(one: Reading, text: str) -> bool:
    """Whether it is of a run, and its sentence leaves no room for doubt."""
    low, high = sentence_around(text, one.start)
    return one.what in OF_RUN | {"length_ft"} and is_plain(text[low:high])


def run_beside(one: Reading, readings: Sequence[Reading], text: str) -> str:
    """The only run that the sentence of a reading names, but for one that another ends in ("falls 5 inches into run
    two"); empty where it names none or several."""
    low, high = sentence_around(text, one.start)
    here = [each for each in readings if each.what == "mention" and low <= each.start < high]
    runs = {each.thing for each in here if each.thing.startswith("R.") and not INTO.search(text, low, each.start)}
    return runs.pop() if len(runs) == 1 else ""


def runs_apart(one: Reading, readings: Sequence[Reading], text: str) -> set[str]:
    """The runs that a note names in other sentences, where the sentence of the reading names one alone."""
    only = run_beside(one, readings, text)
    named = {each.thing for each in readings if each.what == "mention" and each.thing.startswith("R.")}
    return named - {only} if only else set()


def speaks_elsewhere(one: Reading, readings: Sequence[Reading], text: str) -> bool:
    """Whether a figure of a run was read as another run's than the only one that its sentence names."""
    of_run = one.quantity is not None and one.what in OF_RUN | {"length_ft"} and one.thing.startswith("R.")
    return of_run and run_beside(one, readings, text) not in ("", one.thing)


def is_of_other(one: Reading, text: str) -> bool:
    """Whether a length, fall or slope may be a test's, as far as a camera went, or a cover a distance from
    something."""
    low, high = sentence_around(text, one.start)
    apart = one.what == "cover_in" and FROM.match(text, one.end) is not None
    return apart or (one.quantity is not None and one.what in OF_TEST_TOO and says("tests", text[low:high]))


class Said(Protocol):
    """A span or quantity of a note, read by the model or marked by hand."""

    start: int
    end: int
    what: str
    name: str
    side: str


def sort_of(one: Said, beside: Sequence[Said]) -> str:
    """What tells two values of one field apart: the kind of a fitting, which may be that of the span around a count, or
    the side of a structure. `beside`: all of the note."""
    if one.side or one.what != "fitting":
        return one.side
    around = (each.name for each in beside if each.what == "fitting" and each.start <= one.start <= one.end <= each.end)
    return one.name or next(filter(None, around), "")


def makes_no_odds(one: Reading, held: Sequence[float]) -> set[str]:
    """Standings on which it does not depend what becomes of a reading: whether a value is told again or put right
    matters to counts alone, where one was told before, for of two values that differ one is asked about."""
    left = {"numbered"} if one.what != "mention" else set()
    count = one.what == "fitting" and (one.quantity is None or one.quantity.unit is None)
    return left | (set() if count and tuple(held) != NOT_HELD else {"again", "corrects"})


def told_before(held: Sequence[float]) -> bool:
    """Whether another note told the same value (`Scene.held`)."""
    _, same, _, here = held
    return bool(same) and not here


def told_otherwise(held: Sequence[float]) -> bool:
    """Whether another value was told before (`Scene.held`)."""
    return bool(held[2])


def with_own_orders(readings: Sequence[Reading]) -> None:
    """Behind what the note itself tells of, an order to take back takes back that, and no other note."""
    for one in readings:
        told = any(each.start < one.start and (each.quantity or each.what == "mention") for each in readings)
        if one.name == "withdraw_note" and told:
            one.name = "withdraw_said"


def names_in(spans: Sequence[Reading]) -> list[tuple[int, int]]:
    """Characters of the names that bear a number."""
    return [(one.start, one.end) for one in spans if one.what == "mention" and one.number is not None]


def with_whole_names(text: str, spans: Sequence[Reading]) -> list[Reading]:
    """The spans, with each name that ends inside its number taken to the end of it: "basin one hundred and four" is
    one name, and neither "basin one" nor "four"."""
    large = _large_numbers(normalise(text))
    inside: list[tuple[int, int]] = []
    for one in spans:
        for low, high in large:
            if one.what == "mention" and one.number is not None and one.start <= low < one.end < high:
                inside.append((low, high))
                one.end, one.number = high, number_said(text[one.start : high])
    return [one for one in spans if not any(low < one.start < high for low, high in inside)]


def with_whole_materials(text: str, spans: Sequence[Reading]) -> list[Reading]:
    """The spans, with those of one material that stand side by side as one: "three inches of", "pea gravel"."""
    out: list[Reading] = []
    for one in sorted(spans, key=_place):
        last = next((each for each in reversed(out) if each.what == one.what), None)
        beside = last is not None and not text[last.end : one.start].strip() and last.end <= one.start
        if last is not None and beside and one.what in ("bedding", "backfill"):
            last.end, last.sure = one.end, min(last.sure, one.sure)
        else:
            out.append(one)
    return out


def without_measures(text: str, spans: Sequence[Reading]) -> list[Reading]:
    """The spans but for names that are nothing but a measure, and materials that are nothing but a volume: neither is
    "2 hectolitres" a second basin nor are "250 millilitres" a bedding."""
    measures = [(start, end, said.unit) for start, end, said in quantities_of(text) if said.unit and not said.plural]

    def is_measure(one: Reading) -> bool:
        units = {unit for start, end, unit in measures if start <= one.start and one.end <= end}
        return bool(units) if one.what == "mention" else one.what in ("bedding", "backfill") and "gal" in units

    return [one for one in spans if not is_measure(one)]


def with_ordinals(text: str, spans: Sequence[Reading]) -> list[Reading]:
    """The spans, with each name that an ordinal past the first few stands in called by it: "the seventh cleanout", and
    "thirty-first basin" where the name was cut at "first". The first few may be of an order, as in "the first box"."""
    tokens = normalise(text)
    for one in spans:
        found = _ordinal_of(tokens, one) if one.what == "mention" else None
        if found:
            one.number, one.start = found[0], min(one.start, tokens[found[1]].start)
            one.standing |= {"numbered"}
    return list(spans)


def _ordinal_of(tokens: Sequence[Token], one: Reading) -> tuple[int, int] | None:
    """The number of the ordinal in a name or right before it, and the token at which it begins."""
    inside = [i for i, token in enumerate(tokens) if one.start <= token.start and token.end <= one.end]
    for i in [inside[0] - 1, *inside] if inside else []:
        found = ordinal_before(tokens, i + 1)
        if found and found[0] > FEW and tokens[max(0, found[1] - 1)] not in ("a", "an") and i + 1 < len(tokens):
            return None if "street" in classes_of(tokens[i + 1]) else found
    return None


def _large_numbers(tokens: Sequence[Token]) -> list[tuple[int, int]]:
    """Where whole numbers of a hundred and more with no unit stand, by characters: "one hundred and four", "one oh
    four", and not "one forty", which may be a number and a measure."""
    large = [one for one in find_quantities(tokens) if one.unit is None and 100 <= one.value <= HIGHEST]
    by_digits = [one for one in large if len(one.parts) == 3 and one.parts[1] == 0 and max(one.parts) < 10]
    plain = [one for one in large if not one.parts and not one.pointed] + by_digits
    return [(tokens[one.start].start, tokens[one.end - 1].end) for one in plain]


def names_turning_point(one: Reading, turning: Sequence[tuple[int, int, int | None]]) -> bool:
    """Whether words that name a turning point were taken for the name of a structure or run."""
    return one.what == "mention" and any(low < one.end and one.start < high for low, high, _ in turning)


IN_ROW = ("start", "end", "what", "name", "thing", "at", "from_of", "to_of", "side", "sight", "number")


def row_of(one: Reading) -> list[Any]:
    """A reading as JSON can hold it; its quantity is found again in the words."""
    return [*(getattr(one, name) for name in IN_ROW), sorted(one.standing), one.sure, one.quantity is not None]


def readings_of(index: int, text: str, rows: Sequence[Sequence[Any]]) -> list[Reading]:
    """The readings of a note, back from their rows."""
    out, numeric = [], []
    for *values, standing, sure, number in rows:
        out.append(Reading(index, **dict(zip(IN_ROW, values, strict=True)), standing=frozenset(standing), sure=sure))
        numeric.append(number)
    if any(numeric):
        found = quantities_of(text, names_in(out))
        quantities = {(start, end): quantity for start, end, quantity in found}
        for one, number in zip(out, numeric, strict=True):
            one.quantity = quantities[one.start, one.end] if number else None
    return out


def told_of(one: Reading, text: str) -> Value:
    """What a reading tells of its field: its number, else its class, else its words."""
    return one.quantity.value if one.quantity else one.name or text[one.start : one.end].lower()


def _place(one: Reading) -> tuple[int, int]:
    return one.start, -one.end


def _prefix(one: Reading) -> str:
    """The prefix of a new thing that a reading may begin; empty where it cannot begin one."""
    if one.what == "mention":
        return one.name
    if one.what in ("issue", "action"):
        return "I"
    if one.what in ("test", "result", "duration_s", "flow_gpm"):
        return "T"
    if one.what == "decision":
        return "D"
    if one.what == "kind":
        return "OUT"
    if one.what in ("pipe", "bedding", "backfill", "fitting", "same", "crossing", "nominal_in", "drop_in", "slope_pct",
                    "cover_in", "pieces_ft", "stations_ft", "length_ft"):  # fmt: skip
        return "R"
    return ""


def _words(text: str, start: int, end: int) -> tuple[int, int]:
    """The span widened to whole words."""
    while start > 0 and text[start - 1].isalnum() and text[start].isalnum():
        start -= 1
    while end < len(text) and text[end].isalnum() and text[end - 1].isalnum():
        end += 1
    return start, end


def number_said(words: str) -> int | None:
    """The number in a name that bears one: "basin two", "the second box", "CB2", "run three's"."""
    tokens = normalise(words)
    for end in range(len(tokens), 0, -1):
        found = ordinal_before(tokens, end)
        if found:
            return found[0]
    figure = LABELLED.search(words)
    if figure:
        return int(figure[1])
    numbers = [q.value for q in find_quantities(tokens) if q.unit is None and q.value == int(q.value)]
    return next((int(value) for value in numbers if 0 < value <= HIGHEST), None)
