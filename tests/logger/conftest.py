"""A library with one empty job, which most tests of the crew's side begin with."""

from datetime import UTC, datetime

import pytest

from logger import jobs
from logger.store import open_store


@pytest.fixture
def store(tmp_path, company):
    with open_store(tmp_path / "library", create=True) as opened:
        jobs.new(
            opened, "j", client="A. Client", address="2 Tarn Lane", company=str(company),
            day=datetime(2026, 5, 14, tzinfo=UTC).date(), zone="-05:00",
        )  # fmt: skip
        yield opened
