"""Text from strangers' files, names and notes, made fit for a terminal."""

from __future__ import annotations

import re

from extract.errors import UsageError

SURROGATE = re.compile("[\ud800-\udfff]")
"""A byte that is no character, as Python carries it."""


def clean(text: str) -> str:
    """Text with no character that a terminal would take for a command, or that turns the direction of writing."""
    return text if text.isprintable() else "".join(each if each.isprintable() else " " for each in text)


def written(what: str, text: str) -> str:
    """The text, trimmed. Raises UsageError for bytes that are no characters, which nothing could keep or print."""
    if SURROGATE.search(text):
        raise UsageError(f"{what} holds bytes that are no UTF-8 text; type it again by hand")
    return text.strip()
