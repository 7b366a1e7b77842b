"""A quick sample of the endurance trial of faults: see tests/endurance/faults.py, which has all of it."""

import sys
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).parent.parent / "endurance"))

from faults import TRIALS, try_out  # noqa: E402


@pytest.mark.parametrize(
    ("trial", "count"),
    [
        ("disk-full", 1),
        ("read-only", 1),
        ("at-once", 1),
        ("clock", 1),
        ("flips", 8),
        ("damage", 1),
        ("old-sins", 1),
    ],
)
def test_what_a_machine_does_costs_nothing_and_is_told(trial, count):
    tally = try_out(trial, 1, count)
    if tally.skipped:
        pytest.skip(tally.skipped)
    assert tally.counts["commands"]
    assert not list(tally.wrong)


def test_each_trial_is_sampled():
    assert list(TRIALS) == [
        "disk-full", "read-only", "at-once", "clock", "flips", "damage", "old-sins",
    ]  # fmt: skip
