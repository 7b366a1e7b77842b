"""The same facts said as they come and as the crew is told to say them, by voice and noise: `make bench-talk`.

It prints how often the fact came out right, was asked about, or was wrong or lost with nobody asked. What does not come
out when typed says nothing of the ear, so each line is read as typed first.
"""

from __future__ import annotations

import tomllib
from collections import Counter
from pathlib import Path
from typing import Any

from hear_talk import VOICES, spoken, written
from noises import NOISES, in_a_room, mixed
from scoring import asks_about, facts

from extract.assemble import assemble
from extract.notes import parse_log
from extract.record import Note
from logger.speech import hear

WAYS = {"as_it_comes": "as it comes", "as_told": "as the crew is told"}
LEVELS_DB = (None, 10)


def main() -> None:
    said = tomllib.loads(Path(__file__).with_suffix(".toml").read_text())["fact"]
    counted = {(way, level): Counter[str]() for way in WAYS for level in LEVELS_DB}
    for way in WAYS:
        typed = Counter(_came_out(fact, [Note(text=fact[way])]) for fact in said)
        print(f"{WAYS[way]:20} typed     {_line(typed, len(said))}")
        for level in LEVELS_DB:
            for voice in VOICES.values():
                for number, fact in enumerate(said):
                    sound, _ = spoken([Note(text=fact[way])], voice)
                    path = written(mixed(in_a_room(sound), NOISES[number % len(NOISES)], level))
                    counted[way, level][_came_out(fact, hear(path))] += 1
                    path.unlink()
            where = "clean" if level is None else f"{level} dB"
            print(f"{WAYS[way]:20} {where:9} {_line(counted[way, level], len(said) * len(VOICES))}", flush=True)


def _came_out(fact: dict[str, Any], heard: list[Note]) -> str:
    """`right`, `asked` (not right, and there is a question about words heard for it), `wrong` or `lost`."""
    before = parse_log(fact["before"])
    record = assemble([*before, *heard]).as_json()
    label, name, value = fact["fact"]
    found = [float(said) for about, field, said in facts(record) if (about, field) == (label, name)]
    if any(abs(said - value) < 0.001 for said in found):
        return "right"
    asked = {(question["about"], question.get("field")) for question in record["questions"] if question.get("heard")}
    if asked & asks_about(label, name):
        return "asked"
    return "wrong" if found else "lost"


def _line(counted: Counter[str], whole: int) -> str:
    rest = ", ".join(f"{word} {counted[word]}" for word in ("asked", "wrong", "lost"))
    return f"right {counted['right']} of {whole}, {rest}"


if __name__ == "__main__":
    main()
