"""Marked days as examples for the learned reader: what each span, quantity and link of a note is."""

from __future__ import annotations

import random
from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass, field
from typing import Any

import numpy as np
from talk.markup import Day, Marked, Meaning, Span

from extract.read.labels import (
    CLASSES,
    ENTRIES,
    PREFIXES,
    RELATIONS,
    ROLES,
    SIDES,
    SIGHTS,
    STANDINGS,
    TYPES,
)
from extract.read.model import LONGEST, LONGEST_TOLD, WHAT
from extract.read.readings import INTRODUCES, sort_of
from extract.read.scene import CONTEXT, FEATURES, NOT_HELD, WORD, About, Scene, Value
from extract.read.words import FORM, form_of, quantities_of

IRRELEVANT = {"name": "name_of"}
MISTAKEN = 0.15
"""How often a kind is given wrong when links are taught, since the reader will be wrong about kinds too."""


UNSEEN, SPLIT, SPURIOUS = 0.08, 0.05, 0.03
"""How often what is known so far is not what was meant, since the reader will be wrong about that too: a mention goes
unseen, opens another thing, or words that name nothing open one."""
MISTAKEN_FOR = {"JB": ("CB", 0.4), "CB": ("JB", 0.15), "AD": ("CB", 0.3), "DW": ("CB", 0.1), "CO": ("CB", 0.1)}
"""For what each kind is taken, and how often: what it is called says little of it, so it is to be told by the words."""


DICE = random.Random(3)
COUNTS: Counter[str] = Counter()
"""What could not be put into examples, for the record."""


NO_FIGURE = frozenset("hedged hearsay asked hypothetical required denied planned implausible".split())
"""Standings of what settles nothing."""
DOUBTED = frozenset(("hedged", "hearsay", "asked"))
NEAR = 4
"""Notes back to which a figure put right may have been told of another thing of the kind."""


class ToldBefore:
    """What earlier notes told of each field, to say of a note what it does to that."""

    def __init__(self) -> None:
        self.told: dict[tuple[str, str], list[tuple[int, Meaning]]] = {}

    def take(self, index: int, note: Marked) -> tuple[bool, bool]:
        """Whether a note puts right or takes back what an earlier one told, and whether it settles a doubt of one."""
        meanings = [meaning for span in note.spans for meaning in span.meanings]
        mends = any(m.kind == "order" and (m.field, m.value) != ("withdraw", "said") for m in meanings)
        settles = False
        values = [(self._key(m), m) for m in meanings if m.kind == "value" and "copied" not in m.flags]
        for key, meaning in values:
            before = self.told.get(key, [])
            mends = mends or self._mends(index, key, meaning)
            doubted = bool(before) and bool(before[-1][1].flags & DOUBTED)
            differ = len({each.value for _, each in before}) > 1 and before[-1][0] != index
            settles = settles or (not meaning.flags & NO_FIGURE and (doubted or differ))
        for key, meaning in values:
            self.told.setdefault(key, []).append((index, meaning))
        return mends, settles

    def _mends(self, index: int, key: tuple[str, str], meaning: Meaning) -> bool:
        before = self.told.get(key, [])
        alike = (each for each in self.told if each[1] == key[1] and prefix(each[0]) == prefix(key[0]))
        recent = any(self.told[each][-1][0] >= index - NEAR for each in alike)
        return ("corrects" in meaning.flags and (bool(before) or recent)) or (
            "denied" in meaning.flags and bool(before)
        )

    @staticmethod
    def _key(meaning: Meaning) -> tuple[str, str]:
        words = (meaning.value or "").split(" ")
        of_kind = f" {words[1]}" if meaning.field == "fitting" and len(words) > 1 else ""
        return meaning.thing or "", f"{meaning.field}{of_kind}"


