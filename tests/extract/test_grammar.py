"""The grammar of numbers and measures: every example of its table, and the ways crews say and write them."""

import random
import time

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from extract.assemble import Kept, assemble, read
from extract.lexicon import load
from extract.record import Note
from extract.spelling import SLIPS, normalise
from extract.text.grammar import LEXICON, TABLE, Parser, classes_of
from extract.text.quantities import PRODUCTIONS, Quantity, _kept, find_quantities, ordinal_before

EXAMPLES = [
    (name, row["say"], row.get("is"))
    for name, rows in TABLE["production"].items()
    for row in rows
    if "say" in row
]  # fmt: skip


def said(text):
    return [(round(q.value, 4), q.unit) for q in find_quantities(normalise(text))]


def only(text):
    (quantity,) = find_quantities(normalise(text))
    return quantity


@pytest.mark.parametrize(("name", "say", "value"), EXAMPLES)
def test_a_form_reads_its_example_from_end_to_end(name, say, value):
    words = normalise(say) if "-" in say else say.split()
    low = int(words[0] == "between")
    read = Parser(words, [classes_of(word) for word in words]).read(PRODUCTIONS[name], low)
    assert read is not None
    assert read[1] == len(words)
    got = _kept(read[0]).value if isinstance(read[0], Quantity) else read[0]
    if isinstance(value, int | float):
        assert got == pytest.approx(value, rel=1e-4)
    elif value is not None:
        assert (list(got) if isinstance(value, list) else got) == value


def test_every_production_has_an_example():
    assert {name for name, _, _ in EXAMPLES} == set(TABLE["production"])


def test_no_word_class_has_the_name_of_a_production():
    classes = {kind for word in LEXICON.values() for kind in word}
    assert not classes & set(TABLE["production"])


@pytest.mark.parametrize(
    ("text", "value", "unit"),
    [
        ("a hundred and one feet", 101, "ft"),
        ("twelve hundred feet", 1200, "ft"),
        ("18.05", 18.05, None),
        ("eighteen point o five", 18.05, None),
        ("nought point two", 0.2, None),
        ("half a dozen", 6, None),
        ("two dozen", 24, None),
        ("one fourth", 0.25, None),
        ("three fifths", 0.6, None),
        ("three and one fourth", 3.25, None),
        ("one hundred and three quarters", 100.75, None),
        ("an inch and a quarter", 1.25, "in"),
        ("one-fourth of an inch per foot", 2.0833, "pct"),
        ("fourteen feet and a half", 14.5, "ft"),
        ("fourteen feet and a half inch", 14.0417, "ft"),
        ("2 yards and 7 feet", 13, "ft"),
        ("2 yards, 7 feet and 10 inches", 13.8333, "ft"),
        ("three metres and 20 centimetres", 10.4987, "ft"),
        ("2m40", 7.874, "ft"),
        ("one hour thirty", 5400, "s"),
        ("an hour and a half", 5400, "s"),
        ("1 hour 2 minutes and 3 seconds", 3723, "s"),
        ("a quarter a foot", 2.0833, "pct"),
        ("1/8 to the foot", 1.0417, "pct"),
        ("1 in 80", 1.25, "pct"),
        ("1:80", 1.25, "pct"),
        ("one in a hundred", 1, "pct"),
        ("20 mm a metre", 2, "pct"),
        ("two inches per ten feet", 1.6667, "pct"),
        ("5in.", 5, "in"),
        ("15 mins 20 secs", 920, "s"),
        ("3 gals", 3, "gal"),
        ("6 litres per minute", 1.585, "gpm"),
        ("6 l/min", 1.585, "gpm"),
        ("nine hundred gallons an hour", 15, "gpm"),
        ("20 kg", 20, "other"),
        ("12 m", 39.3701, "ft"),
        ("ten cubic yards", 270, "cuft"),
        ("fourty two feets", 42, "ft"),
        ("fourteeen inchs", 14, "in"),
        ("tweny feet", 20, "ft"),
        ("twentyfive feet", 25, "ft"),
        ("fortytwo", 42, None),
        ("3 ft & 2 in", 3.1667, "ft"),
        ("three feet & two inches", 3.1667, "ft"),
        ("five (5) feet", 5, "ft"),
        ("thirty-one (31) feet", 31, "ft"),
        ("sixty-two (62)", 62, None),
        ("a full foot", 1, "ft"),
        ("full inch", 1, "in"),
        ("a whole hour", 3600, "s"),
        ("a thirty-second of an inch", 0.0312, "in"),
        ("a sixty-fourth of an inch", 0.0156, "in"),
        ("seven and three thirty-seconds inches", 7.0938, "in"),
        ("two and a thirtieth feet", 2.0333, "ft"),
        ("3 yards, 2 feet, 9 in.", 11.75, "ft"),
        ("4 dzs", 48, None),
        ("10 dm", 39.3701, "in"),
        ("two metres three decimetres", 7.5459, "ft"),
        ("45 (forty five)", 45, None),
        ("20 (twenty) feet", 20, "ft"),
        ("a week and a half", 1.5, "other"),
        ("4 cubic kilometers", 4, "other"),
        ("12 watts", 12, "other"),
        ("fifty milligrams", 50, "other"),
        ("a kilogram", 1, "other"),
        ("£2,000", 2000, "money"),
        ("€15.50", 15.5, "money"),
        ("$-99.99", 99.99, "money"),
        ("forty quid", 40, "money"),
        ("twenty pound", 20, "psi"),
    ],
)
def test_a_number_or_measure_is_read_whole(text, value, unit):
    quantity = only(text)
    assert (round(quantity.value, 4), quantity.unit, quantity.glued) == (value, unit, False)
    assert (quantity.start, quantity.end) == (0, len([t for t in normalise(text) if t != "."]))


