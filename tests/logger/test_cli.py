import io
import json
import os
import re
import signal
import sqlite3
import subprocess
import sys
import time
import tomllib
from pathlib import Path

import pytest
from conftest import new

from extract.errors import FallbookError
from extract.record import Note, Record
from logger import printing, speech

ROOT = Path(__file__).parent.parent.parent
LOG = """[09:48:00] Basin one is set. Twelve by twelve.
[09:50:00] Run one is laid, from basin one to basin two. Four-inch SDR 35, 12 feet long.
[09:52:00] Drop on run one is 3 inches.
"""


@pytest.fixture
def ear(monkeypatch, hearing):
    monkeypatch.setattr(speech, "hear", hearing.hear)
    monkeypatch.setattr(speech, "describe", hearing.describe)
    return hearing


@pytest.fixture
def typed(monkeypatch):
    """Put text on standard input."""

    def put(raw: bytes) -> None:
        monkeypatch.setattr(sys, "stdin", io.TextIOWrapper(io.BytesIO(raw)))

    return put


def process(*words: object, **more) -> subprocess.Popen:
    command = [sys.executable, "-m", "logger.cli", *map(str, words)]
    return subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True, **more)


# -- a job from start to report


def test_a_job_from_start_to_report(fallbook, company, ear, tmp_path, monkeypatch, make_photo, make_sound):
    monkeypatch.chdir(tmp_path)
    assert new(fallbook, company) == (
        0,
        f"new library: {tmp_path / 'library'}\n"
        "front-walk: started, 2026-05-14, UTC-05:00. Next: fallbook take front-walk FILES\n",
        "",
    )
    (tmp_path / "day").mkdir()
    (tmp_path / "day" / "n.txt").write_text(LOG)
    make_photo("day/a.jpg")
    make_sound("day/20260514_100000.wav")
    ear.answers.append([Note(text="Run one is backfilled.", heard="Run one is back field.", start_s=1, end_s=2)])
    code, out, err = fallbook("take", "front-walk", "day")
    assert (code, err) == (0, "hearing 20260514_100000.wav ...\n")
    assert out.endswith("20260514_100000.wav: 1 note heard\n3 taken, 0 already there, 0 failed\n")
    assert fallbook("say", "front-walk", "Lunch.", "--at", "12:00")[:2] == (
        0,
        "front-walk: noted at 2026-05-14 12:00:00\n",
    )
    amended = "front-walk: R-1 length is now 14 ft\nwas: 12 ft\n"
    assert fallbook("amend", "front-walk", "R-1", "length_ft", "14")[:2] == (0, amended)
    code, out, _ = fallbook("report", "front-walk", "--for", "record")
    assert code == 0
    paths = [Path(line) for line in out.splitlines()[:-1]]
    assert paths[0] == Path("front-walk-record.docx")
    assert all(path.stat().st_size for path in paths)
    assert re.match(r"\d+ questions? open; of the checks \d+ fails? and \d+ needs? attention$", out.splitlines()[-1])


def test_show_lists_jobs_then_one_then_follows_a_figure(fallbook, job, ear, tmp_path, make_photo, make_sound):
    (tmp_path / "n.txt").write_text(LOG)
    ear.answers.append(
        [
            Note(
                text="Cover on run one is 12 inches.",
                heard="Cover on run one is 12 itches.",
                confidence=0.8,
                start_s=64.5,
                end_s=67,
            )
        ]
    )
    photo, sound = make_photo(taken="2026:05:14 09:50:30"), make_sound("20260514_100000.wav")
    fallbook("take", job, tmp_path / "n.txt", photo, sound)
    assert "front-walk  14 May 2026  A. Client  1 Larch Walk" in fallbook("show")[1]
    whole = fallbook("show", job)[1]
    for part in (
        "Files: 3",
        "Notes: 4",
        "Structures: 2",
        "Runs: 1",
        "Questions for a person:",
        "Findings: ",
        "Photos: 1",
    ):
        assert part in whole
    run = fallbook("show", job, "r-1")[1]
    assert "length     12 ft" in run
    assert "note:1, 09:50:00, n.txt" in run
    assert "note:3, 10:01:04, 20260514_100000.wav at 1:04.5" in run
    assert re.search(r"Cover on run one is 12 itches\. \(confidence 0\.[5-7]\d\)", run)
    assert "photo:1  a.jpg, taken 09:50:30, 30 s after note 1 about R-1; backfill: unknown" in run
    note = fallbook("show", job, "note:3")[1]
    for part in (
        "Cover on run one is 12 itches.",
        "1:04.5 to 1:07.0",
        "(SHA-256 ",
        "time by",
        "file name",
        "R-1 cover",
    ):
        assert part in note
    assert "photo:1 a.jpg" in fallbook("show", job, "note:1")[1]
    shown = fallbook("show", job, "photo:1")[1]
    for part in (
        "2026-05-14 09:50:30",
        "EXIF time and offset",
        "41.500000, -93.250000, within 5 m",
        "96°",
        "R-1",
        "note:1",
    ):
        assert part in shown


