"""What a person types to add to the record, in plain words, as the log keeps it; or a refusal in one line."""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from typing import Any

from extract.additions import TURNING, of_a_thing, place_of, reading
from extract.answers import answered, point_named
from extract.crossing_names import name_in
from extract.entry_limits import must_be_whole, must_fit
from extract.errors import UsageError
from extract.field_names import table
from extract.listed import in_words, listed
from extract.record import BENCHMARK, Level, Purchase, Record, Run, Structure
from extract.spanish import in_digits
from extract.spelling import normalise
from extract.statements import read_note
from extract.text.quantities import find_quantities

KIND = re.compile(r"(backsight|foresight|intermediate|rod)\b(?: sight| reading)?(?: (?:on|at))?(?:\s+|$)", re.I)
ELEVATION = re.compile(r",?\s+elev(?:ation)?\.?\s+(.+)$", re.I)
AFTER = re.compile(r",?\s+after\s+(.+)$", re.I)
TURNING_POINT = re.compile(r"(?:tp|turning point)[ -]?(\d{1,3})", re.I)
LIKE = "foresight CB-1 rim 4.85, or backsight benchmark 4.85 elevation 100, or benchmark elevation 100"

TIE = re.compile(r"(.+?) from (.+?)(?:\s*,\s*(?:on )?(?:the )?(.+))?", re.I)
CROSSING = re.compile(
    r"(.+?)(?:\s+at\s+(.+?)(?=\s*,|\s+depth\b|$))?"
    r"(?:(?:\s*,\s*|\s+(?=\d|depth\b))(?:depth\s+(?:of\s+)?(.+)|(.+?)\s+(?:deep|down)))?",
    re.I,
)
DEPTH = re.compile(r"\b(?:deep|down|depth)\b", re.I)
PLACE = re.compile(r"(.+?)\s+at\s+(-?\d+(?:\.\d+)?)\s*,\s*(-?\d+(?:\.\d+)?)", re.I)
FAR = re.compile(r"(.+)\s+from\s+([^,]+?)(?:\s*,\s*bearing\s+(\d+(?:\.\d+)?))?", re.I)
FIGURE = re.compile(r"\d+(?:,\d{3})*(?:\.\d+)?")
TWO_SIDES = re.compile(r"\d+(?:\.\d+)?\s*[x×]\s*\d", re.I)
MOST_COUNT_WORDS = 4
"""Words of a count, as in `a hundred and twenty`."""
NOWHERE = Run(label="")
"""What a length is read for."""

Said = tuple[str, dict[str, Any]]
"""The subject of an amendment and its value."""


def level_said(record: Record, words: str, point: str | None = None, note: int | None = None) -> Said:
    """A rod reading: `foresight CB-1 rim 4.85`; where its `point` is known already, `rod 4.85` or `4.85` is enough.
    Of the benchmark alone its elevation is taken with no rod: `benchmark elevation 100`.

    It goes behind the last reading of its setup: where there are several setups, behind the one that is named with
    `after`, or else the last one of the notes up to `note`. Raises UsageError, one line.
    """
    rest, after = _cut(" ".join(words.split()), AFTER)
    rest, elevation = _cut(rest, ELEVATION)
    match = KIND.match(rest)
    kind, rest = (match[1].lower() if match else "rod"), rest[match.end() if match else 0 :]
    where, rod = (point, rest) if point else _point_and_rod(record, rest)
    alone = where is None and elevation is not None and _point(record, rest) == BENCHMARK
    alone = alone and (match is None or kind == "backsight")
    where = BENCHMARK if alone else where
    labels = re.findall(r"\b[A-Z]+-\d+\b", rest.upper()) if where is None else []
    if gone := next((each for each in labels if of_a_thing(each) and not record.subject(each)), None):
        raise UsageError(f"levels cannot take {words!r}; there is no {gone}")
    if where is None or not (rod or alone):
        raise UsageError(f"levels cannot take {words!r}; write a reading as {LIKE}")
    if kind == "rod":
        kind = "backsight" if where == BENCHMARK else "foresight"
    level = Level.model_validate({"point": where, "kind": kind, "elevation_ft" if alone else "rod_ft": 0})
    name = f"{where.replace('_', ' ')} {kind}"
    value: dict[str, Any] = {"point": where, "kind": kind}
    if not alone:
        value["rod_ft"] = answered(record, level, name, "rod_ft", rod, "rod")
    if elevation:
        value["elevation_ft"] = answered(record, level, name, "elevation_ft", elevation, "elevation")
    twins = [each for each in record.levels if (each.point, each.kind) == (where, kind)]
    if alone and twins and after is None:
        raise _is_there(level, twins[0], name)
    behind = _behind(record, level, after, note, words)
    _must_be_missing(record, level, behind, name)
    return where.partition(" ")[0], value | {"after": reading(behind) if behind else None}


