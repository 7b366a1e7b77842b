"""What an entry that a person types may hold: a tie, a crossing, a fixed point, a fitting."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any

from extract.errors import UsageError
from extract.field_names import plain_name, table
from extract.limits import limits, plausible
from extract.record import Entry, Purchase
from extract.spelling import normalise
from extract.text.quantities import find_quantities

NAMES = ("from", "name", "point", "what", "item")


def must_fit(entry: Entry, said: str, value: Mapping[str, Any]) -> None:
    """Refuse what no yard holds and what lies past the end of the run `entry`.

    Raises UsageError, one line that begins with `said`.
    """
    for name, each in value.items():
        if name in NAMES:
            _must_be_a_name(said, each, figures=name != "what")
        elif isinstance(each, int | float) and not (math.isfinite(each) and plausible(name, each)):
            raise UsageError(f"{said}; its {plain_name(name)} {range_of(name)}")
    length, place = getattr(entry, "length_ft", None), value.get("at_ft")
    if place is not None and length is not None and place > length:
        raise UsageError(f"{said}; the run is {length:g} ft long")
    if place is not None and value.get("count", 1) > 1:
        raise UsageError(f"{said}; give each its own place, as in: a 45 at 12, a 45 at 20")


def must_be_whole(said: str, entry: Entry, count: float) -> None:
    """Refuse a part of a piece or stick bought. Raises UsageError, one line that begins with `said`."""
    if isinstance(entry, Purchase) and entry.unit != "ft" and not float(count).is_integer():
        raise UsageError(f"{said}; its count is a whole number")


def _must_be_a_name(said: str, words: str, *, figures: bool) -> None:
    if words[:1] in ("{", "["):
        raise UsageError(f"{said}; a name begins with no {words[:1]}")
    if not any(each.isalpha() for each in words):
        like = "" if figures else ", as in: gas line at 12, 18 inches deep"
        raise UsageError(f"{said}; a name holds a letter{like}")
    if not figures and find_quantities(normalise(words)):
        raise UsageError(f"{said}; name it without a figure, as in: gas line at 12, 18 inches deep")


def range_of(field: str) -> str:
    """What a figure of that field can be, in words."""
    bounds, stock = limits()["range"].get(field), limits()["stock"].get(field)
    unit = table()["figures"].get(field.rpartition("_")[2], "")
    if stock:
        return f"can be {', '.join(f'{size:g}' for size in stock)} {unit}"
    return f"can be {bounds['low']} to {bounds['high']} {unit}" if bounds else "must be a plain number"
