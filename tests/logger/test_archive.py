"""A job packed as a bag and unpacked: the same book, once however often; two crews' as one; every kind of bad bag."""

import hashlib
import io
import json
import os
import random
import re
import shutil
import subprocess
import sys
import wave
import zipfile
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from typing import Any

import bagit
import pytest
from conftest import COMPANY, FakeHearing, exif_bytes, quarters
from PIL import Image

from extract.errors import FallbookError, UsageError
from extract.record import Note
from logger import archive, changes, cli, jobs, undo
from logger.accept import accept
from logger.archive import form
from logger.archive.pack import pack
from logger.archive.unpack import opened, unpack
from logger.ask import open_questions
from logger.book import Book
from logger.photos import GPS_IFD
from logger.reply import reply
from logger.schema import VERSION
from logger.store import LogEntry, Store, open_store
from logger.verify import prunable, prune, verify

JOB = "front-walk"
TALK = "[09:00] Basin one is set.\n[09:05] Run one is in, basin one to basin two, 34 feet.\n"
ENTRIES = 14
OF: dict[str, Any] = {
    "client": "Ina Wexcombe",
    "address": "27 Quillbark Row",
    "day": date(2026, 5, 14),
    "zone": "-05:00",
}
HEARD = [Note(text="Cover on run one is 12 inches.", start_s=0.2, end_s=0.9, confidence=0.9)]


def quiet(*_: object) -> None:
    """Nobody looks at the progress."""


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


def hum(path: Path, loud: int) -> Path:
    """A second of sound; what is said in it is up to the stand-in."""
    with wave.open(str(path), "wb") as file:
        file.setparams((1, 1, 8000, 0, "NONE", ""))
        file.writeframes(bytes([128 + loud, 128 - loud]) * 4000)
    return path


def take(store: Store, paths: list[Path], hearing) -> None:
    results = list(jobs.take(store, JOB, paths, listening=lambda name: quiet, hearing=hearing))
    assert [each.line for each in results if each.outcome == "failed"] == []


def packed(library: Path, folder: Path, job: str = JOB) -> Path:
    with open_store(library) as store:
        amiss = pack(store, job, folder, quiet).amiss
    assert [line for line in amiss if not line.endswith("to settle first")] == []
    return folder


def taken_in(bag: Path, library: Path, name: str | None = None) -> tuple[int, int, tuple[str, ...]]:
    """How many entries and originals came in, and what is amiss."""
    given = opened(bag, name)
    with open_store(library, create=True) as store:
        done = unpack(store, given, quiet)
        return done.entries, done.originals, done.amiss


def log(library: Path, job: str = JOB) -> list[tuple[Any, ...]]:
    with open_store(library) as store:
        return [tuple(row.values()) for row in store.rows("SELECT * FROM log WHERE job = ? ORDER BY id", [job])]


def wrong_with(library: Path) -> list[str]:
    with open_store(library) as store:
        return [fault.words for fault in verify(store, None, quiet)]


def read(library: Path, job: str = JOB) -> dict[str, Any]:
    """All that a crew sees of a job."""
    with open_store(library) as store:
        book = Book(store, job)
        return {
            "notes": [note.model_dump() for note in book.notes],
            "record": book.record.as_json(),
            "findings": [each.model_dump() for each in book.findings],
            "photos": [each.model_dump() for each in book.photos],
            "job": book.job.model_dump(),
            "amiss": [*book.problems, *book.remarks],
        }


def lines(bag: Path) -> list[dict[str, Any]]:
    return [json.loads(line) for line in (bag / "data" / "log.jsonl").read_text().splitlines()]


# -- there and back


def test_an_unpacked_job_reads_as_it_did_and_gives_the_same_report(library, bag, tmp_path):
    assert taken_in(bag, tmp_path / "b") == (ENTRIES, 3, ())
    assert read(tmp_path / "b") == read(library)
    reports = []
    for folder in (library, tmp_path / "b"):
        with open_store(folder) as store:
            jobs.report(store, JOB, tmp_path / "report.docx", reader="record")
        reports.append((tmp_path / "report.docx").read_bytes())
    assert reports[0] == reports[1]
    assert wrong_with(tmp_path / "b") == []


def test_nothing_is_heard_again(made, bag, tmp_path, hearing):
    taken_in(bag, tmp_path / "b")
    with open_store(tmp_path / "b") as store:
        take(store, [made / "phone" / "2026-05-14T100000.wav"], hearing)
    assert hearing.asked == []


