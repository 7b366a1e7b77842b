"""A job's photos as they were taken: usable ones, in order of time and numbered, before any is matched to a thing."""

from __future__ import annotations

from collections import Counter
from datetime import datetime
from functools import cached_property
from typing import Any

from logger.clocks import Shot, taken_times
from logger.entries import Entries
from logger.facts import facts_of
from logger.photos import PhotoFacts
from logger.store import LogEntry
from logger.times import When
from logger.upload import Upload
from reports.job import Photo


class Taken(Entries):
    """The entries of a job with what its photos' files tell."""

    @cached_property
    def taken_photos(self) -> list[Photo]:
        """All photos in order of time, numbered from 1, not yet matched. A removed one keeps its number to itself."""
        here = {entry.sha256 for entry in self.entries}
        return [photo for photo in self._all_photos if photo.sha256 in here]

    @cached_property
    def photo_numbers(self) -> dict[str, int]:
        """The number of each photo by its SHA-256, removed ones too."""
        return {photo.sha256: photo.number for photo in self._all_photos}

    @cached_property
    def _all_photos(self) -> list[Photo]:
        taken = zip(self._usable_photos, self._shots, self._taken, strict=True)
        found = sorted(taken, key=lambda each: (each[2].at, each[0].sha256))
        return [_photo(number, entry, shot, when) for number, (entry, shot, when) in enumerate(found, 1)]

    @cached_property
    def _usable_photos(self) -> list[LogEntry]:
        """Removed ones too."""
        return [e for e in self.log if e.kind == "photo" and "unusable" not in self._photo_facts[e.id]]

    @cached_property
    def _photo_facts(self) -> dict[int, dict[str, Any]]:
        photos = [entry for entry in self.log if entry.kind == "photo"]
        return {entry.id: self._facts.get(entry.id) or facts_of(self.store, entry) for entry in photos}

    @cached_property
    def _shots(self) -> list[Shot]:
        found = [(each, Upload.in_entry(each.body), self._photo_facts[each.id]) for each in self._usable_photos]
        return [Shot(_placed(facts, upload), entry.name, modified(entry), upload.at) for entry, upload, facts in found]

    @property
    def camera_zones(self) -> Counter[str]:
        """How many photos tell each offset from UTC in their EXIF, `-05:00`."""
        return Counter(shot.facts.offset for shot in self._shots if shot.facts.offset)

    @cached_property
    def _taken(self) -> list[When]:
        return taken_times(self._shots, self.zone)


def _photo(number: int, entry: LogEntry, shot: Shot, when: When) -> Photo:
    facts = shot.facts
    return Photo(
        number=number,
        sha256=entry.sha256,
        name=entry.name,
        taken_at=when.at,
        time_source=when.source,
        lat=facts.lat,
        lon=facts.lon,
        gps_error_m=facts.gps_error_m,
        heading_deg=facts.heading_deg,
    )


def _placed(shape: dict[str, Any], upload: Upload) -> PhotoFacts:
    """What a photo's file says of it, and its page where the file says nothing of the place."""
    facts = PhotoFacts.model_validate(shape)
    if facts.lat is not None or upload.lat is None:
        return facts
    return facts.model_copy(update={"lat": upload.lat, "lon": upload.lon, "gps_error_m": upload.error_m})


def modified(entry: LogEntry) -> datetime:
    """When a file was last changed, as its own disk had it."""
    return datetime.fromisoformat(entry.body["modified"])
