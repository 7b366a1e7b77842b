"""The list of jobs: what it tells is what the log says, or a line names the job of which it is not sure."""

from datetime import UTC, date, datetime

import pytest

from logger import listing
from logger.company import read_company
from logger.store import open_store
from reports.job import Job

NOW = datetime(2026, 5, 14, 12, tzinfo=UTC)
ADDRESS = {"subject": "job", "field": "address", "value": "3 Larch Walk", "at": "2026-05-14T12:00:00+00:00"}
GONE = {"what": "job", "name": "", "at": "2026-05-14T12:00:00+00:00", "undone": False}


@pytest.fixture
def store(tmp_path, company):
    with open_store(tmp_path / "library", create=True) as opened:
        for name in ("back-yard", "front-walk", "side-gate"):
            job = Job(
                name=name,
                client="A. Client",
                address="1 Larch Walk",
                day=date(2026, 5, 14),
                zone="-05:00",
                company=read_company(company.read_text(), company.name),
            )
            opened.add_job(job, company.read_text())
            opened.append(name, "said", {"text": "Basin one is set."}, NOW)
            opened.append(name, "amendment", ADDRESS, NOW)
            opened.append(name, "photo", {}, NOW, sha256="ab" * 32, name="a.jpg")
        opened.append("side-gate", "removal", GONE, NOW)
        yield opened


def flip(store, what: str, job: str, kind: str) -> None:
    store.connection.execute("DROP TRIGGER log_not_updated")
    store.connection.execute(f"UPDATE log SET {what} WHERE job = ? AND kind = ?", [job, kind])


def names(store) -> list[str]:
    return [row[0] for row in listing.jobs(store)[0][0].rows]


def lines(store) -> list[str]:
    return listing.jobs(store)[1]


@pytest.mark.parametrize("listed_before", [True, False])
@pytest.mark.parametrize(
    ("what", "kind"),
    [
        ("kind = 'saie'", "said"),
        ("kind = CAST(X'73616964' AS TEXT) || char(0)", "said"),
        ("sha256 = NULL", "photo"),
        ("body = replace(body, '3 L', '2 L')", "amendment"),
        ("body = replace(body, 'job', 'jnb')", "amendment"),
        ("job = 'front-wali'", "photo"),
    ],
)
def test_a_bit_that_flips_in_a_log_names_the_job_in_the_list(store, what, kind, listed_before):
    if listed_before:
        assert lines(store) == []
    flip(store, what, "front-walk", kind)
    (line,) = lines(store)
    assert line.startswith("front-walk: ")
    assert "its log" in line
    assert "run: fallbook" in line
    assert names(store) == ["back-yard", "front-walk"]
    assert lines(store) == [line]


def test_a_removed_job_that_a_flipped_bit_brings_back_is_named(store):
    assert names(store) == ["back-yard", "front-walk"]
    flip(store, "body = replace(body, 'job', 'jnb')", "side-gate", "removal")
    assert names(store) == ["back-yard", "front-walk", "side-gate"]
    assert [line[:9] for line in lines(store)] == ["side-gate"]


def test_text_that_is_none_any_more_costs_no_other_job(store):
    flip(store, "body = CAST(X'7bff' AS TEXT)", "front-walk", "said")
    (line,) = lines(store)
    assert line.startswith("front-walk: its log cannot be read (Could not decode")


def test_a_log_is_read_again_only_where_its_job_is_told_of_otherwise(store, monkeypatch):
    lines(store)
    store.append("front-walk", "said", {"text": "Run one is in."}, NOW)
    read = []
    monkeypatch.setattr(store, "entries", read.append)
    lines(store)
    assert read == ["front-walk"]
    lines(store)
    assert read == ["front-walk"]


def test_the_list_of_a_library_that_cannot_be_written_is_whole(store):
    store.writable = False
    assert names(store) == ["back-yard", "front-walk"]
    assert lines(store) == []
