"""One open question at a time, the most costly first; then the checks that fail."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import timedelta
from typing import Any

from starlette.datastructures import URL
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response

from extract.check.accepted import is_accepted
from extract.errors import FallbookError
from extract.photo_told import SHOWS
from logger.accept import accept
from logger.ask import Asked, asked_of, find, in_order, in_spanish
from logger.book import Book
from logger.clean import clean
from logger.page import day, links
from logger.page.render import language, page
from logger.page.requests import Form, book, library, view
from logger.reply import reply
from logger.settle import soon
from logger.undo import last_change, undo
from reports.job import Photo

NEAR = timedelta(minutes=10)
"""A photo taken further from a note than this says nothing of it."""
MEANWHILE = "that was answered meanwhile"
IN_PLACE = "x-in-place"
"""The header of a request whose answer takes the place of what the page shows; `Content-Location` (RFC 9110, 8.7) says
where that stands."""


def show(request: Request, form: Form) -> Response:
    """The open question that the address names, else the first that was not passed over."""
    return _shown(request, request.query_params)


def _shown(request: Request, query: Mapping[str, str]) -> Response:
    with book(request) as made:
        every, named = in_order(made), query.get("id")
        passed = set(filter(None, query.get("passed", "").split(",")))
        found = next((each for each in every if each.id == named), None)
        chosen = found or next((each for each in every if each.id not in passed), None)
        asked = asked_of(made, chosen) if chosen else None
        return page(
            request, "questions.html", job=made.job, asked=asked, left=len(every), passed=sorted(passed),
            photo=_nearest(made, asked) if asked else None, failed=failed(made), unheard=made.unheard,
            said=MEANWHILE if named and not found else query.get("said"),
            last=last_change(made), typed="", **_words(request, asked),
        )  # fmt: skip


def answer(request: Request, form: Form) -> Response:
    """Take an answer, and go on to the next question."""
    passed = list(filter(None, form.get("passed", "").split(",")))
    with book(request) as made:
        asked = find(made, form.get("id", ""))
        if asked is None:
            return _next(request, MEANWHILE, passed)
        got, after = reply(made, asked, form.get("answer", ""))
        if got.what == "refused":
            return page(
                request, "questions.html", 400, job=made.job, asked=asked, left=len(made.record.questions),
                passed=passed, photo=_nearest(made, asked), failed=failed(made), unheard=made.unheard, said=got.words,
                last=last_change(made), typed=clean(form["answer"]), **_words(request, asked),
            )  # fmt: skip
        if got.what == "skipped":
            passed.append(asked.id)
        else:
            after.hold()
            soon(made.store.folder)
        return _next(request, got.words, passed)


def take_back(request: Request, form: Form) -> Response:
    """Undo the last change by hand, if it is still the one that the page showed, and go back to where that was asked
    for."""
    with library(request) as store:
        words = undo(store, request.path_params["job"], form.get("last", ""))
        soon(store.folder)
        at = form.get("at", "")
        if form.get("to") == "day":
            return day.back(request, words, at)
        if form.get("to") == "record":
            where = URL(links.thing(request.path_params["job"], at)).include_query_params(said=clean(words))
            return RedirectResponse(where.replace(fragment="put-right"), 303)
        return _next(request, words, [])


def accept_finding(request: Request, form: Form) -> Response:
    """Answer a check that fails with a sentence."""
    name, what = request.path_params["job"], form.get("what", "")
    with library(request) as store:
        with store.writing():  # it says what was looked at until the change is logged
            if (what, form.get("message", "")) not in failed(Book(store, name)):
                raise FallbookError("that check reads otherwise by now; look at it again")
            done = accept(store, name, what, form.get("words", ""))
        soon(store.folder)
        return _next(request, done.words, [])


def _words(request: Request, asked: Asked | None) -> dict[str, Any]:
    """The question and its why in the page's language."""
    if asked is None:
        return {"text": "", "why": ""}
    text, why = worded(request, asked)
    return {"text": text, "why": why}


def worded(request: Request, asked: Asked) -> tuple[str, str]:
    """A question and its why, in the page's language."""
    return in_spanish(asked) if language(request) == "es" else (asked.text, asked.why)


def _next(request: Request, said: str, passed: list[str]) -> Response:
    """The next question: a page of its own to go to, or at once where the page puts it in its place (settle.js)."""
    query = {"said": clean(said), "passed": ",".join(passed)}
    where = request.url_for("questions", job=request.path_params["job"]).include_query_params(**query)
    if IN_PLACE not in request.headers:
        return RedirectResponse(where, 303)
    shown = _shown(request, query)
    shown.headers["Content-Location"] = str(where)
    return shown


def _nearest(made: Book, asked: Asked) -> Photo | None:
    """The photo that is asked about, or of those that show what it is about the one taken nearest to a note that the
    question came from; where none shows it, any taken near that note."""
    if asked.field == SHOWS:
        return next(each for each in made.photos if asked.subject == f"photo:{each.number}")
    times = [made.notes[item.note].at for item in asked.question.evidence if item.note < len(made.notes)]
    moments = [each for each in times if each is not None]
    label = asked.question.about.split(" ")[0]

    def apart(photo: Photo) -> timedelta:
        assert photo.taken_at is not None
        return min(abs(photo.taken_at - each) for each in moments)

    timed = [each for each in made.photos if each.taken_at and moments]
    near = [each for each in timed if each.about == label] or [each for each in timed if apart(each) <= NEAR]
    return min(near, key=apart, default=None)


def failed(made: Book) -> list[tuple[str, str]]:
    """What `accept` is to be given for each check that fails and was not accepted, and what the check says."""
    return [
        (f"{each.subject} {each.check}".replace("_", " "), each.message)
        for each in made.findings
        if each.outcome == "fail" and not is_accepted(made.record, each)
    ]


ROUTES = [
    ("GET", "/jobs/{job}/questions", view(show), "questions"),
    ("POST", "/jobs/{job}/questions", view(answer), "answer"),
    ("POST", "/jobs/{job}/undo", view(take_back), "undo"),
    ("POST", "/jobs/{job}/accept", view(accept_finding), "accept"),
]
