"""The client's calendar, read back by the library's own parser and its rules worked out by python-dateutil."""

from __future__ import annotations

from datetime import UTC, date, datetime

import pytest
from dateutil.rrule import rrulestr
from icalendar import Calendar

from extract.record import Record, Structure
from reports.care import due, seasons
from reports.ics import calendar
from reports.job import Closeout, Company, Warranty


def events(closeout: Closeout) -> dict[str, list[date]]:
    """Each event by its name, with the days that it falls on."""
    found = {}
    for event in Calendar.from_ical(calendar(closeout)).walk("VEVENT"):
        start = event.decoded("dtstart")
        assert type(start) is date
        rule = event.get("rrule")
        whole = datetime(start.year, start.month, start.day)
        days = [each.date() for each in rrulestr(rule.to_ical().decode(), dtstart=whole)] if rule else [start]
        found[str(event["summary"])] = days
    return found


def with_day(closeout: Closeout, day: date, **terms: int) -> Closeout:
    company: Company = closeout.job.company
    warranty = Warranty.model_validate(company.warranty.model_dump() | terms)
    job = closeout.job.model_copy(update={"day": day, "company": company.model_copy(update={"warranty": warranty})})
    return closeout.model_copy(update={"job": job})


def test_care_comes_each_season_until_the_warranty_ends_and_its_last_day_once(closeout: Closeout) -> None:
    assert events(closeout) == {  # 14 May 2026 and 24 months
        "Spring care of your drain": [date(2027, 3, 1), date(2028, 3, 1)],
        "Summer care of your drain": [date(2026, 6, 1), date(2027, 6, 1)],
        "Fall care of your drain": [date(2026, 9, 1), date(2027, 9, 1)],
        "Winter care of your drain": [date(2026, 12, 1), date(2027, 12, 1)],
        "Last day of the warranty on your drain": [date(2028, 5, 14)],
    }


@pytest.mark.parametrize(
    ("day", "months", "care", "last"),
    [
        (date(2024, 2, 29), 12, 4, date(2025, 2, 28)),  # the care of 1 March 2025 comes a day too late
        (date(2024, 2, 29), 24, 8, date(2026, 2, 28)),
        (date(2024, 2, 29), 36, 12, date(2027, 2, 28)),
        (date(2024, 2, 29), 48, 16, date(2028, 2, 29)),
        (date(2026, 8, 31), 6, 2, date(2027, 2, 28)),
        (date(2026, 3, 1), 12, 4, date(2027, 3, 1)),  # not on the day of the work, but on the last day
        (date(2026, 3, 2), 1, 0, date(2026, 4, 2)),
    ],
)
def test_the_days_stand_between_the_work_and_the_last_day(
    closeout: Closeout, day: date, months: int, care: int, last: date
) -> None:
    found = events(with_day(closeout, day, workmanship_months=months))
    assert found.pop("Last day of the warranty on your drain") == [last]
    days = sorted(each for every in found.values() for each in every)
    assert len(days) == care
    assert days == [each for each, _ in due(day, last)]


def test_the_same_closeout_gives_the_same_bytes_stamped_with_its_own_day(closeout: Closeout) -> None:
    made = calendar(closeout)
    assert calendar(closeout) == made
    stamps = {event.decoded("dtstamp") for event in Calendar.from_ical(made).walk("VEVENT")}
    assert stamps == {datetime(2026, 5, 15, 12, tzinfo=UTC)}


def uids(closeout: Closeout) -> dict[str, str]:
    return {str(each["summary"]): str(each["uid"]) for each in Calendar.from_ical(calendar(closeout)).walk("VEVENT")}


def test_made_again_each_event_keeps_its_uid_and_no_two_share_one(closeout: Closeout) -> None:
    before = uids(closeout)
    later = closeout.model_copy(update={"prepared": date(2026, 9, 1)})
    moved = later.job.model_copy(
        update={"client": "Ida Kestrel", "address": "7 Larkspur Walk", "day": date(2026, 5, 12)}
    )
    assert uids(later.model_copy(update={"job": moved})) == before
    assert len(set(before.values())) == len(before)
    other = later.model_copy(update={"job": later.job.model_copy(update={"name": "tarn-lane"})})
    assert not set(uids(other).values()) & set(before.values())


