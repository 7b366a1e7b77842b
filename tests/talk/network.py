"""The network that is taught: a pretrained encoder with heads for tags, roles, standings and links.

Shapes: P pieces of a note, T types, S spans of a day, C candidates of a link.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import torch
from torch import Tensor, nn

LINKED = 128
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
    form: int
    held: int


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

        q, k, v = split(self.q(x)), split(self.k(x)), split(self.v(x))
        if self.training:
            mixed = nn.functional.scaled_dot_product_attention(q, k, v, mask.to(q.dtype), dropout_p=0.1)
        else:  # the same in the plain form that can be exported
            mixed = torch.softmax(q @ k.transpose(2, 3) / math.sqrt(width // self.heads) + mask, dim=-1) @ v
        mixed = mixed.transpose(1, 2).reshape(batch, length, width)
        x = self.norm(x + self.drop(self.out(mixed)))
        return self.last(x + self.drop(self.down(nn.functional.gelu(self.up(x)))))


DISTANCES = 32
"""Buckets of how far two pieces lie apart."""


def distances(places: Tensor) -> Tensor:
    """The bucket of the way from each piece to each other (L, L): to 7 pieces exactly, farther ones by logarithm."""
    way = places[:, None] - places[None, :]
    half, near = DISTANCES // 2, DISTANCES // 4
    far = near + (way.abs().clamp(min=1) / near).log() / math.log(128 / near) * (half - near)
    return (way < 0) * half + torch.where(way.abs() < near, way.abs(), far.long().clamp(max=half - 1))


class Encoder(nn.Module):
    """Piece numbers (B, L), parts (B, L; 0 context, 1 note) and mask (B, L) into vectors (B, L, width).

    With `apart` attention also knows how far two pieces lie apart (as MPNet has it; Song and others, 2020).
    """

    def __init__(self, vocabulary: int, width: int = 384, layers: int = 6, apart: bool = False) -> None:
        super().__init__()
        heads, inner = 12, 4 * width
        self.words, self.places, self.parts = (
            nn.Embedding(vocabulary, width),
            nn.Embedding(512, width),
            nn.Embedding(2, width),
        )
        self.norm, self.drop = nn.LayerNorm(width, eps=1e-12), nn.Dropout(0.1)
        self.layers = nn.ModuleList(Layer(width, heads, inner) for _ in range(layers))
        self.apart = nn.Embedding(DISTANCES, heads) if apart else None

    def forward(self, ids: Tensor, parts: Tensor, mask: Tensor) -> Tensor:
        places = torch.arange(ids.shape[1], device=ids.device)
        x = self.drop(self.norm(self.words(ids) + self.places(places) + self.parts(parts)))
        added = torch.where(mask[:, None, None, :] > 0, 0.0, -1e4).to(x.dtype)
        if self.apart is not None:
            added = added + self.apart(distances(places)).permute(2, 0, 1)[None].to(x.dtype)
        for layer in self.layers:
            x = layer(x, added)
        return x


def shape_of(tensors: dict[str, Tensor]) -> tuple[int, int, bool]:
    """Width, layers and whether distances are learned, of an encoder's weights by their own names."""
    layers = {name.split(".")[1] for name in tensors if name.startswith("layers.")}
    return tensors["words.weight"].shape[1], len(layers), "apart.weight" in tensors


def head(width: int, out: int, hidden: int = 256) -> nn.Sequential:
    return nn.Sequential(nn.Linear(width, hidden), nn.GELU(approximate="tanh"), nn.Dropout(0.1), nn.Linear(hidden, out))


