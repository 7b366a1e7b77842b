"""Letting a browser in."""

from __future__ import annotations

from urllib.parse import unquote, urlsplit, urlunsplit

from starlette.requests import Request
from starlette.responses import RedirectResponse, Response
from starlette.routing import Match

from logger.clean import clean
from logger.jobs import NAME
from logger.page.access import MOST_SESSIONS, SESSION_S, SHUT_OUT_S, Access
from logger.page.guard import cookie_name
from logger.page.render import CHOSEN, page
from logger.page.requests import Form, view
from logger.wording import LANGUAGES

LONGEST_NAME = 40


def ask_in(request: Request, form: Form) -> Response:
    """The page behind the link: one button, so that nothing which merely looks at a link uses it up."""
    access: Access = request.app.state.access
    token = request.path_params["token"]
    if access.shut_out(_address(request)):
        return _refused(request)
    foreign = request.headers.get("sec-fetch-site") == "cross-site"  # Fetch Metadata Request Headers, W3C
    if not foreign and not access.waits(token):  # another site's page could else shut this address out
        return _wrong(request)
    return page(request, "join.html", token=token, to=request.query_params.get("job", ""))


def enter(request: Request, form: Form) -> Response:
    """Let the browser in, once for each token."""
    access: Access = request.app.state.access
    if access.shut_out(_address(request)) or access.full():
        return _refused(request)
    name = clean(form.get("name", "")).strip()[:LONGEST_NAME] or "a browser"
    secret = access.enter(request.path_params["token"], name, _address(request))
    if secret is None:
        return _wrong(request)
    to = form.get("job", "")
    answer = RedirectResponse(request.url_for("job", job=to) if NAME.fullmatch(to) else request.url_for("jobs"), 303)
    https = request.url.scheme == "https"
    answer.set_cookie(
        cookie_name(request.url.scheme), secret, max_age=SESSION_S, httponly=True, samesite="strict", secure=https
    )
    return answer


def speak(request: Request, form: Form) -> Response:
    """Choose the page's language, and go back to where it was chosen."""
    answer = RedirectResponse(_before(request) or request.url_for("jobs"), 303)
    if form.get("language") in LANGUAGES:
        answer.set_cookie(CHOSEN, form["language"], max_age=10**8, samesite="strict")
    return answer


def _before(request: Request) -> str:
    """The path and query of the page of ours that asked for this one; empty where there is none that can be shown."""
    try:
        came = urlsplit(request.headers.get("referer", ""))
    except ValueError:
        return ""
    ours = (came.scheme, came.netloc) == (request.url.scheme, request.url.netloc)
    if not ours or came.path.startswith("//") or "\\" in came.path:  # a browser would read these as another host
        return ""
    asked = {"type": "http", "method": "GET", "path": unquote(came.path), "root_path": "", "headers": []}
    there = any(route.matches(asked)[0] is Match.FULL for route in request.app.routes)
    return urlunsplit(("", "", came.path, came.query, "")) if there else ""


def _wrong(request: Request) -> Response:
    request.app.state.access.wrong(_address(request))
    return page(request, "refused.html", 401, why="refused", number="")


def _refused(request: Request) -> Response:
    """Whatever link it is: this address was wrong too often, or there is no room."""
    if request.app.state.access.shut_out(_address(request)):
        answer: Response = page(request, "refused.html", 429, why="shut_out", number=SHUT_OUT_S)
        answer.headers["Retry-After"] = str(SHUT_OUT_S)
        return answer
    return page(request, "refused.html", 503, why="full", number=MOST_SESSIONS)


def _address(request: Request) -> str:
    return request.client.host if request.client else ""


ROUTES = [
    ("GET", "/join/{token}", view(ask_in), "join"),
    ("POST", "/join/{token}", view(enter), "enter"),
    ("POST", "/language", view(speak), "speak"),
]
