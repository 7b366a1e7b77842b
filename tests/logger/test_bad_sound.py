"""Sound that is bad in the ways of a site: heard as far as it can be, or refused in one line; what was given stays."""

import shutil
import subprocess
from pathlib import Path

import numpy as np
import pytest

from extract.errors import FallbookError
from logger import sniff
from logger.readings import plain
from logger.sound import RATE, decode, probe
from logger.speech import hear

needs_ffmpeg = pytest.mark.skipif(shutil.which("ffmpeg") is None, reason="Debian package ffmpeg is not installed")
needs_voice = pytest.mark.skipif(shutil.which("flite") is None, reason="Debian package flite is not installed")

pytestmark = [needs_ffmpeg, needs_voice]

SAID = "Run two is in, thirty-one feet long."
WORDS = {"run", "2", "31", "feet"}


def heard_words(notes) -> set[str]:
    """The words of the notes; "31-foot" says as much as "31 feet"."""
    return {"feet" if word == "foot" else word for note in notes for word in plain(note.text).split()}


@pytest.fixture(scope="module")
def said(tmp_path_factory) -> Path:
    """One note as a WAV of 16,000 Hz."""
    path = tmp_path_factory.mktemp("said") / "said.wav"
    subprocess.run(["flite", "-voice", "slt", "-t", SAID, "-o", str(path)], check=True)
    return path


def ffmpeg(source: Path, target: Path, *options: str) -> Path:
    subprocess.run(["ffmpeg", "-y", "-loglevel", "error", "-i", source, *options, target], check=True)
    return target


def two_rates(said: Path, target: Path) -> Path:
    """A stream whose recorder changed from 44,100 Hz stereo to 16,000 Hz mono between two packets."""
    parts = [
        ffmpeg(said, target.with_suffix(".1.aac"), "-af", "apad=pad_dur=1", "-ar", "44100", "-ac", "2"),
        ffmpeg(said, target.with_suffix(".2.aac"), "-ar", "16000", "-ac", "1"),
    ]
    target.write_bytes(b"".join(part.read_bytes() for part in parts))
    return target


MADE = {
    "clipped": lambda said, to: ffmpeg(said, to.with_suffix(".wav"), "-af", "volume=14dB"),
    "8 kHz": lambda said, to: ffmpeg(said, to.with_suffix(".wav"), "-ar", "8000", "-c:a", "pcm_mulaw"),
    "dead left": lambda said, to: ffmpeg(said, to.with_suffix(".m4a"), "-af", "pan=stereo|c0=0*c0|c1=c0"),
    "dead right": lambda said, to: ffmpeg(said, to.with_suffix(".ogg"), "-af", "pan=stereo|c0=c0|c1=0*c0"),
    "one of eight channels": lambda said, to: ffmpeg(
        said, to.with_suffix(".wav"), "-af", "pan=8c|" + "|".join(f"c{n}={n == 5:d}*c0" for n in range(8))
    ),
    "variable bit rate": lambda said, to: ffmpeg(said, to.with_suffix(".mp3"), "-q:a", "9"),
    "variable sample rate": lambda said, to: two_rates(said, to.with_suffix(".aac")),
    "variable frames": lambda said, to: ffmpeg(
        said, to.with_suffix(".webm"), "-c:a", "libopus", "-vbr", "on", "-frame_duration", "60"
    ),
    "m4a named mp3": lambda said, to: ffmpeg(said, to.with_suffix(".m4a")).rename(to.with_suffix(".mp3")),
    "flac named txt": lambda said, to: ffmpeg(said, to.with_suffix(".flac")).rename(to.with_suffix(".txt")),
    "opus named jpg": lambda said, to: ffmpeg(said, to.with_suffix(".opus")).rename(to.with_suffix(".jpg")),
    "very quiet": lambda said, to: ffmpeg(said, to.with_suffix(".wav"), "-af", "volume=-40dB"),
    "offset": lambda said, to: ffmpeg(said, to.with_suffix(".wav"), "-af", "volume=0.3,dcshift=0.5"),
    "floats far too loud": lambda said, to: ffmpeg(
        said, to.with_suffix(".wav"), "-af", "aformat=flt,volume=40dB", "-c:a", "pcm_f32le"
    ),
}


@pytest.mark.parametrize("kind", MADE)
def test_bad_sound_is_taken_for_sound_and_decodes_whole(said, tmp_path, kind):
    path = MADE[kind](said, tmp_path / "a.x")
    assert sniff.kind_of(path, path.name) == "sound"
    length = sum(map(len, decode(path))) / RATE
    twice = 2 if kind == "variable sample rate" else 1
    assert length == pytest.approx(twice * probe(said).duration_s + twice - 1, abs=0.3)


@pytest.mark.model
@pytest.mark.parametrize("kind", MADE)
def test_bad_sound_is_heard_as_far_as_it_can_be(said, tmp_path, kind):
    path = MADE[kind](said, tmp_path / "a.x")
    raw = path.read_bytes()
    notes = hear(path)
    assert heard_words(notes) >= WORDS, notes
    assert len(notes) == (2 if kind == "variable sample rate" else 1)
    assert path.read_bytes() == raw


@pytest.mark.model
def test_one_word_in_a_long_recording_is_one_note_in_its_place(said, tmp_path):
    """Twenty minutes here; three hours of it were heard so by hand."""
    path = ffmpeg(said, tmp_path / "long.ogg", "-af", "adelay=600s,apad=whole_dur=1200", "-c:a", "libopus")
    (note,) = hear(path)
    assert note.start_s == pytest.approx(600, abs=0.5)
    assert heard_words([note]) >= WORDS


def boxes(raw: bytes) -> dict[bytes, int]:
    """Where each box of an m4a begins."""
    found, at = {}, 0
    while at < len(raw):
        found[raw[at + 4 : at + 8]] = at
        at += int.from_bytes(raw[at : at + 4], "big")
    return found


def test_an_m4a_cut_off_before_its_index_is_refused_by_what_happened_to_it(said, tmp_path):
    path = ffmpeg(said, tmp_path / "a.m4a")
    raw = path.read_bytes()
    path.write_bytes(raw[: boxes(raw)[b"moov"] - 500])
    for door in (probe, lambda path: list(decode(path))):
        with pytest.raises(FallbookError, match=r"a\.m4a: .*index.*; ") as refusal:
            door(path)
        assert "\n" not in str(refusal.value)


def test_an_m4a_with_its_index_in_front_gives_what_there_is_of_it(said, tmp_path):
    path = ffmpeg(said, tmp_path / "a.m4a", "-movflags", "faststart")
    raw = path.read_bytes()
    path.write_bytes(raw[: boxes(raw)[b"mdat"] + (len(raw) - boxes(raw)[b"mdat"]) // 2])
    assert 0.3 < sum(map(len, decode(path))) / RATE / probe(said).duration_s < 0.7


@pytest.mark.parametrize("kind", ["silent", "noughts"])
def test_silence_decodes_to_nothing_that_is_no_number(tmp_path, said, kind):
    options = ("-af", "volume=0") if kind == "silent" else ("-af", "volume=0", "-c:a", "pcm_f32le")
    path = ffmpeg(said, tmp_path / "a.wav", *options)
    samples = np.concatenate(list(decode(path)))
    assert not samples.any()
