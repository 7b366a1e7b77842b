"""The later sections: issues, checks, water tests, materials, care, warranty, cautions and signatures."""

from __future__ import annotations

from typing import TYPE_CHECKING

from extract.check.policy import overridden
from extract.check.safety import client_cautions
from extract.record import Finding, Issue
from reports import words
from reports.asbuilt import legend
from reports.care import for_kinds, kinds_of
from reports.doubts import OF_A_TEST, Mark, marked, unique
from reports.facts import Facts
from reports.front import tell_test
from reports.takeoff import Line, takeoff
from reports.warranty import terms
from reports.words import NOT_RECORDED, load, plain, sentence, thing

if TYPE_CHECKING:
    from reports.paper import Paper


def issues(paper: Paper, facts: Facts) -> None:
    """What was met on site and what was done about it."""
    found = facts.record.issues
    if not found:
        paper.text("No issues were recorded.")
        return
    marks = [facts.entry_marks(issue) for issue in found]
    rows = [
        [
            plain("issue", issue.kind),
            _place(facts, issue),
            marked(issue.text, mark),
            _done(issue),
            words.notes(issue.evidence),
        ]
        for issue, mark in zip(found, marks, strict=True)
    ]
    header = ["Issue", "Where", "In the crew's words", "What was done", "From notes"]
    paper.table("Issues met, and what was done.", header, rows, [1.2, 1.1, 2.4, 1.2, 0.9])
    legend(paper, (one for mark in marks for one in mark))


def _place(facts: Facts, issue: Issue) -> str:
    entry = facts.record.subject(issue.at) if issue.at else None
    return sentence(thing(entry)) if entry else issue.at or NOT_RECORDED


def _done(issue: Issue) -> str:
    return sentence(plain("action", issue.action)) if issue.action else NOT_RECORDED


def checks(paper: Paper, facts: Facts) -> None:
    """Open findings in full, what is in order, the firm's own limits, then what the crew still has to do."""
    if not facts.closeout.findings:
        paper.text("Nothing was checked.")
    _open_points(paper, facts)
    _in_order(paper, facts)
    _design_storm(paper, facts)
    _own_limits(paper, facts)
    left = [task for task in facts.record.tasks if task.kind != "buy"]
    if left:
        paper.heading("Said to be still to do", 2)
        paper.text("Tasks from the crew's notes. The log does not say whether each was done since; ask us.", keep=True)
        paper.bullets(
            [marked(f"{sentence(task.text)} ({words.notes(task.evidence)})", facts.entry_marks(task)) for task in left]
        )


def _open_points(paper: Paper, facts: Facts) -> None:
    if facts.closeout.findings and not facts.open:
        paper.text("Nothing is open: every check that was made came out in order.")
    if not facts.open:
        return
    paper.text(
        "The numbers in our notes were worked out again against each other and against the limits named here. "
        "A point stays open until it is put right or shown to be no fault."
    )
    marks = [facts.finding_marks(item) for item in facts.open]
    rows = [
        [str(number), item.subject, plain("outcome", item.outcome), marked(item.message, mark), _source(item)]
        for number, (item, mark) in enumerate(zip(facts.open, marks, strict=True), 1)
    ]
    header = ["No.", "About", "Outcome", "What was found", "Measured against"]
    paper.table("Open points.", header, rows, [0.4, 0.85, 1.05, 3.1, 1.6])
    legend(paper, (one for mark in marks for one in mark))


def _source(item: Finding) -> str:
    return item.source or "no source named"


def _in_order(paper: Paper, facts: Facts) -> None:
    fine = [item for item in facts.closeout.findings if item.outcome == "ok"]
    if not fine:
        return
    paper.heading("Checked and in order", 2)
    subjects: dict[str, list[str]] = {}
    for item in fine:
        name = marked(item.subject, facts.finding_marks(item))
        subjects.setdefault(sentence(plain("check", item.check)), []).append(name)
    paper.bullets([(f"{check}:", f"{', '.join(dict.fromkeys(labels))}.") for check, labels in subjects.items()])


def _design_storm(paper: Paper, facts: Facts) -> None:
    """The rainfall that the pipes were held against, and what each is to carry: figures behind the points above."""
    storm = facts.job.company.storm
    told = [item for item in facts.closeout.findings if item.check in ("runoff", "design_flow", "limiting_run")]
    if storm is None or not told:
        return
    paper.heading("The design storm", 2)
    paper.text(
        f"The pipes were held against a storm of {storm.words}. It is our choice; the local code's figure comes first. "
        "Areas are those that the crew told, and runoff is worked out by the rational method.",
        keep=True,
    )
    paper.bullets([marked(item.message, facts.finding_marks(item)) for item in told])


