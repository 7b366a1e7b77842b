"""`fallbook listen`: all that a microphone gave is in the job once, or in files; and how each end is told."""

import json
import os
import signal
import subprocess
import sys
import threading
import time
from pathlib import Path

import numpy as np
import pytest

from logger import cli, keeper, listen
from logger.cutting import Piece, joined
from logger.page.hearing_worker import HearingWorker
from logger.upload import Upload

HERE = Path(__file__).parent
RATE = 16_000
STAND_IN = """
import json, os, sys, time
from pathlib import Path
from extract.record import Note
from logger.page.hearing_worker import _requests, serve
from logger.program import end_with_parent

class Ear:
    count = 0
    def describe(self, model=None, language=None):
        return {"model": "stand-in"}
    def hear(self, path, *, model=None, language=None, progress=None, kept=None):
        time.sleep(SLOW)
        Ear.count += 1
        if FAILS:
            raise ValueError("no ear")
        text = f"Run {Ear.count} is 34 feet long."
        return [Note(text=text, heard=text, start_s=1.0, end_s=2.0)]

def answer(shape):
    print(json.dumps(shape), flush=True)

end_with_parent()
serve(Path(sys.argv[1]), Ear(), _requests(sys.stdin.buffer), answer)
"""
PROCESS = """
import json, sys
from logger import cli
from logger.page.hearing_worker import HearingWorker
HearingWorker.of = classmethod(lambda cls, *_: cls(json.loads(sys.argv[1])))
sys.exit(cli.run(["listen", "j"]))
"""


def talk():
    """17 s: quiet, three stretches of speech with pauses; pieces end in the pauses."""
    dice = np.random.default_rng(3)
    parts = [(1, 9), (3, 9000), (2, 9), (4, 9000), (2, 9), (4, 9000), (1, 9)]
    return np.concatenate([dice.integers(-loud, loud, seconds * RATE) for seconds, loud in parts]).astype(np.int16)


@pytest.fixture
def played(tmp_path, monkeypatch):
    """Sets what the microphone plays (see microphones/sounddevice.py); returns it."""

    def settle(sound=None, **settings):
        sound = talk() if sound is None else sound
        sound.tofile(tmp_path / "sound.raw")
        monkeypatch.setenv("STAND_IN", json.dumps({"sound": str(tmp_path / "sound.raw")} | settings))
        monkeypatch.setenv("PYTHONPATH", str(HERE / "microphones"))
        monkeypatch.syspath_prepend(str(HERE / "microphones"))
        monkeypatch.delitem(sys.modules, "sounddevice", raising=False)
        monkeypatch.chdir(tmp_path)
        return sound

    yield settle
    sys.modules.pop("sounddevice", None)


@pytest.fixture
def fallbook(store, capsys, monkeypatch):
    """Runs `fallbook listen j`, heard by a stand-in: the exit code, standard output, standard error."""

    def run(*words, slow=0.0, fails=False):
        command = hearing_command(store, slow, fails)
        monkeypatch.setattr(HearingWorker, "of", classmethod(lambda cls, *_: cls(command)))
        monkeypatch.setattr("logger.listen.in_background", lambda folder: None)
        capsys.readouterr()
        code = cli.run(["listen", *(words or ["j"])])
        return code, *capsys.readouterr()

    return run


def hearing_command(store, slow=0.0, fails=False):
    script = STAND_IN.replace("SLOW", str(slow)).replace("FAILS", str(fails))
    return [sys.executable, "-c", script, str(store.folder)]


def taken(store):
    """The sound of all pieces in the job, without what they share."""
    pieces = []
    for entry in store.entries("j"):
        upload = Upload.in_entry(entry.body)
        raw = store.originals.path(entry.sha256).read_bytes()
        samples = np.frombuffer(raw[44:], "<i2")
        pieces.append(Piece(upload.at, round(upload.from_s * RATE), samples, RATE))
        assert upload.to_s == pytest.approx(upload.from_s + len(samples) / RATE, abs=0.001)
    return len(pieces), [each.samples for each in joined(pieces)]


def test_all_that_was_said_is_in_the_job_once_and_heard(store, fallbook, played):
    sound = played()
    code, out, err = fallbook()
    count, (again,) = taken(store)
    assert count == 3
    assert np.array_equal(again, sound)
    assert code == 0, err
    lines = out.splitlines()
    assert [line[6:] for line in lines[::2]] == [f"Run {n} is 34 feet long." for n in (1, 2, 3)]
    assert lines[1].startswith("      R-1: length 34 ft.")
    assert "j: recording from Lid microphone; Ctrl-C ends it\n" in err
    assert "j: 3 pieces taken\n" in err
    assert "fallbook:" not in err


def test_notes_from_before_are_not_told_again(store, fallbook, played):
    from logger import jobs

    jobs.say(store, "j", "Basin one is set.")
    played()
    assert "Basin one" not in fallbook()[1]


