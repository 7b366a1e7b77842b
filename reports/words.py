"""Words and numbers as a client reads them: one home for every format, and for cleaning hostile text.

An unknown prints as `not recorded`, never as 0 or a blank.
"""

from __future__ import annotations

import math
import re
import tomllib
from collections.abc import Iterable
from datetime import UTC, date, datetime, timedelta, timezone
from functools import cache
from importlib import resources
from typing import TYPE_CHECKING, Any, TypeGuard

if TYPE_CHECKING:
    from extract.record import Evidence, Fitting, Record, Run, Structure, Test

NOT_RECORDED = "not recorded"
MONTHS = "January February March April May June July August September October November December".split()

HUGE = 1e12
"""No length, slope or size comes near; such a number is written as it is."""
# What XML 1.0 cannot hold, other controls, and the marks that turn the reading direction (they can turn a number).
HOSTILE = re.compile(
    "[\x00-\x08\x0b\x0c\x0e-\x1f\x7f-\x84\x86-\x9f\ud800-\udfff\ufdd0-\ufdef\ufffe\uffff"
    "\u061c\u200e\u200f\u202a-\u202e\u2066-\u2069]"
)

LEFTWARD = "\u0590-\u08ff\ufb1d-\ufdfd\ufe70-\ufefc"
"""Hebrew, Arabic and their kin."""
TURNS_BACK = re.compile(f"[{LEFTWARD}](?=[\\W_]*(?:(?![{LEFTWARD}])\\w|$))")
"""The last such letter before others, a figure or the end."""


def clean(text: str) -> str:
    """The text on one line, with every character that a document cannot hold shown as `�`."""
    return HOSTILE.sub("\ufffd", re.sub(r"[\t\n\r\x85\u2028\u2029]+", " ", text))


def on_paper(text: str) -> str:
    """The same for a line that a word processor lays out: a figure behind words that are written from right to left
    stays behind them, by a mark that takes no room (U+200E; Unicode Standard Annex 9, 2.6)."""
    return TURNS_BACK.sub("\\g<0>\u200e", clean(text))


@cache
def load(name: str) -> dict[str, Any]:
    """One of the package's TOML files, by its name without the ending."""
    return tomllib.loads(resources.files("reports").joinpath(f"{name}.toml").read_text("utf-8"))


def plain(group: str, key: str | None) -> str:
    """The plain words for a key of the record, e.g. `plain("state", "existing")`; the key itself where none is kept."""
    if key is None:
        return NOT_RECORDED
    return str(load("words")[group].get(key, key.replace("_", " ")))


def field(name: str) -> str:
    """A field of the record as one reads it: `pipe size`; an end stays `from` or `to`."""
    return name if name in ("from", "to") else plain("field", name)


def sentence(text: str) -> str:
    """The text with a capital first letter."""
    return text[:1].upper() + text[1:]


def joined(items: Iterable[str]) -> str:
    """`a`, `a and b`, `a, b and c`."""
    *head, last = [*items] or [""]
    return f"{', '.join(head)} and {last}" if head else last


def number(value: float, places: int = 2) -> str:
    """A plain number without trailing zeros: 34.67, 42, 1,250."""
    text = f"{value:,.{places}f}"
    text = text.rstrip("0").rstrip(".") if "." in text else text
    return "0" if text == "-0" else text


def limit(value: float, unit: str) -> str:
    """A limit of the checks with its unit: `1.5 percent`, `0.5 of the grate`."""
    return f"{number(value, 4)} {plain('unit', unit)}".rstrip()


def known(value: float | None) -> TypeGuard[float]:
    """Whether there is a number to print: one that was said and is finite."""
    return value is not None and math.isfinite(value)


def inches(value: float | None) -> str:
    """`4 1/4 in` where the value is a sixteenth, else `4.37 in`. [in]"""
    if not known(value):
        return NOT_RECORDED
    return f"{sixteenths(value) or number(value)} in"


def sixteenths(value: float) -> str | None:
    """`4 1/4`; None where the value is no sixteenth."""
    if not 0 <= value < HUGE:
        return None
    parts = round(value * 16)
    if abs(value * 16 - parts) > 0.03:
        return None
    whole, over = divmod(parts, 16)
    if not over:
        return number(whole)
    bottom = 16
    while over % 2 == 0:
        over, bottom = over // 2, bottom // 2
    return f"{number(whole)} {over}/{bottom}" if whole else f"{over}/{bottom}"


