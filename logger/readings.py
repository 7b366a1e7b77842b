"""Several readings of one sound: which is likeliest in this trade, how sure its numbers are, and what was made up."""

from __future__ import annotations

import math
import re
import tomllib
import unicodedata
from collections.abc import Sequence
from dataclasses import dataclass, replace
from difflib import SequenceMatcher
from functools import cache
from importlib import resources
from itertools import pairwise
from typing import Any

from extract.limits import limits
from extract.record import Language, Word
from extract.repair import repair

STRANGE = 1.0
"""What one word from outside the trade's and a day's words costs a reading, in nats of log probability: the best
of 0, 0.5, 1, 1.5 and 2 by word error rate on eighty spoken notes of our own, clean and with pump noise."""

DOUBTFUL = 0.4
"""The most confidence of what is in doubt: below what the extractor takes without asking."""

SURE = 0.9
"""A number as sure as this is past doubt: of those that another model caught, none was surer in a note that is heard
well, and asking it about every number took half as long again."""

PAUSE_S = 1.9
"""Where a sentence ends and no word falls for so long, another thought begins. Over 45 recordings of our own a second
took the cuts missed in noise from 66 of 377 to 21 at 10 dB, from 70 to 54 at 5 dB; but the taught model at times hears
"D2729" begin late, and cut there 7 times. At this 3 of them are left, and no true one of the benchmark is missed."""

CHATTER = 0.125
"""From this share of words from outside the trade's and a day's, talk may be of other things: a quarter of the notes of
two worked examples in noise come to it, most of them chatter, and every sentence but one of a novel read aloud."""

_CIRCLE = re.compile(r"\b(\S+(?: \S+){3,30}?) \1\b")
_TENS_AND_UNIT = re.compile(
    r"\b(twenty|thirty|forty|fifty|sixty|seventy|eighty|ninety)[ -](one|two|three|four|five|six|seven|eight|nine)\b"
)
_WORD = re.compile(r"[a-z]+(?:'[a-z]+)?|\d+(?:\.\d+)?")


@dataclass(frozen=True)
class Reading:
    """One way to read a stretch of sound."""

    text: str
    log_probability: float
    """Of the whole reading, in nats."""
    tokens: tuple[int, ...]
    """The model's own."""


@dataclass(frozen=True)
class Utterance:
    """What was made of one stretch of speech."""

    text: str
    words: list[Word]
    """Times are seconds into the recording."""
    readings: list[Reading]
    """All readings of it, the chosen one first; empty where the model had to guess more freely."""
    log_probability: float
    """Mean over tokens, nats."""
    no_speech: float
    """The model's own probability that nobody spoke."""
    repetition: float
    """Compression ratio of the text; above 2.4 it goes round in circles."""
    language: Language = "en"

    @property
    def confidence(self) -> float:
        """Mean over words, 0 to 1."""
        return sum(word.confidence for word in self.words) / len(self.words)


def ranked(readings: Sequence[Reading], language: Language = "en") -> list[Reading]:
    """The readings with the likeliest in this trade first; the words of a day's work are known in English alone."""
    cost = STRANGE if language == "en" else 0.0
    return sorted(readings, key=lambda reading: _likelihood(reading, cost), reverse=True)


def _likelihood(reading: Reading, strange: float) -> float:
    """A token's mean log probability, nats: a longer reading is no worse for its length."""
    cost = strange * _strangers(repair(reading.text)) if strange else 0.0
    return (reading.log_probability - cost) / max(1, len(reading.tokens))


def thoughts(utterance: Utterance) -> list[Utterance]:
    """What was said of one thing after another, where noise filled the pauses between: cut at a sentence's end before
    PAUSE_S or more in which no word falls."""
    words = utterance.words
    ends = [
        at
        for at in range(1, len(words))
        if words[at - 1].text[-1:] in ".?!" and words[at].start_s - words[at - 1].end_s >= PAUSE_S
    ]
    if not ends:
        return [utterance]
    places = list(pairwise([0, *ends, len(words)]))
    readings = [_cut(reading, words, places) for reading in utterance.readings]
    return [
        replace(
            utterance,
            text=" ".join(word.text for word in words[low:high]),
            words=words[low:high],
            readings=[parts[number] for parts in readings],
        )
        for number, (low, high) in enumerate(places)
    ]


def _cut(reading: Reading, words: Sequence[Word], places: Sequence[tuple[int, int]]) -> list[Reading]:
    """The same of one reading, which may have more words or fewer."""
    said = reading.text.split()
    same = SequenceMatcher(None, [word.text for word in words], said, autojunk=False).get_matching_blocks()
    blocks = list(pairwise([(0, 0), *((block.a, block.b) for block in same)]))

    def there(at: int) -> int:
        (ours, theirs), (_, next_theirs) = next(pair for pair in reversed(blocks) if pair[0][0] <= at)
        return min(theirs + at - ours, next_theirs)

    cuts = [0, *(there(low) for low, _ in places[1:]), len(said)]
    return [replace(reading, text=" ".join(said[low:high])) for low, high in pairwise(cuts)]