def _cut(words: str, pattern: re.Pattern[str]) -> tuple[str, str | None]:
    """The words without what that pattern finds at their end, and that."""
    match = pattern.search(words)
    return (words[: match.start()], match[1]) if match else (words, None)


def _point_and_rod(record: Record, words: str) -> tuple[str | None, str]:
    parts = words.split()
    for count in range(len(parts) - 1, 0, -1):
        if point := _point(record, " ".join(parts[:count])):
            return point, " ".join(parts[count:])
    return None, ""


def _point(record: Record, words: str) -> str | None:
    match = TURNING_POINT.fullmatch(words)
    return f"{TURNING}{int(match[1])}" if match else point_named(record, words)


def _behind(record: Record, level: Level, after: str | None, note: int | None, words: str) -> Level | None:
    """The reading that it goes behind; None where it is the first."""
    levels = record.levels
    if after is not None:
        return _named(record, after)
    setups = sum(each.kind == "backsight" for each in levels)
    if note is not None:
        before = [each for each in levels if each.evidence and _read_in(each) <= note]
        return before[-1] if before else None
    if setups + (level.kind == "backsight" and not _waits(levels, level)) > 1:
        raise UsageError(
            f"{'there is a backsight already' if setups == 1 else f'there are {setups} setups'}; say behind which "
            f"reading this one goes, as in: {words} after {levels[-1].point.replace('_', ' ')}"
        )
    return levels[-1] if levels and level.kind != "backsight" else None


def _read_in(level: Level) -> int:
    """The note of the reading; the benchmark's elevation may have been said before it."""
    notes = [item.note for item in level.evidence if item.field != "elevation_ft"]
    return notes[0] if notes else level.evidence[0].note


def _waits(levels: Sequence[Level], level: Level) -> bool:
    """Whether the benchmark's elevation waits for that reading."""
    return level.point == BENCHMARK and level.rod_ft is not None and any(each.rod_ft is None for each in levels)


def _named(record: Record, words: str) -> Level:
    entry = listed(record, words)
    point = _point(record, words)
    at_it = [each for each in record.levels if each is entry or each.point == point]
    if len(at_it) != 1:
        told = "was not read" if not at_it else f"was read {len(at_it)} times"
        numbered = (
            f"level:{n} ({in_words(each)})" for n, each in enumerate(record.levels, 1) if each in (at_it or [each])
        )
        raise UsageError(f"{words} {told}; say after which of: {', '.join(numbered) or 'none yet'}")
    return at_it[0]


def _must_be_missing(record: Record, level: Level, behind: Level | None, name: str) -> None:
    """The same sight twice in one setup is a correction."""
    place = place_of(record.levels, reading(behind) if behind else None)
    if place is None:
        raise UsageError(f"there are two readings alike at {behind.point if behind else ''}; name another after it")
    before, after = record.levels[:place][::-1], record.levels[place:]
    setup = [*_until_backsight(before, inclusive=True), *_until_backsight(after)]
    there = next((each for each in setup if (each.point, each.kind) == (level.point, level.kind)), None)
    if there is not None and (there.rod_ft is not None or level.rod_ft is None):
        raise _is_there(level, there, name)


