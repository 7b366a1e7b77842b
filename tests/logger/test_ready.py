"""May I backfill? What the book still lacks, and how it is kept at hand."""

import json
import subprocess
import sys
from datetime import date

import pytest

from extract.errors import FallbookError, UsageError
from extract.record import Question, Run
from logger import changes, cli, jobs
from logger.accept import accept
from logger.answering import answer, put
from logger.book import Book
from logger.in_english import asked
from logger.jobs import settle
from logger.ready import Answer, ready
from logger.store import open_store

LOG = (
    ("09:00", "Basin one is set. Basin two is set."),
    ("09:05", "Run one is laid, from basin one to basin two. Four-inch SDR 35, 12 feet long."),
)


@pytest.fixture
def store(tmp_path, company):
    with open_store(tmp_path / "library", create=True) as opened:
        jobs.new(
            opened,
            "j",
            client="A. Client",
            address="1 Larch Walk",
            company=str(company),
            day=date(2026, 5, 14),
            zone="-05:00",
        )
        say(opened, *LOG)
        yield opened


def say(store, *notes: tuple[str, str]) -> None:
    for at, text in notes:
        jobs.say(store, "j", text, at)


def take(store, *paths) -> None:
    list(jobs.take(store, "j", paths, listening=lambda name: lambda done, total: None))


def words(store, run: str = "R-1") -> str:
    return ready(store, "j").of(run).words


def test_what_is_missing_is_said_in_one_breath(store):
    assert words(store) == (
        "Run 1: not yet. Missing: a photo of it open, the inverts at catch basin 1 and catch basin 2, "
        "a photo of catch basin 1 open, a photo of catch basin 2 open."
    )


def test_a_complete_run_is_not_called_right_or_safe(store, make_photo):
    say(store, ("09:10", "Drop on run one is 3 inches."))
    shots = (("09:00:10", "Photo of basin one.", "a"), ("09:01:10", "Photo of basin two.", "b"))
    for at, text, name in shots:
        say(store, (at, text))
        take(store, make_photo(f"{name}.jpg", taken=f"2026:05:14 {at}"))
    take(store, make_photo("c.jpg", taken="2026:05:14 09:10:20"))
    assert words(store) == "Run 1: nothing is missing in the book. Look at the pipe itself before you cover it."


def test_a_run_that_was_covered_without_a_photo_says_so(store, make_photo):
    say(store, ("10:00", "Run one is backfilled."))
    take(store, make_photo("a.jpg", taken="2026:05:14 10:01:00"))
    said = words(store)
    assert said.startswith("Run 1: covered, by the notes. Missing: a photo of it from before it was covered,")
    assert "a photo of catch basin 1 open" in said


def test_open_questions_and_failing_checks_are_named(store):
    say(store, ("09:10", "Run one is 15 feet long. Drop on run one is 3 inches, slope is 5 percent."))
    said = words(store)
    assert "Asked and not answered: its length (12 ft or 15 ft)." in said
    assert "Checks that fail: slope agrees with fall and length." in said


ASKED = {
    None: "what was said of it",
    "from": "where it starts",
    "to": "where it ends",
    "state": "its state",
    "nominal_in": "its pipe size",
    "pipe": "its pipe",
    "length_ft": "its length",
    "drop_in": "its drop",
    "slope_pct": "its slope",
    "cover_in": "its cover",
    "traffic": "the heaviest traffic over it",
    "fittings": "its fittings",
    "bedding": "its bedding",
    "backfill": "its backfill",
    "pieces_ft": "its pieces",
    "stations_ft": "its stations",
    "crossings": "its crossings",
}


@pytest.mark.parametrize("field", [None, *(name.rstrip("_") for name in Run.model_fields)])
def test_every_field_that_can_be_asked_about_is_named_in_plain_words(field):
    if field in ("label", "evidence"):
        return
    assert asked(Question(about="R-1", field=field, why="missing"), "R-1") == ASKED[field]


@pytest.mark.parametrize(
    ("about", "field", "words"),
    [
        ("CB-1", "invert_out_ft", "the outgoing invert of catch basin 1"),
        ("CB-1 invert_out", "rod_ft", "the rod reading of catch basin 1"),
        ("CB-1 invert_out", None, "what was said of catch basin 1"),
        ("R-1", "action", "what was done"),
        ("R-1", "about", "what it is about"),
        ("R-1", "text", "what was said of it"),
    ],
)
def test_what_is_asked_of_an_end_or_of_a_happening_is_named_in_plain_words(about, field, words):
    assert asked(Question(about=about, field=field, why="missing"), "R-1") == words


