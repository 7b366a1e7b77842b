"""What is said plainly leaves no room for a guess, a plan or a question."""

import pytest

from extract.assemble import assemble
from extract.read.plain import is_plain
from extract.record import Note


@pytest.mark.parametrize(
    "text",
    [
        "Run one measures forty feet.",
        "The drop on run one is three and a half inches.",
        "Cover on run two is 14½ in.",
        "We laid thirty feet of four-inch SDR 35 from basin one to the outlet.",
        "Hose test on run one, ten minutes at 6 gpm, pass.",
        "An end cap is on run two.",
        "Run two goes from basin one to the dry well, forty feet.",
    ],
)
def test_names_measures_and_what_joins_them_are_plain(text):
    assert is_plain(text)


@pytest.mark.parametrize(
    "text",
    [
        "Run one measures about forty feet.",
        "Is run one forty feet?",
        "I think run one is forty feet.",
        "Run one will be forty feet.",
        "We have to lay forty feet on run one.",
        "Run one is to be forty feet.",
        "Check run one, forty feet.",
        "Test run one for ten minutes.",
        "Run one is not forty feet.",
        "The boss says run one is forty feet.",
        "Run one is forty feet or so.",
        "Forty feet on run one tomorrow.",
        "There's no run one.",
        "Drop on run two is well, and a quarter inches.",
        "Run one is 70-90 feet.",
        "Run one is 45 (forty-five) feet.",
        'Run one, cover 12"/18".',
        "",
        "40",
        "El tramo uno mide cuarenta pies.",
    ],
)
def test_whatever_holds_another_word_is_not(text):
    assert not is_plain(text)


@pytest.mark.parametrize(
    "text", ["Run one measures forty feet.", "Run one is in. The slope on run one is two percent."]
)
def test_a_figure_said_plainly_stands_and_is_not_asked_about(text):
    record = assemble([Note(text=text)])
    assert record.runs[0].length_ft == 40 or record.runs[0].slope_pct == 2
    assert not [each for each in record.questions if each.why != "missing"]


@pytest.mark.parametrize(
    ("text", "field"),
    [
        ("Run one is laid at fourteen per cent.", "slope_pct"),
        ("Hose test on run one, ten minutes at 2.5 gpm, pass.", "flow_gpm"),
        ("Ran the hose test on run one for 2 hrs and it passed.", "duration_s"),
    ],
)
def test_a_plain_sentence_has_one_field_for_a_unit_that_only_one_is_measured_in(text, field):
    record = assemble([Note(text=text)])
    assert ("R-1", field) not in [(each.about, each.field) for each in record.questions]


def test_a_figure_in_a_sentence_of_its_own_may_be_of_anything():
    record = assemble([Note(text="Run one is laid. 30 percent.")])
    (told,) = [each for each in record.subject("R-1").evidence if each.field == "slope_pct"]
    assert told.confidence < 0.95
