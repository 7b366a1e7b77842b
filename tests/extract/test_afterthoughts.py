"""A bare number of a later note: an answer, a correction, or none of the work. Put only where nothing else is said."""

import pytest

from extract.amend import Amendment, with_changes
from extract.assemble import assemble
from extract.record import Note


def read(*texts: str):
    return assemble([Note(text=text) for text in texts])


LENGTH, DROP, COVER = ("R-1", "length_ft"), ("R-1", "drop_in"), ("R-1", "cover_in")
ABOUT_40 = ("Run one is about 40 feet.", LENGTH, 40)
ABOUT_60 = ("Run one is about 60 feet.", LENGTH, 60)
ABOUT_6 = ("Run one, drop is about 6 inches.", DROP, 6)
ABOUT_18 = ("Run one has about 18 inches of cover.", COVER, 18)
RIM = ("Basin one rim is about 98.5.", ("CB-1", "rim_ft"), 98.5)
SURE = ("Run one is 40 feet.", LENGTH, 40)


@pytest.mark.parametrize(
    ("first", "then"),
    [
        *((ABOUT_40, each) for each in (
            "Bob is 42.", "He turned 42.", "Truck's at 42.", "It's 45 out here.", "We're at 44 on the other job.",
            "The fence is 52 feet.", "Driveway is 52 feet wide.", "The neighbor's run is 52 feet.",
        )),
        *((ABOUT_60, each) for each in ("The hose is 50 feet.", "He paid for 55.", "It's got a 65 on the door.")),
        *((ABOUT_6, each) for each in (
            "Knock off at 5.", "The big kid is 7.", "Bucket's 12 inches.", "Slab's 4 inches thick.",
        )),
        *((ABOUT_18, each) for each in (
            "Trench is 12 inches wide.", "Gravel is 12 inches.", "Rain gauge says 12.",
            "Put 10 inches of gravel under it.",
        )),
        *((RIM, each) for each in (
            "FM 98.7.", "Patio's at 98.9.", "Bottom of the trench is 96.2.", "It's 98 in the shade.",
        )),
        *((SURE, each) for each in (
            "Wait, we got 36 left on the truck.", "My mistake, the house number is 44.",
            "Never mind that, lunch is at 42.",
            "Page 40 of 52.", "40 to 38, Bears won.", "52 on the truck, 40 in the ground.",
            "The 40 tonner is parked, back at 38.",
        )),
    ],
)  # fmt: skip
def test_talk_of_something_else_takes_no_place_in_silence(first, then):
    text, (about, name), value = first
    record = read(text, then)
    asked = any((each.about, each.field) == (about, name) for each in record.questions)
    stands = getattr(record.subject(about), name)
    assert stands == value or asked, (stands, record.questions)
    if first is not SURE:
        assert stands == value
        assert asked  # the doubt is still open


@pytest.mark.parametrize(
    ("texts", "about", "name", "value"),
    [
        (["Run one is about 40 feet.", "Yes, forty."], "R-1", "length_ft", 40),
        (["Run one is 40 feet.", "Wait, 42."], "R-1", "length_ft", 42),
        (["Run one is 40 feet.", "Ugh, typo, 42."], "R-1", "length_ft", 42),
        (["Basin one rim ninety-eight forty-two.", "Wait, ninety-eight twenty-four."], "CB-1", "rim_ft", 98.24),
    ],
)
def test_a_note_that_says_nothing_else_answers_or_corrects(texts, about, name, value):
    record = read(*texts)
    asked = any((each.about, each.field) == (about, name) for each in record.questions)
    assert getattr(record.subject(about), name) == value
    assert not asked


def test_a_third_value_in_a_note_of_its_own_settles_no_conflict():
    (question,) = read("Run one is in, 40 feet.", "Run one is 50 feet.", "Forty-six.").questions
    assert question.choices == [40, 50, 46]


def test_no_talk_overrules_a_person_unasked():
    notes = [Note(text="Run one is about 40 feet."), Note(text="42.")]
    by_hand = Amendment(subject="R-1", field="length_ft", value=41, after=1)
    record = with_changes(assemble(notes), [by_hand], len(notes))
    asked = [(each.about, each.field, each.choices) for each in record.questions]
    assert asked == [("R-1", "length_ft", [41, 42])]


@pytest.mark.parametrize("said", ["Take that off.", "Swap those.", "That's not right."])
def test_what_is_taken_back_with_no_other_word_is_asked_about(said):
    asked = {(each.about, each.field) for each in read("Run one is 40 feet.", said).questions}
    assert ("R-1", "length_ft") in asked