def test_a_recording_that_cannot_be_heard_is_not_tried_again(crew, hearing, make_sound, tmp_path):
    from logger.worker import Unusable

    hearing.answers += [Unusable("broken in the middle")]
    with open_store(crew("a")) as store:
        list(jobs.take(store, JOB, [make_sound("a.wav")], listening=lambda name: quiet, hearing=hearing))
        bag = tmp_path / "bag"
        assert "broken in the middle" in " ".join(pack(store, JOB, bag, quiet).amiss)
    taken_in(bag, tmp_path / "b")
    assert read(tmp_path / "b")["amiss"] == read(tmp_path / "a")["amiss"]


def test_a_recording_that_could_not_be_heard_here_is_known_as_the_others_heard_it(made, bag, crew, hearing):
    from logger.worker import Unusable

    hearing.answers += [Unusable("broken in the middle")]
    other, sound = crew("b"), made / "phone" / "2026-05-14T100000.wav"
    with open_store(other) as store:
        list(jobs.take(store, JOB, [sound], listening=lambda name: quiet, hearing=hearing))
    taken_in(bag, other)
    assert "Cover on run one is 12 inches." in [each["text"] for each in read(other)["notes"]]
    assert read(other)["amiss"] == []
    with open_store(other) as store:
        again = list(jobs.take(store, JOB, [sound], listening=lambda name: quiet, hearing=hearing))
    assert [each.outcome for each in again] == ["already"]


def test_what_was_heard_here_stands(made, bag, crew, hearing):
    hearing.answers += [[Note(text="Cover on run one is 18 inches.", start_s=0.2, end_s=0.9, confidence=0.9)]]
    other = crew("b")
    with open_store(other) as store:
        take(store, [made / "phone" / "2026-05-14T100000.wav"], hearing)
    taken_in(bag, other)
    texts = [each["text"] for each in read(other)["notes"]]
    assert ("Cover on run one is 18 inches." in texts, "Cover on run one is 12 inches." in texts) == (True, False)


def test_unpacked_twice_changes_nothing(bag, tmp_path):
    taken_in(bag, tmp_path / "b")
    before = log(tmp_path / "b"), (tmp_path / "b" / "library.db").read_bytes()
    assert taken_in(bag, tmp_path / "b") == (0, 0, ())
    assert (log(tmp_path / "b"), (tmp_path / "b" / "library.db").read_bytes()) == before


def test_a_bag_of_an_unpacked_job_has_the_same_log_whatever_the_job_is_called(crew, bag, tmp_path):
    with open_store(crew("b", "other")) as store:
        for number in range(3):
            jobs.say(store, "other", f"Its IDs are others then. {number}", "08:00")
    taken_in(bag, tmp_path / "b", "side-gate")
    again = packed(tmp_path / "b", tmp_path / "again", "side-gate")
    for name in ("log.jsonl", "readings.jsonl"):
        assert (again / "data" / name).read_bytes() == (bag / "data" / name).read_bytes()


@pytest.mark.parametrize("commit", ["3f4f45c", "6f5147e", "476bdd2", "17a49f6"])
def test_a_library_of_an_earlier_version_is_packed_too(commit, tmp_path):
    library = Path(shutil.copytree(Path(__file__).parent / "libraries" / commit, tmp_path / "a"))
    assert taken_in(packed(library, tmp_path / "bag"), tmp_path / "b")[2] == ()
    assert read(tmp_path / "b") == read(library)


def test_entries_that_came_in_while_the_clock_ran_backwards_keep_their_order(crew, tmp_path):
    library = crew("a")
    with open_store(library) as store:
        for number, minutes in enumerate((60, 0, 30)):
            at = datetime(2026, 5, 14, 15, tzinfo=UTC) + timedelta(minutes=minutes)
            store.append(JOB, "said", {"text": f"Word {number}.", "at": at.isoformat()}, at)
    taken_in(packed_with_remarks(library, tmp_path / "bag"), tmp_path / "b")
    assert read(tmp_path / "b") == read(library)
    assert [each["text"] for each in read(tmp_path / "b")["notes"]] == ["Word 0.", "Word 1.", "Word 2."]


def packed_with_remarks(library: Path, folder: Path) -> Path:
    with open_store(library) as store:
        pack(store, JOB, folder, quiet)
    return folder


