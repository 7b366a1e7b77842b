"""What the book holds, put into the words of a language: an answer is made of parts, and each language words them.

Whoever only wants to know whether a note asks loads nothing more than the tables.
"""

from __future__ import annotations

import tomllib
from functools import cache
from importlib import resources
from typing import TYPE_CHECKING, Any, Protocol

if TYPE_CHECKING:
    from extract.check.evidence import Lack
    from extract.record import Language, Question, Record

LANGUAGES: tuple[Language, ...] = ("en", "es")
FILES: dict[Language, str] = {"en": "answering.toml", "es": "answering_es.toml"}


class Wording(Protocol):
    """The words of one language; `logger.in_english` and `logger.in_spanish` are each one."""

    def words(self, group: str, key: str) -> str:
        """Fixed words: of a check, a state, how a value was worked out; the forms of answers."""

    def thing(self, label: str, /) -> str:
        """`run 2`."""

    def title(self, label: str) -> str:
        """`Run 2`."""

    def of(self, label: str) -> str:
        """`of run 2`."""

    def field(self, name: str, how: str = "bare") -> str:
        """A field as it stands beside its value (`bare`), as a thing's own (`its`), or as one speaks of it (`the`)."""

    def value(self, name: str, amount: Any) -> str:
        """A field's value: `34 ft 8 in`."""

    def lack(self, lacks: Lack) -> str:
        """What is missing: `a photo of it open`."""

    def asked(self, question: Question, run: str) -> str:
        """What is asked, as one would say it of that run: `its length (12 ft or 15 ft)`."""

    def question(self, record: Record, asked: Question) -> str:
        """A question with what there is to choose from."""


def wording(language: Language) -> Wording:
    """The words of that language."""
    if language == "es":
        from logger import in_spanish

        return in_spanish
    from logger import in_english

    return in_english


@cache
def table(language: Language) -> dict[str, Any]:
    """How the book is asked in that language, and the words of its answers."""
    return tomllib.loads(resources.files("logger").joinpath(FILES[language]).read_text(encoding="utf-8"))