@pytest.mark.parametrize("name", ["benchmark", "the benchmark", "level:1"])
def test_show_takes_the_names_that_amend_takes(fallbook, job, name):
    fallbook("say", job, "Basin one is set.", "--at", "10:00")
    fallbook("say", job, "Benchmark elevation 100. Backsight 4.32.", "--at", "10:05")
    fallbook("say", job, "Foresight on the benchmark 4.33.", "--at", "10:10")
    code, out, err = fallbook("show", job, name)
    assert (code, err) == (0, "")
    assert "level:1 of front-walk: benchmark backsight 4.32; note:1, 10:05:00, typed in" in out
    assert "level:2 of front-walk: benchmark foresight 4.33; note:2, 10:10:00, typed in" in out
    assert "4.33 ft" in out
    assert "note:1, 10:05:00, typed in" in out
    assert "Catch basin CB-1 of front-walk" in fallbook("show", job, "basin one")[1]


@pytest.mark.parametrize(
    ("what", "heading"),
    [
        ("test:1", "test:1 of front-walk: hose test on run R-1; note:1, 10:05:00, typed in"),
        ("test:2", "test:2 of front-walk: flood test on catch basin CB-1; note:2, 10:10:00, typed in"),
        ("issue:1", "issue:1 of front-walk: Roots in run one; note:3, 10:15:00, typed in; note:4, 10:20:00, typed in"),
        ("level:1", "level:1 of front-walk: benchmark backsight 4.32; by hand"),
    ],
)
def test_the_heading_of_an_entry_says_what_it_is_and_where_it_was_said(fallbook, job, what, heading):
    fallbook("say", job, "Basin one is set.", "--at", "10:00")
    fallbook("say", job, "Hose test on run one, ten minutes, passed.", "--at", "10:05")
    fallbook("say", job, "Flood test on basin one, five minutes, passed.", "--at", "10:10")
    fallbook("say", job, "Roots in run one.", "--at", "10:15")
    fallbook("say", job, "Cleared the roots in run one.", "--at", "10:20")
    fallbook("amend", job, "test:1", "time", "9 minutes")
    fallbook("amend", job, "levels", "backsight benchmark 4.32 elevation 100")
    assert fallbook("show", job, what)[1].splitlines()[0] == heading


def test_ready_takes_a_run_by_its_plain_name(fallbook, job):
    fallbook("say", job, "Run one is laid. 40 feet.", "--at", "10:00")
    assert fallbook("ready", job, "run one")[1].startswith("Run 1: not yet.")
    assert fallbook("ready", job, "run two") == (2, "", "fallbook: no run two; there are: R-1\n")


@pytest.mark.parametrize("named", ["levels, points, changes, purchases", "tie, crossing or fittings", "a 45 at 12"])
def test_help_of_amend_names_what_can_be_added(fallbook, named):
    assert named in " ".join(fallbook("amend", "--help")[1].split())


def test_amended_words_show_what_they_were(fallbook, job):
    fallbook("say", job, "Run", "one", "is", "40", "feet.", "--at", "10:00")
    fallbook("amend", job, "note:0", "text", "Run one is 14 feet.")
    shown = fallbook("show", job, "note:0")[1]
    assert "before it was amended  Run one is 40 feet." in shown
    fallbook("amend", job, "R-1", "length_ft", "15")
    assert "note:1, by hand" in fallbook("show", job, "R-1")[1]
    assert "Amended by hand: R-1 length: 15 ft" in fallbook("show", job, "note:1")[1]


def rows_of(fallbook, job, subject) -> list[list[str]]:
    """The cells of each line of `show`."""
    return [re.split(r"  +", line) for line in fallbook("show", job, subject)[1].splitlines()]


