"""One measure into the record: what makes it a question besides how it was heard."""

from __future__ import annotations

from extract.context import Context
from extract.hedges import hedged
from extract.record import Level
from extract.site import Site
from extract.statements import Sentence
from extract.text.quantities import Quantity

PART = {"first", "last", "other", "remaining", "another"}
"""Before a length, each says that it is not the whole: "the first twenty feet are in"."""
CHANGED = set("less minus added extended lengthened shortened instead brought".split())
"""Where one of these is said, a length is not simply that of the run."""
TO_CHANGE = {"add", "extend", "shorten"}
"""The same right before it: "had to add six feet to run one"."""
TEENS_OF = {"cover_in", "invert_depth_in"}
"""Fields that seldom are as much as thirty, but in the teens as a rule."""


def put(
    site: Site,
    context: Context,
    sentence: Sentence,
    label: str | None,
    name: str,
    value: object,
    quantity: Quantity,
    correct: bool,
) -> None:
    """Set a field of what bears that label, asked about where it was hedged, may be a teen, or tells a part alone."""
    if label is None:
        return
    rounded = round(value, 4) if isinstance(value, float) else value
    context.measured = name if label.startswith("R-") else None
    said = context.said(rounded, sentence, quantity, corrected=correct)
    if context.note.words and name in TEENS_OF and (teen := _teen(quantity.value)):
        choices = [rounded, teen]
        site.ask(label, name, "low_confidence", evidence=[said.evidence], heard=context.note.text, choices=choices)
    between = "between" in sentence.words and not sentence.mentions
    cut = "cut" in sentence.words and bool({"off", "back"} & sentence.words)
    added = TO_CHANGE & set(sentence.tokens[max(0, quantity.start - 3) : quantity.start])
    changed = bool(CHANGED & sentence.words) or bool(added) or cut
    of_more = sentence.tokens[max(0, quantity.start - 2) : quantity.start] == ["of", "the"]
    of_more = of_more or sentence.word(quantity.start - 1) in PART or _of_a_run(sentence, quantity)
    if name == "length_ft" and (changed or of_more) and not correct:
        # "Added ten feet to run one": a change, and nobody said what it comes to.
        site.ask(label, name, "low_confidence", evidence=[said.evidence], heard=context.note.text)
        return
    dodged = name == "drop_in" and "it" in sentence.words and {"had", "to"} <= sentence.words
    below_zero = any(term.end == quantity.start for term in sentence.find("hedge", "negative"))
    between = between or quantity.bound == "range"
    if dodged or below_zero or quantity.glued or between or _one_or_other(sentence, quantity):
        site.ask(label, name, "low_confidence", evidence=[said.evidence], heard=context.note.text)
    site.put(label, name, said)


def put_right(
    site: Site, context: Context, sentence: Sentence, quantity: Quantity, level: Level, name: str, value: float
) -> None:
    """A level's rod reading, or the elevation said of it, gives way to another."""
    setattr(level, name, round(value, 4))
    context.use(site, sentence, quantity, None, "levels")
    site.settle(level.point, name, context.said(value, sentence, quantity))
    site.witness(level, context.evidence(sentence, quantity), name)


def _teen(value: float) -> float | None:
    """What "forty and a half" may have been, "fourteen and a half"; None where no teen sounds like it."""
    tens, rest = divmod(value, 10)
    return 10 + tens + rest if 3 <= tens <= 9 and rest < 1 else None


def _of_a_run(sentence: Sentence, quantity: Quantity) -> bool:
    """As in "got twenty feet of run one in": part of it."""
    named = any(m.start == quantity.end + 1 and m.what == "run" for m in sentence.mentions)
    return sentence.word(quantity.end) == "of" and named


def _one_or_other(sentence: Sentence, quantity: Quantity) -> bool:
    """ "Forty or forty-one feet", "between thirty and forty": two numbers for one."""
    before = sentence.word(quantity.start - 1)
    other = any(q.end == quantity.start - 1 for q in sentence.quantities)
    if other and before in (",", "to"):  # "about forty, forty-five feet", "forty to forty-two feet"
        first = next(q for q in sentence.quantities if q.end == quantity.start - 1)
        return first.unit is None and (before == "to" or hedged(sentence, first))
    return other and (before == "or" or (before == "and" and "between" in sentence.tokens[: quantity.start]))
