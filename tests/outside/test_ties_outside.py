"""Trilateration against a published example."""

import math

import numpy as np
import pytest

from extract.places.adjust import adjust, residual
from extract.places.circles import tapes_meet
from extract.places.measures import Measure
from extract.record import Entry

pytestmark = pytest.mark.outside

STATIONS = {"A": (865.40, 4527.15), "B": (2432.55, 2047.25), "C": (2865.22, 27.15)}
FAR = {"A": 6049.00, "B": 4736.83, "C": 5446.49}
"""Feet. Ghilani, Adjustment Computations, chapter on trilateration: one station from three (from memory; that the three
meet within a tenth of a foot in a mile is what shows the figures to be remembered right)."""


def test_three_distances_of_a_book_meet_within_a_tenth():
    start = next(at for at in tapes_meet(STATIONS["A"], FAR["A"], STATIONS["B"], FAR["B"]) if at[0] > 0)
    measures = [Measure("tape", key, "U", far, 1.0, key, Entry()) for key, far in FAR.items()]
    found = adjust(measures, STATIONS | {"U": start}, ["U"])
    residuals = [residual(each, STATIONS[each.one], found.at["U"]) for each in measures]
    assert max(map(abs, residuals)) < 0.1
    assert math.sqrt(found.misfit) == pytest.approx(0.098, abs=0.001)  # one measure to spare
    # The same by the normal equations, step by step as the book does it.
    at = np.array(start)
    for _ in range(5):
        to = np.array([at - STATIONS[key] for key in FAR])
        far = np.linalg.norm(to, axis=1)
        slopes = to / far[:, None]
        at = at + np.linalg.solve(slopes.T @ slopes, slopes.T @ (np.array(list(FAR.values())) - far))
    assert found.at["U"] == pytest.approx(tuple(at), abs=1e-4)
