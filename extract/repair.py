"""Puts misheard trade words right: a table of known mishearings with their context, then words that sound like ours."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cache
from importlib import resources
from typing import Any

NEAR = 10
"""How many words away a word still counts as near."""

CLOSE = 0.85
"""Least Jaro-Winkler likeness of a sound-alike to the trade word it stands for."""

SHORTEST = 5
"""Letters; a shorter word sounds like too many others."""

LONGEST = 20

EDGE = "."
"""The context word for a sentence's start or end."""

NUMBER = "#"
"""The context word for any number in digits."""

_TOKEN = re.compile(r"[A-Za-z]+(?:['’][A-Za-z]+)?|\d+(?:\.\d+)?|[.!?]")


@dataclass(frozen=True)
class _Token:
    word: str
    """Lower case; EDGE for a sentence's end."""
    start: int
    end: int


@dataclass(frozen=True)
class _Rule:
    """One mishearing: the words heard, what they mean, and the company they must keep (any, where a set is empty)."""

    heard: tuple[str, ...]
    meant: str
    prev: frozenset[str]
    next: frozenset[str]
    near: frozenset[str]


def repair(text: str) -> str:
    """`text` with misheard trade words put right; text with nothing misheard comes back as it is.

    A number changes only where the table says what it must have been ("8-inch per foot" is an eighth).
    """
    return _unglued("".join(_repaired(_unglued(text))))


def _unglued(text: str) -> str:
    for pattern, meant in _glued():
        text = pattern.sub(meant, text)
    return text


def _repaired(text: str) -> Iterator[str]:
    tokens = [_Token(match[0].lower().replace("’", "'"), *match.span()) for match in _TOKEN.finditer(text)]
    tokens = [_Token(EDGE, token.start, token.end) if token.word in ".!?" else token for token in tokens]
    words = [token.word for token in tokens]
    at, done = 0, 0
    while at < len(tokens):
        width, meant = _reading(words, at)
        if width:
            heard = text[tokens[at].start : tokens[at + width - 1].end]
            yield text[done : tokens[at].start]
            yield _cased(meant, heard) if at == 0 or words[at - 1] == EDGE else meant
            done = tokens[at + width - 1].end
        at += width or 1
    yield text[done:]


def _reading(words: Sequence[str], at: int) -> tuple[int, str]:
    """How many words from `at` on were misheard, and what they meant; (0, "") where they stand."""
    for rule in _rules().get(words[at], ()):
        width = len(rule.heard)
        if tuple(words[at : at + width]) == rule.heard and _fits(rule, words, at):
            return width, rule.meant
    meant = _sound_alike(words[at])
    return (1, meant) if meant else (0, "")


def _fits(rule: _Rule, words: Sequence[str], at: int) -> bool:
    end = at + len(rule.heard)
    before = words[at - 1] if at else EDGE
    after = words[end] if end < len(words) else EDGE
    return (
        (not rule.prev or before in rule.prev)
        and (not rule.next or after in rule.next or (NUMBER in rule.next and after[0].isdigit()))
        and (not rule.near or not rule.near.isdisjoint([*words[max(0, at - NEAR) : at], *words[end : end + NEAR]]))
    )


def _cased(meant: str, heard: str) -> str:
    """`meant` as a sentence begins, unless what was heard there begins small."""
    return meant if heard[0].islower() else meant[0].upper() + meant[1:]


@cache
def _table() -> dict[str, Any]:
    return tomllib.loads(resources.files("extract").joinpath("repair.toml").read_text(encoding="utf-8"))


@cache
def _glued() -> list[tuple[re.Pattern[str], str]]:
    rows = [(row["heard"], row["meant"]) for row in _table()["glued"]]
    return [(re.compile(heard, re.IGNORECASE), meant) for heard, meant in [*rows, *_labels()]]


def _labels() -> Iterator[tuple[str, str]]:
    """The number behind what is numbered, heard as another word: "basin to," and "run for is"."""
    table = _table()["label"]
    nouns, after = table["nouns"].replace(" ", "|"), table["after"].replace(" ", "|")
    for meant, said in table["always"].items():
        yield rf"\b(run|{nouns}),?[ -](?:{said.replace(' ', '|')})\b(?! of\b)", rf"\1 {meant}"
    for meant, said in table["before"].items():
        yield rf"\b({nouns}),?[ -](?:{said.replace(' ', '|')})(?=[,.;!?]|$| (?:{after})\b)", rf"\1 {meant}"


@cache
def _rules() -> dict[str, list[_Rule]]:
    """Every rule under its first word, longer phrases first."""
    rules: dict[str, list[_Rule]] = {}
    for row in _table()["mishearing"]:
        prev, after, near = (frozenset(_opened(row.get(key, []))) for key in ("prev", "next", "near"))
        for phrase in row["heard"]:
            heard = tuple(match[0].lower() for match in _TOKEN.finditer(phrase))
            rules.setdefault(heard[0], []).append(_Rule(heard, row["meant"], prev, after, near))
    for group in rules.values():
        group.sort(key=lambda rule: -len(rule.heard))
    return rules


def _opened(words: Sequence[str]) -> Iterator[str]:
    """The words, with the name of a group ("@count") opened into its words."""
    for word in words:
        yield from _table()["group"][word[1:]].split() if word.startswith("@") else [word]


@cache
def _terms() -> dict[str, list[str]]:
    """The trade's words under the sound of each."""
    import jellyfish

    terms: dict[str, list[str]] = {}
    for term in _table()["sound_alike"]["terms"].split():
        terms.setdefault(jellyfish.metaphone(term), []).append(term)
    return terms


@cache
def _ordinary() -> frozenset[str]:
    table = _table()["sound_alike"]
    return frozenset(f"{table['ordinary']} {table['terms']}".split())


def _sound_alike(word: str) -> str | None:
    """The trade word that `word`, itself no ordinary word, sounds like."""
    if not SHORTEST <= len(word) <= LONGEST or not word.isalpha() or word in _ordinary():
        return None
    import jellyfish

    close = [term for term in _terms().get(jellyfish.metaphone(word), []) if _likeness(word, term) >= CLOSE]
    return max(close, key=lambda term: _likeness(word, term), default=None)


def _likeness(word: str, term: str) -> float:
    import jellyfish

    return float(jellyfish.jaro_winkler_similarity(word, term))
