"""A question in words is answered from the book, and nothing else is taken for one."""

import pytest

from logger import jobs
from logger.answering import answer
from logger.book import Book

TOLD = (
    "Run one from basin one to the pop-up is in, 34 ft of four inch SDR 35, and it drops four inches.",
    "Run two from the channel to basin one is in, about twenty feet.",
    "Basin one is twelve by twelve. Basin two will go by the gate.",
    "Cover on run one is fourteen inches.",
)


@pytest.fixture
def book(store):
    for text in TOLD:
        jobs.say(store, "j", text)
    return Book(store, "j")


@pytest.mark.parametrize(
    ("asked", "told"),
    [
        ("How long is run one?", "Run 1: length 34 ft."),
        ("what's the cover on that", "Run 1: cover 14 in."),
        ("What size is basin one?", "Catch basin 1: size 12 in × 12 in."),
        ("what is the slope of run one", "No slope was said of run 1; by fall and length it is 0.98%."),
        ("What's the cover over run two?", "No cover of run 2 is in the book."),
        ("where does run two go?", "Run 2: to CB-1."),
        ("¿Cuánto mide de largo run one?", "Run 1: length 34 ft."),
        ("what's the cover on the run two pipe", "No cover of run 2 is in the book."),
        ("what's the pipe length on run one", "Run 1: length 34 ft."),
        ("where does the run two pipe start?", "Run 2: from CD-1."),
        ("what pipe is run one", "Run 1: pipe SDR 35."),
        ("where does it drain", "Run 1: to OUT-1."),
        ("how long is run nine?", "Which one? The book holds: run 1, run 2, catch basin 1"),
    ],
)
def test_a_question_is_answered_from_the_book(book, asked, told):
    assert answer(book, asked).startswith(told)


def test_a_figure_in_doubt_is_told_with_its_question(book):
    told = answer(book, "how long is run two?")
    assert told == "Run 2: length 20 ft, and that is still asked about: How long is run 2?"


def test_read_back_tells_all_that_is_held(book):
    told = answer(book, "Read back run one.")
    assert told.startswith("Run 1: from CB-1, to OUT-1, state installed")
    assert "cover 14 in" in told


def test_read_back_says_which_figure_is_in_doubt(book):
    told = answer(book, "read back run two")
    assert "length 20 ft (still asked about)" in told
    assert told.count("still asked") == 1


@pytest.mark.parametrize("asked", ["Ready to backfill run one?", "can we cover run one", "¿Listo para tapar run one?"])
def test_whether_a_run_may_be_covered_is_the_answer_of_ready(book, asked):
    told = answer(book, asked)
    assert told.startswith("Run 1: not yet. Missing: ")
    assert "safe" not in told


@pytest.mark.parametrize("asked", ["What's missing?", "¿Qué falta?", "what's missing on run two"])
def test_what_is_missing_is_told(book, asked):
    assert "Run 2: not yet." in answer(book, asked)


def test_nothing_is_said_to_be_complete_that_was_not_looked_at(store, book):
    assert answer(book, "what's missing on basin one").startswith("Which one? The book holds: run 1, run 2.")
    jobs.say(store, "j", "Run three from basin two to basin one will be fifty feet of six inch SDR 35.")
    told = answer(Book(store, "j"), "what's missing on run three")
    assert told == "Run 3: nothing to cover, for it is planned, not built."


@pytest.mark.parametrize("asked", ["what's missing", "ready to backfill run one"])
def test_a_recording_not_heard_yet_is_told_with_the_answer(store, book, hearing, make_sound, asked):
    hearing.answers.append(KeyboardInterrupt())
    with pytest.raises(KeyboardInterrupt):
        list(jobs.take(store, "j", [make_sound("pocket.wav")], listening=lambda name: None, hearing=hearing))
    assert answer(Book(store, "j"), asked).endswith("Not heard yet, and not in this answer: pocket.wav.")


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
    assert answer(book, said) is None


def test_a_book_with_nothing_in_it_says_so(store):
    for asked in ("ready to backfill run two?", "what's missing?", "read back run one", "how long is run one?"):
        assert answer(Book(store, "j"), asked) == "Nothing is in the book yet."


def test_a_typed_question_is_answered_at_once(store, book):
    jobs.say(store, "j", "how long is run one?")
    assert jobs.read_back(store, "j", "how long is run one?") == "Run 1: length 34 ft."
    assert Book(store, "j").record.subject("R-1").length_ft == 34
