"""What a span says of fittings: how many, of which angle, of which sizes."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import replace
from typing import NamedTuple

from extract.limits import plausible
from extract.read.readings import Reading
from extract.read.values import IMPERIAL, Crew, value_of
from extract.record import Fitting
from extract.text.quantities import Quantity

TURNS = {"elbow", "long_sweep"}
STEPS = {"reducer", "increaser"}
BRANCHES = {"wye", "tee", "cleanout"}
"""Fittings that are told of with where they are: "the wye, twelve down"."""
ANGLES = {
    11: 11.25,
    11.25: 11.25,
    15: 15,
    22: 22.5,
    22.5: 22.5,
    30: 30,
    45: 45,
    60: 60,
    67.5: 67.5,
    87: 87.5,
    87.5: 87.5,
    90: 90,
}
"""Angles of bends by what they are called."""
COMMON = (22.5, 45, 90)
"""Angles by which a bend is called and nothing else: "a 45"."""
ARTICLE = re.compile(r"(?:an?|the|one|another)?\s*", re.IGNORECASE)
BEHIND_A_BEND = re.compile(r"\s*(?:at\b|turn|on the (?:left|right)\b)", re.IGNORECASE)
CIRCLE = 360
BENDS = {1 / 4: 90, 1 / 5: 72, 1 / 6: 60, 1 / 8: 45, 1 / 16: 22.5}
"""Angles of bends by the part of a circle that they are called by, as in "one-eighth bend" (ASTM D3311)."""
MOST, MOST_BRANCHES, MOST_STEPS = 12, 6, 3
"""Nobody fits more of one kind at a time."""
SIZES = {1.5, 2, 3, 4, 5, 6, 8, 10, 12, 15, 18, 24}
"""Nominal sizes of pipe, inches."""
NEAR = 1e-4
WHERE = re.compile(r"\b(?:at|about|around|en|a los)\s*$", re.IGNORECASE)
"""Before a distance along the run, which is no count."""
AT = re.compile(r"\b(?:at|en|a los)\s*$", re.IGNORECASE)
ONLY_WHERE = re.compile(r"(?:\W|\b(?:at|about|around|down|along|in|it|is|it's|its|en|a|los)\b)*", re.IGNORECASE)
DOWN = re.compile(r"\s*(?:down|along|in)\b", re.IGNORECASE)
ALONE = re.compile(
    r"\s*(?:$|[,.;!?)]|(?:and|on|turn\w*|too|with)\b|(?:down|along|in)\b(?!\s+(?:from|the ground)))", re.IGNORECASE
)
"""Behind a place along a run: not "from basin two", "up", "deep", "below the lawn"."""
ALONG = {"ft", "m", "yd"}
"""Units of a distance along a run."""
TURN = re.compile(r"\bturn(?:s|ing|ed)?\s+(left|right)\b")
NEXT = 16
"""Characters behind a bend in which it is said which way it turns."""
LEADS_TO = re.compile(
    r"\W*(?:inch(?:es)?|in)?\W*(?:to|by|x|into|down to|up to|a|por|>|→)\W*(?:a\W+|an\W+|the\W+)?", re.IGNORECASE
)
"""Between the two sizes of a reducer."""
TOTAL = re.compile(r"\b(?:that's|makes|total|altogether)\s*$", re.IGNORECASE)
"""Before the sum of what was told so far."""
CHANGED = re.compile(r"\bno\W*$", re.IGNORECASE)
OF_SIZE = re.compile(r"\b(?:de|of)\s*$", re.IGNORECASE)
MORE = re.compile(r"\banother\b|\botr[oa]\b(?! lado)", re.IGNORECASE)
PLURAL = re.compile(r"s\W*$", re.IGNORECASE)
BOTH = re.compile(r"\b(?:both|(?:a )?couple|(?:a )?pair|ambos|un par|each end)\b", re.IGNORECASE)


class Place(NamedTuple):
    """Where a fitting lies along its run."""

    at_ft: float | None
    """None where that is not sure."""


def fitting_of(one: Reading, readings: Sequence[Reading], text: str, crew: Crew = IMPERIAL) -> Fitting:
    """The fitting of a span of the note `text`: its kind is the span's class, the rest from the quantities in it."""
    inside = _bends([each for each in readings if each.quantity and each.start < one.end and one.start < each.end])
    words = text[one.start : one.end]
    kind = "elbow" if _bare_bend(one.name, inside, text, one) else one.name
    one = replace(one, name=kind)
    fitting = Fitting(kind=kind)  # type: ignore[arg-type]
    counts: list[int] = []
    sizes: list[float] = []
    plural = False
    for each in inside:
        assert each.quantity is not None
        before = _before(text, max(0, one.start - 3, each.start - 10), each.start)
        place = _place(each.quantity, before, text[each.end :], crew)
        if place is not None:
            fitting.at_ft = place
            continue
        if WHERE.search(before) and one.name not in TURNS:
            continue
        if one.name in STEPS and each.quantity.bound == "range":  # "a 3-4 increaser"
            sizes += each.quantity.values
            continue
        count, angle, said = _parts(each.quantity, one.name, bool(OF_SIZE.search(before)))
        counts += [count] if count and not (sizes and one.name in STEPS) else []
        if counts and count and (TOTAL.search(before) or CHANGED.search(before)):
            counts = [count]
        sizes += said
        if angle:
            fitting.angle_deg = angle
            plural = plural or each.quantity.plural or each.quantity.unit == "angle"
    if one.name in STEPS | BRANCHES | {"coupling", "adapter"} and len(sizes) < 2:
        sizes, counts = _from_to(inside, text, crew) or (sizes, counts)
    if sizes and one.name in STEPS and len(set(sizes)) > 1:
        pair = sorted(sizes[-2:], reverse=one.name == "reducer")
        fitting.nominal_in, fitting.to_nominal_in = (round(size, 4) for size in pair)
    elif one.name in BRANCHES | {"adapter"} and len(set(sizes)) > 1:
        fitting.nominal_in, fitting.to_nominal_in = (round(size, 4) for size in sizes[:2])
    elif sizes:
        fitting.nominal_in = round(sizes[0], 4)
    more = [found for found in MORE.finditer(words) if found.start() > 0]
    least = 2 if BOTH.search(text[max(0, one.start - 9) : one.end]) or plural else 1
    fitting.count = (counts[0] if counts else least) + len(more)
    turns = set(TURN.findall(text[one.start : one.end + NEXT])) if one.name in TURNS else set()
    fitting.turn = turns.pop() if len(turns) == 1 else None
    if fitting.count > 1:  # nobody said which of them
        fitting.at_ft = fitting.turn = None
    return fitting


