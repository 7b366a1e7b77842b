"""Taking things in: what each file is by its bytes, copied whole, logged once, and sound heard.

Everything is copied first and heard after, so that a phone can be unplugged early. A take that was killed can be run
again: what is in the log already changes nothing, what is missing is made up, and a recording is heard on from the
stretch at which it was cut off.
"""

from __future__ import annotations

import hashlib
import json
import os
import sys
import tempfile
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import UTC, datetime
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal, Protocol

from extract.errors import FallbookError
from extract.notes import parse_log
from extract.record import Language, Note
from logger import photos, sniff
from logger.store import Store

if TYPE_CHECKING:
    from logger.stretches import Seconds

Outcome = Literal["taken", "already", "warning", "failed", "heard"]
Progress = Callable[[float, float], None]
SOUND_READER = "1"
"""Count up when reading changes, so that kept facts are read again."""
SYSTEM_FILES = {"thumbs.db", "desktop.ini"}


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


def take(
    store: Store,
    job: str,
    paths: Iterable[Path],
    hearing: Hearing,
    listening: Callable[[str], Progress],
    model: str | None = None,
    language: Language | None = None,
) -> Iterator[Result]:
    """Copy in every file under `paths`, then hear the job's sound that was not heard so before; a line for each.

    `listening` is told the name of a recording and gives the progress to report to. What fails is one Result, and the
    rest goes in.
    """
    store.sweep()
    given: set[str] = set()
    for path, problem in walk(paths):
        if problem:
            yield Result("failed", problem)
            continue
        try:
            yield from _take_file(store, job, path, given)
        except FallbookError as error:
            yield Result("failed", str(error))
    yield from _hear_all(store, job, given, hearing, listening, model, language)


# -- which files


def walk(paths: Iterable[Path]) -> Iterator[tuple[Path, str | None]]:
    """Every file, folders opened and hidden ones passed over; with a line instead where there is none."""
    for path in paths:
        if path.is_dir():
            yield from _walk_folder(path)
        elif path.is_file():
            yield path, None
        elif path.exists():
            yield path, f"{shown(path)}: no file of its own (a device or a pipe); give the file itself"
        else:
            yield path, f"{shown(path)}: no such file or folder; check the name"


def _walk_folder(folder: Path) -> Iterator[tuple[Path, str | None]]:
    found = False
    unreadable: list[OSError] = []
    for root, folders, names in os.walk(folder, onerror=unreadable.append):
        folders[:] = sorted(name for name in folders if not name.startswith("."))
        for name in sorted(names):
            if not name.startswith(".") and name.lower() not in SYSTEM_FILES:
                found = True
                yield from walk([Path(root) / name])
    for error in unreadable:
        yield folder, f"{shown(Path(error.filename))}: cannot be opened ({error.strerror}); check its rights"
    if not found and not unreadable:
        yield folder, f"{shown(folder)}: nothing in it to take; give a folder with sound, photos or text notes"


def shown(path: Path | str) -> str:
    """A path as it can be printed and kept, whatever bytes its name is made of."""
    return os.fsencode(path).decode("utf-8", "replace")


# -- one file


def _take_file(store: Store, job: str, path: Path, given: set[str]) -> Iterator[Result]:
    name = shown(path)
    try:
        kind = sniff.kind_of(path, name)
        modified = datetime.fromtimestamp(path.stat().st_mtime, UTC)
        with store.arriving(path) as copy:
            if copy.sha256 in {entry.sha256 for entry in store.entries(job)}:
                given.add(copy.sha256)
                store.keep(copy)  # heals an original that was lost
                yield Result("already", f"{name}: already in the job")
                return
            warning = _look_inside(store, kind, copy.path, copy.sha256, name)
            store.keep(copy)
    except OSError as error:
        raise FallbookError(
            f"{name}: cannot be copied into the library ({error.strerror or error}); see to that and take it again"
        ) from error
    body = {"modified": modified.isoformat()}
    store.append(job, kind, body, datetime.now(UTC), sha256=copy.sha256, name=shown(path.name))
    given.add(copy.sha256)
    yield Result("taken", f"{name}: {kind} taken")
    if warning:
        yield Result("warning", warning)


