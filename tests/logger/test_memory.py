"""How much memory hearing takes: the same for half an hour as for five minutes."""

import shutil
import subprocess
import sys
import wave
from pathlib import Path

import numpy as np
import pytest

from logger.sound import RATE, Samples, decode

HEARD = """
import resource, sys
from pathlib import Path
from logger import speech

class Ear:
    stretches = 0
    def language(self, stretch):
        return "en"
    def hear(self, stretch, hint, language):
        Ear.stretches += 1

speech.find_model = lambda name: Path("model")
speech._ear = lambda folder: Ear()
speech.hear(Path(sys.argv[1]))
print(Ear.stretches, resource.getrusage(resource.RUSAGE_SELF).ru_maxrss)
"""
"""With the real voice detector; what is said is not listened to, so that the model's own memory is left out."""


def recording(path: Path, said: Samples, minutes: int) -> Path:
    """Faint noise, with the same thing said at the head of every minute."""
    minute = 0.001 * np.random.default_rng(2).standard_normal(60 * RATE)
    minute[5 * RATE : 5 * RATE + len(said)] += said
    with wave.open(str(path), "wb") as out:
        out.setnchannels(1)
        out.setsampwidth(2)
        out.setframerate(RATE)
        for _ in range(minutes):
            out.writeframes((minute * 32767).astype("<i2").tobytes())
    return path


@pytest.mark.skipif(shutil.which("flite") is None, reason="Debian package flite is not installed")
@pytest.mark.skipif(sys.platform != "linux", reason="memory is counted as Linux counts it")
def test_half_an_hour_takes_no_more_memory_than_five_minutes(tmp_path):
    subprocess.run(["flite", "-voice", "slt", "-t", "Run two is in.", "-o", str(tmp_path / "said.wav")], check=True)
    said = np.concatenate(list(decode(tmp_path / "said.wav")))
    peaks_mb = []
    for minutes in (5, 30):
        command = [sys.executable, "-c", HEARD, str(recording(tmp_path / "long.wav", said, minutes))]
        found, kilobytes = map(int, subprocess.check_output(command, text=True).split())
        assert found == minutes
        peaks_mb.append(kilobytes / 1024)
    assert peaks_mb[1] < peaks_mb[0] + 40, peaks_mb
