"""What goes into the encoder fits it, and no word of a note is left out."""

from types import SimpleNamespace

import numpy as np

from extract.read.model import LONGEST, Model
from extract.read.scene import CONTEXT, TOLD

PLACES = 512
WIDTH = 4


class Session:
    """An encoder whose vectors are the numbers of the pieces."""

    def __init__(self):
        self.rows = []

    def run(self, _, feed):
        row = feed["ids"][0]
        self.rows.append(row.tolist())
        assert len(row) <= PLACES
        return [np.repeat(row[None, :, None], WIDTH, axis=2)]


def model():
    """A model with no weights, whose pieces are the words."""
    one = Model.__new__(Model)
    one.session, one.begin, one.part = Session(), -1, -2
    one.w = {"span.0.weight": np.ones((WIDTH, 3 * WIDTH)), "span.0.bias": np.zeros(WIDTH)}

    def encode(text, add_special_tokens):
        words = text.split()
        return SimpleNamespace(ids=[int(word) for word in words], offsets=[(i, i + 1) for i in range(len(words))])

    one.tokenizer = SimpleNamespace(encode=encode)
    return one


def test_the_longest_input_fits_and_all_of_a_long_note_is_read():
    long = " ".join(str(i) for i in range(1000))
    one = model()
    coded = one.encode(long, [7] * 1000, [" ".join(["5"] * 100)] * TOLD)
    assert coded.vectors[:, 0].tolist() == list(range(1000))
    assert len(coded.ids) == len(coded.offsets) == 1000
    assert len(coded.told) == TOLD
    assert len(one.session.rows) == -(-1000 // LONGEST)


def test_a_later_part_is_read_behind_the_part_before():
    one = model()
    one.encode(" ".join(str(i) for i in range(LONGEST + 1)), [], [])
    assert one.session.rows[1] == [-1, *range(LONGEST - CONTEXT, LONGEST), -2, LONGEST, -2]


def test_a_note_of_nothing_has_no_pieces():
    coded = model().encode("", [], [])
    assert coded.vectors.shape == (0, WIDTH)
