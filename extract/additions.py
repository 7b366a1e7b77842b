"""What a person adds to the record that was missed or never said, one amendment each: a rod reading, a tie, what a run
crosses, a fixed point, a change of plan, a failed check accepted, what was bought."""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from typing import Any, Protocol, TypeVar

from extract import recount
from extract.crossing_asked import asked_of
from extract.crossing_names import same_name, spoken
from extract.listed import bought_words
from extract.record import (
    BENCHMARK,
    Acceptance,
    Crossing,
    Departure,
    Evidence,
    FixedPoint,
    Level,
    Purchase,
    Question,
    Record,
    Run,
    Sight,
    Structure,
    Tie,
)

T = TypeVar("T")
NEAR_FT = 1
"""Between two places of one crossing along its run."""
TURNING = "TP-"
"""The label of a turning point begins with it; it is no thing of the record."""
LABEL = re.compile(r"(?!TP-)[A-Z]+-\d+")


class Addition(Protocol):
    """An amendment of one of `FIELDS`: its value is one entry, as a dict."""

    subject: str
    """The label of the thing that it is of; else the point of a reading, or the name of the list."""
    field: str
    value: Any
    after: int | None
    """How many notes come before it; None where it comes after all."""


def is_addition(field: str, value: Any) -> bool:
    """Whether an amendment of that field adds one entry."""
    return field in FIELDS and isinstance(value, dict)


def of_a_thing(subject: str) -> bool:
    """Whether an addition stands with a structure or run, and not by itself, as a reading at the benchmark does."""
    return LABEL.fullmatch(subject) is not None


def in_words(addition: Addition) -> str:
    """An addition in words: `CB-1 rim foresight 4.85`."""
    return " ".join(named(addition))


def named(addition: Addition) -> tuple[str, str]:
    """What an addition is, and what is entered for it: `CB-1 rim foresight`, `4.85`."""
    value = addition.value
    if addition.field == "levels":
        rod = [f"{value['rod_ft']:g}"] if "rod_ft" in value else []
        height = [f"elevation {value['elevation_ft']:g}"] if value.get("elevation_ft") is not None else []
        return f"{value['point'].replace('_', ' ')} {value['kind']}", ", ".join([*rod, *height])
    if addition.field == "ties":
        return f"{addition.subject} tie", tie_words(Tie.model_validate(value))
    if addition.field == "crossings":
        return f"{addition.subject} crossing", crossing_words(Crossing.model_validate(value))
    if addition.field == "points":
        name, point = value["name"], point_words(FixedPoint.model_validate(value))
        return f"point {name}", point.removeprefix(name).strip()
    if addition.field == "changes":
        return "change of plan", f'entered: "{value["text"]}"'
    if addition.field == "purchases":
        return "bought", bought_words(Purchase.model_validate(value))
    return f"{value['about'].replace('_', ' ')} {value['finding'].replace('_', ' ')}", f'accepted, "{value["text"]}"'


def replaced(record: Record, addition: Addition) -> str | None:
    """What it takes the place of, in words; None where it is one more."""
    entry, value = record.subject(addition.subject), addition.value
    if addition.field == "ties" and isinstance(entry, Structure):
        ties = (each for each in entry.ties if same_tie(each, Tie.model_validate(value)))
        return next(map(tie_words, ties), None)
    if addition.field == "crossings" and isinstance(entry, Run):
        crossings = (each for each in entry.crossings if same_crossing(each, Crossing.model_validate(value)))
        return next(map(crossing_words, crossings), None)
    return None


def tie_words(tie: Tie) -> str:
    """`18.5 ft from garage corner, left`."""
    return f"{tie.distance_ft:g} ft from {tie.from_}{f', {tie.side}' if tie.side else ''}"


def crossing_words(crossing: Crossing) -> str:
    """`gas line at 12 ft, 18 in deep`."""
    at = f" at {crossing.at_ft:g} ft" if crossing.at_ft is not None else ""
    return f"{spoken(crossing.what)}{at}{f', {crossing.depth_in:g} in deep' if crossing.depth_in is not None else ''}"


def point_words(point: FixedPoint) -> str:
    """`garage corner at 10, 20, 42.5 ft from meter post, bearing 90 from it`."""
    at = [point.name]
    if point.x_ft is not None and point.y_ft is not None:
        at = [f"{point.name} at {_feet(point.x_ft)}, {_feet(point.y_ft)}"]
    far = [f"{each.distance_ft:g} ft from {each.point}{_bearing(each)}" for each in point.to or []]
    return " ".join([*at, ", ".join(far)]).strip()


