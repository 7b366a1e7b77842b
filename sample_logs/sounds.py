"""Recordings of the invented day: lines and pauses, noise of wind and engine, and three containers."""

from __future__ import annotations

import wave
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import numpy as np

from sample_logs.script import Day, Noise, Recording
from sample_logs.speak import RATE, Samples, speak

SPEECH_PEAK = 0.6
TAIL_S = 2.5
CONTAINERS = {"aac": ("mp4", "aac"), "opus": ("ogg", "libopus")}


def make_recording(day: Day, recording: Recording, folder: Path) -> Path:
    """Write one recording of the day into the folder and return its path."""
    path = folder / recording.file
    samples = mixed(day, recording)
    if recording.codec == "wav":
        _write_wav(path, samples)
    else:
        started = day.moment(recording.start) if recording.time_in == "container" else None
        _write_compressed(path, samples, recording, started)
    return path


def mixed(day: Day, recording: Recording) -> Samples:
    """Speech and noise of one recording, mono at RATE."""
    speech = _lines(day, recording)
    noise = day.noise[recording.noise]
    loudness = _rms(speech[np.abs(speech) > 0.01]) * 10 ** (noise.level_db / 20)
    seed = sum(recording.file.encode())
    return np.clip(speech + loudness * _noise(noise, len(speech), seed), -1, 1).astype(np.float32)


def _lines(day: Day, recording: Recording) -> Samples:
    parts = []
    for line in recording.say:
        parts += [_silence(line.pause), speak(line.text, day.voice[line.voice or recording.voice])]
    speech = SPEECH_PEAK * np.concatenate([*parts, _silence(TAIL_S)])
    short = int((recording.length_s or 0) * RATE) - len(speech)
    return np.concatenate([speech, np.zeros(max(0, short), dtype=np.float32)])


def _silence(seconds: float) -> Samples:
    return np.zeros(round(seconds * RATE), dtype=np.float32)


def _noise(noise: Noise, length: int, seed: int) -> Samples:
    """Noise of loudness 1 (rms)."""
    random = np.random.default_rng(seed)
    both = noise.wind * _wind(length, random) + noise.engine * _engine(length, random)
    return np.asarray(both / _rms(both), dtype=np.float32)


def _wind(length: int, random: np.random.Generator) -> Samples:
    """Low rumble that swells and drops over some seconds."""
    return _shaped(length, random, 180.0) * (0.6 + 0.4 * _swell(length, random, 0.25))


def _engine(length: int, random: np.random.Generator) -> Samples:
    """A small diesel: firing at about 34 a second with its harmonics, labouring now and then, over pump hiss."""
    speed = 34 * (1 + 0.12 * _swell(length, random, 0.15))
    phase = 2 * np.pi * np.cumsum(speed) / RATE
    tone = sum(np.sin(k * phase + k) / k**1.1 for k in range(1, 12))
    return np.asarray(tone / _rms(tone) + 0.5 * _shaped(length, random, 900.0), dtype=np.float32)


def _shaped(length: int, random: np.random.Generator, corner_hz: float) -> Samples:
    """White noise that falls off above the corner, rms 1."""
    spectrum = np.fft.rfft(random.standard_normal(length))
    hertz = np.fft.rfftfreq(length, 1 / RATE)
    shaped = np.fft.irfft(spectrum / (1 + (hertz / corner_hz) ** 1.5), length)
    return np.asarray(shaped / _rms(shaped), dtype=np.float32)


def _swell(length: int, random: np.random.Generator, hertz: float) -> Samples:
    """A slow curve between about -1 and 1."""
    points = random.uniform(-1, 1, int(length / RATE * hertz) + 3)
    return np.interp(np.linspace(0, len(points) - 1, length), np.arange(len(points)), points).astype(np.float32)


def _rms(samples: Any) -> float:
    return float(np.sqrt(np.mean(np.square(samples, dtype=np.float64))))


def _sixteen_bit(samples: Samples) -> np.ndarray[Any, np.dtype[np.int16]]:
    return np.round(samples * 32767).astype("<i2")


def _write_wav(path: Path, samples: Samples) -> None:
    with wave.open(str(path), "wb") as file:
        file.setnchannels(1)
        file.setsampwidth(2)
        file.setframerate(RATE)
        file.writeframes(_sixteen_bit(samples).tobytes())


def _write_compressed(path: Path, samples: Samples, recording: Recording, started: datetime | None) -> None:
    import av

    container, codec = CONTAINERS[recording.codec]
    # "bitexact" leaves out the random serial number that an Ogg stream gets otherwise.
    with av.open(str(path), "w", format=container, options={"fflags": "+bitexact"}) as file:
        if started:
            file.metadata["creation_time"] = f"{started.astimezone(UTC):%Y-%m-%dT%H:%M:%S.000000Z}"
        stream: Any = file.add_stream(codec, rate=RATE)
        stream.layout = "mono"
        stream.bit_rate = 1000 * (recording.kbps or 32)
        frame = av.AudioFrame.from_ndarray(_sixteen_bit(samples).reshape(1, -1), format="s16", layout="mono")
        frame.sample_rate = RATE
        file.mux(stream.encode(frame))
        file.mux(stream.encode(None))
