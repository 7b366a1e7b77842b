"""Which of a run's crossings a question is about."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Literal, NamedTuple

from extract.crossing_names import UNNAMED
from extract.record import Crossing, Question

Figure = Literal["at_ft", "depth_in"]
FIGURES: tuple[Figure, ...] = ("at_ft", "depth_in")


class AskedOf(NamedTuple):
    """The crossing that a question is about."""

    crossing: Crossing
    figure: Figure | None
    """Which of its figures was said in two ways; None where it is another doubt."""


def asked_of(question: Question, crossings: Sequence[Crossing]) -> AskedOf | None:
    """The crossing whose figure was said in two ways, or that has no name, or that the words in doubt name, or the only
    one; None where it may be any of several."""
    said = [each for each in question.choices or [] if isinstance(each, int | float)]
    words = " ".join(item.quote for item in question.evidence).casefold()
    if said:
        held = [AskedOf(each, figure) for each in crossings for figure in FIGURES if getattr(each, figure) == said[-1]]
        meant = [each for each in held if each.crossing.what.casefold() in words]
        return next((group[0] for group in (held, meant) if len(group) == 1), None)
    unnamed = [each for each in crossings if each.what == UNNAMED]
    named = [each for each in crossings if each.what.casefold() in words]
    found = next((group for group in (unnamed, named, list(crossings)) if len(group) == 1), None)
    return AskedOf(found[0], None) if found else None


def both_ways(question: Question, crossings: Sequence[Crossing]) -> list[Crossing]:
    """The crossing with each of the two figures that were said of it; none where more is in doubt."""
    asked, choices = asked_of(question, crossings), question.choices or []
    if asked is None or asked.figure is None or len(choices) != 2:
        return []
    return [asked.crossing.model_copy(update={asked.figure: each}) for each in choices]
