"""The trade's words, loaded from lexicon.toml, and found in tokens by a spaCy phrase matcher."""

from __future__ import annotations

import tomllib
from collections.abc import Sequence
from functools import lru_cache
from importlib.resources import files
from typing import TYPE_CHECKING, Any, NamedTuple

from extract.spelling import normalise

if TYPE_CHECKING:
    from spacy.matcher import PhraseMatcher
    from spacy.vocab import Vocab

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


@lru_cache(maxsize=1)
def load() -> dict[str, dict[str, list[str]]]:
    """The lexicon: category -> canonical value -> what people say."""
    return tomllib.loads(files("extract").joinpath("lexicon.toml").read_text(encoding="utf-8"))


@lru_cache(maxsize=1)
def _matcher() -> tuple[Vocab, PhraseMatcher, dict[int, tuple[str, str]]]:
    # spaCy costs most of the start-up; it is loaded when the first note is read. A bare vocabulary is enough to match
    # words that were split already.
    from spacy.matcher import PhraseMatcher
    from spacy.tokens import Doc
    from spacy.vocab import Vocab

    vocab = Vocab()
    matcher = PhraseMatcher(vocab)
    meanings: dict[int, tuple[str, str]] = {}
    for category, values in load().items():
        for value, phrases in values.items():
            for phrase in phrases:
                words = normalise(phrase)
                name = " ".join(words)
                # The first meaning in the file wins; a cleanout is a structure before it is a fitting.
                if name not in matcher:
                    matcher.add(name, [Doc(vocab, words=words)])
                    meanings[vocab.strings[name]] = (category, value)
    return vocab, matcher, meanings


def find_terms(tokens: Sequence[str]) -> list[Term]:
    """The trade words among normalised tokens, left to right; of two that overlap the longer stands."""
    if not tokens:
        return []
    from spacy.tokens import Doc

    vocab, matcher, meanings = _matcher()
    matches: list[Any] = matcher(Doc(vocab, words=list(tokens)))
    matches.sort(key=lambda match: (match[1] - match[2], match[1]))
    taken, terms = 0, []
    for key, start, end in matches:
        span = (1 << end) - (1 << start)
        if not taken & span:
            taken |= span
            terms.append(Term(*meanings[key], start, end))
    terms.sort(key=lambda term: term.start)
    return terms
