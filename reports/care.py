"""When the care of a drain is due through the year, and what is to be done then (`care.toml`)."""

from __future__ import annotations

from collections.abc import Collection, Iterable
from dataclasses import dataclass
from datetime import date
from typing import Any

from extract.record import Language, Record
from reports.words import load


@dataclass(frozen=True)
class Season:
    """One season's care. `month` and `day` are those on which it is due each year."""

    name: str
    month: int
    day: int
    items: list[str]
    """What to do, in the order of the file."""

    def first_after(self, start: date) -> date:
        """The first day after `start` on which it is due."""
        due = date(start.year, self.month, self.day)
        return due if due > start else date(start.year + 1, self.month, self.day)


def seasons(kinds: Collection[str] | None = None, language: Language = "en") -> list[Season]:
    """The seasons that have a day in the year, each with what to do where there are structures of those kinds, or with
    all that may be to do where `kinds` is None. One with nothing to do is left out."""
    return [
        Season(season["name"], season["begins"]["month"], season["begins"]["day"], items)
        for season in load("care", language)["season"]
        if "begins" in season and (items := for_kinds(season["items"], kinds))
    ]


def for_kinds(items: Iterable[dict[str, Any]], kinds: Collection[str] | None) -> list[str]:
    """What is to be done, of `items` of `care.toml`, where there are structures of those kinds; None: all of it."""
    return [each["do"] for each in items if kinds is None or not each.get("kinds") or set(kinds) & set(each["kinds"])]


def kinds_of(record: Record) -> set[str]:
    """The kinds of structure that are there to be looked after."""
    return {each.kind for each in record.structures if each.kind and each.state in ("installed", "existing", None)}


def due(start: date, end: date) -> list[tuple[date, str]]:
    """Each day after `start`, up to and with `end`, on which a season's care is due, with the season's name; in order
    of time."""
    days = []
    for season in seasons():
        day = season.first_after(start)
        while day <= end:
            days.append((day, season.name))
            day = season.first_after(day)
    return sorted(days)
