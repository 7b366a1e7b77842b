"""One job packed: its log, its originals, what was heard, and, made from these, its record and its report."""

from __future__ import annotations

import errno
import json
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

from extract.errors import FallbookError, UsageError
from logger import VERSION as PROGRAM
from logger import job_facts, jobs
from logger.archive import bag, form
from logger.book import Book
from logger.digests import unpack
from logger.originals import copy_original, problem
from logger.printing import count_of
from logger.removal import removed_files
from logger.schema import VERSION
from logger.store import OF_JOB, LogEntry, Store
from reports.closeout import READERS, Reader
from reports.scratch import remove_folder, scratch_folder, sweep, write_whole
from reports.settled import NotSettledError

Progress = Callable[[int, int], None]
ENDINGS = frozenset(
    ".jpg .jpeg .png .heic .heif .m4a .mp4 .mov .ogg .oga .opus .wav .mp3 .flac .webm .mka .aac .amr .aiff .caf "
    ".txt .text .md .log".split()
)
"""What an original's name in a bag may end with: of its own name no more is taken."""
ORIGINALS, LOG, READINGS, JOB, RECORD, REPORTS = (
    "originals", "log.jsonl", "readings.jsonl", "job.json", "record.json", "reports",
)  # fmt: skip
READ_BY: dict[Reader, str] = {
    "client": "the client",
    "record": "the record",
    "locate": "whoever must find the drain again",
}


@dataclass
class Packed:
    """What was packed."""

    entries: int = 0
    originals: int = 0
    amiss: list[str] = field(default_factory=list)
    """What a person should know of it, a line each."""


def pack(store: Store, name: str, folder: Path, progress: Progress) -> Packed:
    """Make a bag of that job as `folder`, which must not be there yet; it appears whole or not at all.

    Raises UsageError for a folder that cannot be made, FallbookError where the job is not there or not whole, or
    something came in meanwhile.
    """
    _must_be_new(folder, store)
    sweep(folder.parent)
    book = Book(store, name)
    done = Packed()
    with _in_words(folder), scratch_folder(folder.parent) as part:
        entries = store.entries(name)
        log = _lines(store, entries)
        _write(part.folder, _job(store, name), log, _readings(store, entries))
        done.entries = len(log)
        done.originals = _originals(store, entries, part.folder / ORIGINALS, progress)
        done.amiss += _made_from_it(book, part.folder)
        bag.make(part.folder, _info(book))
        if store.state(name) != book.state:
            raise FallbookError(f"{name}: something came in while it was packed; pack it again")
        part.move_folder(folder)
    done.amiss += [*book.problems, *book.remarks]
    return done


def _must_be_new(folder: Path, store: Store) -> None:
    if folder.exists() or folder.is_symlink():
        raise UsageError(f"{folder}: is there already, and nothing is laid over it; give a name that is new")
    if not folder.parent.is_dir():
        raise UsageError(f"{folder.parent}: no such folder; make the folder first")
    if store.folder.resolve() in folder.resolve().parents:
        raise UsageError(f"{folder}: lies in the library; give a folder outside of it")


@contextmanager
def _in_words(folder: Path) -> Iterator[None]:
    try:
        yield
    except OSError as error:
        full = error.errno == errno.ENOSPC
        why = "the disk is full; make room" if full else f"cannot be made ({error.strerror or error}); see to that"
        raise FallbookError(f"{folder}: {why} and pack it again; nothing was left there") from error


# -- the log, and what hearing took long to make


def _write(folder: Path, job: form.PackedJob, log: list[str], readings: list[str]) -> None:
    for name, lines in ((LOG, log), (READINGS, readings)):
        write_whole(folder / name, "".join(f"{line}\n" for line in lines).encode())
    write_whole(folder / JOB, _json(job.model_dump()))


