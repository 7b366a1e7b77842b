"""Every way of saying a number with every unit, in sentences: what the grammar makes of each (phrases.toml).

The same phrases go through the whole reader in tests/bench/phrases.py.
"""

from collections import Counter

import pytest
from phrase_grid import TABLE, phrases

from extract.spelling import normalise
from extract.text.grammar import TABLE as GRAMMAR
from extract.text.grammar import Parser, all_classes
from extract.text.quantities import QUANTITY, find_quantities

NAMES_OF_THINGS = {"ordinal", "ordinal_tail"}
"""Productions that are of no measure: "the twenty-second downspout"."""


def outcome(phrase, text):
    found = find_quantities(normalise(text))
    right = len(found) == 1 and found[0].unit == phrase.unit and found[0].value == pytest.approx(phrase.value, rel=1e-6)
    return "right" if right else "dropped" if not found else "asked" if any(q.glued for q in found) else "silent"


@pytest.fixture(scope="module")
def outcomes():
    cases = [(each, carrier.format(each.say)) for each in phrases() for carrier in TABLE["carriers"]]
    return [(outcome(each, text), each.production, text) for each, text in cases]


def test_the_grid_is_large(outcomes):
    assert len({text for _, _, text in outcomes}) >= 17_500


def test_ninety_nine_in_a_hundred_are_right(outcomes):
    counts = Counter(what for what, _, _ in outcomes)
    assert counts["right"] >= 0.99 * len(outcomes), counts


def test_none_is_wrong_unasked_or_dropped(outcomes):
    assert [each for each in outcomes if each[0] in ("silent", "dropped")] == []


def test_every_production_of_a_measure_is_in_the_grid():
    used = set()
    for each in phrases():
        tokens = normalise(each.say)
        parser = Parser(tokens, all_classes(tokens))
        parser.read(QUANTITY, int(tokens[0] == "between"))
        used |= {name for known in parser.known.values() for name, read in known.items() if read}
    assert set(GRAMMAR["production"]) - used == NAMES_OF_THINGS
