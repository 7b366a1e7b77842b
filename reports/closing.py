"""The later sections: issues, checks, water tests, materials, care, warranty, cautions and signatures."""

from __future__ import annotations

from collections.abc import Sequence
from functools import partial
from typing import TYPE_CHECKING

from extract.check.policy import load_policy, overridden
from extract.check.safety import caution_named, caution_of, client_cautions, driven_over, for_the_crew, is_way_out
from extract.listed import bought_words
from extract.record import Finding, Issue
from reports import words
from reports.asbuilt import legend
from reports.care import for_kinds, kinds_of
from reports.doubts import OF_A_TEST, Mark, marked, unique
from reports.facts import Facts, subject
from reports.front import tell_test
from reports.takeoff import Line, Unmatched, against, takeoff
from reports.warranty import terms
from reports.words import NOT_RECORDED, counted, joined, load, plain, sentence, tallied, thing, told

if TYPE_CHECKING:
    from reports.paper import Paper

BY_SLOPE_SAID = " (by the slope said, which could not be checked)"
"""After a run that is steep enough by that slope alone; the slope itself is then an open point."""
BEFORE_HANDOVER = 4
"""Paragraphs of what is signed for that stay on the page of the signatures: none of these stands alone on the last."""


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
    unchecked = {each.subject for each in facts.closeout.findings if (each.check, each.outcome) == ("slope", "unknown")}
    for item in fine:
        by = BY_SLOPE_SAID if item.check == "min_slope" and item.subject in unchecked else ""
        name = marked(f"{item.subject}{by}", facts.finding_marks(item))
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
    lines, purchases = takeoff(facts.record), facts.record.purchases
    unmatched = against(lines, purchases)
    if not lines:
        paper.text("No installed materials were recorded.")
        _unmatched(paper, unmatched)
        return
    marks = [_line_marks(facts, line) for line in lines]
    rows = [
        [
            line.group,
            line.item,
            marked(line.quantity, mark),
            ", ".join(line.labels),
            *(_bought(line, mark) if purchases else ()),
        ]
        for line, mark in zip(lines, marks, strict=True)
    ]
    if purchases:
        title = "Materials put in, added up from the tables above, and what was bought of them."
        header = ["Group", "Item", "Quantity", "In", "Bought", "Left over"]
        paper.table(title, header, rows, [0.85, 2.1, 1.25, 0.9, 0.9, 1.0])
    else:
        title, header = "Materials put in, added up from the tables above.", ["Group", "Item", "Quantity", "In"]
        paper.table(title, header, rows, [0.95, 3.1, 1.7, 1.25])
    legend(paper, (one for mark in marks for one in mark))
    for stick_ft in sorted({line.stick_ft for line in lines if line.assumed and line.stick_ft}):
        paper.text(words.told("materials", "sticks", facts.language, long=f"{stick_ft:g}"), "Small Note")
    _unmatched(paper, unmatched)
    paper.text(
        "Only what was recorded as put in is counted. Things that were kept, removed or only planned are not. "
        "Fittings that nobody mentioned cannot be here.",
        "Small Note",
    )


def _bought(line: Line, marks: list[Mark]) -> list[str]:
    """What was bought of it, and what is left over or short, which is as sure as what went in."""

    def measured(amount: float) -> str:
        return words.short_length(amount) if line.unit == "ft" else words.number(amount)

    bought = "not said" if line.bought is None else measured(line.bought)
    if line.left is None:
        return [bought, "" if line.bought is None else "not known"]
    left = f"short {measured(-line.left)}" if line.left < 0 else measured(line.left)
    return [bought, marked(left, marks)]


def _unmatched(paper: Paper, unmatched: Sequence[Unmatched]) -> None:
    if unmatched:
        paper.text("Bought, and held against nothing that was put in:", keep=True)
        told = (f"{bought_words(each.purchase)}: {each.why}" for each in unmatched)
        paper.bullets([each if each.endswith("?") else f"{each}." for each in told])


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
    text = load("care", facts.language)
    paper.text(text["intro"], keep=True)
    for season in text["season"]:
        if items := for_kinds(season["items"], kinds):
            paper.heading(season["name"], 2)
            paper.bullets(items)


