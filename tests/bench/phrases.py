"""The phrases of tests/extract/phrases.toml through the whole reader: `make bench-phrases`, two minutes or so.

Each phrase is put into one sentence about a run, the sentences of a field in turn. Printed, by sentence: how many came
out right, right but asked about, asked about, wrong with nobody asked (silent), put elsewhere (into another field, or
told to be none of the work), and dropped without a trace; then each of the last three.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterator
from itertools import count
from typing import NamedTuple

from phrase_grid import TABLE, phrases

from extract.assemble import assemble
from extract.record import Note, Record

OF_TESTS = ("duration_s", "flow_gpm")
INCHES = {"ft": 12, "in": 1}


class Case(NamedTuple):
    field: str
    frame: str
    text: str
    value: float


def cases() -> Iterator[Case]:
    """Each phrase in a sentence of each field that it can be told of, where its value is an ordinary one."""
    for field, row in TABLE["frames"].items():
        turn = count()
        for each in phrases():
            if each.unit not in row["units"] or each.production == "range":
                continue
            kept_in = field.rsplit("_", 1)[1]
            value = each.value * INCHES[each.unit] / INCHES[kept_in] if each.unit in INCHES else each.value
            if row["low"] <= value <= row["high"]:
                frame = row["say"][next(turn) % len(row["say"])]
                yield Case(field, frame, frame.format(each.say), value)


def outcome(case: Case) -> str:
    record = assemble([Note(text=case.text)])
    asked = any(each.about == "R-1" and each.field in (case.field, None) for each in record.questions)
    found = _stands(record, case.field)
    if found is not None and abs(found - case.value) <= 1e-3 * max(1.0, case.value):
        return "right but asked" if asked else "right"
    if asked or found is not None:
        return "asked" if asked else "silent"
    return "put elsewhere" if record.numbers else "dropped"


def _stands(record: Record, field: str) -> float | None:
    entry = next((each for each in record.tests if each.at == "R-1"), None)
    value = getattr(entry if field in OF_TESTS else record.subject("R-1"), field, None)
    return None if value is None else float(value)


def main() -> None:
    counts: dict[str, Counter[str]] = defaultdict(Counter)
    unasked = []
    for case in cases():
        what = outcome(case)
        counts[case.frame][what] += 1
        counts["all"][what] += 1
        if what in ("silent", "put elsewhere", "dropped"):
            unasked.append(f"{what}: {case.text} ({case.field} {case.value:g})")
    for frame, found in counts.items():
        print(f"{frame:52} {found.total():5}  " + ", ".join(f"{what} {n}" for what, n in found.most_common()))
    print("\n".join(unasked))


if __name__ == "__main__":
    main()
