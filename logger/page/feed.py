"""What is new in a job since a page last asked: notes as they are heard, and what they were understood to say."""

from __future__ import annotations

import hashlib
import secrets
import threading
from typing import Any

from logger.book import Book
from logger.lines import Line
from logger.store import Store

WATCHED = 40
"""Notes of a job, the newest, of which changes are told."""
FIRST = 6
"""Notes that a page is given which has none yet."""
Shape = dict[str, Any]


def key(line: Line) -> str:
    """Names a note and its words: another hearing that finds other words has another key."""
    return _hash(f"{place(line)} {line.words}")


def place(line: Line) -> str:
    """Names a note, whatever its words become."""
    return _hash(f"{line.mark} {line.note.start_s or 0:.1f}")


def _hash(text: str) -> str:
    return hashlib.sha256(text.encode()).hexdigest()[:16]


class Feed:
    """What is new in every job that a page looks at; safe for use by several threads."""

    def __init__(self) -> None:
        self._lock = threading.Lock()
        self._jobs: dict[str, _Job] = {}

    def take(self, answer: dict[str, Any]) -> None:
        """An answer of the process that hears."""
        found = self._job(answer["job"])
        with found.lock:
            found.told |= answer.get("told", {})
            if "began" in answer:
                found.trouble = ""
            if "trouble" in answer:
                found.trouble, found.state = answer["trouble"], ""

    def tell(self, job: str, told: dict[str, Shape | None]) -> None:
        """What notes were understood to say, by their keys."""
        self.take({"job": job, "told": told})

    def since(self, store: Store, job: str, feed: str, number: int) -> Shape:
        """What is new since that number of that feed; with another feed's number, the last notes.

        Raises FallbookError where there is no such job.
        """
        found = self._job(job)
        with found.lock:
            store.job_row(job)
            found.bring_up_to_date(store, job)
            return found.since(number if feed == found.feed else 0)

    def _job(self, name: str) -> _Job:
        with self._lock:
            return self._jobs.setdefault(name, _Job())


class _Job:
    """The newest notes of one job, each with the number at which it became what it is."""

    def __init__(self) -> None:
        self.lock = threading.Lock()
        self.feed = secrets.token_hex(4)
        """Names this count of numbers: it begins anew with the program."""
        self.told: dict[str, Shape | None] = {}
        self.trouble = ""
        self._number = 0
        self.state = ""
        """The job's log as it was when its lines were last read."""
        self._lines: dict[str, Line] = {}
        self._unheard = 0
        self._shapes: dict[str, tuple[int, Shape]] = {}

    def bring_up_to_date(self, store: Store, job: str) -> None:
        if self.state != (state := store.state(job)):
            book = Book(store, job)
            lines = [line for line in book.lines if not line.removed]
            gone = {each for each in self._shapes if each not in set(map(place, lines))}
            for each in gone:
                self._put(each, {"gone": True})
            self._lines = {place(line): line for line in lines[-WATCHED:]}
            self._unheard, self.state = len(book.unheard), state
        for name, line in self._lines.items():
            self._put(name, self._shape(line))

    def since(self, number: int) -> Shape:
        new = sorted((at, name, shape) for name, (at, shape) in self._shapes.items() if at > number)
        if number == 0:
            kept = set(list(self._lines)[-FIRST:])
            new = [each for each in new if each[1] in kept]
        notes = [{"id": name, "place": self._order(name), **shape} for _, name, shape in new]
        return {
            "feed": self.feed, "note": self._number, "notes": notes, "unheard": self._unheard, "trouble": self.trouble
        }  # fmt: skip

    def _put(self, name: str, shape: Shape) -> None:
        if name not in self._shapes or self._shapes[name][1] != shape:
            self._number += 1
            self._shapes[name] = (self._number, shape)

    def _order(self, name: str) -> float:
        """What notes are sorted by."""
        return self._lines[name].when.timestamp() if name in self._lines else 0.0

    def _shape(self, line: Line) -> Shape:
        told = self.told.get(key(line))
        return {
            "at": f"{line.when:%H:%M}",
            "words": line.words,
            "read": key(line) in self.told,
            "understood": told["line"] if told else "",
            "aloud": told["aloud"] if told else "",
            "answers": bool(told and told["answers"]),
            "language": told["language"] if told else "en",
        }
