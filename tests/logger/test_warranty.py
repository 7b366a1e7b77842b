"""Which warranties are in force, lapse or are due for care, over all jobs."""

import time
from datetime import date, timedelta

import pytest

from extract.errors import UsageError
from logger import changes, jobs, warranty
from logger.book import Book
from logger.store import Store, open_store
from logger.warranty import standings

ON = date(2026, 6, 1)


@pytest.fixture
def store(tmp_path):
    with open_store(tmp_path / "library", create=True) as opened:
        yield opened


@pytest.fixture
def new(store, company):
    """Start a job of a year's warranty: its name, its day and its address."""

    def start(name: str, day: str, address: str = "2 Tarn Lane", months: int = 12, **more: str) -> None:
        text = company.read_text().replace("workmanship_months = 12", f"workmanship_months = {months}")
        (company.parent / f"{months}.toml").write_text(text)
        given = {"client": "A. Client", "address": address, "company": str(company.parent / f"{months}.toml")}
        given = more if "callback_of" in more else given
        jobs.new(store, name, day=date.fromisoformat(day), zone="-05:00", **given)

    return start


def names(found):
    return [each.job.name for each in found]


# -- in force on a day


@pytest.mark.parametrize(
    ("day", "months", "on", "left"),
    [
        ("2024-02-29", 12, date(2024, 2, 29), 365),
        ("2024-02-29", 12, date(2025, 2, 28), 0),
        ("2024-02-29", 12, date(2025, 3, 1), None),
        ("2024-02-29", 24, date(2026, 2, 28), 0),
        ("2024-02-29", 36, date(2027, 2, 28), 0),
        ("2024-02-29", 36, date(2027, 3, 1), None),
        ("2024-02-29", 48, date(2028, 2, 29), 0),
        ("2026-08-31", 6, date(2027, 2, 28), 0),
        ("2026-08-31", 6, date(2027, 3, 1), None),
        ("2026-06-02", 12, ON, None),
        ("2026-05-14", 12, ON, 347),
    ],
)
def test_a_warranty_is_in_force_from_the_day_of_the_job_to_its_last_day(store, new, day, months, on, left):
    new("walk", day, months=months)
    found, lines = standings(store, on)
    assert ([each.days_left for each in found], lines) == ([] if left is None else [left], [])


def test_the_first_to_end_comes_first(store, new):
    new("long", "2026-01-01", months=36)
    new("short", "2026-05-01", months=6)
    new("gone", "2020-01-01")
    assert names(standings(store, ON)[0]) == ["short", "long"]


def test_each_says_how_to_claim_its_dates_and_the_days_left(store, new):
    new("walk", "2025-06-10")
    (shape,) = [each.shape for each in standings(store, ON)[0]]
    assert shape == {
        "job": "walk", "client": "A. Client", "address": "2 Tarn Lane", "what": "warranty", "callback_of": None,
        "start": "2025-06-10", "end": "2026-06-10", "in_force": True, "days_left": 9, "how_to_claim": "Call us.",
        "respond_days": None, "told": [], "due": [],
    }  # fmt: skip


@pytest.mark.parametrize(
    ("on", "left"),
    [
        (date(2025, 6, 8), "starts in 2 days"),
        (date(2025, 6, 10), "365 days"),
        (date(2026, 6, 9), "1 day"),
        (date(2026, 6, 10), "this is the last day"),
        (date(2026, 6, 11), "ended 1 day ago"),
    ],
)
def test_what_is_left_is_told_in_words(store, new, on, left):
    new("walk", "2025-06-10")
    assert [each.left for each in standings(store, on, "tarn")[0]] == [left]


def test_a_removed_job_has_no_warranty_and_a_corrected_day_counts(store, new):
    new("walk", "2026-05-14")
    new("gone", "2026-05-14")
    changes.remove(store, "gone")
    changes.amend(store, "walk", "day", "2026-05-20")
    assert [(each.job.name, each.span.end) for each in standings(store, ON)[0]] == [("walk", date(2027, 5, 20))]


# -- at an address


