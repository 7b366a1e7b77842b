"""Hearing in a process of its own: notes and what they were understood to say come back, and pages answer meanwhile."""

import hashlib
import json
import os
import signal
import sys
import threading
import time
from pathlib import Path

import pytest
from conftest import FakeHearing
from pages import Client

from extract.errors import FallbookError
from extract.record import Note
from logger import jobs
from logger.book import Book
from logger.changes import amend
from logger.page.feed import key
from logger.page.hearing_worker import HearingWorker, _requests, serve

STAND_IN = """
import json, os, sys, time
from pathlib import Path
from extract.record import Note
from logger.page.hearing_worker import _requests, serve

class Ear:
    def describe(self, model=None, language=None):
        return {"model": "stand-in"}
    def hear(self, path, *, model=None, language=None, progress=None, kept=None):
        time.sleep(SLOW)
        if (mark := Path(sys.argv[1]) / "crash").exists():
            mark.unlink()
            os.kill(os.getpid(), 9)
        return [Note(text="Run two is 34 feet long.", heard="Run two is 34 foot long.", start_s=0.1, end_s=0.9)]

def answer(shape):
    print(json.dumps(shape), flush=True)

serve(Path(sys.argv[1]), Ear(), _requests(sys.stdin.buffer), answer)
"""


def note(text, start=0.0):
    return Note(text=text, heard=text, start_s=start, end_s=start + 1)


def take(store, path):
    """Into the log, and not heard."""
    deaf = FakeHearing()
    deaf.missing = True
    list(jobs.take(store, "j", [path], listening=lambda name: lambda done, total: None, hearing=deaf))


def asked(store, hearing, *requests):
    answers = []
    serve(store.folder, hearing, requests, answers.append)
    return answers


def told(answers):
    return {name: shape for each in answers for name, shape in each.get("told", {}).items()}


@pytest.fixture
def process(store, tmp_path):
    """A hearing_worker of which the recogniser is a stand-in that takes half a second; and its answers."""
    answers, made = [], []

    def start(slow=0.5):
        command = [sys.executable, "-c", STAND_IN.replace("SLOW", str(slow)), str(store.folder)]
        made.append(HearingWorker(command, answers.append))
        return made[-1], answers

    yield start
    for each in made:
        each.stop()


def wait_for(what, seconds=20):
    end = time.monotonic() + seconds
    while not what():
        assert time.monotonic() < end, "it did not come"
        time.sleep(0.02)


# -- what it answers


def test_it_hears_what_waits_and_tells_what_was_understood(store, make_sound):
    take(store, make_sound())
    answers = asked(store, FakeHearing([[note("Run two is thirty four feet long."), note("Nice day.", 5)]]), "j")
    assert answers[0] == {"job": "j", "began": True}
    assert answers[-1] == {"job": "j", "done": True}
    first, second = Book(store, "j").lines
    assert told(answers)[key(first)]["line"].startswith("R-2: length 34 ft.")
    assert told(answers)[key(first)]["aloud"] == "run 2: length 34 feet."
    assert told(answers)[key(second)] is None


def test_a_question_that_was_said_is_answered(store, make_sound):
    jobs.say(store, "j", "Run two is in, thirty four feet long.", "8:00")
    take(store, make_sound())
    answers = asked(store, FakeHearing([[note("How long is run two?")]]), "j")
    (answer,) = [each for each in told(answers).values() if each and each["answers"]]
    assert (answer["line"], answer["aloud"]) == ("Run 2: length 34 ft.", "Run 2: length 34 feet.")


def test_a_question_that_was_said_in_spanish_is_answered_in_spanish(store, make_sound):
    jobs.say(store, "j", "Run two is in, thirty four feet long.", "8:00")
    take(store, make_sound())
    asked_ = note("how long is run 2?").model_copy(update={"heard": "¿Cuánto mide el tramo dos?", "language": "es"})
    telling = note("not se how long is run 2", 5).model_copy(
        update={"heard": "No sé cuánto mide el tramo dos.", "language": "es"}
    )
    answers = asked(store, FakeHearing([[asked_, telling]]), "j")
    (answer,) = [each for each in told(answers).values() if each and each["answers"]]
    assert (answer["line"], answer["language"]) == ("Tramo 2: largo 34 pies.", "es")


