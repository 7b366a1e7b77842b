"""What a quantity is worth as a field: the grammar's number in the field's unit.

The same words are worth different things in different fields and crews: "forty-four six" is 44 ft 6 in as a length,
44.6 as an elevation and 44.06 m from a crew that measures in metres. A quantity is never guessed at: what cannot be a
value of the field gives None.

So a crew is judged first, by all that it says (`crew_of`).
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import NamedTuple

from extract.recount import FACTORS
from extract.text.quantities import Quantity, elevation_of, rod_of

ELEVATIONS = {"rim_ft", "invert_in_ft", "invert_out_ft", "elevation_ft"}
IN_FEET = {"length_ft", "tie", "crossing", "pieces_ft", "stations_ft"}
IN_INCHES = {"nominal_in", "drop_in", "cover_in", "size_in", "invert_depth_in"}
FEET_OF_METRE = 1 / 0.3048
MILLIMETRES = 30
"""A bare size of pipe from here on is in millimetres, and so is any bare inch of a crew that measures in metres."""
CENTIMETRES = 100
"""A bare number below is in centimetres from a crew that says so, and from here on in millimetres from any."""
LONGEST_STICK = 25
LONGEST_METRES = 200
"""A bare length of more, from a crew that measures in metres, is in millimetres."""
METRES_ON_ROD = 3
"""A level stands on a tripod at a man's breast: it reads 3 to 9 on a rod in feet, and 0 to 3 on one in metres."""
FAR = 10
"""Feet between the heights of one thing that was read twice: no more."""
FEW = 4
"""How often a way of saying numbers shows before it is a habit."""
A_HUNDRED = 90
"""A mark called a hundred, and what is near it, is in feet unless metres are said."""
MOST_TENTHS = 4
"""Feet of cover, depth or drop, said with a decimal point; more is in inches."""
NAMES_OF_PIPE = {35, 40}
"""SDR 35 and Schedule 40: no size in inches."""

METRES = re.compile(
    r"\b(?:metres?|meters|metros?|(?<!the )(?<!gas )(?<!water )(?<!electric )(?<!power )meter)\b|\d ?m\b", re.IGNORECASE
)
"""Not the meter on a wall."""
METROS = re.compile(r"\bmetros?\b", re.IGNORECASE)
FEET = re.compile(r"\b(?:feet|foot(?:er)?s?|ft|pies?)\b|\d'", re.IGNORECASE)
CENTI = re.compile(r"\b(?:cms?|cent[ií]met\w+)\b", re.IGNORECASE)
MILLI = re.compile(r"\b(?:mils?|mms?|mil[ií]met\w+|millimet\w+)\b|\d(?:mm|mil)\b", re.IGNORECASE)
ENDS_IN_ZERO = re.compile(
    r"(?<!point )\b(?:one|two|three|four|five|six|seven|eight|nine)[ -](?:zero|oh|nought)\b"
    r"(?![ -](?:one|two|three|four|five|six|seven|eight|nine))",
    re.IGNORECASE,
)
"""A ten said by its digits: "five zero"."""
JOINED = re.compile(r",|[.;:]|\b(?:and|an|y|plus)\b", re.IGNORECASE)
STICKS = re.compile(r"\s*(?:sticks?|pieces?|joints?|lengths?|tubos?|palos?|tramos?)\b", re.IGNORECASE)


class Crew(NamedTuple):
    """How a crew measures and says numbers."""

    small: str = "in"
    """The small unit: `in`, `mm` or `cm`."""
    tenths: bool = False
    """Feet in tenths: "forty-one eight" is 41.8."""
    digits: bool = False
    """Digit by digit: "two eight" is 28."""

    @property
    def metric(self) -> bool:
        return self.small != "in"


IMPERIAL = Crew()


