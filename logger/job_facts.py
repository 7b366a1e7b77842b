"""What a person said of a job itself: its client, address, day or zone corrected, and the job that it is a visit to.

Each is one more entry of the log, laid over the row of the job, which is never rewritten."""

from __future__ import annotations

import json
from collections.abc import Iterable
from contextlib import suppress
from typing import Any

from logger.order import Rows, in_order

FACTS = ("client", "address", "day", "zone", "callback_of")
SUBJECT = "job"
"""What an amendment of one is about."""
CORRECTED = '{"subject": "job"%'
UNDONE = '{"what": "undone"%'
"""How the two begin in the log, so that all others need not be read."""
WANTED = "(kind = 'amendment' AND body LIKE ?) OR (kind = 'answer' AND body LIKE ?)"


def of_one(rows: Rows, job: str) -> dict[str, str]:
    """The facts of that job that were corrected."""
    found = rows(f"SELECT id, job, body FROM log WHERE job = ? AND ({WANTED})", [job, CORRECTED, UNDONE])
    return _corrected(in_order(rows, list(found))).get(job, {})


def of_all(rows: Rows) -> dict[str, dict[str, str]]:
    """The same of every job that has any."""
    found = rows(f"SELECT id, job, body FROM log WHERE {WANTED}", [CORRECTED, UNDONE])
    return _corrected(in_order(rows, list(found)))


def _corrected(rows: Iterable[dict[str, Any]]) -> dict[str, dict[str, str]]:
    made: dict[int, tuple[str, str, str]] = {}
    for row in rows:
        with suppress(ValueError, KeyError, TypeError):  # damaged: reading the job says so
            body = json.loads(row["body"])
            if body.get("what") == "undone":
                made.pop(body["entry"], None)
            elif body["field"] in FACTS:
                made[row["id"]] = row["job"], body["field"], str(body["value"])
    facts: dict[str, dict[str, str]] = {}
    for job, field, value in made.values():
        facts.setdefault(job, {})[field] = value
    return facts
