"""A grid of phrases made from tests/extract/phrases.toml: each way of saying a number with each unit, and its value."""

from __future__ import annotations

import tomllib
from collections.abc import Iterator
from itertools import product
from pathlib import Path
from typing import Any, NamedTuple

from num2words import num2words

TABLE: dict[str, Any] = tomllib.loads(
    Path(__file__).parent.joinpath("extract", "phrases.toml").read_text(encoding="utf-8")
)


class Phrase(NamedTuple):
    """What is said, the production it is of, and the value and unit that it is kept in."""

    say: str
    production: str
    value: float
    unit: str


def phrases() -> list[Phrase]:
    """Every phrase of the grid, none twice."""
    return list({each.say: each for each in [*_simple(), *_compound()]}.values())


def _simple() -> Iterator[Phrase]:
    """Each number with each unit."""
    for number, unit in product(TABLE["number"], TABLE["unit"].values()):
        for whole in TABLE["wholes"]:
            said = number["say"].format(w=_words(whole), d=whole)
            value = (number.get("times", 1) * whole + number.get("add", 0)) * unit["size"]
            words = unit.get("one", []) if number.get("one") else unit["words"]
            signs = unit.get("signs", []) if said[-1].isdigit() else []
            for end in [*(f" {word}" for word in words), *signs]:
                yield Phrase(_with_an(said + end), number["production"], value, unit["in"])


def _compound() -> Iterator[Phrase]:
    """Measures of two and more parts."""
    for row in TABLE["compound"]:
        for say, a, b in product(row["say"], row.get("a", [0]), row.get("b", [0])):
            value = row.get("per_a", 0) * a + row.get("per_b", 0) * b + row.get("add", 0)
            value += row["quotient"] * a / b if "quotient" in row else 0
            yield Phrase(say.format(a=_words(a), b=_words(b), A=a, B=b), row["production"], value, row["in"])


def _words(number: int) -> str:
    return num2words(number).replace(",", "")


def _with_an(said: str) -> str:
    return said.replace(" a inch", " an inch").replace(" a hour", " an hour")
