"""Noises of a site, made by code with fixed seeds: a small engine, a saw, wind, another talker; a room and a pocket.

All at 16,000 samples a second, mono, float32. What stands here is invented; no recording was measured for it.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import numpy.typing as npt
from scipy.signal import butter, lfilter

from sample_logs.script import Voice
from sample_logs.speak import RATE, speak

Samples = npt.NDArray[np.float32]
SEED = 11
TALK = (
    "So I told him the truck was full and he never called back, and then the whole thing sat there over the weekend. "
    "Anyway my sister is coming on Thursday and the kids want to go to the lake if it stays warm. "
)


def engine(length: int) -> Samples:
    """A four-stroke at about 50 turns a second: harmonics that waver, over a rumble."""
    random = np.random.default_rng(SEED)
    wander = np.cumsum(random.normal(0, 0.0004, length))
    turns = np.cumsum(50 * (1 + 0.02 * np.sin(wander))) / RATE
    tones = sum(np.sin(2 * np.pi * k * turns + k) / k for k in range(1, 24))
    return _even(tones + 0.6 * _band(random.normal(size=length), 40, 900))


def saw(length: int) -> Samples:
    """A cut-off saw in concrete: a whine at 380 Hz and a hiss, some seconds on and some off."""
    random = np.random.default_rng(SEED + 1)
    time = np.arange(length) / RATE
    whine = sum(np.sin(2 * np.pi * 380 * k * time) / k for k in (1, 2, 3, 5))
    on = (np.sin(2 * np.pi * time / 7) > -0.3).astype(float)
    return _even(on * (0.5 * whine + 2 * _band(random.normal(size=length), 1800, 6500)))


def wind(length: int) -> Samples:
    """Gusts over a microphone: low noise that swells and falls."""
    random = np.random.default_rng(SEED + 2)
    gusts = 0.3 + np.abs(np.sin(2 * np.pi * np.arange(length) / RATE / 5.3))
    return _even(gusts * _band(random.normal(size=length), 20, 350))


def talker(length: int) -> Samples:
    """Another voice nearby, on about other things."""
    said = speak(TALK, Voice(engine="flite", name="slt", pace=1.0))
    return _even(np.resize(said, length))


NOISES: list[Callable[[int], Samples]] = [engine, saw, wind, talker]


def mixed(speech: Samples, noise: Callable[[int], Samples], level_db: float | None) -> Samples:
    """Speech with that noise so many dB below it, both by their mean power where somebody speaks; None leaves it."""
    if level_db is None:
        return speech
    loud = speech[np.abs(speech) > 0.02 * np.abs(speech).max()]
    power = np.sqrt(np.mean(loud**2)) / 10 ** (level_db / 20)
    return (speech + power * noise(len(speech))).astype(np.float32)


def in_a_room(speech: Samples) -> Samples:
    """As a phone in a shirt pocket hears it, under an eave: a short echo, and little above 3.4 kHz."""
    random = np.random.default_rng(SEED + 3)
    echo = random.normal(size=RATE // 8) * np.exp(-np.arange(RATE // 8) / (0.025 * RATE))
    echo[0] = 8.0
    dull = lfilter(*butter(2, 3400, fs=RATE), np.convolve(speech, echo)[: len(speech)])
    return (0.5 * dull / np.abs(dull).max()).astype(np.float32)


def _band(samples: npt.NDArray[np.float64], low: float, high: float) -> npt.NDArray[np.float64]:
    return lfilter(*butter(2, (low, high), btype="band", fs=RATE), samples)


def _even(samples: npt.NDArray[np.floating]) -> Samples:
    """The same at a mean power of 1."""
    return (samples / np.sqrt(np.mean(samples**2))).astype(np.float32)
