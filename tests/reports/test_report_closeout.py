from __future__ import annotations

import hashlib
import io
import shutil
import subprocess
import zipfile
from datetime import date, datetime
from pathlib import Path

import matplotlib
import pytest
from docx import Document
from docx.oxml.ns import qn
from docx.table import Table
from PIL import Image, ImageFont

from extract.check import check
from extract.check.accepted import with_acceptances
from extract.errors import FallbookError
from extract.record import (
    Acceptance,
    Crossing,
    Departure,
    Evidence,
    Finding,
    FixedPoint,
    Issue,
    Purchase,
    Question,
    Record,
    Run,
    Structure,
    Tie,
)
from reports.closeout import write_closeout
from reports.job import Closeout, Photo
from reports.words import clean


def said(**notes: int) -> list[Evidence]:
    return [Evidence(note=note, quote="so it was said", confidence=1, field=field) for field, note in notes.items()]


LOGO = (Path(__file__).parents[2] / "sample_logs" / "logo.png").read_bytes()
HEADINGS = [
    "1  Summary",
    "2  What was built",
    "3  Plan and profile",
    "4  Photos",
    "5  Issues found and what was done",
    "6  Checks and open points",
    "7  Water tests",
    "8  Materials",
    "9  Care of the system",
    "10  Warranty",
    "11  Cautions",
    "12  Handover",
]


class Report:
    """A written report, opened again."""

    def __init__(self, closeout: Closeout, folder: Path) -> None:
        self.paths = write_closeout(closeout, folder / "report.docx")
        self.document = Document(str(self.paths[0]))
        self.body = self.document.element.body

    @property
    def text(self) -> str:
        return "\n".join("".join(run.text or "" for run in line.iter(qn("w:t"))) for line in self.body.iter(qn("w:p")))

    @property
    def tables(self) -> list[Table]:
        return [table for table in self.document.tables if table.style and table.style.name == "Fallbook Table"]

    def table(self, first: str) -> list[list[str]]:
        """The data table whose second column is headed so, with its header."""
        found = next(table for table in self.tables if table.rows[0].cells[1].text == first)
        return [[cell.text for cell in row.cells] for row in found.rows]

    def row(self, first: str, label: str) -> dict[str, str]:
        header, *rows = self.table(first)
        return dict(zip(header, next(row for row in rows if row[0] == label), strict=True))

    def styled(self, style: str) -> list[str]:
        found = []
        for line in self.body.iter(qn("w:p")):
            kind = line.pPr.pStyle if line.pPr is not None else None
            if kind is not None and self.document.styles[style].style_id == kind.val:
                found.append("".join(run.text or "" for run in line.iter(qn("w:t"))))
        return found


@pytest.fixture(scope="module")
def report(closeout: Closeout, tmp_path_factory: pytest.TempPathFactory) -> Report:
    return Report(closeout, tmp_path_factory.mktemp("report"))


def changed(closeout: Closeout, **parts: object) -> Closeout:
    return closeout.model_copy(update=parts)


def test_the_report_comes_first_and_its_drawings_lie_beside_it(report: Report) -> None:
    assert [path.name for path in report.paths] == ["report.docx", "report-plan.png", "report-profile.png"]
    assert sorted(path.name for path in report.paths[0].parent.iterdir()) == sorted(path.name for path in report.paths)


def test_the_sections_stand_in_order_under_real_headings(report: Report) -> None:
    assert report.styled("Heading 1") == HEADINGS


def test_the_contents_link_to_headings_that_are_there(report: Report) -> None:
    links = [link.get(qn("w:anchor")) for link in report.body.iter(qn("w:hyperlink"))]
    marks = [mark.get(qn("w:name")) for mark in report.body.iter(qn("w:bookmarkStart"))]
    assert len(links) == 12
    assert links == marks


def test_the_cover_says_who_for_whom_where_and_when(report: Report) -> None:
    text = report.text
    for words in ("Juniper & Slate Drainage", "License DC-40117", "Ada Kestrel", "77 Larkspur Walk", "14 May 2026"):
        assert words in text
    assert "1 channel drain, 1 catch basin and 1 daylight outlet, with 2 runs of buried pipe" in text


