"""Words and numbers as a client reads them: one home for every format, and for cleaning hostile text.

An unknown prints as `not recorded`, never as 0 or a blank. What takes a `language` writes in that one; the words and
forms of each are in words.toml and words_es.toml.
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

from extract.crossing_names import UNNAMED

if TYPE_CHECKING:
    from extract.record import Crossing, Evidence, Fitting, Language, Record, Run, Structure, Test

NOT_RECORDED = "not recorded"
ENDINGS: dict[Language, str] = {"en": "", "es": "_es"}
"""Of the names of the tables that a language's words are in."""

LABEL = re.compile(r"\b[A-Z]{1,4}-\d+\b")
"""Of a structure or run."""

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
def load(name: str, language: Language = "en") -> dict[str, Any]:
    """One of the package's TOML files in that language, by its name without the ending."""
    file = resources.files("reports").joinpath(f"{name}{ENDINGS[language]}.toml")
    return tomllib.loads(file.read_text("utf-8"))


def plain(group: str, key: str | None, language: Language = "en") -> str:
    """The plain words for a key of the record, e.g. `plain("state", "existing")`; the key itself where none is kept."""
    if key is None:
        return form("not_recorded", language)
    return str(load("words", language)[group].get(key, key.replace("_", " ")))


def failed(check: str, language: Language = "en", **amounts: str) -> str:
    """What it means for a homeowner that a check failed: `it falls 0.42%, less than the 1% asked for`. Where an
    amount that its sentence gives is empty, the sentence of other checks."""
    sentences = load("words", language)["failed"]
    text = str(sentences.get(check, sentences["other"]))
    lacking = any(f"{{{name}}}" in text for name, amount in amounts.items() if not amount)
    return str(sentences["other"]) if lacking else text.format(**amounts)


def form(key: str, language: Language = "en", *values: object, **named: object) -> str:
    """A form of words.toml filled in: `form("thing", kind="catch basin", label="CB-1")`."""
    return str(load("words", language)["form"][key]).format(*values, **named)


def told(group: str, key: str, language: Language = "en", **named: object) -> str:
    """A sentence of papers.toml filled in: `told("client", "title", address="1 Larch Walk")`."""
    return str(load("papers", language)[group][key]).format(**named)


def own(text: str, language: Language = "en") -> str:
    """Words of the crew, the client or the firm as they were said: where others stand around them, in quotes."""
    return form("own", language, text)


def counted(count: float, what: str, language: Language = "en") -> str:
    """`1 catch basin`, `2 runs of buried pipe`; `what` is a key of `[counted]`."""
    return _one_or_many(load("words", language)["counted"][what], count)


def tallied(group: str, key: str, count: int, language: Language = "en", **named: object) -> str:
    """A sentence of papers.toml that counts: `It passed 2 tests.`"""
    return _one_or_many(load("papers", language)[group][key], count, **named)


def _one_or_many(forms: list[str], count: float, **named: object) -> str:
    return forms[count != 1].format(number(count), **named)


def field(name: str) -> str:
    """A field of the record as one reads it: `pipe size`; an end stays `from` or `to`."""
    return name if name in ("from", "to") else plain("field", name)


def sentence(text: str) -> str:
    """The text with a capital first letter."""
    return text[:1].upper() + text[1:]


def joined(items: Iterable[str], language: Language = "en", how: str = "and") -> str:
    """`a`, `a and b`, `a, b and c`; `how` is the form of the last two."""
    *head, last = [*items] or [""]
    return form(how, language, ", ".join(head), last) if head else last


def number(value: float, places: int = 2) -> str:
    """A plain number without trailing zeros: 34.67, 42, 1,250."""
    text = f"{value:,.{places}f}"
    text = text.rstrip("0").rstrip(".") if "." in text else text
    return "0" if text == "-0" else text


def plain_percent(value: float | None) -> str:
    """`0.42%`; nothing where there is no value. [percent]"""
    return f"{number(value)}%" if known(value) else ""


def limit(value: float, unit: str) -> str:
    """A limit of the checks with its unit: `1.5 percent`, `0.5 of the grate`."""
    return f"{number(value, 4)} {plain('unit', unit)}".rstrip()


def known(value: float | None) -> TypeGuard[float]:
    """Whether there is a number to print: one that was said and is finite."""
    return value is not None and math.isfinite(value)


