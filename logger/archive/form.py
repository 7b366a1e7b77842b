"""The open shapes in which a job stands in a bag: its row, its log, what was heard. Pure.

IDs of the log count within one library alone. In a bag an entry is called by what it holds: a file by its SHA-256, any
other entry by a digest of its kind, its time and its body, in which the entries that it names are called so too.
"""

from __future__ import annotations

import hashlib
import json
import re
from collections.abc import Callable, Iterable, Mapping
from datetime import UTC, datetime
from typing import Annotated, Any, Literal

from pydantic import AfterValidator, AwareDatetime, Field, TypeAdapter

from extract import additions
from extract.amend import Amendment, Dismissal
from extract.errors import UsageError
from extract.record import Acceptance, Crossing, Departure, FixedPoint, Level, Model, Purchase, Tie
from logger.clean import SURROGATE
from logger.job_facts import LINK, SUBJECT
from logger.jobs import NAME
from logger.photos import PhotoFacts
from logger.removal import Removed
from logger.shapes import notes_of
from logger.store import Kind, LogEntry
from logger.times import in_range, timezone_of, typed_day
from logger.upload import KEY, Upload

LOST = "lost"
"""What an entry is called that is lost from its log and is named there still."""
NO_ID = "0"
"""The same in a library, whose IDs begin at 1."""
TYPED = "log:"
"""How the mark of a typed note begins (see `logger.lines.Line`); its entry's ID follows."""
MARKS = ("source", "note_source")
"""The fields of a change that hold such a mark, wherever in it."""
HEADS = ("subject", "what")
"""A body begins with these, as `logger.job_facts` looks for it, whatever order its fields came in."""
JOB = "job"
"""What a job is called in its own log: its name may be another in another library."""
Sha256 = Annotated[str, Field(pattern=r"^[0-9a-f]{64}$")]
FILES = ("sound", "photo", "text")
MOST = 1e9
"""No number in a log comes to more, whatever its unit."""


class Facts(Model):
    """What a job is known by."""

    client: str
    address: str
    day: str
    zone: str


class KnownBy(Facts):
    """The same as the job was started."""

    now: Facts
    """With what was corrected since."""


class PackedJob(KnownBy):
    """The job's row as it was started."""

    form: int
    """The form of the library that it was packed from (`logger.schema.VERSION`)."""
    name: str
    company: str
    """The company file's text, TOML."""
    callback_of: str = ""
    """What the job that it is a visit to was called there; for people, the log says it."""


class PackedEntry(Model):
    """One entry of the log."""

    id: Sha256
    kind: Kind
    at: AwareDatetime
    """When it came in."""
    stands: Annotated[AwareDatetime, AfterValidator(lambda moment: _of_work(moment))]
    """When it stands in the log's order (see `logger.order`)."""
    name: str = ""
    """The file's own name."""
    body: dict[str, Any]
    visited: KnownBy | None = None
    """Of a link to the job that this one is a visit to: what that one is known by, where that was known."""

    @property
    def sha256(self) -> str:
        """Of its file; empty where it is none."""
        return self.id if self.kind in FILES else ""


class PackedReading(Model):
    """What was heard in a recording, or read in a photo."""

    sha256: Sha256
    what: Literal["heard", "unheard", "photo"]
    made_with: str
    value: dict[str, Any]


# -- out


def packed(entries: Iterable[LogEntry]) -> dict[int, PackedEntry]:
    """A log as it is packed, by the IDs that its entries have here. Two that hold the same are called alike."""
    ids: dict[str, str] = {}
    found = {}
    for entry in entries:
        body = _plain(_renamed(entry.kind, entry.body, lambda number: ids.get(number, LOST), JOB))
        sha256 = entry.sha256 or digest(entry.kind, entry.at, body)
        found[entry.id] = PackedEntry.model_construct(
            id=sha256, kind=entry.kind, at=entry.at, stands=entry.stands, name=entry.name, body=body,
            visited=KnownBy.model_validate(entry.visited) if entry.visited else None,
        )  # fmt: skip
        ids[str(entry.id)] = sha256
    return found


