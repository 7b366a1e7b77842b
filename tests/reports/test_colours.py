"""How well one colour is read on another."""

import pytest

from reports.colours import contrast


@pytest.mark.parametrize(("one", "other", "ratio"), [("#000000", "#FFFFFF", 21), ("#777777", "#FFFFFF", 4.48)])
def test_contrast_is_as_the_guidelines_define_it(one, other, ratio):
    assert contrast(one, other) == pytest.approx(contrast(other, one)) == pytest.approx(ratio, abs=0.01)
