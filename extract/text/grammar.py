"""A grammar of word classes and productions, loaded from grammar.toml, and the parser that reads tokens by it.

A production read at a token gives its value and where it ends, or nothing; each is tried once a token, so that the time
is in proportion to the tokens. Of the forms of a production the one that reads furthest wins, of equals the first.
"""

from __future__ import annotations

import re
import tomllib
import unicodedata
from collections.abc import Callable, Mapping, Sequence
from functools import cache, cached_property
from importlib.resources import files
from typing import Any, NamedTuple

MOST = 6
"""How often a part marked `*` may come: nobody says longer rows of numbers as one."""
PADDING = [""] * 16
"""Empty words behind the last, so that a form may look at what follows without asking whether anything does."""
TABLE: dict[str, Any] = tomllib.loads(files("extract.text").joinpath("grammar.toml").read_text(encoding="utf-8"))
NO_CLASS: dict[str, Any] = {}
PLURAL: dict[str, Any] = {"plural": None}
SHAPES: list[tuple[re.Pattern[str], Callable[[re.Match[str]], dict[str, Any]]]] = [
    (re.compile(r"\d+"), lambda m: {"whole": float(m[0][:15]), "figures": m[0][:15]}),
    (re.compile(r"\d+\.\d+|\.\d+"), lambda m: {"decimal": float(m[0][:15])}),
    (re.compile(r"(\d{1,3})/(\d{1,3})"), lambda m: _written(int(m[1]), int(m[2]))),
    (re.compile(r"(\d{2}(?:\.\d+)?)s"), lambda m: {"bends": float(m[1])}),
    (re.compile(r"(\d{1,4})\+(\d{1,2}(?:\.\d+)?)"), lambda m: {"station": 100 * float(m[1]) + float(m[2])}),
    (re.compile(r"(\d+(?:\.\d+)?)-(\d+(?:\.\d+)?)"), lambda m: {"span": (float(m[1][:15]), float(m[2][:15]))}),
    (re.compile(r"(\d{1,3})(?:st|nd|rd|th)"), lambda m: {"nth_written": int(m[1])}),
]
"""What figures are, by how they are written."""
FIRST_FIGURES = re.compile(r"\d+(?:\.\d+)?|\.\d+")


class Unit(NamedTuple):
    """A unit as it is said, what a measure in it is kept in, and how many of those one is."""

    name: str
    kept_in: str
    size: float


class Step(NamedTuple):
    """One part of a form: a word class or a production, and how it is read."""

    name: str
    production: Production | None
    mark: str
    """`?`, `*`, `&` or `!`, or nothing."""


class Form(NamedTuple):
    """What comes behind the first step of a form, and the rule that makes the value."""

    steps: tuple[Step, ...]
    then: frozenset[str] | None
    """Word classes one of which must stand behind the first step; None where anything may."""
    means: Callable[..., Any] | None


class Production:
    """A named list of forms, those that begin alike together."""

    def __init__(self, name: str) -> None:
        self.name = name
        self.groups: list[tuple[Step, frozenset[str], list[Form]]] = []
        self.first: frozenset[str] = frozenset()
        """Word classes one of which must stand where the production begins."""
        self.second: frozenset[str] = frozenset()
        """Word classes one of which must stand behind that, but behind one of `alone`."""
        self.alone: frozenset[str] = frozenset()


@cache
def going_on(production: Production) -> frozenset[str]:
    """The word classes that may stand behind the first word of a production."""
    classes: set[str] = set()
    for head, _, forms in production.groups:
        for form in forms:
            classes |= _read_by(form.steps)
            for step in [head, *form.steps]:
                if step.production and step.mark not in ("&", "!"):
                    classes |= going_on(step.production)
                if step.mark == "":
                    break
    return frozenset(classes)


def _alone(production: Production) -> set[str]:
    """The word classes of which one word may be the whole of a production."""
    classes: set[str] = set()
    for head, first, forms in production.groups:
        if head.mark:
            classes |= first
        elif any(all(step.mark for step in form.steps) for form in forms):
            classes |= _alone(head.production) if head.production else {head.name}
    return classes


def _read_by(steps: Sequence[Step]) -> set[str]:
    """The word classes of the first of some steps, and of those that may be left out before it."""
    classes: set[str] = set()
    for step in steps:
        if step.mark not in ("&", "!"):
            classes |= step.production.first if step.production else {step.name}
        if step.mark == "":
            break
    return classes


