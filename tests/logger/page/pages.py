"""A browser without a window on the app, for the tests of the page: `Client`, let in unless told otherwise."""

from __future__ import annotations

import re
from html import unescape
from pathlib import Path

from starlette.testclient import TestClient

from logger.page.access import Access
from logger.page.app import make_app
from logger.page.lan import Outside

HOST = "127.0.0.1:8000"
ORIGIN = f"http://{HOST}"


class Client(TestClient):
    """Sends the page's own origin with every change. It sits at the laptop, or elsewhere if `origin` says so."""

    def __init__(
        self,
        folder: Path,
        *,
        let_in: bool = True,
        access: Access | None = None,
        outside: Outside | None = None,
        job: str | None = None,
        origin: str = ORIGIN,
    ) -> None:
        self.access = access or Access()
        hosts = [HOST, *([outside.host] if outside else [])]
        app = make_app(folder, self.access, hosts, outside=outside, job=job)
        super().__init__(app, base_url=origin, raise_server_exceptions=False)
        self.headers["origin"] = origin
        if let_in:
            self.post(f"/join/{self.access.token()}", data={"name": "Ida's phone"})


def words(html: str) -> str:
    """The text of a page, spaces run together."""
    return " ".join(unescape(re.sub(r"<[^>]*>", " ", html)).split())
