"""Bags that are damaged, hostile or cut off: one line, and nothing changed."""

import json
import os
import re
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import bagit
import pytest
from bags import ENTRIES, JOB, first, lines, log, packed, refused, taken_in, wrong_with

from extract.errors import FallbookError
from logger import cli
from logger.archive import form
from logger.schema import VERSION
from logger.store import open_store

pytest_plugins = ["bag_fixtures"]

# -- bad bags


def sealed(bag: Path) -> None:
    """The checksums made anew: what is wrong is no longer told by them."""
    bagit.Bag(str(bag)).save(manifests=True)


def sealed_otherwise(bag: Path) -> None:
    for manifest in bag.glob("*manifest-*.txt"):
        manifest.unlink()
    made = bagit.Bag(str(bag))
    made.algorithms = ["sha512"]
    made.save(manifests=True)


def change_text(bag: Path, name: str, old: str, new: str) -> None:
    path = bag / name
    text = path.read_text()
    assert old in text
    path.write_text(text.replace(old, new, 1))


def change_line(bag: Path, change: Any, at: int = 0, name: str = "log.jsonl") -> None:
    """One line of the log is another, and sealed."""
    path = bag / "data" / name
    shapes = [json.loads(line) for line in path.read_text().splitlines()]
    change(shapes[at])
    path.write_text("".join(json.dumps(shape) + "\n" for shape in shapes))
    sealed(bag)


def altered(bag: Path) -> None:
    path = first(bag, ".wav")
    raw = bytearray(path.read_bytes())
    raw[100] ^= 1
    path.chmod(0o600)
    path.write_bytes(raw)


def linked(bag: Path) -> None:
    path = first(bag, ".txt")
    outside = bag.parent / "bag-outside.txt"  # the same letters as the bag begin its name
    path.rename(outside)
    path.symlink_to(outside)


def linked_folder(bag: Path) -> None:
    (bag / "data" / "originals").rename(bag.parent / "elsewhere")
    (bag / "data" / "originals").symlink_to(bag.parent / "elsewhere")


def swapped(bag: Path) -> None:
    altered(bag)
    sealed(bag)


def lost(bag: Path) -> None:
    first(bag, ".jpg").unlink()
    sealed(bag)


def typed_into(bag: Path, **body: Any) -> None:
    """One more amendment in the log, called by what it holds, and sealed."""
    at = datetime(2026, 6, 1, tzinfo=UTC)
    kind = "removal" if "what" in body else "amendment"
    shape = {"id": form.digest(kind, at, body), "kind": kind, "at": at.isoformat(), "stands": at.isoformat()}
    with (bag / "data" / "log.jsonl").open("a") as file:
        file.write(json.dumps(shape | {"body": body}) + "\n")
    sealed(bag)


