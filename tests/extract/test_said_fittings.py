"""Fittings as they are counted, added to, summed up, swapped and taken out."""

import pytest

from extract.assemble import assemble
from extract.record import Note


def elbows(*texts):
    record = assemble([Note(text="Run one is in, forty feet of four-inch, two 45s."), *(Note(text=t) for t in texts)])
    return {f.angle_deg: f.count for f in record.runs[0].fittings}


@pytest.mark.parametrize(
    ("said", "count"),
    [
        ("Put two more 45s on run one.", {45: 4}),
        ("Two 45s total on run one.", {45: 2}),
        ("Three 45s altogether on run one.", {45: 3}),
        ("Took one 45 out of run one.", {45: 1}),
        ("Took two 45s out of run one.", {}),
        ("Two forty-five elbows on run one.", {45: 4}),
        ("2 22.5 elbows on run one.", {45: 2, 22.5: 2}),
        ("One eighth bend on run one.", {45: 3}),
        ("A dozen 90s on run one.", {45: 2, 90: 12}),
        ("Correction, one 45.", {45: 1}),
        ("Actually three.", {45: 3}),
        ("Three 4 inch 45s on run one.", {45: 3}),
        ("Half a dozen 90s on run one.", {45: 2, 90: 6}),
        ("Swapped one of the 45s for a 22.", {45: 1, 22.5: 1}),
        ("Those were 22s, not 45s.", {22.5: 2}),
        ("Two elbows on run one, one 45 and one 90.", {45: 3, 90: 1}),
        ("Ran out of 45s, used two 22s instead on run one.", {45: 2, 22.5: 2}),
        ("Run one: (2) 90s.", {45: 2, 90: 2}),
        ("Run one fittings, 90s two.", {45: 2, 90: 2}),
        ("Elbows on run one: two 90s.", {45: 2, 90: 2}),
        ("And one more 45 at the basin.", {45: 3}),
    ],
)
def test_bends_are_counted_as_said(said, count):
    assert elbows(said) == count
