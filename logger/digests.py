"""Digests of rows: a bit that flips in the database's file is noticed and never read as a number."""

from __future__ import annotations

import hashlib
import json
import re
import zlib
from typing import Any

SHA256 = re.compile(r"[0-9a-f]{64}")


def row_digest(values: list[Any], before: bytes = b"") -> bytes:
    """16 bytes over a row's values. In a log `before` is the digest of the same job's row before, so that a row that is
    lost is noticed too."""
    text = json.dumps(values, default=str)  # a bit that flips can make bytes of what was text
    return hashlib.sha256(before + text.encode()).digest()[:16]


def pack(value: Any, *keys: str) -> tuple[bytes, bytes]:
    """A value as it is kept, compressed JSON, with the digest of that and of the keys that it is found by."""
    packed = zlib.compress(json.dumps(value, separators=(",", ":")).encode())
    return packed, _sealed(packed, keys)


def unpack(packed: bytes, digest: bytes, *keys: str) -> Any:
    """The value again, or None where a bit of it or of its keys changed on the disk."""
    try:
        return json.loads(zlib.decompress(packed)) if digest == _sealed(packed, keys) else None
    except TypeError:  # what was bytes is none any more
        return None


def check_sum(*values: Any) -> int:
    """A short sum over a row that can be made anew: any one bit that flips changes it."""
    return zlib.crc32(json.dumps(values, default=str).encode())


def _sealed(packed: bytes, keys: tuple[str, ...]) -> bytes:
    return hashlib.sha256(json.dumps(keys, default=str).encode() + packed).digest()[:16]
