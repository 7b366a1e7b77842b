"""How sure the speaker was: guesses, bounds and the like, a class of their own."""

from __future__ import annotations

from extract.statements import Sentence
from extract.text.quantities import Quantity


def hedged(sentence: Sentence, quantity: Quantity) -> bool:
    """As in "about forty feet", "forty feet or so", "I'd say run one's forty feet": said, but not measured."""
    named = {i for m in sentence.mentions for i in range(m.start, m.end)}
    named |= {i for i, token in enumerate(sentence.tokens) if token in ("'s", "is", "at", "off")}
    before = any(
        term.end <= quantity.start and len(set(range(term.end, quantity.start)) - named) <= 1
        for term in sentence.find("hedge", "before")
    )
    if sentence.has("hedge", "anywhere") or any(term.start >= quantity.end for term in sentence.find("hearsay")):
        return True
    after = any(0 <= term.start - quantity.end <= 1 for term in sentence.find("hedge", "after"))
    return before or after
