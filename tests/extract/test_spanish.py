"""A crew's Spanish in English: numbers one for one, trade words by the glossary, the rest as it was said."""

import json
from pathlib import Path

import pytest
from scoring import f1, facts, silent

from extract.assemble import assemble
from extract.notes import parse_log
from extract.record import Note, Word
from extract.spanish import english, english_words, known, part_said

EXAMPLES = Path(__file__).parents[1] / "examples"


@pytest.mark.parametrize(
    ("said", "meant"),
    [
        ("catorce pies", "14 feet"),
        ("noventa y seis punto cero cuatro", "96.04"),
        ("96,92", "96.92"),
        ("1,200 pies cuadrados", "1200 square feet"),
        ("dos mil doscientos pies cuadrados", "2200 square feet"),
        ("veinte y tres pies", "23 feet"),
        ("cuatro punto cinco seis", "4.56"),
        ("diez pulgadas y media", "10 1/2 inches"),
        ("12, 14 y 16", "12, 14 and 16"),
        ("seis pies y medio", "6 1/2 feet"),
        ("un octavo de pulgada por pie", "1/8 inch per foot"),
        ("una pulgada y tres cuartos", "1 3/4 inch"),
    ],
)
def test_numbers_are_rendered_one_for_one(said, meant):
    assert english(said) == meant


MUCH_SAID = "Cambiamos el plan, el tramo 1 va junto a la cerca. Son 45,5 pies, no, 54 pies. ¿Nos debe 300 dólares?"


@pytest.mark.parametrize(
    ("meant", "part"),
    [
        ("Replaced the plan", "Cambiamos el plan"),
        ("run 1 va by the fence.", "el tramo 1 va junto a la cerca"),
        ("replaced the plan, run 1 va by the fence", "Cambiamos el plan, el tramo 1 va junto a la cerca"),
        ("that's 45.5 feet", "Son 45,5 pies"),
        ("54 feet", "54 pies"),
        ("that's 5 feet", None),
        ("put run 1 by the fence", None),
        ("", None),
    ],
)
def test_the_part_that_was_meant_is_found_in_what_was_said(meant, part):
    assert part_said(MUCH_SAID, meant) == part


@pytest.mark.parametrize(
    ("said", "meant"),
    [
        ("Un registro y una ye.", "a catch basin and a wye."),
        ("Registro uno, el fondo está a dieciséis pulgadas.", "catch basin 1, the invert is 16 inches."),
        ("cédula cuarenta de cuatro pulgadas", "4-inch schedule 40"),
        ("el brocal del registro de uno, 6.14", "the rim of catch basin 1, 6.14"),
        ("dos codos de cuarenta y cinco", "2 45-degree elbows"),
        ("cuatro tramos de diez pies", "4 10-foot sticks"),
    ],
)
def test_the_trades_words_stand_as_in_english(said, meant):
    assert english(said) == meant


@pytest.mark.parametrize(
    ("said", "meant"),
    [
        ("El tramo dos mide treinta y cuatro pies.", "run 2 is 34 feet."),
        ("tres tramos de diez pies y un tramo de cuatro pies", "3 10-foot sticks and a 4-foot stick"),
        ("un tramo 10 pies", "a stick 10 feet"),
    ],
)
def test_a_tramo_with_its_number_is_a_run_and_with_a_length_a_stick(said, meant):
    assert english(said) == meant


QUESTIONS = (
    "¿Cuánto mide el tramo dos?",
    "¿Qué le falta al tramo uno?",
    "¿Cuál es la pendiente del tramo dos?",
    "cuánta tierra tiene encima el tramo uno",
    "¿Cuánto cae el tramo uno?",
    "¿Se puede tapar el tramo dos?",
)


@pytest.mark.parametrize("said", QUESTIONS)
def test_a_question_enters_nothing_in_the_record(said):
    told = [Note(text="Run one from basin one to the pop-up is in, 34 ft of four inch SDR 35."),
            Note(text="Run two from basin two to basin one will be fifty feet of six inch Schedule 40.")]  # fmt: skip
    before, after = (assemble([*told, *more]) for more in ([], [Note(text=english(said), heard=said, language="es")]))
    for one, other in ((before.structures, after.structures), (before.runs, after.runs), (before.tasks, after.tasks)):
        assert [each.model_dump(exclude={"evidence"}) for each in one] == [
            each.model_dump(exclude={"evidence"}) for each in other
        ]
    assert len(after.questions) == len(before.questions)


def test_a_word_that_nobody_knows_stays_as_it_was_said():
    assert english("Bram trajo la huarache") == "bram trajo the huarache"
    assert known("pulgadas,")
    assert not known("huarache")


def test_the_words_of_one_number_are_one_and_as_sure_as_the_least_sure():
    said = "Fondo noventa y seis punto noventa y dos.".split()
    sure = [0.9, 0.8, 0.9, 0.3, 0.9, 0.9, 0.9, 0.9]
    words = [
        Word(text=w, start_s=i, end_s=i + 1, confidence=c) for i, (w, c) in enumerate(zip(said, sure, strict=True))
    ]
    assert [(w.text, w.start_s, w.end_s, w.confidence) for w in english_words(words)] == [
        ("invert", 0, 1, 0.9),
        ("96.92.", 1, 8, 0.3),
    ]


def test_two_numbers_with_an_and_between_stay_two():
    words = [Word(text=w, start_s=0, end_s=1, confidence=1) for w in "45 y una ye".split()]
    assert [word.text for word in english_words(words)] == ["45", "and", "a", "wye"]


@pytest.mark.parametrize("job", ["job-a", "job-c", "job-e", "job-o"])
def test_a_job_told_in_spanish_makes_the_record_that_it_makes_in_english(job):
    """Typed. The bounds are what was measured, rounded down: as it was said, and put into English by the glossary."""
    said = parse_log((EXAMPLES / "es" / f"{job}.notes.txt").read_text(encoding="utf-8"))
    gold = json.loads((EXAMPLES / f"{job}.gold.json").read_text(encoding="utf-8"))
    rendered = [note.model_copy(update={"text": english(note.text)}) for note in said]
    for notes, bound in ((said, 0.89), (rendered, 0.89)):
        record = assemble(notes).as_json()
        assert f1(facts(record), facts(gold)) >= bound
        assert len(silent(record, gold)) <= 1
