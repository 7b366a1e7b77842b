"""The client's copy: one page that a homeowner understands, where things lie, photos, care, warranty and handover.

It bears no marks and no numbers of notes: what it shows is settled before it is printed (see `reports.settled`).
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from functools import partial
from typing import TYPE_CHECKING

from extract.check.accepted import acceptance_of
from extract.record import Departure, Entry, Finding, Issue, Language
from extract.spanish import part_said
from reports import closing, words
from reports.canvas import Drawing
from reports.care import for_kinds, kinds_of
from reports.facts import Facts, gather
from reports.front import best_photo, in_one_line
from reports.job import Closeout, Photo
from reports.warranty import terms
from reports.words import counted, joined, known, load, own, plain, sentence, tallied, thing, thing_there, things, told

if TYPE_CHECKING:
    from reports.paper import Paper

SOURCES = ("channel_drain", "catch_basin", "area_drain", "downspout")
OUTLETS = ("popup_outlet", "daylight_outlet", "curb_outlet", "outlet", "dry_well")
WATER = ("hose", "flood")
"""Tests by which water ran through the drain."""
PHOTO_COLUMNS, PHOTO_HEIGHT = 3, 1.56
"""Photos in a row, as wide as that leaves them, and inches: four rows to a page."""
LONG_SUMMARY = 950
"""Characters of a summary beside which the photo on the first page is made lower, so that both stay on it."""
PHOTO_FIRST, PHOTO_FIRST_LOW, LOGO_TAKES = 2.3, 1.7, 0.85
"""Inches: that photo's height, the lower one, and what a logo above takes from either."""
IN_USE = ("installed", "existing")


def for_client(closeout: Closeout) -> Closeout:
    """The closeout without questions, photos of nothing and checks but for cautions: what no client needs to see. Of
    what the firm accepted there is what still stands."""
    answers = [(each, given) for each in closeout.findings if (given := acceptance_of(closeout.record, each))]
    record = closeout.record.model_copy(update={"questions": [], "acceptances": [given for _, given in answers]})
    photos = [each for each in closeout.photos if each.about and record.subject(each.about)]
    cautions = [each for each in closeout.findings if each.check == "caution"]
    kept = {"findings": cautions, "accepted": [each for each, _ in answers], "photos": photos}
    return closeout.model_copy(update={"record": record} | kept)


def document(closeout: Closeout, drawings: Sequence[Drawing], unsettled: Sequence[str] = ()) -> bytes:
    """The Word file's bytes. Where something is `unsettled`, a line each, every page says that it is a draft."""
    from reports.paper import Paper, noon  # python-docx is slow to load

    facts = gather(closeout)
    job, draft, say = facts.job, bool(unsettled), partial(told, "client", language=facts.language)
    today = words.day(closeout.prepared, facts.language)
    paper = Paper(
        title=say("title", address=job.address),
        subject=say("subject", client=job.client),
        author=job.company.name,
        day=noon(closeout.prepared),
        header=(say("draft") if draft else job.company.name, job.address),
        footer=say("draft_of", day=today) if draft else today,
        language=facts.language,
        colour=job.company.colour,
    )
    _first_page(paper, facts, draft)
    if draft:
        paper.heading(say("unsettled"), new_page=True)
        paper.bullets(list(unsettled))
    paper.turn(landscape=True)
    _where(paper, facts, drawings)
    paper.turn(landscape=False)
    paper.heading(say("went"))
    _story(paper, facts)
    _photos(paper, facts)
    paper.heading(say("care"))
    closing.care(paper, facts)
    paper.heading(say("warranty"))
    closing.warranty(paper, facts)
    paper.heading(say("cautions"))
    closing.cautions(paper, facts, own=False)
    paper.hold(closing.BEFORE_HANDOVER)
    paper.heading(say("handover"))
    closing.signatures(paper, facts)
    return paper.save()


# -- the first page


