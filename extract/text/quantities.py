"""Numbers with their units: feet and inches, slopes, sizes, stations, angles, times, flow.

`find_quantities` finds every number among the words of a sentence with its unit, by the productions of grammar.toml.
Lengths come back in feet or inches, areas in square feet, slopes in percent, durations in seconds, volumes in US
gallons, flow in US gallons a minute.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, NamedTuple

from extract.text.grammar import TABLE, Parser, Place, Unit, classes_of, compiled, going_on

UNITS = {name: Unit(name, row["in"], row["size"]) for name, row in TABLE["units"].items()}
UNIT_OF = {word: name for name, row in TABLE["units"].items() for word in row["words"].split()}
SMALL = {**TABLE["words"]["zero"], **TABLE["words"]["ones"], **TABLE["words"]["teen"], **TABLE["words"]["oh"]}
TENS: dict[str, int] = TABLE["words"]["tens"]
FRACTIONS: dict[str, int] = {
    **TABLE["words"]["nth_part"], **TABLE["words"]["parts"], **TABLE["words"]["part"],
}  # fmt: skip
INCHES = {"ft": 12.0, "in": 1.0}
SUMS = {"yd": ("ft", "in"), "m": ("cm", "mm"), "h": ("min", "s"), "min": ("s",), "gal": ("qt", "pt"), "qt": ("pt",)}
"""Which smaller units are said behind a unit, as in "two yards and one foot"."""
LISTED = {"h", "min", "yd", "km", "y", "wk", "d"}
"""Units behind which a comma may stand before the smaller one."""
AS_SAID = {"km": ("m", 1000), "y": ("mo", 12), "wk": ("d", 7), "d": ("h", 24)}
"""Units that are kept as said: a sum of one comes in the next smaller, so many of which it is."""
SMALLER = {"h": "min", "min": "s"}
WITH_A_TAIL = {"ft", "in", "yd", "m", "h", "min", "s", "pct", "gal", "l"}
RANGED = {"ft", "in", "yd", "m", "cm", "mm", "pct", "s", "min", "h", "gal", "l", "gpm", "sqft"}
SHARED = {"ft", "in", "yd", "m"}
SPREAD = 5
"""How many times larger or smaller a number may be than the one behind it to share its unit."""
STEEPEST = 0.5
BOUNDS: dict[str, list[tuple[list[str], str]]] = {}
"""By its last word what is said before a bound, the longest first."""
for _bound, _said in sorted(
    ((b, said) for b, rows in TABLE["bounds"].items() for said in rows), key=lambda row: -len(row[1])
):
    BOUNDS.setdefault(_said.split()[-1], []).append((_said.split(), _bound))
"""A rise over a run that is steeper is no slope."""
HALF_READ = {"ones", "teen", "tens", "hundred", "thousand", "million", "couple", "unheard", "parts", "point"}
"""Word classes that are of a number: what is left over of them beside a quantity may be the other half of it."""
PLAIN_UNITS = {"ft", "in", "pct", "cm", "mm", "gal", "gpm", "min", "h"}
AFTER_ARTICLE = {"part", "nth_part", "hundred", "thousand", "million", "dozen", "couple", "one_of"}
"""What an article begins a number or a measure with."""
JOINS = {"and", "a", "an", "of"}
STANDS_APART = set("to at on in is are was for from with the by or then per it that this".split())


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
    glued: bool = False
    """Two numbers that were written as one, or words that can be read in two ways; somebody should look."""
    plural: bool = False
    bound: str | None = None
    """`min` or `max` where only a bound was said ("at least 12"), `range` where two values were."""


def find_quantities(tokens: Sequence[str], taken: set[int] | frozenset[int] = frozenset()) -> list[Quantity]:
    """Every quantity among the tokens, left to right, none overlapping; tokens in `taken` belong to names."""
    seen = [classes_of(token) for token in tokens]
    begins = [i for i, classes in enumerate(seen) if classes and not BEGINS.isdisjoint(classes)]
    if not begins:
        return []
    parser, found, end = Parser(tokens, seen, taken), [], 0
    names = any(not NAMES.isdisjoint(seen[i]) for i in begins)
    for i in begins:
        if i < end or i in taken or ("article" in seen[i] and AFTER_ARTICLE.isdisjoint(parser.open[i + 1])):
            continue
        read, named = _longest(parser, i), parser.read(ORDINAL, i) if names else None
        if named and named[1] > (read[1] if read else i + 1):
            end = named[1]
        elif read:
            found += _counted(_kept(read[0]))
            end = read[1]
    if not found:
        return found
    _share_units(parser.words, found)
    return [_bounded(parser.words, _beside_a_leftover(parser, found, k)) for k in range(len(found))]


def _longest(parser: Parser, i: int) -> tuple[Quantity, int] | None:
    """The quantity at `i`. Most are a plain number, with a unit or none, that no form goes on from."""
    counted = parser.read(COUNTED, i)
    if counted and IN_A_NUMBER.isdisjoint(parser.open[counted[1]]):
        number = Quantity(counted[0], None, i, counted[1], pointed="decimal" in parser.open[i]), counted[1]
        if _stops(parser, number[1]):
            return number
        parser.known[i]["number"] = number
    read = parser.read(SIMPLE, i) or parser.read(NUMBER, i)
    return read if read and _stops(parser, read[1]) else parser.read(QUANTITY, i)


def _stops(parser: Parser, i: int) -> bool:
    """Whether no form goes on at `i`: none reads what stands there, or it is a comma or "and" with no number behind."""
    after, behind = parser.open[i], parser.open[i + 1]
    if GOES_ON.isdisjoint(after):
        return True
    return "joint" in after and "and" not in behind and BEGINS.isdisjoint(behind)


def ordinal_before(tokens: Sequence[str], end: int) -> tuple[int, int] | None:
    """The number of an ordinal that ends before the token `end`, and where it begins: "the twenty-second downspout"."""
    if not 0 < end <= len(tokens) or NAMES.isdisjoint(classes_of(tokens[end - 1])):
        return None
    words = tokens[max(0, end - 5) : end]
    parser = Parser(words, [classes_of(word) for word in words])
    for start in range(min(5, end)):
        read = parser.read(ORDINAL, start)
        if read and read[1] == min(5, end):
            return int(read[0]), start + max(0, end - 5)
    return None


def _kept(said: Quantity) -> Quantity:
    """The quantity in the unit that it is kept in."""
    unit = _unit(said.unit)
    if unit is None:
        return said
    value = said.value * unit.size
    return said._replace(
        value=angle_called(value) if unit.name == "deg" else value,
        values=tuple(each * unit.size for each in said.values),
        unit=unit.kept_in,
        attributive=said.attributive and unit.kept_in != "s",
    )


def _unit(name: str | None) -> Unit | None:
    if name in UNITS or name is None:
        return UNITS.get(name or "")
    power, side = {"sq ": 2, "cu ": 3}.get(name[:3]), UNITS.get(name[3:])
    if power is None or side is None:
        return None
    feet = side.size * INCHES.get(side.kept_in, 0) / 12
    return Unit(name, "sqft" if power == 2 else "cuft", feet**power) if feet else Unit(name, "other", 1)


def _counted(quantity: Quantity) -> list[Quantity]:
    """As in "Three ten-foot" is a count of three and a ten-foot size; anything else stays one quantity."""
    glued = _glued_bend(quantity)
    if glued:
        return glued
    if not (quantity.attributive or quantity.unit == "deg") or len(quantity.parts) != 2:
        return [quantity._replace(parts=())] if quantity.unit and quantity.parts else [quantity]
    count, size = quantity.parts
    middle = quantity.start + 1
    size = angle_called(size) if quantity.unit == "deg" else size
    return [Quantity(count, None, quantity.start, middle), quantity._replace(value=size, start=middle, parts=())]


def _glued_bend(quantity: Quantity) -> list[Quantity]:
    """Two bends of 90 degrees heard as "290 degree": no bend turns so far, so the first digit is the count."""
    if quantity.unit != "deg" or quantity.parts:
        return []
    count, degrees = divmod(quantity.value, 100)
    if not 2 <= count <= 9 or degrees not in (22, 30, 45, 60, 90):
        return []
    angle = quantity._replace(value=angle_called(degrees), glued=True)
    return [Quantity(count, None, quantity.start, quantity.start, glued=True), angle]


def _share_units(words: Sequence[str], found: list[Quantity]) -> None:
    """As in "20, 30 and 40 feet": each is in feet."""
    for k in range(len(found) - 1, 0, -1):
        last, low = found[k], k
        if last.unit not in ("ft", "in", "pct") or last.attributive or last.bound or words[last.end] == "of":
            continue
        while low and _listed(words, found[low - 1], found[low], last):
            low -= 1
        if low < k and (words[found[k].start - 1] in ("and", "or")):
            found[low:k] = [each._replace(unit=last.unit) for each in found[low:k]]


def _listed(words: Sequence[str], one: Quantity, then: Quantity, last: Quantity) -> bool:
    gap = tuple(words[one.end : then.start])
    alike = one.unit is None and not one.parts and last.value / SPREAD <= one.value <= last.value * SPREAD
    return alike and gap in ((",",), ("and",), ("or",), (",", "and"))


def _bounded(words: Sequence[str], quantity: Quantity) -> Quantity:
    for said, bound in BOUNDS.get(words[quantity.start - 1], ()) if quantity.start else ():
        if words[max(0, quantity.start - len(said)) : quantity.start] == said:
            return quantity._replace(bound=quantity.bound or bound)
    return quantity


def _beside_a_leftover(parser: Parser, found: list[Quantity], k: int) -> Quantity:
    """Glued where a number or unit word beside it was read by nothing: the measure may be half read."""
    quantity = found[k]
    low = found[k - 1].end if k else 0
    high = found[k + 1].start if k + 1 < len(found) else len(parser.words)
    before = quantity.start > low and not HALF_READ.isdisjoint(parser.open[quantity.start - 1])
    leftover = before or _leads_on(parser, range(quantity.end, min(high, quantity.end + 4)))
    return quantity._replace(glued=True) if leftover else quantity


def _leads_on(parser: Parser, places: range) -> bool:
    """Whether a leftover stands there, with no more than joining words and one unknown word before it."""
    strange = 0
    for i in places:
        word, classes = parser.words[i], parser.open[i]
        if not HALF_READ.isdisjoint(classes) or ("unit" in classes and classes["unit"].name in PLAIN_UNITS):
            return True
        if word in JOINS:
            continue
        strange += 1
        if strange > 1 or word in STANDS_APART or not word.isalpha() or parser.seen[i]:
            return False
    return False


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


def angle_called(degrees: float) -> float:
    """Fittings called 22 and 11 are the 1/16 and 1/32 bends of 22.5 and 11.25 degrees."""
    return {22.0: 22.5, 11.0: 11.25}.get(degrees, degrees)


def angle_of(quantity: Quantity) -> float | None:
    """The bend angle in degrees that a quantity can stand for, or None."""
    angle = angle_called(quantity.value)
    return angle if angle in (11.25, 22.5, 30, 45, 60, 90) and quantity.unit in (None, "deg", "angle") else None


# The rules that the table's `means` names: each makes a value of what a form read, or None where it does not fit.


def _bare(at: Place, value: float, parts: Sequence[float] = (), pointed: bool = False, glued: bool = False) -> Quantity:
    return Quantity(value, None, at.start, at.end, parts=tuple(parts), pointed=pointed, glued=glued)


def _ratio(at: Place, top: float, _: object, bottom: float) -> float | None:
    several = at.words[at.end - 1].endswith("s")
    return top / bottom if top < (8 * bottom if several else bottom) else None


def _one_over(at: Place, top: float, _: object, bottom: float) -> Quantity | None:
    return _bare(at, top / bottom, pointed=True, glued=True) if top and bottom else None


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
    return _bare(at, value, groups if more else (), "." in at.words[at.end - 1])


def _pointed(at: Place, groups: Quantity, _: object, decimals: str) -> Quantity | None:
    if groups.value != int(groups.value) or any(part != int(part) for part in groups.parts):
        return None
    return _bare(at, float(f"{int(groups.value)}.{decimals}"), pointed=True)


def _count_and_half(at: Place, count: float, degrees: float, _: object, part: float) -> Quantity | None:
    fits = part == 0.5 and degrees in (22, 67)  # "two 22 and a half degree bends"
    return _bare(at, count, (count, degrees + part)) if fits else None


def _measure(at: Place, number: Quantity, unit: Unit) -> Quantity:
    last, after = at.words[at.end - 1], classes_of(at.words[at.end])
    single = last in ("inch", "foot", "in") or (unit.name == "ft" and "piece" in after)
    attributive = single and number.value > 1 and at.words[at.end - 2] not in ("a", "an")
    vague = not {"couple", "pair"}.isdisjoint(at.words[number.start : number.end])
    thin = unit.name == "mm" and last.startswith("mil") and last in ("mil", "mils") and number.value < 20
    glued = number.glued or vague or thin
    return number._replace(unit=unit.name, start=at.start, end=at.end, attributive=attributive, glued=glued)


def _abbreviated(at: Place, number: Quantity, _: object) -> Quantity | None:
    height = number.pointed and number.value > 60  # "98.04 in, 97.94 out" are heights
    written = at.words[number.end - 1][-1].isdigit()
    return None if height or not written else _measure(at, number, UNITS["in"])


def _part_a(at: Place, number: Quantity, _: object, unit: Unit) -> Quantity | None:
    fits = number.value < 1 and (unit.name != "ft" or number.value == 0.5)
    return _measure(at, number, unit) if fits else None


def _one(at: Place, _: object, unit: Unit) -> Quantity | None:
    word, after = at.words[at.end - 1], classes_of(at.words[at.end])
    before = classes_of(at.words[at.start - 1]) if at.start else {}
    priced = unit.kept_in == "gal" and ("unit" in before or not HALF_READ.isdisjoint(before))
    if len(word) == 1 or priced or (unit.name == "s" and "after_part" not in after):
        return None  # "4.19 a gallon"; "a second coupling"
    return Quantity(1, unit.name, at.start, at.end)


def _said_again(at: Place, first: Quantity, _: object, again: Quantity, __: object, unit: Unit) -> Quantity | None:
    same = again.value == first.value and not first.parts and len(again.parts) > 1 and max(again.parts) < 10
    return _measure(at, first, unit) if same else None


def _tailed(at: Place, measure: Quantity, _: object, part: float) -> Quantity | None:
    if measure.unit not in WITH_A_TAIL or part >= 1:
        return None
    return measure._replace(value=measure.value + part, end=at.end, attributive=False)


def _feet_inches(at: Place, feet: Quantity, *rest: Any) -> Quantity | None:
    inches = next(each for each in rest if isinstance(each, Quantity))
    if feet.unit != "ft" or feet.pointed or feet.parts:
        return None
    value, glued = feet.value + inches.value / 12, feet.glued or inches.glued
    return feet._replace(value=value, end=at.end, attributive=False, glued=glued)


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
    return _sum(at, *said) if said[0].unit in LISTED else None


def _sum_of_smaller(at: Place, measure: Quantity, *rest: Any) -> Quantity | None:
    """As in "one hour thirty"."""
    number = rest[-1]
    fits = not number.parts and not number.pointed and 5 <= number.value < 60 and number.value == int(number.value)
    return _sum(at, measure, number._replace(unit=SMALLER[measure.unit])) if fits and measure.unit in SMALLER else None


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
    return rise._replace(value=value, unit="pct", end=at.end, attributive=False, glued=rise.glued or run.glued)


def _one_unit(at: Place, unit: Unit) -> Quantity | None:
    plural = at.words[at.start].endswith("s")
    return None if plural else Quantity(1, unit.name, at.start, at.end)


def _inches_over(at: Place, rise: Quantity, feet: float) -> Quantity | None:
    """A bare rise is in inches, a bare run in feet."""
    if rise.parts or not feet or (rise.unit is None and rise.value >= 12 * feet):
        return None
    run = Quantity(feet, "ft", at.start, at.end)
    return _over(at, rise if rise.unit else rise._replace(unit="in"), run)


def _falls(at: Place) -> bool:
    return any("falls" in classes_of(word) for word in at.words[max(0, at.start - 3) : at.start] if word)


def _one_in(at: Place, one: Quantity, _: object, run: float) -> Quantity | None:
    fits = one.value == 1 and not one.parts and 10 <= run <= 1000
    return one._replace(value=100 / run, unit="pct", end=at.end) if fits else None


def _falls_in_doubt(at: Place, rise: Quantity, _: object, run: float) -> Quantity | None:
    """As in "falls 3 in 20": inches in feet, or parts?"""
    slope = _inches_over(at, rise, run) if _falls(at) and rise.value < run else None
    return slope and slope._replace(glued=True)


def _flow(at: Place, volume: Quantity, _: object, unit: Unit) -> Quantity | None:
    if UNITS.get(volume.unit or "", UNITS["ft"]).kept_in != "gal":
        return None
    return volume._replace(value=volume.value * _size(volume.unit) * 60 / unit.size, unit="gpm", end=at.end)


def _range(at: Place, low: Quantity, joint: str, high: Quantity) -> Quantity | None:
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


def _written_range(at: Place, span: tuple[float, float], unit: Unit) -> Quantity | None:
    low, high = (Quantity(each, unit.name, at.start, at.end) for each in span)
    return _range(at, low, "-", high)


def _bends(at: Place, degrees: float) -> Quantity:
    return Quantity(angle_called(degrees), "angle", at.start, at.end, plural=True)


def _of_size(at: Place, one: Quantity, _: object, other: Quantity, __: object) -> Quantity | None:
    if one.parts or other.parts:
        return None
    return Quantity(one.value, "size", at.start, at.end, values=(one.value, other.value))


LENGTHS = {name for name, unit in UNITS.items() if unit.kept_in in INCHES}
TIMES = {name for name, unit in UNITS.items() if unit.kept_in == "s"}
RULES: dict[str, Any] = {
    "add": lambda at, a, b: a + b,
    "pair": lambda at, a, b: (a, b or 0),
    "scaled": lambda at, n, tail: n * tail[0] + tail[1] if tail else n,
    "scaled_one": lambda at, tail: tail[0] + tail[1],
    "below_hundred": lambda at, _, n: n if n < 100 else None,
    "below_thousand": lambda at, _, n: n if n < 1000 else None,
    "times": lambda at, a, b: (a or 1) * b,
    "hundred_and_nth": lambda at, n, hundred, _, nth: (n or 1) * hundred + nth,
    "inverse": lambda at, bottom: 1 / bottom,
    "part_of_one": lambda at, _, bottom: 1 / bottom,
    "ratio": _ratio,
    "ratio_of_32": lambda at, top, thirty, _: top / 32 if top < 32 and top % 2 else None,
    "ratio_of_sum": lambda at, top, tens, rest: top / (tens + rest) if top < tens + rest else None,
    "mixed": _mixed,
    "mixed_in_doubt": _mixed_in_doubt,
    "groups": _groups,
    "figures": lambda at, n: str(int(n)),
    "joined": lambda at, first, more: "".join([first, *more])[:12],
    "pointed": _pointed,
    "pointed_below_one": lambda at, _, decimals: _bare(at, float(f"0.{decimals}"), pointed=True),
    "number": lambda at, n: _bare(at, n),
    "of_parts": lambda at, n: _bare(at, n, glued=n >= 1),  # "twenty three fifths": 23/5, or 20 3/5?
    "one_over": _one_over,
    "part_of_scale": lambda at, n, _, __, scale: _bare(at, n * scale),
    "half_a_scale": lambda at, _, __, scale: _bare(at, scale / 2),
    "ratio_of_one": lambda at, top, tens, nth: 1 / (tens + nth) if top == 1 else None,
    "measure_more": lambda at, n, _, unit: _measure(at, n, unit)._replace(glued=True),
    "percent_of": lambda at, _, __, n: _measure(at, n, UNITS["pct"]),
    "times_scale": lambda at, n, scale: _bare(at, n.value * scale, glued=n.glued),
    "count_and_half": _count_and_half,
    "dozens": lambda at, n, dozen: _bare(at, n * dozen),
    "half_a_dozen": lambda at, *_: _bare(at, 6),
    "couple": lambda at, *_: _bare(at, 2),
    "square": lambda at, _, unit: Unit(f"sq {unit.name}", "sqft", 0),
    "cubic": lambda at, _, unit: Unit(f"cu {unit.name}", "cuft", 0),
    "measure": _measure,
    "abbreviated": _abbreviated,
    "measure_of": lambda at, n, _, __, unit: _measure(at, n, unit),
    "part_of": lambda at, n, _, unit: _measure(at, n, unit) if n.value % 1 else None,
    "part_a": _part_a,
    "price_a_foot": lambda at, n, _, __: _measure(at, n, UNITS["money"]) if n.value >= 12 else None,
    "one": _one,
    "said_again": _said_again,
    "tailed": _tailed,
    "feet_inches": _feet_inches,
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
    "size": _of_size,
    "station": lambda at, feet: Quantity(feet, "station", at.start, at.end),
    "station_said": lambda at, a, _, b: Quantity(
        100 * (a.parts or (a.value,))[0] + (b.parts or (b.value,))[0], "station", at.start, at.end
    ),
    "bends": _bends,
    "bubble": lambda at, n, *_: n._replace(unit="bubble", end=at.end, glued=True),
}
PRODUCTIONS = compiled(RULES)
QUANTITY, SIMPLE, NUMBER, COUNTED, ORDINAL = (
    PRODUCTIONS[name] for name in ("quantity", "simple", "number", "counted", "ordinal")
)
GOES_ON = going_on(PRODUCTIONS, "quantity")
IN_A_NUMBER = going_on(PRODUCTIONS, "number") - {"joint"}  # which stands behind "thousand" alone
BEGINS = QUANTITY.first | ORDINAL.first
NAMES = {"nth", "nth_teen", "nth_tens", "nth_hundred", "nth_thousand", "nth_written"}
