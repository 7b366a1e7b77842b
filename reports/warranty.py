"""The firm's warranty for one job: the terms of the company file, the dates, and what this job leaves out."""

from __future__ import annotations

from calendar import monthrange
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import date

from extract.check.accepted import acceptance_of
from extract.record import Entry, Evidence, Finding, Record
from reports.job import Closeout, Exclusion, JobExclusion, Photo
from reports.words import NOT_RECORDED, load, notes, plain, sentence, thing, things


@dataclass(frozen=True)
class Terms:
    """A warranty with its dates. `end` is the last day that it covers."""

    start: date
    end: date
    months: int
    covers: list[str]
    excludes: list[Exclusion]
    job_excludes: list[JobExclusion]
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
        job_excludes=job_exclusions(closeout.record, closeout.findings, closeout.photos),
        how_to_claim=said.how_to_claim,
        respond_days=said.respond_days,
        materials=said.materials,
    )


def job_exclusions(
    record: Record, findings: Iterable[Finding] = (), photos: Iterable[Photo] = ()
) -> list[JobExclusion]:
    """What the job's own record leaves out: things kept, abandoned or not built, issues left in place, and failed
    checks that the firm accepted with a reason.

    A thing whose state nobody said is left out only where nothing shows that it was built.
    """
    return [*_from_things(record, shown_built(record, photos)), *_from_issues(record), *_accepted(record, findings)]


def shown_built(record: Record, photos: Iterable[Photo] = ()) -> set[str]:
    """The labels of what was built whether or not anybody said so: an installed run was laid from or to it, a rod
    stood on it, or a photo shows it covered."""
    runs = [run for run in record.runs if run.state == "installed"]
    ends = {end for run in runs for end in (run.from_, run.to) if end}
    shot = {level.point.split(" ")[0] for level in record.levels if level.rod_ft is not None}
    covered = {photo.about for photo in photos if photo.about and photo.backfill == "after"}
    return ends | shot | covered


def _from_things(record: Record, built: set[str]) -> Iterator[JobExclusion]:
    reasons = load("warranty")
    for entry in things(record):
        if entry.state in {"existing", "abandoned", "planned"}:
            what = f"{sentence(thing(entry))} ({plain('state', entry.state)})"
            yield _exclusion(what, reasons[str(entry.state)], _of_field(entry, "state"))
        elif entry.state is None and entry.label not in built:
            what = f"{sentence(thing(entry))} (state {NOT_RECORDED})"
            yield _exclusion(what, reasons["unknown_state"], entry.evidence)


def _from_issues(record: Record) -> Iterator[JobExclusion]:
    """What was met and left. Water that stands in what we put in was not met but made, and is ours."""
    reasons = load("warranty")
    ours = {entry.label for entry in things(record) if entry.state == "installed"}
    for issue in record.issues:
        of_our_work = issue.at in ours and issue.kind in reasons["of_the_work"]
        if issue.action in {"left", "reported"} and not of_our_work:
            place = f" at {issue.at}" if issue.at else ""
            what = f"{plain('issue', issue.kind)}{place}"
            yield _exclusion(what, reasons[issue.action], _of_field(issue, "action"))


def _accepted(record: Record, findings: Iterable[Finding]) -> Iterator[JobExclusion]:
    """Cover and slope that fail their check and were left so, with what the firm answered."""
    reasons = load("warranty")["accepted"]
    for finding in findings:
        entry, given = record.subject(finding.subject), acceptance_of(record, finding)
        if entry is None or given is None or finding.check not in reasons:
            continue
        words = reasons[finding.check]
        why = words["why"].format(answer=given.text.rstrip("."))
        yield _exclusion(words["what"].format(thing=thing(entry)), why, [*given.evidence, *finding.evidence])


def _exclusion(what: str, why: str, evidence: Sequence[Evidence]) -> JobExclusion:
    told = f" ({notes(evidence)})" if evidence else ""
    return JobExclusion(what=what, why=f"{why.removesuffix('.')}{told}.", evidence=list(evidence))


def _of_field(entry: Entry, field: str) -> list[Evidence]:
    """What speaks for that field of the entry, or for the entry where nothing speaks for the field alone."""
    return [each for each in entry.evidence if each.field == field] or entry.evidence
