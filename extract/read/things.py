"""What the talk has so far of each thing, and what its label is."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

from extract.record import Area, Crossing, Evidence, Fitting, Question, Tie

KINDS = {
    "CD": "channel_drain", "CB": "catch_basin", "AD": "area_drain", "DS": "downspout", "CO": "cleanout",
    "JB": "junction_box", "DW": "dry_well",
}  # fmt: skip

TURNING = "TP-"
"""The name and label of a turning point begin with it."""


@dataclass
class Held:
    """A value as it stands in a field."""

    value: Any
    standing: frozenset[str]
    witness: Evidence
    sure: float = 1.0
    """Of the reading, however badly it was heard."""
    doubted: bool = False
    """Whether it raised a question when it was told."""


@dataclass
class Thing:
    """A structure or run as the talk has it so far."""

    name: str
    kind: str | None
    label: str
    number: int | None = None
    state: str | None = None
    built: bool = False
    gone: bool = False
    asked: bool | None = None
    """Whether it was named, and in questions alone: "what's missing on run nine?" tells of no run."""
    fields: dict[str, Held] = field(default_factory=dict)
    fittings: list[Fitting] = field(default_factory=list)
    areas: list[Area] = field(default_factory=list)
    ties: list[Tie] = field(default_factory=list)
    crossings: list[Crossing] = field(default_factory=list)
    evidence: list[Evidence] = field(default_factory=list)

    votes: dict[str, float] = field(default_factory=dict)
    """How surely it was called each kind, summed over its mentions."""

    @property
    def empty(self) -> bool:
        """Whether nothing is told of it but its name."""
        told = (self.fields, self.fittings, self.areas, self.ties, self.crossings)
        return self.state is None and not self.built and not any(told)

    @property
    def prefix(self) -> str:
        """Of the kind that it was called most surely."""
        own = self.name.split(".")[0]
        return max(self.votes, key=lambda each: self.votes[each], default=own) if own != "R" else own


@dataclass
class Sighted:
    """A rod reading, and the elevation said with it."""

    name: str
    """Of the structure, or `TP-n`; empty for the benchmark."""
    side: str
    kind: str
    fields: dict[str, Held] = field(default_factory=dict)
    evidence: list[Evidence] = field(default_factory=list)

    @property
    def about(self) -> str:
        """What a question about it is about."""
        return f"{self.name} {self.side}".strip() if self.name else "benchmark"

    @property
    def turning(self) -> bool:
        """Whether the rod stood on a turning point, which is no thing of the record."""
        return self.name.startswith(TURNING)


def twice(thing: Thing, label: str) -> Question:
    """Asks which of two things that were called by the same number is meant."""
    heard = thing.evidence[0].quote
    return Question(about=thing.name, heard=heard, choices=[label], why="conflict", evidence=thing.evidence[:1])
