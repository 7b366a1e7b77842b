"""What is told beside a sound or a photo by the page or the program that made it: when and where, and what a page said
aloud meanwhile."""

from __future__ import annotations

import math
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, fields
from datetime import datetime
from typing import Any

from extract.errors import UsageError
from logger.clean import clean
from logger.times import in_range

KEY = "upload"
"""Its field in the log's entry of the file."""
RECORDING_ID = re.compile(r"[0-9a-f]{1,32}")
SPOKEN = re.compile(r"(\d{1,5}(?:\.\d{1,3})?)-(\d{1,5}(?:\.\d{1,3})?) (.{1,300})", re.S)
MOST_SPOKEN = 20
LONGEST_S = 10**8


@dataclass(frozen=True)
class Upload:
    """What is known of a file besides its bytes; all of it is empty for a file that came from elsewhere."""

    at: datetime | None = None
    """When its sound began, or the photo was taken: aware."""
    recording_id: str = ""
    """Names the recording that a piece of sound is of: pieces of one recording overlap."""
    from_s: float = 0.0
    to_s: float = 0.0
    """Where the piece begins and ends on the recorder's own clock, seconds: one clock for all pieces of a recording."""
    lat: float | None = None
    lon: float | None = None
    """Degrees, north and east positive: where the page was when the photo was taken."""
    error_m: float | None = None
    spoken: tuple[tuple[float, float, str], ...] = ()
    """What the page itself said aloud, each with its seconds into the piece."""

    @classmethod
    def of(cls, query: Mapping[str, str], spoken: Sequence[str] = ()) -> Upload:
        """From what a page wrote. Raises UsageError, one line."""
        lat, lon = _number(query, "lat", -90, 90), _number(query, "lon", -180, 180)
        if (lat is None) != (lon is None):
            raise UsageError("a place needs lat and lon")
        recording_id = query.get("recording_id", "")
        if recording_id and not RECORDING_ID.fullmatch(recording_id):
            raise UsageError("recording_id is no ID of a recording")
        low, high = (_number(query, name, 0, LONGEST_S) or 0.0 for name in ("from", "to"))
        if recording_id and not low < high:
            raise UsageError("a piece of a recording ends after it began; from and to say otherwise")
        return cls(
            at=_moment(query.get("at", "")), recording_id=recording_id, from_s=low, to_s=high, lat=lat, lon=lon,
            error_m=_number(query, "error", 0, 100_000), spoken=tuple(_spoken(each) for each in spoken[:MOST_SPOKEN]),
        )  # fmt: skip

    @classmethod
    def in_entry(cls, body: Mapping[str, Any]) -> Upload:
        """As the log has it."""
        shape = dict(body.get(KEY, {}))
        if "at" in shape:
            shape["at"] = datetime.fromisoformat(shape["at"])
        if "spoken" in shape:
            shape["spoken"] = tuple((low, high, words) for low, high, words in shape["spoken"])
        return cls(**shape)

    def as_entry(self) -> dict[str, Any]:
        """What the log's entry gains by it: nothing where nothing was told."""
        shape = {each.name: vars(self)[each.name] for each in fields(self) if vars(self)[each.name] != each.default}
        if self.at:
            shape["at"] = self.at.isoformat()
        return {KEY: shape} if shape else {}


def _moment(text: str) -> datetime | None:
    if not text:
        return None
    try:
        moment = datetime.fromisoformat(text)
    except ValueError as error:
        raise UsageError("at is no moment; write it as 2026-05-14T14:05:30Z") from error
    if moment.tzinfo is None:
        raise UsageError("at has no zone; write it as 2026-05-14T14:05:30Z")
    return moment if in_range(moment) else None  # a phone whose clock was never set talks all the same


def _number(query: Mapping[str, str], name: str, low: float, high: float) -> float | None:
    text = query.get(name, "")
    if not text:
        return None
    try:
        value = float(text)
    except ValueError:
        value = math.nan
    if not low <= value <= high:
        raise UsageError(f"{name} is no number from {low} to {high}")
    return value


def _spoken(text: str) -> tuple[float, float, str]:
    match = SPOKEN.fullmatch(text)
    if not match:
        raise UsageError("spoken is no stretch of speech; write it as 1.2-3.4 words")
    return float(match[1]), float(match[2]), clean(match[3])
