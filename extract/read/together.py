"""What is named together, "runs one and two", "runs one through three", "all the pipe", and is told of at once."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cache
from importlib.resources import files
from typing import TYPE_CHECKING, Protocol

from extract.read.labels import OF_THINGS
from extract.read.plain import says
from extract.read.words import sentence_around
from extract.spelling import normalise
from extract.text.quantities import find_quantities

if TYPE_CHECKING:
    from extract.read.readings import Reading

SHARED = {"state", "nominal_in", "pipe", "size_in", "cover_in", "slope_pct", "bedding", "backfill", "traffic"}
"""What things that are named together may have alike."""
ADDS_UP = {"length_ft", "drop_in"}
"""What two runs have alike too, or in all: unless the figure is said to be each one's, all are asked about."""
LONGEST_ROW = 20
"""Things that one row may name."""
IN_DOUBT = 0.5
"""How sure a figure is at most that is of several things or of one."""


class Named(Protocol):
    """A thing that is known, by the scene or by the record in the making."""

    name: str
    number: int | None

    @property
    def prefix(self) -> str: ...


@dataclass(frozen=True)
class Group:
    """Things that are named together in a sentence."""

    names: tuple[str, ...]
    """By the scene's own names; none where the words fit no number of things."""
    plain: bool
    """Whether nothing in the sentence takes some of them out again."""


def told_of_all(text: str, readings: Sequence[Reading], things: Sequence[Named]) -> list[Reading]:
    """The readings, with each that is told of several things at once for every one of these; where a figure may be of
    several, but need not, it is in doubt. `things`: all that are known."""
    out: list[Reading] = []
    for one in readings:
        group = _group_of(text, one, readings, things) if one.thing else None
        alike = [each.thing for each in readings if each.what == one.what and group and each.thing in group.names]
        shared = group is not None and group.plain and _is_shared(text, one, alike)
        if group and one.quantity and _in_doubt(text, one, group, alike, shared):
            one = replace(one, sure=min(one.sure, IN_DOUBT))
        if group and shared:
            out += [replace(one, thing=name) for name in group.names if name not in alike]
        out.append(one)
    return out


def _in_doubt(text: str, one: Reading, group: Group, alike: Sequence[str], shared: bool) -> bool:
    """Whether a figure may be of others of the group than it is read of. `alike`: the things that figures of the same
    field are read of, in the order of these."""
    if len(set(alike)) > 1:  # "runs one and two are 30 and 40 feet"
        return list(alike) != [name for name in group.names if name in alike]
    low, high = sentence_around(text, one.start)
    sum_of_all = one.what in ADDS_UP and not _is_of_each(text, one)
    return not shared or sum_of_all or says("others", text[low:high])


def _is_of_each(text: str, one: Reading) -> bool:
    """Whether it is said of a figure that each has it: "40 feet each", "both measure 40 feet"."""
    if _words("apiece").match(text, one.end):
        return True
    low, _ = sentence_around(text, one.start)
    before = list(_words("apiece").finditer(text, low, one.start))
    between = text[before[-1].end() : one.start].lower().split() if before else ["?"]
    return all(word in _own()["measure"] for word in between)


def _is_shared(text: str, one: Reading, alike: Sequence[str]) -> bool:
    """Whether a value of one thing of a group is told of the others as well: no sum of all, and no figure of a list of
    as many."""
    low, high = sentence_around(text, one.start)
    adds_up = one.what in ADDS_UP and len(set(alike)) == 1 and not _words("sum").search(text, low, high)
    return one.what in SHARED or adds_up


def parts_of_name(text: str, start: int, end: int) -> list[tuple[int, int]]:
    """The names of a list or row that were read as one, characters [start, end): "runs one through three" names two,
    and "runs one and" ends in no name."""
    numbers = [(start + each.start, start + each.end) for each in normalise(text[start:end]) if find_quantities([each])]
    parts: list[tuple[int, int]] = []
    for low, high in numbers:
        gap = text[parts[-1][1] : low] if parts else ""
        if parts and not any(_gap(name).fullmatch(gap) for name in ("list", "row")):
            return [(start, end)]
        parts.append((low if parts else start, high))
    rest = text[parts[-1][1] : end] if parts else ""
    cut = not rest or any(_gap(name).fullmatch(rest) for name in ("list", "row"))
    return parts if cut and parts else [(start, end)]


