import shutil
import struct
import subprocess
import sys
from datetime import UTC, datetime
from fractions import Fraction
from pathlib import Path

import av
import numpy as np
import pytest
from nasty import peak_mb

from extract.errors import FallbookError
from logger import sound
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


# -- what no recorder makes


def wav(path: Path, rate: int = 8000, channels: int = 1, bits: int = 16, seconds: float = 1, size: int = 0) -> Path:
    """Sound of a steady value under a header that says what it is told to; `size` in bytes stands for the seconds."""
    frame = channels * bits // 8
    count = size or round(seconds * rate) * frame
    form = struct.pack("<IHHIIHH", 16, 1, channels, rate, rate * frame & 0xFFFFFFFF, frame & 0xFFFF, bits)
    body = b"fmt " + form + b"data" + struct.pack("<I", count) + bytes([1, 2]) * (count // 2)
    path.write_bytes(b"RIFF" + struct.pack("<I", 4 + len(body)) + b"WAVE" + body)
    return path


@pytest.mark.parametrize(
    ("header", "said"),
    [
        ({"rate": 1}, "1 sample a second"),
        ({"rate": 1, "channels": 8}, "1 sample a second"),
        ({"rate": 3999}, "3,999 samples a second"),
        ({"rate": 768_001}, "768,001 samples a second"),
        ({"rate": 2**31 - 1}, "2,147,483,647 samples a second"),
        ({"channels": 17}, "17 channels"),
        ({"channels": 255}, "255 channels"),
    ],
)
@pytest.mark.parametrize("door", [probe, whole])
def test_what_no_recorder_makes_is_refused_before_it_is_decoded(tmp_path, monkeypatch, header, said, door):
    path = wav(tmp_path / "a.wav", **header, size=400_000)
    monkeypatch.setattr(sound, "_frames", lambda *_: pytest.fail("decoded"))
    with pytest.raises(FallbookError) as refusal:
        door(path)
    assert str(refusal.value) == (
        f"{path}: says it holds {said}, which no recorder makes; copy it from the recorder again, or leave it out."
    )


@pytest.mark.parametrize("header", [{"bits": 128}, {"rate": 0}, {"channels": 0}, {"bits": 0}])
@pytest.mark.parametrize("door", [probe, whole])
def test_a_header_that_no_decoder_knows_is_refused_in_one_line(tmp_path, header, door):
    with pytest.raises(FallbookError, match=r"^[^\n]*a\.wav: [^\n]*; [^\n]*$"):
        door(wav(tmp_path / "a.wav", **header, size=4000))


@pytest.mark.parametrize("door", [probe, whole])
def test_whatever_a_decoder_raises_is_one_line(tmp_path, monkeypatch, door):
    def broken(*_):
        raise LookupError("no such thing\nat all")

    monkeypatch.setattr(sound, "_track", broken)
    with pytest.raises(FallbookError, match=r"no sound in it can be decoded; play it[^\n]*$"):
        door(wav(tmp_path / "a.wav"))


@pytest.mark.parametrize("rate", [4000, 8000, 192_000, 768_000])
@pytest.mark.parametrize("channels", [1, 7, 8, 9, 16])
def test_a_recorder_of_many_channels_is_heard(tmp_path, rate, channels):
    path = wav(tmp_path / "a.wav", rate, channels, seconds=0.5)
    samples = whole(path)
    assert len(samples) / RATE == pytest.approx(0.5, abs=0.02)
    assert np.median(samples) == pytest.approx(0x0201 / 32768, rel=0.02)


def test_a_part_that_no_recorder_makes_costs_only_itself(tmp_path, monkeypatch):
    parts = [write_sound(tmp_path / f"{rate}.aac", tone(2, rate), "aac", rate, "adts") for rate in (16_000, 48_000)]
    path = tmp_path / "a.aac"
    path.write_bytes(b"".join(part.read_bytes() for part in parts))
    assert len(whole(path)) / RATE == pytest.approx(4, abs=0.3)
    monkeypatch.setattr(sound, "HIGHEST_HZ", 20_000)
    assert len(whole(path)) / RATE == pytest.approx(2, abs=0.2)


# -- length


def webm(path: Path, length: float) -> Path:
    """Three seconds that say they are so many milliseconds."""
    write_sound(path, tone(), "libopus")
    raw = path.read_bytes()
    at = raw.index(b"\x44\x89\x88")  # Duration, eight bytes of a floating number
    path.write_bytes(raw[: at + 3] + struct.pack(">d", length) + raw[at + 11 :])
    return path


@pytest.mark.parametrize("length", [float("nan"), float("inf"), -5000.0, 0.0, 31 * 3600e3, 1e300])
def test_a_stated_length_that_cannot_be_is_counted_instead(tmp_path, length):
    assert probe(webm(tmp_path / "a.webm", length)).duration_s == pytest.approx(SECONDS, abs=0.1)


def test_counting_says_that_it_goes_on(tmp_path, monkeypatch):
    monkeypatch.setattr(sound, "ALIVE_S", 0)
    calls = []
    probe(webm(tmp_path / "a.webm", 0.0), alive=lambda: calls.append(1))
    assert len(calls) >= 10 * SECONDS
    monkeypatch.setattr(sound, "ALIVE_S", 3600)
    probe(webm(tmp_path / "a.webm", 0.0), alive=lambda: calls.clear() or calls.append(1))
    assert len(calls) == 1


@pytest.mark.parametrize("door", [probe, whole])
def test_sound_of_more_than_thirty_hours_is_refused(tmp_path, monkeypatch, door):
    assert sound.LONGEST_S == 30 * 3600
    monkeypatch.setattr(sound, "LONGEST_S", SECONDS - 1)
    with pytest.raises(FallbookError, match=r"a\.webm: more than \d+ hours of sound; cut it into shorter"):
        door(webm(tmp_path / "a.webm", 3000.0))


def test_a_moment_past_the_end_of_time_counts_as_not_recorded(tmp_path):
    stamp = "9999-12-31T23:59:59-12:00"
    path = write_sound(tmp_path / "a.flac", tone(), "flac", creation_time=stamp)
    assert av.open(str(path)).metadata["creation_time"] == stamp
    assert probe(path).started_at is None


# -- memory


DECODED = """
import sys
from pathlib import Path
from logger.sound import decode, probe
assert abs(probe(Path(sys.argv[1])).duration_s - sum(map(len, decode(Path(sys.argv[1])))) / 16000) < 0.2
"""
MADE = {
    "an hour.flac": ("-f", "lavfi", "-i", "anullsrc=r=8000:cl=mono", "-t", "3600"),
    "4k.mp4": (
        *("-f", "lavfi", "-i", "testsrc=s=3840x2160:r=10", "-f", "lavfi", "-i", "sine", "-t", "1"),
        *("-c:v", "mpeg4", "-b:v", "2M"),
    ),
}


@pytest.mark.skipif(shutil.which("ffmpeg") is None, reason="Debian package ffmpeg is not installed")
@pytest.mark.skipif(sys.platform != "linux", reason="memory is counted as Linux counts it")
@pytest.mark.parametrize("name", MADE)
def test_long_sound_and_large_video_take_little_memory(tmp_path, name):
    """An hour of samples is 230 MB; twelve hours were decoded so by hand."""
    path = tmp_path / name
    subprocess.run(["ffmpeg", "-y", "-loglevel", "error", *MADE[name], path], check=True)
    assert peak_mb(DECODED, path) < 150
