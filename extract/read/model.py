"""The learned reader's network, run on a plain processor: the encoder by ONNX Runtime, the heads by NumPy.

`reader.onnx` takes piece numbers, parts (0 the notes before, 1 the note) and a mask, each (1, L), and gives vectors
(1, L, width). `heads.npz` holds the weights of the heads by the names they have in tests/talk/network.py.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import cache
from importlib import resources
from io import BytesIO

import numpy as np
from numpy.typing import NDArray

from extract.read.labels import CLASSES, RELATIONS, ROLES, TYPES
from extract.read.scene import CONTEXT

Vector = NDArray[np.float32]
LONGEST_TOLD = 16
"""Pieces that a thing is told in."""
LONGEST = 160
"""Pieces of a note that are read at a time; a longer one is read in parts. With what goes in beside it, this fits the
512 places of the encoder."""
STARTS = dict(zip(TYPES, np.cumsum([0, *(len(names) for names in CLASSES.values())][:-1]).tolist(), strict=True))
WHAT = (*TYPES, *ROLES)


@dataclass
class Encoded:
    """A note as the model sees it: a vector for each piece, and the characters of each."""

    vectors: Vector
    told: list[Vector]
    """A vector for each thing told beside it."""
    offsets: list[tuple[int, int]]
    ids: list[int]


class Model:
    """The weights, ready to read with. `file` gives the bytes of reader.onnx, heads.npz and tokenizer.json."""

    def __init__(self, file: Callable[[str], bytes]) -> None:
        import onnxruntime
        from tokenizers import Tokenizer

        options = onnxruntime.SessionOptions()
        options.intra_op_num_threads = 1
        options.log_severity_level = 3
        # without it, products of eight bits overflow on processors that have no VNNI, and other things are read there
        options.add_session_config_entry("session.x64quantprecision", "1")
        self.session = onnxruntime.InferenceSession(file("reader.onnx"), options, providers=["CPUExecutionProvider"])
        with np.load(BytesIO(file("heads.npz"))) as heads:
            self.w: dict[str, Vector] = {name: heads[name].astype(np.float32) for name in heads.files}
        self.heats = {
            name.removeprefix("temperature."): float(heat)
            for name, heat in self.w.items()
            if name.startswith("temperature.")
        }
        self.tokenizer = Tokenizer.from_str(file("tokenizer.json").decode())
        self.tokenizer.no_truncation()
        self.tokenizer.no_padding()
        self.begin, self.part = (self.tokenizer.token_to_id(name) for name in ("[CLS]", "[SEP]"))

    def pieces(self, text: str) -> list[int]:
        """The numbers of a text's pieces."""
        return list(self.tokenizer.encode(text, add_special_tokens=False).ids)

    def encode(self, text: str, before: list[int], told: Sequence[str]) -> Encoded:
        """The pieces of a note with their vectors; `before`: the pieces of the notes before, `told`: what is known."""
        coded = self.tokenizer.encode(text, add_special_tokens=False)
        things = [self.tokenizer.encode(each, add_special_tokens=False).ids[:LONGEST_TOLD] for each in told]
        vectors: list[Vector] = []
        known: list[Vector] = []
        for low in range(0, max(1, len(coded.ids)), LONGEST):
            part, beside = self._encode(coded.ids[low : low + LONGEST], [*before, *coded.ids[:low]], things)
            vectors.append(part)
            known = known or beside
        return Encoded(np.concatenate(vectors), known, coded.offsets, coded.ids)

    def _encode(self, ids: list[int], before: list[int], things: Sequence[list[int]]) -> tuple[Vector, list[Vector]]:
        """The vectors of a part of a note, and one of each thing.

        They go in as `[CLS] thing [SEP] thing [SEP] the notes before [SEP] note [SEP]`.
        """
        row, places = [self.begin], []
        for pieces in things:
            places.append((len(row), len(row) + len(pieces)))
            row += [*pieces, self.part]
        row += [*before[-CONTEXT:], self.part]
        start = len(row)
        row += [*ids, self.part]
        feed = {
            "ids": np.array([row], dtype=np.int64),
            "parts": np.array([[0] * start + [1] * (len(row) - start)], dtype=np.int64),
            "mask": np.ones((1, len(row)), dtype=np.int64),
        }
        vectors = np.asarray(self.session.run(None, feed)[0][0], dtype=np.float32)
        known = [self.span(vectors, low, high) for low, high in places]
        return vectors[start : start + len(ids)], known

    def tags(self, vectors: Vector) -> Vector:
        """Probabilities that each piece lies in a span of each type, and begins one: (P, types, 2)."""
        logits = self._linear("tags", vectors).reshape(len(vectors), len(TYPES), 2)
        return sigmoid(np.stack([self._cooled("tags", logits[..., 0]), logits[..., 1]], axis=-1))

    def mends(self, vectors: Vector) -> float:
        """Probability that a note puts right what an earlier one told; `vectors` (P, width) are those of its pieces."""
        return float(sigmoid(self._head("note", pooled(vectors)))[0]) if len(vectors) else 0.0

    def span(self, vectors: Vector, low: int, high: int) -> Vector:
        """The vector of the pieces [low, high)."""
        joint = np.concatenate([vectors[low], vectors[high - 1], vectors[low:high].mean(0)])
        return gelu(self._linear("span.0", joint))

    def class_of(self, span: Vector, type_: str) -> tuple[str, float]:
        """The likeliest class of a span of that type, and its probability."""
        names = CLASSES[type_]
        if not names:
            return "", 1.0
        start = STARTS[type_]
        odds = softmax(self._cooled("class", self._linear("classes", span)[start : start + len(names)]))
        best = int(odds.argmax())
        return names[best], float(odds[best])

    def roles(self, span: Vector, form: Sequence[float]) -> Vector:
        """Probability of each role of a quantity, given how it looks by itself (`extract.read.words.form_of`)."""
        return softmax(self._cooled("role", self._head("roles", np.concatenate([span, np.array(form, np.float32)]))))

    def standings(self, span: Vector, what: str, held: Sequence[float]) -> Vector:
        """Probability of each standing, given how the value lies to what was told before (`Scene.held`)."""
        joint = np.concatenate([span, self.what(what), np.array(held, np.float32)])
        return sigmoid(self._cooled("standing", self._head("standings", joint)))

    def sides(self, span: Vector) -> Vector:
        return softmax(self._cooled("side", self._linear("sides", span)))

    def sights(self, span: Vector) -> Vector:
        return softmax(self._cooled("sight", self._linear("sights", span)))

    def what(self, what: str) -> Vector:
        return np.asarray(self.w["what.weight"][WHAT.index(what)], np.float32)

    def links(
        self,
        span: Vector,
        what: str,
        relation: str,
        known: Sequence[tuple[Vector | None, Vector | None]],
        rows: Sequence[Sequence[float]],
    ) -> Vector:
        """Probabilities that the span speaks of each known thing, a new one, or none.

        Of each: its vector as it was told and that of its last mention in the note, None where there is none.
        """
        kind, nil = self.what(what), np.zeros_like(span)
        own = self._linear("own", np.concatenate([span, kind]))
        own = own + self.w["relation.weight"][RELATIONS.index(relation)]
        pairs = [np.concatenate([nil if each is None else each for each in pair]) for pair in known]
        others = [self._linear("other", np.array(pairs))] if known else []
        other = np.concatenate([*others, self.w["new"][None], self.w["nothing"][None]])
        features = np.zeros((len(other), self.w["score.0.weight"].shape[1] - 3 * len(own) - len(kind)), np.float32)
        if rows:
            features[: len(rows)] = rows
        mine = np.broadcast_to(own, other.shape)
        joint = np.concatenate([mine, other, mine * other, features, np.broadcast_to(kind, (len(other), len(kind)))], 1)
        return softmax(self._cooled(relation, self._head("score", joint)[:, 0]))

    def _cooled(self, head: str, logits: Vector) -> Vector:
        """The logits by the temperature of their head, which brings what it is sure of nearer to how often it is right:
        fitted on the tuning days, given true spans (Guo and others, 2017)."""
        return logits / self.heats.get(head, 1.0)

    def _linear(self, name: str, x: Vector) -> Vector:
        return np.asarray(x @ self.w[f"{name}.weight"].T + self.w[f"{name}.bias"], np.float32)

    def _head(self, name: str, x: Vector) -> Vector:
        return self._linear(f"{name}.3", gelu(self._linear(f"{name}.0", x)))


@cache
def shipped() -> Model:
    """The weights that are shipped, loaded once."""
    folder = resources.files("extract").joinpath("read", "weights")
    return Model(lambda name: folder.joinpath(name).read_bytes())


def pooled(vectors: Vector) -> Vector:
    """A note as a whole (4 x width): the mean and the highest of its pieces' vectors, its first and its last."""
    return np.concatenate([vectors.mean(0), vectors.max(0), vectors[0], vectors[-1]])


def softmax(x: Vector) -> Vector:
    odds = np.exp(x - x.max(-1, keepdims=True))
    return np.asarray(odds / odds.sum(-1, keepdims=True), np.float32)


def sigmoid(x: Vector) -> Vector:
    return np.asarray(1 / (1 + np.exp(-x)), np.float32)


def gelu(x: Vector) -> Vector:
    """Gaussian error linear unit by its tanh form (Hendrycks and Gimpel, 2016)."""
    return np.asarray(0.5 * x * (1 + np.tanh(math.sqrt(2 / math.pi) * (x + 0.044715 * x * x * x))), np.float32)
