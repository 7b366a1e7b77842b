"""What the forms of the grammar mean: the rules that make numbers and measures of what a form read.

Each rule is called with the place of the form and the values of its parts, and gives the form's value, or None where
the parts do not fit together. A measure is in the unit it was said in.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, NamedTuple

from extract.text.grammar import TABLE, Place, Unit, classes_of

UNITS = {name: Unit(name, row["in"], row["size"]) for name, row in TABLE["units"].items()}
INCHES = {"ft": 12.0, "in": 1.0}
SUMS = {
    "yd": ("ft", "in"),
    "m": ("dm", "cm", "mm"),
    "h": ("min", "s"),
    "min": ("s",),
    "gal": ("qt", "pt"),
    "qt": ("pt",),
}
"""Which smaller units are said behind a unit, as in "two yards and one foot"."""
LISTED = {"h", "min", "yd", "m", "km", "mi", "y", "wk", "d"}
"""Units behind which a comma may stand before the smaller one."""
AS_SAID = {"km": ("m", 1000), "y": ("mo", 12), "wk": ("d", 7), "d": ("h", 24), "mi": ("ft", 5280)}
"""Units that are kept as said: a sum of one comes in the next smaller, so many of which it is."""
SMALLER = {"h": "min", "min": "s", "m": "cm"}
WITH_A_TAIL = {"ft", "in", "yd", "m", "h", "min", "s", "pct", "gal", "l", "d", "wk", "mo", "y", "km", "mi"}
RANGED = {
    "ft", "in", "yd", "m", "dm", "cm", "mm", "km", "mi", "pct", "s", "min", "h", "d", "wk",
    "gal", "qt", "pt", "l", "ml", "gpm", "sqft",
}  # fmt: skip
LEAST_OF_RANGE = 10
"""Two bare numbers are a range from here on; smaller ones may be the names of two things."""
MOST_A_METRE = 60
"""Millimetres that a pipe falls in a metre; more is a price."""
PARTS_OF_INCH = {2, 4, 8, 16, 32, 64}
FEW_FEET = 4
STEEPEST = 0.5
"""A rise over a run that is steeper is no slope."""
HALF_READ = {"ones", "teen", "tens", "hundred", "thousand", "million", "couple", "unheard", "parts", "point"}
"""Word classes that are of a number: what is left over of them beside a quantity may be the other half of it."""
AFTER_ONE_IN = {"ones", "teen", "tens", "whole"}
LENGTHS = {name for name, unit in UNITS.items() if unit.kept_in in INCHES}


class Quantity(NamedTuple):
    """A number with its unit, over the tokens [start, end).

    `unit` is one of ft, in, sqft, cuft, pct, s, gpm, gal, psi, deg, money, angle, size, station, clock, bubble, other,
    or None for a bare number. `value` is in that unit; `values` holds all of a size or a range. `parts` are numbers
    said side by side ("ninety-seven thirty"), which only an elevation or a rod reading may join.
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
    decimal: bool = False
    """Said or written with a decimal point."""
    glued: bool = False
    """Two numbers that were written as one, or words that can be read in two ways; somebody should look."""
    plural: bool = False
    bound: str | None = None
    """`min` or `max` where only a bound was said ("at least 12"), `range` where two values were."""


def angle_called(degrees: float) -> float:
    """Fittings called 22 and 11 are the 1/16 and 1/32 bends of 22.5 and 11.25 degrees."""
    return {22.0: 22.5, 11.0: 11.25}.get(degrees, degrees)


def _bare(at: Place, value: float, parts: Sequence[float] = (), pointed: bool = False, glued: bool = False) -> Quantity:
    return Quantity(value, None, at.start, at.end, parts=tuple(parts), pointed=pointed, glued=glued)


def _ratio(at: Place, top: float, _: object, bottom: float) -> float | None:
    several = at.words[at.end - 1].endswith("s")
    return top / bottom if top < (8 * bottom if several else bottom) else None


def _one_over(at: Place, top: float, _: object, bottom: float) -> Quantity | None:
    fits = top == 1 or (0 < top < bottom and bottom in PARTS_OF_INCH)
    return _bare(at, top / bottom, pointed=True, glued=True) if fits else None


def _mixed(at: Place, whole: float, *rest: Any) -> Quantity | None:
    fits = whole == int(whole) and rest[-1] < 1
    return _bare(at, whole + rest[-1], pointed=True) if fits else None


