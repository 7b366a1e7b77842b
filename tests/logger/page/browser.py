"""A real browser on a page that is really served, for the tests that need one: Debian's Chromium."""

from __future__ import annotations

import shutil
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from importlib.resources import files
from pathlib import Path
from typing import Any

import pytest

CHROMIUM = shutil.which("chromium")
needs_chromium = pytest.mark.skipif(CHROMIUM is None, reason="Debian package chromium is not installed")
WIDTHS = (360, 768, 1280)
THEMES = ("light", "dark")


class Served:
    """The page of a library, served by a thread of this process."""

    def __init__(self, folder: Path, **options: Any) -> None:
        from logger.page.server import Server

        self.server = Server(folder, 0, **options)
        self.thread = threading.Thread(target=self.server.run, daemon=True)
        self.thread.start()

    def link(self, job: str | None = None) -> str:
        """An address that lets one browser in."""
        return self.server.address(job)

    @property
    def root(self) -> str:
        return f"http://{self.server.host}"

    def stop(self) -> None:
        self.server.stop()
        self.thread.join(10)


@contextmanager
def chromium(*options: str) -> Iterator[Any]:
    """The browser, closed at the end."""
    from playwright.sync_api import sync_playwright

    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=CHROMIUM, args=["--no-sandbox", *options])
        yield browser
        browser.close()


def join(page: Any, served: Served, job: str | None = None) -> None:
    """Go in by a link, as a person would."""
    page.goto(served.link(job))
    page.get_by_role("button", name="Open", exact=True).click()
    page.wait_for_url(lambda url: "/join/" not in url)


def faults(page: Any) -> list[str]:
    """What axe-core finds against WCAG 2.2 AA on the page, a line each."""
    page.evaluate(files("axe_playwright_python").joinpath("axe.min.js").read_text(encoding="utf-8"))
    tags = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"]
    found = page.evaluate("tags => axe.run({runOnly: {type: 'tag', values: tags}})", tags)
    return [f"{each['id']}: {node['html']}" for each in found["violations"] for node in each["nodes"]]
