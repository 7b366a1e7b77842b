"""Sound into notes: one note for each thing said between two pauses."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import replace
from functools import lru_cache
from importlib import metadata
from pathlib import Path
from typing import TYPE_CHECKING, Any

from extract.errors import FallbookError
from extract.record import Language, Note
from extract.repair import repair as put_right
from extract.spanish import english, english_words
from logger import readings as reading
from logger.decoding import samples, sound_facts
from logger.lesson import lesson_sha256
from logger.model import BASE, MODEL_SHA256, SECOND, find_model, find_second, is_taught
from logger.stretches import Seconds, Stretch, stretches

if TYPE_CHECKING:
    from logger.ear import Ear


def hear(
    path: Path,
    *,
    model: str | None = None,
    language: Language | None = None,
    progress: Callable[[float, float], None] | None = None,
    repair: bool = True,
    kept: dict[Seconds, list[Note]] | None = None,
) -> list[Note]:
    """The notes spoken in the sound file `path`, in order; [] where nobody speaks.

    `model` is a folder or a name (see `logger.model.find_model`). Where `language` is left out, it is told from the
    sound of each note. `progress` is told the seconds heard so far and the seconds in all. Without `repair`, English
    `text` stays as heard. `source` and `at` are left for the caller. `kept` holds the notes of stretches heard before,
    which are not heard again, and is given each new one at once.
    Raises FallbookError for what is no sound, and where a model is missing, or lacks the language.
    """
    length = sound_facts(path)["length_s"]
    ear = _ear(_whole(model))
    if language == "es" and ear.english_only:
        raise FallbookError(f"{model}: this speech model knows English alone; leave --model out to hear Spanish")
    kept = {} if kept is None else kept
    notes = []
    for stretch in _speech(path):
        if stretch.seconds not in kept:
            if progress:
                progress(min(stretch.start_s, length), length)
            utterance = _utterance(stretch, model, language or ear.language(stretch))
            kept[stretch.seconds] = _notes(utterance, stretch, put_right if repair else str)
        notes += kept[stretch.seconds]
    if progress:
        progress(length, length)
    return notes


def load(model: str | None = None) -> None:
    """Load what `hear` would load first, so that the first note need not wait for it. Raises FallbookError."""
    _ear(_whole(model))


def _whole(model: str | None) -> Path:
    """The model's folder. What is missing of it or of those that help it is told of before an hour is heard."""
    find_second()
    if is_taught(model):
        find_model(BASE)
    return find_model(model)


def _utterance(stretch: Stretch, model: str | None, language: Language) -> reading.Utterance | None:
    """What was said. The model that was taught this trade needs no hint, and hears its English alone: talk of other
    things is heard by the one that was not taught as well, and the surer of the two is believed."""
    hint = reading.hints()[language]["hint"]
    if not is_taught(model):
        return _ear(find_model(model)).hear(stretch, hint, language)
    if language == "es":
        return _ear(find_model(BASE)).hear(stretch, hint, language)
    said = _ear(find_model(model)).hear(stretch, None, language)
    if said is None or not reading.chatter(said.text):
        return said
    other = _ear(find_model(BASE)).hear(stretch, None, language)
    return other if other and other.log_probability > said.log_probability else said


def _notes(utterance: reading.Utterance | None, stretch: Stretch, put_right: Callable[[str], str]) -> list[Note]:
    said = reading.thoughts(_second_opinion(utterance, stretch)) if utterance else []
    return [_note(thought, put_right) for thought in said if not reading.made_up(thought)]


def _second_opinion(utterance: reading.Utterance, stretch: Stretch) -> reading.Utterance:
    """The same, its numbers in doubt that another model does not hear; that one knows English alone."""
    if utterance.language != "en" or not reading.half_sure(utterance):
        return utterance
    return reading.held_against(utterance, _ear(find_second()).gist(stretch))


def describe(model: str | None = None, language: Language | None = None) -> dict[str, Any]:
    """What `hear` would use, to be kept beside the notes: model, options, language, hints and versions."""
    folder, taught = _whole(model), is_taught(model)
    hinted = [code for code in ([language] if language else ("en", "es")) if code == "es" or not taught]
    from logger.ear import OPTIONS, SPANISH, VOICE

    return {
        "model": str(folder),
        "model_sha256": MODEL_SHA256 if taught or model == BASE else None,
        "lesson_sha256": lesson_sha256() if taught else None,
        "options": OPTIONS,
        "voice": vars(VOICE),
        "language": language or {"es": SPANISH},
        "hints": {code: reading.hints()[code]["hint"] for code in hinted},
        "versions": {name: metadata.version(name) for name in ("faster-whisper", "ctranslate2", SECOND, "fallbook")},
    }


@lru_cache(maxsize=3)
def _ear(folder: Path) -> Ear:
    from logger.ear import Ear

    return Ear(folder)


def _speech(path: Path) -> Iterator[Stretch]:
    from logger.ear import speech_spans

    return stretches(samples(path), speech_spans)


def _note(utterance: reading.Utterance, put_right: Callable[[str], str]) -> Note:
    heard = utterance.text
    if utterance.language == "es":
        utterance, put_right = _in_english(utterance), str
    words = reading.weighed(utterance)
    confidence = sum(word.confidence for word in words) / len(words)
    text = put_right(utterance.text)
    return Note(
        text=text,
        heard=heard,
        language=utterance.language,
        confidence=round(min(confidence, reading.DOUBTFUL) if reading.doubtful(utterance) else confidence, 3),
        words=words,
        alternatives=_alternatives(utterance, text, put_right),
        start_s=words[0].start_s,
        end_s=words[-1].end_s,
    )


def _in_english(utterance: reading.Utterance) -> reading.Utterance:
    """The same, said in English."""
    readings = [replace(other, text=english(other.text)) for other in utterance.readings]
    return replace(utterance, text=english(utterance.text), words=english_words(utterance.words), readings=readings)


def _alternatives(utterance: reading.Utterance, text: str, put_right: Callable[[str], str]) -> list[str]:
    """Other readings, best first, that differ in more than case, points and the spelling of numbers."""
    others = {reading.plain(text): text}
    for other in utterance.readings[1:]:
        said = put_right(other.text)
        if not said:
            continue  # the rest of the utterance, cut off, holds all of it
        others.setdefault(reading.plain(said), said)
    return list(others.values())[1:]
