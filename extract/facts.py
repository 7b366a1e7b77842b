"""What one sentence says of structures and runs: names, states, sizes, pipe, fittings, measures, areas in turn."""

from __future__ import annotations

import re

from extract.areas import lead_to_structures, read_areas, surfaces
from extract.context import Context, Correction
from extract.corrections import corrects_inches
from extract.fittings import read_fittings, without_sleeve
from extract.lexicon import Term
from extract.measures import read_measures
from extract.naming import name_subjects, opens_at, subject_for
from extract.pieces import read_pieces
from extract.record import Run, Structure
from extract.site import Site
from extract.statements import Sentence
from extract.states import read_states
from extract.text.quantities import Quantity
from extract.traffic import read_traffic

SIZE_NOUNS = {"round", "square", "diameter"}
NOT_A_SIZE_BEFORE = set(
    "deep thick down lift lifts of piece pieces cutoff bucket blade auger spade shovel oak tree sump riser inlet hole "
    "knockout stub opening throat".split()
)
"""Inches before one of these are no size of a run or a basin; some are of a part of it."""
NOT_YET = {"before", "until", "to", "gotta", "will", "then"}
LARGEST_GRATE_IN = 24
"""A surface that is said to be larger "by" something is told in feet."""
LIKENED = {
    "same_pipe": "pipe",
    "same_size": "nominal_in",
    "same_length": "length_ft",
    "same_cover": "cover_in",
}
"""The field of a run that "same pipe as run one" and the like speak of."""
LINKS = {"is", "'s", "of", "on", "a", "at", "about", "was", "=", ":"}


def read_facts(site: Site, context: Context, sentence: Sentence, corrections: list[Correction]) -> None:
    """Put what the (masked) sentence says of structures and runs into the site."""
    sentence = without_sleeve(sentence)
    lead_to_structures(sentence)
    subjects = name_subjects(site, context, sentence)
    read_states(site, context, sentence, subjects)
    corrected = {id(c.quantity): c for c in corrections}
    used = _attributive_sizes(site, context, sentence, subjects, corrected)
    fitted = read_fittings(site, context, sentence, subjects, corrected)
    used |= fitted
    _pipe(site, context, sentence, subjects)
    if sentence.quantities:
        read_pieces(site, context, sentence, subjects, used)
        read_measures(site, context, sentence, subjects, used, corrected)
        read_areas(site, context, sentence, subjects, corrected)
    _texts(site, context, sentence, subjects)
    read_traffic(site, context, sentence, subjects)
    if sentence.quantities and id(sentence.quantities[-1]) not in fitted and not corrections:
        site.fitting_last = None


def _attributive_sizes(
    site: Site, context: Context, sentence: Sentence, subjects: list[str], corrected: dict[int, Correction]
) -> set[int]:
    """As in "A 12 by 12 basin", "six-inch round area drain", "four-inch SDR 35", "it's a four-inch"."""
    used: set[int] = set()
    pipe = sentence.has("pipe")
    for quantity in sentence.quantities:
        if not _is_size(sentence, quantity) or (not pipe and _near_an_issue(sentence, quantity)):
            continue
        if quantity.unit == "size" and _an_area(sentence, quantity):
            named = [m.label for m in sentence.mentions if m.what != "run" and m.label]
            label = named[0] if named else subject_for(site, sentence, subjects, quantity.start, Structure)
            if label:
                site.ask(label, "areas", "missing", evidence=[context.evidence(sentence)], heard=context.note.text)
            continue
        if id(quantity) in corrected and corrects_inches(site, subjects, quantity):
            continue  # "make that 15 1/2 inch" of a depth of 15
        used.add(id(quantity))
        if _before_fitting(sentence, quantity):
            used.discard(id(quantity))
            continue
        for label in _all_named(
            context, sentence, subjects, _sized(site, sentence, subjects, quantity), quantity.start
        ):
            values = list(quantity.values) or [quantity.value] * (2 if _square(sentence, quantity) else 1)
            correct = id(quantity) in corrected or sentence.has("negation") and len(sentence.quantities) > 1
            said = context.said(
                quantity.value if label.startswith("R-") else values, sentence, quantity, corrected=correct
            )
            site.put(label, "nominal_in" if label.startswith("R-") else "size_in", said)
    return used


