"""The name of what a run crosses, cut out of the words around it. The words that help: crossings.toml."""

from __future__ import annotations

import re
import tomllib
from functools import lru_cache
from importlib.resources import files
from typing import Any

UNNAMED = "unnamed"
"""What the record has where nobody said a name."""
CUT = ";"
"""In the place of words that are no part of a name."""
CLAUSE = re.compile(r"[.!?](?:\s|$)")


def name_in(words: str) -> str | None:
    """The first name in those words: "gas line" in "Gas line crosses"; None where there is none."""
    return next(filter(None, map(_bare, _cuts().split(words))), None)


def name_around(text: str, at: int) -> str | None:
    """The name beside the verb of the clause in which that character stands: before it, else behind it."""
    start = max((found.end() for found in CLAUSE.finditer(text, 0, at)), default=0)
    end = CLAUSE.search(text, at)
    clause = text[start : end.start() if end else len(text)]
    verb = _verb().search(clause)
    if verb is None:
        return None
    before = filter(None, map(_bare, reversed(_cuts().split(clause[: verb.start()]))))
    return next(before, None) or name_in(clause[verb.end() :])


def same_name(one: str, other: str) -> bool:
    """Whether both name one thing, one in more words than the other; what has no name is the same as nothing."""
    a, b = set(one.casefold().split()), set(other.casefold().split())
    return UNNAMED not in a | b and (a <= b or b <= a)


def spoken(what: str) -> str:
    """The name as a document has it; of what nobody named, that."""
    return str(_table()["unnamed"]["words"]) if what == UNNAMED else what


def _bare(words: str) -> str | None:
    """The words without those that only stand beside a name."""
    said = [each for word in words.split() if (each := word.strip("\"'“”"))]
    before, behind = _words("before"), _words("behind")
    while said and said[0].lower() in before:
        said = said[1:]
    while said and said[-1].lower() in behind:
        said = said[:-1]
    plain = " ".join(said)
    return plain if any(each.isalpha() for each in plain) else None


@lru_cache(maxsize=1)
def _table() -> dict[str, Any]:
    return tomllib.loads(files("extract").joinpath("crossings.toml").read_text(encoding="utf-8"))


@lru_cache(maxsize=2)
def _words(name: str) -> frozenset[str]:
    return frozenset(_table()["beside"][name].split())


@lru_cache(maxsize=1)
def _verb() -> re.Pattern[str]:
    alone, moving, ways = ("|".join(_table()["between"][name]) for name in ("alone", "moving", "ways"))
    return re.compile(rf"\b(?:(?:{alone})\b(?:\s+(?:{ways})\b)?|(?:{moving})\s+(?:{ways})\b)", re.IGNORECASE)


@lru_cache(maxsize=1)
def _cuts() -> re.Pattern[str]:
    ends = "|".join(_table()["ends"]["words"].split())
    return re.compile(rf"[,;:()!?—]|\.(?:\s|$)|\b(?:{ends})\b|{_verb().pattern}", re.IGNORECASE)
