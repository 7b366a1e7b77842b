"""What is in a stranger's file, decoded in the worker: each function's result, or one line about that file.

All raise `worker.Unusable` for a file that cannot be used, FallbookError where only this try failed. `name` is the
file's own name, for messages.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import TYPE_CHECKING, Any

from extract.errors import FallbookError
from logger.worker import Worker, worker

if TYPE_CHECKING:
    from logger.photos import PhotoFacts
    from logger.sound import Samples


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


def pictures(files: Sequence[tuple[Path, str]]) -> list[bytes | FallbookError]:
    """Photos as a person holds them, as baseline JPEG, sized for the page, or what is wrong with each; two are decoded
    at once."""
    from reports import closeout

    halves = files[::2], files[1::2]
    with ThreadPoolExecutor(len(halves)) as pool:
        decoded = pool.map(_pictures, halves)
        closeout.load()  # the pictures are for a report, and this process has nothing to do till they are there
        done = [iter(each) for each in decoded]
    return [next(done[number % 2]) for number in range(len(files))]


def _pictures(files: Sequence[tuple[Path, str]]) -> list[bytes | FallbookError]:
    own, found = Worker(), list[bytes | FallbookError]()
    for path, name in files:
        try:
            found.append(own.ask("picture", path, name)[1])
        except FallbookError as error:
            found.append(error)
    own.stop()
    return found


def text(path: Path, name: str = "") -> str:
    """A text file's words, whichever way they were saved."""
    return worker().ask("text", path, name)[1].decode("utf-8")
