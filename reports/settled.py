"""What must be settled before a client is handed a report: questions about figures that it shows, and failed checks."""

from __future__ import annotations

from collections.abc import Set

from extract.check.accepted import bare, is_accepted
from extract.errors import FallbookError
from extract.record import Finding, Language
from reports.doubts import OF_A_TEST, Doubt, named
from reports.facts import gather
from reports.job import Closeout
from reports.scaled import ground_under, placed_of
from reports.words import plain, sentence, told

SHOWN = {
    *("state", "kind", "label", "size_in", "length_ft", "nominal_in", "pipe", "from", "to", "drop_in", "slope_pct"),
    *("invert_depth_in", "shows"),
}
"""Fields whose figures the client's copy shows, in words or in the plan, or that these rest on."""
LOCATED = SHOWN | {"cover_in", "ties", "crossings", "rim_ft", "invert_in_ft", "invert_out_ft", "rod_ft", "elevation_ft"}
"""The same of the sheet to find the drain again."""
TO_SCALE = {"ties", "crossings", "fittings", "pipe", "length_ft", "stations_ft", "pieces_ft", "to", "x_ft", "y_ft"}
"""Fields of structures, runs and fixed points that a plan to scale shows or rests on."""


class NotSettledError(FallbookError):
    """A document (`the client's copy`) was asked for, and something stands in its way: a line each in `lines`."""

    def __init__(self, job: str, lines: list[str], document: str) -> None:
        self.lines = lines
        many = len(lines) != 1
        super().__init__(
            f"{job}: {len(lines)} point{'s' if many else ''} to settle before {document}; answer questions "
            f"with: fallbook ask {job}; a failed check with: fallbook accept {job}; or make a draft with: --draft"
        )


def unsettled(closeout: Closeout, fields: Set[str] = SHOWN) -> list[str]:
    """A line for each question about one of those fields, about what a slope or a plan to scale rests on, and for each
    failed check that the firm has not answered."""
    record, language, facts = closeout.record, closeout.language, gather(closeout)
    doubts = facts.doubts
    if placed_of(facts, ground_under(facts)):
        fields = fields | TO_SCALE
    slopes = {each.number for run in record.runs for each in doubts.on_run_slope(run)}
    open_ = [each for each in doubts.all if _shown(each, fields) or each.number in slopes]
    asked = [told("doubt", "line", language, about=doubts.subject(each), why=each.why) for each in open_]
    failed = [item for item in closeout.findings if item.outcome == "fail" and not is_accepted(record, item)]
    return asked + [_failed(item, language) for item in failed]


def _failed(item: Finding, language: Language) -> str:
    """A failed check; its own message, which is English, in an English list alone."""
    message = sentence(bare(item.message)) if language == "en" else told("doubt", "failed_message", language)
    about, check = named(item.subject, language), plain("check", item.check, language)
    return told("doubt", "failed", language, about=about, check=check, message=message)


def _shown(doubt: Doubt, fields: Set[str]) -> bool:
    return doubt.question.field in fields | OF_A_TEST or doubt.question.field is None
