"""A phone that reads back what it heard may hear itself: such a note is nobody's. Pure."""

from __future__ import annotations

import re
from collections.abc import Sequence

from extract.record import Note

LATE_S = 1.0
"""How much later than the page thinks its voice may begin and end."""
ALIKE = 70
"""Of 100: how like what was spoken a note must be to be taken for it. Somebody who talks meanwhile says other words."""


def is_echo(note: Note, spoken: Sequence[tuple[float, float, str]]) -> bool:
    """Whether the note is what the page itself said aloud in those seconds: alike, and no figure of its own."""
    start, end = note.start_s or 0.0, note.end_s or 0.0
    return any(low - LATE_S < start and end < high + LATE_S and _alike(note, words) for low, high, words in spoken)


def _alike(note: Note, words: str) -> bool:
    from rapidfuzz import fuzz

    from logger.readings import numbers, plain

    heard, said = plain(note.heard or note.text), plain(words)
    own = set(numbers(heard)) - set(re.findall(r"\d+", said))
    return not own and fuzz.partial_ratio(heard, said) >= ALIKE
