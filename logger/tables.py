"""Tables as plain text: no lines, a head of plain words, cells folded where the screen is narrow."""

from __future__ import annotations

import textwrap
from collections.abc import Iterator
from unicodedata import east_asian_width

from logger.clean import clean

GAP = 2
"""Spaces between columns."""
BOLD, PLAIN = "\x1b[1m", "\x1b[0m"


class Table:
    """Rows of cells under their heads (no head line where those are empty). Cells hold nothing that a terminal would
    take for a command."""

    def __init__(self, *heads: str) -> None:
        self.heads = heads
        self.rows: list[list[str]] = []
        self.of: list[str] = []
        """What each row is of, by the words that `fallbook show` takes, `R-2`, `test:1`, `note:14`, or the ID of a
        question, `question:3fb20c`; else empty."""

    def add_row(self, *cells: str, of: str = "") -> None:
        """One more row, a cell a column."""
        self.rows.append([clean(cell) for cell in cells])
        self.of.append(of)

    def lines(self, width: int, *, bold: bool = False) -> Iterator[str]:
        """The table in lines of at most `width` columns, as far as its columns allow; the heads in bold for a
        terminal."""
        shown = [list(self.heads), *self.rows] if any(self.heads) else self.rows
        widths = _widths([max(map(_length, column)) for column in zip(*shown, strict=True)], width)
        for number, row in enumerate(shown):
            for line in _folded(row, widths):
                yield f"{BOLD}{line}{PLAIN}" if bold and number == 0 and any(self.heads) else line


Block = str | Table
"""What is printed: lines of text, or a table."""


def _widths(wanted: list[int], width: int) -> list[int]:
    """What each column gets: narrow ones what they want, wide ones an equal share of the rest."""
    left = width - GAP * (len(wanted) - 1)
    given = dict.fromkeys(range(len(wanted)), 0)
    for done, column in enumerate(sorted(given, key=lambda each: wanted[each])):
        given[column] = max(1, min(wanted[column], left // (len(wanted) - done)))
        left -= given[column]
    return list(given.values())


def _folded(row: list[str], widths: list[int]) -> Iterator[str]:
    pieces = [_pieces(cell, width) for cell, width in zip(row, widths, strict=True)]
    for number in range(max(map(len, pieces), default=0)):
        cells = [each[number] if number < len(each) else "" for each in pieces]
        padded = (cell + " " * (width - _length(cell)) for cell, width in zip(cells, widths, strict=True))
        yield (" " * GAP).join(padded).rstrip()


def _pieces(cell: str, width: int) -> list[str]:
    if _length(cell) <= width:
        return [cell]
    if not cell.isascii():
        width = max(1, width * len(cell) // _length(cell))
    return textwrap.wrap(cell, width, break_on_hyphens=False) or [""]


def _length(cell: str) -> int:
    """Columns that a cell takes: some signs take two."""
    return len(cell) if cell.isascii() else sum(1 + (east_asian_width(each) in "WF") for each in cell)
