"""One made-up job, rich enough to fill every section of a report. Tests copy it before they change it."""

from __future__ import annotations

import io
from datetime import date, datetime, timedelta, timezone

import pytest
from PIL import Image

from extract.check import check
from extract.record import (
    Decision,
    Evidence,
    Fitting,
    Issue,
    Level,
    Note,
    Question,
    Record,
    Run,
    Structure,
    Task,
    Test,
)
from reports.job import Closeout, Company, Exclusion, Job, Photo, Warranty

ZONE = timezone(timedelta(hours=-5))


def said(**notes: int) -> list[Evidence]:
    """Evidence by field: `said(length_ft=9)`."""
    return [Evidence(note=note, quote="so it was said", confidence=0.9, field=field) for field, note in notes.items()]


def jpeg(width: int = 64, height: int = 48, shade: int = 120) -> bytes:
    out = io.BytesIO()
    Image.new("RGB", (width, height), (shade, 120, 90)).save(out, "JPEG")
    return out.getvalue()


@pytest.fixture(scope="session")
def company() -> Company:
    return Company(
        name="Juniper & Slate Drainage",
        address="18 Quarry Lane, Fernhollow",
        phone="(555) 014-2277",
        email="office@juniperslate.example",
        licence="DC-40117",
        crew=["Marla Voss", "Teo Brandt"],
        warranty=Warranty(
            workmanship_months=24,
            covers=["joints that we made"],
            excludes=[Exclusion(what="Roots that grow in later", why="They come from planting.")],
            how_to_claim="Call the office with the job name.",
            respond_days=10,
            materials="Makers' papers are handed over.",
        ),
    )


@pytest.fixture(scope="session")
def job(company: Company) -> Job:
    return Job(
        name="larkspur-walk",
        client="Ada Kestrel",
        address="77 Larkspur Walk, Fernhollow",
        day=date(2026, 5, 14),
        zone="-05:00",
        company=company,
    )


@pytest.fixture(scope="session")
def record() -> Record:
    return Record(
        structures=[
            Structure(
                label="CD-1",
                kind="channel_drain",
                state="installed",
                size_in=[5],
                length_ft=9.1667,
                rim_ft=100.42,
                invert_out_ft=99.98,
                evidence=said(size_in=4, length_ft=4, rim_ft=6, invert_out_ft=6),
            ),
            Structure(
                label="CB-1",
                kind="catch_basin",
                state="installed",
                size_in=[12, 12],
                invert_in_ft=99.85,
                invert_out_ft=99.8,
                evidence=said(size_in=7, invert_in_ft=7, invert_out_ft=8),
            ),
            Structure(label="CB-2", kind="catch_basin", state="existing", evidence=said(state=16)),
            Structure(label="OUT-1", kind="daylight_outlet", state="installed", size_in=[4], evidence=said(size_in=20)),
            Structure(label="OUT-2", kind="popup_outlet", state="planned", evidence=said(state=2)),
        ],
        runs=[
            Run(
                label="R-1",
                from_="CD-1",
                to="CB-1",
                state="installed",
                nominal_in=3,
                pipe="Schedule 40",
                length_ft=6.5,
                drop_in=1.5,
                cover_in=1.5,
                fittings=[
                    Fitting(kind="long_sweep", count=1, angle_deg=90),
                    Fitting(kind="elbow", count=2, angle_deg=45),
                ],
                evidence=said(length_ft=9, drop_in=9, cover_in=10, fittings=10),
            ),
            Run(
                label="R-2",
                from_="CB-1",
                to="OUT-1",
                state="installed",
                nominal_in=4,
                pipe="SDR 35",
                length_ft=45,
                slope_pct=2.0833,
                evidence=said(length_ft=15, slope_pct=15),
            ),
            Run(label="R-3", from_="CB-2", to="CB-1", state="existing", evidence=said(state=16)),
        ],
        levels=[
            Level(point="benchmark", kind="backsight", rod_ft=4.21, elevation_ft=100.0, evidence=said(rod_ft=5)),
            Level(point="CD-1 rim", kind="foresight", rod_ft=3.79, evidence=said(rod_ft=6)),
        ],
        issues=[
            Issue(kind="roots", at="R-2", action="cleared", text="Maple roots, big as my wrist.", evidence=said(at=13)),
            Issue(kind="standing_water", at="CB-2", action="left", text="Old sump holds water.", evidence=said(at=16)),
        ],
        tests=[Test(kind="hose", at="R-2", duration_s=600, flow_gpm=6, result="pass", evidence=said(result=24))],
        tasks=[
            Task(kind="do", text="come back and seed the trench", evidence=said(text=26)),
            Task(kind="buy", text="two couplings", evidence=said(text=27)),
        ],
        decisions=[Decision(text="whether to reuse the old basin", state="open", evidence=said(text=16))],
        questions=[
            Question(about="R-2", field="length_ft", choices=[43, 45], why="conflict", evidence=said(length_ft=15))
        ],
    )


@pytest.fixture(scope="session")
def photos() -> list[Photo]:
    places = ["CD-1", "CB-1", None, "R-2", "OUT-1"]
    return [
        Photo(
            number=number,
            sha256="0" * 64,
            name=f"site-{number}.jpg",
            taken_at=datetime(2026, 5, 14, 9, 10 * number, tzinfo=ZONE),
            time_source="EXIF time and offset",
            about=about,
            note=number + 10 if about else None,
            reason="" if about else "nothing was said within ten minutes of it",
            backfill="after" if about == "OUT-1" else "before",
            jpeg=b"" if number == 4 else jpeg(shade=20 * number),
        )
        for number, about in enumerate(places, 1)
    ]


@pytest.fixture(scope="session")
def closeout(job: Job, record: Record, photos: list[Photo]) -> Closeout:
    return Closeout(
        job=job,
        notes=[Note(text=f"note {index}") for index in range(30)],
        record=record,
        findings=check(record),
        photos=photos,
        prepared=date(2026, 5, 15),
    )