def test_what_was_removed_and_deleted_for_good_stays_so_and_the_other_photos_keep_their_numbers(
    library, make_photo, hearing, tmp_path
):
    with open_store(library) as store:
        take(store, [make_photo("IMG_2.jpg", taken="2026:05:14 08:00:00")], hearing)
        changes.remove(store, JOB, "photo:1")
        assert prune(store, prunable(store))
    bag = packed(library, tmp_path / "bag")
    assert len(list((bag / "data" / "originals").iterdir())) == 3
    taken_in(bag, tmp_path / "b")
    assert read(tmp_path / "b") == read(library)
    assert [each["number"] for each in read(tmp_path / "b")["photos"]] == [2]


def test_what_was_removed_alone_can_be_put_back_from_the_bag(library, tmp_path):
    with open_store(library) as store:
        changes.remove(store, JOB, "photo:1")
    taken_in(packed(library, tmp_path / "bag"), tmp_path / "b")
    with open_store(tmp_path / "b") as store:
        changes.remove(store, JOB, "photo:1", undo=True)
        assert Book(store, JOB).problems == []
        assert len(Book(store, JOB).photos) == 1


def test_what_was_deleted_for_good_here_is_not_brought_back(library, bag, tmp_path):
    with open_store(library) as store:
        changes.remove(store, JOB, "photo:1")
        prune(store, prunable(store))
    assert taken_in(bag, library) == (0, 0, ())


def test_what_was_deleted_for_good_here_and_put_back_by_the_others_is_brought_back(library, bag, tmp_path):
    with open_store(library) as store:
        changes.remove(store, JOB, "photo:1")
        prune(store, prunable(store))
    taken_in(bag, tmp_path / "b")
    with open_store(tmp_path / "b") as store:
        changes.remove(store, JOB, "photo:1")
        changes.remove(store, JOB, "photo:1", undo=True)
    taken_in(packed(tmp_path / "b", tmp_path / "theirs"), library)
    assert read(library) == read(tmp_path / "b")


def test_an_original_that_is_altered_or_gone_here_is_whole_again(library, bag):
    gone, altered, _ = sorted((library / "originals").iterdir())
    gone.unlink()
    altered.chmod(0o600)
    altered.write_bytes(b"x")
    assert taken_in(bag, library) == (0, 2, ())
    assert wrong_with(library) == []


def test_what_was_lost_from_a_log_is_named_as_lost_and_meets_no_other_entry(crew, tmp_path):
    library = crew("a")
    change = {"subject": "note", "field": "text", "value": "x", "at": "2026-05-14T10:00:00-05:00"}
    with open_store(library) as store:
        store.append(JOB, "amendment", change | {"note_source": "log:7", "note_words": "y"}, datetime.now(UTC))
        store.append(JOB, "answer", {"what": "undone", "entry": 8}, datetime.now(UTC))
    bag = packed_with_remarks(library, tmp_path / "bag")
    assert [each["body"].get("note_source", each["body"].get("entry")) for each in lines(bag)] == ["log:lost", "lost"]
    for _ in range(2):
        taken_in(bag, tmp_path / "b")
    assert read(tmp_path / "b") == read(library)
    assert len(log(tmp_path / "b")) == 2


# -- the bag


def test_a_bag_holds_the_job_in_open_shapes_under_names_that_no_client_chose(library, bag):
    assert (bag / "bagit.txt").read_text() == "BagIt-Version: 1.0\nTag-File-Character-Encoding: UTF-8\n"
    names = sorted(str(path.relative_to(bag)) for path in bag.rglob("*") if path.is_file())
    with open_store(library) as store:
        held = sorted(entry.sha256 for entry in store.entries(JOB) if entry.sha256)
    assert sorted(Path(name).stem for name in names if "originals" in name) == held
    assert {Path(name).suffix for name in names if "originals" in name} == {".jpg", ".txt", ".wav"}
    assert [name for name in names if "originals" not in name] == [
        "bag-info.txt",
        "bagit.txt",
        "data/job.json",
        "data/log.jsonl",
        "data/readings.jsonl",
        "data/record.json",
        "data/reports/client/front-walk-client-care.ics",
        "data/reports/client/front-walk-client-plan.png",
        "data/reports/client/front-walk-client.docx",
        "data/reports/locate/front-walk-locate-plan.png",
        "data/reports/locate/front-walk-locate.docx",
        "data/reports/record/front-walk-record-plan.png",
        "data/reports/record/front-walk-record.docx",
        "manifest-sha256.txt",
        "tagmanifest-sha256.txt",
    ]
    for line in (bag / "manifest-sha256.txt").read_text().splitlines():
        sha256, name = line.split()
        assert hashlib.sha256((bag / name).read_bytes()).hexdigest() == sha256
    job = json.loads((bag / "data" / "job.json").read_text())
    assert (job["form"], job["name"], job["address"]) == (VERSION, JOB, "27 Quillbark Row")
    assert job["now"]["address"] == "27 Quillbark Lane"
    assert json.loads((bag / "data" / "record.json").read_text()) == read(library)["record"]