def test_every_data_table_has_a_marked_header_row_a_caption_and_no_row_cut_in_two(report: Report) -> None:
    assert len(report.tables) == 7
    for table in report.tables:
        header, *rows = table.rows
        assert header._tr.trPr.find(qn("w:tblHeader")) is not None
        assert all(row._tr.trPr.find(qn("w:cantSplit")) is not None for row in rows)
        assert table._tbl.tblPr.find(qn("w:tblCaption")) is not None
        caption = table._tbl.getprevious()
        assert caption.pPr.pStyle.val == "Caption"


def test_captions_are_numbered_fields_with_their_numbers_cached(report: Report) -> None:
    codes = [code.text.split()[:2] for code in report.body.iter(qn("w:instrText"))]
    assert codes.count(["SEQ", "Table"]) == 7
    assert codes.count(["SEQ", "Figure"]) == 2
    assert codes.count(["SEQ", "Photo"]) == 5
    captions = report.styled("Caption")
    assert [line.split(".")[0] for line in captions if line.startswith("Table")] == [f"Table {n}" for n in range(1, 8)]


def test_a_photos_caption_keeps_the_number_that_show_takes(report: Report) -> None:
    captions = [line for line in report.styled("Caption") if line.startswith("Photo ") and "photo:" in line]
    assert captions == [
        "Photo 1. Channel drain CD-1 (feeds R-1), before backfill was noted, 14 May 2026 09:10 "
        "(photo:1; matched to note 11).",
        "Photo 2. Catch basin CB-1 (receives R-1 and R-3, feeds R-2), before backfill was noted, 14 May 2026 09:20 "
        "(photo:2; matched to note 12).",
        "Photo 4. Run R-2, from CB-1 to OUT-1, before backfill was noted, 14 May 2026 09:40 "
        "(photo:4; matched to note 14).",
        "Photo 5. Daylight outlet OUT-1 (end of R-2), after backfill was noted, 14 May 2026 09:50 "
        "(photo:5; matched to note 15).",
        "Photo 3. Not matched to any part of the work, before backfill was noted, 14 May 2026 09:30 "
        "(photo:3; nothing was said within ten minutes of it).",
    ]
    codes = [code.text for code in report.body.iter(qn("w:instrText")) if "SEQ Photo" in code.text]
    assert [code.split("\\r ")[1].strip() for code in codes] == ["1", "2", "4", "5", "3"]


def test_every_picture_has_a_text_for_who_cannot_see_it(report: Report) -> None:
    pictures = list(report.body.iter(qn("wp:docPr")))
    assert len(pictures) == 7  # the cover, two drawings, four photos with a picture
    assert all(len(picture.get("descr") or "") > 20 for picture in pictures)
    assert len({picture.get("id") for picture in pictures}) == 7


def test_a_picture_is_kept_with_its_caption(report: Report) -> None:
    assert report.document.styles["Picture"].paragraph_format.keep_with_next
    for picture in report.body.iter(qn("w:drawing")):
        line = picture.getparent().getparent()
        assert line.pPr.pStyle.val == report.document.styles["Picture"].style_id


def test_a_photo_with_no_picture_still_has_its_caption(report: Report) -> None:
    assert report.styled("Missing Picture") == ["picture not available"]
    assert "photo:4" in report.text


@pytest.mark.parametrize(
    "broken",
    [b"not a picture", b"\xff\xd8\xff\xe0" + b"\x00" * 30, b"\xff\xd8"],
    ids=["text", "header", "stub"],
)
def test_a_damaged_picture_is_not_the_end_of_the_report(closeout: Closeout, tmp_path: Path, broken: bytes) -> None:
    photos = [photo.model_copy(update={"jpeg": broken}) for photo in closeout.photos]
    report = Report(changed(closeout, photos=photos), tmp_path)
    assert len(report.styled("Missing Picture")) == 5


