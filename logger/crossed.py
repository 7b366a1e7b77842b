"""What a person answers about what a run crosses: one crossing, in the place of the one that is asked about."""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import Any

from extract.additions import same_crossing
from extract.additions_said import NOWHERE, crossing_said
from extract.answers import answered
from extract.crossing_asked import AskedOf, asked_of
from extract.crossing_names import UNNAMED
from extract.entry_limits import must_fit
from extract.errors import UsageError
from extract.record import Crossing, Question, Record, Run

FIGURE = re.compile(r"\d+(?:\.\d+)?")
READ_AS = {"at_ft": "length_ft", "depth_in": "cover_in"}


def with_answer(record: Record, run: Run, question: Question, said: str) -> list[dict[str, Any]]:
    """The crossings of the run with what was typed as one of them: `gas line at 12, 20 inches deep`, or a bare figure
    where one was said in two ways.

    Raises UsageError, one line.
    """
    asked = asked_of(question, run.crossings)
    if asked and asked.figure and FIGURE.fullmatch(said):
        called = f"{run.label} crossing"
        value = answered(record, NOWHERE, called, READ_AS[asked.figure], said)
        must_fit(run, f"{called} cannot be {said}", {asked.figure: value})
        return with_one(run, question, asked.crossing.model_copy(update={asked.figure: value}))
    new = Crossing.model_validate(crossing_said(record, run.label, said)[1])
    return with_one(run, question, _completed(new, asked))


def with_one(run: Run, question: Question, new: Crossing) -> list[dict[str, Any]]:
    """The crossings with that one in the place of the one asked about, and of others like it."""
    asked = asked_of(question, run.crossings)
    old = [each for each in run.crossings if (asked and each is asked.crossing) or same_crossing(each, new)]
    at = next((i for i, each in enumerate(run.crossings) if any(each is one for one in old)), len(run.crossings))
    behind = [each for each in run.crossings[at:] if not any(each is one for one in old)]
    return _plain([*run.crossings[:at], new, *behind])


def without_it(run: Run, question: Question) -> list[dict[str, Any]]:
    """The crossings but for the one asked about. Raises UsageError where it may be any of several."""
    asked = asked_of(question, run.crossings)
    if asked is None:
        raise UsageError(f"{run.label} crosses several things; write the one that is meant, or skip")
    return _plain([each for each in run.crossings if each is not asked.crossing])


def _completed(new: Crossing, asked: AskedOf | None) -> Crossing:
    """With what was said of the one asked about and is not in doubt."""
    if asked is None or (asked.figure is None and asked.crossing.what != UNNAMED):
        return new
    known = {name: each for name, each in asked.crossing if name != asked.figure}
    return Crossing.model_validate(known | new.model_dump(exclude_none=True))


def _plain(crossings: Sequence[Crossing]) -> list[dict[str, Any]]:
    """As the log keeps them."""
    return [each.model_dump(mode="json", exclude_none=True) for each in crossings]
