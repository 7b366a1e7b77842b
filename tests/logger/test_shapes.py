"""What is kept of heard notes comes back to the last digit."""

from hypothesis import given
from hypothesis import strategies as st

from extract.record import Note, Word
from logger.shapes import notes_of, shapes_of

hundredths = st.integers(0, 10_000_000).map(lambda n: n / 100)
words = st.builds(
    Word,
    text=st.text("abc 12.", min_size=1, max_size=5),
    start_s=st.one_of(hundredths, st.floats(0, 1e6)),
    end_s=st.one_of(hundredths, st.floats(0, 1e6)),
    confidence=st.one_of(st.integers(0, 1000).map(lambda n: n / 1000), st.floats(0, 1)),
)
notes = st.builds(
    Note, text=st.text(max_size=20), heard=st.one_of(st.none(), st.text(max_size=20)), words=st.lists(words, max_size=6)
)


@given(st.lists(notes, max_size=3))
def test_notes_come_back_as_they_went_in(said):
    assert notes_of(shapes_of(said)) == said


def test_words_that_are_those_heard_are_not_kept_twice():
    word = Word(text="Basin", start_s=0.25, end_s=0.5, confidence=0.998)
    (shape,) = shapes_of([Note(text="Basin", heard="Basin", words=[word])])
    assert shape == {"text": "Basin", "heard": "Basin", "begins": [25], "lasts": [25], "sure": [998]}


def test_notes_of_an_earlier_version_are_read():
    word = {"text": "Basin", "start_s": 0.25, "end_s": 0.5, "confidence": 0.998}
    assert notes_of([{"text": "Basin", "words": [word]}])[0].words == [Word(**word)]
