"""What one client may cost the server in connections, in the size of a request's head and in time."""

from __future__ import annotations

import asyncio

import h11
from uvicorn.protocols.http.h11_impl import H11Protocol

from logger.page.guard import HEADERS

HEAD_BYTES = 16_000
"""Of a request's line and headers."""
HEAD_S = 15
"""For them to come in, and for TLS to be agreed on."""
CONNECTIONS = 256
OF_ONE_ADDRESS = 64
"""A browser opens six at most; tests run several on one machine."""


class LimitedProtocol(H11Protocol):
    """uvicorn's HTTP, for as many clients as there is room for and as long as they get on with it."""

    deadline: asyncio.TimerHandle | None = None

    def connection_made(self, transport: asyncio.Transport) -> None:  # type: ignore[override]
        super().connection_made(transport)
        if len(self.connections) > CONNECTIONS or self._of_this_address() > OF_ONE_ADDRESS:
            transport.abort()
            return
        self.deadline = self.loop.call_later(HEAD_S, transport.abort)

    def data_received(self, data: bytes) -> None:
        super().data_received(data)
        if self.conn.their_state is not h11.IDLE:
            self._no_deadline()
        elif self.deadline is None and self.timeout_keep_alive_task is None:
            self.deadline = self.loop.call_later(HEAD_S, self.transport.abort)

    def connection_lost(self, exc: Exception | None) -> None:
        self._no_deadline()
        super().connection_lost(exc)

    def send_400_response(self, msg: str) -> None:
        """One line and the headers that every answer carries; nothing where an answer is on its way already."""
        if self.conn.our_state not in (h11.IDLE, h11.SEND_RESPONSE) or self.cycle and self.cycle.response_started:
            self.transport.abort()
            return
        headers = {**HEADERS, "Content-Type": "text/plain; charset=utf-8", "Connection": "close"}
        answer = h11.Response(status_code=400, headers=list(headers.items()), reason=b"Bad Request")
        line = h11.Data(data=b"fallbook: that is no request that this page understands\n")
        for event in (answer, line, h11.EndOfMessage()):
            self.transport.write(self.conn.send(event) or b"")
        self.transport.close()

    def _of_this_address(self) -> int:
        clients = [each.client for each in self.connections if isinstance(each, LimitedProtocol)]
        return sum(each is not None and self.client is not None and each[0] == self.client[0] for each in clients)

    def _no_deadline(self) -> None:
        if self.deadline is not None:
            self.deadline.cancel()
            self.deadline = None