def test_show_says_what_a_value_set_by_hand_stands_over(fallbook, job):
    said = "Run one is laid. Four-inch SDR 35, 12 feet long. Cover is 14 inches."
    fallbook("say", job, said, "--at", "10:00")
    for field, value in (("length", "14"), ("cover", "none"), ("size", "4"), ("drop", "3")):
        fallbook("amend", job, "R-1", field, value)
    rows = rows_of(fallbook, job, "R-1")
    note = ["note:0, 10:00:00, typed in", said]
    places = {row[0]: place for place, row in enumerate(rows)}
    for field, value, before in (
        ("length", "14 ft", ["", "in place of 12 ft", *note]),
        ("cover", "empty", ["", "in place of 14 in", *note]),
        ("pipe size", "4 in", ["", "as was said", *note]),
        ("drop", "3 in", None),
    ):
        assert re.fullmatch(rf"{value} \(set by hand, \d+ \w+ \d{{4}} \d\d:\d\d\)", rows[places[field]][1])
        assert rows[places[field]][2].endswith(", by hand")
        after = rows[places[field] + 1]
        assert (after if after[0] == "" else None) == before


def test_show_says_what_an_entry_set_by_hand_and_a_reading_added_stand_over(fallbook, job):
    fallbook("say", job, "Basin one is set, rim elevation 95.", "--at", "10:00")
    fallbook("say", job, "Hose test on run one, ten minutes, passed.", "--at", "10:05")
    fallbook("amend", job, "test:1", "time", "9 minutes")
    fallbook("amend", job, "levels", "foresight CB-1 rim 4.85 elevation 95.15")
    fallbook("amend", job, "CB-1", "tie", "18.5 from garage corner")
    rows = rows_of(fallbook, job, "test:1")
    before = ["", "in place of 10 minutes", "note:1, 10:05:00, typed in", "Hose test on run one, ten minutes, passed."]
    assert rows[[row[0] for row in rows].index("length of the test") + 1] == before
    rows = rows_of(fallbook, job, "CB-1")
    said = "Basin one is set, rim elevation 95."
    assert ["", "in place of 95.00 ft", "note:0, 10:00:00, typed in", said] in rows
    assert "Added by hand: CB-1 rim foresight 4.85, elevation 95.15" in [row[-1] for row in rows]
    assert sum("(set by hand" in " ".join(row) for row in rows) == 1  # a tie more stands over nothing


def test_show_tells_changes_by_hand_and_fields_in_plain_words(fallbook, job):
    fallbook("say", job, "Run one is laid. Four-inch SDR 35, 120 feet long.", "--at", "10:00")
    fallbook("say", job, "Hose test on run one, ten minutes, it failed.", "--at", "10:05")
    fallbook("say", job, "Basin one is set.", "--at", "10:06")
    changed = [
        ("R-1", "fittings", "a wye at 100", "R-1 fittings: 1 × wye at 100 ft"),
        ("R-1", "size", "6", "R-1 pipe size: 6 in"),
        ("R-1", "slope", "2", "R-1 slope: 2.00%"),
        ("R-1", "cover", "none", "R-1 cover: emptied"),
        ("CB-1", "areas", "600 square feet of roof", "CB-1 areas that drain to it: 600 square feet of roof"),
        ("test:1", "result", "pass", "test 1 result: pass"),
    ]
    for *words, _ in changed:
        assert fallbook("amend", job, *words)[0] == 0
    whole = fallbook("show", job)[1]
    shown = "".join(fallbook("show", job, each)[1] for each in ("R-1", "CB-1", "test:1", "note:0", "note:5"))
    for *_, told in changed:
        assert f"Amended by hand: {told}" in whole
    for told in ("R-1 fittings: 1 × wye at 100 ft", "R-1 slope: 2.00%", "test 1 result: pass"):
        assert f"Amended by hand: {told}" in shown
    for raw in ("_ft", "_in", "_pct", "_s ", "{'", "amended:"):
        assert raw not in shown.replace("front-walk", "")


def test_questions_are_listed_by_plain_names(fallbook, job):
    fallbook("say", job, "Run one is laid. 40 feet.", "--at", "10:00")
    fallbook("say", job, "Run one is 43 feet long.", "--at", "10:05")
    assert "conflict" in fallbook("show", job)[1]
    assert "length_ft" not in fallbook("show", job)[1]


def test_a_negative_value_is_a_value_and_no_option(fallbook, job):
    fallbook("say", job, "Run one is laid. 40 feet.")
    line = "fallbook: R-1 drop cannot be -3; it can be 0 to 240 in\n"
    assert fallbook("amend", job, "R-1", "drop_in", "-3") == (2, "", line)


def test_find_prints_job_day_note_and_photo(fallbook, job, ear, make_photo):
    fallbook("say", job, "Roots in the trench on run five.", "--at", "10:21")
    fallbook("take", job, make_photo(taken="2026:05:14 10:21:30"))
    found = fallbook("find", "roots", "trench")[1]
    (row,) = [line.split() for line in found.splitlines() if " note " in line and not line.startswith("job")]
    assert " ".join(row) == (
        "front-walk 2026-05-14 note note:0 2026-05-14 10:21 photo:1 Roots in the trench on run five."
    )
    assert fallbook("find", "gazebo") == (0, "", "nothing found for: gazebo\n")