def test_a_note_is_told_once_and_again_where_its_words_are_others(store):
    jobs.say(store, "j", "Run two is thirty four feet long.")

    def requests():
        yield "j"
        yield "j"
        amend(store, "j", "note:0", "text", "Run two is thirty six feet long.")
        yield "j"

    answers = []
    serve(store.folder, FakeHearing(), requests(), answers.append)
    aloud = [shape["aloud"] for each in answers for shape in each.get("told", {}).values()]
    assert aloud == ["run 2: length 34 feet.", "run 2: length 36 feet."]


def test_silence_is_no_trouble_and_a_missing_model_is(store, make_sound):
    take(store, make_sound())
    assert not [each for each in asked(store, FakeHearing([[]]), "j") if "trouble" in each]
    take(store, make_sound("b.wav"))
    deaf = FakeHearing()
    deaf.missing = True
    (trouble,) = [each["trouble"] for each in asked(store, deaf, "j") if "trouble" in each]
    assert trouble == "the sound is in but was not heard: the speech model is not installed"


@pytest.mark.parametrize("error", [FallbookError("a.wav: no"), RuntimeError("no")])
def test_what_fails_costs_itself(store, make_sound, error):
    take(store, make_sound())
    answers = asked(store, FakeHearing([error, [note("Basin one is set.")]]), "j", "gone", "j")
    troubles = [each["trouble"] for each in answers if "trouble" in each]
    assert len(troubles) == 2
    assert "no job 'gone'" in troubles[1]
    assert [each.text for each in Book(store, "j").notes] == ["Basin one is set."]


def test_in_a_quiet_while_what_others_ask_is_worked_out(store, monkeypatch):
    started = []
    monkeypatch.setattr("logger.settle.in_background", started.append)
    asked(store, FakeHearing(), None, "j", None, None, "j")
    assert started == [store.folder]


def test_requests_are_lines_and_end_with_the_pipe():
    reads, writes = os.pipe()
    os.write(writes, b'{"job": "a"}\n{"job": "b"}\n')
    os.close(writes)
    with os.fdopen(reads, "rb") as pipe:
        assert list(_requests(pipe)) == ["a", "b"]


# -- the process


def test_pages_answer_while_it_hears(store, make_sound, process):
    hearing_worker, _ = process(slow=2)
    client = Client(store.folder, hearing_worker=hearing_worker)
    hearing_worker.start()
    raw = make_sound().read_bytes()
    client.put(f"/jobs/j/pieces/{hashlib.sha256(raw).hexdigest()}?kind=sound", content=raw)
    news = client.get("/jobs/j/since").json()
    assert (news["unheard"], news["notes"]) == (1, [])
    wait_for(lambda: client.get("/jobs/j/since").json()["unheard"] == 0)
    wait_for(lambda: client.get("/jobs/j/since").json()["notes"][0]["read"])
    (heard,) = client.get("/jobs/j/since").json()["notes"]
    assert heard["words"] == "Run two is 34 foot long."
    assert heard["understood"].startswith("R-2: length 34 ft")


def test_it_is_started_again_where_it_was_lost_and_hears_on(store, make_sound, process):
    hearing_worker, answers = process(slow=0)
    take(store, make_sound())
    hearing_worker.ask("j")
    wait_for(lambda: {"job": "j", "done": True} in answers)
    answers.clear()
    (store.folder / "crash").touch()
    take(store, make_sound("b.wav"))
    hearing_worker.ask("j")
    wait_for(lambda: {"job": "j", "done": True} in answers)
    assert not Book(store, "j").unheard


def test_one_that_cannot_start_says_so_and_is_not_started_for_ever(store):
    answers = []
    hearing_worker = HearingWorker([sys.executable, "-c", "raise SystemExit(1)"], answers.append)
    hearing_worker.ask("j")
    wait_for(lambda: answers)
    assert answers == [{"job": "j", "trouble": "hearing stopped; it starts again with the next note"}]
    hearing_worker.stop()


