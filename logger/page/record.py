"""The record: its tables and drawings, and each thing with the words, sound and photos that its figures come from."""

from __future__ import annotations

import gzip
import hashlib
from dataclasses import dataclass
from threading import Lock

from starlette.requests import Request
from starlette.responses import RedirectResponse, Response

from extract import listed
from extract.errors import FallbookError, UsageError
from extract.field_names import COMPUTED, plain_name
from extract.record import Entry
from logger import changes, drawn, show_one
from logger import show as pages
from logger.book import Book
from logger.clean import clean
from logger.page import links
from logger.page.media import sound_of
from logger.page.render import page
from logger.page.requests import Form, book, library, view
from logger.settle import soon
from logger.subjects import NOTE, PHOTO, called, subject_named
from logger.undo import last_change
from reports.job import Photo
from reports.words import things

ONE_DRAWS = Lock()
"""The drawing library is made for one thread."""


@dataclass(frozen=True)
class Field:
    """A form's choice: fields of one subject."""

    subject: str
    """`R-2`, `level:3`."""
    called: str
    names: list[str]
    key: str
    """What tells the entry, as it reads now, from another of that name."""


def show(request: Request, form: Form) -> Response:
    """All that the record holds, and its drawings."""
    with book(request) as made:
        return page(
            request, "record.html", job=made.job, labels=_labels(made), sounds={},
            blocks=list(pages.entries(made.record)), drawings=drawings_of(made),
        )  # fmt: skip


def thing(request: Request, form: Form) -> Response:
    """A structure, a run or an entry of a list, with where each figure comes from. Notes and photos stand in the
    day."""
    subject = request.path_params["subject"]
    if NOTE.fullmatch(subject) or PHOTO.fullmatch(subject):
        return RedirectResponse(links.of(request.path_params["job"], subject.lower()), 303)
    with book(request) as made:
        asked = request.query_params
        typed = {"subject": asked.get("of", ""), "field": asked.get("field", ""), "value": ""}
        last = last_change(made) if "undo" in asked else ""
        return _thing(request, made, subject, asked.get("said", ""), typed, last=last)


def amend(request: Request, form: Form) -> Response:
    """Put a field right, in plain words."""
    name, subject = request.path_params["job"], form.get("subject", "")
    with library(request) as store:
        with store.writing():  # it stays what was looked at until the change is logged
            made = Book(store, name)
            label, entry = subject_named(made, subject)
            if form.get("key") != _key(label, entry):
                raise FallbookError(
                    f"{called(made.record, label)} has changed meanwhile; look at it and enter it again"
                )
            try:
                done = changes.amend(store, name, subject, form.get("field", ""), form.get("value", "").strip())
            except UsageError as error:
                return _thing(request, made, request.path_params["subject"], str(error), form, 400)
        soon(store.folder)
        where = request.url_for("thing", job=name, subject=request.path_params["subject"])
        return RedirectResponse(
            where.include_query_params(
                said=clean(f"{done.words} (was {done.before or 'empty'})"),
                of=subject,
                field=form.get("field", ""),
                undo="1",
            ),
            303,
        )


def sheet(request: Request, form: Form) -> Response:
    """A drawing alone, large."""
    with book(request) as made:
        return page(request, "sheet.html", job=made.job, labels=_labels(made), drawing=_drawing(request, made))


def drawing(request: Request, form: Form) -> Response:
    """A drawing as SVG."""
    with book(request) as made:
        found = _drawing(request, made)
    headers = {"Vary": "Accept-Encoding"}
    content = found.svg.encode()
    if "gzip" in request.headers.get("accept-encoding", ""):
        content, headers = gzip.compress(content, mtime=0), headers | {"Content-Encoding": "gzip"}
    return Response(content, media_type="image/svg+xml", headers=headers)


def _drawing(request: Request, made: Book) -> drawn.Drawn:
    """The one that the path names. Raises FallbookError where there is none."""
    found = next((each for each in drawings_of(made) if each.name == request.path_params["name"]), None)
    if found is None:
        raise FallbookError(f"{made.name} has no drawing of that name")
    return found


def drawings_of(made: Book) -> list[drawn.Drawn]:
    """The job's drawings; whoever finds them kept waits for nobody."""
    if (known := drawn.kept(made)) is not None:
        return known
    with ONE_DRAWS:
        return drawn.drawings(made)


def _thing(
    request: Request, made: Book, subject: str, said: str, form: Form | None = None, status: int = 200, last: str = ""
) -> Response:
    """`last`: the change by hand that can be taken back on the page, as `last_change` tells it."""
    label, entry = subject_named(made, subject)
    head, *blocks = show_one.thing(made, label)
    together = show_one.alike(made.record, entry)
    return page(
        request, "thing.html", status, job=made.job, labels=_labels(made), head=head, blocks=blocks, subject=label,
        sounds=_sounds(made), fields=[_field(made, each) for each in together], photos=_photos(made, label),
        said=said, typed=form or {}, last=last,
    )  # fmt: skip


def _field(made: Book, entry: Entry) -> Field:
    label = getattr(entry, "label", None) or listed.subject_of(made.record, entry)
    names = [plain_name(each) for each in type(entry).model_fields if each not in COMPUTED]
    return Field(label, called(made.record, label), names, _key(label, entry))


def _key(label: str, entry: Entry) -> str:
    words = [label, *(item.quote for item in entry.evidence), repr(listed.as_read(entry))]
    return hashlib.sha256("|".join(words).encode()).hexdigest()[:16]


def _labels(made: Book) -> list[str]:
    return [each.label for each in things(made.record)]


def _sounds(made: Book) -> dict[str, str]:
    """Where each note that was heard is played, by its name."""
    heard = ((f"note:{index}", sound_of(made.name, note)) for index, note in enumerate(made.notes))
    return {name: address for name, address in heard if address}


def _photos(made: Book, label: str) -> list[Photo]:
    return [each for each in made.photos if each.about == label]


ROUTES = [
    ("GET", "/jobs/{job}/record", view(show), "record"),
    ("GET", "/jobs/{job}/record/{subject}", view(thing), "thing"),
    ("POST", "/jobs/{job}/record/{subject}", view(amend), "put_right"),
    ("GET", "/jobs/{job}/drawing/{name}.svg", view(drawing), "drawing"),
    ("GET", "/jobs/{job}/drawing/{name}", view(sheet), "sheet"),
]
