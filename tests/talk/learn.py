"""Teaches the learned reader from examples: `learn.py EXAMPLES ENCODER OUT [--epochs N] [--share F] [--seed N]`.

EXAMPLES is what examples.py wrote, ENCODER a folder with a published BERT's `model.safetensors`. Writes OUT/weights.pt
and OUT/figures.json. One processor or one accelerator; the seed is fixed.
"""

from __future__ import annotations

import argparse
import gzip
import json
import pickle
import random
import time
from collections import Counter, defaultdict
from pathlib import Path
from typing import Any

import torch
from calibrate import temperatures
from network import Encoder, Reader, Sizes, batch_of, group_log_softmax, moved, shape_of
from safetensors.torch import load_file
from torch import Tensor, nn

WEIGHTS = {"tags": 3.0, "class": 1.0, "role": 1.0, "standing": 1.0, "side": 0.3, "sight": 0.3, "link": 1.0}
"""What the loss of each head counts for."""
IN_SPAN = 1.5
"""The weight of a piece that lies in a span, beside one that does not."""
SMOOTHED = 0.05
"""The share of certainty that is spread over all roles while it learns (label smoothing, Szegedy and others, 2016)."""


def blurred(day: dict[str, Any], share: float, mask: int) -> Tensor:
    """The day's pieces with a share of them hidden, and the notes before hidden whole now and then."""
    hide = torch.rand(day["ids"].shape, device=day["ids"].device) < share
    alone = torch.rand(len(day["ids"]), 1, device=day["ids"].device) < share
    hide |= alone & (day["parts"] == 0)
    return torch.where(hide & (day["ids"] > mask), mask, day["ids"])


def answers(model: Reader, day: dict[str, Any], ids: Tensor) -> dict[str, Tensor]:
    """The logits of each head over one batch; of links a log softmax over each group."""
    with torch.autocast(ids.device.type, torch.bfloat16, enabled=ids.is_cuda):
        encoded = model.encoder(ids, day["parts"], day["mask"]).float()
    out = {"tags": model.tags(encoded).view(*encoded.shape[:2], model.sizes.types, 2)}
    if not len(day["note"]):
        return out
    spans, where = model.spans(encoded, day["note"], day["low"], day["high"]), day["where"]
    out["class"] = class_logits(model, spans[where["class"]], day["what"][where["class"]])
    out["role"] = model.roles(with_form(spans, day)[where["role"]])
    out["standing"] = model.standings(torch.cat([spans, model.what(day["what"]), day["held"]], dim=1))
    out["side"], out["sight"] = model.sides(spans[where["side"]]), model.sights(spans[where["side"]])
    if day["groups"]:
        scores = model.links(spans, model.things(encoded, day["told"]), day["what"], day["links"])
        out["link"] = group_log_softmax(scores, day["links"]["group"], day["groups"])
    return out


def losses(said: dict[str, Tensor], day: dict[str, Any]) -> dict[str, Tensor]:
    """The loss of each head over one batch, beside the marks."""
    wanted = torch.stack([day["tags"] > 0, day["tags"] == 1], dim=-1).to(said["tags"])
    each = nn.functional.binary_cross_entropy_with_logits(said["tags"], wanted, reduction="none")
    weight = (1 + (IN_SPAN - 1) * wanted) * (day["tags"] >= 0)[..., None]
    out = {"tags": 20 * (each * weight).sum() / day["tagged"]}
    if "standing" not in said:
        return out
    where = day["where"]
    for name, smoothed in (("class", 0.0), ("role", SMOOTHED), ("side", 0.0), ("sight", 0.0)):
        true = day[name][where["side" if name == "sight" else name]]
        if len(true):
            out[name] = nn.functional.cross_entropy(said[name], true, label_smoothing=smoothed)
    flags = day["flags"].to(said["standing"])
    out["standing"] = 8 * nn.functional.binary_cross_entropy_with_logits(said["standing"], flags)
    if "link" in said:
        log = said["link"]
        hit = torch.where(day["links"]["hit"], log, torch.full_like(log, -1e9))
        best = torch.full((day["groups"],), -1e9, device=log.device).scatter_reduce(
            0, day["links"]["group"], hit, "amax"
        )
        out["link"] = -best.mean()
    return out


