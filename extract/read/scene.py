"""What exists so far while a day is read, and how a span of a note lies to each of it.

`Scene` holds the things and entries that were spoken of; `Scene.told` tells the last of them in words, for the model to
read beside the note; `Scene.candidates` gives those that a span may speak of, each with a row of plain features.
Training and reading use the same code.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from itertools import islice
from typing import Any

from extract.read.labels import ENTRIES, PREFIXES, RELATIONS, possible

Place = tuple[int, int]
"""INDEX of a note, and of a span in it."""
Value = float | str
"""What is told of a field: the number, or the class or words of a span."""
KINDS_OF = (*PREFIXES, *ENTRIES)
CONTEXT = 40
"""Pieces of the notes before that go in with a note."""
TOLD = 10
"""How many things are told to the model, the last spoken of."""
REACH = 60
"""How many things a span may speak of, the last spoken of; what lies farther back is meant by its number alone."""
NOTES_SINCE = (0, 1, 2, 5, 10)
"""Bounds of how many notes ago a thing was last spoken of."""
LONGEST_NAME = 40
IN_WORDS = {
    "CD": "channel", "CB": "basin", "AD": "area drain", "DS": "downspout", "CO": "cleanout", "JB": "junction",
    "DW": "dry well", "OUT": "outlet", "R": "pipe", "I": "trouble", "T": "test", "D": "decision",
}  # fmt: skip
STATES = ("", "planned", "installed", "existing", "abandoned", "removed")
PLAIN = set(
    "the a an that this it one of on in at to and is was its from our my by up down over here there guy her him end "
    "old new ok okay so we you i s".split()
)
NOT_HELD = (1.0, 0.0, 0.0, 0.0)
"""What `Scene.held` gives where nothing was told before."""
HELD = len(NOT_HELD)
FEATURES = len(KINDS_OF) + 6 + 7 + 4 + 3 + 3 + len(STATES) + 3 + 2 + 2 + len(RELATIONS) + 2
"""Length of a row of features."""
WORD = re.compile(r"[a-záéíóúñü]+|\d+")


@dataclass
class Known:
    """A thing or an entry that was spoken of, and where."""

    name: str
    prefix: str
    first: Place
    last: Place
    number: int | None = None
    words: set[str] = field(default_factory=set)
    """Content words that it was named by."""
    fields: dict[str, Value] = field(default_factory=dict)
    """What each field was last told to be, by the key of it."""
    said: dict[str, int] = field(default_factory=dict)
    """In which note each field was last told, by the same key."""
    state: str = ""
    ends: set[str] = field(default_factory=set)
    """Of a run: the structures at its ends; of a structure: the runs that end there."""
    here: list[tuple[int, int]] = field(default_factory=list)
    """Characters of its mentions in the note that is being read."""
    span: int = -1
    """INDEX of the last span that names it in the note that is being read; -1: none."""
    sure: float = 0.0
    """How sure it is, by its surest mention, that there is such a thing."""
    called: list[str] = field(default_factory=list)
    """What it was called: at first, and last in other words."""


@dataclass(frozen=True)
class About:
    """A span that looks for what it speaks of."""

    note: int
    start: int
    end: int
    what: str
    """Its type or role."""
    name: str = ""
    """Its class."""
    relation: str = "main"
    words: str = ""
    number: int | None = None
    value: Value = ""


def content(words: str) -> set[str]:
    return {word for word in WORD.findall(words.lower()) if word not in PLAIN}


def field_key(what: str, sort: str, value: Value) -> str:
    """The key of a field: a count of fittings is another than their kind."""
    return f"{what} {sort} {'words' if isinstance(value, str) else 'number'}"


def bucket(count: int, bounds: tuple[int, ...]) -> int:
    """Index of the first bound that `count` does not exceed."""
    return next((i for i, bound in enumerate(bounds) if count <= bound), len(bounds))


class Scene:
    """The things and entries spoken of so far. What a note changes is kept, so that it can be done again unread."""

    def __init__(self) -> None:
        self.known: dict[str, Known] = {}
        """In the order in which they were last changed."""
        self.numbered: dict[int, dict[str, None]] = {}
        """The names of what is called by each number."""
        self.note = -1
        self.slots: dict[str, int] = {}
        """Which of the things told each is."""
        self.changes: list[list[Any]] = []
        """What the note changed so far: the name of a method and its arguments."""

    def begin(self, note: int) -> None:
        """A new note is read."""
        changed = {change[1] for change in self.changes}
        self.note, self.changes = note, []
        for known in (self.known[name] for name in changed if name in self.known):
            known.here.clear()
            known.span = -1

    def again(self, changes: Iterable[Sequence[Any]]) -> None:
        """Does what a note changed when it was read."""
        for method, *rest in changes:
            getattr(self, method)(*rest)

    def _near(self) -> Iterator[Known]:
        """The last spoken of, the last of them first."""
        last = islice(reversed(self.known.values()), 2 * REACH)
        return islice(sorted(last, key=lambda k: k.last, reverse=True), REACH)

    def told(self) -> list[str]:
        """The things last spoken of, in words, the first of them first; fixes their slots."""
        last = list(islice(self._near(), TOLD))[::-1]
        self.slots = {known.name: i for i, known in enumerate(last)}
        return [self._told(known) for known in last]

    def state(self) -> list[Any]:
        """What is known of the things that a note may speak of, as JSON can hold it: all that its readings hang on,
        but for what lies beyond REACH."""
        return [
            [k.name, k.number, k.called, sorted(k.words), k.fields, k.state, sorted(k.ends), k.sure, self._since(k)]
            for k in self._near()
        ]

    def _since(self, known: Known) -> int:
        return bucket(self.note - known.last[0], NOTES_SINCE)

    @staticmethod
    def _told(known: Known) -> str:
        number = f" {known.number}" if known.number else ""
        return f"{IN_WORDS[known.prefix]}{number} {known.state}: {' / '.join(known.called)}"

    def meet(self, name: str, span: int, start: int, end: int, words: str, number: int | None) -> None:
        """A thing or entry is named at characters [start, end), for the first time or again. `span`: INDEX of it."""
        self.changes.append(["meet", name, span, start, end, words, number])
        known = self._see(name, span)
        known.here.append((start, end))
        known.span = span
        known.words |= content(words)
        short = words[:LONGEST_NAME].lower()
        if content(words) and short not in known.called:
            known.called[1:] = [short] if known.called else []
            known.called = known.called or [short]
        if number:
            known.number = number
            self.numbered.setdefault(number, {})[name] = None

    def see(self, name: str, span: int) -> None:
        """It is spoken of."""
        self.changes.append(["see", name, span])
        self._see(name, span)

    def _see(self, name: str, span: int) -> Known:
        place = self.note, span
        known = self.known.pop(name, None) or Known(name, name.split(".")[0], place, place)
        known.last = place
        self.known[name] = known
        return known

    def end(self, name: str, run: str) -> None:
        """A run ends at a structure."""
        self.changes.append(["end", name, run])
        self.known[run].ends.add(name)
        self.known[name].ends.add(run)

    def stand(self, name: str, state: str) -> None:
        """It is in that state."""
        self.changes.append(["stand", name, state])
        self.known[name].state = state

    def trust(self, name: str, sure: float) -> None:
        """So sure it is that there is such a thing."""
        self.changes.append(["trust", name, sure])
        self.known[name].sure = max(self.known[name].sure, sure)

    def hold(self, name: str, what: str, sort: str, value: Value) -> None:
        """A field of the thing was told. `sort`: the kind of a fitting, or where a rod stood."""
        self.changes.append(["hold", name, what, sort, value])
        known, key = self.known[name], field_key(what, sort, value)
        known.fields[field_key(what, "", value)] = value
        known.fields[key], known.said[key] = value, self.note

    def held(self, name: str, what: str, sort: str, value: Value) -> list[float]:
        """How a value told now lies to that field of the thing: no value yet, the same, another; and whether that was
        told in this note."""
        known, key = self.known.get(name), field_key(what, sort, value)
        if known is None or key not in known.said:
            return list(NOT_HELD)
        same = known.fields[key] == value
        return [0.0, float(same), float(not same), float(known.said[key] == self.note)]

    def candidates(self, about: About) -> tuple[list[Known], list[list[float]]]:
        """What the span may speak of, the last spoken of first, and a row of plain features of each."""
        far = [self.known[name] for name in self.numbered.get(about.number or 0, ())]
        fits = [known for known in {k.name: k for k in (*self._near(), *far)}.values() if self._fits(about, known)]
        alike = Counter(known.prefix for known in fits)
        rank: Counter[str] = Counter()
        rows = []
        for known in fits:
            rows.append(self._features(about, known, rank[known.prefix], alike[known.prefix]))
            rank[known.prefix] += 1
        return fits, rows

    @staticmethod
    def _fits(about: About, known: Known) -> bool:
        if about.relation == "main":
            return possible(about.what, about.name, known.prefix)
        return known.prefix not in ENTRIES if about.relation == "at" else known.prefix == "R"

    def _features(self, about: About, known: Known, rank: int, alike: int) -> list[float]:
        """`rank`: how many of its kind were spoken of later; `alike`: how many of its kind there are."""
        row = [0.0] * FEATURES
        at = 0

        def one(index: int, size: int) -> None:
            nonlocal at
            row[at + index] = 1.0
            at += size

        one(KINDS_OF.index(known.prefix), len(KINDS_OF))
        one(self._since(known), len(NOTES_SINCE) + 1)
        one(self._nearness(about, known), 7)
        one(min(rank, 3), 4)
        one(bucket(alike, (1, 3)), 3)
        value = known.fields.get(field_key(about.what, "", about.value))
        one(0 if value is None else 1 if value == about.value else 2, 3)
        one(STATES.index(known.state), len(STATES))
        one(0 if about.number is None or known.number is None else 1 if about.number == known.number else 2, 3)
        said = content(about.words)
        row[at] = len(said & known.words) / len(said) if said else 0.0
        row[at + 1] = float(bool(said) and said <= known.words)
        at += 2
        row[at] = float(any(self.known[name].here for name in known.ends if name in self.known))
        row[at + 1] = min(len(known.ends), 3) / 3
        at += 2
        one(RELATIONS.index(about.relation), len(RELATIONS))
        one(int(about.name == known.prefix), 2)
        return row

    @staticmethod
    def _nearness(about: About, known: Known) -> int:
        """How far the nearest mention in the same note lies before (1 to 3) or behind (4 to 6), characters; 0: none."""
        before = [about.start - end for start, end in known.here if end <= about.end and start < about.start]
        behind = [start - about.end for start, end in known.here if start >= about.start]
        if before:
            return 1 + bucket(max(0, min(before)), (25, 70))
        if behind:
            return 4 + bucket(max(0, min(behind)), (25, 70))
        return 0
