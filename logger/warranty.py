"""What warranties of all jobs are in force, lapse or are due for care: from the rows of the jobs alone.

No book is loaded and no note read, so that a library of thousands of jobs answers while a client is on the phone.
"""

from __future__ import annotations

import re
import tomllib
import unicodedata
from collections.abc import Callable, Iterator
from contextlib import suppress
from dataclasses import dataclass, field, replace
from datetime import date, timedelta
from functools import cache
from importlib.resources import files
from typing import TYPE_CHECKING, Any

from pydantic import ValidationError

from extract.errors import FallbookError, UsageError
from logger.company import read_company
from logger.tables import Block, Table
from logger.wrong import first_wrong
from reports import care, words
from reports.job import Company, Job
from reports.warranty import Span, added_span, span, visit_told

if TYPE_CHECKING:
    from logger.store import Store

WORD = re.compile(r"\w+")


@dataclass(frozen=True)
class Standing:
    """How one warranty stands on a day."""

    job: Job
    what: str
    """`warranty`; `new work of a visit` where that has a term of its own; `visit` where it has none."""
    span: Span
    """Of a visit, the term of the first job that it leads back to."""
    on: date
    told: list[str] = field(default_factory=list)
    """Of a visit: whether its day falls under that term, and why."""
    due: list[tuple[date, str]] = field(default_factory=list)
    """What comes within the days that were asked about, in order of time."""

    @property
    def days_left(self) -> int:
        """To the last day; negative once that is past."""
        return (self.span.end - self.on).days

    @property
    def left(self) -> str:
        """The same in words."""
        if self.on < self.span.start:
            return f"starts in {_days((self.span.start - self.on).days)}"
        if self.days_left == 0:
            return "this is the last day"
        return _days(self.days_left) if self.days_left > 0 else f"ended {_days(-self.days_left)} ago"

    @property
    def shape(self) -> dict[str, Any]:
        """As JSON can hold it."""
        job, said = self.job, self.job.company.warranty
        return {
            "job": job.name,
            "client": job.client,
            "address": job.address,
            "what": self.what,
            "callback_of": job.callback_of or None,
            "start": self.span.start.isoformat(),
            "end": self.span.end.isoformat(),
            "in_force": self.span.covers(self.on),
            "days_left": self.days_left,
            "how_to_claim": said.how_to_claim,
            "respond_days": said.respond_days,
            "told": self.told,
            "due": [{"day": day.isoformat(), "what": what} for day, what in self.due],
        }


def standings(
    store: Store, on: date, address: str | None = None, within: int | None = None
) -> tuple[list[Standing], list[str]]:
    """The warranties in force on that day, the first to end first; or, where an `address` is given, all at it, ended
    ones and visits too. With `within`, only those that lapse or are due for care in so many days from `on`, the first
    to come first.

    A job that cannot be read costs itself: a line each comes back beside them. Raises UsageError for an address without
    a word in it.
    """
    jobs, lines = _jobs(store)
    there = _matcher(address) if address is not None else lambda words: True
    found: list[Standing] = []
    for job in jobs.values():
        if there(job.address):
            found += _of_job(job, jobs, store.way_back(job.name) if job.callback_of else [], lines, on)
    if address is None or within is not None:
        found = [each for each in found if each.what != "visit" and each.span.covers(on)]
    if within is None:
        return sorted(found, key=lambda each: (each.span.end, each.job.name)), lines
    coming = [_with_due(each, on + timedelta(days=within)) for each in found]
    return sorted(filter(lambda each: each.due, coming), key=lambda each: (each.due[0], each.job.name)), lines


def of_visit(store: Store, job: Job) -> list[str]:
    """Under which warranties a visit's day falls, and why. Empty for a job that is no visit, and
    where a job on the way back cannot be read, which its book tells."""
    with suppress(FallbookError):
        return visit_told(job, [store.job(name) for name in store.way_back(job.name)])
    return []


def _of_job(job: Job, jobs: dict[str, Job], before: list[str], lines: list[str], on: date) -> Iterator[Standing]:
    if not job.callback_of:
        yield Standing(job, "warranty", span(job), on)
        return
    added = added_span(job)
    if added:
        yield Standing(job, "new work of a visit", added, on)
    if lost := next((name for name in before if name not in jobs or name == job.name), None):
        lines.append(f"{job.name}: job {lost}, which it leads back to, cannot be read, so its warranty cannot be told")
    else:
        way = [jobs[name] for name in before]
        yield Standing(job, "visit", span(way[-1]), on, visit_told(job, way))


