"""What each file says of itself, read once in the worker and kept: a recording's length and start, a photo's EXIF, a
text's words; or why it cannot be used."""

from __future__ import annotations

import sqlite3
from contextlib import suppress
from pathlib import Path
from typing import TYPE_CHECKING, Any

from extract.errors import FallbookError

if TYPE_CHECKING:
    from logger.sniff import FileKind
    from logger.store import LogEntry, Store

READERS = {"sound": "1", "photo": "1", "text": "1"}
"""Count up when reading changes, so that kept facts are read again."""


def look_inside(kind: FileKind, path: Path, name: str) -> dict[str, Any]:
    """What the file says of itself, read to its end; `unusable` is why it cannot be used.

    Raises FallbookError where only this try failed, or a text holds no note.
    """
    from logger.worker import Unusable

    try:
        return _read(kind, path, name)
    except Unusable as error:
        return {"unusable": str(error).removeprefix(f"{name}: ")}


def _read(kind: FileKind, path: Path, name: str) -> dict[str, Any]:
    from extract.notes import parse_log
    from logger import decoding

    if kind == "sound":
        return decoding.sound_facts(path, name)
    if kind == "photo":
        return decoding.photo_facts(path, name).model_dump(mode="json")
    words = decoding.text(path, name)
    if not parse_log(words):
        raise FallbookError(f"{name}: no note in it; write one note a line")
    return {"text": words}


def facts_of(store: Store, entry: LogEntry) -> dict[str, Any]:
    """The facts of a file in the log, read again from its original where they are not kept.

    `passing` is set where it could not be read this time, which may go better another time.
    """
    known = store.recall(entry.sha256, entry.kind, READERS[entry.kind])
    if known is not None:
        return dict(known)
    try:
        facts = look_inside(entry.kind, store.originals.path(entry.sha256, entry.name), entry.name)  # type: ignore[arg-type]
    except FallbookError as error:
        return {"unusable": str(error).removeprefix(f"{entry.name}: "), "passing": True}
    if store.writable:
        with suppress(sqlite3.OperationalError):  # on a full disk they are read again next time
            store.remember(entry.sha256, entry.kind, READERS[entry.kind], facts)
    return facts


def unusable(store: Store, entry: LogEntry) -> str | None:
    """Why a file in the log cannot be used, or None."""
    why = facts_of(store, entry).get("unusable") or (store.recall(entry.sha256, "unheard") or {}).get("why")
    return str(why) if why else None
