"""Scores a reader on marked days: `evaluate.py MODEL_FOLDER PART [--show]`.

The readings are put in place of the marks and the record is computed from them as from the marks, so that the figures
are of the reading alone.
"""

from __future__ import annotations

import importlib.util
import json
import sys
import time
from collections import Counter, defaultdict
from pathlib import Path
from typing import Any

HERE = Path(__file__).resolve().parent
sys.path[:0] = [str(HERE.parent), str(HERE.parents[1])]

from extract.read.model import Model
from extract.read.readings import Reader, Reading
from extract.read.values import value_of
from talk.gold import compute
from talk.markup import Day, Marked, MarkupError, Meaning, Span, read_day

FIELDS = set(
    "length_ft nominal_in drop_in slope_pct cover_in rim_ft invert_in_ft invert_out_ft invert_depth_in size_in".split()
)


def marks_of(readings: list[list[Reading]], texts: list[str], day: Day, metric: bool) -> Day:
    """The day with readings for marks."""
    notes = []
    levels = 0
    for index, (text, row) in enumerate(zip(texts, readings, strict=True)):
        note = Marked(text, day.notes[index].time, line=index)
        for one in row:
            meanings, levels = meanings_of(one, row, levels, metric)
            if meanings:
                note.spans.append(Span(one.start, one.end, meanings))
        notes.append(note)
    return Day(day.head, notes)


def meanings_of(one: Reading, row: list[Reading], levels: int, metric: bool) -> tuple[list[Meaning], int]:
    flags = one.standing
    if one.quantity is not None:
        return _of_quantity(one, row, levels, metric)
    if one.what == "mention" and one.thing:
        out = [Meaning("mention", one.thing, None, None, one.number, flags)]
        out += [Meaning("value", one.from_of, "from", one.thing)] if one.from_of else []
        out += [Meaning("value", one.to_of, "to", one.thing)] if one.to_of else []
        return out, levels
    if one.what in ("state", "pipe", "kind", "traffic", "bedding", "backfill") and one.thing:
        return [Meaning("value", one.thing, one.what, one.name or None, None, flags)], levels
    if one.what == "fitting" and one.thing:
        return [Meaning("value", one.thing, "fitting", fitting_of(one, row), None, flags)], levels
    if one.what in ("issue", "test") and one.thing:
        out = [Meaning("entry", one.thing, None, one.name)]
        return out + ([Meaning("value", one.thing, "at", one.at)] if one.at else []), levels
    if one.what in ("action", "result") and one.thing:
        return [Meaning("value", one.thing, one.what, one.name)], levels
    if one.what == "task":
        return [Meaning("entry", f"K.{one.note}-{one.start}", None, one.name)], levels
    if one.what == "decision" and one.thing:
        return [Meaning("entry", one.thing, None, one.name)], levels
    if one.what == "change":
        return [Meaning("entry", f"X.{one.note}-{one.start}", None, one.at or None)], levels
    if one.what == "order":
        if one.name.startswith("withdraw"):
            return [Meaning("order", None, "withdraw", one.name.split("_")[1])], levels
        if one.name == "drop" and one.thing:
            return [Meaning("order", None, "drop", one.thing)], levels
    return [], levels


def fitting_of(one: Reading, row: list[Reading]) -> str:
    count, angle, size = 1, "", ""
    for other in row:
        if other.quantity is None or not (other.start < one.end and one.start < other.end):
            continue
        value, unit = other.quantity.value, other.quantity.unit
        if value in (11.25, 22.5, 30, 45, 60, 90, 22, 11) and unit in (None, "deg", "angle"):
            angle = f" {({22: 22.5, 11: 11.25}).get(value, value):g}"
        elif unit in ("in", "size"):
            size = f" {value:g}in"
        elif unit is None and value == int(value) and 0 < value < 20:
            count = int(value)
    return f"{count} {one.name}{angle}{size}"


def _of_quantity(one: Reading, row: list[Reading], levels: int, metric: bool) -> tuple[list[Meaning], int]:
    assert one.quantity is not None
    value = value_of(one.quantity, one.what)
    if value is None:
        return [], levels
    if one.what in ("rod_ft", "elevation_ft") and (one.thing or one.side == "benchmark"):
        point = f"{one.thing} {one.side}".strip() + f" {one.sight}"
        name = next((o.vector_name for o in row if getattr(o, "vector_name", "") and _point(o) == _point(one)), "")  # type: ignore[attr-defined]
        if not name:
            levels += 1
            name = f"L.{levels}"
        one.vector_name = name  # type: ignore[attr-defined]
        return [Meaning("entry", name, None, point), Meaning("value", name, one.what, f"{value:.4f}", None, one.standing)], levels
    if one.what in FIELDS and one.thing:
        said = f"{value:.4f}"
        if one.what == "size_in":
            said = "x".join(f"{v:g}" for v in (one.quantity.values or (value,)))
        return [Meaning("value", one.thing, one.what, said, None, one.standing)], levels
    if one.what in ("duration_s", "flow_gpm") and one.thing:
        return [Meaning("value", one.thing, one.what, f"{value:g}", None, one.standing)], levels
    return [], levels


def _point(one: Reading) -> tuple[str, str, str]:
    return one.thing, one.side, one.sight


def score_module() -> Any:
    path = HERE.parents[2] / "shared" / "tools" / "score.py"
    spec = importlib.util.spec_from_file_location("score", path)
    assert spec
    assert spec.loader
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


def with_match(record: dict[str, Any]) -> dict[str, Any]:
    """A gold task or decision is met by one that bears its longest word."""
    for group in ("tasks", "decisions"):
        for row in record[group]:
            words = "".join(c if c.isalpha() else " " for c in str(row.get("item") or row["text"])).split()
            row["match"] = max(words, key=len, default="")
    return record


def main() -> None:
    model = Model(Path(sys.argv[1]))
    scorer = score_module()
    parts = json.loads((HERE / "parts.json").read_text(encoding="utf-8"))
    totals: dict[str, Counter[str]] = defaultdict(Counter)
    seconds = notes = 0
    for path in sorted((HERE / "days").glob("*.txt")):
        if parts[path.name[:3]] != sys.argv[2]:
            continue
        try:
            day = read_day(path)
            gold = with_match(compute(day))
        except MarkupError as error:
            print(f"{path.name}: {error}", file=sys.stderr)
            continue
        texts = [note.text for note in day.notes]
        began = time.process_time()
        reader = Reader(model)
        readings = [reader.read(i, text) for i, text in enumerate(texts)]
        seconds, notes = seconds + time.process_time() - began, notes + len(texts)
        try:
            guess = compute(marks_of(readings, texts, day, metric=False), strict=False)
        except MarkupError as error:
            print(f"{path.name}: {error}", file=sys.stderr)
            guess = {"questions": []}
        result = scorer.score(gold, guess)
        for name in ("missed", "wrong", "lost_list", "silent_list"):
            rows = result.pop(name)
            if "--show" in sys.argv and name in ("missed", "wrong"):
                print("\n".join(f"{path.name}: {name}: {row}" for row in rows))
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
