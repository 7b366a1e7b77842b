"""The report opened by another program: LibreOffice turns it into pages."""

from __future__ import annotations

import re
import shutil
import subprocess
from datetime import date
from pathlib import Path

import pytest

from extract.check import check
from extract.record import Question, Record, Run, Structure
from reports.closeout import write_closeout
from reports.job import Closeout, Company, Job, Warranty

pytestmark = [
    pytest.mark.outside,
    pytest.mark.skipif(shutil.which("soffice") is None, reason="Debian package libreoffice-writer is not installed"),
]


@pytest.fixture
def closeout() -> Closeout:
    warranty = Warranty(workmanship_months=12, covers=["joints"], excludes=[], how_to_claim="Call the office.")
    company = Company(
        name="Juniper & Slate Drainage",
        address="18 Quarry Lane",
        phone="(555) 014-2277",
        email="o@x.example",
        warranty=warranty,
    )
    job = Job(name="fern-court", client="Ada Kestrel", address="3 Fern Court", day=date(2026, 5, 14), company=company)
    record = Record(
        structures=[
            Structure(label="CB-1", kind="catch_basin", state="installed", size_in=[12, 12], invert_out_ft=99.0),
            Structure(label="OUT-1", kind="popup_outlet", state="installed", invert_in_ft=98.4),
        ],
        runs=[Run(label="R-1", from_="CB-1", to="OUT-1", state="installed", nominal_in=4, pipe="SDR 35", length_ft=45)],
        questions=[Question(about="R-1", field="length_ft", choices=[43, 45], why="conflict")],
    )
    return Closeout(job=job, notes=[], record=record, findings=check(record), photos=[], prepared=date(2026, 5, 15))


def test_libreoffice_turns_the_report_into_more_than_three_pages(closeout: Closeout, tmp_path: Path) -> None:
    report = write_closeout(closeout, tmp_path / "report.docx")[0]
    command = [
        "soffice",
        f"-env:UserInstallation={(tmp_path / 'profile').as_uri()}",
        "--headless",
        "--convert-to",
        "pdf",
        "--outdir",
        str(tmp_path),
        str(report),
    ]
    subprocess.run(command, check=True, capture_output=True, timeout=180)
    pdf = (tmp_path / "report.pdf").read_bytes()
    assert pdf.startswith(b"%PDF")
    assert len(re.findall(rb"/Type\s*/Page\b(?!s)", pdf)) > 3
