"""What a person types for a field of the record, in plain words or figures, as that field holds it.

Numbers are read by the grammar of measures and words by the trade's own list, as they are in notes. What says nothing
sensible for the field, says more than the field takes, or no yard could hold, is refused in one line.
"""

from __future__ import annotations

import json
import math
import re
from collections.abc import Iterable, Sequence
from textwrap import shorten
from typing import Any, get_args, get_origin

from extract.amend import checked
from extract.crossing_names import spoken
from extract.entry_limits import must_be_whole, must_fit, range_of
from extract.errors import UsageError
from extract.field_names import plain_name, table
from extract.fitting_places import placed_fittings
from extract.lexicon import PREFIX
from extract.limits import limits, plausible
from extract.record import ELEVATIONS, Entry, FixedPoint, Level, Model, Record, Run, Structure
from extract.recount import FACTORS
from extract.spelling import normalise
from extract.statements import Mention, Sentence, read_note
from extract.text.quantities import Quantity, elevation_of, find_quantities, rod_of

HEIGHTS = {*ELEVATIONS, "elevation_ft"}
IN_WORDS = {"bedding", "backfill", "text", "item", "name"}
LABELLED = {"from", "to", "at", "about"}
SIDES = {"rim": "rim", "invert_in": "invert_in", "invert_out": "invert_out", "invert": "invert_out"}
CATEGORY = {"state": "state", "pipe": "pipe", "result": "result", "action": "action"}
LONGEST = 60
"""Characters of an answer that its refusal quotes."""
MOST_TYPED = 400
"""Characters of an answer."""
MOST_ALIKE = 100
"""Pieces of one length in a run."""
EMPTY = ("none", "empty")
CALLED = re.compile(r"elev(?:ation)?\b\.?\s+(?:(?:is|at|of)\s+)?", re.I)
"""A figure with this before it is an elevation, however small."""
PARTED = re.compile(r"\s*(?:[,;]|\bplus\b|\band\b(?!\s+(?:a\s+half|1/8|eighth|one eighth)))\s*", re.I)
"""Between one fitting and the next."""


def side_field(label: str, side: str) -> str:
    """The elevation field of a structure that a spoken side means. An outlet has no way on but out."""
    if side in ("rim", "rim_ft"):
        return "rim_ft"
    if side == "invert_in" or label.startswith(("OUT-", "DW-")):
        return "invert_in_ft"
    return "invert_out_ft"


def answered(record: Record, entry: Entry, called: str, field: str, text: str, named: str | None = None) -> Any:
    """The value of `text` for that field of `entry`; `none` is None (or no fittings).

    Raises UsageError, one line, where there is no such field or the text does not fit it; the line calls the entry
    `called` and the field `named`, or by its plain name.
    """
    name = "from_" if field == "from" else field
    checked(entry, name, getattr(entry, name, None), called)
    words = " ".join(text.split())
    said = f"{called} {named or plain_name(field)} cannot be {_quoted(words)}"
    if words.lower() in EMPTY:
        return _emptied(entry, said, field, name)
    figure = CALLED.sub("", words, count=1) if field in HEIGHTS and CALLED.match(words) else words
    try:
        value = _value(record, entry, field, figure)
        held = None if value is None else checked(entry, name, value, called)
    except _UnclearError as why:
        raise UsageError(f"{said}; {why}") from why
    except UsageError as error:
        raise UsageError(f"{said}; write it as {_shape(entry, field)}") from error
    if held is None or not all(math.isfinite(each) for each in _floats(held)):
        raise UsageError(f"{said}; write it as {_shape(entry, field)}")
    plain: Any = [_plain(each) for each in held] if isinstance(held, list) else held
    if field in ELEVATIONS and plausible("rod_ft", plain) and not _of_this_site(record, entry, field, plain, sure=True):
        if figure is words:
            raise UsageError(f'{said}; say "rod {_quoted(words)}" for a rod reading, or "elevation {_quoted(words)}"')
        return plain
    _must_be_a_yards(record, entry, said, field, plain)
    return plain


def _plain(held: Any) -> Any:
    """An entry of a list as JSON has it."""
    return held.model_dump(mode="json", by_alias=True, exclude_none=True) if isinstance(held, Model) else held


