"""Scores assembly and values alone: `oracle.py PART [--show]` gives them the marks' own readings."""

from __future__ import annotations

import sys
from collections import Counter, defaultdict

from talk.dataset import Points, Tagged, tagged
from talk.evaluate import days_of, figures, record_of, scored
from talk.markup import Day

from extract.read.readings import Reading
from extract.read.words import quantities_of

ANY = {"issue": "other", "test": "hose", "decision": "open", "task": "do"}
"""The class of an entry that is only met again, whose mark has none."""


def readings_of(day: Day) -> list[list[Reading]]:
    """What a reader that makes no mistake would read."""
    points, out = Points(day), []
    for index, note in enumerate(day.notes):
        spans = tagged(note, points)
        named = [(t.start, t.end) for t in spans if t.what == "mention" and t.number is not None]
        quantities = {(start, end): q for start, end, q in quantities_of(note.text, named)}
        out.append([one for t in spans for one in _reading(index, t, quantities.get((t.start, t.end)))])
    return out


def _reading(index: int, t: Tagged, quantity: object) -> list[Reading]:
    name = t.name or (ANY.get(t.what, "") if t.main else "")
    return [
        Reading(
            index, t.start, t.end, t.what, name, t.flags, main, t.at, t.from_of, t.to_of, t.side, t.sight, t.number,
            quantity if t.quantity else None,  # type: ignore[arg-type]
        )
        for main in (t.main or ("",))
    ]  # fmt: skip


def main() -> None:
    totals: dict[str, Counter[str]] = defaultdict(Counter)
    for path, day, gold in days_of(sys.argv[1]):
        result = scored(gold, record_of(readings_of(day), [n.text for n in day.notes]), path, "--show" in sys.argv)
        for kind in (day.head["kind"], "all"):
            totals[kind].update(result)
            totals[kind]["days"] += 1
    for kind, total in totals.items():
        print(figures(kind, total))


if __name__ == "__main__":
    main()
