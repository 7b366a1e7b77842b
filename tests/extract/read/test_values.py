"""What quantities are worth, by field and by crew; no sentence here is of the corpus of talk."""

import pytest

from extract.read.amounts import crew_of_readings
from extract.read.assembly import Assembly
from extract.read.fittings import fitting_of
from extract.read.readings import Reading
from extract.read.values import Crew, value_of
from extract.read.words import quantities_of
from extract.record import Note

MM, CM, TENTHS, DIGITS = Crew("mm"), Crew("cm"), Crew(tenths=True), Crew(digits=True)


def readings(text, what, standing=(), thing="R.1", side=""):
    """The quantities of a text, each a value of the same field of the same thing."""
    return [
        Reading(0, start, end, what, thing=thing, side=side, standing=frozenset(standing), quantity=quantity)
        for start, end, quantity in quantities_of(text)
    ]


def worth(text, role, crew=None):
    ((_, _, quantity),) = quantities_of(text)
    value = value_of(quantity, role, crew) if crew else value_of(quantity, role)
    return None if value is None else round(value, 4)


def held(notes, what, thing="R.1", crew=None, side=""):
    """What a field holds after notes, each a text or a text with its standing."""
    assembly = Assembly(crew) if crew else Assembly()
    for note in notes:
        text, *standing = (note,) if isinstance(note, str) else note
        assembly.take(Note(text=text), readings(text, what, standing, thing, side))
    if what == "elevation_ft":
        return assembly.things[thing].fields[f"{side}_ft"].value
    if what == "rod_ft":
        return assembly.levels[-1].fields[what].value
    return assembly.things[thing].fields[what].value


@pytest.mark.parametrize(
    ("text", "role", "value"),
    [
        ("thirty-three seven", "length_ft", 33.5833),
        ("twenty-one three and a half", "length_ft", 21.2917),
        ("sixteen feet seven tenths", "length_ft", 16.7),
        ("inch and three quarters", "drop_in", 1.75),
        ("point eight", "drop_in", 9.6),
        ("three tenths", "drop_in", 3.6),
        ("five and three eighths", "drop_in", 5.375),
        ("nine and a strong quarter", "cover_in", 9.25),
        ("one point seven", "invert_depth_in", 20.4),
        ("thirty-eight", "cover_in", 38),
        ("two hundred and fifty", "cover_in", 9.8425),
        ("one sixty", "nominal_in", 6.2992),
        ("six thirty-five", "nominal_in", 6),
        ("one thirty-eight", "rim_ft", 138),
        ("nine six four two", "rim_ft", 96.42),
        ("two zero zero", "elevation_ft", 200),
        ("ninety-six five and a half", "rim_ft", 96.4583),
        ("one in ninety if we can", "slope_pct", 1.1111),
        ("one in two fifty", "slope_pct", 0.4),
        ("one to fifty", "slope_pct", 2),
        ("two inches", "slope_pct", None),
        ("eleven minutes", "duration_s", 660),
        ("six twenty", "duration_s", 380),
        ("two zero minutes", "duration_s", 1200),
        ("one zero minutes", "duration_s", 600),
        ("the far one fifteen minutes", "duration_s", 900),
        ("that run one fifteen minutes", "duration_s", 900),
    ],
)
def test_feet_and_inches(text, role, value):
    assert worth(text, role) == value


