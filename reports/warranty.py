"""The firm's warranty for one job: the terms of the company file, the dates, and what this job leaves out.

A visit to an old job starts no warranty again: it stands under the old one, or after it.
"""

from __future__ import annotations

from calendar import monthrange
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field, replace
from datetime import date

from extract.check import check
from extract.check.accepted import acceptance_of
from extract.errors import FallbookError
from extract.read.known import lying_there
from extract.record import Entry, Evidence, Finding, Language, Record
from reports.job import Closeout, Exclusion, Job, JobExclusion, Photo
from reports.words import counted, day, load, own, place, plain, sentence, thing, things

GONE = (
    "{visit}: job {old}, which it is a visit to, cannot be read any more, so its warranty cannot be told; bring "
    "{old} back, or say that this is no visit: fallbook amend {visit} callback-of none"
)


@dataclass(frozen=True)
class Span:
    """The days that a warranty covers, the first and the last among them."""

    start: date
    end: date

    def covers(self, on: date) -> bool:
        """Whether it is in force on that day."""
        return self.start <= on <= self.end


@dataclass(frozen=True)
class Terms:
    """A warranty with its dates. `end` is the last day that it covers. Of a visit, the warranty of the first job."""

    start: date
    end: date
    months: int
    covers: list[str]
    excludes: list[Exclusion]
    job_excludes: list[JobExclusion]
    """What this job leaves out, beside the firm's own list; of a visit, what the jobs before it left out too."""
    how_to_claim: str
    respond_days: int | None
    materials: str | None
    binding: str = ""
    """A sentence that says in which language the firm's terms bind, where they stand in another than the rest."""
    visit: list[str] = field(default_factory=list)
    """Of a visit, in sentences: whether its day falls under the old warranty and why, and what term its new work has.
    Empty for any other job."""
    added: Span | None = None
    """The term of new work done on a visit, where the firm gives one."""


def add_months(start: date, months: int) -> date:
    """The same day so many calendar months on, or that month's last day where it is shorter.

    31 January and one month is 28 (or 29) February; 29 February and twelve months is 28 February.
    """
    years, month = divmod(start.month - 1 + months, 12)
    year = start.year + years
    return date(year, month + 1, min(start.day, monthrange(year, month + 1)[1]))


def span(job: Job) -> Span:
    """The days that a job's own warranty covers, had it been no visit to another."""
    return Span(job.day, add_months(job.day, job.company.warranty.workmanship_months))


def added_span(visit: Job) -> Span | None:
    """The days that the warranty on new work of a visit covers; None where the firm gives it no term of its own."""
    months = visit.company.warranty.callback_months
    return Span(visit.day, add_months(visit.day, months)) if months else None


def terms(closeout: Closeout) -> Terms:
    """The warranty of one job, started on the day of the job; of a visit, that of the first job it leads back to.

    Raises FallbookError for a visit to a job that is not there any more.
    """
    job, former, language = closeout.job, closeout.former, closeout.language
    if not job.callback_of:
        return _own_terms(closeout)
    if former is None:
        raise FallbookError(GONE.format(visit=job.name, old=job.callback_of))
    return replace(
        terms(former.model_copy(update={"language": language})),
        job_excludes=_all_excluded(closeout, language),
        visit=visit_told(job, way_back(former), language),
        added=added_span(job),
    )


def _own_terms(closeout: Closeout) -> Terms:
    job, said, language = closeout.job, closeout.job.company.warranty, closeout.language
    runs, text = span(job), said.text(language)
    return Terms(
        start=runs.start,
        end=runs.end,
        months=said.workmanship_months,
        covers=text.covers,
        excludes=text.excludes,
        job_excludes=_all_excluded(closeout, language),
        how_to_claim=text.how_to_claim,
        respond_days=said.respond_days,
        materials=text.materials,
        binding="" if said.translated(language) else load("warranty", language)["binding"],
    )


def way_back(closeout: Closeout) -> list[Job]:
    """This job and, of a visit, those before it, the nearest first and the first job last."""
    return [closeout.job, *(way_back(closeout.former) if closeout.former else [])]


def visit_told(visit: Job, before: Sequence[Job], language: Language = "en") -> list[str]:
    """Whether a visit's day falls under the warranty of the first job, and why; that of new work of the visits between
    that covers it; then what term its own new work has. `before`: the jobs before it, the first job last; empty for a
    job that is no visit, of which nothing is told."""
    if not before:
        return []
    *between, first = before
    text, old, added = load("warranty", language)["visit"], span(first), added_span(visit)
    where = "under" if old.covers(visit.day) else "before" if visit.day < old.start else "after"
    apart = (old.start - visit.day if where == "before" else visit.day - old.end).days
    told = text[where].format(
        visit=day(visit.day, language), job=first.name, start=day(old.start, language), end=day(old.end, language),
        apart=counted(apart, "day", language),
    )  # fmt: skip
    months = counted(visit.company.warranty.callback_months or 0, "month", language)
    of_new = text["added"].format(months=months, end=day(added.end, language)) if added else None
    still = [(job, term) for job in between if (term := added_span(job)) and term.covers(visit.day)]
    on_visits = [
        text["between"].format(day=day(job.day, language), job=job.name, end=day(term.end, language))
        for job, term in still
    ]
    return [told, *on_visits, of_new or text["nothing_added"]]


