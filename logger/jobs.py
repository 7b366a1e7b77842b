"""What a crew can do with the library: what the commands, and any page to come, call. They hold no logic themselves."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Iterator
from datetime import UTC, date, datetime
from pathlib import Path

from pydantic import ValidationError

from extract.amend import Amendment
from extract.check.runoff import Storm
from extract.errors import FallbookError, UsageError
from extract.record import Finding, Language, Note, Record, Run, Structure
from logger import intake
from logger.book import Book
from logger.company import read_company
from logger.hearing import Hearing, Progress, Result
from logger.lines import Line
from logger.removal import Removed, standing
from logger.search import Found
from logger.store import LogEntry, Store
from logger.times import MODIFIED, in_range, machine_zone, timezone_of, typed_moment
from logger.typed import typed_value, written
from logger.wrong import first_wrong
from reports import words as paper_words
from reports.job import Closeout, Company, Job, Photo
from reports.words import things

NAME = re.compile(r"[A-Za-z0-9][A-Za-z0-9-]{0,59}")
NOTE = re.compile(r"note:(\d{1,6})", re.I)
PHOTO = re.compile(r"photo:(\d{1,6})", re.I)
FILE = re.compile(r"file:(.+)", re.I)


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
        if not written(f"the {what}", words):
            raise UsageError(f"the {what} is empty; say it with --{what}")
    firm, text = _company(company)
    day = day or _today()
    zone = zone or machine_zone(day)
    timezone_of(zone)
    job = Job(name=name, client=client, address=address, day=day, zone=zone, company=firm)
    store.add_job(job, text)
    return job


def _today() -> date:
    """Raises UsageError where this computer's clock cannot be right."""
    now = datetime.now(UTC)
    if not in_range(now):
        raise UsageError(f"this computer's clock says {now:%Y-%m-%d}; set it, or give the day of the work with --day")
    return date.today()


def _company(path: str) -> tuple[Company, str]:
    """A company file and its text. Raises UsageError where it is none, or overrides a limit that there is not."""
    from extract.check.policy import load_policy

    try:
        text = intake.read_file(path).decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise UsageError(f"{path}: not a company file in TOML, which is UTF-8 text") from error
    firm = read_company(text, path)
    try:
        load_policy(firm.policy)
    except UsageError as error:
        raise UsageError(f"{path}: policy: {error}") from error
    return firm, text


def take(
    store: Store,
    name: str,
    paths: Iterable[Path],
    *,
    listening: Callable[[str], Progress],
    model: str | None = None,
    language: Language | None = None,
    hearing: Hearing | None = None,
) -> Iterator[Result]:
    """Take files and folders into a job and hear its sound; one Result a file as it happens (see `intake.take`)."""
    if hearing is None:
        from logger import speech

        hearing = speech
    before = {entry.id for entry in store.entries(store.job(name).name)}
    return _taken(store, name, before, intake.take(store, name, paths, hearing, listening, model, language))


def _taken(store: Store, name: str, before: set[int], results: Iterator[Result]) -> Iterator[Result]:
    yield from results
    book = Book(store, name)
    # The time of a file itself says when it was copied, as often as not, and is no reason to doubt the job's day.
    new = [line for line in book.files if line.entry.id not in before and not line.when.source.startswith(MODIFIED)]
    days = sorted({line.when.at.date() for line in new if line.when.at.date() != book.job.day})
    if days:
        apart = sum(line.when.at.date() != book.job.day for line in new)
        which = "these files are" if apart == len(new) else f"{apart} of these {len(new)} files are"
        yield Result(
            "warning",
            f"{which} of {paper_words.joined(map(paper_words.day, days))}, the job is of "
            f"{paper_words.day(book.job.day)}; if the job's day is wrong, make it anew with --day",
        )
    zones = book.camera_zones
    if zones and book.job.zone not in zones and any(line.entry.kind == "photo" for line in new):
        zone, count = zones.most_common(1)[0]
        yield Result(
            "warning",
            f"{count} photo{'s say' if count > 1 else ' says'} that the clock stood at UTC{zone}, the job at "
            f"UTC{book.job.zone}; if the job's zone is wrong, its times are, so make it anew with --zone={zone}",
        )


def say(store: Store, name: str, text: str, at: str | None = None) -> Note:
    """Log one typed note, now or `at` a time as typed. Raises UsageError where it is empty."""
    job = store.job(name)
    zone = timezone_of(job.zone)
    text = written("the note", text)
    if not text:
        raise UsageError("the note is empty; write what there is to say")
    moment = typed_moment(at, job.day, zone) if at else datetime.now(zone).replace(microsecond=0)
    store.append(name, "said", {"text": text, "at": moment.isoformat()}, datetime.now(UTC))
    return Note(text=text, at=moment)


