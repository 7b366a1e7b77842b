"""The command that asks, what it takes back, and what comes in between."""

import io
import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

from extract.record import Note, Question
from logger import ask, changes, cli, in_spanish, jobs, player
from logger.book import Book
from logger.reply import reply
from logger.store import open_store
from logger.undo import undo

TALK = (
    "10:00 Run one is in, 34 feet. Slope is 1 percent.",
    "10:05 Run one is 43 feet.",
    "10:10 Basin one is set.",
    "10:15 Run two is in.",
)


@pytest.fixture
def fallbook(capsys, monkeypatch):
    """Run one command with lines typed to it; its exit code, standard output and standard error."""

    def run(*words: object, typed: str = "") -> tuple[int, str, str]:
        monkeypatch.setattr(sys, "stdin", io.StringIO(typed))
        code = cli.run([str(word) for word in words])
        return (code, *capsys.readouterr())

    return run


@pytest.fixture
def job(fallbook, company):
    words = ["--client", "A. Client", "--address", "2 Tarn Lane", "--day", "2026-05-14", "--zone", "-05:00"]
    assert fallbook("new", "j", *words, "--company", company)[0] == 0
    with library() as store:
        for note in TALK:
            at, text = note.split(" ", 1)
            jobs.say(store, "j", text, at)
    return "j"


def library():
    return open_store(Path(os.environ["FALLBOOK_LIBRARY"]))


def record():
    with library() as store:
        return Book(store, "j").record


def asked() -> list[tuple[str, str | None]]:
    return [(each.about, each.field) for each in record().questions]


def test_the_most_costly_is_asked_first_and_a_letter_takes_a_reading(fallbook, job):
    code, out, err = fallbook("ask", job, typed="a\n18 9\n")
    assert (code, err) == (0, "")
    assert out.splitlines() == [
        "",
        "How long is run 1? (said twice and differently)",
        "  note:0, 10:00:00, typed in: “Run one is in, 34 feet. Slope is 1 percent.”",
        "  note:1, 10:05:00, typed in: “Run one is 43 feet.”",
        "  a) 34 ft",
        "  b) 43 ft",
        "  now: 43 ft",
        "R-1 length is now 34 ft (was 43 ft); 1 question left",
        "",
        "How long is run 2? (not said)",
        "  note:3, 10:15:00, typed in: “Run two is in.”",
        "  now: empty",
        "R-2 length is now 18 ft 9 in (was empty); 0 questions left",
    ]
    assert [run.length_ft for run in record().runs] == [34, 18.75]


def test_arithmetic_is_offered(fallbook, job):
    with library() as store:
        jobs.say(store, job, "Run two drops 3 inches. Slope on run two is 1 percent.", "10:20")
    out = fallbook("ask", job, typed="skip\na\n")[1]
    assert "  a) 25 ft, by drop and slope" in out
    assert record().runs[1].length_ft == 25


def test_order_is_by_field_and_then_by_why(job):
    with library() as store:
        for text in ("Basin one's rim is 99.40.", "Basin one's rim is 99.10.", "Cover on run two is 300 inches."):
            jobs.say(store, job, text, "11:00")
        found = [(each.subject, each.field) for each in ask.open_questions(Book(store, job))]
    assert found == [("CB-1", "rim_ft"), ("R-1", "length_ft"), ("R-2", "length_ft"), ("R-2", "cover_in")]


def test_skip_help_nonsense_and_the_end(fallbook, job):
    out = fallbook("ask", job, typed="?\nbanana\nz\nyes please\nskip\n")[1]
    assert "a figure  in plain words" in out
    assert "R-1 length cannot be banana; write it as 34.67, 34 ft 8 in or 34'8\"" in out
    assert "there is no reading z; type ? for help" in out
    assert "left open; 1 question left" in out
    assert len(asked()) == 2
    assert fallbook("ask", job, typed="q\n")[0] == 0
    assert len(asked()) == 2