@dataclass
class Tagged:
    """A span of a note as the model is to see it. `what` is a type or, for a quantity, a role."""

    start: int
    end: int
    what: str
    name: str = ""
    flags: frozenset[str] = frozenset()
    main: tuple[str, ...] = ()
    at: str = ""
    from_of: str = ""
    to_of: str = ""
    side: str = ""
    sight: str = ""
    number: int | None = None
    value: float | None = None
    quantity: bool = False
    form: list[float] = field(default_factory=lambda: [0.0] * FORM)


class Known:
    """What has been told so far as the reader may know it: for each true thing the names that it goes by there."""

    def __init__(self, mistaken: bool) -> None:
        self.scene, self.mistaken = Scene(), mistaken
        self.names: dict[str, list[str]] = {}

    def of(self, thing: str) -> str:
        """The name that it was last known by."""
        if thing not in self.names:
            self.names[thing] = [self._taken_for(thing)]
        return self.names[thing][-1]

    def _taken_for(self, thing: str) -> str:
        """Its name, of another kind now and then."""
        kind, _, rest = thing.partition(".")
        other, share = MISTAKEN_FOR.get(kind, ("", 0.0))
        return f"{other}.{rest}-{kind}" if self.mistaken and DICE.random() < share else thing

    def all_of(self, things: Iterable[str]) -> set[str]:
        """All names of the things."""
        return {name for thing in things for name in (self.of(thing), *self.names[thing])}

    def mention(self, thing: str) -> None:
        """It is named: now and then as if it were new."""
        if not self.mistaken or self.of(thing) not in self.scene.known or DICE.random() >= SPLIT:
            return
        self.names[thing].append(f"{self._taken_for(thing)}+{len(self.names[thing])}")

    def mistake(self, note: Marked) -> None:
        """Now and then words that name nothing are taken for something new."""
        words = [found.span() for found in WORD.finditer(note.text)]
        if not self.mistaken or not words or DICE.random() >= SPURIOUS:
            return
        start, end = DICE.choice(words)
        name = f"{DICE.choice(PREFIXES)}.slip{len(self.scene.known)}"
        self.scene.meet(name, -1, start, end, note.text[start:end], None)


@dataclass
class Example:
    """One day in numbers, note by note; see `network.py` for the shapes."""

    kind: str
    writer: str
    notes: list[dict[str, Any]] = field(default_factory=list)


def prefix(name: str) -> str:
    return name.split(".")[0]


class Points:
    """What the day says of its levels, issues and tests as a whole: where each is."""

    def __init__(self, day: Day) -> None:
        self.level: dict[str, tuple[str, str, str]] = {}
        self.at: dict[str, str] = {}
        for note in day.notes:
            for span in note.spans:
                mentions = [m.thing or "" for m in span.meanings if m.kind == "mention"]
                for meaning in span.meanings:
                    self._take(meaning, mentions)

    def _take(self, meaning: Meaning, mentions: list[str]) -> None:
        name = meaning.thing or ""
        if meaning.kind == "entry" and prefix(name) == "L" and (meaning.value or "").strip():
            self.level[name] = level_point((meaning.value or "").strip())
        elif meaning.kind == "entry" and prefix(name) == "X" and meaning.value:
            self.at[name] = meaning.value.strip()
        elif meaning.kind == "value" and meaning.field in ("at", "about"):
            where = (meaning.value or "").strip() or next(iter(mentions), "")
            if where:
                self.at.setdefault(name, where.split(" ")[0])


def level_point(said: str) -> tuple[str, str, str]:
    """The thing (empty for the benchmark), the side and the sight of `CB.a invert_out foresight`."""
    words = said.split()
    sight = next((word for word in words if word in SIGHTS), "")
    rest = [word for word in words if word not in SIGHTS]
    if not rest or rest[0] == "benchmark":
        return "", "benchmark", sight or "backsight"
    return rest[0], next((word for word in rest[1:] if word in SIDES), "rim"), sight or "foresight"


