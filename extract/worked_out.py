"""What arithmetic makes of a field: by what a check computed, or, of drop, length and slope, by the other two."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import NamedTuple

from extract.record import Finding, Record, Run


class Worked(NamedTuple):
    value: float
    by: str
    """The check that computed it, or the two fields: `drop_and_slope`, `length_and_slope`, `drop_and_length`."""


def worked_out(
    record: Record, findings: Sequence[Finding], about: str, field: str, checks: Mapping[str, str]
) -> list[Worked]:
    """The values that are no more than computed. `checks` gives, by its name, the field that a check computes; units
    are the field's."""
    found = [
        Worked(each.computed, each.check)
        for each in findings
        if each.subject == about and each.computed is not None and checks.get(each.check) == field
    ]
    run = record.subject(about)
    third = _third(run, field) if isinstance(run, Run) else None
    return [each for each in [*found, third] if each is not None and each.value > 0]


def _third(run: Run, field: str) -> Worked | None:
    """Drop [in], length [ft] and slope [percent]: one by the other two."""
    drop, length, slope = run.drop_in, run.length_ft, run.slope_pct
    if field == "length_ft" and drop and slope:
        return Worked(round(drop / 12 / slope * 100, 4), "drop_and_slope")
    if field == "drop_in" and length and slope:
        return Worked(round(length * 12 * slope / 100, 4), "length_and_slope")
    if field == "slope_pct" and drop and length:
        return Worked(round(drop / 12 / length * 100, 4), "drop_and_length")
    return None