def test_yes_with_nothing_to_confirm_is_refused(fallbook, job):
    assert "nothing stands that could be right" in fallbook("ask", job, typed="yes\nyes\n")[1]
    assert asked() == [("R-2", "length_ft")]


def test_not_there_empties_or_dismisses_and_undo_brings_each_back(fallbook, job):
    out = fallbook("ask", job, typed="not there\nnot there\n")[1]
    assert "R-1 length is now empty (was 43 ft); 1 question left" in out
    assert "R-2 length needs no answer; 0 questions left" in out
    assert (record().runs[0].length_ft, asked()) == (None, [])
    assert fallbook("ask", job)[1] == "j: no question is open\n"
    assert fallbook("ask", job, "--undo")[1] == "j: asked again: R-2 length\n"
    assert asked() == [("R-2", "length_ft")]
    assert fallbook("ask", job, "--undo")[1] == "j: taken back: R-1 length none\n"
    assert record().runs[0].length_ft == 43
    assert fallbook("ask", job, "--undo") == (2, "", "fallbook: j: there is no answer to take back\n")


def test_undo_takes_back_amendments_and_removals_of_things(fallbook, job):
    fallbook("amend", job, "run 1", "cover", "14")
    fallbook("remove", job, "CB-1")
    assert fallbook("ask", job, "--undo")[1] == "j: CB-1 is back\n"
    assert [each.label for each in record().structures] == ["CB-1"]
    assert fallbook("ask", job, "--undo")[1] == "j: taken back: R-1 cover 14 in\n"
    assert record().runs[0].cover_in is None


def test_which_area_is_meant(fallbook, job):
    with library() as store:
        for text in (
            "Roof to basin one is 600 square feet.",
            "Roof to basin one is 700 square feet.",
        ):
            jobs.say(store, job, text, "13:00")
    out = fallbook("ask", job, typed="skip\nskip\na\n")[1]
    assert "a) 600 square feet" in out
    assert [each.sqft for each in record().structures[0].areas] == [600]
    assert sorted(asked()) == [("R-1", "length_ft"), ("R-2", "length_ft")]


def test_a_number_is_placed_by_its_field_or_dismissed(job):
    with library() as store:
        jobs.say(store, job, "On basin one the invert is 3000 inches down.", "11:00")
        book = Book(store, job)
        question = next(each for each in ask.open_questions(book) if each.subject == "CB-1")
        told, book = reply(book, question, "banana")
        assert told.what == "refused"
        told, book = reply(book, question, "depth 3 ft")
        assert (told.what, told.words) == ("taken", "CB-1 invert depth is now 36 in (was empty)")
        assert book.record.structures[0].invert_depth_in == 36
        assert [(n.went, n.to) for n in book.record.numbers if n.note == 4] == [("withdrawn", "CB-1.invert_depth_in")]
        assert ask.find(book, question.id) is None
        undo(store, job)
        again = Book(store, job)
        assert again.record.structures[0].invert_depth_in is None
        told, again = reply(again, ask.find(again, question.id), "not there")
        assert told.words.endswith("needs no answer")
        assert [n.went for n in again.record.numbers if n.note == 4] == ["withdrawn"]


def test_a_dismissal_holds_to_its_thing_when_an_earlier_note_renumbers(job):
    with library() as store:
        jobs.say(store, job, "A new run by the gate is in.", "12:00")
        book = Book(store, job)
        question = next(each for each in ask.open_questions(book) if each.subject == "R-3")
        assert reply(book, question, "not there")[0].what == "taken"
        assert ("R-3", "length_ft") not in asked()
        jobs.say(store, job, "A new run by the fence is in.", "11:00")
        assert ("R-3", "length_ft") in asked()  # by the fence: nobody said that it needs no answer


def test_a_question_that_vanished_meanwhile(job):
    with library() as store:
        book = Book(store, job)
        first, second = ask.open_questions(book)
        changes.amend(store, job, "R-1", "length", "34")
        told, book = reply(book, first, "yes")
        assert told.what in ("gone", "taken")
        told, book = reply(book, first, "36")
        assert (told.what, told.words) == ("gone", "that was answered meanwhile")
        assert reply(book, second, "20 feet")[0].what == "taken"


