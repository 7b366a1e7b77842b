from __future__ import annotations

from datetime import date

import pytest

from extract.record import Issue, IssueKind, Record, Run, Structure
from reports.job import Closeout
from reports.warranty import add_months, job_exclusions, terms


@pytest.mark.parametrize(
    ("start", "months", "end"),
    [
        (date(2026, 5, 14), 24, date(2028, 5, 14)),
        (date(2024, 2, 29), 12, date(2025, 2, 28)),
        (date(2024, 2, 29), 48, date(2028, 2, 29)),
        (date(2026, 1, 31), 1, date(2026, 2, 28)),
        (date(2027, 12, 31), 2, date(2028, 2, 29)),
        (date(2026, 8, 31), 1, date(2026, 9, 30)),
        (date(2026, 12, 15), 1, date(2027, 1, 15)),
        (date(2026, 11, 30), 13, date(2027, 12, 30)),
    ],
)
def test_a_warranty_ends_by_calendar_months(start: date, months: int, end: date) -> None:
    assert add_months(start, months) == end


def test_terms_start_on_the_day_of_the_job_and_keep_the_firms_words(closeout: Closeout) -> None:
    given = terms(closeout)
    assert (given.start, given.end) == (date(2026, 5, 14), date(2028, 5, 14))
    assert given.covers == ["joints that we made"]
    assert given.how_to_claim == "Call the office with the job name."


def test_a_job_leaves_out_what_it_kept_what_it_did_not_build_and_what_it_left(record: Record) -> None:
    outs = [exclusion.what for exclusion in job_exclusions(record)]
    assert outs == [
        "Catch basin CB-2 (existing, kept)",
        "Pop-up outlet OUT-2 (planned, not built)",
        "Run R-3 (existing, kept)",
        "Standing water at CB-2",
    ]


def test_installed_work_and_cleared_issues_are_not_left_out() -> None:
    record = Record(
        structures=[Structure(label="CB-1", kind="catch_basin", state="installed")],
        runs=[Run(label="R-1", state="installed")],
        issues=[Issue(kind="roots", action="cleared", text="cut out"), Issue(kind="rock", text="ledge")],
    )
    assert job_exclusions(record) == []


def test_a_thing_with_no_state_is_named_and_not_silently_covered() -> None:
    (out,) = job_exclusions(Record(runs=[Run(label="R-1")]))
    assert out.what == "Run R-1 (state not recorded)"


@pytest.mark.parametrize(("kind", "left_out"), [("standing_water", False), ("damage", False), ("rock", True)])
def test_what_ails_our_own_work_is_never_left_out_of_its_warranty(kind: IssueKind, left_out: bool) -> None:
    record = Record(
        runs=[Run(label="R-1", state="installed")],
        issues=[Issue(kind=kind, at="R-1", action="left", text="There is something in run one. We left it.")],
    )
    assert bool(job_exclusions(record)) is left_out
