"""Taking things in: what each file is by its bytes, copied whole, logged once, and sound heard.

Everything is copied first and heard after, so that a phone can be unplugged early. A take that was killed can be run
again: what is in the log already changes nothing, what is missing is made up, and a recording is heard on from the
stretch at which it was cut off. A file that cannot be used is kept, marked with why, and costs nothing else.
"""

from __future__ import annotations

import errno
import os
import sys
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from platformdirs import user_cache_path

from extract.errors import FallbookError
from extract.record import Language
from logger import sniff
from logger.facts import READERS, look_inside, unusable
from logger.hearing import Hearing, Progress, Result, hear_all
from logger.originals import Arrival
from logger.removal import removed_files
from logger.store import Store
from logger.upload import Upload
from reports.scratch import Scratch, scratch, sweep

SYSTEM_FILES = {"thumbs.db", "desktop.ini"}
MOST_TEXT = 1 << 20
"""Bytes of a text log: a day of talk is a twentieth of it."""


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
    store.must_write()
    given: set[str] = set()
    for path, problem in walk(paths):
        if problem:
            yield Result("failed", problem)
            continue
        try:
            yield from _take_file(store, job, path, given)
        except FallbookError as error:
            yield Result("failed", str(error))
    yield from hear_all(store, job, given, hearing, listening, model, language)


# -- which files


def walk(paths: Iterable[Path]) -> Iterator[tuple[Path, str | None]]:
    """Every file, folders opened, hidden ones passed over; with a line instead where it is none to take."""
    for path in paths:
        try:
            yield from _walk_one(path)
        except OSError as error:  # a name too long, a folder without rights
            yield path, f"{shown(path)}: cannot be opened ({error.strerror or error}); check it"


def _walk_one(path: Path) -> Iterator[tuple[Path, str | None]]:
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
                yield from _file_of_folder(Path(root) / name)
    for error in unreadable:
        yield folder, f"{shown(Path(error.filename))}: cannot be opened ({error.strerror}); check its rights"
    if not found and not unreadable:
        yield folder, f"{shown(folder)}: nothing in it to take; give a folder with sound, photos or text notes"


def _file_of_folder(path: Path) -> Iterator[tuple[Path, str | None]]:
    """A link in somebody's folder may lead to any file of this machine, so it is not followed."""
    if path.is_symlink():
        yield path, f"{shown(path)}: a link to another file, which is not followed; give that file itself"
    else:
        yield from walk([path])


def shown(path: Path | str) -> str:
    """A path as it can be printed and kept, whatever bytes its name is made of."""
    return os.fsencode(path).decode("utf-8", "replace")


# -- one file


def _take_file(store: Store, job: str, path: Path, given: set[str]) -> Iterator[Result]:
    name = shown(path)
    with _in_words(name, "take it again"):
        kind = sniff.kind_of(path, name)
        if kind == "text" and path.stat().st_size > MOST_TEXT:
            raise FallbookError(f"{name}: more than {MOST_TEXT >> 20} MB of text; take the notes of the day alone")
        with store.originals.arriving(path) as copy:
            given.add(copy.sha256)
            body = {"modified": _modified(path).isoformat()}
            yield from _take_copy(store, job, kind, copy, name, shown(path.name), body)


def take_received(
    store: Store,
    job: str,
    kind: sniff.FileKind,
    part: Scratch,
    sha256: str,
    name: str,
    modified: datetime,
    upload: Upload,
    again: str = "send it again",
) -> list[Result]:
    """Take in a file of that kind and hash that was received into the library as `part` (see `originals.receiving`).

    Raises FallbookError where it cannot be taken now; on a full disk its line says to make room and `again`.
    """
    store.must_write()
    store.job_row(job)
    body = {"modified": modified.isoformat()} | upload.as_entry()
    with _in_words(name, again):
        return list(_take_copy(store, job, kind, Arrival(part, sha256), name, name, body))


def _take_copy(
    store: Store, job: str, kind: sniff.FileKind, copy: Arrival, name: str, own_name: str, body: dict[str, Any]
) -> Iterator[Result]:
    """Log a copy that lies in the library, unless the job holds it. `name` is what messages call it."""
    if not store.holds(job, copy.sha256):
        facts = look_inside(kind, copy.path, name)
        if _keep(store, job, kind, copy, own_name, body, facts):
            yield from _taken(kind, name, facts)
            return
    yield _already(store, job, copy, name)


@contextmanager
def _in_words(name: str, again: str) -> Iterator[None]:
    """Turns what the disk refuses into one line on that file."""
    try:
        yield
    except OSError as error:
        if error.errno == errno.ENOSPC:
            why = "the disk is full; make room"
        else:
            why = f"cannot be copied into the library ({error.strerror or error}); see to that"
        raise FallbookError(f"{name}: {why} and {again}") from error


def _modified(path: Path) -> datetime:
    try:
        return datetime.fromtimestamp(path.stat().st_mtime, UTC)
    except (ValueError, OverflowError):  # beyond the calendar
        return datetime.now(UTC)


def _keep(
    store: Store, job: str, kind: sniff.FileKind, copy: Arrival, name: str, body: dict[str, Any], facts: dict[str, Any]
) -> bool:
    """Log a copy with what was read in it, then give it its place; False where somebody else was quicker.

    In this order a kill leaves no original that nothing knows of, and no copy that the log knows of is lost.
    """
    with store.writing():
        if not store.append(job, kind, body, datetime.now(UTC), sha256=copy.sha256, name=name):
            return False
        store.remember(copy.sha256, kind, READERS[kind], facts)
        copy.logged()
    store.originals.keep(copy)
    return True


def _already(store: Store, job: str, copy: Arrival, name: str) -> Result:
    healed = ", and its original is whole again" if store.originals.heal(copy) else ""
    entries = store.entries(job)
    if copy.sha256 in removed_files(entries):
        return Result(
            "warning", f"{name}: was removed from this job; put it back with: fallbook remove {job} file:NAME --undo"
        )
    why = next((unusable(store, entry) for entry in entries if entry.sha256 == copy.sha256), None)
    if why:
        return Result("failed", f"{name}: already in the job{healed}, but it cannot be used: {why}")
    return Result("already", f"{name}: already in the job{healed}")


def _taken(kind: sniff.FileKind, name: str, facts: dict[str, Any]) -> Iterator[Result]:
    if "unusable" in facts:
        yield Result("failed", f"{name}: kept, but it cannot be used: {facts['unusable']}")
        return
    yield Result("taken", f"{name}: {kind} taken")
    if facts.get("broken"):
        yield Result(
            "warning", f"{name}: its EXIF is damaged; the photo is in, check its time and place with: fallbook show"
        )


# -- without a job


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
    """A file's path; standard input (`-`) is put into a file of the cache for as long as it is needed."""
    if path != "-":
        if os.path.isdir(path):
            raise FallbookError(f"{path}: a folder; give the recordings in it, or take it into a job: fallbook take")
        yield Path(path)
        return
    raw = sys.stdin.buffer.read()
    if not raw:
        raise FallbookError("standard input is empty; send it a recording")
    folder = user_cache_path("fallbook") / "heard"
    sweep(folder)
    with scratch(folder) as part:
        part.file.write(raw)
        part.file.flush()
        yield part.path
