import shutil
import subprocess
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from extract.errors import FallbookError
from extract.record import Word
from logger import model, speech
from logger.model import BASE
from logger.readings import DOUBTFUL, Reading, Utterance, hints, made_up
from logger.sound import RATE, decode
from logger.speech import describe, hear
from logger.stretches import Stretch

espeak = pytest.mark.skipif(shutil.which("espeak-ng") is None, reason="Debian package espeak-ng is not installed")

SAID = ["Basin one is set, twelve by twelve.", "Run two is in, thirty-one feet.", "We need a photo of the trench."]


def write_wav(path: Path, samples: np.ndarray, rate: int = RATE) -> Path:
    import wave

    with wave.open(str(path), "wb") as out:
        out.setnchannels(1)
        out.setsampwidth(2)
        out.setframerate(rate)
        out.writeframes((np.clip(samples, -1, 1) * 32767).astype("<i2").tobytes())
    return path


def spoken(folder: Path, text: str) -> np.ndarray:
    path = folder / "said.wav"
    subprocess.run(["espeak-ng", "-v", "en-us", "-s", "150", "-w", str(path), text], check=True)
    return np.concatenate(list(decode(path)))


def noise(kind: str, seconds: float = 20) -> np.ndarray:
    """Sound with nobody speaking, 0.3 at its loudest."""
    time = np.arange(int(seconds * RATE)) / RATE
    random = np.random.default_rng(5)
    if kind == "silence":
        return np.zeros(len(time), np.float32)
    if kind == "engine":
        made = sum(np.sin(2 * np.pi * 30 * k * time) / k for k in range(1, 30)) + 0.5 * random.standard_normal(
            len(time)
        )
    elif kind == "beeps":
        made = np.sin(2 * np.pi * 1000 * time) * (time % 1 < 0.5)
    elif kind == "music":
        steps = 220 * 2 ** (random.integers(0, 24, int(seconds * 2)) / 12)
        made = np.sin(2 * np.pi * np.cumsum(np.repeat(steps, RATE // 2)[: len(time)]) / RATE) * np.exp(
            -3 * (time % 0.5)
        )
    else:
        made = random.standard_normal(len(time))
    return (0.3 * made / np.abs(made).max()).astype(np.float32)


@pytest.fixture(scope="module")
def day(tmp_path_factory) -> Path:
    """Three notes with pauses of 2 s and 1.5 s, a running pump under them, as a phone might keep them."""
    folder = tmp_path_factory.mktemp("day")
    pauses = [np.zeros(int(seconds * RATE)) for seconds in (1, 2, 1.5, 1)]
    parts = [
        part
        for pause, text in zip(pauses, [*SAID, ""], strict=True)
        for part in (pause, spoken(folder, text) if text else [])
    ]
    samples = np.concatenate(parts)
    pump = np.resize(noise("engine"), len(samples))
    return write_wav(folder / "day.wav", samples + 0.05 * pump)


@pytest.fixture(scope="module")
def notes(day):
    return hear(day)


@espeak
@pytest.mark.model
def test_notes_seconds_apart_come_one_by_one_with_their_words(notes):
    assert len(notes) == len(SAID)
    assert {note.language for note in notes} == {"en"}
    for note, words in zip(notes, ["basin set 12", "run 2 31 feet", "photo trench"], strict=True):
        heard = speech.reading.plain(note.text).split()
        assert set(words.split()) & set(heard), note.text


@espeak
@pytest.mark.model
def test_every_note_has_its_place_in_the_recording(notes):
    times = [time for note in notes for time in (note.start_s, note.end_s)]
    assert times == sorted(times)
    assert notes[0].start_s == pytest.approx(1, abs=0.6)
    assert notes[1].start_s - notes[0].end_s == pytest.approx(2, abs=0.8)


@espeak
@pytest.mark.model
def test_every_word_has_its_confidence_and_the_note_their_mean(notes):
    for note in notes:
        assert note.words
        assert all(0 <= word.confidence <= 1 for word in note.words)
        assert all(note.start_s <= word.start_s <= word.end_s <= note.end_s for word in note.words)
        assert note.confidence > 0.3
        assert note.source is None
        assert note.at is None


@espeak
@pytest.mark.model
def test_the_hint_never_turns_up_where_it_was_not_said(notes):
    text = " ".join(note.text for note in notes).lower()
    assert not {"swale", "foresight", "5.44", "98.90", "schedule"} & set(text.replace(",", " ").split())


@pytest.mark.model
@pytest.mark.parametrize("kind", ["silence", "engine", "beeps", "music", "hiss"])
@pytest.mark.parametrize("loudness", [1.0, 0.1])
def test_no_note_comes_of_sound_in_which_nobody_speaks(kind, loudness, tmp_path):
    """A minute and a half of each; twenty minutes of each made none either."""
    assert hear(write_wav(tmp_path / f"{kind}.wav", loudness * noise(kind, 90))) == []


@pytest.mark.model
@pytest.mark.parametrize("language", ["en", "es"])
@pytest.mark.parametrize("kind", ["engine", "music", "beeps", "hiss"])
def test_what_the_model_makes_of_noise_taken_for_speech_is_dropped(kind, language):
    """As if the voice detector had let it through."""
    utterance = speech._utterance(Stretch(0, noise(kind, 6)), None, language)
    assert utterance is None or made_up(utterance)


@pytest.mark.model
def test_the_hint_stays_within_the_tokens_it_may_take():
    for language in ("en", "es"):
        assert speech._ear(speech.find_model()).tokens(f" {hints()[language]['hint']}") <= 100


@pytest.mark.model
def test_what_was_used_can_be_kept_beside_the_notes():
    used = describe()
    assert used["model_sha256"]
    assert used["hints"]["es"] == hints()["es"]["hint"]
    assert used["lesson_sha256"]
    assert used["versions"]["faster-whisper"]


@pytest.mark.model
def test_only_a_model_that_was_not_taught_is_given_the_english_hint():
    assert set(describe()["hints"]) == {"es"}
    untaught = describe(BASE)
    assert set(untaught["hints"]) == {"en", "es"}
    assert untaught["lesson_sha256"] is None


def test_a_file_that_is_no_sound_is_refused_before_any_model_is_loaded(tmp_path, monkeypatch):
    monkeypatch.setattr(speech, "find_model", lambda name: pytest.fail("the model is not needed yet"))
    path = tmp_path / "notes.m4a"
    path.write_text("not sound")
    with pytest.raises(FallbookError, match="notes.m4a"):
        hear(path)


class QueueEar:
    """Stands in for the model: gives what it was told to, one utterance a stretch."""

    def __init__(self, *utterances: Utterance | None) -> None:
        self.utterances = list(utterances)

    english_only = False

    def language(self, stretch: Stretch) -> str:
        return self.utterances[0].language if self.utterances[0] else "en"

    def hear(self, stretch: Stretch, hint: str | None, language: str) -> Utterance | None:
        return self.utterances.pop(0)


def uttered(text: str, *others: str, confidence: float = 0.9, log_probability: float = -0.3) -> Utterance:
    words = [Word(text=word, start_s=n, end_s=n + 0.5, confidence=confidence) for n, word in enumerate(text.split())]
    readings = [Reading(reading, -2.0, (1, 2, 3)) for reading in [text, *others]]
    return Utterance(text, words, readings, log_probability, 0.0, 1.0)


@pytest.fixture
def hear_queue(tmp_path, monkeypatch):
    """Hears a recording with as many stretches of speech as there are utterances."""

    def hear_them(*utterances, **options):
        monkeypatch.setattr(speech, "find_model", lambda name: Path("model"))
        monkeypatch.setattr(speech, "_second_opinion", lambda utterance, stretch: utterance)
        monkeypatch.setattr(speech, "is_taught", lambda name: False)  # one model, that hears each stretch once
        ear = QueueEar(*utterances)
        monkeypatch.setattr(speech, "_ear", lambda folder: ear)
        stretches = [Stretch(float(n), np.zeros(RATE, np.float32)) for n in range(len(utterances))]
        monkeypatch.setattr(speech, "stretches", lambda blocks, spans: iter(stretches))
        return hear(write_wav(tmp_path / "queue.wav", noise("hiss", 5)), **options)

    return hear_them


@pytest.fixture
def taught_and_plain(monkeypatch):
    """Hears one stretch: gives what was believed, and which model was asked, with a hint or without."""

    def hear_it(taught, plain, language="en", model=None):
        calls = []

        class OneEar:
            def __init__(self, name):
                self.name = name

            def hear(self, stretch, hint, language):
                calls.append((self.name, hint is not None))
                return plain if self.name == BASE else taught

        monkeypatch.setattr(speech, "find_model", lambda name=None: name)
        monkeypatch.setattr(speech, "_ear", OneEar)
        return speech._utterance(Stretch(0.0, np.zeros(RATE, np.float32)), model, language), calls

    return hear_it


def test_talk_of_the_trade_is_heard_by_the_taught_model_alone_and_without_a_hint(taught_and_plain):
    said = uttered("Basin one is set.", log_probability=-0.9)
    heard, calls = taught_and_plain(said, uttered("Bassinet.", log_probability=-0.1))
    assert heard is said
    assert calls == [(None, False)]


@pytest.mark.parametrize(("sure", "believed"), [(-0.1, "Unless selfish."), (-0.5, "Unless shellfish.")])
def test_of_other_talk_the_surer_model_is_believed(taught_and_plain, sure, believed):
    taught = uttered("Unless shellfish.", log_probability=-0.3)
    heard, calls = taught_and_plain(taught, uttered("Unless selfish.", log_probability=sure))
    assert heard.text == believed
    assert calls == [(None, False), (BASE, False)]


def test_other_talk_in_which_the_untaught_model_hears_nothing_stays_as_the_taught_one_heard_it(taught_and_plain):
    said = uttered("Unless shellfish.")
    assert taught_and_plain(said, None)[0] is said


def test_spanish_is_heard_by_the_model_that_was_not_taught_english(taught_and_plain):
    heard, calls = taught_and_plain(uttered("Basin one."), uttered("Registro uno."), language="es")
    assert heard.text == "Registro uno."
    assert calls == [(BASE, True)]


def test_a_model_of_the_owners_own_is_told_the_hint(taught_and_plain):
    assert taught_and_plain(uttered("Unless shellfish."), None, model="mine")[1] == [("mine", True)]


def test_heard_words_are_kept_beside_the_words_put_right(hear_queue):
    (note,) = hear_queue(uttered("In bird on basin one is 96.2."))
    assert note.heard == "In bird on basin one is 96.2."
    assert note.text == "Invert on basin one is 96.2."
    (plain,) = hear_queue(uttered("In bird on basin one is 96.2."), repair=False)
    assert plain.text == plain.heard


def test_other_readings_are_kept_where_they_say_something_else(hear_queue):
    (note,) = hear_queue(
        uttered("14 inches of cover.", "fourteen inches of cover", "40 inches of cover", "14 inches, of cover!")
    )
    assert note.alternatives == ["40 inches of cover"]


def test_a_number_on_which_the_readings_differ_is_less_sure(hear_queue):
    (note,) = hear_queue(uttered("14 inches of cover.", "40 inches of cover", "14 inches of clover"))
    by_word = {word.text: word.confidence for word in note.words}
    assert by_word["14"] == pytest.approx(2 / 3, abs=0.001)
    assert by_word["inches"] == 0.9


def test_a_note_that_the_model_doubts_is_kept_with_low_confidence(hear_queue):
    (note,) = hear_queue(uttered("Run two is in.", log_probability=-1.3))
    assert note.confidence <= DOUBTFUL


def test_what_nobody_said_is_no_note(hear_queue):
    notes = hear_queue(uttered("Thank you.", confidence=0.2), None, uttered("Basin one is set."))
    assert [note.text for note in notes] == ["Basin one is set."]


def test_what_was_kept_is_not_heard_again_and_what_is_new_is_kept(hear_queue):
    kept, told = {}, []
    first = hear_queue(uttered("One."), None, uttered("Three."), kept=kept)
    assert list(kept) == [(0, 1), (1, 2), (2, 3)]
    del kept[2, 3]
    progress = lambda done, total: told.append(done)  # noqa: E731
    again = hear_queue(uttered("Tree."), uttered("Four."), uttered("Five."), kept=kept, progress=progress)
    assert again == [first[0], *kept[2, 3]]
    assert [note.text for note in again] == ["One.", "Tree."]
    assert told == [2, 5], "counted from where hearing began"


def test_progress_runs_from_the_start_to_the_whole_length(hear_queue):
    told = []
    hear_queue(uttered("One."), uttered("Two."), progress=lambda done, total: told.append((done, total)))
    assert told == [(0, 5), (1, 5), (5, 5)]


def test_spanish_is_kept_as_heard_and_read_in_english(hear_queue):
    said = uttered(
        "Corrida uno es de cuatro pulgadas, catorce pies.", "Corrida uno es de cuatro pulgadas, cuatro pies."
    )
    note = hear_queue(replace(said, language="es"))[0]
    assert note.heard == "Corrida uno es de cuatro pulgadas, catorce pies."
    assert (note.language, note.text) == ("es", "run 1 is 4 inches, 14 feet.")
    assert note.alternatives == ["run 1 is 4 inches, 4 feet."]
    assert {word.text: word.confidence for word in note.words}["14"] == 0.5


def test_a_missing_second_model_is_told_of_in_one_line(hear_queue, monkeypatch):
    monkeypatch.setattr(model, "SECOND", "no-such-package")
    with pytest.raises(FallbookError, match="no-such-package, a part of the speech models, is not installed"):
        hear_queue(uttered("Run one is in."))
    with pytest.raises(FallbookError, match="not installed; run: pip install"):
        describe()


def test_a_model_that_knows_english_alone_refuses_spanish(hear_queue, monkeypatch):
    monkeypatch.setattr(QueueEar, "english_only", True)
    with pytest.raises(FallbookError, match="leave --model out"):
        hear_queue(uttered("Hola."), language="es")