def _before(text: str, start: int, end: int) -> str:
    """The words before `end`, the first of them whole."""
    while start > 0 and text[start - 1].isalnum() and text[start].isalnum():
        start -= 1
    return text[start:end]


def _bare_bend(kind: str, inside: Sequence[Reading], text: str, one: Reading) -> bool:
    """Whether a branch is read where an angle is told and nothing else: "a 45" is a bend."""
    bends = [each for each in inside if each.quantity and each.quantity.value in COMMON and not each.quantity.parts]
    if kind not in ("wye", "tee") or len(bends) != 1 or bends[0].quantity is None:
        return False
    bend, after = bends[0], text[bends[0].end : one.end]
    bare = bend.quantity.unit in (None, "deg", "angle") if bend.quantity else False
    return bare and bool(ARTICLE.fullmatch(text[one.start : bend.start]) and (not after or BEHIND_A_BEND.match(after)))


def place_alone(one: Reading, readings: Sequence[Reading], text: str, crew: Crew) -> Place | None:
    """Where the fitting told before it lies, of a span that tells nothing else: "twelve feet down"; None of any other
    span."""
    inside = [each for each in readings if each.quantity and one.start <= each.start and each.end <= one.end]
    if len(inside) != 1 or not ONLY_WHERE.fullmatch(text[one.start : inside[0].start]):
        return None
    quantity, behind = inside[0].quantity, text[inside[0].end : one.end]
    if quantity is None or quantity.unit not in ALONG or not ONLY_WHERE.fullmatch(behind):
        return None
    at = "at" if DOWN.match(text, inside[0].end) else text[one.start : inside[0].start]
    return Place(_place(quantity, at, text[inside[0].end :], crew))


def _place(quantity: Quantity, before: str, behind: str, crew: Crew) -> float | None:
    """Where along the run a fitting lies, feet, of a distance behind "at"; None of any other quantity, and of one that
    may be measured from the lower end, or be a depth."""
    if not AT.search(before) or quantity.unit not in ALONG or quantity.bound or not ALONE.match(behind):
        return None
    feet = value_of(quantity, "length_ft", crew)
    return round(feet, 4) if feet is not None and plausible("at_ft", feet) else None