def test_a_questioned_number_is_marked_wherever_it_stands(report: Report) -> None:
    assert "Questions still open" in report.text
    assert "being confirmed: heard 43 ft and later 45 ft" in report.text
    lines = [line for line in report.text.split("\n") if "45 ft" in line and "being confirmed" not in line]
    assert len(lines) >= 4  # summary twice, runs, materials
    assert all("45 ft †1" in line for line in lines)
    row = report.row("From, to", "R-2")
    assert row["Length"] == "45 ft †1"
    assert row["Slope computed"].endswith("†1")


def test_what_was_not_questioned_bears_no_mark(report: Report) -> None:
    row = report.row("From, to", "R-1")
    assert row["Length"] == "6 ft 6 in (6.5 ft)"
    assert row["Least cover"] == "1 1/2 in"


def test_a_number_that_a_finding_contradicts_points_at_its_open_point(closeout: Closeout, tmp_path: Path) -> None:
    evidence = [item for item in closeout.record.runs[0].evidence if item.field == "drop_in"]
    wrong = Finding(check="drop", subject="R-1", outcome="fail", message="It does not add up.", evidence=evidence)
    report = Report(changed(closeout, findings=[wrong]), tmp_path)
    row = report.row("From, to", "R-1")
    assert row["Drop"] == "1 1/2 in ‡1"
    assert row["From notes"] == "notes 9, 10; see open point 1"
    assert report.row("About", "1")["What was found"] == "It does not add up."


def test_limits_that_the_firm_overrode_are_listed_beside_the_usual_ones(
    report: Report, closeout: Closeout, tmp_path: Path
) -> None:
    own = {"cleanout_spacing_ft": 50, "min_slope_3_to_6_in_pct": 1.5}
    job = closeout.job.model_copy(update={"company": closeout.job.company.model_copy(update={"policy": own})})
    changed_report = Report(changed(closeout, job=job), tmp_path)
    assert changed_report.table("Used here")[1:] == [
        ["Least slope of pipe from 3 to 6 in", "1.5 percent", "1 percent", "International Residential Code, P3005.3"],
        [
            "Greatest distance between cleanouts",
            "50 ft",
            "100 ft",
            "International Plumbing Code, 2018 and 2021, 708.1.1, from memory",
        ],
    ]
    assert "Limits of our own" in changed_report.styled("Heading 2")
    assert "Limits of our own" not in report.styled("Heading 2")


def test_what_was_not_said_prints_as_not_recorded(report: Report) -> None:
    row = report.row("From, to", "R-3")
    assert row["Length"] == row["Drop"] == row["Slope said"] == row["Least cover"] == row["Fittings"] == "not recorded"
    assert row["Slope computed"] == "not enough recorded"
    assert report.row("Kind", "OUT-1")["Rim"] == "not recorded"
    for table in report.tables:
        assert all(cell.text.strip() for row in table.rows for cell in row.cells)


def test_a_benchmark_with_no_rod_prints_its_elevation_and_what_hangs_on_it_prints_none(
    closeout: Closeout, tmp_path: Path
) -> None:
    record = closeout.record.model_copy(deep=True)
    record.levels[0].rod_ft = record.structures[0].rim_ft = None
    report = Report(changed(closeout, record=record, findings=check(record)), tmp_path)
    row = report.row("Reading", "Benchmark")
    assert (row["Rod"], row["Elevation said"], row["Elevation computed"]) == (
        "not recorded",
        "100.00 ft",
        "not recorded",
    )
    assert report.row("Reading", "CD-1 rim")["Elevation computed"] == "not recorded"
    assert "the rod reading of the backsight on it is missing" in report.text


def test_rows_name_the_notes_that_they_came_from(report: Report) -> None:
    assert report.row("From, to", "R-1")["From notes"].startswith("notes 9, 10")
    assert "fallbook show larkspur-walk note:12" in report.text


def test_an_elevation_that_we_worked_out_is_told_from_one_that_was_said(closeout: Closeout, tmp_path: Path) -> None:
    record = closeout.record.model_copy(deep=True)
    record.structures[0].rim_ft = None
    report = Report(changed(closeout, record=record), tmp_path)
    row = report.row("Kind", "CD-1")
    assert row["Rim"] == "100.42 ft (c)"
    assert row["Invert out"] == "99.98 ft"


