"""The client's copy: one page that a homeowner understands, where things lie, photos, care, warranty and handover.

It bears no marks and no numbers of notes: what it shows is settled before it is printed (see `reports.settled`).
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING

from extract.check.accepted import acceptance_of
from extract.record import Issue, Record, Structure
from reports import closing, words
from reports.canvas import Drawing
from reports.care import for_kinds, kinds_of
from reports.facts import Facts, gather
from reports.front import best_photo, counted, in_one_line
from reports.job import Closeout, Photo
from reports.warranty import terms
from reports.words import joined, known, load, plain, sentence, thing, things

if TYPE_CHECKING:
    from reports.paper import Paper

SOURCES = ("channel_drain", "catch_basin", "area_drain", "downspout")
OUTLETS = ("popup_outlet", "daylight_outlet", "curb_outlet", "outlet", "dry_well")
SHOWN = {"before": "before it was covered", "after": "when it was done", "unknown": "during the work"}
WATER = ("hose", "flood")
"""Tests by which water ran through the drain."""
PHOTO_HEIGHT = 1.85
"""Inches: four rows to a page."""
IN_USE = ("installed", "existing")


def for_client(closeout: Closeout) -> Closeout:
    """The closeout without questions, photos of nothing and checks but for cautions: what no client needs to see. Of
    what the firm accepted there is what still stands."""
    standing = [acceptance_of(closeout.record, each) for each in closeout.findings]
    record = closeout.record.model_copy(
        update={"questions": [], "acceptances": [each for each in standing if each is not None]}
    )
    photos = [each for each in closeout.photos if each.about and record.subject(each.about)]
    cautions = [each for each in closeout.findings if each.check == "caution"]
    return closeout.model_copy(update={"record": record, "findings": cautions, "photos": photos})


def document(closeout: Closeout, drawings: Sequence[Drawing], unsettled: Sequence[str] = ()) -> bytes:
    """The Word file's bytes. Where something is `unsettled`, a line each, every page says that it is a draft."""
    from reports.paper import Paper, noon  # python-docx is slow to load

    facts = gather(closeout)
    job, draft = facts.job, bool(unsettled)
    paper = Paper(
        title=f"Drainage at {job.address}",
        subject=f"What was built for {job.client}, its care and its warranty",
        author=job.company.name,
        day=noon(closeout.prepared),
        header=("DRAFT, not settled" if draft else job.company.name, job.address),
        footer=f"{'DRAFT, ' if draft else ''}{words.day(closeout.prepared)}",
    )
    _first_page(paper, facts, draft)
    if draft:
        paper.heading("Not settled yet", new_page=True)
        paper.bullets(list(unsettled))
    paper.turn(landscape=True)
    _where(paper, facts, drawings)
    paper.turn(landscape=False)
    paper.heading("How it went")
    _story(paper, facts)
    _photos(paper, facts)
    paper.heading("Care through the year")
    closing.care(paper, facts)
    paper.heading("Warranty")
    closing.warranty(paper, facts)
    paper.heading("Before anyone digs, drives or builds here")
    closing.cautions(paper, facts)
    paper.heading("Handover")
    closing.signatures(paper, facts)
    return paper.save()


# -- the first page


def _first_page(paper: Paper, facts: Facts, draft: bool) -> None:
    job, company = facts.job, facts.job.company
    paper.logo(company.logo_png, company.name)
    paper.text(company.name, "Firm Name")
    licence = f"License {company.licence}" if company.licence else ""
    line = " · ".join(part for part in (company.address, company.phone, company.email, licence) if part)
    paper.text(f"DRAFT, not settled · {line}" if draft else line, "Firm Line")
    paper.text("Your drain" if job.callback_of else "Your new drain", "Title")
    paper.text(f"{job.address}, {words.day(job.day)}. Made for {job.client}.", "Subtitle")
    photo = best_photo(facts.closeout.photos)
    if photo:
        name = sentence(_named(facts.record, photo))
        paper.banner(photo.jpeg, alt=f"The work: {name}", caption=f"{name}, {SHOWN[photo.backfill]}.", height=2.3)
    for title, lines in summary(facts):
        paper.heading(title, 2)
        for each in lines:
            paper.text(each)


def summary(facts: Facts) -> list[tuple[str, list[str]]]:
    """What a homeowner asks, each question with its answer in short sentences."""
    return [
        ("What we built", [*_built(facts.record)]),
        ("What it carries", [*_carries(facts.record)]),
        ("How to look after it", [" ".join(_short_care(facts.record))]),
        ("What is covered", [*_covered(facts)]),
    ]


def _built(record: Record) -> Iterator[str]:
    pipe = [run.length_ft for run in record.runs if run.state == "installed"]
    long = [length for length in pipe if known(length)]
    total = f", in all {words.short_length(round(sum(long), 2))}" if long and len(long) == len(pipe) else ""
    kinds = [each.kind for each in record.structures if each.kind and each.state in IN_USE]
    meanings = [f"A {plain('structure', kind)} is {plain('meaning', kind)}." for kind in dict.fromkeys(kinds)]
    built = any(each.state == "installed" for each in things(record))
    yield " ".join([f"We put in {in_one_line(record)}{total}." if built else "We put in nothing new.", *meanings])
    kept = [thing(each) for each in things(record) if each.state == "existing"]
    dead = [thing(each) for each in things(record) if each.state == "abandoned"]
    if kept:
        yield f"We kept from before: {joined(kept)}."
    if dead:
        yield f"Left in the ground, out of use: {joined(dead)}."


