from __future__ import annotations

import pytest

from extract.record import Evidence, Finding, Level, Question, Record, Run, Structure
from reports.doubts import Doubts
from reports.facts import gather
from reports.job import Closeout


def said(**notes: int) -> list[Evidence]:
    return [Evidence(note=note, quote="so it was said", confidence=0.9, field=field) for field, note in notes.items()]


def marks(doubts: Doubts, label: str, *fields: str) -> list[str]:
    return [str(doubts.mark(doubt)) for doubt in doubts.on(label, *fields)]


def asked(*questions: Question, **parts: list[object]) -> Doubts:
    record = Record(
        structures=[
            Structure(label="CB-1", kind="catch_basin", evidence=said(size_in=3)),
            Structure(label="CB-2", kind="catch_basin", evidence=said(size_in=4)),
        ],
        runs=[Run(label="R-1", from_="CB-1", to="CB-2", evidence=said(length_ft=5))],
        questions=list(questions),
        **parts,
    )
    return Doubts(record)


def test_a_question_marks_its_field_and_no_other() -> None:
    doubts = asked(Question(about="R-1", field="length_ft", why="missing"))
    assert marks(doubts, "R-1", "length_ft") == ["†1"]
    assert marks(doubts, "R-1", "drop_in") == []
    assert marks(doubts, "CB-1", "length_ft") == []


def test_a_question_with_no_field_marks_every_number_of_its_subject() -> None:
    doubts = asked(Question(about="R-1", why="low_confidence"))
    assert marks(doubts, "R-1", "length_ft") == marks(doubts, "R-1", "cover_in") == ["†1"]


def test_a_field_that_no_entry_has_marks_every_number_of_its_subject() -> None:
    doubts = asked(Question(about="R-1", field="sticks", why="low_confidence"))
    assert marks(doubts, "R-1", "drop_in") == ["†1"]


def test_a_label_inside_other_words_is_found() -> None:
    doubts = asked(Question(about="CB-1 invert_out", field="rod_ft", why="low_confidence"))
    assert marks(doubts, "CB-1", "invert_out_ft") == ["†1"]
    assert marks(doubts, "CB-1", "rim_ft") == []


def test_a_question_about_nothing_known_marks_what_was_said_in_its_notes() -> None:
    doubts = asked(Question(about="something by the fence", why="low_confidence", evidence=said(length_ft=5)))
    assert marks(doubts, "R-1", "length_ft") == ["†1"]
    assert marks(doubts, "CB-1", "size_in") == []


@pytest.mark.parametrize("about", ["benchmark", "CB-1 rim"])
def test_a_doubt_about_a_backsight_is_a_doubt_about_every_elevation(about: str) -> None:
    levels: list[object] = [Level(point="CB-1 rim", kind="backsight", rod_ft=4.0)]
    doubts = asked(Question(about=about, field="rod_ft", why="low_confidence"), levels=levels)
    assert marks(doubts, "CB-2", "invert_out_ft") == ["†1"]
    assert marks(doubts, "R-1", "length_ft") == []


def test_a_slope_worked_out_bears_the_doubts_of_what_it_hangs_on() -> None:
    doubts = asked(
        Question(about="CB-2", field="invert_in_ft", why="low_confidence"),
        Question(about="R-1", field="cover_in", why="low_confidence"),
    )
    assert [doubt.number for doubt in doubts.on_run_slope(doubts.record.runs[0])] == [1]


@pytest.mark.parametrize(
    ("question", "text"),
    [
        (
            Question(about="R-1", field="length_ft", choices=[43, 45], why="conflict"),
            "Run R-1, length: being confirmed: heard 43 ft and later 45 ft.",
        ),
        (Question(about="R-1", field="length_ft", why="missing"), "Run R-1, length: not said; being asked for."),
        (
            Question(about="R-1", field="slope_pct", heard="twelve percent", why="implausible"),
            "Run R-1, slope: being confirmed: what was heard cannot be right (heard as “twelve percent”).",
        ),
        (
            Question(about="CB-1", field="invert_out_ft", choices=[97.3, 97.13], why="low_confidence"),
            "Catch basin CB-1, outgoing invert: being confirmed: the recording is not clear; "
            "it may be 97.30 ft or 97.13 ft.",
        ),
    ],
)
def test_a_doubt_says_what_was_heard(question: Question, text: str) -> None:
    doubts = asked(question)
    assert doubts.mark(doubts.all[0]).words == text


def test_a_number_that_a_finding_contradicts_is_marked_too(closeout: Closeout) -> None:
    wrong = Finding(check="drop", subject="R-1", outcome="fail", message="does not agree", evidence=said(drop_in=9))
    facts = gather(closeout.model_copy(update={"findings": [wrong]}))
    assert [str(mark) for mark in facts.marks("R-1", "drop_in")] == ["‡1"]
    assert facts.marks("R-1", "cover_in") == []


def test_a_finding_that_only_misses_something_contradicts_nothing(closeout: Closeout) -> None:
    open_ = Finding(check="drop", subject="R-1", outcome="unknown", message="too little", evidence=said(drop_in=9))
    assert gather(closeout.model_copy(update={"findings": [open_]})).marks("R-1", "drop_in") == []
