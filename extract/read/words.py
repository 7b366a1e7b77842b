"""The quantities of a note with the characters they stand on."""

from __future__ import annotations

import re
from collections.abc import Sequence
from functools import lru_cache
from itertools import pairwise

from extract.spelling import normalise
from extract.text.quantities import Quantity, find_quantities

SENTENCE = re.compile(r"[.!?;](?=\s|$)|\n")
"""Its end."""
PAUSE = re.compile(r"[,.;:!?](?=\s|$)|\n|\b(?:and|y)\b")
WHOLE = re.compile(
    r"\b(?:that|it|this|all|everything|eso|esto|todo|nota)\b(?!\s+(?:last\s+|first\s+)?\w+\s*$)", re.IGNORECASE
)
"""What an order calls that takes back all that was said."""
Chars = tuple[int, int]
Found = tuple[int, int, Quantity]
PIPE = re.compile(
    r"\b(?:s[. ]?d[. ]?r\.?|sch(?:ed)?\.?|schedule|c[eé]dula)[ -]*"
    r"(?:35|40|80|26|thirty[ -]five|forty|eighty|treinta y cinco|cuarenta|ochenta)\b",
    re.IGNORECASE,
)
"""Names of pipe, whose numbers are none: "schedule forty fourteen metres"."""

TURNING = re.compile(r"\b(?:turning[ -]point|tp(?![a-z])|punto de cambio)(?:\s+(?:number|n[uú]mero)\b)?", re.IGNORECASE)
BEHIND = 40
"""Characters behind a turning point's words in which its number and the reading begin."""
MOST_TURNS = 30
"""Of turning points in a day: a larger number is the reading."""


def sentence_around(text: str, at: int) -> Chars:
    """The sentence that holds the character `at`: characters [start, end)."""
    ends = [0, *(found.end() for found in SENTENCE.finditer(text)), len(text) + 1]
    return next((low, high) for low, high in pairwise(ends) if low <= at < high)


def order_words(text: str, start: int, end: int) -> str:
    """The words of an order with what it calls right behind them: "scratch" alone may be read of "scratch the invert
    in". What follows "scratch that" is another matter."""
    stop = PAUSE.search(text, end)
    behind = text[end : stop.start() if stop else len(text)]
    words = text[start:end] + behind
    return text[start:end] if WHOLE.search(words) else words


def turning_points(text: str) -> list[tuple[int, int, int | None]]:
    """The turning points that a note names: characters [start, end) and the number of each, if it bears one."""
    out = []
    for found in TURNING.finditer(text):
        behind = text[found.end() : found.end() + BEHIND]
        skipped = len(behind) - len(behind.lstrip(" #-"))
        tail = normalise(behind[skipped:])
        number = find_quantities(tail[:1], set())
        after = find_quantities(tail[1:2], set())
        # "one 4.85" is a number and a reading, "four eighty-five" a reading alone
        names = number and number[0].value in range(1, MOST_TURNS) and not (after and "." not in str(tail[1]))
        end = found.end() + skipped + tail[0].end if names else found.end()
        out.append((found.start(), end, int(number[0].value) if names else None))
    return out


def quantities_of(text: str, named: Sequence[Chars] = ()) -> tuple[Found, ...]:
    """Every quantity of a note: characters [start, end) and what the grammar of measures makes of them.

    `named` are the characters of names ("run two"), whose numbers are none.
    """
    return _quantities_of(text, tuple(named))


@lru_cache(maxsize=4096)  # a day is put together several times where notes were heard in more than one way
def _quantities_of(text: str, names: tuple[Chars, ...]) -> tuple[Found, ...]:
    tokens = normalise(text)
    named = [*names, *(found.span() for found in PIPE.finditer(text))]
    named += [(start, end) for start, end, _ in turning_points(text)]
    taken = {
        i for i, token in enumerate(tokens) if any(low <= token.start and token.end <= high for low, high in named)
    }
    return tuple(
        (tokens[quantity.start].start, tokens[max(quantity.start, quantity.end - 1)].end, quantity)
        for quantity in find_quantities(tokens, taken)
        if quantity.start < len(tokens)
    )


UNITS = (
    None, "ft", "in", "pct", "s", "size", "deg", "angle", "money", "clock", "station", "sqft", "gpm", "gal", "other"
)  # fmt: skip
BOUNDS = (0.3, 1, 4, 10, 30, 100, 1000)
FORM = len(UNITS) + 1 + len(BOUNDS) + 1 + 4
"""Length of a quantity's form."""


def form_of(quantity: Quantity) -> list[float]:
    """What a quantity looks like by itself: its unit, how large it is, and how it was said."""
    unit = UNITS.index(quantity.unit) if quantity.unit in UNITS else len(UNITS)
    size = next((i for i, bound in enumerate(BOUNDS) if abs(quantity.value) <= bound), len(BOUNDS))
    row = [float(i == unit) for i in range(len(UNITS) + 1)] + [float(i == size) for i in range(len(BOUNDS) + 1)]
    return [
        *row,
        float(bool(quantity.parts)),
        float(quantity.pointed),
        float(quantity.attributive),
        float(quantity.plural),
    ]
