"""Units against the library pint, and numbers spoken by num2words, over wide ranges."""

import pint
import pytest
from hypothesis import given
from hypothesis import strategies as st
from num2words import num2words

from extract.spelling import normalise
from extract.text.quantities import find_quantities

pytestmark = pytest.mark.outside
UNITS = pint.UnitRegistry()


def only(text):
    (quantity,) = find_quantities(normalise(text))
    return quantity


@given(st.integers(1, 400), st.integers(1, 11), st.sampled_from([0, 1, 2, 3]))
def test_feet_inches_and_quarters_come_to_what_pint_makes_of_them(feet, inches, quarters):
    tail = {0: "", 1: " and a quarter", 2: " and a half", 3: " and three quarters"}[quarters]
    said = only(f"{num2words(feet)} feet {num2words(inches)}{tail} inches")
    right = feet * UNITS.foot + (inches + quarters / 4) * UNITS.inch
    assert said.value == pytest.approx(right.to("foot").magnitude)


@pytest.mark.parametrize(("word", "unit"), [("meters", "meter"), ("yards", "yard")])
@given(number=st.integers(1, 300))
def test_longer_units_come_back_in_feet(word, unit, number):
    right = (number * UNITS(unit)).to("foot").magnitude
    assert only(f"{num2words(number)} {word}").value == pytest.approx(right)


@pytest.mark.parametrize(("word", "unit"), [("centimeters", "centimeter"), ("millimeters", "millimeter")])
@given(number=st.integers(1, 900))
def test_shorter_units_come_back_in_inches(word, unit, number):
    right = (number * UNITS(unit)).to("inch").magnitude
    assert only(f"{num2words(number)} {word}").value == pytest.approx(right)


@given(st.sampled_from([("an eighth", 1 / 8), ("a quarter", 1 / 4), ("three eighths", 3 / 8), ("a half", 1 / 2)]))
def test_a_fall_in_inches_a_foot_is_a_percentage(fall):
    words, inches = fall
    right = ((inches * UNITS.inch) / UNITS.foot).to("percent").magnitude
    assert only(f"{words} inch per foot").value == pytest.approx(right)


@given(st.integers(1, 90), st.sampled_from([("minutes", "minute"), ("seconds", "second"), ("hours", "hour")]))
def test_durations_come_back_in_seconds(number, unit):
    right = (number * UNITS(unit[1])).to("second").magnitude
    assert only(f"{num2words(number + 1)} {unit[0]}").value == pytest.approx(right * (number + 1) / number)
