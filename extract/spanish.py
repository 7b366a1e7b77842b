"""A note told in Spanish in the English that the reading knows: words by a glossary, numbers as digits. Pure.

The numbers are rendered one for one and none is worked out, so that what was said can be held against what was read.
"""

from __future__ import annotations

import re
import tomllib
import unicodedata
from collections.abc import Sequence
from functools import cache
from importlib import resources
from itertools import combinations
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from extract.record import Word

_NUMBER = r"\d+(?:\.\d+)?"
_THOUSANDS = re.compile(r"(?<=\d),(?=\d{3}\b)")
_DECIMAL_COMMA = re.compile(r"(?<=\d),(?=\d{1,2}\b)")
_WORD = re.compile(r"[^\W\d_]+(?:-[^\W\d_]+)*|\d+(?:\.\d+)?|[^\s\w]")
_SPACED = re.compile(r" (?=[.,;:?!)])|(?<=\() ")
_PAUSE = re.compile(r"[.,;:?!]+(?=\s|$)")
_EDGES = " .,;:?!¿¡"


def english(text: str) -> str:
    """`text` in English, in small letters; a word that the glossary lacks stays as it was said."""
    said = _phrases().sub(lambda match: _glossary()[match[0]], in_digits(text))
    for turned, to in _turns():
        said = turned.sub(to, said)
    return _SPACED.sub("", said)


def part_said(said: str, meant: str) -> str | None:
    """The part of what was `said`, from one pause to another, whose English is `meant`; None where none is."""
    pauses = [0, *(match.end() for match in _PAUSE.finditer(said)), len(said)]
    wanted = meant.lower().strip(_EDGES)
    for start, end in combinations(pauses, 2):
        part = said[start:end].strip(_EDGES)
        if part and english(part).lower().strip(_EDGES) == wanted:
            return part
    return None


def english_words(words: Sequence[Word]) -> list[Word]:
    """The words heard, each in English; those of one number ("noventa y seis") are one, as sure as the least sure."""
    bare = [" ".join(re.findall(r"\w+", _bare(word.text))) for word in words]
    spans = [match.span() for match in _number_said().finditer(" ".join(bare))]
    groups: list[list[Word]] = []
    at = 0
    for word, letters in zip(words, bare, strict=True):
        goes_on = any(low < at < high for low, high in spans)
        groups[-1:] = [[*groups[-1], word]] if goes_on else [*groups[-1:], [word]]
        at += len(letters) + 1
    return [_as_one(group) for group in groups]


def _as_one(group: Sequence[Word]) -> Word:
    from extract.record import Word

    return Word(
        text=english(" ".join(word.text for word in group)),
        start_s=group[0].start_s,
        end_s=group[-1].end_s,
        confidence=min(word.confidence for word in group),
    )


def known(word: str) -> bool:
    """Whether `word` is of the crew's Spanish."""
    return not set(in_digits(word).split()).isdisjoint(_vocabulary())


def in_digits(text: str) -> str:
    """The words with a space between, in small letters without accents, and numbers in digits."""
    return _spelled().sub(_value, " ".join(_WORD.findall(_bare(text))))


def _bare(text: str) -> str:
    points = _DECIMAL_COMMA.sub(".", _THOUSANDS.sub("", text.lower()))
    return "".join(each for each in unicodedata.normalize("NFD", points) if not unicodedata.combining(each))


def _value(match: re.Match[str]) -> str:
    first, mil, rest = match[0].partition("mil")
    return str(1000 * (_sum(first) or 1) + _sum(rest) if mil else _sum(first))


def _sum(words: str) -> int:
    return sum(int(_values().get(word, word)) for word in words.split() if word != "y")


@cache
def _spelled() -> re.Pattern[str]:
    """A number in words: hundreds, then tens "y" a unit, or what is said in one word; "un" alone may be an article.
    Then thousands of them.
    """
    values = _values()

    def any_of(*numbers: int) -> str:
        return "(?:" + "|".join(word for word, value in values.items() if value in numbers) + ")"

    tens = f"{any_of(*range(20, 100, 10))} y {any_of(*range(1, 10))}"
    below = f"(?:{tens}|(?!una?\\b){any_of(*range(100))})"
    hundreds = f"(?:{any_of(*range(100, 1000, 100))}(?: {below})?|{below})"
    return re.compile(rf"\b(?:(?:(?:{hundreds}|\d+) )?mil(?: (?:{hundreds}|\d{{1,3}}))?|{hundreds})\b")


@cache
def _number_said() -> re.Pattern[str]:
    spelled = _spelled().pattern
    return re.compile(rf"{spelled}(?: (?:punto|coma)(?: cero)? {spelled})?")


@cache
def _table() -> dict[str, Any]:
    return tomllib.loads(resources.files("extract").joinpath("spanish.toml").read_text(encoding="utf-8"))


@cache
def _values() -> dict[str, int]:
    return {word: int(value) for value, words in _table()["numbers"].items() for word in words.split("|")}


@cache
def _glossary() -> dict[str, str]:
    """English under each phrase, as in_digits writes it."""
    return {in_digits(said): meant for meant, phrases in _table()["phrases"].items() for said in phrases.split("|")}


@cache
def _phrases() -> re.Pattern[str]:
    longest_first = sorted(map(re.escape, _glossary()), key=len, reverse=True)
    return re.compile(rf"(?<![\w.])(?:{'|'.join(longest_first)})(?!\w)")


@cache
def _turns() -> list[tuple[re.Pattern[str], str]]:
    """What stands the other way round in English; `N` in the table is a number."""
    return [(re.compile(re.sub(r"\bN\b", lambda _: _NUMBER, row["from"])), row["to"]) for row in _table()["turns"]]


@cache
def _vocabulary() -> frozenset[str]:
    return frozenset(word for phrase in _glossary() for word in phrase.split())
