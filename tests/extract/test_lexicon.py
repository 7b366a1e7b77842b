"""The trade's words are data: one line adds one."""

import pytest

from extract import lexicon
from extract.assemble import assemble
from extract.lexicon import find_terms
from extract.record import Note
from extract.spelling import normalise


@pytest.fixture
def words(monkeypatch):
    """The lexicon, open for a test to add to."""
    fresh = {
        category: {value: list(said) for value, said in group.items()} for category, group in lexicon.load().items()
    }
    lexicon._phrases.cache_clear()
    monkeypatch.setattr(lexicon, "load", lambda: fresh)
    yield fresh
    lexicon._phrases.cache_clear()


def run_of(text):
    return assemble([Note(text=text)]).runs[0]


@pytest.mark.parametrize(
    ("category", "value", "alias", "text", "field", "expected"),
    [
        ("pipe", "corrugated", "slinky", "Run one is laid, four-inch slinky, twenty feet.", "pipe", "corrugated"),
        ("state", "abandoned", "left for dead", "Run one, left for dead, twenty feet.", "state", "abandoned"),
        ("attribute", "cover", "fill over it", "Run one is laid, 20 feet. Fill over it, nine inches.", "cover_in", 9),
    ],
)
def test_an_alias_is_one_entry(words, category, value, alias, text, field, expected):
    before = getattr(run_of(text), field)
    lexicon._phrases.cache_clear()
    words[category][value].append(alias)
    assert before != expected
    assert getattr(run_of(text), field) == expected


def test_an_alias_of_a_fitting_is_one_entry(words):
    words["fitting"]["coupling"].append("slip joint")
    fitting = run_of("Run one is laid, 20 feet, with two slip joints and one slip joint.").fittings[-1]
    assert (fitting.kind, fitting.count) == ("coupling", 1)


def test_of_two_words_that_overlap_the_longer_stands():
    assert [(t.category, t.value) for t in find_terms(normalise("the hose bib"))] == [("neutral", "talk")]


def test_no_phrase_has_two_meanings_without_an_order():
    """The first meaning in the file wins, so a phrase that stands twice in one category is a slip."""
    for category, values in lexicon.load().items():
        said = [tuple(normalise(phrase)) for phrases in values.values() for phrase in phrases]
        assert len(said) == len(set(said)), f"{category}: {sorted({s for s in said if said.count(s) > 1})}"