def likeness(said: dict[str, Tensor], told: dict[str, Tensor], day: dict[str, Any]) -> dict[str, Tensor]:
    """The loss of each head over one batch, beside what a larger model says of it (Hinton and others, 2015)."""
    known = (day["tags"] >= 0)[..., None]
    each = nn.functional.binary_cross_entropy_with_logits(said["tags"], told["tags"].sigmoid(), reduction="none")
    out = {"tags": 20 * (each * known).sum() / day["tagged"]}
    if "standing" not in said:
        return out
    for name in ("class", "role", "side", "sight"):
        if len(said[name]):
            out[name] = nn.functional.cross_entropy(said[name], told[name].softmax(1))
    wanted = told["standing"].sigmoid()
    out["standing"] = 8 * nn.functional.binary_cross_entropy_with_logits(said["standing"], wanted)
    if "link" in said:
        out["link"] = -(told["link"].exp() * said["link"]).sum() / day["groups"]
    return out


def with_form(spans: Tensor, day: dict[str, Any]) -> Tensor:
    """The vectors of spans with what quantities look like by themselves."""
    return torch.cat([spans, day["form"].to(spans.dtype)], dim=1)


def class_logits(model: Reader, spans: Tensor, whats: Tensor) -> Tensor:
    """Logits of the classes of each span's own type, the rest far below; (S, most classes)."""
    sizes = model.sizes.classes
    starts, counts = model.starts, model.counts
    place = torch.arange(max(sizes), device=spans.device)
    column = (starts[whats][:, None] + place).clamp(max=sum(sizes) - 1)
    logits = model.classes(spans).float().gather(1, column)
    return torch.where(place < counts[whats][:, None], logits, torch.full_like(logits, -1e9))


@torch.no_grad()
def judge(model: Reader, days: list[dict[str, Any]]) -> dict[str, float]:
    """How often each head is right, given the true spans and the true things before; tags as span F1."""
    model.eval()
    right: Counter[str] = Counter()
    for day in days:
        said = answers(model, day, day["ids"])
        odds = said["tags"] > 0
        guess = spans_of(
            torch.where(day["tags"] >= 0, odds[..., 0].long() + (odds[..., 0] & odds[..., 1]).long(), 0) % 3, 2
        )
        hit, gold = overlapping(spans_of(day["tags"], 1), guess)
        right.update(tag_hit=hit, tag_gold=gold, tag_guess=len(guess))
        if "standing" not in said:
            continue
        for name in ("class", "role", "side"):
            true = day[name][day["where"][name]]
            right.update({f"{name}_hit": int((said[name].argmax(1) == true).sum()), f"{name}_all": len(true)})
        flags, wanted = said["standing"] > 0, day["flags"] > 0.5
        right.update(flag_hit=int((flags & wanted).sum()), flag_guess=int(flags.sum()), flag_gold=int(wanted.sum()))
        if day["groups"]:
            links, log = day["links"], said["link"]
            top = torch.full((day["groups"],), -1e9, device=log.device).scatter_reduce(0, links["group"], log, "amax")
            won = (log >= top[links["group"]]) & links["hit"]
            hit = torch.zeros(day["groups"], device=log.device).index_add(0, links["group"], won.float()) > 0
            names = ["main", "at", "from", "to"]
            relation = torch.zeros(day["groups"], dtype=torch.long, device=log.device)
            relation[links["group"]] = links["relation"]
            for k, name in enumerate(names):
                these = relation == k
                right.update({f"{name}_hit": int(hit[these].sum()), f"{name}_all": int(these.sum())})
    model.train()

    def f1(hit: str, a: str, b: str) -> float:
        return 2 * right[hit] / max(1, right[a] + right[b])

    out = {"tags_f1": f1("tag_hit", "tag_gold", "tag_guess"), "standing_f1": f1("flag_hit", "flag_gold", "flag_guess")}
    for name in ("class", "role", "side", "main", "at", "from", "to"):
        out[name] = right[f"{name}_hit"] / max(1, right[f"{name}_all"])
    return {name: round(value, 4) for name, value in out.items()}


def spans_of(tags: Tensor, begin: int) -> set[tuple[int, int, int, int]]:
    """(note, type, first piece, piece behind the last) of spans; tags (N, L, T) are 0 outside, `begin`, or inside."""
    out = set()
    rows = tags.tolist()
    for note, piece, kind in (tags > 0).nonzero().tolist():
        row = rows[note]
        if row[piece][kind] != begin and piece and row[piece - 1][kind] > 0:
            continue
        end = piece + 1
        while end < len(row) and row[end][kind] > 0 and row[end][kind] != begin:
            end += 1
        out.add((note, kind, piece, end))
    return out