def _bearing(sight: Sight) -> str:
    return "" if sight.bearing_deg is None else f", bearing {sight.bearing_deg:g} from it"


def _feet(figure: float) -> str:
    """To two decimals, however large."""
    return f"{figure:.2f}".rstrip("0").rstrip(".")


def add(record: Record, addition: Addition, note: int) -> bool:
    """Enter an addition; False where what it goes with is gone."""
    evidence = Evidence(note=note, quote=f"added: {in_words(addition)}", confidence=1, by_hand=True)
    return FIELDS[addition.field](record, addition, evidence)


def _level(record: Record, addition: Addition, evidence: Evidence) -> bool:
    value = addition.value
    place = place_of(record.levels, value.get("after"))
    if place is None:
        return False
    told = {name: each for name, each in value.items() if name in Level.model_fields}
    level = Level.model_validate(told | {"evidence": [evidence]})
    other = _other_half(record.levels, place, level)
    if other is not None and not _may_join(other, level, addition.after):
        return False
    _close(record, level)
    if other is None:
        record.levels.insert(place, level)
        _ask_for_rod(record, level)
    elif level.rod_ft is None:
        other.elevation_ft = level.elevation_ft
        other.evidence.append(evidence.model_copy(update={"field": "elevation_ft"}))
    else:
        _read(record, other, level, place)
    return True


def _other_half(levels: Sequence[Level], place: int, level: Level) -> Level | None:
    """Of a backsight on the benchmark at that place the elevation that waits for its rod; of an elevation that is
    given alone the backsight that it is of: the one whose setup that is, or the next."""
    if (level.point, level.kind) != (BENCHMARK, "backsight"):
        return None
    backsights = [each for each in levels[:place] if each.kind == "backsight"][-1:]
    backsights += [each for each in levels[place:] if each.kind == "backsight"][:1]
    near = [each for each in backsights if each.point == BENCHMARK]
    return next((each for each in near if level.rod_ft is None or each.rod_ft is None), None)


def _may_join(other: Level, level: Level, after: int | None) -> bool:
    """Whether nothing that was said parts the two: the last word on the elevation counts, where a person read the rod
    with it."""
    if None in (other.elevation_ft, level.elevation_ft) or other.elevation_ft == level.elevation_ft:
        return True
    later = after is not None and any(item.note >= after and not item.by_hand for item in other.evidence)
    return level.rod_ft is not None and not later


def _read(record: Record, waiting: Level, level: Level, place: int) -> None:
    """The rod is read for an elevation that waited: one entry, at the place of the reading."""
    if level.elevation_ft not in (None, waiting.elevation_ft):
        notes = {item.note for item in waiting.evidence}
        recount.put_in_list(record, "levels", notes, waiting.elevation_ft, level.elevation_ft)
        waiting.elevation_ft = level.elevation_ft
    waiting.rod_ft = level.rod_ft
    of_elevation = [item.model_copy(update={"field": "elevation_ft"}) for item in waiting.evidence]
    waiting.evidence = [*of_elevation, *level.evidence]
    before, behind = record.levels[:place], record.levels[place:]
    record.levels = [each for each in before if each is not waiting]
    record.levels += [waiting, *(each for each in behind if each is not waiting)]


def _ask_for_rod(record: Record, level: Level) -> None:
    asked = any((each.about, each.field) == (level.point, "rod_ft") for each in record.questions)
    if level.rod_ft is None and not asked:
        record.questions.append(Question(about=level.point, field="rod_ft", why="missing", evidence=level.evidence))


def place_of(levels: Sequence[Level], after: dict[str, Any] | None) -> int | None:
    """The place behind the reading `after`, the first where that is None; None where it is gone.

    Its rod may have been corrected since, but not where another of its name may be meant. With one setup any place
    behind the backsight comes to the same.
    """
    if after is None:
        return 0
    at_it = [
        place for place, level in enumerate(levels, 1) if (level.point, level.kind) == (after["point"], after["kind"])
    ]
    same = [place for place in at_it if reading(levels[place - 1]) == after]
    if sum(level.kind == "backsight" for level in levels) <= 1:
        return (same or at_it or [len(levels)])[-1]
    sure = not of_a_thing(after["point"].partition(" ")[0])
    found = same or (at_it if sure else [])
    return found[0] if len(found) == 1 else None


def reading(level: Level) -> dict[str, Any]:
    """What tells a reading from the others."""
    rod = {} if level.rod_ft is None else {"rod_ft": level.rod_ft}
    return {"point": level.point, "kind": level.kind} | rod


