"""Averages the weights of models that were taught from one start in several orders: `blend.py EXAMPLES OUT WEIGHTS...`

One model that often reads better than each of them (Wortsman and others, 2022, "Model soups").
"""

from __future__ import annotations

import gzip
import json
import pickle
import sys
from pathlib import Path

import torch
from learn import batches, judge, save
from network import Encoder, Reader, Sizes, moved


def main() -> None:
    examples, out, *paths = map(Path, sys.argv[1:])
    with gzip.open(examples) as file:
        data = pickle.load(file)
    device = torch.device("cuda" if torch.cuda.is_available() else "cpu")
    states = [torch.load(path, map_location="cpu")["state"] for path in paths]
    mean = {
        name: sum(state[name].float() for state in states) / len(states) if value.is_floating_point() else value
        for name, value in states[0].items()
    }
    model = Reader(Encoder(data["vocabulary"]), Sizes(**data["sizes"])).to(device)
    model.load_state_dict(mean)
    tune = [note for day in data["tune"] for note in day["notes"]]
    figures = judge(model, moved(batches(tune, tuple(data["marks"]), 128), device))
    print(json.dumps(figures))
    save(model, data, [figures], out)


if __name__ == "__main__":
    main()