class _UnclearError(Exception):
    """Why an answer that can be read does not fit."""


def _value(record: Record, entry: Entry, field: str, words: str) -> Any:
    """None where it says nothing for the field."""
    if len(words) > MOST_TYPED:
        raise _UnclearError(f"write it in at most {MOST_TYPED} characters")
    if words[:1] in ("[", "{"):
        return _json(words)
    if isinstance(entry, FixedPoint) and field == "to":
        return None
    if isinstance(entry, Level) and entry.rod_ft is None and field in ("point", "kind"):
        raise _UnclearError("it stays a backsight on the benchmark until its rod is read")
    if field in LABELLED:
        return _label(record, field, words)
    if field == "point":
        return point_named(record, words, entry)
    if field == "fittings":
        return placed_fittings(words, _fittings, lambda at: _figure(Run(label=""), "length_ft", at))
    if field in IN_WORDS:
        return words if any(each.isalnum() for each in words) else None
    if not _is_number(entry, field):
        return _one_of(entry, field, words)
    if field == "areas":
        return _areas(words)
    sign, figure = (-1, words[1:]) if words[:1] in ("-", "\u2212") else (1, words)
    value = _figure(entry, field, figure)
    return value if sign == 1 or value is None or isinstance(value, list) else sign * value


def _is_number(entry: Entry, field: str) -> bool:
    return field in ("size_in", "pieces_ft", "stations_ft", "areas", "count") or "_" in field


def _json(words: str) -> Any:
    try:
        return json.loads(words)
    except (ValueError, RecursionError):
        return None


# -- figures


def _figure(entry: Entry, field: str, words: str) -> Any:
    tokens = normalise(words)
    found = find_quantities(tokens)
    if field in ("pieces_ft", "stations_ft"):
        covered = _covered(tokens, found, [], _words("counting"))
        return _lengths(tokens, found) if found and covered else None
    if field == "size_in":
        return _size(tokens, found)
    if len(found) != 1 or not _covered(tokens, found, [], _words("filler")):
        return None
    said = found[0]
    if said.bound or (said.glued and not (said.unit == "ft" and field == "length_ft")):
        raise _UnclearError(f"that can be read in two ways; write it as {_shape(entry, field)}")
    if field in HEIGHTS or field == "rod_ft":
        value = rod_of(said) if field == "rod_ft" else elevation_of(said)
        return None if value is None else round(value, 4)
    return _scalar(entry, field, said, words)


def _scalar(entry: Entry, field: str, said: Quantity, words: str) -> float | None:
    unit = field.rpartition("_")[2]
    if field == "length_ft" and said.unit is None and len(said.parts) == 2 and said.parts[1] < 12:
        return round(said.parts[0] + said.parts[1] / 12, 4)  # "34 8"
    if said.parts or said.values:
        return None
    if unit == "s" and said.unit is None:
        raise _UnclearError("say whether it is minutes or seconds")
    if unit == "pct" and (said.unit in ("in", "ft") or (said.unit is None and said.value < 1 and "." not in words)):
        raise _UnclearError("say per what: an eighth per foot, or 1 percent")
    return _in_unit(unit, said)


def _in_unit(unit: str, said: Quantity) -> float | None:
    if said.unit in (None, unit) or unit == "count":
        return round(said.value, 4) if said.unit in (None, unit) else None
    factor = FACTORS.get((said.unit or "", unit))
    return None if factor is None else round(said.value * factor, 4)


def _lengths(tokens: Sequence[str], found: Sequence[Quantity]) -> list[float] | None:
    """Pieces or stations, feet: bare numbers side by side are one each; "two tens" and "two of ten" are two."""
    out: list[float] = []
    count = 1
    for said, after in zip(found, [*found[1:], None], strict=True):
        if count == 1 and after is not None and _counts(said, after, tokens[said.end : after.start]):
            count = int(said.value)
            continue
        values: list[float | None] = [*_side_by_side(tokens, said)] or [_in_unit("ft", said)]
        known = [round(each, 4) for each in values if each is not None]
        if len(known) < len(values):
            return None
        out += known * count
        count = 1
    return out