def missing_in_row(text: str, one: Reading, readings: Sequence[Reading], things: Sequence[Named]) -> list[int]:
    """The numbers of a row that ends in a name, "runs one through four", which no known thing of its kind bears."""
    if one.what != "mention" or not one.number:
        return []
    named = [each for each in readings if each.what == "mention" and each.name == one.name]
    chain = next((chain for chain in _chains(text, named) if any(each is one for each in chain)), [one])
    known = {each.number for each in things if each.prefix == one.name}
    return [number for number in _row_before(text, one, chain) if number not in known]


def names_several(text: str, at: int) -> bool:
    """Whether words from `at` on speak of all or both of something."""
    return _words("all", "both").search(text, at) is not None


def _group_of(text: str, one: Reading, readings: Sequence[Reading], things: Sequence[Named]) -> Group | None:
    """What the reading is told of together with the thing that it speaks of, if with any."""
    if one.what not in SHARED | OF_THINGS:
        return None
    low, high = sentence_around(text, one.start)
    pipe = _all_pipe().search(text, low, one.start) if one.thing.startswith("R.") else None
    named = [each for each in readings if each.what == "mention" and low <= each.start < high]
    named = [each for each in named if not pipe or not pipe.start() < each.start < pipe.end()]
    here = [each for each in named if each.name == one.thing.split(".")[0]]
    plain = not _words("but").search(text, low, high)
    chain = _chain_beside(text, one, here)
    if chain:
        return _of_chain(text, one, chain, things, plain)
    before = [each for each in here if each.end <= one.start]
    if before and _words("all", "both").match(text, before[-1].start):
        last = before[-1]
        alone = len(named) == 1 and bool(_words("plural", "verb").match(text, last.end))
        names = _all_of(text[last.start : last.end], last.name, things)
        return Group(names, plain and alone and bool(names))
    them = _of_them().search(text, low, one.start)
    if them and not here:
        names = _all_of(them[0], one.thing.split(".")[0], things)
        return Group(names, plain and not named and bool(names))
    if (pipe and not plain) or _of_both(text, one.end, high):
        return Group((), plain=False)
    if pipe and not here:
        alone = not named and _is_meant(text[low : pipe.start()]) and _leads_on(text, pipe.end(), one, readings)
        return Group(_all_of("", "R", things), plain and alone)
    return None


def _chain_beside(text: str, one: Reading, here: Sequence[Reading]) -> list[Reading]:
    """The list or row of names that ends right before the reading, or, where none is before it, begins right behind."""
    before = [each for each in here if each.end <= one.start]
    for chain in _chains(text, here):
        right_before = bool(before) and chain[-1].start == before[-1].start
        right_behind = not before and chain[0] is here[0] and chain[0].start >= one.end
        if len(chain) > 1 and (right_before or right_behind):
            return chain
    return []


def _of_chain(text: str, one: Reading, chain: Sequence[Reading], things: Sequence[Named], plain: bool) -> Group | None:
    """The things of a list or row; none where it is of two with a comma between, and not told of as one."""
    names = tuple(dict.fromkeys(name for each in chain for name in _row_to(text, each, chain, things)))
    as_one = one.what == "state" or _as_one(text, chain)
    apart = len(chain) == 2 and "," in text[chain[0].end : chain[-1].start]
    if one.thing not in names or (apart and not as_one):
        return None
    return Group(names, plain and as_one)


def _of_both(text: str, at: int, end: int) -> bool:
    """Whether words behind a figure say that it is of both or all: "12 inches of cover on both"."""
    return re.search(rf"\b(?:on|in|for|of|en|de)\s+{_words('both', 'all').pattern}\W*$", text[at:end], re.I) is not None


def _chains(text: str, named: Sequence[Reading]) -> list[list[Reading]]:
    """The names, those that bear numbers and stand in one list or row together."""
    chains: list[list[Reading]] = []
    for one in named:
        last = chains[-1][-1] if chains else None
        if last and one.start == last.start:
            continue  # of a row, and bears no words of its own
        gap = text[last.end : one.start] if last else ""
        row = _gap("row").fullmatch(gap) and (one.name == "R" or _is_number_alone(text, one))
        if last and one.number and last.number and (row or _gap("list").fullmatch(gap)):
            chains[-1].append(one)
        else:
            chains.append([one])
    return chains


