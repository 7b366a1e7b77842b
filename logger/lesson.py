"""What the speech model was taught of this trade: a small correction to each of its linear layers, laid over them once.

`tests/bench/teach.py` makes lesson.npz; tests/bench/README.md tells from what talk, and what it is worth.
"""

from __future__ import annotations

import hashlib
import struct
import zlib
from collections.abc import Iterator
from functools import cache
from importlib import resources
from io import BytesIO
from zipfile import BadZipFile

import numpy as np
import numpy.typing as npt

from extract.errors import FallbookError

TYPES = (np.float32, np.int8, np.int16, np.int32, np.float16)
"""Of a weight, by the number that stands for it (CTranslate2 4, `model_spec.py`)."""

LOST = "logger/lesson.npz, what the speech model was taught, cannot be read; install fallbook again"


def taught(model: bytes) -> bytes:
    """`model`, the model.bin of Whisper base, with the lesson laid over its weights.

    A correction of weight W [out, in] is kept as two thin matrices, up [out, rank] and down [rank, in]: W + up down.
    Raises FallbookError where the lesson is not whole.
    """
    try:
        lesson = dict(np.load(BytesIO(_lesson()), allow_pickle=False))
    except (ValueError, EOFError, BadZipFile, zlib.error) as error:
        raise FallbookError(f"{LOST} ({error})") from error
    whole = bytearray(model)
    for name, start, weight in weights(model):
        if f"{name}:up" in lesson:
            up, down = (lesson[f"{name}:{part}"].astype(np.float32) for part in ("up", "down"))
            put_right = (weight.astype(np.float32) + up @ down).astype(weight.dtype).tobytes()
            whole[start : start + len(put_right)] = put_right
    return bytes(whole)


def weights(model: bytes) -> Iterator[tuple[str, int, npt.NDArray[np.generic]]]:
    """Each weight of a model.bin by its name, with the byte at which it begins (CTranslate2 4, binary version 6)."""
    at = 0

    def read(form: str) -> int:
        nonlocal at
        (value,) = struct.unpack_from(f"<{form}", model, at)
        at += struct.calcsize(form)
        return int(value)

    def text() -> str:
        nonlocal at
        length = read("H")
        at += length
        return model[at - length : at - 1].decode()

    read("I"), text(), read("I")  # the format's version, what model it is, and that one's revision
    for _ in range(read("I")):
        name = text()
        shape = [read("I") for _ in range(read("B"))]
        kind, size = TYPES[read("B")], read("I")
        yield name, at, np.frombuffer(model, kind, size // np.dtype(kind).itemsize, at).reshape(shape)
        at += size


@cache
def lesson_sha256() -> str:
    """Of lesson.npz, in hexadecimal."""
    return hashlib.sha256(_lesson()).hexdigest()


def _lesson() -> bytes:
    try:
        return resources.files("logger").joinpath("lesson.npz").read_bytes()
    except OSError as error:
        raise FallbookError(f"{LOST} ({error.strerror})") from error
