"""The markup of GUIDE.md: `{words|meaning; meaning}` in a line of talk, and the plain text that it stands on."""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from pathlib import Path

PREFIXES = ("CD", "CB", "AD", "DS", "CO", "JB", "DW", "OUT", "R")
OTHERS = ("L", "I", "T", "K", "D", "X")
REASONS = ("money", "clock", "people", "weather", "sport", "tool", "name", "other")
STANDINGS = (
    "planned hedged hearsay hypothetical required asked denied corrects again implausible copied"
).split()  # fmt: skip
THING = rf"(?:{'|'.join((*PREFIXES, *OTHERS))})\.[A-Za-z0-9_-]+"
MEANING = re.compile(
    rf"(?P<thing>{THING})(?:#(?P<number>\d+))?(?:\.(?P<field>[a-z_]+))?(?:\s*=\s*(?P<value>[^!]*?))?(?P<flags>(?:\s*![a-z]+)*)"
)
TIME = re.compile(r"^(\[[^\]]*\]|\d{1,2}:\d{2}\s?[ap]m -)\s*")


class MarkupError(ValueError):
    """What is wrong with a line, for its writer."""


@dataclass(frozen=True)
class Meaning:
    """One meaning of a span.

    `kind` is mention, value, entry, reason, text or order; `thing` the writer's ID; `field` and `value` as written.
    """

    kind: str
    thing: str | None = None
    field: str | None = None
    value: str | None = None
    number: int | None = None
    flags: frozenset[str] = frozenset()


@dataclass
class Span:
    """Words with a meaning: characters [start, end) of the note's plain text, and how many spans lie around it."""

    start: int
    end: int
    meanings: list[Meaning]
    depth: int = 0


@dataclass
class Marked:
    """One note: its plain text, its time as written, its spans in order of their start, the outer first."""

    text: str
    time: str = ""
    spans: list[Span] = field(default_factory=list)
    line: int = 0

    def words(self, span: Span) -> str:
        return self.text[span.start : span.end]


PARTED = "---"
"""Between two short jobs of a file."""


@dataclass
class Day:
    """One file: what its head says (kind, writer, day) and its notes."""

    head: dict[str, str]
    notes: list[Marked]

    def plain(self) -> str:
        """The day as a log that Fallbook reads."""
        return "".join(f"{note.time}{' ' if note.time else ''}{note.text}\n" for note in self.notes)


def read_meaning(said: str) -> Meaning:
    """One meaning, such as `R.one.length_ft=34!hedged`, `-money`, `~I.a` or `@drop=CB.x`."""
    said = said.strip()
    if said.startswith("-"):
        if said[1:] not in REASONS:
            raise MarkupError(f"unknown reason {said!r}")
        return Meaning("reason", value=said[1:])
    if said.startswith("~"):
        if not re.fullmatch(THING, said[1:]):
            raise MarkupError(f"{said!r} names no entry")
        return Meaning("text", thing=said[1:])
    if said.startswith("@"):
        name, _, value = said[1:].partition("=")
        if name not in ("drop", "clear", "withdraw"):
            raise MarkupError(f"unknown order {said!r}")
        return Meaning("order", field=name.strip(), value=value.strip())
    found = MEANING.fullmatch(said)
    if not found:
        raise MarkupError(f"cannot read {said!r}")
    flags = frozenset(flag.strip() for flag in found["flags"].split("!")[1:])
    if flags - set(STANDINGS):
        raise MarkupError(f"unknown standing {', '.join(sorted(flags - set(STANDINGS)))} in {said!r}")
    number = int(found["number"]) if found["number"] else None
    other = found["thing"].split(".")[0] in OTHERS
    if found["field"]:
        return Meaning("value", found["thing"], found["field"], found["value"], number, flags)
    if other:
        return Meaning("entry", found["thing"], None, found["value"], None, flags)
    if found["value"] is not None:
        raise MarkupError(f"{said!r} has a value and no field")
    return Meaning("mention", found["thing"], None, None, number, flags)


def read_note(line: str, number: int = 0) -> Marked:
    """One line of talk. Raises MarkupError on braces that do not fit or a meaning that cannot be read."""
    time = TIME.match(line)
    note = Marked("", time[1] if time else "", line=number)
    text: list[str] = []
    length = 0
    open_: list[tuple[int, int]] = []
    meaning: list[str] | None = None
    for sign in line[time.end() :] if time else line:
        if meaning is not None:
            if sign == "}":
                start, depth = open_.pop()
                said = "".join(meaning)
                note.spans.append(Span(start, length, [read_meaning(each) for each in said.split(";")], depth))
                meaning = None
            elif sign == "{":
                raise MarkupError("a brace inside a meaning")
            else:
                meaning.append(sign)
        elif sign == "{":
            open_.append((length, len(open_)))
        elif sign == "|":
            if not open_:
                raise MarkupError("a bar outside of braces")
            meaning = []
        elif sign == "}":
            raise MarkupError("a span with no meaning")
        else:
            text.append(sign)
            length += 1
    if open_ or meaning is not None:
        raise MarkupError("a brace is not closed")
    note.text = "".join(text)
    for span in note.spans:
        if span.start == span.end:
            raise MarkupError("a span with no words")
    note.spans.sort(key=lambda span: (span.start, -span.end, span.depth))
    return note


def read_day(path: Path) -> Day:
    """A file of GUIDE.md. Raises MarkupError with the number of the first line that is wrong."""
    head, days = _read(path)
    return Day(head, [note for notes in days for note in notes])


def read_short(path: Path) -> list[Day]:
    """A file of short jobs, parted by lines of `---`. Raises MarkupError as `read_day` does."""
    head, days = _read(path)
    return [Day(head, notes) for notes in days if notes]


def _read(path: Path) -> tuple[dict[str, str], list[list[Marked]]]:
    head: dict[str, str] = {}
    days: list[list[Marked]] = [[]]
    for number, line in enumerate(path.read_text(encoding="utf-8").splitlines(), 1):
        if line.startswith("#"):
            name, _, value = line[1:].partition(":")
            head[name.strip()] = value.strip()
        elif line.strip() == PARTED:
            days.append([])
        elif line.strip():
            try:
                days[-1].append(read_note(line.strip(), number))
            except MarkupError as error:
                raise MarkupError(f"line {number}: {error}") from None
    return head, days
