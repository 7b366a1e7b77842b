"""A job's log as it is asked for when something comes in: its files, what is amiss with them, when notes were typed.

Loads no model of the record, so that whoever types a note need not wait for one.
"""

from __future__ import annotations

from datetime import date, datetime, time
from functools import cached_property
from itertools import takewhile
from typing import TYPE_CHECKING, Any

from extract.errors import FallbookError
from logger.facts import facts_of
from logger.originals import problem
from logger.times import timezone_of
from logger.typed_in import TypedIn

if TYPE_CHECKING:
    from logger.removal import Standing
    from logger.store import LogEntry, Store


class Entries:
    """The log of a job without what was removed, and what its files say of themselves.

    What cannot be used or read costs itself, and is told of in `problems`. Raises FallbookError where there is no such
    job, or its log is damaged. `until` is the entry of the log before which the job is looked at.
    """

    def __init__(self, store: Store, name: str, *, until: int | None = None, removed: bool = False) -> None:
        row = store.job_row(name, removed=removed)
        self.store = store
        self.name = name
        self.zone = timezone_of(row["zone"])
        self._first = datetime.combine(date.fromisoformat(row["day"]), time(), self.zone)
        self._until = until
        self.state = store.state(name)
        self.log = _standing_entries(list(takewhile(lambda entry: entry.id != until, store.entries(name))))
        self.place = {entry.id: place for place, entry in enumerate(self.log)}
        """Where each entry stands in the log."""
        self._standing = _standing(self.log)
        gone = {each.name for _, each in self._standing.values() if each.what == "file"}
        self.entries = [entry for entry in self.log if entry.sha256 not in gone]
        """The log without the files that were removed."""
        self._problems: dict[str, None] = {}
        self._remarks: dict[str, None] = {}
        self.passing = False
        """Whether a file could not be read this time, which may go better another time."""

    @property
    def notes_removed(self) -> bool:
        return any(each.what == "note" for _, each in self._standing.values())

    @cached_property
    def problems(self) -> list[str]:
        """What is amiss with the job's files, a line each: the rest of the job stands without them."""
        for entry in self._usable("sound"):
            if self.store.recall(entry.sha256, "heard") is None and (why := self.store.recall(entry.sha256, "unheard")):
                self._tell_unusable(entry, why["why"])
        for entry in self.entries:
            if entry.sha256 and (lost := self._lost(entry)):
                self._problems[f"{entry.name}: {lost}"] = None
        return list(self._problems)

    def _tell_unusable(self, entry: LogEntry, why: str) -> None:
        out = f"take it out with: fallbook remove {self.name} file:{entry.sha256[:12]}"
        self._problems[f"{entry.name}: cannot be used: {why}; {out}"] = None

    def _lost(self, entry: LogEntry) -> str | None:
        try:
            state = self.store.originals.state(entry.sha256)
        except FallbookError as error:  # what the log names it by leads nowhere
            return str(error)
        return None if state == "whole" else problem(state)

    @cached_property
    def remarks(self) -> list[str]:
        """What a person should know of the clock that typed notes were given, and of recordings not heard yet, a line
        each."""
        self.typed  # noqa: B018  (it meets them)
        return [*self._remarks, *(f"{name}: not heard yet; run take again" for name in self.unheard)]

    @cached_property
    def unheard(self) -> list[str]:
        """The names of the recordings that nobody has listened to yet."""
        sounds = [entry for entry in self._usable("sound") if self.store.recall(entry.sha256, "heard") is None]
        return [each.name for each in sounds if self.store.recall(each.sha256, "unheard") is None]

    @cached_property
    def _facts(self) -> dict[int, dict[str, Any]]:
        """What each file of the log says of itself, by its entry's ID."""
        found = {entry.id: facts_of(self.store, entry) for entry in self.entries if entry.sha256}
        for entry in self.entries:
            if "unusable" in found.get(entry.id, {}):
                self._tell_unusable(entry, found[entry.id]["unusable"])
                self.passing = self.passing or "passing" in found[entry.id]
        return found

    def _usable(self, kind: str) -> list[LogEntry]:
        return [each for each in self.entries if each.kind == kind and "unusable" not in self._facts[each.id]]

    @cached_property
    def typed(self) -> TypedIn:
        """The notes typed straight in and the changes by hand, in order of time."""
        typed = TypedIn(self.entries, self.zone, self._first)
        self._remarks |= typed.remarks
        return typed


def _standing_entries(log: list[LogEntry]) -> list[LogEntry]:
    """The log without the changes by hand that were taken back."""
    undone = {entry.body["entry"] for entry in log if entry.kind == "answer" and entry.body["what"] == "undone"}
    return [entry for entry in log if entry.id not in undone] if undone else log


def _standing(log: list[LogEntry]) -> Standing:
    if all(entry.kind != "removal" for entry in log):
        return {}
    from logger import removal

    return removal.standing(log)
