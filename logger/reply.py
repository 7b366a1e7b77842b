"""What a person answers to a question: read, logged, or refused in one line."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Any, Literal

from extract.additions_said import level_said
from extract.amend import Amendment, Dismissal
from extract.answers import EMPTY, answered
from extract.errors import UsageError
from extract.field_names import COMPUTED, field_named
from extract.record import Crossing, Entry, Model, Question, Run
from logger import ask
from logger.ask import Asked, entry_of, find
from logger.book import Book
from logger.changes import Done, addition_of, amendment_of, now, photo_amended, rod_for
from logger.clean import clean, written
from logger.crossed import with_answer, with_one, without_it
from logger.lines import witnesses_of
from logger.removal import Removed
from logger.store import Kind
from logger.subjects import PHOTO
from reports.words import field as plainly

YES = ("yes", "y", "yeah", "right", "ok", "okay")
NOT_THERE = ("not there", "not here")
LONGEST_NAME = 4
"""Words that a field's plain name may have."""
TRIES = 5
"""How often an answer is worked out anew because something else came into the log meanwhile."""


@dataclass(frozen=True)
class Reply:
    """What became of an answer."""

    what: Literal["taken", "skipped", "refused", "gone", "help", "stop"]
    words: str = ""


@dataclass(frozen=True)
class _Change:
    kind: Kind
    body: Model | dict[str, Any]
    words: str


def reply(book: Book, asked: Asked, line: str) -> tuple[Reply, Book]:
    """Take one line as the answer to a question. With it comes the book as it stands then.

    Raises FallbookError where the library cannot be written.
    """
    said = " ".join(line.split())
    plain = said.lower()
    if plain in ("q", "quit"):
        return Reply("stop"), book
    if plain in ("", "skip"):
        return Reply("skipped"), book
    if plain == "?":
        return Reply("help", ask.table()["help"]["lines"].strip()), book
    for _ in range(TRIES):
        current = find(book, asked.id)
        if current is None:
            return Reply("gone", "that was answered meanwhile"), book
        try:
            change = _change(book, current, written("the answer", said))
        except UsageError as why:
            return Reply("refused", clean(str(why))), book
        logged, book = _log(book, change)
        if logged:
            return Reply("taken", clean(change.words)), book
    return Reply("refused", "too much came into this job meanwhile; answer again"), book


def _log(book: Book, change: _Change) -> tuple[bool, Book]:
    """Log it unless the log has grown since the book was read; and the book as it stands now."""
    body = change.body if isinstance(change.body, dict) else change.body.model_dump(mode="json", exclude_none=True)
    with book.store.writing():
        same = book.store.state(book.name) == book.state
        if same:
            book.store.append(book.name, change.kind, body, datetime.now(UTC))
    book.hold()
    return same, Book(book.store, book.name)


def _change(book: Book, asked: Asked, said: str) -> _Change:
    plain = said.lower()
    reading = next((each for each in asked.readings if each.letter == plain), None)
    if reading is None and len(plain) == 1 and plain.isalpha() and plain != "y":
        raise UsageError(f"there is no reading {plain}; type ? for help")
    if asked.subject and (match := PHOTO.fullmatch(asked.subject)):
        return _of_photo(
            book, asked, int(match[1]), "none" if plain in NOT_THERE else reading.value if reading else said
        )
    if plain in NOT_THERE:
        return _not_there(book, asked)
    if asked.subject is None and asked.field == "rod_ft" and plain not in YES:
        return _missed_reading(book, asked, said)
    if asked.subject is None or asked.field is None:
        return _unplaced(book, asked, said, settled=reading is not None or plain in YES)
    if reading is not None:
        return _amended(book, asked, _whole(asked, entry_of(book.record, asked.subject), reading.value))
    if plain in YES:
        if asked.value is None:
            raise UsageError("nothing stands that could be right; type the figure, or ? for help")
        return _amended(book, asked, _plain(asked.value))
    entry = entry_of(book.record, asked.subject)
    assert entry is not None  # its subject was found in this very record
    if of_rod := rod_for(book, asked.subject, asked.field, said, _note(asked)):
        return _entered(*of_rod)
    if asked.value is None and (placed := _placed(book, asked, entry, said)):
        return placed
    if isinstance(entry, Run) and asked.field == "crossings" and plain not in EMPTY and plain[:1] != "[":
        return _amended(book, asked, with_answer(book.record, entry, asked.question, said))
    return _amended(book, asked, answered(book.record, entry, asked.subject, asked.field, said, plainly(asked.field)))


def _of_photo(book: Book, asked: Asked, number: int, said: str) -> _Change:
    """What the photo shows; nothing, where the answer is that it does not belong."""
    shown = (asked.value or "none") if said.lower() in YES else said
    amendment, done = photo_amended(book, number, asked.field or "", shown)
    return _Change("amendment", amendment, done.words)