def _first_page(paper: Paper, facts: Facts, draft: bool) -> None:
    job, company, say = facts.job, facts.job.company, partial(told, "client", language=facts.language)
    paper.logo(company.logo_png, company.name)
    paper.text(company.name, "Firm Name")
    licence = say("licence", licence=company.licence) if company.licence else ""
    line = " · ".join(part for part in (company.address, company.phone, company.email, licence) if part)
    paper.text(say("draft_line", line=line) if draft else line, "Firm Line")
    paper.text(say("head_of_visit" if job.callback_of else "head"), "Title")
    day = words.day(job.day, facts.language)
    paper.text(say("made_for", address=job.address, day=day, client=job.client), "Subtitle")
    answers, photo = summary(facts), best_photo(facts.closeout.photos, facts.record)
    if photo:
        alt = say("photo_alt", name=_named(facts, photo))
        long = sum(len(line) for _, lines in answers for line in lines) > LONG_SUMMARY
        height = (PHOTO_FIRST_LOW if long else PHOTO_FIRST) - (LOGO_TAKES if company.logo_png else 0)
        paper.banner(photo.jpeg, alt=alt, caption=_caption(facts, photo), height=height)
    for title, lines in answers:
        paper.heading(title, 2)
        for each in lines:
            paper.text(each)


def summary(facts: Facts) -> list[tuple[str, list[str]]]:
    """What a homeowner asks, each question with its answer in short sentences."""
    answers = {"built": _built, "carries": _carries, "care": _short_care, "covered": _covered}
    return [(told("summary", title, facts.language), [*lines(facts)]) for title, lines in answers.items()]


def _built(facts: Facts) -> Iterator[str]:
    record, language, say = facts.record, facts.language, partial(told, "summary", language=facts.language)
    pipe = [run.length_ft for run in record.runs if run.state == "installed"]
    long = [length for length in pipe if known(length)]
    total = words.nearest_length(sum(long), language) if long and len(long) == len(pipe) else ""
    built = any(each.state == "installed" for each in things(record))
    put_in = "put_in_nothing" if not built else "put_in_long" if total else "put_in"
    kinds = [each.kind for each in record.structures if each.kind and each.state in IN_USE]
    meanings = [_meaning(kind, language) for kind in dict.fromkeys(kinds)]
    yield " ".join([say(put_in, what=in_one_line(record, language), length=total), *meanings])
    for state, key in (("existing", "kept"), ("abandoned", "out_of_use")):
        if found := [thing(each, language) for each in things(record) if each.state == state]:
            yield say(key, things=joined(found, language))


def _meaning(kind: str, language: Language) -> str:
    a, meaning = plain("a", kind, language), plain("meaning", kind, language)
    return sentence(told("summary", "is", language, a=a, meaning=meaning))


def _carries(facts: Facts) -> Iterator[str]:
    record, language, say = facts.record, facts.language, partial(told, "summary", language=facts.language)
    ways_in, ways_out = (_counted(facts, kinds) for kinds in (SOURCES, OUTLETS))
    if ways_in and ways_out:
        yield say("ways", ways_in=ways_in, ways_out=ways_out)
    last = {(test.kind, test.at): test for test in record.tests}.values()
    results = Counter(test.result for test in last)
    water = any(test.kind in WATER and test.result == "pass" for test in last)
    if results["fail"]:
        yield tallied("summary", "failed", results["fail"], language)
    elif results["pass"]:
        passed = tallied("summary", "passed", results["pass"], language)
        yield " ".join([say("ran"), passed] if water else [passed])
    else:
        yield say("untested")
    undecided = [_own(facts, each, each.text) for each in record.decisions if each.state == "open"]
    if undecided:
        yield say("undecided", what=joined(undecided, language))


def _counted(facts: Facts, kinds: Sequence[str]) -> str:
    found: Counter[str] = Counter(each.kind or "outlet" for each in facts.record.structures if each.state in IN_USE)
    return joined((counted(found[kind], kind, facts.language) for kind in kinds if found[kind]), facts.language)


def _short_care(facts: Facts) -> Iterator[str]:
    yield " ".join(for_kinds(load("care", facts.language)["short"], kinds_of(facts.record)))


def _covered(facts: Facts) -> Iterator[str]:
    given, say = terms(facts.closeout), partial(told, "summary", language=facts.language)
    yield " ".join(given.visit) or say("stand_by", day=words.day(given.end, facts.language))
    yield say("call", phone=facts.job.company.phone)


# -- the other pages


def _where(paper: Paper, facts: Facts, drawings: Sequence[Drawing]) -> None:
    paper.heading(told("story", "lies", facts.language))
    if not drawings:
        paper.text(told("story", "nothing_drawn", facts.language))
        return
    for drawing in drawings:
        paper.figure(drawing.png, alt=drawing.alt, caption=drawing.caption, height=5.5)


