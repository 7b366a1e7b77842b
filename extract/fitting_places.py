"""Fittings typed with where they lie and which way they turn: `a 45 at 12 turning left and a wye at 20`."""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import Any

PLACED = re.compile(r"\bat\b|\b(?:left|right)\b", re.I)
APART = re.compile(r"\s*,\s*(?:and\s+)?|\s+and\s+", re.I)
TURN = re.compile(r"\s+(?:turn(?:s|ing|ed)?\s+|to\s+the\s+)?(left|right)$", re.I)
AT = re.compile(r"\s+at\s+(.+)$", re.I)

Fittings = list[dict[str, Any]] | None


def placed_fittings(words: str, read: Callable[[str], Fittings], feet: Callable[[str], float | None]) -> Fittings:
    """What `read` makes of the words, each fitting with its place in `feet` and its turn; None where a part says no
    fitting, or more than one at one place."""
    if not PLACED.search(words):
        return read(words)
    found = []
    for part in filter(None, APART.split(words.strip(" ."))):
        turn = TURN.search(part)
        rest = part[: turn.start()] if turn else part
        at = AT.search(rest)
        place = feet(at[1]) if at else None
        fittings = read(rest[: at.start()] if at else rest)
        if fittings is None or len(fittings) != 1 or (at and place is None):
            return None
        where = {"at_ft": place, "turn": turn[1].lower() if turn else None}
        found.append(fittings[0] | {name: value for name, value in where.items() if value is not None})
    return found or None
