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
BREAK = "\n"
"""Stands between texts that are looked through together; no phrase holds it."""


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
            for phrase in [*phrases, *_without_apostrophes(category, phrases)]:
                words = normalise(phrase)
                name = " ".join(words)
                # The first meaning in the file wins; a cleanout is a structure before it is a fitting.
                if name not in matcher:
                    matcher.add(name, [Doc(vocab, words=list(map(str, words)))])
                    meanings[vocab.strings[name]] = (category, value)
    return vocab, matcher, meanings


def _without_apostrophes(category: str, phrases: Sequence[str]) -> list[str]:
    """How phrases of talk are typed in a hurry: "dont quote me"."""
    return [each.replace("'", "") for each in phrases if category in TYPED_IN_A_HURRY and "'" in each and " " in each]


def find_terms(tokens: Sequence[str]) -> list[Term]:
    """The trade words among normalised tokens, left to right; of two that overlap the longer stands."""
    return find_terms_of_each([tokens])[0]


def find_terms_of_each(texts: Sequence[Sequence[str]]) -> list[list[Term]]:
    """The trade words of several texts, as `find_terms` gives them; one look at all costs less than one at each."""
    from spacy.tokens import Doc

    vocab, matcher, meanings = _matcher()
    words = [str(word) for tokens in texts for word in (*tokens, BREAK)]  # spaCy takes no subclass of str
    matches: list[Any] = matcher(Doc(vocab, words=words))
    matches.sort(key=lambda match: (match[1] - match[2], match[1]))
    taken, stands = bytearray(len(words)), []
    for key, start, end in matches:
        if not any(taken[start:end]):
            taken[start:end] = bytes([1]) * (end - start)
            stands.append((start, end, key))
    stands.sort(reverse=True)
    found, low = [], 0
    for tokens in texts:
        terms, high = [], low + len(tokens)
        while stands and stands[-1][0] < high:
            start, end, key = stands.pop()
            terms.append(Term(*meanings[key], start - low, end - low))
        found.append(terms)
        low = high + 1
    return found
