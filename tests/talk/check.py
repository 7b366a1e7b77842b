"""Checks days of talk that were marked by hand: `check.py [--record] FILE...`; see GUIDE.md."""

from __future__ import annotations

import json
import sys
from pathlib import Path

from talk.gold import compute
from talk.markup import OTHERS, Day, Marked, MarkupError, Meaning, Span, read_day, read_short

from extract.recount import FACTORS
from extract.spelling import normalise
from extract.text.quantities import Quantity, elevation_of, find_quantities, rod_of

UNIT_OF = {"ft": "ft", "in": "in", "pct": "pct", "s": "s", "gpm": "gpm"}
KINDS = "dictated chatty unscripted recogniser second_language spanish mixed".split()
NO_NUMBER = {
    "one", "a second", "second", "a couple", "couple", "half", "1", "quarter", "a quarter", "once", "twice", "yin",
    "wan", "hauf", "a pie", "a foot", "square foot", "another day", "another minute",
    "another hour", "another inch", "another metre", "a whole day", "a whole meter", "a full foot", "half a yard",
    "half a ton", "tens", "threes", "eights", "nines", "sixteens", "quince",
}  # fmt: skip
"""Words that are a number by their form and need none of the marks."""
TOLERANCE = 0.006


def quantities(text: str) -> list[tuple[int, int, Quantity]]:
    """Every quantity of a text with its characters."""
    tokens = normalise(text)
    return [
        (tokens[q.start].start, tokens[max(q.start, q.end - 1)].end, q)
        for q in find_quantities(tokens)
        if q.start < len(tokens)
    ]


def readings(found: list[Quantity], unit: str) -> set[float]:
    """What the quantities of a span may come to in a unit."""
    values: set[float] = set()
    for q in found:
        for value in (q.value, *q.values, elevation_of(q), rod_of(q)):
            if value is not None:
                values.add(value * FACTORS.get((q.unit or unit, unit), 1))
                values |= {value / 100, value / 12, value * 12, value / 25.4 if unit == "in" else value * 3.28084}
    return values | {sum(values_of(found, unit))}


def values_of(found: list[Quantity], unit: str) -> list[float]:
    return [q.value * FACTORS.get((q.unit or unit, unit), 1) for q in found]


def check(day: Day, path: Path) -> list[str]:
    """What is wrong (`error`) and what looks wrong (`look`), a line each."""
    said = []
    if day.head.get("kind") not in KINDS:
        said.append(f"{path.name}: error: the head needs `# kind:`, one of {', '.join(KINDS)}")
    for name in ("writer", "day"):
        if not day.head.get(name, "").isdigit():
            said.append(f"{path.name}: error: the head needs `# {name}:` and a number")
    english = day.head.get("kind") not in ("spanish", "mixed")
    if path.parent.name != "short" and not 18 <= len(day.notes) <= 34:
        said.append(f"{path.name}: error: {len(day.notes)} notes; a day has 20 to 30")
    try:
        compute(day)
    except MarkupError as error:
        said.append(f"{path.name}: error: {error}")
    for note in day.notes:
        said += [f"{path.name}:{note.line}: {each}" for each in check_note(note, english)]
    return said


def check_note(note: Marked, english: bool) -> list[str]:
    said, found = [], quantities(note.text)
    for start, end, quantity in found:
        words = note.text[start:end]
        covered = any(span.start < end and start < span.end for span in note.spans)
        if not covered and words.lower() not in NO_NUMBER and (english or any(c.isdigit() for c in words)):
            said.append(f"error: the number {words!r} lies in no span")
        elif not covered and (quantity.unit and english):
            said.append(f"look: the number {words!r} lies in no span")
    for i, span in enumerate(note.spans):
        if any(a.start < span.start < a.end < span.end for a in note.spans[:i]):
            said.append(f"error: spans cross at {note.words(span)!r}")
        inside = [q for start, end, q in found if span.start < end and start < span.end]
        for meaning in span.meanings:
            said += check_value(note, span, meaning, inside) if english else []
    return said


def check_value(note: Marked, span: Span, meaning: Meaning, inside: list[Quantity]) -> list[str]:
    what = meaning.field or ""
    if meaning.kind != "value" or meaning.flags & {"copied", "implausible"} or what == "item":
        return []
    unit = what.rsplit("_", 1)[-1]
    if meaning.thing and meaning.thing.split(".")[0] in OTHERS and what in ("count", "at", "action", "result"):
        return []
    if unit not in UNIT_OF or what in ("pieces_ft", "stations_ft"):
        return []
    try:
        wanted = [float(part) for part in (meaning.value or "").split("x")]
    except ValueError:
        return []
    can = readings(inside, unit)
    missing = [each for each in wanted if not any(abs(each - v) <= max(TOLERANCE, abs(each) * 0.002) for v in can)]
    if not missing:
        return []
    seen = ", ".join(f"{q.value:g} {q.unit or ''}".strip() for q in inside) or "no number"
    return [f"look: {note.words(span)!r} is marked {what}={meaning.value}; the checker reads {seen}"]


def print_record(day: Day) -> None:
    print(f"{day.notes[0].line}: {day.notes[0].text}")
    for group, rows in compute(day).items():
        for row in rows:
            print(f"  {group}: {json.dumps(row, ensure_ascii=False)}")


def main() -> int:
    files = [Path(each) for each in sys.argv[1:] if not each.startswith("--")]
    wrong = False
    for path in files:
        try:
            days = read_short(path) if path.parent.name == "short" else [read_day(path)]
        except (MarkupError, OSError) as error:
            print(f"{path.name}: error: {error}")
            wrong = True
            continue
        for day in days:
            said = check(day, path)
            wrong = wrong or any(": error:" in each for each in said)
            if said or len(days) == 1:
                print("\n".join(said) if said else f"{path.name}: {len(day.notes)} notes, well marked")
            if "--record" in sys.argv:
                print_record(day)
    return 1 if wrong else 0


if __name__ == "__main__":
    sys.exit(main())
