"""May I backfill? What the book lacks of each run, each thing that was asked as a link to its question."""

from __future__ import annotations

from starlette.requests import Request
from starlette.responses import Response

from logger.page.render import language, page
from logger.page.requests import Form, library, view
from logger.ready import ready


def show(request: Request, form: Form) -> Response:
    """Each run's answer, in the page's language."""
    with library(request) as store:
        name = request.path_params["job"]
        return page(request, "ready.html", answers=ready(store, name, language(request)), job=store.job(name))


ROUTES = [("GET", "/jobs/{job}/ready", view(show), "ready")]
