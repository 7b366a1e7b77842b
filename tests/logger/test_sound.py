import struct
from datetime import UTC, datetime
from fractions import Fraction
from pathlib import Path

import av
import numpy as np
import pytest

from extract.errors import FallbookError
from logger.sound import BLOCK, RATE, decode, probe

SECONDS = 3


def tone(seconds: float = SECONDS, rate: int = 48_000, channels: int = 1, hz: float = 440) -> np.ndarray:
    """Shape (channels, samples), float32."""
    wave = 0.4 * np.sin(2 * np.pi * hz * np.arange(int(seconds * rate)) / rate)
    return np.tile(wave.astype(np.float32), (channels, 1))


def write_sound(
    path: Path, samples: np.ndarray, codec: str, rate: int = 48_000, container: str | None = None, **metadata: str
) -> Path:
    with av.open(str(path), "w", format=container) as out:
        out.metadata.update(metadata)
        stream = out.add_stream(codec, rate=rate)
        stream.layout = "stereo" if len(samples) == 2 else "mono"
        frame = av.AudioFrame.from_ndarray(samples, format="fltp", layout=stream.layout.name)
        frame.sample_rate, frame.time_base, frame.pts = rate, Fraction(1, rate), 0
        resampler = av.AudioResampler(
            format=stream.codec_context.format, layout=stream.layout, rate=rate, frame_size=stream.frame_size or None
        )
        for piece in [*resampler.resample(frame), *resampler.resample(None)]:
            out.mux(stream.encode(piece))
        out.mux(stream.encode(None))
    return path


def whole(path: Path) -> np.ndarray:
    return np.concatenate(list(decode(path)))


@pytest.mark.parametrize(
    ("name", "codec"),
    [("a.m4a", "aac"), ("a.ogg", "libopus"), ("a.webm", "libopus"), ("a.wav", "pcm_s16le"), ("a.flac", "flac")],
)
def test_sound_of_every_recorder_decodes_to_16_khz_mono(tmp_path, name, codec):
    path = write_sound(tmp_path / name, tone(), codec)
    info, samples = probe(path), whole(path)
    assert info.duration_s == pytest.approx(SECONDS, abs=0.1)
    assert len(samples) / RATE == pytest.approx(SECONDS, abs=0.1)
    assert samples.dtype == np.float32
    assert np.sqrt(np.square(samples).mean()) == pytest.approx(0.4 / np.sqrt(2), rel=0.1)
    peak_hz = np.abs(np.fft.rfft(samples)).argmax() * RATE / len(samples)
    assert peak_hz == pytest.approx(440, abs=2)


def test_the_moment_of_recording_comes_from_the_container(tmp_path):
    path = write_sound(tmp_path / "a.m4a", tone(), "aac", creation_time="2031-03-11T14:05:30.000000Z")
    assert probe(path).started_at == datetime(2031, 3, 11, 14, 5, 30, tzinfo=UTC)


@pytest.mark.parametrize("stamp", ["1904-01-01T00:00:00.000000Z", ""])
def test_a_clock_never_set_counts_as_not_recorded(tmp_path, stamp):
    path = write_sound(tmp_path / "a.m4a", tone(), "aac", creation_time=stamp)
    assert probe(path).started_at is None


def test_container_and_codec_are_named(tmp_path):
    info = probe(write_sound(tmp_path / "a.webm", tone(), "libopus"))
    assert (info.container, info.codec) == ("matroska,webm", "opus")


def test_a_name_that_lies_about_the_format_does_no_harm(tmp_path):
    path = write_sound(tmp_path / "a.flac", tone(), "flac").rename(tmp_path / "a.mp3")
    assert len(whole(path)) / RATE == pytest.approx(SECONDS, abs=0.1)


@pytest.mark.parametrize("other", [0.0, -1.0], ids=["dead", "wired backwards"])
def test_one_good_channel_of_two_is_heard_at_its_own_loudness(tmp_path, other):
    pair = tone(channels=2) * np.array([[1.0], [other]], dtype=np.float32)
    samples = whole(write_sound(tmp_path / "a.wav", pair, "pcm_s16le"))
    assert np.abs(samples).max() == pytest.approx(0.4, abs=0.05)


