"""Which structures and runs each note speaks of, when, and what it says of photos and of backfill. Pure."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

from extract.record import Entry, Note, Record
from reports.words import things

PHOTO = re.compile(r"\b(?:photos?|pictures?|pics?|snapshots?)\b", re.I)
NAMED = 10
"""A thing named in a note about a photo outweighs whatever else that note gives values of."""
TO_COME = re.compile(r"\b(?:will|gonna|going to|might|plan|plans|planning)\b", re.I)
COVERED = re.compile(
    r"\bback-?\s?filled\b"
    r"|\bcovered (?:(?:it|them|everything|all|that) )?(?:up|in|over)\b"
    r"|\bfilled (?:(?:it|them|everything) )?(?:in|back)\b"
    r"|(?:\b(?:is|are|was|were|been|got|now|all)|'s|'re) buried\b(?! (?:cable|line|gas|power|wire|utilit))",
    re.I,
)
NOT_YET = re.compile(
    r"\b(?:not|never|before|until|till|once|when|if|unless|will|gonna|gotta|(?:going|ready|yet|need) to|to be)\b|n't\b",
    re.I,
)


@dataclass(frozen=True)
class Spoken:
    """One note as photos need it."""

    note: int
    """Its INDEX."""
    start: datetime | None
    end: datetime | None
    labels: tuple[str, ...]
    """What it speaks of, the main thing first."""
    to_come: bool
    """It speaks of what is not there yet."""
    names_photo: bool
    """It says that a photo was taken: "photo of basin one"."""
    backfilled: tuple[str, ...]
    """What it says is backfilled."""

    def as_shape(self) -> dict[str, Any]:
        """As JSON can hold it."""
        moments = {name: moment and moment.isoformat() for name, moment in (("start", self.start), ("end", self.end))}
        return vars(self) | moments

    @classmethod
    def of(cls, shape: dict[str, Any]) -> Spoken:
        """Back from JSON."""
        moments = {name: datetime.fromisoformat(shape[name]) if shape[name] else None for name in ("start", "end")}
        return cls(**shape | moments | {name: tuple(shape[name]) for name in ("labels", "backfilled")})


def spoken_of(notes: Sequence[Note], record: Record) -> list[Spoken]:
    """Each note with its labels, by the record's evidence."""
    values, names = _weights(record, len(notes))
    talk = {item.note for each in [*record.tasks, *record.decisions] for item in each.evidence}
    filled = _backfill_notes(record)
    found: list[Spoken] = []
    for index, note in enumerate(notes):
        only_talk = index in talk and not values[index]  # what is to buy, to do or to decide is not in the picture
        names_photo = not only_talk and PHOTO.search(note.text) is not None
        no_words = not note.text.strip()  # such as what stands for the job before a visit
        labels = () if only_talk or no_words else _labels(values[index], names[index], names_photo)
        if names_photo and not labels and found:
            labels = found[-1].labels[:1]  # "a photo of it": of what was spoken of last
        found.append(_spoken(index, note, labels, names_photo, _backfilled(note, labels, filled.get(index, set()))))
    return found


def _backfill_notes(record: Record) -> dict[int, set[str]]:
    """The runs whose backfill each note tells."""
    found: dict[int, set[str]] = {}
    for run in record.runs:
        for item in run.evidence if run.backfill else ():
            if item.field == "backfill":
                found.setdefault(item.note, set()).add(run.label)
    return found


def _spoken(index: int, note: Note, labels: tuple[str, ...], names_photo: bool, backfilled: tuple[str, ...]) -> Spoken:
    length = (note.end_s or 0) - (note.start_s or 0)
    end = note.at + timedelta(seconds=max(length, 0)) if note.at else None
    return Spoken(index, note.at, end, labels, TO_COME.search(note.text) is not None, names_photo, backfilled)


def _weights(record: Record, count: int) -> tuple[list[Counter[str]], list[Counter[str]]]:
    """How many values of each label every note speaks for, and how often it only names the thing."""
    values: list[Counter[str]] = [Counter() for _ in range(count)]
    names: list[Counter[str]] = [Counter() for _ in range(count)]
    known = {each.label: each for each in things(record)}
    for label, entry in _about(record):
        for item in entry.evidence:
            if item.note < count and label in known:
                named = entry is known[label] and item.field is None
                (names if named else values)[item.note][label] += 1
    return values, names


def _about(record: Record) -> list[tuple[str, Entry]]:
    return [
        *((subject.label, subject) for subject in things(record)),
        *((level.point.split(" ")[0], level) for level in record.levels),
        *((issue.at, issue) for issue in record.issues if issue.at),
        *((test.at, test) for test in record.tests if test.at),
    ]


def _labels(values: Counter[str], names: Counter[str], names_photo: bool) -> tuple[str, ...]:
    weight = Counter(values)
    for label, count in names.items():
        weight[label] += count * (NAMED if names_photo else 1)
    return tuple(label for label, _ in weight.most_common())


def _backfilled(note: Note, labels: tuple[str, ...], said: set[str]) -> tuple[str, ...]:
    for sentence in re.split(r"[.!?;]", note.text):
        match = COVERED.search(sentence)
        if match and not NOT_YET.search(sentence[: match.start()]):
            return tuple(sorted({*said, *labels}))
    return () if NOT_YET.search(note.text) else tuple(sorted(said))
