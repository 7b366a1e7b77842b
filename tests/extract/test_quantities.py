"""Numbers as crews say them, against num2words as the reference speaker."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from num2words import num2words

from extract.spelling import normalise
from extract.text.quantities import elevation_of, find_quantities, rod_of


def spoken(text):
    return [(round(q.value, 4), q.unit) for q in find_quantities(normalise(text))]


@pytest.mark.parametrize(
    "said", ["*65ft", "*65ft*", "_65_ ft", "•65ft", "+65ft", "@65 ft", "-65ft", "--65 ft", "...65ft"]
)
def test_a_sign_beside_a_figure_does_not_hide_it(said):
    assert spoken(said) == [(65, "ft")]


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("nine foot two", [(9.1667, "ft")]),
        ("11 feet 4.", [(11.3333, "ft")]),
        ("6'4\"", [(6.3333, "ft")]),
        ("thirty-four foot eight", [(34.6667, "ft")]),
        ("nine and a half feet", [(9.5, "ft")]),
        ("an inch and a half", [(1.5, "in")]),
        ("four and a quarter inches", [(4.25, "in")]),
        ("5 1/2 inches", [(5.5, "in")]),
        ("5½ inches", [(5.5, "in")]),
        ("five and five-eighths inches", [(5.625, "in")]),
        ("three quarters of an inch", [(0.75, "in")]),
        ("an eighth per foot", [(1.0417, "pct")]),
        ("quarter inch to the foot", [(2.0833, "pct")]),
        ('1/8" per foot', [(1.0417, "pct")]),
        ("point eight percent", [(0.8, "pct")]),
        ("one and a half percent", [(1.5, "pct")]),
        ("ten minutes, six gallons a minute", [(600, "s"), (6, "gpm")]),
        ("half an hour", [(1800, "s")]),
        ("zero plus forty-two", [(42, "station")]),
        ("three ten-foot sticks", [(3, None), (10, "ft")]),
        ("four three-inch caps", [(4, None), (3, "in")]),
        ("two forty-fives", [(2, None), (45, "angle")]),
        ("four bucks", [(4, "money")]),
        ("a hundred one point two", [(101.2, None)]),
        ("3.5 m", [(11.4829, "ft")]),
    ],
)
def test_the_trades_ways_of_saying_a_number(text, expected):
    assert spoken(text) == expected


@pytest.mark.parametrize(
    ("text", "feet"),
    [
        ("ninety-seven thirty", 97.3),
        ("ninety-seven ten", 97.1),
        ("one hundred even", 100),
        ("ninety-six and a half", 96.5),
    ],
)
def test_an_elevation_may_be_said_in_two_halves(text, feet):
    assert elevation_of(find_quantities(normalise(text))[0]) == pytest.approx(feet)


@pytest.mark.parametrize(("text", "feet"), [("eight oh six", 8.06), ("five point three oh", 5.3), ("544", 5.44)])
def test_a_rod_reading_may_lose_its_point(text, feet):
    assert rod_of(find_quantities(normalise(text))[0]) == pytest.approx(feet)


def test_a_telephone_number_is_no_rod_reading():
    assert rod_of(find_quantities(normalise("four four one two"))[0]) is None


@given(st.integers(1, 999_999))
def test_whole_numbers_as_num2words_says_them(number):
    assert spoken(f"{num2words(number)} feet") == [(number, "ft")]


@given(st.integers(0, 999), st.integers(1, 99))
def test_decimals_as_num2words_says_them(whole, hundredths):
    value = float(f"{whole}.{hundredths:02d}")
    assert spoken(f"{num2words(value)} percent") == [(value, "pct")]


@given(st.integers(1, 99), st.integers(1, 11))
def test_feet_and_inches_as_num2words_says_them(feet, inches):
    text = f"{num2words(feet)} foot {num2words(inches)}"
    assert spoken(text) == [(round(feet + inches / 12, 4), "ft")]


@settings(deadline=None)
@given(st.text(max_size=300))
def test_any_text_is_read_without_an_error(text):
    for quantity in find_quantities(normalise(text)):
        assert 0 <= quantity.start < quantity.end


def test_a_point_said_after_a_number_that_has_one_is_no_decimal():
    assert [q.value for q in find_quantities(normalise("97.5 oh five point one"))][0] == 97.5
