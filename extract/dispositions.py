"""What became of each number that was said: the record's `numbers`.

The reader enters here each quantity that it met, in what standing, and each use that it made of one. At the end every
quantity gets its disposition, and a measure of the work that found no place is asked about.
"""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, NamedTuple

from extract.lexicon import load
from extract.meant import field_meant, thing_meant
from extract.record import ELEVATIONS, Evidence, Fitting, Number, Reason, Went
from extract.text.quantities import Quantity, angle_of, elevation_of, rod_of

if TYPE_CHECKING:
    from extract.site import Said, Site
    from extract.statements import Sentence

Span = tuple[int, int, int]
"""INDEX of the note, and where the words begin and end in it, characters."""

REASON_OF_UNIT: dict[str, Reason] = {"money": "money", "clock": "clock", "s": "clock", "other": "other"}
MEASURES = {"ft", "in", "pct", "gpm", "psi", "sqft", "size", "station", "deg", "angle", "gal"}
ELSEWHERE = {"from", "off", "past", "away", "apart"}
"""Behind a measure: it tells where or how large something is that the record holds in words alone."""
MEASURED = ("cover", "drop", "slope", "length", "width", "invert", "invert_in", "invert_out", "rim", "elevation")
LENGTHS = {"ft", "in", "pct", "size", "station", "sqft"}
OF_THE_TRADE = ("attribute", "level", "pipe", "fitting", "test", "issue", "run")
PRONOUNS = ("one", "a second")
MOST_QUOTED = 200


class Use(NamedTuple):
    """One use of a quantity: the field that it was put into, or a list of the record (`levels`, `tests`)."""

    about: str | None
    name: str
    said: Said | None = None

    @property
    def path(self) -> str:
        return f"{self.about}.{self.name}" if self.about else self.name


class Met(NamedTuple):
    """One quantity as the reader met it."""

    span: Span
    text: str
    quantity: Quantity
    sentence: Sentence
    standing: str
    """told, or else: not_fact, withdrawn, or the list of the record in whose words it stands."""
    about: str | None = None
    """The thing spoken of then."""
    near: tuple[str, ...] = ()
    """The run and the structure spoken of last."""


@dataclass
class Ledger:
    met: list[Met] = field(default_factory=list)
    named: dict[int, set[str]] = field(default_factory=dict)
    """By a note's INDEX the labels of the things that it names."""
    uses: dict[Span, list[Use]] = field(default_factory=lambda: defaultdict(list))

    given: dict[str, set[tuple[str, float]]] = field(default_factory=lambda: defaultdict(set))
    """By a thing's label each field with each number that was given to it."""

    _told: set[str] = field(default_factory=set)
    _asked: set[tuple[int, str, str | None]] = field(default_factory=set)

    def met_in(self, note: int) -> list[Met]:
        """What was met of a note, which is the last one read."""
        found = []
        for each in reversed(self.met):
            if each.span[0] != note:
                break
            found.append(each)
        return found[::-1]

    def rename(self, old: str, new: str) -> None:
        """A label that was given late takes the place of the one before."""
        self.met = [each._replace(about=new) if each.about == old else each for each in self.met]
        for uses in self.uses.values():
            uses[:] = [use._replace(about=new) if use.about == old else use for use in uses]
        self.given[new] |= self.given.pop(old, set())

    def enter(self, label: str, name: str, said: Said) -> None:
        """A value that was put into a field."""
        if said.span:
            self.uses[said.span].append(Use(label, name, said))
        if isinstance(said.value, int | float):
            self.given[label].add((name, said.value))

    def numbers(self, site: Site) -> list[Number]:
        """Every number in the order in which it was said. Asks, in `site`, about what found no place."""
        found = {}
        for each in sorted(self.met, key=lambda each: each.span):
            went, to, reason = self._went(site, each)
            note, start, end = each.span
            if reason == "other" and each.text.strip().lower() in PRONOUNS:
                continue
            found[start, end, note, each.quantity.value] = Number.model_construct(
                note=note,
                start=start,
                end=end,
                text=each.text,
                value=round(each.quantity.value, 4),
                unit=each.quantity.unit,
                went=went,
                to=to,
                reason=reason,
            )
        return sorted(found.values(), key=lambda number: (number.note, number.start))

    def _went(self, site: Site, met: Met) -> tuple[Went, str | None, Reason | None]:
        uses = self.uses.get(met.span)
        if uses:
            went, to = _of_use(site, uses[-1], self._told, met)
            return went, to, None
        if met.standing in ("not_fact", "withdrawn"):
            return met.standing, None, None  # type: ignore[return-value]
        if met.standing != "told":
            return "text", met.standing, None
        reason = _irrelevant(met)
        asked = [pair for pair in site.asked_in(met.span[0]) if _asks(met, *pair)]
        of_test = met.quantity.unit == "s" and any(name == "duration_s" for _, name in asked)
        if asked and (reason in (None, "other") or of_test):
            still = next((pair for pair in asked if site.is_asked(*pair)), None)
            about, name = still or asked[0]
            return ("question" if still else "withdrawn"), f"{about}.{name}" if name else about, None
        if reason is None and (held := _said_already(site, met)):
            return "restated", held, None
        return ("irrelevant", None, reason) if reason else self._ask(site, met)

    def _ask(self, site: Site, met: Met) -> tuple[Went, str | None, Reason | None]:
        """The default: nothing is lost without a word."""
        note = met.span[0]
        named = [met.about, *sorted(self.named.get(note, ())), *met.near]
        if met.sentence.has("pipe"):
            named.sort(key=lambda label: not (label or "").startswith("R-"))
        meant = thing_meant([label for label in named if label], met.quantity, met.sentence)
        about, name = meant or (met.about or f"note {note}", None)
        if (note, about, name) not in self._asked:  # a note asks once about a field
            self._asked.add((note, about, name))
            words = met.sentence.text()[:MOST_QUOTED]
            witness = Evidence(note=note, quote=words, confidence=1)
            site.ask(about, name, "low_confidence", evidence=[witness], heard=words)
        return "question", f"{about}.{name}" if name else about, None


