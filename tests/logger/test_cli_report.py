"""The commands that hand something over: the report for its readers, warranties, visits to old jobs."""

from __future__ import annotations

import json
import sqlite3

import pytest
from conftest import new
from docx import Document

from logger import cli
from reports.closeout import READERS


def test_the_readers_of_a_report_are_those_that_there_are():
    assert cli.READERS == READERS


def test_the_client_s_copy_waits_until_what_it_shows_is_settled(fallbook, job, tmp_path):
    fallbook(
        "say", job, "Run one is in, maybe 40 feet of four inch SDR 35, from basin one to basin two.", "--at", "10:00"
    )
    path = tmp_path / "r.docx"
    code, out, err = fallbook("report", job, "-o", path)
    assert (code, out) == (1, "")
    lines = err.splitlines()
    assert lines[0].startswith("  Run R-1, length: ")
    assert f"fallbook: {job}: {len(lines) - 1} points to settle before the client's copy" in lines[-1]
    assert not path.exists()
    code, out, err = fallbook("report", job, "-o", path, "--draft")
    assert (code, out.splitlines()[0], err) == (0, str(path), "")
    assert path.exists()


def test_the_locate_sheet_that_waits_is_called_by_its_name(fallbook, job, tmp_path):
    fallbook("say", job, "Run one is in, maybe 40 feet of SDR 35, from basin one to basin two.", "--at", "10:00")
    code, _, err = fallbook("report", job, "--for", "locate", "-o", tmp_path / "r.docx")
    assert code == 1
    assert "to settle before the locate sheet; answer" in err
    assert "client's copy" not in err


def read(path):
    return "\n".join(each.text for each in Document(path).paragraphs)


def test_the_client_s_copy_its_calendar_and_the_locate_sheet_come_in_spanish(fallbook, job, tmp_path):
    fallbook(
        "say", job, "Basin one and the pop-up are set. Run one is in from basin one to the pop-up.", "--at", "10:00"
    )
    path, sheet = tmp_path / "r.docx", tmp_path / "l.docx"
    code, out, err = fallbook("report", job, "--language", "es", "--draft", "-o", path)
    assert (code, err) == (0, "")
    assert "Su drenaje nuevo" in read(path)
    assert fallbook("report", job, "--for", "locate", "--language", "es", "--draft", "-o", sheet)[0] == 0
    assert "Dónde está el drenaje" in read(sheet)


def test_what_stands_in_the_way_is_told_in_english_to_whoever_types_the_command(fallbook, job, tmp_path):
    fallbook("say", job, "Run one is in, maybe 40 feet, from basin one to basin two.", "--at", "10:00")
    asked = ["report", job, "-o", tmp_path / "r.docx"]
    assert fallbook(*asked, "--language", "es") == fallbook(*asked)
    assert fallbook(*asked, "--language", "es", "--draft")[0] == 0
    assert "Tramo R-1, largo: se está confirmando" in read(tmp_path / "r.docx")


def test_the_record_in_spanish_is_refused_in_one_line(fallbook, job, tmp_path):
    path = tmp_path / "r.docx"
    assert fallbook("report", job, "--for", "record", "--language", "es", "-o", path) == (
        2,
        "",
        "fallbook: the record is written in English alone; leave --language out, or ask --for client or locate\n",
    )
    assert not path.exists()


def test_the_company_file_says_what_its_clients_read(fallbook, company, tmp_path):
    spanish = tmp_path / "spanish.toml"
    spanish.write_text('language = "es"\n' + company.read_text())
    new(fallbook, spanish, "patio")
    for options, head in (([], "Su drenaje nuevo"), (["--language", "en"], "Your new drain")):
        fallbook("report", "patio", *options, "--draft", "-o", tmp_path / "r.docx")
        assert head in read(tmp_path / "r.docx")
    fallbook("report", "patio", "--for", "record", "-o", tmp_path / "r.docx")
    assert "Drainage close-out report" in read(tmp_path / "r.docx")


def test_report_counts_a_failed_check_that_is_accepted_as_accepted(fallbook, job, tmp_path):
    fallbook("say", job, "Run one is in, 40 feet, from basin one to basin two.", "--at", "10:00")
    path = tmp_path / "r.docx"
    before = "0 questions open; of the checks 2 fail and 1 needs attention"
    assert fallbook("report", job, "--for", "record", "-o", path)[1].splitlines()[-1] == before
    fallbook("accept", job, "CB-2", "the way on is another crew's")
    one = "0 questions open; of the checks 1 fails, 1 is accepted and 1 needs attention"
    assert fallbook("report", job, "--for", "record", "-o", path)[1].splitlines()[-1] == one
    fallbook("accept", job, "CB-1", "the way on is another crew's")
    both = "0 questions open; of the checks 0 fail, 2 are accepted and 1 needs attention"
    assert fallbook("report", job, "--for", "record", "-o", path)[1].splitlines()[-1] == both


