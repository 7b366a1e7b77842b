"""The lines of a lesson spoken by many voices, in rooms and noises that differ each time.

The benchmark's own voices (piper's joe, flite's rms, espeak-ng's en-us as it comes, and flite's slt, its other talker)
are left out; but of en-us the variants are taught, which are the same rules of speech with other throats. Its noises
have the same kinds, made here with other numbers at every turn. Voices: Debian's espeak-ng, flite and festival (with
festvox-kallpc16k and festvox-kdlpc16k), and the package ttspico.
"""

from __future__ import annotations

import random
import subprocess
import tempfile
import wave
from collections.abc import Callable
from math import gcd
from pathlib import Path

import numpy as np
import numpy.typing as npt
from scipy.signal import butter, fftconvolve, lfilter, resample_poly

from logger.sound import RATE

Samples = npt.NDArray[np.float32]
Chance = np.random.Generator

NOISE_S = 25
EACH = 14
"""Noises of one kind in the pool."""

ESPEAK = [f"en-us+{name}" for name in "m1 m2 m3 m4 m5 m6 m7 f1 f2 f3 f4 f5 croak klatt klatt2 klatt3 klatt4".split()]
ESPEAK += ["en-gb", "en-gb-scotland", "en-gb-x-rp", "en-gb-x-gbclan", "en-029"]
FLITE = ["awb", "kal16", "kal"]
FESTIVAL = ["kal_diphone", "ked_diphone"]


def spoken(line: tuple[int, str]) -> Samples | None:
    """The line of that number, peak 1, by a voice that its number picks; None where the voice has no sound for it."""
    number, text = line
    chance = random.Random(number)
    voice = chance.choices((_espeak, _pico, _flite, _festival), (30, 40, 20, 10))[0]
    samples = voice(text, chance)
    peak = float(np.abs(samples).max(initial=0))
    return samples / np.float32(peak) if peak and RATE // 4 < len(samples) < 27 * RATE else None


def _espeak(text: str, chance: random.Random) -> Samples:
    voice, pace, pitch = chance.choice(ESPEAK), chance.randint(125, 190), chance.randint(20, 75)
    return _ran(lambda out: ["espeak-ng", "-v", voice, "-s", f"{pace}", "-p", f"{pitch}", "-w", out, "--", text])


def _flite(text: str, chance: random.Random) -> Samples:
    voice, stretch = chance.choice(FLITE), f"duration_stretch={chance.uniform(0.85, 1.25):.2f}"
    return _faster(_ran(lambda out: ["flite", "-voice", voice, "--setf", stretch, "-t", text, "-o", out]), chance)


def _festival(text: str, chance: random.Random) -> Samples:
    voice, stretch = f"(voice_{chance.choice(FESTIVAL)})", chance.uniform(0.85, 1.2)
    slower = f"(Parameter.set 'Duration_Stretch {stretch:.2f})"
    return _ran(lambda out: ["text2wave", "-eval", voice, "-eval", slower, "-o", out], text)


def _pico(text: str, chance: random.Random) -> Samples:
    from ttspico import TtsEngine  # type: ignore[import-not-found,import-untyped,unused-ignore]

    engine = TtsEngine(chance.choice(("en-US", "en-GB")))
    engine.set_property("rate", chance.randint(85, 125))
    engine.set_property("pitch", chance.randint(75, 125))
    return _faster(np.frombuffer(engine.speak(text), "<i2").astype(np.float32) / 32768, chance)