def _look_inside(store: Store, kind: sniff.FileKind, copy: Path, sha256: str, name: str) -> str | None:
    """Read the file to its end and keep what it says of itself; a warning, or None. Raises FallbookError."""
    if kind == "text":
        if not parse_log(sniff.read_text(copy, name)):
            raise FallbookError(f"{name}: no note in it; write one note a line")
        return None
    if kind == "sound":
        store.remember(sha256, "sound", SOUND_READER, read_sound(copy, name))
        return None
    facts = photos.read_photo(copy, name)
    store.remember(sha256, "photo", photos.READER, facts.model_dump(mode="json"))
    broken = f"{name}: its EXIF is damaged; the photo is in, check its time and place with: fallbook show"
    return broken if facts.broken else None


def read_sound(path: Path, name: str) -> dict[str, Any]:
    """Length [s] and start (ISO, or None) of a recording. Raises FallbookError for what is no sound."""
    from logger import sound

    try:
        info = sound.probe(path)
    except FallbookError as error:
        raise FallbookError(str(error).replace(str(path), name)) from error
    return {"length_s": info.duration_s, "started_at": info.started_at.isoformat() if info.started_at else None}


# -- hearing


def _hear_all(
    store: Store,
    job: str,
    given: set[str],
    hearing: Hearing,
    listening: Callable[[str], Progress],
    model: str | None,
    language: Language | None,
) -> Iterator[Result]:
    """Hear what was given now and what an earlier take left unheard."""
    sounds = [entry for entry in store.entries(job) if entry.kind == "sound"]
    waiting = [s for s in sounds if s.sha256 in given or store.recall(s.sha256, "heard") is None]
    if not waiting:
        return
    try:
        with_ = hearing.describe(model, language)
    except FallbookError as error:
        yield Result("failed", f"the sound is in but was not heard: {error}")
        return
    key = hashlib.sha256(json.dumps(with_, sort_keys=True).encode()).hexdigest()
    for entry in waiting:
        if store.recall(entry.sha256, "heard", key) is not None:
            continue
        original = store.original(entry.sha256)
        try:
            kept = _Kept(store, entry.sha256, key)
            notes = hearing.hear(original, model=model, language=language, progress=listening(entry.name), kept=kept)
        except FallbookError as error:
            yield Result("failed", str(error).replace(str(original), entry.name))
            continue
        store.remember(entry.sha256, "heard", key, {"notes": _shapes(notes), "with": with_})
        store.forget_stretches(entry.sha256)
        yield _heard(entry.name, len(notes))


class _Kept(dict["Seconds", list[Note]]):
    """The stretches of one recording heard so far with the settings of `key`: each that is put in is in the library
    at once, so that whoever is killed has one stretch to hear again."""

    def __init__(self, store: Store, sha256: str, key: str) -> None:
        stretches = store.recall_stretches(sha256, key).items()
        super().__init__({seconds: [Note.model_validate(shape) for shape in shapes] for seconds, shapes in stretches})
        self._remember = partial(store.remember_stretch, sha256, made_with=key)

    def __setitem__(self, seconds: Seconds, notes: list[Note]) -> None:
        self._remember(seconds, notes=_shapes(notes))
        super().__setitem__(seconds, notes)


def _shapes(notes: list[Note]) -> list[dict[str, Any]]:
    return [note.model_dump(mode="json", exclude_defaults=True) for note in notes]


def _heard(name: str, count: int) -> Result:
    if not count:
        return Result(
            "failed", f"{name}: no speech was heard in it; play it, and type what was said with: fallbook say"
        )
    return Result("heard", f"{name}: {count} note{'' if count == 1 else 's'} heard")


def read_file(path: str) -> bytes:
    """The bytes of a file, or of standard input for `-`. Raises FallbookError."""
    if path == "-":
        return sys.stdin.buffer.read()
    try:
        return Path(path).read_bytes()
    except OSError as error:
        raise FallbookError(f"{path}: cannot be read ({error.strerror or error}); check the name") from error


@contextmanager
def on_disk(path: str) -> Iterator[Path]:
    """A file's path; standard input (`-`) is put into a file for as long as it is needed."""
    if path != "-":
        if Path(path).is_dir():
            raise FallbookError(f"{path}: a folder; give the recordings in it, or take it into a job: fallbook take")
        yield Path(path)
        return
    raw = sys.stdin.buffer.read()
    if not raw:
        raise FallbookError("standard input is empty; send it a recording")
    with tempfile.NamedTemporaryFile(prefix="fallbook-", delete=False) as file:
        file.write(raw)
    try:
        yield Path(file.name)
    finally:
        Path(file.name).unlink(missing_ok=True)
