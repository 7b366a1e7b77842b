"""The trade's words are data."""

from extract import lexicon
from extract.lexicon import find_terms
from extract.spelling import normalise


def test_of_two_words_that_overlap_the_longer_stands():
    assert [(t.category, t.value) for t in find_terms(normalise("the hose bib"))] == [("neutral", "talk")]


def test_no_phrase_has_two_meanings_without_an_order():
    """The first meaning in the file wins, so a phrase that stands twice in one category is a slip."""
    for category, values in lexicon.load().items():
        said = [tuple(normalise(phrase)) for phrases in values.values() for phrase in phrases]
        assert len(said) == len(set(said)), f"{category}: {sorted({s for s in said if said.count(s) > 1})}"
