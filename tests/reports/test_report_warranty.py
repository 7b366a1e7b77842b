from __future__ import annotations

from datetime import date

import pytest

from extract.check import check
from extract.record import Acceptance, Evidence, Issue, IssueKind, Level, Record, Run, Structure
from reports.job import Closeout, Photo
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
        (date(2024, 2, 29), 24, date(2026, 2, 28)),
        (date(2024, 2, 29), 36, date(2027, 2, 28)),
        (date(2026, 8, 31), 6, date(2027, 2, 28)),
        (date(2027, 8, 31), 6, date(2028, 2, 29)),
        (date(2027, 2, 28), 12, date(2028, 2, 28)),
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


def photo(about: str, backfill: str) -> Photo:
    return Photo(
        number=1, sha256="0" * 64, name="a.jpg", taken_at=None, time_source="none", about=about, backfill=backfill
    )


BASIN = Structure(label="CB-2", kind="catch_basin")


@pytest.mark.parametrize(
    ("record", "photos", "left_out"),
    [
        (Record(structures=[BASIN]), [], True),
        (Record(structures=[BASIN], runs=[Run(label="R-1", state="installed", to="CB-2")]), [], False),
        (Record(structures=[BASIN], runs=[Run(label="R-1", state="installed", from_="CB-2")]), [], False),
        (Record(structures=[BASIN], runs=[Run(label="R-1", state="planned", to="CB-2")]), [], True),
        (Record(structures=[BASIN], levels=[Level(point="CB-2 rim", kind="foresight", rod_ft=4.85)]), [], False),
        (Record(structures=[BASIN], levels=[Level(point="CB-1 rim", kind="foresight", rod_ft=4.85)]), [], True),
        (Record(structures=[BASIN]), [photo("CB-2", "after")], False),
        (Record(structures=[BASIN]), [photo("CB-2", "before")], True),
        (Record(structures=[BASIN]), [photo("CB-1", "after")], True),
    ],
)
def test_a_basin_that_nobody_called_built_is_covered_where_something_shows_it(
    record: Record, photos: list[Photo], left_out: bool
) -> None:
    outs = [out.what for out in job_exclusions(record, photos=photos) if "CB-2" in out.what]
    assert outs == (["Catch basin CB-2 (state not recorded)"] if left_out else [])


@pytest.mark.parametrize("state", ["planned", "existing", "abandoned"])
def test_what_was_said_of_a_basin_stands_over_what_its_run_shows(state: str) -> None:
    record = Record(
        structures=[BASIN.model_copy(update={"state": state})], runs=[Run(label="R-1", state="installed", to="CB-2")]
    )
    assert len(job_exclusions(record)) == 1


def test_each_exclusion_of_a_job_leads_back_to_its_notes(closeout: Closeout) -> None:
    outs = terms(closeout).job_excludes
    assert [[each.note for each in out.evidence] for out in outs] == [[16], [2], [16], [16]]
    assert {out.job for out in outs} == {"larkspur-walk"}


def accepted_record(check_name: str) -> Record:
    said = [Evidence(note=3, quote="so", confidence=1, field=name) for name in ("cover_in", "traffic", "drop_in")]
    run = Run(
        label="R-1", from_="CB-1", to="CB-2", state="installed", nominal_in=4, pipe="SDR 35", length_ft=100,
        drop_in=1, cover_in=4, traffic="truck", evidence=said,
    )  # fmt: skip
    failed = next(each for each in check(Record(runs=[run])) if each.check == check_name)
    assert failed.outcome == "fail"
    by_hand = Evidence(note=9, quote=failed.message, confidence=1)
    given = Acceptance(finding=check_name, about="R-1", text="the owner wants no ramp.", evidence=[by_hand])
    return Record(runs=[run], acceptances=[given])


@pytest.mark.parametrize(
    ("check_name", "what", "why"),
    [
        (
            "cover",
            "Shallow cover over run R-1",
            "It has less than is asked for over it, and was left so: the owner wants no ramp. "
            "We do not answer for what comes of that.",
        ),
        (
            "min_slope",
            "Flat slope of run R-1",
            "It falls less than is asked for, and was left so: the owner wants no ramp. "
            "We do not answer for what comes of that.",
        ),
    ],
)
def test_shallow_cover_and_flat_slope_that_the_firm_accepted_are_left_out(check_name: str, what: str, why: str) -> None:
    record = accepted_record(check_name)
    (out,) = job_exclusions(record, check(record))
    assert (out.what, out.why) == (what, why)
    assert {each.note for each in out.evidence} == {3, 9}


def test_an_answer_to_other_figures_or_to_another_check_leaves_nothing_out() -> None:
    record = accepted_record("cover")
    findings = check(record)
    record.runs[0].cover_in = 5
    assert job_exclusions(record, check(record)) == []
    record.acceptances[0].finding = "reaches_outlet"
    assert job_exclusions(record, findings) == []


def test_the_clients_copy_which_has_no_findings_leaves_out_what_was_accepted_too(closeout: Closeout) -> None:
    bare = closeout.model_copy(update={"record": accepted_record("cover"), "findings": []})
    assert [out.what for out in terms(bare).job_excludes] == ["Shallow cover over run R-1"]
