"""Whether a note says plainly what it says, so that nothing in it can be a guess, a plan, a question or a denial."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterator
from functools import cache, lru_cache
from importlib.resources import files
from itertools import pairwise
from typing import Any, Literal

from extract.lexicon import load
from extract.text.grammar import TABLE

WORD = re.compile(r"[^\W\d_½¼¾⅛⅜⅝⅞⅓⅔]+(?:['’-][^\W\d_½¼¾⅛⅜⅝⅞⅓⅔]+)*")
UNCLEAR = re.compile(r"[?()\[\]~<>±]|\d-\d(?!\d*/)|[^\d\s]\s*/|/\s*[^\d\s]")
"""Signs of a question, of an aside, of a guess, and of a range or of figures that run into one another."""
Said = Literal[
    "later", "levels", "tests", "fall", "others", "bought", "wrong", "false", "not_wrong", "figure", "mended", "slip",
    "turns",
]  # fmt: skip
OF_THINGS = ("structure", "pipe", "fitting")
"""The lists of the lexicon that name things."""


def is_plain(text: str) -> bool:
    """Whether all words of a note are plain ones, and it is no question."""
    plain, doubtful, named = _words()
    found = (word.lower().replace("’", "'") for word in WORD.findall(named.sub(" ", text)))
    words = [part for word in found for part in ([word] if word in plain else re.split("-|'s$", word)) if part]
    if not words or UNCLEAR.search(text):
        return False
    return all(word in plain for word in words) and doubtful.isdisjoint(pairwise(words))


def is_caption(text: str) -> bool:
    """Whether a note says what a photo shows that is being taken, and not one that is yet to be taken."""
    found = re.match(rf"\W*(?:an?\s|una\s)?(?:{'|'.join(_own()['photo'])})\b", text, re.IGNORECASE)
    return found is not None and not says("later", text)


def tells_it_is_wrong(between: str) -> bool:
    """Whether the words between two figures say that the first is wrong and the second holds, and nothing else."""
    if not says("wrong", between) or says("not_wrong", between):
        return False
    rest = _one_of("beside_wrong").sub(" ", _one_of("wrong").sub(" ", between.lower()))
    return not rest.strip(" ,;:-'’")


def tells_it_is_false(behind: str) -> bool:
    """Whether the words behind a figure, to the end of its sentence, say that it was wrong."""
    return says("false", behind) and not says("not_wrong", behind)


def says(what: Said, text: str) -> bool:
    """Whether a text has one of the words of a list of plain.toml, which says there what they tell."""
    return _one_of(what).search(text) is not None


@cache
def _one_of(name: str) -> re.Pattern[str]:
    return re.compile(rf"\b(?:{'|'.join(map(re.escape, _own()[name]))})\b", re.IGNORECASE)


@lru_cache(maxsize=1)
def _own() -> dict[str, Any]:
    return tomllib.loads(files("extract.read").joinpath("plain.toml").read_text(encoding="utf-8"))


@lru_cache(maxsize=1)
def _words() -> tuple[frozenset[str], frozenset[tuple[str, ...]], re.Pattern[str]]:
    """The plain words, the pairs of them that are not, and the names of several words, of which one alone may mean
    another thing."""
    own = _own()
    names = [*_strings([load()[name] for name in OF_THINGS]), *own["no_orders"]]
    said = [own["words"], *(name for name in names if " " not in name)]
    said += [word for words in TABLE["words"].values() for word in words]
    said += [row["words"] for row in TABLE["units"].values()]
    words = frozenset(" ".join(said).lower().split()) - set(own["orders"])
    whole = sorted((re.escape(name).replace(r"\ ", "[ -]") for name in names if " " in name), key=len, reverse=True)
    named = re.compile(rf"\b(?:{'|'.join(whole)})s?\b", re.IGNORECASE)
    return words, frozenset(tuple(pair.split()) for pair in own["no_fact"]), named


def _strings(value: object) -> Iterator[str]:
    if isinstance(value, str):
        yield value
    for each in value.values() if isinstance(value, dict) else value if isinstance(value, list) else ():
        yield from _strings(each)
