"""Two pieces of a recording overlap by some seconds: what both heard is one note, whole."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from extract.record import Note, Word
from logger.overlap import Piece, without_overlap

LENGTH = 20.0
SHIFT = 17.0
"""The second piece begins so long after the first: they share three seconds."""


def note(text, start, *, word_s=0.4, sure=0.9, pauses=()):
    """A note whose words follow each other; `pauses` are waits before the word of that place."""
    words, at = [], start
    for place, word in enumerate(text.split()):
        at += dict(pauses).get(place, 0)
        words.append(Word(text=word, start_s=round(at, 2), end_s=round(at + word_s, 2), confidence=sure))
        at += word_s
    return Note(text=text, heard=text, words=words, confidence=sure, start_s=words[0].start_s, end_s=words[-1].end_s)


def told(first, second, reels=("a", "a")):
    """What the two pieces tell together, in the first one's seconds."""
    pieces = [Piece(reels[0], 100.0, LENGTH, first), Piece(reels[1], 100.0 + SHIFT, LENGTH, second)]
    left, right = without_overlap(pieces)
    return [each.text for each in left], [each.text for each in right]


def test_a_note_that_both_heard_whole_is_told_once_by_the_surer():
    ours, theirs = note("Basin two is set.", 17.8, sure=0.7), note("Basin two is set.", 0.8, sure=0.9)
    assert told([ours], [theirs]) == ([], ["Basin two is set."])
    assert told([note("Basin two is set.", 17.8)], [note("Basin to is set.", 0.8, sure=0.5)])[1] == []


def test_a_note_that_the_first_heard_from_its_beginning_is_its_own():
    first, second = note("Run two is thirty four feet", 15.5), note("thirty four feet", 0.0)
    assert told([first], [second]) == (["Run two is thirty four feet"], [])


def test_a_note_that_the_second_heard_to_its_end_is_its_own():
    first, second = note("Run three is", 18.8), note("Run three is in from basin one.", 1.8)
    assert told([first], [second]) == ([], ["Run three is in from basin one."])


def test_a_sentence_cut_in_both_is_joined_where_both_heard_the_same():
    first = note("Run two from basin one to basin two is thirty", 16.4)
    second = note("basin two is thirty four feet long.", 1.8)
    (joined,), rest = told([first], [second])
    assert (joined, rest) == ("Run two from basin one to basin two is thirty four feet long.", [])


def test_a_word_cut_through_is_taken_from_the_piece_that_heard_all_of_it():
    first = note("The cover on run two is fourteen inches and the drop is four", 15.2)
    second = note("inches and the drop is forty one inches.", 1.4)
    (joined,), _ = told([first], [second])
    assert joined.endswith("and the drop is forty one inches.")
    assert joined.count("inches") == 2


def test_where_no_word_agrees_both_halves_stand_and_are_in_doubt():
    first = [note("Run two from basin one is thorough", 16.8)]
    second = [note("thirty four feet long and it drops six", 0.1)]
    (joined,), rest = without_overlap([Piece("a", 0.0, LENGTH, first), Piece("a", SHIFT, LENGTH, second)])
    assert rest == []
    assert joined.text.startswith("Run two from")
    assert joined.text.endswith("it drops six")
    shared = [word for word in joined.words if word.end_s > SHIFT and word.start_s < LENGTH]
    assert shared
    assert all(word.confidence <= 0.4 for word in shared)


def test_what_is_said_over_again_outside_of_the_overlap_joins_nothing():
    first = note("Run two is in and the cover on run two is ten and run two is", 13.4)
    second = note("run two is four inch and the cover on run two is ten", 1.2)
    (joined,), rest = told([first], [second])
    assert rest == []
    assert joined == (
        "Run two is in and the cover on run two is ten and run two is four inch and the cover on run two is ten"
    )


@pytest.mark.parametrize(
    ("first", "second"),
    [
        (note("Basin 2 is set.", 17.8), note("Basin 3 is set.", 0.8, sure=0.8)),
        (note("Run one from basin 2 is set and in", 16.6), note("basin 3 is set and in from here.", 0.8)),
    ],
)
def test_a_figure_that_the_other_hearing_does_not_bear_out_is_in_doubt(first, second):
    (kept,), _ = without_overlap([Piece("a", 0.0, LENGTH, [first]), Piece("a", SHIFT, LENGTH, [second])])
    sure = {word.text.strip("."): word.confidence for word in kept.words}
    assert (sure["2"], sure["set"]) == (0.4, 0.9)