def _with_due(standing: Standing, last: date) -> Standing:
    """The same with the care and the end that come from its day to `last`."""
    on, start, end = standing.on, standing.span.start, standing.span.end
    before = max(start, on - timedelta(days=1))  # on the day of the work there is nothing to clean yet
    due = [(day, f"{season.lower()} care") for day, season in care.due(before, min(last, end))]
    if end <= last:
        due.append((end, "last day"))
    return replace(standing, due=sorted(due))


# -- the rows


def _jobs(store: Store) -> tuple[dict[str, Job], list[str]]:
    """All jobs by name, and a line for each that cannot be read. Jobs of one firm share its company file."""
    firms: dict[str, Company] = {}
    jobs, lines = {}, []
    for row in store.job_rows():
        try:
            jobs[row["name"]] = _job(row, firms)
        except FallbookError as error:
            lines.append(str(error))
    return jobs, lines


def _job(row: dict[str, Any], firms: dict[str, Company]) -> Job:
    name, text = row["name"], row["company"]
    if row.pop("damaged"):
        raise FallbookError(f"{name}: what the library holds of this job is damaged; run: fallbook restore DIR")
    if row.pop("misread"):
        raise FallbookError(
            f"{name}: an entry of its log that tells of the job itself is damaged; run: fallbook verify"
        )
    if text not in firms:
        firms[text] = read_company(text, f"{name}, its company file")
    try:
        return Job(**row | {"company": firms[text]})
    except ValidationError as error:
        raise FallbookError(f"{name}: {first_wrong(error)[2]}; run: fallbook verify") from error


# -- addresses


def _matcher(address: str) -> Callable[[str], bool]:
    """Whether another address has all words of this one, in any order, whatever their case, spaces, accents, points
    and common abbreviations."""
    wanted = _address_words(address)
    if not wanted:
        raise UsageError("no address to look for; give a house number and a street, or a word of them")
    return lambda other: wanted <= _address_words(other)


def _address_words(address: str) -> set[str]:
    plain = "".join(each for each in unicodedata.normalize("NFKD", address) if not unicodedata.combining(each))
    return {_short_forms().get(word, word) for word in WORD.findall(plain.casefold().replace("'", ""))}


@cache
def _short_forms() -> dict[str, str]:
    known = tomllib.loads(files("logger").joinpath("addresses.toml").read_text(encoding="utf-8"))
    return {form: name for name, forms in known.items() for form in forms}


# -- to read at a terminal


def nothing(on: date, address: str, within: int | None) -> str:
    """What is said where nothing was found."""
    at = f" at {address}" if address else ""
    if within is not None:
        return f"nothing{at} lapses or is due within {_days(within)} of {words.day(on)}"
    return f"no job{at}" if address else f"no warranty is in force on {words.day(on)}"


def blocks(found: list[Standing]) -> Iterator[Block]:
    """A table of the warranties, what is told of visits, and how to claim."""
    terms = [each for each in found if each.what != "visit"]
    if terms:
        yield _table(terms)
    for each in found:
        if each.what == "visit":
            yield f"{each.job.name}: {' '.join(each.told)}"
    claims: dict[str, list[str]] = {}
    for each in found:
        claims.setdefault(_claim(each.job), []).append(each.job.name)
    for claim, names in claims.items():
        of = f" ({words.joined(dict.fromkeys(names))})" if len(claims) > 1 else ""
        yield f"How to claim{of}: {claim}"


def _table(terms: list[Standing]) -> Table:
    coming = any(each.due for each in terms)
    made = Table("job", "address", "client", "from", "last day", "left", *(["comes"] if coming else []))
    for each in terms:
        name = each.job.name if each.what == "warranty" else f"{each.job.name} ({each.what})"
        due = ["; ".join(f"{what} {words.day(day)}" for day, what in each.due)] if coming else []
        start, end = words.day(each.span.start), words.day(each.span.end)
        made.add_row(name, each.job.address, each.job.client, start, end, each.left, *due)
    return made


def _claim(job: Job) -> str:
    said = job.company.warranty
    answer = f" We answer within {_days(said.respond_days)}." if said.respond_days else ""
    return f"{said.how_to_claim}{answer} {job.company.name}, {job.company.phone}, {job.company.email}"


def _days(count: int) -> str:
    return f"{count} day{'' if count == 1 else 's'}"
