"""A question in words is answered from the book, and nothing else is taken for one."""

import re

import pytest

from logger import jobs
from logger.answering import answer, put
from logger.book import Book
from logger.read_back import aloud, tell

TOLD = (
    "Run one from basin one to the pop-up is in, 34 ft of four inch SDR 35, and it drops four inches.",
    "Run two from the channel to basin one is in, about twenty feet.",
    "Basin one is twelve by twelve. Basin two will go by the gate.",
    "Cover on run one is fourteen inches.",
)


def told(book, words):
    """The answer to a question in words; None where they are none."""
    asked = put(words)
    return asked and answer(book, asked)


@pytest.fixture
def book(store):
    for text in TOLD:
        jobs.say(store, "j", text)
    return Book(store, "j")


@pytest.mark.parametrize(
    ("asked", "words"),
    [
        ("How long is run one?", "Run 1: length 34 ft."),
        ("what's the cover on that", "Run 1: cover 14 in."),
        ("What size is basin one?", "Catch basin 1: size 12 in × 12 in."),
        ("what is the slope of run one", "No slope was said of run 1; by fall and length it is 0.98%."),
        ("What's the cover over run two?", "No cover of run 2 is in the book."),
        ("where does run two go?", "Run 2: to CB-1."),
        ("what's the cover on the run two pipe", "No cover of run 2 is in the book."),
        ("what's the pipe length on run one", "Run 1: length 34 ft."),
        ("where does the run two pipe start?", "Run 2: from CD-1."),
        ("what pipe is run one", "Run 1: pipe SDR 35."),
        ("where does it drain", "Run 1: to OUT-1."),
        ("how long is run nine?", "Which one? The book holds: run 1, run 2, catch basin 1"),
    ],
)
def test_a_question_is_answered_from_the_book(book, asked, words):
    assert told(book, asked).startswith(words)


@pytest.mark.parametrize("asked", ["How deep is the gas line on run one?", "what's the depth of the gas"])
def test_a_line_that_is_crossed_is_not_answered_with_the_run_s_cover(store, book, asked):
    assert told(book, asked) == "Nothing of that line is in the book. Have it located before you dig."
    jobs.say(store, "j", "Gas line crosses run one at 18 feet, 24 inches deep.")
    words = told(Book(store, "j"), asked)
    assert words == "Run 1 crosses Gas line at 18 ft, 24 in deep, as told. Have it located before you dig."


def test_a_figure_in_doubt_is_told_with_its_question(book):
    words = told(book, "how long is run two?")
    assert words == "Run 2: length 20 ft, and that is still asked about: How long is run 2?"


def test_read_back_tells_all_that_is_held(book):
    words = told(book, "Read back run one.")
    assert words.startswith("Run 1: from CB-1, to OUT-1, state installed")
    assert "cover 14 in" in words


def test_read_back_says_which_figure_is_in_doubt(book):
    words = told(book, "read back run two")
    assert "length 20 ft (still asked about)" in words
    assert words.count("still asked") == 1


@pytest.mark.parametrize("asked", ["Ready to backfill run one?", "can we cover run one"])
def test_whether_a_run_may_be_covered_is_the_answer_of_ready(book, asked):
    words = told(book, asked)
    assert words.startswith("Run 1: not yet. Missing: ")
    assert "safe" not in words


@pytest.mark.parametrize("asked", ["What's missing?", "what's missing on run two", "what's missing en el tramo dos"])
def test_what_is_missing_is_told(book, asked):
    assert "Run 2: not yet." in told(book, asked)


def test_nothing_is_said_to_be_complete_that_was_not_looked_at(store, book):
    for nothing in ("basin one", "run nine", "run number 9"):
        assert told(book, f"what's missing on {nothing}").startswith("Which one? The book holds: run 1, run 2.")
    jobs.say(store, "j", "Run three from basin two to basin one will be fifty feet of six inch SDR 35.")
    words = told(Book(store, "j"), "what's missing on run three")
    assert words == "Run 3: nothing to cover, for it is planned, not built."


@pytest.mark.parametrize("asked", ["what's missing", "ready to backfill run one"])
def test_a_recording_not_heard_yet_is_told_with_the_answer(store, book, hearing, make_sound, asked):
    hearing.answers.append(KeyboardInterrupt())
    with pytest.raises(KeyboardInterrupt):
        list(jobs.take(store, "j", [make_sound("pocket.wav")], listening=lambda name: None, hearing=hearing))
    assert told(Book(store, "j"), asked).endswith("Not heard yet, and not in this answer: pocket.wav.")


