"""What a crew can do with the library: what the commands, and any page to come, call. They hold no logic themselves."""

from __future__ import annotations

import json
import math
import re
from collections.abc import Callable, Iterable, Iterator
from datetime import UTC, date, datetime
from pathlib import Path
from typing import Any

from platformdirs import user_data_path
from pydantic import ValidationError

from extract.amend import Amendment, checked
from extract.errors import FallbookError, UsageError
from extract.record import Finding, Note, Record, Run, Structure
from logger import intake
from logger.book import Book
from logger.intake import Hearing, Progress, Result
from logger.search import Hit
from logger.store import Store, read_company
from logger.times import machine_zone, timezone_of, typed_moment
from reports.job import Closeout, Job, Photo
from reports.words import things

NAME = re.compile(r"[A-Za-z0-9][A-Za-z0-9-]{0,59}")
NOTE = re.compile(r"note:(\d{1,6})", re.I)


def library_folder() -> Path:
    """Where the library lies when nobody says otherwise: this user's data folder."""
    return user_data_path("fallbook", appauthor=False)


# -- writing


def new(
    store: Store,
    name: str,
    *,
    client: str,
    address: str,
    company: str,
    day: date | None = None,
    zone: str | None = None,
) -> Job:
    """Start a job. `company` is the company file's path (`-` reads standard input), copied into the job.

    Raises UsageError where a name, a zone or the company file is off, FallbookError where the name is taken.
    """
    if not NAME.fullmatch(name):
        raise UsageError(f"{name!r} cannot name a job; use letters, digits and dashes, at most 60")
    for what, words in (("client", client), ("address", address)):
        if not words.strip():
            raise UsageError(f"the {what} is empty; say it with --{what}")
    text = _company_text(company)
    day = day or date.today()
    zone = zone or machine_zone(day)
    timezone_of(zone)
    job = Job(name=name, client=client, address=address, day=day, zone=zone, company=read_company(text, company))
    _check_policy(job, company)
    store.add_job(job, text)
    return job


def _company_text(company: str) -> str:
    try:
        return intake.read_file(company).decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise UsageError(f"{company}: not a company file in TOML, which is UTF-8 text") from error


def _check_policy(job: Job, company: str) -> None:
    from extract.check.policy import load_policy

    try:
        load_policy(job.company.policy)
    except UsageError as error:
        raise UsageError(f"{company}: policy: {error}") from error


def take(
    store: Store,
    name: str,
    paths: Iterable[Path],
    *,
    listening: Callable[[str], Progress],
    model: str | None = None,
    hearing: Hearing | None = None,
) -> Iterator[Result]:
    """Take files and folders into a job and hear its sound; one Result a file as it happens (see `intake.take`)."""
    if hearing is None:
        from logger import speech

        hearing = speech
    store.job(name)
    return intake.take(store, name, paths, hearing, listening, model)


def say(store: Store, name: str, text: str, at: str | None = None) -> Note:
    """Log one typed note, now or `at` a time as typed. Raises UsageError where it is empty."""
    job = store.job(name)
    zone = timezone_of(job.zone)
    if not text.strip():
        raise UsageError("the note is empty; write what there is to say")
    moment = typed_moment(at, job.day, zone) if at else datetime.now(zone).replace(microsecond=0)
    store.append(name, "said", {"text": text.strip(), "at": moment.isoformat()}, datetime.now(UTC))
    return Note(text=text.strip(), at=moment)


def amend(store: Store, name: str, subject: str, field: str, value: str) -> tuple[Amendment, str | None]:
    """Log a person's correction of a record's field or of a note's words (`note:14`, field `text`).

    The value `none` empties it. A word of doubt comes with it where a yard could hardly hold that value.
    Raises UsageError where the subject or field is not there or the value does not fit.
    """
    book = Book(store, name)
    match = NOTE.fullmatch(subject)
    amendment = _amend_note(book, int(match[1]), field, value) if match else _amend_record(book, subject, field, value)
    store.append(name, "amendment", amendment.model_dump(mode="json"), datetime.now(UTC))
    return amendment, _doubt(amendment)


def _doubt(amendment: Amendment) -> str | None:
    from extract.site import plausible

    if amendment.value is None or amendment.subject == "note" or plausible(amendment.field, amendment.value):
        return None
    value = f"{amendment.subject} {amendment.field} {amendment.value}"
    return f"{value} is hardly what a yard could hold; amend it again if it was a slip"