def test_open_points_come_gravest_first_with_their_sources(closeout: Closeout, tmp_path: Path) -> None:
    outcomes = ("ok", "unknown", "fail", "attention")
    findings = [
        Finding(check="cover", subject="R-1", outcome=outcome, message=f"This is {outcome}.", source="common practice")
        for outcome in outcomes
    ]
    report = Report(changed(closeout, findings=findings), tmp_path)
    _, *rows = report.table("About")
    assert [row[2] for row in rows] == ["Not as it should be", "Worth a look", "Could not be checked"]
    assert {row[4] for row in rows} == {"common practice"}
    assert "This is ok." not in report.text


def test_the_warranty_prints_its_dates_and_what_this_job_leaves_out(report: Report) -> None:
    assert "14 May 2026, and runs 24 months to the end of 14 May 2028" in report.text
    outs = {row[0]: row[2] for row in report.table("Why")[1:]}
    assert outs["Roots that grow in later"] == "all our work"
    assert outs["Run R-3 (existing, kept)"] == "this job"
    assert outs["Standing water at CB-2"] == "this job"


def test_the_cautions_name_their_sources_and_certify_nothing(report: Report) -> None:
    for source in ("1926.651(b)", "1926.651(c)(2)", "1926.652(a)(1)", "1926.1153", "811"):
        assert source in report.text
    assert "not an engineer's certificate or a survey" in report.text
    for word in ("safe to enter", "trench was safe", "trench is safe", "guaranteed"):
        assert word not in report.text.lower()


def test_tasks_for_the_yard_are_not_the_clients(report: Report) -> None:
    assert "Come back and seed the trench" in report.text
    assert "couplings" not in report.text


def test_header_and_footer_hold_the_page_number_fields(report: Report) -> None:
    sections = list(report.document.sections)
    assert [section.orientation for section in sections] == [0, 1, 0]
    assert sections[0].different_first_page_header_footer
    for section in sections:
        codes = [code.text.strip() for code in section.footer._element.iter(qn("w:instrText"))]
        assert codes == ["PAGE", "NUMPAGES"]
        assert section.header.paragraphs[0].text.startswith("Juniper & Slate Drainage")
    assert sections[0].page_width.inches == 8.5
    assert sections[0].page_height.inches == 11


def test_the_documents_properties_are_the_firms(report: Report) -> None:
    properties = report.document.core_properties
    assert properties.author == properties.last_modified_by == "Juniper & Slate Drainage"
    assert properties.title == "Drainage close-out report: 77 Larkspur Walk, Fernhollow"
    assert properties.created == properties.modified
    assert properties.created.date() == date(2026, 5, 15)
    assert "python" not in f"{properties.comments}{properties.author}"


def test_the_same_closeout_gives_the_same_bytes(closeout: Closeout, tmp_path: Path) -> None:
    def digests(folder: str) -> list[str]:
        (tmp_path / folder).mkdir()
        paths = write_closeout(closeout, tmp_path / folder / "report.docx")
        return [hashlib.sha256(path.read_bytes()).hexdigest() for path in paths]

    assert digests("one") == digests("two")


def test_the_file_holds_no_times_of_its_own_and_no_leftovers(report: Report) -> None:
    with zipfile.ZipFile(io.BytesIO(report.paths[0].read_bytes())) as package:
        assert {info.date_time for info in package.infolist()} == {(1980, 1, 1, 0, 0, 0)}
        names = package.namelist()
        assert names[0] == "[Content_Types].xml"
        assert names[1:] == sorted(names[1:])
        assert not any("thumbnail" in name for name in names)
        assert package.testzip() is None


HOSTILE = "pipe \x00\x0b\x1b \ud800 \u202e54 ft\u202c $a_b$ <w:p> & \ufffe end"


