"""A packed job taken into a library, once however often: what the library lacks of its log is added, and no more.

All of it is checked before anything is written, and all of it is logged in one step.
"""

from __future__ import annotations

import errno
import json
import re
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, replace
from operator import attrgetter
from pathlib import Path
from typing import Any

from extract.check.policy import load_policy
from extract.errors import FallbookError, UsageError
from logger import job_facts
from logger.archive import bag, form
from logger.archive.pack import JOB, LOG, ORIGINALS, READINGS
from logger.changes import must_not_lead_back
from logger.company import read_company
from logger.jobs import NAME
from logger.originals import copy_original
from logger.removal import removed_files
from logger.schema import VERSION
from logger.store import OF_JOB, LogEntry, Store
from logger.times import timezone_of
from reports.job import Job

Progress = Callable[[int, int], None]
ORIGINAL = re.compile(ORIGINALS + r"/([0-9a-f]{64})(?:\.[a-z0-9]{1,5})?")


@dataclass(frozen=True)
class Bag:
    """A packed job, checked."""

    folder: Path
    name: str
    """What the job is to be called here."""
    row: form.PackedJob
    job: Job
    entries: list[form.PackedEntry]
    readings: list[form.PackedReading]
    originals: dict[str, Path]
    """By their SHA-256."""


@dataclass
class Unpacked:
    """What was taken in."""

    name: str
    entries: int = 0
    originals: int = 0
    amiss: tuple[str, ...] = ()
    """What a person should know of it, a line each."""


# -- looked at


def opened(folder: Path, name: str | None = None) -> Bag:
    """The packed job in that folder, every file of it checked; to be called `name` where it is given.

    Raises UsageError where there is none or the name cannot be, FallbookError where it is damaged or made by a newer
    program.
    """
    if name is not None and not NAME.fullmatch(name):
        raise UsageError(f"{name!r} cannot name a job; use letters, digits and dashes, at most 60")
    files = bag.checked(folder)
    try:
        job = _job(row := _row(folder))
        log, heard = ((folder / bag.PAYLOAD / name).read_bytes() for name in (LOG, READINGS))
        entries, readings = form.entries_of(log), form.readings_of(heard)
        originals = dict(_originals(folder, files))
        _must_have_all(entries, originals)
    except OSError as error:
        raise bag.damaged(folder, f"{Path(error.filename or '').name} cannot be read ({error.strerror})") from error
    except (ValueError, UsageError) as error:
        raise bag.damaged(folder, str(error)) from error
    called = row.name if name is None else name
    return Bag(folder, called, row, job.model_copy(update={"name": called}), entries, readings, originals)


def _row(folder: Path) -> form.PackedJob:
    """Raises ValueError, OSError, or FallbookError for one of a newer program."""
    try:
        shape = json.loads((folder / bag.PAYLOAD / JOB).read_bytes())
        made_by = shape.get("form")
        if not isinstance(made_by, int) or made_by <= VERSION:
            return form.PackedJob.model_validate(shape)
    except (ValueError, AttributeError, RecursionError) as error:
        raise ValueError(f"{JOB} does not hold a job") from error
    raise FallbookError(
        f"{folder}: this job was packed by a newer fallbook (form {made_by}, this one knows {VERSION}); install that "
        "version here"
    )


def _job(row: form.PackedJob) -> Job:
    """Raises ValueError, UsageError."""
    if not NAME.fullmatch(row.name):
        raise ValueError(f"{row.name!r} cannot name a job")
    timezone_of(row.zone)
    company = read_company(row.company, f"the company file in {JOB}")
    load_policy(company.policy)
    return Job.model_validate(row.model_dump(include={*OF_JOB.split(", ")}) | {"company": company})


def _originals(folder: Path, files: dict[str, str]) -> Iterator[tuple[str, Path]]:
    for name, sha256 in files.items():
        if match := ORIGINAL.fullmatch(name):
            if match[1] != sha256:
                raise ValueError(f"{name} is not the original that it is called by")
            yield sha256, folder / bag.PAYLOAD / name


def _must_have_all(entries: list[form.PackedEntry], originals: dict[str, Path]) -> None:
    """Raises ValueError where an original is missing that was not removed."""
    removed = removed_files(map(_logged, entries))
    for entry in entries:
        if entry.sha256 and entry.sha256 not in originals and entry.sha256 not in removed:
            raise ValueError(f"the original of {entry.name} is missing")


def _logged(entry: form.PackedEntry) -> LogEntry:
    visited = (entry.visited.model_dump() if entry.visited else {}) if form.linked(entry.kind, entry.body) else None
    return LogEntry(0, entry.kind, entry.at, entry.body, entry.sha256, entry.name, entry.stands, visited)


