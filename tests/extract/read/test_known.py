"""What a visit knows of the job before it: what comes over, and that "run two" said there is the old R-2."""

import pytest
from extract_readings import say

from extract.assemble import assemble, withdrawn
from extract.read.assembly import Assembly
from extract.read.known import lying_there
from extract.record import (
    Acceptance,
    Evidence,
    Fitting,
    Issue,
    Level,
    Note,
    Question,
    Record,
    Run,
    Structure,
    Task,
    Test,
    Tie,
)

OLD = Record(
    structures=[
        Structure(label="CD-1", kind="channel_drain", state="installed", size_in=[5], length_ft=10),
        Structure(label="CB-1", kind="catch_basin", state="installed", size_in=[12, 12], invert_out_ft=98.5),
        Structure(
            label="CB-2", kind="catch_basin", state="existing", rim_ft=99.4,
            ties=[Tie(from_="garage corner", distance_ft=18.5)],
        ),
        Structure(label="OUT-1", kind="popup_outlet", state="installed", size_in=[4]),
        Structure(label="CB-4", kind="catch_basin", state="planned"),
    ],
    runs=[
        Run(label="R-1", from_="CB-1", to="CB-2", state="installed", nominal_in=4, pipe="SDR 35", length_ft=22),
        Run(
            label="R-2", from_="CB-2", to="OUT-1", state="installed", nominal_in=4, pipe="SDR 35", length_ft=34,
            fittings=[Fitting(kind="elbow", angle_deg=45)],
        ),
        Run(label="R-3", from_="CB-4", to="CB-2", state="abandoned"),
        Run(label="R-4", state="removed"),
        Run(label="R-5"),
    ],
    levels=[Level(point="benchmark", kind="backsight", rod_ft=4.2, elevation_ft=100)],
    issues=[Issue(kind="roots", at="R-1", action="left", text="roots")],
    tests=[Test(kind="hose", at="R-2", result="pass")],
    tasks=[Task(kind="do", text="seed it")],
)  # fmt: skip
WORDS = "from front-walk"


def visit(*texts, old=OLD):
    """The record of a visit after the old job; note 0 stands for that."""
    return assemble([Note(text=""), *(Note(text=text) for text in texts)], known=lying_there(old, WORDS))


def asked(record):
    return {(each.about, each.field, each.why) for each in record.questions}


def test_what_is_in_the_ground_comes_over_as_existing_and_nothing_else_does():
    known = lying_there(OLD, WORDS)
    states = {each.label: each.state for each in [*known.structures, *known.runs]}
    assert states == {
        "CD-1": "existing", "CB-1": "existing", "CB-2": "existing", "OUT-1": "existing",
        "R-1": "existing", "R-2": "existing", "R-3": "abandoned",
    }  # fmt: skip
    assert known.runs[2].from_ is None  # its basin was only planned
    assert not [*known.levels, *known.issues, *known.tests, *known.tasks, *known.questions, *known.numbers]


def test_its_figures_come_over_each_with_where_it_comes_from():
    run = lying_there(OLD, WORDS).subject("R-2")
    assert (run.from_, run.to, run.nominal_in, run.length_ft) == ("CB-2", "OUT-1", 4, 34)
    assert run.fittings == [Fitting(kind="elbow", angle_deg=45)]
    fields = {None, "state", "from", "to", "nominal_in", "pipe", "length_ft", "fittings"}
    assert {(each.note, each.quote, each.field) for each in run.evidence} == {(0, WORDS, each) for each in fields}


@pytest.mark.parametrize(
    ("about", "field", "label", "left"),
    [
        ("R-2", "length_ft", "R-2", "length_ft"),
        ("CB-2 rim", "rod_ft", "CB-2", "rim_ft"),
        ("R-1", "from", "R-1", "from_"),
    ],
)
def test_a_figure_that_is_asked_about_stays_behind(about, field, label, left):
    old = OLD.model_copy(update={"questions": [Question(about=about, field=field, why="conflict")]})
    assert getattr(OLD.subject(label), left) is not None
    assert getattr(lying_there(old).subject(label), left) is None


def test_the_old_record_is_only_read():
    before = OLD.model_dump_json()
    visit("Run two is 36 feet.", "Scratch that.")
    assert OLD.model_dump_json() == before


def test_with_nothing_said_the_record_is_what_lies_there():
    got, known = visit(), lying_there(OLD, WORDS)
    assert got.model_dump(exclude={"questions"}) == known.model_dump(exclude={"questions"})
    assert got.questions == []


def test_run_two_said_on_the_visit_is_the_old_run_two():
    got = visit("Run two was blocked with roots, we cleared it.")
    assert [(each.at, each.action) for each in got.issues] == [("R-2", "cleared")]
    assert len(got.runs) == 3
    assert got.subject("R-2").length_ft == 34


def test_a_new_run_takes_the_next_number_and_joins_the_old_basin():
    got = visit(
        "Basin three is set, nine inch, by the drive.", "Run four is in, from basin three to basin two, 18 feet."
    )
    new = got.subject("R-4")
    assert (new.state, new.from_, new.to, new.length_ft) == ("installed", "CB-3", "CB-2", 18)
    assert got.subject("CB-3").state == "installed"
    assert got.subject("CB-2").state == "existing"


def test_another_length_of_the_old_run_is_asked_about_beside_the_old_one():
    got = visit("Run two is 36 feet.")
    ((question),) = got.questions
    assert (question.about, question.field, question.why, question.choices) == (
        "R-2",
        "length_ft",
        "conflict",
        [34, 36],
    )
    assert [each.note for each in question.evidence] == [0, 1]
    assert got.subject("R-2").state == "existing"


def test_the_same_length_again_asks_nothing():
    assert visit("Run two is 34 feet.").questions == []


def test_an_old_run_that_is_said_to_be_in_is_asked_about():
    got = visit("Run two is in.")
    assert asked(got) == {("R-2", "state", "conflict")}
    assert got.questions[0].choices == ["existing", "installed"]


def test_a_note_that_is_taken_back_leaves_what_lay_there():
    got = visit("Run two is 36 feet.", "Scratch that.")
    assert (got.subject("R-2").length_ft, got.questions) == (34, [])
    assert visit("Scratch that.").subject("R-2").length_ft == 34


def test_scratch_that_at_the_start_takes_nothing_back():
    notes = [Note(text=""), Note(text="Scratch that."), Note(text="Run two is 36 feet.")]
    assert 0 not in withdrawn(notes, known=lying_there(OLD, WORDS))


def test_an_old_basin_keeps_its_kind_and_label_by_whatever_name_it_is_called():
    assembly = Assembly(known=lying_there(OLD, WORDS))
    assembly.take(Note(text=""), [])
    text, readings = say("the area drain is full", ("the area drain", "mention", {"name": "AD", "thing": "CB.2"}))
    readings[0].note = 1
    assembly.take(Note(text=text), readings)
    entry = assembly.record().subject("CB-2")
    assert (entry.kind, {each.note for each in entry.evidence}) == ("catch_basin", {0, 1})


def test_what_the_firm_accepted_of_an_old_thing_comes_over_with_its_finding():
    given = [
        Acceptance(
            finding="min_slope", about=label, text="agreed", evidence=[Evidence(note=9, quote="flat", confidence=1)]
        )
        for label in ("R-2", "R-4")
    ]
    (moved,) = visit(old=OLD.model_copy(update={"acceptances": given})).acceptances
    assert (moved.about, moved.text) == ("R-2", "agreed")
    assert [(each.note, each.quote) for each in moved.evidence] == [(0, "flat")]