def test_a_long_recording_comes_in_small_blocks(tmp_path):
    path = write_sound(tmp_path / "a.wav", tone(60, RATE), "pcm_s16le", rate=RATE)
    sizes = [len(block) for block in decode(path)]
    assert sum(sizes) == 60 * RATE
    assert max(sizes) <= 2 * BLOCK
    assert len(sizes) >= 5


def test_the_sound_of_a_video_is_taken(tmp_path):
    path = tmp_path / "clip.mov"
    with av.open(str(path), "w") as out:
        video = out.add_stream("mpeg4", rate=10)
        video.width, video.height, video.pix_fmt = 64, 64, "yuv420p"
        audio = out.add_stream("aac", rate=48_000)
        audio.layout = "mono"
        for number in range(10):
            picture = av.VideoFrame.from_ndarray(np.full((64, 64, 3), 20 * number, np.uint8), format="rgb24")
            out.mux(video.encode(picture))
        for start in range(0, 48_000, 1024):
            frame = av.AudioFrame.from_ndarray(tone(1024 / 48_000), format="fltp", layout="mono")
            frame.sample_rate, frame.pts, frame.time_base = 48_000, start, Fraction(1, 48_000)
            out.mux(audio.encode(frame))
        out.mux(video.encode(None))
        out.mux(audio.encode(None))
    assert len(whole(path)) / RATE == pytest.approx(1, abs=0.1)


def test_a_recording_cut_off_part_way_gives_what_there_is(tmp_path):
    path = write_sound(tmp_path / "a.ogg", tone(20), "libopus")
    path.write_bytes(path.read_bytes()[: path.stat().st_size // 2])
    assert 5 * RATE < len(whole(path)) < 15 * RATE


def test_damage_in_the_middle_costs_only_its_own_stretch(tmp_path):
    path = write_sound(tmp_path / "a.flac", tone(20), "flac")
    raw = bytearray(path.read_bytes())
    middle = len(raw) // 2
    raw[middle : middle + 2000] = bytes(byte ^ 0x5A for byte in raw[middle : middle + 2000])
    path.write_bytes(raw)
    assert len(whole(path)) > 18 * RATE


def bad(tmp_path: Path, kind: str) -> Path:
    path = tmp_path / f"{kind}.m4a"
    if kind == "missing":
        return path
    if kind == "folder":
        path.mkdir()
        return path
    content = {
        "empty": b"",
        "words": b"basin one is set\n" * 200,
        "noughts": bytes(4000),
        "scrambled": np.random.default_rng(1).bytes(20_000),
        "playlist": b"#EXTM3U\n#EXT-X-TARGETDURATION:5\n#EXTINF:5,\nother.wav\n#EXT-X-ENDLIST\n",
        "header alone": b"RIFF"
        + struct.pack("<I", 36)
        + b"WAVEfmt "
        + struct.pack("<IHHIIHH", 16, 1, 1, 16000, 32000, 2, 16),
    }
    if kind == "cut at the head":
        write_sound(path, tone(), "aac")
        path.write_bytes(path.read_bytes()[:3000])
    else:
        path.write_bytes(content[kind])
    return path


@pytest.mark.parametrize(
    "kind",
    ["missing", "folder", "empty", "words", "noughts", "scrambled", "playlist", "header alone", "cut at the head"],
)
@pytest.mark.parametrize("door", [probe, whole])
def test_what_is_no_sound_is_refused_in_one_line_that_names_the_file(tmp_path, kind, door, capfd):
    path = bad(tmp_path, kind)
    with pytest.raises(FallbookError) as refusal:
        door(path)
    message = str(refusal.value)
    assert path.name in message
    assert "\n" not in message
    assert ";" in message, "says what to do"
    assert capfd.readouterr().err == "", "the decoder's own chatter stays out of sight"


def test_a_picture_holds_no_sound(tmp_path):
    path = tmp_path / "photo.mp4"
    with av.open(str(path), "w") as out:
        video = out.add_stream("mpeg4", rate=10)
        video.width, video.height, video.pix_fmt = 64, 64, "yuv420p"
        out.mux(video.encode(av.VideoFrame.from_ndarray(np.zeros((64, 64, 3), np.uint8), format="rgb24")))
        out.mux(video.encode(None))
    with pytest.raises(FallbookError, match="no sound track"):
        probe(path)