def amend(store: Store, name: str, subject: str, field: str, value: str) -> tuple[Amendment, str | None]:
    """Log a person's correction of a record's field or of a note's words (`note:14`, field `text`).

    The value `none` empties it. What stood there before comes with it, in words; None where nothing did. It is kept
    with the notes and words that it was given for.
    Raises UsageError where the subject or field is not there, or the value does not fit or is no yard's.
    """
    book = Book(store, name)
    match = NOTE.fullmatch(subject)
    amend_it = _amend_record if match is None else _amend_note
    amendment, before = amend_it(book, match[1] if match else subject, field, written("the value", value))
    store.append(name, "amendment", amendment.model_dump(mode="json", exclude_none=True), datetime.now(UTC))
    return amendment, before


def _amend_note(book: Book, number: str, field: str, value: str) -> tuple[Amendment, str | None]:
    line = _line(book, int(number))
    if field != "text":
        raise UsageError(f"of a note only its text can be amended, not {written('the field', field)}")
    amendment = Amendment(
        subject="note",
        field="text",
        value=None if value.lower() == "none" else value,
        at=_now(book),
        note_source=line.mark,
        note_start_s=line.note.start_s,
        note_words=line.words,
    )
    return amendment, line.note.text or None


def _line(book: Book, index: int) -> Line:
    """A note that stands. Raises UsageError where there is none of that number, or it was removed."""
    if index >= len(book.lines):
        raise UsageError(f"no note:{index} in {book.job.name}; its notes go from 0 to {len(book.lines) - 1}")
    line = book.lines[index]
    if line.removed:
        raise UsageError(
            f"note:{index} was removed; put it back with: fallbook remove {book.job.name} note:{index} --undo"
        )
    return line


def _amend_record(book: Book, subject: str, field: str, value: str) -> tuple[Amendment, str | None]:
    entry = _thing(book, subject)
    held = typed_value(book.record, entry, field, value)
    amendment = book.anchored(Amendment(subject=entry.label, field=field, value=held, at=_now(book)))
    from logger.show import fields

    return amendment, dict(fields(entry)).get(field)


def _thing(book: Book, subject: str) -> Structure | Run:
    entry = book.record.subject(subject.upper())
    if entry is None:
        labels = ", ".join(each.label for each in things(book.record))
        raise UsageError(f"no {subject} in {book.job.name}; there are: {labels or 'none yet'}")
    return entry


def _now(book: Book) -> datetime:
    return datetime.now(book.zone).replace(microsecond=0)


def settle(store: Store, name: str) -> Book | None:
    """Work out what is asked of a job most, once something in it has changed: its record, whether its runs may be
    covered, and what a search finds. A job that cannot be read says so when it is asked for, and None here."""
    from logger import ready, search

    try:
        book = Book(store, name)
        book.keep()
        ready.work_out(store, book)
        search.index(store, name, book)
    except FallbookError:
        return None
    return book


# -- taking out


def remove(store: Store, name: str, what: str | None = None, *, undo: bool = False) -> str:
    """Log that a job (no `what`), or `R-2`, `note:14`, `photo:7`, `file:NAME` of it, was taken out, or put back.

    Nothing is deleted: see `logger.verify.prune`. Returns what was removed, in words.
    Raises UsageError where there is no such thing, or it was not removed.
    """
    book = Book(store, name, removed=True)
    removed, words = _put_back(book, what) if undo else _take_out(book, what)
    removed = removed.model_copy(update={"at": _now(book), "undone": undo})
    store.append(name, "removal", removed.model_dump(mode="json", exclude_none=True), datetime.now(UTC))
    return words


def _take_out(book: Book, what: str | None) -> tuple[Removed, str]:
    name = book.job.name
    if what is None:
        book.store.job(name)  # which says so where it is removed already
        return Removed(what="job", name=name), name
    if match := NOTE.fullmatch(what):
        line = _line(book, int(match[1]))
        return _of_line(line), f"{what}, {line.note.text!r}"
    if match := PHOTO.fullmatch(what):
        photo = next((each for each in book.photos if each.number == int(match[1])), None)
        if photo is None:
            raise UsageError(f"no {what} in {name}; its photos are listed by: fallbook show {name}")
        return Removed(what="file", name=photo.sha256), f"{what}, {photo.name}"
    if match := FILE.fullmatch(what):
        entry = _file(book, match[1])
        return Removed(what="file", name=entry.sha256), entry.name
    label = _thing(book, what).label
    return Removed(what="thing", name=label, **book.anchor(label)), label