@pytest.mark.parametrize(
    ("text", "values"),
    [
        ("2in on this side", [(2, "in")]),
        ("14 1/2in and that is all", [(14.5, "in")]),
        ("5 ft and 2 in on this side", [(5.1667, "ft")]),
        ("5 ft & 2 in and that is all", [(5.1667, "ft")]),
        ("98.04in and 97.94out", [(98.04, None), (97.94, None)]),
        ("12 in the ground", [(12, None)]),
    ],
)
def test_in_right_behind_figures_is_inches(text, values):
    assert said(text) == values


@pytest.mark.parametrize(
    "text", ["thirty feet, nine inches of SDR 35", "30 ft & 9 in of SDR 35", "30 ft and 9 in of pipe"]
)
def test_inches_before_the_pipe_laid_are_of_its_length(text):
    tokens = normalise(text)
    named = {i for i, token in enumerate(tokens) if token in ("sdr", "35")}
    (length,) = find_quantities(tokens, named)
    assert (round(length.value, 2), length.unit) == (30.75, "ft")


@pytest.mark.parametrize(
    "text", ["forty feet long", "forty long", "two sticks long", "two long sweeps", "run two is long", "one 4.85"]
)
def test_what_is_plainly_said_is_not_looked_at(text):
    assert not any(quantity.glued for quantity in find_quantities(normalise(text)))


def test_a_couple_of_bends_are_two():
    assert said("a couple of 45s") == [(2, None), (45, "angle")]


