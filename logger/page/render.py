"""Templates filled in, in the reader's language."""

from __future__ import annotations

import tomllib
from functools import cache
from importlib import resources
from typing import Any

from jinja2 import Environment, PackageLoader, StrictUndefined, select_autoescape
from starlette.requests import Request
from starlette.responses import HTMLResponse

from extract.record import Language
from logger.page import links
from logger.tables import Table
from logger.wording import LANGUAGES

CHOSEN = "language"
"""The cookie that holds the language chosen on the page."""


@cache
def words() -> dict[str, Any]:
    """What logger/page/words.toml holds: by language, the words of every key."""
    return tomllib.loads(resources.files("logger.page").joinpath("words.toml").read_text(encoding="utf-8"))


@cache
def _environment() -> Environment:
    made = Environment(
        loader=PackageLoader("logger.page"),
        autoescape=select_autoescape(default=True),
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    made.tests["table"] = lambda block: isinstance(block, Table)
    made.globals |= {"pieces": links.pieces, "leads_to": links.of}
    return made


def language(request: Request) -> Language:
    """As chosen on the page, else the first of the browser's own that there is."""
    chosen = request.cookies.get(CHOSEN)
    wanted = [chosen] if chosen else request.headers.get("accept-language", "").lower().split(",")
    known = (each.strip()[:2] for each in wanted if each)
    return next((each for tongue in known for each in LANGUAGES if each == tongue), LANGUAGES[0])


def page(request: Request, template: str, status: int = 200, **values: Any) -> HTMLResponse:
    """A template filled in. Every template may use `t`, the words of the language, and `here`, the path."""
    tongue = language(request)
    text = (
        _environment()
        .get_template(template)
        .render(t=words()[tongue], lang=tongue, here=request.url.path, session=request.scope.get("session"), **values)
    )
    return HTMLResponse(text, status)
