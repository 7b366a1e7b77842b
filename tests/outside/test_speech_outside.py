"""Hearing checked against people: recordings with their published texts, which Debian's pocketsphinx-testdata carries.

Five sentences of a novel read aloud (LibriVox, public domain) and one string of spoken digits.
"""

import re
import wave
from pathlib import Path

import jiwer
import numpy as np
import pytest

from logger.model import BASE, find_model
from logger.readings import plain
from logger.sound import RATE, decode
from logger.speech import hear

DATA = Path("/usr/share/pocketsphinx/test/data")

pytestmark = [
    pytest.mark.model,
    pytest.mark.outside,
    pytest.mark.skipif(not DATA.is_dir(), reason="Debian package pocketsphinx-testdata is not installed"),
]

WORST = 0.05
"""Word error rate allowed over the five sentences. Measured: 0.0145, one word of 69, and that one ("more a amiable")
is a slip of the published text; 0.043 on an AMD EPYC."""
PROCESSOR = 2
"""Words of the 69 that one processor's 8-bit arithmetic hears otherwise than another's: on an AMD EPYC without bfloat16
the taught model has 3 words wrong and plain faster-whisper 1, elsewhere neither has more than the other."""


def published_words() -> dict[str, str]:
    lines = (DATA / "librivox" / "transcription").read_text().splitlines()
    pairs = (re.fullmatch(r"<s> (.*) </s> \((.*)\)", line.strip()) for line in lines)
    return {pair[2]: pair[1] for pair in pairs if pair}


def even(text: str) -> str:
    """Spelling that the published text and the recogniser do not share, set aside."""
    return plain(text.replace("Mr.", "mister").replace("-", " ").replace("ill disposed", "illdisposed"))


@pytest.fixture(scope="module")
def read_aloud() -> tuple[list[str], list[str], list[str]]:
    """What was read, what `hear` made of it, and what the model makes of it bare: no hint, no ranking, no repair."""
    from faster_whisper import WhisperModel

    bare = WhisperModel(str(find_model(BASE)), device="cpu", compute_type="int8", cpu_threads=2)
    said, heard, barely = [], [], []
    for name, words in published_words().items():
        path = DATA / "librivox" / f"{name}.wav"
        said.append(even(words))
        heard.append(even(" ".join(note.text for note in hear(path))))
        segments, _ = bare.transcribe(np.concatenate(list(decode(path))), language="en", vad_filter=True)
        barely.append(even(" ".join(segment.text for segment in segments)))
    return said, heard, barely


def test_a_novel_read_aloud_is_heard_nearly_word_for_word(read_aloud):
    said, heard, _ = read_aloud
    assert len(said) == 5
    assert jiwer.wer(said, heard) <= WORST, heard


def test_what_is_known_of_drainage_does_no_harm_to_other_talk(read_aloud):
    said, heard, barely = read_aloud
    assert wrong_words(said, heard) <= wrong_words(said, barely) + PROCESSOR, (heard, barely)


def wrong_words(said: list[str], heard: list[str]) -> int:
    found = jiwer.process_words(said, heard)
    return found.substitutions + found.deletions + found.insertions


def test_digits_read_aloud_are_heard_digit_for_digit(tmp_path):
    """The file's name says what is spoken: two nine three four zero."""
    path = tmp_path / "digits.wav"
    with wave.open(str(path), "wb") as out:
        out.setnchannels(1)
        out.setsampwidth(2)
        out.setframerate(RATE)
        out.writeframes((DATA / "tidigits" / "dhd.2934z.raw").read_bytes())
    (note,) = hear(path)
    assert re.sub(r"\D", "", plain(note.text)) == "29340"
