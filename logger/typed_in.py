"""What was typed straight in, notes and changes by hand, in one order of time."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Mapping, Sequence
from datetime import datetime, timezone
from typing import TYPE_CHECKING

from logger.times import aware, in_range

if TYPE_CHECKING:
    from logger.lines import Line
    from logger.store import LogEntry

NOW_S = 60
"""A typed note whose time is this near to when it came in was given the clock's time."""


class TypedIn:
    """The typed notes and the changes by hand, in the log's order where the computer's clock ran backwards."""

    def __init__(self, entries: Sequence[LogEntry], zone: timezone, first: datetime) -> None:
        self._zone, self._first = zone, first
        self._newest: datetime | None = None
        """The latest of what was typed so far with the clock's own time."""
        self.remarks: dict[str, None] = {}
        self.when: dict[int, datetime] = {}
        """When each change by hand was made, by its entry's ID."""
        self.notes: list[tuple[LogEntry, datetime | None, datetime]] = []
        """Each with its own time, None where no clock can be right that says so, and the time that it is sorted by."""
        for entry in entries:
            if entry.kind == "said":
                self.notes.append((entry, *self._times(entry)))
            elif entry.kind in ("amendment", "answer"):
                self.when[entry.id] = self._meant(entry.at)

    def _times(self, entry: LogEntry) -> tuple[datetime | None, datetime]:
        """A note's own time and what it is sorted by: that, or the note typed before it where the clock tells less."""
        at = aware(datetime.fromisoformat(entry.body["at"]), self._zone)
        if not in_range(at):
            self.remarks[f"a note was typed while this computer's clock said {entry.at:%Y-%m-%d}; set the clock"] = None
            return None, self._newest or self._first
        by_the_clock = abs((at - entry.at).total_seconds()) < NOW_S
        return at, self._in_turn(at) if by_the_clock else at

    def _meant(self, at: datetime) -> datetime:
        return self._in_turn(at.astimezone(self._zone)) if in_range(at) else self._newest or self._first

    def _in_turn(self, at: datetime) -> datetime:
        when = self._newest = max(at, self._newest or at)
        if (when - at).total_seconds() > NOW_S:  # two that type at once may pass each other by less
            self.remarks[
                f"this computer's clock was set back from {when:%H:%M} to {at:%H:%M}; "
                "the notes typed since stand in the order in which they were typed"
            ] = None
        return when


def notes_before(lines: Sequence[Line], entry: int, when: datetime, place: Mapping[int, int]) -> int:
    """How many notes come before a change by hand, which is the log's entry of that ID; `place` says where each entry
    stands in the log."""
    count = bisect_right(lines, when, key=lambda line: line.when)
    while count and lines[count - 1].when == when and _typed_after(lines[count - 1].mark, place[entry], place):
        count -= 1
    return count


def _typed_after(mark: str, here: int, place: Mapping[int, int]) -> bool:
    kind, _, number = mark.partition(":")
    return kind == "log" and place.get(int(number), here) > here
