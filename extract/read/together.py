"""What is named together, "runs one and two", "runs one through three", "all runs", and is told of at once."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import replace

from extract.read.readings import Reading
from extract.read.things import Thing
from extract.read.words import sentence_around

SHARED = {"state", "nominal_in", "pipe", "size_in", "cover_in", "slope_pct", "bedding", "backfill", "traffic"}
"""What things that are named together may have alike. A length or a fall said once of two runs may be of both in all,
and is asked about where it is missing."""
LIST = re.compile(r"\s*,?\s*(?:,|and|&|y)\s*", re.IGNORECASE)
"""Between two names of one list."""
THROUGH = re.compile(r"\s*(?:through|thru|hasta)\s*", re.IGNORECASE)
"""Between the first and the last of a row."""
PLURAL = re.compile(r"\s*(?:'re|are|were|have|both|all|each|got|son|están|tienen)\b", re.IGNORECASE)
"""Behind a list that is told of as a whole."""
ALL = re.compile(r"(?:all|both|every|each|tod[oa]s|amb[oa]s|cada)\b", re.IGNORECASE)
ALL_PIPE = re.compile(
    r"\b(?:all|tod[oa]s?)\s+(?:of\s+)?(?:(?:the|our|my|el|la|los|las)\s+)?(?:pipes?|runs|lines|tubos?|tuber[ií]as?|tramos)\b",
    re.IGNORECASE,
)
BOTH = re.compile(r"(?:both|amb[oa]s)\b", re.IGNORECASE)
SEVERAL = re.compile(r"\b(two|three|four|five|six|seven|eight|nine|[2-9])\b", re.IGNORECASE)
COUNTS = {"two": 2, "three": 3, "four": 4, "five": 5, "six": 6, "seven": 7, "eight": 8, "nine": 9}


def named_before(text: str, one: Reading, readings: Sequence[Reading]) -> list[str]:
    """What the reading speaks of, and all that is named in one list right before it: "runs one and two are in"."""
    chain = next((each for each in _chains(text, readings) if _ends_right_before(each, one, readings)), [])
    return list(dict.fromkeys(each.thing for each in chain)) if chain else [one.thing]


def told_of_all(text: str, readings: Sequence[Reading], things: Sequence[Thing]) -> list[Reading]:
    """The readings, with each that is told of several things at once for every one of these. `things`: all that are
    known."""
    out: list[Reading] = []
    for one in readings:
        if one.what in SHARED and one.thing:
            others = _sharing(text, one, readings, things)
            if one.what == "state":
                others = [each for each in others if each not in named_before(text, one, readings)]
            apart = {each.thing for each in readings if each.what == one.what and each.thing in others}
            out += [replace(one, thing=name) for name in others if not apart - {one.thing}]
        out.append(one)
    return out


def _sharing(text: str, one: Reading, readings: Sequence[Reading], things: Sequence[Thing]) -> list[str]:
    """The names of what shares a value with the thing that the reading speaks of."""
    low, high = sentence_around(text, one.start)
    here = [each for each in readings if each.what == "mention" and low <= each.start < high]
    for each in here:
        if ALL.match(text[each.start : each.end]) and each.name == one.thing.split(".")[0]:
            return [name for name in _all_of(text[each.start : each.end], each.name, things) if name != one.thing]
    if one.thing.startswith("R.") and not any(each.name == "R" for each in here) and ALL_PIPE.search(text, low, high):
        return [name for name in _all_of("", "R", things) if name != one.thing]
    for chain in _chains(text, here):
        if one.thing in {each.thing for each in chain} and _as_one(text, chain):
            names = [name for each in chain for name in _row_to(text, each, chain, things)]
            return [name for name in dict.fromkeys(names) if name != one.thing]
    return []


def _chains(text: str, readings: Sequence[Reading]) -> list[list[Reading]]:
    """The names that bear a number, those of one list together."""
    chains: list[list[Reading]] = []
    last: Reading | None = None
    for one in readings:
        if one.what != "mention" or not one.thing:
            continue
        gap = text[last.end : one.start] if last else ""
        alike = last and one.name == last.name and one.number and last.number
        if alike and (LIST.fullmatch(gap) or THROUGH.fullmatch(gap)):
            chains[-1].append(one)
        else:
            chains.append([one])
        last = one
    return chains


def _ends_right_before(chain: Sequence[Reading], one: Reading, readings: Sequence[Reading]) -> bool:
    """Whether the last name before the reading ends the chain, and is of what the reading speaks of."""
    named = [each for each in readings if each.what == "mention" and each.thing and each.end <= one.start]
    return bool(named) and chain[-1] is named[-1] and chain[-1].thing == one.thing


def _as_one(text: str, chain: Sequence[Reading]) -> bool:
    """Whether the names are told of as one: all but the first are numbers alone, or the words around are of several."""
    if len(chain) == 1:
        return False
    alone = all(len(text[each.start : each.end].split()) == 1 for each in chain[1:])
    before = text[: chain[0].start].split()
    return alone or bool(PLURAL.match(text, chain[-1].end)) or bool(before and BOTH.match(before[-1]))


def _row_to(text: str, one: Reading, chain: Sequence[Reading], things: Sequence[Thing]) -> list[str]:
    """The name, behind all that lie between it and the one before it where both bound a row."""
    at = next(i for i, each in enumerate(chain) if each is one)
    first = chain[at - 1] if at else None
    if first is None or not THROUGH.fullmatch(text[first.end : one.start]):
        return [one.thing]
    row = range((first.number or 0) + 1, one.number or 0)
    between = [each.name for each in things if each.prefix == one.name and each.number in row and not each.gone]
    return [*between, one.thing]


def _all_of(words: str, prefix: str, things: Sequence[Thing]) -> list[str]:
    """All things of a kind, where there are as many as the words say."""
    known = [each.name for each in things if each.prefix == prefix and not each.gone]
    said = SEVERAL.search(words)
    count = 2 if BOTH.match(words) else (COUNTS.get(said[1].lower()) or int(said[1])) if said else len(known)
    return known if count == len(known) else []
