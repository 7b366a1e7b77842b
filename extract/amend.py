"""A person's changes to the record: one more entry in the log each, applied in order after the notes are read.

Each holds what it was given for: the notes that the thing rested on and their words. Where the same label means another
thing by now, because notes came in since or a new reader numbers things otherwise, it is asked about and not applied.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from typing import Any

from pydantic import Field, TypeAdapter, ValidationError

from extract import additions, listed, photo_told, recount
from extract.errors import UsageError
from extract.field_names import COMPUTED, fields_in_words, plain_name
from extract.questions import name_questions
from extract.record import Entry, Evidence, Issue, Level, Model, Question, Record, Run, Structure, Test
from extract.same_thing import rests, same_thing, where_now

ENDS = ("from", "to")
Thing = Structure | Run


class Witness(Model):
    """One note that a thing rested on when a person changed it."""

    source: str
    """What tells the note for ever: the SHA-256 of its file, or the log's own mark of a typed note."""
    start_s: float | None = None
    words: str
    """As they stood."""
    field: str | None = None
    """The field it spoke for; None where it spoke for the thing as a whole."""
    note: int | None = Field(default=None, exclude=True)
    """Its INDEX now; None where the note is gone, or its words are others."""


class Amendment(Model):
    """`field` of `subject` is `value`; None empties it.

    The subject is a structure or run label, an entry of a list (`test:1`), `job` for a fact of the job, `note` with
    `note_source` and `note_start_s` for a note's words, or `photo` with `photo` and `shows` for what a photo shows.
    With a field of `additions.FIELDS` a dict adds one entry.
    """

    subject: str
    field: str
    value: Any = None
    at: datetime | None = None
    rests_on: list[Witness] | None = None
    """What the subject rested on; None in a log of an earlier version."""
    was: dict[str, Any] | None = None
    """What was read of the subject then: tells it from another that the same words speak for."""
    place: tuple[int, int] | None = None
    """Which of how many things that its notes speak for it was then: tells apart those that read alike."""
    value_rests_on: list[Witness] | None = None
    """What the structure rested on that a run's end is set to."""
    note_source: str | None = None
    """What tells the amended note for ever, as in `Witness.source`."""
    note_start_s: float | None = None
    note_words: str | None = None
    """The amended note's words as they stood."""
    photo: str | None = None
    """SHA-256 of the amended photo."""
    shows: str | None = None
    """The label of what the photo shows, which `rests_on`, `was` and `place` are of; None where that is nothing."""
    after: int | None = Field(default=None, exclude=True)
    """How many notes come before it in the order of time; None where it comes after all."""
    words: str | None = Field(default=None, exclude=True)
    """The value as one reads it, with its unit, from whoever keeps the log."""


class Removal(Model):
    """The thing of that label was never there, or does not belong: it drops out of the record."""

    subject: str
    at: datetime | None = None
    rests_on: list[Witness] | None = None
    was: dict[str, Any] | None = None
    place: tuple[int, int] | None = None


class Dismissal(Model):
    """The question about that field of the subject needs no answer; it is asked again once another note adds to it."""

    subject: str
    """What the question was about, in its own words."""
    field: str | None = None
    heard: str | None = None
    to: str | None = None
    """The path of the field that its number is of, where a person placed it; the amendment that does so comes next."""
    at: datetime | None = None
    asked: list[Witness] = []
    """The notes that the question came from."""
    rests_on: list[Witness] | None = None
    """What the thing rested on, where it is about one."""
    was: dict[str, Any] | None = None
    place: tuple[int, int] | None = None


Change = Amendment | Removal | Dismissal


def with_changes(read: Record, changes: Sequence[Change], first: int) -> Record:
    """The record as read, then a person's changes in order; the INDEX of their witnesses begins at `first`.

    Where a label means another thing by now, or a value no longer fits, the change becomes a question.
    """
    return changed(read, changes, first)[0]


def changed(read: Record, changes: Sequence[Change], first: int) -> tuple[Record, dict[int, Entry]]:
    """The same, with the entry that each entry of a list as read (by its `id`) became."""
    record = read.model_copy(deep=True)
    twins = {id(one): other for name in listed.LISTS.values() for one, other in _pairs(read, record, name)}
    for number, change in enumerate(changes, first):
        entry = record.subject(change.subject)
        if photo_told.is_of_photo(change):
            continue
        if isinstance(change, Dismissal):
            _dismiss(record, read, change, first)
        elif listed.SUBJECT.fullmatch(change.subject):
            _change_listed(record, read, twins, change, number)
        elif isinstance(change, Amendment) and additions.is_addition(change.field, change.value):
            _add(record, read, change, number)
        elif entry is None or not same_thing(read, change) or not _same_end(read, change):
            _ask(record, read, change, number)
        elif isinstance(change, Removal):
            _drop(record, entry.label)
        else:
            _amend(record, read, entry, change, number)
    photo_told.ask(record, read, changes, first)
    return name_questions(record), twins


def _pairs(read: Record, record: Record, name: str) -> zip[tuple[Entry, Entry]]:
    return zip(getattr(read, name), getattr(record, name), strict=True)


