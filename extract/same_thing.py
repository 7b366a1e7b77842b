"""Whether a label still means the thing that a person's change was given for: by the notes that it rested on."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from extract.listed import as_read
from extract.record import Record, Run, Structure

if TYPE_CHECKING:
    from extract.amend import Change, Witness


def same_thing(read: Record, change: Change) -> bool:
    """Whether the subject's label means what it meant; where the same words speak for another thing too, what was read
    of each tells them apart, and of two that read alike their place."""
    if not rests(read, change.subject, change.rests_on):
        return False
    if not change.rests_on or not change.was:
        return True
    keys = {_key(witness) for witness in change.rests_on}
    alike = {each.label: _shared(as_read(each), change.was) for each in _things(read) if keys <= _witnesses(each)}
    best = [label for label, shared in alike.items() if shared == max(alike.values())]
    if change.place and len(alike) < change.place[1]:
        return False  # these words spoke for more things then, and which is left nobody knows
    if change.subject not in alike or best == [change.subject]:
        return True
    return change.subject in best and place_of(read, change.subject, keys) == change.place


def place_of(read: Record, label: str, keys: set[tuple[int | None, str | None]]) -> tuple[int, int]:
    """Which of how many things with these witnesses (notes and fields) the thing of that label is."""
    labels = [each.label for each in _things(read) if keys <= _witnesses(each)]
    return labels.index(label), len(labels)


def _shared(one: dict[str, Any], other: dict[str, Any]) -> int:
    return sum(one.get(name) == value for name, value in other.items())


def rests(read: Record, label: str, rested_on: Sequence[Witness] | None) -> bool:
    """Whether the thing of that label, as read, rests on the notes that it rested on then.

    It may have gained notes, and a note may have been superseded; what may not be is that the words by which it was
    named are gone, or that any now speak for another thing instead.
    """
    here = _witnesses(read.subject(label))
    if not rested_on:
        return rested_on is None or not here  # no note spoke for it: then none may now
    if rested_on[0].note is None or not any(_key(witness) in here for witness in rested_on):
        return False
    others = {key for each in _things(read) if each.label != label for key in _witnesses(each)}
    return not any(_key(witness) in others - here for witness in rested_on)


def _key(witness: Witness) -> tuple[int | None, str | None]:
    return witness.note, witness.field


def _witnesses(entry: Structure | Run | None) -> set[tuple[int | None, str | None]]:
    return {(item.note, item.field) for item in entry.evidence} if entry else set()


def _things(record: Record) -> list[Structure | Run]:
    return [*record.structures, *record.runs]


def where_now(read: Record, change: Change) -> str:
    """The one thing that rests on the note by which the subject was named then; else whatever has its label."""
    first = change.rests_on[0] if change.rests_on else None
    if first is None or first.note is None:
        return change.subject
    found = {each.label: _shared(as_read(each), change.was or {}) for each in _things(read) if _speaks(each, first)}
    best = [label for label, alike in found.items() if alike == max(found.values())]
    return best[0] if len(best) == 1 else change.subject


def _speaks(entry: Structure | Run, witness: Witness) -> bool:
    return _key(witness) in _witnesses(entry)