def test_each_entry_is_called_by_what_it_holds_and_names_others_so(bag):
    entries = lines(bag)
    by_id = {each["id"]: each for each in entries}
    assert len(by_id) == len(entries)
    typed = next(each["id"] for each in entries if each["body"].get("text") == "Run two is in, 20 feet.")
    undone = next(each["body"]["entry"] for each in entries if each["body"].get("what") == "undone")
    assert by_id[undone]["body"]["value"] == "gravel"
    marks = [each["body"].get("note_source") for each in entries] + [
        each["source"] for entry in entries for each in entry["body"].get("rests_on") or []
    ]
    assert marks.count(f"log:{typed}") >= 2
    first = entries[-1]
    text = json.dumps([first["kind"], first["at"], first["body"]], sort_keys=True, ensure_ascii=False)
    assert hashlib.sha256(text.encode()).hexdigest() == first["id"]


def test_the_clients_folder_tells_no_place_of_a_photo(bag):
    assert Image.open(first(bag, ".jpg")).getexif().get_ifd(GPS_IFD)
    client = bag / "data" / "reports" / "client"
    with zipfile.ZipFile(client / "front-walk-client.docx") as report:
        pictures = [report.read(name) for name in report.namelist() if name.startswith("word/media/")]
    assert len(pictures) == 2
    for raw in (*pictures, (client / "front-walk-client-plan.png").read_bytes()):
        assert dict(Image.open(io.BytesIO(raw)).getexif()) == {}


@pytest.mark.outside
def test_the_outside_program_finds_the_bag_valid(bag):
    """bagit.py, the Library of Congress' own program for RFC 8493, as it is run by hand."""
    done = subprocess.run([sys.executable, "-m", "bagit", "--validate", str(bag)], capture_output=True, text=True)
    assert (done.returncode, done.stderr.rstrip().endswith(f"{bag} is valid")) == (0, True)


def test_the_page_on_the_layout_names_every_file_and_every_field(bag):
    page = Path(archive.__file__).with_name("README.md").read_text(encoding="utf-8")
    names = {
        path.name for path in bag.rglob("*") if path.is_file() and path.parent.parent.name not in ("data", "reports")
    }
    fields = {key for each in lines(bag) for key in each} | {*json.loads((bag / "data" / "job.json").read_text())}
    for name in sorted({*names, *fields}):
        assert f"`{name}`" in page, name


def test_a_job_is_packed_without_a_report_where_none_can_be_made(library, tmp_path, monkeypatch):
    monkeypatch.setattr("logger.jobs.today", lambda: (_ for _ in ()).throw(UsageError("the clock says 1970")))
    with open_store(library) as store:
        told = pack(store, JOB, tmp_path / "bag", quiet).amiss
    assert told[0] == "packed without the report for the client: the clock says 1970"
    assert len(told) == 3
    assert taken_in(tmp_path / "bag", tmp_path / "b")[0] == ENTRIES
    assert not list((tmp_path / "bag" / "data" / "reports").iterdir())


def test_what_is_packed_is_of_one_moment(library, tmp_path, monkeypatch):
    def report(store: Store, name: str, path: Path, *, reader: str) -> None:
        jobs.say(store, name, "One more word.", "12:00")

    monkeypatch.setattr("logger.archive.pack.jobs.report", report)
    with open_store(library) as store, pytest.raises(FallbookError, match="something came in while it was packed"):
        pack(store, JOB, tmp_path / "bag", quiet)
    assert not list(tmp_path.glob("*bag*")) + list(tmp_path.glob(".unfinished-*"))


def refused(library: Path, folder: Path, job: str = JOB) -> str:
    before = sorted(folder.parent.iterdir()) if folder.parent.is_dir() else []
    with open_store(library) as store, pytest.raises(FallbookError) as told:
        pack(store, job, folder, quiet)
    assert (sorted(folder.parent.iterdir()) if folder.parent.is_dir() else []) == before
    return str(told.value)


