"""The main job from end to end: the sample day, heard by the real model, becomes a record, findings and a report."""

import io
import json
import re
import shutil
import sys
import tomllib
from pathlib import Path

import pytest
from docx import Document
from scoring import f1, facts

from logger.cli import run

sys.path.append(str(Path(__file__).parent / "logger" / "page"))

from browser import Served, chromium, join, needs_chromium  # noqa: E402

SAMPLES = Path(__file__).parent.parent / "sample_logs"
JOB = "quillbark-walk"

MOST = 20
"""Questions, and checks that fail: the day leaves fewer."""

pytestmark = pytest.mark.model


@pytest.fixture(scope="module")
def day(tmp_path_factory):
    """A library that holds the sample day, taken in and heard once."""
    library = tmp_path_factory.mktemp("day")
    command = ["--library", str(library)]
    new = ["new", JOB, "--client", "Ina Wexcombe", "--address", "27 Quillbark Row", "--day", "2026-09-15"]
    assert run([*command, *new, "--zone=-06:00", "--company", str(SAMPLES / "company.toml")]) == 0
    assert run([*command, "take", JOB, str(SAMPLES / "day")]) == 0
    return command


@pytest.fixture(scope="module")
def record(day):
    from logger.book import Book
    from logger.store import open_store

    with open_store(Path(day[1])) as store:
        return Book(store, JOB).record.as_json()


def test_the_day_becomes_the_record_it_should(record):
    expected = json.loads((SAMPLES / "expected.json").read_text())
    assert f1(facts(record), facts(expected)) >= 0.95


def test_no_wrong_number_goes_unasked(record):
    expected = facts(json.loads((SAMPLES / "expected.json").read_text()))
    asked = {(q["about"].split(" ")[0], q.get("field")) for q in record["questions"]}
    wrong = [fact for fact in facts(record) - expected if re.search(r"\d", fact[2])]
    assert [(label, name, value) for label, name, value in wrong if (label.split(" ")[0], name) not in asked] == []


def test_the_checks_find_what_the_crew_got_wrong(day, capsys):
    mistakes = tomllib.loads((SAMPLES / "mistakes.toml").read_text())
    about = {mistake["subject"] for mistake in mistakes["mistake"]}
    assert run([*day, "show", JOB]) == 0
    shown = capsys.readouterr().out
    assert about
    assert all(re.search(rf"^fail\s+{label}\b", shown, re.M) for label in about)


def test_a_figure_leads_back_to_its_note_its_second_and_its_photo(day, capsys):
    run([*day, "show", JOB, "R-2"])
    trail = capsys.readouterr().out
    note = re.search(r"length\s+26 ft.*?note:(\d+), [\d:]+, pocket\.m4a at (\d+:\d\d)", trail)
    photo = re.search(r"photo:(\d+)", trail)
    assert note
    assert photo
    run([*day, "show", JOB, f"note:{note[1]}"])
    assert note[2] in capsys.readouterr().out
    assert run([*day, "show", JOB, f"photo:{photo[1]}"]) == 0


def test_the_report_is_a_word_file_with_its_drawings(day, tmp_path):
    path = tmp_path / "closeout.docx"
    assert run([*day, "report", JOB, "--for", "record", "-o", str(path)]) == 0
    headings = [p.text for p in Document(str(path)).paragraphs if p.style.name.startswith("Heading 1")]
    assert len(headings) >= 10
    assert (tmp_path / "closeout-plan.png").stat().st_size > 10_000
    assert (tmp_path / "closeout-profile.png").stat().st_size > 10_000


