"""The network that is taught: a pretrained encoder with heads for tags, roles, standings and links.

Shapes: P pieces of a note, T types, S spans of a day, C candidates of a link.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import torch
from torch import Tensor, nn

LINKED = 64
"""Length of the vectors by which spans and things are compared."""


@dataclass(frozen=True)
class Sizes:
    """How many of each the labels have."""

    types: int
    classes: tuple[int, ...]
    roles: int
    standings: int
    sides: int
    sights: int
    relations: int
    features: int


class Layer(nn.Module):
    """One transformer layer as BERT has it (Devlin and others, 2019)."""

    def __init__(self, width: int, heads: int, inner: int) -> None:
        super().__init__()
        self.heads = heads
        self.q, self.k, self.v = (nn.Linear(width, width) for _ in range(3))
        self.out, self.norm = nn.Linear(width, width), nn.LayerNorm(width, eps=1e-12)
        self.up, self.down = nn.Linear(width, inner), nn.Linear(inner, width)
        self.last = nn.LayerNorm(width, eps=1e-12)
        self.drop = nn.Dropout(0.1)

    def forward(self, x: Tensor, mask: Tensor) -> Tensor:
        batch, length, width = x.shape

        def split(y: Tensor) -> Tensor:
            return y.view(batch, length, self.heads, width // self.heads).transpose(1, 2)

        scores = split(self.q(x)) @ split(self.k(x)).transpose(2, 3) / math.sqrt(width // self.heads)
        weights = self.drop(torch.softmax(scores + mask, dim=-1))
        mixed = (weights @ split(self.v(x))).transpose(1, 2).reshape(batch, length, width)
        x = self.norm(x + self.drop(self.out(mixed)))
        return self.last(x + self.drop(self.down(nn.functional.gelu(self.up(x)))))


class Encoder(nn.Module):
    """Piece numbers (B, L), parts (B, L; 0 context, 1 note) and mask (B, L) into vectors (B, L, width)."""

    def __init__(self, vocabulary: int, width: int = 384, heads: int = 12, inner: int = 1536, layers: int = 6) -> None:
        super().__init__()
        self.words, self.places, self.parts = (
            nn.Embedding(vocabulary, width),
            nn.Embedding(512, width),
            nn.Embedding(2, width),
        )
        self.norm, self.drop = nn.LayerNorm(width, eps=1e-12), nn.Dropout(0.1)
        self.layers = nn.ModuleList(Layer(width, heads, inner) for _ in range(layers))

    def forward(self, ids: Tensor, parts: Tensor, mask: Tensor) -> Tensor:
        places = torch.arange(ids.shape[1], device=ids.device)
        x = self.drop(self.norm(self.words(ids) + self.places(places) + self.parts(parts)))
        added = torch.where(mask[:, None, None, :] > 0, 0.0, -1e4).to(x.dtype)
        for layer in self.layers:
            x = layer(x, added)
        return x

    def load(self, tensors: dict[str, Tensor]) -> None:
        """The weights of a BERT as published, by their published names."""
        names = {"words": "word", "places": "position", "parts": "token_type"}
        state = {f"{own}.weight": tensors[f"embeddings.{name}_embeddings.weight"] for own, name in names.items()}
        state |= {f"norm.{part}": tensors[f"embeddings.LayerNorm.{part}"] for part in ("weight", "bias")}
        theirs = {
            "q": "attention.self.query", "k": "attention.self.key", "v": "attention.self.value",
            "out": "attention.output.dense", "norm": "attention.output.LayerNorm", "up": "intermediate.dense",
            "down": "output.dense", "last": "output.LayerNorm",
        }  # fmt: skip
        for i in range(len(self.layers)):
            for own, name in theirs.items():
                for part in ("weight", "bias"):
                    state[f"layers.{i}.{own}.{part}"] = tensors[f"encoder.layer.{i}.{name}.{part}"]
        self.load_state_dict(state)


def head(width: int, out: int, hidden: int = 256) -> nn.Sequential:
    return nn.Sequential(nn.Linear(width, hidden), nn.GELU(approximate="tanh"), nn.Dropout(0.1), nn.Linear(hidden, out))


class Reader(nn.Module):
    """The encoder with its heads. A span's vector is that of its first and last piece and their mean, side by side."""

    def __init__(self, encoder: Encoder, sizes: Sizes, width: int = 384) -> None:
        super().__init__()
        self.encoder, self.sizes = encoder, sizes
        self.tags = nn.Linear(width, sizes.types * 2)
        self.span = nn.Sequential(nn.Linear(3 * width, width), nn.GELU(approximate="tanh"), nn.Dropout(0.1))
        self.what = nn.Embedding(sizes.types + sizes.roles, 32)
        self.classes = nn.Linear(width, sum(sizes.classes))
        self.roles = head(width, sizes.roles)
        self.standings = head(width + 32, sizes.standings)
        self.sides, self.sights = nn.Linear(width, sizes.sides), nn.Linear(width, sizes.sights)
        self.own, self.other = nn.Linear(width + 32, LINKED), nn.Linear(2 * width, LINKED)
        self.relation = nn.Embedding(sizes.relations, LINKED)
        self.new, self.nothing = nn.Parameter(torch.zeros(LINKED)), nn.Parameter(torch.zeros(LINKED))
        self.score = head(3 * LINKED + sizes.features + 32, 1, 128)

    def spans(self, encoded: Tensor, note: Tensor, low: Tensor, high: Tensor) -> Tensor:
        """Vectors (S, width) of the pieces [low, high) of notes, given the encoded notes (N, L, width)."""
        sums = torch.cat([torch.zeros_like(encoded[:, :1]), encoded.float().cumsum(1).to(encoded.dtype)], dim=1)
        mean = (sums[note, high] - sums[note, low]) / (high - low)[:, None]
        return self.span(torch.cat([encoded[note, low], encoded[note, high - 1], mean], dim=1))

    def links(self, spans: Tensor, whats: Tensor, problem: dict[str, Tensor]) -> Tensor:
        """Scores of all candidates of all links of a day, one after the other (C,).

        `problem` has, for each candidate: span, relation, first and last (spans of its mentions; -1 something new,
        -2 nothing) and rows of features.
        """
        what = self.what(whats)
        own = self.own(torch.cat([spans, what], dim=1))[problem["span"]]
        first, last = problem["first"], problem["last"]
        known = self.other(torch.cat([spans[first.clamp(min=0)], spans[last.clamp(min=0)]], dim=1))
        known = torch.where((first == -1)[:, None], self.new.expand_as(known), known)
        known = torch.where((first == -2)[:, None], self.nothing.expand_as(known), known)
        own = own + self.relation(problem["relation"])
        joint = torch.cat([own, known, own * known, problem["rows"], what[problem["span"]]], dim=1)
        return self.score(joint)[:, 0]