def test_hostile_text_is_shown_and_breaks_nothing(closeout: Closeout, tmp_path: Path) -> None:
    job = closeout.job.model_copy(update={"client": HOSTILE, "address": HOSTILE})
    record = Record(
        structures=[Structure(label=f"CB-{HOSTILE}", kind="catch_basin", state="installed")],
        runs=[Run(label="R-1", from_=HOSTILE, to="CB-9", bedding=HOSTILE, state="installed")],
        issues=[Issue(kind="other", at=HOSTILE, text=HOSTILE)],
        questions=[Question(about=HOSTILE, heard=HOSTILE, why="low_confidence")],
    )
    findings = [Finding(check=HOSTILE, subject=HOSTILE, outcome="fail", message=HOSTILE, source=HOSTILE)]
    photos = [
        Photo(number=1, sha256="0", name=HOSTILE, taken_at=None, time_source=HOSTILE, about=HOSTILE, reason=HOSTILE)
    ]
    report = Report(changed(closeout, job=job, record=record, findings=findings, photos=photos), tmp_path)
    assert report.text.count(clean(HOSTILE)) >= 8
    assert "\u202e" not in report.text
    assert "�" in report.document.core_properties.title


def test_long_texts_and_many_photos_are_laid_out(closeout: Closeout, tmp_path: Path) -> None:
    record = closeout.record.model_copy(deep=True)
    record.issues[0].text = "roots and more roots " * 400 + "x" * 3000
    photos = [
        closeout.photos[index % 3].model_copy(update={"number": index + 1, "taken_at": datetime(2026, 5, 14, 9)})
        for index in range(60)
    ]
    report = Report(changed(closeout, record=record, photos=photos), tmp_path)
    assert report.text.count("(photo:") == 60
    assert "x" * 3000 in report.text


def test_an_empty_record_gives_a_report_that_says_so(closeout: Closeout, tmp_path: Path) -> None:
    report = Report(changed(closeout, record=Record(), findings=[], photos=[], notes=[]), tmp_path)
    assert [path.name for path in report.paths] == ["report.docx"]
    assert report.styled("Heading 1") == HEADINGS
    for words in (
        "No installed work was recorded",
        "No structures",
        "No runs of pipe were recorded",
        "No photos were recorded",
        "No issues were recorded",
        "No water test was recorded",
        "Nothing was checked",
        "this report cannot say what is open",
    ):
        assert words in report.text
    assert "Questions still open" not in report.text
    assert "14 May 2028" in report.text


def test_a_report_that_cannot_be_written_says_what_to_do(closeout: Closeout, tmp_path: Path) -> None:
    with pytest.raises(FallbookError, match=r"report\.docx: cannot be written .*; close it and what lies beside it"):
        write_closeout(closeout, tmp_path / "missing" / "report.docx")


def test_what_finds_a_thing_again_what_a_run_crosses_and_changes_of_plan_are_printed(
    closeout: Closeout, tmp_path: Path
) -> None:
    record = closeout.record.model_copy(deep=True)
    record.structures[1].ties = [
        Tie(from_="shed corner", distance_ft=18.5),
        Tie(from_="gate post", distance_ft=22, side="left"),
    ]
    record.structures[1].evidence += said(ties=21)
    record.points = [FixedPoint(name="shed corner", x_ft=0, y_ft=12.5, evidence=said(x_ft=22))]
    record.runs[1].crossings = [Crossing(what="gas line", at_ft=15), Crossing(what="water line", depth_in=18)]
    record.runs[1].evidence += said(crossings=23)
    record.changes = [Departure(about="R-2", text="went round the maple", evidence=said(text=25))]
    report = Report(changed(closeout, record=record), tmp_path)
    assert report.table("Where it lies")[1:] == [
        ["CB-1", "18.5 ft from shed corner; 22 ft from gate post, left", "note 21"],
        ["Shed corner", "fixed point at 0, 12.5", "note 22"],
    ]
    assert report.table("What it crosses")[1:] == [["R-2", "gas line at 15 ft; water line, 18 in deep", "note 23"]]
    assert "Changes of plan" in report.styled("Heading 2")
    assert "R-2: went round the maple (note 25)" in report.styled("List Bullet")


