"""The page's own scripts, run by Node: the queue loses nothing and sends nothing twice; the hash is SHA-256."""

import shutil
import subprocess
from pathlib import Path

import pytest

NODE = shutil.which("node")


@pytest.mark.skipif(NODE is None, reason="Node.js is not installed")
def test_the_scripts_keep_their_promises():
    done = subprocess.run(
        [NODE, "--test", str(Path(__file__).parent / "queue_test.mjs")], capture_output=True, text=True, timeout=120
    )
    assert done.returncode == 0, done.stdout[-3000:]