@pytest.mark.parametrize(
    "said",
    [
        "",
        "Run one is 34 ft.",
        "what's the score",
        "how much do I owe you for lunch",
        "¿",
        "\0",
        "what's the " + "x " * 40,
    ],
)
def test_what_is_no_question_to_the_book_has_no_answer(book, said):
    assert told(book, said) is None


def test_a_book_with_nothing_in_it_says_so(store):
    for asked in ("ready to backfill run two?", "what's missing?", "read back run one", "how long is run one?"):
        assert told(Book(store, "j"), asked) == "Nothing is in the book yet."


def test_a_typed_question_is_answered_at_once(store, book):
    jobs.say(store, "j", "how long is run one?")
    assert jobs.read_back(store, "j", "how long is run one?") == "Run 1: length 34 ft."
    assert Book(store, "j").record.subject("R-1").length_ft == 34


# -- in Spanish


@pytest.mark.parametrize(
    ("asked", "words"),
    [
        ("¿Cuánto mide de largo el tramo uno?", "Tramo 1: largo 34 pies."),
        ("cuanto mide de largo el tramo uno", "Tramo 1: largo 34 pies."),
        ("¿Cuánto mide de largo run one?", "Tramo 1: largo 34 pies."),
        ("¿qué cobertura tiene el primer tramo?", "Tramo 1: cobertura 14 pulg."),
        ("cuánta tierra tiene encima el tramo uno", "Tramo 1: cobertura 14 pulg."),
        ("¿Qué pendiente tiene la corrida uno?", "Del tramo 1 no se dijo la pendiente; por caída y largo da 0.98%."),
        ("que pendiente tiene el uno", "Del tramo 1 no se dijo la pendiente; por caída y largo da 0.98%."),
        ("¿cuál es la cobertura del tramo dos?", "Del tramo 2 el libro no dice la cobertura."),
        ("¿A dónde va el tramo dos?", "Tramo 2: hasta el registro 1."),
        ("de donde sale el tramo dos", "Tramo 2: desde el canal 1."),
        ("¿De qué medida es el tubo del tramo uno?", "Tramo 1: medida del tubo 4 pulg."),
        ("¿qué tubo lleva el tramo uno?", "Tramo 1: tubo SDR 35."),
        ("¿De qué medida es el registro uno?", "Registro 1: medida 12 pulg × 12 pulg."),
        ("¿Qué tan hondo está el registro uno?", "Del registro 1 el libro no dice la profundidad del fondo."),
        ("¿cuánto cae el tramo nueve?", "¿Cuál? En el libro hay: el tramo 1, el tramo 2, el registro 1"),
        ("¿cuánto cae el nueve?", "¿Cuál? En el libro hay: el tramo 1, el tramo 2, el registro 1"),
    ],
)
def test_a_question_in_spanish_is_answered_in_spanish(book, asked, words):
    assert told(book, asked).startswith(words)


def test_with_nothing_named_the_thing_spoken_of_last_is_meant(book):
    assert told(book, "¿qué cobertura tiene?") == "Tramo 1: cobertura 14 pulg."


def test_a_figure_in_doubt_is_told_with_its_question_in_spanish(book):
    words = told(book, "¿cuánto mide el tramo dos?")
    assert words == (
        "Tramo 2: largo 20 pies, y sobre eso queda una pregunta abierta: ¿Cuánto mide de largo el tramo 2?"
    )


def test_read_back_is_in_spanish_names_and_words_and_all(store, book):
    jobs.say(store, "j", "Two 45s and a wye on run one. Cars go over run one. It's bedded in pea gravel.")
    words = told(Book(store, "j"), "léeme el tramo uno")
    assert words.startswith("Tramo 1: desde el registro 1, hasta la salida 1, estado puesto, medida del tubo 4 pulg")
    assert "lo más pesado que le pasa encima: carros" in words
    assert "conexiones 2 codos de 45°, 1 ye" in words
    assert "cama “pea gravel”" in words  # as it was said
    assert told(book, "leeme el tramo dos").count("(queda en duda)") == 1


@pytest.mark.parametrize(
    "asked",
    [
        "¿se puede tapar el tramo uno?",
        "ya se puede tapar el uno?",
        "ya podemos echar tierra en el tramo uno",
        "¿El tramo uno ya se puede tapar?",
        "oye ya puedo echarle tierra al uno",
        "¿Listo para tapar run one?",
        "¿está listo el tramo uno?",
        "¿tapamos el uno?",
        "Ya llegó la grava. ¿Se puede tapar el tramo uno o esperamos?",
    ],
)
def test_whether_a_run_may_be_covered_is_answered_in_spanish(book, asked):
    words = told(book, asked)
    assert words.startswith("Tramo 1: todavía no. Falta: una foto con la zanja abierta, ")
    assert words.endswith(".")
    assert not re.search(r"\b(segur\w*|bien|correct\w*|list[oa])\b", words)