def line(entry: PackedEntry) -> str:
    """An entry as one line of JSON."""
    at, stands = (each.astimezone(UTC).isoformat() for each in (entry.at, entry.stands))
    shape: dict[str, Any] = {"id": entry.id, "kind": entry.kind, "at": at, "stands": stands}
    shape |= {"name": entry.name} if entry.name else {}
    shape |= {"visited": entry.visited.model_dump()} if entry.visited else {}
    return _text(shape | {"body": entry.body})


def reading_line(sha256: str, what: str, made_with: str, value: Any) -> str:
    """What was heard or read as one line of JSON."""
    return _text({"sha256": sha256, "what": what, "made_with": made_with, "value": value})


def digest(kind: Kind, at: datetime, body: dict[str, Any]) -> str:
    """What tells an entry that is no file from all others, in every library."""
    text = json.dumps([kind, at.astimezone(UTC).isoformat(), body], sort_keys=True, ensure_ascii=False)
    return hashlib.sha256(text.encode()).hexdigest()


def _plain(body: dict[str, Any]) -> dict[str, Any]:
    """Bytes that are no characters, kept by an older version, as the sign for that."""
    plain: dict[str, Any] = json.loads(_text(body))
    return plain


def _text(shape: dict[str, Any]) -> str:
    return SURROGATE.sub("\ufffd", json.dumps(shape, ensure_ascii=False))


# -- back


def entries_of(raw: bytes) -> list[PackedEntry]:
    """A log as it was packed. Raises ValueError, which names the line, where one is not as it should be, or names an
    entry that does not stand above it."""
    above: dict[str, int] = {}
    found = []
    for number, words in enumerate(raw.split(b"\n")[:-1], 1):
        try:
            entry = PackedEntry.model_validate(_parsed(words))
            _must_be_right(entry, above)
        except (ValueError, UsageError, TypeError, KeyError, AttributeError, OverflowError, RecursionError) as error:
            raise ValueError(f"line {number} of its log cannot be read") from error
        above[entry.id] = number
        found.append(entry)
    for entry in found:
        if entry.kind == "removal" and entry.body["what"] == "file" and entry.body["name"] not in above:
            raise ValueError(f"line {above[entry.id]} of its log cannot be read")
    return found


def local_body(entry: PackedEntry, ids: Mapping[str, int], job: str) -> dict[str, Any]:
    """An entry's body for a library where the entries have those IDs and the job that name. Raises KeyError where it
    names an entry that is not among them."""
    body = _renamed(entry.kind, entry.body, lambda name: NO_ID if name == LOST else str(ids[name]), job)
    if entry.kind == "answer" and "entry" in body:
        body["entry"] = int(body["entry"])
    return {key: body[key] for key in HEADS if key in body} | body


def readings_of(raw: bytes) -> list[PackedReading]:
    """What was heard and read. Raises ValueError, which names the line, where one is not as it should be."""
    found = []
    for number, words in enumerate(raw.split(b"\n")[:-1], 1):
        try:
            reading = PackedReading.model_validate(_parsed(words))
            READINGS[reading.what](reading.value)
        except (ValueError, TypeError, KeyError, AttributeError, RecursionError) as error:
            raise ValueError(f"line {number} of what was heard cannot be read") from error
        found.append(reading)
    return found


def _parsed(line: bytes) -> Any:
    """Raises ValueError for a number that nothing on a site comes to, an endless one too."""
    return json.loads(line, parse_float=_number, parse_int=_number, parse_constant=_number)


def _number(text: str) -> float | int:
    number = float(text)
    if not abs(number) <= MOST:
        raise ValueError(f"{text} is no number of this work")
    return int(text) if text.lstrip("-").isdecimal() else number


def _must_be_right(entry: PackedEntry, above: Mapping[str, int]) -> None:
    """Raises ValueError, TypeError or KeyError."""
    BODIES[entry.kind].validate_python(entry.body)
    local_body(entry, above, JOB)
    if KEY in entry.body:
        Upload.in_entry(entry.body)
    if entry.id in above or (not entry.sha256 and entry.id != digest(entry.kind, entry.at, entry.body)):
        raise ValueError("an entry is called otherwise than by what it holds, or stands there twice")
    if {"/", "\0"} & {*entry.name}:
        raise ValueError("a file's name leads elsewhere")