def test_materials_are_set_against_what_was_bought(closeout: Closeout, report: Report, tmp_path: Path) -> None:
    assert report.table("Item")[0] == ["Group", "Item", "Quantity", "In"]
    bought = [
        Purchase(item="12x12 catch basins", count=3, unit="each"),
        Purchase(item="drain grates", count=2, unit="each"),
    ]
    record = closeout.record.model_copy(update={"purchases": bought})
    report = Report(changed(closeout, record=record), tmp_path)
    (basin,) = (each for each in report.table("Item") if each[1] == "Catch basin, 12 × 12 in")
    assert (basin[2], basin[4:]) == ("1", ["3", "2"])
    assert {each[4] for each in report.table("Item")[1:]} == {"3", "not said"}
    assert "2 × drain grates: used 0." in report.styled("List Bullet")
    assert "Sticks are counted" not in report.text


@pytest.mark.parametrize(
    ("language", "note"),
    [
        ("en", "Sticks are counted as 10 ft where no length was said."),
        ("es", "Los tubos se cuentan de 10 pies donde no se dijo su largo."),
    ],
)
def test_materials_tell_the_length_of_a_stick_that_nobody_said_and_end_a_question_once(
    closeout: Closeout, tmp_path: Path, language: str, note: str
) -> None:
    run = Run(label="R-9", state="installed", nominal_in=4, pipe="SDR 35", length_ft=30)
    bought = [
        Purchase(item="4 inch SDR 35", count=4, unit="stick"),
        Purchase(item="catch basins", count=2, unit="each"),
    ]
    record = closeout.record.model_copy(update={"purchases": bought, "runs": [run]})
    report = Report(changed(closeout, record=record, language=language), tmp_path)
    assert note in report.text
    assert "2 × catch basins: used 0; is it Catch basin, 12 × 12 in?" in report.styled("List Bullet")


def test_nothing_is_printed_of_ties_crossings_and_changes_where_there_are_none(report: Report) -> None:
    for words in ("How to find it again", "cross", "Changes of plan"):
        assert words not in report.text


@pytest.mark.parametrize(
    ("wide", "long", "size"),
    [
        ([5], 9.0, "5 in wide, 9 ft long"),
        (None, 9.0, "width not recorded, 9 ft long"),
        ([5], None, "5 in wide, length not recorded"),
        (None, None, "not recorded"),
    ],
)
def test_a_channel_drains_size_says_once_what_is_not_recorded(
    closeout: Closeout, tmp_path: Path, wide: list[float] | None, long: float | None, size: str
) -> None:
    record = closeout.record.model_copy(deep=True)
    record.structures[0].size_in, record.structures[0].length_ft = wide, long
    report = Report(changed(closeout, record=record), tmp_path)
    assert report.row("Kind", "CD-1")["Size"] == size


def test_no_column_is_too_narrow_for_a_word_in_it(closeout: Closeout, tmp_path: Path) -> None:
    """Measured in DejaVu Sans, wider than Arial, which stands in for it where there is no other."""
    record = closeout.record.model_copy(update={"runs": [Run(label="R-1", state="abandoned"), *closeout.record.runs]})
    fonts = Path(matplotlib.get_data_path()) / "fonts" / "ttf"
    plain = ImageFont.truetype(fonts / "DejaVuSans.ttf", 85)
    bold = ImageFont.truetype(fonts / "DejaVuSans-Bold.ttf", 85)
    for table in Report(changed(closeout, record=record), tmp_path).tables:
        for place, row in enumerate(table.rows):
            for cell in row.cells:
                room = cell.width.pt - 7
                font = plain if place and cell is not row.cells[0] else bold
                broken = [word for word in cell.text.split() if font.getlength(word) / 10 > room]
                assert not broken, f"{table.rows[0].cells[0].text}, {room:.1f} pt: {broken}"


def test_after_the_cover_only_paper_that_turns_starts_a_page(report: Report) -> None:
    """So that no page stays half empty; `tests/outside/test_report_outside.py` looks at them."""
    paragraphs = report.document.paragraphs
    assert [line.text for line in paragraphs if line.paragraph_format.page_break_before] == [HEADINGS[0]]