ANSWER = """
import sys
from pathlib import Path
from logger import ask
from logger.book import Book
from logger.reply import reply
from logger.store import open_store

with open_store(Path(sys.argv[1])) as store:
    book = Book(store, "j")
    question = next(each for each in ask.open_questions(book) if each.subject == "R-2")
    print("ready", flush=True)
    print(reply(book, question, sys.stdin.readline())[0].what)
"""


def test_of_two_processes_that_answer_the_same_question_one_is_told(job):
    command = [sys.executable, "-c", ANSWER, os.environ["FALLBOOK_LIBRARY"]]
    pipes = {"stdin": subprocess.PIPE, "stdout": subprocess.PIPE, "text": True}
    two = [subprocess.Popen(command, **pipes) for _ in range(2)]
    assert [each.stdout.readline() for each in two] == ["ready\n"] * 2
    for each, figure in zip(two, ("20 feet\n", "21 feet\n"), strict=True):
        each.stdin.write(figure)
        each.stdin.flush()
    assert sorted(each.communicate()[0] for each in two) == ["gone\n", "taken\n"]
    with library() as store:
        assert [entry.body["subject"] for entry in store.entries(job) if entry.kind == "amendment"] == ["R-2"]


def test_a_library_that_cannot_be_written(fallbook, job, monkeypatch):
    monkeypatch.setattr("logger.store.can_write", lambda folder: False)
    code, out, err = fallbook("ask", job, typed="a\n")
    assert (code, out) == (1, "")
    assert len(err.splitlines()) == 1
    assert "this library can be read and not written" in err


def test_no_such_job(fallbook, job):
    assert fallbook("ask", "nobody")[2].startswith("fallbook: no job 'nobody'")


# -- sound


def test_the_second_of_sound_is_played(fallbook, job, hearing, make_sound, monkeypatch, tmp_path):
    words = [{"text": each, "start_s": 1.5, "end_s": 2, "confidence": 0.2} for each in "Cover on run one is 8.".split()]
    note = Note(text="Cover on run one is 8 inches.", heard="x", start_s=1.5, end_s=2.0, confidence=0.2, words=words)
    hearing.answers.append([note])
    with library() as store:
        sound = make_sound("2026-05-14T110000.wav", seconds=5)
        list(jobs.take(store, job, [sound], listening=lambda name: lambda done, total: None, hearing=hearing))
    fake = tmp_path / "bin"
    fake.mkdir()
    (fake / "aplay").write_text(f'#!{shutil.which("sh")}\ncp "$2" {tmp_path}/played.wav\n')
    (fake / "aplay").chmod(0o755)
    monkeypatch.setenv("PATH", str(fake) + os.pathsep + "/usr/bin" + os.pathsep + "/bin")
    monkeypatch.setattr(player, "_names", lambda: {"aplay": ["-q"]})
    fallbook("ask", job, "--play", typed="skip\nskip\nskip\n")
    import wave

    with wave.open(str(tmp_path / "played.wav")) as played:
        assert played.getnframes() / played.getframerate() == pytest.approx(2.5, abs=0.02)
    monkeypatch.setattr(player, "_names", lambda: {"no-such-player": []})
    assert "no player was found" in fallbook("ask", job, "--play", typed="skip\nskip\nskip\n")[1]


# -- everything can be corrected


@pytest.mark.parametrize(
    ("words", "line"),
    [
        (("R-1", "length", "34 ft 8"), "j: R-1 length is now 34 ft 8 in"),
        (("run two", "slope", "an eighth per foot"), "j: R-2 slope is now 1.04% (1/8 in per ft)"),
        (("R-2", "fittings", "two 45s"), "j: R-2 fittings is now 2 × 45° elbow"),
        (("basin one", "invert in", "98.42"), "j: CB-1 incoming invert is now 98.42 ft"),
        (("R-1", "from", "basin 1"), "j: R-1 from is now CB-1"),
        (("client", "Ina Wexcombe"), "j: client is now Ina Wexcombe"),
        (("day", "2026-05-15"), "j: day is now 2026-05-15"),
        (("zone", "-06:00"), "j: zone is now -06:00"),
    ],
)
def test_a_field_goes_by_its_plain_name(fallbook, job, words, line):
    code, out, err = fallbook("amend", job, *words)
    assert (code, out.splitlines()[0], err) == (0, line, "")