def test_an_end_that_is_missing_is_told_once(store):
    say(store, ("09:30", "Run two is laid, 10 feet long, from basin two."))
    assert words(store, "2").count("where it ends") == 1


def test_what_is_only_planned_has_nothing_to_cover(store):
    say(store, ("09:20", "Run two will go from basin two to daylight."))
    assert words(store, "2") == "Run 2: nothing to cover, for it is planned, not built."


@pytest.mark.parametrize("run", ["R-1", "r-1", "r1", "1", "run 1", "Run-1", "run one", "the first run"])
def test_a_run_may_be_named_as_one_would(store, run):
    assert ready(store, "j").of(run).run == "R-1"


@pytest.mark.parametrize("run", ["R-9", "CB-1", "", "run nine", "basin one"])
def test_a_run_that_is_not_there_is_told_with_those_that_are(store, run):
    with pytest.raises(UsageError, match="there are: R-1"):
        ready(store, "j").of(run)


def test_no_such_job_is_told_with_those_there_are(store):
    with pytest.raises(FallbookError, match="no job 'k'; those there are: j"):
        ready(store, "k")


# -- in Spanish


def spanish(store, run: str = "R-1") -> str:
    return ready(store, "j", "es").of(run).words


def test_the_same_is_said_in_spanish(store):
    assert spanish(store) == (
        "Tramo 1: todavía no. Falta: una foto con la zanja abierta, el fondo del tubo en el registro 1 y en el "
        "registro 2, una foto del registro 1 con la zanja abierta, una foto del registro 2 con la zanja abierta."
    )


def test_open_questions_and_failing_checks_are_named_in_spanish(store):
    say(store, ("09:10", "Run one is 15 feet long. Drop on run one is 3 inches, slope is 5 percent."))
    said = spanish(store)
    assert "Preguntado y sin respuesta: su largo (12 pies o 15 pies)." in said
    assert said.endswith("Revisiones que fallan: la pendiente va con caída y largo.")


def test_what_is_planned_or_covered_is_said_in_spanish(store, make_photo):
    say(store, ("09:20", "Run two will go from basin two to daylight."), ("10:00", "Run one is backfilled."))
    take(store, make_photo("a.jpg", taken="2026:05:14 10:01:00"))
    assert spanish(store, "2") == "Tramo 2: no hay nada que tapar; el libro lo tiene como planeado, sin hacer."
    assert spanish(store).startswith("Tramo 1: tapado, según las notas. Falta: una foto de antes de tapar,")


def test_a_complete_run_is_not_called_right_or_safe_in_spanish(store, make_photo):
    say(store, ("09:10", "Drop on run one is 3 inches."))
    for at, text, name in (("09:00:10", "Photo of basin one.", "a"), ("09:01:10", "Photo of basin two.", "b")):
        say(store, (at, text))
        take(store, make_photo(f"{name}.jpg", taken=f"2026:05:14 {at}"))
    take(store, make_photo("c.jpg", taken="2026:05:14 09:10:20"))
    assert spanish(store) == "Tramo 1: en el libro no falta nada. Mire el tubo mismo antes de tapar."


def test_both_languages_tell_the_same_and_lead_to_the_same_questions(store):
    say(store, ("09:10", "Run one is 15 feet long. Run two is in, from basin two to the pop-up."))
    for english, spanish in zip(ready(store, "j").runs, ready(store, "j", "es").runs, strict=True):
        assert [*english.asked.values()] == [*spanish.asked.values()]
        assert (english.run, english.built, english.covered) == (spanish.run, spanish.built, spanish.covered)
        for part in ("missing", "questions", "fails", "accepted"):
            assert len(getattr(english, part)) == len(getattr(spanish, part))
        assert set(spanish.asked) <= {*spanish.missing, *spanish.questions}


# -- a failed check that the firm accepted


@pytest.fixture
def flat(store, make_photo):
    """Complete, but that run 1 falls less than its limit."""
    say(store, ("09:10", "Slope on run one is 0.3 percent."))
    for at, text, name in (("09:00:10", "Photo of basin one.", "a"), ("09:01:10", "Photo of basin two.", "b")):
        say(store, (at, text))
        take(store, make_photo(f"{name}.jpg", taken=f"2026:05:14 {at}"))
    take(store, make_photo("c.jpg", taken="2026:05:14 09:10:20"))
    return store


