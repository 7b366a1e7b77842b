"""What must be in the book before the ground closes: a photo of each thing open, its invert or fall, its length.

What is missing here can still be had while the trench is open, and never after.
"""

from __future__ import annotations

import tomllib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from importlib import resources
from typing import Literal

from pydantic import Field

from extract.check.geometry import run_length
from extract.check.levels import Height
from extract.check.saying import finding, in_place, known, listed, name
from extract.record import Finding, Model, Record, Run, Structure

NO_INVERT = frozenset({"downspout", "cleanout"})
"""Kinds that stand on a pipe whose own inverts tell their height."""
SIDES = ("invert_out", "invert_in")
What = Literal[
    "photo_open",
    "photo_before",
    "photo_known_before",
    "length",
    "fall",
    "invert",
    "invert_at",
    "inverts_at",
    "invert_out",
    "invert_in",
    "start",
    "end",
]
PHOTOS = frozenset({"photo_open", "photo_before", "photo_known_before"})
"""What is missing of a structure that is covered with the run it ends."""


class Photo(Model):
    """A photo as far as evidence goes: what it shows, and whether that was still open."""

    number: int
    about: str | None
    """Label of a structure or run; None where nobody knows what it shows."""
    backfill: Literal["start", "open", "before", "after", "unknown"]
    """`start`: from before the work, so it shows nothing that was built; `open`: nobody has said that the thing is
    covered; `unknown`: somebody has, and the photo's time is not sure."""
    lat: float | None = Field(default=None, ge=-90, le=90)
    lon: float | None = Field(default=None, ge=-180, le=180)
    error_m: float | None = Field(default=None, ge=0, allow_inf_nan=False)
    """Where it was taken, degrees, and how far that may be out, metres."""


@dataclass(frozen=True)
class Lack:
    """One thing that the book lacks of what was built."""

    what: What
    of: tuple[str, ...] = ()
    """Labels of the things that it is of, where that is not the one that lacks it."""
    photos: tuple[int, ...] = ()
    """Numbers of the photos whose time is not sure."""

    @property
    def words(self) -> str:
        """`a photo of it open`, `the invert at catch basin 1`, `its length`."""
        of = listed(map(name, self.of)) if self.of else "it"
        return str(table()["words"][self.what].format(of=of, photos=listed(map(str, self.photos or [""]))))

    @property
    def field(self) -> str | None:
        """The field that is empty; None where it is not one."""
        return table()["field"].get(self.what)


@dataclass(frozen=True)
class Held:
    """What the book holds of one thing that was built, and what it lacks."""

    entry: Structure | Run
    missing: tuple[Lack, ...]


@cache
def table() -> dict[str, dict[str, str]]:
    """What extract/check/evidence.toml holds."""
    return tomllib.loads(resources.files("extract.check").joinpath("evidence.toml").read_text(encoding="utf-8"))


def check_evidence(record: Record, points: Mapping[str, Height], photos: Sequence[Photo]) -> list[Finding]:
    """Of every run and structure that the crew built: the photo, invert and length that its burial will hide."""
    return [_finding(held) for held in held_of(record, points, photos)]


def no_photos(record: Record) -> list[Finding]:
    """One finding where something was built and the book has no photo at all."""
    if not any(map(_built, record.structures)) and not any(map(_built, record.runs)):
        return []
    message = "no photo is in the book, so nothing shows what was built before it was covered."
    return [finding("evidence", "photos", "attention", message)]


def held_of(record: Record, points: Mapping[str, Height], photos: Sequence[Photo]) -> list[Held]:
    """What is missing of each run, then of each structure, that is built; what was there before is left in peace.

    `points` are the heights [ft] of `levels.heights`.
    """
    shots: dict[str, list[Photo]] = {}
    for photo in photos:
        shots.setdefault(photo.about or "", []).append(photo)
    runs = [Held(run, _of_run(run, points, shots.get(run.label, []))) for run in record.runs if _built(run)]
    others = [each for each in record.structures if _built(each)]
    return [*runs, *(Held(each, _of_structure(each, points, shots.get(each.label, []))) for each in others)]


def _built(entry: Structure | Run) -> bool:
    return in_place(entry) and entry.state != "existing"


def _of_run(run: Run, points: Mapping[str, Height], photos: list[Photo]) -> tuple[Lack, ...]:
    length = [] if run_length(run) is not None or len(run.stations_ft) >= 2 else [Lack("length")]
    return (*_photo(photos, covered=run.backfill is not None), *_fall(run, points), *length)


def _of_structure(structure: Structure, points: Mapping[str, Height], photos: list[Photo]) -> tuple[Lack, ...]:
    lacks = _photo(photos, covered=False)
    measured = known(structure.invert_depth_in) is not None or _levelled(structure.label, points)
    if structure.kind not in NO_INVERT and not measured:
        lacks.append(Lack("invert"))
    if structure.kind == "channel_drain" and known(structure.length_ft) is None:
        lacks.append(Lack("length"))
    return tuple(lacks)


def _photo(photos: list[Photo], *, covered: bool) -> list[Lack]:
    """The photo that is missing; where the thing is covered it cannot be had any more, and what is missing says so."""
    states = {photo.backfill for photo in photos}
    if states & {"open", "before"}:
        return []
    if "unknown" in states:
        unsure = tuple(photo.number for photo in photos if photo.backfill == "unknown")
        return [Lack("photo_known_before", photos=unsure)]
    return [Lack("photo_before" if covered or "after" in states else "photo_open")]


def _fall(run: Run, points: Mapping[str, Height]) -> list[Lack]:
    """The inverts that a run lacks; none where its drop or slope was said."""
    if known(run.drop_in) is not None or known(run.slope_pct) is not None:
        return []
    if run.from_ is None or run.to is None:
        return [Lack("fall")]
    bare = tuple(label for label in (run.from_, run.to) if not _levelled(label, points))
    if bare:
        return [Lack("invert_at" if len(bare) == 1 else "inverts_at", bare)]
    # The other invert of a structure says only how much fall the run has at the most.
    out, in_ = Lack("invert_out", (run.from_,)), Lack("invert_in", (run.to,))
    return [lack for lack in (out, in_) if f"{lack.of[0]} {lack.what}" not in points]


def _levelled(label: str, points: Mapping[str, Height]) -> bool:
    return any(f"{label} {side}" in points for side in SIDES)


def _finding(held: Held) -> Finding:
    label = held.entry.label
    if not held.missing:
        message = (
            f"the book holds a photo of {name(label)} from before anyone noted it covered, and the measures that its "
            "burial will hide."
        )
        return finding("evidence", label, "ok", message, evidence=held.entry.evidence)
    message = f"missing from the book of {name(label)}: {listed(each.words for each in held.missing)}."
    return finding("evidence", label, "attention", message, evidence=held.entry.evidence)