def _amend(record: Record, read: Record, entry: Thing, amendment: Amendment, note: int) -> None:
    """It answers the question about its field, unless a later note speaks of that field: the last word counts."""
    name = "from_" if amendment.field == "from" else amendment.field
    later = [e for e in entry.evidence if e.field == amendment.field and amendment.after is not None]
    later = [e for e in later if (amendment.after or 0) <= e.note and not e.by_hand]
    stands = getattr(entry, name, None)
    if later and stands is not None and (later[-1].corrects or stands == amendment.value):
        _close(record, amendment)
        return
    if later and stands is not None:
        _ask_which(record, entry, amendment, stands, later)
        return
    try:
        setattr(entry, name, checked(entry, name, amendment.value))
    except UsageError:  # kept by an earlier version, which allowed it
        _ask(record, read, amendment, note)
        return
    recount.put_by_hand(record, f"{entry.label}.{amendment.field}", stands, getattr(entry, name))
    quote = f"amended: {amendment.subject} {amendment.field} {amendment.value}"
    entry.evidence = [e for e in entry.evidence if e.field != amendment.field]
    entry.evidence.append(Evidence(note=note, quote=quote, confidence=1, field=amendment.field, by_hand=True))
    _close(record, amendment)


def _add(record: Record, read: Record, amendment: Amendment, note: int) -> None:
    """Enter what a person adds, of the thing that it was given for; an elevation fills that thing's own field too."""
    value = amendment.value
    entry = record.subject(amendment.subject)
    known = entry is not None or not additions.of_a_thing(amendment.subject)
    if not known or not same_thing(read, amendment) or not additions.add(record, amendment, note):
        _ask(record, read, amendment, note)
    elif entry is not None and value.get("elevation_ft") is not None:
        field = f"{value['point'].partition(' ')[2]}_ft"
        put = {"field": field, "value": value["elevation_ft"]}
        _amend(record, read, entry, amendment.model_copy(update=put), note)


def _ask_which(record: Record, entry: Thing, amendment: Amendment, stands: Any, later: list[Evidence]) -> None:
    """A note after an amendment says another value, with no word that it corrects it: it stands, and both are asked."""
    question = Question(about=entry.label, field=amendment.field, why="conflict", choices=[amendment.value, stands])
    question.evidence = later
    _close(record, amendment)
    record.questions.append(question)


def _close(record: Record, amendment: Amendment) -> None:
    about = (amendment.subject, amendment.field)
    record.questions = [q for q in record.questions if (q.about, q.field) != about]


def _change_listed(
    record: Record, read: Record, twins: dict[int, Entry], change: Amendment | Removal, note: int
) -> None:
    """The same of an entry of a list, which is known by the words that it was given for and never by its number."""
    was = listed.found(read, change)
    entry = twins[id(was)] if was else listed.added(record, change)
    name = listed.LISTS[change.subject.partition(":")[0].lower()]
    entries: list[Entry] = getattr(record, name)
    if entry is None or not any(each is entry for each in entries):
        _ask_listed(record, change, note)
    elif isinstance(change, Removal):
        setattr(record, name, [each for each in entries if each is not entry])
        record.questions = [each for each in record.questions if not listed.asks_of(each, entry)]
        recount.taken_out(record, name, {item.note for item in entry.evidence})
    elif _said_since(entry, change, note):
        _ask_listed(record, change, note)
    else:
        _amend_listed(record, entry, name, change, note)


def _said_since(entry: Entry, amendment: Amendment, note: int) -> bool:
    """Whether a later note gave the field another value than it had when it was amended and than it was given then: the
    last word counts."""
    after = note if amendment.after is None else amendment.after
    later = any(after <= item.note < note and not item.by_hand for item in entry.evidence)
    stands = getattr(entry, amendment.field, None)
    return later and stands not in ((amendment.was or {}).get(amendment.field), amendment.value)


def _amend_listed(record: Record, entry: Entry, name: str, amendment: Amendment, note: int) -> None:
    field, before = amendment.field, getattr(entry, amendment.field, None)
    try:
        value = checked(entry, field, amendment.value, amendment.subject)
    except UsageError:
        _ask_listed(record, amendment, note)
        return
    closed = [each for each in record.questions if listed.asks_of(each, entry, field)]
    closed += [each for each in record.questions if (each.about, each.field) == (amendment.subject, field)]
    record.questions = [each for each in record.questions if not any(each is other for other in closed)]
    for each in closed:
        recount.put_by_hand(record, f"{each.about}.{field}", before, value)
    recount.put_in_list(record, name, {item.note for item in entry.evidence}, before, value)
    setattr(entry, field, value)
    if isinstance(entry, Level) and field == "elevation_ft":
        _level_fills(record, entry, before)
    quote = f"amended: {amendment.subject} {field} {amendment.value}"
    entry.evidence = [each for each in entry.evidence if each.field != field or field is None]
    entry.evidence.append(Evidence(note=note, quote=quote, confidence=1, field=field, by_hand=True))