def test_an_accepted_check_is_told_with_its_sentence_and_holds_nothing_up(flat):
    assert words(flat) == "Run 1: not yet. Checks that fail: steep enough for its pipe."
    accept(flat, "j", "R-1", "the yard has no more fall, agreed with the owner")
    assert words(flat) == (
        "Run 1: nothing is missing in the book. Look at the pipe itself before you cover it. Checks that fail and were "
        "accepted: steep enough for its pipe (“the yard has no more fall, agreed with the owner”)."
    )
    assert spanish(flat) == (
        "Tramo 1: en el libro no falta nada. Mire el tubo mismo antes de tapar. Revisiones que fallan y se aceptaron: "
        "pendiente que alcanza para su tubo (“the yard has no more fall, agreed with the owner”)."
    )
    assert answer(Book(flat, "j"), put("what's missing?")) == words(flat)


def test_a_check_that_reads_otherwise_since_it_was_accepted_holds_up_again(flat):
    accept(flat, "j", "R-1", "agreed with the owner")
    changes.amend(flat, "j", "R-1", "slope", "0.2")
    assert words(flat) == "Run 1: not yet. Checks that fail: steep enough for its pipe."


# -- kept at hand


def test_the_answer_is_kept_until_something_comes_in(store, monkeypatch):
    before, spanish = ready(store, "j"), ready(store, "j", "es")
    with monkeypatch.context() as without:
        without.setattr("logger.book.Book.__init__", lambda *_: pytest.fail("it was worked out again"))
        assert ready(store, "j") == before
        assert ready(store, "j", "es") == spanish != before
    say(store, ("09:10", "Drop on run one is 3 inches."))
    assert "the invert" not in words(store)
    assert store.db.execute("SELECT count(*) FROM cached WHERE what = 'ready'").fetchone()[0] == 1


def test_another_version_of_the_program_works_it_out_anew(store, monkeypatch):
    settle(store, "j")
    monkeypatch.setattr("logger.ready.program", lambda: "another")
    monkeypatch.setattr("logger.ready.work_out", lambda *_: pytest.fail("so it should"))
    with pytest.raises(pytest.fail.Exception, match="so it should"):
        ready(store, "j")


def test_a_file_that_is_lost_costs_itself_and_is_no_answer_to_keep(store, tmp_path):
    note = tmp_path / "n.txt"
    note.write_text("Basin three is set.")
    take(store, note)
    for table in ("derived", "cached"):
        store.connection.execute(f"DELETE FROM {table}")
    for original in store.originals.folder.iterdir():
        original.unlink()
    settle(store, "j")
    assert ready(store, "j").runs
    assert not list(store.rows("SELECT 1 FROM cached WHERE what = 'ready'"))


# -- the command


def test_the_command_prints_every_run_that_was_put_in(store, capsys):
    say(store, ("09:20", "Run two will go from basin two to daylight."))
    assert cli.run(["ready", "j"]) == 0
    out = capsys.readouterr().out
    assert out.startswith("Run 1: not yet.")
    assert "Run 2" not in out


def test_the_command_prints_json(store, capsys):
    assert cli.run(["ready", "j", "1", "--json"]) == 0
    (answer,) = json.loads(capsys.readouterr().out)
    assert answer["words"] == words(store)
    assert Answer(**answer) == ready(store, "j").of("R-1")


def test_each_thing_asked_leads_to_its_question(store):
    say(store, ("09:10", "Run one is 15 feet long. Run two is in, from basin two to the pop-up."))
    ids = {(each.about, each.field): each.id for each in Book(store, "j").record.questions}
    assert ready(store, "j").of("R-1").asked == {"its length (12 ft or 15 ft)": ids["R-1", "length_ft"]}
    second = ready(store, "j").of("R-2")
    assert "its length" in second.missing
    assert second.asked["its length"] == ids["R-2", "length_ft"]
    assert set(second.asked) <= {*second.missing, *second.questions}


def test_a_wrong_run_is_wrong_usage(store, capsys):
    assert cli.run(["ready", "j", "R-9"]) == 2
    assert "no run R-9; there are: R-1" in capsys.readouterr().err


def test_a_job_with_no_run_says_so(store, company, capsys):
    new = ["new", "k", "--client", "A. Client", "--address", "1 Larch Walk", "--company", str(company)]
    assert cli.run(new) == 0
    capsys.readouterr()
    assert cli.run(["ready", "k"]) == 0
    assert capsys.readouterr().out == "No run has been put in yet.\n"


def test_a_prepared_answer_loads_nothing_slow(store):
    settle(store, "j")
    program = "import sys; from logger import cli; cli.run(['ready', 'j'])\nprint(*sys.modules, file=sys.stderr)"
    loaded = subprocess.run([sys.executable, "-c", program], capture_output=True, text=True, check=True).stderr.split()
    slow = {"spacy", "sqlite_utils", "numpy", "networkx", "PIL", "av", "rich.console", "extract.record", "logger.book"}
    assert not slow & set(loaded)
