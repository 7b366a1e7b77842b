"""Writes the training and tuning days as examples: `examples.py TOKENIZER OUT`, a pickle for learn.py."""

from __future__ import annotations

import gzip
import json
import pickle
import random
import sys
from pathlib import Path
from typing import Any

from talk.augment import in_pieces, names_of, varied
from talk.dataset import COUNTS, Points, example
from talk.markup import Day, MarkupError, read_day, read_short
from tokenizers import Tokenizer

from extract.read.labels import CLASSES, RELATIONS, ROLES, SIDES, SIGHTS, STANDINGS, TYPES
from extract.read.scene import FEATURES, HELD
from extract.read.words import FORM

DAYS = Path(__file__).parent / "days"
SHORT = Path(__file__).parent / "short"
VARIANTS = 4
"""How often each training day is told again with other figures."""


def main() -> None:
    tokenizer = Tokenizer.from_file(sys.argv[1])
    tokenizer.no_truncation()
    tokenizer.no_padding()
    parts = json.loads((Path(__file__).parent / "parts.json").read_text(encoding="utf-8"))
    out: dict[str, list[dict[str, Any]]] = {"train": [], "tune": []}
    dice = random.Random(5)
    days: dict[str, list[Day]] = {"train": [], "tune": []}
    for path in sorted(DAYS.glob("*.txt")):
        part = {"examples": "train"}.get(parts[path.name[:3]], parts[path.name[:3]])
        try:
            if part in days:
                days[part].append(read_day(path))
        except MarkupError as error:
            print(f"{path.name}: {error}")
    for path in sorted(SHORT.glob("*.txt")):
        days["train"] += read_short(path)
    names = names_of(days["train"])
    for part, each in days.items():
        for day in each:
            points = Points(day)
            out[part].append(vars(example(day, points, tokenizer)))
            for _ in range(VARIANTS if part == "train" else 0):
                parts_of = in_pieces(varied(day, dice, names), dice)
                told = [example(each, points, tokenizer, mistaken=True) for each in parts_of]
                out[part].append({**vars(told[0]), "notes": [note for each in told for note in each.notes]})
    sizes = {
        "types": len(TYPES),
        "classes": tuple(len(names) for names in CLASSES.values()),
        "roles": len(ROLES),
        "standings": len(STANDINGS),
        "sides": len(SIDES),
        "sights": len(SIGHTS),
        "relations": len(RELATIONS),
        "features": FEATURES,
        "form": FORM,
        "held": HELD,
    }
    marks = [tokenizer.token_to_id(name) for name in ("[PAD]", "[CLS]", "[SEP]", "[MASK]")]
    with gzip.open(sys.argv[2], "wb", compresslevel=6) as file:
        pickle.dump(
            {**out, "sizes": sizes, "marks": marks, "vocabulary": tokenizer.get_vocab_size(), "tellings": 1 + VARIANTS},
            file,
        )
    print({name: len(days) for name, days in out.items()}, COUNTS.most_common(3))


if __name__ == "__main__":
    main()