def test_a_take_with_a_bad_file_fails_and_says_so_on_standard_error(fallbook, job, ear, tmp_path, make_photo):
    (tmp_path / "empty.m4a").touch()
    code, out, err = fallbook("take", job, tmp_path / "empty.m4a", make_photo())
    assert code == 1
    assert out == f"{tmp_path}/a.jpg: photo taken\n"
    assert err == (
        f"{tmp_path}/empty.m4a: the file is empty; copy it from the phone or recorder again\n"
        "1 taken, 0 already there, 1 failed\n"
    )


# -- warranties and visits


def test_extract_prints_one_record(fallbook, tmp_path, typed):
    (tmp_path / "n.txt").write_text(LOG)
    code, out, err = fallbook("extract", tmp_path / "n.txt", "--json")
    assert (code, err) == (0, "")
    record = json.loads(out)
    assert Record.model_validate(record).subject("R-1").length_ft == 12
    assert set(record) == set(Record.model_fields)
    typed(LOG.encode())
    assert json.loads(fallbook("extract", "-", "--json")[1]) == record
    assert not (tmp_path / "library").exists()


def test_check_holds_a_record_against_a_storm(fallbook, tmp_path):
    (tmp_path / "n.txt").write_text("Roof to downspout one is 600 square feet.")
    (tmp_path / "r.json").write_text(fallbook("extract", tmp_path / "n.txt", "--json")[1])
    for options, outcome in (([], "unknown"), (["--storm", "3.2"], "ok")):
        found = json.loads(fallbook("check", tmp_path / "r.json", "--json", *options)[1])
        assert [f["outcome"] for f in found if f["check"] == "runoff"] == [outcome]
    code, out, err = fallbook("check", tmp_path / "r.json", "--storm", "0")
    assert (code, out) == (2, "")
    assert "--storm cannot be 0; it is the design rainfall in inches an hour, above 0 and up to 30" in err


def test_check_holds_a_record_against_a_firms_limits_and_storm(fallbook, tmp_path, company):
    company.write_text(
        company.read_text()
        + "\n[policy]\nmin_slope_3_to_6_in_pct = 1.5\n[storm]\nintensity_in_h = 3\nfound_in = 'a table'\n"
    )
    (tmp_path / "n.txt").write_text(
        "Run one, four-inch SDR 35, forty feet, slope 1.2 percent. Roof to downspout one is 600 square feet."
    )
    (tmp_path / "r.json").write_text(fallbook("extract", tmp_path / "n.txt", "--json")[1])
    for options, outcomes in (([], ["ok", "unknown"]), (["--company", company], ["attention", "ok"])):
        code, out, err = fallbook("check", tmp_path / "r.json", "--json", *options)
        assert (code, err) == (0, "")
        assert [f["outcome"] for f in json.loads(out) if f["check"] in ("min_slope", "runoff")] == outcomes
    company.write_text(company.read_text().replace("min_slope_3_to_6_in_pct", "shoe_size"))
    code, out, err = fallbook("check", tmp_path / "r.json", "--company", company)
    assert (code, out) == (2, "")
    assert "company.toml: policy: policy has no limit named 'shoe_size'" in err


def test_check_prints_the_findings_of_a_record(fallbook, tmp_path, typed):
    (tmp_path / "n.txt").write_text(LOG)
    record = fallbook("extract", tmp_path / "n.txt", "--json")[1]
    (tmp_path / "r.json").write_text(record)
    code, out, err = fallbook("check", tmp_path / "r.json", "--json")
    assert (code, err) == (0, "")
    assert {"check", "subject", "outcome", "message", "evidence"} <= set(json.loads(out)[0])
    typed(record.encode())
    assert fallbook("check", "-", "--json")[1] == out
    assert "Findings: " in fallbook("check", tmp_path / "r.json")[1]


def test_check_says_that_a_record_holds_nothing(fallbook, tmp_path, typed):
    (tmp_path / "r.json").write_text("{}")
    path = tmp_path / "r.json"
    assert fallbook("check", path) == (0, f"{path}: the record holds nothing to check\n", "")
    assert fallbook("check", path, "--json")[:2] == (0, "[]\n")
    typed(b"{}")
    assert fallbook("check", "-")[1] == "standard input: the record holds nothing to check\n"


