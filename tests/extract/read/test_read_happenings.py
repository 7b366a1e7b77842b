"""The words of what happened, as the record keeps them."""

import pytest

from extract.read.happenings import MOST, _uncut, _whole


@pytest.mark.parametrize(
    ("note", "read", "kept"),
    [
        ("Change of plan. We go round the oak with two 45s. Then lunch.", "Change of plan.", "first two"),
        ("Change of plan, we go round the oak. Then lunch.", "Change of plan", "first"),
        ("instead of the ditch it goes to the curb", "instead of the ditch", "first"),
        ("Change of plan: 4.5 ft off the wall, not 3. Fine.", "Change of plan", "first"),
        ("Change of plan.", "Change of plan", "first"),
    ],
)
def test_a_change_of_plan_is_kept_with_what_was_changed(note, read, kept):
    ends = {"first": 1, "first two": 2}[kept]
    sentences = note.replace(". ", ".\n").split("\n")
    assert _whole(note, 0, read) == " ".join(sentences[:ends])


@pytest.mark.parametrize(
    ("note", "read", "kept"),
    [
        ("There's an old clay line crossing run three. It was dry.", "an old clay line", (0, 43)),
        ("All set. Basin one was plugged with leaves and mud. Done.", "plugged with leaves", (9, 50)),
        ("Roots on run five. Thick as my arm. Cut them.", "Roots on run five. Thick", (0, 34)),
        ("we hit a 4.5 ft slab by run one", "a 4", (0, 31)),
        ("Roots?", "Roots?", (0, 5)),
    ],
)
def test_an_issue_is_told_in_whole_sentences(note: str, read: str, kept: tuple[int, int]) -> None:
    assert _uncut(note, note.index(read), read) == note[slice(*kept)]


def test_of_talk_without_a_stop_the_words_alone_are_kept_and_it_says_that_they_were_cut() -> None:
    talk = "and so on " * MOST
    assert _uncut(f"{talk}roots on run five {talk}", len(talk), "roots on run five") == "… roots on run five …"
    assert _uncut(f"roots on run five {talk}", 0, "roots on run five") == "roots on run five …"
    assert _uncut(f"{talk}. Roots on run five. {talk}", len(talk) + 2, "Roots on run five") == "Roots on run five"
