"""What a crew can do with the library: what the commands, and any page to come, call. They hold no logic themselves."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Iterator
from datetime import UTC, date, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any

from extract.errors import FallbookError, UsageError
from logger.clean import written

if TYPE_CHECKING:
    from extract.record import Language
    from logger.book import Book
    from logger.hearing import Hearing, Progress, Result
    from logger.search import Found
    from logger.store import Store
    from reports.canvas import Drawing
    from reports.closeout import Reader
    from reports.job import Closeout, Company, Job

NAME = re.compile(r"[A-Za-z0-9][A-Za-z0-9-]{0,59}")


# -- writing


def new(
    store: Store,
    name: str,
    *,
    client: str | None = None,
    address: str | None = None,
    company: str | None = None,
    day: date | None = None,
    zone: str | None = None,
    callback_of: str | None = None,
) -> Job:
    """Start a job. `company` is the company file's path (`-` reads standard input), copied into the job. For a visit to
    the job `callback_of`, all but the day comes from that one where it is not given.

    Raises UsageError where a name, a zone or the company file is off, FallbookError where the name is taken or the job
    to visit is not there.
    """
    from logger.times import machine_zone, timezone_of
    from reports.job import Job

    if not NAME.fullmatch(name):
        raise UsageError(f"{name!r} cannot name a job; use letters, digits and dashes, at most 60")
    old = store.job_row(callback_of) if callback_of else {}
    day = day or today("or give the day of the work with --day")
    given = {"client": client, "address": address, "zone": zone}
    told = old | {what: words for what, words in given.items() if words is not None}
    for what in ("client", "address"):
        if not written(f"the {what}", told.get(what, "")):
            raise UsageError(f"the {what} is empty; say it with --{what}")
    told["zone"] = told.get("zone") or machine_zone(day)
    timezone_of(told["zone"])
    firm, text = _firm(company, old)
    facts = {what: told[what] for what in given}
    job = Job(name=name, day=day, company=firm, callback_of=callback_of or "", **facts)
    with store.writing():
        store.add_job(job, text)
        if callback_of:
            _link(store, name, callback_of)
    return job


def _firm(company: str | None, old: dict[str, Any]) -> tuple[Company, str]:
    """The firm and the text of its company file: that of the old job where none is given."""
    from logger.company import company_file, read_company, with_logo

    if company is None and old:
        return read_company(old["company"], old["name"]), old["company"]
    path = company or "-"
    return with_logo(*company_file(path), path)


def _link(store: Store, visit: str, old: str) -> None:
    """Log that a job is a visit to an old one."""
    from extract.amend import Amendment
    from logger.job_facts import SUBJECT

    link = Amendment(subject=SUBJECT, field="callback_of", value=old)
    store.append(visit, "amendment", link.model_dump(mode="json", exclude_none=True), datetime.now(UTC))


def today(else_do: str = "and run it again") -> date:
    """Raises UsageError where this computer's clock cannot be right."""
    from logger.times import in_range

    now = datetime.now(UTC)
    if not in_range(now):
        raise UsageError(f"this computer's clock says {now:%Y-%m-%d}; set it, {else_do}")
    return date.today()


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
    from logger import intake

    if hearing is None:
        from logger import speech

        hearing = speech
    before = {entry.id for entry in store.entries(store.job(name).name)}
    return _taken(store, name, before, intake.take(store, name, paths, hearing, listening, model, language))


def _taken(store: Store, name: str, before: set[int], results: Iterator[Result]) -> Iterator[Result]:
    from logger.book import Book
    from logger.hearing import Result
    from logger.times import MODIFIED
    from reports import words as paper_words

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
            f"{paper_words.day(book.job.day)}; if the job's day is wrong, {_start_again('--day')}",
        )
    zones = book.camera_zones
    if zones and book.job.zone not in zones and any(line.entry.kind == "photo" for line in new):
        zone, count = zones.most_common(1)[0]
        yield Result(
            "warning",
            f"{count} photo{'s say' if count > 1 else ' says'} that the clock stood at UTC{zone}, the job at "
            f"UTC{book.job.zone}; if that is wrong, {_start_again(f'--zone={zone}')}",
        )


def _start_again(option: str) -> str:
    return f"start another job with {option}, take the files into it and remove this one"


def say(store: Store, name: str, text: str, at: str | None = None) -> datetime:
    """Log one typed note, now or `at` a time as typed; when that is. Raises UsageError where it is empty."""
    from logger.times import timezone_of, typed_moment

    job = store.job_row(name)
    zone = timezone_of(job["zone"])
    text = written("the note", text)
    if not text:
        raise UsageError("the note is empty; write what there is to say")
    day = date.fromisoformat(job["day"])
    moment = typed_moment(at, day, zone) if at else datetime.now(zone).replace(microsecond=0)
    store.append(name, "said", {"text": text, "at": moment.isoformat()}, datetime.now(UTC))
    return moment


def say_once(store: Store, name: str, text: str, at: datetime | None) -> int | None:
    """The same for a note that a page may send twice: the ID of its entry; None where the log holds those words of that
    moment."""
    with store.writing():
        typed = [entry.body for entry in store.entries(name) if entry.kind == "said"]
        if at and any(each["text"] == text and datetime.fromisoformat(each["at"]) == at for each in typed):
            return None
        say(store, name, text, at.isoformat() if at else None)
        return store.entries(name)[-1].id


def read_back(store: Store, name: str, text: str) -> str | None:
    """What a note that was just typed was understood to say, in one line; None where there is nothing to tell."""
    from logger.read_back import read_back as line

    try:
        return line(store, name, written("the note", text))
    except Exception:  # the note is kept; whatever the reading met is told when the job is asked for
        return None


