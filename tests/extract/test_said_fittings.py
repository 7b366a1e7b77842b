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
        ("Two forty-five elbows on run one.", {45: 2}),
        ("Yeah so run one's got two 45s on it.", {45: 2}),
        ("Two 45s on run one, like I said.", {45: 2}),
        ("Put another two 45s on run one.", {45: 4}),
        ("Put a 45 on run one.", {45: 3}),
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
        ("Elbows on run one: two 90s.", {45: 2, 90: 2}),
        ("And one more 45 at the basin.", {45: 3}),
    ],
)
def test_bends_are_counted_as_said(said, count):
    assert elbows(said) == count


def test_a_count_said_behind_its_bend_is_asked_about():
    record = assemble([Note(text="Run one fittings, 90s two.")])
    assert "fittings" in {question.field for question in record.questions}


@pytest.mark.parametrize(
    "said",
    [
        "Fittings on run one, some 45s.",
        "Fittings on run one, 45s.",
        "We put a few couplings on run one.",
    ],
)
def test_fittings_that_nobody_counted_are_asked_about(said):
    record = assemble([Note(text="Run one is in, forty feet of four-inch."), Note(text=said)])
    assert [(q.about, q.field, q.why) for q in record.questions] == [("R-1", "fittings", "hedged")]


def test_a_list_of_fittings_that_holds_some_told_before_adds_what_is_new():
    notes = ["Run one is in, forty feet.", "Two 45s on run one.", "Fittings on run one, two 45s and a coupling."]
    record = assemble([Note(text=text) for text in notes])
    assert [(f.kind, f.count) for f in record.runs[0].fittings] == [("elbow", 2), ("coupling", 1)]


def test_one_list_that_tells_a_fitting_in_two_places_adds_them():
    record = assemble([Note(text="Fittings on run one, one 45 at the basin and two 45s at the tree, it's 40 feet.")])
    assert [f.count for f in record.runs[0].fittings] == [3]
    assert not [q for q in record.questions if q.field == "fittings"]


@pytest.mark.parametrize("said", ["It's no wye, it's a tee.", "That's not a wye, that's a tee."])
def test_a_fitting_is_put_in_the_place_of_the_one_that_is_denied(said):
    (run,) = assemble([Note(text="Run one has a wye and two 45s."), Note(text=said)]).runs
    assert {each.kind: each.count for each in run.fittings} == {"elbow": 2, "tee": 1}


def test_a_fitting_that_is_denied_and_no_more_is_asked_about():
    record = assemble([Note(text="Run two has a wye."), Note(text="There's no wye on run two.")])
    assert ("R-2", "fittings") in {(each.about, each.field) for each in record.questions}


def test_what_another_run_has_not_leaves_a_fitting_alone():
    record = assemble([Note(text="Run one has a wye."), Note(text="No wye yet on run two.")])
    assert [each.kind for each in record.subject("R-1").fittings] == ["wye"]


def test_an_angle_before_in_is_no_size():
    (run,) = assemble([Note(text="Run two is in, there's one 90 in run two.")]).runs
    assert [(each.angle_deg, each.nominal_in) for each in run.fittings] == [(90, None)]


@pytest.mark.parametrize(
    ("asked", "told", "count"),
    [
        ("How many 45s went in run one?", "Four.", 4),
        ("Two or three 45s on run one?", "Three, I counted.", 3),
        ("Two twenty-twos in run one, or was it three?", "Three of them.", 3),
    ],
)
def test_a_bare_count_is_of_the_bends_that_were_spoken_of(asked, told, count):
    (run,) = assemble([Note(text=asked), Note(text=told)]).runs
    assert [(each.kind, each.count) for each in run.fittings] == [("elbow", count)]
    assert run.fittings[0].angle_deg is not None


def test_one_of_several_that_is_denied_takes_out_no_other():
    said = ("Run one has two 45s at the tree and one 45 at the basin.", "It's not a 45 at the basin, it's a 90.")
    (run,) = assemble([Note(text=text) for text in said]).runs
    assert {each.angle_deg: each.count for each in run.fittings} == {45: 2, 90: 1}


def test_a_word_is_no_count_of_the_bends_that_were_spoken_of():
    record = assemble([Note(text="Run one has two 45s."), Note(text="Run two, one elbow.")])
    assert [each.angle_deg for each in record.subject("R-2").fittings] == [None]
