import os
import shutil
import signal
import struct
import subprocess
import sys
import time
import wave
from datetime import UTC, date, datetime
from pathlib import Path

import numpy as np
import pytest
from conftest import quarters

from extract.errors import FallbookError
from extract.record import Note
from logger import changes, intake
from logger.book import Book
from logger.company import read_company
from logger.store import open_store
from logger.worker import Unusable
from reports.job import Job

SPOKEN = [Note(text="Run one is in.", heard="Run one is in.", confidence=0.9, start_s=0.2, end_s=0.8)]


@pytest.fixture
def store(tmp_path, company):
    with open_store(tmp_path / "library", create=True) as opened:
        job = Job(
            name="j",
            client="A. Client",
            address="1 Larch Walk",
            day=date(2026, 5, 14),
            zone="-05:00",
            company=read_company(company.read_text(), "company.toml"),
        )
        opened.add_job(job, company.read_text())
        yield opened


def taken(store, hearing, *paths) -> list[tuple[str, str]]:
    results = intake.take(store, "j", [Path(path) for path in paths], hearing, lambda name: lambda done, total: None)
    return [(result.outcome, result.line.replace(str(store.folder.parent), "")) for result in results]


def logged(store) -> list[tuple[str, str]]:
    return [(entry.kind, entry.name) for entry in store.entries("j")]


def tree(store) -> dict[str, bytes]:
    return {path.name: path.read_bytes() for path in store.originals.folder.iterdir()}


def test_a_folder_goes_in_copied_first_and_heard_after(store, hearing, tmp_path, make_photo, make_sound):
    make_photo("day/deep/b.heic")
    make_sound("day/a.wav")
    (tmp_path / "day" / "notes.txt").write_text("[14:05] Basin one is set.")
    (tmp_path / "day" / ".hidden.txt").write_text("not for us")
    (tmp_path / "day" / ".cache").mkdir()
    (tmp_path / "day" / ".cache" / "c.txt").write_text("not for us")
    (tmp_path / "day" / "Thumbs.db").write_bytes(b"\0")
    hearing.answers.append(SPOKEN)
    assert taken(store, hearing, tmp_path / "day") == [
        ("taken", "/day/a.wav: sound taken"),
        ("taken", "/day/notes.txt: text taken"),
        ("taken", "/day/deep/b.heic: photo taken"),
        ("heard", "a.wav: 1 note heard"),
    ]
    assert logged(store) == [("sound", "a.wav"), ("text", "notes.txt"), ("photo", "b.heic")]
    assert sorted(note.text for note in Book(store, "j").notes) == ["Basin one is set.", "Run one is in."]


def test_the_same_bytes_go_in_once(store, hearing, tmp_path, make_photo, make_sound):
    photo, sound = make_photo(), make_sound()
    shutil.copy(photo, tmp_path / "a (1).jpg")
    hearing.answers.append(SPOKEN)
    taken(store, hearing, photo, sound)
    before = tree(store), logged(store)
    assert taken(store, hearing, photo, tmp_path / "a (1).jpg", sound) == [
        ("already", "/a.jpg: already in the job"),
        ("already", "/a (1).jpg: already in the job"),
        ("already", "/a.wav: already in the job"),
    ]
    assert (tree(store), logged(store)) == before
    assert len(hearing.asked) == 1


def test_originals_and_what_was_given_stay_byte_for_byte(store, hearing, make_photo):
    photo = make_photo()
    raw = photo.read_bytes()
    taken(store, hearing, photo)
    assert photo.read_bytes() == raw
    assert list(tree(store).values()) == [raw]


