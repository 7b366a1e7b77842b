"""A person's correction: one more entry in the log, applied after the notes are read."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from pydantic import TypeAdapter, ValidationError

from extract.errors import UsageError
from extract.record import Evidence, Model, Record, Run, Structure

COMPUTED = ("label", "evidence")


class Amendment(Model):
    """`field` of `subject` is `value`; None empties it.

    The subject is a structure or run label, or `note` with `note_source` and `note_start_s` for a note's words.
    """

    subject: str
    field: str
    value: Any = None
    at: datetime | None = None
    note_source: str | None = None
    """What tells the amended note for ever: the SHA-256 of its file, or the log's own mark of a typed note."""
    note_start_s: float | None = None


def apply_amendment(record: Record, amendment: Amendment, note: int) -> None:
    """Put an amendment into the record, with the note of that INDEX as its witness; it answers the field's question.

    Raises UsageError where the subject or field does not exist, or the value does not fit the field.
    """
    if amendment.subject == "note":
        return
    entry = record.subject(amendment.subject)
    if entry is None:
        raise UsageError(f"no structure or run {amendment.subject} in the record; `show` lists those there are")
    name = "from_" if amendment.field == "from" else amendment.field
    setattr(entry, name, checked(entry, name, amendment.value))
    quote = f"amended: {amendment.subject} {amendment.field} {amendment.value}"
    entry.evidence = [e for e in entry.evidence if e.field != amendment.field]
    entry.evidence.append(Evidence(note=note, quote=quote, confidence=1, field=amendment.field))
    about = (amendment.subject, amendment.field)
    record.questions = [q for q in record.questions if (q.about, q.field) != about]


def checked(entry: Structure | Run, name: str, value: Any) -> Any:
    """The value as the field holds it, or a UsageError that says what the field takes."""
    fields = type(entry).model_fields
    allowed = [each.rstrip("_") for each in fields if each not in COMPUTED]
    if name not in fields or name in COMPUTED:
        raise UsageError(f"{entry.label} has no field {name}; its fields: {', '.join(allowed)}")
    if name == "size_in" and isinstance(value, (int, float)):
        value = [value]
    try:
        kind: Any = fields[name].annotation
        return TypeAdapter(kind).validate_python(value)
    except ValidationError as error:
        raise UsageError(f"{entry.label} {name} cannot be {value!r}: {error.errors()[0]['msg']}") from error
