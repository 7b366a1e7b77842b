"""Water tests as they are told: how long they ran, what happened in them, and how they came out."""

import pytest

from extract.assemble import assemble
from extract.record import Note


def water_tests(*texts):
    return [(t.kind, t.at, t.duration_s, t.result) for t in assemble([Note(text=text) for text in texts]).tests]


@pytest.mark.parametrize(
    "said",
    [
        "Hose test on run one, ten minutes, passed.",
        "Hose test on run one, ten minutes, came out the pop-up after two minutes, passed.",
        "Hose test on run one. Took a minute and a half to come out. Ran it ten minutes. Passed.",
        "Waited twenty minutes for the glue, then hose tested run one for ten minutes, passed.",
        "Hose test on run one, a five gallon bucket in 33 seconds, ran ten minutes, passed.",
        "Hose test run one ten minutes, no leaks.",
        "Hose puts out about 9 gallons a minute. Hose test on run one for ten minutes, passed.",
        "Ran the hose on run one ten minutes. It passed.",
        "Water test. Ran the hose on run one ten minutes. It passed.",
        "Hose test, ten minutes. Run one passed.",
        "Hose test, ten minutes. It passed, no leaks on run one.",
    ],
)
def test_the_time_of_a_test_is_how_long_it_ran(said):
    assert water_tests(said) == [("hose", "R-1", 600, "pass")]


@pytest.mark.parametrize("result", ["The hose test passed.", "Water test passed.", "It passed the hose test."])
@pytest.mark.parametrize("before", [[], ["Run two is in, 40 feet."]])
def test_a_test_named_again_with_no_place_is_the_same_test(before, result):
    assert water_tests(*before, f"Ran the hose on basin one ten minutes. {result}") == [("hose", "CB-1", 600, "pass")]


def test_a_test_named_again_after_its_result_is_another_one():
    said = "Hose test on run one, ten minutes, failed. Cleared it. Hose test, five minutes, passed."
    assert water_tests(said) == [("hose", "R-1", 600, "fail"), ("hose", "R-1", 300, "pass")]


@pytest.mark.parametrize("said", ["Make that fifteen minutes.", "Actually it was fifteen minutes."])
def test_the_time_of_the_last_test_is_corrected(said):
    assert water_tests("Hose test on run one, ten minutes, passed.", said) == [("hose", "R-1", 900, "pass")]


def test_a_test_to_come_is_no_test():
    assert water_tests("Run one is in, 44 feet.", "We'll hose test run one after lunch, ten minutes.") == []


@pytest.mark.parametrize(
    ("said", "result"),
    [("held", "pass"), ("lost a pound", "fail"), ("lost two psi", "fail"), ("leaking at the cap", "fail")],
)
def test_an_air_test_in_plain_words(said, result):
    assert water_tests(f"Air test run one, 5 psi for 15 minutes, {said}.") == [("air", "R-1", 900, result)]


@pytest.mark.parametrize(
    "said",
    [
        "Had to stop for lunch.",
        "Held off on run two.",
        "Actually it rained for 2 hours.",
        "We're 40 minutes out, sorry.",
    ],
)
def test_other_times_and_words_leave_a_test_as_it_was(said):
    assert water_tests("Hose test on run one, ten minutes, passed.", said) == [("hose", "R-1", 600, "pass")]


def test_a_question_about_a_test_is_answered_in_the_next_note():
    answer = (
        "Ran it twelve minutes at five gallons a minute, first water came out in ninety seconds, and that's a pass."
    )
    assert water_tests("Run one is in, 40 feet.", "How'd the hose test on run one go?", answer) == [
        ("hose", "R-1", 720, "pass")
    ]
