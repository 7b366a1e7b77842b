"""What every request must pass before a view sees it, and the headers that every answer carries."""

from __future__ import annotations

from collections.abc import Iterable

from starlette.datastructures import Headers, MutableHeaders
from starlette.requests import ClientDisconnect, HTTPConnection
from starlette.responses import PlainTextResponse
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from logger.page.access import Access
from logger.page.body import Body
from logger.printing import say

COOKIE = "fallbook"
SAFE = {"GET", "HEAD"}
OPEN = ("/join/", "/static/")
"""Paths that need no session."""
POLICY = (
    "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' blob:; media-src 'self' blob:; "
    "connect-src 'self'; manifest-src 'self'; form-action 'self'; base-uri 'none'; frame-ancestors 'none'"
)
HEADERS = {
    "Content-Security-Policy": POLICY,
    "X-Content-Type-Options": "nosniff",
    "X-Frame-Options": "DENY",
    "Referrer-Policy": "same-origin",  # with none at all a browser sends no origin beside a form
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
    "Permissions-Policy": "microphone=(self), camera=(self), geolocation=(self), screen-wake-lock=(self)",
    "Cache-Control": "no-store",
}
FORM_BYTES = 64_000
"""Of a form; uploads of sound and photos have limits of their own."""


class Guard:
    """Refuses what comes under another host's name, changes asked for by another site's page, and whoever was not let
    in; the outermost of all, so that whatever is answered carries the headers."""

    def __init__(self, app: ASGIApp, access: Access, hosts: Iterable[str], *, debug: bool = False) -> None:
        self.app, self.access, self.hosts, self.debug = app, access, set(hosts), debug

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] != "http":
            await self.app(scope, receive, send)
            return

        async def with_headers(message: Message) -> None:
            if message["type"] == "http.response.start":
                headers = MutableHeaders(scope=message)
                for name, value in HEADERS.items():
                    headers.setdefault(name, value)
            await send(message)

        try:
            await (self._refusal(scope) or self.app)(scope, Body(receive), with_headers)
        except ClientDisconnect:
            pass  # it left, and nobody waits for the answer
        except Exception as error:  # was answered with a page; the path stays out, for it can hold a token
            if self.debug:
                raise
            say(f"fallbook: the page failed: {type(error).__name__}: {' '.join(str(error).split())[:300]}", err=True)

    def _refusal(self, scope: Scope) -> PlainTextResponse | None:
        headers, path = Headers(scope=scope), scope["path"]
        host = headers.get("host", "")
        if host not in self.hosts:
            return _plain("this page is not served under that name; use the address that fallbook serve printed", 421)
        if scope["method"] not in SAFE and headers.get("origin") != f"{scope['scheme']}://{host}":
            return _plain("that was asked for by another site's page, and is refused", 403)
        if path.startswith(OPEN):
            return None
        session = self.access.session(HTTPConnection(scope).cookies.get(cookie_name(scope["scheme"])))
        if session is None:
            return _plain("not let in; open the link or scan the code that fallbook serve shows", 401)
        scope["session"] = session
        return None


def cookie_name(scheme: str) -> str:
    """Under HTTPS one that no other page of the same machine can set."""
    return f"__Host-{COOKIE}" if scheme == "https" else COOKIE


def _plain(words: str, status: int) -> PlainTextResponse:
    return PlainTextResponse(f"fallbook: {words}\n", status)
