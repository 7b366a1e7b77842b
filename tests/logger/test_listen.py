"""`fallbook listen`: all that a microphone gave is in the job once, or in the spool; and how each end is told."""

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
from test_cutting import added

from logger import cli, jobs, keeper, listen
from logger.book import Book
from logger.cutting import Piece
from logger.page.feed import key
from logger.page.hearing_worker import HearingWorker
from logger.spool import Spool
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
from logger import cli, keeper, listen
from logger.page.hearing_worker import HearingWorker
listen.JUMP_S = 30  # however busy this machine is
HearingWorker.of = classmethod(lambda cls, *_: cls(json.loads(sys.argv[1])))
sys.exit(cli.run(["listen", "j"]))
"""
NOTHING_TAKEN = """
def fails(*_):
    raise OSError(28, "No space left on device")
keeper.take_piece = fails
"""


def talk(seed=3):
    """17 s: quiet, three stretches of speech with pauses; pieces end in the pauses."""
    dice = np.random.default_rng(seed)
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
    monkeypatch.setattr(listen, "JUMP_S", 30)  # however busy this machine is

    def run(*words, **settings):
        command = hearing_command(store, **settings)
        monkeypatch.setattr(HearingWorker, "of", classmethod(lambda cls, *_: cls(command)))
        monkeypatch.setattr(listen, "in_background", lambda folder: None)
        capsys.readouterr()
        code = cli.run(["listen", *(words or ["j"])])
        return code, *capsys.readouterr()

    return run


def hearing_command(store, slow=0.0, fails=False):
    """`slow`: seconds that a piece takes to hear."""
    script = STAND_IN.replace("SLOW", str(slow)).replace("FAILS", str(fails))
    return [sys.executable, "-c", script, str(store.folder)]


def taken(store):
    """How many pieces are in the job, and the sound of each recording without what its pieces share."""
    recordings = {}
    for entry in store.entries("j"):
        upload = Upload.in_entry(entry.body)
        samples = np.frombuffer(store.originals.path(entry.sha256).read_bytes()[44:], "<i2")
        assert upload.to_s == pytest.approx(upload.from_s + len(samples) / RATE, abs=0.001)
        pieces = recordings.setdefault(upload.recording_id, [])
        pieces.append(Piece(upload.at, round(upload.from_s * RATE), samples, RATE))
    return sum(map(len, recordings.values())), [added(each) for each in recordings.values()]


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


def test_what_was_understood_is_told_though_all_is_heard(store):
    said = []
    session = listen._Session(store.folder, "j", HearingWorker([]), lambda line, err=False: said.append(line))
    jobs.say(store, "j", "Basin one is set.")
    (line,) = Book(store, "j").lines
    session.events.put({"job": "j", "told": {key(line): None}})
    assert session.hear_what_is_left() == 0
    (told,) = said
    assert told.endswith(" Basin one is set.")


def test_notes_from_before_are_not_told_again(store, fallbook, played):
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
    with running.stdout, running.stderr:
        out, err = running.stdout.read(), running.stderr.read()  # not communicate, which loses what readline read ahead
    assert running.wait(60) == code, err
    assert "Traceback" not in err
    (again,) = taken(store)[1]
    assert np.array_equal(again[: len(sound)], sound)
    assert not again[len(sound) :].any()
    assert ("Run 3 is 34 feet long." in out) or code


def pythonpath():
    return os.pathsep.join([str(HERE / "microphones"), str(HERE.parent.parent)])


def test_a_kill_costs_nothing_of_the_pieces_that_are_whole(store, fallbook, played):
    """However long the library has taken nothing; the next `listen` takes them first."""
    sound = played(then="silence")
    command = PROCESS.replace("sys.exit(", f"{NOTHING_TAKEN}\nsys.exit(")
    running = subprocess.Popen(
        [sys.executable, "-c", command, json.dumps(hearing_command(store))],
        stderr=subprocess.DEVNULL, env=os.environ | {"PYTHONPATH": pythonpath()},
    )  # fmt: skip
    spool, end = Spool.of(store, "j"), time.monotonic() + 60
    while len(spool.waiting()) < 3 and time.monotonic() < end:
        time.sleep(0.1)
    running.kill()
    running.wait()
    assert len(spool.waiting()) == 3
    assert taken(store)[0] == 0
    more = played(talk(4))
    code, out, err = fallbook()
    assert code == 0, err
    assert "j: 3 pieces of last time not in the library yet, taken first\n" in err
    assert "j: 6 pieces taken\n" in err
    assert "Run 6 is" in out
    before, now = taken(store)[1]
    assert np.array_equal(before[: len(sound)], sound)
    assert np.array_equal(now, more)
    assert not spool.folder.exists()


@pytest.mark.parametrize("then", ["finished", "nothing"])
def test_a_microphone_unplugged_is_told_at_once_and_loses_nothing(store, fallbook, played, monkeypatch, then):
    monkeypatch.setattr(listen, "LOST_S", 0.5)
    sound = played(then=then)
    code, _, err = fallbook(slow=1)
    assert code == 1
    line = (
        "fallbook: the microphone 'Lid microphone' gives no more sound; all until now is kept; plug it in and run: "
        "fallbook listen j\n"
    )
    assert err.index(line) < err.index("j: 3 pieces taken\n") < err.index("hearing what is left")
    assert np.array_equal(taken(store)[1][0], sound)
    assert len(Book(store, "j").lines) == 3


def test_a_fault_of_the_program_loses_nothing(store, fallbook, played, monkeypatch):
    sound, seen = played(), []

    def fault(session, block, name):
        seen.append(block)
        if len(seen) == 100:
            raise RuntimeError("a bug")

    monkeypatch.setattr(listen._Session, "look_at", fault)
    code, _, err = fallbook()
    assert code == 1
    assert "a bug" in err
    assert len(seen) == 100
    assert np.array_equal(taken(store)[1][0], sound)


@pytest.mark.parametrize(("every_s", "times"), [(60.0, 1), (0.0, 2)])
def test_sound_that_was_lost_is_told_once_a_minute(fallbook, played, monkeypatch, every_s, times):
    monkeypatch.setattr(listen, "OVERRUN_S", every_s)
    played(overrun=[20, 40])
    assert fallbook()[2].count("some sound was lost: this machine is too busy; say it again") == times


def test_where_the_clock_jumps_another_recording_begins(store, fallbook, played, monkeypatch):
    monkeypatch.setattr(listen, "JUMP_S", 1.0)
    sound = played(gap=100)
    fallbook()
    parts = taken(store)[1]
    assert [len(each) for each in parts] == [10 * RATE, 7 * RATE]
    assert np.array_equal(np.concatenate(parts), sound)
    last, first = (Upload.in_entry(each.body) for each in store.entries("j")[1:3])
    assert (first.at - last.at).total_seconds() > 1


@pytest.mark.parametrize(("sound", "times"), [(np.zeros(4 * RATE, np.int16), 1), (talk() | 1, 0)])
def test_a_microphone_that_gives_zeros_alone_is_told_once(fallbook, played, monkeypatch, sound, times):
    monkeypatch.setattr(listen, "ZEROS_S", 1.0)
    played(sound)
    line = (
        "fallbook: no sound comes from 'Lid microphone': it is muted, or programs may not use it; look at its switch, "
        "at the system's sound settings, and at its privacy settings under Microphone\n"
    )
    assert fallbook()[2].count(line) == times


def test_a_library_that_is_gone_leaves_the_sound_to_the_next_listen(store, fallbook, played, tmp_path, monkeypatch):
    sound = played()
    database, elsewhere = store.folder / "library.db", tmp_path / "elsewhere.db"
    keeper_of = listen.Keeper

    def gone(*words):
        database.rename(elsewhere)
        return keeper_of(*words)

    monkeypatch.setattr(listen, "Keeper", gone)
    code, _, err = fallbook()
    assert code == 1
    spool = Spool.of(store, "j")
    assert err.count("the library is gone") == 1
    assert (
        f"fallbook: not in the library yet: 3 pieces, kept in {spool.folder}; once the library is well again run: "
        "fallbook listen j\n"
    ) in err
    elsewhere.rename(database)
    monkeypatch.setattr(listen, "Keeper", keeper_of)
    more = played(talk(4))
    assert fallbook()[0] == 0
    before, now = taken(store)[1]
    assert np.array_equal(before, sound)
    assert np.array_equal(now, more)


def test_where_no_disk_takes_it_another_ctrl_c_costs_nothing(store, fallbook, played, monkeypatch):
    take, room = keeper.take_piece, threading.Event()

    def full(*_):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(keeper, "take_piece", lambda *words: (take if room.is_set() else full)(*words))
    monkeypatch.setattr(Spool, "put", full)
    sound = played()
    threading.Timer(2, os.kill, [os.getpid(), signal.SIGINT]).start()
    threading.Timer(3, room.set).start()
    code, _, err = fallbook()
    assert code == 130
    assert err.count("the sound waits in memory; make room, and leave this running until then\n") == 1
    assert np.array_equal(taken(store)[1][0], sound)


def test_a_piece_of_no_use_fails(fallbook, played, monkeypatch):
    monkeypatch.setattr("logger.intake.look_inside", lambda *_: {"unusable": "it holds no sound"})
    played()
    code, _, err = fallbook()
    assert code == 1
    assert err.count("kept, but it cannot be used: it holds no sound\n") == 3
    assert "j: 0 pieces taken\n" in err


def test_a_second_ctrl_c_leaves_hearing_for_later(store, fallbook, played):
    sound = played()
    threading.Timer(4, os.kill, [os.getpid(), signal.SIGINT]).start()
    code, _, err = fallbook(slow=30)
    assert code == 130
    assert "j: 3 recordings kept and not heard yet; to hear: fallbook listen j\n" in err
    assert np.array_equal(taken(store)[1][0], sound)


def test_what_cannot_be_heard_is_said_and_fails(fallbook, played):
    played()
    code, _, err = fallbook(fails=True)
    assert code == 1
    assert "hearing it failed (ValueError: no ear)" in err
    assert err.endswith("j: 3 recordings kept and not heard yet; to hear: fallbook listen j\n")


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
