"""Fittings by the words of their spans; no sentence here is of the corpus of talk."""

import pytest

from extract.assemble import assemble
from extract.read.fittings import Place, fitting_of, place_alone, totalled, uncounted
from extract.read.readings import Reading
from extract.read.values import IMPERIAL
from extract.read.words import quantities_of
from extract.record import Fitting, Note


@pytest.mark.parametrize(
    ("text", "kind", "want"),
    [
        ("two 45s", "elbow", {"count": 2, "angle_deg": 45}),
        ("a ninety", "elbow", {"count": 1, "angle_deg": 90}),
        ("three 4 inch couplings", "coupling", {"count": 3, "nominal_in": 4}),
        ("a couple of wyes", "wye", {"count": 2}),
        ("a 4 inch to 3 inch reducer", "reducer", {"count": 1, "nominal_in": 4, "to_nominal_in": 3}),
        ("a 3 to 4 increaser", "increaser", {"count": 1, "nominal_in": 3, "to_nominal_in": 4}),
        ("1 3->4 increaser", "increaser", {"count": 1, "nominal_in": 3, "to_nominal_in": 4}),
        ("one eighth bend", "elbow", {"count": 1, "angle_deg": 45}),
        ("the cap", "cap", {"count": 1}),
        ("a 45 on the left", "wye", {"kind": "elbow", "count": 1, "angle_deg": 45}),
        ("a 45 wye", "wye", {"count": 1}),
        ("combo 45", "wye", {"count": 1}),
        ("one at 45", "wye", {"count": 1}),
        ("a 3-4 increaser", "increaser", {"count": 1, "nominal_in": 3, "to_nominal_in": 4}),
    ],
)
def test_a_fitting_has_its_count_angle_and_sizes(text, kind, want):
    readings = [Reading(0, start, end, "fitting", quantity=q) for start, end, q in quantities_of(text)]
    fitting = fitting_of(Reading(0, 0, len(text), "fitting", kind), readings, text)
    assert fitting.model_dump(exclude_none=True) == {"kind": kind} | want


@pytest.mark.parametrize(
    ("text", "kind", "want"),
    [
        ("some 45s", "elbow", True),
        ("a few couplings", "coupling", True),
        ("two 45s", "elbow", False),
        ("a couple of wyes", "wye", False),
        ("a 45", "elbow", False),
        ("the cap", "cap", False),
    ],
)
def test_fittings_that_nobody_counted_are_known_by_it(text, kind, want):
    readings = [Reading(0, start, end, "fitting", quantity=q) for start, end, q in quantities_of(text)]
    assert uncounted(Reading(0, 0, len(text), "fitting", kind), readings, text) is want


def test_fittings_alike_are_one():
    told = [Fitting(kind="elbow", count=2, angle_deg=45), Fitting(kind="cap"), Fitting(kind="elbow", angle_deg=45)]
    assert totalled(told) == [Fitting(kind="elbow", count=3, angle_deg=45), Fitting(kind="cap")]


@pytest.mark.parametrize(
    ("text", "kind", "at", "turn"),
    [
        ("a wye at 11 feet", "wye", 11, None),
        ("a wye at 22", "wye", None, None),
        ("a wye at 10 feet from basin two", "wye", None, None),
        ("a wye at 3 feet deep", "wye", None, None),
        ("a wye at 10 to 12 feet", "wye", None, None),
        ("a wye at 98.5", "wye", None, None),
        ("a wye at 2000 feet", "wye", None, None),
        ("a tee at 3 meters", "tee", 9.8425, None),
        ("a 45 at 12 feet turning left", "elbow", 12, "left"),
        ("an elbow at 12 feet, turns right", "elbow", 12, "right"),
        ("an elbow at 45", "elbow", None, None),
        ("a wye at 90", "wye", None, None),
        ("two wyes at 11 feet", "wye", None, None),
    ],
)
def test_a_fitting_has_its_place_along_the_run_and_its_turn(text, kind, at, turn):
    readings = [Reading(0, start, end, "fitting", quantity=q) for start, end, q in quantities_of(text)]
    fitting = fitting_of(Reading(0, 0, len(text), "fitting", kind), readings, text)
    assert (fitting.at_ft, fitting.turn) == (at, turn)


@pytest.mark.parametrize(
    ("first", "second", "want"),
    [
        ("a tee", "at 11 feet", Place(11)),
        ("a tee", ", twelve feet down", Place(12)),
        ("a tee", "twelve feet up", None),
        ("a tee", "about 20 feet", Place(None)),
        ("a tee", "a second one at 20 feet", None),
        ("", "at 11 feet", Place(11)),
    ],
)
def test_a_span_that_tells_only_where_is_no_fitting_more(first, second, want):
    text = f"{first} {second}"
    spans = [Reading(0, 0, len(first), "fitting", "tee")] if first else []
    one = Reading(0, len(first) + 1, len(text), "fitting", "tee")
    numbers = [Reading(0, start, end, "fitting", quantity=q) for start, end, q in quantities_of(text)]
    numbers = [each for each in numbers if each.start >= one.start]
    assert place_alone(one, [*spans, one, *numbers], text, IMPERIAL) == want


def test_that_is_not_at():
    text = "Make that three"
    number = [Reading(0, start, end, "fitting", quantity=q) for start, end, q in quantities_of(text)]
    fitting = fitting_of(Reading(0, text.index("three"), len(text), "fitting", "wye"), number, text)
    assert (fitting.count, fitting.at_ft) == (3, None)


@pytest.mark.parametrize("text", ["Picked up a wye at the yard.", "Bought a wye for run one.", "Compré una ye."])
def test_a_fitting_that_was_bought_is_asked_about(text):
    record = assemble([Note(text="Run one is laid, 12 feet of 4 inch SDR 35."), Note(text=text)])
    told = [each for run in record.runs for each in run.fittings]
    assert not told or "fittings" in [each.field for each in record.questions]


def test_one_that_was_laid_beside_what_was_bought_is_not():
    record = assemble([Note(text="Run one has one wye. Bought 40 feet of pipe.")])
    assert [each.count for each in record.runs[0].fittings] == [1]
    assert "fittings" not in [each.field for each in record.questions]
