"""Which program this is: what was worked out by another version of it is not this one's."""

from __future__ import annotations

import hashlib
import sys
from functools import lru_cache
from pathlib import Path


def module_command(module: str) -> list[str]:
    """The command that runs a module of this program, whatever lies in the folder that somebody stands in."""
    start = f"import sys; sys.path[:] = {[each for each in sys.path if each]!r}; import runpy; "
    return [sys.executable, "-P", "-c", f"{start}runpy.run_module({module!r}, run_name='__main__')"]


@lru_cache(maxsize=1)
def program() -> str:
    """A mark of this program's own text: it changes with every change of it, whatever the package's version says."""
    digest = hashlib.sha256()
    root = Path(__file__).parent.parent
    for floor in ("extract", "reports", "logger"):
        for path in sorted((root / floor).rglob("*")):
            if path.suffix in (".py", ".toml"):
                digest.update(path.read_bytes())
    return digest.hexdigest()[:16]