def test_a_figure_that_both_heard_is_as_sure_as_it_was():
    first, second = [note("Basin 2 is set.", 17.8)], [note("Basin two is set.", 0.8, sure=0.8)]
    (kept,), _ = without_overlap([Piece("a", 0.0, LENGTH, first), Piece("a", SHIFT, LENGTH, second)])
    assert {word.confidence for word in kept.words} == {0.9}


def test_two_notes_with_a_breath_between_stay_two():
    first, second = note("Basin two is set.", 17.2), note("Cover is nine inches.", 2.6)
    assert told([first], [second]) == (["Basin two is set."], ["Cover is nine inches."])


def test_one_long_note_stands_for_the_short_ones_that_the_other_heard():
    first = [note("Basin two is set and the cover is nine", 16.9)]
    second = [note("is set", 0.9), note("cover is nine", 2.1), note("Run two is in.", 9.0)]
    assert told(first, second) == (["Basin two is set and the cover is nine"], ["Run two is in."])


def test_notes_outside_of_the_overlap_are_left_alone():
    first, second = [note("One two.", 1.0), note("Three four.", 8.0)], [note("Five six.", 8.0), note("Seven.", 12.0)]
    assert told(first, second) == (["One two.", "Three four."], ["Five six.", "Seven."])


@pytest.mark.parametrize("reels", [("a", "b"), ("", "")])
def test_recordings_that_are_not_one_are_left_alone(reels):
    both = [note("Basin two is set.", 18.0)], [note("Basin two is set.", 1.0)]
    assert told(*both, reels=reels) == (["Basin two is set."], ["Basin two is set."])


def test_pieces_that_do_not_touch_are_left_alone():
    pieces = [Piece("a", 0, LENGTH, [note("Basin two.", 18)]), Piece("a", LENGTH, LENGTH, [note("Basin two.", 0)])]
    assert without_overlap(pieces) == [piece.notes for piece in pieces]


def test_the_order_in_which_pieces_came_does_not_matter():
    first, second = note("Run two is thirty", 18.6), note("two is thirty four feet.", 2.0)
    rest, (joined,) = without_overlap([Piece("a", SHIFT, LENGTH, [second]), Piece("a", 0.0, LENGTH, [first])])
    assert (joined.text, rest) == ("Run two is thirty four feet.", [])


def test_a_note_without_words_of_its_own_is_kept_whole():
    bare = [Note(text="Basin two", start_s=19.0, end_s=19.9)], [Note(text="two is set", start_s=0.2, end_s=3.5)]
    assert told(*bare) == (["Basin two"], ["two is set"])


@given(
    st.lists(st.integers(0, 9), min_size=8, max_size=60),
    st.floats(4, 14),
    st.floats(2, 4),
)
def test_a_talk_cut_anywhere_comes_out_as_it_was_said(digits, cut, overlap):
    """One sentence after another without a breath; each piece hears the words that lie whole in it."""
    said = " ".join(f"w{place}x{digit}" for place, digit in enumerate(digits))
    whole = note(said, 0.5)
    first = [word for word in whole.words if word.end_s <= cut + overlap]
    second = [word for word in whole.words if word.start_s >= cut]
    if not first or not second:
        return

    def heard(words, shift):
        moved = [
            word.model_copy(update={"start_s": word.start_s - shift, "end_s": word.end_s - shift}) for word in words
        ]
        text = " ".join(word.text for word in words)
        return Note(text=text, heard=text, words=moved, start_s=moved[0].start_s, end_s=moved[-1].end_s)

    pieces = [Piece("a", 0.0, cut + overlap, [heard(first, 0)]), Piece("a", cut, 60.0, [heard(second, cut)])]
    left, right = without_overlap(pieces)
    assert " ".join(word.text for each in [*left, *right] for word in each.words) == said


def test_a_sentence_through_three_pieces_is_one_note():
    said = [f"word{number}" for number in range(60)]
    whole = note(" ".join(said), 0.5, word_s=0.5)
    pieces = []
    for start in (0.0, 8.0, 16.0, 24.0):
        words = [word for word in whole.words if word.start_s >= start and word.end_s <= start + 10]
        inside = note(" ".join(word.text for word in words), words[0].start_s - start, word_s=0.5)
        pieces.append(Piece("a", 7.25 + start, 10.0, [inside]))
    (joined,), *rest = without_overlap(pieces)
    assert joined.text.split() == said
    assert rest == [[], [], []]
