"""What must be settled before a client is handed a report: questions about figures that it shows, and failed checks."""

from __future__ import annotations

from extract.check.accepted import bare, is_accepted
from extract.errors import FallbookError
from reports.doubts import OF_A_TEST, Doubt, Doubts
from reports.job import Closeout
from reports.words import plain, sentence

SHOWN = {"state", "kind", "label", "size_in", "length_ft", "nominal_in", "pipe", "from", "to", "drop_in", "slope_pct"}
"""Fields whose figures the client's copy shows, in words or in the plan."""


class NotSettledError(FallbookError):
    """A client's copy was asked for, and something stands in its way: a line each in `lines`."""

    def __init__(self, job: str, lines: list[str]) -> None:
        self.lines = lines
        many = len(lines) != 1
        super().__init__(
            f"{job}: {len(lines)} point{'s' if many else ''} to settle before the client's copy; answer questions "
            f"with: fallbook ask {job}; a failed check with: fallbook accept {job}; or make a draft with: --draft"
        )


def open_doubts(closeout: Closeout) -> list[Doubt]:
    """The questions about what a client would be shown."""
    return [each for each in Doubts(closeout.record).all if _shown(each)]


def unsettled(closeout: Closeout) -> list[str]:
    """A line for each of those questions, then for each failed check that the firm has not answered."""
    doubts = Doubts(closeout.record)
    asked = [f"{doubts.subject(each)}: {each.why}" for each in open_doubts(closeout)]
    failed = [item for item in closeout.findings if item.outcome == "fail" and not is_accepted(closeout.record, item)]
    return asked + [f"{item.subject}, {plain('check', item.check)}: {sentence(bare(item.message))}" for item in failed]


def _shown(doubt: Doubt) -> bool:
    return doubt.question.field in SHOWN | OF_A_TEST or doubt.question.field is None
