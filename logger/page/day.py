"""The day: notes and photos in order of time, with what became of each number; a note's words and a photo put right."""

from __future__ import annotations

import hashlib
import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime
from itertools import groupby
from typing import Any

from starlette.requests import Request
from starlette.responses import RedirectResponse, Response

from extract.errors import UsageError
from extract.photo_told import BACKFILL
from logger import changes, jobs, show_one
from logger.book import Book
from logger.clean import clean
from logger.lines import Line
from logger.page.media import sound_of
from logger.page.render import page
from logger.page.requests import Form, book, library, view
from logger.settle import in_background
from logger.show import note_words, where
from logger.store import Store
from logger.subjects import NOTE
from logger.undo import last_change
from reports.job import Photo
from reports.words import day, things

OPENED = re.compile(r"(note|photo)-(\d{1,6})")


@dataclass(frozen=True)
class Item:
    """A note, a change by hand or a photo, as it stands in the day."""

    name: str
    """Its anchor: `note-14`, `photo-7`."""
    when: datetime | None
    where: str = ""
    """`note:14, 10:19:12, pocket.m4a at 0:31.0`."""
    words: str = ""
    numbers: Sequence[str] = ()
    """Each number that was said, with what became of it."""
    sound: str = ""
    """Where it is heard; empty where it was typed."""
    changed: bool = False
    """Whether its words can be put right: not of a change by hand, nor of what was taken out."""
    photo: Photo | None = None


def show(request: Request, form: Form) -> Response:
    """The day; what `open` names with all that is known of it, and the means to put it right."""
    asked = request.query_params
    with book(request) as made:
        known = things(made.record)
        return page(
            request, "day.html", job=made.job, hours=_hours(made), things=known, removed=made.removed,
            labels=[each.label for each in known], sounds={}, opened=_opened(made, asked.get("open", "")),
            said=asked.get("said"), at=asked.get("at", ""), undo="undo" in asked, last=last_change(made),
        )  # fmt: skip


def say(request: Request, form: Form) -> Response:
    """Log a typed note; what was understood is read back."""
    name, text = request.path_params["job"], form.get("text", "")
    with library(request) as store:
        moment = jobs.say(store, name, text, form.get("at", "").strip() or None)
        understood = jobs.read_back(store, name, text)
        in_background(store.folder)
        return _back(request, f"noted at {moment:%H:%M:%S}. {understood or ''}")


def put_note_right(request: Request, form: Form) -> Response:
    """Put a note's words right, or take the note out."""
    with library(request) as store:
        with store.writing():  # its number stays its own until the change is logged
            subject = f"note:{_number_of(Book(store, request.path_params['job']), form.get('note', ''))}"
            if form.get("what") == "remove":
                answer = _take_out(request, store, subject)
            else:
                answer = _amend(request, store, subject, "text", form.get("text", "").strip() or "none")
        in_background(store.folder)
        return answer


def put_photo_right(request: Request, form: Form) -> Response:
    """Say what a photo shows, or whether it is from before or after backfill, or take it out."""
    with library(request) as store:
        name, what = request.path_params["job"], form.get("what", "")
        with store.writing():  # its number stays its own until the change is logged
            number = _photo_number(Book(store, name), form)
            if what == "remove":
                answer = _take_out(request, store, f"photo:{number}")
            else:
                answer = _amend(request, store, f"photo:{number}", what, form.get("value", ""))
        in_background(store.folder)
        return answer


def put_back(request: Request, form: Form) -> Response:
    """Put back what was taken out."""
    with library(request) as store:
        words = changes.remove(store, request.path_params["job"], form.get("what", ""), undo=True)
        in_background(store.folder)
        return _back(request, f"back: {words}")


def _amend(request: Request, store: Store, subject: str, field: str, value: str) -> RedirectResponse:
    done = changes.amend(store, request.path_params["job"], subject, field, value)
    return _back(request, done.words, subject, undo="1")


def _take_out(request: Request, store: Store, subject: str) -> RedirectResponse:
    words = changes.remove(store, request.path_params["job"], subject)
    return _back(request, f"removed: {words}", subject if NOTE.fullmatch(subject) else "")  # a photo is gone then


