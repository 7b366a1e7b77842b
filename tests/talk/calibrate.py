"""How certain each head may be: one temperature a head, by which its logits are divided (Guo and others, 2017).

Fitted on the tuning days, given the true spans and the true things before, as what makes the marks likeliest.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import torch
from network import Reader, group_log_softmax
from torch import Tensor, nn

GRID = [round(0.3 * 1.05**step, 4) for step in range(50)]
"""Temperatures tried, 0.3 to 3.3."""
HEADS = ("tags", "class", "role", "standing", "side", "sight", "main", "at", "from_of", "to_of")
"""What has a temperature of its own: each relation of a link has one."""


@torch.no_grad()
def temperatures(
    model: Reader, days: list[dict[str, Any]], answers: Callable[..., dict[str, Tensor]]
) -> dict[str, float]:
    """The temperature of each head; `days` are batches of learn.py, `answers` its function of that name."""
    model.eval()
    totals = {name: torch.zeros(len(GRID)) for name in HEADS}
    for day in days:
        said = answers(model, day, day["ids"])
        for place, heat in enumerate(GRID):
            for name, loss in _losses(said, day, heat).items():
                totals[name][place] += loss.cpu()
    model.train()
    return {name: GRID[int(total.argmin())] if float(total.max()) else 1.0 for name, total in totals.items()}


def _losses(said: dict[str, Tensor], day: dict[str, Any], heat: float) -> dict[str, Tensor]:
    """The summed loss of each head at one temperature."""
    inside = (day["tags"] > 0).float()
    known = (day["tags"] >= 0).float()
    each = nn.functional.binary_cross_entropy_with_logits(said["tags"][..., 0] / heat, inside, reduction="none")
    out = {"tags": (each * known).sum()}
    if "standing" not in said:
        return out
    for name in ("class", "role", "side", "sight"):
        true = day[name][day["where"]["side" if name == "sight" else name]]
        if len(true):
            out[name] = nn.functional.cross_entropy(said[name] / heat, true, reduction="sum")
    flags = day["flags"].to(said["standing"])
    out["standing"] = nn.functional.binary_cross_entropy_with_logits(said["standing"] / heat, flags, reduction="sum")
    if "link" in said:
        out |= _of_links(said["link"], day, heat)
    return out


def _of_links(log: Tensor, day: dict[str, Any], heat: float) -> dict[str, Tensor]:
    links, groups = day["links"], day["groups"]
    odds = group_log_softmax(log / heat, links["group"], groups).exp()
    right = torch.zeros(groups, device=log.device).index_add(0, links["group"], odds * links["hit"])
    relation = torch.zeros(groups, dtype=torch.long, device=log.device)
    relation[links["group"]] = links["relation"]
    loss = -right.clamp(min=1e-9).log()
    return {name: loss[relation == place].sum() for place, name in enumerate(HEADS[-4:])}
