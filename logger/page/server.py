"""The page's server: a socket on this machine, and the app behind it."""

from __future__ import annotations

import socket
from pathlib import Path

import uvicorn

from extract.errors import FallbookError
from logger.page.access import Access
from logger.page.app import make_app

HERE = "127.0.0.1"


class Server:
    """Listens from the start, so that the address can be told before it runs."""

    def __init__(self, folder: Path, port: int) -> None:
        self.access = Access()
        self.socket = socket.socket(socket.AF_INET, socket.SOCK_STREAM)
        self.socket.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            self.socket.bind((HERE, port))
        except OSError as error:
            raise FallbookError(f"port {port} is taken by another program; choose another with --port") from error
        self.host = f"{HERE}:{self.socket.getsockname()[1]}"
        self.app = make_app(folder, self.access, [self.host, self.host.replace(HERE, "localhost")])

    def address(self, job: str | None = None) -> str:
        """The address that lets one browser in."""
        to = f"?job={job}" if job else ""
        return f"http://{self.host}/join/{self.access.token()}{to}"

    def run(self) -> None:
        """Serve until interrupted."""
        uvicorn.Server(self.settings()).run(sockets=[self.socket])

    def settings(self) -> uvicorn.Config:
        return uvicorn.Config(
            self.app, log_level="warning", access_log=False, server_header=False, lifespan="off", ws="none",
            proxy_headers=False, timeout_graceful_shutdown=3,
        )  # fmt: skip