def _mixed_in_doubt(at: Place, whole: float, part: float) -> Quantity | None:
    mixed = _mixed(at, whole, part)
    return mixed and mixed._replace(glued=True)


def _groups(at: Place, first: float, more: list[float]) -> Quantity:
    groups = [first, *more]
    whole = all(group == int(group) for group in groups)
    value = float("".join(str(int(group)) for group in groups)) if more and whole else first
    point = "." in at.words[at.end - 1]
    # nobody joins "five thousand twenty thousand", and of "1 234 567.89" only the first would be read
    glued = (bool(more) and max(groups) >= 1000) or (len(more) > 1 and not whole)
    return _bare(at, value, groups if more else (), point, glued)._replace(decimal=point)


def _pointed(at: Place, groups: Quantity, _: object, decimals: str) -> Quantity | None:
    if groups.value != int(groups.value) or any(part != int(part) for part in groups.parts):
        return None
    return _bare(at, float(f"{int(groups.value)}.{decimals}"), pointed=True)._replace(decimal=True)


def _times_scale(at: Place, number: Quantity, scale: float) -> Quantity:
    """As in "two and a half thousand"; in "one point two hundred thirty-six" some of it is left over."""
    more = "hundred" in at.words[at.end - 1] and not HALF_READ.isdisjoint(classes_of(at.words[at.end]))
    return _bare(at, number.value * scale, glued=number.glued or more)


def _dozens(at: Place, number: float, dozen: float) -> Quantity:
    """As in "two dozen"; "three hundred and two dozen" may be 302 of them, or 324 in all."""
    return _bare(at, number * dozen, glued=number > 100 and number % 100 != 0)


def _group_and_part(at: Place, first: float, second: float, _: object, part: float) -> Quantity | None:
    """As in "forty-five two and a quarter": feet and inches, or a count and an angle."""
    fits = 0 < part < 1 and second < 100 and second == int(second)
    return _bare(at, first, (first, second + part), glued=True) if fits else None


def _count_and_half(at: Place, count: float, degrees: float, _: object, part: float) -> Quantity | None:
    fits = part == 0.5 and degrees in (22, 67)  # "two 22 and a half degree bends"
    return _bare(at, count, (count, degrees + part)) if fits else None


def _measure(at: Place, number: Quantity, unit: Unit) -> Quantity:
    last, after = at.words[at.end - 1], classes_of(at.words[at.end])
    single = last in ("inch", "foot", "in") or (unit.name in ("ft", "m") and "piece" in after)
    attributive = single and number.value > 1 and at.words[at.end - 2] not in ("a", "an")
    attributive = attributive and not (last == "foot" and at.words[at.end] in ("", ",", ".", "of"))
    vague = not {"couple", "pair"}.isdisjoint(at.words[number.start : number.end])
    thin = unit.name == "mm" and last.startswith("mil") and last in ("mil", "mils") and number.value < 20
    glued = number.glued or vague or thin
    if unit.kept_in == "s" and len(number.parts) == 2 and number.parts[0] == 1 and number.parts[1] >= 10:
        number, glued = number._replace(value=number.parts[1], parts=()), True  # "the shed one twenty minutes"
    if unit.name == "m" and not attributive and len(number.parts) == 2 and 10 <= number.parts[1] < 100:
        whole, hundredths = number.parts  # "thirteen twenty metres"
        number, glued = number._replace(value=whole + hundredths / 100, parts=()), True
    return number._replace(unit=unit.name, start=at.start, end=at.end, attributive=attributive, glued=glued)


def _abbreviated(at: Place, number: Quantity, _: object) -> Quantity | None:
    height = number.pointed and number.value > 60  # "98.04 in, 97.94 out" are heights
    written = at.words[number.end - 1][-1].isdigit()
    ratio = number.value == 1 and not AFTER_ONE_IN.isdisjoint(classes_of(at.words[at.end]))  # "1 in 10 trenches"
    return None if height or not written else _measure(at, number._replace(glued=number.glued or ratio), UNITS["in"])


def _part_a(at: Place, number: Quantity, _: object, unit: Unit) -> Quantity | None:
    fits = number.value < 1 and (unit.name != "ft" or number.value == 0.5)
    return _measure(at, number, unit) if fits else None