@pytest.mark.parametrize(
    ("text", "role", "crew", "value"),
    [
        ("six metres forty", "length_ft", MM, 20.9974),
        ("a metre thirty", "length_ft", MM, 4.2651),
        ("forty-two sixty", "length_ft", MM, 139.7638),
        ("nineteen thirty metres", "length_ft", MM, 63.3202),
        ("nine hundred", "length_ft", MM, 2.9528),
        ("hunner an sixty", "nominal_in", MM, 6.2992),
        ("four hunner", "cover_in", MM, 15.748),
        ("thirty-five", "cover_in", CM, 13.7795),
        ("one fifty", "cover_in", CM, 5.9055),
        ("sixty", "drop_in", MM, 2.3622),
        ("twelve a metre", "slope_pct", MM, 1.2),
        ("fifteen to the metre", "slope_pct", MM, 1.5),
        ("one five eight three", "rod_ft", MM, 5.1936),
        ("one forty-eight", "rod_ft", MM, 4.8556),
        ("eight point two five", "rim_ft", MM, 27.0669),
        ("fifty-one eight", "length_ft", TENTHS, 51.8),
        ("one forty", "cover_in", TENTHS, 16.8),
        ("three seven", "length_ft", DIGITS, 37),
        ("three one four", "length_ft", DIGITS, 31.3333),
        ("one zero", "size_in", DIGITS, 10),
        ("four five zero zero", "length_ft", MM._replace(digits=True), 14.7638),
        ("one three", "rod_ft", MM, 4.2651),
    ],
)
def test_crews_that_measure_and_speak_otherwise(text, role, crew, value):
    assert worth(text, role, crew) == value


@pytest.mark.parametrize(
    ("text", "role", "value"),
    [
        ("treinta y siete pies", "length_ft", 37),
        ("veintiún pies seis pulgadas", "length_ft", 21.5),
        ("pulgada y cuarto", "drop_in", 1.25),
        ("cinco y tres octavos", "drop_in", 5.375),
        ("tres pulgadas y media", "drop_in", 3.5),
        ("noventa y cinco treinta y dos", "rim_ft", 95.32),
        ("noventa y cuatro punto cero ocho", "rim_ft", 94.08),
        ("seis cuarenta y uno", "rod_ft", 6.41),
        ("uno y medio por ciento", "slope_pct", 1.5),
        ("tres cuartos de hora", "duration_s", 2700),
        ("siete galones por minuto", "flow_gpm", 7),
        ("la cuneta a once pies", "length_ft", 11),
        ("wan an a hauf percent", "slope_pct", 1.5),
        ("yin in eighty", "slope_pct", 1.25),
    ],
)
def test_spanish_and_scots(text, role, value):
    assert worth(text, role) == value


def test_a_word_of_two_languages_is_of_the_words_about_it():
    assert [q.value for _, _, q in quantities_of("she walked it once and got nine feet")] == [9]
    assert [q.value for _, _, q in quantities_of("son once pies de tubo")] == [11]
    assert [q.value for _, _, q in quantities_of("de 14 o 15 pies")] == [14]


@pytest.mark.parametrize(
    ("text", "values"),
    [
        ('"Nineteen feet!" he yells', [19]),
        ("¿Dieciocho? Eso dijo", [18]),
        ("half a foot, six inches", [0.5, 6]),
        ("the short one four metres twenty", [13.7795]),
        ("the sill one twelve", [112]),
        ("schedule forty sixteen feet", [16]),
        ("forty-one two three inch", [41, 3]),
        ("four metres, 160 mm", [13.1234, 6.2992]),
    ],
)
def test_numbers_stand_apart_from_what_is_about_them(text, values):
    assert [round(quantity.value, 4) for _, _, quantity in quantities_of(text)] == values


@pytest.mark.parametrize(
    ("texts", "crew"),
    [
        (["seven metres of it", "thirty mil of fall"], MM),
        (["siete metros", "veinte centímetros de tapado"], CM),
        (["cuatro metros"], CM),
        (["forty feet", "by the gas meter"], Crew()),
        (["four point six feet", "thirty-one point two", "nine point one", "eleven point five"], TENTHS),
        (["five zero to the gate", "three zero back", "six zero", "two eight"], DIGITS),
    ],
)
def test_a_crew_is_judged_by_all_it_says(texts, crew):
    assert crew_of_readings(texts, [readings(text, "length_ft") for text in texts]) == crew