def overlapping(gold: set[tuple[int, int, int, int]], guess: set[tuple[int, int, int, int]]) -> tuple[int, int]:
    """How many of the true spans are met by one of the same type that shares a piece, each once; and how many are."""
    left, hit = set(guess), 0
    for note, kind, low, high in sorted(gold):
        met = next((one for one in left if one[:2] == (note, kind) and one[2] < high and low < one[3]), None)
        if met:
            left.discard(met)
            hit += 1
    return hit, len(gold)


def batches(notes: list[dict[str, Any]], marks: tuple[int, ...], together: int) -> list[dict[str, Any]]:
    """Notes of like length put together, chosen by chance among those."""
    notes = [note for note in notes if note["ids"]]
    random.shuffle(notes)
    groups = [notes[i : i + 40 * together] for i in range(0, len(notes), 40 * together)]
    rows = [sorted(group, key=lambda n: len(n["ids"]) + sum(map(len, n["told"]))) for group in groups]
    flat = [note for row in rows for note in row]
    return [batch_of(flat[i : i + together], marks) for i in range(0, len(flat), together)]


def arguments() -> argparse.Namespace:
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("examples", type=Path)
    asked.add_argument("encoder", type=Path)
    asked.add_argument("out", type=Path)
    asked.add_argument("--epochs", type=int, default=12)
    asked.add_argument("--share", type=float, default=1.0, help="the share of the training writers that is used")
    asked.add_argument("--seed", type=int, default=1)
    asked.add_argument(
        "--order", type=int, default=1, help="the seed of the order of notes; --seed is that of the start"
    )
    asked.add_argument("--rate", type=float, default=4e-4)
    asked.add_argument("--together", type=int, default=128, help="notes in a batch")
    asked.add_argument("--hidden", type=float, default=0.0, help="the share of pieces hidden while it learns")
    asked.add_argument("--start", type=Path, help="weights that this script wrote, to go on from")
    asked.add_argument("--teacher", type=Path, nargs="*", help="weights of larger models, whose answers are learned")
    asked.add_argument("--taught", type=float, default=0.5, help="the share of the loss that is beside the teachers")
    asked.add_argument("--seconds", type=float, default=1e9, help="stop after so long, counted from the first round")
    return asked.parse_args()


def untaught(encoder: Path, data: dict[str, Any]) -> Reader:
    """The published encoder with new heads."""
    tensors = {name: tensor.float() for name, tensor in load_file(encoder / "model.safetensors").items()}
    own = Encoder(data["vocabulary"], *shape_of(tensors))
    own.load_state_dict(tensors)
    return Reader(own, Sizes(**data["sizes"]))


def taught(weights: Path) -> Reader:
    """A model that this script wrote."""
    held = torch.load(weights, map_location="cpu", weights_only=True)
    state = {name: tensor.float() if tensor.is_floating_point() else tensor for name, tensor in held["state"].items()}
    inner = {n.removeprefix("encoder."): t for n, t in state.items() if n.startswith("encoder.")}
    model = Reader(Encoder(held["vocabulary"], *shape_of(inner)), Sizes(**held["sizes"]))
    model.load_state_dict(state)
    return model


def temperatures_of(weights: Path) -> dict[str, float]:
    """What each head of a model that this script wrote is to divide its logits by."""
    return dict(torch.load(weights, map_location="cpu", weights_only=True).get("temperatures", {}))


def lessons(data: dict[str, Any], args: argparse.Namespace, device: torch.device) -> list[list[dict[str, Any]]]:
    """The batches of each telling of the training days, and last those of the tuning days."""
    writers = sorted({day["writer"] for day in data["train"]})
    kept = set(random.Random(7).sample(writers, max(1, round(args.share * len(writers)))))
    taught = [day for day in data["train"] if day["writer"] in kept]
    parts = [*(taught[k :: data["tellings"]] for k in range(data["tellings"])), data["tune"]]
    return [
        moved(batches([note for day in part for note in day["notes"]], tuple(data["marks"]), args.together), device)
        for part in parts
    ]


@torch.no_grad()
def put_answers(teachers: list[Reader], days: list[dict[str, Any]]) -> None:
    """Puts into each batch what the teachers say of it: the mean of their logits, of links that of their log
    probabilities."""
    for day in days:
        told = [answers(teacher, day, day["ids"]) for teacher in teachers]
        mean = {name: torch.stack([each[name].float() for each in told]).mean(0) for name in told[0]}
        if "link" in mean:
            mean["link"] = group_log_softmax(mean["link"], day["links"]["group"], day["groups"])
        day["taught"] = {name: value.clamp(-3e4, 3e4).half() for name, value in mean.items()}


