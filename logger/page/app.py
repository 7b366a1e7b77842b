"""The web app: its routes, and the guard in front of them."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path

from starlette.applications import Starlette
from starlette.middleware import Middleware
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Mount, Route
from starlette.staticfiles import StaticFiles

from logger.page import closeout, day, door, media, past, questions, ready, record, render
from logger.page.access import Access
from logger.page.guard import Guard

STATIC = Path(__file__).parent / "static"
VIEWS = (door, past, questions, day, record, ready, closeout, media)


def make_app(folder: Path, access: Access, hosts: Iterable[str]) -> Starlette:
    """The app on the library in that folder, for requests to those hosts (`127.0.0.1:8443`)."""
    routes = [
        Route(path, work, methods=[method], name=name) for each in VIEWS for method, path, work, name in each.ROUTES
    ]
    app = Starlette(
        routes=[*routes, Mount("/static", StaticFiles(directory=STATIC), name="static")],
        middleware=[Middleware(Guard, access=access, hosts=hosts)],
        exception_handlers={404: _missing, 405: _missing, 500: _broken},
    )
    app.state.folder, app.state.access = folder, access
    return app


async def _missing(request: Request, error: Exception) -> Response:
    return render.page(request, "trouble.html", 404, words=f"there is no page {request.url.path}")


async def _broken(request: Request, error: Exception) -> Response:
    what = " ".join(str(error).split())[:300]
    return render.page(request, "trouble.html", 500, words=f"{type(error).__name__}: {what}; nothing was changed")
