"""The recogniser: the one module that knows faster-whisper. Importing it is slow, so import it where it is used."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Any

import ctranslate2
import numpy as np
import onnxruntime
from faster_whisper import WhisperModel
from faster_whisper.audio import pad_or_trim
from faster_whisper.tokenizer import Tokenizer
from faster_whisper.transcribe import get_compression_ratio
from faster_whisper.vad import VadOptions, get_speech_timestamps

from extract.record import Language, Word
from logger.readings import Reading, Utterance, circling, ranked
from logger.sound import RATE, Samples
from logger.stretches import Span, Stretch

onnxruntime.disable_telemetry_events()  # on Windows its builds hand events to the system's own tracing

THREADS = 1
"""What is heard at a time is short: two threads took half as long again on two cores."""

MARGIN_FRAMES = 500
SHORTEST_FRAMES = 1000
"""What the model is given of a stretch: its frames (10 ms each), silence after them, and no less than that. The model
was taught on 30 s at a time; a third of that takes it a seventh of the time and is heard as well, but now and then
goes round in circles, which 30 s then mend."""

TOKENS_PER_S = 8
"""More than anybody says; what is longer goes round in circles, and need not be waited for."""

BEAM = 5
"""Readings followed at once; as many come back, and cost no more than one."""

PAUSE_MS = 900
"""A pause this long ends a note. Crew draw breath in less, and wait longer before the next thought."""

LONGEST_S = 28.0
"""The model takes 30 s at a time; longer speech is cut at its last short pause before this."""

VOICE = VadOptions(
    threshold=0.5,
    min_speech_duration_ms=200,
    max_speech_duration_s=LONGEST_S,
    min_silence_duration_ms=PAUSE_MS,
    speech_pad_ms=300,
)

OPTIONS: dict[str, Any] = {
    "beam_size": BEAM,
    "temperature": [0.0, 0.4, 0.8],
    "condition_on_previous_text": False,
    "without_timestamps": True,
    "word_timestamps": True,
    "compression_ratio_threshold": 2.4,
    "log_prob_threshold": -1.0,
    "no_speech_threshold": 0.6,
}
"""As faster-whisper names them, beside the language. Without time stamps among the tokens the several readings
differ in words, not only in times, and a stretch is read in one pass; the words' own times come from the model's
attention."""


SPANISH = 0.7
"""How likely Spanish must be, of English and Spanish, for a note to be heard as Spanish. None of 690 stretches of our
own English, clean and in noise, came to 0.5 before the model was taught, and none of 333 to 0.01 since; of 126
recordings of somebody speaking Spanish 121 came to this."""


@dataclass(frozen=True)
class _Result:
    """The two fields that faster-whisper reads of a result."""

    sequences_ids: list[list[int]]
    no_speech_prob: float


class _Listener(WhisperModel):  # type: ignore[misc]
    """A WhisperModel that looks at all readings of its beam, and takes the likeliest in this trade."""

    readings: list[Reading]
    frames: int
    """How much of the features holds sound."""

    def __init__(self, *args: Any, **options: Any) -> None:
        super().__init__(*args, **options)
        self._features: Any = None

    def encode(self, features: Any) -> Any:
        """The first time alone: what language is spoken, and what is said, are told from the same sound."""
        if self._features is None or not np.array_equal(self._features, features):
            self._features = features
            self._encoded = super().encode(features[..., : max(SHORTEST_FRAMES, self.frames + MARGIN_FRAMES)])
        return self._encoded

    def likelihoods(self, samples: Samples) -> dict[str, float]:
        """How likely each language is to be the one spoken, by its code."""
        encoded = self._encoded_of(samples)
        return {token.strip("<|>"): likely for token, likely in self.model.detect_language(encoded)[0]}

    def _encoded_of(self, samples: Samples) -> Any:
        features = self.feature_extractor(samples)[..., :-1]
        return self.encode(pad_or_trim(features[..., : self.feature_extractor.nb_max_frames]))

    def gist(self, samples: Samples) -> str:
        encoded = self._encoded_of(samples)
        tokenizer = Tokenizer(self.hf_tokenizer, self.model.is_multilingual, task="transcribe", language="en")
        prompt = self.get_prompt(tokenizer, [], without_timestamps=True)
        most = len(prompt) + _most_tokens(samples)
        (result,) = self.model.generate(encoded, [prompt], beam_size=1, max_length=most)
        return str(tokenizer.decode(result.sequences_ids[0]))

    def generate_with_fallback(self, encoder_output: Any, prompt: list[int], tokenizer: Any, options: Any) -> Any:
        heard = self._read(encoder_output, prompt, tokenizer, options)
        if heard is None:
            encoder_output = super().encode(self._features)
            heard = self._read(encoder_output, prompt, tokenizer, options)
        if heard is None:
            self.readings = []
            return super().generate_with_fallback(encoder_output, prompt, tokenizer, options)
        return heard

    def _read(self, encoder_output: Any, prompt: list[int], tokenizer: Any, options: Any) -> Any:
        """As the base class gives it, from the likeliest reading; None where that is unlikely or goes in circles."""
        result = self.model.generate(
            encoder_output,
            [prompt],
            beam_size=options.beam_size,
            num_hypotheses=options.beam_size,
            max_length=len(prompt) + options.max_new_tokens,
            return_scores=True,
            return_no_speech_prob=True,
            suppress_tokens=options.suppress_tokens,
        )[0]
        self.readings = ranked(
            [
                Reading(tokenizer.decode(tokens).strip(), score * len(tokens), tuple(tokens))
                for tokens, score in zip(result.sequences_ids, result.scores, strict=True)
            ],
            tokenizer.language_code,
        )
        best = self.readings[0]
        mean = best.log_probability / (len(best.tokens) + 1)
        repetition = get_compression_ratio(best.text)
        if mean < options.log_prob_threshold or repetition > options.compression_ratio_threshold or circling(best.text):
            return None
        return _Result([list(best.tokens)], result.no_speech_prob), mean, 0.0, repetition


class Ear:
    """A loaded speech model. Load one and keep it: it takes a second and 250 MB."""

    def __init__(self, folder: Path) -> None:
        """`folder` as `logger.model.find_model` gives it."""
        self._model = _Listener(str(folder), device="cpu", compute_type="int8", cpu_threads=THREADS)

    @property
    def english_only(self) -> bool:
        return not self._model.model.is_multilingual

    def language(self, stretch: Stretch) -> Language:
        """What is spoken in `stretch`; English where the model knows nothing else."""
        if self.english_only:
            return "en"
        self._attend(stretch)
        likely = self._model.likelihoods(stretch.samples)
        return "es" if likely["es"] >= SPANISH * (likely["es"] + likely["en"]) else "en"

    def hear(self, stretch: Stretch, hint: str | None, language: Language = "en") -> Utterance | None:
        """What was said in `stretch`, or None where the model finds no words in it."""
        ctranslate2.set_random_seed(0)  # the same sound is heard the same way twice
        self._attend(stretch)
        most = _most_tokens(stretch.samples)
        segments, _ = self._model.transcribe(
            stretch.samples, language=language, hotwords=hint, max_new_tokens=most, **OPTIONS
        )
        segment = next(segments, None)  # the rest would come of listening again to the silence after the last word
        if segment is None or not segment.words:
            return None
        return Utterance(
            text=segment.text.strip(),
            words=_whole_words(segment.words, stretch.start_s),
            readings=self._model.readings,
            log_probability=segment.avg_logprob,
            no_speech=segment.no_speech_prob,
            repetition=segment.compression_ratio,
            language=language,
        )

    def gist(self, stretch: Stretch) -> str:
        """The words of `stretch` alone, in English, in a third of the time: one reading, no times, no second try."""
        self._attend(stretch)
        return self._model.gist(stretch.samples)

    def _attend(self, stretch: Stretch) -> None:
        self._model.frames = len(stretch.samples) // self._model.feature_extractor.hop_length

    def tokens(self, text: str) -> int:
        """How many of the model's tokens `text` takes."""
        return len(self._model.hf_tokenizer.encode(text, add_special_tokens=False).ids)


def _most_tokens(samples: Samples) -> int:
    return 12 + TOKENS_PER_S * len(samples) // RATE


def _whole_words(parts: list[Any], offset_s: float) -> list[Word]:
    """The words as written between spaces ("98.90" comes as "98" and ".90"), each as sure as its least sure part."""
    words: list[list[Any]] = []
    for part in parts:
        if part.word.startswith(" ") or not words:
            words.append([])
        words[-1].append(part)
    return [
        Word(
            text="".join(part.word for part in word).strip(),
            start_s=round(offset_s + word[0].start, 2),
            end_s=round(offset_s + word[-1].end, 2),
            confidence=round(float(min(part.probability for part in word)), 3),
        )
        for word in words
    ]


def speech_spans(samples: Samples) -> list[Span]:
    """Where somebody speaks in `samples`, padded a little, cut at pauses of PAUSE_MS."""
    return [(span["start"], span["end"]) for span in get_speech_timestamps(samples, VOICE)]
