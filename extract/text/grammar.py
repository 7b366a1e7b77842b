"""A grammar of word classes and productions, loaded from grammar.toml, and the parser that reads tokens by it.

A production read at a token gives its value and where it ends, or nothing; each is tried once a token, so that the time
is in proportion to the tokens. Of the forms of a production the one that reads furthest wins, of equals the first.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Callable, Mapping, Sequence
from importlib.resources import files
from typing import Any, NamedTuple

MOST = 6
"""How often a part marked `*` may come: nobody says longer rows of numbers as one."""
PADDING = [""] * 16
"""Empty words behind the last, so that a form may look at what follows without asking whether anything does."""
TABLE: dict[str, Any] = tomllib.loads(files("extract.text").joinpath("grammar.toml").read_text(encoding="utf-8"))
NO_CLASS: dict[str, Any] = {}
PLURAL: dict[str, Any] = {"plural": None}
SHAPES = [
    (re.compile(r"\d+"), lambda m: {"whole": float(m[0][:15]), "figures": m[0][:15]}),
    (re.compile(r"\d+\.\d+|\.\d+"), lambda m: {"decimal": float(m[0][:15])}),
    (re.compile(r"(\d{1,3})/(\d{1,3})"), lambda m: _written(int(m[1]), int(m[2]))),
    (re.compile(r"(\d{2}(?:\.\d+)?)s"), lambda m: {"bends": float(m[1])}),
    (re.compile(r"(\d{1,4})\+(\d{1,2}(?:\.\d+)?)"), lambda m: {"station": 100 * float(m[1]) + float(m[2])}),
    (re.compile(r"(\d+(?:\.\d+)?)-(\d+(?:\.\d+)?)"), lambda m: {"span": (float(m[1][:15]), float(m[2][:15]))}),
    (re.compile(r"(\d{1,3})(?:st|nd|rd|th)"), lambda m: {"nth_written": int(m[1])}),
]
"""What figures are, by how they are written."""


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
    first: frozenset[str]
    """Word classes one of which must stand where the form begins."""
    steps: tuple[Step, ...]
    means: Callable[..., Any] | None


class Production:
    """A named list of forms."""

    def __init__(self, name: str) -> None:
        self.name = name
        self.forms: tuple[Form, ...] = ()
        self.first: frozenset[str] = frozenset()


def _written(top: int, bottom: int) -> dict[str, Any]:
    return {"written": top / bottom} if 0 < top < bottom else {}


def _lexicon() -> dict[str, dict[str, Any]]:
    """Every word of the tables, with its classes and its value in each."""
    lexicon: dict[str, dict[str, Any]] = {"": {}}
    for kind, values in TABLE["words"].items():
        for word, value in values.items():
            lexicon.setdefault(word, {})[kind] = value
    for kind, words in TABLE["classes"].items():
        for word in words.split():
            lexicon.setdefault("" if word == "$" else word, {})[kind] = word
    for name, row in TABLE["units"].items():
        kinds = ["unit", *(kind for kind, names in TABLE["unit_classes"].items() if name in names.split())]
        for word in row["words"].split():
            lexicon.setdefault(word, {}).update(dict.fromkeys(kinds, Unit(name, row["in"], row["size"])))
    for word, classes in lexicon.items():
        classes |= PLURAL if word.isalpha() and word.endswith("s") and word != "is" else {}
    return lexicon


LEXICON = _lexicon()


def classes_of(word: str) -> dict[str, Any]:
    """The word classes of a token, with its value in each."""
    known = LEXICON.get(word)
    if known is not None:
        return known
    if word[0] in "0123456789.":
        return next((make(found) for shape, make in SHAPES if (found := shape.fullmatch(word))), NO_CLASS)
    return PLURAL if word[-1] == "s" and word.isalpha() else NO_CLASS


def compiled(rules: Mapping[str, Callable[..., Any]]) -> dict[str, Production]:
    """The productions of the table, with the rules that `means` names; KeyError for a name that is nothing."""
    table = TABLE["production"]
    made = {name: Production(name) for name in table}

    def first_of(step: Step) -> frozenset[str]:
        return build(step.name).first if step.production else frozenset([step.name])

    def build(name: str) -> Production:
        production = made[name]
        if not production.forms:
            production.forms = tuple(form(row) for row in table[name])
            production.first = frozenset().union(*(each.first for each in production.forms))
        return production

    def form(row: Mapping[str, Any]) -> Form:
        steps = [_step(part, made) for part in row["form"].split()]
        first: frozenset[str] = frozenset()
        for step in steps:
            if step.mark != "!":
                first |= first_of(step)
            if step.mark not in ("?", "*", "!"):
                break
        return Form(first, tuple(steps), rules[row["means"]] if "means" in row else None)

    return {name: build(name) for name in table}


def _step(part: str, made: Mapping[str, Production]) -> Step:
    mark = part[0] if part[0] in "&!" else part[-1] if part[-1] in "?*" else ""
    name = part.strip("&!?*")
    classes = {"whole", "figures", "decimal", "written", "bends", "station", "span", "nth_written", "plural", "unit"}
    if (
        name not in made
        and name not in classes | TABLE["words"].keys() | TABLE["classes"].keys() | TABLE["unit_classes"].keys()
    ):
        raise KeyError(name)
    return Step(name, made.get(name), mark)


class Parser:
    """Tokens read by the grammar; tokens in `taken` belong to names, and only a look ahead sees them."""

    def __init__(self, tokens: Sequence[str], taken: set[int] | frozenset[int] = frozenset()) -> None:
        self.words = [*tokens, *PADDING]
        self.seen = [classes_of(word) for word in self.words]
        self.open = [NO_CLASS if i in taken else classes for i, classes in enumerate(self.seen)] if taken else self.seen
        self.known: dict[tuple[str, int], tuple[Any, int] | None] = {}

    def read(self, production: Production, i: int) -> tuple[Any, int] | None:
        """The value of a production that begins at the token `i`, and where it ends; None where it does not."""
        key = (production.name, i)
        if key in self.known:
            return self.known[key]
        best, classes = None, self.open[i]
        for form in production.forms:
            if not form.first.isdisjoint(classes):
                found = self._form(form, i)
                if found and (best is None or found[1] > best[1]):
                    best = found
        self.known[key] = best
        return best

    def _form(self, form: Form, start: int) -> tuple[Any, int] | None:
        values, i = [], start
        for name, production, mark in form.steps:
            if mark == "!" or mark == "&":
                if self._follows(name, production, i) is (mark == "!"):
                    return None
                continue
            if mark == "*":
                several = []
                while len(several) < MOST and (found := self._step(name, production, i)):
                    several.append(found[0])
                    i = found[1]
                values.append(several)
                continue
            found = self._step(name, production, i)
            if found is None:
                if mark != "?":
                    return None
                values.append(None)
                continue
            values.append(found[0])
            i = found[1]
        if form.means is None:
            return (values[-1] if values else None), i
        value = form.means(Place(self.words, start, i), *values)
        return None if value is None else (value, i)

    def _step(self, name: str, production: Production | None, i: int) -> tuple[Any, int] | None:
        if production is None:
            classes = self.open[i]
            return (classes[name], i + 1) if name in classes else None
        return None if production.first.isdisjoint(self.open[i]) else self.read(production, i)

    def _follows(self, name: str, production: Production | None, i: int) -> bool:
        return name in self.seen[i] if production is None else self._step(name, production, i) is not None


class Place(NamedTuple):
    """Where a form was read: over the words [start, end)."""

    words: Sequence[str]
    start: int
    end: int
