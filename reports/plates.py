"""The photos with what each one shows, where, when, and whether the trench was still open."""

from __future__ import annotations

from collections import Counter
from typing import TYPE_CHECKING

from extract.record import Record, Run, Structure
from reports import words
from reports.facts import Facts
from reports.job import Photo
from reports.words import sentence, thing

if TYPE_CHECKING:
    from reports.paper import Paper

STAGE = {
    "start": "before the work",
    "before": "before backfill was noted",
    "after": "after backfill was noted",
    "unknown": "backfill not known",
}
"""The crew often tell of backfill when it has long been in, so a photo is placed by the note, and no more is said."""


def photos(paper: Paper, facts: Facts) -> None:
    """Matched photos in order of time, then those that nothing fits."""
    from reports.paper import Plate

    found = facts.closeout.photos
    if not found:
        paper.text("No photos were recorded.")
        return
    paper.text(_counts(found, facts.job.name))
    for group in (matched(found, facts.record), unmatched(found, facts.record)):
        if not group:
            continue
        if group[0].about is None or facts.record.subject(group[0].about) is None:
            paper.heading("Photos that we could not place", 2)
        paper.plates([Plate(item.jpeg, item.number, caption(item, facts), alt(item, facts)) for item in group])


def matched(found: list[Photo], record: Record) -> list[Photo]:
    return [photo for photo in found if photo.about and record.subject(photo.about)]


def unmatched(found: list[Photo], record: Record) -> list[Photo]:
    return [photo for photo in found if not photo.about or not record.subject(photo.about)]


def _counts(found: list[Photo], job: str) -> str:
    counts: Counter[str] = Counter(photo.stage for photo in found)
    parts = [f"{counts[key]} {words_}" for key, words_ in STAGE.items() if counts[key]]
    return (
        f"{len(found)} photo{'' if len(found) == 1 else 's'}: {words.joined(parts)}. "
        f"To see one in full with its origin, type: fallbook show {job} photo:7 (with its number)."
    )


def caption(photo: Photo, facts: Facts) -> str:
    """`Catch basin CB-1, before backfill was noted, 14 May 2026 09:48 (photo:7; matched to note 12).`"""
    what = describe(photo, facts.record)
    match = f"matched to note {photo.note}" if photo.note is not None else (photo.reason or "matched to no note")
    how = "" if photo.time_source.startswith("EXIF") or not photo.taken_at else f", time from {photo.time_source}"
    return (
        f"{what}, {STAGE[photo.stage]}, {words.moment(photo.taken_at, facts.job.zone)}{how} "
        f"(photo:{photo.number}; {match})."
    )


def describe(photo: Photo, record: Record) -> str:
    """What the photo was matched to, and where that is in the system."""
    entry = record.subject(photo.about) if photo.about else None
    if entry is None:
        return "Not matched to any part of the work"
    if isinstance(entry, Run):
        ends = f", from {entry.from_} to {entry.to}" if entry.from_ and entry.to else ""
        return sentence(thing(entry)) + ends
    return sentence(thing(entry)) + _place(entry, record)


def _place(entry: Structure, record: Record) -> str:
    into = [run.label for run in record.runs if run.to == entry.label]
    out = [run.label for run in record.runs if run.from_ == entry.label]
    parts = (
        [f"{'end' if not out else 'receives'} of {words.joined(into)}" if not out else f"receives {words.joined(into)}"]
        if into
        else []
    )
    parts += [f"feeds {words.joined(out)}"] if out else []
    return f" ({', '.join(parts)})" if parts else ""


def alt(photo: Photo, facts: Facts) -> str:
    """The photo's text for a reader who cannot see it: only what is known, never a guess at what it shows."""
    return f"Site photo {photo.number}: {caption(photo, facts)}"