def _is_there(level: Level, there: Level, name: str) -> UsageError:
    stands, field = ("is there", "elevation") if level.rod_ft is None else (f"reads {there.rod_ft:g}", "rod")
    subject = f'"{level.point.replace("_", " ")}"'
    return UsageError(f"{name} {stands} already; correct it with: amend JOB {subject} {field} FIGURE")


def _until_backsight(levels: Sequence[Level], *, inclusive: bool = False) -> list[Level]:
    """Those up to the next backsight."""
    end = next((i for i, each in enumerate(levels) if each.kind == "backsight"), len(levels))
    return list(levels[: end + inclusive])


def tie_said(record: Record, label: str, words: str) -> Said:
    """A taped distance: `18.5 from garage corner`, with the side behind a comma where it matters."""
    match = TIE.fullmatch(words)
    if not match or not isinstance(record.subject(label), Structure):
        raise UsageError(f"{label} tie cannot be {words}; write it as 18.5 from garage corner, of a structure")
    distance = answered(record, NOWHERE, f"{label} tie", "length_ft", match[1], "distance")
    value = {"from": match[2], "distance_ft": distance} | ({"side": match[3]} if match[3] else {})
    must_fit(NOWHERE, f"{label} tie cannot be {words}", value)
    return label, value


def crossing_said(record: Record, label: str, words: str) -> Said:
    """What a run crosses: `gas line at 12`, `gas line at 12, 18 inches deep`."""
    match, run = CROSSING.fullmatch(words), record.subject(label)
    said = f"{label} crossing cannot be {words}"
    if not match or not isinstance(run, Run) or DEPTH.search(match[2] or ""):
        raise UsageError(f"{said}; write it as gas line at 12, 18 inches deep, of a run")
    value: dict[str, Any] = {"what": name_in(match[1]) or match[1]}
    if match[2]:
        value["at_ft"] = answered(record, NOWHERE, f"{label} crossing", "length_ft", match[2], "place")
    if depth := match[3] or match[4]:
        value["depth_in"] = answered(record, NOWHERE, f"{label} crossing", "cover_in", depth, "depth")
    must_fit(run, said, value)
    return label, value


def point_said(record: Record, words: str) -> Said:
    """A fixed point: `garage corner at 10, 20` or `garage corner 42.5 from meter post`."""
    said = f"points cannot be {words}"
    if match := PLACE.fullmatch(words):
        value: dict[str, Any] = {"name": match[1], "x_ft": float(match[2]), "y_ft": float(match[3])}
        must_fit(NOWHERE, said, value)
        return "points", value
    match = FAR.fullmatch(words)
    parts = match[1].split() if match else []
    for count in range(1, len(parts)):
        try:
            figure = " ".join(parts[count:])
            sight: dict[str, Any] = {"distance_ft": answered(record, NOWHERE, "point", "length_ft", figure, "distance")}
        except UsageError:
            continue  # a word of its name
        assert match
        sight |= {"point": match[2]} | ({"bearing_deg": float(match[3])} if match[3] else {})
        value = {"name": " ".join(parts[:count]), "to": [sight]}
        must_fit(NOWHERE, said, value)
        must_fit(NOWHERE, said, sight)
        return "points", value
    raise UsageError(f"points cannot take {words!r}; write one as garage corner 42.5 from meter post")


def change_said(record: Record, words: str) -> Said:
    """A change of plan in a person's words, with the one thing that they name."""
    if not any(each.isalnum() for each in words):
        raise UsageError("a change of plan needs words: what was done instead of what was planned")
    named = {f"{each.prefix}-{each.number}" for sentence in read_note(words) for each in sentence.mentions}
    about = [label for label in named if record.subject(label)]
    return (about[0], {"about": about[0], "text": words}) if len(about) == 1 else ("changes", {"text": words})