def _an_area(sentence: Sentence, quantity: Quantity) -> bool:
    """As in "the roof to downspout one is 30 by 20": feet of a surface, and no grate."""
    surface = any(word in surfaces() for word in sentence.tokens[: quantity.start])
    return surface and max(quantity.values) > LARGEST_GRATE_IN and "inch" not in sentence.words


def _near_an_issue(sentence: Sentence, quantity: Quantity) -> bool:
    """Whether a size is that of what was met, "an old four-inch clay line", or of where: "a root at nine foot, three
    inch"."""
    met = [term for term in sentence.find("issue") if term.end <= quantity.start]
    told = sentence.word(quantity.start - 1) in LINKS or any(m.end == quantity.start for m in sentence.mentions)
    if met and not told and sentence.word(quantity.start - 1) != "and":
        return True
    return any(a <= quantity.start < b and sentence.has("issue", within=(a, b)) for a, b in sentence.segments)


def _all_named(context: Context, sentence: Sentence, subjects: list[str], label: str | None, at: int) -> list[str]:
    """Every run of "runs one through three are all four-inch", said at the word `at`; else the one it is about."""
    if label is None:
        return []
    alike = [each for each in subjects if each.split("-")[0] == label.split("-")[0]]
    if label.startswith("R-") and (
        {"both", "each"} & sentence.words or (sentence.continues and "all" in sentence.words)
    ):
        alike = sorted(each for each in context.named if each.startswith("R-"))
    low, high = next((s for s in sentence.segments if s[0] <= at < s[1]), (0, 0))
    listed = "are" in sentence.tokens[low:high] and all(
        any(m.label == each and low <= m.start < high for m in sentence.mentions) for each in alike
    )
    together = len(alike) > 1 and ({"all", "both", "each"} & sentence.words or listed)
    return alike if together and label in alike else [label]


def _is_size(sentence: Sentence, quantity: Quantity) -> bool:
    after = sentence.word(quantity.end)
    if quantity.unit == "size":
        return True
    hole = after == "outlet" and not any(m.start == quantity.end for m in sentence.mentions)
    if quantity.unit != "in" or after in NOT_A_SIZE_BEFORE or hole:
        return False
    if any(term.start == quantity.end for term in sentence.find("attribute", "cover", "drop")):
        return False  # "a three inch drop"
    if quantity.attributive and not _cued(sentence, quantity):
        return True
    pipes = any(term.start == quantity.end for term in [*sentence.find("pipe"), *sentence.find("run", "pipe")])
    return pipes or after in SIZE_NOUNS


def _square(sentence: Sentence, quantity: Quantity) -> bool:
    """As in "a twelve-inch square basin": both sides are twelve."""
    return sentence.word(quantity.end) == "square"


def _cued(sentence: Sentence, quantity: Quantity) -> bool:
    """Whether "cover" or "drop" right before claims the inches."""
    named = {i for mention in sentence.mentions for i in range(mention.start, mention.end)}
    for term in sentence.find("attribute", "cover", "drop", "invert"):
        gap = [sentence.tokens[i] for i in range(term.end, quantity.start) if i not in named]
        if term.end <= quantity.start and len(gap) <= 3 and all(word in LINKS for word in gap):
            return True
        if term.end <= quantity.start and term.value == "cover" and sentence.word(quantity.end) in ("at", "by", "near"):
            return True  # the second of "cover is 11 inches at the slab, 8 at the bed"
    return False


def _before_fitting(sentence: Sentence, quantity: Quantity) -> bool:
    """Whether it is a fitting's own size, also the first of "a 6 inch by 4 inch reducer"."""
    if any(q.plural and q.start == quantity.end for q in sentence.quantities):
        return True  # "three 4 inch 45s"
    ends = [quantity.end]
    if sentence.word(quantity.end) in ("by", "x", "to"):
        ends += [q.end for q in sentence.quantities if q.start == quantity.end + 1]
    return any(0 <= term.start - end <= 1 for term in sentence.find("fitting") for end in ends)