@pytest.mark.parametrize(
    ("text", "values"),
    [
        ("ten to twelve feet", (10, 12)),
        ("between 10 and 12 inches", (10, 12)),
        ("10-12 feet", (10, 12)),
        ("fifteen or sixteen feet", (15, 16)),
        ("between ten and about twelve inches", (10, 12)),
        ("10 to about 12 inches", (10, 12)),
        ("10 - ~12 inches", (10, 12)),
        ("10 -12 inches", (10, 12)),
        ("two to three days", (2, 3)),
        ("between 10 inches and about 12 inches", (10, 12)),
        ("10-12", (10, 12)),
        ("10 - 12", (10, 12)),
        ("between 20 and 30", (20, 30)),
        ("20 through 100", (20, 100)),
        ("ten thru twelve feet", (10, 12)),
        ("10ft-12ft", (10, 12)),
        ("3km-5km", (3, 5)),
        ("10 ft. - 12 ft.", (10, 12)),
        ("1/8-1/4 inch per foot", (100 / 96, 100 / 48)),
        ("two to three decimetres", (2 * 3.937007874015748, 3 * 3.937007874015748)),
        ("6 to 8 gallons a minute", (6, 8)),
        ("60-120 gallons an hour", (1, 2)),
        ("1/8 to 1/4 inch per foot", (100 / 96, 100 / 48)),
    ],
)
def test_a_range_is_one_quantity_with_both_its_values(text, values):
    quantity = only(text)
    assert (quantity.value, quantity.bound) == (pytest.approx(values[0]), "range")
    assert quantity.values == pytest.approx(values)


@pytest.mark.parametrize(
    ("text", "values"),
    [
        ("between two and three", [(2, None), (3, None)]),
        ("8.06 - 9.10", [(8.06, None), (9.1, None)]),
        ("12 - 10", [(12, None), (10, None)]),
        ("ten to twelve", [(10, None), (12, None)]),
        ("two feet through three feet of clay", [(2, "ft"), (3, "ft")]),
    ],
)
def test_two_bare_numbers_that_may_be_names_or_readings_are_no_range(text, values):
    assert said(text) == values


def test_the_rest_of_a_number_that_is_looked_at_is_looked_at_too():
    assert [each.glued for each in find_quantities(normalise("one point two hundred thirty-six"))] == [True, True]


@pytest.mark.parametrize("text", ["CB1>CB2", "basin 1 > basin 2", "1->2"])
def test_an_arrow_from_one_thing_to_another_is_no_bound(text):
    assert not any(each.bound for each in find_quantities(normalise(text)))


@pytest.mark.parametrize("text", ["555-1234", "12-11"])
def test_figures_on_a_dash_are_a_quantity_whatever_they_are(text):
    assert len(find_quantities(normalise(f"it is {text} there"))) == 1


@pytest.mark.parametrize("text", ["3-45s", "3-45's", "3-45 degree bends", "3-45° bends"])
def test_a_dash_may_stand_between_a_count_and_its_bends(text):
    assert [value for value, _ in said(text)] == [3, 45]


def test_a_hyphen_that_hangs_hides_no_number():
    assert said("the 4- and 6-inch pipe") == [(4, None), (6, "in")]
    assert said("8- to 16-foot joints") == [(8, None), (16, "ft")]


@pytest.mark.parametrize(
    ("text", "bound"),
    [("at least 12 inches", "min"), ("over 12 inches", "min"), ("under 12 inches", "max"),
     ("up to 12 inches", "max"), ("no more than 12 inches", "max"), ("12 inches", None),
     ("above 12 inches", "min"), ("exceeding 12 inches", "min"), ("deeper than 12 inches", "min"),
     ("no deeper than 12 inches", "max"), ("lower than 12 inches", "max"), ("fewer than 12", "max"),
     ("12 inches or more", "min"), ("12 inches or better", "min"), ("12 inches or less", "max"),
     ("<12 inches", "max"), ("it is >12", "min"), ("it is >= 12", "min"), ("<= 12 inches", "max"),
     ("12 inches and more stone", None), ("12 inches or so", None)],
)  # fmt: skip
def test_a_bound_leaves_the_value(text, bound):
    assert (only(text).value, only(text).bound) == (12, bound)


def test_a_unit_said_once_is_of_the_whole_list():
    assert said("20, 30 and 40 feet") == [(20, "ft"), (30, "ft"), (40, "ft")]
    assert said("a coupling, 2 and 40 feet") == [(2, None), (40, "ft")]


