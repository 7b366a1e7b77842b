import pytest

from logger.pace import Pace, now_and_then

HOUR = 3600


class Clock:
    def __init__(self) -> None:
        self.now = 1000.0

    def __call__(self) -> float:
        return self.now


@pytest.fixture
def clock():
    return Clock()


def test_time_left_goes_by_how_fast_it_went(clock):
    pace = Pace(clock)
    assert pace.words(0, 4 * HOUR) == "0 seconds of 4 hours heard"
    clock.now += 300
    assert pace.words(HOUR, 4 * HOUR) == "1 hour of 4 hours heard, about 15 minutes left"
    clock.now += 600
    assert pace.words(3.9 * HOUR, 4 * HOUR) == "3 hours 54 minutes of 4 hours heard, less than a minute left"


def test_what_was_heard_before_makes_it_no_faster(clock):
    pace = Pace(clock)
    pace.words(3 * HOUR, 4 * HOUR)
    clock.now += 300
    assert pace.words(3.5 * HOUR, 4 * HOUR) == "3 hours 30 minutes of 4 hours heard, about 5 minutes left"


def test_nothing_is_guessed_from_the_first_seconds(clock):
    pace = Pace(clock)
    pace.words(0, 100)
    clock.now += 4
    assert pace.words(59.7, 100) == "1 minute of 2 minutes heard"


def test_a_line_a_minute_and_none_at_the_end(clock):
    lines = []
    progress = now_and_then(lines.append, clock)
    for done in range(0, 601, 10):
        progress(done, 600)
        clock.now += 2
    assert lines == ["5 minutes of 10 minutes heard, about 1 minute left"]