def tagged(note: Marked, points: Points) -> list[Tagged]:
    """The spans of a note, quantities among them, in order of their start."""
    out: list[Tagged] = []
    for span in note.spans:
        out += _of_span(span, points)
    named = [(t.start, t.end) for t in out if t.what == "mention" and t.number is not None]
    for start, end, quantity in quantities_of(note.text, named):
        out.append(_of_quantity(note, start, end, quantity.value, points))
        out[-1].form = form_of(quantity)
    for span in note.spans:
        wanted = [m for m in span.meanings if _numeric(m)]
        if wanted and not any(t.quantity and t.start < span.end and span.start < t.end for t in out):
            COUNTS["a number that the grammar does not see"] += 1
            COUNTS[f"unseen: {note.words(span)}"] += 1
    return sorted(out, key=lambda t: (t.start, -t.end))


def _numeric(meaning: Meaning) -> bool:
    return meaning.kind == "value" and meaning.field in ROLES and "copied" not in meaning.flags


def _of_span(span: Span, points: Points) -> list[Tagged]:
    ends = [m for m in span.meanings if m.kind == "value" and m.field in ("from", "to")]
    mentions = {m.thing or "": m for m in span.meanings if m.kind == "mention"}
    for end in ends:
        if (end.value or "").strip():
            mentions.setdefault((end.value or "").strip(), Meaning("mention", (end.value or "").strip()))
    out = []
    for name, meaning in mentions.items():
        flags = meaning.flags | ({"numbered"} if meaning.number else set())
        one = Tagged(span.start, span.end, "mention", prefix(name), flags, (name,), number=meaning.number)
        for end in ends:
            if (end.value or "").strip() in ("", name) and prefix(name) != "R" and prefix(end.thing or "") == "R":
                if end.field == "from":
                    one.from_of = end.thing or ""
                else:
                    one.to_of = end.thing or ""
        out.append(one)
    for meaning in span.meanings:
        out += _of_meaning(span, meaning, points)
    seen: dict[tuple[str, str], Tagged] = {}
    for one in out:  # one phrase for several things, such as "both are in", is one span with several targets
        key = one.what, one.name
        if one.what != "mention" and key in seen:
            seen[key].main += tuple(name for name in one.main if name not in seen[key].main)
        else:
            seen[key if one.what != "mention" else (one.what, one.main[0])] = one
    return list(seen.values())


def _of_meaning(span: Span, meaning: Meaning, points: Points) -> list[Tagged]:
    name, what, value = meaning.thing or "", meaning.field or "", (meaning.value or "").strip()
    if meaning.kind == "order":
        name = f"withdraw_{value or 'note'}" if what == "withdraw" else what
        target = () if what == "withdraw" else tuple(part for part in value.split())
        if what == "clear":
            target = (value.rpartition(".")[0],)
        return [Tagged(span.start, span.end, "order", name, main=target)]
    if meaning.kind == "entry":
        kind = {"I": "issue", "T": "test", "K": "task", "D": "decision", "X": "change"}.get(prefix(name))
        if kind is None:
            return []
        at = points.at.get(name, "")
        known = value if value in CLASSES[kind] else ""
        main = (name,) if prefix(name) in ENTRIES else ()
        return [Tagged(span.start, span.end, kind, known, meaning.flags, main, at=at)]
    if meaning.kind != "value":
        return []
    if "copied" in meaning.flags:
        return [Tagged(span.start, span.end, "same", "", meaning.flags, (name,))]
    if what == "fitting":
        words = value.split()
        return [Tagged(span.start, span.end, "fitting", words[1] if len(words) > 1 else "", meaning.flags, (name,))]
    if what in ("bedding", "backfill", "tie", "crossing", "item", "action", "result") or what in (
        "state", "pipe", "kind", "traffic"
    ):  # fmt: skip
        known = value if value in CLASSES[what] else ""
        main = (name,) if prefix(name) in (*PREFIXES, *ENTRIES) else ()
        return [Tagged(span.start, span.end, what, known, meaning.flags, main)]
    return []