def test_nothing_is_packed_over_what_is_there_nor_into_the_library(library, bag, tmp_path):
    assert refused(library, bag) == f"{bag}: is there already, and nothing is laid over it; give a name that is new"
    assert "no such folder; make the folder first" in refused(library, tmp_path / "gone" / "bag")
    assert "lies in the library" in refused(library, library / "bag")
    assert "no job 'nowhere'" in refused(library, tmp_path / "other", "nowhere")


def test_a_job_with_an_altered_original_is_not_packed(library, tmp_path):
    path = next(each for each in (library / "originals").iterdir() if each.read_bytes().startswith(b"[09:00]"))
    path.chmod(0o600)
    path.write_bytes(TALK.replace("34", "74").encode())
    told = "notes.txt: its original was altered or damaged in the library; take the true file again"
    assert refused(library, tmp_path / "bag").startswith(told)


def test_a_removed_job_is_not_packed(library, tmp_path):
    with open_store(library) as store:
        changes.remove(store, JOB)
    assert "this job was removed; bring it back with" in refused(library, tmp_path / "bag")


# -- two crews


@pytest.fixture
def two(library, bag, tmp_path):
    """The job on two laptops."""
    taken_in(bag, tmp_path / "b")
    return library, tmp_path / "b"


def exchanged(one: Path, other: Path, tmp_path: Path) -> None:
    """Each unpacks what the other packed."""
    bags = [packed_with_remarks(folder, tmp_path / f"bag of {folder.name}") for folder in (one, other)]
    taken_in(bags[1], one)
    taken_in(bags[0], other)


def run_one(library: Path) -> Any:
    with open_store(library) as store:
        return Book(store, JOB).record.subject("R-1")


def test_two_crews_logs_become_one(two, make_photo, hearing, tmp_path):
    """Disjoint notes, the same photo taken by both, an amendment by each, and one taken back."""
    one, other = two
    photo = make_photo("both.jpg", taken="2026:05:14 12:00:00")
    hearing.answers += [[Note(text="Roots in the trench of run one.", start_s=0.1, end_s=0.9, confidence=0.9)]]
    with open_store(one) as store:
        jobs.say(store, JOB, "Basin three is set.", "13:00")
        take(store, [photo], hearing)
        changes.amend(store, JOB, "R-1", "length", "35")
    with open_store(other) as store:
        jobs.say(store, JOB, "Basin four is set.", "12:50")
        take(store, [photo, hum(tmp_path / "2026-05-14T130500.wav", 2)], hearing)
        changes.amend(store, JOB, "R-1", "length", "36")
        changes.amend(store, JOB, "R-1", "bedding", "sand")
        undo.undo(store, JOB)
    with open_store(one) as store:
        changes.amend(store, JOB, "R-1", "cover", "14")
    exchanged(one, other, tmp_path)
    assert read(one) == read(other)
    texts = [each["text"] for each in read(one)["notes"]]
    assert texts[-3:] == ["Basin four is set.", "Basin three is set.", "Roots in the trench of run one."]
    assert (run_one(one).length_ft, run_one(one).cover_in, run_one(one).bedding) == (36, 14, None)
    assert len(read(one)["photos"]) == 2
    assert wrong_with(one) == wrong_with(other) == []


def test_the_last_word_counts_though_the_others_came_in_later(two, tmp_path):
    one, other = two
    with open_store(other) as store:
        changes.amend(store, JOB, "R-1", "length", "36")
    with open_store(one) as store:
        changes.amend(store, JOB, "R-1", "length", "35")
    exchanged(one, other, tmp_path)
    assert (run_one(one).length_ft, run_one(other).length_ft) == (35, 35)
    with open_store(one) as store:
        assert undo.undo(store, JOB).startswith("taken back: R-1 length 35")
    assert run_one(one).length_ft == 36


def test_one_crew_takes_back_what_the_other_amended(two, tmp_path):
    one, other = two
    with open_store(one) as store:
        changes.amend(store, JOB, "R-1", "length", "35")
    taken_in(packed(one, tmp_path / "first"), other)
    with open_store(other) as store:
        undo.undo(store, JOB)
        jobs.say(store, JOB, "Basin five is set.", "14:00")
    taken_in(packed(other, tmp_path / "second"), one)
    assert run_one(one).length_ft == 34
    assert read(one) == read(other)