def _amended(book: Book, asked: Asked, value: Any, name: str | None = None) -> _Change:
    entry = entry_of(book.record, asked.subject)
    assert entry is not None
    assert asked.subject is not None
    amendment, done = amendment_of(book, asked.subject, entry, name or asked.field or "", value)
    same = done.before is not None and done.before == done.now
    words = f"{done.what} is {done.now}, as it was" if same else f"{done.words} (was {done.before or 'empty'})"
    return _Change("amendment", amendment, words)


def _missed_reading(book: Book, asked: Asked, said: str) -> _Change:
    """A reading that was heard and could not be entered: it is, and the question is closed, in one entry."""
    point = None if asked.question.about == "levels" else asked.question.about
    change = _entered(*addition_of(book, "levels", level_said(book.record, said, point, _note(asked))))
    return _Change("answer", _with_amendment(book, asked.question, change, "levels"), change.words)


def _entered(amendment: Amendment, done: Done) -> _Change:
    return _Change("amendment", amendment, done.words)


def _note(asked: Asked) -> int | None:
    """The last note that the question came from."""
    return max((item.note for item in asked.question.evidence), default=None)


def _whole(asked: Asked, entry: Entry | None, value: Any) -> Any:
    """Of areas and crossings one was asked about, and the others stay."""
    if isinstance(value, Crossing) and isinstance(entry, Run):
        return with_one(entry, asked.question, value)
    if asked.field != "areas" or not isinstance(value, int | float):
        return value
    wrong = [each for each in asked.question.choices or []]
    areas = [each.model_dump(exclude_none=True) for each in asked.value or []]
    kept = [each | {"sqft": value} if each["sqft"] in wrong else each for each in areas]
    return kept or [{"sqft": value}]


def _plain(value: Any) -> Any:
    """A value as the log keeps it."""
    if isinstance(value, list):
        return [_plain(each) for each in value]
    return value.model_dump(mode="json", exclude_none=True) if isinstance(value, Model) else value


def _unplaced(book: Book, asked: Asked, said: str, *, settled: bool) -> _Change:
    """A number that found no place: the field is named with the figure, as in "length 34 8"."""
    if settled and asked.readings:
        return _dismissed(book, asked.question)
    entry = entry_of(book.record, asked.subject)
    if entry is None:
        raise UsageError("nothing is there to enter it in: say it again with the thing's name, then answer: not there")
    if placed := _placed(book, asked, entry, said):
        return placed
    raise UsageError(ask.table()["help"]["unplaced"])


def _placed(book: Book, asked: Asked, entry: Entry, said: str) -> _Change | None:
    """A figure with the field that it is of, where that is not the one asked about; None where no field is named."""
    words = said.split()
    for count in range(min(LONGEST_NAME, len(words) - 1), 0, -1):
        name = field_named(entry, " ".join(words[:count]))
        if name.replace("from", "from_") in type(entry).model_fields and name not in COMPUTED:
            value = answered(book.record, entry, asked.subject or "", name, " ".join(words[count:]), plainly(name))
            change = _amended(book, asked, value, name)
            if asked.question.why == "missing":
                return change  # another field than the one that is not said yet, which stays asked
            to = f"{asked.subject}.{name}"
            return _Change("answer", _with_amendment(book, asked.question, change, to), change.words)
    return None


def _with_amendment(book: Book, question: Question, change: _Change, to: str) -> dict[str, Any]:
    """The question is closed and the field put, in one entry of the log."""
    amendment = change.body
    assert isinstance(amendment, Model)
    return _dismissal(book, question, to) | {"amendment": amendment.model_dump(mode="json", exclude_none=True)}


def _not_there(book: Book, asked: Asked) -> _Change:
    if asked.question.field == "state" and asked.subject:
        removed = Removed(what="thing", name=asked.subject, at=now(book), **book.anchor(asked.subject))
        return _Change("removal", removed, f"{asked.subject} is taken out")
    if asked.value is None or asked.subject is None or asked.field is None:
        return _dismissed(book, asked.question)
    entry = entry_of(book.record, asked.subject)
    assert entry is not None
    if isinstance(entry, Run) and asked.field == "crossings":
        return _amended(book, asked, without_it(entry, asked.question))
    try:
        return _amended(book, asked, answered(book.record, entry, asked.subject, asked.field, "none"))
    except UsageError:  # a level is nothing without its reading
        removed = Removed(what="thing", name=asked.subject, at=now(book), **book.anchor(asked.subject))
        return _Change("removal", removed, f"{asked.subject} is taken out")


def _dismissed(book: Book, question: Question) -> _Change:
    what = f"{question.about.replace('_', ' ')} {plainly(question.field) if question.field else ''}".rstrip()
    return _Change("answer", _dismissal(book, question), f"{what} needs no answer")


def _dismissal(book: Book, question: Question, to: str | None = None) -> dict[str, Any]:
    """A question closed, as the log keeps it: with its words and what it was about."""
    anchor = book.anchor(question.about) if ask.record_has(book.record, question.about) else {}
    dismissal = Dismissal(
        subject=question.about,
        field=question.field,
        heard=question.heard,
        to=to,
        at=now(book),
        asked=witnesses_of(question, book.lines),
        **anchor,
    )
    return {"what": "dismissed", "question": dismissal.model_dump(mode="json", exclude_none=True)}
