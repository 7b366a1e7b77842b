"""The job's recordings, heard one after another; each stretch that is heard is kept at once."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal, Protocol

from extract.errors import FallbookError
from extract.record import Language, Note
from logger.facts import unusable
from logger.removal import removed_files
from logger.shapes import notes_of, shapes_of
from logger.store import LogEntry, Store
from logger.worker import Unusable

if TYPE_CHECKING:
    from logger.stretches import Seconds

Outcome = Literal["taken", "already", "warning", "failed", "heard"]
Progress = Callable[[float, float], None]


class Hearing(Protocol):
    """What turns sound into notes: logger.speech, or a stand-in."""

    def hear(
        self,
        path: Path,
        *,
        model: str | None = None,
        language: Language | None = None,
        progress: Progress | None = None,
        kept: dict[Seconds, list[Note]] | None = None,
    ) -> list[Note]: ...
    def describe(self, model: str | None = None, language: Language | None = None) -> dict[str, Any]: ...


@dataclass(frozen=True)
class Result:
    """What became of one file, as one line for the crew."""

    outcome: Outcome
    line: str
    silent: bool = False
    """A recording in which no speech was heard: what fails a crew that handed it over is nothing in a day's talk."""


def hear_all(
    store: Store,
    job: str,
    given: set[str],
    hearing: Hearing,
    listening: Callable[[str], Progress],
    model: str | None,
    language: Language | None,
) -> Iterator[Result]:
    """Hear the recordings of `given` (SHA-256) and what an earlier take left unheard; last, what was begun and not
    ended, as it may end whoever hears it."""
    waiting = [entry for entry in _usable(store, job) if entry.sha256 in given or _not_heard(store, entry)]
    if not waiting:
        return
    try:
        with_ = hearing.describe(model, language)
    except FallbookError as error:
        yield Result("failed", f"the sound is in but was not heard: {error}")
        return
    key = hashlib.sha256(json.dumps(with_, sort_keys=True).encode()).hexdigest()
    for entry in sorted(waiting, key=lambda entry: store.recall(entry.sha256, "begun", key) is not None):
        if store.recall(entry.sha256, "heard", key) is None:
            store.remember(entry.sha256, "begun", key, {})
            yield _hear(store, entry, key, with_, partial(hearing.hear, model=model, language=language), listening)


def _usable(store: Store, job: str) -> list[LogEntry]:
    entries = store.entries(job)
    removed = removed_files(entries)
    sounds = [entry for entry in entries if entry.kind == "sound" and entry.sha256 not in removed]
    return [entry for entry in sounds if not unusable(store, entry)]


def _not_heard(store: Store, entry: LogEntry) -> bool:
    return store.recall(entry.sha256, "heard") is None


def _hear(
    store: Store,
    entry: LogEntry,
    key: str,
    with_: dict[str, Any],
    hear: Callable[..., list[Note]],
    listening: Callable[[str], Progress],
) -> Result:
    path = store.originals.place(entry.sha256)
    try:
        store.originals.path(entry.sha256, entry.name)
        notes = hear(path, progress=listening(entry.name), kept=_Kept(store, entry.sha256, key))
    except Unusable as error:
        why = str(error).removeprefix(f"{path}: ").removeprefix(f"{entry.name}: ")
        store.remember(entry.sha256, "unheard", key, {"why": why})
        return Result("failed", f"{entry.name}: kept, but it cannot be used: {why}")
    except FallbookError as error:
        return Result("failed", str(error).replace(str(path), entry.name))
    except Exception as error:  # whatever the recogniser met, it is this recording's
        return Result("failed", f"{entry.name}: hearing it failed ({type(error).__name__}: {error}); run take again")
    with store.writing():
        store.remember(entry.sha256, "heard", key, {"notes": shapes_of(notes), "with": with_})
        store.forget_stretches(entry.sha256)
    return _heard(entry.name, len(notes))


class _Kept(dict["Seconds", list[Note]]):
    """The stretches of one recording heard so far with the settings of `key`: each that is put in is in the library
    at once, so that whoever is killed has one stretch to hear again."""

    def __init__(self, store: Store, sha256: str, key: str) -> None:
        stretches = store.recall_stretches(sha256, key).items()
        super().__init__({seconds: notes_of(shapes) for seconds, shapes in stretches})
        self._remember = partial(store.remember_stretch, sha256, made_with=key)

    def __setitem__(self, seconds: Seconds, notes: list[Note]) -> None:
        self._remember(seconds, notes=shapes_of(notes))
        super().__setitem__(seconds, notes)


def _heard(name: str, count: int) -> Result:
    if not count:
        return Result(
            "failed",
            f"{name}: no speech was heard in it; play it, and type what was said with: fallbook say",
            silent=True,
        )
    return Result("heard", f"{name}: {count} note{'' if count == 1 else 's'} heard")