def test_an_answer_of_either_crew_holds_for_both(two, tmp_path):
    """A question that needs no answer by one crew's word, and by the other's; and one that the other took back."""
    one, other = two
    with open_store(one) as store:
        for minute, number in enumerate(("three", "four", "five")):
            jobs.say(store, JOB, f"Run {number} is in.", f"13:0{minute}")
    taken_in(packed(one, tmp_path / "first"), other)
    before = questions(one)
    for library, run in ((one, "R-3"), (other, "R-4"), (other, "R-5")):
        with open_store(library) as store:
            book = Book(store, JOB)
            asked = next(each for each in open_questions(book) if each.subject == run)
            assert reply(book, asked, "not there")[0].what == "taken"
    with open_store(other) as store:
        undo.undo(store, JOB)
    exchanged(one, other, tmp_path)
    assert read(one) == read(other)
    assert {"R-3", "R-4", "R-5"} <= before
    assert questions(one) == before - {"R-3", "R-4"}


def questions(library: Path) -> set[str]:
    """What is asked about."""
    return {each["about"] for each in read(library)["record"]["questions"]}


@pytest.mark.parametrize("seed", range(4))
def test_whoever_exchanges_bags_in_whatever_order_comes_to_one_log(crew, tmp_path, seed):
    dice = random.Random(seed)
    crews = [crew("a"), crew("b"), crew("c")]
    at = datetime(2026, 5, 14, 15, tzinfo=UTC)
    for number in range(12):
        folder = dice.choice(crews)
        at += timedelta(seconds=dice.choice((5, 60, -90)), microseconds=number)  # a clock runs backwards now and then
        with open_store(folder) as store:
            store.enter(JOB, LogEntry(0, "said", at, {"text": f"Word {number}.", "at": at.isoformat()}))
        if number % 4 == 3:
            giver, taker = dice.sample(crews, 2)
            taken_in(packed_with_remarks(giver, tmp_path / f"bag {number}"), taker)
    for turn in range(2):
        for number in range(3):
            giver, taker = crews[number], crews[(number + 1) % 3]
            taken_in(packed_with_remarks(giver, tmp_path / f"last {turn} {number}"), taker)
    taken_in(packed_with_remarks(crews[0], tmp_path / "last"), crews[1])
    logs = []
    for folder in crews:
        with open_store(folder) as store:
            logs.append([(entry.body["text"], entry.stands) for entry in store.entries(JOB)])
    assert logs[0] == logs[1] == logs[2]
    assert len(logs[0]) == 12


def test_a_removal_in_one_library_holds_in_the_other_once_it_is_unpacked(two, tmp_path):
    one, other = two
    with open_store(one) as store:
        changes.remove(store, JOB, "R-2")
    taken_in(packed(one, tmp_path / "bag of one"), other)
    assert read(other) == read(one)


# -- whose job it is


def test_another_clients_job_of_that_name_is_another_job(made, bag, crew):
    other = crew("b", client="Tam Orrin", address="3 Sallow Bank")
    before = log(other)
    with pytest.raises(UsageError) as told:
        taken_in(bag, other)
    assert str(told.value) == (
        "front-walk: another job has that name (client 'Ina Wexcombe' in the bag and 'Tam Orrin' here, address "
        "'27 Quillbark Lane' in the bag and '3 Sallow Bank' here); unpack it with --as NAME, or correct it first with: "
        "fallbook amend front-walk client"
    )
    assert log(other) == before
    assert taken_in(bag, other, "wexcombe-walk")[0] == ENTRIES
    assert [note["text"] for note in read(other, "wexcombe-walk")["notes"]] == [
        note["text"] for note in read(made / "a")["notes"]
    ]


def test_a_job_started_by_each_crew_is_one_job_where_client_address_day_and_zone_are_one(bag, crew):
    """However it was typed: the address was corrected in the bag."""
    other = crew("b", client="ina  wexcombe", address="27 Quillbark Lane")
    assert taken_in(bag, other)[0] == ENTRIES
    assert len(read(other)["notes"]) == 5


def test_notes_that_would_be_timed_otherwise_are_not_merged(bag, crew):
    with pytest.raises(UsageError, match="its notes are timed otherwise .zone '-05:00' in the bag and '-06:00' here.;"):
        taken_in(bag, crew("b", zone="-06:00"))


def test_another_company_file_is_told_of_and_the_one_here_stands(bag, crew, company):
    company.write_text(company.read_text().replace("555-0100", "555-0199"))
    other = crew("b")
    line = "front-walk: the bag holds another company file than the job has here, which stands"
    assert taken_in(bag, other)[2] == (line,)
    assert read(other)["job"]["company"]["phone"] == "555-0199"