@pytest.mark.parametrize(
    "asked",
    ["27 Quillbark Street", "27 quillbark st", " 27  QUILLBARK  St. ", "Quillbark St, 27", "quillbark", "27 n oxholt",
     "27 Quillbark Street, North Oxholt", "27 Quíllbark"],
)  # fmt: skip
def test_an_address_is_found_whatever_its_case_spaces_and_abbreviations(store, new, asked):
    new("walk", "2026-05-14", "27 Quillbark Street, N. Oxholt")
    new("other", "2026-05-14", "7 Larch Road")
    assert names(standings(store, ON, asked)[0]) == ["walk"]


@pytest.mark.parametrize("asked", ["7 Quillbark Street", "27 Quillbark Road", "27 Larch", "270"])
def test_another_address_is_not(store, new, asked):
    new("walk", "2026-05-14", "27 Quillbark Street")
    assert standings(store, ON, asked) == ([], [])


def test_an_address_with_no_word_is_refused(store):
    with pytest.raises(UsageError, match="no address to look for"):
        standings(store, ON, " , -")


def test_at_an_address_stand_those_that_ended_too_each_with_its_own_term(store, new):
    new("early", "2024-02-29")
    new("late", "2025-03-01", months=6)
    assert [
        (each.job.name, each.span.end, each.left) for each in standings(store, date(2025, 3, 2), "2 tarn ln")[0]
    ] == [
        ("early", date(2025, 2, 28), "ended 2 days ago"),
        ("late", date(2025, 9, 1), "183 days"),
    ]
    assert names(standings(store, date(2025, 3, 2))[0]) == ["late"]


# -- what comes


def test_what_lapses_or_is_due_for_care_within_some_days_comes_first_first(store, new):
    new("lapses", "2025-06-10")
    new("both", "2025-06-01")
    new("later", "2026-05-20")
    found, _ = standings(store, date(2026, 5, 25), within=16)
    assert [(each.job.name, each.due) for each in found] == [
        ("both", [(date(2026, 6, 1), "last day"), (date(2026, 6, 1), "summer care")]),
        ("lapses", [(date(2026, 6, 1), "summer care"), (date(2026, 6, 10), "last day")]),
        ("later", [(date(2026, 6, 1), "summer care")]),
    ]
    assert [each.due for each in standings(store, date(2026, 6, 2), within=7)[0]] == []
    assert names(standings(store, date(2026, 6, 2), within=8)[0]) == ["lapses"]


def test_within_no_days_is_that_day_alone(store, new):
    new("walk", "2025-06-10")
    assert [each.due for each in standings(store, date(2026, 6, 10), within=0)[0]] == [
        [(date(2026, 6, 10), "last day")]
    ]
    assert [each.due for each in standings(store, date(2026, 6, 1), within=0)[0]] == [
        [(date(2026, 6, 1), "summer care")]
    ]


def test_on_the_day_of_the_work_no_care_is_due_and_none_after_the_end(store, new):
    new("walk", "2026-06-01", months=2)
    assert [each.due for each in standings(store, ON, within=365)[0]] == [[(date(2026, 8, 1), "last day")]]


# -- visits


def test_a_visit_has_no_warranty_in_force_of_its_own(store, new):
    new("walk", "2026-05-14")
    new("back", "2026-05-30", callback_of="walk")
    assert names(standings(store, ON)[0]) == ["walk"]
    found, lines = standings(store, ON, "tarn")
    assert [(each.job.name, each.what, each.span.end) for each in found] == [
        ("back", "visit", date(2027, 5, 14)),
        ("walk", "warranty", date(2027, 5, 14)),
    ]
    assert found[0].told[0].startswith("This visit of 30 May 2026 was made under the warranty of job walk")
    assert lines == []


def test_new_work_of_a_visit_is_in_force_where_the_firm_gives_it_a_term(store, new, company):
    company.write_text(company.read_text().replace("[warranty]", "[warranty]\ncallback_months = 6"))
    new("walk", "2024-05-14")
    new("back", "2026-08-31", callback_of="walk")
    found, _ = standings(store, date(2027, 2, 28))
    assert [(each.job.name, each.what, each.span.end, each.days_left) for each in found] == [
        ("back", "new work of a visit", date(2027, 2, 28), 0)
    ]
    assert standings(store, date(2027, 3, 1))[0] == []