def _level_fills(record: Record, level: Level, before: Any) -> None:
    """An elevation said with a rod fills the structure's own field too, so it follows when the level is amended."""
    label, _, side = level.point.partition(" ")
    thing, name = record.subject(label), f"{side}_ft"
    if thing is not None and name in type(thing).model_fields and getattr(thing, name) == before:
        setattr(thing, name, level.elevation_ft)
        recount.put_by_hand(record, f"{label}.{name}", before, level.elevation_ft)


def _ask_listed(record: Record, change: Amendment | Removal, note: int) -> None:
    """The words that it was given for are gone, or speak for several entries: nobody knows which is meant."""
    field = change.field if isinstance(change, Amendment) else None
    given = given_words(change)
    question = Question(about=change.subject, field=field, heard=given, why="missing")
    question.choices = [change.value] if isinstance(change, Amendment) else None
    question.evidence = [Evidence(note=note, quote=given, confidence=1, field=field)]
    _put_question(record, question)


def _dismiss(record: Record, read: Record, dismissal: Dismissal, first: int) -> None:
    """Close the question that it was given for, unless a note since adds to it or the label means another thing."""
    known = {witness.note for witness in dismissal.asked if witness.note is not None}
    thing = dismissal.rests_on is not None
    if thing and (read.subject(dismissal.subject) is None or not same_thing(read, dismissal)):
        return
    for question in list(record.questions):
        said = {item.note for item in question.evidence if item.note < first}
        of_a_note = dismissal.subject.startswith("note ") and bool(said)
        same = question.about == dismissal.subject or (of_a_note and question.about.startswith("note "))
        if same and question.field == dismissal.field and said <= known and bool(said) == bool(dismissal.asked):
            record.questions.remove(question)
            path = f"{question.about}.{question.field}" if question.field else question.about
            recount.placed(record, path, said, dismissal.to)


def _drop(record: Record, label: str) -> None:
    """Take a thing out, and out of whatever names it."""
    recount.taken_out(record, label)
    record.structures = [each for each in record.structures if each.label != label]
    record.runs = [each for each in record.runs if each.label != label]
    record.levels = [each for each in record.levels if each.point.split(" ")[0] != label]
    record.questions = [each for each in record.questions if each.about.split(" ")[0] != label]
    record.acceptances = [each for each in record.acceptances if each.about.split(" ")[0] != label]
    for departure in record.changes:
        departure.about = None if departure.about == label else departure.about
    for run in record.runs:
        run.from_, run.to = (None if end == label else end for end in (run.from_, run.to))
    happenings: list[Issue | Test] = [*record.issues, *record.tests]
    for each in happenings:
        each.at = None if each.at == label else each.at


def _same_end(read: Record, change: Change) -> bool:
    if not isinstance(change, Amendment) or change.field not in ENDS or change.value is None:
        return True
    end = str(change.value)
    return read.subject(end) is not None and rests(read, end, change.value_rests_on)


def _ask(record: Record, read: Record, change: Amendment | Removal, note: int) -> None:
    """Ask about the change, of the thing that it was given for where that is still found."""
    about = where_now(read, change)
    now = record.subject(about)
    added = isinstance(change, Amendment) and additions.is_addition(change.field, change.value)
    field = change.field if isinstance(change, Amendment) and not added else None
    given = given_words(change)
    heard = given if about == change.subject else f"{given}, when it was called {change.subject}"
    question = Question(about=about, field=field, heard=heard, why="conflict" if now else "missing")
    if now and isinstance(change, Amendment) and field:
        question.choices = [getattr(now, "from_" if field == "from" else change.field, None), change.value]
    question.evidence = [Evidence(note=note, quote=heard, confidence=1, field=field)]
    _put_question(record, question)


def given_words(change: Amendment | Removal) -> str:
    """What was given by hand, as a question tells it."""
    if isinstance(change, Removal):
        return "removed by hand"
    added = additions.is_addition(change.field, change.value)
    return f"{additions.in_words(change) if added else change.words or change.value} by hand"


def _put_question(record: Record, question: Question) -> None:
    """In place of what is asked of that field already, whose values are offered too."""
    for other in [q for q in record.questions if (q.about, q.field) == (question.about, question.field)]:
        record.questions.remove(other)
        others = [choice for choice in other.choices or [] if choice not in (question.choices or [])]
        question.choices = [*(question.choices or []), *others] or None
        question.evidence = [*other.evidence, *question.evidence]
    record.questions.append(question)


def checked(entry: Entry, name: str, value: Any, called: str | None = None) -> Any:
    """The value as the field holds it, or a UsageError that says what the field takes. `called` names the entry."""
    fields = type(entry).model_fields
    called = called or getattr(entry, "label", "")
    if name not in fields or name in COMPUTED:
        raise UsageError(f"{called} has no field {name}; its fields: {fields_in_words(entry)}")
    if name == "size_in" and isinstance(value, (int, float)):
        value = [value]
    try:
        kind: Any = fields[name].annotation
        held = TypeAdapter(kind).validate_python(value)
        if isinstance(entry, Level):
            Level.model_validate(entry.model_dump() | {name: held})
        return held
    except ValidationError as error:
        raise UsageError(f"{called} {plain_name(name)} cannot be {value!r}: {error.errors()[0]['msg']}") from error
