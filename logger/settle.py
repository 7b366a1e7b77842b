"""Read jobs in a process of its own: those that something was added to, so that whoever typed a note need not wait for
it, and after an update all that an earlier version read.

What it leaves undone, because it was killed or another came in meanwhile, is done by the next command that asks.
"""

from __future__ import annotations

import os
import subprocess
import sys
import threading
from contextlib import suppress
from pathlib import Path

from extract.errors import FallbookError
from logger.program import module_command
from logger.search import changed, of_earlier
from logger.store import Store, open_store

SOON_S = 2.0
_LOCK = threading.Lock()
_WAITING: dict[Path, threading.Timer] = {}
LATER = 10
"""How far this stands back behind what somebody waits for (nice, POSIX.1)."""


def in_background(folder: Path) -> None:
    """Start reading, and do not wait for it."""
    subprocess.Popen(
        [*module_command("logger.settle"), str(folder)],
        stdin=subprocess.DEVNULL,
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
        start_new_session=True,
    )


def soon(folder: Path) -> None:
    """The same once nothing more has come in for SOON_S: who taps answer after answer need not wait for it."""
    with _LOCK:
        if waiting := _WAITING.pop(folder, None):
            waiting.cancel()
        timer = _WAITING[folder] = threading.Timer(SOON_S, in_background, [folder])
        timer.daemon = True
        timer.start()


def settle_all(store: Store) -> None:
    """Read every job that has changed since it was last read, those that change meanwhile first."""
    from logger.jobs import settle

    tried: dict[str, str] = {}
    """The state in which each job was read: what failed, or could not be read in full, waits for a change."""

    def waiting() -> str | None:
        jobs = [*changed(store), *of_earlier(store)]
        return next((job for job in jobs if tried.get(job) != store.state(job)), None)

    while job := waiting():
        tried[job] = store.state(job)
        settle(store, job)


def main() -> None:
    """The background process: one at a time for each library."""
    folder = Path(sys.argv[1])
    if os.name == "posix":
        os.nice(LATER)
    with suppress(FallbookError, OSError):
        if _alone(folder):
            with open_store(folder) as store:
                settle_all(store)


def _alone(folder: Path) -> bool:
    """Whether no other process is at it already; held until this one ends."""
    if os.name != "posix":
        return True
    import fcntl

    try:
        fcntl.flock(os.open(folder, os.O_RDONLY), fcntl.LOCK_EX | fcntl.LOCK_NB)
    except BlockingIOError:
        return False
    return True


if __name__ == "__main__":
    main()
