"""What is in a stranger's file, decoded in the worker: each function's result, or one line about that file.

All raise `worker.Unusable` for a file that cannot be used, FallbookError where only this try failed. `name` is the
file's own name, for messages.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import TYPE_CHECKING, Any

from extract.errors import FallbookError
from logger.worker import Worker, worker

if TYPE_CHECKING:
    from logger.photos import PhotoFacts
    from logger.sound import Samples

WORTH_TWO = 5
"""Pictures left to decode for which a second process is started: that takes as long as two pictures."""


def sound_facts(path: Path, name: str = "") -> dict[str, Any]:
    """Length [s] and start (ISO, or None) of a recording."""
    facts: dict[str, Any] = worker().ask("probe", path, name)[0]
    return facts


def samples(path: Path, name: str = "") -> Iterator[Samples]:
    """A recording's sound in blocks, shape (samples,), mono, at `sound.RATE`."""
    import numpy as np

    own = Worker()  # other files may be asked about while this one is listened to
    try:
        for _, block in own.stream("samples", path, name):
            yield np.frombuffer(block, np.float32)
    finally:
        own.stop()


def photo_facts(path: Path, name: str = "") -> PhotoFacts:
    """What a photo's EXIF says; the whole picture was decoded."""
    from logger.photos import PhotoFacts

    return PhotoFacts.model_validate(worker().ask("photo", path, name)[0])


def picture(path: Path, name: str = "") -> bytes:
    """A photo as a person holds it, as baseline JPEG, sized for the page of `serve`."""
    own = Worker()
    try:
        return own.ask("picture", path, name)[1]
    finally:
        own.stop()


def plates(
    files: Sequence[tuple[Path, str]], meanwhile: Callable[[], object] = lambda: None
) -> list[bytes | FallbookError]:
    """Photos in the same way, sized for a report, or what is wrong with each. One is decoded at a time while
    `meanwhile` runs, which takes a processor too, then two where many are left."""
    waiting, found = enumerate(files), dict[int, bytes | FallbookError]()
    with ThreadPoolExecutor(1) as pool:
        first = pool.submit(_decode, waiting, found)
        meanwhile()
        if len(files) - len(found) >= WORTH_TWO:
            _decode(waiting, found)
        first.result()
    return [found[number] for number in range(len(files))]


def _decode(waiting: Iterator[tuple[int, tuple[Path, str]]], found: dict[int, bytes | FallbookError]) -> None:
    """Decode what is left in `waiting`, one after another. Two threads may share it: each file goes to only one."""
    own = Worker()
    for number, (path, name) in waiting:
        try:
            found[number] = own.ask("plate", path, name)[1]
        except FallbookError as error:
            found[number] = error
    own.stop()


def text(path: Path, name: str = "") -> str:
    """A text file's words, whichever way they were saved."""
    return worker().ask("text", path, name)[1].decode("utf-8")
