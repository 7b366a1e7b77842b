"""Pieces into the library whatever becomes of it meanwhile; and what it will not take, into files."""

import errno
import sys
import threading
import wave
from datetime import UTC, datetime, timedelta, timezone
from pathlib import Path

import numpy as np
import pytest
from conftest import FakeHearing

from extract.errors import FallbookError
from logger import jobs, keeper
from logger.book import Book
from logger.cutting import Piece
from logger.keeper import FULL, Keeper, leave
from logger.store import open_store
from logger.upload import Upload

sys.path.insert(0, str(Path(__file__).parent.parent / "endurance"))

import crew  # noqa: E402
from faults import disk, fill  # noqa: E402

RATE = 8000
ZONE = timezone(timedelta(hours=-5))
BEGAN = datetime(2026, 5, 14, 15, 0, 30, 250_000, tzinfo=UTC)


def piece(first_s, length_s):
    first, length = round(first_s * RATE), round(length_s * RATE)
    samples = (np.arange(first, first + length) % 30_000).astype(np.int16)
    return Piece(BEGAN + timedelta(seconds=first_s), first, samples, RATE)


PIECES = [piece(0, 3), piece(2.5, 3), piece(5, 2)]


@pytest.fixture
def kept(store, monkeypatch):
    """A keeper that tries again soon, what it said, and a count of what it took."""
    monkeypatch.setattr(keeper, "RETRY_S", (0.05,))
    said, taken = [], threading.Semaphore(0)
    return Keeper(store.folder, "j", ZONE, taken.release, said.append), said, taken


def spans(store):
    uploads = [Upload.in_entry(each.body) for each in store.entries("j") if each.kind == "sound"]
    assert len({each.recording_id for each in uploads}) == min(1, len(uploads))
    return [(each.from_s, each.to_s) for each in uploads]


def test_each_piece_is_in_the_log_with_its_seconds_and_its_time(store, kept):
    made, said, _ = kept
    for each in PIECES:
        made.put(each)
    assert (made.finish(), made.count, said) == ([], 3, [])
    assert spans(store) == [(0, 3), (2.5, 5.5), (5, 7)]
    first = store.entries("j")[0]
    assert first.name == "talk 2026-05-14 10.00.30.wav"
    assert store.originals.path(first.sha256).read_bytes() == PIECES[0].wav()
    when = Book(store, "j").files[0].when
    assert (when.at, when.source) == (BEGAN, "the clock of the page or program that made it")


def test_a_library_that_is_gone_is_told_once_and_takes_all_when_it_is_back(store, kept):
    made, said, taken = kept
    database = store.folder / "library.db"
    database.rename(store.folder / "elsewhere.db")
    for each in PIECES:
        made.put(each)
    assert not taken.acquire(timeout=0.5)
    (store.folder / "elsewhere.db").rename(database)
    assert all(taken.acquire(timeout=20) for _ in PIECES)
    assert said == [f"{store.folder}: the library is gone; bring it back, or run: fallbook restore DIR"]
    assert made.finish() == []
    assert spans(store) == [(0, 3), (2.5, 5.5), (5, 7)]


def test_a_full_disk_is_told_once_and_takes_all_when_there_is_room(store, tmp_path, monkeypatch):
    monkeypatch.setattr(keeper, "RETRY_S", (0.05,))
    said, taken = [], threading.Semaphore(0)
    with disk(tally := crew.Tally(), tmp_path / "disk", 4 << 20) as small:
        if small is None:
            pytest.skip(tally.skipped)
        library = crew.copied(store.folder, small / "library")
        fill(small, 0)
        made = Keeper(library, "j", ZONE, taken.release, said.append)
        for each in PIECES:
            made.put(each)
        assert not taken.acquire(timeout=0.5)
        (small / "ballast").unlink()
        assert all(taken.acquire(timeout=20) for _ in PIECES)
        assert made.finish() == []
        with open_store(library) as opened:
            assert spans(opened) == [(0, 3), (2.5, 5.5), (5, 7)]
    assert said == [FULL]


@pytest.mark.parametrize(
    ("error", "line"),
    [
        (OSError(errno.ENOSPC, "No space left on device"), FULL),
        (FallbookError("no job 'j'"), "no job 'j'"),
        (
            OSError(errno.EIO, "Input/output error"),
            "the library cannot be written (Input/output error); check its disk",
        ),
        (ValueError("odd"), "the library cannot be written (ValueError: odd); check its disk"),
    ],
)
def test_what_cannot_be_taken_comes_back_at_the_end(kept, monkeypatch, error, line):
    made, said, _ = kept

    def fails(*_):
        raise error

    monkeypatch.setattr(keeper, "take_piece", fails)
    for each in PIECES:
        made.put(each)
    assert made.finish() == PIECES
    (told,) = said
    assert told.endswith(line)


def test_a_small_disk_that_is_full_is_one_line(kept, monkeypatch):
    made, said, _ = kept
    monkeypatch.setattr(keeper, "full", lambda folder: True)
    monkeypatch.setattr(keeper, "take_piece", lambda *_: (_ for _ in ()).throw(FallbookError("the database says no")))
    made.put(PIECES[0])
    assert made.finish() == PIECES[:1]
    assert said == ["the library's disk is full; make room"]


# -- into files


def test_what_is_left_is_one_file_without_the_overlap_and_can_be_taken(store, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    folder = leave(PIECES, "j", ZONE)
    assert folder.parent == tmp_path
    assert folder.name.startswith("fallbook-j-")
    (file,) = folder.iterdir()
    assert file.name == "talk 2026-05-14 10.00.30.wav"
    with wave.open(str(file)) as sound:
        assert np.array_equal(np.frombuffer(sound.readframes(-1), "<i2"), piece(0, 7).samples)
    list(jobs.take(store, "j", [folder], listening=lambda name: lambda done, total: None, hearing=FakeHearing([[]])))
    assert Book(store, "j").files[0].when.at == BEGAN.replace(microsecond=0)


def test_where_nobody_may_write_it_goes_into_the_home_folder(tmp_path, monkeypatch):
    home = tmp_path / "home"
    home.mkdir()
    monkeypatch.setattr("os.getcwd", lambda: str(tmp_path / "gone"))
    assert leave(PIECES, "j", ZONE).parent == home


def test_where_no_disk_takes_it_nothing_half_written_is_left(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    monkeypatch.setattr("tempfile.gettempdir", lambda: str(tmp_path))

    def full(target: Path, content: bytes) -> None:
        target.write_bytes(content[:10])
        raise OSError(errno.ENOSPC, "No space left on device")

    monkeypatch.setattr(keeper, "write_whole", full)
    with pytest.raises(OSError, match="No space left"):
        leave(PIECES, "j", ZONE)
    assert not list(tmp_path.rglob("fallbook-*"))
