"""The shapes of `day.toml`: what is said and photographed on the invented day, and when."""

from __future__ import annotations

import tomllib
from datetime import date, datetime, time
from pathlib import Path
from typing import Any, Literal

from pydantic import BaseModel, ConfigDict

HERE = Path(__file__).parent


class Shape(BaseModel):
    model_config = ConfigDict(extra="forbid")


class Voice(Shape):
    engine: Literal["piper", "flite"]
    pace: float
    """1 is the voice's own pace; more is slower."""
    name: str = ""
    """Which of the engine's voices, where it has more than one."""


class Noise(Shape):
    wind: float
    engine: float
    """Shares of the two in the mix."""
    level_db: float
    """Loudness of the noise against the speech."""


class Line(Shape):
    text: str
    pause: float = 3.0
    """Silence before the line, seconds."""
    voice: str | None = None
    """Who says it, where it is not the recording's own voice."""


class Recording(Shape):
    file: str
    start: time
    time_in: Literal["container", "name"]
    """Where the file keeps its start: the container's metadata, or its own name."""
    codec: Literal["aac", "opus", "wav"]
    kbps: int | None = None
    noise: str
    voice: str
    length_s: float | None = None
    """Least length, seconds; the rest after the last line is noise."""
    say: list[Line]


class Camera(Shape):
    make: str
    model: str
    slow_s: int = 0
    """How many seconds the camera's clock is behind; its GPS time is right."""


class Photo(Shape):
    file: str
    at: time
    """The true time, local."""
    camera: str
    shows: str
    """The structure or run that a person would put it to."""
    scene: str
    """A function of scenes.py, by name."""
    options: dict[str, Any] = {}
    place: tuple[float, float] | None = None
    """Feet east and north of the origin; None where the camera had no fix."""
    heading: float | None = None
    """Degrees from true north."""
    error_m: float | None = None
    """Horizontal error that the camera states, metres."""
    orientation: Literal[1, 3, 6, 8] = 1
    copy_of: str | None = None
    """Another photo's file: this one is the same bytes."""


class Site(Shape):
    lat: float
    lon: float
    """Of the origin, degrees; an invented spot in empty grassland."""


class TypedNote(Shape):
    at: time
    text: str


class Day(Shape):
    day: date
    zone: str
    site: Site
    voice: dict[str, Voice]
    noise: dict[str, Noise]
    camera: dict[str, Camera]
    recording: list[Recording]
    photo: list[Photo]
    typed: list[TypedNote]

    def moment(self, clock: time) -> datetime:
        """That time on this day, with the site's offset from UTC."""
        return datetime.fromisoformat(f"{self.day}T{clock}{self.zone}")


def load_day(path: Path = HERE / "day.toml") -> Day:
    """The script of the day. Raises pydantic's ValidationError where the file is not in shape."""
    return Day.model_validate(tomllib.loads(path.read_text(encoding="utf-8")))
