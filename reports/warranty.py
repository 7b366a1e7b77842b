"""The firm's warranty for one job: the terms of the company file, the dates, and what this job leaves out."""

from __future__ import annotations

from calendar import monthrange
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date

from extract.record import Record
from reports.job import Closeout, Exclusion
from reports.words import NOT_RECORDED, load, plain, sentence, thing, things


@dataclass(frozen=True)
class Terms:
    """A warranty with its dates. `end` is the last day that it covers."""

    start: date
    end: date
    months: int
    covers: list[str]
    excludes: list[Exclusion]
    job_excludes: list[Exclusion]
    """What this job leaves out, beside the firm's own list."""
    how_to_claim: str
    respond_days: int | None
    materials: str | None


def add_months(start: date, months: int) -> date:
    """The same day so many calendar months on, or that month's last day where it is shorter.

    31 January and one month is 28 (or 29) February; 29 February and twelve months is 28 February.
    """
    years, month = divmod(start.month - 1 + months, 12)
    year = start.year + years
    return date(year, month + 1, min(start.day, monthrange(year, month + 1)[1]))


def terms(closeout: Closeout) -> Terms:
    """The warranty of one job, started on the day of the job."""
    job, said = closeout.job, closeout.job.company.warranty
    return Terms(
        start=job.day,
        end=add_months(job.day, said.workmanship_months),
        months=said.workmanship_months,
        covers=said.covers,
        excludes=said.excludes,
        job_excludes=job_exclusions(closeout.record),
        how_to_claim=said.how_to_claim,
        respond_days=said.respond_days,
        materials=said.materials,
    )


def job_exclusions(record: Record) -> list[Exclusion]:
    """What the job's own record leaves out: things kept, abandoned or not built, and issues left in place."""
    return [*_from_things(record), *_from_issues(record)]


def _from_things(record: Record) -> Iterator[Exclusion]:
    reasons = load("warranty")
    for entry in things(record):
        if entry.state in {"existing", "abandoned", "planned"}:
            yield Exclusion(
                what=f"{sentence(thing(entry))} ({plain('state', entry.state)})", why=reasons[str(entry.state)]
            )
        elif entry.state is None:
            yield Exclusion(what=f"{sentence(thing(entry))} (state {NOT_RECORDED})", why=reasons["unknown_state"])


def _from_issues(record: Record) -> Iterator[Exclusion]:
    """What was met and left. Water that stands in what we put in was not met but made, and is ours."""
    reasons = load("warranty")
    ours = {entry.label for entry in things(record) if entry.state == "installed"}
    for issue in record.issues:
        of_our_work = issue.at in ours and issue.kind in reasons["of_the_work"]
        if issue.action in {"left", "reported"} and not of_our_work:
            place = f" at {issue.at}" if issue.at else ""
            yield Exclusion(what=f"{plain('issue', issue.kind)}{place}", why=reasons[issue.action])
