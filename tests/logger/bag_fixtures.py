"""A library with a job in which everything was done, and the same job as a bag."""

import shutil
from pathlib import Path
from typing import Any

import pytest
from bags import HEARD, JOB, OF, TALK, hum, packed, take
from conftest import COMPANY, FakeHearing, exif_bytes, quarters

from logger import changes, jobs, undo
from logger.accept import accept
from logger.book import Book
from logger.store import open_store


@pytest.fixture
def crew(tmp_path, company):
    """Start a library with the job, `crew("a")`."""

    def start(name: str, job: str = JOB, **more: Any) -> Path:
        with open_store(tmp_path / name, create=True) as store:
            jobs.new(store, job, company=str(company), **OF | more)
        return tmp_path / name

    return start


@pytest.fixture(scope="module")
def made(tmp_path_factory):
    """A job with a text log, a photo and a recording, and each kind of change by hand, as `a`; packed, as `bag`."""
    at, hearing = tmp_path_factory.mktemp("made"), FakeHearing([HEARD])
    (at / "company.toml").write_text(COMPANY)
    (at / "phone").mkdir()
    (at / "phone" / "notes.txt").write_text(TALK)
    quarters().save(at / "phone" / "IMG_1.JPG", format="JPEG", exif=exif_bytes())
    hum(at / "phone" / "2026-05-14T100000.wav", 1)
    with open_store(at / "a", create=True) as store:
        jobs.new(store, JOB, company=str(at / "company.toml"), **OF)
        take(store, sorted((at / "phone").iterdir()), hearing)
        jobs.say(store, JOB, "Run two is in, 20 feet.", "11:00")
        jobs.say(store, JOB, "Nobody is here yet.", "11:05")
        notes = [note.text for note in Book(store, JOB).notes]
        changes.amend(store, JOB, f"note:{notes.index('Run two is in, 20 feet.')}", "text", "Run two is in, 21 feet.")
        changes.amend(store, JOB, "R-2", "cover", "15")
        changes.amend(store, JOB, "R-1", "bedding", "gravel")
        undo.undo(store, JOB)
        changes.remove(store, JOB, f"note:{notes.index('Nobody is here yet.')}")
        changes.amend(store, JOB, "photo:1", "shows", "R-1")
        changes.amend(store, JOB, "address", "27 Quillbark Lane")
        for basin in ("CB-1", "CB-2"):
            accept(store, JOB, basin, "Its outlet is dug in June.")
    packed(at / "a", at / "bag")
    return at


@pytest.fixture
def library(made, tmp_path):
    return Path(shutil.copytree(made / "a", tmp_path / "a"))


@pytest.fixture
def bag(made, tmp_path):
    return Path(shutil.copytree(made / "bag", tmp_path / "bag"))
