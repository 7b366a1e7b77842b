"""How far hearing has come and how long it still takes, in plain words."""

from __future__ import annotations

import time
from collections.abc import Callable

from reports.words import duration

SOON_S = 5
"""Before this it is a guess how fast hearing goes, and none is made."""
QUIET_S = 60
"""Between two lines where lines stay."""


class Pace:
    """Of one recording. Counted from where hearing began in it: what was heard before a kill took no time now."""

    def __init__(self, clock: Callable[[], float] = time.monotonic) -> None:
        self._clock = clock
        self._began: tuple[float, float] | None = None
        """The time by the clock, and the second of sound."""

    def words(self, done_s: float, total_s: float) -> str:
        """Such as "1 hour 20 minutes of 4 hours heard, about 11 minutes left"."""
        now = self._clock()
        self._began = self._began or (now, done_s)
        took, went = now - self._began[0], done_s - self._began[1]
        heard = f"{_about(done_s)} of {_about(total_s)} heard"
        if took < SOON_S or went <= 0:
            return heard
        left = took * (total_s - done_s) / went
        return f"{heard}, {'less than a minute' if left < 60 else f'about {_about(left)}'} left"


def now_and_then(
    say: Callable[[str], None], clock: Callable[[], float] = time.monotonic
) -> Callable[[float, float], None]:
    """A progress that says its words once a minute, and nothing of the end."""
    pace = Pace(clock)
    said = clock()

    def progress(done_s: float, total_s: float) -> None:
        nonlocal said
        words = pace.words(done_s, total_s)
        if clock() - said >= QUIET_S and done_s < total_s:
            said = clock()
            say(words)

    return progress


def _about(seconds: float) -> str:
    """To the second below a minute, to the minute above."""
    return duration(round(seconds) if seconds < 59.5 else 60 * round(seconds / 60))