def test_a_visit_takes_all_but_its_day_from_the_old_job_and_says_where_it_stands(fallbook, job):
    fallbook("say", job, "Run one is in, 34 feet, from basin one to basin two.", "--at", "10:00")
    assert fallbook("new", "back", "--callback-of", job, "--day", "2027-05-14") == (
        0,
        "back: started, 2027-05-14, UTC-05:00. Next: fallbook take back FILES\n"
        "This visit of 14 May 2027 was made under the warranty of job front-walk, which runs from 14 May 2026 to the "
        "end of 14 May 2027. It does not start that warranty again.\n"
        "What we did on this visit has no warranty of its own.\n",
        "",
    )
    fallbook("say", "back", "Run one was blocked with roots, we cleared it.", "--at", "10:00")
    code, out, err = fallbook("show", "back")
    assert (code, err) == (0, "")
    assert out.splitlines()[0] == "back: A. Client, 1 Larch Walk, 14 May 2027 (UTC-05:00)"
    assert "was made under the warranty of job front-walk" in out
    assert "R-1    existing  from CB-1, to CB-2, length 34 ft" in out


@pytest.mark.parametrize(
    ("words", "code", "line"),
    [
        (["new", "back", "--callback-of", "gone"], 1, "no job 'gone'; those there are: front-walk\n"),
        (["new", "--callback-of=front-walk"], 2, "Missing argument 'JOB'. (see: fallbook new --help)\n"),
        (["new", "back"], 2, "Missing '--client', '--address' and '--company'. (see: fallbook new --help)\n"),
        (
            ["new", "back", "--callback-of", "front-walk", "--client", " "],
            2,
            "the client is empty; say it with --client\n",
        ),
    ],
)
def test_a_visit_that_cannot_be_started_is_one_line(fallbook, job, words, code, line):
    assert fallbook(*words) == (code, "", f"fallbook: {line}")


def test_an_old_job_that_is_gone_costs_a_visit_one_line(fallbook, job):
    fallbook("new", "back", "--callback-of", job, "--day", "2027-05-14")
    fallbook("remove", job)
    code, out, err = fallbook("show", "back")
    assert (code, out.splitlines()[0]) == (0, "back: A. Client, 1 Larch Walk, 14 May 2027 (UTC-05:00)")
    told = "what it left there, and its warranty, cannot be told"
    assert err == f"fallbook: {job}: this job was removed; bring it back with: fallbook remove {job} --undo; {told}\n"
    code, out, err = fallbook("report", "back", "--draft")
    assert (code, out) == (1, "")
    assert err == (
        f"fallbook: back: job {job}, which it is a visit to, cannot be read any more, so its warranty cannot be told; "
        f"bring {job} back, or say that this is no visit: fallbook amend back callback-of none\n"
    )


def test_warranty_lists_what_is_in_force_and_how_to_claim(fallbook, job, company):
    new(fallbook, company, "back-yard", address="9 Quillbark St.", day="2025-06-20")
    assert fallbook("warranty", "--on", "2026-06-01") == (
        0,
        "job         address          client     from          last day      left\n"
        "back-yard   9 Quillbark St.  A. Client  20 June 2025  20 June 2026  19 days\n"
        "front-walk  1 Larch Walk     A. Client  14 May 2026   14 May 2027   347 days\n"
        "How to claim: Call us. Sedgeway Drainage, 555-0100, yard@sedgeway.example\n",
        "",
    )
    at = fallbook("warranty", "9", "quillbark", "street", "--on", "2026-06-21")[1]
    assert "back-yard  9 Quillbark St.  A. Client  20 June 2025  20 June 2026  ended 1 day ago" in at
    comes = fallbook("warranty", "--on", "2026-06-01", "--within", "20")[1]
    assert "347 days  summer care 1 June 2026" in comes
    assert "19 days   summer care 1 June 2026; last day 20 June 2026" in comes


def test_warranty_prints_the_same_as_data(fallbook, job):
    code, out, err = fallbook("warranty", "larch", "--on", "2026-06-01", "--within", "0", "--json")
    assert (code, err) == (0, "")
    (shape,) = json.loads(out)
    assert (shape["job"], shape["end"], shape["days_left"]) == ("front-walk", "2027-05-14", 347)
    assert shape["due"] == [{"day": "2026-06-01", "what": "summer care"}]
    assert fallbook("warranty", "elsewhere", "--json") == (0, "[]\n", "")