def agreement(number: str, readings: Sequence[Reading]) -> float:
    """How much of the readings' probability has `number` among its numbers, 0 to 1."""
    top = max(reading.log_probability for reading in readings)
    weights = [math.exp(reading.log_probability - top) for reading in readings]
    with_it = (weight for weight, reading in zip(weights, readings, strict=True) if number in numbers(reading.text))
    return sum(with_it) / sum(weights)


def weighed(utterance: Utterance) -> list[Word]:
    """The words, a number no surer than the readings agree on it."""
    return [_weighed(word, utterance.readings) for word in utterance.words]


def _weighed(word: Word, readings: Sequence[Reading]) -> Word:
    said = numbers(word.text)
    if not said or not readings:
        return word
    agreed = min(agreement(number, readings) for number in said)
    return word.model_copy(update={"confidence": round(min(word.confidence, agreed), 3)})


def half_sure(utterance: Utterance) -> bool:
    """Whether a number would be taken without asking that is not past doubt."""
    least = limits()["confidence"]
    if utterance.confidence < least["note"]:
        return False
    return any(least["number"] <= word.confidence < SURE and numbers(word.text) for word in weighed(utterance))


def held_against(utterance: Utterance, other: str) -> Utterance:
    """`utterance` with each number in doubt that `other`, another model's word on the same sound, does not hold.

    Of 122 numbers that the base model, not taught yet, was sure of in noise, 15 were wrong; tiny.en bore out 100 of the
    107 right ones and 5 of the wrong ones. With the taught model it still took the silent wrong numbers of two worked
    examples from 4 of 182 in noise to 2.
    """
    heard = set(numbers(other))
    words = [
        word if heard.issuperset(numbers(word.text)) else word.model_copy(update={"confidence": _doubted(word)})
        for word in utterance.words
    ]
    return replace(utterance, words=words)


def _doubted(word: Word) -> float:
    return min(word.confidence, DOUBTFUL)


def numbers(text: str) -> list[str]:
    """The numbers said in `text`, each as digits: "four-inch" and "4-inch" both hold "4"."""
    return [word for word in _words(text) if word[0].isdigit()]


def plain(text: str) -> str:
    """`text` with case, accents, punctuation and the spelling of numbers set aside, for comparing readings."""
    return " ".join(_words(text))


def _words(text: str) -> list[str]:
    spelled = hints()["spelled"]
    bare = "".join(each for each in unicodedata.normalize("NFD", text.lower()) if not unicodedata.combining(each))
    joined = _TENS_AND_UNIT.sub(lambda match: str(int(spelled[match[1]]) + int(spelled[match[2]])), bare)
    return [spelled.get(word, word) for word in _WORD.findall(joined)]


def circling(text: str) -> bool:
    """True where four words or more are said over again at once, as a recogniser does that has lost the end."""
    return _CIRCLE.search(plain(text)) is not None


def doubtful(utterance: Utterance) -> bool:
    """True where the model itself is in doubt about what was said."""
    return utterance.log_probability < -1.0 or utterance.no_speech > 0.6 or utterance.repetition > 2.4


def made_up(utterance: Utterance) -> bool:
    """True for words that nobody said: drawn from the hint (or from what the model was taught), or from a hum.

    A word's confidence is measured with the hint left out, so words that stand only in the hint have next to none:
    0.02 to 0.07 for what the model made of engines, wind, hammering, beeps and silence, against 0.5 and up for speech.
    Words that the model thinks unlikely, of sound in which it half hears nobody, are made up too: of 690 stretches of
    speech in noise the unlikely ones had no more than 0.16 for nobody speaking, an engine 0.33.
    """
    if utterance.log_probability < -1.0 and utterance.no_speech > 0.25:
        return True
    confidence = utterance.confidence
    said, told = plain(utterance.text), hints()[utterance.language]
    if said in plain(told["hint"]) or utterance.repetition > 2.4:
        return confidence < 0.3
    if said in told["made_up"]:
        return confidence < 0.5 or utterance.no_speech > 0.3
    return confidence < 0.15


def chatter(text: str) -> bool:
    """True for what may be talk of other things: it has strange words and no number."""
    strange = _strangers(text) >= CHATTER * max(1, len(_WORD.findall(text.lower())))
    return strange and not numbers(text)


@cache
def hints() -> dict[str, Any]:
    """What logger/hints.toml holds."""
    return tomllib.loads(resources.files("logger").joinpath("hints.toml").read_text(encoding="utf-8"))


@cache
def _known() -> frozenset[str]:
    lexicon = tomllib.loads(resources.files("extract").joinpath("lexicon.toml").read_text(encoding="utf-8"))
    trade = (phrase for section in lexicon.values() for meaning, said in section.items() for phrase in [meaning, *said])
    return frozenset(_WORD.findall(" ".join([hints()["plain"], *trade]).lower()))


def _strangers(text: str) -> int:
    words = (word for word in _WORD.findall(text.lower()) if not word[0].isdigit())
    return sum(word not in _known() and word.removesuffix("'s") not in _known() for word in words)
