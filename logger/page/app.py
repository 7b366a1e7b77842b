"""The web app: its routes, and the guard in front of them."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path

from starlette.applications import Starlette
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Mount, Route
from starlette.staticfiles import StaticFiles

from logger.page import closeout, day, devices, join, media, past, pieces, questions, ready, record, render, talk
from logger.page.access import Access
from logger.page.feed import Feed
from logger.page.guard import Guard
from logger.page.hearing_worker import HearingWorker
from logger.page.lan import Outside

STATIC = Path(__file__).parent / "static"
VIEWS = (join, devices, past, questions, day, record, ready, closeout, media, talk, pieces)


def make_app(
    folder: Path,
    access: Access,
    hosts: Iterable[str],
    *,
    outside: Outside | None = None,
    job: str | None = None,
    debug: bool = False,
    hearing_worker: HearingWorker | None = None,
) -> Guard:
    """The app on the library in that folder, for requests to those hosts (`127.0.0.1:8443`).

    `outside` is how phones reach it, `job` the one that their links open; `hearing_worker` hears what comes in,
    which without one waits for `fallbook take`.
    """
    routes = [
        Route(path, work, methods=[method], name=name) for each in VIEWS for method, path, work, name in each.ROUTES
    ]
    app = Starlette(
        routes=[*routes, Mount("/static", StaticFiles(directory=STATIC), name="static")],
        exception_handlers={404: _missing, 405: _missing, 408: _given_up, 413: _given_up, 500: _broken},
    )
    app.state.folder, app.state.access, app.state.outside, app.state.job = folder, access, outside, job
    app.state.books = {}
    app.state.hearing_worker, app.state.feed = hearing_worker, Feed()
    if hearing_worker:
        hearing_worker.answer = app.state.feed.take
    return Guard(app, access, hosts, debug=debug)


async def _missing(request: Request, error: Exception) -> Response:
    return render.page(request, "trouble.html", 404, key="no_page", of=request.url.path)


async def _given_up(request: Request, error: Exception) -> Response:
    assert isinstance(error, HTTPException)
    return render.page(request, "trouble.html", error.status_code, words=error.detail)


async def _broken(request: Request, error: Exception) -> Response:
    return render.page(request, "trouble.html", 500, key="broken", of="")