def crew_of(text: str, said: Sequence[tuple[Quantity, str]]) -> Crew:
    """How a crew measures, judged over its whole log: the text of all notes, each quantity and its words."""
    pairs = plain = points = parts_of_inch = 0
    for quantity, words in said:
        pairs += len(quantity.parts) == 2 and quantity.unit is None and max(quantity.parts) < 10
        plain += not quantity.parts and quantity.value >= 10 and quantity.value % 1 == 0 and not words[0].isdigit()
        points += quantity.decimal
        inches = quantity.unit == "in" and not quantity.attributive
        mixed = quantity.value % 1 > 0 and not quantity.parts and quantity.unit in (None, "in", "ft")
        parts_of_inch += not quantity.decimal and (inches or mixed)
    spelled = pairs + len(ENDS_IN_ZERO.findall(text))
    small = _small_unit(text)
    shown = spelled if small == "in" else spelled - pairs  # "eight two" may be 8.2 metres
    digits = pairs > 0 and shown >= FEW and 3 * spelled > plain
    return Crew(small, not digits and points >= FEW and points > 3 * parts_of_inch, digits)


def _small_unit(text: str) -> str:
    metres, feet = len(METRES.findall(text)), len(FEET.findall(text))
    centi, milli = len(CENTI.findall(text)), len(MILLI.findall(text))
    if metres + centi + milli <= feet:
        return "in"
    return "cm" if centi > milli or (centi == milli and METROS.search(text)) else "mm"


def value_of(quantity: Quantity, role: str, crew: Crew = IMPERIAL) -> float | None:
    """The value of the quantity in the unit of the role's field, or None."""
    if crew.digits:
        quantity = _spelled(quantity, role, crew.metric)
    metric = crew.metric
    if role in ELEVATIONS:
        return _elevation(quantity, metric)
    if role == "rod_ft":
        return _rod(quantity, metric)
    if role in IN_FEET:
        return _feet(quantity, crew)
    if role in IN_INCHES:
        return _inches(quantity, role, crew)
    if role == "slope_pct":
        return _slope(quantity, metric)
    if role == "duration_s":
        return _seconds(quantity)
    if role == "flow_gpm":
        return quantity.value if quantity.unit in ("gpm", None) else None
    if role == "area":
        return quantity.value if quantity.unit in ("sqft", None) else None
    return quantity.value


def sizes_of(quantity: Quantity, crew: Crew = IMPERIAL) -> list[float]:
    """All numbers of a size, inches: "twelve by eighteen", "twelve twelve"."""
    said = quantity.values if len(quantity.values) > 1 else quantity.parts
    if len(said) == 2 and (quantity.values or said[0] == said[1]):
        return [_small(each, "size_in", crew.small) for each in said]
    value = value_of(quantity, "size_in", crew)
    return [] if value is None else [value]


def list_of(quantities: Sequence[Quantity], role: str, crew: Crew = IMPERIAL, gaps: Sequence[str] = ()) -> list[float]:
    """Pieces or stations said together, feet. `gaps`: the words behind each quantity, up to the next.

    In "three tens and a four" the first number counts the second, as in "two of ten"; in "three sticks, two of ten and
    one of four" it counts what follows; what comes to the sum of all before is their sum.
    """
    if role != "pieces_ft":
        values = [value_of(quantity, role, crew) for quantity in quantities]
        return [round(value, 4) for value in values if value is not None]
    out: list[float] = []
    count = sticks = 0
    for i, quantity in enumerate(quantities):
        after = quantities[i + 1] if i + 1 < len(quantities) else None
        gap = gaps[i] if i < len(gaps) else " "
        whole = quantity.unit is None and quantity.value == int(quantity.value) and 0 < quantity.value < LONGEST_STICK
        counts = whole and not count and not quantity.parts and not quantity.plural
        if counts and after is not None and (after.plural or _runs_on(gap, after)):
            count = int(quantity.value)
        elif counts and after is not None and STICKS.match(gap):
            sticks = int(quantity.value)
        elif not (counts and quantity.value == 1):
            pieces = _pieces(quantity, crew)
            if not (after is None and len(out) > 1 and pieces and abs(sum(out) - pieces[0]) < 0.05):
                out += pieces * (count or 1)
            count = 0
    return [] if sticks and sticks != len(out) else out  # "three sticks and a five": who knows how long those are