@pytest.mark.parametrize(("sent", "code"), [("SIGINT", 0), ("SIGTERM", 130), ("SIGHUP", 130)])
def test_a_real_process_that_is_to_end_loses_nothing(store, played, sent, code):
    """By Ctrl-C, and then all is heard; by an order to end, or because its terminal was closed."""
    sound = played(then="silence")
    running = subprocess.Popen(
        [sys.executable, "-c", PROCESS, json.dumps(hearing_command(store))],
        stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True, env=os.environ | {"PYTHONPATH": pythonpath()},
        preexec_fn=lambda: signal.signal(signal.SIGINT, signal.SIG_DFL), start_new_session=True,
    )  # fmt: skip
    assert running.stdout.readline()  # the first note
    time.sleep(1)
    os.killpg(running.pid, getattr(signal, sent))  # as a terminal does: the processes that decode and hear get it too
    out, err = running.communicate(timeout=60)
    assert running.returncode == code, err
    assert "Traceback" not in err
    (again,) = taken(store)[1]
    assert np.array_equal(again[: len(sound)], sound)
    assert not again[len(sound) :].any()
    assert ("Run 3 is 34 feet long." in out) or code


def pythonpath():
    return os.pathsep.join([str(HERE / "microphones"), str(HERE.parent.parent)])


@pytest.mark.parametrize("then", ["finished", "nothing"])
def test_a_microphone_unplugged_ends_it_with_a_line_and_loses_nothing(store, fallbook, played, monkeypatch, then):
    monkeypatch.setattr(listen, "LOST_S", 0.5)
    sound = played(then=then)
    code, _, err = fallbook()
    assert code == 1
    assert err.endswith(
        "fallbook: the microphone 'Lid microphone' gives no more sound; all until then is kept; plug it in and run it "
        "again\n"
    )
    assert np.array_equal(taken(store)[1][0], sound)


def test_sound_that_was_lost_is_told(fallbook, played):
    played(overrun=20)
    assert fallbook()[2].count("some sound was lost: this machine is too busy; say it again") == 1


def test_a_library_that_is_gone_leaves_the_sound_in_a_folder_ready_to_take(
    store, fallbook, played, tmp_path, monkeypatch
):
    sound = played(then="nothing")
    keeper_of = listen.Keeper

    def gone(*words):
        (store.folder / "library.db").rename(tmp_path / "elsewhere.db")
        return keeper_of(*words)

    monkeypatch.setattr(listen, "Keeper", gone)
    threading.Timer(2, os.kill, [os.getpid(), signal.SIGINT]).start()
    code, _, err = fallbook()
    assert code == 1
    (folder,) = tmp_path.glob("fallbook-j-*")
    assert err.count("the library is gone") == 1
    assert err.endswith(
        f"fallbook: 17 s of sound could not be taken; they are kept in {folder}; once the library is well "
        f"again run: fallbook take j {folder}\n"
    )
    (file,) = folder.iterdir()
    assert np.array_equal(np.frombuffer(file.read_bytes()[44:], "<i2"), sound)


def test_where_no_disk_takes_it_a_second_ctrl_c_gives_it_up(store, fallbook, played, monkeypatch):
    def full(*_):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(keeper, "take_piece", full)
    monkeypatch.setattr(listen, "leave", full)
    played()
    threading.Timer(3, os.kill, [os.getpid(), signal.SIGINT]).start()
    code, _, err = fallbook()
    assert code == 1
    assert "no disk takes the last sound; make room, it is tried again; Ctrl-C gives it up\n" in err
    assert err.endswith("fallbook: 17 s of sound are lost: no disk took them (No space left on device)\n")


def test_room_made_at_the_very_end_takes_all(store, fallbook, played, monkeypatch):
    take, tries = keeper.take_piece, []

    def full(*words):
        tries.append(words)
        if len(tries) < 6:
            raise OSError(28, "No space left on device")
        take(*words)

    def nowhere(*_):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(keeper, "take_piece", full)
    monkeypatch.setattr(listen, "leave", nowhere)
    monkeypatch.setattr(listen, "AGAIN_S", 0.1)
    sound = played()
    code, _, err = fallbook()
    assert code == 0, err
    assert np.array_equal(taken(store)[1][0], sound)


def test_a_second_ctrl_c_leaves_hearing_for_later(store, fallbook, played):
    sound = played()
    threading.Timer(4, os.kill, [os.getpid(), signal.SIGINT]).start()
    code, _, err = fallbook(slow=30)
    assert code == 130
    assert "j: 3 recordings are kept and not heard yet; the next fallbook take or listen into it hears them\n" in err
    assert np.array_equal(taken(store)[1][0], sound)


def test_what_cannot_be_heard_is_said_and_fails(fallbook, played):
    played()
    code, _, err = fallbook(fails=True)
    assert code == 1
    assert "hearing it failed (ValueError: no ear)" in err
    assert err.endswith("fallbook: j: not all was heard, for the reason above\n")


@pytest.mark.parametrize(
    ("words", "code", "line"),
    [
        (["gone"], 1, "fallbook: no job 'gone'; those there are: j\n"),
        (["j", "--microphone", "x"], 2,
         "fallbook: no microphone has 'x' in its name; there are: Lid microphone; Tarn headset\n"),
    ],
)  # fmt: skip
def test_what_cannot_begin_is_one_line(fallbook, played, words, code, line):
    played()
    assert fallbook(*words) == (code, "", line)


def test_other_commands_do_not_load_it():
    said = subprocess.run(
        [sys.executable, "-c", "import sys; from logger import cli; cli.run(['--help']); "
         "sys.exit(str({'sounddevice', 'numpy', 'logger.listen'} & set(sys.modules)))"],
        capture_output=True, text=True, env=os.environ | {"PYTHONPATH": str(HERE.parent.parent)},
    )  # fmt: skip
    assert said.stderr == "set()\n"
