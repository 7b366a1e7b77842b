"""Takes the pieces of a recording into a job, in order, however long the library cannot take them."""

from __future__ import annotations

import errno
import hashlib
import threading
import time
from collections import deque
from collections.abc import Callable
from datetime import UTC, datetime, tzinfo
from pathlib import Path

from extract.errors import FallbookError
from logger.cutting import Piece
from logger.database import full
from logger.hearing import Result
from logger.intake import take_received
from logger.originals import receiving
from logger.spool import Recorded, Spool
from logger.store import open_store

RETRY_S = (1.0, 2.0, 4.0, 8.0, 15.0)
"""Between two tries, the last again and again."""
FULL = "the library's disk is full; make room"


class Keeper:
    """Works in a thread of its own. A piece lies in the spool until the library holds it, and is in memory alone only
    while neither disk takes it."""

    def __init__(
        self,
        folder: Path,
        job: str,
        spool: Spool,
        zone: tzinfo,
        taken: Callable[[], None],
        trouble: Callable[[str], None],
    ) -> None:
        """`folder` is the library's; what an earlier `listen` left in the spool is taken first. `taken` is called after
        each piece, `trouble` with a line where something is amiss; both must be quick and raise nothing."""
        self.count = self.failed = 0
        """Pieces that were taken, and those that can be of no use."""
        self.spool = spool
        self._folder, self._job, self._zone, self._taken, self._trouble = folder, job, zone, taken, trouble
        self._waiting: deque[Path | Recorded] = deque(self.spool.waiting())
        self.found = len(self._waiting)
        """Pieces that lay in the spool."""
        self._told = {"library": "", "spool": ""}
        self._news, self._ending = threading.Condition(), False
        self._thread = threading.Thread(target=self._run, daemon=True, name="keeper")
        self._thread.start()

    def put(self, piece: Piece, recording_id: str) -> None:
        """One more piece of that recording. Waits for the spool's disk alone."""
        written = self._written(Recorded.of(piece, recording_id, self._zone))
        with self._news:
            self._waiting.append(written)
            self._news.notify()

    def finish(self) -> int:
        """Take what waits, as far as that can be done now: how many pieces stay in the spool. Returns once none is in
        memory alone, however long that takes."""
        with self._news:
            self._ending = True
            self._news.notify()
        self._thread.join()
        while not self._all_on_disk():
            time.sleep(RETRY_S[0])
        return len(self._waiting)

    def _all_on_disk(self) -> bool:
        while self._waiting and self._take_first():
            pass
        return not any(isinstance(each, Recorded) for each in self._waiting)

    def _run(self) -> None:
        tries = 0
        while True:
            with self._news:
                self._news.wait_for(lambda: self._ending or self._waiting)
                if tries:
                    self._news.wait_for(lambda: self._ending, RETRY_S[min(tries, len(RETRY_S)) - 1])
                if self._ending:
                    return
            tries = 0 if self._take_first() else tries + 1

    def _take_first(self) -> bool:
        """False where the library cannot take it now."""
        first = self._waiting[0]
        piece = self._read(first) if isinstance(first, Path) else first
        if piece:
            try:
                results = take_piece(self._folder, self._job, piece)
            except Exception as error:  # whatever it is, the piece stays and is tried again
                self._tell("library", f"not in the library yet, kept and tried again: {self._in_words(error)}")
                self._write_what_is_in_memory()
                return False
            self._told["library"] = ""
            self._done(first, results)
        self._waiting.popleft()
        return True

    def _read(self, path: Path) -> Recorded | None:
        """None where it cannot be taken: it is gone, for another `listen` took it, or its disk cannot read it."""
        try:
            return self.spool.read(path)
        except FileNotFoundError:
            return None
        except OSError as error:
            self.failed += 1
            self._trouble(f"{path}: cannot be read ({error.strerror or error}); check its disk")
            return None

    def _done(self, first: Path | Recorded, results: list[Result]) -> None:
        """The library holds it."""
        if isinstance(first, Path):
            self.spool.drop(first)
        failed = [each.line for each in results if each.outcome == "failed"]
        for line in failed:
            self._trouble(line)
        self.failed += bool(failed)
        self.count += not failed
        self._taken()

    def _written(self, piece: Recorded) -> Path | Recorded:
        """Where it lies in the spool; itself where the spool's disk does not take it."""
        try:
            return self.spool.put(piece)
        except OSError:
            return piece

    def _write_what_is_in_memory(self) -> None:
        with self._news:
            for index, each in enumerate(self._waiting):
                if isinstance(each, Recorded):
                    self._waiting[index] = self._written(each)
            if not any(isinstance(each, Recorded) for each in self._waiting):
                self._told["spool"] = ""
                return
        where = f"{self.spool.folder} cannot be written either"
        self._tell("spool", f"{where}: the sound waits in memory; make room, and leave this running until then")

    def _tell(self, what: str, line: str) -> None:
        """Once, until it is well again."""
        if line != self._told[what]:
            self._trouble(line)
        self._told[what] = line

    def _in_words(self, error: Exception) -> str:
        if full(self._folder) or (isinstance(error, OSError) and error.errno == errno.ENOSPC):
            return FULL
        if isinstance(error, FallbookError):
            return str(error)
        why = (error.strerror if isinstance(error, OSError) else None) or f"{type(error).__name__}: {error}"
        return f"{self._folder}: the library cannot be written ({why}); check its disk"


def take_piece(folder: Path, job: str, piece: Recorded) -> list[Result]:
    """Take one piece into a job of the library in that folder, which holds it then: what is to be said of it.

    Raises FallbookError or OSError where that fails.
    """
    if not (folder / "library.db").exists():
        raise FallbookError(f"{folder}: the library is gone; bring it back, or run: fallbook restore DIR")
    sha256 = hashlib.sha256(piece.raw).hexdigest()
    with receiving(folder) as part:
        part.file.write(piece.raw)
        with open_store(folder) as store:
            results = take_received(
                store, job, "sound", part, sha256, piece.name, datetime.now(UTC), piece.upload, "it is taken"
            )
            if not store.holds(job, sha256):
                raise FallbookError(" ".join(each.line for each in results))
    return results
