"""A request's body as it comes in."""

from __future__ import annotations

import asyncio
import time

from starlette.exceptions import HTTPException
from starlette.types import Message, Receive

STALL_S = 20.0
"""For the next part to come."""
LEAST_BYTES_S = 2_000
"""It comes at least this fast, once STALL_S have passed."""
MOST_BYTES = 1_000_000_000
"""Of any; what takes one in has a limit of its own below."""


class Body:
    """The parts of a body, given up where it is too large or too slow."""

    def __init__(self, receive: Receive) -> None:
        self._receive = receive
        self._size, self._waited, self._whole = 0, 0.0, False

    async def __call__(self) -> Message:
        """The next part. Raises HTTPException; after the last part it waits for the client to leave, however long."""
        if self._whole:
            return await self._receive()
        began = time.monotonic()
        try:
            async with asyncio.timeout(STALL_S):
                message = await self._receive()
        except TimeoutError as error:
            raise HTTPException(408, "nothing came for a while; send it again") from error
        self._waited += time.monotonic() - began
        self._size += len(message.get("body", b""))
        self._whole = not message.get("more_body", False)
        if self._size > MOST_BYTES:
            raise HTTPException(413, f"more than {MOST_BYTES // 1_000_000} MB in one go; send it in parts")
        if self._waited > STALL_S + self._size / LEAST_BYTES_S:
            raise HTTPException(408, "it came too slowly; go nearer to the laptop and send it again")
        return message
