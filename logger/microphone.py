"""The microphone of this machine, by way of PortAudio. Loaded by the command that listens alone."""

from __future__ import annotations

import os
import re
import time
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from extract.errors import FallbookError, UsageError

RATES = (16_000, None)
"""Samples a second [Hz] that are asked for; the speech model hears 16,000. None is what the microphone itself likes."""
BLOCK_S = 0.1
LATENCY_S = 0.5
"""What PortAudio is asked to hold while nobody fetches it."""


@dataclass(frozen=True)
class Block:
    """Some sound, as it came."""

    ended: float
    """When its last sample was recorded, seconds of the machine's clock."""
    length_s: float
    """Of its sound [s]."""
    samples: NDArray[np.int16]
    """One channel."""
    overrun: bool
    """Whether some sound before it was lost, for nobody fetched it in time."""


@dataclass(frozen=True)
class Lost:
    """The microphone gives no more sound."""


@dataclass
class Microphone:
    """One that is recording."""

    name: str
    rate: int
    """Samples a second [Hz]."""
    lost: bool = False
    """Set it where no more sound comes: then it is let go without waiting for the last of it."""


Put = Callable[[Block | Lost], None]


@contextmanager
def recording(wanted: str | None, put: Put) -> Iterator[Microphone]:
    """A microphone that records while the context lasts: the one with `wanted` in its name, or the machine's default.

    `put` is given the sound in a thread of PortAudio's and must be quick. Raises FallbookError where there is no
    PortAudio, no microphone, or it cannot be opened; UsageError where none has such a name.
    """
    library = _portaudio()
    device = _chosen(library, wanted)
    stream, rate = _opened(library, device, put)
    microphone = Microphone(str(device["name"]), rate)
    try:
        yield microphone
    finally:
        (stream.abort if microphone.lost else stream.stop)()
        stream.close()


def _portaudio() -> Any:
    os.environ.setdefault(
        "JACK_NO_START_SERVER", "1"
    )  # PortAudio looks for JACK, which would start a server of its own
    try:
        import sounddevice
    except ImportError as error:
        raise FallbookError(
            "the package sounddevice is missing; run make again, or install requirements.lock"
        ) from error
    except OSError as error:
        raise FallbookError(
            "PortAudio, which records from a microphone, is missing; on Debian: apt install libportaudio2"
        ) from error
    return sounddevice


def _chosen(library: Any, wanted: str | None) -> Mapping[str, Any]:
    try:
        found = [each for each in library.query_devices() if each["max_input_channels"] > 0]
        if not found:
            raise FallbookError("no microphone was found; plug one in, or switch it on, and run it again")
        if wanted is None:
            default: Mapping[str, Any] = library.query_devices(kind="input")
            return default
    except library.PortAudioError as error:
        raise FallbookError(f"no microphone can be used ({_why(error)}); choose one with --microphone") from error
    named = [each for each in found if wanted.casefold() in each["name"].casefold()]
    if not named:
        names = "; ".join(dict.fromkeys(each["name"] for each in found))
        raise UsageError(f"no microphone has {wanted!r} in its name; there are: {names}")
    return next((each for each in named if each["name"].casefold() == wanted.casefold()), named[0])


def _opened(library: Any, device: Mapping[str, Any], put: Put) -> tuple[Any, int]:
    """The stream, started, and its rate: with what is best for hearing, else with what the microphone can."""
    most = int(device["max_input_channels"])
    why: Exception | None = None
    for rate in [rate or round(device["default_samplerate"]) for rate in RATES]:
        for channels in sorted({1, min(2, most)}):
            try:
                return _started(library, device, rate, channels, put), rate
            except library.PortAudioError as error:
                why = error
    raise FallbookError(
        f"the microphone {device['name']!r} cannot be opened ({_why(why)}); close what else records from it, or choose "
        "another with --microphone"
    ) from why


def _started(library: Any, device: Mapping[str, Any], rate: int, channels: int, put: Put) -> Any:
    def came(sound: Any, frames: int, times: Any, status: Any) -> None:
        samples = np.frombuffer(bytes(sound), np.int16)
        if channels > 1:
            samples = samples.reshape(-1, channels).mean(axis=1).astype(np.int16)
        put(Block(time.time(), len(samples) / rate, samples, bool(status.input_overflow)))

    stream = library.RawInputStream(
        device=device["index"], samplerate=rate, channels=channels, dtype="int16", blocksize=round(rate * BLOCK_S),
        latency=LATENCY_S, callback=came, finished_callback=lambda: put(Lost()),
    )  # fmt: skip
    try:
        stream.start()
    except library.PortAudioError:
        stream.close()
        raise
    return stream


def _why(error: Exception | None) -> str:
    """In PortAudio's words, without its numbers."""
    return " ".join(re.sub(r"\[[^]]*\]", "", str(error)).split())