class Training:
    """Teaches a model for the rounds, or the seconds, that were asked for."""

    def __init__(self, model: Reader, steps: int, args: argparse.Namespace, device: torch.device) -> None:
        self.model, self.steps, self.args, self.device = model, steps, args, device
        self.began = time.monotonic()
        body = [p for n, p in model.named_parameters() if n.startswith("encoder.")]
        heads = [p for n, p in model.named_parameters() if not n.startswith("encoder.")]
        rates = [{"params": body, "lr": args.rate}, {"params": heads, "lr": args.rate * 5}]
        self.optimiser = torch.optim.AdamW(rates, weight_decay=0.01, fused=device.type == "cuda")
        self.schedule = torch.optim.lr_scheduler.LambdaLR(self.optimiser, self.pace)

    @property
    def seconds(self) -> float:
        return time.monotonic() - self.began

    @property
    def out_of_time(self) -> bool:
        return self.seconds > float(self.args.seconds)

    def pace(self, step: int) -> float:
        """The share of the rate: up at first, then down to the end of the rounds or of the time, whichever is near."""
        gone = max(step / self.steps, self.seconds / self.args.seconds)
        return min((step + 1) / (0.06 * self.steps + 1), max(0.02, 1 - gone))

    def loss(self, day: dict[str, Any]) -> tuple[dict[str, Tensor], Tensor]:
        """The loss of each head beside the marks, and the whole."""
        ids = blurred(day, self.args.hidden, day["hide"]) if self.args.hidden else day["ids"]
        said = answers(self.model, day, ids)
        parts = losses(said, day)
        total = sum((WEIGHTS[name] * value for name, value in parts.items()), torch.zeros((), device=self.device))
        if "taught" not in day:
            return parts, total
        alike = likeness(said, {name: value.float() for name, value in day["taught"].items()}, day)
        beside = sum((WEIGHTS[name] * value for name, value in alike.items()), torch.zeros((), device=self.device))
        return parts, (1 - self.args.taught) * total + self.args.taught * beside

    def once(self, days: list[dict[str, Any]]) -> dict[str, float]:
        """All batches once, in an order by chance; the mean of each loss over some of them."""
        seen: dict[str, list[float]] = defaultdict(list)
        for day in random.sample(days, len(days)):
            if self.out_of_time:
                break
            parts, total = self.loss(day)
            self.optimiser.zero_grad()
            total.backward()
            nn.utils.clip_grad_norm_(self.model.parameters(), 1.0)
            self.optimiser.step()
            self.schedule.step()
            if random.random() < 0.05:
                for name, value in parts.items():
                    seen[name].append(value.item())
        return {name: round(sum(values) / len(values), 3) for name, values in seen.items()}


def save(
    model: Reader, data: dict[str, Any], heats: dict[str, float], figures: list[dict[str, float]], out: Path
) -> None:
    """Writes the weights, in 16 bits, the temperature of each head, and the figures of each round."""
    out.mkdir(parents=True, exist_ok=True)
    state = {
        name: tensor.half().cpu() if tensor.is_floating_point() else tensor.cpu()
        for name, tensor in model.state_dict().items()
    }
    rest = {"sizes": data["sizes"], "vocabulary": data["vocabulary"], "temperatures": heats}
    torch.save({"state": state, **rest}, out / "weights.pt")
    (out / "figures.json").write_text(json.dumps(figures), encoding="utf-8")


def main() -> None:
    args = arguments()
    random.seed(args.seed)
    torch.set_float32_matmul_precision("high")
    torch.manual_seed(args.seed)
    device = torch.device("cuda" if torch.cuda.is_available() else "cpu")
    with gzip.open(args.examples) as file:
        data = pickle.load(file)
    model = (taught(args.start) if args.start else untaught(args.encoder, data)).to(device)
    random.seed(args.order)
    torch.manual_seed(args.order)
    *tellings, tune = lessons(data, args, device)
    if args.teacher:
        teachers = [taught(each).to(device).eval() for each in args.teacher]
        for each in tellings:
            put_answers(teachers, each)
        del teachers
    training = Training(model, args.epochs * len(tellings[0]), args, device)
    figures = []
    for epoch in range(args.epochs):
        seen = training.once(tellings[epoch % len(tellings)])
        last = epoch == args.epochs - 1 or training.out_of_time
        if epoch % 2 == 1 or last:
            row = {"epoch": epoch + 1, "seconds": round(training.seconds), **(judge(model, tune) if tune else {})}
            figures.append(row)
            print(json.dumps(row), seen, flush=True)
        if last:
            break
    heats = temperatures(model, tune, answers) if tune else {}
    print(heats, flush=True)
    save(model, data, heats, figures, args.out)


if __name__ == "__main__":
    main()
