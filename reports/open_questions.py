"""Which figures of an entry have an open question, in words for files that other programs read."""

from __future__ import annotations

from collections.abc import Iterable

from extract.places.solve import Ground
from extract.record import Entry, Level, Run, Structure, Test
from reports.doubts import ELEVATIONS, OF_A_TEST, Doubt, Mark
from reports.facts import Facts
from reports.words import plain


def open_questions(facts: Facts, entry: Entry, *fields: str) -> list[str]:
    """A line for each open question about those fields of an entry, about any of them where none is given:
    `R-2 length_ft: being confirmed: heard 43 ft and later 45 ft`."""
    return said(_doubts(facts, entry, fields))


def said(doubts: Iterable[Doubt]) -> list[str]:
    """Those doubts in words, each once."""
    return list(dict.fromkeys(map(_words, doubts)))


def _words(doubt: Doubt) -> str:
    ask = doubt.question
    return f"{' '.join(filter(None, [ask.about, ask.field]))}: {doubt.why}"


def _doubts(facts: Facts, entry: Entry, fields: tuple[str, ...]) -> list[Doubt]:
    if isinstance(entry, Structure | Run):
        return facts.doubts.on(entry.label, *fields)
    if isinstance(entry, Level):
        label, _, side = entry.point.partition(" ")
        return facts.doubts.on_entry(entry, label, *([f"{side}_ft"] if side else ELEVATIONS))
    if isinstance(entry, Test):
        return facts.doubts.on_entry(entry, entry.at, *OF_A_TEST)
    return facts.doubts.on_entry(entry)


def questions_of(facts: Facts, found: Ground) -> list[str]:
    """The open questions about any tape, bearing or run length that places were worked out from: one that is wrong
    moves all that hangs on it."""
    fields = ("ties", "length_ft", "pieces_ft", "stations_ft", "fittings", "pipe", "from", "to", "state")
    entries = {id(each.entry): each.entry for each in found.survey.measures}.values()
    asked = (open_questions(facts, each, *fields) for each in entries)
    return list(dict.fromkeys(line for lines in asked for line in lines))


def open_checks(facts: Facts, marks: Iterable[Mark]) -> list[str]:
    """A line for each check that contradicts a figure, from the marks that it bears: `drop: fail: ...`."""
    found = (facts.open[mark.number - 1] for mark in sorted(set(marks)) if mark.sign == "‡")
    return [f"{plain('check', each.check)}: {each.outcome}: {each.message}" for each in found]