def test_hear_prints_notes_or_the_record_they_make(fallbook, ear, typed, make_sound):
    sound = make_sound()
    note = Note(text="Run one is 12 feet long.", heard="Run one is 12 feet long.", confidence=0.8, start_s=1, end_s=3)
    ear.answers.extend([[note]] * 4)
    code, out, err = fallbook("hear", sound, "--json")
    assert (code, err) == (0, "hearing a.wav ...\n".replace("a.wav", str(sound)))
    (heard,) = json.loads(out)
    assert {key: heard[key] for key in ("start_s", "end_s", "heard", "text", "confidence")} == {
        "start_s": 1,
        "end_s": 3,
        "heard": "Run one is 12 feet long.",
        "text": "Run one is 12 feet long.",
        "confidence": 0.8,
    }
    assert json.loads(fallbook("hear", sound, "--extract", "--json")[1])["runs"][0]["length_ft"] == 12
    assert "0:01.0  0:03.0  0.80  Run one is 12 feet long." in fallbook("hear", sound)[1]
    typed(sound.read_bytes())
    assert len(json.loads(fallbook("hear", "-", "--json")[1])) == 1
    assert not ear.asked[-1].exists()


def test_spanish_can_be_asked_for_and_stands_beside_its_english(fallbook, job, ear, make_sound):
    spanish = "La corrida uno es de doce pies."
    note = Note(text="run 1 is 12 feet.", heard=spanish, language="es", start_s=1, end_s=3)
    ear.answers.extend([[note]] * 2)
    sound = make_sound()
    assert fallbook("take", "front-walk", sound, "--language", "es")[0] == 0
    assert ear.language == "es"
    assert spanish in fallbook("show", "front-walk", "note:0")[1]
    assert f"run 1 is 12 feet. ({spanish})" in fallbook("hear", sound)[1]
    assert ear.language is None
    assert fallbook("hear", sound, "--language", "fr")[0] == 2


def test_hear_goes_on_after_a_bad_sound_and_fails(fallbook, ear, make_sound):
    note = Note(text="Run one is 12 feet long.", start_s=1, end_s=3)
    ear.answers.extend([FallbookError("a.wav: no sound in it"), [], [note]])
    code, out, err = fallbook("hear", make_sound("a.wav"), make_sound("b.wav"), make_sound("c.wav"), "--json")
    assert code == 1
    assert len(json.loads(out)) == 1
    assert "fallbook: a.wav: no sound in it\n" in err
    assert "b.wav: no speech was heard in it\n" in err


# -- what goes wrong


@pytest.mark.parametrize(
    ("words", "code", "line"),
    [
        (
            ["extract", "gone.txt"],
            1,
            "fallbook: gone.txt: cannot be read (No such file or directory); check the name\n",
        ),
        (
            ["check", "gone.json"],
            1,
            "fallbook: gone.json: cannot be read (No such file or directory); check the name\n",
        ),
        (["find", "--"], 2, "fallbook: Missing argument 'WORDS...'. (see: fallbook find --help)\n"),
        (["dig"], 2, "fallbook: No such command 'dig'. (see: fallbook --help)\n"),
        (["show", "--loud"], 2, "fallbook: No such option '--loud'. (see: fallbook show --help)\n"),
        (
            ["new", "a", "--address", "b", "--company", "c"],
            2,
            "fallbook: Missing option '--client'. (see: fallbook new --help)\n",
        ),
        (["new", "a"], 2, "fallbook: Missing '--client', '--address' and '--company'. (see: fallbook new --help)\n"),
        (
            ["new", "--address", "b"],
            2,
            "fallbook: Missing 'JOB', '--client' and '--company'. (see: fallbook new --help)\n",
        ),
        (["accept", "a"], 2, "fallbook: Missing 'WHAT' and 'WORDS...'. (see: fallbook accept --help)\n"),
    ],
)
def test_what_goes_wrong_is_one_line_and_the_exit_code(fallbook, words, code, line):
    assert fallbook(*words) == (code, "", line)


@pytest.mark.parametrize(
    "words", [["show", "front-walk", "R-9"], ["show", "front-walk", "note:9"], ["show", "front-walk", "photo:1"]]
)
def test_what_is_not_in_the_job_is_named(fallbook, job, words):
    fallbook("say", job, "Run one is laid. 12 feet.")
    code, out, err = fallbook(*words)
    assert (code, out) == (2, "")
    assert err.startswith(f"fallbook: no {words[-1]} in front-walk")
    assert err.count("\n") == 1


@pytest.mark.parametrize("raw", ["", "{", "[]", '{"runs": [{"length_ft": 3}]}', '{"shoes": []}'])
def test_a_record_that_is_none_is_one_line(fallbook, tmp_path, raw):
    (tmp_path / "r.json").write_text(raw)
    code, out, err = fallbook("check", tmp_path / "r.json", "--json")
    assert (code, out, err.count("\n")) == (1, "", 1)
    assert err.startswith(f"fallbook: {tmp_path}/r.json is no record: ")


