"""What a person adds to the record that was missed or never said, one amendment each: a rod reading."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from extract import recount
from extract.record import Evidence, Level, Record

FIELDS = ("levels",)
"""What an amendment may add to: its value is then one entry of it, as a dict."""
TURNING = "TP-"
"""The label of a turning point begins with it; it is no thing of the record."""


def is_addition(field: str, value: Any) -> bool:
    """Whether an amendment of that field adds one entry."""
    return field in FIELDS and isinstance(value, dict)


def of_no_thing(subject: str) -> bool:
    """Whether an addition stands by itself, and not with a structure or run: a reading at the benchmark."""
    return subject == "benchmark" or subject.startswith(TURNING)


def in_words(value: dict[str, Any]) -> str:
    """An addition in words: `CB-1 rim foresight 4.85`."""
    return " ".join(named(value))


def named(value: dict[str, Any]) -> tuple[str, str]:
    """What an addition is, and what is entered for it: `CB-1 rim foresight`, `4.85`."""
    height = f", elevation {value['elevation_ft']:g}" if value.get("elevation_ft") is not None else ""
    return f"{value['point'].replace('_', ' ')} {value['kind']}", f"{value['rod_ft']:g}{height}"


def add(record: Record, value: dict[str, Any], note: int) -> bool:
    """Enter an addition; False where the reading that it came behind is gone."""
    place = place_of(record.levels, value.get("after"))
    if place is None:
        return False
    told = {name: each for name, each in value.items() if name in Level.model_fields}
    evidence = Evidence(note=note, quote=f"added: {in_words(value)}", confidence=1, by_hand=True)
    level = Level.model_validate(told | {"evidence": [evidence]})
    record.levels.insert(place, level)
    _close(record, level)
    return True


def place_of(levels: Sequence[Level], after: dict[str, Any] | None) -> int | None:
    """The place behind the reading `after`, the first where that is None; None where it is gone."""
    if after is None:
        return 0
    found = [place for place, level in enumerate(levels, 1) if reading(level) == after]
    return found[0] if len(found) == 1 else None


def reading(level: Level) -> dict[str, Any]:
    """What tells a reading from the others."""
    return {"point": level.point, "kind": level.kind, "rod_ft": level.rod_ft}


def _close(record: Record, level: Level) -> None:
    """A reading answers what was asked of its point, and of an elevation there that is empty."""
    label, _, side = level.point.partition(" ")
    thing, name = record.subject(label), f"{side}_ft"
    closed = {(level.point, "rod_ft")}
    if thing is not None and getattr(thing, name, 0.0) is None:
        closed.add((label, name))
    for question in list(record.questions):
        if (question.about, question.field) in closed:
            record.questions.remove(question)
            recount.put_in_levels(record, f"{question.about}.{question.field}", level.rod_ft)