def test_what_is_taken_back_is_told_in_plain_words(fallbook, job):
    with library() as store:
        jobs.say(store, job, "Hose test on run one, ten minutes, it failed.", "13:00")
    fallbook("amend", job, "note:1", "text", "Run one is 20 feet long.")
    assert fallbook("ask", job, "--undo")[1] == "j: taken back: note:1 text Run one is 20 feet long.\n"
    fallbook("amend", job, "note:1", "text", "none")
    assert fallbook("ask", job, "--undo")[1] == "j: taken back: note:1 text none\n"
    told = fallbook("amend", job, "test:1", "result", "pass")[1]
    assert told == "j: test 1 (hose, R-1) result is now pass\nwas: fail\n"
    assert fallbook("ask", job, "--undo")[1] == "j: taken back: test:1 result pass\n"
    fallbook("amend", job, "R-1", "fittings", "two 45s and a wye")
    assert fallbook("ask", job, "--undo")[1] == "j: taken back: R-1 fittings 2 × 45° elbow, 1 × wye\n"


def test_a_bare_fraction_is_no_slope(fallbook, job):
    assert fallbook("amend", job, "R-1", "slope", "eighth") == (
        2, "", "fallbook: R-1 slope cannot be eighth; say per what: an eighth per foot, or 1 percent\n",
    )  # fmt: skip


def test_the_jobs_own_facts_are_corrected_and_the_row_stays(fallbook, job):
    fallbook("amend", job, "address", "4 Tarn Lane")
    with library() as store:
        assert store.job(job).address == "4 Tarn Lane"
        assert [each["address"] for each in store.jobs()] == ["4 Tarn Lane"]
        assert store.connection.execute("SELECT address FROM jobs").fetchone() == ("2 Tarn Lane",)
        assert Book(store, job).record.questions == Book(store, job)._read.questions
    assert "4 Tarn Lane" in fallbook("show", job)[1]
    assert fallbook("verify")[0] == 0
    assert fallbook("ask", job, "--undo")[1] == "j: taken back: address 4 Tarn Lane\n"
    with library() as store:
        assert store.job(job).address == "2 Tarn Lane"


@pytest.mark.parametrize(
    ("words", "why"),
    [
        (("day", "tomorrow"), "is no day of this work"),
        (("zone", "5"), "is no offset from UTC"),
        (("client", " "), "the client is empty"),
        (("colour", "red"), "a job has no colour; what can be corrected: client, address, day, zone"),
    ],
)
def test_a_jobs_fact_that_does_not_fit_is_refused(fallbook, job, words, why):
    code, out, err = fallbook("amend", job, *words)
    assert (code, out) == (2, "")
    assert why in err


def test_levels_tests_and_issues_are_amended_removed_and_put_back(fallbook, job):
    with library() as store:
        for text in (
            "Benchmark elevation 100. Backsight 4.32.",
            "Hose test on run one, eight minutes. It passed.",
            "Hose test on run two, ten minutes. It passed.",
            "Roots in run one.",
        ):
            jobs.say(store, job, text, "13:00")
    assert fallbook("amend", job, "benchmark", "rod", "4.33")[1] == (
        "j: benchmark rod reading is now 4.33 ft\nwas: 4.32 ft\n"
    )
    assert (
        "j: test 1 (hose, R-1) duration is now 9 minutes\n" in fallbook("amend", job, "test:1", "time", "9 minutes")[1]
    )
    out = fallbook("amend", job, "issue:1", "action", "cleared")[1]
    assert "j: issue 1 (Roots in run one) what was done is now cleared\n" in out
    fallbook("remove", job, "test:1")
    assert [each.at for each in record().tests] == ["R-2"]
    fallbook("remove", job, "test:1")
    assert record().tests == []
    fallbook("remove", job, "test:1", "--undo")
    assert [each.at for each in record().tests] == ["R-2"]
    with library() as store:
        jobs.say(store, job, "Hose test on run three, one minute. It passed.", "08:00")
    assert [(each.at, each.duration_s) for each in record().tests] == [("R-3", 60), ("R-2", 600)]
    assert record().levels[0].rod_ft == 4.33


