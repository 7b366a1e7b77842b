"""Questions to the book in Spanish: of which kind one is, and which thing it names. Words: answering_es.toml. Pure.

Spanish asks in the words in which it tells ("ya se puede tapar el dos"), and is typed and heard without accents. So a
note asks only where a mark says so, or where it holds nothing else than the question.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from functools import cache
from typing import NamedTuple

from extract.spanish import in_digits
from logger.wording import table

ENDS = frozenset(".!;:?")
BARE = re.compile(r"\b(?:el|la|del|al|numero) (\d+)\b")
"""A number that names a thing: "el dos"."""


class Clause(NamedTuple):
    """A stretch of a note between two ends of sentences; without accents, numbers as digits."""

    words: tuple[str, ...]
    marked: bool
    """It stands between ¿ and ?, or at least before one."""


class Phrase(NamedTuple):
    kind: str
    words: tuple[str, ...]
    vague: bool
    """It asks between marks alone."""


class Named(NamedTuple):
    """What a question names."""

    label: str | None
    """None where the book has no such thing, or several."""
    number: bool
    """Whether it was said which one."""


def kind_of(words: str) -> str | None:
    """Which kind of question the words are; None where they are none."""
    clauses = list(_clauses(words))
    asked = [each for each in clauses if each.marked or len(clauses) == 1]
    return next((phrase.kind for each in asked for phrase in _phrases() if _asks(each, phrase)), None)


def named(labels: Sequence[str], words: str, by_number: Sequence[str] = ()) -> Named | None:
    """The thing that the words name: by kind and number, by a number alone, or as the only one of its kind; None where
    they name none. `by_number` are the labels that a number alone may mean."""
    said = _without_sides(in_digits(words))
    mentions = [(each["kind"], each["number"] or _ordinals().get(each["ordinal"])) for each in _thing().finditer(said)]
    for kind, number in mentions:
        if number is not None:
            wanted = [f"{letters}-{number}" for letters in _named()[kind]]
            return Named(next((each for each in wanted if each in labels), None), number=True)
    if alone := BARE.search(said):
        known = [each for each in by_number if each.endswith(f"-{alone[1]}")]
        return Named(known[0] if len(known) == 1 else None, number=True)
    for kind, _ in mentions[:1]:
        known = [each for each in labels if each.rpartition("-")[0] in _named()[kind]]
        return Named(known[0] if len(known) == 1 else None, number=False)
    return None


def _clauses(words: str) -> Iterator[Clause]:
    said: list[str] = []
    opened = False
    for token in [*in_digits(words).split(), "."]:
        if token[0].isalnum():
            said.append(token)
        elif token in ENDS or token == "¿":
            if said:
                yield Clause(tuple(said), opened or token == "?")
            said, opened = [], token == "¿"


def _asks(clause: Clause, phrase: Phrase) -> bool:
    size = len(phrase.words)
    at = next((i for i in range(len(clause.words)) if clause.words[i : i + size] == phrase.words), None)
    if at is None or (phrase.vague and not clause.marked):
        return False
    before, after = clause.words[:at], clause.words[at + size :]
    named = _may_follow(phrase.kind)
    starts = all(each in _may_lead() or (clause.marked and (each in named or each.isdigit())) for each in before)
    ends = all(each in named or each.isdigit() for each in after)
    return starts and (ends or (clause.marked and not phrase.vague))


def _without_sides(said: str) -> str:
    """A field's name may hold a thing's: "el fondo de salida" is of no outlet."""
    for name in table("es")["fields"]:
        if " " in name:
            said = said.replace(name, "")
    return said


@cache
def _phrases() -> list[Phrase]:
    sections = [("kinds", False), ("between_marks", True)]
    return [
        Phrase(kind, tuple(in_digits(each).split()), vague)
        for section, vague in sections
        for kind, phrases in table("es")[section].items()
        for each in phrases
    ]


@cache
def _may_lead() -> frozenset[str]:
    return frozenset(table("es")["beside"]["before"].split())


@cache
def _may_follow(kind: str) -> frozenset[str]:
    beside = table("es")["beside"]
    words = [beside["after"], beside.get(kind, ""), *_named(), *(f"{each}s" for each in _named()), *_ordinals()]
    fields = [*table("es")["fields"], *table("es")["last"]] if kind == "value" else []
    return frozenset(in_digits(" ".join([*words, *fields])).split())


@cache
def _named() -> dict[str, list[str]]:
    """The letters of the labels that each word for a thing may mean."""
    return {in_digits(name): letters for name, letters in table("es")["named"].items()}


@cache
def _ordinals() -> dict[str, int]:
    ordinals: dict[str, int] = table("es")["ordinals"]
    return ordinals


@cache
def _thing() -> re.Pattern[str]:
    kinds, ordinals = ("|".join(sorted(each, key=len, reverse=True)) for each in (_named(), _ordinals()))
    return re.compile(rf"\b(?:(?P<ordinal>{ordinals}) )?(?P<kind>{kinds})(?:(?:s|es)?(?: numero)? (?P<number>\d+))?\b")
