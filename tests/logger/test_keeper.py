"""Pieces into the library whatever becomes of it meanwhile; until then they lie in the spool."""

import errno
import sys
import threading
from datetime import UTC, datetime, timedelta, timezone
from pathlib import Path

import numpy as np
import pytest

from extract.errors import FallbookError
from logger import intake, keeper
from logger.book import Book
from logger.cutting import Piece
from logger.keeper import FULL, Keeper
from logger.spool import Spool
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
TOLD = "not in the library yet, kept and tried again: "


@pytest.fixture
def kept(store, monkeypatch):
    """A keeper that tries again soon, what it said, and a count of what it took."""
    monkeypatch.setattr(keeper, "RETRY_S", (0.05,))
    said, taken = [], threading.Semaphore(0)
    return Keeper(store.folder, "j", Spool.of(store, "j"), ZONE, taken.release, said.append), said, taken


def spans(store):
    uploads = [Upload.in_entry(each.body) for each in store.entries("j") if each.kind == "sound"]
    assert len({each.recording_id for each in uploads}) == min(1, len(uploads))
    return [(each.from_s, each.to_s) for each in uploads]


def test_each_piece_is_in_the_log_with_its_seconds_and_its_time(store, kept):
    made, said, _ = kept
    for each in PIECES:
        made.put(each, "ab")
    assert (made.finish(), made.count, said) == (0, 3, [])
    assert spans(store) == [(0, 3), (2.5, 5.5), (5, 7)]
    first = store.entries("j")[0]
    assert first.name == "talk 2026-05-14 10.00.30.wav"
    assert not made.spool.folder.exists()
    assert store.originals.path(first.sha256).read_bytes() == PIECES[0].wav()
    when = Book(store, "j").files[0].when
    assert (when.at, when.source) == (BEGAN, "the clock of the page or program that made it")


def test_a_library_that_is_gone_is_told_once_and_takes_all_when_it_is_back(store, kept):
    made, said, taken = kept
    database = store.folder / "library.db"
    database.rename(store.folder / "elsewhere.db")
    for each in PIECES:
        made.put(each, "ab")
    assert not taken.acquire(timeout=0.5)
    (store.folder / "elsewhere.db").rename(database)
    assert all(taken.acquire(timeout=20) for _ in PIECES)
    assert said == [f"{TOLD}{store.folder}: the library is gone; bring it back, or run: fallbook restore DIR"]
    assert made.finish() == 0
    assert spans(store) == [(0, 3), (2.5, 5.5), (5, 7)]


def test_a_full_disk_is_told_once_and_takes_all_when_there_is_room(store, tmp_path, monkeypatch):
    monkeypatch.setattr(keeper, "RETRY_S", (0.05,))
    said, taken = [], threading.Semaphore(0)
    with disk(tally := crew.Tally(), tmp_path / "disk", 4 << 20) as small:
        if small is None:
            pytest.skip(tally.skipped)
        library = crew.copied(store.folder, small / "library")
        fill(small, 0)
        made = Keeper(library, "j", Spool.of(store, "j"), ZONE, taken.release, said.append)
        for each in PIECES:
            made.put(each, "ab")
        assert not taken.acquire(timeout=0.5)
        (small / "ballast").unlink()
        assert all(taken.acquire(timeout=20) for _ in PIECES)
        assert made.finish() == 0
        with open_store(library) as opened:
            assert spans(opened) == [(0, 3), (2.5, 5.5), (5, 7)]
    assert said == [TOLD + FULL]


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
def test_what_cannot_be_taken_lies_in_the_spool_and_the_next_keeper_takes_it_first(
    store, kept, monkeypatch, error, line
):
    made, said, _ = kept
    take = keeper.take_piece
    monkeypatch.setattr(keeper, "take_piece", raising(error))
    for each in PIECES:
        made.put(each, "ab")
    assert made.finish() == 3
    assert made.count == 0
    (told,) = said
    assert told.startswith(TOLD)
    assert told.endswith(line)
    monkeypatch.setattr(keeper, "take_piece", take)
    again = Keeper(store.folder, "j", Spool.of(store, "j"), ZONE, lambda: None, said.append)
    again.put(piece(7, 2), "ab")
    assert (again.found, again.finish(), again.count) == (3, 0, 4)
    assert spans(store) == [(0, 3), (2.5, 5.5), (5, 7), (7, 9)]
    assert Book(store, "j").files[0].when.at == BEGAN
    assert not made.spool.folder.exists()


