"""A text log into notes: one note a line, with a time in front where there is one."""

from __future__ import annotations

import re
from collections.abc import Iterator
from datetime import date, datetime, time

from extract.record import Note

STAMP = re.compile(r"\[([0-9T:.+\-Zz ]{4,35}|\d{1,2}:\d\d(?::\d\d)? ?[ap]\.?m\.?)\]\s*", re.I)
UNBRACKETED = re.compile(r"(\d{1,2}:\d\d(?::\d\d)?(?: ?[ap]\.?m\.?)?)\s+[-\u2013\u2014]\s+", re.I)
HALF_DAY = re.compile(r" ?([ap])\.?m\.?$", re.I)
LONGEST_LINE = 20_000
"""Characters of one note; a longer line is cut at the end of a sentence into several."""
PIECE = re.compile(r"\s+|\d+(?:[.,]\d+)+|\w+|[^\w\s]")
"""Spaces, a number, a word or a sign: all that a text is made of."""


def parse_log(text: str, day: date | None = None) -> list[Note]:
    """The notes of a text log, in its order. Blank lines and lines that start with `#` are skipped.

    A bare time such as `[14:05:30]`, `[1:20 PM]` or `1:20 pm -` stands on `day` (or on 1900-01-01, an order and no
    date, where none is given). A bracket that holds no time is left in the words. A line of more than LONGEST_LINE
    characters makes several notes.
    """
    notes = []
    for line in text.lstrip("\ufeff").splitlines():
        line = line.strip()
        if not line or line.startswith("#"):
            continue
        at, words = _split_stamp(line, day)
        notes += [Note(text=part, at=at) for part in _parts(words)]
    return notes


def _parts(words: str) -> Iterator[str]:
    """The words, cut at the end of a sentence, or at a space, where they are too long for one note."""
    start = 0
    while len(words) - start > LONGEST_LINE:
        high = start + LONGEST_LINE
        begins = _last_sentence(words[start:high])
        cut = start + begins if begins else words.rfind(" ", start, high) + 1
        cut = cut if cut > start else high
        if part := words[start:cut].strip():
            yield part
        start = cut
    if part := words[start:].strip():
        yield part


def _last_sentence(words: str) -> int:
    """Where the last sentence begins."""
    # spaCy knows how sentences end in any script; it costs half a second of imports, which only a line too long for one
    # note is worth. Its own tokeniser takes minutes over some nonsense.
    from spacy.pipeline import Sentencizer
    from spacy.tokens import Doc
    from spacy.vocab import Vocab

    pieces = PIECE.findall(words)
    doc = Sentencizer()(Doc(Vocab(), words=pieces, spaces=[False] * len(pieces)))
    return max(int(sentence.start_char) for sentence in doc.sents)


def _split_stamp(line: str, day: date | None) -> tuple[datetime | None, str]:
    match = STAMP.match(line) or UNBRACKETED.match(line)
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
    half = HALF_DAY.search(stamp)
    stamp = HALF_DAY.sub("", stamp)
    clock = time.fromisoformat(stamp if len(stamp.split(":")[0]) == 2 else f"0{stamp}")
    if half:
        if not 1 <= clock.hour <= 12:
            raise ValueError(f"no clock shows {stamp} {half[1]}m")
        clock = clock.replace(hour=clock.hour % 12 + 12 * (half[1].lower() == "p"))
    return datetime.combine(day or date(1900, 1, 1), clock)