def _carries(record: Record) -> Iterator[str]:
    ways_in, ways_out = (_counted(record, kinds) for kinds in (SOURCES, OUTLETS))
    if ways_in and ways_out:
        yield f"Water goes in at {joined(ways_in)}. It comes out at {joined(ways_out)}."
    last = {(test.kind, test.at): test for test in record.tests}.values()
    results = Counter(test.result for test in last)
    water = any(test.kind in WATER and test.result == "pass" for test in last)
    if results["fail"]:
        yield f"{sentence(counted(results['fail'], 'test'))} did not pass."
    elif results["pass"]:
        ran = "We ran water through it. " if water else ""
        yield f"{ran}It passed {counted(results['pass'], 'test')}."
    else:
        yield "We made no water test that we can show. Ask us for one."
    undecided = [each.text for each in record.decisions if each.state == "open"]
    if undecided:
        yield f"Still to decide: {joined(undecided)}."


def _counted(record: Record, kinds: Sequence[str]) -> list[str]:
    found: Counter[str] = Counter(each.kind or "outlet" for each in record.structures if each.state in IN_USE)
    return [counted(found[kind], plain("structure", kind)) for kind in kinds if found[kind]]


def _short_care(record: Record) -> list[str]:
    return for_kinds(load("care")["short"], kinds_of(record))


def _covered(facts: Facts) -> Iterator[str]:
    given = terms(facts.closeout)
    yield " ".join(given.visit) or f"We stand by our work until {words.day(given.end)}."
    yield f"If something is wrong, call {facts.job.company.phone}. The warranty page has the terms."


# -- the other pages


def _where(paper: Paper, facts: Facts, drawings: Sequence[Drawing]) -> None:
    paper.heading("Where it lies")
    if not drawings:
        paper.text("Nothing was recorded that could be drawn.")
        return
    for drawing in drawings:
        paper.figure(drawing.png, alt=drawing.alt, caption=drawing.caption, height=5.5)


def _story(paper: Paper, facts: Facts) -> None:
    """What was changed, met and left, each with what was done about it."""
    record = facts.record
    changes = [_told(record, each.about, each.text) for each in record.changes]
    met = [f"{plain('issue', each.kind)}{_at(record, each.at)}: {_done(each)}." for each in record.issues]
    left = [_told(record, each.about, each.text) for each in record.acceptances]
    for title, lines in (
        ("What changed from the plan", changes),
        ("What we found, and what we did", met),
        ("Left as it is", left),
    ):
        if lines:
            paper.heading(title, 2)
            paper.bullets(list(dict.fromkeys(lines)))
    if not (changes or met or left):
        paper.text("All went as planned, as far as we noted.")


def _told(record: Record, about: str | None, text: str) -> str:
    subject = record.subject((about or "").split(" ")[0])
    text = text.rstrip(".")
    return f"{sentence(thing(subject))}: {text}." if subject else f"{sentence(text)}."


def _done(issue: Issue) -> str:
    return plain("action", issue.action) if issue.action else "seen; what was done is not in our notes"


def _at(record: Record, label: str | None) -> str:
    entry = record.subject(label) if label else None
    return f", {thing(entry)}" if entry else ""


def _photos(paper: Paper, facts: Facts) -> None:
    """Of each thing one photo of it open and one of it done, side by side."""
    from reports.paper import Plate

    chosen = choice(facts)
    if not chosen:
        return
    paper.heading("Photos", 2)
    plates = []
    for number, photo in enumerate(chosen, 1):
        name = sentence(_named(facts.record, photo))
        caption = f"{name}, {SHOWN[photo.backfill]}."
        plates.append(Plate(photo.jpeg, number, caption, f"Photo {number}: {caption}"))
    paper.plates(plates, height=PHOTO_HEIGHT)


def choice(facts: Facts) -> list[Photo]:
    """The photos that show each thing open and done, in the order of the record. One taken at a reading of the rod
    shows the rod, and is left to the record's copy."""
    record = facts.record
    rod = {item.note for level in record.levels for item in level.evidence}
    photos = [each for each in facts.closeout.photos if each.jpeg]
    chosen: list[Photo] = []
    for entry in things(record):
        own = [each for each in photos if each.about == entry.label]
        own = [each for each in own if each.note not in rod] or own[:1]
        opened = [each for each in own if each.backfill != "after"]
        done = [each for each in own if each.backfill == "after"]
        chosen += [*opened[:1], *done[-1:]]
    return chosen


def _named(record: Record, photo: Photo) -> str:
    entry = record.subject(photo.about or "")
    assert entry is not None  # `for_client` leaves no other
    if isinstance(entry, Structure) or not (entry.from_ and entry.to):
        return thing(entry)
    return f"{thing(entry)}, {entry.from_} to {entry.to}"
