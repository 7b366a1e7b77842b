"""Fittings by the words of their spans; no sentence here is of the corpus of talk."""

import pytest

from extract.read.fittings import fitting_of, totalled, uncounted
from extract.read.readings import Reading
from extract.read.words import quantities_of
from extract.record import Fitting


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
