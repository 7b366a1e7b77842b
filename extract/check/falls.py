"""A run's fall, as each account of it has it: the inverts at its ends, the drop said, the slope said over its length.

Each is a witness for the others. Which of them agree decides what goes into the as-built table and what is asked.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from functools import cached_property
from typing import Literal, NamedTuple

from extract.check.geometry import run_length
from extract.check.levels import Height
from extract.check.policy import Policy
from extract.check.saying import evidence, inches, known, listed, percent, place
from extract.record import Evidence, Run


@dataclass(frozen=True)
class Account:
    """One account of a run's fall."""

    kind: Literal["inverts", "drop", "slope"]
    drop_in: float
    """Inches; negative where the run rises toward its lower end."""
    words: str
    """The account with its numbers: `the drop said, 5 inches`."""
    evidence: list[Evidence] = field(default_factory=list)
    stand_ins: tuple[str, ...] = ()
    """Points whose other invert was taken, as the one on the pipe's side was not said."""
    disputed: bool = False
    """True where one of the inverts was said and read by rod differently."""

    @property
    def title(self) -> str:
        return "inverts" if self.kind == "inverts" else f"{self.kind} said"

    @property
    def doubt(self) -> str | None:
        """Why the fall may be less than this; None where nothing says so."""
        if self.stand_ins:
            return f"it can be less, as {listed(self.stand_ins)} stood in for the one at the pipe, which was not said"
        return "an elevation said and its rod reading differ, so it may be less" if self.disputed else None

    def within(self, other: Account) -> bool:
        """Whether this fall, which counts what lies inside a structure, can hold the other and that structure's own."""
        return bool(self.stand_ins) and self.drop_in > other.drop_in

    @property
    def caveat(self) -> str:
        return f" ({listed(self.stand_ins)} was used)" if self.stand_ins else ""


class Slope(NamedTuple):
    """The slope that a run is judged by, percent, what it is worked out from, and who said so."""

    pct: float
    basis: str
    evidence: list[Evidence]
    doubt: str | None = None
    """Why it may be flatter than this, so that nothing is `ok` by it; None where nothing says so."""


@dataclass(frozen=True)
class Accounts:
    """All accounts of one run's fall: inverts first, then drop, then slope."""

    run: Run
    length_ft: float | None
    slope_pct: float | None
    """The slope said, percent; it is an account only where a length was said too."""
    all: list[Account]
    policy: Policy

    def of(self, kind: str) -> Account | None:
        return next((account for account in self.all if account.kind == kind), None)

    def allowed_in(self, one: Account, other: Account) -> float:
        """How far two accounts may lie apart, inches: reading errors add by root sum of squares."""
        drop = self.policy["drop_in"]
        if self.length_ft is None or "slope" not in (one.kind, other.kind):
            return drop
        return math.hypot(drop, self.policy["slope_pct"] / 100 * self.length_ft * 12)

    def agree(self, one: Account, other: Account) -> bool:
        return abs(one.drop_in - other.drop_in) <= self.allowed_in(one, other) + 1e-9

    @cached_property
    def best(self) -> Account | None:
        """The first account that another one bears out, or the first."""
        for account in self.all:
            if any(other is not account and self.agree(account, other) for other in self.all):
                return account
        return self.all[0] if self.all else None

    def disputed(self, account: Account) -> bool:
        """Whether another figure of the crew's contradicts it."""
        return account.disputed or any(not self.agree(account, other) for other in self.all)

    @cached_property
    def judged(self) -> Slope | None:
        """The slope to judge the run by: of the best account, or where accounts disagree of the flattest."""
        best = self.best
        if best is None or self.length_ft is None:
            words = evidence(self.run, "slope_pct")
            return None if self.slope_pct is None else Slope(self.slope_pct, "the slope said", words)
        which = ""
        if self.disputed(best) and len(self.all) > 1:
            best, which = min(self.all, key=lambda account: account.drop_in), ", the flattest of its figures"
        pct, with_length = self.pct(best), "" if best.kind == "slope" else " and the length"
        words = best.evidence + evidence(self.run, "length_ft")
        return None if pct is None else Slope(pct, f"the {best.title}{with_length}{which}", words, self._doubt(best))

    def _doubt(self, judged: Account) -> str | None:
        """What is doubtful in the account judged by, unless another bears it out, or in one that was passed over."""
        if any(other is not judged and other.doubt is None and self.agree(judged, other) for other in self.all):
            return None
        return judged.doubt or next((account.doubt for account in self.all if account.disputed), None)

    @property
    def may_fall(self) -> bool:
        """Whether only inverts say that it rises, and by less than two readings can tell."""
        rising = [account for account in self.all if account.drop_in <= 0]
        give = math.sqrt(2) * self.policy["reading_ft"] * 12
        return bool(rising) and all(each.kind == "inverts" and each.drop_in >= -give - 1e-9 for each in rising)

    def pct(self, account: Account) -> float | None:
        """That account as a slope in percent; None where no length was said."""
        return None if self.length_ft is None else known(account.drop_in / 12 / self.length_ft * 100)


def accounts_of(run: Run, points: dict[str, Height], policy: Policy) -> Accounts:
    """Every account of the run's fall that the record holds. `points` are the heights of `levels.heights`."""
    length, slope = run_length(run), known(run.slope_pct)
    found = [_by_inverts(run, points), _by_drop(run), _by_slope(run, slope, length)]
    return Accounts(run, length, slope, [account for account in found if account is not None], policy)


def _by_inverts(run: Run, points: dict[str, Height]) -> Account | None:
    """The pipe's own sides where both were said, else the other invert of the same structure."""
    upper = _end(run.from_, ("invert_out", "invert_in"), points)
    lower = _end(run.to, ("invert_in", "invert_out"), points)
    if upper is None or lower is None or run.from_ == run.to or points[upper].chain != points[lower].chain:
        return None
    high, low = points[upper], points[lower]
    drop = round((high.ft - low.ft) * 12, 6)
    how = f"inverts, {high.ft:.2f} to {low.ft:.2f} feet" if high.chain is None else "rod readings of the inverts"
    others = [point for point, side in ((upper, "invert_out"), (lower, "invert_in")) if not point.endswith(side)]
    return Account(
        "inverts",
        drop,
        f"the {how}, {_fall(drop)}",
        evidence=high.evidence + low.evidence,
        stand_ins=tuple(map(place, others)),
        disputed=high.disputed or low.disputed,
    )


def _end(label: str | None, sides: tuple[str, str], points: dict[str, Height]) -> str | None:
    return next((point for side in sides if (point := f"{label} {side}") in points), None)


def _by_drop(run: Run) -> Account | None:
    drop = known(run.drop_in)
    return None if drop is None else Account("drop", drop, f"the drop said, {_fall(drop)}", evidence(run, "drop_in"))


def _by_slope(run: Run, slope: float | None, length: float | None) -> Account | None:
    if slope is None or length is None:
        return None
    words = f"the slope said, {percent(slope)}"
    return Account("slope", slope / 100 * length * 12, words, evidence(run, "slope_pct"))


def _fall(drop: float) -> str:
    return f"{inches(abs(drop))} uphill" if drop < 0 else inches(drop)
