"""Readings of all notes, in order, into one record: what exists, in what state, every value with its witness.

`Assembly.take` is called note by note; `Assembly.record` computes the record. A value goes where its reading says,
unless it stands as no fact (a plan, a denial, hearsay); a later fact wins over an earlier plan; of two facts that
differ with no word of correction the later stands, and a question names both.
"""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Sequence, Set
from dataclasses import replace
from typing import Any

from extract.crossing_names import UNNAMED
from extract.field_names import fields_of_order
from extract.read.amounts import LISTED, joined, told_by_digits
from extract.read.draft import AS_BUILT, UNSURE, badly_heard, rounded
from extract.read.fittings import totalled
from extract.read.happenings import HAPPENINGS
from extract.read.known import things_of
from extract.read.labels import CLASSES, MEASURED, NO_FACT, PREFIXES
from extract.read.listed import outlet_of, pipe_of
from extract.read.numbers import FIELDS
from extract.read.orders import Orders
from extract.read.plain import says, tells_it_is_false, tells_it_is_wrong
from extract.read.readings import Reading
from extract.read.things import KINDS, TURNING, Held, Thing, twice
from extract.read.together import ADDS_UP, IN_DOUBT, told_of_all
from extract.read.turning import at_turning_points
from extract.read.values import IMPERIAL, Crew
from extract.read.words import sentence_around
from extract.record import Decision, Evidence, Issue, Note, Question, Record, Run, Structure, Test

WITHDRAWS = ("withdraw_note", "withdraw_said")
NAMES_A_FIELD = re.compile(
    r"cover|over (?:it|the)|drop|fall|fell|slope|pitch|grade|deep|depth|size|long|length|rim|invert|rod|wide|percent|%",
    re.IGNORECASE,
)
"""What tells which field a number is of, so that no number denied beside it decides."""
QUESTION = re.compile(r"[^.!?]*\?")
"""From a name to the end of a question that it stands in."""
TINY = 0.001
UNSURE_HEARSAY = 0.6
"""How sure it is, under which what may be hearsay is asked about."""
TRAFFIC = ("foot", "cart", "car", "truck")


def order_in(readings: Sequence[Reading]) -> Reading | None:
    """The last order of a note to take something back."""
    return next((one for one in reversed(readings) if one.what == "order" and one.name in WITHDRAWS), None)


def bearing_witness(known: Record | None) -> set[int]:
    """INDEX of each note that stands for what is known and nobody said."""
    return {item.note for entry in [*known.structures, *known.runs] for item in entry.evidence} if known else set()


def taken_back(readings: Sequence[Sequence[Reading]], known: Record | None = None) -> set[int]:
    """INDEX of every note that a later one took back, and of those that do nothing else."""
    gone, witness = set(), bearing_witness(known)
    before: list[int] = []
    for index, row in enumerate(readings):
        order = order_in(row)
        if order and order.name == "withdraw_note" and before:
            gone.add(before.pop())
        if order and all(one.end <= order.end or one.what == "order" for one in row):
            gone.add(index)
        elif index not in witness:
            before.append(index)
    return gone