def raising(error):
    def fails(*_):
        raise error

    return fails


def test_a_small_disk_that_is_full_is_one_line(kept, monkeypatch):
    made, said, _ = kept
    monkeypatch.setattr(keeper, "full", lambda folder: True)
    monkeypatch.setattr(keeper, "take_piece", raising(FallbookError("the database says no")))
    made.put(PIECES[0], "ab")
    assert made.finish() == 1
    assert said == [f"{TOLD}the library's disk is full; make room"]


def test_where_no_disk_takes_it_it_waits_in_memory_and_the_end_waits_for_it(store, kept, monkeypatch):
    made, said, taken = kept
    take, room = keeper.take_piece, threading.Event()
    no_room = OSError(errno.ENOSPC, "No space left on device")
    monkeypatch.setattr(keeper, "take_piece", lambda *words: (take if room.is_set() else raising(no_room))(*words))
    monkeypatch.setattr(Spool, "put", raising(no_room))
    for each in PIECES:
        made.put(each, "ab")
    ended = threading.Thread(target=made.finish)
    ended.start()
    ended.join(0.5)
    assert ended.is_alive()
    assert said == [
        TOLD + FULL,
        f"{made.spool.folder} cannot be written either: the sound waits in memory; make room, and leave this running "
        "until then",
    ]
    room.set()
    ended.join(20)
    assert not ended.is_alive()
    assert spans(store) == [(0, 3), (2.5, 5.5), (5, 7)]


def test_a_spool_that_has_room_again_gets_what_is_in_memory(kept, monkeypatch):
    made, _, _ = kept
    put = Spool.put
    no_room = OSError(errno.ENOSPC, "No space left on device")
    monkeypatch.setattr(keeper, "take_piece", raising(no_room))
    monkeypatch.setattr(Spool, "put", raising(no_room))
    for each in PIECES:
        made.put(each, "ab")
    assert made.spool.waiting() == []
    monkeypatch.setattr(Spool, "put", put)
    assert made.finish() == 3
    assert [made.spool.read(each).raw for each in made.spool.waiting()] == [each.wav() for each in PIECES]


def test_while_only_the_spool_has_no_room_the_library_takes_it_and_nothing_is_said(store, kept, monkeypatch):
    made, said, _ = kept
    monkeypatch.setattr(Spool, "put", raising(OSError(errno.ENOSPC, "No space left on device")))
    for each in PIECES:
        made.put(each, "ab")
    assert (made.finish(), made.count, said) == (0, 3, [])


def test_a_piece_that_is_of_no_use_is_told_and_not_counted(store, kept, monkeypatch):
    made, said, _ = kept
    monkeypatch.setattr(intake, "look_inside", lambda *_: {"unusable": "it holds no sound"})
    made.put(PIECES[0], "ab")
    assert (made.finish(), made.count, made.failed) == (0, 0, 1)
    assert said == ["talk 2026-05-14 10.00.30.wav: kept, but it cannot be used: it holds no sound"]
    assert len(store.entries("j")) == 1


def test_a_piece_that_its_disk_cannot_read_is_told_and_the_others_are_taken(store, monkeypatch):
    spool = Spool.of(store, "j")
    for each in PIECES:
        spool.put(keeper.Recorded.of(each, "ab", ZONE))
    bad, *_ = spool.waiting()
    bad.unlink()
    bad.mkdir()
    said = []
    made = Keeper(store.folder, "j", Spool.of(store, "j"), ZONE, lambda: None, said.append)
    assert (made.finish(), made.count, made.failed) == (0, 2, 1)
    assert said == [f"{bad}: cannot be read (Is a directory); check its disk"]
