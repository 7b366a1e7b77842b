"""Files that belong together come into a folder whole, all of them or none."""

from __future__ import annotations

import errno
import os
from pathlib import Path

import pytest

from reports import scratch
from reports.scratch import write_together

FILES = {"a.csv": b"new a", "b.csv": b"new b"}


def held(folder: Path) -> dict[str, bytes]:
    return {each.name: each.read_bytes() for each in folder.iterdir()}


def test_what_was_there_is_replaced_what_is_no_longer_true_goes_and_the_rest_stays(tmp_path: Path) -> None:
    for name in ("a.csv", "plan.dxf", "letter.txt"):
        (tmp_path / name).write_bytes(b"old")
    write_together(tmp_path, FILES, ("plan.dxf", "b.csv"))
    assert held(tmp_path) == FILES | {"letter.txt": b"old"}


def full(monkeypatch: pytest.MonkeyPatch, at: int) -> None:
    """The disk is full from the file of that number on."""
    calls = []

    def fsync(handle: int) -> None:
        calls.append(handle)
        if len(calls) >= at:
            raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    monkeypatch.setattr(scratch.os, "fsync", fsync)


@pytest.mark.parametrize("at", [1, 2])
def test_a_full_disk_leaves_the_folder_as_it_was(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, at: int) -> None:
    old = {"a.csv": b"old a", "plan.dxf": b"old plan"}
    for name, content in old.items():
        (tmp_path / name).write_bytes(content)
    full(monkeypatch, at)
    with pytest.raises(OSError, match="No space"):
        write_together(tmp_path, FILES, ("plan.dxf",))
    assert held(tmp_path) == old


def test_a_full_disk_leaves_no_new_folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    full(monkeypatch, 2)
    with pytest.raises(OSError, match="No space"):
        write_together(tmp_path / "new", FILES)
    assert not (tmp_path / "new").exists()


@pytest.mark.parametrize("name", ["b.csv", "plan.dxf"])
def test_a_folder_by_the_name_of_a_file_stops_all_of_it(tmp_path: Path, name: str) -> None:
    (tmp_path / name).mkdir()
    with pytest.raises(IsADirectoryError):
        write_together(tmp_path, FILES, ("plan.dxf",))
    assert [each.name for each in tmp_path.iterdir()] == [name]
