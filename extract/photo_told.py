"""What a person says of a photo: what it shows, and whether it is from before or after backfill.

It holds while its label means the same thing; else it is asked about. Of each photo the last word counts.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal, TypeGuard

from extract.record import Evidence, Question, Record
from extract.same_thing import same_thing, where_now

if TYPE_CHECKING:
    from extract.amend import Amendment, Change

SUBJECT = "photo"
"""The subject of an amendment of a photo in the log."""
SHOWS, BACKFILL = "shows", "backfill"
SIDES = ("before", "after")
NOTHING = "no part of the work"
MARK = 12
"""Characters of a photo's SHA-256 that tell a question about it from others."""


@dataclass(frozen=True)
class Told:
    """What was said of one photo."""

    shows: str | None
    """A label of the record; None where it shows no part of the work."""
    backfill: Literal["before", "after"] | None = None
    """None where only its time tells."""


def told(read: Record, record: Record, changes: Sequence[Change]) -> dict[str, Told]:
    """What stands of it, by the photo's SHA-256. A thing that was taken out is shown by no photo."""
    found: dict[str, Told] = {}
    for photo, (_, last) in _last_words(changes).items():
        if last.shows is None:
            found[photo] = Told(None)
        elif record.subject(last.shows) is not None and _means_the_same(read, last):
            found[photo] = Told(last.shows, _backfill(read, changes, last))
    return found


def _backfill(read: Record, changes: Sequence[Change], last: Amendment) -> Literal["before", "after"] | None:
    """The last side that was told of that photo, where it was told of what the photo is said to show now."""
    sides = [each for each in _of_photos(changes) if each.photo == last.photo and each.field == BACKFILL]
    same = bool(sides) and sides[-1].shows == last.shows and _means_the_same(read, sides[-1])
    return sides[-1].value if same else None


def ask(record: Record, read: Record, changes: Sequence[Change], first: int) -> None:
    """A question for each photo whose label means another thing by now; the INDEX of the changes begins at `first`."""
    for photo, (place, last) in _last_words(changes).items():
        if last.shows is None or _means_the_same(read, last):
            continue
        now = where_now(read, _of_thing(last))
        moved = now != last.shows and record.subject(now) is not None
        heard = f"{last.shows} by hand"
        question = Question(about=last.subject.replace(":", " "), field=SHOWS, heard=heard, why="conflict")
        question.choices = [now] if moved else None
        quote = f"{photo[:MARK]} {heard}"
        question.evidence = [Evidence(note=first + place, quote=quote, confidence=1, field=SHOWS, by_hand=True)]
        record.questions.append(question)


def in_words(amendment: Amendment) -> str:
    """`photo:7 shows R-2`, `photo:7 shows R-2 before backfill`."""
    if amendment.shows is None or amendment.field == SHOWS:
        return f"{amendment.subject} shows {amendment.shows or NOTHING}"
    side = f" {amendment.value} backfill" if amendment.value else ", backfill by its time"
    return f"{amendment.subject} shows {amendment.shows}{side}"


def _last_words(changes: Sequence[Change]) -> dict[str, tuple[int, Amendment]]:
    """The last change of each photo, with its place among all changes."""
    return {each.photo or "": (place, each) for place, each in enumerate(changes) if is_of_photo(each)}


def _of_photos(changes: Sequence[Change]) -> list[Amendment]:
    return [each for each in changes if is_of_photo(each)]


def is_of_photo(change: Change) -> TypeGuard[Amendment]:
    """Whether a change is of a photo, and leaves the record as it is."""
    return getattr(change, "photo", None) is not None


def _means_the_same(read: Record, amendment: Amendment) -> bool:
    return same_thing(read, _of_thing(amendment))


def _of_thing(amendment: Amendment) -> Amendment:
    """The same as a change of the thing that the photo shows, which its anchor is of."""
    return amendment.model_copy(update={"subject": amendment.shows})
