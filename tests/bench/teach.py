"""Teaches the speech model the talk of this trade and writes logger/lesson.npz: `make teach`, an hour and a quarter.

The weights of Whisper base stay as they are; beside each linear layer a correction of low rank is learned (Hu et al.,
"LoRA: Low-Rank Adaptation of Large Language Models", 2021), from synthetic talk in noise and the text it was made
from. Needs the packages torch and ttspico and the Debian packages that teach_sound.py and teach_talk.py name.
"""

from __future__ import annotations

import logger  # noqa: F401  # isort: skip  # before faster_whisper, so that nothing is sent
import math
import sys
import time
from collections.abc import Iterator
from multiprocessing import Pool
from pathlib import Path
from typing import Any

import numpy as np
import numpy.typing as npt
import torch
import torch.nn.functional as nnf
from faster_whisper.feature_extractor import FeatureExtractor
from teach_sound import RATE, Samples, noises, outdoors, spoken
from teach_talk import lines, written
from tokenizers import Tokenizer
from torch import Tensor, nn

from logger.lesson import weights
from logger.model import BASE, find_model

LESSON = Path("logger/lesson.npz")
LINES = 10_000
MINUTES = 48.0
RATE_OF_LEARNING = 6e-4
WARMING = 40
"""Steps until that rate is reached; from there it falls to nothing along a cosine."""

RANK = {"encoder": 8, "decoder": 16}
HEADS = 8
LAYERS = 6
FRAMES = 7000
"""Of sound in one step, 10 ms each: about eight lines."""

START = (50258, 50259, 50359, 50363)
"""The tokens that open a text: start, English, transcribe, no time stamps."""
END = 50257
KEPT = 0.5
"""How much of what was learned is laid over the weights: halfway between what the model knew and what it was taught it
does nearly as well at either (after Wortsman et al., "Robust Fine-Tuning of Zero-Shot Models", 2022; our own figures
are in README.md beside this)."""

SILENT = 0.03
"""How many of the lines are noise in which nobody speaks, so that nothing is made up out of it."""


class Linear(nn.Module):
    """A layer of the model that stays as it is, and the correction beside it, at first none."""

    def __init__(self, weight: Tensor, bias: Tensor, rank: int) -> None:
        super().__init__()
        self.weight, self.bias = weight, bias
        self.down = nn.Parameter(torch.randn(rank, weight.shape[1]) / math.sqrt(weight.shape[1]))
        self.up = nn.Parameter(torch.zeros(weight.shape[0], rank))

    def forward(self, x: Tensor) -> Tensor:
        return nnf.linear(x, self.weight, self.bias) + nnf.linear(nnf.linear(x, self.down), self.up)