def _ran(command: Callable[[str], list[str]], said: str | None = None) -> Samples:
    with tempfile.TemporaryDirectory() as folder:
        path = str(Path(folder) / "line.wav")
        subprocess.run(command(path), input=said, text=True, check=True, stderr=subprocess.DEVNULL)
        with wave.open(path) as file:
            rate, raw = file.getframerate(), file.readframes(file.getnframes())
    samples = np.frombuffer(raw, "<i2").astype(np.float32) / 32768
    common = gcd(RATE, rate)
    return samples if rate == RATE else resample_poly(samples, RATE // common, rate // common).astype(np.float32)


def _faster(samples: Samples, chance: random.Random) -> Samples:
    """Played a tenth faster or slower, and so higher or lower: other people, as it were."""
    at = np.arange(0, len(samples) - 1, chance.uniform(0.9, 1.12))
    return np.interp(at, np.arange(len(samples)), samples).astype(np.float32)


def noises(voices: list[Samples], chance: Chance) -> list[npt.NDArray[np.float16]]:
    """A pool of noises, each of mean power 1 and NOISE_S long; `voices` are those of other talkers."""
    kinds = (engine, engine, saw, saw, wind, wind, hiss, hammer, tune)
    made = [kind(NOISE_S * RATE, chance) for kind in kinds for _ in range(EACH)]
    made += [talkers(NOISE_S * RATE, chance, voices) for _ in range(4 * EACH)]
    return [_even(noise).astype(np.float16) for noise in made]


def engine(length: int, chance: Chance) -> Samples:
    """Harmonics of 18 to 130 turns a second that waver, over a rumble."""
    turns, fall = chance.uniform(18, 130), chance.uniform(0.5, 1.4)
    wander = np.cumsum(chance.normal(0, chance.uniform(1e-4, 1e-3), length))
    phase = 2 * np.pi * np.cumsum(turns * (1 + 0.03 * np.sin(wander))) / RATE
    last = int(min(60, chance.uniform(1000, 3500) / turns))
    tones = sum(chance.uniform(0.5, 1) * np.sin(k * phase + chance.uniform(0, 6)) / k**fall for k in range(1, last + 1))
    rumble = _band(chance.normal(size=length), 40, chance.uniform(400, 3000))
    return _even(tones) + np.float32(chance.uniform(0.2, 1)) * _even(rumble)


def saw(length: int, chance: Chance) -> Samples:
    """A whine and a hiss, some seconds on and some off."""
    time = np.arange(length) / RATE
    pitch = chance.uniform(150, 1200) * (1 + 0.02 * np.sin(2 * np.pi * time / chance.uniform(1, 6)))
    phase, fall = 2 * np.pi * np.cumsum(pitch) / RATE, chance.uniform(0.5, 1.2)
    whine = sum(np.sin(k * phase) / k**fall for k in range(1, 6) if k * pitch.max() < 7500)
    cut = _band(chance.normal(size=length), chance.uniform(800, 2500), chance.uniform(4000, 7500))
    on = np.sin(2 * np.pi * time / chance.uniform(3, 12) + chance.uniform(0, 6)) > chance.uniform(-1.2, 0.2)
    loud = chance.uniform(0.1, 1) * _even(whine) + chance.uniform(0.3, 1.5) * _even(cut)
    return (on * loud + 0.02 * chance.normal(size=length)).astype(np.float32)


def wind(length: int, chance: Chance) -> Samples:
    """Low noise that swells and falls."""
    swell = np.sin(2 * np.pi * np.arange(length) / RATE / chance.uniform(4, 15) + chance.uniform(0, 6))
    return ((0.2 + np.abs(swell)) * _band(chance.normal(size=length), 20, chance.uniform(150, 900))).astype(np.float32)


def hiss(length: int, chance: Chance) -> Samples:
    """Steady noise, from white to brown: rain, traffic, a hose."""
    spectrum = np.fft.rfft(chance.normal(size=length))
    return np.fft.irfft(spectrum / (np.arange(len(spectrum)) + 50) ** chance.uniform(0, 1), length).astype(np.float32)


def hammer(length: int, chance: Chance) -> Samples:
    """Blows at odd times that ring for up to a fifth of a second."""
    samples, ring = 0.01 * chance.normal(size=length), RATE // 4
    for at in np.cumsum(RATE * chance.uniform(0.15, 1.5, 60)).astype(int):
        if at < length - ring:
            fading = np.exp(-np.arange(ring) / chance.uniform(60, 700))
            samples[at : at + ring] += chance.normal(size=ring) * fading
    return samples.astype(np.float32)


def tune(length: int, chance: Chance) -> Samples:
    """Chords, as of a radio."""
    samples, beat = 0.02 * chance.normal(size=length), int(RATE * chance.uniform(0.3, 1))
    time = np.arange(beat) / RATE
    for at in range(0, length - beat, beat):
        chord = 220 * 2 ** (chance.integers(0, 15, 3) / 12)
        samples[at : at + beat] += sum(np.sin(2 * np.pi * pitch * time) for pitch in chord) * np.exp(-time / 0.6)
    return samples.astype(np.float32)


def talkers(length: int, chance: Chance, voices: list[Samples]) -> Samples:
    """One to three others who talk nearby."""
    together = np.zeros(length, np.float32)
    for _ in range(chance.integers(1, 4)):
        said = np.concatenate([voices[chance.integers(len(voices))] for _ in range(6)])
        together += chance.uniform(0.4, 1) * np.resize(said, length)
    return together


def outdoors(samples: Samples, pool: list[npt.NDArray[np.float16]], chance: Chance) -> Samples:
    """The same with some silence at both ends, mostly as through a pocket, and mostly in noise 2 to 18 dB below."""
    ends = [np.zeros(int(RATE * chance.uniform(0.1, 0.6 if chance.random() < 0.8 else 2.0)), np.float32) for _ in "ab"]
    heard = np.concatenate([ends[0], samples, ends[1]])
    if chance.random() < 0.8:
        heard = _in_a_pocket(heard, chance)
    if chance.random() < 0.75:
        loud = heard[np.abs(heard) > 0.02 * np.abs(heard).max()]
        level = np.sqrt(np.mean(loud**2)) / 10 ** (chance.uniform(2, 18) / 20)
        noise = pool[chance.integers(len(pool))]
        heard = heard + level * np.resize(np.roll(noise, -chance.integers(len(noise))), len(heard)).astype(np.float32)
    return (chance.uniform(0.1, 0.95) * heard / np.abs(heard).max()).astype(np.float32)


def _in_a_pocket(samples: Samples, chance: Chance) -> Samples:
    """With a short echo, dulled, and now and then thin."""
    length = int(RATE * chance.uniform(0.05, 0.2))
    echo = chance.normal(size=length) * np.exp(-np.arange(length) / (RATE * chance.uniform(0.008, 0.045)))
    echo[0] = chance.uniform(6, 14)
    heard = fftconvolve(samples, echo)[: len(samples)]
    if chance.random() < 0.8:
        heard = lfilter(*butter(2, chance.uniform(2400, 7000), fs=RATE), heard)
    if chance.random() < 0.3:
        heard = lfilter(*butter(1, chance.uniform(80, 400), btype="high", fs=RATE), heard)
    return np.asarray(heard, np.float32)


def _band(samples: npt.NDArray[np.floating], low: float, high: float) -> npt.NDArray[np.floating]:
    return np.asarray(lfilter(*butter(2, (low, high), btype="band", fs=RATE), samples))


def _even(samples: npt.NDArray[np.floating] | float) -> Samples:
    """The same at a mean power of 1."""
    return (samples / np.sqrt(np.mean(np.square(samples)) + 1e-9)).astype(np.float32)
