"""A phone that reads back hears itself: that is no note. Whoever answers it is heard."""

import pytest

from extract.record import Note
from logger.echo import is_echo

SPOKEN = [(2.0, 5.0, "run 2: length 34 feet, drop 3 1/4 inches.")]


def note(text, start=2.1, end=4.9):
    return Note(text=text, heard=text, start_s=start, end_s=end)


@pytest.mark.parametrize(
    "text",
    ["Run two length thirty-four feet, drop three 1/4 inches.", "run 2 length 34 feet", "length 34 feet drop"],
)
def test_what_the_page_said_itself_is_no_note(text):
    assert is_echo(note(text), SPOKEN)


@pytest.mark.parametrize(
    "text",
    ["No, thirteen.", "No, run two length 36 feet", "Basin three is set.", "Scratch that."],
)
def test_what_somebody_says_meanwhile_is_kept(text):
    assert not is_echo(note(text), SPOKEN)


@pytest.mark.parametrize(
    ("said", "text"),
    [
        ("depth 18 inches", "No, depth 18 feet"),
        ("run 1: depth 18 inches", "Run one depth not 18 inches"),
        ("pipe 4 inches, slope 2 percent", "No, pipe 2 inches"),
        ("depth 18 inches, length 42 feet", "Depth 42 inches, length 18 feet"),
        ("run one to basin two", "Run one to basin one"),
        ("slope 1.5 percent", "slope 5 percent"),
    ],
)
def test_a_correction_in_the_page_s_own_words_is_kept(said, text):
    assert not is_echo(note(text), [(2.0, 5.0, said)])


@pytest.mark.parametrize("text", ["Slope 1.5 percent", "slope 1.5%"])
@pytest.mark.parametrize("said", ["slope 1.5 percent", "slope 1.5%"])
def test_a_decimal_is_one_figure_and_its_sign_a_word(said, text):
    assert is_echo(note(text), [(2.0, 5.0, said)])


def spanish(text):
    return note(text).model_copy(update={"language": "es", "text": "run 1"})


@pytest.mark.parametrize(
    ("said", "text"),
    [
        ("Tramo 1: largo 34 pies 8 pulgadas.", "Tramo uno, largo treinta y cuatro pies ocho pulgadas."),
        ("Registro 1: tapa 98.42 pies.", "Registro uno, tapa noventa y ocho punto cuarenta y dos pies."),
        ("Tramo 1: pendiente 1.04%.", "Tramo 1, pendiente 1.04 por ciento."),
        ("Tramo 2: todavía no. Falta: su largo.", "Tramo dos, todavía no. Falta su largo."),
    ],
)
def test_a_spanish_answer_that_the_page_read_itself_is_no_note(said, text):
    assert is_echo(spanish(text), [(2.0, 5.0, said)])


@pytest.mark.parametrize(
    ("said", "text"),
    [
        ("Tramo 1: largo 34 pies.", "Tramo uno, largo treinta y seis pies."),
        ("Tramo 1: caída 4 pulgadas.", "Caída cinco pulgadas."),
        ("Tramo 1: largo 34 pies.", "No, tramo uno, largo 36 pies."),
    ],
)
def test_whoever_corrects_it_in_spanish_is_heard(said, text):
    assert not is_echo(spanish(text), [(2.0, 5.0, said)])


@pytest.mark.parametrize(("start", "end"), [(0.0, 4.0), (4.5, 8.0), (9.0, 12.0)])
def test_the_same_words_at_another_time_are_somebody_s(start, end):
    assert not is_echo(note("run 2 length 34 feet", start, end), SPOKEN)


def test_nothing_is_an_echo_where_nothing_was_said_aloud():
    assert not is_echo(note("run 2 length 34 feet"), [])
