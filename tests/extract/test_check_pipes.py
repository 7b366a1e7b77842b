"""Dimensions of pipe: what is listed, and what stands in where a size is not."""

import pytest

from extract.check.pipes import bore, pipe_size
from extract.record import Pipe


def outside_in(family: Pipe) -> float:
    size = pipe_size(family, 4)
    assert size is not None
    assert size.od_in is not None
    return size.od_in.value


def test_outside_diameters_that_mate_and_that_do_not():
    assert outside_in("SDR 35") == outside_in("D2729") == 4.215
    assert outside_in("Schedule 40") == 4.5


def test_a_size_that_no_table_lists_has_no_dimensions():
    assert pipe_size("SDR 35", 5) is None


@pytest.mark.parametrize(
    ("family", "nominal", "inside", "basis"),
    [
        ("SDR 35", 4, 3.975, "largest inside diameter the standard allows"),
        ("Schedule 40", 4, 3.998, "average inside diameter"),
        ("corrugated", 4, 4.0, "average inside diameter"),
        ("SDR 35", 5, 5.0, "nominal size, as its inside diameter is not listed"),
    ],
)
def test_bore_says_what_it_is(family, nominal, inside, basis):
    found = bore(family, nominal)
    assert (found.inside_in, found.basis) == (inside, basis)


def test_a_value_from_memory_says_so():
    assert bore("D2729", 4).source.endswith("from memory")
    assert "from memory" not in bore("SDR 35", 4).source