def _side_by_side(tokens: Sequence[str], said: Quantity) -> list[float]:
    """The numbers of "10 10 4" and of "10 10 4 feet"; none where it is one number."""
    if said.unit == "ft":
        bare = find_quantities(tokens[said.start : said.end - 1])
        said = bare[0] if len(bare) == 1 and bare[0].value == said.value else said
    return list(said.parts) if said.unit is None else []


def _counts(said: Quantity, after: Quantity, between: Sequence[str]) -> bool:
    """Whether a number tells how many there are of the next."""
    whole = said.unit is None and not said.parts and not said.plural and said.value in range(1, MOST_ALIKE + 1)
    many = list(between) == ["of"] or (not between and (after.plural or after.attributive))
    return whole and many


def _size(tokens: Sequence[str], found: list[Quantity]) -> list[float] | None:
    shapes = {table()["words"]["round"], table()["words"]["square"]}
    if len(found) != 1 or not _covered(tokens, found, [], _words("filler") | shapes | {"in", "inch", "inches"}):
        return None
    said = found[0]
    if said.unit == "size":
        return [round(each, 4) for each in said.values]
    side = None if said.parts or said.values or said.glued else _in_unit("in", said)
    square = table()["words"]["square"] in tokens
    return None if side is None else [side, side] if square else [side]


def _areas(words: str) -> list[dict[str, Any]] | None:
    from extract.lexicon import load

    tokens = normalise(words)
    found = [each for each in find_quantities(tokens) if each.unit in ("sqft", None)]
    surfaces = {name for name, said in load()["surface"].items() if not set(said).isdisjoint(tokens)}
    known = {word for said in load()["surface"].values() for word in said}
    if len(found) != 1 or found[0].parts or len(surfaces) > 1:
        return None
    if not _covered(tokens, found, [], _words("filler") | known):
        return None
    area: dict[str, Any] = {"sqft": round(found[0].value, 4), "surface": next(iter(surfaces), None)}
    return [{name: value for name, value in area.items() if value is not None}]


def _fittings(words: str) -> list[dict[str, Any]] | None:
    """Each fitting that the words name, with its count, angle and sizes; every word must tell of one."""
    found = [_fitting(part) for part in PARTED.split(words.strip(" ."))]
    whole = [each for each in found if each is not None]
    return whole if len(whole) == len(found) else None


def _fitting(words: str) -> dict[str, Any] | None:
    from extract.read.fittings import fitting_of  # the reader is larger than all that is typed by hand
    from extract.read.readings import Reading
    from extract.read.words import quantities_of

    sentences = read_note(words)
    if len(sentences) != 1 or not _all_told(sentences[0]):
        return None
    kinds = {term.value for term in sentences[0].find("fitting")}
    kinds |= {m.what for m in sentences[0].mentions if m.what == "cleanout" and m.number is None}
    angles = [q for q in sentences[0].quantities if q.plural or q.unit == "angle" or q.parts or q.start > 0]
    if not kinds and angles:
        kinds = {"elbow"}
    if len(kinds) != 1 or len(sentences[0].mentions) > (kinds == {"cleanout"}):
        return None
    inside = [Reading(0, start, end, "fitting", quantity=found) for start, end, found in quantities_of(words)]
    fitting = fitting_of(Reading(0, 0, len(words), "fitting", kinds.pop()), inside, words)
    return fitting.model_dump(mode="json", exclude_none=True)


def _all_told(sentence: Sentence) -> bool:
    spans = [(term.start, term.end) for term in sentence.terms if term.category == "fitting"]
    spans += [(mention.start, mention.end) for mention in sentence.mentions]
    return _covered(sentence.tokens, sentence.quantities, spans, _words("counting"))


def _covered(
    tokens: Sequence[str],
    found: Iterable[Quantity],
    spans: Iterable[tuple[int, int]],
    filler: frozenset[str] | set[str],
) -> bool:
    """Whether nothing else was said than those quantities and words, and words that say nothing more."""
    told = {i for low, high in [*((q.start, q.end) for q in found), *spans] for i in range(low, high)}
    return all(i in told or token in filler or token == "." for i, token in enumerate(tokens))


