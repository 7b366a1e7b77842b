"""Failed checks that the firm answered with a sentence: each stays failed, and says so."""

from __future__ import annotations

import re
from collections.abc import Iterable

from extract.record import Acceptance, Finding, Record

SAYS = ' Accepted: "{}".'
SAID = ' Accepted when it read otherwise: "{}".'
ADDED = re.compile(r' Accepted(?: when it read otherwise)?: ".*"\.$')


def with_acceptances(record: Record, findings: Iterable[Finding]) -> list[Finding]:
    """The findings, each failed one with what was answered to it; where its figures are others by now, that too."""
    found = list(findings)
    for given in record.acceptances:
        failed = [each for each in found if each.outcome == "fail" and _of(given, each)]
        same = [each for each in failed if any(item.quote == each.message for item in given.evidence)]
        form = SAYS if same or not given.evidence else SAID
        for each in same or failed:
            place = next(i for i, one in enumerate(found) if one is each)
            found[place] = each.model_copy(update={"message": bare(each.message) + form.format(given.text)})
    return found


def bare(message: str) -> str:
    """A finding's message without what was answered to it."""
    return ADDED.sub("", message)


def is_accepted(record: Record, finding: Finding) -> bool:
    """Whether a person accepted that finding as it reads."""
    return acceptance_of(record, finding) is not None


def acceptance_of(record: Record, finding: Finding) -> Acceptance | None:
    """What a person answered to that finding as it reads; None where nobody did."""
    given = [each for each in record.acceptances if _of(each, finding)]
    return next((each for each in given if finding.message == bare(finding.message) + SAYS.format(each.text)), None)


def _of(given: Acceptance, finding: Finding) -> bool:
    return (given.finding, given.about) == (finding.check, finding.subject)
