"""Sound files: what one is, and its samples in blocks small enough for any laptop."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import UTC, datetime
from itertools import chain, groupby
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from extract.errors import FallbookError

if TYPE_CHECKING:
    import av.audio.frame
    import av.audio.stream
    import av.container

Samples = NDArray[np.float32]
"""Mono sound, shape (samples,), -1 to 1, at RATE."""

RATE = 16_000
"""Samples a second that the speech model takes."""

BLOCK = 10 * RATE
"""The most samples in a block, which is all that decoding holds."""

CONTAINERS = "aac,ac3,aiff,amr,amrnb,amrwb,asf,au,avi,caf,eac3,flac,m4a,matroska,mov,mp3,mp4,mpegts,ogg,w64,wav,webm"
"""Only these are opened: a playlist, which could name other files or the network, is no recording."""

EARLIEST = datetime(2000, 1, 1, tzinfo=UTC)
"""A recorder whose clock was never set says 1904 or 1970; such a time counts as not recorded."""


@dataclass(frozen=True)
class SoundInfo:
    """What a sound file says of itself."""

    duration_s: float
    """Length of its sound, seconds."""
    started_at: datetime | None
    """When the recording began, in UTC; None where the file does not say."""
    container: str
    codec: str


def probe(path: Path) -> SoundInfo:
    """What the sound file `path` is.

    The length is counted by decoding where the file does not state it (sound from a browser's recorder).
    Raises FallbookError for what is no sound: missing, empty, damaged from the start, or without a sound track.
    """
    with _opened(path) as (container, stream):
        duration = _stated_duration(container, stream)
        started_at = _started_at(container, stream)
        about = container.format.name, stream.codec_context.name
        if next(_frames(container, stream), None) is None:
            raise _no_sound(path)
    return SoundInfo(duration or _counted_duration(path), started_at, *about)


def decode(path: Path) -> Iterator[Samples]:
    """The sound of `path` in blocks of up to BLOCK samples, mono, at RATE; a damaged stretch is passed over.

    Raises FallbookError as `probe` does.
    """
    with _opened(path) as (container, stream):
        heard = False
        for block in _resampled(_frames(container, stream)):
            heard = True
            yield _mono(block)
    if not heard:
        raise _no_sound(path)


@contextmanager
def _opened(path: Path) -> Iterator[tuple[av.container.InputContainer, av.audio.stream.AudioStream]]:
    import av
    import av.logging

    av.logging.set_level(av.logging.PANIC)  # ffmpeg's own chatter is not for the crew
    if not path.is_file():
        raise FallbookError(f"{path}: no such file; check the name.")
    if path.stat().st_size == 0:
        raise FallbookError(f"{path}: the file is empty; copy it from the recorder again.")
    with path.open("rb") as file:
        try:
            container = av.open(file, "r", metadata_errors="ignore", options={"format_whitelist": CONTAINERS})
        except (av.error.FFmpegError, ValueError) as error:
            raise FallbookError(f"{path}: {_why_not(path)}") from error
        with container:
            if not container.streams.audio:
                raise FallbookError(f"{path}: holds no sound track; give the recording itself.")
            yield container, container.streams.audio[0]


def _why_not(path: Path) -> str:
    with path.open("rb") as file:
        if file.read(8)[4:] == b"ftyp":  # MPEG-4 keeps where each piece lies in an index, as a rule at its end
            return "cut off before its index, without which it cannot be played; copy it from the recorder again."
    return "not a sound file that can be read, or cut off at its start; play it on the recorder and copy it again."


def _no_sound(path: Path) -> FallbookError:
    return FallbookError(f"{path}: no sound in it can be decoded; play it on the recorder and copy it again.")


def _stated_duration(container: av.container.InputContainer, stream: av.audio.stream.AudioStream) -> float | None:
    if stream.duration and stream.time_base:
        return float(stream.duration * stream.time_base)
    return container.duration / 1e6 if container.duration else None  # the container counts microseconds


def _counted_duration(path: Path) -> float:
    return sum(map(len, decode(path))) / RATE


def _started_at(container: av.container.InputContainer, stream: av.audio.stream.AudioStream) -> datetime | None:
    stamp = container.metadata.get("creation_time") or stream.metadata.get("creation_time") or ""
    try:
        moment = datetime.fromisoformat(stamp)
    except ValueError:
        return None
    if moment.tzinfo is None or moment < EARLIEST:
        return None
    return moment.astimezone(UTC)


def _frames(
    container: av.container.InputContainer, stream: av.audio.stream.AudioStream
) -> Iterator[av.audio.frame.AudioFrame]:
    """Every frame that decodes; a cut or damaged packet costs only itself."""
    import av

    packets = container.demux(stream)
    while True:
        try:
            packet = next(packets)
        except (StopIteration, av.error.FFmpegError):
            return
        try:
            yield from packet.decode()
        except av.error.FFmpegError:
            continue


def _resampled(frames: Iterator[av.audio.frame.AudioFrame]) -> Iterator[NDArray[np.float32]]:
    """Blocks of shape (channels, samples) at RATE; a recorder may change its format part-way."""
    from av.audio.resampler import AudioResampler

    for _, alike in groupby(frames, lambda frame: (frame.format.name, frame.layout.name, frame.sample_rate)):
        first = next(alike)
        resampler = AudioResampler(format="fltp", layout=first.layout, rate=RATE, frame_size=BLOCK)
        for frame in chain([first], alike, [None]):  # None brings out the rest
            if frame is not None:
                frame.pts = None  # gaps in the time stamps would be refused
            yield from (np.asarray(block.to_ndarray(), np.float32) for block in resampler.resample(frame))


def _mono(block: NDArray[np.float32]) -> Samples:
    """Channels averaged; the loudest alone where averaging would lose it (a dead channel, or one wired backwards)."""
    power = np.square(block).mean(axis=1)
    mean = block.mean(axis=0)
    loudest = int(power.argmax())
    chosen = block[loudest] if np.square(mean).mean() < power[loudest] / 2 else mean
    sound = np.nan_to_num(chosen)
    return np.asarray(sound / max(1, np.abs(sound).max(initial=0)), dtype=np.float32)  # floats may be louder than full
