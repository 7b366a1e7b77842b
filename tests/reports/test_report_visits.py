"""A visit to an old job: under which warranty it falls and why, and what the warranty leaves out then."""

from __future__ import annotations

import io
from datetime import date

import pytest
from docx import Document

from extract.errors import FallbookError
from extract.read.known import lying_there
from extract.record import Issue, Record, Run, Structure
from reports.client import document, for_client
from reports.drawings import draw
from reports.facts import gather
from reports.job import Closeout, Company, Job, Warranty
from reports.warranty import Span, add_months, added_span, span, terms, visit_told


def company_with(company: Company, **terms: int) -> Company:
    warranty = Warranty.model_validate(company.warranty.model_dump() | terms)
    return company.model_copy(update={"warranty": warranty})


def old_job(job: Job, day: date, months: int) -> Job:
    return job.model_copy(update={"day": day, "company": company_with(job.company, workmanship_months=months)})


def visit_of(job: Job, day: date, **terms: int) -> Job:
    update = {"name": "back", "day": day, "callback_of": job.name, "company": company_with(job.company, **terms)}
    return job.model_copy(update=update)


@pytest.mark.parametrize(
    ("start", "months", "on", "told"),
    [
        (date(2024, 2, 29), 12, date(2025, 2, 28), "under"),  # the last day, a day early in a year without the 29th
        (date(2024, 2, 29), 12, date(2025, 3, 1), "1 day before it"),
        (date(2024, 2, 29), 24, date(2026, 2, 28), "under"),
        (date(2024, 2, 29), 36, date(2027, 2, 28), "under"),
        (date(2024, 2, 29), 48, date(2028, 2, 29), "under"),
        (date(2024, 2, 29), 48, date(2028, 3, 1), "1 day before it"),
        (date(2026, 8, 31), 6, date(2027, 2, 28), "under"),
        (date(2026, 8, 31), 6, date(2027, 3, 1), "1 day before it"),
        (date(2026, 5, 14), 24, date(2026, 5, 14), "under"),
        (date(2026, 5, 14), 24, date(2028, 5, 26), "12 days before it"),
        (date(2026, 5, 14), 24, date(2026, 5, 12), "2 days after it"),
    ],
)
def test_a_visit_says_whether_its_day_falls_under_the_old_warranty(
    job: Job, start: date, months: int, on: date, told: str
) -> None:
    old = old_job(job, start, months)
    first, of_new = visit_told(visit_of(old, on), [old])
    assert ("was made under the warranty of job larkspur-walk" in first) is (told == "under")
    assert told in first
    assert of_new == "What we did on this visit has no warranty of its own."


def test_the_reason_names_the_days(job: Job) -> None:
    old = old_job(job, date(2024, 2, 29), 12)
    assert visit_told(visit_of(old, date(2025, 2, 28)), [old])[0] == (
        "This visit of 28 February 2025 was made under the warranty of job larkspur-walk, which runs from "
        "29 February 2024 to the end of 28 February 2025. It does not start that warranty again."
    )
    assert visit_told(visit_of(old, date(2025, 3, 3)), [old])[0] == (
        "This visit of 3 March 2025 was not made under the warranty of job larkspur-walk: that ended with "
        "28 February 2025, 3 days before it. It does not start that warranty again."
    )


def test_new_work_has_a_term_of_its_own_only_where_the_firm_says_so(job: Job) -> None:
    assert added_span(visit_of(job, date(2026, 8, 31))) is None
    visit = visit_of(job, date(2026, 8, 31), callback_months=6)
    assert added_span(visit) == Span(date(2026, 8, 31), date(2027, 2, 28))
    told = "What we newly put in on this visit has a warranty of its own for 6 months, to the end of 28 February 2027."
    assert visit_told(visit, [job])[1] == told


@pytest.fixture
def visit(closeout: Closeout) -> Closeout:
    """A visit of a year later, to a job that left out an existing basin, a planned outlet and an existing run."""
    record = lying_there(closeout.record, "from larkspur-walk")
    job = visit_of(closeout.job, date(2027, 5, 14), callback_months=3)
    return closeout.model_copy(update={"job": job, "record": record, "findings": [], "photos": [], "former": closeout})


def test_a_visit_has_the_dates_of_the_first_job_and_never_its_own(visit: Closeout) -> None:
    given = terms(visit)
    assert (given.start, given.end, given.months) == (date(2026, 5, 14), date(2028, 5, 14), 24)
    assert given.added == Span(date(2027, 5, 14), date(2027, 8, 14))
    assert "under the warranty of job larkspur-walk" in given.visit[0]


