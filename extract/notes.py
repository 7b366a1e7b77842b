"""A text log into notes: one note a line, a time in brackets in front where there is one."""

from __future__ import annotations

import re
from datetime import date, datetime, time

from extract.record import Note

STAMP = re.compile(r"^\[([0-9T:.+\-Zz ]{4,35})\]\s*")


def parse_log(text: str, day: date | None = None) -> list[Note]:
    """The notes of a text log, in its order. Blank lines and lines that start with `#` are skipped.

    A bare time such as `[14:05:30]` stands on `day` (or on 1900-01-01, an order and no date, where none is given).
    A bracket that holds no time is left in the words.
    """
    notes = []
    for line in text.lstrip("\ufeff").splitlines():
        line = line.strip()
        if not line or line.startswith("#"):
            continue
        at, words = _split_stamp(line, day)
        if words:
            notes.append(Note(text=words, at=at))
    return notes


def _split_stamp(line: str, day: date | None) -> tuple[datetime | None, str]:
    match = STAMP.match(line)
    if not match:
        return None, line
    try:
        return _moment(match[1], day), line[match.end() :]
    except ValueError:
        return None, line


def _moment(stamp: str, day: date | None) -> datetime:
    if "T" in stamp or stamp.count("-") >= 2:
        moment = datetime.fromisoformat(stamp)
        if not 2000 <= moment.year <= 2100:
            raise ValueError(f"no crew was out in the year {moment.year}")
        return moment
    clock = time.fromisoformat(stamp if len(stamp.split(":")[0]) == 2 else f"0{stamp}")
    return datetime.combine(day or date(1900, 1, 1), clock)
