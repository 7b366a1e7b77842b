"""The client's calendar (iCalendar, RFC 5545): the care of each season until the warranty ends, and its last day."""

from __future__ import annotations

from collections.abc import Collection, Iterator
from datetime import UTC, date, datetime, time
from uuid import UUID, uuid5

from icalendar import Calendar, Event

from extract.record import Language
from reports.care import kinds_of, seasons
from reports.job import Closeout, Job
from reports.warranty import Terms, terms, way_back
from reports.words import clean, load, tallied

OURS = UUID("fbf31c2c-e170-4a83-9ac5-dc9da8daabc3")
"""Drawn once by chance: the name space of the UIDs below (RFC 9562, section 5.5)."""
ENDS = "warranty ends"
ADDED_ENDS = "warranty on new work ends"


def calendar(closeout: Closeout) -> bytes:
    """The file's bytes: all-day events, those of care repeated each year up to the warranty's last day.

    The same closeout gives the same bytes. The same event of the same job keeps its UID whenever the file is made
    again, and of a visit it is the first job's, so that a calendar takes the new file for the old one changed. Raises
    FallbookError as `terms` does.
    """
    given, job, first = terms(closeout), closeout.job, way_back(closeout)[-1]
    made = Calendar()
    language = closeout.language
    made.add("prodid", f"-//fallbook//care and warranty//{language.upper()}")
    made.add("version", "2.0")
    for event in (*_care(given, job, first, kinds_of(closeout.record), language), *_ends(given, job, first, language)):
        # The moment that the file was made for, not that at which it was written: see the promise above.
        event.add("dtstamp", datetime.combine(closeout.prepared, time(12), UTC))
        event.add("location", clean(job.address))
        event.add("transp", "TRANSPARENT")  # nobody is busy all day with it
        made.add_component(event)
    return bytes(made.to_ical())


def _care(given: Terms, job: Job, first: Job, kinds: Collection[str], language: Language) -> Iterator[Event]:
    """From the day of the work, of a visit its own, to the last day of the warranties that then run."""
    text, end = load("care", language)["calendar"], max(given.end, given.added.end if given.added else given.end)
    for of_all, season in zip(seasons(kinds), seasons(kinds, language), strict=True):
        day = season.first_after(job.day)
        if day <= end:
            # An event is known by its English name, so that it is the same one in a calendar of the other language.
            event = _event(first, of_all.name, day, text["season"].format(season=season.name), season.items)
            event.add("rrule", {"freq": "yearly", "until": end})
            yield event


def _ends(given: Terms, job: Job, first: Job, language: Language) -> Iterator[Event]:
    text, claim = load("care", language)["calendar"], _claim(given, job, language)
    yield _event(first, ENDS, given.end, text["ends"], claim)
    if given.added:
        yield _event(job, ADDED_ENDS, given.added.end, text["added_ends"], claim)


def _claim(given: Terms, job: Job, language: Language) -> list[str]:
    firm, days = job.company, given.respond_days
    answer = [tallied("closing", "answer", days, language)] if days else []
    return [given.how_to_claim, *answer, f"{firm.name}, {firm.phone}, {firm.email}"]


def _event(of: Job, what: str, day: date, summary: str, lines: list[str]) -> Event:
    """One whole day. A day with no end lasts that day (RFC 5545, section 3.6.1)."""
    event = Event()
    event.add("uid", str(uuid5(OURS, "\n".join((of.company.name, of.name, what)))))
    event.add("dtstart", day)
    event.add("summary", summary)
    event.add("description", "\n".join(map(clean, lines)))
    return event