@pytest.mark.parametrize("name", ["../b", "a b", "", "x" * 61])
def test_a_name_that_cannot_name_a_job_is_refused(bag, tmp_path, name, capsys):
    assert cli.run(["--library", str(tmp_path / "b"), "unpack", str(bag), "--as", name]) == 2
    assert "cannot name a job" in capsys.readouterr().err
    assert not (tmp_path / "b").exists()


def test_a_job_that_was_removed_here_comes_back_by_the_last_word_of_the_log_alone(two, tmp_path):
    one, other = two
    with open_store(one) as store:
        changes.remove(store, JOB)
    with open_store(other) as store:
        jobs.say(store, JOB, "Basin five is set.", "14:00")
    entries, _, amiss = taken_in(packed(other, tmp_path / "bag of other"), one)
    told = "front-walk: this job was removed; bring it back with: fallbook remove front-walk --undo"
    assert (entries, amiss) == (1, (told,))
    with open_store(one) as store:
        assert store.job_names() == []
        changes.remove(store, JOB, undo=True)
    assert read(one) == read(other)


def test_a_removal_that_was_taken_back_stays_so_under_another_name(library, tmp_path):
    with open_store(library) as store:
        changes.remove(store, JOB)
        changes.remove(store, JOB, undo=True)
    taken_in(packed(library, tmp_path / "bag"), tmp_path / "b", "side-gate")
    assert len(read(tmp_path / "b", "side-gate")["notes"]) == 5
    with open_store(tmp_path / "b") as store:
        changes.remove(store, "side-gate")
        assert store.job_names() == []


# -- bad bags


def first(bag: Path, ending: str) -> Path:
    return next((bag / "data" / "originals").glob(f"*{ending}"))


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


# -- visits

VISIT = "roots"


@pytest.fixture(scope="module")
def visited(made, tmp_path_factory):
    """The bags of the job, `first`, and of a visit to it, `visit`, and the library that both came from, `a`."""
    at = tmp_path_factory.mktemp("visited")
    shutil.copytree(made / "a", at / "a")
    with open_store(at / "a") as store:
        jobs.new(store, VISIT, callback_of=JOB, day=date(2026, 9, 1))
        jobs.say(store, VISIT, "Run one was blocked with roots, we cleared it.", "10:00")
        changes.amend(store, VISIT, "CB-1", "size", "12x15")
        changes.remove(store, VISIT, "CB-2")
    for name, job in (("first", JOB), ("visit", VISIT)):
        packed(at / "a", at / name, job)
    return at


def reads_as_there(visited: Path, library: Path, job: str = VISIT) -> bool:
    here, there = read(library, job), read(visited / "a", VISIT)
    return {key: here[key] for key in ("record", "notes", "amiss")} == {
        key: there[key] for key in ("record", "notes", "amiss")
    }


@pytest.mark.parametrize("order", [("first", "visit"), ("visit", "first")])
def test_a_visit_finds_its_way_back_whichever_is_unpacked_first(visited, tmp_path, order):
    for name in order:
        taken_in(visited / name, tmp_path / "b")
    assert reads_as_there(visited, tmp_path / "b")
    with open_store(tmp_path / "b") as store:
        assert Book(store, VISIT).record.subject("CB-1").size_in == [12, 15]
        assert Book(store, VISIT).record.subject("CB-2") is None
        assert store.way_back(VISIT) == [JOB]
    assert taken_in(visited / "visit", tmp_path / "b") == (0, 0, ())
    assert wrong_with(tmp_path / "b") == []


def test_a_visit_whose_first_job_is_not_here_says_so_and_reads_without_it(visited, tmp_path, capsys):
    library = ["--library", str(tmp_path / "b")]
    assert cli.run([*library, "unpack", str(visited / "visit")]) == 0
    old = "front-walk (Ina Wexcombe, 27 Quillbark Lane)"
    assert capsys.readouterr().err == (
        f"fallbook: roots: it leads back to job {old}, which is not here; unpack its archive too, into this library\n"
    )
    assert read(tmp_path / "b", VISIT)["amiss"] == [
        f"{old}: no such job is here; unpack its archive too, or say which job it is with: fallbook amend roots "
        "callback-of NAME; what it left there, and its warranty, cannot be told"
    ]
    with open_store(tmp_path / "b") as store:
        assert [each.at for each in Book(store, VISIT).record.issues] == ["R-1"]
    capsys.readouterr()
    assert cli.run([*library, "warranty", "27", "Quillbark"]) == 0
    assert f"job {old}, which it leads back to, cannot be read" in capsys.readouterr().err
    assert cli.run([*library, "pack", VISIT, "-o", str(tmp_path / "again")]) == 0
    assert "packed without the report for the client" in capsys.readouterr().err
    assert (tmp_path / "again" / "data" / "log.jsonl").read_bytes() == (
        visited / "visit" / "data" / "log.jsonl"
    ).read_bytes()