def _one(at: Place, _: object, unit: Unit) -> Quantity | None:
    word, after = at.words[at.end - 1], classes_of(at.words[at.end])
    before = classes_of(at.words[at.start - 1]) if at.start else {}
    priced = unit.kept_in == "gal" and ("unit" in before or not HALF_READ.isdisjoint(before))
    if (
        len(word) == 1
        or priced
        or (unit.name == "m" and "at_a_meter" in after)
        or (unit.name == "s" and "after_part" not in after)
    ):
        return None  # "4.19 a gallon"; "a second coupling"
    return Quantity(1, unit.name, at.start, at.end)


def _whole_one(at: Place, *said: Any) -> Quantity | None:
    """As in "a full foot", and not "full feet"."""
    return (
        None if at.words[at.end - 1] == "feet" or "plural" in classes_of(at.words[at.end - 1]) else _one(at, *said[-2:])
    )


def _said_again(at: Place, first: Quantity, _: object, again: Quantity, __: object, unit: Unit) -> Quantity | None:
    same = again.value == first.value and not first.parts and len(again.parts) > 1 and max(again.parts) < 10
    return _measure(at, first, unit) if same else None


def _tailed(at: Place, measure: Quantity, _: object, part: float) -> Quantity | None:
    if measure.unit not in WITH_A_TAIL or part >= 1:
        return None
    return measure._replace(value=measure.value + part, end=at.end, attributive=False)


def _feet_inches(at: Place, feet: Quantity, *rest: Any) -> Quantity | None:
    inches = next(each for each in rest if isinstance(each, Quantity))
    if feet.unit != "ft" or feet.value != int(feet.value) or feet.parts:
        return None
    value, glued = feet.value + inches.value / (1 if _tenths(at) else 12), feet.glued or inches.glued
    return feet._replace(value=value, end=at.end, attributive=False, glued=glued)


def _tenths(at: Place) -> bool:
    return at.words[at.end - 1] in ("tenth", "tenths", "hundredths")


def _few_feet_inches(at: Place, feet: Quantity, *rest: Any) -> Quantity | None:
    """As in "a foot and two inches of cover"; forty feet and six inches of cover are two measures."""
    return _feet_inches(at, feet, *rest) if feet.value <= FEW_FEET else None


def _feet_inch(at: Place, feet: Quantity, inches: Quantity, unit: Unit) -> Quantity | None:
    """As in "forty feet four inch": a length, or a length and a size?"""
    size = at.words[feet.end - 1] == "feet" and inches.value in (3, 4, 6, 8, 10)
    return _feet_inches(at, feet._replace(glued=feet.glued or size), inches)


def _feet_and_bare(at: Place, feet: Quantity, _: object, inches: Quantity) -> Quantity | None:
    return _feet_inches(at, feet._replace(glued=True), inches)  # "44 feet and 6": most likely inches


def _sum(at: Place, *said: Any) -> Quantity | None:
    measures = [each for each in said if isinstance(each, Quantity)]
    total = measures[0]
    for larger, smaller in zip(measures, measures[1:], strict=False):
        if smaller.attributive and smaller.unit == "in":
            return None  # "eleven yards, four-inch" is a length and a size
        feet = larger.unit == "ft" and smaller.unit == "in"
        listed = feet and (larger is not measures[0] or (smaller.value < 1 and "and" in said))
        value, unit = total.value, total.unit
        if (kept := AS_SAID.get(larger.unit or "")) and kept[0] == smaller.unit:
            value, unit = value * kept[1], smaller.unit
        elif smaller.unit not in SUMS.get(larger.unit or "", ()) and not listed:
            return None
        value += smaller.value * _size(smaller.unit) / _size(unit)
        unsure = smaller.unit == "mm" and "and" not in said  # "20 metres 110 mm": a length, or a length and a size?
        glued = total.glued or smaller.glued or unsure
        total = total._replace(value=value, unit=unit, end=at.end, attributive=False, glued=glued)
    return total


def _sum_listed(at: Place, *said: Any) -> Quantity | None:
    pipe = said[0].unit == "m" and said[-1].unit == "mm" and "and" not in said  # "six metres, 110 mm"
    return _sum(at, *said) if said[0].unit in LISTED and not pipe else None


def _sum_of_smaller(at: Place, measure: Quantity, *rest: Any) -> Quantity | None:
    """As in "one hour thirty"."""
    number = rest[-1]
    low, high = (10, 100) if measure.unit == "m" else (5, 60)
    if measure.unit == "m" and "of_a_size" in classes_of(at.words[at.end]):
        return None  # "six metres 50 pipe"
    fits = not number.parts and not number.pointed and low <= number.value < high and number.value == int(number.value)
    return _sum(at, measure, number._replace(unit=SMALLER[measure.unit])) if fits and measure.unit in SMALLER else None