class Whisper(nn.Module):
    """Whisper base (Radford et al., "Robust Speech Recognition via Large-Scale Weak Supervision", 2022)."""

    def __init__(self, model: bytes) -> None:
        super().__init__()
        found = weights(model)
        self.held = {name: torch.tensor(weight.astype(np.float32)) for name, _, weight in found if weight.ndim}
        layers = [name.removesuffix("/weight") for name in self.held if "linear" in name and name.endswith("/weight")]
        self.linears = nn.ModuleDict({name.replace("/", "|"): self._linear(name) for name in layers})

    def _linear(self, name: str) -> Linear:
        return Linear(self.held[f"{name}/weight"], self.held[f"{name}/bias"], RANK[name.split("/")[0]])

    def encode(self, features: Tensor) -> Tensor:
        """What is heard [lines, frames / 2, width] in log-mel features [lines, 80, frames]."""
        x = nnf.gelu(self._convolved(features, "encoder/conv1", stride=1))
        x = nnf.gelu(self._convolved(x, "encoder/conv2", stride=2)).transpose(1, 2)
        x = x + self.held["encoder/position_encodings/encodings"][: x.shape[1]]
        for number in range(LAYERS):
            x = self._block(x, f"encoder/layer_{number}")
        return self._norm(x, "encoder/layer_norm")

    def decode(self, tokens: Tensor, heard: Tensor) -> Tensor:
        """How likely each token is to come next [lines, tokens, vocabulary], as logits."""
        table = self.held["decoder/embeddings/weight"]
        x = table[tokens] + self.held["decoder/position_encodings/encodings"][: tokens.shape[1]]
        for number in range(LAYERS):
            x = self._block(x, f"decoder/layer_{number}", heard)
        return nnf.linear(self._norm(x, "decoder/layer_norm"), table)

    def _block(self, x: Tensor, name: str, heard: Tensor | None = None) -> Tensor:
        query, key, value = self._layer(
            self._norm(x, f"{name}/self_attention/layer_norm"), f"{name}/self_attention/linear_0"
        ).chunk(3, -1)
        x = x + self._layer(_attended(query, key, value, causal=heard is not None), f"{name}/self_attention/linear_1")
        if heard is not None:
            key, value = self._layer(heard, f"{name}/attention/linear_1").chunk(2, -1)
            query = self._layer(self._norm(x, f"{name}/attention/layer_norm"), f"{name}/attention/linear_0")
            x = x + self._layer(_attended(query, key, value), f"{name}/attention/linear_2")
        inner = nnf.gelu(self._layer(self._norm(x, f"{name}/ffn/layer_norm"), f"{name}/ffn/linear_0"))
        return x + self._layer(inner, f"{name}/ffn/linear_1")

    def _layer(self, x: Tensor, name: str) -> Tensor:
        return self.linears[name.replace("/", "|")](x)  # type: ignore[no-any-return]

    def _norm(self, x: Tensor, name: str) -> Tensor:
        return nnf.layer_norm(x, x.shape[-1:], self.held[f"{name}/gamma"], self.held[f"{name}/beta"])

    def _convolved(self, x: Tensor, name: str, stride: int) -> Tensor:
        return nnf.conv1d(x, self.held[f"{name}/weight"], self.held[f"{name}/bias"], stride=stride, padding=1)

    def lesson(self) -> dict[str, npt.NDArray[np.float16]]:
        """The corrections, as `logger.lesson` reads them."""
        parts = {}
        for name, layer in self.linears.items():
            weight = f"{name.replace('|', '/')}/weight"
            parts[f"{weight}:up"] = (KEPT * layer.up.detach()).numpy().astype(np.float16)
            parts[f"{weight}:down"] = layer.down.detach().numpy().astype(np.float16)
        return parts


