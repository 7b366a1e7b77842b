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


def pack(value: Any) -> tuple[bytes, bytes]:
    """A value as it is kept, compressed JSON, with the digest of that."""
    packed = zlib.compress(json.dumps(value, separators=(",", ":")).encode())
    return packed, hashlib.sha256(packed).digest()[:16]


def unpack(packed: bytes, digest: bytes) -> Any:
    """The value again, or None where a bit of it changed on the disk."""
    if hashlib.sha256(packed).digest()[:16] != digest:
        return None
    return json.loads(zlib.decompress(packed))