NO_LOG = "line 15 of its log cannot be read"
TYPED = {
    "a day that is none": {"subject": "job", "field": "day", "value": "never"},
    "a day that is no text": {"subject": "job", "field": "day", "value": {}},
    "no client": {"subject": "job", "field": "client", "value": " "},
    "a fact of the zone that is none": {"subject": "job", "field": "zone", "value": "west"},
    "a way back that is a path": {"subject": "job", "field": "callback_of", "value": "../front-walk"},
    "a fact that no job has": {"subject": "job", "field": "colour", "value": "red"},
    "a field that is none": {"subject": "R-1", "field": "__class__", "value": "x"},
    "a tie of nothing": {"subject": "CB-1", "field": "ties", "value": {"sqft": 1}},
    "a reading of nothing": {"subject": "CB-1 rim", "field": "levels", "value": {"point": "CB-1 rim", "kind": "x"}},
    "a figure without end": {"subject": "R-1", "field": "length_ft", "value": float("inf")},
    "a figure past all sense": {"subject": "R-1", "field": "length_ft", "value": 1e300},
    "the removal of a file that is not there": {"what": "file", "name": "a" * 64},
}
BAD = {
    "an altered original": (altered, "data/originals/[0-9a-f]{64}.wav was altered"),
    "a missing original": (lambda bag: first(bag, ".jpg").unlink(), "data/originals/[0-9a-f]{64}.jpg is missing"),
    "an original taken out, and sealed": (lost, "the original of IMG_1.JPG is missing"),
    "an original altered, and sealed": (swapped, "originals/[0-9a-f]{64}.wav is not the original that it is called by"),
    "a log cut short": (lambda bag: os.truncate(bag / "data" / "log.jsonl", 2000), "data/log.jsonl was altered"),
    "a figure in the log changed": (
        lambda bag: change_text(bag, "data/log.jsonl", "21 feet", "71 feet"),
        "data/log.jsonl was altered",
    ),
    "a figure in the log changed, and sealed": (
        lambda bag: (change_text(bag, "data/log.jsonl", "20 feet", "70 feet"), sealed(bag)),
        "line 4 of its log cannot be read",
    ),
    "one file too many": (lambda bag: (bag / "data" / "more.txt").write_text("x"), "data/more.txt is in no manifest"),
    "a log larger than memory": (
        lambda bag: os.truncate(bag / "data" / "log.jsonl", 1 << 40),
        "data/log.jsonl is larger than any job's",
    ),
    "a manifest larger than memory": (
        lambda bag: os.truncate(bag / "manifest-sha256.txt", 1 << 40),
        "manifest-sha256.txt is larger than any job's",
    ),
    "a file that is to be fetched": (
        lambda bag: (
            (bag / "fetch.txt").write_text("https://fetched.example/a.wav 9 data/originals/a.wav\n"),
            (bag / "manifest-sha256.txt").open("a").write(f"{'a' * 64}  data/originals/a.wav\n"),
        ),
        "data/originals/a.wav is missing",
    ),
    "no manifest": (lambda bag: (bag / "manifest-sha256.txt").unlink(), "No manifest files found"),
    "an empty manifest": (
        lambda bag: (bag / "manifest-sha256.txt").write_text(""),
        "data/job.json is in no manifest",
    ),
    "a manifest that leads out": (
        lambda bag: change_text(bag, "manifest-sha256.txt", "data/job.json", "data/../../job.json"),
        "is unsafe",
    ),
    "a manifest that leads to the root": (
        lambda bag: change_text(bag, "manifest-sha256.txt", "data/job.json", "/etc/hostname"),
        "is unsafe",
    ),
    "a link out": (linked, r"data/originals/[0-9a-f]{64}.txt is no file of its own but a link"),
    "a folder that is a link": (linked_folder, "data/originals is no file of its own but a link"),
    "a pipe": (lambda bag: os.mkfifo(bag / "data" / "pipe"), "data/pipe is no file of its own but a link or a device"),
    "bagit.txt that is no text": (lambda bag: (bag / "bagit.txt").write_bytes(b"\xff\xfe\x00"), "damaged"),
    "bagit.txt with a line twice": (
        lambda bag: (bag / "bagit.txt").write_text((bag / "bagit.txt").read_text() * 2),
        "damaged",
    ),
    "a bag of a later standard": (
        lambda bag: change_text(bag, "bagit.txt", "BagIt-Version: 1.0", "BagIt-Version: 2.0"),
        "Unsupported bag version: 2.0",
    ),
    "checksums of another kind": (
        sealed_otherwise,
        "it has no checksums by SHA-256",
    ),
    "no log": (
        lambda bag: ((bag / "data" / "log.jsonl").unlink(), sealed(bag)),
        r"log.jsonl cannot be read \(No such file",
    ),
    "a job of a newer program": (
        lambda bag: (change_text(bag, "data/job.json", f'"form": {VERSION}', f'"form": {VERSION + 1}'), sealed(bag)),
        f"packed by a newer fallbook .form {VERSION + 1}, this one knows {VERSION}.; install that version here",
    ),
    "a job that is none": (
        lambda bag: ((bag / "data" / "job.json").write_text("[1]"), sealed(bag)),
        "job.json does not hold a job",
    ),
    "a job whose name is a path": (
        lambda bag: (change_text(bag, "data/job.json", '"front-walk"', '"../front-walk"'), sealed(bag)),
        "'../front-walk' cannot name a job",
    ),
    "a company file that is none": (
        lambda bag: (change_text(bag, "data/job.json", "[warranty]", "[warranties]"), sealed(bag)),
        "the company file in job.json",
    ),
    "a zone that is none": (
        lambda bag: (change_text(bag, "data/job.json", '"-05:00"', '"-5"'), sealed(bag)),
        "'-5' is no offset from UTC",
    ),
    "a line that is no JSON": (
        lambda bag: (change_text(bag, "data/log.jsonl", '{"id"', '{"id'), sealed(bag)),
        "line 1 of its log cannot be read",
    ),
    "a line nested without end": (
        lambda bag: ((bag / "data" / "log.jsonl").write_text("[" * 200_000 + "\n"), sealed(bag)),
        "line 1 of its log cannot be read",
    ),
    "an entry of a kind that is not known": (
        lambda bag: change_line(bag, lambda shape: shape.update(kind="letter")),
        "line 1 of its log cannot be read",
    ),
    "a file whose name is a path": (
        lambda bag: change_line(bag, lambda shape: shape.update(name="../../a.txt")),
        "line 1 of its log cannot be read",
    ),
    "an entry of the year 2400": (
        lambda bag: change_line(bag, lambda shape: shape.update(stands="2400-01-01T00:00:00+00:00")),
        "line 1 of its log cannot be read",
    ),
    "an entry that names one that is not there": (
        lambda bag: ((bag / "data" / "log.jsonl").write_text(without_typed(bag)), sealed(bag)),
        "line 5 of its log cannot be read",
    ),
    "what was heard is no notes": (
        lambda bag: change_line(bag, lambda shape: shape.update(value={"notes": [{"texts": 1}]}), -1, "readings.jsonl"),
        "line 2 of what was heard cannot be read",
    ),
}


BAD |= {what: (lambda bag, body=body: typed_into(bag, **body), NO_LOG) for what, body in TYPED.items()}


