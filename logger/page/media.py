"""Sound and photos of a job, as a browser plays and shows them."""

from __future__ import annotations

import io
import re
from functools import lru_cache
from pathlib import Path
from threading import BoundedSemaphore

from starlette.requests import Request
from starlette.responses import Response

from extract.errors import FallbookError, UsageError
from extract.record import Note
from logger import decoding
from logger.book import Book
from logger.page.requests import Form, book, view
from logger.pictures import smaller
from logger.player import AROUND_S, cut

LONGEST_S = 120.0
"""Of sound that is cut out in one go."""
AT_ONCE = BoundedSemaphore(2)
"""Photos decoded at a time, each in a process of its own."""
SMALL_PX = 240
"""The longer side of a photo in a list: 6.5rem on a screen of two pixels to the CSS pixel."""
HASH = re.compile(r"[0-9a-f]{64}")
PRIVATE = {"Cache-Control": "private, max-age=3600"}
"""What lies under its hash never changes."""


def sound(request: Request, form: Form) -> Response:
    """Part of a recording as WAV, a second before and after what was asked for."""
    with book(request) as made:
        sha256 = request.path_params["sha256"]
        name = _name(made, sha256, "sound")
        low, high = _seconds(request, "from"), _seconds(request, "to")
        if not low <= high <= low + LONGEST_S:
            raise UsageError(f"no such part of {name}; at most {LONGEST_S:.0f} seconds are played in one go")
        out = io.BytesIO()
        cut(made.store.originals.path(sha256, name), name, max(0.0, low - AROUND_S), high + AROUND_S, out)
        return Response(out.getvalue(), media_type="audio/wav", headers=PRIVATE)


def sound_of(job: str, note: Note) -> str:
    """Where a note is heard; empty where it was typed."""
    if note.source is None or note.start_s is None:
        return ""
    return f"/jobs/{job}/sound/{note.source}?from={note.start_s:.2f}&to={note.end_s or note.start_s:.2f}"


def photo(request: Request, form: Form) -> Response:
    """A photo, upright, as JPEG; with `small`, as it stands in a list."""
    with book(request) as made:
        sha256 = request.path_params["sha256"]
        name = _name(made, sha256, "photo")
        draw = _small if "small" in request.query_params else _large
        return Response(draw(made.store.originals.path(sha256, name), name), media_type="image/jpeg", headers=PRIVATE)


def _large(path: Path, name: str) -> bytes:
    with AT_ONCE:
        return decoding.picture(path, name)


@lru_cache(maxsize=1000)
def _small(path: Path, name: str) -> bytes:
    """Kept while the program runs, in memory alone: a photo that is taken out and deleted leaves nothing behind."""
    return smaller(_large(path, name), SMALL_PX)


def _name(made: Book, sha256: str, kind: str) -> str:
    """The name of the job's file of that hash. Raises FallbookError where it has none of that kind."""
    entry = made.file(sha256).entry if HASH.fullmatch(sha256) else None
    if entry is None or entry.kind != kind:
        raise FallbookError(f"{made.name} holds no such {kind}")
    return str(entry.name)


def _seconds(request: Request, name: str) -> float:
    try:
        value = float(request.query_params.get(name, ""))
    except ValueError:
        value = -1.0
    if not 0 <= value < 10**6:
        raise UsageError(f"{name} is no number of seconds")
    return value


ROUTES = [
    ("GET", "/jobs/{job}/sound/{sha256}", view(sound), "sound"),
    ("GET", "/jobs/{job}/photo/{sha256}", view(photo), "photo"),
]