def _all_excluded(closeout: Closeout, language: Language) -> list[JobExclusion]:
    """What a job leaves out; of a visit, also what the jobs before it left out and it did not build."""
    job, former = closeout.job, closeout.former
    # A client's copy comes without findings.
    checked = any(each.check != "caution" for each in closeout.findings)
    findings = closeout.findings if checked else check(closeout.record, job.company.policy, storm=job.company.storm)
    own = job_exclusions(closeout.record, findings, closeout.photos, former, language)
    own = [each.model_copy(update={"job": job.name}) for each in own]
    before = _all_excluded(former, language) if former else []
    return [*(each for each in before if each.label not in installed(closeout.record)), *own]


def installed(record: Record) -> set[str]:
    """The labels of what a record has as put in."""
    return {each.label for each in things(record) if each.state == "installed"}


def _ours_before(former: Closeout | None) -> set[str]:
    """The labels of what the jobs before a visit put in."""
    return installed(former.record) | _ours_before(former.former) if former else set()


def job_exclusions(
    record: Record,
    findings: Iterable[Finding] = (),
    photos: Iterable[Photo] = (),
    former: Closeout | None = None,
    language: Language = "en",
) -> list[JobExclusion]:
    """What the job's own record leaves out: things kept, abandoned or not built, issues left in place, and failed
    checks that the firm accepted with a reason. What lay there from a `former` job is that one's to tell.

    A thing whose state nobody said is left out only where nothing shows that it was built.
    """
    there = {each.label for each in things(lying_there(former.record))} if former else set()
    ours = installed(record) | _ours_before(former)
    built = shown_built(record, photos)
    return [
        *_from_things(record, built, there, language),
        *_from_issues(record, ours, language),
        *_accepted(record, findings, there, language),
    ]


def shown_built(record: Record, photos: Iterable[Photo] = ()) -> set[str]:
    """The labels of what was built whether or not anybody said so: an installed run was laid from or to it, a rod
    stood on it, or a photo shows it covered."""
    runs = [run for run in record.runs if run.state == "installed"]
    ends = {end for run in runs for end in (run.from_, run.to) if end}
    shot = {level.point.split(" ")[0] for level in record.levels if level.rod_ft is not None}
    covered = {photo.about for photo in photos if photo.about and photo.backfill == "after"}
    return ends | shot | covered


def _from_things(record: Record, built: set[str], there: set[str], language: Language) -> Iterator[JobExclusion]:
    reasons = load("warranty", language)
    for entry in things(record):
        name, label = sentence(thing(entry, language)), entry.label
        if entry.state in {"existing", "abandoned", "planned"} and label not in there:
            what = reasons["state"].format(thing=name, state=plain("state", entry.state, language))
            why, evidence = reasons[str(entry.state)], _of_field(entry, "state")
            yield JobExclusion(what=what, why=why, evidence=evidence, label=label)
        elif entry.state is None and label not in built:
            what, why = reasons["no_state"].format(thing=name), reasons["unknown_state"]
            yield JobExclusion(what=what, why=why, evidence=entry.evidence, label=label)


def _from_issues(record: Record, ours: set[str], language: Language) -> Iterator[JobExclusion]:
    """What was met and left. Water that stands in what we put in was not met but made, and is ours."""
    reasons = load("warranty", language)
    for issue in record.issues:
        of_our_work = issue.at in ours and issue.kind in reasons["of_the_work"]
        if issue.action in {"left", "reported"} and not of_our_work:
            what = plain("issue", issue.kind, language)
            if issue.at:
                what = reasons["issue_at"].format(issue=what, place=place(issue.at, language))
            yield JobExclusion(what=what, why=reasons[issue.action], evidence=_of_field(issue, "action"))


def _accepted(
    record: Record, findings: Iterable[Finding], there: set[str], language: Language
) -> Iterator[JobExclusion]:
    """Cover and slope that fail their check and were left so, with what the firm answered."""
    reasons = load("warranty", language)["accepted"]
    for finding in findings:
        entry, given = record.subject(finding.subject), acceptance_of(record, finding)
        if entry is None or given is None or finding.check not in reasons or entry.label in there:
            continue
        words, evidence = reasons[finding.check], [*given.evidence, *finding.evidence]
        why = words["why"].format(answer=own(given.text.rstrip("."), language))
        yield JobExclusion(what=words["what"].format(thing=thing(entry, language)), why=why, evidence=evidence)


def _of_field(entry: Entry, field: str) -> list[Evidence]:
    """What speaks for that field of the entry, or for the entry where nothing speaks for the field alone."""
    return [each for each in entry.evidence if each.field == field] or entry.evidence
