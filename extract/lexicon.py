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
def _matcher() -> tuple[Vocab, PhraseMatcher, dict[tuple[str, ...], tuple[str, str]]]:
    # spaCy costs most of the start-up; it is loaded when the first note is read. A bare vocabulary is enough to match
    # words that were split already.
    from spacy.matcher import PhraseMatcher
    from spacy.tokens import Doc
    from spacy.vocab import Vocab

    vocab = Vocab()
    matcher = PhraseMatcher(vocab)
    meanings: dict[tuple[str, ...], tuple[str, str]] = {}
    for category, values in load().items():
        for value, phrases in values.items():
            for phrase in phrases:
                words = tuple(normalise(phrase))
                # The first meaning in the file wins; a cleanout is a structure before it is a fitting.
                meanings.setdefault(words, (category, value))
    matcher.add("term", [Doc(vocab, words=list(words)) for words in meanings])
    return vocab, matcher, meanings


def find_terms(tokens: Sequence[str]) -> list[Term]:
    """The trade words among normalised tokens, left to right; of two that overlap the longer stands."""
    if not tokens:
        return []
    from spacy.tokens import Doc

    vocab, matcher, meanings = _matcher()
    matches: list[Any] = matcher(Doc(vocab, words=list(tokens)))
    spans = sorted({(start, end) for _, start, end in matches}, key=lambda span: (span[0] - span[1], span[0]))
    free = [True] * len(tokens)
    terms = []
    for start, end in spans:
        if all(free[start:end]):
            free[start:end] = [False] * (end - start)
            terms.append(Term(*meanings[tuple(tokens[start:end])], start, end))
    return sorted(terms, key=lambda term: term.start)
