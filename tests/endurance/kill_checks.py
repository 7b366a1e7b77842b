"""What must hold after a kill, and after the command that comes next: a line for each thing that does not."""

from __future__ import annotations

import hashlib
import io
import json
import shutil
import sqlite3
import tempfile
import zipfile
from collections import Counter
from collections.abc import Callable, Iterator
from contextlib import closing
from pathlib import Path
from typing import Any

from kill_begin import FIXTURES, JOB, NOTE, STRETCHES, Place
from PIL import Image

from extract.errors import FallbookError
from logger import integrity, jobs, verify
from logger.archive.unpack import opened
from logger.book import Book
from logger.database import connect
from logger.store import Store, open_store


def library_wrong(folder: Path) -> Iterator[str]:
    """Of any library at rest: the database, every chain of digests, and the originals, byte for byte."""
    with open_store(folder) as store:
        for (line,) in store.connection.execute("PRAGMA integrity_check"):
            if line != "ok":
                yield f"integrity_check: {line}"
        for name in store.job_names():
            store.entries(name)
        known = [row["sha256"] for row in store.rows("SELECT DISTINCT sha256 FROM log WHERE sha256 IS NOT NULL")]
        found = {path.name: hashlib.sha256(path.read_bytes()).hexdigest() for path in store.originals.folder.iterdir()}
        if sorted(found) != sorted(known) or any(name != sha256 for name, sha256 in found.items()):
            yield f"originals: {len(found)} files, the log names {len(known)}; {sorted(set(found) ^ set(known))[:3]}"
        yield from (f"verify: {fault.words}" for fault in verify.verify(store, None, lambda *_: None))


def left_behind(at: Place) -> Iterator[str]:
    for path in at.at.rglob("*"):
        begun = path.name.startswith(".unfinished-") or path.name.endswith((".part", "-wal", "-shm"))
        # A journal that was not synced yet says nothing; the next write takes it away.
        if begun or (path.name.endswith("-journal") and path.read_bytes()[:8].strip(b"\0")):
            yield f"left behind: {path.relative_to(at.at)}"


def log_of(library: Path) -> list[tuple[Any, ...]]:
    """The log's rows as they stand, without the program's help; digests are of a new form only."""
    with closing(sqlite3.connect(library / "library.db")) as conn:
        return conn.execute("SELECT id, job, kind, at, body, sha256, name FROM log ORDER BY id").fetchall()


def taken(at: Place, said: str) -> Iterator[str]:
    """No file twice, and every one that was said to be taken."""
    names = Counter(row[6] for row in log_of(at / "library"))
    yield from (f"{name} is in the log {count} times" for name, count in names.items() if name and count > 1)
    acknowledged = [Path(line.split(": ")[0]).name for line in said.splitlines() if line.endswith(" taken")]
    yield from (f"{name} was said to be taken and is lost" for name in acknowledged if not names[name])


def all_taken(kind: str) -> Callable[[Place], Iterator[str]]:
    def wrong(at: Place) -> Iterator[str]:
        yield from taken(at, "")
        files = [*(at / "phone" / kind).iterdir(), *(at / "phone" / "first").iterdir()]
        if {hashlib.sha256(path.read_bytes()).hexdigest() for path in files} != {
            row[5] for row in log_of(at / "library") if row[5]
        }:
            yield "the log holds other files than were taken"

    return wrong


def all_heard(at: Place) -> Iterator[str]:
    yield from all_taken("sound")(at)
    with open_store(at / "library") as store:
        notes = [note for note in Book(store, JOB).notes if note.text.startswith("Cover is")]
        stretches = list(store.rows("SELECT 1 FROM derived WHERE what GLOB 'stretch *'"))
    again = [line for line, count in Counter((at / "diary").read_text().splitlines()).items() if count > 1]
    if len(notes) != 2 * STRETCHES or stretches or len(again) > 1:
        yield f"{len(notes)} notes heard, {len(stretches)} stretches left, heard twice: {again}"


def entries(kind: str, **body: Any) -> Callable[[Store], int]:
    """Counts the log's entries of a kind that say so."""

    def count(store: Store) -> int:
        found = [json.loads(row["body"]) for row in store.rows("SELECT body FROM log WHERE kind = ?", [kind])]
        return sum(body.items() <= each.items() for each in found)

    return count


def asks(number: int) -> Callable[[Place], Iterator[str]]:
    """How many questions are open then."""

    def wrong(at: Place) -> Iterator[str]:
        with open_store(at / "library") as store:
            found = [each.about for each in Book(store, JOB).record.questions]
        if len(found) != number:
            yield f"{number} questions should be open, and there are: {found}"

    return wrong


def settled(at: Place) -> Iterator[str]:
    with open_store(at / "library") as store:
        hits = [hit.words for hit in jobs.find(store, "covered").hits if hit.what == "note"]
        if hits != [NOTE] or list(store.rows("SELECT job FROM changed")):
            yield f"the note is not in the index once: {hits}"