def length(value: float | None) -> str:
    """`42 ft`, `34 ft 8 in (34.67 ft)` where it is feet and eighths of an inch, else `12.37 ft`. [ft]"""
    if not known(value):
        return NOT_RECORDED
    feet_inches = _feet_inches(value)
    decimal = f"{number(value)} ft"
    return f"{feet_inches} ({decimal})" if feet_inches and feet_inches != decimal else decimal


def short_length(value: float | None) -> str:
    """Like `length`, in one form only: `34 ft 8 in` or `12.37 ft`. [ft]"""
    if not known(value):
        return NOT_RECORDED
    return _feet_inches(value) or f"{number(value)} ft"


def _feet_inches(value: float) -> str | None:
    parts = feet_and_inches(value)
    if parts is None:
        return None
    feet, over = parts
    if not over:
        return f"{number(feet)} ft"
    return f"{number(feet)} ft {inches(over)}" if feet else inches(over)


def feet_and_inches(value: float) -> tuple[int, float] | None:
    """Whole feet and the inches over; None where the value [ft] is not feet and eighths of an inch."""
    if not 0 <= value < HUGE:
        return None
    eighths = round(value * 96)
    if abs(value * 96 - eighths) > 0.05:
        return None
    feet, over = divmod(eighths, 96)
    return feet, over / 8


def elevation(value: float | None) -> str:
    """An elevation on the job's datum, two decimals. [ft]"""
    return f"{value:,.2f} ft" if known(value) else NOT_RECORDED


def slope(value: float | None) -> str:
    """`1.04%`, with the fall per foot where it is a sixteenth of an inch: `1.04% (1/8 in per ft)`. [percent]"""
    if not known(value):
        return NOT_RECORDED
    per_foot = fall_per_foot(value)
    return f"{value:.2f}% ({per_foot} in per ft)" if per_foot else f"{value:.2f}%"


def fall_per_foot(value: float) -> str | None:
    """`1/8`, the inches per foot of a slope [percent]; None where they are no sixteenth."""
    return sixteenths(value * 0.12) if 0 < value < HUGE and abs(value * 1.92 - round(value * 1.92)) < 0.005 else None


def fall(value: float | None) -> str:
    """A worked-out slope on a drawing: `1.04% fall`, `0.50% uphill`. [percent]"""
    if not known(value):
        return f"fall {NOT_RECORDED}"
    return f"{-value:.2f}% uphill" if value < 0 else f"{value:.2f}% fall"