class Reader(nn.Module):
    """The encoder with its heads. A span's vector is that of its first and last piece and their mean, side by side."""

    def __init__(self, encoder: Encoder, sizes: Sizes) -> None:
        super().__init__()
        self.encoder, self.sizes = encoder, sizes
        width = encoder.words.embedding_dim
        self.tags = nn.Linear(width, sizes.types * 2)
        self.span = nn.Sequential(nn.Linear(3 * width, width), nn.GELU(approximate="tanh"), nn.Dropout(0.1))
        self.what = nn.Embedding(sizes.types + sizes.roles, 32)
        self.classes = nn.Linear(width, sum(sizes.classes))
        self.roles = head(width + sizes.form, sizes.roles)
        self.standings = head(width + 32 + sizes.held, sizes.standings)
        self.sides, self.sights = nn.Linear(width, sizes.sides), nn.Linear(width, sizes.sights)
        self.own, self.other = nn.Linear(width + 32, LINKED), nn.Linear(2 * width, LINKED)
        self.relation = nn.Embedding(sizes.relations, LINKED)
        self.new, self.nothing = nn.Parameter(torch.zeros(LINKED)), nn.Parameter(torch.zeros(LINKED))
        starts = torch.tensor(sizes.classes).cumsum(0) - torch.tensor(sizes.classes)
        self.register_buffer("starts", starts, persistent=False)
        self.register_buffer("counts", torch.tensor(sizes.classes), persistent=False)
        self.score = head(3 * LINKED + sizes.features + 32, 1, 256)

    def spans(self, encoded: Tensor, note: Tensor, low: Tensor, high: Tensor) -> Tensor:
        """Vectors (S, width) of the pieces [low, high) of notes, given the encoded notes (N, L, width)."""
        sums = torch.cat([torch.zeros_like(encoded[:, :1]), encoded.float().cumsum(1).to(encoded.dtype)], dim=1)
        mean = (sums[note, high] - sums[note, low]) / (high - low)[:, None].to(encoded.dtype)
        return self.span(torch.cat([encoded[note, low], encoded[note, high - 1], mean], dim=1))

    def things(self, encoded: Tensor, told: dict[str, Tensor]) -> Tensor:
        """Vectors (K, width) of the things told; one of zeros where there is none."""
        if not len(told["note"]):
            return torch.zeros(1, encoded.shape[2], device=encoded.device, dtype=encoded.dtype)
        return self.spans(encoded, told["note"], told["low"], told["high"])

    def links(self, spans: Tensor, told: Tensor, whats: Tensor, problem: dict[str, Tensor]) -> Tensor:
        """Scores of all candidates of all links of a batch, one after the other (C,).

        `told` (K, width) are the things told beside the notes. `problem` has, for each candidate: span, relation, slot
        (in `told`) and here (a span of the same note that names it), each -1 where there is none, new (1 something
        new, 2 nothing) and rows of features.
        """
        what = self.what(whats)
        own = self.own(torch.cat([spans, what], dim=1))[problem["span"]]
        slot, here = problem["slot"], problem["here"]
        before = torch.where((slot >= 0)[:, None], told[slot.clamp(min=0)], torch.zeros_like(told[:1]))
        now = torch.where((here >= 0)[:, None], spans[here.clamp(min=0)], torch.zeros_like(spans[:1]))
        known = self.other(torch.cat([before, now], dim=1))
        known = torch.where((problem["new"] == 1)[:, None], self.new.expand_as(known), known)
        known = torch.where((problem["new"] == 2)[:, None], self.nothing.expand_as(known), known)
        own = own + self.relation(problem["relation"])
        joint = torch.cat([own, known, own * known, problem["rows"], what[problem["span"]]], dim=1)
        return self.score(joint)[:, 0]


def row_of(note: dict[str, Any], begin: int, part: int) -> tuple[list[int], int, list[tuple[int, int]]]:
    """The pieces that go in with a note, where the note itself begins, and the places of the things told.

    As `[CLS] thing [SEP] thing [SEP] the notes before [SEP] note [SEP]`.
    """
    row, places = [begin], []
    for each in note["told"]:
        places.append((len(row), len(row) + len(each)))
        row += [*each, part]
    row += [*note["context"], part]
    return [*row, *note["ids"], part], len(row), places


SPAN_ROWS = ("form", "held", "what", "role", "class", "flags", "side", "sight")


