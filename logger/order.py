"""The order of a job's log: that in which things came in, whichever library they came into.

Within one library it is the order of the rows, also where the computer's clock ran backwards. An entry that was
unpacked from a bag brings the moment at which it stands, and takes its place among the others by that: the logs of two
crews become one, and the last word counts whoever gave it.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Iterable, Iterator
from datetime import UTC, datetime, time, timedelta
from typing import Any

from logger.times import in_range
from reports.days import FIRST_DAY

STANDS = "stands"
"""The field of an entry's body that keeps this moment; entries that came in here have none."""
MARK = f'"{STANDS}": "'
"""How it reads in the log: nothing that is said in an entry reads so, for a quote within words is escaped."""
START = datetime.combine(FIRST_DAY, time(), UTC)
STEP = timedelta(microseconds=1)
Rows = Callable[[str, list[Any]], Iterator[dict[str, Any]]]


def moments(rows: Iterable[tuple[datetime, datetime | None]]) -> Iterator[datetime]:
    """The moment at which each row of a job's log stands, from when it came in and the moment that it brought with it.

    A row that brought none stands when it came in, or right after the last of all rows above it, where the clock says
    less or cannot be right: whoever wrote it could know of those. Where two libraries thus come to the same moment, the
    one that came in earlier stands first.
    """
    last = START
    for at, brought in rows:
        moment = brought or max(at if in_range(at) else START, last + STEP)
        last = max(last, moment)
        yield moment


def in_order(rows: Rows, found: list[dict[str, Any]]) -> list[dict[str, Any]]:
    """Some rows of the log (`id`, `job` and `body`) in order. All of a job's log is looked at only where one of them
    came with a bag."""
    places: dict[int, int] = {}
    for job in {row["job"] for row in found if MARK in str(row["body"])}:
        places |= _places(rows, job)
    return sorted(found, key=lambda row: (row["job"], places.get(row["id"], row["id"])))


def _places(rows: Rows, job: str) -> dict[int, int]:
    """The place of each row of a job's log, by its ID; none where it is damaged, which reading the job says."""
    logged = list(rows("SELECT id, at, body FROM log WHERE job = ? ORDER BY id", [job]))
    try:
        when = list(moments((datetime.fromisoformat(row["at"]), _brought(row["body"])) for row in logged))
    except (ValueError, TypeError, AttributeError):
        return {}
    by_moment = sorted((moment, row["at"], row["id"]) for moment, row in zip(when, logged, strict=True))
    return {number: place for place, (*_, number) in enumerate(by_moment)}


def _brought(body: str) -> datetime | None:
    moment = json.loads(body).get(STANDS)
    return datetime.fromisoformat(moment) if moment else None
