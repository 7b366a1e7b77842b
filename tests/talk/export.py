"""Puts taught weights into the form that is shipped: `export.py WEIGHTS TOKENIZER OUT [--whole]`.

WEIGHTS is learn.py's weights.pt. Writes OUT/reader.onnx (int8, or as taught with --whole), heads.npz, tokenizer.json.
"""

from __future__ import annotations

import shutil
import sys
from pathlib import Path

import numpy as np
import torch
from learn import taught, temperatures_of
from network import Encoder


def main() -> None:
    weights, tokenizer, out = Path(sys.argv[1]), Path(sys.argv[2]), Path(sys.argv[3])
    out.mkdir(parents=True, exist_ok=True)
    model = taught(weights).eval()
    ids = torch.ones(1, 20, dtype=torch.long)
    whole = out / "whole.onnx"
    torch.onnx.export(
        model.encoder, (ids, torch.zeros_like(ids), torch.ones_like(ids)), str(whole),
        input_names=["ids", "parts", "mask"], output_names=["vectors"],
        dynamic_axes={name: {1: "length"} for name in ("ids", "parts", "mask", "vectors")}, opset_version=17,
        dynamo=False,
    )  # fmt: skip
    if "--whole" in sys.argv:
        whole.replace(out / "reader.onnx")
    else:
        quantize(whole, out / "reader.onnx", model.encoder)
        whole.unlink()
    heads = {n: t.numpy() for n, t in model.state_dict().items() if not n.startswith("encoder.")}
    heats = {f"temperature.{name}": np.array(heat) for name, heat in temperatures_of(weights).items()}
    np.savez(out / "heads.npz", **{n: t.astype(np.float16) for n, t in (heads | heats).items()})
    shutil.copy(tokenizer, out / "tokenizer.json")


def quantize(whole: Path, out: Path, encoder: Encoder) -> None:
    """The encoder in int8, with the steps put together that ONNX Runtime does in one: a tenth faster."""
    from onnx import TensorProto
    from onnxruntime.quantization import QuantType, quantize_dynamic
    from onnxruntime.transformers.optimizer import optimize_model

    width, heads = encoder.words.embedding_dim, encoder.layers[0].heads
    joined = optimize_model(str(whole), model_type="bert", num_heads=heads, hidden_size=width, opt_level=0)
    joined.save_model_to_file(str(whole))
    float_ = {"DefaultTensorType": TensorProto.FLOAT}
    quantize_dynamic(str(whole), str(out), weight_type=QuantType.QInt8, per_channel=True, extra_options=float_)


if __name__ == "__main__":
    main()
