"""The sheet to find the drain again with a shovel: the plan, how deep things lie, ties, what else is in the ground."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from functools import partial
from typing import TYPE_CHECKING

from extract.check.depths import least_end
from extract.check.safety import caution_named
from extract.places.measures import IN_GROUND, side_of
from extract.record import Issue, Language, Run, Structure, Tie
from reports import words
from reports.canvas import Drawing
from reports.facts import Facts, gather
from reports.job import Closeout
from reports.words import form, joined, known, plain, sentence, thing, things, told

if TYPE_CHECKING:
    from reports.paper import Paper

INVERTS = ("invert_in_ft", "invert_out_ft")
BURIED = ("utility", "existing_line", "rock")
"""Issues that are still in the ground, whatever was done."""
TALLEST = 3.5
"""Of what the plan holds to scale, inches: lower than elsewhere, so that its lettering stays larger."""
PLAN_LEAST, PLAN_MOST = 2.1, 4.4
"""Inches: the plan takes what one sheet leaves it beside all else. Where that is too little it is not spared."""
HEAD_TAKES, SPACES_TAKE = 1.1, 1.45
"""Inches: of the lines over the box; of the space around box, captions, head of the table and note, with a line to
spare."""
LARGER = 1.25
"""How much more room running text takes than the same words in a table."""
TABLES = ((1.8, 1.15, 1.55, 3.0), (1.55, 0.95, 1.55, 3.45), (1.75, 1.2, 1.9, 2.65), (1.9, 1.25, 1.75, 2.6))
"""Widths of the table's columns, inches: those are taken that make it the lowest."""
SAME_IN = 0.05
"""Depths closer than that print as the same tenth of an inch."""


def document(closeout: Closeout, drawings: Sequence[Drawing], unsettled: Sequence[str] = ()) -> bytes:
    """The Word file's bytes; a draft where something is `unsettled`."""
    from reports.paper import NARROW, Paper, noon, table_height  # python-docx is slow to load

    facts = gather(closeout)
    job, language, say = facts.job, facts.language, partial(told, "locate", language=facts.language)
    paper = Paper(
        title=say("title", address=job.address),
        subject=say("subject"),
        author=job.company.name,
        day=noon(closeout.prepared),
        header=(_drafted(job.company.name, unsettled, language), job.address),
        footer=_drafted(words.day(closeout.prepared, language), unsettled, language),
        language=language,
        colour=job.company.colour,
        margins=NARROW,
    )
    firm = _drafted(f"{job.company.name} · {job.company.phone}", unsettled, language)
    paper.logo(job.company.logo_png, job.company.name, height=0.4, beside=firm)
    paper.text(say("head"), "Sheet Title")
    paper.text(say("work_of", address=job.address, day=words.day(job.day, language)))
    first = caution_named("utilities", language)
    source = [told("closing", "source", language, source=first.source)] if first.source else []
    caution, rows = " ".join([first.text, *source]), _rows(facts)
    note = _note(facts)
    paper.box(first.title, [caution], "ask")
    widths = min(TABLES, key=partial(table_height, rows))
    height = _plan_height(paper, [caution, note], [each.caption for each in drawings], table_height(rows, widths))
    for drawing in drawings:
        paper.figure(drawing.png, alt=drawing.alt, caption=drawing.caption, height=height)
    _table(paper, facts, rows, widths)
    paper.text(note, "Small Note")
    return paper.save()


def _note(facts: Facts) -> str:
    """What stands under the table: of what worth its measures are, and how a left or right is meant."""
    say = partial(told, "locate", language=facts.language)
    ties = [tie for each in facts.record.structures for tie in each.ties]
    if not ties:
        return say("note_no_tapes")
    sided = any(side_of(tie.side) in ("left", "right") for tie in ties)
    return " ".join([*([say("sides")] if sided else []), say("note")])


def _plan_height(paper: Paper, texts: Sequence[str], captions: Sequence[str], table: float) -> float:
    """What is left for the plan where all stands on one sheet, by a rough guess. [in]"""
    from reports.paper import text_height

    told = sum(LARGER * text_height(each, paper.width) for each in texts)
    told += sum(text_height(each, paper.width) for each in captions)
    left = paper.height - HEAD_TAKES - SPACES_TAKE - told - table
    return min(left, PLAN_MOST) if left >= PLAN_LEAST and len(captions) == 1 else PLAN_MOST


def _drafted(line: str, unsettled: Sequence[str], language: Language) -> str:
    return told("client", "draft_line", language, line=line) if unsettled else line


def _found(facts: Facts) -> list[Structure | Run]:
    return [each for each in things(facts.record) if each.state in IN_GROUND]


def _rows(facts: Facts) -> list[list[str]]:
    language = facts.language
    found = [
        [sentence(thing(each, language)), _what(each, language), _deep(each, facts), _near(each, facts)]
        for each in _found(facts)
    ]
    return [*found, *_fixed(facts)] if found else []


