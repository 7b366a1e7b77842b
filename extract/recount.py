"""What became of the numbers that were said once a person has changed a field: the record's `numbers` after that."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from extract.record import Number, Record

FACTORS = {("ft", "in"): 12.0, ("in", "ft"): 1 / 12}
"""What a number said in the first unit counts in a field of the second. It stands here because this module imports only
the record, so that the reading of notes, typed answers and the recount share it without an import in a circle."""
STANDS = ("field", "restated")
NEAR = 1e-3


def agree(record: Record) -> None:
    """The numbers whose question is closed by now, as other numbers bear them out: each stands, or was withdrawn."""
    asked = {f"{each.about}.{each.field}" if each.field else each.about for each in record.questions}
    for number in record.numbers:
        if number.went == "question" and number.to not in asked:
            label, _, name = (number.to or "").partition(".")
            held = getattr(record.subject(label), name, None) if name else None
            number.went = "field" if _holds(held, name, number) else "withdrawn"


def put_by_hand(record: Record, path: str, before: Any, value: Any) -> None:
    """Every number that went to that field, now that it holds `value`: it stands, or was withdrawn."""
    field, same = path.rpartition(".")[2], _plain(before) == _plain(value)
    for number in record.numbers:
        if number.to != path or number.went not in (*STANDS, "question", "text", "withdrawn"):
            continue
        if same and number.went != "question":
            continue
        if not _holds(value, field, number):
            number.went = "withdrawn"
        elif number.went in ("question", "withdrawn"):  # of two in conflict the earlier, chosen, stands again
            number.went = "field"


def put_in_list(record: Record, name: str, notes: Iterable[int], before: Any, value: Any) -> None:
    """The numbers of those notes that stood in that list as `before`."""
    said = set(notes)
    for number in record.numbers:
        of_it = number.to == name and number.note in said and number.went in STANDS
        if of_it and before != value and (_near(number.value, before) or _near(number.value / 100, before)):
            number.went = "withdrawn"


def put_in_levels(record: Record, path: str, value: float) -> None:
    """The numbers that were asked about as that field, once a level has it: the level's own stand in it."""
    for number in record.numbers:
        if (number.to, number.went) == (path, "question"):
            number.went, number.to = ("field", "levels") if _near(number.value, value) else ("withdrawn", path)


def placed(record: Record, path: str, notes: Iterable[int], to: str | None) -> None:
    """The numbers of a question that was closed: withdrawn, or of the field at `to`."""
    said = set(notes)
    for number in record.numbers:
        if number.to == path and number.note in said and number.went == "question":
            number.went, number.to = ("field", to) if to else ("withdrawn", path)


def taken_out(record: Record, subject: str, notes: Iterable[int] | None = None) -> None:
    """The numbers of what a person removed; of a list, only those of its notes."""
    said = None if notes is None else set(notes)
    for number in record.numbers:
        to = number.to or ""
        of_it = to == subject or to.startswith(f"{subject}.")
        if of_it and (said is None or number.note in said) and number.went in (*STANDS, "question", "text"):
            number.went = "withdrawn"


def _holds(value: Any, field: str, number: Number) -> bool:
    if number.went == "text":
        return isinstance(value, str) and number.text.lower() in value.lower()
    said = number.value * FACTORS.get((number.unit or "", field.rpartition("_")[2]), 1.0)
    joined = [said / 100] if number.unit is None else []  # "ninety-eight forty-two" of a height
    return any(_near(each, held) for each in (said, *joined) for held in _numbers(value))


def _numbers(value: Any) -> list[float]:
    if isinstance(value, list):
        return [each for item in value for each in _numbers(_plain(item))]
    if isinstance(value, dict):
        return [each for each in value.values() if isinstance(each, int | float)]
    return [value] if isinstance(value, int | float) else []


def _plain(value: Any) -> Any:
    """A value as JSON has it."""
    if isinstance(value, list):
        return [_plain(each) for each in value]
    return value.model_dump(mode="json", exclude_none=True) if hasattr(value, "model_dump") else value


def _near(one: float, other: Any) -> bool:
    return isinstance(other, int | float) and abs(one - other) <= NEAR * max(1.0, abs(one))