@pytest.mark.parametrize(
    ("text", "pieces", "crew"),
    [
        ("two tens and a three nine", [10, 10, 3.75], Crew()),
        ("four sticks, three of ten and one of six", [10, 10, 10, 6], Crew()),
        ("three whole tens and a five, so thirty-five", [10, 10, 10, 5], Crew()),
        ("two ten-foots and the eight footer", [10, 10, 8], Crew()),
        ("ten, ten and the little one of two", [10, 10, 2], Crew()),
        ("tres tubos de veinte pies y uno de cuatro", [20, 20, 20, 4], CM),
        ("two sixes and a four-twenty", [19.685, 19.685, 13.7795], MM),
        ("three six-metre sticks", [19.685, 19.685, 19.685], MM),
    ],
)
def test_pieces_said_in_a_row(text, pieces, crew):
    assert held([text], "pieces_ft", crew=crew) == pytest.approx(pieces, abs=1e-3)


def test_pieces_without_a_length_are_asked_about():
    text = "four sticks and a three"
    assembly = Assembly()
    assembly.take(Note(text=text), [Reading(0, 0, 4, "mention", "R", thing="R.1"), *readings(text, "pieces_ft")])
    record = assembly.record()
    assert record.runs[0].pieces_ft == []
    assert [(question.field, question.why) for question in record.questions if question.field == "pieces_ft"] == [
        ("pieces_ft", "low_confidence")
    ]


def test_pieces_come_to_a_length_where_none_but_a_denied_one_is_said():
    text, denied = "it was not thirty, it was ", "two tens and a seven"
    row = readings(text, "length_ft", ("denied",))
    row += [
        Reading(0, len(text) + one.start, len(text) + one.end, one.what, thing=one.thing, quantity=one.quantity)
        for one in readings(denied, "pieces_ft")
    ]
    assembly = Assembly()
    assembly.take(Note(text=text + denied), row)
    assert assembly.things["R.1"].fields["length_ft"].value == 27


def test_the_same_box_is_of_the_same_size():
    assembly = Assembly()
    assembly.take(Note(text="sixteen by sixteen"), readings("sixteen by sixteen", "size_in", thing="CB.1"))
    assembly.take(Note(text="same box here"), [Reading(1, 0, 8, "same", thing="CB.2")])
    assert assembly.things["CB.2"].fields["size_in"].value == [16, 16]


@pytest.mark.parametrize(
    ("text", "thing", "size", "crew"),
    [
        ("sixteen by sixteen", "CB.1", [16, 16], Crew()),
        ("it's the eighteen", "CB.1", [18, 18], Crew()),
        ("a round one, fifteen inch", "CB.1", [15], Crew()),
        ("a foot square", "AD.1", [12, 12], Crew()),
        ("ten inch", "AD.1", [10], Crew()),
        ("three by three", "DW.1", [36, 36], Crew()),
        ("thirty-six", "CB.1", [36, 36], Crew()),
        ("two by three", "DS.1", [2, 3], Crew()),
        ("six hundred square", "CB.1", [23.622, 23.622], MM),
        ("three fifty by three fifty", "CB.1", [13.7795, 13.7795], MM),
        ("a metre twenty by a metre twenty", "DW.1", [47.2441, 47.2441], MM),
        ("cuarenta por sesenta", "CB.1", [15.748, 23.622], CM),
        ("catorce por catorce", "CB.1", [14, 14], CM),
    ],
)
def test_sizes(text, thing, size, crew):
    assert held([text], "size_in", thing, crew) == pytest.approx(size, abs=1e-3)


@pytest.mark.parametrize(
    ("notes", "what", "value", "crew"),
    [
        (["seventeen feet, and a quarter inch"], "length_ft", 17.0208, None),
        (["sixty-four, nine"], "length_ft", 64.75, None),
        (["diecinueve pies con cinco"], "length_ft", 19.4167, None),
        (["an inch in eight foot"], "slope_pct", 1.0417, None),
        (["one point one, one in ninety"], "slope_pct", 1.1, None),
        ([("eleven feet or twelve", "hedged")], "length_ft", 11, None),
        ([("five foot, five and a half", "hedged")], "length_ft", 5, None),
        (["two four foot six"], "length_ft", 24.5, DIGITS),
        (["eight metres thirty", ("thirty", "corrects")], "length_ft", 27.2310, MM),
    ],
)
def test_one_measure_told_in_two_parts(notes, what, value, crew):
    assert held(notes, what, crew=crew) == pytest.approx(value, abs=1e-3)


