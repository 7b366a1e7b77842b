"""Other readings of the same sound: taken where only they fit the rest of the record, offered where a number is in
doubt. Pure; the way to make a record from notes is handed in."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from typing import Any

from extract.record import Evidence, Note, Question, Record

MOST_TRIES = 24
MOST_READ = 2_400
"""Readings tried of one log, and the notes read again for them all: 24 tries of a day, fewer of a longer log, so that
its cost stays linear."""

MOST_OFFERED = 4
"""Other readings looked at for one question."""

DOUBT = 0.4
"""The most confidence of a number that stands only in another reading: below what is taken without asking."""

NUMBERS_MEET = ("elevation", "repeat_reading", "depth", "drop", "slope", "cover_along")
"""Checks that hold one number of the crew's own against another."""

Make = Callable[[Sequence[Note]], Record]


def fitting(notes: Sequence[Note], make: Make) -> tuple[list[Note], list[Question]]:
    """The notes, with another reading where that one settles what the first leaves contradicted or impossible.

    A reading is taken only if the record then holds no less. Its own numbers are asked about all the same, unless
    other numbers bear them out; and so is a conflict that it settles: the questions that come back.
    """
    chosen = list(notes)
    if not any(note.alternatives for note in chosen):
        return chosen, []
    first = record = make(chosen)
    left = _troubles(first)
    tries, most = 0, _most_tries(notes)
    for index in sorted({item.note for evidence in left for item in evidence}):
        for other in chosen[index].alternatives:
            if tries == most:
                return chosen, _settled(first, record)
            tries += 1
            tried = _with(chosen, index, other)
            made = make(tried)
            troubles = _troubles(made)
            if len(troubles) < len(left) and _held(made) >= _held(record):
                chosen, record, left = tried, made, troubles
                break
    return chosen, _settled(first, record)


def _settled(first: Record, record: Record) -> list[Question]:
    """The conflicts that the record no longer has, as numbers that may have been misheard."""
    asked = {(question.about, question.field) for question in record.questions}
    return [
        question.model_copy(update={"why": "low_confidence"})
        for question in first.questions
        if question.why == "conflict" and (question.about, question.field) not in asked
    ]


def offer_others(record: Record, notes: Sequence[Note], make: Make) -> None:
    """Put what the other readings say beside each number that is asked about for having been heard badly.

    Each reading is read once, and no more than MOST_TRIES of a log (see MOST_READ).
    """
    made: dict[tuple[int, str], Record] = {}
    most = _most_tries(notes)
    for question in record.questions:
        entry = record.subject(question.about)
        if question.why != "low_confidence" or question.choices or entry is None or question.field is None:
            continue
        stands = getattr(entry, question.field, None)
        if not isinstance(stands, int | float):
            continue
        heard = {item.note for item in question.evidence if item.note < len(notes)}
        said = []
        for key in [(index, other) for index in sorted(heard) for other in notes[index].alternatives][:MOST_OFFERED]:
            if key not in made and len(made) < most:
                made[key] = make(_with(notes, *key))
            if key in made:
                said.append(getattr(made[key].subject(question.about), question.field, None))
        others = dict.fromkeys(value for value in said if value is not None and value != stands)
        question.choices = [stands, *others] if others else None


def _most_tries(notes: Sequence[Note]) -> int:
    return min(MOST_TRIES, MOST_READ // max(1, len(notes)))


def _with(notes: Sequence[Note], index: int, other: str) -> list[Note]:
    return [*notes[:index], _read_as(notes[index], other), *notes[index + 1 :]]


def _read_as(note: Note, other: str) -> Note:
    left = [note.text, *(each for each in note.alternatives if each != other)]
    return note.model_copy(update={"text": other, "alternatives": left, "confidence": min(note.confidence, DOUBT)})


def _troubles(record: Record) -> list[list[Evidence]]:
    """What is contradicted or impossible, each with its witnesses."""
    from extract.check import check  # larger than the reader; a log that was typed does without it

    asked = [question.evidence for question in record.questions if question.why in ("implausible", "conflict")]
    apart = [
        finding.evidence
        for finding in check(record)
        if finding.check in NUMBERS_MEET and finding.outcome in ("attention", "fail")
    ]
    return asked + apart


def _held(record: Record) -> int:
    """How many values a record holds."""
    return sum(1 for _ in _leaves([*record.structures, *record.runs, *record.levels]))


def _leaves(entries: Sequence[Any]) -> Iterator[Any]:
    for entry in entries:
        yield from entry.model_dump(exclude={"evidence", "label"}, exclude_none=True, exclude_defaults=True).values()
