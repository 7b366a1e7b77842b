"""A kill of every other path that writes, and of each with `FALLBOOK_WHOLE=1`; `make endure` does hundreds."""

import os
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]


@pytest.mark.skipif(not hasattr(os, "fork"), reason="the kills need fork")
def test_a_killed_command_loses_nothing_doubles_nothing_and_leaves_nothing_behind():
    """In a process of its own: what other tests loaded may run threads, which a fork does not take along."""
    every = 1 if "FALLBOOK_WHOLE" in os.environ else 2
    command = [sys.executable, str(ROOT / "tests" / "endurance" / "kills.py"), "--times", "1", "--seed", "1"]
    command += ["--every", str(every)]
    paths = os.pathsep.join([str(ROOT), str(ROOT / "tests")])
    done = subprocess.run(command, env=os.environ | {"PYTHONPATH": paths}, capture_output=True, text=True)
    assert done.returncode == 0, done.stdout + done.stderr
    assert done.stdout.count(": 1 kills in") >= 17 // every
