"""Puts taught weights into the form that is shipped: `export.py WEIGHTS TOKENIZER OUT [--whole]`.

WEIGHTS is learn.py's weights.pt. Writes OUT/reader.onnx (int8, or as taught with --whole), heads.npz, tokenizer.json.
"""

from __future__ import annotations

import shutil
import sys
from pathlib import Path

import numpy as np
import torch
from learn import taught


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
        from onnxruntime.quantization import QuantType, quantize_dynamic

        quantize_dynamic(str(whole), str(out / "reader.onnx"), weight_type=QuantType.QInt8, per_channel=True)
        whole.unlink()
    heads = {n: t.numpy() for n, t in model.state_dict().items() if not n.startswith("encoder.")}
    np.savez(out / "heads.npz", **{n: t.astype(np.float16) for n, t in heads.items()})
    shutil.copy(tokenizer, out / "tokenizer.json")


if __name__ == "__main__":
    main()
