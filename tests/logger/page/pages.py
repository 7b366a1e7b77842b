"""A browser without a window on the app, for the tests of the page: `Client`, let in unless told otherwise; and what
fills the job that it looks at."""

from __future__ import annotations

import re
from html import unescape
from pathlib import Path
from typing import Any

from starlette.testclient import TestClient

from logger import jobs
from logger.page.access import Access
from logger.page.app import make_app
from logger.page.hearing_worker import HearingWorker
from logger.page.lan import Outside
from logger.store import Store

SAID = (
    "Run one from basin one to the pop-up is in, about forty feet, SDR 35.",
    "Run two from the channel to basin one is in, thirty feet of four inch SDR 35. Run two drops one inch.",
    "Cover over run two is maybe nine inches.",
)
"""Notes that leave two questions and a check that fails."""
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
        hearing_worker: HearingWorker | None = None,
    ) -> None:
        self.access = access or Access()
        hosts = [HOST, *([outside.host] if outside else [])]
        app = make_app(folder, self.access, hosts, outside=outside, job=job, hearing_worker=hearing_worker)
        super().__init__(app, base_url=origin, raise_server_exceptions=False)
        self.headers["origin"] = origin
        if let_in:
            self.post(f"/join/{self.access.token()}", data={"name": "Ida's phone"})


def words(html: str) -> str:
    """The text of a page, spaces run together."""
    return " ".join(unescape(re.sub(r"<[^>]*>", " ", html)).split())


def say(store: Store, *notes: str) -> None:
    """Each note with its time before it, as in `10:00 Basin one is set.`"""
    for note in notes:
        at, text = note.split(" ", 1)
        jobs.say(store, "j", text, at)


def take(store: Store, hearing: Any, *paths: Path) -> None:
    """Files into the job, its sound heard by the stand-in."""
    list(jobs.take(store, "j", paths, listening=lambda name: lambda done, total: None, hearing=hearing))
