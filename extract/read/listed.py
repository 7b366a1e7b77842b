"""Areas, ties and crossings: what the words around their numbers say."""

from __future__ import annotations

import re
from collections.abc import Sequence

from extract.crossing_names import CUT, UNNAMED, name_around, name_in, same_name
from extract.lexicon import find_terms, surfaces
from extract.read.labels import CLASSES
from extract.read.readings import Reading
from extract.read.values import Crew, value_of
from extract.read.words import SENTENCE
from extract.record import Area, Crossing, Surface, Tie
from extract.spelling import normalise

ARTICLE = re.compile(r"^(?:the|an?|that|this|el|la|los|las|un|una)\s+", re.IGNORECASE)
FROM = re.compile(
    r"\b(?:from|off(?: of)?|to(?= (?:the|an?|my|our|his|her)\b)|desde|del?|al|a la)\s+([^\W\d][^,.;:?!—()]*)",
    re.IGNORECASE,
)
STOPS = re.compile(r"\s+(?:and|to|is|was|it's|so|then|y|es|hasta)\b.*", re.IGNORECASE)
DEEP = re.compile(r"^\W*\w*\W*(?:deep|down\b(?! the| run)|below|under|hond[oa]|abajo|profund\w+)", re.IGNORECASE)
CLEAR_OF = re.compile(
    r"\W*(?:above|over|under|underneath|below|beneath|off|clear of|encima de|debajo de)\W+(?:the |our |my |el |la )?$",
    re.IGNORECASE,
)
"""Between a measure and a run that what is crossed passes so far from: no depth."""
BEHIND = 4
"""Characters by which a published name may begin behind the span."""
REACH = 60
"""Characters around a number in which the words that belong to it stand."""
LENGTHS = {"crossing", "length_ft", "cover_in", "drop_in", "invert_depth_in"}
"""What a number is read as that is no part of a name."""


def area_of(text: str, one: Reading, sqft: float) -> Area:
    """An area with the surface named right behind it, else before it."""
    behind = re.findall(r"\w+", text[one.end : one.end + REACH].lower())
    before = re.findall(r"\w+", text[max(0, one.start - REACH) : one.end].lower())
    surface: Surface | None = next((surfaces()[w] for w in [*behind, *reversed(before)] if w in surfaces()), None)
    return Area(sqft=sqft, surface=surface)


def outlet_of(text: str, one: Reading) -> str:
    """The kind of outlet that the words of a reading name, if they name one alone; else as it was read."""
    said = {term.value for term in find_terms(normalise(text[one.start : one.end]))}
    named = said & set(CLASSES["kind"])
    return named.pop() if len(named) == 1 else one.name


def pipe_of(text: str, one: Reading) -> str | None:
    """The family of a pipe: by its published name where one was said, none where that is of another; else as read."""
    tokens = normalise(text)
    near = [
        (tokens[term.start].start, tokens[term.end - 1].end, term)
        for term in find_terms(tokens)
        if term.category == "pipe" or term.value == "other_pipe"
    ]
    said = [(end - start, term) for start, end, term in near if start < one.end + BEHIND and one.start < end]
    if said:
        longest = max(said, key=lambda row: row[0])[1]
        return longest.value if longest.category == "pipe" else None
    named = re.search(r"\b(?:sdr|sch\w*|astm|aashto|[dfm] ?\d)", text[one.start : one.end + BEHIND], re.IGNORECASE)
    return None if named else one.name


def tie_of(text: str, one: Reading, distance: float) -> Tie:
    """A tie with the fixed point named behind the distance, else before it."""
    behind, before = (
        FROM.search(text[one.end : one.end + REACH]),
        FROM.findall(text[max(0, one.start - REACH) : one.start]),
    )
    words = behind[1] if behind else before[-1] if before else UNNAMED
    return Tie.model_validate({"from": _plain(words), "distance_ft": distance})