def _own_limits(paper: Paper, facts: Facts) -> None:
    """The limits that the firm set itself, each beside the value it stands in place of."""
    own = overridden(facts.job.company.policy)
    if not own:
        return
    paper.heading("Limits of our own", 2)
    paper.text(
        "Where these limits come in, the checks used the value that we set ourselves, and not the usual one.", keep=True
    )
    rows = [
        [
            sentence(plain("limit", item.name)),
            words.limit(item.value, item.shipped.unit),
            words.limit(item.shipped.value, item.shipped.unit),
            item.shipped.citation(),
        ]
        for item in own
    ]
    header = ["Limit", "Used here", "Usual value", "Where the usual value comes from"]
    paper.table("Limits that we set ourselves.", header, rows, [2.4, 1.05, 1.05, 2.5])


def tests(paper: Paper, facts: Facts) -> None:
    """Each water test with its numbers and result."""
    found = facts.record.tests
    if not found:
        paper.text("No water test was recorded.")
        return
    paper.bullets([f"{tell_test(facts, test)} ({words.notes(test.evidence)})." for test in found])
    legend(paper, (d for test in found for d in facts.entry_marks(test, test.at, *OF_A_TEST)))
    paper.text(
        "A test shows how the drain ran on that day with that water; it is no measure of what a storm will bring.",
        "Small Note",
    )


def materials(paper: Paper, facts: Facts) -> None:
    """Pipe, fittings and structures, added up from the record."""
    lines = takeoff(facts.record)
    if not lines:
        paper.text("No installed materials were recorded.")
        return
    marks = [_line_marks(facts, line) for line in lines]
    rows = [
        [line.group, line.item, marked(line.quantity, mark), ", ".join(line.labels)]
        for line, mark in zip(lines, marks, strict=True)
    ]
    paper.table(
        "Materials put in, added up from the tables above.",
        ["Group", "Item", "Quantity", "In"],
        rows,
        [0.95, 3.1, 1.7, 1.25],
    )
    legend(paper, (one for mark in marks for one in mark))
    paper.text(
        "Only what was recorded as put in is counted. Things that were kept, removed or only planned are not. "
        "Fittings that nobody mentioned cannot be here.",
        "Small Note",
    )


def _line_marks(facts: Facts, line: Line) -> list[Mark]:
    fields = {
        "Pipe": ("length_ft", "nominal_in", "pipe", "state"),
        "Fittings": ("fittings", "nominal_in", "pipe", "state"),
        "Structures": ("size_in", "length_ft", "kind", "state"),
    }[line.group]
    return unique(mark for label in line.labels for mark in facts.marks(label, *fields))


def care(paper: Paper, facts: Facts) -> None:
    """What to do through the year, for the kinds of thing that are there."""
    kinds = kinds_of(facts.record)
    text = load("care")
    paper.text(text["intro"], keep=True)
    for season in text["season"]:
        if items := for_kinds(season["items"], kinds):
            paper.heading(season["name"], 2)
            paper.bullets(items)


def warranty(paper: Paper, facts: Facts) -> None:
    """The terms with their dates, what is left out and why, and how to claim."""
    given, text = terms(facts.closeout), load("warranty")
    months = f"{given.months} month{'' if given.months == 1 else 's'}"
    own = text["start"].format(start=words.day(given.start), months=months, end=words.day(given.end))
    for line in given.visit or [own]:
        paper.text(line)
    paper.heading("What it covers", 2)
    paper.bullets([sentence(item) for item in given.covers] or ["The firm has named nothing that it covers."])
    paper.heading("What it leaves out, and why", 2)
    outs = [*given.excludes, *given.job_excludes]
    rows = [[sentence(item.what), sentence(item.why), _whence(item in given.job_excludes)] for item in outs]
    if rows:
        paper.table("Exclusions.", ["What", "Why", "Applies to"], rows, [2.3, 3.3, 1.1])
    if given.materials:
        paper.heading("Makers' warranties on materials", 2)
        paper.text(given.materials)
    paper.heading("How to claim", 2)
    days = (
        f" We answer within {given.respond_days} day{'' if given.respond_days == 1 else 's'}."
        if given.respond_days
        else ""
    )
    paper.text(given.how_to_claim + days)
    paper.text(text["law"], "Small Note")


def _whence(job_specific: bool) -> str:
    return "this job" if job_specific else "all our work"


def cautions(paper: Paper, facts: Facts) -> None:
    """Safety, and how far this report can be leaned on; each with its source, then what this job called for."""
    for item in client_cautions():
        paper.text(item.text, lead=item.title, keep=bool(item.source))
        if item.source:
            paper.text(f"Source: {item.source}", "Small Note")
    if facts.cautions:
        paper.heading("What the work on this job called for", 2)
        paper.text(
            "Told to the crew by what they said and measured. It says nothing of what they did, and judges no trench.",
            keep=True,
        )
        paper.bullets([f"{item.message} Source: {_source(item)}" for item in facts.cautions])


def signatures(paper: Paper, facts: Facts) -> None:
    job = facts.job
    paper.text(
        "By signing, the crew lead hands this report over and the client says that it was received. "
        "A signature says no more than that.",
        keep=True,
    )
    paper.signatures([f"Crew lead, for {job.company.name}", f"Client, {job.client}"])
