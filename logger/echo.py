"""A phone that reads back what it heard may hear itself: such a note is nobody's. Pure."""

from __future__ import annotations

import re
from collections.abc import Sequence

from extract.record import Language, Note
from extract.spanish import in_digits

LATE_S = 1.0
"""How much later than the page thinks its voice may begin and end."""
ALIKE = 70
"""Of 100: how like what was spoken a note must be to be taken for it. Somebody who talks meanwhile says other words."""

POINT = re.compile(r"(\d+) punto (\d+)")


def is_echo(note: Note, spoken: Sequence[tuple[float, float, str]]) -> bool:
    """Whether the note is what the page itself said aloud in those seconds: alike, with its figures and turning words
    in the same order and none besides. In doubt it is a note."""
    start, end = note.start_s or 0.0, note.end_s or 0.0
    return any(low - LATE_S < start and end < high + LATE_S and _alike(note, words) for low, high, words in spoken)


def _alike(note: Note, words: str) -> bool:
    from rapidfuzz import fuzz

    heard, said = (_plain(text, note.language) for text in (note.heard or note.text, words))
    rest = iter(_weighty(said))
    return all(word in rest for word in _weighty(heard)) and fuzz.partial_ratio(heard, said) >= ALIKE


def _plain(text: str, language: Language) -> str:
    from logger.readings import plain

    if language == "es":
        return plain(POINT.sub(r"\1.\2", in_digits(text.replace("%", " por ciento"))))
    return plain(text.replace("%", " percent"))


def _weighty(text: str) -> list[str]:
    """The words of a plain text that may change what it says: figures, units, and words that take back."""
    from logger.readings import hints

    return [word for word in text.split() if word[0].isdigit() or word in hints()["turning"]]