def test_a_visit_changes_the_first_jobs_events_and_adds_the_end_of_its_new_work(closeout: Closeout) -> None:
    warranty = Warranty.model_validate(closeout.job.company.warranty.model_dump() | {"callback_months": 3})
    company = closeout.job.company.model_copy(update={"warranty": warranty})
    job = closeout.job.model_copy(
        update={"name": "back", "day": date(2026, 11, 30), "callback_of": "larkspur-walk", "company": company}
    )
    visit = closeout.model_copy(update={"job": job, "former": closeout})
    added = "Last day of the warranty on what was added to your drain"
    assert {name: uid for name, uid in uids(visit).items() if name != added} == uids(closeout)
    to_come = {name: [day for day in days if day > job.day] for name, days in events(closeout).items()}
    assert events(visit) == to_come | {added: [date(2027, 2, 28)]}


def test_a_visit_after_the_warranty_has_care_up_to_the_end_of_its_new_work_and_none_before_it(
    closeout: Closeout,
) -> None:
    warranty = Warranty.model_validate(closeout.job.company.warranty.model_dump() | {"callback_months": 12})
    company = closeout.job.company.model_copy(update={"warranty": warranty})
    told = {"name": "back", "day": date(2029, 9, 15), "callback_of": "larkspur-walk", "company": company}
    visit = closeout.model_copy(update={"job": closeout.job.model_copy(update=told), "former": closeout})
    care = [day for name, days in events(visit).items() if "care" in name for day in days]
    assert care
    assert all(date(2029, 9, 15) < day <= date(2030, 9, 15) for day in care)


def test_an_event_tells_what_to_do_where_such_things_are(closeout: Closeout) -> None:
    outlet = Record(structures=[Structure(label="OUT-1", kind="daylight_outlet", state="installed")])
    found = events(closeout.model_copy(update={"record": outlet}))
    assert "Fall care of your drain" not in found  # no grate, gutter or basin: nothing to do
    (spring,) = [
        event for event in Calendar.from_ical(calendar(closeout)).walk("VEVENT") if "Spring" in event["summary"]
    ]
    assert "Lift the grates" in spring["description"]
    assert spring["location"] == "77 Larkspur Walk, Fernhollow"


def test_the_last_day_says_how_to_claim(closeout: Closeout) -> None:
    last = Calendar.from_ical(calendar(closeout)).walk("VEVENT")[-1]
    assert last["description"].split("\n") == [
        "Call the office with the job name.",
        "We answer within 10 days.",
        "Juniper & Slate Drainage, (555) 014-2277, office@juniperslate.example",
    ]


def test_signs_of_the_format_and_of_a_terminal_do_no_harm(closeout: Closeout) -> None:
    nasty = "1 Larch\r\nEND:VCALENDAR; Lane, \x1b[2J\N{RIGHT-TO-LEFT OVERRIDE}"
    made = calendar(closeout.model_copy(update={"job": closeout.job.model_copy(update={"address": nasty})}))
    parsed = Calendar.from_ical(made)
    assert len(parsed.walk("VEVENT")) == 5
    assert parsed.walk("VEVENT")[0]["location"] == "1 Larch END:VCALENDAR; Lane, \ufffd[2J\ufffd"
    assert all(len(line) <= 75 for line in made.split(b"\r\n"))  # octets a line, RFC 5545, section 3.1


def test_each_season_of_the_care_sheet_has_its_first_day() -> None:
    assert [(each.name, each.month, each.day) for each in seasons()] == [
        ("Spring", 3, 1),
        ("Summer", 6, 1),
        ("Fall", 9, 1),
        ("Winter", 12, 1),
    ]


def test_what_is_due_is_told_in_order_with_the_last_day_in_and_the_first_out() -> None:
    assert due(date(2026, 3, 1), date(2027, 3, 1)) == [
        (date(2026, 6, 1), "Summer"),
        (date(2026, 9, 1), "Fall"),
        (date(2026, 12, 1), "Winter"),
        (date(2027, 3, 1), "Spring"),
    ]