def inches(value: float | None, language: Language = "en") -> str:
    """`4 1/4 in` where the value is a sixteenth, else `4.37 in`. [in]"""
    if not known(value):
        return form("not_recorded", language)
    return form("inches", language, sixteenths(value) or number(value))


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
    feet_inches = _feet_inches(value, "en")
    decimal = feet(number(value))
    return f"{feet_inches} ({decimal})" if feet_inches and feet_inches != decimal else decimal


def short_length(value: float | None, language: Language = "en") -> str:
    """Like `length`, in one form only: `34 ft 8 in` or `12.37 ft`. [ft]"""
    if not known(value):
        return form("not_recorded", language)
    return _feet_inches(value, language) or feet(number(value), language)


def nearest_length(value: float, language: Language = "en") -> str:
    """The same to the nearest eighth of an inch, in feet and inches: `80 ft 4 in` for 80.33. [ft]"""
    return short_length(round(value * 96) / 96 if abs(value) < HUGE else value, language)


def feet(figure: str, language: Language = "en") -> str:
    """A figure written already, in feet: `12.37 ft`."""
    return form("foot" if figure == "1" else "feet", language, figure)


def _feet_inches(value: float, language: Language) -> str | None:
    parts = feet_and_inches(value)
    if parts is None:
        return None
    whole, over = parts
    if not over:
        return feet(number(whole), language)
    return f"{feet(number(whole), language)} {inches(over, language)}" if whole else inches(over, language)


def feet_and_inches(value: float) -> tuple[int, float] | None:
    """Whole feet and the inches over; None where the value [ft] is not feet and eighths of an inch."""
    if not 0 <= value < HUGE:
        return None
    eighths = round(value * 96)
    if abs(value * 96 - eighths) > 0.05:
        return None
    feet, over = divmod(eighths, 96)
    return feet, over / 8


def elevation(value: float | None, language: Language = "en") -> str:
    """An elevation on the job's datum, two decimals. [ft]"""
    return feet(f"{value:,.2f}", language) if known(value) else form("not_recorded", language)


def slope(value: float | None, language: Language = "en") -> str:
    """`1.04%`, with the fall per foot where it is a sixteenth of an inch: `1.04% (1/8 in per ft)`. [percent]"""
    if not known(value):
        return form("not_recorded", language)
    per_foot, percent = fall_per_foot(value), f"{value:.2f}%"
    return form("per_foot", language, percent, per_foot) if per_foot else percent


def fall_per_foot(value: float) -> str | None:
    """`1/8`, the inches per foot of a slope [percent]; None where they are no sixteenth."""
    return sixteenths(value * 0.12) if 0 < value < HUGE and abs(value * 1.92 - round(value * 1.92)) < 0.005 else None


def fall(value: float | None, language: Language = "en") -> str:
    """A worked-out slope on a drawing: `1.04% fall`, `0.50% uphill`. [percent]"""
    if not known(value):
        return form("no_fall", language)
    return form("uphill" if value < 0 else "fall", language, f"{abs(value):.2f}")