def _runs_on(gap: str, after: Quantity) -> bool:
    """Whether a count stands right before a length: "two of ten", "four whole ten-foot ones"."""
    return not JOINED.search(gap) and (after.attributive or any(each.isalpha() for each in gap))


def _pieces(quantity: Quantity, crew: Crew) -> list[float]:
    """One piece, or several said without a stop: "ten ten ten"."""
    parts = quantity.parts
    if quantity.unit is None and len(parts) > 2 and min(parts) >= 2:
        metre = FEET_OF_METRE if crew.metric else 1
        return [round(part * metre, 4) for part in parts]
    value = value_of(quantity, "pieces_ft", crew)
    return [] if value is None else [round(value, 4)]


def completed(quantity: Quantity, value: float, old: float | None, role: str, crew: Crew = IMPERIAL) -> float:
    """The value where only the end of one known was said anew: "97.48, no, forty-six" is 97.46."""
    spelled = len(quantity.parts) == 2 and max(quantity.parts) < 10
    said = float(_joined(quantity)) if spelled else quantity.value
    bare = quantity.unit is None and not quantity.pointed and (spelled or not quantity.parts)
    if old is None or not (bare or role in ELEVATIONS) or said != int(said):
        return value
    unit = FEET_OF_METRE if crew.metric else 1.0
    whole = old // unit
    levels = role in ELEVATIONS or role == "rod_ft"
    hundredths = round(100 * (old / unit % 1)) if levels or crew.metric or crew.tenths else None
    ends = (hundredths, whole % 100 if whole >= 100 else None)
    if bare and 10 <= said < 100 and said in ends and said != round(old / unit, 4):
        return old  # told again
    if levels and not quantity.parts and 10 <= said < 100:
        if role == "rod_ft" and crew.metric:
            return (old / unit // 0.1 / 10 + said / 1000) * unit
        far = said > 2 * whole if role == "rod_ft" else abs(said - whole) > FAR
        return (whole + said / 100) * unit if far else value
    if role in ELEVATIONS and old >= 100 > value and abs(value + 100 - old) < 2 * FAR:
        return value + 100
    return value


def _in(quantity: Quantity, unit: str) -> float | None:
    """In a unit that its own unit can be turned into; a bare number is in that unit."""
    if quantity.unit in (None, unit):
        return quantity.value
    factor = FACTORS.get((quantity.unit, unit))
    return None if factor is None else quantity.value * factor


def _spelled(quantity: Quantity, role: str, metric: bool) -> Quantity:
    """The number whose digits a crew said one by one; feet and inches in "two one six" are 21 ft 6 in."""
    parts = quantity.parts
    if len(parts) < 2 or max(parts) >= 10 or quantity.unit is not None:
        return quantity
    if role in IN_FEET and metric:
        return quantity._replace(parts=()) if len(parts) > 2 else quantity  # millimetres; "two nine" is 2.9 m
    if role in IN_FEET and len(parts) > 2:
        return quantity._replace(parts=(10 * parts[0] + parts[1], float(_joined(quantity)[2:])))
    feet_inches = role == "pieces_ft" and 10 * parts[0] + parts[1] > LONGEST_STICK
    if len(parts) > 2 or role == "rod_ft" or feet_inches:
        return quantity
    return quantity._replace(value=10 * parts[0] + parts[1], parts=())


def _joined(quantity: Quantity) -> str:
    """The digits that were said, in a row: "one oh four two" is 1042."""
    return "".join(str(int(part)) for part in quantity.parts or (quantity.value,))


def _metres(quantity: Quantity) -> float:
    """A bare number in metres, feet: "seven sixty" is 7.60 m, "three oh five" 3.05 m."""
    parts = quantity.parts
    if len(parts) == 2 and 0 <= parts[1] < 100:
        return (parts[0] + parts[1] / (100 if parts[1] >= 10 else 10)) * FEET_OF_METRE
    if len(parts) == 3 and parts[1] == 0 and parts[2] < 10:
        return (parts[0] + parts[2] / 100) * FEET_OF_METRE
    value = quantity.value / 1000 if quantity.value >= LONGEST_METRES else quantity.value
    return value * FEET_OF_METRE


def _elevation(quantity: Quantity, metric: bool) -> float | None:
    parts = quantity.parts
    if quantity.unit not in (None, "ft"):
        return _in(quantity, "ft")
    if quantity.unit is None and len(parts) > 2 and max(parts) < 10:
        digits = _joined(quantity)
        hundreds = parts[0] == 1 or digits.endswith("00")
        places = len(digits) - 1 if metric else 2 if len(digits) > 3 else 0 if hundreds else 1
        said = float(f"{digits}e-{places}")  # "nine seven one eight" is 97.18
        return said * FEET_OF_METRE if metric else said
    if quantity.unit is None and len(parts) == 2 and 100 <= parts[1] < 1000:
        return (parts[0] + parts[1] / 1000) * (FEET_OF_METRE if metric else 1)
    if metric and quantity.unit is None:
        return (elevation_of(quantity) or quantity.value) * FEET_OF_METRE
    if len(parts) == 2 and quantity.unit is None and parts[1] % 1:
        return parts[0] + parts[1] / 12  # "twenty-three nine and a half": a fraction is one of an inch
    if len(parts) == 2 and quantity.unit is None and parts[0] == 1 and parts[1] >= 10:
        return 100 + parts[1]  # "one forty" is 140: no mark is called one foot
    if len(parts) == 2 and quantity.unit is None and 0 < parts[1] < 10:
        return parts[0] + parts[1] / 10  # "ninety-seven nine" is 97.9
    if len(parts) > 2 and quantity.unit is None and parts[0] == 1 and parts[1] < 100:
        return 100 + parts[1] + (parts[2] / 100 if parts[2] >= 10 else parts[2] / 10)  # "one twelve fifty" is 112.50
    return elevation_of(quantity)


def in_thousandths(quantity: Quantity) -> bool:
    """Whether a reading has three decimals, as only one in metres has: "one four two five"."""
    parts = quantity.parts
    return (len(parts) == 4 and max(parts) < 10) or (len(parts) == 2 and parts[0] < 10 and 100 <= parts[1] < 1000)


def rod_in_metres(quantity: Quantity) -> bool | None:
    """Whether a bare reading can only be one in metres, or in feet; None where it may be either."""
    digits = "" if quantity.pointed else _joined(quantity)
    if quantity.unit is not None or (len(digits) < 3 and not quantity.pointed):
        return None
    if len(digits) > 3 or (quantity.pointed and round(quantity.value, 2) != round(quantity.value, 4)):
        return True
    return (quantity.value if quantity.pointed else int(digits) / 100) < METRES_ON_ROD


def _rod(quantity: Quantity, metric: bool) -> float | None:
    if quantity.unit not in (None, "ft"):
        return _in(quantity, "ft")
    parts = quantity.parts
    if metric and quantity.unit is None:
        if len(parts) == 2 and parts[1] >= 100:
            return (parts[0] + parts[1] / 1000) * FEET_OF_METRE
        if len(parts) == 2 and max(parts) < 10:
            return (parts[0] + parts[1] / 10) * FEET_OF_METRE
        said = float(_joined(quantity)) if parts else quantity.value
        value = said if quantity.pointed or said < 10 else said / (1000 if said >= 300 else 100)
        return value * FEET_OF_METRE
    if len(parts) == 3 and parts[0] == 1 and parts[1] < 10 <= parts[2] and quantity.unit is None:
        parts = parts[1:]  # "that one five forty": no rod is read at fifteen feet
        return parts[0] + parts[1] / 100
    if len(parts) == 2 and 0 <= parts[1] < 12 and quantity.unit is None and (parts[1] % 1 or parts[1] < 10):
        return parts[0] + parts[1] / (12 if parts[1] % 1 else 10)  # "seven one" is 7.1, "seven one and a half" inches
    return rod_of(quantity)


def _feet(quantity: Quantity, crew: Crew) -> float | None:
    parts = quantity.parts
    if quantity.unit == "angle":
        quantity = quantity._replace(unit=None)  # "twenties" are bends, or pieces
    if quantity.unit is None and crew.metric:
        return _metres(quantity)
    if len(parts) == 3 and quantity.unit is None and parts[0] == 1 and parts[1] >= 10 > parts[2]:
        parts = parts[1:]  # "the other one forty-one three"
    if len(parts) == 2 and quantity.unit is None and 0 <= parts[1] < 12:
        return parts[0] + parts[1] / (10 if crew.tenths and parts[1] < 10 else 12)  # "forty-four six" is 44 ft 6 in
    return quantity.value if quantity.unit == "station" else _in(quantity, "ft")


def _inches(quantity: Quantity, role: str, crew: Crew) -> float | None:
    if quantity.unit in ("size", "angle"):
        return _small(quantity.values[0] if quantity.values else quantity.value, role, crew.small, quantity.decimal)
    value = _in(quantity, "in")
    if value is None or quantity.unit is not None:
        return value
    if role == "nominal_in" and len(quantity.parts) == 2 and quantity.parts[1] in NAMES_OF_PIPE:
        return quantity.parts[0]  # "four thirty-five"
    if role == "nominal_in" and not crew.metric and value in NAMES_OF_PIPE:
        return None
    if crew.tenths and len(quantity.parts) == 2 and role != "nominal_in":
        whole, rest = quantity.parts
        return 12 * (whole + rest / (10 if rest < 10 else 100))  # "one thirty" is 1.30 ft
    decimal = quantity.decimal or (role == "drop_in" and value < 2 and value * 16 != int(value * 16))
    if role in ("drop_in", "cover_in", "invert_depth_in") and not crew.metric and decimal and value < MOST_TENTHS:
        return value * 12  # "one point six": a tape has no tenths of an inch
    return _small(value, role, crew.small, quantity.decimal)


def _small(value: float, role: str, small: str, decimal: bool = False) -> float:
    """A bare number of a size, cover, drop or depth, inches."""
    if small == "in":
        return value / 25.4 if value >= (MILLIMETRES if role == "nominal_in" else CENTIMETRES) else value
    if role != "nominal_in" and value < 3 and (decimal or role == "size_in"):
        return value * FEET_OF_METRE * 12
    centi = small == "cm" and role != "nominal_in" and (role != "size_in" or value >= MILLIMETRES)
    deep = role == "invert_depth_in" and value >= MILLIMETRES
    if value < CENTIMETRES and (centi or deep):
        return value / 2.54
    return value / 25.4 if value >= MILLIMETRES else value


def _seconds(quantity: Quantity) -> float | None:
    if quantity.unit == "s":
        return quantity.value
    if len(quantity.parts) == 2 and quantity.parts[1] < 60:
        return 60 * quantity.parts[0] + quantity.parts[1]  # "four ten", with a watch
    return 60 * quantity.value if quantity.unit is None else None


def _slope(quantity: Quantity, metric: bool) -> float | None:
    value = quantity.value
    if quantity.unit is None and len(quantity.parts) > 1 and max(quantity.parts) < 10:
        return float(f"{value}e-{len(quantity.parts) - 1}")  # "one two five" is 1.25
    if quantity.unit == "in":
        return value / 12 * 100 if value < 1 else None  # "a quarter" is a quarter inch a foot
    if quantity.unit == "ft" and metric:
        return value * 304.8 / 10  # "ten mil" a metre
    if quantity.unit is None and metric and value >= 5:
        return value / 10  # "ten to the metre" is ten millimetres
    if quantity.unit is None and value in (0.125, 0.25, 0.375):
        return value / 12 * 100
    return value if quantity.unit in ("pct", None) else None
