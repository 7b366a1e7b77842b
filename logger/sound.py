"""Sound files: what one is, and its samples in blocks small enough for any laptop.

Everything in a sound file is a stranger's word: only recorders' formats are opened, what no recorder makes is refused
before it is decoded, and whatever the decoder raises is a FallbookError.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import UTC, datetime
from itertools import chain, groupby
from pathlib import Path
from time import monotonic
from typing import TYPE_CHECKING, BinaryIO

import numpy as np
from numpy.typing import NDArray

from extract.errors import FallbookError

if TYPE_CHECKING:
    import av
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

LOWEST_HZ, HIGHEST_HZ = 4_000, 768_000
MOST_CHANNELS = 16
"""No recorder makes sound beyond these, on which the resampler may crash or never end."""

MOST_SAMPLES = 1 << 20
"""The most samples in one frame, for the decoder to hold; codecs make at most 65,535, and 768,000 are a second."""

LONGEST_S = 30 * 3600
"""Seconds of sound that are taken: more than a day left running. A longer stated length is taken for damage."""

ALIVE_S = 0.5
"""Seconds between two calls of `alive` at least."""

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


def probe(path: Path, alive: Callable[[], None] | None = None) -> SoundInfo:
    """What the sound file `path` is.

    The length is counted by decoding where the file does not state it (sound from a browser's recorder), or states one
    that cannot be; while that goes on, `alive` is called about twice a second. Raises FallbookError for what is no
    sound: missing, empty, damaged from the start, without a sound track, beyond what a recorder makes, or longer than
    LONGEST_S.
    """
    with _opened(path) as (container, stream):
        frames = _frames(path, container, stream)
        first = next(frames, None)
        if first is None:
            raise _no_sound(path)
        return SoundInfo(
            _stated_duration(container, stream) or _counted_duration(chain([first], frames), alive),
            _started_at(container, stream),
            container.format.name,
            stream.codec_context.name,
        )


def decode(path: Path) -> Iterator[Samples]:
    """The sound of `path` in blocks of up to BLOCK samples, mono, at RATE; a damaged stretch is passed over.

    Raises FallbookError as `probe` does.
    """
    with _opened(path) as (container, stream):
        heard = False
        for block in _resampled(_frames(path, container, stream)):
            heard = True
            yield _mono(block)
        if not heard:
            raise _no_sound(path)


@contextmanager
def _opened(path: Path) -> Iterator[tuple[av.container.InputContainer, av.audio.stream.AudioStream]]:
    """The file and its first sound track; whatever is raised inside comes out as FallbookError."""
    import av
    import av.logging

    av.logging.set_level(av.logging.PANIC)  # ffmpeg's own chatter is not for the crew
    try:
        if not path.is_file():
            raise FallbookError(f"{path}: no such file; check the name.")
        if path.stat().st_size == 0:
            raise FallbookError(f"{path}: the file is empty; copy it from the recorder again.")
        with path.open("rb") as file, _container(path, file) as container:
            yield container, _track(path, container)
    except FallbookError:
        raise
    except Exception as error:  # decoders raise anything on hostile bytes
        if isinstance(error, OSError) and not isinstance(error, av.error.FFmpegError):
            raise FallbookError(f"{path}: cannot be read ({error.strerror or error}); see to that first.") from error
        raise _no_sound(path) from error


def _container(path: Path, file: BinaryIO) -> av.container.InputContainer:
    import av

    try:
        return av.open(file, "r", metadata_errors="ignore", options={"format_whitelist": CONTAINERS})
    except (av.error.FFmpegError, ValueError) as error:
        raise FallbookError(f"{path}: {_why_not(path)}") from error


def _why_not(path: Path) -> str:
    with path.open("rb") as file:
        if file.read(8)[4:] == b"ftyp":  # MPEG-4 keeps where each piece lies in an index, as a rule at its end
            return "cut off before its index, without which it cannot be played; copy it from the recorder again."
    return "not a sound file that can be read, or cut off at its start; play it on the recorder and copy it again."


def _track(path: Path, container: av.container.InputContainer) -> av.audio.stream.AudioStream:
    """The first sound track. Raises FallbookError where there is none, or none that a recorder makes."""
    if not container.streams.audio:
        raise FallbookError(f"{path}: holds no sound track; give the recording itself.")
    stream = container.streams.audio[0]
    codec = stream.codec_context
    if codec is None:  # ffmpeg has no decoder for what the header names
        raise _no_sound(path)
    if codec.sample_rate and not LOWEST_HZ <= codec.sample_rate <= HIGHEST_HZ:
        raise _unmade(path, f"{codec.sample_rate:,} sample{'' if codec.sample_rate == 1 else 's'} a second")
    if codec.layout.nb_channels > MOST_CHANNELS:
        raise _unmade(path, f"{codec.layout.nb_channels:,} channels")
    codec.options = {"max_samples": str(MOST_SAMPLES)}
    return stream


def _unmade(path: Path, what: str) -> FallbookError:
    return FallbookError(
        f"{path}: says it holds {what}, which no recorder makes; copy it from the recorder again, or leave it out."
    )


def _no_sound(path: Path) -> FallbookError:
    return FallbookError(f"{path}: no sound in it can be decoded; play it on the recorder and copy it again.")


def _stated_duration(container: av.container.InputContainer, stream: av.audio.stream.AudioStream) -> float | None:
    """Seconds, or None where the file states none that can be."""
    track = float(stream.duration * stream.time_base) if stream.duration and stream.time_base else 0
    whole = container.duration / 1e6 if container.duration else 0  # the container counts microseconds
    return next((stated for stated in (track, whole) if 0 < stated <= LONGEST_S), None)


def _counted_duration(frames: Iterator[av.audio.frame.AudioFrame], alive: Callable[[], None] | None) -> float:
    length, due = 0.0, monotonic()
    for frame in frames:
        length += frame.samples / frame.sample_rate
        if alive and monotonic() >= due:
            alive()
            due = monotonic() + ALIVE_S
    return length


def _started_at(container: av.container.InputContainer, stream: av.audio.stream.AudioStream) -> datetime | None:
    stamp = container.metadata.get("creation_time") or stream.metadata.get("creation_time") or ""
    try:
        moment = datetime.fromisoformat(stamp)
        return moment.astimezone(UTC) if moment.tzinfo is not None and moment >= EARLIEST else None
    except (ValueError, OverflowError):  # no time at all, or the last hours of the year 9999
        return None


def _frames(
    path: Path, container: av.container.InputContainer, stream: av.audio.stream.AudioStream
) -> Iterator[av.audio.frame.AudioFrame]:
    """Every frame that decodes to what a recorder makes; a cut or damaged packet costs only itself.

    Raises FallbookError past LONGEST_S.
    """
    length = 0.0
    for packet in _packets(container, stream):
        for frame in _decoded(packet):
            length += frame.samples / frame.sample_rate
            if length > LONGEST_S:
                hours = LONGEST_S // 3600
                raise FallbookError(f"{path}: more than {hours} hours of sound; cut it into shorter recordings.")
            yield frame


def _packets(
    container: av.container.InputContainer, stream: av.audio.stream.AudioStream
) -> Iterator[av.Packet[av.audio.stream.AudioStream]]:
    import av

    packets = container.demux(stream)
    while True:
        try:
            yield next(packets)
        except (StopIteration, av.error.FFmpegError):
            return


def _decoded(packet: av.Packet[av.audio.stream.AudioStream]) -> list[av.audio.frame.AudioFrame]:
    import av

    try:
        frames = packet.decode()
    except (av.error.FFmpegError, ValueError, AttributeError):  # the last two where the packet changes its format
        return []
    return [
        frame
        for frame in frames
        if LOWEST_HZ <= frame.sample_rate <= HIGHEST_HZ and 1 <= frame.layout.nb_channels <= MOST_CHANNELS
    ]


def _resampled(frames: Iterator[av.audio.frame.AudioFrame]) -> Iterator[NDArray[np.float32]]:
    """Blocks of shape (channels, samples) at RATE; a recorder may change its format part-way.

    Channels come interleaved out of the resampler: PyAV 18 reads past the end of eight apart, and crashes.
    """
    from av.audio.resampler import AudioResampler

    for _, alike in groupby(frames, lambda frame: (frame.format.name, frame.layout.name, frame.sample_rate)):
        first = next(alike)
        resampler = AudioResampler(format="flt", layout=first.layout, rate=RATE, frame_size=BLOCK)
        for frame in chain([first], alike, [None]):  # None brings out the rest
            if frame is not None:
                frame.pts = None  # gaps in the time stamps would be refused
            for block in resampler.resample(frame):
                yield np.asarray(block.to_ndarray(), np.float32).reshape(-1, block.layout.nb_channels).T


def _mono(block: NDArray[np.float32]) -> Samples:
    """Channels averaged; the loudest alone where averaging would lose it (a dead channel, or one wired backwards)."""
    power = np.square(block).mean(axis=1)
    mean = block.mean(axis=0)
    loudest = int(power.argmax())
    chosen = block[loudest] if np.square(mean).mean() < power[loudest] / 2 else mean
    sound = np.nan_to_num(chosen)
    return np.asarray(sound / max(1, np.abs(sound).max(initial=0)), dtype=np.float32)  # floats may be louder than full
