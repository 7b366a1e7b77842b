"""The report, for one of three readers: the client, whoever needs the whole record, whoever must find the drain again.

Each is one Word document from the same closeout; beside it lie the drawings.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Literal, get_args

from extract.errors import FallbookError
from reports import asbuilt, client, closing, front, locate, plates, words
from reports.canvas import Drawing
from reports.drawings import draw, not_drawn, plans
from reports.facts import Facts, gather
from reports.job import Closeout
from reports.scratch import write_together

if TYPE_CHECKING:
    from reports.paper import Paper

Reader = Literal["client", "record", "locate"]
READERS: tuple[Reader, ...] = get_args(Reader)
Section = tuple[str, str, Callable[["Paper", Facts], None]]
UPRIGHT: list[Section] = [
    ("photos", "Photos", plates.photos),
    ("issues", "Issues found and what was done", closing.issues),
    ("checks", "Checks and open points", closing.checks),
    ("tests", "Water tests", closing.tests),
    ("materials", "Materials", closing.materials),
    ("care", "Care of the system", closing.care),
    ("warranty", "Warranty", closing.warranty),
    ("cautions", "Cautions", closing.cautions),
    ("handover", "Handover", closing.signatures),
]
BESIDE = r"\.pdf|-care\.ics|-(?:plan|schematic|profile(?:-\d+)?)\.png"
"""How the names of the files beside a report end, behind its stem."""
FIRST = [("summary", "Summary"), ("built", "What was built"), ("drawings", "Plan and profile")]


def prepare(closeout: Closeout, reader: Reader = "record") -> list[Drawing]:
    """The drawings for that reader, which need no pictures, for the time while those are decoded; what else is slow to
    load is loaded then too."""
    import reports.paper  # noqa: F401

    drawings = _drawn(gather(closeout), reader)
    for drawing in drawings:
        drawing.png  # noqa: B018  (made now)
    return drawings


def shown(closeout: Closeout, reader: Reader) -> Closeout:
    """The part of a closeout that this reader is shown."""
    return closeout if reader == "record" else client.for_client(closeout)


def write_closeout(
    closeout: Closeout,
    path: Path,
    drawings: list[Drawing] | None = None,
    *,
    reader: Reader = "record",
    unsettled: Sequence[str] = (),
    beside: Callable[[bytes], dict[str, bytes]] = lambda document: {},
) -> list[Path]:
    """Writes the report for that reader at `path` (.docx) and its drawings beside it, those of `prepare` where they
    were made already; all the paths written, the report first. It is a draft where something is `unsettled`. `beside`
    makes more of the document: what the name of each such file has behind the report's stem, and its bytes.

    All is made before anything is written; then what an earlier report of that name left beside it goes. The same
    closeout gives the same bytes. Raises FallbookError where a file cannot be written.
    """
    closeout = shown(closeout, reader)
    facts = gather(closeout)
    drawings = _drawn(facts, reader) if drawings is None else drawings
    if reader == "record":
        content = _record(facts, drawings)
    else:
        drawings = plans(drawings)
        content = (client if reader == "client" else locate).document(closeout, drawings, unsettled)
    files = {path.suffix: content} | beside(content)
    files |= {f"-{drawing.name}.png": drawing.png for drawing in drawings}
    _write(path, {f"{path.stem}{end}": each for end, each in files.items()})
    return [path.with_name(f"{path.stem}{end}") for end in files]


def _drawn(facts: Facts, reader: Reader) -> list[Drawing]:
    return draw(facts, locate.TALLEST) if reader == "locate" else draw(facts)


def _record(facts: Facts, drawings: list[Drawing]) -> bytes:
    from reports.paper import Paper, noon  # python-docx is slow to load

    job = facts.job
    paper = Paper(
        title=f"Drainage close-out report: {job.address}",
        subject=f"As-built record, photos and warranty for {job.client}",
        author=job.company.name,
        day=noon(facts.closeout.prepared),
        header=(job.company.name, f"{job.name} · {job.address}"),
        footer=f"Close-out report prepared {words.day(facts.closeout.prepared)}",
        colour=job.company.colour,
    )
    titles = {anchor: f"{number}  {title}" for number, (anchor, title) in enumerate(_headings(), 1)}
    front.cover(paper, facts, list(titles.items()))
    paper.heading(titles["summary"], anchor="summary", new_page=True)
    front.summary(paper, facts)
    paper.turn(landscape=True)
    paper.heading(titles["built"], anchor="built")
    asbuilt.tables(paper, facts)
    paper.heading(titles["drawings"], anchor="drawings")
    _place(paper, facts, drawings)
    paper.turn(landscape=False)
    for anchor, _, write in UPRIGHT:
        if anchor == "handover":
            paper.hold(closing.BEFORE_HANDOVER)
        paper.heading(titles[anchor], anchor=anchor)
        write(paper, facts)
    return paper.save()


def _headings() -> list[tuple[str, str]]:
    return [*FIRST, *((anchor, title) for anchor, title, _ in UPRIGHT)]


def _place(paper: Paper, facts: Facts, drawings: list[Drawing]) -> None:
    if not drawings:
        paper.text("No structures or runs were recorded, so there is nothing to draw.")
    for drawing in drawings:
        paper.figure(drawing.png, alt=drawing.alt, caption=drawing.caption, height=5.5)
        asbuilt.legend(paper, drawing.marks)
    if drawings and drawings == plans(drawings):
        paper.text(not_drawn(facts))


def _write(path: Path, files: dict[str, bytes]) -> None:
    own = re.compile(f"{re.escape(path.stem)}(?:{BESIDE})")
    try:
        gone = [each.name for each in path.parent.iterdir() if own.fullmatch(each.name) and each.is_file()]
        write_together(path.parent, files, gone)
    except OSError as error:
        why = error.strerror or error
        raise FallbookError(
            f"{path}: cannot be written ({why}); close it and what lies beside it, or choose another folder"
        ) from error