def test_every_bad_file_is_one_line_and_the_rest_goes_in(store, hearing, tmp_path, make_photo, make_sound):
    day = tmp_path / "day"
    good = make_photo("day/good.jpg", image=quarters((400, 200)))
    (day / "cut.jpg").write_bytes(good.read_bytes()[:900])
    (day / "empty.m4a").touch()
    (day / "page.jpg").write_text("<html>not found</html>")
    (day / "plan.pdf").write_bytes(b"%PDF-1.7\n\0")
    (day / "cut.m4a").write_bytes(b"\0\0\0\x1cftypM4A \0\0\0\0M4A mp42isom" + bytes(40))
    (day / "blank.txt").write_text("# nothing\n\n")
    make_sound("day/silence.wav")
    (tmp_path / "bare").mkdir()
    hearing.answers.append([])
    found = taken(store, hearing, day, tmp_path / "gone.jpg", tmp_path / "bare")
    assert [outcome for outcome, _ in found] == ["failed"] * 4 + ["taken", "failed", "failed", "taken"] + ["failed"] * 3
    lines = dict(line.split(": ", 1) for _, line in found)
    assert "\n" not in "".join(lines.values())
    assert lines["/day/blank.txt"] == "no note in it; write one note a line"
    assert lines["/day/cut.jpg"].startswith("kept, but it cannot be used: the picture is cut off or damaged; copy it")
    assert "cut off before its index" in lines["/day/cut.m4a"]
    assert lines["/day/empty.m4a"].startswith("the file is empty; copy it")
    assert "rename it to end in .txt" in lines["/day/page.jpg"]
    assert lines["/day/plan.pdf"].startswith("a PDF, which is not taken")
    assert lines["/gone.jpg"] == "no such file or folder; check the name"
    assert lines["/bare"].startswith("nothing in it to take")
    assert lines["silence.wav"].startswith("no speech was heard in it; play it")
    assert logged(store) == [
        ("photo", "cut.jpg"),
        ("sound", "cut.m4a"),
        ("photo", "good.jpg"),
        ("sound", "silence.wav"),
    ]
    assert len(tree(store)) == 4
    assert [photo.name for photo in Book(store, "j").photos] == ["good.jpg"]


def bad_wav(path, channels: int = 255, rate: int = 8000, bits: int = 16):
    """A WAV whose header says what no recorder makes."""
    sound = bytes(4000)
    block = channels * bits // 8
    head = struct.pack("<4sI4s4sIHHIIHH", b"RIFF", 36 + len(sound), b"WAVE", b"fmt ", 16, 1, channels, rate,
                       rate * block & 0xFFFFFFFF, block & 0xFFFF, bits)  # fmt: skip
    path.write_bytes(head + struct.pack("<4sI", b"data", len(sound)) + sound)
    return path


@pytest.mark.parametrize("header", [{"channels": 255}, {"bits": 128}, {"rate": 1, "channels": 8}, {"rate": 1}])
def test_a_bad_recording_costs_itself_and_is_not_tried_again(store, hearing, tmp_path, make_sound, monkeypatch, header):
    bad = bad_wav(tmp_path / "a-bad.wav", **header)
    good = make_sound("good.wav")
    hearing.answers += [[Note(text="Basin one is set.", start_s=0, end_s=1)]]
    found = taken(store, hearing, bad, good)
    assert [outcome for outcome, _ in found] == ["failed", "taken", "heard"]
    assert found[0][1].startswith("/a-bad.wav: kept, but it cannot be used: ")
    assert [note.text for note in Book(store, "j").notes] == ["Basin one is set."]
    monkeypatch.setattr("logger.decoding.sound_facts", lambda *_: pytest.fail("it was tried again"))
    outcome, line = taken(store, hearing, bad)[0]
    assert (outcome, line.split(": ")[1]) == ("failed", "already in the job, but it cannot be used")
    assert Book(store, "j").unheard == []
    assert [line.partition(":")[0] for line in Book(store, "j").problems] == ["a-bad.wav"]
    changes.remove(store, "j", "file:a-bad.wav")
    assert Book(store, "j").problems == []


def test_what_cannot_be_heard_is_marked_and_the_rest_is_heard(store, hearing, make_sound):
    first, second = make_sound("1.wav"), make_sound("2.wav")
    hearing.answers += [Unusable("1.wav: the decoder failed on it"), [Note(text="Basin one.", start_s=0, end_s=1)]]
    assert [outcome for outcome, _ in taken(store, hearing, first, second)] == ["taken", "taken", "failed", "heard"]
    assert taken(store, hearing, first)[-1][0] == "failed"
    assert len(hearing.asked) == 2
    (line,) = Book(store, "j").problems
    assert line.startswith("1.wav: cannot be used: the decoder failed on it; take it out with: fallbook remove j file:")


def test_a_link_in_a_folder_is_not_followed(store, hearing, tmp_path, make_photo):
    secret = tmp_path / "secret.txt"
    secret.write_text("Basin one is set.")
    make_photo("day/a.jpg")
    (tmp_path / "day" / "b.txt").symlink_to(secret)
    (tmp_path / "day" / "more").symlink_to(tmp_path)
    found = taken(store, hearing, tmp_path / "day")
    assert [outcome for outcome, _ in found] == ["taken", "failed"]
    assert found[1][1] == "/day/b.txt: a link to another file, which is not followed; give that file itself"


def test_a_text_of_a_megabyte_is_no_days_notes(store, hearing, tmp_path):
    long = tmp_path / "long.txt"
    long.write_text("Basin one is set. " * 300_000)
    assert taken(store, hearing, long) == [
        ("failed", "/long.txt: more than 1 MB of text; take the notes of the day alone")
    ]
    assert tree(store) == {}


