"""The drawings of a job as SVG, kept until something changes in it."""

from __future__ import annotations

from dataclasses import asdict, dataclass

from logger.book import Book
from logger.program import program


@dataclass(frozen=True)
class Drawn:
    name: str
    """`plan`, `profile`, `profile-2`."""
    caption: str
    alt: str
    """What it shows, for a reader who cannot see it."""
    marks: list[str]
    """What each sign beside a figure says: `†1 Run R-2, length: being confirmed: ...`."""
    svg: str
    wide_in: float
    tall_in: float


def kept(book: Book) -> list[Drawn] | None:
    """The drawings as they were kept; None where they are to be drawn first."""
    found = book.store.cached(book.name, "drawings", _made_with(book))
    return None if found is None else [Drawn(**each) for each in found]


def drawings(book: Book) -> list[Drawn]:
    """The plan, then the profile in as many sheets as it needs; nothing where nothing was recorded."""
    if (known := kept(book)) is not None:
        return known
    from reports.drawings import draw  # slow to load
    from reports.facts import gather

    found = [
        Drawn(
            each.name, each.caption, each.alt, [f"{mark} {mark.words}" for mark in each.marks], each.svg,
            each.sheet.width, each.sheet.height,
        )
        for each in draw(gather(book.bare(book.job.day)))
    ]  # fmt: skip
    if book.whole:
        shapes = [asdict(each) for each in found]
        book.store.cache(book.name, "drawings", _made_with(book), shapes)
    return found


def _made_with(book: Book) -> str:
    return f"{book.state}/{program()}"