def _fixed(facts: Facts) -> Iterator[list[str]]:
    """Of each fixed point how far it lies from those that it was taped from: the tapes to structures start there."""
    language = facts.language
    for point in facts.record.points:
        taped = [each for each in point.to or [] if known(each.distance_ft)]
        near = "; ".join(_taped(each.distance_ft, each.point, "", language) for each in taped)
        if near:
            yield [sentence(words.own(point.name, language)), told("locate", "fixed_point", language), "", near]


def _table(paper: Paper, facts: Facts, rows: Sequence[Sequence[str]], widths: Sequence[float]) -> None:
    language, say = facts.language, partial(told, "locate", language=facts.language)
    if not rows:
        paper.text(say("nothing"))
        return
    header = [say(each) for each in ("what", "of_what", "how_deep", "near")]
    paper.table(say("lies_here"), header, rows, widths)
    known = {each.label for each in _found(facts)}
    elsewhere = [_met(each, language) for each in facts.record.issues if each.kind in BURIED and each.at not in known]
    if elsewhere:
        paper.bullets([say("elsewhere", things=joined(elsewhere, language))])


def _what(entry: Structure | Run, language: Language) -> str:
    what = words.pipe(entry, language) if isinstance(entry, Run) else words.size(entry, language)
    if entry.state == "installed":
        return what
    return told("locate", "standing", language, what=what, state=plain("state", entry.state, language))


def _deep(entry: Structure | Run, facts: Facts) -> str:
    """How deep the pipe lies: the least of what was told and of what the heights at the run's ends, or of a structure's
    rim and lowest invert, give. Where that is less than was told both stand, as somebody digs by it."""
    return _cover(entry, facts) if isinstance(entry, Run) else _below(entry, facts)


def _cover(run: Run, facts: Facts) -> str:
    language, say = facts.language, partial(told, "locate", language=facts.language)
    structures = {each.label: each for each in facts.record.structures}
    least = least_end(run, dict(facts.heights), structures)
    cover = run.cover_in if known(run.cover_in) else None
    if least is None or (cover is not None and cover <= least.cover_in + SAME_IN):
        return form("not_recorded", language) if cover is None else say("cover", depth=words.inches(cover, language))
    key = "no_cover" if least.cover_in < SAME_IN else "cover_at_most" if least.stand_in else "cover_by_levels"
    by = say("by_depth" if least.told else "by_levels")
    return _beside_told(say(key, depth=_tenth(least.cover_in, language), place=least.label, by=by), cover, language)


def _below(structure: Structure, facts: Facts) -> str:
    language, say, depth = facts.language, partial(told, "locate", language=facts.language), structure.invert_depth_in
    depth = depth if known(depth) else None
    rim = facts.level(structure, "rim_ft")
    inverts = [height for each in INVERTS if known(height := facts.level(structure, each))]
    by_levels = 12 * (rim - min(inverts)) if known(rim) and inverts else None
    if by_levels is None or (depth is not None and depth <= by_levels + SAME_IN):
        return form("not_recorded", language) if depth is None else say("below", depth=words.inches(depth, language))
    return _beside_told(say("below_by_levels", depth=_tenth(by_levels, language)), depth, language)


def _beside_told(by_levels: str, said: float | None, language: Language) -> str:
    if said is None:
        return by_levels
    return told("locate", "and_told", language, by_levels=by_levels, depth=words.inches(said, language))


def _tenth(depth: float, language: Language) -> str:
    return form("inches", language, words.number(depth, 1))


def _near(entry: Structure | Run, facts: Facts) -> str:
    issues = [each for each in facts.record.issues if each.kind in BURIED and each.at == entry.label]
    told_of = [*_beside(entry, facts.language), *(_met(each, facts.language) for each in issues)]
    return "; ".join(told_of) or form("not_recorded", facts.language)


def _beside(entry: Structure | Run, language: Language) -> Iterator[str]:
    """Of a run where it goes and what it crosses, of a structure how far it lies from fixed points."""
    if isinstance(entry, Structure):
        yield from (_tie(each, language) for each in entry.ties)
        return
    if entry.from_ and entry.to:
        length = words.short_length(entry.length_ft, language)
        yield told(
            "locate",
            "ends",
            language,
            upper=words.place(entry.from_, language),
            lower=words.place(entry.to, language),
            length=length,
        )
    yield from (told("locate", "crosses", language, what=words.crossing(each, language)) for each in entry.crossings)


def _tie(item: Tie, language: Language) -> str:
    """`18.5 ft from garage corner, left`."""
    side = side_of(item.side)
    lies = plain("lies", side, language) if side else words.own(item.side, language) if item.side else ""
    return _taped(item.distance_ft, item.from_, lies, language)


def _taped(distance_ft: float, point: str, side: str, language: Language) -> str:
    called, distance = words.own(point, language), f"{round(distance_ft, 2):g}"
    return form("tie_side" if side else "tie", language, distance=distance, point=called, side=side)


def _met(issue: Issue, language: Language) -> str:
    what = plain("issue", issue.kind, language).lower()
    done = plain("action", issue.action, language) if issue.action else ""
    return told("locate", "met_done" if done else "met", language, issue=what, done=done)
