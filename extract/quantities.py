"""Numbers with their units: feet and inches, slopes, sizes, stations, angles, times, flow.

`find_quantities` finds every number among the words of a sentence with its unit. Lengths come back in feet or inches,
areas in square feet, slopes in percent, durations in seconds, flow in US gallons a minute.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import NamedTuple

from extract.numbers import (
    FRACTIONS,
    PLURALS,
    SMALL,
    TENS,
    concatenated,
    decimals_at,
    fraction_at,
    groups_at,
    plural_angle_at,
)

UNITS = {
    "ft": "foot feet ft",
    "in": "inch inches",
    "pct": "percent",
    "s": "second seconds sec",
    "min": "minute minutes min mins",
    "h": "hour hours",
    "deg": "degree degrees deg",
    "gal": "gallon gallons",
    "gpm": "gpm",
    "psi": "psi pounds",
    "money": "dollar dollars buck bucks cents",
    "m": "meter meters metre metres m",
    "cm": "centimeter centimeters centimetre centimetres cm",
    "mm": "millimeter millimeters millimetre millimetres mm",
    "yd": "yard yards",
    "sqft": "sqft",
    "sqyd": "sqyd",
    "sqm": "sqm",
    "clock": "o'clock am pm",
    "other": "years acres miles mph",
}
UNIT_OF = {word: unit for unit, words in UNITS.items() for word in words.split()}
PIECE_NOUNS = {"stick", "sticks", "piece", "pieces", "joint", "joints", "lengths"}
PIPE_WORDS = set(
    "sdr s35 schedule sch pvc round square corrugated pipe line dual single solid perforated d2729 d black white wye "
    "tee channel basin area drain sleeve cap coupling".split()
)
TO_FEET = {"m": 1 / 0.3048, "yd": 3.0}
TO_SQFT = {"sqyd": 9.0, "sqm": 1 / 0.3048**2}
TO_INCHES = {"cm": 1 / 2.54, "mm": 1 / 25.4}
SECONDS = {"s": 1, "min": 60, "h": 3600}
NOT_AFTER_INCH_ABBREVIATION = set("the a an at by on it there place ground concrete to front back and our".split())
ARTICLES = ("a", "an")
STARTERS = {*SMALL, *TENS, *FRACTIONS, *PLURALS, *ARTICLES, "point", "hundred"}
AFTER_ARTICLE = {*FRACTIONS, *UNIT_OF, "hundred", "thousand"}
FALLS = set("fall falls falling fell drops dropping pitch pitched slope slopes".split())
NOT_OF_A_LENGTH = {"of", "a", "per", "wide", "deep", "round", "cover", "drop", "fall"}
OF_A = {"inch", "foot", "hour", "minute", "percent"}
ENDS_A_RATIO = {"", ",", ".", ";", "?", "!"} | set(
    "slope fall grade and so on or over for from to at with across".split()
)
NUMERIC = frozenset("0123456789.")
"""A number begins with one of these words or characters; nothing else is looked at."""
PADDING = [""] * 8
"""Empty words behind the last, so that a number may look at what follows it without asking whether anything does."""
STATION = re.compile(r"(\d{1,4})\+(\d{1,2}(?:\.\d+)?)")
ANGLE_PLURAL = re.compile(r"(\d{2}(?:\.\d+)?)s")


class Quantity(NamedTuple):
    """A number with its unit, over the tokens [start, end).

    `unit` is one of ft, in, sqft, pct, s, gpm, gal, psi, deg, money, angle, size, station, clock, other, or None for
    a bare number. `value` is in that unit; `values` holds all of a size. `parts` are numbers said side by side
    ("ninety-seven thirty"), which only an elevation or a rod reading may join.
    """

    value: float
    unit: str | None
    start: int
    end: int
    values: tuple[float, ...] = ()
    parts: tuple[float, ...] = ()
    pointed: bool = False
    attributive: bool = False
    """Said as in "four-inch pipe": a size, not a measured distance."""
    glued: bool = False
    """Two numbers that were written as one; somebody should look."""
    plural: bool = False


def find_quantities(tokens: Sequence[str], taken: set[int] | frozenset[int] = frozenset()) -> list[Quantity]:
    """Every quantity among the tokens, left to right, none overlapping; tokens in `taken` belong to names."""
    found: list[Quantity] = []
    end = 0
    begins = [i for i, word in enumerate(tokens) if word in STARTERS or word[0] in NUMERIC]
    tokens = [*tokens, *PADDING] if begins else tokens
    for i in begins:
        if i < end or i in taken or (tokens[i] in ARTICLES and tokens[i + 1] not in AFTER_ARTICLE):
            continue
        if quantity := _quantity_at(tokens, i, taken):
            found += _counted(quantity)
            end = quantity.end
    return found


def _counted(quantity: Quantity) -> list[Quantity]:
    """As in "Three ten-foot" is a count of three and a ten-foot size; anything else stays one quantity."""
    glued = _glued_bend(quantity)
    if glued:
        return glued
    if not (quantity.attributive or quantity.unit == "deg") or len(quantity.parts) != 2:
        return [quantity._replace(parts=())] if quantity.unit and quantity.parts else [quantity]
    count, size = quantity.parts
    middle = quantity.start + 1
    size = _angle(size) if quantity.unit == "deg" else size
    return [Quantity(count, None, quantity.start, middle), quantity._replace(value=size, start=middle, parts=())]


def _glued_bend(quantity: Quantity) -> list[Quantity]:
    """Two bends of 90 degrees heard as "290 degree": no bend turns so far, so the first digit is the count."""
    if quantity.unit != "deg" or quantity.parts:
        return []
    count, degrees = divmod(quantity.value, 100)
    if not 2 <= count <= 9 or degrees not in (22, 30, 45, 60, 90):
        return []
    angle = quantity._replace(value=_angle(degrees), glued=True)
    return [Quantity(count, None, quantity.start, quantity.start, glued=True), angle]


def elevation_of(quantity: Quantity) -> float | None:
    """The elevation in feet that a quantity says ("ninety-seven thirty" is 97.30), or None where it says none."""
    if quantity.unit not in (None, "ft"):
        return None
    return _joined_hundredths(quantity.parts) if quantity.parts else quantity.value


def rod_of(quantity: Quantity) -> float | None:
    """The rod reading in feet that a quantity says ("eight oh six" is 8.06), or None where it says none."""
    value = elevation_of(quantity)
    if value is not None and not quantity.pointed and not quantity.parts and 100 <= value < 2500:
        return value / 100
    return value


def lost_its_point(quantity: Quantity) -> bool:
    """Whether a bare whole number of three or four digits may be a reading whose point was not written."""
    return (
        not quantity.parts and not quantity.pointed and quantity.value >= 200 and quantity.value == int(quantity.value)
    )


def _joined_hundredths(parts: tuple[float, ...]) -> float | None:
    whole, rest = parts[0], [int(part) for part in parts[1:]]
    if len(rest) == 1 and 10 <= rest[0] <= 99:
        return whole + rest[0] / 100
    if len(rest) == 2 and all(0 <= digit <= 9 for digit in rest):
        return whole + rest[0] / 10 + rest[1] / 100
    return None


def _quantity_at(tokens: Sequence[str], i: int, taken: set[int] | frozenset[int]) -> Quantity | None:
    token = tokens[i]
    if "+" in token and (station := STATION.fullmatch(token)):
        return Quantity(100 * float(station[1]) + float(station[2]), "station", i, i + 1)
    if token[-1] == "s" and (angle := ANGLE_PLURAL.fullmatch(token)):
        return Quantity(_angle(float(angle[1])), "angle", i, i + 1, plural=True)
    number = _number_at(tokens, i, taken)
    if number is None:
        return None
    return _with_unit(tokens, number)


def _number_at(tokens: Sequence[str], i: int, taken: set[int] | frozenset[int]) -> Quantity | None:
    """A number with no unit yet: groups side by side, a spoken or written point, a mixed fraction."""
    plural = plural_angle_at(tokens, i)
    if plural:
        return Quantity(_angle(plural[0]), "angle", i, plural[1], plural=True)
    fraction = fraction_at(tokens, i)
    if fraction:
        return Quantity(fraction[0], None, i, fraction[1])
    if tokens[i] in ("a", "an") and tokens[i + 1] in UNIT_OF and UNIT_OF[tokens[i + 1]] in (
        "in", "ft", "pct", "min", "h", "s",
    ):  # fmt: skip
        return Quantity(1, None, i, i + 1)
    if tokens[i] == "point":
        decimals, end = decimals_at(tokens, i + 1)
        return Quantity(float(f"0.{decimals}"), None, i, end, pointed=True) if decimals else None
    groups, end = groups_at(tokens, i, taken)
    if not groups:
        return None
    if tokens[end] == "point" and all(group == int(group) for group in groups):
        decimals, after = decimals_at(tokens, end + 1)
        if decimals:
            return Quantity(float(f"{concatenated(groups)}.{decimals}"), None, i, after, pointed=True)
    if tokens[end] == "plus":
        tail, after = groups_at(tokens, end + 1, taken)
        if tail:
            return Quantity(100 * groups[0] + tail[0], "station", i, after)
    return _finish_number(tokens, i, groups, end)


def _finish_number(tokens: Sequence[str], i: int, groups: list[float], end: int) -> Quantity:
    more = fraction_at(tokens, end + 1) if tokens[end] == "and" else fraction_at(tokens, end)
    if more and more[0] < 1 and len(groups) == 1 and groups[0] == int(groups[0]):
        return Quantity(groups[0] + more[0], None, i, more[1], pointed=True)
    if more and more[0] == 0.5 and len(groups) == 2 and groups[1] in (22, 67):  # "two 22 and a half degree bends"
        return Quantity(groups[0], None, i, more[1], parts=(groups[0], groups[1] + 0.5))
    parts = tuple(groups) if len(groups) > 1 else ()
    value = float(concatenated(groups)) if parts else groups[0]
    return Quantity(value, None, i, end, parts=parts, pointed="." in tokens[end - 1])


def _angle(degrees: float) -> float:
    """Fittings called 22 and 11 are the 1/16 and 1/32 bends of 22.5 and 11.25 degrees."""
    return {22.0: 22.5, 11.0: 11.25}.get(degrees, degrees)


def angle_of(quantity: Quantity) -> float | None:
    """The bend angle in degrees that a quantity can stand for, or None."""
    angle = _angle(quantity.value)
    return angle if angle in (11.25, 22.5, 30, 45, 60, 90) and quantity.unit in (None, "deg", "angle") else None


def _with_unit(tokens: Sequence[str], number: Quantity) -> Quantity:
    if number.unit:
        return number
    i = number.end
    if tokens[i] == "by":
        size = _size(tokens, number)
        if size:
            return size
    if tokens[i] == "of" and tokens[i + 1] in ("a", "an") and tokens[i + 2] in OF_A:
        i += 2
    elif tokens[i] in ("a", "an") and tokens[i + 1] in ("inch", "foot", "percent", "minute", "hour"):
        i += 1
    if confirmed := _said_in_digits(tokens, number):
        number, i = number._replace(end=confirmed), confirmed
    if tokens[i] == "foot" and i > number.end and number.value >= 12:
        return number._replace(unit="money", end=i + 1)  # "at 38 a foot" is a price
    ratio = _one_in(tokens, number) or _fall_over(tokens, number)
    if ratio:
        return ratio
    unit = UNIT_OF.get(tokens[i]) or _abbreviated_inch(tokens, number, i)
    if unit is None:
        return _per_foot(tokens, number) or number
    return _measured(tokens, number, unit, i)


def _said_in_digits(tokens: Sequence[str], number: Quantity) -> int:
    """Where "fifty, five zero, feet" ends its second saying, digit by digit; 0 where there is none."""
    if tokens[number.end] != "," or number.parts:
        return 0
    groups, end = groups_at(tokens, number.end + 1, frozenset())
    same = len(groups) > 1 and all(group < 10 for group in groups) and float(concatenated(groups)) == number.value
    end += tokens[end] == ","
    return end if same and tokens[end] in UNIT_OF else 0


def _abbreviated_inch(tokens: Sequence[str], number: Quantity, i: int) -> str | None:
    if tokens[i] != "in" or not tokens[number.end - 1][-1].isdigit():
        return None
    if number.pointed and number.value > 60:
        return None  # "98.04 in, 97.94 out" are heights
    return None if tokens[i + 1] in NOT_AFTER_INCH_ABBREVIATION else "in"


def _measured(tokens: Sequence[str], number: Quantity, unit: str, i: int) -> Quantity:
    single = tokens[i] in ("inch", "foot", "in") or (unit == "ft" and tokens[i + 1] in PIECE_NOUNS)
    attributive = single and number.value > 1 and tokens[i - 1] not in ARTICLES
    quantity = number._replace(unit=unit, end=i + 1, attributive=attributive)
    tail = fraction_at(tokens, i + 2) if tokens[i + 1] == "and" else None
    if tail and unit in ("in", "ft", "h", "min", "pct"):
        quantity = quantity._replace(value=quantity.value + tail[0], end=tail[1], attributive=False)
    if unit == "in":
        return _per_foot(tokens, quantity) or _fall_over(tokens, quantity) or quantity
    if unit == "ft":
        return _fall_over(tokens, quantity) or _feet_and_inches(tokens, quantity)
    return _converted(tokens, quantity)


def _converted(tokens: Sequence[str], quantity: Quantity) -> Quantity:
    unit = quantity.unit or ""
    if unit in SECONDS:
        return quantity._replace(value=quantity.value * SECONDS[unit], unit="s", attributive=False)
    if unit == "gal" and tokens[quantity.end] in ("a", "per", "each") and tokens[quantity.end + 1] in (
        "minute", "min",
    ):  # fmt: skip
        return quantity._replace(unit="gpm", end=quantity.end + 2)
    if unit in TO_FEET:
        return quantity._replace(value=quantity.value * TO_FEET[unit], unit="ft")
    if unit in TO_SQFT:
        return quantity._replace(value=quantity.value * TO_SQFT[unit], unit="sqft")
    if unit in TO_INCHES:
        return quantity._replace(value=quantity.value * TO_INCHES[unit], unit="in")
    if unit == "deg":
        return quantity._replace(value=_angle(quantity.value))
    return quantity


def _feet_and_inches(tokens: Sequence[str], feet: Quantity) -> Quantity:
    apart = tokens[feet.end] in (",", "and")
    number = _number_at(tokens, feet.end + apart, frozenset())
    if feet.pointed or number is None or number.parts or not 0 < number.value < 12 or number.unit:
        return feet
    if tokens[feet.end] == "and" and tokens[number.end] == "":  # "44 feet and 6": most likely inches
        return feet._replace(value=feet.value + number.value / 12, end=number.end, attributive=False, glued=True)
    if apart and (tokens[number.end] != "inches" or tokens[number.end + 1] in NOT_OF_A_LENGTH):
        return feet
    after = tokens[number.end]
    if after in ("inch", "inches", "in") and tokens[number.end + 1] not in PIPE_WORDS:
        if after == "inch" and tokens[number.end + 1] in FALLS:
            return feet  # "thirty feet three inch drops five inches" is of three-inch pipe
        if after == "inch" and tokens[feet.end - 1] == "feet" and number.value in (3, 4, 6, 8, 10):
            feet = feet._replace(glued=True)  # "forty feet four inch": a length, or a length and a size?
        return feet._replace(value=feet.value + number.value / 12, end=number.end + 1, attributive=False)
    if after in UNIT_OF or after in ("by", "percent", "sticks", "pieces") or plural_angle_at(tokens, number.end):
        return feet
    if after.isalpha() and after.endswith("s") and after != "is":
        return feet  # "forty feet, two couplings"
    if _number_at(tokens, number.end, frozenset()) or ANGLE_PLURAL.fullmatch(after):
        return feet
    return feet._replace(value=feet.value + number.value / 12, end=number.end, attributive=False)


def _per_foot(tokens: Sequence[str], quantity: Quantity) -> Quantity | None:
    """A fall in inches per foot as percent: an eighth per foot is 1.0417."""
    i = quantity.end
    if tokens[i] in ("per", "a") and tokens[i + 1] in ("foot", "ft"):
        end = i + 2
    elif tokens[i] in ("to", "in") and tokens[i + 1] in ("the", "a") and tokens[i + 2] == "foot":
        end = i + 3
    else:
        return None
    if quantity.value >= 12:
        return None
    return quantity._replace(value=quantity.value / 12 * 100, unit="pct", end=end, attributive=False)


def _one_in(tokens: Sequence[str], number: Quantity) -> Quantity | None:
    """A slope as one part in so many: "1 in 80" is 1.25 percent."""
    if number.value != 1 or number.parts or tokens[number.end] != "in":
        return None
    groups, end = groups_at(tokens, number.end + 1, frozenset())
    if len(groups) != 1 or not 10 <= groups[0] <= 1000 or tokens[end] not in ENDS_A_RATIO:
        return None
    return number._replace(value=100 / groups[0], unit="pct", end=end)


def _fall_over(tokens: Sequence[str], rise: Quantity) -> Quantity | None:
    """A slope as a fall over a distance: "falls 3 in 20 feet", "two inches in every fifteen feet"; bare is inches."""
    if tokens[rise.end] not in ("in", "for"):
        return None
    each = tokens[rise.end + 1] in ("every", "each")
    falls = FALLS & set(tokens[max(0, rise.start - 3) : rise.start])
    if not each and not (falls and tokens[rise.end] == "in"):
        return None
    groups, end = groups_at(tokens, rise.end + 1 + each, frozenset())
    over = groups[0] if len(groups) == 1 else 0
    if not over or (tokens[end] not in ("feet", "foot", "ft") and rise.unit != "ft"):
        return None
    end += tokens[end] in ("feet", "foot", "ft")
    inches = rise.value * 12 if rise.unit == "ft" else rise.value
    return rise._replace(value=inches / (12 * over) * 100, unit="pct", end=end, attributive=False)


def _size(tokens: Sequence[str], first: Quantity) -> Quantity | None:
    second = _number_at(tokens, first.end + 1, frozenset())
    if second is None or second.unit or first.parts or second.parts:
        return None
    end = second.end + 1 if tokens[second.end] in ("inch", "inches") else second.end
    if tokens[second.end] in ("foot", "feet", "ft"):
        return None
    return Quantity(first.value, "size", first.start, end, values=(first.value, second.value))
