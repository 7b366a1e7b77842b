"""The day: notes and photos by the hour, with what became of each number; a note's words and a photo put right."""

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
from logger.settle import soon
from logger.show import note_words
from logger.store import Store
from logger.subjects import NOTE, PHOTO
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
    """Where it stands in the day."""
    about: Sequence[str] = ()
    """Labels of what it speaks of or shows."""
    words: str = ""
    numbers: Sequence[str] = ()
    """Each number that was said, with what became of it."""
    sound: str = ""
    """Where it is heard; empty where it was typed."""
    changed: bool = False
    """Whether its words can be put right: not of a change by hand, nor of what was taken out."""
    photo: Photo | None = None
    timed: bool = True
    """Whether its own time is known, and not that of its file alone."""

    @property
    def title(self) -> str:
        """`note:14`."""
        return self.name.replace("-", ":")


@dataclass(frozen=True)
class Hour:
    """What was said and photographed within an hour."""

    name: str
    """Its anchor: `hour-20260514T09`."""
    title: str
    """`09:00`, with its date where that is not the job's day; empty where the time is not known."""
    items: list[Item]
    about: list[str]
    """Labels of all that its items are about, in the record's order."""

    @property
    def photos(self) -> int:
        return sum(each.photo is not None for each in self.items)

    @property
    def notes(self) -> int:
        return len(self.items) - self.photos

    def holds(self, name: str) -> bool:
        """Whether that is its anchor, or the one of an item of it."""
        return name in (self.name, *(each.name for each in self.items))


def show(request: Request, form: Form) -> Response:
    """The day; what `open` names with all that is known of it, and the means to put it right. The hour of what `open`
    or `at` names stands open, else the last; a browser opens the one that an anchor leads into."""
    asked = request.query_params
    with book(request) as made:
        known, hours, opened = things(made.record), _hours(made), _opened(made, asked.get("open", ""))
        unfolded = [each.name for each in hours if each.holds(opened["name"]) or each.holds(asked.get("at", ""))]
        return page(
            request, "day.html", job=made.job, hours=hours, unfolded=unfolded or [each.name for each in hours[-1:]],
            things=known, removed=made.removed, labels=[each.label for each in known], sounds={}, opened=opened,
            said=asked.get("said"), at=asked.get("at", "") if unfolded else "", undo="undo" in asked,
            last=last_change(made),
        )  # fmt: skip


def say(request: Request, form: Form) -> Response:
    """Log a typed note; what was understood is read back."""
    name, text = request.path_params["job"], form.get("text", "")
    with library(request) as store:
        moment = jobs.say(store, name, text, form.get("at", "").strip() or None)
        understood = jobs.read_back(store, name, text)
        soon(store.folder)
        return back(request, f"noted at {moment:%H:%M:%S}. {understood or ''}")


def put_note_right(request: Request, form: Form) -> Response:
    """Put a note's words right, or take the note out."""
    with library(request) as store:
        with store.writing():  # its number stays its own until the change is logged
            subject = f"note:{_number_of(Book(store, request.path_params['job']), form.get('note', ''))}"
            if form.get("what") == "remove":
                answer = _take_out(request, store, subject, _anchor(subject))
            else:
                answer = _amend(request, store, subject, "text", form.get("text", "").strip() or "none")
        soon(store.folder)
        return answer


def put_photo_right(request: Request, form: Form) -> Response:
    """Say what a photo shows, or whether it is from before or after backfill, or take it out."""
    with library(request) as store:
        name, what = request.path_params["job"], form.get("what", "")
        with store.writing():  # its number stays its own until the change is logged
            number = _photo_number(made := Book(store, name), form)
            if what == "remove":
                taken = next((each.taken_at for each in made.photos if each.number == number), None)
                answer = _take_out(request, store, f"photo:{number}", _hour(made, taken)[0])
            else:
                answer = _amend(request, store, f"photo:{number}", what, form.get("value", ""))
        soon(store.folder)
        return answer


def put_back(request: Request, form: Form) -> Response:
    """Put back what was taken out."""
    with library(request) as store:
        subject = form.get("what", "")
        words = changes.remove(store, request.path_params["job"], subject, undo=True)
        soon(store.folder)
        return back(request, f"back: {words}", _anchor(subject))


def _amend(request: Request, store: Store, subject: str, field: str, value: str) -> RedirectResponse:
    done = changes.amend(store, request.path_params["job"], subject, field, value)
    return back(request, done.words, _anchor(subject), undo="1")


def _take_out(request: Request, store: Store, subject: str, at: str) -> RedirectResponse:
    words = changes.remove(store, request.path_params["job"], subject)
    return back(request, f"removed: {words}", at)


def _anchor(subject: str) -> str:
    """Of a note or photo in the day, by its name; empty for anything else."""
    return subject.replace(":", "-") if NOTE.fullmatch(subject) or PHOTO.fullmatch(subject) else ""


def back(request: Request, said: str, at: str = "", **more: str) -> RedirectResponse:
    """To the day, at that anchor, which says what was done; with `undo` where that can be taken back."""
    where = request.url_for("day", job=request.path_params["job"])
    return RedirectResponse(where.include_query_params(said=clean(said), at=at, **more).replace(fragment=at), 303)


# -- what stands in it


def _hours(made: Book) -> list[Hour]:
    """All items in order of time, by the hour; last those of no known time."""
    items = sorted(
        [*_notes(made), *_by_hand(made), *_photos(made)], key=lambda each: (each.when is None, each.when or 0)
    )
    known = [each.label for each in things(made.record)]
    found = []
    for (name, title), group in groupby(items, lambda each: _hour(made, each.when)):
        within = list(group)
        about = {label for each in within for label in each.about}
        found.append(Hour(name, title, within, [label for label in known if label in about]))
    return found


def _hour(made: Book, when: datetime | None) -> tuple[str, str]:
    """The anchor and the title of the hour that a time lies in."""
    if when is None:
        return "hour-unknown", ""
    local = when.astimezone(made.zone)
    title = f"{local:%H:00}" if local.date() == made.job.day else f"{day(local.date())} {local:%H:00}"
    return f"hour-{local:%Y%m%dT%H}", title


def _notes(made: Book) -> Iterator[Item]:
    numbers: dict[int, list[str]] = {}
    for number in made.record.numbers:
        numbers.setdefault(number.note, []).append(f"“{clean(number.text)}” {show_one.went(number)}")
    about = {each.note: each.labels for each in made.spoken}
    for index, line in enumerate(made.lines):
        yield Item(
            f"note-{index}", line.when, about.get(index, ()), note_words(made, index, line.note),
            numbers.get(index, ()), "" if line.removed else sound_of(made.name, line.note),
            changed=not (line.removed or line.former), timed=line.note.at is not None,
        )  # fmt: skip


def _by_hand(made: Book) -> Iterator[Item]:
    for index, each in enumerate(made.witnesses, len(made.lines)):
        yield Item(f"note-{index}", each.at, words=clean(each.text))


def _photos(made: Book) -> Iterator[Item]:
    for each in made.photos:
        yield Item(f"photo-{each.number}", each.taken_at, [each.about] if each.about else [], photo=each)


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
