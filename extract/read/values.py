"""What a quantity is worth as a field: the grammar's number in the field's unit.

The same words are worth different things in different fields and crews: "forty-four six" is 44 ft 6 in as a length,
44.6 as an elevation and 44.06 m from a crew that measures in metres. A quantity is never guessed at: what cannot be a
value of the field gives None.
"""

from __future__ import annotations

from collections.abc import Sequence

from extract.text.quantities import FACTORS, Quantity, elevation_of, rod_of

ELEVATIONS = {"rim_ft", "invert_in_ft", "invert_out_ft", "elevation_ft"}
IN_FEET = {"length_ft", "tie", "crossing", "pieces_ft", "stations_ft"}
IN_INCHES = {"nominal_in", "drop_in", "cover_in", "size_in", "invert_depth_in"}
FEET_OF_METRE = 1 / 0.3048
MILLIMETRES = 30
"""A bare size, cover or drop from here on is in millimetres: no crew says it in inches."""
LONGEST_STICK = 25


def value_of(quantity: Quantity, role: str, metric: bool = False) -> float | None:
    """The value of the quantity in the unit of the role's field, or None. `metric`: the crew measures in metres."""
    if role in ELEVATIONS:
        return _elevation(quantity, metric)
    if role == "rod_ft":
        return _rod(quantity, metric)
    if role in IN_FEET:
        return _feet(quantity, metric)
    if role in IN_INCHES:
        return _inches(quantity, metric)
    if role == "slope_pct":
        return _slope(quantity, metric)
    if role == "duration_s":
        return quantity.value if quantity.unit == "s" else quantity.value * 60 if quantity.unit is None else None
    if role == "flow_gpm":
        return quantity.value if quantity.unit in ("gpm", "gal", None) else None
    if role == "area":
        return quantity.value if quantity.unit in ("sqft", None) else None
    return quantity.value


def list_of(quantities: Sequence[Quantity], role: str, metric: bool = False) -> list[float]:
    """Pieces or stations said together, feet: in "three tens and a four" the first number counts the second."""
    out: list[float] = []
    count = 1
    for i, quantity in enumerate(quantities):
        after = quantities[i + 1] if i + 1 < len(quantities) else None
        value = value_of(quantity, role, metric)
        whole = quantity.unit is None and quantity.value == int(quantity.value) and 0 < quantity.value < LONGEST_STICK
        counts = whole and not quantity.parts and after is not None and after.start - quantity.end <= 2
        if role == "pieces_ft" and count == 1 and counts and after is not None and (after.attributive or after.plural):
            count = int(quantity.value)
            continue
        if value is not None:
            out += [round(value, 4)] * count
        count = 1
    return out


def _in(quantity: Quantity, unit: str) -> float | None:
    """In a unit that its own unit can be turned into; a bare number is in that unit."""
    if quantity.unit in (None, unit):
        return quantity.value
    factor = FACTORS.get((quantity.unit, unit))
    return None if factor is None else quantity.value * factor


def _metres(quantity: Quantity) -> float:
    """A bare number in metres, feet: "seven sixty" is 7.60 m, "three oh five" 3.05 m."""
    parts = quantity.parts
    if len(parts) == 2 and 0 <= parts[1] < 100:
        return (parts[0] + parts[1] / (100 if parts[1] >= 10 else 10)) * FEET_OF_METRE
    return quantity.value * FEET_OF_METRE


def _elevation(quantity: Quantity, metric: bool) -> float | None:
    parts = quantity.parts
    if metric and quantity.unit is None:
        return (elevation_of(quantity) or quantity.value) * FEET_OF_METRE
    if len(parts) == 2 and quantity.unit is None and 0 < parts[1] < 10:
        return parts[0] + parts[1] / 10  # "ninety-seven nine" is 97.9
    if len(parts) > 2 and quantity.unit is None and parts[0] == 1 and parts[1] < 100:
        return 100 + parts[1] + (parts[2] / 100 if parts[2] >= 10 else parts[2] / 10)  # "one twelve fifty" is 112.50
    return elevation_of(quantity) if quantity.unit in (None, "ft") else _in(quantity, "ft")


def _rod(quantity: Quantity, metric: bool) -> float | None:
    if quantity.unit not in (None, "ft"):
        return _in(quantity, "ft")
    if metric and quantity.unit is None:
        value = quantity.value if quantity.pointed else quantity.value / (1000 if quantity.value >= 300 else 100)
        return value * FEET_OF_METRE
    parts = quantity.parts
    if len(parts) == 2 and 0 <= parts[1] < 10 and quantity.unit is None:
        return parts[0] + parts[1] / 10  # "seven one" is 7.1
    return rod_of(quantity)


def _feet(quantity: Quantity, metric: bool) -> float | None:
    parts = quantity.parts
    if quantity.unit is None and metric:
        return _metres(quantity)
    if len(parts) == 2 and quantity.unit is None and 0 <= parts[1] < 12:
        return parts[0] + parts[1] / 12  # "forty-four six" is 44 ft 6 in
    return _in(quantity, "ft")


def _inches(quantity: Quantity, metric: bool) -> float | None:
    if quantity.unit in ("size", "angle"):
        return quantity.values[0] if quantity.values else quantity.value
    value = _in(quantity, "in")
    if value is not None and quantity.unit is None and value >= MILLIMETRES:
        return value / 25.4
    return value


def _slope(quantity: Quantity, metric: bool) -> float | None:
    value = quantity.value
    if quantity.unit == "in":
        return value / 12 * 100  # "a quarter" is a quarter inch a foot
    if quantity.unit == "ft" and metric:
        return value * 304.8 / 10  # "ten mil" a metre
    if quantity.unit is None and metric and value >= 5:
        return value / 10  # "ten to the metre" is ten millimetres
    if quantity.unit is None and value in (0.125, 0.25, 0.375):
        return value / 12 * 100
    return value if quantity.unit in ("pct", None) else None