def duration(seconds: float | None, language: Language = "en") -> str:
    """`10 minutes`, `1 hour 20 minutes`, `45 seconds`. [s]"""
    if not known(seconds):
        return form("not_recorded", language)
    hours, rest = divmod(round(seconds), 3600)
    counts = ((hours, "hour"), (rest // 60, "minute"), (rest % 60, "second"))
    parts = [counted(count, what, language) for count, what in counts if count]
    return " ".join(parts) or counted(seconds, "second", language)


def flow(gpm: float | None, language: Language = "en") -> str:
    """`6 gallons a minute`. [US gal/min]"""
    return counted(gpm, "gallon", language) if known(gpm) else form("not_recorded", language)


def day(value: date, language: Language = "en") -> str:
    """`14 May 2026`."""
    month = plain("month", str(value.month), language)
    return form("day", language, day=value.day, month=month, year=value.year)


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


def value(field: str | None, amount: Any, language: Language = "en") -> str:
    """A value in the format of its field, e.g. `value("length_ft", 43)` is `43 ft`."""
    if isinstance(amount, list | tuple) and any(isinstance(one, dict) for one in amount):
        return ", ".join(_of_many(one) for one in amount) or form("not_recorded", language)
    if isinstance(amount, list | tuple):
        return " × ".join(value(field, one, language) for one in amount)
    if isinstance(amount, bool) or not isinstance(amount, int | float):
        return _word(field, amount, language)
    formats = {"length_ft": short_length, "slope_pct": slope, "duration_s": duration, "flow_gpm": flow}
    if field in formats:
        return formats[field](amount, language)
    by_unit = {"ft": elevation, "in": inches, "pct": slope}
    unit = (field or "").rpartition("_")[2]
    return by_unit[unit](amount, language) if unit in by_unit else number(amount, 4)


def _word(field: str | None, word: Any, language: Language) -> str:
    """A value that is a word: the record's own, which is English, or in another language the plain one."""
    group = {"state": "state", "kind": "structure", "pipe": "pipe", "result": "result"}.get(field or "")
    if word is None or (group and language != "en"):
        return plain(group or "", word, language)
    return str(word)


def _of_many(entry: dict[str, Any]) -> str:
    """A fitting or an area as a choice of a question has it: `2 × 45° elbow`, `600 roof`."""
    from extract.record import Fitting

    if "count" in entry:
        return fittings([Fitting(**entry)])
    return " ".join(
        f"{each:g}" if isinstance(each, float) else str(each) for each in entry.values() if each is not None
    )


def size(structure: Structure, language: Language = "en") -> str:
    """`12 × 12 in`, `9 in round`, `5 in wide` or `4 in`, by the kind of structure."""
    sides = structure.size_in
    if not sides:
        return form("not_recorded", language)
    if len(sides) > 1:
        return form("inches", language, " × ".join(sixteenths(side) or number(side) for side in sides))
    across = inches(sides[0], language)
    if structure.kind == "channel_drain":
        return form("wide", language, across)
    boxes = {"catch_basin", "area_drain", "junction_box", "dry_well"}
    return form("round", language, across) if structure.kind in boxes else across


def pipe(run: Run, language: Language = "en") -> str:
    """`4 in SDR 35`; `4 in pipe` or `SDR 35, size not recorded` where one of the two was not said."""
    across = inches(run.nominal_in, language)
    if run.pipe is None:
        return form("pipe_of" if run.nominal_in is not None else "no_pipe", language, size=across)
    made = plain("pipe", run.pipe, language)
    return form("pipe" if run.nominal_in is not None else "pipe_of_no_size", language, pipe=made, size=across)


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


def fittings(items: Iterable[Fitting]) -> str:
    """`2 × 45° elbow, 1 × wye at 12 ft`."""
    return ", ".join(f"{item.count} × {fitting_there(item)}" for item in items)


def kind(structure: Structure, language: Language = "en") -> str:
    """`catch basin`; `outlet` where nobody said of which kind."""
    return plain("structure", structure.kind or "outlet", language)


def thing(entry: Structure | Run, language: Language = "en") -> str:
    """`catch basin CB-1` or `run R-2`."""
    from extract.record import Structure

    if isinstance(entry, Structure):
        return form("thing", language, kind=kind(entry, language), label=entry.label)
    return form("run", language, label=entry.label)


def thing_there(entry: Structure | Run, language: Language = "en") -> str:
    """The same with the ends of a run, where both are known: `run R-2, CB-1 to OUT-1`."""
    upper, lower = getattr(entry, "from_", None), getattr(entry, "to", None)
    if not (upper and lower):
        return thing(entry, language)
    return form(
        "ends", language, thing=thing(entry, language), upper=place(upper, language), lower=place(lower, language)
    )


def place(name: str, language: Language = "en") -> str:
    """Where something is: a label as it stands, else what the crew called it."""
    return name if LABEL.fullmatch(name) else own(name, language)


def standing(entry: Structure | Run, language: Language = "en") -> str:
    """How a thing stands that is not simply installed, `existing, kept`: no colour tells that to everybody."""
    if entry.state == "installed":
        return ""
    return plain("state", entry.state, language) if entry.state else form("no_state", language)


def crossing(item: Crossing, language: Language = "en") -> str:
    """`gas line at 12 ft, 18 in deep`; what nobody named is `a thing with no name yet`."""
    key = f"crossing{'_at' if item.at_ft is not None else ''}{'_deep' if item.depth_in is not None else ''}"
    at, depth = (f"{each:g}" if each is not None else "" for each in (item.at_ft, item.depth_in))
    what = form("crossing_unnamed", language) if item.what == UNNAMED else own(item.what, language)
    return form(key, language, what=what, at=at, depth=depth)


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
