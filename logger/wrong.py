"""What is wrong with a file's fields, in plain words."""

from __future__ import annotations

from typing import Any

from pydantic import ValidationError

WORDS = {
    "missing": "is missing",
    "extra_forbidden": "is not known here; take it out or check its spelling",
    "json_invalid": "is not JSON",
    "string_type": "must be text in quotes",
    "string_unicode": "holds bytes that are no text",
    "list_type": "must be a list in [ ]",
    "greater_than": "must be more than {gt:g}",
    "greater_than_equal": "must be {ge} at least",
    "less_than_equal": "must be {le} at most",
    "literal_error": "must be one of {expected}",
    "finite_number": "must be a number",
    "value_error": "{error}",
}
BY_START = {
    "int": "must be a whole number",
    "float": "must be a number",
    "model": "must be a group of named fields",
    "dict": "must be a group of named fields",
    "date": "must be a day or time such as 2026-05-14T14:05:30",
}


def first_wrong(error: ValidationError) -> tuple[str, str, str]:
    """The first field that is wrong (`warranty.covers`, empty for the whole), the kind of fault, and it in words."""
    first = error.errors()[0]
    field = ".".join(map(str, first["loc"]))
    return field, first["type"], f"{field or 'it'} {_words(first['type'], first.get('ctx', {}))}"


def _words(kind: str, context: dict[str, Any]) -> str:
    start = kind.partition("_")[0]
    return WORDS.get(kind, BY_START.get(start, "does not fit")).format(**context)
