"""Made-up jobs of any size, for looking at the pages of their reports."""

from __future__ import annotations

import io
from datetime import date, datetime, timedelta, timezone

import numpy as np
from bench.large_report import COMPANY, log
from PIL import Image

from extract.assemble import assemble
from extract.check import check
from extract.notes import parse_log
from logger.company import company_file, with_logo
from reports.job import Closeout, Job, Photo

ZONE = timezone(timedelta(hours=-5))


def closeout(runs: int, photos: int) -> Closeout:
    """A job of that many runs in a row and that many photos, two thirds of them broad; two in each dozen show
    nothing of the work."""
    company, _ = with_logo(*company_file(str(COMPANY)), str(COMPANY))
    notes = parse_log(log(runs))
    record = assemble(notes)
    labels = [each.label for each in (*record.structures, *record.runs)]
    made = [
        Photo(
            number=number,
            sha256="0" * 64,
            name=f"site-{number}.jpg",
            taken_at=datetime(2026, 5, 14, 9, tzinfo=ZONE) + timedelta(minutes=3 * number),
            time_source="EXIF time and offset",
            about=None if number % 6 == 0 else labels[number % len(labels)],
            note=None if number % 6 == 0 else number % len(notes),
            reason="nothing about the work was said within 10 min of it",
            backfill="after" if number % 2 else "before",
            jpeg=picture(number),
        )
        for number in range(1, photos + 1)
    ]
    job = Job(
        name="long-walk", client="Ina Wexcombe", address="27 Quillbark Row", day=date(2026, 5, 14), company=company
    )
    return Closeout(
        job=job, notes=notes, record=record, findings=check(record), photos=made, prepared=date(2026, 5, 15)
    )


def picture(number: int) -> bytes:
    """Ground of some colour, broad or, each third one, upright."""
    size = (300, 400) if number % 3 == 0 else (400, 300)
    coarse = np.random.default_rng(number).integers(40, 180, (6, 8, 3), np.uint8)
    out = io.BytesIO()
    Image.fromarray(coarse).resize(size, Image.Resampling.BICUBIC).save(out, "JPEG")
    return out.getvalue()