ANSWERS = {
    ("CD-1", "size_in"): ("5 inch", "Channel one is five inches wide."),
    ("CD-1", "length_ft"): ("8 feet", "Channel one is eight feet long."),
    ("R-1", "nominal_in"): ("three inch", "Run one is three-inch pipe."),
    ("R-1", "length_ft"): ("8 feet", "Run one is eight feet long."),
    ("R-1", "cover_in"): ("8 inches", "Cover on run one is eight inches."),
    ("R-2", "cover_in"): ("12 inches", "Cover on run two is twelve inches."),
    ("R-3", "length_ft"): ("31 feet", "Run three is thirty-one feet long."),
    ("R-3", "cover_in"): ("12 inches", "Cover on run three is twelve inches."),
    ("R-4", "nominal_in"): ("three inch", "Run four is three inch."),
    ("R-4", "length_ft"): ("12 feet 6", "Run four is twelve feet six inches long."),
    ("R-4", "cover_in"): ("11 inches", "Cover on run four is eleven inches."),
    ("R-5", "cover_in"): ("9 inches", "Cover on run five is nine inches."),
    ("CB-1", "size_in"): ("12 by 12", "Basin one is twelve by twelve."),
    ("CB-2", "size_in"): ("12 by 12", "Basin two is twelve by twelve."),
    ("CB-3", "size_in"): ("nine inch round", "Basin three is nine-inch round."),
    ("OUT-1", "size_in"): ("4 inch", "Outlet one is four inch."),
    ("R-2", "nominal_in"): ("yes", "Run two is four inch."),
    ("R-2", "length_ft"): ("26 feet", "Run two is twenty-six feet long."),
    ("R-2", "fittings"): ("two 45s", "Run two has two 45s."),
    ("R-3", "nominal_in"): ("four inch", "Run three is four inch."),
    ("R-4", "fittings"): ("two 90 degree elbows", "Yes, two 90s on run four."),
    ("R-5", "length_ft"): ("53 feet", "Run five is fifty-three feet long."),
    ("R-5", "nominal_in"): ("4 inch", "Run five is four inch."),
    ("CB-1 invert_in", "rod_ft"): ("5.99", "Basin one invert in, foresight 5.99."),
    ("benchmark", "rod_ft"): ("4.32", "Backsight on the benchmark is 4.32. Foresight back on the benchmark is 4.32."),
}
"""To each question that the day may leave: the answer as typed to `ask`, and as a note. Which of them are asked depends
on what the recogniser hears, and that a little on the processor."""


@pytest.fixture
def copy(day, tmp_path):
    """The day in a library of this test's own, and the command that works on it."""
    shutil.copytree(day[1], tmp_path / "copy")
    return ["--library", str(tmp_path / "copy")]


def questions(command) -> list[tuple[str, str | None]]:
    from logger.ask import open_questions
    from logger.book import Book
    from logger.store import open_store

    with open_store(Path(command[1])) as store:
        book = Book(store, JOB)
        found = [(asked.question.about, asked.question.field) for asked in open_questions(book)]
        book.keep()
    return found


def answered_report(command, folder) -> str:
    assert questions(command) == []
    path = folder / "answered.docx"
    assert run([*command, "report", JOB, "--for", "record", "-o", str(path)]) == 0
    document = Document(str(path))
    cells = [cell.text for table in document.tables for row in table.rows for cell in row.cells]
    return "\n".join([paragraph.text for paragraph in document.paragraphs] + cells)


def test_every_question_is_answered_by_hand_and_no_doubt_stands_in_the_report(copy, tmp_path, monkeypatch):
    lines = "".join(f"{ANSWERS[each][0]}\n" for each in questions(copy))
    assert lines
    monkeypatch.setattr("sys.stdin", io.StringIO(lines))
    assert run([*copy, "ask", JOB]) == 0
    assert "†" not in answered_report(copy, tmp_path)


def test_every_question_is_answered_by_a_note_and_no_doubt_stands_in_the_report(copy, tmp_path):
    for each in questions(copy):
        assert run([*copy, "say", JOB, ANSWERS[each][1], "--at", "17:00"]) == 0
        assert each not in questions(copy)
    assert "†" not in answered_report(copy, tmp_path)


@needs_chromium
def test_all_is_settled_on_the_page_and_the_client_s_copy_comes_down_clean(copy, tmp_path):
    answers = tomllib.loads((SAMPLES / "answers.toml").read_text(encoding="utf-8"))
    served = Served(Path(copy[1]))
    with chromium() as browser:
        page = browser.new_page(viewport={"width": 360, "height": 800}, accept_downloads=True)
        join(page, served, JOB)
        page.goto(f"{served.root}/jobs/{JOB}/questions")
        for name, words in (("Another figure", None), ("Why it is left as it is", "agreed with the owner")):
            for _ in range(MOST):
                field = page.get_by_label(name).first
                if not field.count():
                    break
                field.fill(words or answers[page.locator("h1").inner_text()])
                with page.expect_navigation():
                    page.keyboard.press("Enter")
        assert questions(copy) == []
        page.goto(f"{served.root}/jobs/{JOB}/closeout")
        with page.expect_download() as coming:
            page.get_by_role("link", name="The client's copy", exact=True).first.click()
        coming.value.save_as(tmp_path / "client.docx")
    served.stop()
    made = Document(str(tmp_path / "client.docx"))
    cells = [cell.text for table in made.tables for row in table.rows for cell in row.cells]
    text = "\n".join([*(each.text for each in made.paragraphs), *cells])
    assert "Your new drain" in text
    assert not set(text) & set("†‡")
    assert "DRAFT" not in text
    assert "agreed with the owner" in text