# -- what say reads back


@pytest.mark.parametrize(
    ("text", "line"),
    [
        ("Run three is 34 feet 8 inches long.", "R-3: length 34 ft 8 in."),
        ("Run one is 36 feet.", "R-1: length 36 ft. Asks: How long is run 1? 34 ft or 43 ft or 36 ft?"),
        ("Run four is in.", "R-4: state installed. Asks: How long is run 4?"),
        ("Need to buy two couplings.", "to do: buy: Need to buy two couplings."),
        ("Roots in run one.", "issue: roots, R-1, Roots in run one."),
        (
            "Run three.",
            "new: run R-3, nothing else said of it yet. Asks: Is run 3 installed, existing, planned or abandoned?",
        ),
        (
            "There's a basin by the shed.",
            "new: catch basin CB-2, nothing else said of it yet. Asks: Is catch basin 2 installed, existing, planned "
            "or abandoned?",
        ),
        (
            "Run two goes from basin one to the pop-up.",
            "R-2: from CB-1, to OUT-1; new: pop-up outlet OUT-1, nothing else said of it yet. Asks: How long is run 2?",
        ),
        (
            "Hose test on run three, ten minutes, passed.",
            "test: hose, R-3, 10 minutes, pass; new: run R-3, nothing else said of it yet. Asks: How long is run 3?",
        ),
        ("Run two is next.", "Nothing of it was entered. Asks: How long is run 2?"),
        (
            "Benchmark elevation 100.",
            "level: benchmark, elevation 100.00 ft, rod not read. Asks: What did the rod read at the benchmark?",
        ),
    ],
)
def test_a_note_is_read_back(fallbook, job, text, line):
    code, out, err = fallbook("say", job, text, "--at", "12:00")
    assert (code, out.splitlines(), err) == (0, ["j: noted at 2026-05-14 12:00:00", line], "")


def test_a_greater_cover_is_said_to_change_nothing(fallbook, job):
    fallbook("say", job, "Cover on run one is eight inches.", "--at", "12:00")
    told = fallbook("say", job, "Cover on run one is nine inches.", "--at", "12:05")[1].splitlines()[1]
    assert told == "R-1: cover stays 8 in, the least that was told."
    assert "taken back, replaced or not the least R-1 cover" in " ".join(fallbook("show", job, "note:5")[1].split())


def test_a_run_that_is_only_asked_after_is_no_run(fallbook, job):
    runs = fallbook("show", job)[1].count("R-9")
    fallbook("say", job, "What's missing on run nine?", "--at", "12:00")
    assert fallbook("show", job)[1].count("R-9") == runs == 0


def test_a_thing_named_before_is_not_new(fallbook, job):
    fallbook("say", job, "Run three.", "--at", "12:00")
    told = fallbook("say", job, "Run three next.", "--at", "12:05")[1].splitlines()[1]
    assert "new" not in told


def test_what_is_not_of_the_work_and_what_is_said_quietly_is_not_read_back(fallbook, job):
    for words in (["Lunch now."], ["Run three is 20 feet.", "--quiet"]):
        assert fallbook("say", job, *words, "--at", "12:00")[1] == "j: noted at 2026-05-14 12:00:00\n"


