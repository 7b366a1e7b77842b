"""Jobs packed as bags, for the tests of the archive: what packs, unpacks and reads them."""

import json
import wave
from datetime import date
from pathlib import Path
from typing import Any

import pytest

from extract.errors import FallbookError
from extract.record import Note
from logger import jobs
from logger.archive.pack import pack
from logger.archive.unpack import opened, unpack
from logger.book import Book
from logger.store import Store, open_store
from logger.verify import verify

JOB = "front-walk"
TALK = "[09:00] Basin one is set.\n[09:05] Run one is in, basin one to basin two, 34 feet.\n"
ENTRIES = 14
OF: dict[str, Any] = {
    "client": "Ina Wexcombe",
    "address": "27 Quillbark Row",
    "day": date(2026, 5, 14),
    "zone": "-05:00",
}
HEARD = [Note(text="Cover on run one is 12 inches.", start_s=0.2, end_s=0.9, confidence=0.9)]


def quiet(*_: object) -> None:
    """Nobody looks at the progress."""


def hum(path: Path, loud: int) -> Path:
    """A second of sound; what is said in it is up to the stand-in."""
    with wave.open(str(path), "wb") as file:
        file.setparams((1, 1, 8000, 0, "NONE", ""))
        file.writeframes(bytes([128 + loud, 128 - loud]) * 4000)
    return path


def take(store: Store, paths: list[Path], hearing) -> None:
    results = list(jobs.take(store, JOB, paths, listening=lambda name: quiet, hearing=hearing))
    assert [each.line for each in results if each.outcome == "failed"] == []


def packed(library: Path, folder: Path, job: str = JOB) -> Path:
    with open_store(library) as store:
        amiss = pack(store, job, folder, quiet).amiss
    assert [line for line in amiss if not line.endswith("to settle first")] == []
    return folder


def taken_in(bag: Path, library: Path, name: str | None = None) -> tuple[int, int, tuple[str, ...]]:
    """How many entries and originals came in, and what is amiss."""
    given = opened(bag, name)
    with open_store(library, create=True) as store:
        done = unpack(store, given, quiet)
        return done.entries, done.originals, done.amiss


def log(library: Path, job: str = JOB) -> list[tuple[Any, ...]]:
    with open_store(library) as store:
        return [tuple(row.values()) for row in store.rows("SELECT * FROM log WHERE job = ? ORDER BY id", [job])]


def wrong_with(library: Path) -> list[str]:
    with open_store(library) as store:
        return [fault.words for fault in verify(store, None, quiet)]


def read(library: Path, job: str = JOB) -> dict[str, Any]:
    """All that a crew sees of a job."""
    with open_store(library) as store:
        book = Book(store, job)
        return {
            "notes": [note.model_dump() for note in book.notes],
            "record": book.record.as_json(),
            "findings": [each.model_dump() for each in book.findings],
            "photos": [each.model_dump() for each in book.photos],
            "job": book.job.model_dump(),
            "amiss": [*book.problems, *book.remarks],
        }


def lines(bag: Path) -> list[dict[str, Any]]:
    return [json.loads(line) for line in (bag / "data" / "log.jsonl").read_text().splitlines()]


def first(bag: Path, ending: str) -> Path:
    return next((bag / "data" / "originals").glob(f"*{ending}"))


def refused(library: Path, folder: Path, job: str = JOB) -> str:
    before = sorted(folder.parent.iterdir()) if folder.parent.is_dir() else []
    with open_store(library) as store, pytest.raises(FallbookError) as told:
        pack(store, job, folder, quiet)
    assert (sorted(folder.parent.iterdir()) if folder.parent.is_dir() else []) == before
    return str(told.value)


def packed_with_remarks(library: Path, folder: Path) -> Path:
    with open_store(library) as store:
        pack(store, JOB, folder, quiet)
    return folder
