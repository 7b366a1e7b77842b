"""What a sentence is read with: its note, its witness, and which of its words do not count."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from functools import cached_property

from extract.dispositions import Span, Use
from extract.hedges import hedged
from extract.limits import limits
from extract.record import Evidence, Issue, Level, Note, Test, Why
from extract.site import Said, Site
from extract.spelling import normalise
from extract.statements import Mention, Sentence
from extract.text.quantities import Quantity

NEGATION_REACH = 4
LONGEST_QUOTE = 160
TURNS = {"but", "so", "anyway", "anyhow", "okay", "well"}
NEEDS = {"needs", "need"}
SAYING = {"says", "said", "claims", "swears", "reckons", "figures"}
OURS = set("only we i tape tag wheel actual actually came got ended measured taped used turned".split())
"""Words with which the crew's own figure follows one that was wanted or told."""
NOT = {"not", "isn't", "isnt", "wasn't", "wasnt", "aren't", "weren't"}
NEIGHBOUR = {"neighbor", "neighbour", "neighbors", "neighbours"}
TURNS_OF_SPEECH = NEIGHBOUR | SAYING | NEEDS | {"no", "nope"}
MEASURERS = set("it that this tape level wheel sheet gauge meter rod i we and tag label ticket laser".split())
TOOLS = {"tape", "level", "wheel", "gauge", "meter", "laser"}
"""Who may say a number that counts: the tools and ourselves."""


@dataclass
class Context:
    """State of one note while it is read."""

    index: int
    note: Note
    offset: int = 0
    """Characters of the note that were taken back before what is read of it."""
    planned: bool = False
    """Whether the sentence speaks of what is to come."""
    planned_note: bool = False
    """Whether the whole note does: it opened with "Plan."."""
    test: Test | None = None
    test_placed: bool = False
    """Whether it was said what that test is of."""
    issue: Issue | None = None
    point: str | None = None
    """The levelled point spoken of in this note."""
    elevation: float | None = None
    test_waits: Test | None = None
    """The test that the question before was about: "How'd the hose test on run one go?"."""
    rod_waits: str | None = None
    """The kind of sight that was named with no reading yet: "foresight on the pop-up invert. 7.39"."""
    level: Level | None = None
    """The rod reading taken in this note."""
    changes_plan: bool = False
    """Whether the note said "change of plan": of two outlet kinds the first is the new one."""
    asked: str | None = None
    """The measure that the question before, or the piece before, was about."""
    asked_of: Mention | None = None
    """What that question was about, where it was not met before."""
    measured: str | None = None
    """The field of a run that this note gave last."""
    counted: list[Quantity] = field(default_factory=list)
    """The quantities of this sentence that were neither denied nor hearsay."""
    replaced: list[Quantity] = field(default_factory=list)
    """Those that it takes back itself."""
    corrected: bool = False
    """Whether it put something right that a note before had given."""
    unsure: bool = False
    """Whether the note says of itself that its figures are no measurements: "don't quote me on that"."""
    waits: bool = False
    """Whether the note ended in a question, which the next note answers."""
    named: set[str] = field(default_factory=set)
    """Labels named in this note so far."""
    witnesses: dict[tuple[str, float], Evidence] = field(default_factory=dict)
    """Each quote of this note, made once."""

    def evidence(self, sentence: Sentence, quantity: Quantity | None = None) -> Evidence:
        text = self.note.text if len(self.note.text) <= LONGEST_QUOTE else sentence.text()[:LONGEST_QUOTE]
        confidence = self.confidence(sentence, quantity) if quantity else self.note.confidence
        key = (text, confidence)
        if key not in self.witnesses:
            self.witnesses[key] = Evidence(note=self.index, quote=text, confidence=round(confidence, 3))
        return self.witnesses[key]

    def confidence(self, sentence: Sentence, quantity: Quantity) -> float:
        """The least confidence of the words a number was heard in; 1 for a typed note."""
        if not self.note.words:
            return self.note.confidence
        wanted = set(sentence.tokens[quantity.start : quantity.end]) - {"a", "an", "and", "of", "."}
        return min((self.heard[each] for each in wanted if each in self.heard), default=self.note.confidence)

    @cached_property
    def heard(self) -> dict[str, float]:
        """The least confidence that each token of a heard note has."""
        least: dict[str, float] = {}
        for word in self.note.words:
            for token in normalise(word.text):
                least[token] = min(word.confidence, least.get(token, 1.0))
        return least

    @property
    def mumbled(self) -> bool:
        """Whether the note as a whole was heard so badly that no word in it can be trusted: what a sure number is said
        of, or one counted with no number."""
        return bool(self.note.words) and self.note.confidence < limits()["confidence"]["note"]

    def span(self, sentence: Sentence, quantity: Quantity) -> Span:
        """Where the words of a quantity stand."""
        words = sentence.tokens[quantity.start : quantity.end] or sentence.tokens[quantity.start :][:1]
        return self.index, self.offset + words[0].start, self.offset + words[-1].end

    def use(self, site: Site, sentence: Sentence, quantity: Quantity, about: str | None, name: str) -> None:
        """Enter what a quantity was used for that is not put into a field of its own."""
        site.ledger.uses[self.span(sentence, quantity)].append(Use(about, name))

    def said(
        self, value: object, sentence: Sentence, quantity: Quantity | None = None, *, corrected: bool = False
    ) -> Said:
        self.corrected = self.corrected or corrected
        evidence = self.evidence(sentence, quantity)
        badly = (
            self.mumbled
            or evidence.confidence < limits()["confidence"]["number"]
            or _lost_its_whole(sentence, quantity)
        )
        doubt: Why | None = "low_confidence" if self.note.words and quantity is not None and badly else None
        if doubt is None and quantity is not None and not self.planned and (self.unsure or hedged(sentence, quantity)):
            doubt = "hedged"
        expected = "should be" in " ".join(sentence.tokens[: quantity.start] if quantity else [])
        span = self.span(sentence, quantity) if quantity else None
        return Said(value, evidence, self.planned, corrected, span, doubt, expected=expected)


