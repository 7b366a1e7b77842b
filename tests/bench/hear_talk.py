"""How well worked examples are heard, by voice and noise, beside plain faster-whisper before the same extractor.

Run by `make bench-speech`, for other jobs with `make bench-speech JOBS="job-b job-k"`. Voices are synthetic and noises
are made by code, both the same at every run. Per voice and noise it prints, as ours / plain: word error rate, fact F1,
number F1, silent wrong numbers of all numbers, and seconds of sound heard in one second of wall time; then the same
by noise, and how the cuts between notes fell.
"""

from __future__ import annotations

import logger  # noqa: F401  # isort: skip  # before faster_whisper, so that nothing is sent
import json
import subprocess
import sys
import tempfile
import time
import wave
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path
from typing import NamedTuple

import jiwer
import numpy as np
import numpy.typing as npt
from faster_whisper import WhisperModel
from noises import NOISES, in_a_room, mixed
from scoring import facts, numbers, silent

from extract.assemble import assemble
from extract.notes import parse_log
from extract.record import Note
from logger.model import BASE, find_model
from logger.readings import plain
from logger.sound import RATE, decode
from logger.speech import hear
from sample_logs.script import Voice
from sample_logs.speak import speak

Samples = npt.NDArray[np.float32]
EXAMPLES = Path("tests/examples")
JOBS = ("job-a", "job-d")
VOICES: dict[str, Callable[[str], Samples]] = {
    "piper": lambda text: speak(text, Voice(engine="piper", pace=1.0)),
    "flite": lambda text: speak(text, Voice(engine="flite", name="rms", pace=1.1)),
    "espeak-ng": lambda text: espeak(text),
}
"""A neural voice, one of joined pieces of speech, and one of computed formants."""
LEVELS_DB = (None, 10, 5)
"""Signal over noise, dB; None is clean."""
THREADS = 0
"""Of plain faster-whisper, as it comes: the machine's own number."""
PAUSE_S = 2.5
"""Silence between notes, as the crew is told to leave."""


@dataclass
class Tally:
    """What was counted of one voice at one level, of one way of hearing."""

    pairs: list[tuple[str, str]] = field(default_factory=list)
    facts: list[tuple[set[tuple[str, ...]], set[tuple[str, ...]]]] = field(default_factory=list)
    silent: int = 0
    numbers: int = 0
    seconds: float = 0.0
    length_s: float = 0.0

    def __add__(self, other: Tally) -> Tally:
        return Tally(*(getattr(self, name) + getattr(other, name) for name in self.__dataclass_fields__))

    def word_errors(self) -> float:
        said, heard = zip(*self.pairs, strict=True)
        return jiwer.wer(list(said), list(heard))

    def f1(self, only: Callable[[set[tuple[str, ...]]], set[tuple[str, ...]]] = lambda found: found) -> float:
        hits = sum(len(only(a) & only(b)) for a, b in self.facts)
        return 2 * hits / max(1, sum(len(only(a)) + len(only(b)) for a, b in self.facts))


class Pair(NamedTuple):
    """What was counted of our hearing and of the plain one."""

    ours: Tally
    theirs: Tally

    def __add__(self, other: Pair) -> Pair:  # type: ignore[override]
        return Pair(self.ours + other.ours, self.theirs + other.theirs)


def main(jobs: list[str]) -> None:
    print("                              word errors   fact F1       number F1       silent wrong       times faster")
    model = WhisperModel(str(find_model(BASE)), device="cpu", compute_type="int8", cpu_threads=THREADS)
    hear(written(np.zeros(RATE, np.float32)))  # loads the model before the clock runs
    by_voice: dict[tuple[str, int | None], Pair] = {}
    by_noise: dict[tuple[str, int | None], Pair] = {}
    cuts = [0, 0, 0]
    for name, voice in VOICES.items():
        for level in LEVELS_DB:
            for noise in NOISES if level is not None else NOISES[:1]:
                both = Pair(Tally(), Tally())
                for job in jobs:
                    cuts = [a + b for a, b in zip(cuts, _heard(both, model, job, voice, noise, level), strict=True)]
                by_voice[name, level] = by_voice.get((name, level), Pair(Tally(), Tally())) + both
                if level is not None:
                    there = (noise.__name__, level)
                    by_noise[there] = by_noise.get(there, Pair(Tally(), Tally())) + both
            _print(name, level, by_voice[name, level])
    for (name, level), both in sorted(by_noise.items(), key=lambda item: -item[0][1]):
        _print(name, level, both)
    for level in LEVELS_DB:
        some = [both for (name, at), both in by_voice.items() if at == level]
        _print("all voices", level, sum(some, Pair(Tally(), Tally())))
    some = [both for (name, at), both in by_voice.items() if name != "espeak-ng" and at == LEVELS_DB[-1]]
    _print("but espeak-ng", LEVELS_DB[-1], sum(some, Pair(Tally(), Tally())))
    print(f"cuts between notes: {cuts[0]} right, {cuts[1]} missed, {cuts[2]} too many")


