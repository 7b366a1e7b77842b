"""Which program this is: what was worked out by another version of it is not this one's."""

from __future__ import annotations

import hashlib
import sys
import threading
from collections.abc import Sequence
from contextlib import suppress
from functools import cache, lru_cache
from pathlib import Path
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    import subprocess
    from concurrent.futures import Executor


def module_command(module: str) -> list[str]:
    """The command that runs a module of this program, whatever lies in the folder that somebody stands in."""
    start = f"import sys; sys.path[:] = {[each for each in sys.path if each]!r}; import runpy; "
    return [sys.executable, "-P", "-c", f"{start}runpy.run_module({module!r}, run_name='__main__')"]


def started(command: Sequence[str], **options: Any) -> subprocess.Popen[bytes]:
    """That command as a process that ends with this one.

    Linux ends it with the thread that started it, so it is started by one that lasts.
    """
    import subprocess

    def start() -> subprocess.Popen[bytes]:
        return subprocess.Popen(command, **options)

    return start() if threading.current_thread() is threading.main_thread() else _starter().submit(start).result()


@cache
def _starter() -> Executor:
    from concurrent.futures import ThreadPoolExecutor

    return ThreadPoolExecutor(1, "starter")


def end_with_parent() -> None:
    """For a process that was `started`: it ends with its parent, however that one ends, and leaves a Ctrl-C to it."""
    import signal

    if sys.platform == "linux":
        import ctypes

        with suppress(OSError, AttributeError):
            ctypes.CDLL(None).prctl(1, signal.SIGKILL)  # PR_SET_PDEATHSIG, prctl(2)
    with suppress(KeyboardInterrupt, ValueError):
        signal.signal(signal.SIGINT, signal.SIG_IGN)


@lru_cache(maxsize=1)
def program() -> str:
    """A mark of this program's own text: it changes with every change of it, whatever the package's version says."""
    digest = hashlib.sha256()
    root = Path(__file__).parent.parent
    for floor in ("extract", "reports", "logger"):
        for path in sorted((root / floor).rglob("*")):
            if path.suffix in (".py", ".toml"):
                digest.update(path.read_bytes())
            elif path.parent.name == "weights":  # 19 MB, which every command would have to read
                digest.update(f"{path.name} {path.stat().st_size} {path.stat().st_mtime_ns}".encode())
    return digest.hexdigest()[:16]
