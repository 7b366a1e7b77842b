"""What a person typed for a field of the record, as that field holds it; what does not fit says how to write it."""

from __future__ import annotations

import json
import math
import re
from typing import Any, get_args

from extract.amend import checked
from extract.errors import UsageError
from extract.record import Record, Run, Structure
from extract.site import limits, plausible
from extract.spelling import normalise
from extract.text.quantities import find_quantities

ENDS = ("from", "to")
SIDES = re.compile(r"([\d.]+)\s*[xX]\s*([\d.]+)(?:\s*in)?")
SHAPES = {
    "size_in": "12x12 or 9, in inches",
    "pieces_ft": "[10, 10, 4], in feet",
    "stations_ft": "[0, 42], in feet",
    "areas": '[{"sqft": 600, "surface": "roof"}]',
    "fittings": '[{"kind": "wye", "count": 1}]',
}
BY_UNIT = {"ft": "34.67, 34 ft 8 in or 34'8\"", "in": "3.25, 3 1/4 or 3.25 in", "pct": "1.04 or 1.04%"}
PER_UNIT = {("ft", "in"): 1 / 12, ("in", "ft"): 12.0}
"""What a number typed in the second unit counts in a field of the first."""


def typed_value(record: Record, entry: Structure | Run, field: str, text: str) -> Any:
    """The value of `text` for that field of `entry`; `none` is None, which empties it.

    A field in feet takes `34 ft 8 in` too, one in inches `3 1/4`. Raises UsageError where there is no such field, or
    the text does not fit it, lies outside what a yard can hold, or names an end that the record does not have.
    """
    name = "from_" if field == "from" else field
    checked(entry, name, getattr(entry, name, None))
    if text.lower() == "none":
        return checked(entry, name, None) if _may_be_empty(entry, name) else _refuse(entry, field, text)
    if field in ENDS:
        return _end(record, entry, field, text)
    value = _fitting(entry, name, field, text)
    if not plausible(field, value):
        raise UsageError(f"{entry.label} {field} cannot be {text}; {_range(field)}")
    return value


def _may_be_empty(entry: Structure | Run, name: str) -> bool:
    return type(None) in get_args(type(entry).model_fields[name].annotation)


def _end(record: Record, entry: Structure | Run, field: str, text: str) -> str:
    labels = [structure.label for structure in record.structures]
    if text.upper() not in labels:
        there = f"it can be {', '.join(labels)}" if labels else "the record has no structure yet"
        raise UsageError(f"{entry.label} {field} cannot be {text}; {there}, or none")
    return text.upper()


def _fitting(entry: Structure | Run, name: str, field: str, text: str) -> Any:
    """The first way to read the text that the field can hold."""
    for value in (_parsed(text), _measured(field, text), text):
        if value is None:
            continue
        try:
            held = checked(entry, name, value)
        except UsageError:
            continue
        if all(math.isfinite(each) for each in _numbers(held)):
            return [value] if name == "size_in" and not isinstance(value, list) else value
    return _refuse(entry, field, text)


def _numbers(held: Any) -> list[float]:
    return [each for each in (held if isinstance(held, list) else [held]) if isinstance(each, int | float)]


def _parsed(text: str) -> Any:
    try:
        value = json.loads(re.sub(SIDES.pattern + "$", r"[\1, \2]", text))
    except (ValueError, RecursionError):
        return text
    return text if isinstance(value, bool) else value


def _measured(field: str, text: str) -> float | None:
    """The one number that the text is, in the unit of the field; None where it is anything else."""
    unit, tokens = field.rpartition("_")[2], normalise(text)
    found = find_quantities(tokens) if unit in BY_UNIT else []
    if len(found) != 1 or (found[0].start, found[0].end) != (0, len(tokens)) or found[0].parts or found[0].values:
        return None
    said = found[0]
    if said.unit in (None, unit):
        return round(said.value, 4)
    factor = PER_UNIT.get((unit, said.unit))
    return None if factor is None else round(said.value * factor, 4)


def _refuse(entry: Structure | Run, field: str, text: str) -> Any:
    raise UsageError(f"{entry.label} {field} cannot be {text}; write it as {_shape(entry, field)}")


def _shape(entry: Structure | Run, field: str) -> str:
    choices = [each for kind in get_args(type(entry).model_fields[field].annotation) for each in get_args(kind)]
    if field not in SHAPES and choices:
        return f"one of: {', '.join(map(str, choices))}"
    return SHAPES.get(field) or BY_UNIT.get(field.rpartition("_")[2]) or "plain words"


def _range(field: str) -> str:
    bounds, stock = limits()["range"][field], limits()["stock"].get(field)
    if stock:
        return f"it can be {', '.join(f'{size:g}' for size in stock)}"
    return f"it can be {bounds['low']:g} to {bounds['high']:g}"
