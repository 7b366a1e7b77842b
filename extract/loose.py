"""Whether the words beside a number say what it counts or is of."""

from __future__ import annotations

from extract.statements import Sentence
from extract.text.quantities import Quantity

SAID_BEFORE = set(
    "no nope yes yeah yep ok okay is it that was at says said say got get makes make be reads read measured out to "
    "just actually wait sorry meant now exactly final redo call of only even use put gave had have with 's".split()
)
SAID_BEHIND = set(
    "now on flat even and instead not just once with actually though is for right exactly final too".split()
)
"""Words beside a number that say nothing of what it counts."""


def stands_loose(sentence: Sentence, quantity: Quantity) -> bool:
    """Whether no word before the number in its piece of the sentence, and none right behind it, tells what it is of:
    "truck thirty-two is blocked in" does, and "Bob is 42"."""
    low = next((a for a, b in sentence.segments if a <= quantity.start < b), 0)
    before = {token for token in sentence.tokens[low : quantity.start] if token.isalpha()}
    after = sentence.word(quantity.end)
    cues = {sentence.tokens[i] for term in sentence.find("last") for i in range(term.start, term.end)}
    return before - cues <= SAID_BEFORE and (not after.isalpha() or after in SAID_BEHIND)