class Assembly(Orders):
    """What the readings of the notes so far come to, beside what is `known` to lie there already.

    `withdrawn`: INDEX of each note of which nothing stands, see `taken_back`.
    """

    def __init__(self, crew: Crew = IMPERIAL, known: Record | None = None, withdrawn: Set[int] = frozenset()) -> None:
        super().__init__(crew)
        self.known = known
        self.withdrawn = withdrawn
        self._bear_witness = bearing_witness(known)
        if known:
            self.things = things_of(known)
            self.labels = {thing.label for thing in self.things.values()}

    def take(self, note: Note, readings: Sequence[Reading]) -> None:
        """One note's readings, in order: what is named first, then what is said of it."""
        index = len(self.taken)
        self.taken.append((note, readings))
        self.last_fitting = None
        order = order_in(readings)
        turning = (each.name for each in self.levels if each.turning)
        readings = joined(note.text, told_by_digits(note.text, readings), self.crew)
        readings = at_turning_points(note.text, readings, turning)
        if index not in self.withdrawn and not order:
            readings = self._put_right(note, readings)
        for one in readings:
            self.numbers.meet(note.text, one, readings)
        if index in self.withdrawn:
            self.numbers.withdraw(index)
            self.called |= {one.thing: one.number for one in readings if one.what == "mention" and one.number}
            return
        if order:
            self.numbers.withdraw(order.note, order.end)
            readings = [one for one in readings if one.start >= order.end or one.what in (*HAPPENINGS, "item")]
        for one in readings:
            if one.what == "mention" and one.thing:
                self._mention(note, one)
        readings = self._of_all(note, readings)
        meant = self._meant_for_other(note, readings)
        mends = any(one.what == "mends" for one in readings)
        last = self._told_last() if mends else {}
        for one in readings:
            self._entry(note, one, readings)
        for one in readings:
            if one.quantity is not None:
                self._quantity(note, one, readings)
            elif one.what in SAYS:
                SAYS[one.what](self, note, one, readings)
        self._ask_of_echoed(note, readings)
        self._ask_of_other(note, meant)
        self._ask_of_slip(note, readings)
        if last:
            self._ask_of_mended(note, readings, last)

    def _of_all(self, note: Note, readings: Sequence[Reading]) -> list[Reading]:
        """The readings, with each that is told of several things at once for every one of these. A figure of the next
        note that names no thing is of the same ones."""
        named = any(one.what == "mention" for one in readings)
        follows: list[Reading] = []
        for one in readings:
            told = self._told_with(one.thing, one.what) if one.quantity and not named else ()
            alike = [name for name in told if name != one.thing and self._holds_the_same(name, one)]
            if alike and one.what in ADDS_UP:
                one = replace(one, sure=min(one.sure, IN_DOUBT))
            follows += [*(replace(one, thing=name) for name in alike), one]
        out = told_of_all(note.text, follows, [thing for thing in self.things.values() if not thing.gone])
        shared: dict[tuple[int, str], list[str]] = defaultdict(list)
        for one in out:
            shared[one.start, one.what].append(one.thing)
        index = len(self.taken) - 1
        for (_, what), names in shared.items():
            self.together |= {(name, what): (index, tuple(names)) for name in names if len(names) > 1}
        return out

    def _holds_the_same(self, name: str, one: Reading) -> bool:
        """Whether a field of the thing holds what that of the reading's thing does."""
        held, other = (self._held(each, one.what) for each in (name, one.thing))
        return held is not None and other is not None and held.value == other.value

    def _ask_of_echoed(self, note: Note, readings: Sequence[Reading]) -> None:
        """A number of which it is not sure what it is may speak of the same one told right before: what stands there is
        asked about."""
        for one in readings:
            if one.quantity and one.sure < UNSURE:
                for about, name in self.numbers.echoed(one):
                    self._ask(about, name, "low_confidence", self._witness(note, one, name), note)

    def _put_right(self, note: Note, readings: Sequence[Reading]) -> list[Reading]:
        """The readings, with what a note says of figures that were wrong put where these stand, if no word of it names
        a field or a fitting."""
        out = self._after_slip(note, readings)
        numbers = [i for i, one in enumerate(out) if one.quantity is not None]
        if NAMES_A_FIELD.search(note.text) or any(one.what == "fitting" for one in out):
            return out
        if len(numbers) == 1:
            self._clear_denied(note, _bare(out[numbers[0]]))
        if len(numbers) == 2:
            named = any(one.what == "mention" for one in out)
            for i, j in (numbers, numbers[::-1]):
                out[i], out[j] = self._in_place_of(note, out[i], out[j], named)
        return out

    def _in_place_of(self, note: Note, first: Reading, second: Reading, named: bool) -> tuple[Reading, Reading]:
        """Of "not fifteen, fifty" or "the fifteen is wrong, it's fifty" both as of the field in which the first stands,
        and of its thing, unless another is `named`. Where it stands in several, these are asked about."""
        no, yes = _bare(first), _bare(second)
        if no.quantity is None or yes.quantity is None or no.quantity.unit or yes.quantity.unit:
            return first, second
        denied = "denied" in no.standing and "corrects" in yes.standing and yes.what in MEASURED
        told = no.start < yes.start and not (NO_FACT & yes.standing) and yes.what in MEASURED
        if not denied and not (told and tells_it_is_wrong(note.text[no.end : yes.start])):
            return first, second
        fraction = self._with_other_fraction(no, yes) if denied else None
        if fraction:
            return replace(no, thing=fraction.thing, what=fraction.what), fraction
        places = [place[1:] for place in self._told_at([no.quantity])]
        own = [place for place in places if place[0] == yes.thing] or ([] if named else places)
        if len(own) != 1:
            self._ask_of(note, yes, own)
            return first, second
        thing, what = own[0]
        stands = yes.standing & {"hedged"} | {"corrects"}
        return (
            replace(no, thing=thing, what=what, standing=no.standing | {"denied"}),
            replace(yes, thing=thing, what=what, standing=stands),
        )

    def _clear_denied(self, note: Note, no: Reading) -> None:
        """Takes back the number of "the fifty was wrong", where it stands in one place."""
        behind = note.text[no.end : sentence_around(note.text, no.start)[1]]
        if no.quantity is None or no.what not in MEASURED or not tells_it_is_false(behind):
            return
        places = [place[1:] for place in self._told_at([no.quantity])]
        if len(places) == 1:
            self._clear_places(places, alone=True)

    def _with_other_fraction(self, no: Reading, yes: Reading) -> Reading | None:
        """Of "three-quarters, not three-eighths" the value that it comes to, if the one that stands has the fraction
        that is denied behind whole inches or feet."""
        held = self._held(yes.thing, yes.what)
        old, new = no.quantity.value if no.quantity else 1, yes.quantity.value if yes.quantity else 1
        if held is None or not isinstance(held.value, int | float) or not (0 < old < 1 and 0 < new < 1):
            return None
        whole, rest = divmod(held.value, 1)
        if not whole or abs(rest - old) > TINY or yes.quantity is None:
            return None
        return replace(yes, quantity=yes.quantity._replace(value=whole + new))

    def _after_slip(self, note: Note, readings: Sequence[Reading]) -> list[Reading]:
        """Where a note says that it made a slip, its figures put right what stands in their fields."""
        if not says("slip", note.text):
            return list(readings)
        facts = [one for one in readings if one.what in MEASURED and not (NO_FACT | {"planned"}) & one.standing]
        told = {id(one) for one in facts if one.quantity and self._held(one.thing, one.what)}
        return [replace(one, standing=one.standing | {"corrects"}) if id(one) in told else one for one in readings]

    def _mention(self, note: Note, one: Reading) -> None:
        if {"denied"} & one.standing and one.thing not in self.things:
            return
        thing = self._thing(one.thing, one.number)
        thing.asked = thing.asked is not False and QUESTION.match(note.text, one.end) is not None
        if one.name in PREFIXES and one.name != "R":
            thing.votes[one.name] = thing.votes.get(one.name, 0) + one.sure
        thing.evidence.append(self._witness(note, one))
        for run, end in ((one.from_of, "from"), (one.to_of, "to")):
            if run and "denied" not in one.standing:
                witness = self._witness(note, one, end)
                self._thing(run).fields[end] = Held(one.thing, one.standing, witness)
                self._thing(run).evidence.append(witness)

    def _quantity(self, note: Note, one: Reading, readings: Sequence[Reading]) -> None:
        assert one.quantity is not None
        no_fact = NO_FACT & one.standing and one.thing in self.things
        may_be = badly_heard(note, one) or self._may_be_no_hearsay(one) or self._may_put_right(note, one, readings)
        if no_fact and (may_be or self._may_be_moved(one)):
            self._ask_again(note, one)
        elif one.what in ("rod_ft", "elevation_ft"):
            self._level(note, one, readings)
        elif one.what in ("duration_s", "flow_gpm"):
            self._measured(note, one, readings)
        elif one.what in LISTED:
            self._listed(note, one, readings)
        elif one.what in MEASURED:
            self._value(note, one, readings)

    def _may_be_no_hearsay(self, one: Reading) -> bool:
        """Whether a figure that is read as somebody else's may be the crew's own, where none stands."""
        unsure = "hearsay" in one.standing and one.sure < UNSURE_HEARSAY
        return unsure and one.what in MEASURED and self._held(one.thing, one.what) is None

    def _may_be_moved(self, one: Reading) -> bool:
        """Whether a figure that is denied stands at another thing, so that it may be meant for this one: "eighteen's
        the channel itself"."""
        if "denied" not in one.standing or one.what not in MEASURED or self._held(one.thing, one.what):
            return False
        assert one.quantity is not None
        return any(field == one.what for _, _, field in self._told_at([one.quantity]))

    def _may_put_right(self, note: Note, one: Reading, readings: Sequence[Reading]) -> bool:
        """Whether a figure that is told as no fact may put right the one that stands: it is another one, or it denies
        that one and the note tells none in its place."""
        held = self._held(one.thing, one.what)
        value = rounded(self._worth(note, one)) if held and one.what in MEASURED else None
        if held is None or value is None or isinstance(held.value, list) or "planned" in held.standing:
            return False
        if value != held.value:  # "40 feet, not 44" is plain in one note
            return held.witness.note != one.note or one.sure < UNSURE
        same = [each for each in readings if (each.what, each.thing) == (one.what, one.thing)]
        return "denied" in one.standing and all(NO_FACT & each.standing for each in same)

    def _ask_again(self, note: Note, one: Reading) -> None:
        """A number told as a question, a denial or hearsay, which may have been none or may be right."""
        name = FIELDS.get(one.what, one.what)
        self._ask(one.thing, name, "low_confidence", self._witness(note, one, name), note)
        self.numbers.went(one, "question", one.thing, name)

    def _state(self, note: Note, one: Reading, readings: Sequence[Reading]) -> None:
        if not one.thing or (NO_FACT - {"hearsay"}) & one.standing:
            return
        thing = self._thing(one.thing)
        if one.name != "planned" or not (thing.built or thing.state not in (None, "planned")):
            self._ask_if_new(note, one, thing)
            thing.state = one.name
            thing.evidence.append(self._witness(note, one, "state"))

    def _ask_if_new(self, note: Note, one: Reading, thing: Thing) -> None:
        """Of what lay there before: whether it was put in anew, or is the old one."""
        there = bool(thing.evidence) and thing.evidence[0].note in self._bear_witness
        if there and (thing.state, one.name) == ("existing", "installed"):
            before = next(each for each in thing.evidence if each.field == "state")
            old = Held(thing.state, frozenset(), before)
            self._ask_which(thing.name, "state", old, one.name, self._witness(note, one, "state"), note)

    def _word(self, note: Note, one: Reading, readings: Sequence[Reading]) -> None:
        """A class that is a field's value, or the words themselves."""
        if not one.thing:
            return
        around = (
            each for each in readings if each.what == "backfill" and each.start < one.end and one.start < each.end
        )
        if one.what == "bedding" and any(around):
            return  # the reader takes backfill for bedding too, and bedding alone for nothing else
        value = one.name or note.text[one.start : one.end]
        if one.what == "pipe":
            family = pipe_of(note.text, one)
            if family is None:
                return  # of no family that the record has
            value = family
        if one.what == "kind":
            if not NO_FACT & one.standing:
                self._thing(one.thing).kind = outlet_of(note.text, one)
            return
        old = self._thing(one.thing).fields.get(one.what)
        corrects = "corrects" in one.standing
        if one.what == "traffic" and old and not corrects and TRAFFIC.index(old.value) > TRAFFIC.index(value):
            return
        self._put(note, one, one.what, value)

    def _same(self, note: Note, one: Reading, readings: Sequence[Reading]) -> None:
        """The pipe of the run, or the size of the basin, named in the same note, or else of the one before. A measure
        that is said to be the same is asked about."""
        measures = MEASURED & fields_of_order(note.text[one.start : one.end]) - {"nominal_in", "size_in"}
        if measures and one.thing and not NO_FACT & one.standing:
            self._ask_of(note, one, [(one.thing, each) for each in sorted(measures)])
            return
        kind = one.thing.split(".")[0]
        main, *more = ("pipe", "nominal_in") if kind == "R" else ("size_in",)
        others = [each.thing for each in readings if each.what == "mention" and each.name == kind]
        known = [name for name in self.things if name.startswith(f"{kind}.") and name != one.thing]
        near = [self.things[name].fields for name in [*reversed(others), *reversed(known)] if name in self.things]
        source = next((fields for fields in near if any(each in fields for each in (main, *more))), {})
        for what in (main, *more):
            if what in source and one.thing:
                self._put(note, one, what, source[what].value)

    def record(self) -> Record:
        """The record as it stands."""
        self._leave_out_asked()
        self._settle_labels()
        for entry in self.entries.values():
            if isinstance(entry, Test) and entry.at in self.things:
                self.things[entry.at].built = True
        self._connect()
        names = {thing.name: thing.label for thing in self.things.values() if not thing.gone}
        record = Record(tasks=self.tasks, acceptances=list(self.known.acceptances) if self.known else [])
        asked: dict[str, set[str | None]] = defaultdict(set)
        for name, field_, _ in self.questions:
            asked[name].add(field_)
        for thing in self.things.values():
            if not thing.gone:
                self._enter(record, thing, names, asked[thing.name])
        self._enter_levels(record, names)
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
        record.questions.sort(key=lambda each: each.why == "missing")  # what was said is asked about first
        return record

    def _leave_out_asked(self) -> None:
        """What was only asked after, and of which nothing is told, is no thing."""
        told = {entry.at for entry in self.entries.values() if isinstance(entry, Issue | Test)}
        ends = (thing.fields.get(end) for thing in self.things.values() for end in ("from", "to"))
        told |= {held.value for held in ends if held} | {about for about, _ in self.changes}
        told |= {name.split(" ")[0] for name, _, _ in self.questions} | {level.name for level in self.levels}
        for thing in self.things.values():
            if thing.asked and thing.empty and thing.name not in told:
                self._drop(thing)

    def _connect(self) -> None:
        """What an installed run was laid from and to is connected, so installed where nothing else was said."""
        for run in self.things.values():
            if run.gone or run.prefix != "R" or not (run.state == "installed" or run.built):
                continue
            for end in (run.fields.get("from"), run.fields.get("to")):
                thing = self.things.get(end.value) if end and "planned" not in end.standing else None
                if thing and thing.state is None:
                    thing.built = True

    def _ask_of_lost(self, record: Record, names: dict[str, str]) -> None:
        """A question about each measure of the work that found no place, unless another has come to stand there."""
        asked = {self._place(each.about, each.field, each.evidence[-1].note, names) for each in self.questions.values()}
        shot = {level.point for level in record.levels if level.rod_ft is not None}
        for number in record.numbers:
            about, _, name = (number.to or "").partition(".")
            place = (about, name or None, number.note if about == "job" else None)
            if number.went != "question" or place in asked:
                continue
            of_a_fitting = name == "fittings" and number.unit in ("ft", None)  # no other takes the place of a distance
            if about in shot or (self._left(record.subject(about), name) and not of_a_fitting):
                number.went, number.to = "withdrawn", None
                continue
            asked.add(place)
            note = self.taken[number.note][0]
            witness = Evidence(note=number.note, quote=number.text, confidence=note.confidence, field=name or None)
            record.questions.append(
                Question(about=about, field=name or None, heard=note.text, why="low_confidence", evidence=[witness])
            )

    def _place(
        self, about: str, name: str | None, note: int, names: dict[str, str]
    ) -> tuple[str | None, str | None, int | None]:
        """What a question is about, its field, and the note where it is of no thing: there each is one of its own."""
        label = self._about(about, names)
        return label, name, note if label == "job" else None

    @staticmethod
    def _left(entry: Structure | Run | None, name: str) -> bool:
        """Whether a field of the record's entry holds anything."""
        return bool(getattr(entry, LISTED.get(name, name), None))

    def _about(self, about: str, names: dict[str, str]) -> str | None:
        """The label that a question is about; none where that is out of the record."""
        name, _, side = about.partition(" ")
        if about in ("benchmark", "job") or about.startswith(TURNING):
            return about
        entry = self.entries.get(name)
        if entry is not None:
            return names.get(getattr(entry, "at", None) or "", "job")
        return f"{names[name]} {side}".strip() if name in names else None

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
                self.questions.setdefault((thing.name, "label", "conflict"), twice(thing, said))
            if thing.label in taken or not thing.label.startswith(f"{thing.prefix}-"):
                free = next(n for n in range(1, 10_000) if f"{thing.prefix}-{n}" not in taken)
                thing.label = f"{thing.prefix}-{free}"
            taken.add(thing.label)

    def _enter(self, record: Record, thing: Thing, names: dict[str, str], asked: Set[str | None]) -> None:
        """Puts the thing into the record. `asked`: its fields of which there are questions."""
        state: Any = thing.state
        if thing.built and state in (None, "planned"):
            state = "installed"
        entry: Structure | Run
        if thing.prefix == "R":
            entry = Run(label=thing.label, state=state, fittings=totalled(thing.fittings), evidence=thing.evidence)
            entry.crossings = thing.crossings
        else:
            told = thing.kind if thing.kind in CLASSES["kind"] else None
            kind: Any = told if thing.prefix == "OUT" else KINDS[thing.prefix]
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
        first = thing.evidence[:1]
        if any(each.what == UNNAMED for each in thing.crossings) and "crossings" not in asked:
            witness = [each for each in thing.evidence if each.field == "crossings"][-1:]
            record.questions.append(
                Question(about=thing.label, field="crossings", why="low_confidence", evidence=witness or first)
            )
        if state is None and "state" not in asked:
            record.questions.append(Question(about=thing.label, field="state", why="missing", evidence=first))
        run = entry if isinstance(entry, Run) and state == "installed" else None
        if run and run.length_ft is None and len(run.stations_ft) < 2 and "length_ft" not in asked:
            record.questions.append(Question(about=thing.label, field="length_ft", why="missing", evidence=first))


def _bare(one: Reading) -> Reading:
    """The reading, with "42's" as the bare number that it is in a note of no fittings."""
    said = one.quantity
    return replace(one, quantity=said._replace(unit=None)) if said and said.unit == "angle" else one


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
