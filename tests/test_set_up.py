"""The set-up that `make demo` and `make test` begin with, with a stand-in for the package tools."""

import os
import shutil
import subprocess
from pathlib import Path

import pytest

ROOT = Path(__file__).parent.parent
WARNING = "WARNING: a word of the package tools"


@pytest.fixture
def set_up(tmp_path):
    """Run the set-up in a folder of its own, where the package tools warn and end with `code`."""
    if shutil.which("make") is None:
        pytest.skip("needs make")
    shutil.copy(ROOT / "Makefile", tmp_path)
    for name in ("requirements.lock", "pyproject.toml"):
        (tmp_path / name).touch()
    tools = tmp_path / ".venv" / "bin" / "python"
    tools.parent.mkdir(parents=True)

    def run(code: int) -> subprocess.CompletedProcess:
        tools.write_text(f"#!/bin/sh\necho '{WARNING}' >&2\nexit {code}\n")
        tools.chmod(0o755)
        bare = {name: value for name, value in os.environ.items() if name not in ("MAKEFLAGS", "MAKELEVEL")}
        return subprocess.run(
            ["make", ".venv/ready"], cwd=tmp_path, env=bare, capture_output=True, text=True, check=False
        )

    return run


def test_it_is_quiet_where_it_goes_well(set_up, tmp_path):
    done = set_up(0)
    line = "installing the locked packages and the speech model (once, a few minutes) ...\n"
    assert (done.returncode, done.stdout, done.stderr) == (0, line, "")
    assert (tmp_path / ".venv" / "ready").exists()


def test_it_says_why_it_fails(set_up, tmp_path):
    done = set_up(1)
    assert done.returncode
    assert done.stderr.startswith(f"{WARNING}\nthe packages could not be installed: see above; then run make again\n")
    assert not (tmp_path / ".venv" / "ready").exists()
