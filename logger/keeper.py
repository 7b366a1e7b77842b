"""Takes the pieces of one recording into a job, in order, however long the library cannot take them."""

from __future__ import annotations

import errno
import hashlib
import os
import shutil
import tempfile
import threading
from collections import deque
from collections.abc import Callable, Sequence
from datetime import UTC, datetime, tzinfo
from pathlib import Path

from extract.errors import FallbookError
from logger.cutting import Piece, joined
from logger.database import full
from logger.intake import take_received
from logger.originals import receiving
from logger.store import open_store
from logger.times import in_range
from logger.upload import Upload
from reports.scratch import settle, write_whole

RETRY_S = (1.0, 2.0, 4.0, 8.0, 15.0)
"""Between two tries, the last again and again."""
LAST_TRIES = 2
"""Once nothing more will come."""
FULL = "the library's disk is full; make room"


class Keeper:
    """Works in a thread of its own; a piece is in memory until the library has it."""

    def __init__(
        self, folder: Path, job: str, zone: tzinfo, taken: Callable[[], None], trouble: Callable[[str], None]
    ) -> None:
        """`folder` is the library's. `taken` is called after each piece, `trouble` with a line where one has to wait;
        both must be quick and raise nothing."""
        self.count = 0
        """Pieces that were taken."""
        self._folder, self._job, self._zone, self._taken, self._trouble = folder, job, zone, taken, trouble
        self._recording_id = os.urandom(8).hex()
        self._waiting: deque[Piece] = deque()
        self._told = ""
        self._news, self._ending = threading.Condition(), False
        self._thread = threading.Thread(target=self._run, daemon=True, name="keeper")
        self._thread.start()

    def put(self, piece: Piece) -> None:
        """One more piece. Does not wait."""
        with self._news:
            self._waiting.append(piece)
            self._news.notify()

    def finish(self) -> list[Piece]:
        """Take what waits, as far as that can be done now; what cannot be taken."""
        with self._news:
            self._ending = True
            self._news.notify()
        self._thread.join()
        return self.try_again()

    def try_again(self) -> list[Piece]:
        """The same, after `finish`."""
        for _ in range(LAST_TRIES):
            while self._waiting and self._take_first():
                pass
        return list(self._waiting)

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
        try:
            take_piece(self._folder, self._job, self._waiting[0], self._recording_id, self._zone)
        except Exception as error:  # whatever it is, the piece stays and is tried again
            line = self._in_words(error)
            if line != self._told:
                self._trouble(line)
            self._told = line
            return False
        self._waiting.popleft()
        self._told = ""
        self.count += 1
        self._taken()
        return True

    def _in_words(self, error: Exception) -> str:
        if full(self._folder) or (isinstance(error, OSError) and error.errno == errno.ENOSPC):
            return FULL
        if isinstance(error, FallbookError):
            return str(error)
        why = (error.strerror if isinstance(error, OSError) else None) or f"{type(error).__name__}: {error}"
        return f"{self._folder}: the library cannot be written ({why}); check its disk"


def take_piece(folder: Path, job: str, piece: Piece, recording_id: str, zone: tzinfo) -> None:
    """Take one piece into a job of the library in that folder. Raises FallbookError or OSError where that fails."""
    if not (folder / "library.db").exists():
        raise FallbookError(f"{folder}: the library is gone; bring it back, or run: fallbook restore DIR")
    raw, at = piece.wav(), piece.at if in_range(piece.at) else None
    upload = Upload(at=at, recording_id=recording_id, from_s=round(piece.from_s, 3), to_s=round(piece.to_s, 3))
    sha256 = hashlib.sha256(raw).hexdigest()
    with receiving(folder) as part:
        part.file.write(raw)
        with open_store(folder) as store:
            results = take_received(
                store, job, "sound", part, sha256, name_of(piece, zone), datetime.now(UTC), upload, "it is taken"
            )
            if not store.holds(job, sha256):
                raise FallbookError(" ".join(each.line for each in results))


def name_of(piece: Piece, zone: tzinfo) -> str:
    """Its file's name, with the time at which it began."""
    return f"talk {piece.at.astimezone(zone):%Y-%m-%d %H.%M.%S}.wav"


def leave(pieces: Sequence[Piece], job: str, zone: tzinfo) -> Path:
    """Write pieces as WAV files, those that meet as one, into a new folder where somebody stands, else in the home
    folder, else in that for temporary files; the folder. Raises OSError where none of these takes them."""
    for base in (os.getcwd, lambda: os.path.expanduser("~"), tempfile.gettempdir):
        try:
            return _left_in(Path(base()), pieces, job, zone)
        except OSError as error:
            last = error
    raise last


def _left_in(base: Path, pieces: Sequence[Piece], job: str, zone: tzinfo) -> Path:
    folder = Path(tempfile.mkdtemp(prefix=f"fallbook-{job}-", dir=base))
    try:
        for piece in joined(pieces):
            write_whole(folder / name_of(piece, zone), piece.wav())
        settle(base)
    except OSError:
        shutil.rmtree(folder, ignore_errors=True)
        raise
    return folder