@pytest.mark.parametrize(
    ("notes", "what", "value", "crew"),
    [
        (["five sixty-three", ("seventy-one", "corrects")], "rod_ft", 5.71, None),
        (["six forty-eight", ("forty-eight", "again")], "rod_ft", 6.48, None),
        (["one thirty-five"], "rod_ft", 4.4291, MM),
        (["five thirty-five"], "rod_ft", 5.35, MM),
        (["one four nine zero"], "rod_ft", 4.8885, MM),
        (["one three one five", "one fifty-two"], "rod_ft", 4.9869, None),
        (["eleven oh six"], "rod_ft", 11.06, None),
        (["twenty metres"], "elevation_ft", 65.6168, MM),
        (["we call it a hundred"], "elevation_ft", 100, MM),
    ],
)
def test_levels(notes, what, value, crew):
    assert held(notes, what, "CB.1", crew, "rim") == pytest.approx(value, abs=1e-3)


def test_the_end_of_a_height_said_anew():
    assert held(["ninety-six thirty-four", ("thirty-seven", "corrects")], "rim_ft", "CB.1") == 96.37
    assert held(["one twelve oh six", ("twelve sixty", "corrects")], "rim_ft", "CB.1") == 112.6


@pytest.mark.parametrize(
    ("text", "kind", "count", "angle", "sizes"),
    [
        ("one twenty-two and a half", "elbow", 1, 22.5, (None, None)),
        ("two twenty-two-and-a-halfs", "elbow", 2, 22.5, (None, None)),
        ("one ninety", "elbow", 1, 90, (None, None)),
        ("three forty-fives", "elbow", 3, 45, (None, None)),
        ("forty-fives", "elbow", 2, 45, (None, None)),
        ("a ninety and another ninety", "elbow", 2, 90, (None, None)),
        ("dos codos de cuarenta y cinco", "elbow", 2, 45, (None, None)),
        ("three nine zero bends", "elbow", 3, 90, (None, None)),
        ("three four-fives", "elbow", 3, 45, (None, None)),
        ("a wye at thirty-one, right", "wye", 1, None, (None, None)),
        ("wye on the left, fourteen down", "wye", 1, None, (None, None)),
        ("una ye del otro lado, a los dieciséis", "wye", 1, None, (None, None)),
        ("two four inch couplings", "coupling", 2, None, (4, None)),
        ("un cople de seis", "coupling", 1, None, (6, None)),
        ("a four to six", "increaser", 1, None, (4, 6)),
        ("one six by four", "reducer", 1, None, (6, 4)),
        ("two three by four increasers", "increaser", 2, None, (3, 4)),
        ("a three by two adapter", "adapter", 1, None, (3, 2)),
        ("four, no, five couplings", "coupling", 5, None, (None, None)),
    ],
)
def test_fittings(text, kind, count, angle, sizes):
    one = Reading(0, 0, len(text), "fitting", kind)
    fitting = fitting_of(one, readings(text, "fitting"), text)
    assert (fitting.count, fitting.angle_deg, (fitting.nominal_in, fitting.to_nominal_in)) == (count, angle, sizes)


def test_a_count_put_right_keeps_the_kind_of_bend():
    assembly = Assembly()
    for text, standing in (("two forty-fives", ()), ("no, three", ("corrects",))):
        span = Reading(0, 0, len(text), "fitting", "elbow", frozenset(standing), "R.1")
        assembly.take(Note(text=text), [span, *readings(text, "fitting")])
    (fitting,) = assembly.things["R.1"].fittings
    assert (fitting.count, fitting.angle_deg) == (3, 45)