def _amend_note(book: Book, index: int, field: str, value: str) -> Amendment:
    if index >= len(book.lines):
        raise UsageError(f"no note:{index} in {book.job.name}; its notes go from 0 to {len(book.lines) - 1}")
    if field != "text":
        raise UsageError(f"of a note only its text can be amended, not {field}")
    line = book.lines[index]
    return Amendment(
        subject="note",
        field="text",
        value=None if value.lower() == "none" else value,
        at=_now(book),
        note_source=line.mark,
        note_start_s=line.note.start_s,
    )


def _amend_record(book: Book, subject: str, field: str, value: str) -> Amendment:
    entry = book.record.subject(subject.upper())
    if entry is None:
        labels = ", ".join(each.label for each in things(book.record))
        raise UsageError(f"no {subject} in {book.job.name}; there are: {labels or 'none yet'}")
    amendment = Amendment(subject=entry.label, field=field, value=_value(entry, field, value), at=_now(book))
    book.amended_record((amendment,))
    return amendment


def _value(entry: Structure | Run, field: str, text: str) -> Any:
    """What was typed, as that field holds it: a number, a list such as 12x12, JSON, or words."""
    if text.lower() == "none":
        return None
    name = "from_" if field == "from" else field
    value = _parsed(text)
    try:
        held = checked(entry, name, value)
    except UsageError:
        value = text
        held = checked(entry, name, value)
    if any(
        isinstance(each, float) and not math.isfinite(each) for each in (held if isinstance(held, list) else [held])
    ):
        raise UsageError(f"{entry.label} {field} cannot be {text}; give a number")
    return value


def _parsed(text: str) -> Any:
    try:
        value = json.loads(re.sub(r"^([\d.]+)\s*[xX]\s*([\d.]+)$", r"[\1, \2]", text))
    except ValueError:
        return text
    return text if isinstance(value, bool) else value


def _now(book: Book) -> datetime:
    return datetime.now(book.zone).replace(microsecond=0)


# -- reading


def notes(store: Store, name: str) -> list[Note]:
    """All notes of a job, in order of time."""
    return Book(store, name).notes


def record(store: Store, name: str) -> Record:
    """The job's record, amendments applied."""
    return Book(store, name).record


def findings(store: Store, name: str) -> list[Finding]:
    """What the check module says of the job's record, under the firm's own policy."""
    return Book(store, name).findings


def photos(store: Store, name: str) -> list[Photo]:
    """The job's photos, numbered and matched."""
    return Book(store, name).photos


def closeout(store: Store, name: str) -> Closeout:
    """All that a report of the job is made from, as of today."""
    return Book(store, name).closeout(date.today())


def report(store: Store, name: str, path: Path) -> tuple[list[Path], Closeout]:
    """Write the close-out report at `path` and its drawings beside it; all paths written, and what it was made from."""
    from reports.closeout import write_closeout

    made_from = closeout(store, name)
    return write_closeout(made_from, path), made_from


def find(store: Store, words: str) -> list[Hit]:
    """Where those words stand in any job's notes, record or address. Raises UsageError for no words."""
    from logger import search

    if not re.search(r"\w", words):
        raise UsageError("nothing to find; give a word or two")
    return search.find(store, words)


# -- without a library


def hear_files(
    paths: Iterable[str],
    *,
    listening: Callable[[str], Progress],
    model: str | None = None,
    hearing: Hearing | None = None,
) -> Iterator[tuple[str, list[Note] | FallbookError]]:
    """Each sound's notes, or what is wrong with it; `-` is standard input."""
    if hearing is None:
        from logger import speech

        hearing = speech
    for path in paths:
        try:
            with intake.on_disk(path) as sound:
                yield path, hearing.hear(sound, model=model, progress=listening(path))
        except FallbookError as error:
            yield path, error


def check_file(path: str) -> list[Finding]:
    """The findings on a record in a JSON file (`-` is standard input). Raises FallbookError where it holds none."""
    from extract.check import check

    try:
        shape = Record.model_validate_json(intake.read_file(path))
    except ValidationError as error:
        first = error.errors()[0]
        field = ".".join(map(str, first["loc"]))
        at = f"{field}: " if field else ""
        raise FallbookError(
            f"{path}: not a record: {at}{first['msg']}; write one with: fallbook extract --json"
        ) from error
    return check(shape)