def test_a_record_whose_rod_is_missing_says_what_may_lack_it(fallbook, tmp_path):
    (tmp_path / "r.json").write_text('{"levels": [{"point": "CB-1 rim", "kind": "foresight", "elevation_ft": 99}]}')
    code, out, err = fallbook("check", tmp_path / "r.json", "--json")
    assert (code, out) == (1, "")
    assert "levels.0 needs rod_ft; only a backsight on the benchmark may have an elevation alone" in err


def test_a_library_that_cannot_be_written_is_one_line(fallbook, tmp_path):
    (tmp_path / "file").write_text("in the way")
    code, out, err = fallbook("--library", tmp_path / "file", "show")
    assert (code, out, err.count("\n")) == (1, "", 1)
    assert "no library here yet" in err


def test_anything_unforeseen_is_one_line_unless_asked(fallbook, monkeypatch, tmp_path):
    def burst(*_: object) -> None:
        raise RuntimeError("two\nlines")

    monkeypatch.setattr("extract.notes.parse_log", burst)
    (tmp_path / "n.txt").write_text(LOG)
    line = "fallbook: RuntimeError: two lines; run it again with --debug before the command\n"
    assert fallbook("extract", tmp_path / "n.txt") == (1, "", line)
    with pytest.raises(RuntimeError):
        fallbook("--debug", "extract", tmp_path / "n.txt")


def test_an_interrupt_is_130(fallbook, job, ear, make_sound):
    ear.answers.append(KeyboardInterrupt())
    code, _, err = fallbook("take", job, make_sound())
    assert code == 130
    assert err.endswith("fallbook: interrupted; what was done so far is kept, run it again to go on\n")


def test_a_question_that_nobody_answers_deletes_nothing(fallbook, job, ear, typed, tmp_path):
    (tmp_path / "n.txt").write_text(LOG)
    fallbook("take", job, tmp_path / "n.txt")
    fallbook("remove", job, "file:n.txt")
    typed(b"")
    code, out, err = fallbook("verify", "--prune")
    assert (code, out.split()) == (130, ["n.txt"])
    assert err.endswith(
        "nothing was deleted\nfallbook: interrupted; what was done so far is kept, run it again to go on\n"
    )


def test_an_interrupted_process_says_one_line():
    def as_at_a_terminal() -> None:  # a shell starts what it runs in the background deaf to interrupts
        signal.signal(signal.SIGINT, signal.SIG_DFL)

    running = process("extract", "-", stdin=subprocess.PIPE, preexec_fn=as_at_a_terminal)
    time.sleep(1.5)
    running.send_signal(signal.SIGINT)
    out, err = running.communicate()
    assert (running.returncode, out) == (130, "")
    assert err == "fallbook: interrupted; what was done so far is kept, run it again to go on\n"


def test_a_broken_pipe_is_quiet(tmp_path):
    (tmp_path / "n.txt").write_text("".join(f"Basin {n} is set.\n" for n in range(1, 60)))
    running = process("extract", tmp_path / "n.txt")
    running.stdout.close()
    assert running.stderr.read() == ""
    running.wait()


def test_a_terminal_that_lacks_signs_is_no_reason_to_stop(tmp_path):
    (tmp_path / "n.txt").write_text("Outlet one is in. It is at the café.\n", encoding="utf-8")
    running = process("extract", tmp_path / "n.txt", env=os.environ | {"PYTHONIOENCODING": "ascii"})
    out, err = running.communicate()
    assert (running.returncode, err) == (0, "")
    assert "OUT-1" in out


# -- the door itself


def test_with_nothing_said_the_commands_are_listed(fallbook):
    code, out, _ = fallbook()
    assert code == 0
    assert "take" in out
    assert "report" in out


def test_the_version_is_printed(fallbook):
    project = tomllib.loads((ROOT / "pyproject.toml").read_text())["project"]
    assert fallbook("--version") == (0, f"fallbook {project['version']}\n", "")


def test_the_library_is_where_it_is_said_to_be(fallbook, company, tmp_path, monkeypatch):
    monkeypatch.setenv("FALLBOOK_LIBRARY", str(tmp_path / "by-name"))
    new(fallbook, company)
    assert (tmp_path / "by-name" / "library.db").exists()
    code, out, err = fallbook("--library", tmp_path / "other", "show")
    assert (code, out) == (1, "")
    assert "no library here yet; start a job with: fallbook new" in err
    monkeypatch.delenv("FALLBOOK_LIBRARY")
    assert "no library here yet" in fallbook("show")[2]
    new(fallbook, company)
    assert (tmp_path / "home" / "data" / "fallbook" / "library.db").exists()


