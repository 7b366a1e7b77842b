"""A job packed as a bag and unpacked: the same book, once however often; two crews' as one."""

import hashlib
import io
import json
import random
import shutil
import subprocess
import sys
import zipfile
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
from bags import (
    ENTRIES,
    JOB,
    TALK,
    first,
    hum,
    lines,
    log,
    packed,
    packed_with_remarks,
    quiet,
    read,
    refused,
    take,
    taken_in,
    wrong_with,
)
from PIL import Image

from extract.errors import FallbookError, UsageError
from extract.record import Note
from logger import archive, changes, cli, jobs, undo
from logger.archive.pack import pack
from logger.ask import open_questions
from logger.book import Book
from logger.photos import GPS_IFD
from logger.reply import reply
from logger.schema import VERSION
from logger.store import LogEntry, Store, open_store
from logger.verify import prunable, prune

pytest_plugins = ["bag_fixtures"]

# -- there and back


def test_an_unpacked_job_reads_as_it_did_and_gives_the_same_report(library, bag, tmp_path, monkeypatch):
    monkeypatch.setattr(jobs, "today", lambda: date(2026, 5, 15))
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