def settle(store: Store, name: str) -> Book | None:
    """Work out what is asked of a job most, once something in it has changed: its record, whether its runs may be
    covered, and what a search finds. A job that cannot be read says so when it is asked for, and None here."""
    from logger import ready, search
    from logger.book import Book

    try:
        book = Book(store, name)
        book.keep()
        ready.work_out(store, book)
        search.index(store, name, book)
    except Exception:  # whatever it is, it is this job's, and told when the job is asked for
        return None
    return book


# -- reading


def amiss(store: Store, name: str) -> list[str]:
    """What is amiss with a job's files and clock, a line each, as in `Book.problems` and `Book.remarks`; its record is
    not made for that. Raises FallbookError where there is no such job, or its log is damaged."""
    from logger.entries import Entries

    job = Entries(store, name)
    if job.notes_removed:  # whether those read as they did is known from all notes alone
        from logger.book import Book

        job = Book(store, name)
    return [*job.problems, *job.remarks]


def report(
    store: Store,
    name: str,
    path: Path,
    *,
    reader: Reader = "client",
    draft: bool = False,
    language: Language | None = None,
    pdf: bool = False,
) -> tuple[list[Path], Closeout, list[str]]:
    """Write the report for that reader at `path` and its drawings beside it, where it is wanted a PDF of it too; for
    the client, unless it is a draft, a calendar of care and warranty. `language` None is the one that the firm's
    clients read; a record is in English. What an earlier report of that name left beside it goes, once all is made.

    Returns all paths written, what the report was made from, and what is amiss with the job's files. Raises
    NotSettledError where questions or failed checks stand in the way of what a client is shown, unless it is a draft;
    UsageError for a record in another language.
    """
    from logger.book import Book
    from logger.intake import shown as shown_path
    from reports.closeout import prepare, shown, write_closeout
    from reports.ics import calendar
    from reports.settled import LOCATED, SHOWN, NotSettledError, unsettled

    if path.suffix.lower() != ".docx":
        raise UsageError(f"{shown_path(path)}: the report is a Word document; give a name that ends in .docx")
    if not path.parent.is_dir():
        raise FallbookError(f"{shown_path(path.parent)}: no such folder; make the folder first")
    if reader == "record" and language not in (None, "en"):
        raise UsageError("the record is written in English alone; leave --language out, or ask --for client or locate")
    if pdf:
        from logger.pdf import converter

        converter()  # which says what to install, before there is half of what was asked for
    book = Book(store, name)
    written_in = "en" if reader == "record" else language or book.job.company.language
    fields = LOCATED if reader == "locate" else SHOWN
    listed_in = written_in if draft else "en"  # in the draft itself, or by the command that refuses
    open_points = unsettled(book.bare(today(), listed_in), fields) if reader != "record" else []
    if open_points and not draft:
        book.keep()
        raise NotSettledError(name, open_points, "the locate sheet" if reader == "locate" else "the client's copy")
    drawings: list[Drawing] = []
    if reader == "locate":  # which shows no photo
        made_from = book.bare(today(), written_in)
    else:
        made_from = book.closeout(
            today(), lambda bare: drawings.extend(prepare(shown(bare, reader), reader)), written_in
        )

    def beside(document: bytes) -> dict[str, bytes]:
        made = {".pdf": _pdf(document, path)} if pdf else {}
        return made | ({"-care.ics": calendar(made_from)} if reader == "client" and not open_points else {})

    paths = write_closeout(made_from, path, drawings or None, reader=reader, unsettled=open_points, beside=beside)
    book.keep()
    return paths, made_from, [*book.problems, *book.remarks]


def export(store: Store, name: str, folder: Path) -> tuple[list[Path], list[str], list[str]]:
    """Write the record into `folder` in open formats: tables, the record itself with its schema, and drawings and
    places where these are known. What an earlier export left there is replaced.

    Returns all paths written, a line for each thing that was not written and why, and what is amiss with the job's
    files. Raises FallbookError where the folder cannot be written; then what lay there stays.
    """
    from logger.book import Book
    from logger.intake import shown as shown_path
    from reports.export import SOMETIMES, export_of
    from reports.scratch import write_together

    if not folder.absolute().parent.is_dir():
        raise FallbookError(f"{shown_path(folder.parent)}: no such folder; make the folder first")
    if folder.exists() and not folder.is_dir():
        raise FallbookError(f"{shown_path(folder)}: a file; name a folder with -o")
    book = Book(store, name)
    made = export_of(book.bare(today()))
    try:
        write_together(folder, made.files, SOMETIMES)
    except OSError as error:
        why = error.strerror or error
        raise FallbookError(
            f"{shown_path(folder)}: cannot be written ({why}); make room, close its files, or choose another folder"
        ) from error
    book.keep()
    return [folder / each for each in made.files], made.lines, [*book.problems, *book.remarks]


def _pdf(document: bytes, report: Path) -> bytes:
    """Raises FallbookError where it cannot be made."""
    from logger.pdf import as_pdf

    try:
        return as_pdf(document, report)
    except OSError as error:
        raise FallbookError(f"{report}: no PDF can be made of it ({error.strerror or error}); make room") from error


def find(store: Store, words: str) -> Found:
    """Where those words stand in any job's notes, record or address. Raises UsageError for no words."""
    from logger import search

    if not re.search(r"\w", written("the search", words)):
        raise UsageError("nothing to find; give a word or two")
    return search.find(store, words)
