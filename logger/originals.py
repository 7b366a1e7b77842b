"""The originals on disk: files under their SHA-256, never changed, and the copies that are still arriving."""

from __future__ import annotations

import hashlib
import os
import sqlite3
from collections.abc import Iterator
from contextlib import AbstractContextManager, contextmanager, suppress
from pathlib import Path
from typing import Literal

from extract.errors import FallbookError
from logger.digests import SHA256
from reports.scratch import (
    Scratch,
    folders_left_behind,
    left_behind,
    remove_folder,
    scratch,
    scratch_folder,
    settle,
    sweep,
)

State = Literal["whole", "altered", "gone"]
BLOCK = 1 << 20
ARRIVING = "arriving"


def receiving(folder: Path) -> AbstractContextManager[Scratch]:
    """A new file in the library of `folder`, for what comes in part by part; it goes away again unless the log comes to
    know of it. May raise OSError."""
    return scratch(folder / ARRIVING)


class Arrival:
    """A file's copy inside the library, not yet among the originals."""

    def __init__(self, part: Scratch, sha256: str) -> None:
        """`part` holds the whole file, of that hash. May raise OSError."""
        part.file.flush()
        os.fsync(part.file.fileno())
        self._part = part
        self.path = part.path
        self.sha256 = sha256

    def logged(self) -> None:
        """The log knows of it now: whatever happens, the copy stays, and is moved to its place at the next start."""
        self._part.stays = True

    def close(self) -> None:
        """End writing. Until then nobody takes it for one that a kill left behind."""
        self._part.file.close()


class Originals:
    """The originals of one library. Whether each is whole is looked up by its size and time, and by its hash where
    those are news."""

    def __init__(self, folder: Path, conn: sqlite3.Connection, *, writable: bool) -> None:
        self.folder = folder / "originals"
        self._arriving = folder / ARRIVING
        self._conn = conn
        self._writable = writable

    def place(self, sha256: str) -> Path:
        """Where that original lies, or would. Raises FallbookError for what is no hash, so no path leads elsewhere."""
        if not SHA256.fullmatch(sha256):
            raise FallbookError(f"{sha256[:80]!r} is no SHA-256; the library's log is damaged, run: fallbook verify")
        return self.folder / sha256

    def path(self, sha256: str, name: str = "") -> Path:
        """That original, whole. `name` is the file's own name, for messages. Raises FallbookError where it is not."""
        state, path = self.state(sha256), self.place(sha256)
        if state == "whole":
            return path
        raise FallbookError(f"{name or path}: {problem(state)}")

    def holds(self, sha256: str) -> bool:
        """Whether it is there, whole. What is wrong with one that is not is told by `path`."""
        try:
            return self.state(sha256) == "whole"
        except FallbookError:
            return False

    def state(self, sha256: str) -> State:
        """Whether it is there, with the bytes that its name says. Raises FallbookError where the disk cannot tell."""
        path = self.place(sha256)
        try:
            return self._state(path)
        except FileNotFoundError:
            return "gone"
        except OSError as error:
            raise FallbookError(f"{path}: cannot be read ({error.strerror or error}); check the disk") from error

    def _state(self, path: Path) -> State:
        sha256, facts = path.name, path.stat()
        seen = (facts.st_size, facts.st_mtime_ns)
        known = self._conn.execute("SELECT size, modified_ns FROM checked WHERE sha256 = ?", [sha256]).fetchone()
        if known == seen:
            return "whole"
        if hash_of(path) != sha256:
            return "altered"
        self._note_whole(sha256, seen)
        return "whole"

    def _note_whole(self, sha256: str, seen: tuple[int, int]) -> None:
        if self._writable:
            with suppress(sqlite3.OperationalError):  # on a full disk it is looked up again next time
                self._conn.execute("INSERT OR REPLACE INTO checked VALUES (?, ?, ?)", [sha256, *seen])

    @contextmanager
    def arriving(self, source: Path) -> Iterator[Arrival]:
        """A copy of `source` to look at; it goes away again unless the log knows of it. May raise OSError."""
        digest = hashlib.sha256()
        with scratch(self._arriving) as part, source.open("rb") as file:
            while block := file.read(BLOCK):
                digest.update(block)
                part.file.write(block)
            yield Arrival(part, digest.hexdigest())

    @contextmanager
    def arriving_together(self) -> Iterator[Scratch]:
        """A folder for copies that come in together, each under its SHA-256; it goes away again unless the log knows of
        them, which `stays` says. May raise OSError."""
        with scratch_folder(self._arriving) as copies:
            yield copies
            if copies.stays:
                self._finish_folder(copies.folder)
                copies.stays = False

    def keep(self, arrival: Arrival) -> None:
        """Give a copy that the log knows of its place: whole or not at all, and read-only. May raise OSError."""
        if os.name == "nt":  # an open file cannot be moved there
            arrival.close()
        self._settle(arrival.path, arrival.sha256)

    def heal(self, arrival: Arrival) -> bool:
        """Put a copy in the place of an original that is altered or gone; False where that one is whole."""
        place = self.place(arrival.sha256)
        if place.is_file() and hash_of(place) == arrival.sha256:  # by its bytes: a bit may flip and the time stay
            return False
        arrival.logged()
        self.keep(arrival)
        return True

    def sweep(self) -> None:
        """Finish what a kill left: a copy that the log knows of goes to its place, any other file is removed."""
        sweep(self.folder.parent)
        for path in left_behind(self._arriving):
            with suppress(OSError):
                self._finish(path)
        for folder in folders_left_behind(self._arriving):
            with suppress(OSError):
                self._finish_folder(folder)

    def _finish_folder(self, folder: Path) -> None:
        for path in folder.iterdir():
            self._finish(path)
        remove_folder(folder)

    def _finish(self, path: Path) -> None:
        sha256 = hash_of(path)
        known = self._conn.execute("SELECT 1 FROM log WHERE sha256 = ?", [sha256]).fetchone()
        if known and self.state(sha256) != "whole":
            self._settle(path, sha256)
        else:
            path.unlink()

    def _settle(self, path: Path, sha256: str) -> None:
        path.chmod(0o400)
        target = self.place(sha256)
        if os.name == "nt" and target.exists():
            target.chmod(0o600)  # a read-only file cannot be replaced there
        os.replace(path, target)
        settle(self.folder)
        facts = target.stat()
        self._note_whole(sha256, (facts.st_size, facts.st_mtime_ns))


def problem(state: State) -> str:
    """What is wrong with an original that is not whole, and what to do."""
    what = "is gone from the library" if state == "gone" else "was altered or damaged in the library"
    return f"its original {what}; take the true file again, or run: fallbook restore DIR"


def copy_original(path: Path, target: Path, sha256: str) -> bool:
    """Copy an original, read it back, then give it its name; False, and no copy, where the original is altered itself.

    Raises FallbookError where it came out otherwise than it was written. May raise OSError.
    """
    digest = hashlib.sha256()
    with scratch(target.parent) as part:
        with path.open("rb") as file:
            while block := file.read(BLOCK):
                digest.update(block)
                part.file.write(block)
        part.file.flush()
        os.fsync(part.file.fileno())
        if digest.hexdigest() != sha256:
            return False
        if hash_of(part.path) != sha256:
            raise FallbookError(f"{target}: came out otherwise than it was written; check that disk and run it again")
        part.path.chmod(0o400)
        part.move(target)
    return True


def hash_of(path: Path) -> str:
    """The SHA-256 of a file, in hexadecimal. May raise OSError."""
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()
