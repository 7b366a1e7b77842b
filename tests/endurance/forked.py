"""Children of this process: forked with all that is imported, looked at, and gone when they should be."""

from __future__ import annotations

import os
import signal
import sys
import time
import traceback
from collections.abc import Callable, Iterable
from pathlib import Path

from logger import worker

WORKERS_S = 10.0
"""By when a decoding process must have ended after the command that started it was killed: one that was only just
started comes up first, which takes a busy machine seconds."""


def start(work: Callable[[], int], out: Path) -> int:
    """Run `work` in a child with a process group of its own; what it prints goes to `out`. Its process number."""
    pid = os.fork()
    if pid:
        return pid
    code = 70
    try:
        os.setpgid(0, 0)
        worker.worker.cache_clear()  # a process that the parent had would be shared
        sys.stdout = sys.stderr = out.open("a", buffering=1)
        code = work()
    except BaseException:
        traceback.print_exc()
    os._exit(code)


def end(pid: int) -> int:
    """Wait for a child; its exit code, or the signal that ended it, negative."""
    return os.waitstatus_to_exitcode(os.waitpid(pid, 0)[1])


def asked(lines: Callable[[], Iterable[str]], out: Path) -> list[str]:
    """What `lines` finds, in a child: it may start a decoding process."""

    def tell() -> int:
        for line in lines():
            print(line)
        return 0

    out.unlink(missing_ok=True)
    code = end(start(tell, out))
    said = out.read_text().splitlines()
    return said if code == 0 else [f"the look failed: {said[-1]} ({said[-3].strip()})"]


def left_running(group: int) -> bool:
    """Whether a process of the group goes on past WORKERS_S. Where there is no /proc, nobody can tell."""
    until = time.monotonic() + WORKERS_S
    while _alive(group):
        if time.monotonic() > until:
            os.killpg(group, signal.SIGKILL)
            return True
        time.sleep(0.02)
    return False


def _alive(group: int) -> bool:
    for stat in Path("/proc").glob("[0-9]*/stat"):
        try:
            state, _, own = stat.read_text().rpartition(")")[2].split()[:3]
        except (OSError, ValueError):
            continue
        if int(own) == group and state not in "ZX":
            return True
    return False