def _sized(site: Site, sentence: Sentence, subjects: list[str], quantity: Quantity) -> str | None:
    if opened := opens_at(sentence):
        return opened
    after = quantity.end + (1 if sentence.word(quantity.end) in (*SIZE_NOUNS, "wide") else 0)
    after += sentence.word(after) in ("new", "plastic", "concrete")
    follows = next((m for m in sentence.mentions if m.start == after and m.label), None)
    if follows and sentence.word(after) != "from" and follows.role != "to":
        return follows.label
    if quantity.unit == "size" or sentence.word(quantity.end) in SIZE_NOUNS:
        return subject_for(site, sentence, subjects, quantity.start, Structure)
    if any(term.start - quantity.end in (0, 1) for term in [*sentence.find("pipe"), *sentence.find("run", "pipe")]):
        return subject_for(site, sentence, subjects, quantity.start, Run)
    runs = [label for label in subjects if label.startswith("R-")]
    before = [m for m in sentence.mentions if m.start < quantity.start and m.role == "subject"]
    right_behind = before and before[-1].prefix not in ("R", "DS") and quantity.start - before[-1].end <= 1
    told = right_behind and sentence.word(quantity.start - 1) in ("is", "'s")
    own = before and (before[-1].prefix == "OUT" or told or (right_behind and not any(m.what == "run" for m in before)))
    if runs and not own:
        return runs[0]
    return subject_for(site, sentence, subjects, quantity.start, Run, Structure)


def _pipe(site: Site, context: Context, sentence: Sentence, subjects: list[str]) -> None:
    likened = sentence.find("attribute", *LIKENED)
    if not likened and not sentence.has("pipe"):
        return
    label = subject_for(site, sentence, subjects, 0, Run)
    if label is None:
        return
    first = next((each for each in subjects if each.startswith("R-")), label)
    said = [term.start for term in [*sentence.find("pipe"), *likened]]
    runs = _all_named(context, sentence, subjects, first, min(said))
    denied = sentence.has("negation")
    for term in _laid_pipes(sentence):
        for each in runs:
            site.put(each, "pipe", context.said(term.value, sentence, corrected=denied))
    if {"stick", "sticks", "pieces"} & sentence.words:
        likened = [term for term in likened if term.value != "same_length"]
    model = _likened_to(site, sentence, label) if likened else None
    run = site.entry(label)
    for term in likened if model else ():
        name = LIKENED[term.value]
        value = getattr(model, name)
        if value is None or (getattr(run, name, None) and "as" not in sentence.words):
            continue  # "same pipe went back in" speaks of the run's own
        site.put(label, name, context.said(value, sentence))


def _laid_pipes(sentence: Sentence) -> list[Term]:
    """The families of the pipe itself; those of "an SDR 35 to Schedule 40 adapter" are the fitting's two ends."""
    pipes = sentence.find("pipe")
    ends: list[Term] = []
    for first, second in zip(pipes, pipes[1:], strict=False):
        joined = sentence.tokens[first.end : second.start] in (["to"], ["by"], ["x"])
        if joined and any(term.start == second.end for term in sentence.find("fitting", "adapter", "coupling")):
            ends += [first, second]
    return [term for term in pipes if term not in ends]


def _likened_to(site: Site, sentence: Sentence, label: str) -> Run | None:
    """The run of "same pipe as run one"; with none named, the one touched before this."""
    for mention in sentence.mentions:
        if mention.what == "run" and mention.role == "near" and mention.number:
            entry = site.entry(f"R-{mention.number}")
            return entry if isinstance(entry, Run) else None
    others = [each for each in site.labels("R") if each != label]
    entry = site.entry(max(others, key=lambda each: site.touched.get(each, 0))) if others else None
    return entry if isinstance(entry, Run) else None


def _texts(site: Site, context: Context, sentence: Sentence, subjects: list[str]) -> None:
    """Bedding and backfill as short text, as said."""
    for name in ("bedding", "backfill") if sentence.has("attribute") else ():
        for term in sentence.find("attribute", name):
            if NOT_YET & set(sentence.tokens[max(0, term.start - 3) : term.start]):
                continue
            label = subject_for(site, sentence, subjects, len(sentence.tokens), Run)
            end = next((b for a, b in sentence.segments if a <= term.start < b), len(sentence.tokens))
            text = sentence.text(term.end, end).strip(" ,").removeprefix("is ").removeprefix("'s ").strip()
            text = re.sub(r"^(?:on )?(?:run (?:number )?\w+|it|that)?\s*(?:is |was )?(?:with )?", "", text)
            text = text or sentence.text(term.start, term.end)
            if label and not context.planned and len(text) <= 120:
                site.put(label, name, context.said(text, sentence, corrected=True))