def test_a_first_job_that_has_another_name_here_is_found_all_the_same(visited, tmp_path):
    taken_in(visited / "visit", tmp_path / "b", "wexcombe-roots")
    taken_in(visited / "first", tmp_path / "b", "wexcombe-walk")
    with open_store(tmp_path / "b") as store:
        assert store.way_back("wexcombe-roots") == ["wexcombe-walk"]
    assert reads_as_there(visited, tmp_path / "b", "wexcombe-roots")
    again = packed(tmp_path / "b", tmp_path / "again", "wexcombe-roots")
    assert (again / "data" / "log.jsonl").read_bytes() == (visited / "visit" / "data" / "log.jsonl").read_bytes()


def test_another_clients_job_of_the_first_jobs_name_tells_a_visit_nothing(visited, crew):
    other = crew("b", client="Tam Orrin", address="3 Sallow Bank")
    with open_store(other) as store:
        jobs.say(store, JOB, "Run one is in, basin one to basin two, 77 feet.", "09:00")
    lost = "roots: it leads back to job front-walk (Ina Wexcombe, 27 Quillbark Lane), which is not here"
    assert taken_in(visited / "visit", other)[2][0].startswith(lost)
    with open_store(other) as store:
        assert Book(store, VISIT).record.subject("R-1").length_ft is None
    taken_in(visited / "first", other, "wexcombe-walk")
    assert reads_as_there(visited, other)


def test_a_first_job_that_was_corrected_since_is_found(visited, tmp_path):
    taken_in(visited / "first", tmp_path / "b")
    with open_store(tmp_path / "b") as store:
        changes.amend(store, JOB, "client", "I. Wexcombe")
    taken_in(visited / "visit", tmp_path / "b")
    with open_store(tmp_path / "b") as store:
        assert store.way_back(VISIT) == [JOB]


def test_of_two_jobs_that_might_be_the_first_none_is_taken(visited, tmp_path):
    for name in ("one-walk", "other-walk"):
        taken_in(visited / "first", tmp_path / "b", name)
    assert "which is not here" in taken_in(visited / "visit", tmp_path / "b")[2][0]
    with open_store(tmp_path / "b") as store:
        changes.amend(store, VISIT, "callback-of", "other-walk")
        assert store.way_back(VISIT) == ["other-walk"]
        undo.undo(store, VISIT)
        assert not store.has_job(store.way_back(VISIT)[0])


def test_what_one_crew_says_of_the_way_back_holds_for_the_other(visited, tmp_path):
    """Though the first job has another name there."""
    one, other = Path(shutil.copytree(visited / "a", tmp_path / "a")), tmp_path / "b"
    with open_store(one) as store:
        changes.amend(store, VISIT, "callback-of", "none")
    for name, job, called in (("of visit", VISIT, None), ("of first", JOB, "wexcombe-walk")):
        taken_in(packed(one, tmp_path / name, job), other, called)
    with open_store(other) as store:
        assert store.way_back(VISIT) == []
        changes.amend(store, VISIT, "callback-of", "wexcombe-walk")
    taken_in(packed(other, tmp_path / "back", VISIT), one)
    with open_store(one) as store:
        assert store.way_back(VISIT) == [JOB]


def test_no_two_crews_make_a_ring_of_visits(visited, tmp_path):
    one, other = (Path(shutil.copytree(visited / "a", tmp_path / name)) for name in ("a", "b"))
    with open_store(other) as store:
        changes.amend(store, VISIT, "callback-of", "none")
        changes.amend(store, JOB, "callback-of", VISIT)
    bag, before = packed_with_remarks(other, tmp_path / "bag"), log(one)
    with pytest.raises(
        UsageError, match="front-walk cannot be a visit to roots.*: fallbook amend roots callback-of none"
    ):
        taken_in(bag, one)
    assert log(one) == before
    with open_store(one) as store:
        changes.amend(store, VISIT, "callback-of", "none")
    taken_in(bag, one)
    with open_store(one) as store:
        assert store.way_back(JOB) == [VISIT]
