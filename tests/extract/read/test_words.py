"""The quantities of a note and what they look like."""

import time

import pytest

from extract.read.words import FORM, UNITS, form_of, order_words, quantities_of, turning_points


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("the pipe is 40 feet at 4 inch", ["40 feet", "4 inch"]),
        ("schedule forty fourteen metres", ["fourteen metres"]),
        ("SDR 35, 12 ft", ["12 ft"]),
        ("no figures here", []),
    ],
)
def test_quantities_stand_on_their_words(text, words):
    assert [text[start:end] for start, end, _ in quantities_of(text)] == words


@pytest.mark.parametrize(
    ("text", "words", "number"),
    [
        ("foresight on turning point one, 4.85", "turning point one", 1),
        ("turning point number two 4.85", "turning point number two", 2),
        ("backsight on TP1 5.10", "TP1", 1),
        ("TP-2 3.20", "TP-2", 2),
        ("TP #3: 4.1", "TP #3", 3),
        ("turning point 4.85", "turning point", None),
        ("TP four eighty-five", "TP", None),
        ("the TP", "TP", None),
    ],
)
def test_a_turning_point_may_bear_a_number_which_is_no_quantity(text, words, number):
    ((start, end, found),) = turning_points(text)
    assert (text[start:end], found) == (words, number)
    assert all(low >= end for low, _, _ in quantities_of(text))


def test_no_other_word_is_a_turning_point():
    assert turning_points("http and a turning radius of 12") == []


def test_the_number_of_a_name_is_no_quantity():
    text = "run 2 is 30 feet"
    assert [text[start:end] for start, end, _ in quantities_of(text, [(0, 5)])] == ["30 feet"]


@pytest.mark.parametrize(("text", "unit", "size"), [("40 feet", "ft", 5), ("a quarter", None, 0), ("2000", None, 7)])
def test_the_form_tells_unit_and_size(text, unit, size):
    ((_, _, quantity),) = quantities_of(text)
    form = form_of(quantity)
    assert len(form) == FORM
    assert form[UNITS.index(unit)] == 1
    assert form[len(UNITS) + 1 + size] == 1
    assert sum(form[: len(UNITS) + 1]) == 1


def test_many_turning_points_cost_no_more_each():
    def cost(count):
        start = time.process_time()
        turning_points("TP 4.85 " * count)
        return time.process_time() - start

    cost(10)
    assert cost(800) < 10 * cost(200) + 0.05


@pytest.mark.parametrize(
    ("text", "end", "words"),
    [
        ("Scratch run one's drop.", 7, "Scratch run one's drop"),
        ("Scratch the invert in, it was wet.", 18, "Scratch the invert in"),
        ("scratch that run one is 43 feet", 7, "scratch"),
        ("Scratch that drop.", 7, "Scratch that drop"),
    ],
)
def test_an_order_goes_on_to_what_it_calls(text, end, words):
    assert order_words(text, 0, end) == words