def test_a_photo_with_broken_exif_goes_in_with_a_warning(store, hearing, make_photo):
    photo = make_photo("IMG_20260514_094840.jpg", tags=b"Exif\0\0junk")
    (_, _), (outcome, line) = taken(store, hearing, photo)
    assert (outcome, line.split("; ")[0]) == ("warning", "/IMG_20260514_094840.jpg: its EXIF is damaged")
    photo = Book(store, "j").photos[0]
    assert photo.taken_at == datetime(2026, 5, 14, 14, 48, 40, tzinfo=UTC)
    assert photo.time_source.startswith("file name")


def test_a_silent_recording_is_not_heard_again(store, hearing, make_sound):
    sound = make_sound()
    hearing.answers.append([])
    taken(store, hearing, sound)
    assert taken(store, hearing, sound) == [("already", "/a.wav: already in the job")]


def test_sound_is_heard_again_only_with_another_ear(store, hearing, make_sound):
    sound = make_sound()
    hearing.answers.extend([SPOKEN, [Note(text="Run one is on.", start_s=0.2, end_s=0.8)]])
    taken(store, hearing, sound)
    hearing.version = "2"
    assert taken(store, hearing, sound)[-1] == ("heard", "a.wav: 1 note heard")
    assert [note.text for note in Book(store, "j").notes] == ["Run one is on."]


def test_what_an_earlier_take_left_unheard_is_heard(store, hearing, make_sound):
    first, second = make_sound("a.wav"), make_sound("b.wav")
    hearing.answers.extend([KeyboardInterrupt()])
    with pytest.raises(KeyboardInterrupt):
        taken(store, hearing, first)
    hearing.answers.extend([SPOKEN, SPOKEN])
    assert taken(store, hearing, second)[1:] == [("heard", "b.wav: 1 note heard"), ("heard", "a.wav: 1 note heard")]


def test_without_a_model_the_sound_is_in_and_waits(store, hearing, make_sound):
    sound = make_sound()
    hearing.missing = True
    assert taken(store, hearing, sound)[-1] == (
        "failed",
        "the sound is in but was not heard: the speech model is not installed",
    )
    hearing.missing = False
    hearing.answers.append(SPOKEN)
    assert taken(store, hearing, sound)[-1] == ("heard", "a.wav: 1 note heard")


def test_a_recording_that_cannot_be_heard_does_not_stop_the_next(store, hearing, make_sound):
    hearing.answers.extend([FallbookError("no sound in it can be decoded"), SPOKEN])
    found = taken(store, hearing, make_sound("a.wav"), make_sound("b.wav"))
    assert [outcome for outcome, _ in found] == ["taken", "taken", "failed", "heard"]


def test_a_name_of_odd_bytes_goes_in_and_can_be_printed(store, hearing, tmp_path):
    path = os.fsencode(tmp_path) + b"/caf\xe9\n.txt"
    Path(os.fsdecode(path)).write_text("Basin one is set.")
    found = taken(store, hearing, os.fsdecode(path))
    assert found[0][0] == "taken"
    assert Book(store, "j").sources[Book(store, "j").notes[0].source].encode("utf-8")


def test_a_pipe_is_refused_and_not_waited_for(store, hearing, tmp_path):
    os.mkfifo(tmp_path / "pipe")
    assert taken(store, hearing, tmp_path / "pipe") == [
        ("failed", "/pipe: no file of its own (a device or a pipe); give the file itself")
    ]


def test_an_original_that_was_lost_is_healed_by_taking_it_again(store, hearing, make_photo):
    photo = make_photo()
    taken(store, hearing, photo)
    next(store.originals.folder.iterdir()).unlink()
    (line,) = Book(store, "j").problems
    assert (
        line == "a.jpg: its original is gone from the library; take the true file again, or run: fallbook restore DIR"
    )
    assert taken(store, hearing, photo) == [("already", "/a.jpg: already in the job, and its original is whole again")]
    assert Book(store, "j").problems == []
    assert list(tree(store).values()) == [photo.read_bytes()]


KILLED = """
import os, sys, time
from pathlib import Path
from logger import intake, store
from extract.record import Note

class Slow:
    def hear(self, path, *, model=None, language=None, progress=None, kept=None):
        time.sleep(0.05)
        return [Note(text=path.name[:8], start_s=0, end_s=1)]
    def describe(self, model=None, language=None):
        return {}

def slowly(call):
    def slow(*args, **more):
        time.sleep(0.02)
        return call(*args, **more)
    return slow

os.replace = slowly(os.replace)
os.fsync = slowly(os.fsync)
with store.open_store(Path(sys.argv[1])) as opened:
    for result in intake.take(opened, "j", [Path(sys.argv[2])], Slow(), lambda name: lambda done, total: None):
        print(result.line, flush=True)
"""


