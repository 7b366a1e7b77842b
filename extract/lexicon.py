"""The trade's words, loaded from lexicon.toml, and found in tokens."""

from __future__ import annotations

import tomllib
from collections.abc import Sequence
from functools import lru_cache
from importlib.resources import files
from typing import NamedTuple

from extract.record import Surface
from extract.spelling import normalise

PREFIX = {
    "channel_drain": "CD",
    "catch_basin": "CB",
    "area_drain": "AD",
    "downspout": "DS",
    "cleanout": "CO",
    "junction_box": "JB",
    "dry_well": "DW",
    "popup_outlet": "OUT",
    "daylight_outlet": "OUT",
    "curb_outlet": "OUT",
    "outlet": "OUT",
}
"""Label prefix of each structure kind, as people number them."""


class Term(NamedTuple):
    """One trade word or phrase over the tokens [start, end)."""

    category: str
    value: str
    start: int
    end: int


TYPED_IN_A_HURRY = ("hedge", "taken_back")


@lru_cache(maxsize=1)
def load() -> dict[str, dict[str, list[str]]]:
    """The lexicon: category -> canonical value -> what people say."""
    return tomllib.loads(files("extract").joinpath("lexicon.toml").read_text(encoding="utf-8"))


@lru_cache(maxsize=1)
def surfaces() -> dict[str, Surface]:
    """Every word for a surface, with what the record calls it."""
    return {word: surface for surface, words in load()["surface"].items() for word in words}  # type: ignore[misc]


@lru_cache(maxsize=1)
def _phrases() -> dict[str, list[tuple[list[str], str, str]]]:
    """Every phrase of the lexicon by its first word: its words, category and value."""
    found: dict[str, list[tuple[list[str], str, str]]] = {}
    known = set()
    for category, values in load().items():
        for value, phrases in values.items():
            for phrase in [*phrases, *_without_apostrophes(category, phrases)]:
                words = list(map(str, normalise(phrase)))
                # The first meaning in the file wins; a cleanout is a structure before it is a fitting.
                if tuple(words) not in known:
                    known.add(tuple(words))
                    found.setdefault(words[0], []).append((words, category, value))
    return found


def _without_apostrophes(category: str, phrases: Sequence[str]) -> list[str]:
    """How phrases of talk are typed in a hurry: "dont quote me"."""
    return [each.replace("'", "") for each in phrases if category in TYPED_IN_A_HURRY and "'" in each and " " in each]


def find_terms(tokens: Sequence[str]) -> list[Term]:
    """The trade words among normalised tokens, left to right; of two that overlap the longer stands."""
    # Whole words looked up by hand: a phrase matcher of a language library does the same, at half a second of imports,
    # for which whoever says one note has to wait.
    known, words = _phrases(), list(tokens)
    matches = [
        Term(category, value, start, start + len(phrase))
        for start, word in enumerate(words)
        for phrase, category, value in known.get(word, ())
        if words[start : start + len(phrase)] == phrase
    ]
    matches.sort(key=lambda term: (term.start - term.end, term.start))
    taken, stands = bytearray(len(words)), []
    for term in matches:
        if not any(taken[term.start : term.end]):
            taken[term.start : term.end] = bytes([1]) * (term.end - term.start)
            stands.append(term)
    return sorted(stands, key=lambda term: term.start)
