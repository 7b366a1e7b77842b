"""The whole main job on the sample day, typed as a crew would type it: make a job, take the day in, settle what is in
doubt, report, find.

Run by `make demo`. Everything it makes lies in `demo/`, which is emptied first.
"""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
import time
import tomllib
from pathlib import Path
from typing import Any

HERE = Path(__file__).resolve().parent
ROOT = HERE.parent
OUT = ROOT / "demo"
JOB = "quillbark-walk"
TIES = {
    "CB-1": ("24.4 from garage corner, left", "27.2 from porch post"),
    "CB-2": ("49 from garage corner, left", "39.1 from porch post"),
    "CB-3": ("58.5 from garage corner, left", "26.8 from porch post"),
    "CD-1": ("17.9 from garage corner, left", "25.6 from porch post"),
    "DS-1": ("52 from garage corner, left", "18.6 from porch post"),
    "OUT-1": ("99.4 from garage corner, left", "90.4 from porch post"),
}
"""What was taped on the day and written on a board: all lie left of the line from the garage corner to the post."""
COMMANDS = [
    ["new", JOB, "--client", "Ina Wexcombe", "--address", "27 Quillbark Row, Ambledown Hollow",
     "--company", "sample_logs/company.toml", "--day", "2026-09-15", "--zone=-06:00"],
    ["take", JOB, "sample_logs/day"],
    ["ask", JOB],
    ["amend", JOB, "R-2", "slope", "an eighth per foot"],
    ["amend", JOB, "R-5", "pieces", "10, 10, 10, 10, 10, 3"],
    ["amend", JOB, "points", "porch post 36.9 from garage corner"],
    *(["amend", JOB, label, "tie", tie] for label, ties in TIES.items() for tie in ties),
    ["accept", JOB, "R-3 min slope", "left as is, agreed with the owner; we look at it on the first visit"],
    ["accept", JOB, "CB-3 in above out", "left as is, agreed with the owner; the sump holds the grit"],
    ["report", JOB, "-o", f"demo/{JOB}.docx"],
    ["report", JOB, "--for", "record", "-o", f"demo/{JOB}-record.docx"],
    ["report", JOB, "--for", "locate", "-o", f"demo/{JOB}-locate.docx"],
    ["show", JOB, "R-2"],
    ["find", "roots"],
]  # fmt: skip


def main() -> int:
    """Run every command; 0 where all of them did."""
    shutil.rmtree(OUT, ignore_errors=True)
    OUT.mkdir()
    started = time.monotonic()
    for words in COMMANDS:
        shown = " ".join(f'"{word}"' if set(word) & set(" ,;") else word for word in words)
        print(f"\n$ fallbook {shown}", flush=True)
        code = answer(words) if words[0] == "ask" else run(words).wait()
        if code:
            print(f"demo: fallbook {words[0]} ended with exit code {code}", file=sys.stderr)
            return code
    print(f"\nThe day is done, in {time.monotonic() - started:.0f} seconds. Open these:")
    for path in sorted(path for kind in ("docx", "png", "ics") for path in OUT.glob(f"*.{kind}")):
        print(f"  {path.relative_to(ROOT)}")
    print(f"Look further: FALLBOOK_LIBRARY=demo/library .venv/bin/fallbook show {JOB}")
    print(f"Look at it on a page: FALLBOOK_LIBRARY=demo/library .venv/bin/fallbook serve {JOB}")
    return 0


def run(words: list[str], **pipes: Any) -> subprocess.Popen[str]:
    """One command, begun."""
    environment = os.environ | {"FALLBOOK_LIBRARY": str(OUT / "library"), "PYTHONUNBUFFERED": "1"}
    return subprocess.Popen([sys.executable, "-m", "logger.cli", *words], cwd=ROOT, env=environment, text=True, **pipes)


def answer(words: list[str]) -> int:
    """Answers each question as the crew would, and shows what was asked and answered; the exit code."""
    answers = tomllib.loads((HERE / "answers.toml").read_text(encoding="utf-8"))
    asking = run(words, stdin=subprocess.PIPE, stdout=subprocess.PIPE)
    assert asking.stdin is not None
    assert asking.stdout is not None
    said = "skip"
    for line in asking.stdout:
        print(line, end="", flush=True)
        said = answers.get(line.partition("? (")[0] + "?", said)
        if line.startswith("  now: "):
            print(f"> {said}", flush=True)
            asking.stdin.write(f"{said}\n")
            asking.stdin.flush()
            said = "skip"
    return asking.wait()


if __name__ == "__main__":
    sys.exit(main())
