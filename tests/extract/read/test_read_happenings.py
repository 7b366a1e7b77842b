"""The words of what happened, as the record keeps them."""

import pytest

from extract.read.happenings import _whole


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