def without_typed(bag: Path) -> str:
    return "".join(
        f"{json.dumps(each)}\n" for each in lines(bag) if each["body"].get("text") != "Run two is in, 20 feet."
    )


@pytest.mark.parametrize("fault", BAD)
def test_a_bag_that_is_not_whole_is_one_line_and_nothing_is_written(bag, tmp_path, fault, capsys):
    damage, words = BAD[fault]
    damage(bag)
    assert cli.run(["--library", str(tmp_path / "b"), "unpack", str(bag)]) == 1
    told = capsys.readouterr()
    assert told.out == ""
    assert told.err.count("\n") == 1
    assert told.err.startswith(f"fallbook: {bag}: this ")
    assert re.search(words, told.err), told.err
    assert not (tmp_path / "b").exists()


@pytest.mark.parametrize("what", ["gone", "empty", "notes.txt"])
def test_a_folder_that_is_no_bag_is_wrong_usage(library, tmp_path, what, capsys):
    (tmp_path / "empty").mkdir()
    before = log(library)
    assert cli.run(["--library", str(library), "unpack", str(tmp_path / what)]) == 2
    line = f"fallbook: {tmp_path / what}: no packed job here; give the folder that fallbook pack made\n"
    assert capsys.readouterr() == ("", line)
    assert log(library) == before


def test_a_log_that_is_damaged_here_is_not_added_to(library, bag):
    with open_store(library) as store:
        store.connection.execute("DROP TRIGGER log_not_updated")
        store.connection.execute("UPDATE log SET body = replace(body, '21 feet', '71 feet')")
    with pytest.raises(FallbookError, match="of its log is damaged"):
        taken_in(bag, library)


# -- cut off


def test_a_disk_that_fills_up_leaves_no_half_of_it(library, tmp_path, monkeypatch):
    def full(*_: object) -> bool:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("logger.archive.pack.copy_original", full)
    folder = tmp_path / "bag"
    line = f"{folder}: the disk is full; make room and pack it again; nothing was left there"
    assert refused(library, folder) == line
    monkeypatch.undo()
    packed(library, folder)
    monkeypatch.setattr("logger.archive.unpack.copy_original", full)
    with pytest.raises(FallbookError, match="b: the disk is full; make room and unpack it again"):
        taken_in(folder, tmp_path / "b")
    monkeypatch.undo()
    with open_store(tmp_path / "b") as store:
        assert store.job_names() == []
    assert [path.name for path in (tmp_path / "b").rglob(".unfinished-*")] == []
    assert taken_in(folder, tmp_path / "b")[:2] == (ENTRIES, 3)


def test_originals_that_a_kill_left_behind_the_log_go_to_their_place_at_the_next_start(bag, tmp_path, monkeypatch):
    monkeypatch.setattr(
        "logger.originals.Originals._finish_folder", lambda *_: (_ for _ in ()).throw(KeyboardInterrupt)
    )
    with pytest.raises(KeyboardInterrupt):
        taken_in(bag, tmp_path / "b")
    monkeypatch.undo()
    assert len(list((tmp_path / "b").rglob(".unfinished-*"))) == 2
    assert wrong_with(tmp_path / "b") == []
    assert [path.name for path in (tmp_path / "b").rglob(".unfinished-*")] == []
    assert taken_in(bag, tmp_path / "b") == (0, 0, ())


def test_copies_of_an_unpacking_that_is_going_on_are_left_alone(library):
    with open_store(library) as store, store.originals.arriving_together() as copies:
        (copies.folder / ("0" * 64)).write_bytes(b"half of it")
        with open_store(library):
            pass
        assert (copies.folder / ("0" * 64)).exists()
    assert [path.name for path in library.rglob(".unfinished-*")] == []


def test_a_library_that_cannot_be_written_takes_nothing_in_and_is_packed(library, bag, tmp_path, monkeypatch):
    monkeypatch.setattr("logger.store.can_write", lambda folder: False)
    packed(library, tmp_path / "again")
    with pytest.raises(FallbookError, match="this library can be read and not written"):
        taken_in(bag, library)


# -- as typed


def test_a_job_goes_from_one_library_to_another_as_typed(library, tmp_path, capsys):
    bag = tmp_path / "bag"
    assert cli.run(["--library", str(library), "pack", JOB, "-o", str(bag)]) == 0
    told = f"front-walk: packed: {ENTRIES} entries, 3 originals; take it in with: fallbook unpack {bag}\n"
    assert capsys.readouterr() == (told, "")
    taken = f"new library: {tmp_path / 'b'}\nfront-walk: taken in: {ENTRIES} entries, 3 originals\n"
    for line in (taken, "front-walk: nothing new\n"):
        assert cli.run(["--library", str(tmp_path / "b"), "unpack", str(bag)]) == 0
        assert capsys.readouterr() == (line, "")
    assert cli.run(["--library", str(tmp_path / "b"), "find", "run two"]) == 0
    assert "21 feet" in capsys.readouterr().out
