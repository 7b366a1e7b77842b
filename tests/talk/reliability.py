"""How often a figure that the reader is so sure of is right: `reliability.py MODEL_FOLDER PART`, a table.

Of every number in the fields of structures and runs, by the certainty that its evidence states.
"""

from __future__ import annotations

import sys
from collections import defaultdict
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from talk.evaluate import days_of, record_of
from talk.score import NUMERIC, RUN, STRUCTURE, canon, flatten, partners, relabel

from extract.read.model import Model
from extract.read.readings import Reader

BOUNDS = (0.3, 0.5, 0.7, 0.8, 0.9, 0.95, 0.97, 0.99, 1.01)


def stated(gold: dict[str, Any], record: dict[str, Any]) -> Iterator[tuple[float, bool]]:
    """How sure each number is said to be, and whether it is right."""
    facts, mine = flatten(gold), relabel(record, partners(gold, record))
    for group, fields in (("structure", STRUCTURE), ("run", RUN)):
        for entry in mine[f"{group}s"]:
            for name in set(fields) & NUMERIC:
                sure = [each["confidence"] for each in entry["evidence"] if each.get("field") == name]
                if entry.get(name) is not None and sure:
                    yield sure[-1], facts.get((group, entry["label"], name)) == canon(entry[name])


def main() -> None:
    model = Model(lambda name: (Path(sys.argv[1]) / name).read_bytes())
    rows: dict[float, list[tuple[float, bool]]] = defaultdict(list)
    for _, day, gold in days_of(sys.argv[2]):
        texts = [note.text for note in day.notes]
        reader = Reader(lambda: model)
        record = record_of([reader.read(i, text) for i, text in enumerate(texts)], texts)
        for sure, right in stated(gold, record):
            rows[next(bound for bound in BOUNDS if sure < bound)].append((sure, right))
    print("| sure below | numbers | sure, mean | right |\n|---|---|---|---|")
    for bound, each in sorted(rows.items()):
        mean, right = sum(sure for sure, _ in each) / len(each), sum(right for _, right in each) / len(each)
        print(f"| {min(bound, 1):g} | {len(each)} | {mean:.3f} | {right:.3f} |")


if __name__ == "__main__":
    main()