def test_a_visit_of_a_visit_leads_back_to_the_first_job(visit: Closeout) -> None:
    job = visit.job.model_copy(update={"name": "again", "callback_of": "back", "day": date(2028, 5, 15)})
    given = terms(visit.model_copy(update={"job": job, "former": visit}))
    assert (given.start, given.end) == (date(2026, 5, 14), date(2028, 5, 14))
    assert "that ended with 14 May 2028, 1 day before it" in given.visit[0]


def test_new_work_of_a_visit_between_counts_while_its_term_runs(job: Job) -> None:
    old = old_job(job, date(2024, 5, 14), 24)
    first = visit_of(old, date(2026, 4, 1), callback_months=24)
    for on, told in ((date(2026, 9, 1), 3), (date(2028, 4, 2), 2)):
        lines = visit_told(visit_of(old, on), [first, old])
        assert len(lines) == told
        assert ("is under its own warranty to the end of 1 April 2028" in lines[1]) is (told == 3)


def test_a_job_that_is_no_visit_says_nothing_of_one(closeout: Closeout) -> None:
    assert (terms(closeout).visit, terms(closeout).added) == ([], None)


def test_a_visit_to_a_job_that_is_gone_is_one_line(visit: Closeout) -> None:
    with pytest.raises(FallbookError) as told:
        terms(visit.model_copy(update={"former": None}))
    assert str(told.value) == (
        "back: job larkspur-walk, which it is a visit to, cannot be read any more, so its warranty cannot be told; "
        "bring larkspur-walk back, or say that this is no visit: fallbook amend back callback-of none"
    )


def test_what_we_built_before_is_not_left_out_as_found_and_what_was_left_out_stays_so(visit: Closeout) -> None:
    assert visit.record.subject("R-2").state == "existing"  # type: ignore[union-attr]
    outs = terms(visit).job_excludes
    assert [(out.what, out.job) for out in outs] == [
        ("Catch basin CB-2 (existing, kept)", "larkspur-walk"),
        ("Pop-up outlet OUT-2 (planned, not built)", "larkspur-walk"),
        ("Run R-3 (existing, kept)", "larkspur-walk"),
        ("Standing water at CB-2", "larkspur-walk"),
    ]


def test_what_the_visit_built_at_last_is_left_out_no_more(visit: Closeout) -> None:
    visit.record.structures.append(Structure(label="OUT-2", kind="popup_outlet", state="installed"))
    assert "Pop-up outlet OUT-2 (planned, not built)" not in [out.what for out in terms(visit).job_excludes]


@pytest.mark.parametrize(("at", "left_out"), [("R-2", False), ("R-3", True), (None, True)])
def test_what_ails_what_we_built_before_is_ours_on_the_visit_too(
    visit: Closeout, at: str | None, left_out: bool
) -> None:
    visit.record.issues.append(Issue(kind="blockage", at=at, action="left", text="blocked"))
    assert any(out.what.startswith("Blockage") for out in terms(visit).job_excludes) is left_out


def test_what_the_visit_met_and_kept_is_left_out_beside_it(visit: Closeout) -> None:
    visit.record.runs.append(Run(label="R-9", state="existing"))
    assert ("Run R-9 (existing, kept)", "back") in [(out.what, out.job) for out in terms(visit).job_excludes]


def test_a_warranty_that_ended_before_a_later_job_at_the_place_is_not_lengthened_by_it(job: Job) -> None:
    early, late = old_job(job, date(2024, 2, 29), 12), old_job(job, date(2025, 3, 1), 6)
    assert span(early).end < span(late).start
    assert (span(early).end, span(late).end) == (date(2025, 2, 28), add_months(date(2025, 3, 1), 6))
    assert not span(early).covers(date(2025, 3, 1))
    assert span(late).covers(date(2025, 9, 1))


def test_an_empty_record_leaves_out_nothing(visit: Closeout, closeout: Closeout) -> None:
    empty = closeout.model_copy(update={"record": Record(), "findings": [], "photos": []})
    assert terms(visit.model_copy(update={"record": Record(), "former": empty})).job_excludes == []


def test_the_client_s_copy_of_a_visit_starts_no_warranty_again(visit: Closeout) -> None:
    made = for_client(visit)
    text = "\n".join(each.text for each in Document(io.BytesIO(document(made, draw(gather(made))))).paragraphs)
    assert text.count("It does not start that warranty again.") == 2
    assert "The warranty starts" not in text
    assert "Your new drain" not in text