def test_words_that_would_steer_a_terminal_are_harmless(fallbook, job):
    fallbook("say", job, "Basin one\x1b[2J is set.\x07", "--at", "10:00")
    shown = fallbook("show", job)[1]
    assert "\x1b" not in shown
    assert "\x07" not in shown
    assert "[bold]" in (fallbook("say", job, "[bold]Basin[/bold]"), fallbook("show", job))[1][1]


READER = {"numpy", "onnxruntime", "tokenizers"}
HEAVY = {"faster_whisper", "ctranslate2", "av", "PIL", "pillow_heif", "docx", "matplotlib", "sqlite_utils", "networkx"}
MODELS = {"pydantic", "spacy", "numpy", "rich"} | READER


def loaded_by(*words: object) -> set[str]:
    """The packages that a command has loaded when it is done."""
    program = (
        "import sys; from logger import cli; code = cli.run(sys.argv[1:])\n"
        "print(*{name.split('.')[0] for name in sys.modules}, file=sys.stderr); sys.exit(code)"
    )
    command = [sys.executable, "-c", program, *map(str, words)]
    return set(subprocess.run(command, capture_output=True, text=True, check=True).stderr.split())


@pytest.mark.parametrize(
    "words",
    [
        ["--version"],
        ["--help"],
        ["show"],
        ["ready", "front-walk"],
        ["ready", "front-walk", "R-1"],
        ["find", "basin"],
        ["say", "front-walk", "Lunch now."],
        ["say", "front-walk", "Basin two is set.", "--quiet"],
        ["say", "front-walk", "Basin two is set.", "--quiet", "--at", "10:21"],
    ],
    ids=" ".join,
)
def test_what_is_asked_at_the_trench_starts_without_models_and_heavy_libraries(
    fallbook, job, ear, tmp_path, make_sound, make_photo, words
):
    (tmp_path / "n.txt").write_text(LOG)
    ear.answers.append([Note(text="Cover on run one is 12 inches.", start_s=64.5, end_s=67)])
    assert fallbook("take", job, tmp_path / "n.txt", make_sound(), make_photo())[0] == 0  # which reads the job
    assert not (HEAVY | MODELS) & loaded_by(*words)


def test_reading_back_what_was_said_loads_the_reader_alone(fallbook, job):
    loaded = loaded_by("say", job, "Run two drops four inches.")
    assert not (HEAVY | MODELS - READER - {"pydantic"}) & loaded
    assert loaded >= READER


@pytest.mark.parametrize("words", [["ready", "front-walk"], ["show", "front-walk"], ["find", "basin"]], ids=" ".join)
def test_what_was_read_before_is_worked_out_again_without_the_reader(fallbook, job, tmp_path, words):
    fallbook("say", job, "Basin one is set.", "--at", "10:00")
    fallbook("say", job, "Run one is laid. 40 feet.", "--at", "10:05")
    with sqlite3.connect(tmp_path / "library" / "library.db") as conn:
        conn.execute("DELETE FROM cached WHERE what <> 'readings'")  # the record, and all that was made of it
    assert not (HEAVY | READER) & loaded_by(*words)


def test_extract_needs_no_sound_or_picture_library(tmp_path):
    (tmp_path / "n.txt").write_text(LOG)
    loaded = loaded_by("extract", tmp_path / "n.txt", "--json")
    assert not HEAVY & loaded
    assert "pydantic" in loaded


# -- what is typed wrongly, or lies where it should not


@pytest.mark.parametrize(
    ("words", "code", "part"),
    [
        (["hear", "folder"], 1, "folder: a folder; give the recordings in it"),
        (["hear", "-"], 1, "standard input is empty"),
        (["extract", "-"], 1, "standard input: no note in it"),
        (["extract", "empty.txt"], 1, "empty.txt: no note in it"),
        (["report", "front-walk", "-o", "gone/a.docx"], 1, "gone: no such folder; make the folder first"),
        (["report", "front-walk", "-o", "a.pdf"], 2, "a.pdf: the report is a Word document"),
        (["say", "front-walk", "x", "--at", "0001-01-01T00:00:00+10:00"], 2, "is no time"),
        (["say", "front-walk", "Basin \udcff."], 2, "the note holds bytes that are no UTF-8 text"),
        (["find", "\udcff basin"], 2, "the search holds bytes that are no UTF-8 text"),
    ],
)
def test_what_cannot_be_done_is_one_line_with_what_to_do(
    fallbook, job, ear, typed, tmp_path, monkeypatch, words, code, part
):
    monkeypatch.chdir(tmp_path)
    Path("folder").mkdir()
    Path("empty.txt").touch()
    typed(b"")
    got, out, err = fallbook(*words)
    said = [line for line in err.splitlines() if not line.startswith("hearing ")]
    assert (got, out, len(said)) == (code, "", 1)
    assert part in said[0]


