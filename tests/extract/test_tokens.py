"""Tokens know which characters of the note they came from."""

from pathlib import Path

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from extract.notes import parse_log
from extract.spelling import normalise
from extract.statements import LONGEST_READ, read_note
from extract.text.quantities import find_quantities

NOTES = sorted(
    {note.text for path in Path("tests/examples").glob("*.notes.txt") for note in parse_log(path.read_text())}
)


def check(text, tokens):
    place = 0
    for token in tokens:
        assert 0 <= token.start <= token.end <= len(text)
        assert token.start >= place
        place = token.start


@pytest.mark.parametrize("text", NOTES)
def test_tokens_of_the_examples_stand_in_their_notes(text):
    tokens = normalise(text)
    check(text, tokens)
    for token in tokens:
        if token.isalpha() and token in text.lower() and token.end - token.start == len(token):
            assert text[token.start : token.end].lower() == token
    for quantity in find_quantities(tokens):
        words = text[tokens[quantity.start].start : tokens[quantity.end - 1].end].lower() if quantity.end else ""
        figures = [token for token in tokens[quantity.start : quantity.end] if token.isdigit()]
        assert all(each in words.replace(",", "") for each in figures)


@pytest.mark.parametrize(
    ("text", "token", "came_from"),
    [
        ("Run 1's 6'4\" long", "ft", "'"),
        ("Run 1's 6'4\" long", "inch", '"'),
        ("5½ inches", "1/2", "½"),
        ("1,200 ft² of roof", "1200", "1,200"),
        ("Basin one's in", "'s", "'s"),
        ("a  12-inch\tbasin", "basin", "basin"),
        ("fall is 1:80 here", "here", "here"),
        ("fourteeen feet", "fourteen", "fourteeen"),
        ("2% fall", "percent", "%"),
        ("ΑΣ basin İ one", "basin", "basin"),
        ("e\u0301 basin one", "one", "one"),
    ],
)
def test_a_token_tells_what_it_was_made_of(text, token, came_from):
    found = next(each for each in normalise(text) if each == token)
    assert text[found.start : found.end] == came_from


@settings(deadline=None)
@example("6'4\" x 3 1,000\x00 ft. 5½")
@given(st.text(max_size=200) | st.text(alphabet="0123456789'\".,-/xft in:½%", max_size=60))
def test_tokens_of_any_text_stand_in_it(text):
    tokens = normalise(text)
    check(text, tokens)
    for quantity in find_quantities(tokens):
        assert tokens[quantity.start].start < max(1, tokens[max(quantity.start, quantity.end - 1)].end)


def test_words_without_a_sign_are_the_words_themselves():
    text = "We set Basin One by the OAK and ran forty feet of pipe"
    assert [text[t.start : t.end].lower() for t in normalise(text)] == [str(t) for t in normalise(text)]


def test_places_in_a_note_that_is_read_in_pieces():
    text = "Run one is forty feet long. " * (3 * LONGEST_READ // 28)
    tokens = [token for sentence in read_note(text) for token in sentence.tokens]
    assert len(text) > 2 * LONGEST_READ
    assert all(text[token.start : token.end].lower() == token for token in tokens)
    assert tokens[-1].end >= len(text) - 7