# -- words


def _one_of(entry: Entry, field: str, words: str) -> Any:
    """One of the words that the field takes: as the record writes it, or as the trade says it."""
    plain = words.lower().replace("_", " ")
    for choice in _choices(entry, field):
        if plain == str(choice).lower().replace("_", " "):
            return choice
    if field == "traffic":
        said = set(normalise(words)) - _words("telling") - {"traffic", "over", "under"}
        found = {name for name, known in table()["traffic"].items() if said & set(known.split())}
        return found.pop() if len(found) == 1 and len(said) == 1 else None
    sentences = read_note(words)
    if len(sentences) != 1:
        return None
    category = CATEGORY.get(field) or type(entry).__name__.lower()
    return _one_term(sentences[0], category) if field != "kind" or category != "structure" else _kind(sentences[0])


def _one_term(sentence: Sentence, category: str) -> str | None:
    terms = sentence.find(category)
    spans = [(term.start, term.end) for term in terms]
    values = {term.value for term in terms}
    quantities = [q for q in sentence.quantities if any(low <= q.start < high for low, high in spans)]
    told = _covered(sentence.tokens, quantities, spans, _words("telling"))
    return values.pop() if len(values) == 1 and told else None


def _kind(sentence: Sentence) -> str | None:
    kinds = {mention.what for mention in sentence.mentions}
    spans = [(mention.start, mention.end) for mention in sentence.mentions]
    told = _covered(sentence.tokens, [], spans, _words("telling"))
    return kinds.pop() if len(kinds) == 1 and told else None


def label_said(record: Record, words: str) -> str | None:
    """The label of the one thing that those words name: `CB-2`, `basin 2`, `the channel` where there is one."""
    labels = [*(each.label for each in record.structures), *(each.label for each in record.runs)]
    if words.upper() in labels:
        return words.upper()
    sentences = read_note(words)
    mentions = [mention for sentence in sentences for mention in sentence.mentions]
    if len(sentences) != 1 or len(mentions) != 1:
        return None
    mention = mentions[0]
    if not _covered(sentences[0].tokens, [], [(mention.start, mention.end)], _words("naming")):
        return None
    return _label_of(mention, labels)


def _label_of(mention: Mention, labels: Sequence[str]) -> str | None:
    """The label that it means; without a number, that of the only thing of its kind."""
    prefix = "R" if mention.what == "run" else PREFIX.get(mention.what, "")
    if mention.number is not None:
        return next((each for each in labels if each == f"{prefix}-{mention.number}"), None)
    alike = [each for each in labels if each.rpartition("-")[0] == prefix]
    return alike[0] if len(alike) == 1 else None


def _label(record: Record, field: str, words: str) -> str | None:
    label = label_said(record, words)
    known = [each.label for each in record.structures]
    known += [each.label for each in record.runs] if field in ("at", "about") else []
    if label in known:
        return label
    there = f"it can be {', '.join(known)}" if known else "the record has no structure yet"
    raise _UnclearError(f"{there}, or none")


def point_named(record: Record, words: str, entry: Entry | None = None) -> str | None:
    """The point that those words name: `benchmark`, `CB-1 rim`. A side alone is of the structure that `entry`, a
    reading, is of already."""
    sentence = read_note(words)[0] if words and read_note(words) else None
    if sentence and sentence.has("level", "benchmark") and len(sentence.tokens) <= 3:
        return "benchmark"
    label, _, side = words.rpartition(" ")
    name = label_said(record, label) if label else None
    if name and side in SIDES:
        return f"{name} {side_field(name, side).removesuffix('_ft')}"
    sides = {SIDES[term.value] for term in sentence.find("attribute", *SIDES)} if sentence else set()
    labels = [each.label for each in record.structures]
    mentions = sentence.mentions if sentence else ()
    known = {each for m in mentions if (each := m.label or _label_of(m, labels)) in labels}
    if sentence and not sentence.mentions:
        known = {str(getattr(entry, "point", "")).split(" ")[0]} & set(labels)
    if not sentence or len(known) != 1 or len(sides) != 1 or not _point_alone(sentence):
        return None
    name = known.pop()
    return f"{name} {side_field(name, sides.pop()).removesuffix('_ft')}"


