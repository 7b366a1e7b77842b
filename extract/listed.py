"""Entries that have no label: levels, tests, issues, tasks and so on. A person names one by its list and place in it,
`test:1`; a change of it is kept with the words that it was given for, and holds to the entry that rests on them."""

from __future__ import annotations

import re
from collections.abc import Sequence
from textwrap import shorten
from typing import Any, Protocol

from extract.record import Entry, FixedPoint, Issue, Level, Purchase, Question, Record, Task, Test

LISTS = {
    "level": "levels",
    "test": "tests",
    "issue": "issues",
    "task": "tasks",
    "decision": "decisions",
    "change": "changes",
    "point": "points",
    "acceptance": "acceptances",
    "purchase": "purchases",
}
SUBJECT = re.compile(rf"({'|'.join(LISTS)})[: ](\d{{1,6}})", re.I)

MOST_WORDS = 40
"""Characters of an entry that a line tells."""


class Placed(Protocol):
    """A note that an entry rested on, with its INDEX now; None where it is gone, or its words are others."""

    note: int | None


class Anchored(Protocol):
    """A change with what it was given for."""

    subject: str
    was: dict[str, Any] | None
    place: tuple[int, int] | None

    @property
    def rests_on(self) -> Sequence[Placed] | None: ...


def listed(record: Record, subject: str) -> Entry | None:
    """The entry that `test:1` names, or None."""
    match = SUBJECT.fullmatch(subject)
    entries = _list(record, match[1]) if match else []
    number = int(match[2]) if match else 0
    return entries[number - 1] if 1 <= number <= len(entries) else None


def subject_of(record: Record, entry: Entry) -> str:
    """The name of an entry of a list: `test:1`."""
    for kind in LISTS:
        for number, each in enumerate(_list(record, kind), 1):
            if each is entry:
                return f"{kind}:{number}"
    raise ValueError("an entry of another record")


def in_words(entry: Entry) -> str:
    """An entry of a list in a few plain words."""
    if isinstance(entry, Level):
        read = f"elevation {entry.elevation_ft:g}" if entry.rod_ft is None else f"{entry.rod_ft:g}"
        return f"{entry.point.replace('_', ' ')} {entry.kind} {read}"
    if isinstance(entry, Test):
        return f"{entry.kind}{f', {entry.at}' if entry.at else ''}"
    if isinstance(entry, FixedPoint):
        return entry.name
    if isinstance(entry, Purchase):
        return shorten(bought_words(entry), MOST_WORDS, placeholder=" …")
    words = str(getattr(entry, "item", None) or getattr(entry, "text", ""))
    if isinstance(entry, Task) and entry.item and entry.count:
        words = f"{entry.count:g} {words}"
    return shorten(words.rstrip(" ."), MOST_WORDS, placeholder=" …")


def bought_words(purchase: Purchase) -> str:
    """`10 sticks of 4 inch SDR 35`, `6 × 45 elbow`."""
    count = f"{purchase.count:.10g}"
    if purchase.unit == "each":
        return f"{count} × {purchase.item}"
    if purchase.unit == "ft":
        return f"{count} ft of {purchase.item}"
    long = f" {purchase.stick_ft:g} ft" if purchase.stick_ft is not None else ""
    return f"{count}{long} stick{'' if purchase.count == 1 else 's'} of {purchase.item}"


def as_read(entry: Entry) -> dict[str, Any]:
    """What was read of an entry, field by field, as a change of it keeps it."""
    return entry.model_dump(mode="json", exclude={"label", "evidence"}, exclude_defaults=True)


def place_of(record: Record, entry: Entry) -> tuple[int, int]:
    """Which of how many entries of its list that rest on its first note it is."""
    kind = subject_of(record, entry).partition(":")[0]
    alike = _resting(_list(record, kind), _first_note(entry))
    return next(i for i, each in enumerate(alike) if each is entry), len(alike)


def found(read: Record, change: Anchored) -> Entry | None:
    """The one entry, as read, that the words speak for that the change was given for; None where that is not sure."""
    first = change.rests_on[0].note if change.rests_on else None
    if first is None:
        return None
    alike = _resting(_list(read, change.subject.partition(":")[0].lower()), first)
    shared = [sum(as_read(each).get(name) == value for name, value in (change.was or {}).items()) for each in alike]
    best = [each for each, count in zip(alike, shared, strict=True) if count == max(shared)]
    if len(best) > 1 and change.place and len(alike) == change.place[1]:
        return alike[change.place[0]] if any(alike[change.place[0]] is each for each in best) else None
    return best[0] if len(best) == 1 else None


def added(record: Record, change: Anchored) -> Entry | None:
    """The entry that a person added, and no words speak for: known by what it held when the change was given, and of
    several alike by its place among them; None where it is gone, or there are more or fewer of them now."""
    if change.rests_on != [] or change.was is None:
        return None
    alike = _by_hand(record, change.subject.partition(":")[0], change.was)
    place, count = change.place or (0, len(alike))
    return alike[place] if alike and len(alike) == count else None


def place_among(record: Record, subject: str) -> tuple[int, int] | None:
    """Which of how many entries alike, that a person added, `purchase:2` is; None where it is none."""
    entry = listed(record, subject)
    alike = _by_hand(record, subject.partition(":")[0], as_read(entry)) if entry else []
    return next(((i, len(alike)) for i, each in enumerate(alike) if each is entry), None)


def _by_hand(record: Record, kind: str, held: dict[str, Any]) -> list[Entry]:
    """The entries of a list that hold that, and no note speaks for."""
    by_hand = [each for each in _list(record, kind) if all(item.by_hand for item in each.evidence)]
    return [each for each in by_hand if as_read(each) == held]


def abouts(entry: Entry) -> set[str]:
    """What a question about a number of that entry is about."""
    if isinstance(entry, Level):
        return {entry.point, entry.point.split(" ")[0]}
    if isinstance(entry, Issue | Test):
        return {entry.at or "tests"}
    return set()


def asks_of(question: Question, entry: Entry, field: str | None = None) -> bool:
    """Whether a question is about that entry (and field): it comes from the words that the entry rests on."""
    of_field = field is None or question.field == field or (field == "point" and question.field == "rod_ft")
    said, rests_on = {item.note for item in question.evidence}, {item.note for item in entry.evidence}
    known = question.field in type(entry).model_fields and question.about in abouts(entry)
    return known and of_field and (not said or bool(said & rests_on))


def _list(record: Record, kind: str) -> list[Entry]:
    return getattr(record, LISTS[kind.lower()]) if kind.lower() in LISTS else []


def _resting(entries: Sequence[Entry], note: int | None) -> list[Entry]:
    return [each for each in entries if note is not None and any(item.note == note for item in each.evidence)]


def _first_note(entry: Entry) -> int | None:
    return entry.evidence[0].note if entry.evidence else None