def _asks(met: Met, about: str, name: str | None) -> bool:
    """Whether a question that this note gave rise to may be about this number."""
    return name is None or field_meant(about, met.quantity, met.sentence) in (name, None)


def _said_already(site: Site, met: Met) -> str | None:
    """The path of the field that was given this number before, of the thing spoken of, where the words may mean it."""
    if not met.about:
        return None
    meant = field_meant(met.about, met.quantity, met.sentence)
    value, unit = round(met.quantity.value, 4), met.quantity.unit
    for name, given in site.ledger.given.get(met.about, ()):
        alike = meant in (None, name) or (meant or "").startswith("invert") and name.startswith("invert")
        if alike and given == value and unit in (None, name.rsplit("_", 1)[-1]):
            return f"{met.about}.{name}"
    return None


def _in_list(site: Site, name: str, met: Met) -> bool:
    """Whether a level or a test holds the number still: a later word may have taken its place."""
    values = (met.quantity.value, rod_of(met.quantity), elevation_of(met.quantity))
    if name == "levels":
        held = [each for level in site.record.levels for each in (level.rod_ft, level.elevation_ft)]
        heights = [getattr(each, field, None) for each in site.record.structures for field in ELEVATIONS]
        return "hi" in met.sentence.words or any(value in (*held, *heights) for value in values if value is not None)
    held = [each for test in site.record.tests for each in (test.duration_s, test.flow_gpm)]
    return met.quantity.value in held


def _counts(fittings: list[Fitting], quantity: Quantity) -> bool:
    """Whether the number is a count, an angle or a size of what is on the run by now."""
    said = {quantity.value, *quantity.parts, *quantity.values, angle_of(quantity) or quantity.value}
    return any(said & {each.count, each.angle_deg, each.nominal_in, each.to_nominal_in} for each in fittings)


def _of_use(site: Site, use: Use, told: set[str], met: Met) -> tuple[Went, str | None]:
    """`told` holds the fields that an earlier number stands in: the same value again is restated."""
    if use.about is None:
        return ("field" if _in_list(site, use.name, met) else "withdrawn"), use.path
    asked = site.is_asked(use.about, use.name)
    if use.said is None:
        held = getattr(site.entry(use.about), use.name, None)
        if use.name == "fittings" and held and not _counts(held, met.quantity):
            held = None
        return ("field" if held else "question" if asked else "withdrawn"), use.path
    stands = site.said.get((use.about, use.name))
    if stands is None:
        return ("question" if asked else "withdrawn"), use.path
    if stands.value == use.said.value:
        if stands.planned and site.dropped(use.about, use.name):
            return "not_fact", use.path
        again = use.path in told
        told.add(use.path)
        return ("restated" if again else "field"), use.path
    if use.said.planned:
        return "not_fact", use.path
    return ("question" if asked else "withdrawn"), use.path


def _irrelevant(met: Met) -> Reason | None:
    """Why a number is none of the work, or None where it may be."""
    quantity, after = met.quantity, met.sentence.word(met.quantity.end)
    if quantity.unit is None and met.text.strip().lower() in PRONOUNS:
        return "other"
    if quantity.unit in REASON_OF_UNIT:
        return REASON_OF_UNIT[quantity.unit]
    for reason, words in load()["irrelevant"].items():
        if after in words or met.sentence.word(quantity.end + 1) in words:
            return reason  # type: ignore[return-value]
    if quantity.unit == "deg" and angle_of(quantity) is None:
        return "weather"
    if quantity.unit == "psi" and not met.sentence.has("test"):
        return "other"
    if quantity.unit in LENGTHS or quantity.plural:
        return None
    if not (met.sentence.mentions or met.sentence.speaks_of(*OF_THE_TRADE)) and not _alone(met):
        return "other"
    if quantity.unit in MEASURES or quantity.pointed or quantity.glued:
        return None
    counted = any(0 <= term.start - quantity.end <= 1 for term in met.sentence.find("fitting"))
    told = met.sentence.has("attribute", *MEASURED)
    return None if counted or told else "other"


def in_words(sentence: Sentence, quantity: Quantity, about: str | None) -> str:
    """The field or thing in whose words a quantity stands that is told of it, or `told`."""
    for name in ("bedding", "backfill"):
        if about and about.startswith("R-") and sentence.has("attribute", name):
            return f"{about}.{name}"
    if quantity.unit == "psi" and sentence.has("test"):
        return "tests"
    before, after = sentence.word(quantity.start - 1), sentence.word(quantity.end)
    place = quantity.unit == "ft" and (after in ELSEWHERE or before in ("at", "every"))
    return about if place and about else "told"


def _alone(met: Met) -> bool:
    """Whether the number is all that the sentence says, as an answer does."""
    return met.quantity.end - met.quantity.start >= len(met.sentence.tokens) - 1


def is_free(site: Site, met: Met) -> bool:
    """Whether a number that was told found no place, and may be of the work."""
    if site.ledger.uses.get(met.span) or met.standing not in ("told", met.about):
        return False
    return _irrelevant(met) in (None, "other") and met.text.strip().lower() not in PRONOUNS