def _one_and_smaller(at: Place, unit: Unit, number: Quantity) -> Quantity | None:
    """As in "metro veinte"."""
    one = _one_unit(at, unit)
    return one and _sum_of_smaller(at, one, number)


def _sum_of_both(at: Place, metres: Quantity, _: object, rest: Quantity) -> Quantity | None:
    """As in "a metre and two feet": most likely one length, measured with both."""
    if rest.unit not in ("ft", "in") or rest.attributive or rest.parts:
        return None
    value = metres.value + rest.value * _size(rest.unit) / _size("m")
    return metres._replace(value=value, end=at.end, attributive=False, glued=True)


def _size(name: str | None) -> float:
    unit = UNITS[name or ""]
    return unit.size * INCHES.get(unit.kept_in, 1.0)


def _over(at: Place, rise: Quantity, run: Quantity) -> Quantity | None:
    if rise.unit not in LENGTHS or run.unit not in LENGTHS or run.value <= 0:
        return None
    slope = rise.value * _size(rise.unit) / (run.value * _size(run.unit))
    if slope >= STEEPEST and not (rise.unit == "in" and run.unit == "ft" and slope < 1):
        return None
    value = 100 * slope
    glued = rise.glued or run.glued
    return _scaled(rise, value)._replace(unit="pct", end=at.end, attributive=False, glued=glued)


def _scaled(measure: Quantity, value: float) -> Quantity:
    """The measure with another value, and all values of a range so much larger."""
    by = value / measure.value if measure.value else 0
    return measure._replace(value=value, values=tuple(each * by for each in measure.values))


def _one_unit(at: Place, unit: Unit) -> Quantity | None:
    plural = at.words[at.start].endswith("s")
    return None if plural else Quantity(1, unit.name, at.start, at.end)


def _inches_over(at: Place, rise: Quantity, feet: float) -> Quantity | None:
    """A bare rise is in inches, a bare run in feet."""
    if rise.parts or not feet or (rise.unit is None and rise.value >= 12 * feet):
        return None
    run = Quantity(feet, "ft", at.start, at.end)
    return _over(at, rise if rise.unit else rise._replace(unit="in"), run)


def _falls(at: Place, behind: int = 0) -> bool:
    """Whether fall is spoken of in the three words before, or in so many behind."""
    near = [*at.words[max(0, at.start - 3) : at.start], *at.words[at.end : at.end + behind]]
    return any("falls" in classes_of(word) for word in near if word)


def _one_in(at: Place, one: Quantity, _: object, run: float) -> Quantity | None:
    named = at.start > 0 and "named" in classes_of(at.words[at.start - 1])  # "basin one to thirty two"
    ends = "ends_a_ratio" in classes_of(at.words[at.end]) or _falls(at)  # "put one in ten trenches"
    fits = one.value == 1 and not one.parts and 10 <= run <= 1000 and ends and not named
    return one._replace(value=100 / run, unit="pct", end=at.end) if fits else None


def _mm_a_metre(at: Place, rise: Quantity, *_: object) -> Quantity | None:
    """As in "ten a metre": millimetres, or a price where no fall is spoken of; dearer or steeper it is no slope."""
    fits = not rise.parts and 1 < rise.value <= MOST_A_METRE
    joined = at.words[rise.end : at.end - 1]
    to_the_metre = "the" in joined and not at.words[at.end - 1].startswith("meter")  # that may be one on a wall
    sure = to_the_metre or any("per" in classes_of(word) for word in joined) or _falls(at, 2)
    return rise._replace(value=rise.value / 10, unit="pct", end=at.end, glued=rise.glued or not sure) if fits else None


def _falls_in_doubt(at: Place, rise: Quantity, _: object, run: float) -> Quantity | None:
    """As in "falls 3 in 20": inches in feet, or parts?"""
    slope = _inches_over(at, rise, run) if _falls(at) and rise.value < run else None
    return slope and slope._replace(glued=True)


def _flow(at: Place, volume: Quantity, _: object, unit: Unit) -> Quantity | None:
    if UNITS.get(volume.unit or "", UNITS["ft"]).kept_in != "gal":
        return None
    value = volume.value * _size(volume.unit) * 60 / unit.size
    return _scaled(volume, value)._replace(unit="gpm", end=at.end)


