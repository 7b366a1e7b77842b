"""The page's server: a socket that this machine alone reaches, another for the local network, the app behind both."""

from __future__ import annotations

import asyncio
import errno
import os
import socket
import ssl
from datetime import datetime
from pathlib import Path
from typing import Literal

import uvicorn

from extract.errors import FallbookError
from logger.page.access import Access
from logger.page.app import make_app
from logger.page.certificate import certificate, context
from logger.page.devices import HERE
from logger.page.hearing_worker import HearingWorker
from logger.page.lan import Outside, link, own_address
from logger.page.limits import HEAD_BYTES, HEAD_S, LimitedProtocol
from logger.printing import say

USUAL_PORT = 8440
"""Where none is asked for: a phone that could not send all keeps the rest for this very address and port."""


class Server:
    """Listens from the start, so that the addresses can be told before it runs."""

    def __init__(
        self,
        folder: Path,
        port: int | None = None,
        *,
        job: str | None = None,
        lan: Literal["https", "http"] | None = None,
        debug: bool = False,
        hearing_worker: HearingWorker | None = None,
    ) -> None:
        self.access, self.job, self.hearing_worker = Access(tell=_tell), job, hearing_worker
        self.outside: Outside | None = None
        self._outer: socket.socket | None = None
        self._tls: ssl.SSLContext | None = None
        if lan:
            self._open_outside(folder, own_address(), USUAL_PORT if port is None else port, https=lan == "https")
        self._inner = _listen(HERE, port) if port is not None else _listen_somewhere()
        self.host = _host(self._inner)
        hosts = [self.host, self.host.replace(HERE, "localhost"), *([self.outside.host] if self.outside else [])]
        app = make_app(
            folder, self.access, hosts, outside=self.outside, job=job, debug=debug, hearing_worker=hearing_worker
        )
        settings = uvicorn.Config(
            app, http=LimitedProtocol, h11_max_incomplete_event_size=HEAD_BYTES, log_level="error", access_log=False,
            server_header=False, lifespan="off", ws="none", proxy_headers=False, timeout_graceful_shutdown=3,
        )  # fmt: skip
        self._serving = _Both(settings, self._outer, self._tls)

    def address(self, job: str | None = None) -> str:
        """The address that lets this laptop's browser in, once; it opens that job, or the one that is served."""
        return link("http", self.host, self.access.token(), job or self.job)

    def run(self) -> None:
        """Serve until interrupted, or stopped."""
        try:
            self._serving.run(sockets=[self._inner])
        finally:
            if self.hearing_worker:
                self.hearing_worker.stop()

    def stop(self) -> None:
        """Let `run` come to its end."""
        self._serving.should_exit = True

    def _open_outside(self, folder: Path, address: str, port: int, *, https: bool) -> None:
        self._outer = _listen(address, port)
        made = certificate(folder, address) if https else None
        self._tls = context(made) if made else None
        self.outside = Outside(_host(self._outer), made)


class _Both(uvicorn.Server):
    """One server with a second way in."""

    def __init__(self, settings: uvicorn.Config, outer: socket.socket | None, tls: ssl.SSLContext | None) -> None:
        super().__init__(settings)
        self.outer, self.tls = outer, tls

    async def startup(self, sockets: list[socket.socket] | None = None) -> None:
        await super().startup(sockets)
        if self.outer is None:
            return

        def protocol() -> asyncio.Protocol:
            return LimitedProtocol(self.config, self.server_state, self.lifespan.state)

        loop, limit = asyncio.get_running_loop(), HEAD_S if self.tls else None
        outer = await loop.create_server(protocol, sock=self.outer, ssl=self.tls, ssl_handshake_timeout=limit)
        self.servers.append(outer)


def _listen(address: str, port: int) -> socket.socket:
    """A socket that listens there. Raises FallbookError, in words, where that cannot be."""
    # The protocol is named because asyncio sends small parts at once only where it is.
    made = socket.socket(socket.AF_INET, socket.SOCK_STREAM, socket.IPPROTO_TCP)
    if os.name == "posix":  # elsewhere it would let another program take the port over
        made.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    try:
        made.bind((address, port))
        made.listen()
    except OSError as error:
        made.close()
        if error.errno == errno.EADDRINUSE:
            why = f"port {port} is taken by another program; choose another with --port"
        elif error.errno == errno.EACCES:
            why = f"port {port} is not for this user; choose one above 1023 with --port"
        else:
            why = f"{address}, port {port}: {error.strerror}; choose another with --port"
        raise FallbookError(why) from error
    return made


def _listen_somewhere() -> socket.socket:
    """On the usual port for this laptop alone, or where that is taken on any that is free."""
    try:
        return _listen(HERE, USUAL_PORT)
    except FallbookError:
        return _listen(HERE, 0)


def _host(listening: socket.socket) -> str:
    address, port = listening.getsockname()
    return f"{address}:{port}"


def _tell(line: str) -> None:
    say(f"{datetime.now():%H:%M:%S} {line}", err=True)