# -- taken in


def unpack(store: Store, packed: Bag, progress: Progress) -> Unpacked:
    """Take a packed job into the library; or, where the job is there, what it lacks.

    Raises UsageError where another job has that name, FallbookError where nothing can be written; then nothing is.
    """
    store.must_write()
    done = Unpacked(packed.name)
    is_new = _is_new(store, packed, done.name)
    with _in_words(store.folder, packed.folder), store.originals.arriving_together() as copies:
        done.originals = _copy(store, packed, [] if is_new else store.entries(done.name), copies.folder, progress)
        with store.writing():
            if is_new:
                store.add_job(packed.job, packed.row.company)
            done.entries = _enter(store, packed, done.name)
            must_not_lead_back(store, done.name)
            _remember(store, packed)
            copies.stays = True
    done.amiss = tuple(_amiss(store, packed, done.name))
    return done


@contextmanager
def _in_words(library: Path, folder: Path) -> Iterator[None]:
    try:
        yield
    except OSError as error:
        if error.errno == errno.ENOSPC:
            raise FallbookError(f"{library}: the disk is full; make room and unpack it again") from error
        why = error.strerror or error
        raise FallbookError(f"{folder}: cannot be copied ({why}); check the disks and unpack it again") from error


def _is_new(store: Store, packed: Bag, name: str) -> bool:
    """Whether the library has no job of that name. Raises UsageError where it has another job of that name."""
    row = _row_here(store, name)
    if row is None:
        return True
    now, there = store.job_row(name, removed=True), packed.row.now.model_dump()
    if differs := job_facts.differing((row, now), (packed.row.model_dump(), there)):
        raise UsageError(f"{name}: {_otherwise(name, differs, now, there)}")
    return False


def _row_here(store: Store, name: str) -> dict[str, Any] | None:
    return next(store.rows(f"SELECT {OF_JOB} FROM jobs WHERE name = ?", [name]), None)


def _otherwise(name: str, differs: set[str], here: dict[str, Any], there: dict[str, Any]) -> str:
    """What tells two jobs of one name apart, and what to do."""
    keys = [key for key in there if key in differs]
    told = ", ".join(f"{key} {there[key]!r} in the bag and {here[key]!r} here" for key in keys)
    apart = "another job has that name" if {"client", "address"} & differs else "its notes are timed otherwise"
    return f"{apart} ({told}); unpack it with --as NAME, or correct it first with: fallbook amend {name} {keys[0]}"


def _copy(store: Store, packed: Bag, here: list[LogEntry], folder: Path, progress: Progress) -> int:
    """Copy the originals that the library lacks; how many. What was removed from its job may be deleted for good, and
    is not brought back."""
    both = sorted([*here, *map(_logged, packed.entries)], key=attrgetter("stands"))
    meant = {entry.sha256 for entry in both} - (removed_files(both) & {entry.sha256 for entry in here})
    wanted = [each for each in packed.originals if each in meant and not store.originals.holds(each)]
    for number, sha256 in enumerate(wanted):
        progress(number, len(wanted))
        if not copy_original(packed.originals[sha256], folder / sha256, sha256):
            raise bag.damaged(packed.folder, f"{packed.originals[sha256].name} was altered meanwhile")
    return len(wanted)


def _enter(store: Store, packed: Bag, name: str) -> int:
    """Log the entries that the job lacks; how many."""
    ids = {each.id: number for number, each in form.packed(store.entries(name)).items()}
    before = len(ids)
    for entry in packed.entries:
        if entry.id not in ids:
            body = form.local_body(entry, ids, name)
            ids[entry.id] = store.enter(name, replace(_logged(entry), body=body))
    return len(ids) - before


def _remember(store: Store, packed: Bag) -> None:
    """Keep what was heard and read where the library has not heard or read it itself."""
    named = {entry.sha256 for entry in packed.entries}
    for each in packed.readings:
        known = ("heard", "unheard") if each.what == "unheard" else (each.what,)
        if each.sha256 in named and all(store.recall(each.sha256, what) is None for what in known):
            store.remember(each.sha256, each.what, each.made_with, each.value)
            if each.what == "heard":
                store.forget_tries(each.sha256)


def _amiss(store: Store, packed: Bag, name: str) -> Iterator[str]:
    row = _row_here(store, name)
    if row and row["company"] != packed.row.company:
        yield f"{name}: the bag holds another company file than the job has here, which stands"
    for lost in (each for each in store.way_back(name) if not store.has_job(each)):
        yield f"{name}: it leads back to job {lost}, which is not here; unpack its archive too, into this library"
    if name in store.removed_jobs():
        yield f"{name}: this job was removed; bring it back with: fallbook remove {name} --undo"