def _job(store: Store, name: str) -> form.PackedJob:
    row, now = next(store.rows(f"SELECT {OF_JOB} FROM jobs WHERE name = ?", [name])), store.job_row(name)
    facts = {key: now[key] for key in job_facts.KNOWN_BY}
    return form.PackedJob(form=VERSION, now=form.Facts(**facts), callback_of=now.get(job_facts.LINK, ""), **row)


def _lines(store: Store, entries: list[LogEntry]) -> list[str]:
    told = form.packed(_with_visited(store, entry) for entry in entries)
    return [form.line(entry) for entry in {entry.id: entry for entry in told.values()}.values()]


def _with_visited(store: Store, entry: LogEntry) -> LogEntry:
    """A link that was typed here with what the job that it names is known by."""
    name = form.linked(entry.kind, entry.body) if entry.visited is None else ""
    known = job_facts.known_by(store.rows, name) if name else None
    return replace(entry, visited=known[0] | {"now": known[1]}) if known else entry


def _readings(store: Store, entries: list[LogEntry]) -> list[str]:
    """The last of each kind, which is the one that counts."""
    of = {"sound": ("heard", "unheard"), "photo": ("photo",), "text": ()}
    found = []
    for entry in entries:
        for what in of.get(entry.kind, ()):
            row = next(store.rows(LAST, [entry.sha256, what]), None)
            value = unpack(row["value"], row["digest"], entry.sha256, what, row["made_with"]) if row else None
            if row and value is not None:
                found.append(form.reading_line(entry.sha256, what, row["made_with"], value))
    return found


LAST = "SELECT made_with, value, digest FROM derived WHERE sha256 = ? AND what = ? ORDER BY id DESC LIMIT 1"


def _originals(store: Store, entries: list[LogEntry], folder: Path, progress: Progress) -> int:
    """Copy them, those of removed files too while they are there; how many. Raises FallbookError where one is not
    whole."""
    folder.mkdir()
    removed = removed_files(entries)
    files = [entry for entry in entries if entry.sha256]
    count = 0
    for number, entry in enumerate(files):
        progress(number, len(files))
        if entry.sha256 in removed and not store.originals.holds(entry.sha256):
            continue  # deleted for good
        target = folder / f"{entry.sha256}{_ending(entry.name)}"
        if not copy_original(store.originals.path(entry.sha256, entry.name), target, entry.sha256):
            raise FallbookError(f"{entry.name}: {problem('altered')}")
        count += 1
    return count


def _ending(name: str) -> str:
    ending = Path(name).suffix.lower()
    return ending if ending in ENDINGS else ""


# -- what is made from them


def _made_from_it(book: Book, folder: Path) -> Iterator[str]:
    """The record and each report that can be made now; a line for each that cannot. May raise OSError."""
    write_whole(folder / RECORD, _json(book.record.as_json()))
    book.hold()
    (folder / REPORTS).mkdir()
    for reader in READERS:
        part = folder / REPORTS / reader
        part.mkdir()
        try:
            jobs.report(book.store, book.name, part / f"{book.name}-{reader}.docx", reader=reader)
        except Exception as error:  # whatever it is, the log and the originals can be packed
            for cause in (error, error.__cause__):
                if isinstance(cause, OSError):
                    raise cause from error
            remove_folder(part)
            yield f"packed without the report for {READ_BY[reader]}: {_in_short(error)}"


def _in_short(error: Exception) -> str:
    if isinstance(error, NotSettledError):
        return f"{count_of(len(error.lines), 'point')} to settle first"
    return " ".join(str(error).split())


def _info(book: Book) -> dict[str, str]:
    """RFC 8493, section 2.2.2; the library adds the date, the number of files and their size."""
    return {
        "Source-Organization": " ".join(book.job.company.name.split()),
        "External-Identifier": book.name,
        "External-Description": "One job of a drainage crew: its log, its originals, its record and its report",
        "Bag-Software-Agent": f"fallbook {PROGRAM}",
    }


def _json(shape: dict[str, Any]) -> bytes:
    return (json.dumps(shape, ensure_ascii=False, indent=1) + "\n").encode()