def test_a_reading_that_fails_costs_no_note(fallbook, job, monkeypatch):
    monkeypatch.setattr("logger.read_back._entered", lambda book, index: 1 / 0)
    assert fallbook("say", job, "Run three is 20 feet.", "--at", "12:00") == (
        0, "j: noted at 2026-05-14 12:00:00\n", "",
    )  # fmt: skip
    assert record().runs[-1].length_ft == 20


# -- refusals in plain words

DOINGS = (
    "10:20 Need to buy two couplings. Need a photo of basin one.",
    "10:25 Hose test on run one, 8 minutes, passed.",
)


@pytest.fixture
def doings(job):
    with library() as store:
        for note in DOINGS:
            at, text = note.split(" ", 1)
            jobs.say(store, "j", text, at)
    return job


def test_a_task_is_taken_out_by_remove_and_the_refusals_say_so(fallbook, doings):
    line = "fallbook: task 1 (2 couplings) is taken out with: fallbook remove j task:1\n"
    assert fallbook("amend", doings, "task:1", "none") == (2, "", line)
    line = "fallbook: task 1 (2 couplings) text cannot be empty; it is taken out with: fallbook remove j task:1\n"
    assert fallbook("amend", doings, "task 1", "text", "none") == (2, "", line)
    assert fallbook("remove", doings, "task:1")[1].startswith("j: removed: task:1 (2 couplings)\n")
    assert [each.kind for each in record().tasks] == ["photo"]


def test_what_there_is_is_told_in_plain_words(fallbook, doings):
    assert fallbook("amend", doings, "task:9", "count", "2")[2] == (
        "fallbook: no task:9 in j; there are: task:1 (2 couplings), task:2 (Need a photo of basin one)\n"
    )
    assert fallbook("amend", doings, "R-9", "length", "2")[2] == (
        "fallbook: no R-9 in j; there are: CB-1, R-1, R-2, test:1, task:1 to 2; or note:N, photo:N, file:NAME\n"
    )
    assert fallbook("amend", doings, "test:1", "duration", "banana")[2] == (
        "fallbook: test 1 (hose, R-1) duration cannot be banana; write it as 8 minutes\n"
    )


def test_a_field_without_its_value_is_told_how_to_go_on(fallbook, doings):
    line = "fallbook: R-1 length needs a value: fallbook amend j R-1 length VALUE\n"
    assert fallbook("amend", doings, "R-1", "length_ft") == (2, "", line)
    needs = "fallbook: test:1 needs a field and a value; its fields: kind"
    assert fallbook("amend", doings, "test:1", "passed")[2].startswith(needs)
    assert "a job has no owner; what can be corrected:" in fallbook("amend", doings, "owner", "A. N.")[2]


@pytest.mark.parametrize(
    ("words", "line"),
    [
        (("R-1", "slope_pct", "eighth"), "R-1 slope cannot be eighth; say per what: an eighth per foot, or 1 percent"),
        (("R-1", "length_ft", "banana"), "R-1 length cannot be banana; write it as 34.67, 34 ft 8 in or 34'8\""),
        (("R-1", "nominal_in", "x"), "R-1 size cannot be x; write it as 3.25, 3 1/4 or 3.25 in"),
        (("CB-1", "invert_out_ft", "x"), "CB-1 invert out cannot be x; write it as 34.67, 34 ft 8 in or 34'8\""),
        (
            ("R-1", "depth", "3"),
            "R-1 has no field depth; its fields: from, to, state, size, pipe, length, drop, slope, cover, traffic, "
            "fittings, bedding, backfill, pieces, stations, crossings",
        ),
        (
            ("CB-1", "colour", "3"),
            "CB-1 has no field colour; its fields: kind, state, size, length, rim, invert in, invert out, depth, "
            "areas, traffic, ties",
        ),
    ],
)
def test_refusals_name_fields_as_people_do(fallbook, job, words, line):
    assert fallbook("amend", job, *words) == (2, "", f"fallbook: {line}\n")


