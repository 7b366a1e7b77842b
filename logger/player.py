"""Plays the second of sound that a question came from, by whatever general-purpose player the machine has."""

from __future__ import annotations

import shutil
import subprocess
import wave
from pathlib import Path
from typing import BinaryIO

import numpy as np
from platformdirs import user_cache_path

from extract.errors import FallbookError
from logger import ask, decoding
from logger.ask import Heard
from logger.sound import RATE
from logger.store import Store
from reports.scratch import scratch

AROUND_S = 1.0
"""How much is played before and after."""


def player() -> list[str] | None:
    """The command of the first player that this machine has, without the file; None where it has none."""
    for name, options in _names().items():
        if path := shutil.which(name):
            return [path, *options]
    return None


def _names() -> dict[str, list[str]]:
    return dict(ask.table()["players"])


def play(store: Store, name: str, heard: Heard) -> str | None:
    """Play it and wait for its end; in one line why nothing was played, else None."""
    command = player()
    if command is None:
        return f"no player was found; install one of: {', '.join(_names())}"
    if heard.source is None:
        return None
    folder = user_cache_path("fallbook") / "heard"
    folder.mkdir(parents=True, exist_ok=True)
    try:
        original = store.originals.path(heard.source, name)
        with scratch(folder) as file:
            low, high = max(0.0, heard.start_s - AROUND_S), heard.end_s + AROUND_S
            with file.path.open("wb") as part:
                cut(original, name, low, high, part)
            done = subprocess.run(
                [*command, str(file.path)], stdin=subprocess.DEVNULL, capture_output=True, check=False
            )
    except FallbookError as error:
        return str(error)
    return None if done.returncode == 0 else f"{Path(command[0]).name} could not play it"


def cut(original: Path, name: str, from_s: float, to_s: float, target: BinaryIO) -> None:
    """Part of a recording, as a WAV file. `name` stands for the original in messages. Raises FallbookError."""
    low, high = round(from_s * RATE), round(to_s * RATE)
    with wave.open(target, "wb") as file:
        file.setparams((1, 2, RATE, 0, "NONE", ""))
        begins = 0
        for block in decoding.samples(original, name):
            part = block[max(0, low - begins) : max(0, high - begins)]
            file.writeframes((np.clip(part, -1, 1) * 32767).astype("<i2").tobytes())
            begins += len(block)
            if begins >= high:
                break
