"""Other readings of the same sound: which are taken, and which only offered."""

from extract.alternatives import MOST_TRIES, offer_others
from extract.assemble import Kept, assemble
from extract.record import Note, Word


def heard(text: str, *alternatives: str, confidence: float = 1.0) -> Note:
    words = [Word(text=each, start_s=0, end_s=1, confidence=confidence) for each in text.split()]
    return Note(text=text, confidence=confidence, words=words, alternatives=list(alternatives))


def questions(record, why):
    return [(q.about, q.field, q.choices) for q in record.questions if q.why == why]


def test_a_reading_that_fits_the_rest_is_taken_and_asked_about():
    notes = [
        heard("Run one is four-inch PVC, 20 feet long."),
        heard("It drops 15 inches.", "It drops 5 inches."),
        heard("That's a slope of two percent."),
    ]
    record = assemble(notes)
    assert record.subject("R-1").drop_in == 5


def test_a_reading_that_fits_nothing_better_is_left():
    notes = [heard("Run one is four-inch PVC, 20 feet long."), heard("It drops 4 inches.", "It drops 40 inches.")]
    record = assemble(notes)
    assert record.subject("R-1").drop_in == 4
    assert questions(record, "low_confidence") == []


def test_a_settled_conflict_is_still_asked_about():
    notes = [
        heard("Run one is four-inch PVC, 31 feet long."),
        heard("Run one is 13 feet long.", "Run one is 31 feet long."),
    ]
    record = assemble(notes)
    assert record.subject("R-1").length_ft == 31
    assert [(q.about, q.field) for q in record.questions if q.field == "length_ft"] == [("R-1", "length_ft")]


def test_a_doubted_number_comes_with_what_else_was_heard():
    record = assemble([heard("Run one is 50 feet long.", "Run one is 15 feet long.", confidence=0.2)])
    assert questions(record, "low_confidence") == [("R-1", "length_ft", [50, 15])]


def test_readings_that_differ_are_asked_even_where_other_numbers_bear_the_first_out():
    notes = [
        heard("Run one is four-inch PVC."),
        heard("It is 12 feet long.", "It is 12 and a half feet long.", confidence=0.2),
        heard("It drops 3 inches."),
        heard("That's a slope of two percent."),
    ]
    record = assemble(notes)
    assert ("R-1", "length_ft", [12, 12.5]) in questions(record, "low_confidence")


def test_typed_notes_have_one_reading():
    record = assemble([Note(text="Run one is 20 feet long.")])
    assert record.subject("R-1").length_ft == 20
    assert record.questions == []


def test_many_doubted_numbers_are_offered_readings_within_bounds():
    notes = [heard(f"Run {n} is 20 feet long.", f"Run {n} is 12 feet long.", confidence=0.2) for n in range(1, 60)]
    calls, kept = [], Kept()

    def counting(texts):
        calls.append(1)
        return assemble([each.model_copy(update={"alternatives": []}) for each in texts], kept=kept)

    offer_others(counting(notes), notes, counting)
    assert len(calls) <= 1 + MOST_TRIES
