"""Keeps the pieces of words that talk is made of: `prune.py ENCODER OUT [--like TOKENIZER]`.

ENCODER is a folder with a published BERT's or MPNet's model.safetensors and tokenizer.json; its vocabulary is in the
order of how often a piece occurs. Kept are the common ones and all that the corpus holds, so that a strange word still
comes apart into known pieces, or with --like those of a tokenizer that was made so. OUT gets the smaller two files, the
weights in 16 bits.
"""

from __future__ import annotations

import json
import sys
from pathlib import Path
from typing import Any

from safetensors.torch import load_file, save_file
from tokenizers import Tokenizer
from torch import Tensor, zeros

COMMON = 15_000


BERT = {
    "q": "attention.self.query", "k": "attention.self.key", "v": "attention.self.value",
    "out": "attention.output.dense", "norm": "attention.output.LayerNorm", "up": "intermediate.dense",
    "down": "output.dense", "last": "output.LayerNorm",
}  # fmt: skip
"""The published names of the parts of a layer, by those of network.py."""
MPNET = BERT | {
    "q": "attention.attn.q", "k": "attention.attn.k", "v": "attention.attn.v", "out": "attention.attn.o",
    "norm": "attention.LayerNorm",
}  # fmt: skip
MARKS = {"[CLS]": "<s>", "[SEP]": "</s>", "[PAD]": "<pad>", "[MASK]": "<mask>"}
"""What MPNet calls the marks of BERT."""
PLACES = 512
FIRST_PLACE = 2
"""Of MPNet's places."""


def own_names(tensors: dict[str, Tensor]) -> dict[str, Tensor]:
    """The weights of a BERT or MPNet as published, by the names of network.py."""
    tensors = {name.removeprefix("bert.").removeprefix("mpnet."): tensor for name, tensor in tensors.items()}
    words, places = (tensors[f"embeddings.{name}_embeddings.weight"] for name in ("word", "position"))
    state, names, both = {"words.weight": words}, BERT, ("weight", "bias")
    apart = tensors.get("encoder.relative_attention_bias.weight")
    if apart is None:
        state |= {"places.weight": places, "parts.weight": tensors["embeddings.token_type_embeddings.weight"]}
    else:
        names, state["places.weight"] = MPNET, places[FIRST_PLACE : FIRST_PLACE + PLACES]
        state |= {"parts.weight": zeros(2, words.shape[1]), "apart.weight": apart}
    state |= {f"norm.{part}": tensors[f"embeddings.LayerNorm.{part}"] for part in both}
    layers = sum(name.endswith("intermediate.dense.bias") for name in tensors)
    for i in range(layers):
        for own, name in names.items():
            state |= {f"layers.{i}.{own}.{part}": tensors[f"encoder.layer.{i}.{name}.{part}"] for part in both}
    return state


def main() -> None:
    source, out = Path(sys.argv[1]), Path(sys.argv[2])
    out.mkdir(parents=True, exist_ok=True)
    shape = json.loads((source / "tokenizer.json").read_text(encoding="utf-8"))
    vocabulary: dict[str, int] = shape["model"]["vocab"]
    if "--like" in sys.argv:
        like = Path(sys.argv[sys.argv.index("--like") + 1]).read_text(encoding="utf-8")
        pieces = json.loads(like)["model"]["vocab"]
        rows = [vocabulary[MARKS.get(word, word)] for word in sorted(pieces, key=pieces.get)]
        (out / "tokenizer.json").write_text(like, encoding="utf-8")
    else:
        rows = common(source, shape)
        (out / "tokenizer.json").write_text(json.dumps(shape, ensure_ascii=False), encoding="utf-8")
    tensors = own_names(load_file(source / "model.safetensors"))
    tensors["words.weight"] = tensors["words.weight"][rows]
    save_file({name: tensor.half().contiguous() for name, tensor in tensors.items()}, out / "model.safetensors")
    print(f"{len(rows)} of {len(vocabulary)} pieces kept")


def common(source: Path, shape: dict[str, Any]) -> list[int]:
    """The numbers of the pieces to keep; `shape`, the tokenizer's own form, is left with those alone."""
    tokenizer = Tokenizer.from_file(str(source / "tokenizer.json"))
    seen: set[int] = set()
    for path in sorted((Path(__file__).parent / "days").glob("*.txt")):
        seen.update(tokenizer.encode(path.read_text(encoding="utf-8"), add_special_tokens=False).ids)
    vocabulary: dict[str, int] = shape["model"]["vocab"]
    special = {each["id"] for each in shape["added_tokens"]}
    kept = [
        (word, number)
        for word, number in sorted(vocabulary.items(), key=lambda row: row[1])
        if number in seen
        or number in special
        or (number < COMMON and "unused" not in word)
        or len(word.removeprefix("##")) == 1
    ]
    shape["model"]["vocab"] = {word: i for i, (word, _) in enumerate(kept)}
    for each in shape["added_tokens"]:
        each["id"] = shape["model"]["vocab"][each["content"]]
    tokens = shape.get("post_processor", {}).get("special_tokens", {})
    for each in tokens.values():
        each["ids"] = [shape["model"]["vocab"][name] for name in each["tokens"]]
    return [number for _, number in kept]


if __name__ == "__main__":
    main()
