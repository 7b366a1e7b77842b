"""Letting a browser in, and putting it out again."""

from __future__ import annotations

from starlette.requests import Request
from starlette.responses import RedirectResponse, Response

from logger.clean import clean
from logger.jobs import NAME
from logger.page.access import SESSION_S, Access
from logger.page.guard import COOKIE
from logger.page.render import CHOSEN, LANGUAGES, page
from logger.page.requests import Form, view

LONGEST_NAME = 40


def ask_in(request: Request, form: Form) -> Response:
    """The page behind the link: one button, so that nothing which merely looks at a link uses it up."""
    access: Access = request.app.state.access
    token = request.path_params["token"]
    if not access.waits(token):
        return page(request, "refused.html", 401)
    return page(request, "join.html", token=token, to=request.query_params.get("job", ""))


def enter(request: Request, form: Form) -> Response:
    """Let the browser in, once for each token."""
    access: Access = request.app.state.access
    name = clean(form.get("name", "")).strip()[:LONGEST_NAME] or "a browser"
    secret = access.enter(request.path_params["token"], name)
    if secret is None:
        return page(request, "refused.html", 401)
    to = form.get("job", "")
    answer = RedirectResponse(request.url_for("job", job=to) if NAME.fullmatch(to) else request.url_for("jobs"), 303)
    answer.set_cookie(
        COOKIE, secret, max_age=SESSION_S, httponly=True, samesite="strict", secure=request.url.scheme == "https"
    )
    return answer


def leave(request: Request, form: Form) -> Response:
    """End a session: one's own, or another's that is to be put out."""
    access: Access = request.app.state.access
    access.withdraw(form.get("id", "") or request.scope["session"].id)
    return RedirectResponse(request.url_for("devices"), 303)


def devices(request: Request, form: Form) -> Response:
    """Who is let in."""
    access: Access = request.app.state.access
    return page(request, "devices.html", sessions=access.sessions())


def speak(request: Request, form: Form) -> Response:
    """Choose the page's language."""
    answer = RedirectResponse(request.url_for("jobs"), 303)
    if form.get("language") in LANGUAGES:
        answer.set_cookie(CHOSEN, form["language"], max_age=10**8, samesite="strict")
    return answer


ROUTES = [
    ("GET", "/join/{token}", view(ask_in), "join"),
    ("POST", "/join/{token}", view(enter), "enter"),
    ("GET", "/devices", view(devices), "devices"),
    ("POST", "/devices/leave", view(leave), "leave"),
    ("POST", "/language", view(speak), "speak"),
]