def _of_quantity(note: Marked, start: int, end: int, value: float, points: Points) -> Tagged:
    around = [span for span in note.spans if span.start < end and start < span.end]
    around.sort(key=lambda span: (span.end - span.start, -span.depth))
    one = Tagged(start, end, "other", quantity=True, value=value)
    if not around:
        one.what = "none"
        return one
    for meaning in sorted(around[0].meanings, key=lambda m: (not _numeric(m), m.field == "length_ft")):
        name, what = meaning.thing or "", meaning.field or ""
        one.flags = meaning.flags
        if _numeric(meaning):
            one.what = what
            if prefix(name) == "L":
                thing, one.side, one.sight = points.level.get(name, ("", "benchmark", "backsight"))
                one.main = (thing,) if thing else ()
            elif prefix(name) in (*PREFIXES, *ENTRIES):
                one.main = tuple(dict.fromkeys(m.thing or "" for m in around[0].meanings if m.field == what))
        elif meaning.kind == "reason":
            one.what = IRRELEVANT.get(meaning.value or "", meaning.value or "other")
        elif meaning.kind == "text" or meaning.kind == "entry" or what in ("item", "bedding", "backfill", "action"):
            one.what = "text"
        elif meaning.kind == "mention":
            one.what = "name"
        else:
            one.what = "none"
        break
    return one


def example(day: Day, points: Points, tokenizer: Any, mistaken: bool = False) -> Example:
    """A day, or a stretch of one, in the numbers that the model is taught with. `points` are those of the whole day,
    `tokenizer` is one of the package tokenizers; `mistaken`: what is known so far is not all as it was meant."""
    out = Example(day.head.get("kind", ""), day.head.get("writer", ""))
    known = Known(mistaken)
    before: list[int] = []
    for index, note in enumerate(day.notes):
        coded = tokenizer.encode(note.text, add_special_tokens=False)
        ids, offsets = coded.ids[:LONGEST], coded.offsets[:LONGEST]
        spans = [t for t in tagged(note, points) if pieces(offsets, t) is not None]
        known.scene.begin(index)
        told = [tokenizer.encode(each, add_special_tokens=False).ids[:LONGEST_TOLD] for each in known.scene.told()]
        one = {
            "ids": ids,
            "told": told,
            "context": before[-CONTEXT:],
            "tags": _tags(spans, offsets),
            "spans": [_row(t, offsets) for t in spans],
            "problems": [],
        }
        out.notes.append(one)
        before = [*before, *ids][-CONTEXT:]
        unseen = UNSEEN if mistaken else 0.0
        seen = [t.what != "mention" or DICE.random() >= unseen for t in spans]
        _link(one, known, index, note, spans, seen)
        known.mistake(note)
    return out


def told_of(one: Tagged, note: Marked) -> Value:
    """What a span tells of its field, as the reader has it."""
    return one.value if one.value is not None else one.name or note.text[one.start : one.end].lower()


def pieces(offsets: list[tuple[int, int]], one: Tagged) -> tuple[int, int] | None:
    inside = [i for i, (start, end) in enumerate(offsets) if start < one.end and one.start < end]
    return (inside[0], inside[-1] + 1) if inside else None


def _tags(spans: list[Tagged], offsets: list[tuple[int, int]]) -> np.ndarray:
    """0 outside, 1 begins, 2 inside; (pieces, types)."""
    tags = np.zeros((len(offsets), len(TYPES)), dtype=np.int8)
    for one in spans:
        if one.quantity:
            continue
        low, high = pieces(offsets, one) or (0, 0)
        column = tags[:, TYPES.index(one.what)]
        if column[low:high].any():
            if one.what != "mention":
                COUNTS["spans of one type that overlap"] += 1
            continue
        column[low], column[low + 1 : high] = 1, 2
    return tags