def _of_line(line: Line) -> Removed:
    return Removed(what="note", name=line.mark, start_s=line.note.start_s, words=line.words)


def _file(book: Book, name: str) -> LogEntry:
    """A file of the job by its name or the first characters of its SHA-256."""
    files = [entry for entry in book.log if entry.sha256]
    found = [entry for entry in files if entry.name == name or (len(name) >= 8 and entry.sha256.startswith(name))]
    if len(found) != 1:
        ways = ", ".join(f"file:{entry.sha256[:12]}" for entry in found)
        told = f"{len(found)} files are called {name}; say which: {ways}" if found else f"no file {name}"
        raise UsageError(f"{told} in {book.job.name}; its files are listed by: fallbook show {book.job.name}")
    return found[0]


def _put_back(book: Book, what: str | None) -> tuple[Removed, str]:
    known = [removed for _, removed in standing(book.log).values()]
    for removed in known:
        if _is_meant(book, removed, what):
            return removed, what or book.job.name
    raise UsageError(f"{what or book.job.name} was not removed from the {'job' if what else 'library'}")


def _is_meant(book: Book, removed: Removed, what: str | None) -> bool:
    if what is None:
        return removed.what == "job"
    if match := NOTE.fullmatch(what):
        line = book.lines[int(match[1])] if int(match[1]) < len(book.lines) else None
        return line is not None and removed.key == ("note", line.mark, line.note.start_s)
    if match := PHOTO.fullmatch(what):
        return removed.what == "file" and book.photo_numbers.get(removed.name) == int(match[1])
    if match := FILE.fullmatch(what):
        return removed.what == "file" and removed.name == _file(book, match[1]).sha256
    return removed.what == "thing" and removed.name == what.upper()


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


def report(store: Store, name: str, path: Path) -> tuple[list[Path], Closeout, list[str]]:
    """Write the close-out report at `path` and its drawings beside it.

    Returns all paths written, what the report was made from, and what is amiss with the job's files.
    """
    from reports.closeout import write_closeout

    if path.suffix.lower() != ".docx":
        raise UsageError(f"{intake.shown(path)}: the report is a Word document; give a name that ends in .docx")
    if not path.parent.is_dir():
        raise FallbookError(f"{intake.shown(path.parent)}: no such folder; make the folder first")
    book = Book(store, name)
    made_from = book.closeout(_today())
    paths = write_closeout(made_from, path)
    book.keep()
    return paths, made_from, book.problems


def find(store: Store, words: str) -> Found:
    """Where those words stand in any job's notes, record or address. Raises UsageError for no words."""
    from logger import search

    if not re.search(r"\w", written("the search", words)):
        raise UsageError("nothing to find; give a word or two")
    return search.find(store, words)


# -- without a library


def hear_files(
    paths: Iterable[str],
    *,
    listening: Callable[[str], Progress],
    model: str | None = None,
    language: Language | None = None,
    hearing: Hearing | None = None,
) -> Iterator[tuple[str, list[Note] | FallbookError]]:
    """Each sound's notes, or what is wrong with it; `-` is standard input."""
    if hearing is None:
        from logger import speech

        hearing = speech
    for path in paths:
        try:
            with intake.on_disk(path) as sound:
                yield path, hearing.hear(sound, model=model, language=language, progress=listening(path))
        except FallbookError as error:
            yield path, error


def check_file(path: str, storm_in_h: str | None = None, company: str | None = None) -> list[Finding]:
    """The findings on a record in a JSON file (`-` is standard input), under a storm of so many inches an hour.

    A company file lends its limits, and its storm where none is given. Raises FallbookError where the file holds no
    record, UsageError for a storm that cannot be or a company file that is off.
    """
    from extract.check import check

    firm = None if company is None else _company(company)[0]
    storm = storm_of(storm_in_h) if storm_in_h is not None else firm.storm if firm else None
    try:
        shape = Record.model_validate_json(intake.read_file(path))
    except ValidationError as error:
        _, _, wrong = first_wrong(error)
        raise FallbookError(f"{path} is no record: {wrong}; write one with: fallbook extract --json") from error
    return check(shape, firm.policy if firm else None, storm=storm)


def storm_of(intensity_in_h: str) -> Storm:
    """A storm typed as inches an hour. Raises UsageError for one that cannot be."""
    try:
        return Storm(intensity_in_h=float(intensity_in_h))
    except ValueError as error:  # a ValidationError is one too
        raise UsageError(
            f"--storm cannot be {intensity_in_h}; it is the design rainfall in inches an hour, above 0 and up to 30"
        ) from error