def _lost_its_whole(sentence: Sentence, quantity: Quantity | None) -> bool:
    """As in "is well and a quarter inches": a fraction behind an "and" with no number before it, as no one says it."""
    before = sentence.tokens[max(0, quantity.start - 2) : quantity.start] if quantity else []
    return quantity is not None and quantity.value < 1 and not quantity.pointed and "and" in before


@dataclass
class Correction:
    """A quantity that takes another's place, with the old one where it was named."""

    quantity: Quantity
    old: float | None


def mask(sentence: Sentence) -> tuple[Sentence, list[Correction]]:
    """The sentence without what was denied, hearsay or taken back in the same breath, and its corrections."""
    if not (sentence.words & TURNS_OF_SPEECH or sentence.speaks_of("hearsay", "negation", "last")):
        return sentence, []
    others = _hearsay(sentence)
    others |= _of_a_neighbour(sentence)
    hidden = others | _denied(sentence)
    corrections, dropped = _corrections(sentence)
    corrections = [each for each in corrections if each.quantity.start not in others]
    hidden |= {i for quantity in dropped for i in range(quantity.start, quantity.end)}
    # "Mike says run one is forty feet but I measured thirty-six" is of run one all the same.
    topics = [m for m in sentence.mentions if m.number and others and len(sentence.tokens) - 1 not in hidden]
    # A corrected number was never denied, even where "not" stands near it.
    kept = {id(correction.quantity) for correction in corrections}
    return (
        replace(
            sentence,
            terms=[t for t in sentence.terms if t.start not in hidden],
            mentions=[m for m in sentence.mentions if m.start not in hidden or m in topics],
            denied=[t for t in sentence.terms if t.start in hidden],
            denied_mentions=[m for m in sentence.mentions if m.start in hidden and m not in topics],
            quantities=[q for q in sentence.quantities if q.start not in hidden or id(q) in kept],
        ),
        corrections,
    )


def _hearsay(sentence: Sentence) -> set[int]:
    """Everything from the segment where somebody else's words begin."""
    starts = {term.start: term.value == "wanted" for term in sentence.find("hearsay")}
    says = {i for i in range(1, len(sentence.tokens)) if _somebody_says(sentence, i)}
    starts |= dict.fromkeys(says, False)
    starts |= {i: True for i, token in enumerate(sentence.tokens) if token in NEEDS and _needs_a_measure(sentence, i)}
    hidden: set[int] = set()
    for cue, wanted in sorted(starts.items()):
        if cue in hidden:
            continue
        start = next((a for a, b in sentence.segments if a <= cue < b), 0)
        # Words before an "if" in the same breath stand: "run one is in if you look", "run one was supposed to be …".
        start = cue if sentence.tokens[cue] in ("if", "supposed") else cue - 1 if cue in says else start
        hidden |= set(range(start, _own_words_again(sentence, cue, wanted)))
    return hidden


def _of_a_neighbour(sentence: Sentence) -> set[int]:
    """As in "the neighbour's run is 60 feet": none of this job, up to the end of the piece."""
    cues = [i for i, token in enumerate(sentence.tokens) if token in NEIGHBOUR and sentence.word(i + 1) == "'s"]
    return {i for low, high in sentence.segments for cue in cues if low <= cue < high for i in range(cue, high)}


def _needs_a_measure(sentence: Sentence, i: int) -> bool:
    """As in "run one needs one percent", which nobody has laid yet."""
    return any(0 < q.start - i <= 2 and q.unit in ("pct", "in", "ft") for q in sentence.quantities)