def is_clearance(text: str, one: Reading, readings: Sequence[Reading]) -> bool:
    """Whether a number of a crossing tells how far off the run that is: "six inches above run two"."""
    runs = (each for each in readings if each.what == "mention" and each.name == "R" and each.start >= one.end)
    return one.quantity is not None and any(CLEAR_OF.fullmatch(text, one.end, each.start) for each in runs)


def crossing_of(text: str, one: Reading, readings: Sequence[Reading], crew: Crew) -> Crossing | None:
    """What a run crosses: a span that names it, or a number that tells where it is or how deep it lies."""
    alike = [each for each in readings if each.what == "crossing" and each.thing == one.thing]
    numbers = [each for each in alike if each.quantity]
    spans = [each for each in alike if each.quantity is None]
    if one.quantity is None:
        told = any(one.start < each.end and each.start < one.end for each in numbers)
        return None if told else Crossing(what=_crossed(text, [one], one, readings))
    spans.sort(key=lambda each: _apart(text, each, one))
    crossing = Crossing(what=_crossed(text, spans, one, readings))
    deep = one.quantity.unit == "in" or DEEP.search(text[one.end : one.end + REACH])
    value = value_of(one.quantity, "cover_in" if deep else "crossing", crew)
    if value is not None:
        setattr(crossing, "depth_in" if deep else "at_ft", round(value, 4))
    return crossing


def area_before(areas: Sequence[Area], new: Area, corrects: bool) -> Area | None:
    """The area of the same surface; of one that is put right with no surface named, the last told."""
    same = [each for each in areas if each.surface == new.surface]
    return next(reversed(same or (list(areas) if corrects and new.surface is None else [])), None)


def joined_areas(areas: Sequence[Area], new: Area, old: Area | None) -> list[Area]:
    """The areas with one more, or with the new in the place of the old."""
    if old is None:
        return [*areas, new]
    new = new.model_copy(update={"surface": new.surface or old.surface})
    return [new if each is old else each for each in areas]


def tie_before(ties: Sequence[Tie], new: Tie) -> Tie | None:
    """The tie to the same fixed point; those to a point that nobody named are each their own."""
    return next((each for each in ties if each.from_.lower() == new.from_.lower() != UNNAMED), None)


def crossing_before(crossings: Sequence[Crossing], new: Crossing) -> Crossing | None:
    """The entry of what is crossed; what is told of one with no name is of the last."""
    same = [each for each in crossings if new.what == UNNAMED or same_name(each.what, new.what)]
    return same[-1] if same else None


def joined_crossings(crossings: Sequence[Crossing], new: Crossing, old: Crossing | None) -> list[Crossing]:
    """The crossings with one more, or with what is told now added to the old."""
    if old is None:
        return [*crossings, new]
    said = {name: value for name, value in new if value is not None and value != UNNAMED}
    kept = {} if old.what == UNNAMED else {"what": old.what}
    return [each.model_copy(update=said | kept) if each is old else each for each in crossings]


def _crossed(text: str, spans: Sequence[Reading], one: Reading, readings: Sequence[Reading]) -> str:
    """The name in the first of the spans that has one, else beside the verb of the clause of the reading `one`."""
    bare = list(text)
    for each in readings:
        run = each.what == "mention" and each.thing == one.thing
        if run or (each.quantity is not None and each.what in LENGTHS):
            bare[each.start : each.end] = CUT * (each.end - each.start)
    words = "".join(bare)
    named = (name_in(words[each.start : each.end]) for each in spans)
    return next(filter(None, named), None) or name_around(words, one.start) or UNNAMED


def _apart(text: str, span: Reading, number: Reading) -> tuple[bool, bool, bool, int]:
    """How far a span is from a number: around it, in its sentence, before it, and by characters."""
    around = span.start <= number.start and number.end <= span.end
    first, last = min(span, number, key=_begins), max(span, number, key=_begins)
    parted = SENTENCE.search(text[first.end : last.start]) is not None
    return not around, parted, span.start > number.start, abs(span.start - number.start)


def _begins(one: Reading) -> int:
    return one.start


def _plain(words: str) -> str:
    return ARTICLE.sub("", STOPS.sub("", words.strip())).strip() or UNNAMED
