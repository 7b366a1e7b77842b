from datetime import UTC, date, datetime, timedelta, timezone

import pytest

from extract.errors import UsageError
from logger.times import aware, machine_zone, named_day, named_time, sound_start, timezone_of, typed_day, typed_moment

ZONE = timezone(timedelta(hours=-5))
MODIFIED = datetime(2026, 5, 14, 20, 0, 0, tzinfo=UTC)


@pytest.mark.parametrize(
    ("name", "expected"),
    [
        ("2026-05-14 07.42.10.m4a", datetime(2026, 5, 14, 7, 42, 10)),
        ("20260514_074210.m4a", datetime(2026, 5, 14, 7, 42, 10)),
        ("Recording 2026-05-14T074210.wav", datetime(2026, 5, 14, 7, 42, 10)),
        ("20260514T074210.ogg", datetime(2026, 5, 14, 7, 42, 10)),
        ("IMG_20260514_074210.jpg", datetime(2026, 5, 14, 7, 42, 10)),
        ("note 2026-05-14 at 7.42.10 PM.m4a", datetime(2026, 5, 14, 19, 42, 10)),
        ("note 2026-05-14 at 12.42.10\u202fAM.m4a", datetime(2026, 5, 14, 0, 42, 10)),
        ("20261514_074210.m4a", None),
        ("20260514_254210.m4a", None),
        ("20260514_0742101.m4a", None),
        ("2026-05-14.m4a", None),
        ("pocket.m4a", None),
        ("120260514_074210.m4a", None),
    ],
)
def test_the_time_in_a_name(name, expected):
    assert named_time(name) == expected


def test_the_day_in_a_name():
    assert named_day("notes 2026-05-14.txt") == date(2026, 5, 14)
    assert named_day("notes.txt") is None


def test_a_recording_begins_by_its_container_then_its_name_then_its_file():
    started = datetime(2026, 5, 14, 12, 42, 10, tzinfo=UTC)
    by_container = sound_start(started, "20260514_101500.m4a", MODIFIED, 60, ZONE)
    assert by_container.at == started
    assert by_container.at.utcoffset() == timedelta(hours=-5)
    assert by_container.source == "the recording's own metadata"
    by_name = sound_start(None, "20260514_101500.m4a", MODIFIED, 60, ZONE)
    assert (by_name.at, by_name.source) == (datetime(2026, 5, 14, 10, 15, tzinfo=ZONE), "file name")
    by_file = sound_start(None, "pocket.m4a", MODIFIED, 60, ZONE)
    assert by_file.at == MODIFIED - timedelta(seconds=60)
    assert by_file.source == "file modification time less the recording's length"


@pytest.mark.parametrize("zone", ["-5", "-05", "0500", "+15:00", "-05:60", "EST", ""])
def test_a_zone_that_is_none_is_refused(zone):
    with pytest.raises(UsageError, match="no offset from UTC; write it as -05:00"):
        timezone_of(zone)


def test_the_zone_of_this_machine_can_be_read_back():
    assert timezone_of(machine_zone(date(2026, 5, 14))) is not None


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("14:05", "2026-05-14T14:05:00-05:00"),
        ("14:05:30", "2026-05-14T14:05:30-05:00"),
        ("2026-05-15T08:00", "2026-05-15T08:00:00-05:00"),
        ("2026-05-15T08:00:00Z", "2026-05-15T03:00:00-05:00"),
    ],
)
def test_a_moment_as_typed(text, expected):
    assert typed_moment(text, date(2026, 5, 14), ZONE).isoformat() == expected


@pytest.mark.parametrize("text", ["noon", "25:00", "2026-13-01T10:00"])
def test_what_is_no_moment_is_refused(text):
    with pytest.raises(UsageError, match="is no time; write 14:05"):
        typed_moment(text, date(2026, 5, 14), ZONE)


def test_an_hour_may_be_typed_with_one_figure():
    assert typed_moment("9:05", date(2026, 5, 14), ZONE) == datetime(2026, 5, 14, 9, 5, tzinfo=ZONE)


@pytest.mark.parametrize("text", ["9999-12-31T23:59:59-05:00", "0001-01-01T00:00:00+10:00", "1999-12-31T10:00"])
def test_a_moment_no_crew_was_out_in_is_refused(text):
    with pytest.raises(UsageError, match="is no time"):
        typed_moment(text, date(2026, 5, 14), ZONE)


@pytest.mark.parametrize("text", ["14 May", "2026-13-01", "0001-01-01", "9999-12-31", ""])
def test_a_day_that_is_none_says_how_to_write_one(text):
    with pytest.raises(UsageError, match="write the day as 2026-05-14"):
        typed_day(text)
    assert typed_day("2026-05-14") == date(2026, 5, 14)


def test_the_ends_of_the_calendar_stay_where_they_are():
    end = datetime(9999, 12, 31, 23, 59, 59, tzinfo=ZONE)
    assert aware(end, UTC) == end
