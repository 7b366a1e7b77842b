"""A `Wording` in English. Words: answering.toml, ask.toml, reports/words.toml."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from extract.check.saying import name as thing
from extract.record import Question, Record
from logger.ask import question_text
from logger.ask import table as asking
from logger.show import value_text
from logger.wording import table
from reports.words import field as plainly
from reports.words import plain, sentence
from reports.words import value as short_value

if TYPE_CHECKING:
    from extract.check.evidence import Lack

__all__ = ["asked", "field", "lack", "of", "question", "thing", "title", "value", "words"]


def words(group: str, key: str) -> str:
    """Fixed words: `words("check", "slope")`."""
    if group == "how":
        return str(asking()["how"][key])
    return str(table("en")[group][key]) if group in table("en") else plain(group, key)


def title(label: str) -> str:
    """`Run 2`."""
    return sentence(thing(label))


def of(label: str) -> str:
    """`of run 2`."""
    return f"of {thing(label)}"


def field(name: str, how: str = "bare") -> str:
    """`length`, `pipe size`; the same however it stands."""
    return plainly(name)


def value(name: str, amount: Any) -> str:
    """`34 ft 8 in`."""
    return value_text(name, amount)


def lack(lacks: Lack) -> str:
    """`a photo of it open`, `the invert at catch basin 1`."""
    return lacks.words


def asked(question: Question, run: str) -> str:
    """What is asked, as one would say it of that run: `its length (12 ft or 15 ft)`, `the outgoing invert of catch
    basin 1`."""
    told = _asked(question, run)
    choices = [short_value(question.field, each) for each in question.choices or [] if each is not None]
    return f"{told} ({' or '.join(choices)})" if choices else told


def _asked(question: Question, run: str) -> str:
    label = question.about.split(" ")[0]
    of_ = "it" if label == run else thing(label)
    if question.field in (None, "text"):
        return f"what was said of {of_}"
    what = plain("field", question.field)
    if label != run:
        return f"the {what} of {of_}"
    if what.startswith(("what ", "where ")):
        return what
    return f"the {what}" if what.endswith(" it") else f"its {what}"


def question(record: Record, asked: Question) -> str:
    """A question with what there is to choose from: `How long is run 2? 34 ft or 43 ft?`"""
    return question_text(record, asked)