def duration(seconds: float | None) -> str:
    """`10 minutes`, `1 hour 20 minutes`, `45 seconds`. [s]"""
    if not known(seconds):
        return NOT_RECORDED
    hours, rest = divmod(round(seconds), 3600)
    counts = ((hours, "hour"), (rest // 60, "minute"), (rest % 60, "second"))
    parts = [f"{count} {name}{'' if count == 1 else 's'}" for count, name in counts if count]
    return " ".join(parts) or f"{number(seconds)} seconds"


def flow(gpm: float | None) -> str:
    """`6 gallons a minute`. [US gal/min]"""
    if not known(gpm):
        return NOT_RECORDED
    return f"{number(gpm)} gallon{'' if gpm == 1 else 's'} a minute"


def day(value: date) -> str:
    """`14 May 2026`."""
    return f"{value.day} {MONTHS[value.month - 1]} {value.year}"


def moment(value: datetime | None, zone: str) -> str:
    """`14 May 2026 09:48` in the site's own time. A time with no zone is already the site's."""
    if value is None:
        return "time " + NOT_RECORDED
    local = value.astimezone(offset(zone)) if value.tzinfo else value
    return f"{day(local)} {local:%H:%M}"


def offset(zone: str) -> timezone:
    """The time zone of an offset such as `-05:00`; UTC where it is none."""
    match = re.fullmatch(r"([+-])(\d{2}):?(\d{2})", zone)
    if not match:
        return UTC
    minutes = int(match[2]) * 60 + int(match[3])
    return timezone(timedelta(minutes=-minutes if match[1] == "-" else minutes))


def value(field: str | None, amount: Any) -> str:
    """A value in the format of its field, e.g. `value("length_ft", 43)` is `43 ft`."""
    if isinstance(amount, list | tuple) and any(isinstance(one, dict) for one in amount):
        return ", ".join(_of_many(one) for one in amount) or NOT_RECORDED
    if isinstance(amount, list | tuple):
        return " × ".join(value(field, one) for one in amount)
    if isinstance(amount, bool) or not isinstance(amount, int | float):
        return NOT_RECORDED if amount is None else str(amount)
    formats = {"length_ft": short_length, "slope_pct": slope, "duration_s": duration, "flow_gpm": flow}
    if field in formats:
        return formats[field](amount)
    by_unit = {"ft": elevation, "in": inches, "pct": slope}
    unit = (field or "").rpartition("_")[2]
    return by_unit[unit](amount) if unit in by_unit else number(amount, 4)


def _of_many(entry: dict[str, Any]) -> str:
    """A fitting or an area as a choice of a question has it: `2 elbow 45`, `600 roof`."""
    return " ".join(
        f"{each:g}" if isinstance(each, float) else str(each) for each in entry.values() if each is not None
    )


def size(structure: Structure) -> str:
    """`12 × 12 in`, `9 in round`, `5 in wide` or `4 in`, by the kind of structure."""
    sides = structure.size_in
    if not sides:
        return NOT_RECORDED
    if len(sides) > 1:
        return " × ".join(sixteenths(side) or number(side) for side in sides) + " in"
    if structure.kind == "channel_drain":
        return f"{inches(sides[0])} wide"
    boxes = {"catch_basin", "area_drain", "junction_box", "dry_well"}
    return f"{inches(sides[0])} round" if structure.kind in boxes else inches(sides[0])


def pipe(run: Run) -> str:
    """`4 in SDR 35`; `4 in pipe` or `SDR 35, size not recorded` where one of the two was not said."""
    if run.pipe is None:
        return f"{inches(run.nominal_in)} pipe" if run.nominal_in is not None else f"pipe {NOT_RECORDED}"
    if run.nominal_in is None:
        return f"{run.pipe}, size {NOT_RECORDED}"
    return f"{inches(run.nominal_in)} {run.pipe}"


def fitting(item: Fitting) -> str:
    """`90° long-sweep elbow`, with its own sizes where they were said."""
    words = plain("fitting", item.kind)
    angle = f"{number(item.angle_deg)}° " if item.angle_deg is not None else ""
    sizes = [inches(one) for one in (item.nominal_in, item.to_nominal_in) if one is not None]
    return f"{angle}{words}" + (f" ({' to '.join(sizes)})" if sizes else "")


def fitting_there(item: Fitting) -> str:
    """The same with where it lies along the run, and which way it turns: `45° elbow at 12 ft turning left`."""
    at = f" at {short_length(item.at_ft)}" if item.at_ft is not None else ""
    return f"{fitting(item)}{at}{f' turning {item.turn}' if item.turn else ''}"


def kind(structure: Structure) -> str:
    """`catch basin`; `outlet` where nobody said of which kind."""
    return plain("structure", structure.kind or "outlet")


def thing(entry: Structure | Run) -> str:
    """`catch basin CB-1` or `run R-2`."""
    from extract.record import Structure

    return f"{kind(entry) if isinstance(entry, Structure) else 'run'} {entry.label}"


def standing(entry: Structure | Run) -> str:
    """How a thing stands that is not simply installed, `existing, kept`: no colour tells that to everybody."""
    if entry.state == "installed":
        return ""
    return plain("state", entry.state) if entry.state else "state not recorded"


def water_test(record: Record, test: Test) -> str:
    """`hose test on run R-2`."""
    entry = record.subject(test.at) if test.at else None
    place = f" on {thing(entry)}" if entry else f" at {test.at}" if test.at else ""
    return f"{plain('test', test.kind)}{place}"


def things(record: Record) -> list[Structure | Run]:
    """All structures, then all runs."""
    return [*record.structures, *record.runs]


def notes(evidence: Iterable[Evidence]) -> str:
    """`note 12` or `notes 12, 14`: the numbers to type after `note:`."""
    numbers = sorted({item.note for item in evidence})
    if not numbers:
        return NOT_RECORDED
    return f"note{'s' if len(numbers) > 1 else ''} {', '.join(map(str, numbers))}"