def warranty(paper: Paper, facts: Facts) -> None:
    """The terms with their dates, what is left out and why, and how to claim."""
    given, language = terms(facts.closeout), facts.language
    text, say = load("warranty", language), partial(told, "closing", language=language)
    start, end = words.day(given.start, language), words.day(given.end, language)
    own = text["start"].format(start=start, months=counted(given.months, "month", language), end=end)
    for line in [*(given.visit or [own]), given.binding]:
        if line:
            paper.text(line)
    paper.heading(say("covers"), 2)
    paper.bullets([sentence(item) for item in given.covers] or [say("covers_nothing")])
    paper.heading(say("leaves_out"), 2)
    whence = [*(say("all_work") for _ in given.excludes), *(say("this_job") for _ in given.job_excludes)]
    outs = zip([*given.excludes, *given.job_excludes], whence, strict=True)
    rows = [[sentence(item.what), sentence(item.why), applies] for item, applies in outs]
    if rows:
        paper.table(say("exclusions"), [say("what"), say("why"), say("applies")], rows, [2.3, 3.3, 1.1])
    if given.materials:
        paper.heading(say("materials"), 2)
        paper.text(given.materials)
    paper.heading(say("claim"), 2)
    answer = [tallied("closing", "answer", given.respond_days, language)] if given.respond_days else []
    paper.text(" ".join([given.how_to_claim, *answer]))
    paper.text(text["law"], "Small Note")


def cautions(paper: Paper, facts: Facts, *, own: bool = True) -> None:
    """Safety, and how far this report can be leaned on; each with its source, then what this job called for. The firm's
    `own` report says of a source how it was read."""
    say = partial(told, "closing", language=facts.language)
    located = any(each.lat is not None for each in facts.closeout.photos)
    for item in client_cautions(facts.language):
        phones = item.phones if located else None
        text = " ".join(filter(None, [item.text.format(made=_made_from(facts)), phones]))
        read = [item.quoted] if own and item.quoted else []
        source = "; ".join([item.source, *read]) if item.source and (phones or not item.phones) else None
        paper.text(text, lead=item.title, keep=bool(source))
        if source:
            paper.text(say("source", source=source), "Small Note")
    if facts.cautions:
        paper.heading(say("called_for"), 2)
        paper.text(say("called_for_by"), keep=True)
        paper.bullets([_called_for(item, facts) for item in facts.cautions])


def _made_from(facts: Facts) -> str:
    """What the record was made from: `spoken notes, typed notes and photos`."""
    notes = facts.closeout.notes
    made = {
        "spoken": any(each.heard for each in notes),
        "typed": any(not each.heard for each in notes) or not notes,
        "photographed": bool(facts.closeout.photos),
    }
    language = facts.language
    return joined((told("closing", key, language) for key, was in made.items() if was), language)


def _called_for(item: Finding, facts: Facts) -> str:
    """A caution of this job with its source. The check module words it in English; in another language it is told anew
    from what was found."""
    language = facts.language
    if language == "en":
        return told("closing", "called", message=item.message, source=_source(item))
    name, policy = caution_of(item), load_policy(facts.job.company.policy)
    what = joined((thing(each, language) for each in driven_over(facts.record)), language)
    message = for_the_crew(name, policy, language, way_out=is_way_out(item), what=what)
    source = caution_named(name, language).source or told("closing", "no_source", language)
    return told("closing", "called", language, message=" ".join([*_how_deep(item, facts), message]), source=source)


def _how_deep(item: Finding, facts: Facts) -> list[str]:
    """Of a caution about a depth, where it was measured or that it was spoken of."""
    if item.computed is None:
        return []
    entry, depth = facts.record.subject(subject(item)), words.feet(words.number(item.computed), facts.language)
    name = sentence(thing(entry, facts.language)) if entry else ""
    return [told("closing", "trench" if entry else "trench_said", facts.language, thing=name, depth=depth)]


def signatures(paper: Paper, facts: Facts) -> None:
    job, say = facts.job, partial(told, "closing", language=facts.language)
    paper.text(say("signing"), keep=True)
    paper.signatures([say("crew_lead", firm=job.company.name), say("client", client=job.client)])
