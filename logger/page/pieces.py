"""Pieces of sound, photos and typed notes, as a page sends them: each once, with the hash that the answer confirms.

A page keeps what it sends until the answer names its SHA-256. What is answered with 409 it sends again later; what with
400, 413 or 415 would never be taken, and stays on the phone for its owner to see to.
"""

from __future__ import annotations

import errno
import hashlib
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from starlette.concurrency import run_in_threadpool
from starlette.requests import ClientDisconnect, Request
from starlette.responses import JSONResponse, Response

from extract.errors import FallbookError, UsageError
from logger import jobs, sniff
from logger.book import Book
from logger.clean import clean
from logger.digests import SHA256
from logger.intake import take_received
from logger.originals import receiving
from logger.page.feed import Feed, key
from logger.page.hearing_worker import HearingWorker
from logger.page.requests import library
from logger.read_back import Told, tell
from logger.upload import Upload
from reports.scratch import Scratch

MOST = {"sound": 300_000_000, "photo": 60_000_000, "note": 16_000}
"""Bytes of each kind. An hour of talk is some 15 MB as a phone's browser records it."""
LONGEST_NAME = 100
NAMELESS = {"sound": "sound of the page", "photo": "photo of the page", "note": "note"}


class TooLarge(FallbookError):
    """It would not be taken another time either."""


class NoSuchKind(FallbookError):
    """Nor would this."""


async def receive(request: Request) -> Response:
    """Take one piece: `kind`, `name`, and what `Upload` holds, in the query; its bytes in the body."""
    try:
        return JSONResponse(await _receive(request))
    except ClientDisconnect:
        return Response(status_code=408)  # it was cut off, and nobody is there to be told
    except FallbookError as error:
        status = {UsageError: 400, TooLarge: 413, NoSuchKind: 415}.get(type(error), 409)
        return JSONResponse({"error": str(error)}, status)
    except OSError as error:
        full = error.errno == errno.ENOSPC
        why = "the laptop's disk is full; make room" if full else f"it cannot be written ({error.strerror or error})"
        return JSONResponse({"error": f"{_name(request)}: {why}; the phone keeps it and sends it again"}, 409)


async def _receive(request: Request) -> dict[str, Any]:
    kind, wanted = request.query_params.get("kind", ""), request.path_params["sha256"]
    if kind not in MOST or not SHA256.fullmatch(wanted):
        raise UsageError("a piece needs its kind, which is sound, photo or note, and its SHA-256")
    upload = Upload.of(request.query_params, request.query_params.getlist("spoken"))
    stated = request.headers.get("content-length", "")
    _refuse_too_large(kind, int(stated) if stated.isdecimal() else 0, _name(request))
    folder: Path = request.app.state.folder
    if not (folder / "library.db").exists():
        raise FallbookError(f"{folder}: the library is gone; bring it back, or run: fallbook restore DIR")
    with receiving(folder) as part:
        count, sha256 = await _write(request, part, kind)
        if sha256 != wanted:
            raise FallbookError(f"{_name(request)}: {count} bytes came, and they are not what was sent; send it again")
        take = _take_note if kind == "note" else _take_file
        told = await run_in_threadpool(take, request, part, sha256, upload)
    return {"sha256": sha256, "bytes": count} | told


async def _write(request: Request, part: Scratch, kind: str) -> tuple[int, str]:
    """Write the body to `part`: how many bytes, and their SHA-256."""
    count, digest = 0, hashlib.sha256()

    def write(block: bytes) -> None:
        digest.update(block)
        part.file.write(block)

    async for block in request.stream():
        count += len(block)
        _refuse_too_large(kind, count, _name(request))
        await run_in_threadpool(write, block)
    await run_in_threadpool(part.file.flush)
    return count, digest.hexdigest()


def _refuse_too_large(kind: str, count: int, name: str) -> None:
    if count > MOST[kind]:
        raise TooLarge(
            f"{name}: more than {MOST[kind] / 1e6:g} MB; put it on the laptop by cable and run: fallbook take"
        )


def _take_file(request: Request, part: Scratch, sha256: str, upload: Upload) -> dict[str, Any]:
    """Into the log, as `fallbook take` would."""
    name, wanted = _name(request), request.query_params["kind"]
    try:
        kind = sniff.kind_of(part.path, name)
    except FallbookError as error:
        raise NoSuchKind(str(error)) from error
    if kind != wanted:
        raise NoSuchKind(f"{name}: {kind}, where {wanted} was to come; choose another file")
    job = request.path_params["job"]
    with library(request) as store:
        results = take_received(store, job, kind, part, sha256, name, _modified(request), upload)
        if not store.holds(job, sha256):
            raise FallbookError(" ".join(each.line for each in results))
    something_came(request)
    return {"outcome": results[0].outcome, "line": " ".join(each.line for each in results)}


def _take_note(request: Request, part: Scratch, sha256: str, upload: Upload) -> dict[str, Any]:
    """A typed note, once: the same words of the same moment are the same note."""
    part.file.seek(0)
    try:
        text = part.file.read().decode()
    except UnicodeDecodeError as error:
        raise UsageError("the note is no UTF-8 text; type it again") from error
    job = request.path_params["job"]
    with library(request) as store:
        entry = jobs.say_once(store, job, " ".join(text.split()), upload.at)
        if entry is None:
            return {"outcome": "already", "line": "already in the book"}
        told = told_of(request, Book(store, job), entry)
    something_came(request)
    return {"outcome": "taken", "line": told.line if told else "", "language": told.language if told else "en"}


def told_of(request: Request, book: Book, entry: int) -> Told | None:
    """What the typed note of that entry was understood to say, told to every page that looks at the job as well."""
    try:
        index = next(index for index, line in enumerate(book.lines) if line.mark == f"log:{entry}")
        told = tell(book, [index]).get(index)
    except Exception:  # the note is kept; whatever the reading met is told when the job is asked for
        return None
    feed: Feed = request.app.state.feed
    feed.tell(book.name, {key(book.lines[index]): told.shape if told else None})
    return told


def something_came(request: Request) -> None:
    """The job has something new: to be heard, and to be read."""
    hearing_worker: HearingWorker | None = request.app.state.hearing_worker
    if hearing_worker:
        hearing_worker.ask(request.path_params["job"])


def _name(request: Request) -> str:
    """The file's name, as it is told and kept: never a path."""
    query = request.query_params
    name = clean(query.get("name", "")).replace("\\", "/").rpartition("/")[2].strip()[:LONGEST_NAME]
    return name.encode("utf-8", "replace").decode() or NAMELESS.get(query.get("kind", ""), "file")


def _modified(request: Request) -> datetime:
    """When the file was last written, as its page tells it in `modified`; else now."""
    told = Upload.of({"at": request.query_params.get("modified", "")}).at
    return (told or datetime.now(UTC)).astimezone(UTC)


ROUTES = [("PUT", "/jobs/{job}/pieces/{sha256}", receive, "piece")]
