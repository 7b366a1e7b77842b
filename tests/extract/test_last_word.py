"""The last word counts: a later note closes a question, and spoken words and changes by hand stand in one order."""

import pytest

from extract.amend import Amendment, with_changes
from extract.assemble import assemble
from extract.record import Note, Word


def heard(text: str, confidence: float) -> Note:
    words = [Word(text=each, start_s=0, end_s=1, confidence=confidence) for each in text.split()]
    return Note(text=text, confidence=confidence, words=words)


def asked(record) -> list[tuple[str, str | None]]:
    return [(question.about, question.field) for question in record.questions]


@pytest.mark.parametrize(
    ("answer", "length_ft"),
    [
        ("Run one is fifty feet.", 50),
        ("Yes, fifty feet on run one.", 50),
        ("Run one is fifteen feet.", 15),
        ("No, fifteen feet.", 15),
    ],
)
def test_a_later_note_answers_a_doubt(answer, length_ft):
    doubt = heard("Run one is fifty feet.", 0.2)
    assert asked(assemble([doubt])) == [("R-1", "length_ft")]
    record = assemble([doubt, Note(text=answer)])
    assert asked(record) == []
    assert record.runs[0].length_ft == length_ft


@pytest.mark.parametrize(("answer", "length_ft"), [("Run one is 43 feet.", 43), ("Run one is 34 feet.", 34)])
def test_one_of_two_values_in_conflict_said_again_settles_it(answer, length_ft):
    notes = [Note(text="Run one is in, 34 feet."), Note(text="Run one is 43 feet.")]
    assert asked(assemble(notes)) == [("R-1", "length_ft")]
    record = assemble([*notes, Note(text=answer)])
    assert asked(record) == []
    assert record.runs[0].length_ft == length_ft


def test_a_third_value_settles_no_conflict():
    texts = ["Run one is in, 34 feet.", "Run one is 43 feet.", "Run one is 38 feet."]
    (question,) = assemble([Note(text=each) for each in texts]).questions
    assert question.choices == [34, 43, 38]


def test_a_word_heard_badly_twice_is_still_asked():
    assert asked(assemble([heard("Run one is fifty feet.", 0.2)] * 2)) == [("R-1", "length_ft")]


SAID = Note(text="Run one is in, 43 feet.")
BY_HAND = Amendment(subject="R-1", field="length_ft", value=34, after=1)


@pytest.mark.parametrize(
    ("later", "length_ft", "questions"),
    [
        ("No, run one is 36 feet.", 36, []),
        ("Make that 36 feet.", 36, []),
        ("Run one is 34 feet.", 34, []),
        ("Run one is 36 feet.", 36, [("R-1", "length_ft")]),
        ("Basin one is set.", 34, []),
    ],
)
def test_a_spoken_word_after_a_change_by_hand(later, length_ft, questions):
    notes = [SAID, Note(text=later)]
    record = with_changes(assemble(notes), [BY_HAND], len(notes))
    assert record.runs[0].length_ft == length_ft
    assert asked(record) == questions


def test_a_change_by_hand_after_the_spoken_word():
    notes = [SAID, Note(text="No, run one is 36 feet.")]
    record = with_changes(assemble(notes), [BY_HAND.model_copy(update={"after": 2})], len(notes))
    assert record.runs[0].length_ft == 34
    assert asked(record) == []


def test_pieces_that_add_up_to_the_corrected_length_stay():
    told = "Run five is in, five ten-foot sticks and a six-foot piece, 53 feet."

    def read(said):
        return assemble([Note(text=told), Note(text=said)])

    run = read("Correction, length of run five is fifty-six feet.").runs[0]
    assert (run.length_ft, run.pieces_ft) == (56, [10, 10, 10, 10, 10, 6])
    other = read("Correction, length of run five is fifty-eight feet.").runs[0]
    assert (other.length_ft, other.pieces_ft) == (58, [])


def test_a_slope_asked_about_and_told_in_one_note_stands():
    (run,) = assemble(
        [Note(text="Run two is in."), Note(text="And it's laid at an eighth a foot? Eighth a foot, yep.")]
    ).runs
    assert run.slope_pct == pytest.approx(100 / 96, abs=1e-3)


@pytest.mark.parametrize(
    "told",
    [
        ("Box one, twelve by twelve. Box two, same size.",),
        ("Box one is in.", "Box two is in.", "Both of them are 12 by 12."),
    ],
)
def test_what_is_said_of_both_boxes_is_of_both(told):
    record = assemble([Note(text=text) for text in told])
    assert [box.size_in for box in record.structures] == [[12, 12], [12, 12]]