def _range(at: Place, low: Quantity, joint: str, *rest: Any) -> Quantity | None:
    high: Quantity = rest[-1]
    fits = low.value < high.value and not low.parts and not high.attributive and high.unit in RANGED
    between = at.start > 0 and at.words[at.start - 1] == "between"
    if not fits or (joint == "and" and not between) or (joint == "to" and _leads_from(at, low)):
        return None
    if low.unit not in (None, high.unit):
        return None
    return high._replace(value=low.value, values=(low.value, high.value), start=at.start, bound="range")


def _leads_from(at: Place, low: Quantity) -> bool:
    """As in "from 28 to 38 feet", which may be a change, and "0 to 42 feet"."""
    return low.value == 0 or (at.start > 0 and at.words[at.start - 1] == "from")


def _bare_range(at: Place, low: Quantity, _: object, high: Quantity) -> Quantity | None:
    """As in "between 20 and 30" and "10 - 12"."""
    whole = not any(each.parts or each.pointed or each.value % 1 for each in (low, high))
    named = at.words[at.start - 1] != "between" if "and" in at.words[low.end : low.end + 1] else False
    if not whole or named or not LEAST_OF_RANGE <= low.value < high.value:
        return None
    return _bare(at, low.value)._replace(values=(low.value, high.value), bound="range")


def _span(at: Place, span: tuple[float, float]) -> Quantity:
    """As in "10-12"; where the second is no larger, it is looked at."""
    low, high = span
    if low < high:
        return _bare(at, low)._replace(values=span, bound="range")
    return _bare(at, low, glued=True)


def _written_range(at: Place, span: tuple[float, float], unit: Unit) -> Quantity | None:
    low, high = (Quantity(each, unit.name, at.start, at.end) for each in span)
    return _range(at, low, "-", high)


def _bends(at: Place, degrees: float) -> Quantity:
    return Quantity(angle_called(degrees), "angle", at.start, at.end, plural=True)


def _of_size(at: Place, one: Quantity, _: object, other: Quantity, __: object) -> Quantity | None:
    if one.parts or other.parts:
        return None
    return Quantity(one.value, "size", at.start, at.end, values=(one.value, other.value))