def test_the_signatures_are_kept_together_with_what_they_sign(report: Report) -> None:
    before = next(line for line in report.document.paragraphs if line.text.startswith("By signing"))
    assert before.paragraph_format.keep_with_next
    (lead, client) = report.document.tables[-1].rows
    assert client.cells[0].text == "Client, Ada Kestrel"
    assert all(line.paragraph_format.keep_with_next for cell in lead.cells for line in cell.paragraphs)


def test_a_failure_that_was_accepted_is_no_longer_counted_as_open(closeout: Closeout, tmp_path: Path) -> None:
    fails = [Finding(check="min_slope", subject=at, outcome="fail", message="Too flat.") for at in ("R-1", "R-2")]
    quoted = [Evidence(note=31, quote="Too flat.", confidence=1)]
    given = Acceptance(finding="min_slope", about="R-1", text="the ground allows no more", evidence=quoted)
    record = closeout.record.model_copy(update={"acceptances": [given]})
    findings = with_acceptances(record, fails)
    told = Report(changed(closeout, record=record, findings=findings), tmp_path).styled("List Bullet")
    assert "1 point not as it should be (see the section on checks)." in told
    assert "1 accepted: not as it should be, and left so for a reason (see the section on checks)." in told


@pytest.mark.outside
@pytest.mark.skipif(
    shutil.which("soffice") is None or shutil.which("pdftotext") is None,
    reason="Debian packages libreoffice-writer and poppler-utils are not installed",
)
@pytest.mark.parametrize("logo", [b"", LOGO])
def test_the_cover_holds_the_contents_whole_with_a_logo_and_long_lines_too(
    closeout: Closeout, tmp_path: Path, logo: bytes
) -> None:
    crew = ["Marla Voss", "Teo Brandt", "Ines Calder", "Rufus Ashdown", "Wilhelmina Thornbury", "Octavian Merriweather"]
    company = closeout.job.company.model_copy(update={"logo_png": logo, "crew": crew})
    picture = io.BytesIO()
    Image.new("RGB", (1600, 1200), (120, 120, 90)).save(picture, "JPEG")
    photo = closeout.photos[1].model_copy(update={"jpeg": picture.getvalue()})
    more = ["cleanout", "junction_box", "area_drain", "dry_well", "popup_outlet"]
    built = [Structure(label=f"S-{at}", kind=kind, state="installed", evidence=[]) for at, kind in enumerate(more)]
    record = closeout.record.model_copy(update={"structures": [*closeout.record.structures, *built]})
    job = closeout.job.model_copy(update={"company": company})
    made = closeout.model_copy(update={"job": job, "record": record, "photos": [photo]})
    report = write_closeout(made, tmp_path / "report.docx")[0]
    office = ["soffice", f"-env:UserInstallation={(tmp_path / 'office').as_uri()}", "--headless"]
    subprocess.run([*office, "--convert-to", "pdf", "--outdir", tmp_path, report], check=True, capture_output=True)
    told = subprocess.run(["pdftotext", tmp_path / "report.pdf", "-"], check=True, capture_output=True, text=True)
    first, second, *_ = told.stdout.split("\f")
    assert [title for title in HEADINGS if " ".join(title.split()) not in " ".join(first.split())] == []
    assert "What was installed" in second


def test_a_run_that_is_steep_enough_by_an_unchecked_slope_says_so(closeout: Closeout, tmp_path: Path) -> None:
    steep = [
        Finding(check="min_slope", subject=label, outcome="ok", message="It is steep enough.", evidence=[])
        for label in ("R-1", "R-2")
    ]
    unknown = Finding(check="slope", subject="R-2", outcome="unknown", message="It cannot be checked.", evidence=[])
    made = closeout.model_copy(update={"findings": [*steep, unknown]})
    (path, *_) = write_closeout(made, tmp_path / "it.docx")
    text = "\n".join(each.text for each in Document(str(path)).paragraphs)
    (line,) = [each for each in text.split("\n") if each.startswith("Steep enough for its pipe:")]
    first, second = line.split("R-2")
    assert "by the slope said" not in first
    assert second.startswith(" (by the slope said, which could not be checked)")