def test_it_outlives_the_thread_that_started_it_and_ends_with_stop(store, process):
    hearing_worker, _ = process(slow=0)
    thread = threading.Thread(target=hearing_worker.start)
    thread.start()
    thread.join()
    time.sleep(0.3)
    running = hearing_worker._process
    assert running.poll() is None
    hearing_worker.stop()
    assert running.wait(5) == -signal.SIGKILL


def test_a_request_is_one_line_of_json(store, tmp_path):
    hearing_worker = HearingWorker(["tee", str(tmp_path / "asked")], lambda answer: None)
    hearing_worker.start()
    hearing_worker.ask("j")
    hearing_worker.ask("j")
    wait_for(lambda: requests(tmp_path) == ["j", "j"])
    hearing_worker.stop()


def requests(folder):
    """What was asked of a hearing_worker that only writes it down."""
    asked = folder / "asked"
    return [json.loads(line)["job"] for line in asked.read_text().splitlines()] if asked.exists() else []


def test_a_recording_that_was_begun_and_not_ended_is_heard_last(store, make_sound):
    for name, seconds in (("a.wav", 1), ("b.wav", 2)):
        take(store, make_sound(name, seconds=seconds))
    first, second = (store.originals.place(entry.sha256) for entry in store.entries("j") if entry.kind == "sound")
    ear = FakeHearing([KeyboardInterrupt(), [note("Basin one is set.")], [note("Basin two is set.")]])
    with pytest.raises(KeyboardInterrupt):
        asked(store, ear, "j")
    asked(store, ear, "j")
    assert ear.asked == [first, second, first]


def test_what_waits_is_asked_again_of_a_process_that_follows_one_lost(tmp_path, monkeypatch):
    monkeypatch.setattr(HearingWorker, "_listen", lambda self, process: None)  # it has not yet found out
    hearing_worker = HearingWorker(["tee", "-a", str(tmp_path / "asked")])
    hearing_worker.ask("j")
    hearing_worker.ask("k")
    wait_for(lambda: len(requests(tmp_path)) == 2)
    hearing_worker._note(hearing_worker._process, {"job": "j", "began": True})
    hearing_worker._process.kill()
    hearing_worker._process.wait()
    hearing_worker.ask("m")
    wait_for(lambda: requests(tmp_path) == ["j", "k", "j", "k", "m"])
    hearing_worker.stop()


def test_an_answer_cut_off_costs_itself(tmp_path):
    answers = []
    script = 'print(\'{"job": "j", "tr\', end=\'\')'
    hearing_worker = HearingWorker([sys.executable, "-c", script], answers.append)
    hearing_worker.ask("j")
    wait_for(lambda: answers)
    assert answers == [{"job": "j", "trouble": "hearing stopped; it starts again with the next note"}]
    hearing_worker.stop()


@pytest.mark.parametrize(("answer", "starts"), [("told", 1), ("trouble", 1), ("heard", 2)])
def test_it_is_started_again_only_where_something_was_heard(tmp_path, answer, starts):
    answers, marks = [], tmp_path / "marks"
    script = f"""
import json, pathlib
marks = pathlib.Path({str(marks)!r})
again = marks.exists()
with marks.open("a") as out:
    out.write("x")
print(json.dumps({{"job": "j", "began": True}}), flush=True)
if not again:
    print(json.dumps({{"job": "j", {answer!r}: {{}}}}), flush=True)
"""
    hearing_worker = HearingWorker([sys.executable, "-c", script], answers.append)
    hearing_worker.ask("j")
    wait_for(lambda: "hearing stopped; it starts again with the next note" in [a.get("trouble") for a in answers])
    assert marks.read_text() == "x" * starts
    hearing_worker.stop()


@pytest.mark.model
def test_the_real_one_hears_the_sample_day(store):
    answers = []
    hearing_worker = HearingWorker.of(store.folder, language="en")
    hearing_worker.answer = answers.append
    take(store, Path(__file__).parents[3] / "sample_logs" / "day" / "20260915T130540.ogg")
    hearing_worker.ask("j")
    wait_for(lambda: {"job": "j", "done": True} in answers, seconds=120)
    hearing_worker.stop()
    assert len(Book(store, "j").notes) > 3
    assert [each["aloud"] for each in told(answers).values() if each and each["aloud"]]
