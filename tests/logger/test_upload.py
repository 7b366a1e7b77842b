"""What a page tells beside a file: read from a query, kept in the log, and a line where it makes no sense."""

from datetime import UTC, datetime

import pytest

from extract.errors import UsageError
from logger.upload import KEY, Upload

TOLD = {"at": "2026-05-14T14:05:30.250Z", "recording_id": "0a1b", "from": "12.5", "to": "31.75"}


def test_what_a_piece_tells_is_kept_and_comes_back():
    upload = Upload.of(TOLD, ["1.2-3.40 run 2: length 34 feet", "4-5 x"])
    assert upload.at == datetime(2026, 5, 14, 14, 5, 30, 250_000, tzinfo=UTC)
    assert (upload.from_s, upload.to_s) == (12.5, 31.75)
    assert upload.spoken == ((1.2, 3.4, "run 2: length 34 feet"), (4, 5, "x"))
    assert Upload.in_entry({"modified": "x"} | upload.as_entry()) == upload


def test_what_a_photo_tells_is_kept_on_the_equator_too():
    upload = Upload.of({"lat": "0", "lon": "-93.25", "error": "4.5"})
    assert upload.as_entry() == {KEY: {"lat": 0.0, "lon": -93.25, "error_m": 4.5}}
    assert Upload.in_entry(upload.as_entry()) == upload


def test_a_file_that_no_page_made_has_nothing_beside_it():
    assert Upload.of({}).as_entry() == {}
    assert Upload.in_entry({"modified": "2026-05-14T14:05:30+00:00"}) == Upload()


def test_a_clock_that_was_never_set_is_passed_over():
    assert Upload.of({"at": "1970-01-01T00:00:10Z"}).at is None


@pytest.mark.parametrize(
    ("query", "words"),
    [
        ({"at": "noon"}, "at is no moment"),
        ({"at": "2026-05-14T14:05:30"}, "at has no zone"),
        ({"lat": "41.5"}, "a place needs lat and lon"),
        ({"lat": "91", "lon": "0"}, "lat is no number from -90 to 90"),
        ({"lat": "nan", "lon": "0"}, "lat is no number"),
        ({"error": "-1"}, "error is no number"),
        ({"recording_id": "../x"}, "recording_id is no ID"),
        ({"recording_id": "a"}, "ends after it began"),
        ({"recording_id": "a", "from": "5", "to": "4"}, "ends after it began"),
        ({"from": "1e400"}, "from is no number"),
    ],
)
def test_what_makes_no_sense_is_one_line(query, words):
    with pytest.raises(UsageError, match=words):
        Upload.of(query)


@pytest.mark.parametrize("spoken", ["", "words", "1-2", "1-x words", f"1-2 {'x' * 301}"])
def test_speech_that_makes_no_sense_is_one_line(spoken):
    with pytest.raises(UsageError, match="spoken is no stretch of speech"):
        Upload.of({}, [spoken])