def uncounted(one: Reading, readings: Sequence[Reading], text: str) -> bool:
    """Whether a span tells of several fittings and of no number of them: "some 45s", "a few couplings"."""
    if not PLURAL.search(text[one.start : one.end]) or BOTH.search(text[max(0, one.start - 9) : one.end]):
        return False
    inside = _bends([each for each in readings if each.quantity and each.start < one.end and one.start < each.end])
    return not any(_parts(each.quantity, one.name, False)[0] for each in inside if each.quantity)


def totalled(fittings: Sequence[Fitting]) -> list[Fitting]:
    """The fittings with those alike as one."""
    out: list[Fitting] = []
    for one in fittings:
        at = next((i for i, each in enumerate(out) if each == one.model_copy(update={"count": each.count})), None)
        if at is None:
            out.append(one)
        else:
            out[at] = one.model_copy(update={"count": out[at].count + one.count})
    return out


def _bends(inside: Sequence[Reading]) -> list[Reading]:
    """The readings with bends whose digits are said one by one as one: "two four-fives"."""
    out: list[Reading] = []
    for one in inside:
        tens = out[-1].quantity if out else None
        if tens and one.quantity and one.quantity.plural and one.quantity.unit is None:
            *count, ten = tens.parts or (tens.value,)
            degrees = 10 * ten + one.quantity.value
            if degrees in ANGLES and ten < 10 > one.quantity.value:
                bend = one.quantity._replace(value=degrees, parts=(*count, degrees) if count else ())
                out[-1] = replace(one, start=out[-1].start, quantity=bend)
                continue
        out.append(one)
    return out


def _parts(quantity: Quantity, kind: str, of_size: bool) -> tuple[int, float, list[float]]:
    """Count, angle and sizes that one quantity says, zero and none where it says no such thing."""
    count, value = 0, quantity.value
    spelled = 10 * quantity.parts[0] + quantity.parts[1] if len(quantity.parts) == 2 else 0
    if kind in TURNS and spelled in ANGLES and quantity.parts[1] < 10:  # "four five"
        return 0, ANGLES[spelled], []
    if kind in TURNS and 0 < value < 1 and CIRCLE * value in ANGLES:  # "one eighth bend"
        return 0, CIRCLE * value, []
    if len(quantity.parts) > 1 and quantity.unit is None:  # "one twenty-two and a half", "two four-inch"
        count, value = int(quantity.parts[0]), quantity.parts[1]
        if len(quantity.parts) > 2:
            value = float("".join(str(int(part)) for part in quantity.parts[1:]))
        fits = value in ANGLES if kind in TURNS else value in SIZES and kind not in STEPS | BRANCHES
        if not fits or count > MOST:
            count, value = 0, quantity.value
    no_size = quantity.unit == "in" and value not in SIZES  # "one 90 in run two"
    if kind in TURNS and value in ANGLES and (no_size or quantity.unit in (None, "deg", "angle")):
        return count, ANGLES[value], []
    whole, part = divmod(value, 1)
    bend = next((angle for each, angle in BENDS.items() if abs(part - each) < NEAR), 0)
    if kind in TURNS and bend and quantity.unit is None:  # "one 1/8 bend"
        return count or int(whole), bend, []
    if quantity.unit in ("in", "size") and not (kind == "wye" and value not in SIZES):
        return count, 0, list(quantity.values) or [value]
    if count or (of_size and kind not in TURNS and quantity.unit is None and value in SIZES):
        return count, 0, [value]
    most = MOST_STEPS if kind in STEPS else MOST_BRANCHES if kind in BRANCHES else MOST
    counts = quantity.unit is None and value == int(value) and 0 < value <= most
    return (int(value) if counts else 0), 0, []


def _from_to(inside: Sequence[Reading], text: str, crew: Crew) -> tuple[list[float], list[int]] | None:
    """The sizes of "three to four", and a count before them: "one three to four" is one from 3 to 4."""
    for low, high in reversed(list(zip(inside, inside[1:], strict=False))):
        if low.quantity and high.quantity and LEADS_TO.fullmatch(text[low.end : high.start]):
            first, count = low.quantity, []
            if len(first.parts) == 2 and first.unit is None and first.parts[0] < MOST:
                count, first = [int(first.parts[0])], first._replace(value=first.parts[1], parts=())
            sizes = [value_of(each, "nominal_in", crew) for each in (first, high.quantity)]
            if None not in sizes:
                return [size for size in sizes if size], count
    return None