def job_is_there(store: Store) -> int:
    if "back-walk" not in store.job_names():
        return 0
    return 1 + (store.job("back-walk").company.name != "Sedgeway Drainage")


def report_wrong(at: Place, said: str = "") -> Iterator[str]:
    """Each paper is whole, if it is there."""
    for path in (at / "reports").glob("[!.]*"):
        try:
            if path.suffix == ".docx":
                zipfile.ZipFile(path).testzip()
            else:
                Image.open(io.BytesIO(path.read_bytes())).load()
        except (OSError, SyntaxError, zipfile.BadZipFile) as error:
            yield f"{path.name}: {error}"


def report_there(at: Place) -> Iterator[str]:
    yield from report_wrong(at)
    if len(list((at / "reports").iterdir())) < 2:
        yield "the report and its drawings are not all there"


def backup_wrong(at: Place, said: str = "") -> Iterator[str]:
    """A backup is none yet, or an earlier state, or the present one, with every original that it names."""
    if not (at / "backup" / "library.db").exists():
        return
    with closing(connect(at / "backup" / "library.db", writable=False)) as conn:
        yield from integrity.faults(conn)
    held, now = log_of(at / "backup"), log_of(at / "library")
    if held != now[: len(held)]:
        yield "the backup is no earlier state of the library"
    for *_, sha256, name in held:
        if sha256 and hashlib.sha256((at / "backup" / "originals" / sha256).read_bytes()).hexdigest() != sha256:
            yield f"the backup of {name} is not whole"


def backed_up(at: Place) -> Iterator[str]:
    yield from library_wrong(at / "backup")
    if log_of(at / "backup") != log_of(at / "library"):
        yield "the backup lacks something"


def restored(at: Place) -> Iterator[str]:
    """All that the backup holds, and the note that was newer where it could still be read."""
    held, now = log_of(at / "backup"), log_of(at / "library")
    if now[: len(held)] != held:
        yield "what the backup holds is not back"
    if len(list((at / "library").glob("library-damaged-*.db"))) > 1:
        yield "the damaged library was set aside more than once"
    newer = [json.loads(row[4]).get("text") for row in now[len(held) :]]
    if newer != [NOTE] * (not at.variant.startswith("gone")):
        yield f"newer than the backup should be one note, and is {newer}"


def bag_is_there(store: Store) -> int:
    return int((store.folder.parent / "bag").exists())


def bag_wrong(at: Place, said: str = "") -> Iterator[str]:
    """A bag that stands under its name is whole, and can be unpacked."""
    if (at / "bag").exists():
        try:
            opened(at / "bag")
        except FallbookError as error:
            yield str(error)


def half_unpacked(at: Place, said: str = "") -> Iterator[str]:
    """The log holds what it held before, or all of it."""
    now = log_of(at / "library") if job_stands(at / "library") else []
    before = log_of(at / "before") if (at / "before").exists() else []
    if now not in (before, log_of(at / "whole" / "library")):
        yield f"half of the bag is in the log: {len(before)} entries before, {len(now)} now"


def job_stands(library: Path) -> bool:
    """Whether the library is made as far as that it has a job."""
    if not (library / "library.db").exists():
        return False
    with closing(connect(library / "library.db", writable=True)) as conn:
        return conn.execute("SELECT 1 FROM jobs").fetchone() is not None


def unpacked(at: Place) -> Iterator[str]:
    if log_of(at / "library") != log_of(at / "whole" / "library"):
        yield "the log is not what unpacking makes of it"
    seen = []
    for library in (at / "library", at / "whole" / "library"):
        with open_store(library) as store:
            book = Book(store, JOB)
            seen.append((book.record, book.photos, [*book.problems, *book.remarks]))
    if seen[0] != seen[1]:
        yield "the job reads otherwise than it should"


def as_before(at: Place) -> Iterator[str]:
    """A library of an earlier version holds the same entries, and reads as that version read it."""
    with tempfile.TemporaryDirectory() as folder:
        shutil.copytree(FIXTURES / at.variant, folder, dirs_exist_ok=True)
        if log_of(Path(folder)) != log_of(at / "library"):
            yield "the log is not what it was"
    with open_store(at / "library") as store:
        book = Book(store, JOB)
        got = {
            "notes": [note.model_dump(mode="json", exclude_defaults=True) for note in book.notes],
            "photos": [each.model_dump(mode="json", exclude_none=True) for each in book.photos],
        }
    for name, now in got.items():
        before = json.loads((at / "library" / f"{name}.json").read_text())
        as_then = [{key: each.get(key) for key in then} for each, then in zip(now, before, strict=False)]
        if len(now) != len(before) or as_then != before:  # a field that is new since then may be told
            yield f"{name} read otherwise than that version read them"
