"""Findings in words: names, numbers and evidence, so that a message can be read aloud in the trench."""

from __future__ import annotations

from collections.abc import Iterable

from extract.record import Entry, Evidence, Finding, Outcome, Run, Structure

IN_WORDS = {
    "CD": "channel drain",
    "CB": "catch basin",
    "AD": "area drain",
    "DS": "downspout",
    "CO": "cleanout",
    "JB": "junction box",
    "DW": "dry well",
    "OUT": "outlet",
    "R": "run",
    "TP": "turning point",
}
"""What the letters of a label stand for."""
SIDES = {"invert_in": "incoming invert", "invert_out": "outgoing invert", "rim": "rim"}
LARGEST = 1e6
"""A number beyond this is not a measurement of a yard, in any unit used here."""


def known(value: float | None) -> float | None:
    """The number, or None where none was said or where it is no measurement (not finite, or beyond a million)."""
    return value if value is not None and -LARGEST <= value <= LARGEST else None


def in_place(entry: Structure | Run) -> bool:
    """Whether water can run through it today; an entry said with no state counts as in place."""
    return entry.state in ("installed", "existing", None)


def name(label: str) -> str:
    """`CB-1` as `catch basin 1`; a label of another form stands as it is."""
    prefix, _, number = label.rpartition("-")
    return f"{IN_WORDS[prefix]} {number}" if prefix in IN_WORDS else label


def place(point: str) -> str:
    """`CB-1 invert_out` as `the outgoing invert of catch basin 1`."""
    label, _, side = point.rpartition(" ")
    return f"the {SIDES[side]} of {name(label)}" if label and side in SIDES else f"the {name(point)}"


def feet(value: float) -> str:
    return _measure(value, "foot", "feet")


def inches(value: float) -> str:
    return _measure(value, "inch", "inches")


def feet_square(value: float) -> str:
    return _measure(value, "square foot", "square feet")


def gallons(value: float) -> str:
    """A flow for reading aloud: whole gallons a minute, or two decimals where it is less than ten."""
    return _measure(round(value) if value >= 10 else value, "gallon a minute", "gallons a minute")


def lasting(seconds: float) -> str:
    """A time: seconds up to two minutes, then minutes."""
    if seconds < 120:
        return _measure(round(seconds, 1 if seconds < 10 else 0), "second", "seconds")
    return _measure(round(seconds / 60, 1), "minute", "minutes")


def percent(value: float) -> str:
    return f"{_short(value)} percent"


def listed(words: Iterable[str]) -> str:
    """`a`, `a and b`, `a, b and c`."""
    *head, last = words
    return f"{', '.join(head)} and {last}" if head else last


def evidence(entry: Entry, *fields: str) -> list[Evidence]:
    """The entry's words for those fields, or all its words where none speaks for them."""
    return [item for item in entry.evidence if item.field in fields] or list(entry.evidence)


def finding(
    check: str,
    subject: str,
    outcome: Outcome,
    message: str,
    *,
    stated: float | None = None,
    computed: float | None = None,
    limit: float | None = None,
    unit: str | None = None,
    source: str = "common practice",
    evidence: Iterable[Evidence] = (),
) -> Finding:
    """A finding with numbers to four decimals, a message that starts like a sentence, and each witness once."""
    once = {(item.note, item.quote, item.field): item for item in evidence}
    return Finding(
        check=check,
        subject=subject,
        outcome=outcome,
        stated=_rounded(stated),
        computed=_rounded(computed),
        limit=_rounded(limit),
        unit=unit,
        message=message[:1].upper() + message[1:],
        source=source,
        evidence=list(once.values()),
    )


def _rounded(value: float | None) -> float | None:
    return round(value, 4) if value is not None and known(value) is not None else None


def _short(value: float) -> str:
    text = f"{value:.2f}".rstrip("0").rstrip(".")
    return "0" if text == "-0" else text


def _measure(value: float, one: str, many: str) -> str:
    text = _short(value)
    return f"{text} {one if text == '1' else many}"
