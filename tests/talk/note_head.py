"""Teaches the head that reads a note as a whole: `note_head.py MODEL_FOLDER FILE...`, into MODEL_FOLDER/heads.npz.

It says whether a note puts right what was told before, and whether it settles a doubt. FILEs are days and files of
short jobs that the encoder was not taught on: on those that it was it is surer than it will be of new talk. The encoder
and the other heads stay as they are. Two processors take a quarter of an hour for 30,000 notes; the seed is fixed.
"""

from __future__ import annotations

import sys
from collections.abc import Callable, Sequence
from multiprocessing import Pool
from pathlib import Path

import numpy as np
import torch
from talk.dataset import ToldBefore
from talk.examples import SHORT
from talk.markup import Day, read_day, read_short
from torch import nn

from extract.read.model import Encoded, Model, Vector, pooled
from extract.read.readings import Reader

HIDDEN, DROPPED, TOGETHER = 64, 0.5, 256
ROUNDS, RATE, DECAY = 12, 5e-4, 0.5
LEAST = 0.05
"""Added to each spread, so that what hardly varied here counts for little where it does."""
Lesson = tuple[list[Vector], list[tuple[bool, bool]]]


class Watched(Model):
    """A model that keeps the notes it encodes, each as a whole, and judges none."""

    def __init__(self, file: Callable[[str], bytes]) -> None:
        super().__init__(file)
        self.seen: list[Vector] = []

    def encode(self, text: str, before: list[int], told: Sequence[str]) -> Encoded:
        coded = super().encode(text, before, told)
        self.seen.append(pooled(coded.vectors) if len(coded.ids) else np.zeros(0, np.float32))
        return coded

    def mends(self, vectors: Vector) -> float:
        return 0.0


MODELS: list[Watched] = []
"""The one of this process."""


def begin(folder: str) -> None:
    MODELS.append(Watched(lambda name: (Path(folder) / name).read_bytes()))


def lesson(day: Day) -> Lesson:
    """The notes of a day as the reader sees them, and what each does to what was told before."""
    model, before, vectors, does = MODELS[0], ToldBefore(), [], []
    reader = Reader(lambda: model)
    for index, note in enumerate(day.notes):
        model.seen.clear()
        reader.read(index, note.text)
        done = before.take(index, note)
        if model.seen and len(model.seen[0]):
            vectors.append(model.seen[0])
            does.append(done)
    return vectors, does


def taught(notes: Vector, does: Vector) -> dict[str, Vector]:
    """The weights of the head; the spread of the vectors is taken into its first layer."""
    torch.manual_seed(0)
    mean, spread = notes.mean(0), notes.std(0) + LEAST
    given, wanted = torch.tensor((notes - mean) / spread), torch.tensor(does)
    first, last = nn.Linear(notes.shape[1], HIDDEN), nn.Linear(HIDDEN, does.shape[1])
    head = nn.Sequential(first, nn.GELU(approximate="tanh"), nn.Dropout(DROPPED), last)
    optimiser = torch.optim.AdamW(head.parameters(), lr=RATE, weight_decay=DECAY)
    for _ in range(ROUNDS):
        for some in torch.randperm(len(given)).split(TOGETHER):
            loss = nn.functional.binary_cross_entropy_with_logits(head(given[some]), wanted[some])
            optimiser.zero_grad()
            loss.backward()
            optimiser.step()
    weight, bias = (each.detach().numpy() for each in (first.weight, first.bias))
    return {
        "note.0.weight": weight / spread,
        "note.0.bias": bias - weight @ (mean / spread),
        "note.3.weight": last.weight.detach().numpy(),
        "note.3.bias": last.bias.detach().numpy(),
    }


def teach(folder: Path, lessons: Sequence[Lesson]) -> None:
    """Teaches the head and puts it into the folder's heads.npz."""
    notes = np.array([each for vectors, _ in lessons for each in vectors], np.float32)
    does = np.array([each for _, done in lessons for each in done], np.float32)
    with np.load(folder / "heads.npz") as heads:
        held = {name: heads[name] for name in heads.files}
    held |= {name: weights.astype(np.float16) for name, weights in taught(notes, does).items()}
    np.savez(folder / "heads.npz", **held)
    print(f"{len(does)} notes, {int(does[:, 0].sum())} of which mend and {int(does[:, 1].sum())} settle")


def main() -> None:
    paths = [Path(each) for each in sys.argv[2:]]
    days = [day for path in paths for day in (read_short(path) if path.parent.name == SHORT.name else [read_day(path)])]
    with Pool(initializer=begin, initargs=(sys.argv[1],)) as pool:
        teach(Path(sys.argv[1]), list(pool.imap(lesson, days, chunksize=4)))


if __name__ == "__main__":
    main()
