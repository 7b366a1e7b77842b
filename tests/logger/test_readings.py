import math

import pytest

from extract.record import Word
from logger.readings import (
    DOUBTFUL,
    Reading,
    Utterance,
    agreement,
    circling,
    doubtful,
    half_sure,
    held_against,
    made_up,
    numbers,
    plain,
    ranked,
    thoughts,
)


def reading(text: str, log_probability: float = -3.0) -> Reading:
    return Reading(text, log_probability, tuple(range(len(text.split()))))


def utterance(text: str, confidence: float, **doubts: float) -> Utterance:
    words = [Word(text=word, start_s=0, end_s=1, confidence=confidence) for word in text.split()]
    return Utterance(text, words, [], **{"log_probability": -0.3, "no_speech": 0.0, "repetition": 1.0} | doubts)


def test_of_two_near_readings_the_one_in_the_trade_s_words_comes_first():
    strange, fitting = reading("the grapes are in", -2.0), reading("the grate is in", -2.2)
    assert ranked([strange, fitting]) == [fitting, strange]


def test_a_word_of_the_trade_does_not_beat_clear_sound():
    clear, far_off = reading("my cousin Wes is here", -1.0), reading("my cousin west is here", -9.0)
    assert ranked([far_off, clear])[0] == clear


def test_a_misheard_word_that_can_be_put_right_counts_as_what_it_means():
    other, repairable = reading("endured is off", -2.0), reading("endvert is off", -2.1)
    assert ranked([other, repairable])[0] == repairable


def test_numbers_are_the_same_spelled_or_in_digits():
    assert numbers("Four-inch, 26 feet, eighteen by 18, 98.40") == ["4", "26", "18", "18", "98.40"]
    assert numbers("thirty-one foot six, forty five") == ["31", "6", "45"]
    assert plain("Run two: 4-inch!") == plain("run 2 four inch")


def test_another_model_is_asked_where_a_number_is_neither_past_doubt_nor_asked_about():
    assert half_sure(utterance("Run two is 14 feet", 0.8))
    assert not half_sure(utterance("Run two is 14 feet", 0.95))
    assert not half_sure(utterance("Run two is 14 feet", 0.65))
    assert not half_sure(utterance("Lunch", 0.8))


def test_a_number_that_another_model_does_not_hear_is_in_doubt():
    one = utterance("Run two is 14 feet of 4-inch", 0.9)
    sure = {word.text: word.confidence for word in held_against(one, "Run two is 40 feet of four inch").words}
    assert (sure["14"], sure["two"], sure["4-inch"]) == (DOUBTFUL, 0.9, 0.9)
    assert all(word.confidence == DOUBTFUL for word in held_against(one, "").words if numbers(word.text))


def test_a_number_is_as_sure_as_its_readings_agree():
    readings = [reading("14 inches of cover", math.log(0.6)), reading("40 inches of cover", math.log(0.3))]
    assert agreement("14", readings) == pytest.approx(2 / 3)
    assert agreement("40", readings) == pytest.approx(1 / 3)
    assert agreement("9", readings) == 0


def test_an_echo_of_the_hint_that_the_sound_does_not_bear_out_was_made_up():
    assert made_up(utterance("Foresight 5.44, elevation 98.90.", 0.04))
    assert not made_up(utterance("Run two is Schedule 40.", 0.8))


def test_stock_phrases_out_of_a_hum_were_made_up():
    assert made_up(utterance("Thank you.", 0.9, no_speech=0.5))
    assert not made_up(utterance("Okay.", 0.9))


def test_unlikely_words_where_the_model_half_hears_nobody_were_made_up():
    assert made_up(utterance("One, two, three.", 0.6, no_speech=0.33, log_probability=-1.45))
    assert not made_up(utterance("One, two, three.", 0.6, no_speech=0.33))
    assert not made_up(utterance("One, two, three.", 0.6, log_probability=-1.45))


def test_words_that_go_round_in_circles_were_made_up_where_the_sound_does_not_bear_them_out():
    assert made_up(utterance("and then " * 30, 0.2, repetition=9.0))
    assert doubtful(utterance("and then " * 30, 0.6, repetition=9.0))


@pytest.mark.parametrize(
    ("text", "circles"),
    [
        ("Roots on run two are cut out. Roots on run two are cut out.", True),
        ("Make that 34-foot 8. Make that thirty-four foot 8.", True),
        ("Make that 34 foot 8, make that 34-foot eight", True),
        ("whoa whoa whoa, gas line crossing run three", False),
        ("Two 45s on run one, and two 45s on run two.", False),
    ],
)
def test_a_reading_that_says_four_words_over_again_goes_in_circles(text, circles):
    assert circling(text) == circles


def timed(text, *gaps):
    """The words of `text` a third of a second each, with so many seconds more before the word of each number."""
    words, at = [], 0.0
    for number, word in enumerate(text.split()):
        at += dict(gaps).get(number, 0.0)
        words.append(Word(text=word, start_s=at, end_s=at + 0.3, confidence=0.9))
        at += 0.33
    return words


def test_two_thoughts_with_noise_in_the_pause_between_are_two():
    text = "Run one is laid. Basin two is in, 12 by 12."
    other = Reading("Run one's laid. Basin two is in, 20 by 12.", -3, (1,))
    first, second = thoughts(Utterance(text, timed(text, (4, 2.2)), [Reading(text, -2, (1,)), other], -0.3, 0.0, 1.0))
    assert (first.text, second.text) == ("Run one is laid.", "Basin two is in, 12 by 12.")
    assert [reading.text for reading in first.readings] == ["Run one is laid.", "Run one's laid."]
    assert [reading.text for reading in second.readings] == ["Basin two is in, 12 by 12.", "Basin two is in, 20 by 12."]
    assert second.words[0].text == "Basin"


@pytest.mark.parametrize(("text", "pause"), [("Run one is laid, 14 feet.", 2.2), ("Run one is laid. D2729.", 1.5)])
def test_one_thought_with_a_breath_in_it_stays_one(text, pause):
    said = Utterance(text, timed(text, (4, pause)), [], -0.3, 0.0, 1.0)
    assert thoughts(said) == [said]


def test_a_reading_with_nothing_in_common_is_cut_all_the_same():
    text = "Run one is laid. Basin two is in."
    other = Reading("Something else.", -3, (1,))
    cut = thoughts(Utterance(text, timed(text, (4, 2.2)), [Reading(text, -2, (1,)), other], -0.3, 0.0, 1.0))
    assert " ".join(part.readings[1].text for part in cut).strip() == "Something else."