RULES: dict[str, Any] = {
    "add": lambda at, a, b: a + b,
    "add_y": lambda at, a, _, b: a + b,
    "add_some": lambda at, a, b: a + (b or 0),
    "many": lambda at, n: Quantity(n, None, at.start, at.end, plural=True),
    "group_and_part": _group_and_part,
    "one_and_smaller": _one_and_smaller,
    "sum_of_both": _sum_of_both,
    "squared": lambda at, unit, _: Unit(f"sq {unit.name}", "sqft", 0),
    "pair": lambda at, a, b: (a, b or 0),
    "scaled": lambda at, n, tail: n * tail[0] + tail[1] if tail else n,
    "scaled_one": lambda at, tail: tail[0] + tail[1],
    "below_hundred": lambda at, _, n: n if n < 100 else None,
    "below_thousand": lambda at, _, n: n if n < 1000 else None,
    "times": lambda at, a, b: (a or 1) * b,
    "hundred_and_nth": lambda at, n, hundred, _, nth: (n or 1) * hundred + nth,
    "inverse": lambda at, bottom: 1 / bottom,
    "part_of_one": lambda at, _, bottom: 1 / bottom,
    "part_of_shade": lambda at, _, __, bottom: 1 / bottom,
    "ratio": _ratio,
    "ratio_of_32": lambda at, top, thirty, _: top / 32 if top < 32 and top % 2 else None,
    "part_of_32": lambda at, *_: 1 / 32,
    "part_of_sum": lambda at, _, tens, rest: 1 / (tens + rest),
    "ratio_of_sum": lambda at, top, tens, rest: top / (tens + rest) if top < tens + rest else None,
    "mixed": _mixed,
    "mixed_in_doubt": _mixed_in_doubt,
    "groups": _groups,
    "figures": lambda at, n: str(int(n)),
    "joined": lambda at, first, more: "".join([first, *more])[:12],
    "pointed": _pointed,
    "pointed_below_one": lambda at, _, decimals: _bare(at, float(f"0.{decimals}"), pointed=True)._replace(decimal=True),
    "number": lambda at, n: _bare(at, n),
    "of_parts": lambda at, n: _bare(at, n, glued=n >= 1)._replace(
        decimal=_tenths(at)
    ),  # "twenty three fifths": 23/5, or 20 3/5?
    "one_over": _one_over,
    "part_of_scale": lambda at, n, _, __, scale: _bare(at, n * scale),
    "half_a_scale": lambda at, _, __, scale: _bare(at, scale / 2),
    "ratio_of_one": lambda at, top, tens, nth: 1 / (tens + nth) if top == 1 else None,
    "measure_more": lambda at, n, _, unit: _measure(at, n, unit)._replace(glued=True),
    "percent_of": lambda at, _, __, n: _measure(at, n, UNITS["pct"]),
    "times_scale": _times_scale,
    "count_and_half": _count_and_half,
    "dashed": lambda at, tens, _, ones: _bare(at, tens + ones, glued=True),
    "dozens": _dozens,
    "half_a_dozen": lambda at, *_: _bare(at, 6),
    "couple": lambda at, *_: _bare(at, 2),
    "square": lambda at, _, unit: Unit(f"sq {unit.name}", "sqft", 0),
    "cubic": lambda at, _, unit: Unit(f"cu {unit.name}", "cuft", 0),
    "measure": _measure,
    "abbreviated": _abbreviated,
    "measure_of": lambda at, n, _, __, unit: _measure(at, n, unit),
    "part_of": lambda at, n, _, unit: _measure(at, n, unit) if n.value % 1 else None,
    "part_a": _part_a,
    "half_of_one": lambda at, _, __, unit: _measure(at, _bare(at, 0.5), unit),
    "price_a_foot": lambda at, n, _, __: _measure(at, n, UNITS["money"]) if n.value >= 12 else None,
    "one": _one,
    "whole_one": _whole_one,
    "another_one": lambda at, *said: (one := _whole_one(at, *said)) and one._replace(glued=True),
    "said_again": _said_again,
    "tailed": _tailed,
    "one_and_part": lambda at, unit, _, part: (
        None if at.words[at.start].endswith("s") else _tailed(at, Quantity(1, unit.name, at.start, at.end), "and", part)
    ),
    "feet_inches": _feet_inches,
    "few_feet_inches": _few_feet_inches,
    "feet_inch": _feet_inch,
    "feet_and_bare": _feet_and_bare,
    "inch_count": lambda at, n: n if 0 < n.value < 12 and not n.parts else None,
    "sum": _sum,
    "sum_listed": _sum_listed,
    "sum_of_smaller": _sum_of_smaller,
    "one_unit": _one_unit,
    "rise_over": lambda at, rise, _, run: _over(at, rise, run),
    "rise_to_the": lambda at, rise, _, __, unit: _over(at, rise, Quantity(1, unit.name, at.start, at.end)),
    "inches_a_foot": lambda at, n, *_: _inches_over(at, n, 1),
    "fraction_a_foot": lambda at, n, *_: _inches_over(at, n, 1) if n.value < 1 and n.value != 0.5 else None,
    "one_in": _one_in,
    "one_in_groups": lambda at, one, _, run: _one_in(at, one, _, run.value) if len(run.parts) == 2 else None,
    "one_to": lambda at, one, _, run: _one_in(at, one, _, run) if run >= 20 else None,
    "mm_a_metre": _mm_a_metre,
    "bare_fall_over": lambda at, rise, _, __, feet, ___: _inches_over(at, rise, feet),
    "fall_over": lambda at, rise, _, __, feet: _inches_over(at, rise, feet) if rise.unit == "ft" else None,
    "falls_over": lambda at, rise, _, feet, __: _inches_over(at, rise, feet) if _falls(at) else None,
    "foot_falls_over": lambda at, rise, _, feet: (
        _inches_over(at, rise, feet) if rise.unit == "ft" and _falls(at) else None
    ),
    "falls_in_doubt": _falls_in_doubt,
    "flow": _flow,
    "range": _range,
    "written_range": _written_range,
    "bare_range": _bare_range,
    "span": _span,
    "unread": lambda at, n: _bare(at, n, glued=True),
    "size": _of_size,
    "station": lambda at, feet: Quantity(feet, "station", at.start, at.end),
    "station_said": lambda at, a, _, b: Quantity(
        100 * (a.parts or (a.value,))[0] + (b.parts or (b.value,))[0], "station", at.start, at.end
    ),
    "bends": _bends,
    "bubble": lambda at, n, *_: n._replace(unit="bubble", end=at.end, glued=True),
}