def _point_alone(sentence: Sentence) -> bool:
    spans = [(term.start, term.end) for term in sentence.find("attribute", *SIDES)]
    spans += [(mention.start, mention.end) for mention in sentence.mentions]
    return _covered(sentence.tokens, [], spans, _words("naming"))


# -- what is refused


def _must_be_a_yards(record: Record, entry: Entry, said: str, field: str, value: Any) -> None:
    basin = isinstance(entry, Structure) and entry.kind in ("catch_basin", "junction_box") and field == "size_in"
    if basin and not plausible("basin_in", value):
        raise UsageError(f"{said}; it {range_of('basin_in')}")
    if field == "areas" and not all(plausible("area_sqft", each["sqft"]) for each in value):
        raise UsageError(f"{said}; it {range_of('area_sqft')}")
    for each in value if isinstance(value, list) else ():
        if isinstance(each, dict):
            must_fit(entry, said, each)
    if field == "length_ft" and isinstance(entry, Run):
        _must_reach(entry, said, value)
    if not plausible(field, value):
        raise UsageError(f"{said}; it {range_of(field)}")
    if field == "count":
        must_be_whole(said, entry, value)
    if field in HEIGHTS and not _of_this_site(record, entry, field, value):
        reach = limits()["range"]["elevation_apart_ft"]["high"]
        raise UsageError(f"{said}; it lies more than {reach:g} feet from every other elevation of the job")


def _must_reach(run: Run, said: str, length_ft: float) -> None:
    """A run is no shorter than where its crossings and fittings lie."""
    for what, at_ft in [
        *((spoken(c.what), c.at_ft) for c in run.crossings),
        *((f.kind, f.at_ft) for f in run.fittings),
    ]:
        if at_ft is not None and at_ft > length_ft:
            raise UsageError(f"{said}; its {what} lies at {at_ft:g} ft: correct that first")


def _of_this_site(record: Record, entry: Entry, field: str, value: float, *, sure: bool = False) -> bool:
    """Whether it lies near another elevation of the job; where none is known it may, and is not `sure` to."""
    named = ((each, name) for each in record.structures for name in ELEVATIONS)
    others = [getattr(each, name) for each, name in named if each is not entry or name != field]
    others += [each.elevation_ft for each in record.levels if each is not entry]
    known = [other for other in others if other is not None]
    return (not known and not sure) or any(
        abs(value - other) <= limits()["range"]["elevation_apart_ft"]["high"] for other in known
    )


def can_be_empty(entry: Entry, field: str) -> bool:
    """Whether nothing may stand in that field; an unknown one may."""
    name = "from_" if field == "from" else field
    known = type(entry).model_fields.get(name)
    if known is None or _is_list(known.annotation):
        return True
    try:
        checked(entry, name, None)
    except UsageError:
        return False
    return True


def _is_list(annotation: Any) -> bool:
    return get_origin(annotation) is list


def _emptied(entry: Entry, said: str, field: str, name: str) -> Any:
    if _is_list(type(entry).model_fields[name].annotation):
        return []
    if can_be_empty(entry, field):
        return None
    raise UsageError(f"{said}; write it as {_shape(entry, field)}")


def _floats(held: Any) -> list[float]:
    return [each for each in (held if isinstance(held, list) else [held]) if isinstance(each, int | float)]


def _quoted(words: str) -> str:
    return shorten(words, LONGEST, placeholder=" …") or "empty"


def _choices(entry: Entry, field: str) -> list[Any]:
    kinds = get_args(type(entry).model_fields[field].annotation)
    nested = [each for kind in kinds for each in get_args(kind)]
    return [each for each in (nested or kinds) if isinstance(each, str)]


def _shape(entry: Entry, field: str) -> str:
    shape = table()["shapes"].get(field)
    if shape is None and field not in LABELLED and (choices := _choices(entry, field)):
        return f"one of: {', '.join(choices)}"
    return str(shape or table()["units"].get(field.rpartition("_")[2]) or "plain words")


def _words(name: str) -> frozenset[str]:
    return frozenset(table()["words"][name].split())
