"""Keeps the pieces of words that talk is made of: `prune.py ENCODER OUT`.

ENCODER is a folder with a published BERT's model.safetensors and tokenizer.json; its vocabulary is in the order of how
often a piece occurs. Kept are the common ones and all that the corpus holds, so that a strange word still comes apart
into known pieces. OUT gets the smaller two files, the weights in 16 bits.
"""

from __future__ import annotations

import json
import sys
from pathlib import Path

from safetensors.torch import load_file, save_file
from tokenizers import Tokenizer
from torch import Tensor

COMMON = 15_000


BERT = {
    "q": "attention.self.query", "k": "attention.self.key", "v": "attention.self.value",
    "out": "attention.output.dense", "norm": "attention.output.LayerNorm", "up": "intermediate.dense",
    "down": "output.dense", "last": "output.LayerNorm",
}  # fmt: skip
"""The published names of the parts of a layer, by those of network.py."""


def own_names(tensors: dict[str, Tensor]) -> dict[str, Tensor]:
    """The weights of a BERT as published, by the names of network.py."""
    tensors = {name.removeprefix("bert."): tensor for name, tensor in tensors.items()}
    outer = {"words": "word_embeddings", "places": "position_embeddings", "parts": "token_type_embeddings"}
    state = {f"{own}.weight": tensors[f"embeddings.{name}.weight"] for own, name in outer.items()}
    both = ("weight", "bias")
    state |= {f"norm.{part}": tensors[f"embeddings.LayerNorm.{part}"] for part in both}
    layers = sum(name.endswith("intermediate.dense.bias") for name in tensors)
    for i in range(layers):
        for own, name in BERT.items():
            state |= {f"layers.{i}.{own}.{part}": tensors[f"encoder.layer.{i}.{name}.{part}"] for part in both}
    return state


def main() -> None:
    source, out = Path(sys.argv[1]), Path(sys.argv[2])
    out.mkdir(parents=True, exist_ok=True)
    tokenizer = Tokenizer.from_file(str(source / "tokenizer.json"))
    seen: set[int] = set()
    for path in sorted((Path(__file__).parent / "days").glob("*.txt")):
        seen.update(tokenizer.encode(path.read_text(encoding="utf-8"), add_special_tokens=False).ids)
    shape = json.loads((source / "tokenizer.json").read_text(encoding="utf-8"))
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
    (out / "tokenizer.json").write_text(json.dumps(shape, ensure_ascii=False), encoding="utf-8")
    tensors = own_names(load_file(source / "model.safetensors"))
    tensors["words.weight"] = tensors["words.weight"][[number for _, number in kept]]
    save_file({name: tensor.half().contiguous() for name, tensor in tensors.items()}, out / "model.safetensors")
    print(f"{len(kept)} of {len(vocabulary)} pieces kept")


if __name__ == "__main__":
    main()