@pytest.mark.parametrize("after", [0, 1, 3, 5, 7, 9])
def test_a_take_killed_anywhere_comes_to_the_same_end_when_run_again(store, tmp_path, make_photo, make_sound, after):
    for n in range(4):
        make_photo(f"day/{n}.jpg")
        make_sound(f"day/{n}.wav")
    command = [sys.executable, "-c", KILLED, str(store.folder), str(tmp_path / "day")]
    running = subprocess.Popen(command, stdout=subprocess.PIPE, text=True)
    for _ in range(after):
        running.stdout.readline()
    time.sleep(0.01)
    running.send_signal(signal.SIGKILL)
    running.wait()
    subprocess.run(command, check=True, stdout=subprocess.DEVNULL)
    files = sorted((tmp_path / "day").iterdir())
    assert sorted(entry.name for entry in store.entries("j")) == [path.name for path in files]
    assert sorted(tree(store).values()) == sorted(path.read_bytes() for path in files)
    assert len(Book(store, "j").notes) == 4
    assert store.db.execute("PRAGMA integrity_check").fetchone()[0] == "ok"


CUT_OFF = """
import os, signal, sys
from pathlib import Path
import numpy as np
from extract.record import Word
from logger import intake, speech, store
from logger.readings import Utterance
from logger.sound import RATE, decode
from logger.stretches import stretches

diary, leave = Path(sys.argv[3]), int(sys.argv[4])

class Ear:
    def language(self, stretch):
        return "en"

    def hear(self, stretch, hint, language):
        with diary.open("a") as file:
            file.write(f"{stretch.start_s:.0f}\\n")
        if len(diary.read_text().split()) == leave:
            os.kill(os.getpid(), signal.SIGKILL)
        word = Word(text=f"Basin {stretch.start_s:.0f}.", start_s=stretch.start_s, end_s=stretch.start_s, confidence=1)
        return Utterance(word.text, [word], [], -0.1, 0.0, 1.0)

def loud(samples):
    edges = np.flatnonzero(np.diff(np.concatenate([[0], abs(samples) > 0.1, [0]]).astype(int)))
    return [(int(start), int(end)) for start, end in edges.reshape(-1, 2)]

speech.find_model = lambda name: Path("model")
speech._ear = lambda folder: Ear()
speech._second_opinion = lambda utterance, stretch: utterance
speech._speech = lambda path: stretches(decode(path), loud)
speech.describe = lambda model=None, language=None: {"model": model}
with store.open_store(Path(sys.argv[1])) as opened:
    model = sys.argv[5] if sys.argv[5:] else None
    for result in intake.take(opened, "j", [Path(sys.argv[2])], speech, lambda name: lambda done, total: None, model):
        print(result.line)
"""


@pytest.fixture
def cut_off(store, tmp_path):
    """Takes twenty minutes with a word every hundred seconds; the take kills itself at word number `leave`."""
    samples = np.zeros(1200 * 8000, "<i2")
    for start in range(50, 1200, 100):
        samples[start * 8000 : (start + 1) * 8000] = 20_000
    with wave.open(str(tmp_path / "long.wav"), "wb") as out:
        out.setnchannels(1)
        out.setsampwidth(2)
        out.setframerate(8000)
        out.writeframes(samples.tobytes())
    diary = tmp_path / "diary"

    def take(leave: int, *model: str) -> list[int]:
        diary.write_text("")
        command = [sys.executable, "-c", CUT_OFF, store.folder, tmp_path / "long.wav", diary, leave, *model]
        subprocess.run([str(word) for word in command], stdout=subprocess.DEVNULL, check=False)
        return [int(second) for second in diary.read_text().split()]

    return take


def test_a_long_recording_is_heard_on_from_where_it_was_cut_off(store, cut_off):
    said = list(range(50, 1200, 100))
    assert cut_off(5) == said[:5]
    assert Book(store, "j").unheard == ["long.wav"]
    assert cut_off(3) == said[4:7], "only the one that was being heard is heard again"
    assert cut_off(0) == said[6:]
    assert cut_off(0) == []
    assert [note.start_s for note in Book(store, "j").notes] == pytest.approx(said, abs=0.1)
    assert not list(store.db.query("SELECT what FROM derived WHERE what LIKE 'stretch%'"))


def test_what_another_model_heard_before_a_kill_is_not_taken_over(cut_off):
    said = list(range(50, 1200, 100))
    cut_off(5)
    assert cut_off(0, "other") == said