def _row(one: Tagged, offsets: list[tuple[int, int]]) -> dict[str, Any]:
    low, high = pieces(offsets, one) or (0, 0)
    return {
        "range": (low, high),
        "quantity": one.quantity,
        "form": one.form,
        "what": WHAT.index(one.what),
        "role": ROLES.index(one.what) if one.quantity else -1,
        "class": CLASSES[one.what].index(one.name) if not one.quantity and one.name in CLASSES[one.what] else -1,
        "flags": [float(name in one.flags) for name in STANDINGS],
        "held": list(NOT_HELD),
        "side": SIDES.index(one.side) if one.side in SIDES else -1,
        "sight": SIGHTS.index(one.sight) if one.sight in SIGHTS else -1,
    }


def _link(out: dict[str, Any], known: Known, index: int, note: Marked, spans: list[Tagged], seen: list[bool]) -> None:
    scene = known.scene
    named = [(i, one) for i, one in enumerate(spans) if one.what in INTRODUCES and one.main and seen[i]]
    for i, one in named:
        _problem(out, known, index, i, one, note, "main", one.main)
        known.mention(one.main[0])
        _meet(known, i, one, note, one.main[0])
    for i, one in named:
        if one.what == "mention" and one.name != "R":
            for relation, run in (("from_of", one.from_of), ("to_of", one.to_of)):
                _problem(out, known, index, i, one, note, relation, (run,) if run else ())
                if run:
                    _meet(known, i, one, note, run)
                    scene.end(known.of(one.main[0]), known.of(run))
    for i, one in enumerate(spans):
        if one.what in ("issue", "test", "change"):
            _problem(out, known, index, i, one, note, "at", (one.at,) if one.at else ())
    for i, one in enumerate(spans):
        if one.what in INTRODUCES or not one.main or (not one.quantity and one.what == "task"):
            continue
        _problem(out, known, index, i, one, note, "main", one.main)
        sort, value = sort_of(one, spans), told_of(one, note)
        out["spans"][i]["held"] = scene.held(known.of(one.main[0]), one.what, sort, value)
        for thing in one.main:
            if prefix(thing) not in (*PREFIXES, *ENTRIES):
                continue
            name = known.of(thing)
            if name not in scene.known:
                _meet(known, i, one, note, thing)
            scene.see(name, i)
            if one.what == "state":
                scene.stand(name, one.name)
            elif not {"asked", "denied", "required", "hypothetical"} & one.flags:
                scene.hold(name, one.what, sort, value)


def _meet(known: Known, i: int, one: Tagged, note: Marked, thing: str) -> None:
    own = bool(one.main) and thing == one.main[0]
    words = note.text[one.start : one.end] if own else ""
    known.scene.meet(known.of(thing), i, one.start, one.end, words, one.number if own else None)


def _problem(
    out: dict[str, Any],
    known: Known,
    index: int,
    i: int,
    one: Tagged,
    note: Marked,
    relation: str,
    targets: tuple[str, ...],
) -> None:
    scene, name = known.scene, one.name
    if one.what == "mention" and DICE.random() < MISTAKEN:
        name = DICE.choice(PREFIXES)
    words = note.text[one.start : one.end]
    about = About(index, one.start, one.end, one.what, name, relation, words, one.number, told_of(one, note))
    near, rows = scene.candidates(about)
    right = known.all_of(targets)
    hit = [k for k, each in enumerate(near) if each.name in right]
    new = any(known.of(thing) not in scene.known for thing in targets)
    if targets and not hit and not new:
        COUNTS["a link to what cannot be"] += 1
        return
    out["problems"].append(
        {
            "span": i,
            "relation": RELATIONS.index(relation),
            "slots": [scene.slots.get(each.name, -1) for each in near],
            "here": [each.span for each in near],
            "rows": np.array(rows, dtype=np.float16).reshape(len(rows), FEATURES),
            "targets": [*hit, *([len(near)] if new else []), *([len(near) + 1] if not targets else [])],
        }
    )
