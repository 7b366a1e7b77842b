"""What a quantity is worth as a field: the grammar's number in the field's unit.

The same words are worth different things in different fields: "forty-four six" is 44 ft 6 in as a length and 44.6 as an
elevation. A quantity is never guessed at: what cannot be a value of the field gives None.
"""

from __future__ import annotations

from extract.text.quantities import FACTORS, Quantity, elevation_of, rod_of

ELEVATIONS = {"rim_ft", "invert_in_ft", "invert_out_ft", "elevation_ft"}
IN_FEET = {"length_ft", "tie", "crossing", "pieces_ft", "stations_ft"}
IN_INCHES = {"nominal_in", "drop_in", "cover_in", "size_in", "invert_depth_in"}
MILLIMETRES = 30
"""A bare size, cover or drop from here on is in millimetres: no crew says it in inches."""


def value_of(quantity: Quantity, role: str) -> float | None:
    """The value of the quantity in the unit of the role's field, or None."""
    if role in ELEVATIONS:
        return _elevation(quantity)
    if role == "rod_ft":
        return rod_of(quantity) if quantity.unit in (None, "ft") else _in(quantity, "ft")
    if role in IN_FEET:
        return _feet(quantity)
    if role in IN_INCHES:
        return _inches(quantity)
    if role == "slope_pct":
        return _slope(quantity)
    if role == "duration_s":
        return quantity.value if quantity.unit == "s" else quantity.value * 60 if quantity.unit is None else None
    if role == "flow_gpm":
        return quantity.value if quantity.unit in ("gpm", "gal", None) else None
    if role == "area":
        return quantity.value if quantity.unit in ("sqft", None) else None
    return quantity.value


def _in(quantity: Quantity, unit: str) -> float | None:
    """In a unit that its own unit can be turned into; a bare number is in that unit."""
    if quantity.unit in (None, unit):
        return quantity.value
    factor = FACTORS.get((quantity.unit, unit))
    return None if factor is None else quantity.value * factor


def _elevation(quantity: Quantity) -> float | None:
    if len(quantity.parts) == 2 and quantity.unit is None and 0 < quantity.parts[1] < 10:
        return quantity.parts[0] + quantity.parts[1] / 10  # "ninety-seven nine" is 97.9
    return elevation_of(quantity) if quantity.unit in (None, "ft") else _in(quantity, "ft")


def _feet(quantity: Quantity) -> float | None:
    parts = quantity.parts
    if len(parts) == 2 and quantity.unit is None and 0 <= parts[1] < 12:
        return parts[0] + parts[1] / 12  # "forty-four six" is 44 ft 6 in
    return _in(quantity, "ft")


def _inches(quantity: Quantity) -> float | None:
    if quantity.unit in ("size", "angle"):
        return quantity.values[0] if quantity.values else quantity.value
    value = _in(quantity, "in")
    if value is not None and quantity.unit is None and value >= MILLIMETRES:
        return value / 25.4
    return value


def _slope(quantity: Quantity) -> float | None:
    if quantity.unit == "in":
        return quantity.value / 12 * 100  # "a quarter" is a quarter inch a foot
    if quantity.unit is None and 0 < quantity.value < 1 and quantity.value not in (0.5,):
        return quantity.value / 12 * 100 if quantity.value in (0.125, 0.25, 0.375) else quantity.value
    return quantity.value if quantity.unit in ("pct", None) else None