@pytest.mark.parametrize(
    ("words", "code", "line"),
    [
        (["elsewhere"], 0, "no job at elsewhere\n"),
        (["--on", "2020-01-01"], 0, "no warranty is in force on 1 January 2020\n"),
        (["--on", "2026-06-02", "--within", "9"], 0, "nothing lapses or is due within 9 days of 2 June 2026\n"),
        (
            ["larch", "--on", "2026-06-02", "--within", "1"],
            0,
            "nothing at larch lapses or is due within 1 day of 2 June 2026\n",
        ),
        (["--on", "soon"], 2, "fallbook: 'soon' is no day of this work; write the day as 2026-05-14\n"),
        (["--on", "2026-02-29"], 2, "fallbook: '2026-02-29' is no day of this work; write the day as 2026-05-14\n"),
        (["."], 2, "fallbook: no address to look for; give a house number and a street, or a word of them\n"),
    ],
)
def test_warranty_says_in_one_line_that_there_is_nothing(fallbook, job, words, code, line):
    assert fallbook("warranty", *words) == (code, "", line)


def test_warranty_names_a_job_that_cannot_be_read_and_lists_the_rest(fallbook, job, company, tmp_path):
    new(fallbook, company, "back-yard")
    with sqlite3.connect(tmp_path / "library" / "library.db") as conn:
        conn.execute("UPDATE jobs SET day = '2026-05-15' WHERE name = 'back-yard'")
    code, out, err = fallbook("warranty", "--on", "2026-06-01")
    assert (code, out.splitlines()[1].split()[0], len(out.splitlines())) == (0, "front-walk", 3)
    assert err == "fallbook: back-yard: what the library holds of this job is damaged; run: fallbook restore DIR\n"


SETTLED = (
    "Outlet one is a pop-up, it is set. Basin one is set. Run one is in, 40 feet, from basin one to outlet one, "
    "four inch SDR 35, drop 10 inches."
)


def test_a_settled_report_has_the_clients_calendar_beside_it_and_a_draft_has_none(fallbook, job, tmp_path):
    fallbook("say", job, SETTLED, "--at", "10:00")
    code, out, err = fallbook("report", job, "-o", tmp_path / "r.docx")
    assert code == 0
    assert str(tmp_path / "r-care.ics") in out.splitlines()
    made = (tmp_path / "r-care.ics").read_bytes()
    assert made.startswith(b"BEGIN:VCALENDAR\r\n")
    assert b"DTSTART;VALUE=DATE:20270514" in made  # the warranty's last day
    fallbook("report", job, "-o", tmp_path / "again.docx")
    assert (tmp_path / "again-care.ics").read_bytes() == made
    assert fallbook("report", job, "--for", "record", "-o", tmp_path / "record.docx")[0] == 0
    fallbook("say", job, "Run two is in.", "--at", "10:05")
    assert fallbook("report", job, "-o", tmp_path / "draft.docx", "--draft")[0] == 0
    assert sorted(path.name for path in tmp_path.glob("*.ics")) == ["again-care.ics", "r-care.ics"]


def test_a_calendar_that_cannot_be_written_is_one_line(fallbook, job, tmp_path):
    fallbook("say", job, SETTLED, "--at", "10:00")
    (tmp_path / "r-care.ics").mkdir()
    code, out, err = fallbook("report", job, "-o", tmp_path / "r.docx")
    assert (code, out) == (1, "")
    assert err.startswith(f"fallbook: {tmp_path / 'r.docx'}: cannot be written (Is a directory)")
    assert not (tmp_path / "r.docx").exists()


def test_what_an_earlier_report_left_beside_it_goes_and_nothing_else(fallbook, job, tmp_path):
    fallbook("say", job, SETTLED, "--at", "10:00")
    old = ["r.pdf", "r-care.ics", "r-schematic.png", "r-profile-9.png"]
    others = ["r2.pdf", "r-photo.png", "my-r.pdf", "r-2-plan.png"]
    for name in [*old, *others]:
        (tmp_path / name).write_bytes(b"old")
    code, out, _ = fallbook("report", job, "--draft", "--for", "locate", "-o", tmp_path / "r.docx")
    assert code == 0
    left = {path.name for path in tmp_path.iterdir() if path.is_file() and path.read_bytes() == b"old"}
    assert left & {*old, *others} == set(others)
    assert all((tmp_path / line).exists() for line in out.splitlines() if line.endswith((".docx", ".png")))


# -- without a library