def test_pieces_are_asked_for_in_plain_words_and_taken_one_by_one(fallbook, job):
    question = Question(about="R-1", field="pieces_ft", why="low_confidence", evidence=[])
    assert [ask.question_text(record(), question), in_spanish.question_text("R-1", "pieces_ft")] == [
        "How long is each piece of run 1?",
        "¿Cuánto mide cada pieza del tramo 1?",
    ]
    assert "10 ft, 10 ft, 4 ft" in fallbook("amend", job, "R-1", "pieces", "10 10 4")[1]
    assert record().runs[0].pieces_ft == [10, 10, 4]


GAS = (
    "Gas line crosses run one at 12 feet, 20 inches down.",
    "Water line crosses run one at 25 feet.",
    "Gas line crosses run one at 12 feet, 30 inches down.",
)


@pytest.fixture
def crossed(job):
    with library() as store:
        for number, text in enumerate(GAS):
            jobs.say(store, job, text, f"13:0{number}")
    assert ("R-1", "crossings") in asked()
    return job


def crossings():
    return sorted((each.what.lower(), each.at_ft, each.depth_in) for each in record().runs[0].crossings)


def answer(job, said):
    """What becomes of the answer to the question about crossings."""
    with library() as store:
        book = Book(store, job)
        (one,) = [each for each in ask.open_questions(book) if each.field == "crossings"]
        return one, reply(book, one, said)[0]


WATER = ("water line", 25, None)


@pytest.mark.parametrize(
    ("said", "found"),
    [
        ("gas line at 12, 20 inches deep", [("gas line", 12, 20), WATER]),
        ("a", [("gas line", 12, 20), WATER]),
        ("b", [("gas line", 12, 30), WATER]),
        ("20", [("gas line", 12, 20), WATER]),
        ("gas line, 24 inches deep", [("gas line", 12, 24), WATER]),
        ("power cable at 12, 20 inches deep", [("power cable", 12, 20), WATER]),
        ("not there", [WATER]),
    ],
)
def test_one_crossing_is_asked_about_and_the_others_stay(crossed, said, found):
    one, got = answer(crossed, said)
    assert one.text == "What does run 1 cross, and where?"
    assert [each.words for each in one.readings] == [
        "Gas line at 12 ft, 20 in deep",
        "Gas line at 12 ft, 30 in deep",
    ]
    assert got.what == "taken"
    assert crossings() == found
    assert ("R-1", "crossings") not in asked()


def test_a_crossing_answered_with_no_sense_is_refused_and_all_stay(crossed):
    before = crossings()
    assert answer(crossed, "banana at soon")[1].what == "refused"
    assert answer(crossed, "900")[1].what == "refused"
    assert crossings() == before


def test_a_crossing_with_no_name_is_named_by_the_answer_and_by_an_amendment(fallbook, job):
    with library() as store:
        jobs.say(store, job, "Crosses run one at 12 feet.", "13:00")
    assert crossings() == [("unnamed", 12, None)]
    assert answer(job, "gas line")[1].what == "taken"
    assert crossings() == [("gas line", 12, None)]
    fallbook("ask", job, "--undo")
    assert ("R-1", "crossings") in asked()
    fallbook("amend", job, "R-1", "crossing", "gas line at 12, 20 inches deep")
    assert crossings() == [("gas line", 12, 20)]
    assert ("R-1", "crossings") not in asked()


def test_what_is_crossed_is_asked_in_spanish(crossed):
    with library() as store:
        book = Book(store, crossed)
        (question,) = [each for each in book.record.questions if each.field == "crossings"]
        said = in_spanish.question(book.record, question)
    assert said.startswith("¿Qué cruza el tramo 1, y dónde? ")
    assert said.count("12 pies") == 2


def test_the_figure_in_doubt_is_of_the_crossing_that_the_words_name(crossed):
    with library() as store:
        jobs.say(store, crossed, "Power cable crosses run one at 30 feet.", "12:59")
    one, got = answer(crossed, "20")
    assert {each.value.what for each in one.readings} == {"Gas line"}
    assert got.what == "taken"
    assert crossings() == [("gas line", 12, 20), ("power cable", 30, None), WATER]