def batch_of(notes: list[dict[str, Any]], marks: tuple[int, int, int, int]) -> dict[str, Any]:
    """Notes as tensors. `marks`: the pieces that pad, begin, part and hide."""
    pad, begin, part, hide = marks
    laid = [row_of(note, begin, part) for note in notes]
    length = max(len(row) for row, _, _ in laid)
    out: dict[str, Any] = {
        "ids": torch.tensor([row + [pad] * (length - len(row)) for row, _, _ in laid]),
        "parts": torch.tensor([[0] * at + [1] * (len(row) - at) + [0] * (length - len(row)) for row, at, _ in laid]),
        "mask": torch.tensor([[1] * len(row) + [0] * (length - len(row)) for row, _, _ in laid]),
        "hide": hide,
    }
    tags = torch.full((len(notes), length, notes[0]["tags"].shape[1]), -1, dtype=torch.long)
    spans: dict[str, list[Any]] = {name: [] for name in ("note", "low", "high", *SPAN_ROWS)}
    told: dict[str, list[int]] = {name: [] for name in ("note", "low", "high")}
    cands: dict[str, list[Any]] = {name: [] for name in ("span", "relation", "slot", "here", "new", "group", "hit")}
    features: list[Tensor] = []
    groups = 0
    for i, (note, (_, at, places)) in enumerate(zip(notes, laid, strict=True)):
        tags[i, at : at + len(note["ids"])] = torch.from_numpy(note["tags"]).long()
        first, slot = len(spans["note"]), len(told["note"])
        for low, high in places:
            told["note"].append(i)
            told["low"].append(low)
            told["high"].append(high)
        for span in note["spans"]:
            low, high = span["range"]
            for name, value in (("note", i), ("low", low + at), ("high", high + at)):
                spans[name].append(value)
            for name in SPAN_ROWS:
                spans[name].append(span[name])
        for problem in note["problems"]:
            count = len(problem["slots"])
            cands["span"] += [first + problem["span"]] * (count + 2)
            cands["relation"] += [problem["relation"]] * (count + 2)
            cands["slot"] += [slot + each if each >= 0 else -1 for each in problem["slots"]] + [-1, -1]
            cands["here"] += [first + each if each >= 0 else -1 for each in problem["here"]] + [-1, -1]
            cands["new"] += [0] * count + [1, 2]
            cands["group"] += [groups] * (count + 2)
            cands["hit"] += [k in problem["targets"] for k in range(count + 2)]
            rows = torch.from_numpy(problem["rows"]).float()
            features += [rows, torch.zeros(2, rows.shape[1])]
            groups += 1
    out["tags"] = tags
    out["tagged"] = int((tags >= 0).sum()) * 2
    out["where"] = {
        name: torch.tensor([i for i, value in enumerate(spans[name]) if value >= 0], dtype=torch.long)
        for name in ("class", "role", "side")
    }
    out |= {name: torch.tensor(values) for name, values in spans.items()}
    out["told"] = {name: torch.tensor(values, dtype=torch.long) for name, values in told.items()}
    out["links"] = {name: torch.tensor(values) for name, values in cands.items()}
    out["links"]["rows"] = torch.cat(features) if features else torch.zeros(0, 1)
    out["groups"] = groups
    return out


def moved(batch: Any, device: torch.device) -> Any:
    """The batch on a device."""
    if isinstance(batch, dict):
        return {name: moved(value, device) for name, value in batch.items()}
    if isinstance(batch, list):
        return [moved(value, device) for value in batch]
    return batch.to(device, non_blocking=True) if isinstance(batch, Tensor) else batch


def group_log_softmax(scores: Tensor, group: Tensor, groups: int) -> Tensor:
    """Log softmax within each group of candidates."""
    top = torch.full((groups,), -1e9, device=scores.device, dtype=scores.dtype).scatter_reduce(0, group, scores, "amax")
    shifted = scores - top[group]
    total = torch.zeros(groups, device=scores.device, dtype=scores.dtype).index_add(0, group, shifted.exp())
    return shifted - total.log()[group]