def _close(record: Record, level: Level) -> None:
    """A reading answers what was asked of its point, and of an elevation there that is empty; the benchmark's elevation
    answers what was asked of that."""
    label, _, side = level.point.partition(" ")
    thing, name = record.subject(label), f"{side}_ft"
    closed = {(level.point, "rod_ft"): level.rod_ft, (level.point, "elevation_ft"): level.elevation_ft}
    if thing is not None and getattr(thing, name, 0.0) is None:
        closed[label, name] = level.rod_ft
    for question in list(record.questions):
        given = closed.get((question.about, question.field or ""))
        if given is not None:
            record.questions.remove(question)
            recount.put_in_levels(record, f"{question.about}.{question.field}", given)


def _tie(record: Record, addition: Addition, evidence: Evidence) -> bool:
    """A second distance from the same point is the first one corrected."""
    entry, tie = record.subject(addition.subject), Tie.model_validate(addition.value)
    if not isinstance(entry, Structure):
        return False
    tie.side = tie.side or next((each.side for each in entry.ties if same_tie(each, tie)), None)
    entry.ties = _with(entry.ties, tie, same_tie)
    entry.evidence.append(evidence.model_copy(update={"field": "ties"}))
    return True


def _with(rows: Sequence[T], row: T, same: Callable[[T, T], bool]) -> list[T]:
    """The rows with one more, in place of what it is the same as."""
    return [*(each for each in rows if not same(each, row)), row]


def same_tie(one: Tie, other: Tie) -> bool:
    """Whether both start from the same point, to whatever side."""
    return one.from_.casefold() == other.from_.casefold()


def _crossing(record: Record, addition: Addition, evidence: Evidence) -> bool:
    entry, crossing = record.subject(addition.subject), Crossing.model_validate(addition.value)
    if not isinstance(entry, Run):
        return False
    settled = [each for each in entry.crossings if same_crossing(each, crossing)]
    for question in [each for each in record.questions if (each.about, each.field) == (entry.label, "crossings")]:
        about = asked_of(question, entry.crossings)
        if about and any(about.crossing is each for each in settled):
            record.questions.remove(question)
    entry.crossings = _with(entry.crossings, crossing, same_crossing)
    entry.evidence.append(evidence.model_copy(update={"field": "crossings"}))
    return True


def same_crossing(one: Crossing, other: Crossing) -> bool:
    """Whether both are of one thing, or lie at one place."""
    near = one.at_ft is not None and other.at_ft is not None and abs(one.at_ft - other.at_ft) <= NEAR_FT
    return near or same_name(one.what, other.what)


def _point(record: Record, addition: Addition, evidence: Evidence) -> bool:
    """Of a point that is there already, what is new is put to what is known."""
    point = FixedPoint.model_validate(addition.value | {"evidence": [evidence]})
    known = next((each for each in record.points if each.name.casefold() == point.name.casefold()), None)
    if known is None:
        record.points.append(point)
        return True
    if point.x_ft is not None:
        known.x_ft, known.y_ft = point.x_ft, point.y_ft
    again = {each.point.casefold() for each in point.to or []}
    to = [*(each for each in known.to or [] if each.point.casefold() not in again), *(point.to or [])]
    known.to = to or None
    known.evidence.append(evidence)
    return True


def _change(record: Record, addition: Addition, evidence: Evidence) -> bool:
    record.changes.append(Departure.model_validate(addition.value | {"evidence": [evidence]}))
    return True


def _purchase(record: Record, addition: Addition, evidence: Evidence) -> bool:
    """One more each time: the same thing is bought twice."""
    record.purchases.append(Purchase.model_validate(addition.value | {"evidence": [evidence]}))
    return True


def _acceptance(record: Record, addition: Addition, evidence: Evidence) -> bool:
    """Its evidence quotes the finding as it stood. A second answer to one finding is the first one replaced."""
    value = {name: each for name, each in addition.value.items() if name in Acceptance.model_fields}
    quoted = evidence.model_copy(update={"quote": addition.value["message"]})
    given = Acceptance.model_validate(value | {"evidence": [quoted]})
    kept = [each for each in record.acceptances if (each.finding, each.about) != (given.finding, given.about)]
    record.acceptances = [*kept, given]
    return True


FIELDS: dict[str, Callable[[Record, Addition, Evidence], bool]] = {
    "levels": _level,
    "ties": _tie,
    "crossings": _crossing,
    "points": _point,
    "changes": _change,
    "acceptances": _acceptance,
    "purchases": _purchase,
}
"""What can be added to, and how each is entered."""