def _of_work(moment: datetime) -> datetime:
    if not in_range(moment):
        raise ValueError("no crew was out then")
    return moment


# -- what an entry names


def linked(kind: Kind, body: dict[str, Any]) -> str:
    """What the job is called, where the entry was typed, that this one is a visit to; empty where it says no such
    thing."""
    is_link = kind == "amendment" and (body["subject"], body["field"]) == (SUBJECT, LINK)
    return str(body.get("value") or "") if is_link else ""


def _renamed(kind: Kind, body: dict[str, Any], called: Callable[[str], str], job: str) -> dict[str, Any]:
    """A body in which each entry that it names is called otherwise, and the job by that name."""
    if kind == "answer" and body["what"] == "undone":
        return body | {"entry": called(str(body["entry"]))}
    if kind == "removal" and body["what"] == "job":
        return body | {"name": job}
    if kind == "removal" and body["what"] == "note":
        return body | {"name": _mark(body["name"], called)}
    renamed: dict[str, Any] = _walked(body, called)
    return renamed


def _walked(value: Any, called: Callable[[str], str]) -> Any:
    if isinstance(value, list):
        return [_walked(each, called) for each in value]
    if isinstance(value, dict):
        return {
            key: _mark(each, called) if key in MARKS and isinstance(each, str) else _walked(each, called)
            for key, each in value.items()
        }
    return value


def _mark(mark: str, called: Callable[[str], str]) -> str:
    return TYPED + called(mark.removeprefix(TYPED)) if mark.startswith(TYPED) else mark


# -- what a body and a reading may hold

Moment = Annotated[str, AfterValidator(datetime.fromisoformat)]


class _Said(Model):
    text: str
    at: Moment


class _File(Model):
    modified: Moment
    upload: Upload | None = None


def _amended(amendment: Amendment) -> Amendment:
    """What the program itself lets nobody type. Raises ValueError, KeyError, TypeError or AttributeError."""
    field, value = amendment.field, amendment.value
    if not FIELD.fullmatch(field):
        raise ValueError("no field is called so")
    if amendment.subject == SUBJECT:
        OF_A_JOB[field](value)
    if additions.is_addition(field, value):
        additions.in_words(amendment)
        shape = ADDED[field]
        known = {info.alias or name for name, info in shape.model_fields.items()}
        shape.model_validate({key: each for key, each in value.items() if key in known})
    return amendment


def _some_words(value: str) -> None:
    if not value.strip():
        raise ValueError("it is empty")


def _former_name(value: str) -> None:
    if value and not NAME.fullmatch(value):
        raise ValueError("no job is called so")


FIELD = re.compile(r"[a-z][a-z0-9_]*")
OF_A_JOB: dict[str, Callable[[str], object]] = {
    "client": _some_words,
    "address": _some_words,
    "day": typed_day,
    "zone": timezone_of,
    LINK: _former_name,
}
ADDED: dict[str, type[Model]] = {
    "levels": Level,
    "ties": Tie,
    "crossings": Crossing,
    "points": FixedPoint,
    "changes": Departure,
    "acceptances": Acceptance,
    "purchases": Purchase,
}


class _Undone(Model):
    what: Literal["undone"]
    entry: str


class _Dismissed(Model):
    what: Literal["dismissed"]
    question: Dismissal
    amendment: Amendment | None = None


class _Unusable(Model):
    unusable: str


class _Unheard(Model):
    why: str


_OF_FILE: TypeAdapter[Any] = TypeAdapter(_File)
BODIES: dict[Kind, TypeAdapter[Any]] = {
    "said": TypeAdapter(_Said),
    "sound": _OF_FILE,
    "photo": _OF_FILE,
    "text": _OF_FILE,
    "amendment": TypeAdapter(Annotated[Amendment, AfterValidator(_amended)]),
    "removal": TypeAdapter(Removed),
    "answer": TypeAdapter(_Undone | _Dismissed),
}
READINGS: dict[str, Callable[[dict[str, Any]], Any]] = {
    "heard": lambda value: notes_of(value["notes"]),
    "unheard": _Unheard.model_validate,
    "photo": TypeAdapter(_Unusable | PhotoFacts).validate_python,
}
