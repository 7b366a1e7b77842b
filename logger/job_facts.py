"""What a person said of a job itself: its client, address, day or zone corrected, and the job that it is a visit to.

Each is one more entry of the log, laid over the row of the job, which is never rewritten."""

from __future__ import annotations

import json
from collections.abc import Iterable, Iterator
from contextlib import suppress
from typing import Any

from logger.order import Rows, in_order

KNOWN_BY = ("client", "address", "day", "zone")
"""What tells a job from others, in every library."""
LINK = "callback_of"
FACTS = (*KNOWN_BY, LINK)
VISITED = "visited"
"""The field of a link's body that keeps what the job that it names is known by, as started and, in `now`, as corrected;
only a link that came with a bag has it."""
Known = tuple[dict[str, str], dict[str, str]]
"""What a job is known by: as it was started, and with what was corrected since."""
SUBJECT = "job"
"""What an amendment of one is about."""
CORRECTED = '{"subject": "job"%'
UNDONE = '{"what": "undone"%'
"""How the two begin in the log, so that all others need not be read."""
WANTED = "(kind = 'amendment' AND body LIKE ?) OR (kind = 'answer' AND body LIKE ?)"


def of_one(rows: Rows, job: str) -> dict[str, str]:
    """The facts of that job that were corrected."""
    return _values(_said(rows, job))


def _said(rows: Rows, job: str) -> dict[str, dict[str, Any]]:
    found = rows(f"SELECT id, job, body FROM log WHERE job = ? AND ({WANTED})", [job, CORRECTED, UNDONE])
    return _standing(in_order(rows, list(found))).get(job, {})


def of_all(rows: Rows) -> dict[str, dict[str, str]]:
    """The same of every job that has any."""
    found = rows(f"SELECT id, job, body FROM log WHERE {WANTED}", [CORRECTED, UNDONE])
    return {job: _values(said) for job, said in _standing(in_order(rows, list(found))).items()}


def _values(said: dict[str, dict[str, Any]]) -> dict[str, str]:
    return {field: str(body["value"]) for field, body in said.items()}


def _standing(rows: Iterable[dict[str, Any]]) -> dict[str, dict[str, dict[str, Any]]]:
    """What stands of what was said: by job and field, the entry's body."""
    made: dict[int, tuple[str, dict[str, Any]]] = {}
    for row in rows:
        with suppress(ValueError, KeyError, TypeError):  # damaged: reading the job says so
            body = json.loads(row["body"])
            if body.get("what") == "undone":
                made.pop(body["entry"], None)
            elif body["field"] in FACTS and "value" in body:
                made[row["id"]] = row["job"], body
    facts: dict[str, dict[str, dict[str, Any]]] = {}
    for job, body in made.values():
        facts.setdefault(job, {})[body["field"]] = body
    return facts


# -- the same job in two libraries


def known_by(rows: Rows, name: str) -> Known | None:
    """What that job is known by; None where there is none."""
    row = next(rows(f"SELECT {', '.join(KNOWN_BY)} FROM jobs WHERE name = ?", [name]), None)
    return None if row is None else (row, _corrected(row, of_one(rows, name)))


def differing(here: Known, there: Known) -> set[str]:
    """The facts that tell two jobs apart: those that are the same neither as started nor as corrected, but for how
    they are spaced and capitalised."""
    return {
        key
        for key in KNOWN_BY
        if all(_plain(one.get(key)) != _plain(other.get(key)) for one, other in zip(here, there, strict=True))
    }


def former(rows: Rows, visit: str) -> str:
    """What the job that this one is a visit to is called here; empty for no visit.

    A link that came with a bag means a job of the same facts, whatever it is called here. Where there is none, this is
    its name and whose it was, by which no job is found.
    """
    link = _said(rows, visit).get(LINK, {})
    name, told = str(link.get("value", "")), link.get(VISITED)
    if not name or told is None:
        return name
    there = told, told.get("now", {})
    named = known_by(rows, name)
    if named and name != visit and not differing(named, there):
        return name
    alike = [each for each, here in _all_known(rows) if each != visit and not differing(here, there)]
    whose = ", ".join(there[1][key] for key in ("client", "address") if key in there[1])
    return alike[0] if len(alike) == 1 else f"{name} ({whose or 'of another library'})"


def _all_known(rows: Rows) -> Iterator[tuple[str, Known]]:
    said = of_all(rows)
    for row in rows(f"SELECT name, {', '.join(KNOWN_BY)} FROM jobs", []):
        yield row["name"], (row, _corrected(row, said.get(row["name"], {})))


def _corrected(row: dict[str, str], said: dict[str, str]) -> dict[str, str]:
    return {key: said.get(key, row[key]) for key in KNOWN_BY}


def _plain(text: str | None) -> list[str] | None:
    return None if text is None else text.casefold().split()
