"""The as-built tables: structures, runs and level readings, what finds a thing again, what a run crosses and what was
changed of the plan, each with the notes it came from."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING

from extract.additions import crossing_words, point_words, tie_words
from extract.record import Entry, FixedPoint, Run, Structure
from reports import words
from reports.doubts import Mark, marked, unique
from reports.facts import Facts
from reports.words import NOT_RECORDED, known, plain, sentence

if TYPE_CHECKING:
    from reports.paper import Paper

Cell = tuple[str, list[Mark]]


def tables(paper: Paper, facts: Facts) -> None:
    """Structures, runs and levels, or a plain sentence where none were recorded; then what else there is of them."""
    record = facts.record
    _structures(paper, facts)
    _runs(paper, facts)
    _levels(paper, facts)
    _crossings(paper, facts)
    _ties(paper, facts)
    if record.structures or record.runs or record.levels or record.points:
        log = f"fallbook show {facts.job.name} note:12"
        played = "; we can play those that were heard" if any(each.heard for each in facts.closeout.notes) else ""
        paper.text(f"Each row names the notes it rests on{played} (in our log: {log}).", "Small Note")
    _changes(paper, facts)


def _structures(paper: Paper, facts: Facts) -> None:
    if not facts.record.structures:
        paper.text("No structures (drains, basins, outlets) were recorded.")
        return
    header = ["Label", "Kind", "State", "Size", "Rim", "Invert in", "Invert out", "Invert below rim", "From notes"]
    rows = [_structure(facts, item) for item in facts.record.structures]
    paper.table("Structures as built.", header, *_laid(rows), [0.8, 1.3, 1.1, 1.15, 1.05, 1.05, 1.05, 1.0, 1.3])
    _foot(
        paper,
        rows,
        "Rim: the top of the grate. Invert: the inside bottom of a pipe. Elevations are on the job's own datum. "
        "(c) worked out by us from the rod readings, or from the rim less the depth.",
    )


def _structure(facts: Facts, item: Structure) -> list[Cell]:
    def on(*fields: str) -> list[Mark]:
        return facts.marks(item.label, *fields)

    kind = sentence(words.kind(item)) + ("" if item.kind else f", kind {NOT_RECORDED}")
    depth = f"{words.inches(item.invert_depth_in)}"
    return [
        (item.label, []),
        (kind, _doubted(facts, item, "kind")),
        (_state(item), _doubted(facts, item, "state")),
        (_size(item), on("size_in", "length_ft")),
        *(
            (_elevation(facts, item, field), facts.level_marks(item, field))
            for field in ("rim_ft", "invert_in_ft", "invert_out_ft")
        ),
        (depth, on("invert_depth_in")),
        (_origin(facts, item), []),
    ]


def _size(item: Structure) -> str:
    """The size, of a channel drain with its length."""
    if item.kind != "channel_drain" or not (item.size_in or known(item.length_ft)):
        return words.size(item)
    wide = words.size(item) if item.size_in else f"width {NOT_RECORDED}"
    long = f"{words.length(item.length_ft)} long" if known(item.length_ft) else f"length {NOT_RECORDED}"
    return f"{wide}, {long}"


def _doubted(facts: Facts, item: Structure | Run, *fields: str) -> list[Mark]:
    # A word, not a number: marked where it is under question, and left alone by findings such as "planned".
    return [mark for mark in facts.marks(item.label, *fields) if mark.sign == "†"]


def _state(item: Structure | Run) -> str:
    return sentence(plain("state", item.state)) if item.state else NOT_RECORDED


def _elevation(facts: Facts, item: Structure, field: str) -> str:
    value = facts.level(item, field)
    computed = known(value) and not known(getattr(item, field))
    return words.elevation(value) + (" (c)" if computed else "")


def _runs(paper: Paper, facts: Facts) -> None:
    if not facts.record.runs:
        paper.text("No runs of pipe were recorded.")
        return
    header = [
        "Label",
        "From, to",
        "State",
        "Pipe",
        "Length",
        "Drop",
        "Slope said",
        "Slope computed",
        "Least cover",
        "Fittings",
        "Bedding, backfill",
        "From notes",
    ]
    rows = [_run(facts, run) for run in facts.record.runs]
    paper.table(
        "Runs of pipe as built.",
        header,
        *_laid(rows),
        [0.5, 0.86, 0.8, 0.74, 0.74, 0.72, 0.72, 0.94, 0.72, 0.9, 0.84, 0.72],
    )
    _foot(paper, rows, "Slope said is the crew's word; slope computed is worked out from what is named beside it.")


def _run(facts: Facts, run: Run) -> list[Cell]:
    def on(*fields: str) -> list[Mark]:
        return facts.marks(run.label, *fields)

    return [
        (run.label, []),
        (f"{run.from_ or NOT_RECORDED} to {run.to or NOT_RECORDED}", _doubted(facts, run, "from", "to", "from_")),
        (_state(run), _doubted(facts, run, "state")),
        (words.pipe(run) if run.pipe or run.nominal_in else NOT_RECORDED, on("nominal_in", "pipe")),
        (words.length(run.length_ft), on("length_ft")),
        (words.inches(run.drop_in), on("drop_in")),
        (words.slope(run.slope_pct), on("slope_pct")),
        _computed(facts, run),
        (words.inches(run.cover_in), on("cover_in")),
        (_fittings(run), on("fittings")),
        (_embedment(run), on("bedding", "backfill")),
        (_origin(facts, run), []),
    ]


def _computed(facts: Facts, run: Run) -> Cell:
    slope = facts.slopes.get(run.label)
    if slope is None or not known(slope.slope_pct):
        return "not enough recorded", []
    return f"{words.slope(slope.slope_pct)} from {slope.basis}", facts.slope_marks(run)


def _fittings(run: Run) -> str:
    return words.fittings(run.fittings) or NOT_RECORDED


def _embedment(run: Run) -> str:
    if not run.bedding and not run.backfill:
        return NOT_RECORDED
    return f"{run.bedding or f'bedding {NOT_RECORDED}'}; {run.backfill or f'backfill {NOT_RECORDED}'}"


def _levels(paper: Paper, facts: Facts) -> None:
    levels = facts.record.levels
    if not levels:
        paper.text("No level readings were recorded.")
        return
    rows: list[list[Cell]] = []
    for place, level in enumerate(levels):
        reading, doubts = facts.readings.get(place), facts.reading_marks(level)
        rows.append(
            [
                (_point(level.point), []),
                (sentence(plain("level", level.kind)), []),
                (words.elevation(level.rod_ft), doubts),
                (words.elevation(level.elevation_ft), doubts),
                (words.elevation(reading.elevation_ft if reading else None), doubts),
                (words.notes(level.evidence), []),
            ]
        )
    header = ["Point", "Reading", "Rod", "Elevation said", "Elevation computed", "From notes"]
    paper.table("Level readings.", header, *_laid(rows), [2.2, 1.2, 1.2, 1.4, 1.6, 1.4])
    _foot(paper, rows, "Read with a level and rod by the crew; this is not a survey.")


def _crossings(paper: Paper, facts: Facts) -> None:
    rows: list[list[Cell]] = [
        [
            (run.label, []),
            ("; ".join(map(crossing_words, run.crossings)), facts.marks(run.label, "crossings")),
            (_told_in(run, "crossings"), []),
        ]
        for run in facts.record.runs
        if run.crossings
    ]
    if rows:
        paper.table("What the runs cross.", ["Run", "What it crosses", "From notes"], *_laid(rows), [1.4, 5.6, 2.0])
        _foot(paper, rows, "Distances are along the run from its upper end.")


def _ties(paper: Paper, facts: Facts) -> None:
    """Structures by their taped distances, then the fixed points that these start from."""
    rows: list[list[Cell]] = [
        [
            (item.label, []),
            ("; ".join(map(tie_words, item.ties)), facts.marks(item.label, "ties")),
            (_told_in(item, "ties"), []),
        ]
        for item in facts.record.structures
        if item.ties
    ]
    rows += [
        [(sentence(each.name), []), (_fixed(each), facts.entry_marks(each)), (words.notes(each.evidence), [])]
        for each in facts.record.points
    ]
    if rows:
        header = ["Structure or point", "Where it lies", "From notes"]
        paper.table("How to find it again.", header, *_laid(rows), [1.4, 5.6, 2.0])
        grid = any(each.x_ft is not None for each in facts.record.points)
        axes = " Two numbers after “at” are feet along the two axes of the job's own grid." if grid else ""
        _foot(paper, rows, f"Distances were taped by the crew; this is not a survey.{axes}")


def _fixed(point: FixedPoint) -> str:
    return f"fixed point {point_words(point).removeprefix(point.name).strip()}".rstrip()


def _told_in(entry: Entry, field: str) -> str:
    return words.notes(item for item in entry.evidence if item.field == field)


def _changes(paper: Paper, facts: Facts) -> None:
    if not facts.record.changes:
        return
    paper.heading("Changes of plan", 2)
    lines = []
    for each in facts.record.changes:
        text = sentence(f"{each.about}: {each.text}" if each.about else each.text)
        lines.append(marked(f"{text} ({words.notes(each.evidence)})", facts.entry_marks(each)))
    paper.bullets(lines)


def _point(point: str) -> str:
    label, _, side = point.partition(" ")
    return f"{label} {plain('field', f'{side}_ft').replace(' elevation', '')}" if side else sentence(point)


def _origin(facts: Facts, item: Structure | Run) -> str:
    numbers = facts.about(item.label)
    open_points = f"; see open point{'s' if len(numbers) > 1 else ''} {', '.join(map(str, numbers))}" if numbers else ""
    return words.notes(item.evidence) + open_points


def _laid(rows: list[list[Cell]]) -> tuple[list[list[str]]]:
    return ([[marked(text, doubts) for text, doubts in row] for row in rows],)


def _foot(paper: Paper, rows: list[list[Cell]], remark: str) -> None:
    legend(paper, (mark for row in rows for _, marks in row for mark in marks))
    paper.text(remark, "Small Note")


def legend(paper: Paper, marks: Iterable[Mark]) -> None:
    """What the marks mean that a table or drawing bears; what was heard stands once, in the box of the summary."""
    found = unique(marks)
    asked = [str(mark) for mark in found if mark.sign == "†"]
    points = [mark for mark in found if mark.sign == "‡"]
    items = (
        [(" ".join(asked), "being confirmed; section 1, “Questions still open”, says what was heard.")] if asked else []
    )
    if points:
        items.append((" ".join(map(str, points)), _disagreement([mark.number for mark in points])))
    if items:
        paper.legend(items)


def _disagreement(numbers: list[int]) -> str:
    many = len(numbers) > 1
    points = f"open point{'s' if many else ''} {words.joined(map(str, numbers))}"
    return f"{'do' if many else 'does'} not agree with other figures or with a limit; see {points}."