@pytest.mark.parametrize(
    "text",
    ["fourteen feet zillion inch", "three and a foo inches", "umpteen forty feet", "half a bubble", "quarter bubble",
     "falls 3 in 20", "put 1 in 10 trenches", "twenty-odd foot", "one over eighty", "twenty three fifths",
     "44 feet and 6", "a couple of inches", "another hour", "fifty - two feet", "twenty and four hours",
     "one metre and two feet", "three hundred and two dozen", "one point two hundred thirty six",
     "five thousand twenty thousand", "40xx of pipe",
     "5-10-15", "12v", "three billions", "forty cubits long", "45 js deep", "1 234 567.89"],
)  # fmt: skip
def test_what_may_be_half_read_is_looked_at(text):
    assert any(quantity.glued for quantity in find_quantities(normalise(text)))


@pytest.mark.parametrize(
    "text",
    ["the form of the tree", "forth and back, sit there", "they put tents up by the ponds", "the elven moths",
     "a third coupling", "the twenty first of May", "the yard", "put a second coupling in",
     "the whole foot path", "full gallons"],
)  # fmt: skip
def test_a_word_that_is_no_number_stays_a_word(text):
    assert find_quantities(normalise(text)) == []


@pytest.mark.parametrize(
    ("text", "values"),
    [
        ("installed, six metres 50 pipe", [(19.685, "ft"), (50, None)]),
        ("seven metres 45 elbow", [(22.9659, "ft"), (45, None)]),
        ("a metre 90 bend", [(3.2808, "ft"), (90, None)]),
        ("siete metros cincuenta tubo", [(22.9659, "ft"), (50, None)]),
        ("seven metres sixty of pipe", [(24.9344, "ft")]),
        ("a metre twenty square", [(3.937, "ft")]),
    ],
)
def test_a_size_or_a_bend_behind_metres_is_no_part_of_them(text, values):
    assert said(text) == values


@pytest.mark.parametrize(
    ("text", "glued"),
    [
        ("the pipe on run one is twenty-five a metre", True),
        ("ten a metre", True),
        ("falls ten a metre", False),
        ("ten a metre of fall", False),
        ("ten per metre", False),
    ],
)
def test_so_many_a_metre_may_be_a_price(text, glued):
    assert find_quantities(normalise(text))[-1].glued is glued


@pytest.mark.parametrize(
    "text",
    ["eight to the meter box", "eight to a meter post", "eight inches to the meter wall", "ten in the meter pit"],
)
def test_a_meter_on_a_wall_is_no_metre(text):
    assert {unit for _, unit in said(text)} <= {None, "in"}


@pytest.mark.parametrize(
    ("text", "glued"),
    [("eight to the meter", True), ("eight to a metre", True), ("drops eight to the meter", False),
     ("eight to the metre", False)],
)  # fmt: skip
def test_so_many_to_the_meter_is_of_fall_where_fall_is_spoken_of(text, glued):
    assert (only(text).unit, only(text).glued) == ("pct", glued)


@pytest.mark.parametrize(
    ("text", "values"),
    [
        ("4 inches to the footer", [(4, "in")]),
        ("a half inch to the footer", [(0.5, "in")]),
        ("ten footers", [(10, "ft")]),
        ("one 10-footer", [(1, None), (10, "ft")]),
        ("a seven and a half footer", [(7.5, "ft")]),
    ],
)
def test_a_footer_is_a_stick_only_behind_a_number(text, values):
    assert said(text) == values


@pytest.mark.parametrize(
    "text",
    ["put one in ten trenches", "basin one to thirty two", "one in twelve of them", "run one in eighty",
     "one to thirty boxes", "uno en diez de ellos"],
)  # fmt: skip
def test_one_of_some_is_no_slope(text):
    assert "pct" not in {unit for _, unit in said(text)}


@pytest.mark.parametrize(
    ("text", "value"),
    [("falls one in eighty whatever", 1.25), ("one in eighty if we can", 1.25), ("uno en ochenta y ya", 1.25),
     ("pitch it one to fifty chief", 2), ("one to fifty", 2)],
)  # fmt: skip
def test_one_in_some_is_a_slope_where_it_ends_or_fall_is_spoken_of(text, value):
    assert (value, "pct") in said(text)


