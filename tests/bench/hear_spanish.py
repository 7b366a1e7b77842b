"""How far hearing carries Spanish: jobs told in Spanish, spoken, heard with nothing said of the language, read.

Run by `make bench-spanish`, which asks for the package ttspico (pip install ttspico) beside Debian's espeak-ng. It
prints, per voice and noise, the notes told to be Spanish, word error rate, fact F1 and silent wrong numbers; the first
line of each job is the same text typed, so that what the glossary lacks is not laid to the ear.
"""

from __future__ import annotations

import json
import sys
from collections.abc import Callable
from functools import partial

import numpy as np
from hear_talk import EXAMPLES, LEVELS_DB, Samples, Tally, espeak, spoken, written
from noises import NOISES, in_a_room, mixed
from scoring import f1, facts, numbers, silent

from extract.assemble import assemble
from extract.notes import parse_log
from extract.record import Note
from extract.spanish import english
from logger.readings import plain
from logger.speech import hear

JOBS = ("job-c", "job-e")


def main(jobs: list[str]) -> None:
    voices: dict[str, Callable[[str], Samples]] = {
        "pico es-ES": _pico(),
        "espeak-ng es-419": partial(espeak, voice="es-419", words_a_minute=140),
    }
    for job in jobs:
        notes = parse_log((EXAMPLES / "es" / f"{job}.notes.txt").read_text(encoding="utf-8"))
        gold = json.loads((EXAMPLES / f"{job}.gold.json").read_text(encoding="utf-8"))
        typed = [note.model_copy(update={"text": english(note.text)}) for note in notes]
        print(f"{job}  typed                     {_scores(typed, gold)}", flush=True)
        for name, voice in voices.items():
            sound, _ = spoken(notes, voice)
            for level in LEVELS_DB:
                path = written(mixed(in_a_room(sound), NOISES[len(name) % len(NOISES)], level))
                heard = hear(path)
                path.unlink()
                _print(f"{job}  {name}", level, notes, heard, gold)


def _print(name: str, level: int | None, said: list[Note], heard: list[Note], gold: dict[str, object]) -> None:
    tally = Tally(pairs=[(plain(" ".join(n.text for n in said)), plain(" ".join(n.heard or "" for n in heard)))])
    told = sum(note.language == "es" for note in heard)
    where = "clean" if level is None else f"{level} dB"
    print(
        f"{name:24} {where:6}  {told} of {len(heard)} Spanish  word errors {tally.word_errors():.3f}  "
        f"{_scores(heard, gold)}",
        flush=True,
    )


def _scores(notes: list[Note], gold: dict[str, object]) -> str:
    record = assemble(notes).as_json()
    found = facts(record)
    return f"fact F1 {f1(found, facts(gold)):.3f}  silent {len(silent(record, gold))} of {len(numbers(found))}"


def _pico() -> Callable[[str], Samples]:
    from ttspico import TtsEngine  # type: ignore[import-not-found,import-untyped,unused-ignore]

    def spoken_by(text: str) -> Samples:
        samples = TtsEngine("es-ES").speak(text)  # an engine that has spoken before speaks otherwise; 16 kHz
        return np.frombuffer(samples, "<i2").astype(np.float32) / 32768

    return spoken_by


if __name__ == "__main__":
    main(sys.argv[1:] or list(JOBS))