def test_a_day_that_is_none_says_how_to_write_it(fallbook, company):
    code, _, err = new(fallbook, company, day="14 May")
    assert (code, err) == (2, "fallbook: '14 May' is no day of this work; write the day as 2026-05-14\n")


def test_files_of_another_day_are_pointed_out_once(fallbook, job, ear, make_photo):
    first = make_photo("a.jpg", taken="2026:09:15 09:00:00")
    second = make_photo("b.jpg", taken="2026:09:15 09:01:00")
    code, _, err = fallbook("take", job, first, second)
    line = "these files are of 15 September 2026, the job is of 14 May 2026; "
    assert (code, err) == (
        0,
        f"{line}if the job's day is wrong, start another job with --day, take the files into it and remove this one\n",
    )
    assert fallbook("take", job, make_photo("c.jpg"))[2] == ""


@pytest.mark.parametrize(("zone", "told"), [("-05:00", False), ("+00:00", True)])
def test_a_job_in_another_zone_than_its_cameras_is_pointed_out(fallbook, company, ear, make_photo, zone, told):
    assert new(fallbook, company, zone=zone)[0] == 0
    photo = make_photo("a.jpg", taken="2026:05:14 09:00:00", offset="-05:00")
    code, _, err = fallbook("take", "front-walk", photo)
    assert code == 0
    assert ("1 photo says that the clock stood at UTC-05:00, the job at UTC+00:00" in err) is told
    assert ("start another job with --zone=-05:00" in err) is told


def test_a_ctrl_c_while_the_program_is_read_in_leaves_no_traceback():
    interrupting = """
import os, signal, sys

class Finder:
    def find_spec(self, name, path=None, target=None):
        if name == "click":
            os.kill(os.getpid(), signal.SIGINT)

sys.meta_path.insert(0, Finder())
from logger.start import main
main()
"""
    done = subprocess.run([sys.executable, "-c", interrupting], capture_output=True, text=True)
    assert (done.returncode, done.stdout, done.stderr) == (-signal.SIGINT, "", "")


def test_a_language_that_is_not_known_is_named_with_those_that_are(fallbook):
    code, _, err = fallbook("hear", "a.wav", "--language", "fr")
    assert code == 2
    assert "'fr' is not one of 'en', 'es'" in err


def test_the_overview_is_in_plain_words_and_says_what_does_not_stand(fallbook, job, ear, make_sound):
    fallbook("say", job, "Run one is laid. Four-inch SDR 35, 12 feet long.", "--at", "10:00")
    fallbook("say", job, "Run one drops 9 inches.", "--at", "10:01")
    fallbook("say", job, "Scratch that. Buy two bags of concrete.", "--at", "10:02")
    ear.answers.append(FallbookError("a.wav: no sound in it"))
    fallbook("take", job, make_sound())
    shown = fallbook("show", job)[1]
    for part in (
        "length 12 ft",
        "Run one drops 9 inches. (withdrawn)",
        "a.wav: not heard yet; run take again",
        "buy: ",
    ):
        assert part in shown
    assert "length_ft" not in shown
    assert "one of" not in shown
    assert "length_ft" not in fallbook("show", job, "R-1")[1]
    assert "(withdrawn)" in fallbook("show", job, "note:1")[1]


def test_amended_words_are_printed_as_they_were(fallbook, job):
    fallbook("say", job, "Run one is 40 feet.", "--at", "10:00")
    assert "was: Run one is 40 feet.\n" in fallbook("amend", job, "note:0", "text", "Run one is 14 feet.")[1]


class Screen(io.StringIO):
    def isatty(self) -> bool:
        return True


def test_a_terminal_shows_in_words_how_far_hearing_is_and_how_long_it_takes(monkeypatch):
    monkeypatch.setattr("logger.pace.SOON_S", 0)
    monkeypatch.setattr(sys, "stderr", Screen())
    monkeypatch.setenv("TERM", "xterm")
    monkeypatch.setenv("COLUMNS", "160")
    with printing.listening() as begin:
        progress = begin("a [red].m4a")
        progress(0, 7200)
        progress(3600, 7200)
    shown = sys.stderr.getvalue()
    assert "hearing a [red].m4a" in shown
    assert "1 hour of 2 hours heard, less than a minute left" in shown
