"""Pieces on disk: each with which stretch of which recording it is, and whole or not there at all."""

import json
import shutil
from datetime import UTC, datetime, timedelta, timezone

import numpy as np
import pytest

from logger import jobs
from logger.cutting import Piece
from logger.spool import Recorded, Spool
from logger.store import open_store
from logger.upload import Upload

BEGAN = datetime(2026, 5, 14, 15, 0, 30, 250_000, tzinfo=UTC)
PIECE = Piece(BEGAN, 20_000, np.arange(16_000, dtype=np.int16), 8000)


@pytest.fixture
def spool(store):
    return Spool.of(store, "j")


@pytest.fixture
def recorded():
    return Recorded.of(PIECE, "ab12", timezone(timedelta(hours=-5)))


def test_what_is_put_is_read_again(spool, recorded):
    path = spool.put(recorded)
    assert spool.waiting() == [path]
    assert spool.read(path) == recorded
    assert recorded.name == "talk 2026-05-14 10.00.30.wav"
    assert recorded.upload == Upload(at=BEGAN, recording_id="ab12", from_s=2.5, to_s=4.5)
    assert recorded.raw == PIECE.wav()


def test_two_of_one_second_lie_beside_each_other(spool, recorded):
    spool.put(recorded)
    spool.put(Recorded.of(PIECE, "ab13", UTC))
    assert len(spool.waiting()) == 2


@pytest.mark.parametrize(
    "beside", [None, b"{", b"{}", json.dumps({"at": 1, "from": 2, "to": [], "recording_id": 0}).encode()]
)
def test_one_that_lost_what_lay_beside_it_is_sound_all_the_same(spool, recorded, beside):
    path = spool.put(recorded)
    path.with_suffix(".json").unlink()
    if beside is not None:
        path.with_suffix(".json").write_bytes(beside)
    assert spool.read(path) == Recorded(recorded.name, recorded.raw, Upload())


def test_a_kill_between_the_two_files_leaves_nothing_to_take(spool, recorded, monkeypatch):
    def killed(target, content):
        if target.suffix == ".wav":
            raise OSError(28, "No space left on device")
        target.write_bytes(content)

    monkeypatch.setattr("logger.spool.write_whole", killed)
    with pytest.raises(OSError, match="No space"):
        spool.put(recorded)
    assert spool.waiting() == []


def test_what_is_dropped_is_gone_and_the_last_takes_the_folder_with_it(spool, recorded):
    one, two = spool.put(recorded), spool.put(Recorded.of(PIECE, "ab13", UTC))
    spool.drop(one)
    assert spool.waiting() == [two]
    spool.drop(two)
    assert not spool.folder.exists()
    spool.drop(two)


def test_each_job_has_its_own_and_only_its_owner_reads_it(store, spool, recorded, company, tmp_path):
    spool.put(recorded)
    assert spool.folder.stat().st_mode & 0o077 == 0
    words = {"address": "2 Tarn Lane", "company": str(company), "day": None, "zone": "-05:00"}
    jobs.new(store, "k", client="A. Client", **words)
    assert Spool.of(store, "k").waiting() == []
    with open_store(tmp_path / "other", create=True) as other:
        jobs.new(other, "j", client="B. Client", **words)
        assert Spool.of(other, "j").waiting() == []


def test_a_library_that_was_moved_has_the_same(store, spool, tmp_path):
    shutil.copytree(store.folder, tmp_path / "moved")
    with open_store(tmp_path / "moved") as moved:
        assert Spool.of(moved, "j").folder == spool.folder
