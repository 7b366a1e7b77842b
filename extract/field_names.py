"""What people call the fields of the record: `length` is `length_ft`."""

from __future__ import annotations

import re
import tomllib
from functools import lru_cache
from importlib.resources import files
from typing import Any

from extract.record import Entry, Structure

STANDS = re.compile(r",?\s*\b(?:not|but)\b|,\s*(?:the\s+|that\s+)?\w+(?:'s|\s+(?:is|are|was|were|stays|stands))\b")
"""Where the words of an order go on to what stays: ", cover is fine", ", not the cover"."""
COMPUTED = ("label", "evidence")
"""Fields that nobody changes by hand."""


def field_named(entry: Entry, name: str) -> str:
    """The entry's own name for a field that goes by a plain one: `length` is `length_ft`. Another stands as it is."""
    plain = " ".join(name.lower().replace("_", " ").split())
    if plain == "invert" and isinstance(entry, Structure) and (entry.kind or "outlet").endswith("outlet"):
        return "invert_in_ft"
    own = {each.rstrip("_") for each in type(entry).model_fields}
    return next((each for each in table()["names"].get(plain, []) if each in own), name)


def fields_of_order(words: str) -> set[str]:
    """The fields that the words of an order may call, behind its verb: "drop the cover" may call `cover_in`."""
    said = re.findall(r"[^\W\d_]+", STANDS.split(words.lower())[0])[1:]
    names, fields = table()["names"], set()
    while said:
        two = " ".join(said[:2])
        fields |= set(names.get(two, names.get(said[0], ())))
        said = said[2 if two in names else 1 :]
    return fields


def plain_name(field: str) -> str:
    """What people call a field, by which it may be named too: `length_ft` is `length`; the first of its names."""
    named = (name for name, fields in table()["names"].items() if field in fields)
    return next(named, field) if "_" in field.rstrip("_") else field.rstrip("_")


def fields_in_words(entry: Entry) -> str:
    """The fields of an entry that can be changed, by their plain names."""
    return ", ".join(plain_name(each) for each in type(entry).model_fields if each not in COMPUTED)


@lru_cache(maxsize=1)
def table() -> dict[str, Any]:
    """What extract/answers.toml holds."""
    return tomllib.loads(files("extract").joinpath("answers.toml").read_text(encoding="utf-8"))
