"""What tells each open question from the others, and stays the same while the log grows."""

from __future__ import annotations

import hashlib

from extract.record import Question, Record

LENGTH = 6
"""Characters of an ID; a log has some dozens of questions."""


def name_questions(record: Record) -> Record:
    """Give each question its ID: made of what it is about, its field and the words that first raised it."""
    taken: set[str] = set()
    for question in record.questions:
        question.id = next(each for each in _ids(question) if each not in taken)
        taken.add(question.id)
    return record


def _ids(question: Question) -> list[str]:
    """The ID, and those to take where another question has it already."""
    words = question.evidence[0].quote if question.evidence else ""
    about = question.about.split(" ")[0] if question.about.startswith("photo ") else question.about
    text = "|".join([about, question.field or "", words])  # a photo's number moves, and the words hold its SHA-256
    return [hashlib.sha256(f"{text}|{again}".encode()).hexdigest()[:LENGTH] for again in range(100)]
