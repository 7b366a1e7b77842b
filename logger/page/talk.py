"""Talk all day: sound and photos as they are made, a field to type in, and the last notes as they were heard."""

from __future__ import annotations

from typing import Any

from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import JSONResponse, RedirectResponse, Response

from extract.errors import FallbookError
from logger import jobs
from logger.book import Book
from logger.clean import clean
from logger.page.feed import Feed
from logger.page.pieces import MOST, something_came, told_of
from logger.page.render import language, page, words
from logger.page.requests import Form, library, view

WORDS = "talk_"
"""The words that the page's scripts use begin so."""


def show(request: Request, form: Form) -> Response:
    """The last notes, and what it takes to add to them."""
    name = request.path_params["job"]
    with library(request) as store:
        job = store.job(name)
        news = _feed(request).since(store, name, "", 0)
    something_came(request)  # what is not heard yet, is
    mine = {key.removeprefix(WORDS): each for key, each in words()[language(request)].items() if key.startswith(WORDS)}
    return page(
        request, "talk.html", job=job, notes=sorted(news["notes"], key=lambda note: -note["place"]), mine=mine,
        most={kind: MOST[kind] for kind in ("sound", "photo")}, said=request.query_params.get("said", ""),
    )  # fmt: skip


def say(request: Request, form: Form) -> Response:
    """A typed note, from a browser without scripts."""
    name = request.path_params["job"]
    with library(request) as store:
        entry = jobs.say_once(store, name, " ".join(form.get("words", "").split()), None)
        assert entry is not None
        told = told_of(request, Book(store, name), entry)
    something_came(request)
    where = request.url_for("talk", job=name).include_query_params(
        said=clean(told.line if told else words()[language(request)]["noted"])
    )
    return RedirectResponse(where, 303)


async def since(request: Request) -> Response:
    """What is new since `note` of `feed`: for scripts, as JSON."""
    try:
        return JSONResponse(await run_in_threadpool(_since, request))
    except FallbookError as error:
        return JSONResponse({"error": str(error)}, 409)


def _since(request: Request) -> dict[str, Any]:
    number = request.query_params.get("note", "")
    known = int(number) if number.isdecimal() and len(number) < 10 else 0
    with library(request) as store:
        return _feed(request).since(store, request.path_params["job"], request.query_params.get("feed", ""), known)


def _feed(request: Request) -> Feed:
    feed: Feed = request.app.state.feed
    return feed


ROUTES = [
    ("GET", "/jobs/{job}/talk", view(show), "talk"),
    ("POST", "/jobs/{job}/talk", view(say), "say"),
    ("GET", "/jobs/{job}/since", since, "since"),
]