def _as_one(text: str, chain: Sequence[Reading]) -> bool:
    """Whether the names are told of as one: all but the first are numbers alone, or the words around are of several."""
    alone = all(_is_number_alone(text, each) for each in chain[1:])
    before = text[: chain[0].start].split()
    both = bool(before) and bool(_words("both").match(before[-1]))
    return alone or both or bool(_words("plural").match(text, chain[-1].end))


def _is_number_alone(text: str, one: Reading) -> bool:
    """Whether a name is one word, such as the "two" of "runs one and two"."""
    return len(text[one.start : one.end].split()) == 1


def _row_before(text: str, one: Reading, chain: Sequence[Reading]) -> range:
    """The numbers between a name and the one before it, where both bound a row of no more than a day's things."""
    at = next(i for i, each in enumerate(chain) if each is one)
    first = chain[at - 1] if at else None
    if first is None or not _gap("row").fullmatch(text[first.end : one.start]):
        return range(0)
    low, high = sorted((first.number or 0, one.number or 0))
    return range(low + 1, min(high, low + LONGEST_ROW))


def _row_to(text: str, one: Reading, chain: Sequence[Reading], things: Sequence[Named]) -> list[str]:
    """The name, behind all that lie between it and the one before it where both bound a row."""
    row = _row_before(text, one, chain)
    return [*(each.name for each in things if each.prefix == one.name and each.number in row), one.thing]


def _all_of(words: str, prefix: str, things: Sequence[Named]) -> tuple[str, ...]:
    """All things of a kind, where there are as many as the words say."""
    known = tuple(each.name for each in things if each.prefix == prefix)
    said = [found.value for found in find_quantities(normalise(words))]
    count = 2 if _words("both").match(words) else said[0] if said else len(known)
    return known if count == len(known) > 1 else ()


def _is_meant(before: str) -> bool:
    """Whether an "all" is meant as it is said, by the words before it in its sentence."""
    return all(word.strip(" ,") in _own()["before"] for word in before.lower().split())


def _leads_on(text: str, at: int, one: Reading, readings: Sequence[Reading]) -> bool:
    """Whether from `at` to the reading there is nothing but what several are told of with, and other readings."""
    verb = _words("plural", "verb").match(text, at)
    between = text[verb.end() if verb else at : one.start]
    for each in readings:
        if verb and verb.end() <= each.start < one.start and each.what in SHARED:
            between = between.replace(text[each.start : each.end], " ")
    return verb is not None and all(_words("all", "list").match(word) for word in between.split())


@cache
def _own() -> dict[str, list[str]]:
    return tomllib.loads(files("extract.read").joinpath("together.toml").read_text(encoding="utf-8"))


@cache
def _words(*lists: str) -> re.Pattern[str]:
    """One of the words of the lists, with the space before it."""
    said = [(r"\b" if word[0].isalpha() else "") + re.escape(word) for name in lists for word in _own()[name]]
    return re.compile(rf"\s*(?:{'|'.join(said)})(?!\w)", re.IGNORECASE)


@cache
def _gap(name: str) -> re.Pattern[str]:
    """What stands between two names: one word of the list, and a comma before it."""
    return re.compile(rf"\s*,?\s*(?:{'|'.join(map(re.escape, _own()[name]))})\s*", re.IGNORECASE)


@cache
def _of_them() -> re.Pattern[str]:
    """All or both of what was spoken of: "all three of them are twelve by twelve"."""
    alls, them = ("|".join(_own()[name]) for name in ("all", "them"))
    both = "|".join(_own()["both"])
    return re.compile(rf"\b(?:{both}|(?:{alls})(?:\s+\w+)?)\s+(?:of|de)\s+(?:{them})(?!\w)", re.IGNORECASE)


@cache
def _all_pipe() -> re.Pattern[str]:
    alls, pipe = ("|".join(_own()[name]) for name in ("all", "pipe"))
    return re.compile(
        rf"\b(?:{alls})\s+(?:of\s+|de\s+)?(?:(?:the|our|my|el|la|los|las)\s+)?(?:{pipe})\b", re.IGNORECASE
    )