def bought_said(record: Record, words: str) -> Said:
    """What was bought: `10 sticks of 4 inch SDR 35`, `5 20 ft sticks of 6 inch SDR 35`, `100 ft of 4 inch corrugated`,
    `2 catch basins 12x12`, `two 100 ft rolls of 4 inch corrugated`."""
    said = f"purchases cannot take {words!r}"
    if TWO_SIDES.match(words) or _kind_of(_parts(words), 1) == "times":
        raise UsageError(f"{said}; it begins with a size; say first how many, as in: 2 12 x 12 catch basins")
    count, parts = _count(_parts(words))
    if count is None or not parts or _kind_of(parts) in ("size", "times"):
        raise UsageError(
            f"{said}; write how many and of what, as in: 10 sticks of 4 inch SDR 35, or 2 catch basins 12x12"
        )
    angles, behind = table()["bought"]["angles"], parts[1:] if parts[0] in ("1/2", "½") else parts
    if count in angles and _kind_of(behind) == "bend":
        raise UsageError(f"{said}; say how many as well, as in: 6 {words}")
    value = {"count": count} | _bought(said, count, parts)
    must_fit(NOWHERE, said, value)
    must_be_whole(said, Purchase.model_validate(value), count)
    return "purchases", value


def _bought(said: str, count: float, parts: Sequence[str]) -> dict[str, Any]:
    """Unit, item and length of a stick; of rolls, which have a length of their own, the feet of all."""
    far = FIGURE.fullmatch(parts[0]) and _kind_of(parts, 1) == "feet" and _kind_of(parts, 2) in ("stick", "roll")
    long = _number(parts[0]) if far else None
    parts = parts[2:] if far else parts
    kind = _kind_of(parts)
    rest = parts[1:] if kind in ("feet", "stick", "roll", "piece") else parts
    if kind == "feet" and _kind_of(rest) in ("stick", "roll"):
        raise UsageError(f"{said}; say how many of them as well, as in: 5 {count:g} ft {' '.join(rest)}")
    if kind == "roll" and long is None:
        raise UsageError(f"{said}; say how long a roll is, as in: 2 100 ft rolls of 4 inch corrugated")
    item = " ".join(rest[1:] if _kind_of(rest) == "of" else rest)
    if kind == "roll":
        return {"item": item, "count": count * (long or 0), "unit": "ft"}
    unit = {"stick": "stick", "feet": "ft"}.get(kind, "each")
    return {"item": item, "unit": unit} | ({"stick_ft": long} if long is not None else {})


def _parts(words: str) -> list[str]:
    """The words, with a figure apart from its unit: `20-foot` and `100'` are two."""
    return re.sub(r"(?<=\d)(?:\s*-\s*(?=[a-z])|(?=['′]|ft\b))", " ", words, flags=re.I).split()


def _kind_of(parts: Sequence[str], at: int = 0) -> str:
    """Whether a word is a `stick`, `feet`, a `roll` and so on; empty where it is none, or there is none."""
    word = parts[at].casefold().strip(",.") if at < len(parts) else ""
    return next((kind for kind, words in table()["bought"]["words"].items() if word in words.split()), "")


def _count(parts: Sequence[str]) -> tuple[float | None, list[str]]:
    """The count in front, in figures or in words, and what is behind it; None where there is none."""
    if parts and FIGURE.fullmatch(parts[0]):
        return _number(parts[0]), list(parts[1:])
    plain = next((i for i, each in enumerate(parts) if any(map(str.isdigit, each))), len(parts))
    for end in range(min(plain, MOST_COUNT_WORDS), 0, -1):
        tokens = normalise(in_digits(" ".join(parts[:end])))
        found = find_quantities(tokens)
        # Two numbers side by side are a count and a size.
        if len(found) == 1 and not found[0].parts and found[0].unit is None and found[0].end == len(tokens):
            return float(found[0].value), list(parts[end:])
    return None, list(parts)


def _number(figure: str) -> float:
    return float(figure.replace(",", ""))


OF_A_THING: dict[str, Callable[[Record, str, str], Said]] = {"ties": tie_said, "crossings": crossing_said}
"""What is added to a structure or run, by its field."""
LISTS: dict[str, Callable[[Record, str], Said]] = {
    "levels": level_said,
    "points": point_said,
    "changes": change_said,
    "purchases": bought_said,
}
"""What is added to a list of the record, by its name."""