def _back(request: Request, said: str, subject: str = "", **more: str) -> RedirectResponse:
    """To the day, at the note or photo; with `undo` where that can be taken back."""
    where_, name = request.url_for("day", job=request.path_params["job"]), subject.replace(":", "-")
    return RedirectResponse(where_.include_query_params(said=clean(said), at=name, **more).replace(fragment=name), 303)


# -- what stands in it


def _hours(made: Book) -> list[tuple[str, list[Item]]]:
    """All items in order of time, by the hour; last those of no known time."""
    items = sorted(
        [*_notes(made), *_by_hand(made), *_photos(made)], key=lambda each: (each.when is None, each.when or 0)
    )
    return [(hour, list(every)) for hour, every in groupby(items, lambda each: _hour(made, each.when))]


def _hour(made: Book, when: datetime | None) -> str:
    """`14:00`, with its date where that is not the job's day; empty where the time is not known."""
    if when is None:
        return ""
    local = when.astimezone(made.zone)
    return f"{local:%H:00}" if local.date() == made.job.day else f"{day(local.date())} {local:%H:00}"


def _notes(made: Book) -> Iterator[Item]:
    numbers: dict[int, list[str]] = {}
    for each in made.record.numbers:
        numbers.setdefault(each.note, []).append(f"“{clean(each.text)}” {show_one.went(each)}")
    for index, line in enumerate(made.lines):
        yield Item(
            f"note-{index}", line.when, where(made, index), note_words(made, index, line.note), numbers.get(index, ()),
            "" if line.removed else sound_of(made.name, line.note), changed=not (line.removed or line.former),
        )  # fmt: skip


def _by_hand(made: Book) -> Iterator[Item]:
    for index, each in enumerate(made.witnesses, len(made.lines)):
        yield Item(f"note-{index}", each.at, where(made, index), clean(each.text))


def _photos(made: Book) -> Iterator[Item]:
    for each in made.photos:
        yield Item(f"photo-{each.number}", each.taken_at, photo=each)


def _opened(made: Book, name: str) -> dict[str, Any]:
    """What is known of the note or photo of that anchor, and what tells it for ever; an empty name for none."""
    match = OPENED.fullmatch(name)
    if not match:
        return {"name": ""}
    kind, number = match[1], int(match[2])
    blocks = show_one.note(made, number) if kind == "note" else show_one.photo(made, number, on_disk=False)
    line = made.lines[number] if kind == "note" and number < len(made.lines) else None
    found = {"key": _key(line), "text": line.note.text} if line else {}
    return {"name": name, "blocks": list(blocks), **found}


def _key(line: Line) -> str:
    """What tells a note from all others of its job, as it reads now: its number may be another one's by then."""
    return hashlib.sha256(f"{line.mark}|{line.note.start_s}|{line.words}".encode()).hexdigest()[:16]


def _number_of(made: Book, key: str) -> int:
    found = (index for index, line in enumerate(made.lines) if _key(line) == key)
    number = next(found, None)
    if number is None:
        raise UsageError("that note reads otherwise by now; load the day again")
    return number


def _photo_number(made: Book, form: Form) -> int:
    """The photo's number. Raises UsageError where it is not there, or a side of backfill is told of another thing than
    it shows by now."""
    number = made.photo_numbers.get(form.get("photo", ""))
    if number is None:
        raise UsageError(f"{made.name} holds no such photo; load the day again")
    about = next((each.about for each in made.photos if each.number == number), None)
    if form.get("what") == BACKFILL and form.get("about", "") != (about or ""):
        raise UsageError(f"photo:{number} shows something else by now; look at it again")
    return number


ROUTES = [
    ("GET", "/jobs/{job}/day", view(show), "day"),
    ("POST", "/jobs/{job}/day/say", view(say), "say"),
    ("POST", "/jobs/{job}/day/note", view(put_note_right), "note"),
    ("POST", "/jobs/{job}/day/photo", view(put_photo_right), "move"),
    ("POST", "/jobs/{job}/day/back", view(put_back), "back"),
]
