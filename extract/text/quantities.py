"""Numbers with their units: feet and inches, slopes, sizes, stations, angles, times, flow.

`find_quantities` finds every number among the words of a sentence with its unit, by the productions of grammar.toml.
Lengths come back in feet or inches, areas in square feet, slopes in percent, durations in seconds, volumes in US
gallons, flow in US gallons a minute.
"""

from __future__ import annotations

from collections.abc import Sequence

from extract.text.grammar import TABLE, Parser, Unit, all_classes, classes_of, compiled
from extract.text.rules import HALF_READ, INCHES, RULES, UNITS, angle_called
from extract.text.rules import Quantity as Quantity

UNIT_OF = {word: name for name, row in TABLE["units"].items() for word in row["words"].split()}
SMALL = {**TABLE["words"]["zero"], **TABLE["words"]["ones"], **TABLE["words"]["teen"], **TABLE["words"]["oh"]}
TENS: dict[str, int] = TABLE["words"]["tens"]
FRACTIONS: dict[str, int] = {
    **TABLE["words"]["nth_part"], **TABLE["words"]["parts"], **TABLE["words"]["part"],
}  # fmt: skip
SPREAD = 5
"""How many times larger or smaller a number may be than the one behind it to share its unit."""
BOUNDS = sorted(
    ((said.split(), bound) for bound, rows in TABLE["bounds"].items() for said in rows), key=lambda row: -len(row[0])
)
"""What is said before a bound, the longest first."""
BEFORE_A_BOUND = {said[-1] for said, _ in BOUNDS}
BOUNDS_BEHIND = [(said.split(), bound) for bound, rows in TABLE["bounds_behind"].items() for said in rows]
PLAIN_UNITS = {"ft", "in", "pct", "cm", "mm", "gal", "gpm", "min", "h"}
AFTER_ARTICLE = {
    "part", "nth_part", "tens", "hundred", "thousand", "million", "dozen", "couple", "one_of", "full", "whole_of",
}  # fmt: skip
"""What an article begins a number or a measure with."""
PARTED = {"and", "about"}
"""Classes of words that may stand between a joint and a number."""
MEASURED = {*INCHES, "s", "pct", "gal", "gpm"}
JOINS = {"and", "a", "an", "of"}
"""Words between a quantity and what is left over of it; and words that part the two."""
POINTS_AT = set("the that this other".split())
LOOKED_AT = {"ends_a_ratio", "at_a_meter", "named", "of_a_size", "street", "extent"}
"""Classes of words that are no part of a measure, and so are as strange as any."""
STANDS_APART = set("to at on in is are was for from with the by or then per it that this".split())
LAST_ORDINAL = 1000
"""Of ordinals that name a thing."""


def find_quantities(tokens: Sequence[str], taken: set[int] | frozenset[int] = frozenset()) -> list[Quantity]:
    """Every quantity among the tokens, left to right, none overlapping; tokens in `taken` belong to names."""
    seen = all_classes(tokens)
    begins = [i for i, classes in enumerate(seen) if classes and not BEGINS.isdisjoint(classes)]
    if not begins:
        return []
    parser, found, end = Parser(tokens, seen, taken), [], 0
    names = any(not NAMES.isdisjoint(seen[i]) for i in begins)
    for i in begins:
        if i < end or i in taken or ("article" in seen[i] and AFTER_ARTICLE.isdisjoint(parser.open[i + 1])):
            continue
        if tokens[i] == "one" and _pronoun(parser, i):
            continue
        read, named = _longest(parser, i), parser.read(ORDINAL, i) if names else None
        if named and named[0] <= LAST_ORDINAL and named[1] > (read[1] if read else i + 1):
            end = named[1]
        elif read:
            found += [_kept(each) for each in _counted(read[0])]
            end = read[1]
    if not found:
        return found
    _share_units(parser.words, found)
    return [_bounded(parser.words, _beside_a_leftover(parser, found, k)) for k in range(len(found))]


