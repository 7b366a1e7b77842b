"""Areas that drain to a structure: "roof to downspout one is 600 square feet"."""

from __future__ import annotations

from functools import lru_cache

from extract.context import Context, Correction
from extract.lexicon import load
from extract.limits import plausible
from extract.naming import subject_for
from extract.record import Area, Structure, Surface
from extract.site import Site
from extract.statements import Mention, Sentence
from extract.text.quantities import Quantity

REACH = 3
"""How many words behind "square feet" its surface may stand: "600 square feet of flat roof"."""


@lru_cache(maxsize=1)
def surfaces() -> dict[str, Surface]:
    return {word: surface for surface, words in load()["surface"].items() for word in words}  # type: ignore[misc]


def lead_to_structures(sentence: Sentence) -> None:
    """Where an area is told, "to downspout one" says where the rain goes, and is no end of a run."""
    for quantity in sentence.quantities:
        if quantity.unit != "sqft":
            continue
        low, high = next(((a, b) for a, b in sentence.segments if a <= quantity.start < b), (0, len(sentence.tokens)))
        here = [mention for mention in sentence.mentions if low <= mention.start < high]
        if any(mention.what == "run" or mention.role == "from" for mention in here):
            continue
        for mention in here:
            mention.role = "subject" if mention.role == "to" else mention.role


def read_areas(
    site: Site, context: Context, sentence: Sentence, subjects: list[str], corrected: dict[int, Correction]
) -> None:
    """Give each area of the sentence to the structure it drains to; one that is told of nothing is left alone."""
    told = [quantity for quantity in sentence.quantities if quantity.unit == "sqft"]
    named = [m for m in sentence.mentions if m.role == "subject" and isinstance(site.entry(m.label), Structure)]
    for place, quantity in enumerate(told):
        surface = _surface(sentence, quantity)
        if surface is None and not sentence.has("drains") and id(quantity) not in corrected:
            continue  # "300 square feet of fabric around basin one"
        label = _drained_by(site, sentence, subjects, quantity, place, named if len(named) > 1 else named * len(told))
        if label:
            _put(site, context, sentence, label, quantity, surface, corrected.get(id(quantity)))


def _surface(sentence: Sentence, quantity: Quantity) -> Surface | None:
    """The surface named right behind the number, else the last one in front of it."""
    behind = sentence.tokens[quantity.end : quantity.end + REACH]
    behind = behind[: next((i for i, word in enumerate(behind) if word in (",", "and", "to")), REACH)]
    words = [*behind, *reversed(sentence.tokens[: quantity.start])]
    return next((surfaces()[word] for word in words if word in surfaces()), None)


def _drained_by(
    site: Site, sentence: Sentence, subjects: list[str], quantity: Quantity, place: int, named: list[Mention]
) -> str | None:
    """Of as many structures as areas each takes its own, in order; else the one named before, or spoken of."""
    areas = [each for each in sentence.quantities if each.unit == "sqft"]
    if len(named) == len(areas):
        return named[place].label
    if not named and not sentence.has("drains") and not sentence.has("last"):
        return None  # "the lawn is 4,000 square feet"
    return subject_for(site, sentence, subjects, quantity.start, Structure)


def _put(
    site: Site,
    context: Context,
    sentence: Sentence,
    label: str,
    quantity: Quantity,
    surface: Surface | None,
    correction: Correction | None,
) -> None:
    """One area more, or another number for the surface that is there already."""
    entry = site.entry(label)
    before = list(entry.areas or []) if isinstance(entry, Structure) else []
    sqft = round(quantity.value, 4)
    evidence = context.evidence(sentence, quantity)
    if not plausible("area_sqft", sqft):
        site.ask(label, "areas", "implausible", evidence=[evidence], heard=context.note.text)
        return
    if correction is not None and surface is None and before:
        surface = next((area.surface for area in before if area.sqft == correction.old), before[-1].surface)
    same = [area for area in before if area.surface == surface]
    areas = [area for area in before if area.surface != surface] + [Area(sqft=sqft, surface=surface)]
    earlier = site.said.get((label, "areas"))
    site.put(label, "areas", context.said(areas, sentence, quantity, corrected=True))
    if same and same[0].sqft != sqft and correction is None:
        both = [*([earlier.evidence] if earlier else []), evidence]
        site.ask(label, "areas", "conflict", evidence=both, choices=[same[0].sqft, sqft])