def _heard(
    both: Pair,
    model: WhisperModel,
    job: str,
    voice: Callable[[str], Samples],
    noise: Callable[[int], Samples],
    level: int | None,
) -> list[int]:
    """Hears one job both ways, counts it in `both`, and returns how its cuts fell."""
    notes = parse_log((EXAMPLES / f"{job}.notes.txt").read_text())
    gold = json.loads((EXAMPLES / f"{job}.gold.json").read_text())
    sound, starts = spoken(notes, voice)
    path = written(mixed(in_a_room(sound), noise, level))
    heard = _timed(both.ours, sound, lambda: hear(path))
    bare = _timed(both.theirs, sound, lambda: _plainly(model, path))
    path.unlink()
    _count(both.ours, notes, heard, gold)
    _count(both.theirs, notes, bare, gold)
    return _cuts(starts, heard)


def spoken(notes: list[Note], voice: Callable[[str], Samples]) -> tuple[Samples, list[float]]:
    """The notes one after the other with a pause between, and where each begins, seconds."""
    pause, parts, starts, at = np.zeros(int(PAUSE_S * RATE), np.float32), [], [], 0.0
    for note in notes:
        parts += [pause, voice(note.text)]
        starts.append(at + PAUSE_S)
        at += PAUSE_S + len(parts[-1]) / RATE
    return np.concatenate([*parts, pause]).astype(np.float32), starts


def espeak(text: str, voice: str = "en-us", words_a_minute: int = 150) -> Samples:
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "line.wav"
        pace = str(words_a_minute)
        subprocess.run(["espeak-ng", "-v", voice, "-s", pace, "-w", str(path), "--", text], check=True)
        samples = np.concatenate(list(decode(path)))
    return samples / np.abs(samples).max()


def _plainly(model: WhisperModel, path: Path) -> list[Note]:
    segments, _ = model.transcribe(np.concatenate(list(decode(path))), language="en", vad_filter=True)
    return [Note(text=s.text.strip(), start_s=s.start, end_s=s.end) for s in segments if s.text.strip()]


def _timed(tally: Tally, sound: Samples, work: Callable[[], list[Note]]) -> list[Note]:
    start = time.perf_counter()
    notes = work()
    tally.seconds += time.perf_counter() - start
    tally.length_s += len(sound) / RATE
    return notes


def _count(tally: Tally, said: list[Note], heard: list[Note], gold: dict[str, list[dict[str, object]]]) -> None:
    tally.pairs.append((plain(" ".join(n.text for n in said)), plain(" ".join(n.heard or n.text for n in heard))))
    record = assemble(heard).as_json()
    tally.facts.append((facts(record), facts(gold)))
    tally.silent += len(silent(record, gold))
    tally.numbers += len(numbers(facts(record)))


def _cuts(starts: list[float], heard: list[Note]) -> list[int]:
    """Cuts right, missed and too many: a note should begin within a second of where one was begun to be said."""
    begun = [note.start_s or 0.0 for note in heard]
    right = sum(any(abs(at - start) <= 1.0 for at in begun) for start in starts)
    return [right, len(starts) - right, max(0, len(begun) - right)]


def written(samples: Samples) -> Path:
    with tempfile.NamedTemporaryFile(suffix=".wav", delete=False) as file, wave.open(file, "wb") as sound:
        sound.setnchannels(1)
        sound.setsampwidth(2)
        sound.setframerate(RATE)
        sound.writeframes((np.clip(samples, -1, 1) * 32767).astype(np.int16).tobytes())
    return Path(file.name)


def _print(name: str, level: int | None, both: Pair) -> None:
    cells = [
        [f"{tally.word_errors():.3f}" for tally in both],
        [f"{tally.f1():.3f}" for tally in both],
        [f"{tally.f1(numbers):.3f}" for tally in both],
        [f"{tally.silent} of {tally.numbers}" for tally in both],
        [f"{tally.length_s / tally.seconds:.1f}" for tally in both],
    ]
    where = "clean" if level is None else f"{level} dB"
    print(f"{name:16}{where:>8}    " + "   ".join(" / ".join(cell) for cell in cells), flush=True)


if __name__ == "__main__":
    main(sys.argv[1:] or list(JOBS))