def _written(top: int, bottom: int) -> dict[str, Any]:
    return {"written": top / bottom} if 0 < top < bottom else {}


def _lexicon(table: Mapping[str, Any], units: Mapping[str, str]) -> dict[str, dict[str, Any]]:
    """Every word of a language's tables, with its classes and its value in each. `units`: words by the unit's name."""
    lexicon: dict[str, dict[str, Any]] = {"": {}}
    for kind, values in table["words"].items():
        for word, value in values.items():
            lexicon.setdefault(word, {})[kind] = value
    for kind, words in table["classes"].items():
        for word in words.split():
            lexicon.setdefault("" if word == "$" else word, {})[kind] = word
    for name, said in units.items():
        row = TABLE["units"][name]
        kinds = ["unit", *(kind for kind, names in TABLE["unit_classes"].items() if name in names.split())]
        for word in said.split():
            lexicon.setdefault(word, {}).update(dict.fromkeys(kinds, Unit(name, row["in"], row["size"])))
    for word, classes in lexicon.items():
        classes |= PLURAL if word.isalpha() and word.endswith("s") and word != "is" else {}
    return lexicon


SPANISH: dict[str, Any] = TABLE["spanish"]
IN_SPANISH = _lexicon(SPANISH, SPANISH["units"])
IN_BOTH = frozenset(SPANISH["both"].split())
"""Words of Spanish that are others of English."""
LEXICON = {word: classes for word, classes in IN_SPANISH.items() if word not in IN_BOTH}
LEXICON |= _lexicon(TABLE, {name: row["words"] for name, row in TABLE["units"].items()})
ONLY_SPANISH = IN_SPANISH.keys() - IN_BOTH - {""}
TELLS = dict.fromkeys([*ONLY_SPANISH, *SPANISH["tells"].split()], 1)
TELLS |= dict.fromkeys(SPANISH["tells_english"].split(), -1)
"""Which language a word tells of, Spanish above zero."""
CLASSES = {kind for lexicon in (LEXICON, IN_SPANISH) for classes in lexicon.values() for kind in classes}
CLASSES |= {"whole", "figures", "decimal", "written", "bends", "station", "span", "nth_written", "unread"}


def plain(word: str) -> str:
    """The word without accents."""
    return "".join(each for each in unicodedata.normalize("NFD", word) if not unicodedata.combining(each))


def classes_of(word: str) -> dict[str, Any]:
    """The word classes of a token, with its value in each."""
    known = LEXICON.get(word if word.isascii() else plain(word))
    if known is not None:
        return known
    if word[0] in "0123456789.":
        return next((make(found) for shape, make in SHAPES if (found := shape.fullmatch(word))), None) or _unread(word)
    return PLURAL if word[-1] == "s" and word.isalpha() else NO_CLASS


def _unread(word: str) -> dict[str, Any]:
    """Figures that are written as no number is, such as "12v" and "5-10-15": a number, of which more is to be asked."""
    first = FIRST_FIGURES.match(word)
    return {"unread": float(first[0][:15])} if first else NO_CLASS


def all_classes(tokens: Sequence[str]) -> list[dict[str, Any]]:
    """The word classes of each token; a word of both languages is of that of the words about it, and Spanish right
    behind another of the Spanish tables."""
    seen = [classes_of(token) for token in tokens]
    for i, token in enumerate([] if IN_BOTH.isdisjoint(tokens) else tokens):
        if token in IN_BOTH:
            before = plain(tokens[i - 1]) if i else ""
            about = tokens[max(0, i - SPANISH["reach"]) : i + SPANISH["reach"] + 1]
            if before in ONLY_SPANISH or sum(TELLS.get(plain(word), 0) for word in about if word not in IN_BOTH) > 0:
                seen[i] = IN_SPANISH[token]
    return seen


def compiled(rules: Mapping[str, Callable[..., Any]]) -> dict[str, Production]:
    """The productions of the table, with the rules that `means` names; KeyError for a name that is nothing."""
    table = TABLE["production"]
    made = {name: Production(name) for name in table}

    def build(name: str) -> Production:
        production = made[name]
        if not production.groups:
            for row in table[name]:
                steps = [_step(part, made) for part in row["form"].split()]
                first, form = first_of(steps), Form(tuple(steps[1:]), first_of(steps[1:]), rules.get(row.get("means")))
                if "means" in row and form.means is None:
                    raise KeyError(row["means"])
                same = [forms for step, _, forms in production.groups if step == steps[0] and not step.mark]
                if same:
                    same[0].append(form)
                else:
                    production.groups.append((steps[0], first or frozenset(), [form]))
                production.first |= first or frozenset()
        return production

    def first_of(steps: Sequence[Step]) -> frozenset[str] | None:
        first: frozenset[str] = frozenset()
        for step in steps:
            if step.mark != "!":
                first |= build(step.name).first if step.production else {step.name}
            if step.mark == "":
                return first
        return None if not steps or steps[0].mark != "&" else first

    for production in [build(name) for name in table]:
        production.second, production.alone = going_on(production), frozenset(_alone(production))
    return made