def _pronoun(parser: Parser, i: int) -> bool:
    """Whether the "one" at `i` stands for a thing, as in "the round one three metres ten"."""
    if COUNTED.first.isdisjoint(parser.open[i + 1]) or i < 2:
        return False
    return "looks" in parser.seen[i - 1] and parser.words[i - 2] in POINTS_AT


def _longest(parser: Parser, i: int) -> tuple[Quantity, int] | None:
    """The quantity at `i`. Most are a plain number, with a unit or none, that no form goes on from."""
    counted = parser.read(COUNTED, i)
    if counted and IN_A_NUMBER.isdisjoint(parser.open[counted[1]]):
        point = "decimal" in parser.open[i]
        number = Quantity(counted[0], None, i, counted[1], pointed=point, decimal=point), counted[1]
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
    return "joint" in after and "y" not in after and behind.keys().isdisjoint(PARTED) and BEGINS.isdisjoint(behind)


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
    if quantity.attributive and len(quantity.parts) == 3:  # "nineteen two three inch": a length and a size
        last = quantity.end - 2
        length = Quantity(quantity.parts[0], None, quantity.start, last, parts=quantity.parts[:2], glued=True)
        return [length, quantity._replace(value=quantity.parts[2], start=last, parts=(), glued=True)]
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
    for said, bound in BOUNDS if quantity.start and words[quantity.start - 1] in BEFORE_A_BOUND else ():
        if words[max(0, quantity.start - len(said)) : quantity.start] == said:
            return quantity._replace(bound=quantity.bound or bound)
    for said, bound in BOUNDS_BEHIND if words[quantity.end] == "or" else ():
        if words[quantity.end : quantity.end + len(said)] == said:
            return quantity._replace(bound=quantity.bound or bound)
    return quantity


def _beside_a_leftover(parser: Parser, found: list[Quantity], k: int) -> Quantity:
    """Glued where a number or unit word beside it was read by nothing: the measure may be half read."""
    quantity, one = found[k], found[k - 1] if k else None
    low = one.end if one else 0
    high = found[k + 1].start if k + 1 < len(found) else len(parser.words)
    before = quantity.start > low and not HALF_READ.isdisjoint(parser.open[quantity.start - 1])
    rest = one is not None and _goes_on_from(parser, one, quantity)
    strange = quantity.unit is None and _measured_in_a_strange_unit(parser, quantity.end)
    leftover = before or rest or strange or _leads_on(parser, range(quantity.end, min(high, quantity.end + 4)))
    return quantity._replace(glued=True) if leftover else quantity


def _goes_on_from(parser: Parser, one: Quantity, quantity: Quantity) -> bool:
    """As in "twenty and three fifths inches", and as in "one point two hundred thirty-six"."""
    between = parser.words[one.end : quantity.start]
    if one.unit is not None:
        return False
    if quantity.unit is None:
        return one.glued and not between
    return not one.plural and quantity.unit in MEASURED and between == ["and"]


def _measured_in_a_strange_unit(parser: Parser, i: int) -> bool:
    """As in "ten cubits long", at "cubits"."""
    strange = parser.words[i].isalpha() and not parser.seen[i].keys() - {"plural"}
    return strange and "extent" in parser.seen[i + 1]


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
        if strange > 1 or word in STANDS_APART or not word.isalpha() or parser.seen[i].keys() - LOOKED_AT:
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


def angle_of(quantity: Quantity) -> float | None:
    """The bend angle in degrees that a quantity can stand for, or None."""
    angle = angle_called(quantity.value)
    return angle if angle in (11.25, 22.5, 30, 45, 60, 90) and quantity.unit in (None, "deg", "angle") else None


PRODUCTIONS = compiled(RULES)
QUANTITY, SIMPLE, NUMBER, COUNTED, ORDINAL = (
    PRODUCTIONS[name] for name in ("quantity", "simple", "number", "counted", "ordinal")
)
GOES_ON = PRODUCTIONS["quantity"].second
IN_A_NUMBER = PRODUCTIONS["number"].second - {"joint"}  # which stands behind "thousand" alone
BEGINS = QUANTITY.first | ORDINAL.first
NAMES = {"nth", "nth_teen", "nth_tens", "nth_hundred", "nth_thousand", "nth_written"}
