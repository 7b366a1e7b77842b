"""The mean of the weights of models that were taught on from the same one: `mean.py EXAMPLES OUT WEIGHTS...`.

WEIGHTS are learn.py's weights.pt. Writes OUT, with the temperature of each head fitted anew on the tuning days.
"""

from __future__ import annotations

import gzip
import pickle
import sys
from pathlib import Path

import torch
from calibrate import temperatures
from learn import answers, batches, taught

TOGETHER = 64
"""Notes in a batch."""


def main() -> None:
    examples, out, *each = map(Path, sys.argv[1:])
    held = [torch.load(path, map_location="cpu", weights_only=True) for path in each]
    state = {name: sum(one["state"][name].float() for one in held) / len(held) for name in held[0]["state"]}
    halves = {name: tensor.half() for name, tensor in state.items()}
    torch.save({**held[0], "state": halves}, out)
    with gzip.open(examples) as file:
        data = pickle.load(file)
    tune = batches([note for day in data["tune"] for note in day["notes"]], tuple(data["marks"]), TOGETHER)
    heats = temperatures(taught(out).eval(), tune, answers)
    torch.save({**held[0], "state": halves, "temperatures": heats}, out)


if __name__ == "__main__":
    main()
