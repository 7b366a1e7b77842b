"""All jobs, and where words stand in them."""

from __future__ import annotations

from starlette.requests import Request
from starlette.responses import RedirectResponse, Response

from logger import jobs
from logger.page.render import page
from logger.page.requests import Form, library, view


def show(request: Request, form: Form) -> Response:
    """The jobs, the latest first; with `q`, where those words stand."""
    words = request.query_params.get("q", "").strip()
    with library(request) as store:
        found = jobs.find(store, words) if words else None
        return page(request, "jobs.html", rows=store.jobs(), q=words, found=found)


def job(request: Request, form: Form) -> Response:
    """A job begins with its questions."""
    return RedirectResponse(request.url_for("questions", job=request.path_params["job"]), 303)


ROUTES = [
    ("GET", "/", view(show), "jobs"),
    ("GET", "/jobs/{job}", view(job), "job"),
]
