"""The sheet to find the drain again with a shovel: the plan, how deep things lie, ties, what else is in the ground."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING

from extract.additions import crossing_words, tie_words
from extract.check.safety import client_cautions
from extract.record import Issue, Run, Structure
from reports import words
from reports.canvas import Drawing
from reports.facts import Facts, gather
from reports.job import Closeout
from reports.words import NOT_RECORDED, joined, known, sentence, thing, things

if TYPE_CHECKING:
    from reports.paper import Paper

INVERTS = ("invert_in_ft", "invert_out_ft")
BURIED = ("utility", "existing_line", "rock")
"""Issues that are still in the ground, whatever was done."""
PLAN_HEIGHT = 4.0
"""Inches."""
IN_GROUND = ("installed", "existing", "abandoned", None)


def document(closeout: Closeout, drawings: Sequence[Drawing], unsettled: Sequence[str] = ()) -> bytes:
    """The Word file's bytes; a draft where something is `unsettled`."""
    from reports.paper import Paper, noon  # python-docx is slow to load

    facts = gather(closeout)
    job, draft = facts.job, "DRAFT, not settled · " if unsettled else ""
    paper = Paper(
        title=f"Buried drainage at {job.address}",
        subject="To find it again",
        author=job.company.name,
        day=noon(closeout.prepared),
        header=(f"{draft}{job.company.name}", job.address),
        footer=f"{draft}{words.day(closeout.prepared)}",
    )
    paper.logo(job.company.logo_png, job.company.name, height=0.4)
    paper.text(f"{draft}{job.company.name} · {job.company.phone}", "Firm Line")
    paper.text("Where the drain lies", "Subtitle")
    paper.text(f"{job.address}. Work of {words.day(job.day)}.")
    first = next(each for each in client_cautions() if each.name == "utilities")
    paper.box(first.title, [f"{first.text} Source: {first.source}" if first.source else first.text], "ask")
    for drawing in drawings:
        paper.figure(drawing.png, alt=drawing.alt, caption=drawing.caption, height=PLAN_HEIGHT)
    _table(paper, facts)
    paper.text(
        "Depths are those that the crew told on the day; the ground may have been raised or cut since. Measures were "
        "taped; this is no survey. Dig by hand near them.",
        "Small Note",
    )
    return paper.save()


def _table(paper: Paper, facts: Facts) -> None:
    found = [each for each in things(facts.record) if each.state in IN_GROUND]
    if not found:
        paper.text("Nothing in the ground was recorded.")
        return
    issues = facts.record.issues
    rows = [
        [sentence(thing(each)), _what(each), _deep(each, facts), "; ".join(_near(each, issues)) or NOT_RECORDED]
        for each in found
    ]
    header = ["What", "Of what", "How deep", "Where, and what is near"]
    paper.table("What lies here.", header, rows, [1.75, 1.3, 1.75, 2.0])
    known = {each.label for each in found}
    elsewhere = [_met(each) for each in issues if each.kind in BURIED and each.at not in known]
    if elsewhere:
        paper.bullets([f"Met elsewhere: {joined(elsewhere)}."])


def _what(entry: Structure | Run) -> str:
    state = "" if entry.state == "installed" else f", {words.plain('state', entry.state)}"
    return (words.pipe(entry) if isinstance(entry, Run) else words.size(entry)) + state


def _deep(entry: Structure | Run, facts: Facts) -> str:
    """How deep the pipe lies: as told, of a structure also by the heights of its rim and its lowest invert."""
    if isinstance(entry, Run):
        return f"at least {words.inches(entry.cover_in)} over the pipe" if known(entry.cover_in) else NOT_RECORDED
    if known(entry.invert_depth_in):
        return f"pipe {words.inches(entry.invert_depth_in)} below the top"
    rim = facts.level(entry, "rim_ft")
    inverts = [height for each in INVERTS if known(height := facts.level(entry, each))]
    if not known(rim) or not inverts:
        return NOT_RECORDED
    return f"pipe {words.number(12 * (rim - min(inverts)), 1)} in below the top, by the levels"


def _near(entry: Structure | Run, issues: Sequence[Issue]) -> Iterator[str]:
    if isinstance(entry, Run):
        if entry.from_ and entry.to:
            yield f"{entry.from_} to {entry.to}, {words.short_length(entry.length_ft)}"
        yield from (f"crosses {crossing_words(each)}" for each in entry.crossings)
    else:
        yield from map(tie_words, entry.ties)
    yield from (_met(each) for each in issues if each.kind in BURIED and each.at == entry.label)


def _met(issue: Issue) -> str:
    done = f", {words.plain('action', issue.action)}" if issue.action else ""
    return f"{words.plain('issue', issue.kind).lower()}{done}"
