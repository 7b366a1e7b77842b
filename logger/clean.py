"""Text from strangers' files, names and notes, made fit for a terminal."""

from __future__ import annotations


def clean(text: str) -> str:
    """Text with no character that a terminal would take for a command, or that turns the direction of writing."""
    return text if text.isprintable() else "".join(each if each.isprintable() else " " for each in text)