def test_a_visit_of_a_visit_leads_back_to_the_first_job(store, new):
    new("walk", "2026-05-14")
    new("back", "2026-05-30", callback_of="walk")
    new("again", "2027-05-15", callback_of="back")
    again = next(each for each in standings(store, ON, "tarn")[0] if each.job.name == "again")
    assert "not made under the warranty of job walk: that ended with 14 May 2027, 1 day before it" in again.told[0]
    assert again.span.start == date(2026, 5, 14)


def test_a_visit_to_a_job_that_is_gone_is_one_line(store, new):
    new("walk", "2026-05-14")
    new("back", "2026-05-30", callback_of="walk")
    new("again", "2026-05-31", callback_of="back")
    changes.remove(store, "walk")
    found, lines = standings(store, ON, "tarn")
    assert found == []
    assert lines == [
        f"{name}: job walk, which it leads back to, cannot be read, so its warranty cannot be told"
        for name in ("again", "back")
    ]


# -- what is damaged costs itself


@pytest.mark.parametrize(
    ("harm", "line"),
    [
        ("UPDATE jobs SET client = 'A. Glient' WHERE name = 'bad'", "what the library holds of this job is damaged"),
        ("UPDATE jobs SET company = '[' WHERE name = 'bad'", "what the library holds of this job is damaged"),
        (
            "UPDATE log SET body = replace(body, '20', '30') WHERE job = 'bad'",
            "an entry of its log that tells of the job",
        ),
        (
            "UPDATE log SET body = replace(body, 'value', 'valve') WHERE job = 'bad'",
            "an entry of its log that tells of",
        ),
    ],
)
def test_a_job_that_cannot_be_read_is_named_in_one_line_and_costs_itself(store, new, harm, line):
    for name in ("bad", "good"):
        new(name, "2026-05-14")
    changes.amend(store, "bad", "day", "2026-05-20")
    store.connection.execute("DROP TRIGGER log_not_updated")
    store.connection.execute(harm)
    found, lines = standings(store, ON)
    assert names(found) == ["good"]
    assert [each.startswith(f"bad: {line}") for each in lines] == [True]


def test_a_company_file_that_no_version_would_take_costs_its_own_job(store, new, monkeypatch):
    from logger.store import row_digest

    new("bad", "2026-05-14")
    new("good", "2026-05-14")
    row = dict(next(store.rows("SELECT name, client, address, day, zone, company FROM jobs WHERE name = 'bad'")))
    row["company"] = row["company"].replace("workmanship_months = 12", "workmanship_months = 0")
    harm = "UPDATE jobs SET company = ?, digest = ? WHERE name = 'bad'"
    store.connection.execute(harm, [row["company"], row_digest(list(row.values()))])
    found, lines = standings(store, ON)
    assert names(found) == ["good"]
    assert lines == ["bad, its company file: warranty.workmanship_months must be more than 0"]


# -- it reads the rows of the jobs alone


def test_no_note_is_read_and_hundreds_of_jobs_answer_at_once(store, new, monkeypatch):
    new("walk", "2026-05-14")
    job, text = store.job("walk"), store.job_row("walk")["company"]
    with store.writing():
        for number in range(400):
            store.add_job(job.model_copy(update={"name": f"j-{number}", "day": ON - timedelta(days=number)}), text)
        for number in range(0, 400, 10):
            changes.amend(store, f"j-{number}", "client", "B. Client")
    read = []
    monkeypatch.setattr(Book, "__init__", lambda *of, **more: read.append(of))
    monkeypatch.setattr(Store, "entries", lambda *of: read.append(of))
    began = time.process_time()
    found, lines = standings(store, ON)
    assert time.process_time() - began < 2
    assert (len(found), lines, read) == (366 + 1, [], [])


def test_the_blocks_say_how_to_claim_once_for_each_firm(store, new, company):
    new("walk", "2026-05-14")
    company.write_text(
        company.read_text().replace("Call us.", "Write to us.").replace("[warranty]", "[warranty]\nrespond_days = 1")
    )
    new("lane", "2026-05-15")
    *_, first, second = warranty.blocks(standings(store, ON)[0])
    assert (first, second) == (
        "How to claim (walk): Call us. Sedgeway Drainage, 555-0100, yard@sedgeway.example",
        "How to claim (lane): Write to us. We answer within 1 day. Sedgeway Drainage, 555-0100, yard@sedgeway.example",
    )
