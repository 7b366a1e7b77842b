"""What a report costs: a sample of `make bench-report`."""

import sys

import pytest
from bench.large_report import FILE_MB, MEGABYTES, SECONDS, build, fallbook

from logger import decoding


@pytest.mark.skipif(sys.platform != "linux", reason="memory is counted as Linux counts it")
def test_a_report_of_photos_from_a_phone_keeps_within_its_share(tmp_path):
    build(tmp_path, runs=3, photos=6)
    path = tmp_path / "record.docx"
    cost = fallbook(tmp_path, "report", "long-walk", "--for", "record", "--draft", "-o", path)
    assert cost.processor_s < SECONDS / 2
    assert cost.peak_mb < MEGABYTES / 2
    assert path.stat().st_size < FILE_MB * 1e6 / 10 + 100_000


def test_the_sheet_to_find_the_drain_decodes_no_photo(fallbook, job, make_photo, tmp_path, monkeypatch):
    fallbook("say", job, "Basin one is set.", "--at", "09:48")
    fallbook("take", job, make_photo("a.jpg"))
    monkeypatch.setattr(decoding, "plates", lambda *_: pytest.fail("it shows none"))
    code, _, err = fallbook("report", job, "--for", "locate", "--draft", "-o", tmp_path / "r.docx")
    assert (code, err) == (0, "")
