"""Writes the training and tuning days as examples: `examples.py TOKENIZER OUT`, a pickle for learn.py."""

from __future__ import annotations

import gzip
import json
import pickle
import random
import sys
from collections import Counter
from multiprocessing import Pool
from pathlib import Path
from typing import Any

from talk.augment import in_pieces, names_of, varied
from talk.dataset import COUNTS, DICE, Points, example
from talk.markup import Day, MarkupError, read_day, read_short
from tokenizers import Tokenizer

from extract.read.labels import CLASSES, RELATIONS, ROLES, SIDES, SIGHTS, STANDINGS, TYPES
from extract.read.scene import FEATURES, HELD
from extract.read.words import FORM

DAYS = Path(__file__).parent / "days"
SHORT = Path(__file__).parent / "short"
VARIANTS = 2
"""How often each training day is told again with other figures."""
OFTEN = 3
"""How often the worked examples are taken: a fit is asked of them."""
Told = list[dict[str, Any]]


class Teller:
    """Tells a day, and tells it again with other figures; each day by dice of its own."""

    def __init__(self, tokenizer: str, names: dict[str, list[str]]) -> None:
        self.tokenizer = Tokenizer.from_file(tokenizer)
        self.tokenizer.no_truncation()
        self.tokenizer.no_padding()
        self.names = names

    def tellings(self, place: int, day: Day, variants: int) -> tuple[Told, Counter[str]]:
        dice = random.Random(place)
        DICE.seed(place)
        COUNTS.clear()
        points = Points(day)
        out = [vars(example(day, points, self.tokenizer))]
        for _ in range(variants):
            parts = in_pieces(varied(day, dice, self.names), dice)
            told = [example(each, points, self.tokenizer, mistaken=True) for each in parts]
            out.append({**vars(told[0]), "notes": [note for each in told for note in each.notes]})
        return out, Counter(COUNTS)


TELLERS: list[Teller] = []
"""The one of this process."""


def begin(tokenizer: str, names: dict[str, list[str]]) -> None:
    TELLERS.append(Teller(tokenizer, names))


def tellings(job: tuple[int, Day, int]) -> tuple[Told, Counter[str]]:
    return TELLERS[0].tellings(*job)


def marked_days() -> dict[str, list[Day]]:
    """The training and the tuning days; the short jobs are for training."""
    parts = json.loads((Path(__file__).parent / "parts.json").read_text(encoding="utf-8"))
    days: dict[str, list[Day]] = {"train": [], "tune": []}
    for path in sorted(DAYS.glob("*.txt")):
        part = parts[path.name[:3]]
        try:
            if part == "examples":
                days["train"] += [read_day(path)] * OFTEN
            elif part in days:
                days[part].append(read_day(path))
        except MarkupError as error:
            print(f"{path.name}: {error}")
    for path in sorted(SHORT.glob("*.txt")):
        days["train"] += read_short(path)
    return days


def main() -> None:
    days = marked_days()
    out: dict[str, Told] = {"train": [], "tune": []}
    counts: Counter[str] = Counter()
    with Pool(initializer=begin, initargs=(sys.argv[1], names_of(days["train"]))) as pool:
        for part, each in days.items():
            jobs = [(place, day, VARIANTS if part == "train" else 0) for place, day in enumerate(each)]
            for told, seen in pool.imap(tellings, jobs, chunksize=20):
                out[part] += told
                counts += seen
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
    tokenizer = Tokenizer.from_file(sys.argv[1])
    marks = [tokenizer.token_to_id(name) for name in ("[PAD]", "[CLS]", "[SEP]", "[MASK]")]
    rest = {"sizes": sizes, "marks": marks, "vocabulary": tokenizer.get_vocab_size(), "tellings": 1 + VARIANTS}
    with gzip.open(sys.argv[2], "wb", compresslevel=6) as file:
        pickle.dump({**out, **rest}, file)
    print({name: len(days) for name, days in out.items()}, counts.most_common(3))


if __name__ == "__main__":
    main()