@pytest.mark.parametrize("asked", ["¿Qué falta?", "que falta", "que le falta al tramo dos", "dime qué le falta al dos"])
def test_what_is_missing_is_told_in_spanish(book, asked):
    words = told(book, asked)
    assert "Tramo 2: todavía no. Falta: una foto con la zanja abierta, el fondo del tubo en el canal 1" in words
    assert ("Tramo 1" in words) == ("dos" not in asked)


def test_nothing_is_said_to_be_complete_in_spanish_that_was_not_looked_at(store, book):
    for asked in ("¿qué le falta al registro uno?", "¿qué falta en el tramo nueve?"):
        assert told(book, asked).startswith("¿Cuál? En el libro hay: el tramo 1, el tramo 2.")
    jobs.say(store, "j", "Run three from basin two to basin one will be fifty feet of six inch SDR 35.")
    book = Book(store, "j")
    words = told(book, "qué le falta al tramo tres")
    assert words == "Tramo 3: no hay nada que tapar; el libro lo tiene como planeado, sin hacer."
    assert told(book, "¿cuánto mide el tramo tres?") == "Tramo 3, solo en el plan, sin hacer: largo 50 pies."


def test_a_recording_not_heard_yet_is_told_in_spanish(store, book, hearing, make_sound):
    hearing.answers.append(KeyboardInterrupt())
    with pytest.raises(KeyboardInterrupt):
        list(jobs.take(store, "j", [make_sound("pocket.wav")], listening=lambda name: None, hearing=hearing))
    words = told(Book(store, "j"), "¿qué falta?")
    assert words.endswith("Sin escuchar todavía, y fuera de esta respuesta: pocket.wav.")


def test_a_book_with_nothing_in_it_says_so_in_spanish(store):
    for asked in ("¿se puede tapar el dos?", "¿qué falta?", "léeme el tramo uno", "¿cuánto mide el tramo uno?"):
        assert told(Book(store, "j"), asked) == "Todavía no hay nada en el libro."


@pytest.mark.parametrize(
    "said",
    [
        "Dice que falta una foto del registro uno.",
        "Que falta una foto del tramo dos.",
        "que le falta un cople al tramo dos",
        "Creo que le falta una foto al tramo dos",
        "Hay que comprar lo que falta.",
        "El tramo dos ya está listo para tapar.",
        "listo para tapar el tramo dos",
        "No se puede tapar el tramo dos.",
        "Ya tapamos el tramo dos.",
        "lo tapamos",
        "Vamos a tapar el tramo dos.",
        "El inspector dijo que ya se puede tapar.",
        "Ya podemos tapar el tramo dos, mide treinta y cuatro pies.",
        "Ya se puede tapar el dos mañana si no llueve.",
        "cuando se pueda tapar el dos le echamos grava",
        "No sé cuánto mide el tramo dos.",
        "La pendiente que tiene el tramo dos es dos por ciento.",
        "El tramo dos mide 34 pies, ¿verdad?",
        "Cuanto más hondo mejor.",
        "El dueño pregunta cuánto cuesta.",
        "¿Cuánto cuesta el tubo?",
        "¿Está lista la comida?",
        "¿tapamos con grava?",
        "Falta algo de cemento en el registro uno.",
        "¿",
    ],
)
def test_what_tells_in_spanish_is_no_question(said):
    assert put(said) is None


def test_a_typed_question_in_spanish_is_answered_at_once_and_says_its_language(store, book):
    jobs.say(store, "j", "¿cuánto mide el tramo uno?")
    assert jobs.read_back(store, "j", "¿cuánto mide el tramo uno?") == "Tramo 1: largo 34 pies."
    made = Book(store, "j")
    asked = len(made.lines) - 1
    told_ = tell(made, [0, asked])
    assert (told_[asked].language, told_[asked].answers, told_[0].language) == ("es", True, "en")


def test_a_spanish_answer_is_read_aloud_without_short_words():
    assert aloud("Tramo 1: largo 34 pies 8 pulg.", "es") == "Tramo 1: largo 34 pies 8 pulgadas."
    assert aloud("Registro 1: medida 12 pulg × 12 pulg.", "es") == "Registro 1: medida 12 pulgadas por 12 pulgadas."
