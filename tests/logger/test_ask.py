"""Questions answered by hand and by a later note: what is entered is the same, and the question is closed."""

import tomllib
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from extract.assemble import assemble
from extract.record import Note, Record, Word
from logger import ask, jobs
from logger.book import Book
from logger.lines import Line
from logger.reply import reply
from logger.store import open_store

ANSWERS = tomllib.loads((Path(__file__).parent / "answers.toml").read_text())["answer"]
START = datetime(2026, 5, 14, 9, tzinfo=UTC)


@pytest.fixture
def store(tmp_path, company):
    with open_store(tmp_path / "library", create=True) as opened:
        jobs.new(
            opened, "j", client="A.", address="2 Tarn Lane", company=str(company), day=START.date(), zone="-05:00",
        )  # fmt: skip
        yield opened


def heard(text: str) -> Note:
    """A note as it was said; ~ marks one that was heard badly."""
    if not text.startswith("~"):
        return Note(text=text)
    words = [Word(text=each, start_s=0, end_s=1, confidence=0.2) for each in text[1:].split()]
    return Note(text=text[1:], confidence=0.2, words=words)


def with_notes(monkeypatch, *texts: str) -> None:
    lines = [
        Line(heard(text).model_copy(update={"at": at}), f"log:{900 + n}", at)
        for n, text in enumerate(texts)
        for at in [START + timedelta(minutes=n)]
    ]
    monkeypatch.setattr(Book, "_found", lambda book: iter(lines))


def asked_of(record: Record, path: str) -> list[str]:
    about, _, field = path.rpartition(".")
    return [each.id for each in record.questions if each.about == about and each.field == field]


def stands(record: Record, path: str):
    about, _, field = path.rpartition(".")
    entry = record.subject(about)
    if entry is None or field not in type(entry).model_fields:
        entries = [*record.levels, *record.tests]
        entry = next(each for each in entries if about in (getattr(each, "point", None), getattr(each, "at", None)))
    value = getattr(entry, field)
    return [each.model_dump(exclude_none=True) for each in value] if field == "fittings" else value


def expected(row):
    return row["value"] if row["field"].endswith("fittings") else pytest.approx(row["value"])


def answer(book: Book, question: str, line: str):
    return reply(book, ask.find(book, question), line)


def name_of(row) -> str:
    return f"{row['field']}: {row['ask']}"


def test_there_are_a_hundred_answers():
    assert len(ANSWERS) >= 100


@pytest.mark.parametrize("row", ANSWERS, ids=name_of)
def test_an_answer_by_hand(store, monkeypatch, row):
    with_notes(monkeypatch, *row["say"])
    book = Book(store, "j")
    (question,) = asked_of(book.record, row["field"])
    told, book = answer(book, question, row["ask"])
    assert told.what == "taken", told.words
    assert stands(book.record, row["field"]) == expected(row)
    assert asked_of(book.record, row["field"]) == []
    again = Book(store, "j").record
    assert again == book.record
    assert [n for n in again.numbers if n.went == "question" and n.to == row["field"]] == []


@pytest.mark.parametrize("row", ANSWERS, ids=name_of)
def test_the_same_answer_as_a_note(row):
    """Each stands; `doubted` are those of which the reader is not sure enough, so that it asks once more."""
    record = assemble([heard(text) for text in [*row["say"], row["note"]]])
    assert stands(record, row["field"]) == expected(row)
    assert bool(asked_of(record, row["field"])) == row.get("doubted", False)
