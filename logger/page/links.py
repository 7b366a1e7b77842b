"""Names of notes, photos and things in the book's words, with the address of each on the page."""

from __future__ import annotations

import re
from collections.abc import Collection, Iterator
from urllib.parse import quote

NAMES = re.compile(r"\b(?:(note|photo):(\d+)|(notes? )(\d+(?:, \d+)*)|[A-Z]{1,4}-\d+)")
"""`note:14`, `photo:7`, `notes 12, 14`, `R-2`."""

Piece = tuple[str, str]
"""Words, and the address that they lead to; empty where they lead nowhere."""


def pieces(text: str, job: str, labels: Collection[str] = ()) -> Iterator[Piece]:
    """The text in pieces: each note and photo that it names, each thing of `labels`, and what stands between them."""
    end = 0
    for match in NAMES.finditer(text):
        yield text[end : match.start()], ""
        yield from _named(match, job, labels)
        end = match.end()
    yield text[end:], ""


def _named(match: re.Match[str], job: str, labels: Collection[str]) -> Iterator[Piece]:
    kind, number, notes, numbers = match.groups()
    if kind:
        yield match[0], at(job, kind, number)
    elif numbers:
        yield notes, ""
        for place, each in enumerate(numbers.split(", ")):
            yield ", " if place else "", ""
            yield each, at(job, "note", each)
    else:
        yield match[0], thing(job, match[0]) if match[0] in labels else ""


def at(job: str, kind: str, number: int | str) -> str:
    """Where a note or photo stands in the day."""
    return f"/jobs/{job}/day#{kind}-{number}"


def thing(job: str, subject: str) -> str:
    """The page of a structure, a run or an entry of a list."""
    return f"/jobs/{job}/record/{quote(subject, safe=':')}"


def of(job: str, subject: str) -> str:
    """Where a row of a table leads, by what it is of; empty where it leads nowhere."""
    kind, _, number = subject.partition(":")
    if kind in ("note", "photo"):
        return at(job, kind, number)
    if kind == "question":
        return f"/jobs/{job}/questions?id={quote(number)}"
    return thing(job, subject) if subject else ""