def _step(part: str, made: Mapping[str, Production]) -> Step:
    mark = part[0] if part[0] in "&!" else part[-1] if part[-1] in "?*" else ""
    name = part.strip("&!?*")
    if name not in made and name not in CLASSES:
        raise KeyError(name)
    return Step(name, made.get(name), mark)


BEHIND = [classes_of("")] * len(PADDING)


class Parser:
    """Tokens read by the grammar, `seen` as their classes; those in `taken` belong to names, and only a look ahead
    sees them."""

    def __init__(
        self, tokens: Sequence[str], seen: list[dict[str, Any]], taken: set[int] | frozenset[int] = frozenset()
    ) -> None:
        self.words = [*tokens, *PADDING]
        self.seen = seen + BEHIND
        self.open = self.seen
        if taken:
            self.open = self.seen.copy()
            for i in taken:
                self.open[i] = NO_CLASS
        self.known: dict[int, dict[str, tuple[Any, int] | None]] = {}
        self.tokens, self.taken = tokens, taken

    @cached_property
    def _ahead(self) -> Parser:
        """Reads what is only looked at: names too."""
        return Parser(self.tokens, self.seen[: len(self.tokens)]) if self.taken else self

    def read(self, production: Production, i: int) -> tuple[Any, int] | None:
        """The value of a production that begins at the token `i`, and where it ends; None where it does not."""
        known = self.known.get(i)
        if known is None:
            known = self.known[i] = {}
        elif production.name in known:
            return known[production.name]
        best, classes = None, self.open[i]
        if production.alone.isdisjoint(classes) and production.second.isdisjoint(self.open[i + 1]):
            known[production.name] = None
            return None
        for (name, head, mark), first, forms in production.groups:
            if first.isdisjoint(classes):
                continue
            if mark:
                begun = self._marked(name, head, mark, i)
            elif head is None:
                begun = (classes[name], i + 1)
            else:
                begun = known[name] if name in known else self.read(head, i)
            if begun is None:
                continue
            there = self.open[begun[1]]
            for form in forms:
                if form.then is None or not form.then.isdisjoint(there):
                    found = self._rest(form, i, begun)
                    if found and (best is None or found[1] > best[1]):
                        best = found
        known[production.name] = best
        return best

    def _rest(self, form: Form, start: int, head: tuple[Any, int]) -> tuple[Any, int] | None:
        """The value of a form whose first step was read, and where it ends."""
        value, i = head
        values = [value]
        for name, production, mark in form.steps:
            found = self._marked(name, production, mark, i) if mark else self._step(name, production, i)
            if found is None:
                return None
            if mark != "!" and mark != "&":
                values.append(found[0])
                i = found[1]
        if form.means is None:
            return values[-1], i
        value = form.means(Place(self.words, start, i), *values)
        return None if value is None else (value, i)

    def _marked(self, name: str, production: Production | None, mark: str, i: int) -> tuple[Any, int] | None:
        """A step as its mark has it: left out, said several times, or looked ahead at."""
        if mark == "?":
            return self._step(name, production, i) or (None, i)
        if mark == "*":
            several: list[Any] = []
            while len(several) < MOST and (found := self._step(name, production, i)):
                several.append(found[0])
                i = found[1]
            return several, i
        follows = name in self.seen[i] if production is None else self._ahead._step(name, production, i) is not None
        return (None, i) if follows is (mark == "&") else None

    def _step(self, name: str, production: Production | None, i: int) -> tuple[Any, int] | None:
        if production is None:
            classes = self.open[i]
            return (classes[name], i + 1) if name in classes else None
        return None if production.first.isdisjoint(self.open[i]) else self.read(production, i)


class Place(NamedTuple):
    """Where a form was read: over the words [start, end)."""

    words: Sequence[str]
    start: int
    end: int