def _story(paper: Paper, facts: Facts) -> None:
    """What was changed, met and left, each with what was done about it."""
    record, say = facts.record, partial(told, "story", language=facts.language)
    changed = [_told(facts, each) for each in record.changes]
    met = [_met(facts, each) for each in record.issues]
    left = [_left(facts, each) for each in facts.closeout.accepted]
    for title, lines in (("changed", changed), ("met", met), ("left", left)):
        if lines:
            paper.heading(say(title), 2)
            paper.bullets(list(dict.fromkeys(lines)))
    if not (changed or met or left):
        paper.text(say("as_planned"))


def _left(facts: Facts, finding: Finding) -> str:
    """What a failed check found, in plain words, and what the firm answered to it."""
    given = acceptance_of(facts.record, finding)
    assert given is not None  # `for_client` keeps no other
    say, amounts = partial(told, "story", language=facts.language), (finding.computed, finding.limit)
    found, asked = (words.plain_percent(each) if finding.unit == "percent" else "" for each in amounts)
    what = words.failed(finding.check, facts.language, found=found, asked=asked)
    subject = facts.record.subject(finding.subject.split(" ")[0])
    if subject is not None:
        what = say("of_thing", thing=sentence(thing(subject, facts.language)), text=what)
    return f"{sentence(what).rstrip('.')}. {say('answered', text=_own(facts, given, given.text.rstrip('.')))}"


def _told(facts: Facts, entry: Departure) -> str:
    subject, text = facts.record.subject((entry.about or "").split(" ")[0]), _own(facts, entry, entry.text.rstrip("."))
    if subject is None:
        return sentence(told("story", "text", facts.language, text=text))
    return told("story", "of_thing", facts.language, thing=sentence(thing(subject, facts.language)), text=text)


def _own(facts: Facts, entry: Entry, text: str) -> str:
    """Words of the crew or the firm as they were said. What was said in Spanish is kept in English: a Spanish copy goes
    back to the part of it that was heard, where that can be told. The rest of a note is no client's."""
    said = [facts.closeout.notes[item.note] for item in entry.evidence if 0 <= item.note < len(facts.closeout.notes)]
    if facts.language == "es":
        parts = (part_said(note.heard, text) for note in said if note.language == "es" and note.heard)
        text = next(filter(None, parts), text)
    return own(text, facts.language)


def _met(facts: Facts, issue: Issue) -> str:
    language, say = facts.language, partial(told, "story", language=facts.language)
    kind, entry = plain("issue", issue.kind, language), facts.record.subject(issue.at or "")
    if issue.kind == "other":  # its words say what it was
        kind = sentence(_own(facts, issue, issue.text.rstrip(".")))
    done = plain("action", issue.action, language) if issue.action else say("seen")
    if entry is None:
        return say("issue", issue=kind, done=done)
    return say("issue_at", issue=kind, thing=thing(entry, language), done=done)


def _photos(paper: Paper, facts: Facts) -> None:
    """Of each thing one photo of it open and one of it done, side by side."""
    from reports.paper import Plate

    chosen = choice(facts)
    if not chosen:
        return
    say = partial(told, "client", language=facts.language)
    paper.heading(say("photos"), 2)
    captions = [_caption(facts, photo) for photo in chosen]
    plates = [
        Plate(photo.jpeg, number, caption, say("photo_numbered", number=number, caption=caption))
        for number, (photo, caption) in enumerate(zip(chosen, captions, strict=True), 1)
    ]
    paper.plates(plates, PHOTO_COLUMNS, PHOTO_HEIGHT)


def choice(facts: Facts) -> list[Photo]:
    """The photos that show each thing open and done, in the order of the record; where none shows it open, one from
    before the work. One taken at a reading of the rod shows the rod, and is left to the record's copy."""
    record = facts.record
    rod = {item.note for level in record.levels for item in level.evidence}
    photos = [each for each in facts.closeout.photos if each.jpeg]
    chosen: list[Photo] = []
    for entry in things(record):
        own = [each for each in photos if each.about == entry.label]
        own = [each for each in own if each.note not in rod] or own[:1]
        before = [each for each in own if each.stage == "start"]
        opened = [each for each in own if each.stage in ("before", "unknown")]
        done = [each for each in own if each.stage == "after"]
        chosen += [*(opened[:1] or before[-1:]), *done[-1:]]
    return chosen


def _caption(facts: Facts, photo: Photo) -> str:
    """`Run R-2, CB-1 to OUT-1, before it was covered.`"""
    return told("shown", photo.stage, facts.language, name=_named(facts, photo))


def _named(facts: Facts, photo: Photo) -> str:
    entry = facts.record.subject(photo.about or "")
    assert entry is not None  # `for_client` leaves no other
    return sentence(thing_there(entry, facts.language))
