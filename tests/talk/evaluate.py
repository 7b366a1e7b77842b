"""Scores a reader on marked days: `evaluate.py MODEL_FOLDER PART [--show]`.

PART is train, tune or sealed. Figures are those of score.py, by kind of talk.
"""

from __future__ import annotations

import json
import sys
import time
from collections import Counter, defaultdict
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from talk.gold import compute
from talk.markup import Day, MarkupError, read_day
from talk.score import score

from extract.assemble import settle_borne_out
from extract.read.amounts import crew_of_readings
from extract.read.assembly import Assembly, taken_back
from extract.read.model import Model
from extract.read.readings import Reader, Reading
from extract.record import Note
from extract.recount import agree

HERE = Path(__file__).resolve().parent


def record_of(readings: list[list[Reading]], texts: list[str]) -> dict[str, Any]:
    """The record that readings come to, in the contract's shape."""
    assembly = Assembly(crew_of_readings(texts, readings), withdrawn=taken_back(readings))
    for text, row in zip(texts, readings, strict=True):
        assembly.take(Note(text=text), row)
    record = assembly.record()
    settle_borne_out(record)
    agree(record)
    return record.as_json()


def with_match(record: dict[str, Any]) -> dict[str, Any]:
    """A gold task or decision is met by one that bears its longest word."""
    for group in ("tasks", "decisions"):
        for row in record[group]:
            words = "".join(c if c.isalpha() else " " for c in str(row.get("item") or row["text"])).split()
            row["match"] = max(words, key=len, default="")
    return record


def days_of(part: str) -> Iterator[tuple[Path, Day, dict[str, Any]]]:
    """The days of a part (`train`, `tune`, `sealed`) with the records that their marks mean."""
    parts = json.loads((HERE / "parts.json").read_text(encoding="utf-8"))
    for path in sorted((HERE / "days").glob("*.txt")):
        if parts[path.name[:3]] in part.split(","):
            try:
                day = read_day(path)
                yield path, day, with_match(compute(day))
            except MarkupError as error:
                print(f"{path.name}: {error}", file=sys.stderr)


def scored(gold: dict[str, Any], guess: dict[str, Any], path: Path, show: bool) -> dict[str, int]:
    """The counts of score.py for one day; `show` prints what was missed and what was wrong."""
    result: dict[str, Any] = score(gold, guess)
    for name in ("missed", "wrong", "lost_list", "silent_list"):
        rows = result.pop(name)
        if show and name in ("missed", "wrong"):
            print("".join(f"{path.name}: {name}: {row}\n" for row in rows), end="")
    return result


def main() -> None:
    model = Model(lambda name: (Path(sys.argv[1]) / name).read_bytes())
    totals: dict[str, Counter[str]] = defaultdict(Counter)
    seconds, notes = 0.0, 0
    for path, day, gold in days_of(sys.argv[2]):
        texts = [note.text for note in day.notes]
        began = time.process_time()
        reader = Reader(lambda: model)
        readings = [reader.read(i, text) for i, text in enumerate(texts)]
        seconds, notes = seconds + time.process_time() - began, notes + len(texts)
        result = scored(gold, record_of(readings, texts), path, "--show" in sys.argv)
        for kind in (day.head["kind"], "all"):
            totals[kind].update(result)
            totals[kind]["days"] += 1
    for kind, t in totals.items():
        print(figures(kind, t))
    print(f"{notes / max(seconds, 1e-9):.0f} notes a second")


def figures(kind: str, t: Counter[str]) -> str:
    f1 = 2 * t["tp"] / max(1, t["gold"] + t["pred"])
    n1 = 2 * t["num_tp"] / max(1, t["num_gold"] + t["num_pred"])
    return (
        f"{kind:16} {t['days']:4} days  fact F1 {f1:.3f}  number F1 {n1:.3f}  silent {t['silent']} of {t['num_pred']}  "
        f"lost {t['lost']} of {t['num_gold']}  needless questions {t['extra_asked'] / t['days']:.2f} a day"
    )


if __name__ == "__main__":
    main()