def _attended(query: Tensor, key: Tensor, value: Tensor, *, causal: bool = False) -> Tensor:
    count, length, width = query.shape
    heads = (each.view(count, -1, HEADS, width // HEADS).transpose(1, 2) for each in (query, key, value))
    return nnf.scaled_dot_product_attention(*heads, is_causal=causal).transpose(1, 2).reshape(count, length, width)


class Talk:
    """The lines, their tokens and the noises, dealt out in steps."""

    def __init__(self, folder: Path, count: int) -> None:
        said = list(enumerate(lines(count, seed=1)))
        with Pool() as pool:
            sounds = pool.map(spoken, said, chunksize=16)
        self._tokenizer = Tokenizer.from_file(str(folder / "tokenizer.json"))
        pairs = [
            (sound, self._tokens(written(text)))
            for sound, (_, text) in zip(sounds, said, strict=True)
            if sound is not None
        ]
        self._sounds, self._texts = [sound for sound, _ in pairs], [tokens for _, tokens in pairs]
        self._chance = np.random.default_rng(1)
        self._noises = noises(self._sounds, self._chance)
        self._features = FeatureExtractor()

    def _tokens(self, text: str) -> list[int]:
        return [*START, *self._tokenizer.encode(f" {text}", add_special_tokens=False).ids, END]

    def steps(self) -> Iterator[tuple[Tensor, Tensor, Tensor]]:
        """Features [lines, 80, frames], tokens [lines, length] and which tokens count [lines, length], without end."""
        while True:
            order = self._chance.permutation(len(self._sounds))
            for some in np.array_split(order, max(1, len(order) // 256)):
                yield from map(self._together, self._alike(some))

    def _alike(self, some: npt.NDArray[np.int64]) -> list[list[int]]:
        """Lines of about one length together, so that little silence is looked at."""
        steps: list[list[int]] = [[]]
        for number in sorted(some, key=lambda number: len(self._sounds[number])):
            steps[-1].append(number)
            if len(steps[-1]) * max(600, len(self._sounds[number]) * 100 // RATE + 400) >= FRAMES:
                steps.append([])
        full = [step for step in steps if step]
        self._chance.shuffle(full)  # type: ignore[arg-type]
        return full

    def _together(self, numbers: list[int]) -> tuple[Tensor, Tensor, Tensor]:
        pairs = [self._one(number) for number in numbers]
        margin = int(self._chance.integers(50, 500))
        frames = min(3000, 2 * (max(500, max(features.shape[1] for features, _ in pairs) + margin) // 2))
        length = max(len(tokens) for _, tokens in pairs)
        sound = np.zeros((len(pairs), 80, frames), np.float32)
        text, counts = np.full((len(pairs), length), END), np.zeros((len(pairs), length), bool)
        for row, (features, tokens) in enumerate(pairs):
            sound[row, :, : features.shape[1]] = features[:, :frames]
            text[row, : len(tokens)] = tokens
            counts[row, len(START) : len(tokens)] = True
        return torch.tensor(sound), torch.tensor(text), torch.tensor(counts)

    def _one(self, number: int) -> tuple[npt.NDArray[np.float32], list[int]]:
        sound, tokens = self._sounds[number], self._texts[number]
        if self._chance.random() < SILENT:
            sound, tokens = self._nobody(), [*START, END]
        return self._features(outdoors(sound, self._noises, self._chance))[:, :-1], tokens

    def _nobody(self) -> Samples:
        length = int(RATE * self._chance.uniform(1, 6))
        return (1e-3 * self._chance.normal(size=length)).astype(np.float32)


def teach(minutes: float, count: int) -> dict[str, npt.NDArray[np.float16]]:
    """The lesson of so many minutes over so many lines."""
    torch.manual_seed(0)
    folder = find_model(BASE)
    talk, model = Talk(folder, count), Whisper((folder / "model.bin").read_bytes())
    learned = list(model.parameters())
    optimizer = torch.optim.AdamW(learned, weight_decay=0.01, betas=(0.9, 0.98))
    begun, losses = time.monotonic(), []
    for step, (sound, text, counts) in enumerate(talk.steps(), 1):
        done = (time.monotonic() - begun) / 60 / minutes
        if done >= 1:
            break
        for group in optimizer.param_groups:
            group["lr"] = RATE_OF_LEARNING * min(1, step / WARMING) * (1 + math.cos(math.pi * done)) / 2
        losses.append(_step(model, optimizer, sound, text, counts))
        if step % 50 == 0:
            print(f"{done * minutes:5.1f} min, step {step}, loss {np.mean(losses[-50:]):.3f} nats a token", flush=True)
    return model.lesson()


def _step(model: Whisper, optimizer: Any, sound: Tensor, text: Tensor, counts: Tensor) -> float:
    with torch.autocast("cpu", torch.bfloat16):
        logits = model.decode(text[:, :-1], model.encode(sound))
    loss = nnf.cross_entropy(logits.float()[counts[:, 1:]], text[:, 1:][counts[:, 1:]])
    optimizer.zero_grad()
    loss.backward()
    nn.utils.clip_grad_norm_(model.parameters(), 1.0)
    optimizer.step()
    return loss.item()


if __name__ == "__main__":
    np.savez_compressed(LESSON, **teach(float(sys.argv[1]) if sys.argv[1:] else MINUTES, LINES))  # type: ignore[arg-type]
    print(f"{LESSON}: {LESSON.stat().st_size:,} bytes")
