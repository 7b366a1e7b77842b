"""Who is let in, and a link as a code for the next phone.

Links are made, and others put out, on the laptop itself alone: a phone that was lost could else let more in.
"""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime

import segno
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response

from logger.page.access import TOKEN_S, Access
from logger.page.lan import Outside
from logger.page.render import page
from logger.page.requests import Form, view

HERE = "127.0.0.1"
"""The address under which the laptop alone reaches its page."""


def show(request: Request, form: Form) -> Response:
    """Who is let in, and how many links wait."""
    access: Access = request.app.state.access
    waiting = access.waiting()
    return page(
        request, "devices.html", sessions=access.sessions(), here_on=_on_laptop(request), clock=_clock,
        outside=request.app.state.outside, waiting=len(waiting), until=_clock(waiting[-1]) if waiting else "",
    )  # fmt: skip


def leave(request: Request, form: Form) -> Response:
    """End a session: one's own, or on the laptop another's."""
    access: Access = request.app.state.access
    own = request.scope["session"].id
    wanted = form.get("id", "") or own
    if wanted != own and not _on_laptop(request):
        return _only_there(request)
    access.withdraw(wanted)
    return RedirectResponse(request.url_for("devices"), 303)


def make_link(request: Request, form: Form) -> Response:
    """A new link for one phone."""
    if not _on_laptop(request) or request.app.state.outside is None:
        return _only_there(request)
    token = request.app.state.access.token()
    return RedirectResponse(request.url_for("link", token=token), 303)


def show_link(request: Request, form: Form) -> Response:
    """The link as a code, while it lets somebody in."""
    outside: Outside | None = request.app.state.outside
    token = request.path_params["token"]
    if not _on_laptop(request) or outside is None:
        return _only_there(request)
    if not request.app.state.access.waits(token):
        return page(request, "refused.html", 410, why="refused", number="")
    address = outside.link(token, request.app.state.job)
    return page(request, "link.html", address=address, code=svg(address), outside=outside, minutes=TOKEN_S // 60)


def withdraw_links(request: Request, form: Form) -> Response:
    """No link made so far lets anybody in."""
    if not _on_laptop(request):
        return _only_there(request)
    request.app.state.access.withdraw_tokens()
    return RedirectResponse(request.url_for("devices"), 303)


def svg(address: str) -> str:
    """The address as a code, dark on light in any colour scheme; it bears no style of its own."""
    return str(segno.make_qr(address, error="m").svg_inline(omitsize=True, light="#fff", svgclass="code"))


def _on_laptop(request: Request) -> bool:
    server: tuple[str, int | None] | None = request.scope.get("server")
    return server is not None and server[0] == HERE


def _only_there(request: Request) -> Response:
    return page(request, "trouble.html", 403, key="only_there", of="")


def _clock(moment: float) -> str:
    return f"{datetime.fromtimestamp(moment):%H:%M}"


ROUTES: list[tuple[str, str, Callable[..., object], str]] = [
    ("GET", "/devices", view(show), "devices"),
    ("POST", "/devices/leave", view(leave), "leave"),
    ("POST", "/devices/link", view(make_link), "make_link"),
    ("GET", "/devices/link/{token}", view(show_link), "link"),
    ("POST", "/devices/links/withdraw", view(withdraw_links), "withdraw_links"),
]
