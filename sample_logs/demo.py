"""The whole main job on the sample day, typed as a crew would type it: make a job, take the day in, report, find.

Run by `make demo`. Everything it makes lies in `demo/`, which is emptied first.
"""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
import time
from pathlib import Path

HERE = Path(__file__).resolve().parent
ROOT = HERE.parent
OUT = ROOT / "demo"
JOB = "quillbark-walk"
COMMANDS = [
    ["new", JOB, "--client", "Ina Wexcombe", "--address", "27 Quillbark Row, Ambledown Hollow",
     "--company", "sample_logs/company.toml", "--day", "2026-09-15", "--zone=-06:00"],
    ["take", JOB, "sample_logs/day"],
    ["report", JOB, "-o", f"demo/{JOB}.docx"],
    ["show", JOB, "R-2"],
    ["find", "roots"],
]  # fmt: skip


def main() -> int:
    """Run every command; 0 where all of them did."""
    shutil.rmtree(OUT, ignore_errors=True)
    OUT.mkdir()
    started = time.monotonic()
    for words in COMMANDS:
        shown = " ".join(f'"{word}"' if " " in word else word for word in words)
        print(f"\n$ fallbook {shown}", flush=True)
        command = [sys.executable, "-m", "logger.cli", *words]
        environment = os.environ | {"FALLBOOK_LIBRARY": str(OUT / "library")}
        done = subprocess.run(command, cwd=ROOT, env=environment, check=False)
        if done.returncode:
            print(f"demo: fallbook {words[0]} ended with exit code {done.returncode}", file=sys.stderr)
            return done.returncode
    print(f"\nThe day is done, in {time.monotonic() - started:.0f} seconds. Open these:")
    for path in sorted([*OUT.glob("*.docx"), *OUT.glob("*.png")]):
        print(f"  {path.relative_to(ROOT)}")
    print(f"Look further: FALLBOOK_LIBRARY=demo/library .venv/bin/fallbook show {JOB}")
    print(f"Settle its questions on a page: FALLBOOK_LIBRARY=demo/library .venv/bin/fallbook serve {JOB}")
    return 0


if __name__ == "__main__":
    sys.exit(main())