def _own_words_again(sentence: Sentence, start: int, wanted: bool) -> int:
    """Where a crew's own words begin again after hearsay: at a "but", a "so", or their own measure.

    After what was only wanted, "it's" and a named run tell the measure as well."""
    for low, high in sentence.segments:
        so = next((i for i in range(max(low, start), high) if _we_did(sentence, i)), None)
        if so is not None:
            return so
        if low <= start:
            continue
        turn = {sentence.word(low), sentence.word(low - 1)} & TURNS
        measure = "and" in (sentence.word(low), sentence.word(low - 1)) and sentence.has(
            "attribute", within=(low, low + 4)
        )
        ours = OURS & set(sentence.tokens[low : low + 2]) or (wanted and _tells_of_it(sentence, low))
        measure = measure or (bool(ours) and any(low <= q.start < high for q in sentence.quantities))
        if (turn or measure) and not sentence.has("hearsay", within=(low, high)):
            return low
    return len(sentence.tokens)


def _tells_of_it(sentence: Sentence, low: int) -> bool:
    return sentence.word(low) == "it" or any(m.start == low and m.what == "run" for m in sentence.mentions)


def _we_did(sentence: Sentence, i: int) -> bool:
    """As in "… dry as toast so we capped it", with no comma."""
    return sentence.tokens[i] in ("so", "but") and sentence.word(i + 1) in ("we", "i")


def _somebody_says(sentence: Sentence, i: int) -> bool:
    before = sentence.tokens[i - 1]
    if sentence.tokens[i] not in SAYING or not before.isalpha():
        return False
    return before not in MEASURERS and not TOOLS & set(sentence.tokens[max(0, i - 5) : i])


def _denied(sentence: Sentence) -> set[int]:
    """The next few words after a "no" or "not", up to the comma."""
    hidden: set[int] = set()
    for cue in sentence.find("negation"):
        for i in range(cue.end, min(cue.end + NEGATION_REACH, len(sentence.tokens))):
            if sentence.tokens[i] in (",", "but", "and"):
                break
            hidden.add(i)
        if sentence.word(cue.end) in ("use", "need", "want"):
            low = next((a for a, b in sentence.segments if a <= cue.start < b), 0)
            hidden |= set(range(low, cue.start))  # "wye we do not use"
    return hidden


def _corrections(sentence: Sentence) -> tuple[list[Correction], list[Quantity]]:
    """Pairs such as "not 28, 38 feet", "31 feet, not 13", "seven, I mean nine inches"; then the quantities replaced."""
    found: list[Correction] = []
    dropped: list[Quantity] = []
    quantities = sentence.quantities
    for cue in sentence.find("negation"):
        if sentence.tokens[cue.end - 1] not in NOT:
            continue
        old = next((q for q in quantities if cue.end <= q.start <= cue.end + 1), None)
        if old is None:
            continue
        new = _partner(quantities, old, before=cue.start)
        if new:
            dropped.append(old)
            found.append(Correction(_of_its_unit(quantities, new, old), old.value))
    cues = [term.end for term in sentence.find("last", "correction")]
    cues += [
        i + 1
        for i, token in enumerate(sentence.tokens)
        if token in ("no", "nope") and (sentence.word(i + 1) == "," or any(q.start == i + 1 for q in quantities))
    ]
    for end in sorted(cues):
        later = [q for q in quantities if q.start >= end]
        earlier = [q for q in quantities if q.end < end]
        if not later and len(quantities) == 1 and end == len(sentence.tokens):
            found.append(Correction(quantities[0], None))  # "thirty-nine actually"
        # "No, run one is 36 feet" names what it corrects.
        named = end == 1 and any(m.number is not None and m.start <= end + 1 for m in sentence.mentions)
        if not later or (sentence.word(end - 1) in ("no", "nope") and later[0].start > end + 3 + 4 * named):
            continue
        pair = next((q for q in reversed(earlier) if _alike(q, later[0])), None)
        new = later[0]
        if pair:
            dropped.append(pair)
            new = _of_its_unit(quantities, new, pair)
        found.append(Correction(new, pair.value if pair else None))
    for i, token in enumerate(sentence.tokens):
        if token == "said" and sentence.word(i - 1) == "i" and not found:
            following = [q for q in quantities if q.start > i]
            if len(following) > 1:
                dropped.append(following[0])
                found.append(Correction(following[1], following[0].value))
    return found, dropped


def _of_its_unit(quantities: list[Quantity], new: Quantity, old: Quantity) -> Quantity:
    """As in "four inches, I mean three and a quarter": what takes another's place is of the same unit."""
    if new.unit is not None or old.unit not in ("in", "ft", "pct"):
        return new
    at = quantities.index(new)
    quantities[at] = new._replace(unit=old.unit)
    return quantities[at]


def _partner(quantities: list[Quantity], old: Quantity, before: int) -> Quantity | None:
    """What stands instead: the next alike quantity after the denied one, else the one before the "not"."""
    after = [q for q in quantities if q.start >= old.end and _alike(old, q)]
    earlier = [q for q in quantities if q.end <= before and _alike(old, q)]
    if after and after[0].start - old.end <= 6:
        return after[0]
    return earlier[-1] if earlier else None


def _alike(a: Quantity, b: Quantity) -> bool:
    return a.unit == b.unit or a.unit is None or b.unit is None
