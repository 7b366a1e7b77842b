"""What a view takes out of a request: the job's book, a form's fields."""

from __future__ import annotations

import errno
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from urllib.parse import parse_qs

from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import Response

from extract.errors import FallbookError, UsageError
from logger.book import Book
from logger.page.guard import FORM_BYTES
from logger.page.render import page
from logger.store import Store, open_store

Form = dict[str, str]
View = Callable[[Request, Form], Response]


@contextmanager
def library(request: Request) -> Iterator[Store]:
    """The library that is served, open for this request."""
    folder: Path = request.app.state.folder
    with open_store(folder) as store:
        store.books = request.app.state.books
        yield store


@contextmanager
def book(request: Request) -> Iterator[Book]:
    """The book of the job that the path names. Raises FallbookError where there is none."""
    with library(request) as store:
        made = Book(store, name := request.path_params["job"])
        before = store.books.get(name)
        yield made
        if before is None:  # whoever changes something has all worked out and kept in the background
            made.keep()
        if store.books.get(name) is before:  # else the view holds the book as its change left it
            made.hold()


def view(work: View) -> Callable[..., object]:
    """A view as a route: its form read within its limit, its work in a thread, its errors as one line on a page."""

    async def route(request: Request) -> Response:
        try:
            form = await _form(request) if request.method == "POST" else {}
            return await run_in_threadpool(work, request, form)
        except FallbookError as error:
            status = 400 if isinstance(error, UsageError) else 409
            words = str(error).replace(str(request.app.state.folder), "the library")
            return await run_in_threadpool(page, request, "trouble.html", status, words=words)
        except OSError as error:
            if error.errno != errno.ENOSPC:
                raise
            return await run_in_threadpool(page, request, "trouble.html", 507, key="disk_full", of="")

    return route


async def _form(request: Request) -> Form:
    body = b""
    async for part in request.stream():
        body += part
        if len(body) > FORM_BYTES:
            raise UsageError(f"more than {FORM_BYTES // 1000} kB in one form; say it in several notes")
    try:
        fields = parse_qs(body.decode(), keep_blank_values=True, max_num_fields=40)
    except (UnicodeDecodeError, ValueError) as error:
        raise UsageError("the form cannot be read; load the page again") from error
    return {name: values[-1] for name, values in fields.items()}