def tensors_of(example: Any, device: torch.device, ids: tuple[int, int, int, int]) -> dict[str, Any]:
    """A day's numbers as tensors. `ids`: the pieces that pad, begin, part and hide."""
    pad, begin, part, hide = ids
    rows, parts, offsets = [], [], []
    for note in example.notes:
        row = [begin, *note["context"], part, *note["ids"], part]
        offsets.append(len(note["context"]) + 2)
        rows.append(row)
        parts.append([0] * offsets[-1] + [1] * (len(row) - offsets[-1]))
    length = max(map(len, rows))
    out: dict[str, Any] = {
        "ids": torch.tensor([row + [pad] * (length - len(row)) for row in rows]),
        "parts": torch.tensor([row + [0] * (length - len(row)) for row in parts]),
        "mask": torch.tensor([[1] * len(row) + [0] * (length - len(row)) for row in rows]),
    }
    types = example.notes[0]["tags"].shape[1]
    tags = torch.full((len(rows), length, types), -1, dtype=torch.long)
    spans: dict[str, list[Any]] = {
        name: [] for name in ("note", "low", "high", "what", "role", "class", "flags", "side", "sight")
    }
    index: dict[tuple[int, int], int] = {}
    for i, note in enumerate(example.notes):
        tags[i, offsets[i] : offsets[i] + len(note["ids"])] = torch.from_numpy(note["tags"]).long()
        for j, span in enumerate(note["spans"]):
            index[i, j] = len(spans["note"])
            low, high = span["range"]
            for name, value in (("note", i), ("low", low + offsets[i]), ("high", high + offsets[i])):
                spans[name].append(value)
            for name in ("what", "role", "class", "flags", "side", "sight"):
                spans[name].append(span[name])
    out["tags"] = tags
    out |= {name: torch.tensor(values) for name, values in spans.items()}
    cands: dict[str, list[Any]] = {name: [] for name in ("span", "relation", "first", "last", "group", "hit")}
    features: list[Tensor] = []
    for group, problem in enumerate(example.problems):
        count = len(problem["first"])
        own = index[problem["note"], problem["span"]]
        cands["span"] += [own] * (count + 2)
        cands["relation"] += [problem["relation"]] * (count + 2)
        cands["first"] += [index[tuple(place)] for place in problem["first"]] + [-1, -2]
        cands["last"] += [index[tuple(place)] for place in problem["last"]] + [-1, -2]
        cands["group"] += [group] * (count + 2)
        cands["hit"] += [i in problem["targets"] for i in range(count + 2)]
        features += [torch.from_numpy(problem["rows"]), torch.zeros(2, problem["rows"].shape[1])]
    out["links"] = {name: torch.tensor(values) for name, values in cands.items()}
    out["links"]["rows"] = torch.cat(features) if features else torch.zeros(0, 1)
    out["groups"] = len(example.problems)
    out["hide"] = hide

    def to(value: Any) -> Any:
        return value.to(device) if isinstance(value, Tensor) else value

    out["links"] = {name: to(value) for name, value in out["links"].items()}
    return {name: to(value) for name, value in out.items()}


def group_log_softmax(scores: Tensor, group: Tensor, groups: int) -> Tensor:
    """Log softmax within each group of candidates."""
    top = torch.full((groups,), -1e9, device=scores.device, dtype=scores.dtype).scatter_reduce(0, group, scores, "amax")
    shifted = scores - top[group]
    total = torch.zeros(groups, device=scores.device, dtype=scores.dtype).index_add(0, group, shifted.exp())
    return shifted - total.log()[group]
