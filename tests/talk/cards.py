"""Draws the writers' cards from cards.toml, one a writer, and which part of the corpus each writer's days belong to.

`cards.py DIR` writes DIR/001.md and so on, and DIR/parts.json.
"""

from __future__ import annotations

import json
import random
import sys
import tomllib
from pathlib import Path

PARTS = {"sealed": 0.18, "tune": 0.12}
"""The share of each kind's writers; the rest is for training."""
DRAWS = {1: 1187, 201: 2374, 321: 3561, 441: 4748, 561: 5935, 681: 7122, 801: 8309}
"""The seed of each draw, by the number of its first writer."""
LAST_HELD_BACK = 120
"""Days of writers behind this one, of later draws, are all for training."""


def draw(seed: int) -> list[dict[str, object]]:
    """All cards of a draw, with their part, in the order of the writers' numbers."""
    table = tomllib.loads(Path(__file__).with_name("cards.toml").read_text(encoding="utf-8"))
    dice = random.Random(seed)
    cards: list[dict[str, object]] = []
    for kind, count in table["kinds"].items():
        parts = [part for part, share in PARTS.items() for _ in range(max(1, round(count * share)))]
        parts += ["train"] * (count - len(parts))
        dice.shuffle(parts)
        for part in parts:
            card: dict[str, object] = {"kind": kind, "part": part}
            for name, rows in table["draw"].items():
                card[name] = dice.sample(rows, 5) if name in ("site", "trouble") else dice.choice(rows)
            if kind in table["from"]:
                card["region"] = dice.choice(table["from"][kind])
            cards.append(card)
    dice.shuffle(cards)
    return cards


def main() -> None:
    folder = Path(sys.argv[1])
    folder.mkdir(parents=True, exist_ok=True)
    parts = {}
    cards = [(first + i, card) for first, seed in DRAWS.items() for i, card in enumerate(draw(seed))]
    for number, card in cards:
        name, part = f"{number:03d}", card.pop("part")
        parts[name] = part if number <= LAST_HELD_BACK else "train"
        rows = [f"- {key}: {'; '.join(value) if isinstance(value, list) else value}" for key, value in card.items()]
        (folder / f"{name}.md").write_text("\n".join([f"# Writer {name}", *rows]) + "\n", encoding="utf-8")
    (folder / "parts.json").write_text(json.dumps(parts), encoding="utf-8")


if __name__ == "__main__":
    main()
