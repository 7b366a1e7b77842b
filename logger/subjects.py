"""What a person names of a job: a thing, an entry of a list, a levelled point."""

from __future__ import annotations

import re

from extract import listed
from extract.answers import label_said, point_named
from extract.errors import UsageError
from extract.record import BENCHMARK, Entry, Level, Record
from logger.book import Book
from reports.words import things

NOTE = re.compile(r"note:(\d{1,6})", re.I)
PHOTO = re.compile(r"photo:(\d{1,6})", re.I)


def subject_named(book: Book, words: str) -> tuple[str, Entry]:
    """The subject of a change, and its entry: `R-2`, `basin two`, `test:1`, `benchmark` or `CB-1 rim`.

    Raises UsageError, naming what there is.
    """
    record = book.record
    label = label_said(record, words)
    thing = record.subject(label) if label else None
    if label and thing:
        return label, thing
    level = _level(record, words)
    entry = level or listed.listed(record, words)
    if entry is not None:
        return listed.subject_of(record, entry), entry
    if (match := listed.SUBJECT.fullmatch(words)) and (entries := getattr(record, listed.LISTS[match[1].lower()])):
        told = ", ".join(f"{listed.subject_of(record, each)} ({listed.in_words(each)})" for each in entries)
        raise UsageError(f"no {words} in {book.job.name}; there are: {told}")
    if point := point_named(record, words):
        name, job = point.replace("_", " "), book.job.name
        alone = f', or "{name} elevation 100"' if point == BENCHMARK else ""
        raise UsageError(f'{name} was not read; add it with: fallbook amend {job} levels "{name} 4.85"{alone}')
    known = [each.label for each in things(record)]
    lists = ((kind, len(getattr(record, name))) for kind, name in listed.LISTS.items())
    known += [f"{kind}:1 to {count}" if count > 1 else f"{kind}:1" for kind, count in lists if count]
    raise UsageError(
        f"no {words} in {book.job.name}; there are: {', '.join(known) or 'none yet'}; or note:N, photo:N, file:NAME"
    )


def called(record: Record, subject: str) -> str:
    """A subject as one reads it: `test 1 (hose, R-1)`, and for a level the point it is of."""
    entry = listed.listed(record, subject)
    if entry is None or isinstance(entry, Level):
        return entry.point.replace("_", " ") if entry else subject
    return f"{subject.replace(':', ' ')} ({listed.in_words(entry)})"


def _level(record: Record, words: str) -> Level | None:
    """The reading at that point; of several, the backsight, then the first."""
    point = (point_named(record, words) or words).lower().replace("_", " ")
    at_it = [each for each in record.levels if each.point.lower().replace("_", " ") == point]
    return next((each for each in at_it if each.kind == "backsight"), next(iter(at_it), None))