@pytest.mark.parametrize(
    "text", ["wrapped in filter media", "they had pies at lunch", "on par with it", "mes", "media and stone", "a pie"]
)
def test_a_word_of_english_too_is_none_of_spanish_by_itself(text):
    assert said(text) == []


@pytest.mark.parametrize(
    ("text", "values"),
    [
        ("two pies at lunch", [(2, None)]),
        ("dos pies de tubo", [(2, "ft")]),
        ("un par de codos", [(2, None)]),
        ("tres pulgadas y media", [(3.5, "in")]),
        ("quince pies", [(15, "ft")]),
        ("from the corner nueve pies siete, and on to the gate", [(9.5833, "ft")]),
        ("from here to there like ocho y media", [(8.5, None)]),
    ],
)
def test_a_word_of_both_languages_is_of_that_about_it(text, values):
    assert said(text) == values


def test_no_word_of_the_trade_is_taken_for_a_slip():
    words = {
        word for values in load().values() for phrases in values.values() for each in phrases for word in each.split()
    }
    assert not words & set(SLIPS)


@pytest.mark.parametrize(
    ("text", "number"),
    [
        ("eleventh", 11),
        ("8th", 8),
        ("16th", 16),
        ("twentyfifth", 25),
        ("21st", 21),
        ("twenty-second", 22),
        ("ninety ninth", 99),
        ("one hundred and first", 101),
    ],
)
def test_an_ordinal_names(text, number):
    tokens = normalise(f"the {text}")
    assert ordinal_before(tokens, len(tokens)) == (number, 1)


def test_things_are_named_by_ordinals_past_ten():
    record = assemble([Note(text="The eleventh basin is set, and the twenty-second downspout is tied in.")])
    assert [each.label for each in record.structures] == ["CB-11", "DS-22"]


def test_a_range_is_asked_about():
    record = assemble([Note(text="Run one is in, SDR 35, and the cover on run one is 12 to 16 inches.")])
    assert record.runs[0].cover_in == 12
    assert ("R-1", "cover_in") in {(q.about, q.field) for q in record.questions}


WORDS = sorted({phrase for values in load().values() for phrases in values.values() for phrase in phrases} | {*LEXICON})
PLAIN = "the a one two three run basin is 's on to in of and , . not no forty feet 4 inch 45s out that it".split()


@pytest.mark.parametrize("seed", range(6))
def test_any_words_of_the_trade_make_a_record(seed):
    pick = random.Random(seed)
    for _ in range(20):
        texts = [
            " ".join(pick.choice(pick.choice([WORDS, PLAIN])) for _ in range(pick.randint(1, 14))) for _ in range(3)
        ]
        failed = set[int]()
        read([Note(text=text) for text in texts], Kept(), failed)  # `assemble` makes a question of a note that raises
        record = assemble([Note(text=text) for text in texts])
        assert not failed, texts
        assert not [each for each in record.questions if each.about.startswith("note ")], texts


@settings(deadline=None)
@given(st.lists(st.sampled_from(sorted(LEXICON)), max_size=25))
def test_any_row_of_its_words_is_read_without_an_error(words):
    found = find_quantities(normalise(" ".join(words)))
    assert all(a.end <= b.start for a, b in zip(found, found[1:], strict=False))


@pytest.mark.parametrize("row", ["half ", "5'6\" ", "twenty one hundred ", "3, ", "and a half "])
def test_the_time_grows_no_faster_than_the_text(row):
    def seconds(times):
        """Processor time, the better of two: what runs beside it slows it too."""
        tokens, taken = normalise(row * times), []
        for _ in range(2):
            start = time.process_time()
            find_quantities(tokens)
            taken.append(time.process_time() - start)
        return min(taken)

    assert seconds(8_000) < 25 * max(seconds(1_000), 0.005)


def test_a_line_of_a_million_digits_is_read():
    start = time.process_time()
    assert len(find_quantities(normalise("7" * 1_000_000))) == 1
    assert time.process_time() - start < 10
