from __future__ import annotations

import pytest

from extract.check import check
from extract.record import Crossing, Evidence, Finding, Language, Level, Note, Question, Record, Run, Structure, Test
from reports.doubts import Doubts
from reports.facts import gather
from reports.job import Closeout


def said(**notes: int) -> list[Evidence]:
    return [Evidence(note=note, quote="so it was said", confidence=0.9, field=field) for field, note in notes.items()]


def marks(doubts: Doubts, label: str, *fields: str) -> list[str]:
    return [str(doubts.mark(doubt)) for doubt in doubts.on(label, *fields)]


def asked(*questions: Question, **parts: list[object]) -> Doubts:
    record = Record(
        structures=[
            Structure(label="CB-1", kind="catch_basin", evidence=said(size_in=3)),
            Structure(label="CB-2", kind="catch_basin", evidence=said(size_in=4)),
        ],
        runs=[Run(label="R-1", from_="CB-1", to="CB-2", evidence=said(length_ft=5))],
        questions=list(questions),
        **parts,
    )
    return Doubts(record)


def test_a_question_marks_its_field_and_no_other() -> None:
    doubts = asked(Question(about="R-1", field="length_ft", why="missing"))
    assert marks(doubts, "R-1", "length_ft") == ["†1"]
    assert marks(doubts, "R-1", "drop_in") == []
    assert marks(doubts, "CB-1", "length_ft") == []


def test_a_question_with_no_field_marks_every_number_of_its_subject() -> None:
    doubts = asked(Question(about="R-1", why="low_confidence"))
    assert marks(doubts, "R-1", "length_ft") == marks(doubts, "R-1", "cover_in") == ["†1"]


def test_a_field_that_no_entry_has_marks_every_number_of_its_subject() -> None:
    doubts = asked(Question(about="R-1", field="sticks", why="low_confidence"))
    assert marks(doubts, "R-1", "drop_in") == ["†1"]


def test_a_label_inside_other_words_is_found() -> None:
    doubts = asked(Question(about="CB-1 invert_out", field="rod_ft", why="low_confidence"))
    assert marks(doubts, "CB-1", "invert_out_ft") == ["†1"]
    assert marks(doubts, "CB-1", "rim_ft") == []


def test_a_question_about_nothing_known_marks_what_was_said_in_its_notes() -> None:
    doubts = asked(Question(about="something by the fence", why="low_confidence", evidence=said(length_ft=5)))
    assert marks(doubts, "R-1", "length_ft") == ["†1"]
    assert marks(doubts, "CB-1", "size_in") == []


@pytest.mark.parametrize("about", ["benchmark", "CB-1 rim"])
def test_a_doubt_about_a_backsight_is_a_doubt_about_every_elevation(about: str) -> None:
    levels: list[object] = [Level(point="CB-1 rim", kind="backsight", rod_ft=4.0)]
    doubts = asked(Question(about=about, field="rod_ft", why="low_confidence"), levels=levels)
    assert marks(doubts, "CB-2", "invert_out_ft") == ["†1"]
    assert marks(doubts, "R-1", "length_ft") == []


def test_a_slope_worked_out_bears_the_doubts_of_what_it_hangs_on() -> None:
    doubts = asked(
        Question(about="CB-2", field="invert_in_ft", why="low_confidence"),
        Question(about="R-1", field="cover_in", why="low_confidence"),
    )
    assert [doubt.number for doubt in doubts.on_run_slope(doubts.record.runs[0])] == [1]


@pytest.mark.parametrize(
    ("question", "text"),
    [
        (
            Question(about="R-1", field="length_ft", choices=[43, 45], why="conflict"),
            "Run R-1, length: being confirmed: heard 43 ft and later 45 ft.",
        ),
        (Question(about="R-1", field="length_ft", why="missing"), "Run R-1, length: not said; being asked for."),
        (
            Question(about="R-1", field="slope_pct", heard="twelve percent", why="implausible"),
            "Run R-1, slope: being confirmed: what was heard cannot be right (heard as “twelve percent”).",
        ),
        (
            Question(about="CB-1", field="invert_out_ft", choices=[97.3, 97.13], why="low_confidence"),
            "Catch basin CB-1, outgoing invert: being confirmed: the recording is not clear; "
            "it may be 97.30 ft or 97.13 ft.",
        ),
    ],
)
def test_a_doubt_says_what_was_heard(question: Question, text: str) -> None:
    doubts = asked(question)
    assert doubts.mark(doubts.all[0]).words == text


@pytest.mark.parametrize(
    ("language", "heard", "text"),
    [
        ("en", None, "being confirmed: what was written can be read in more than one way (written as “about 9”)"),
        (
            "es",
            None,
            "se está confirmando: lo que se escribió se puede leer de más de una manera (se escribió “about 9”)",
        ),
        ("en", "about nine", "being confirmed: the recording is not clear (heard as “about 9”)"),
        ("es", "about nine", "se está confirmando: no se oye claro (se oyó “about 9”)"),
    ],
)
def test_what_was_typed_is_no_recording(language: Language, heard: str | None, text: str) -> None:
    ask = Question(about="R-1", field="length_ft", heard="about 9", why="hedged", evidence=said(length_ft=0))
    (doubt,) = Doubts(Record(questions=[ask]), language, [Note(text="about 9", heard=heard)]).all
    assert doubt.why == text


def test_what_was_typed_and_may_be_two_figures_names_both() -> None:
    ask = Question(about="R-1", field="length_ft", choices=[9, 19], why="hedged", evidence=said(length_ft=0))
    (doubt,) = Doubts(Record(questions=[ask]), "en", [Note(text="9 or 19")]).all
    assert doubt.why.endswith("can be read in more than one way; it may be 9 ft or 19 ft")


def test_a_number_that_a_finding_contradicts_is_marked_too(closeout: Closeout) -> None:
    wrong = Finding(check="drop", subject="R-1", outcome="fail", message="does not agree", evidence=said(drop_in=9))
    facts = gather(closeout.model_copy(update={"findings": [wrong]}))
    assert [str(mark) for mark in facts.marks("R-1", "drop_in")] == ["‡1"]
    assert facts.marks("R-1", "cover_in") == []


def test_a_finding_that_only_misses_something_contradicts_nothing(closeout: Closeout) -> None:
    open_ = Finding(check="drop", subject="R-1", outcome="unknown", message="too little", evidence=said(drop_in=9))
    assert gather(closeout.model_copy(update={"findings": [open_]})).marks("R-1", "drop_in") == []


def test_a_structure_with_no_way_out_keeps_its_figures_unmarked(closeout: Closeout) -> None:
    lost = Finding(check="reaches_outlet", subject="CD-1", outcome="fail", message="no way", evidence=said(rim_ft=6))
    facts = gather(closeout.model_copy(update={"findings": [lost]}))
    assert facts.marks("CD-1", "rim_ft") == []
    assert facts.about("CD-1") == [1]


def test_a_slope_that_the_crews_own_figures_contradict_is_marked(closeout: Closeout) -> None:
    record = closeout.record.model_copy(deep=True)
    record.runs[0].drop_in = 4  # the inverts fall about an inch and a half
    facts = gather(closeout.model_copy(update={"record": record, "findings": check(record)}))
    assert facts.slopes["R-1"].disputed
    numbers = [number for number, item in enumerate(facts.open, 1) if (item.check, item.subject) == ("drop", "R-1")]
    assert set(numbers) <= {mark.number for mark in facts.slope_marks(record.runs[0]) if mark.sign == "‡"}
    assert numbers


def test_a_reading_that_does_not_come_out_marks_its_row_and_the_slope_on_it(closeout: Closeout) -> None:
    record = closeout.record.model_copy(deep=True)
    words = [Evidence(note=8, quote="rod five point two", confidence=0.9)]
    wrong = Level(point="CB-1 invert_in", kind="foresight", rod_ft=5.2, elevation_ft=99.85, evidence=words)
    record.levels.append(wrong)
    facts = gather(closeout.model_copy(update={"record": record, "findings": check(record)}))
    assert "‡" in [mark.sign for mark in facts.reading_marks(wrong)]
    assert "‡" not in [mark.sign for mark in facts.reading_marks(record.levels[1])]
    assert "‡" in [mark.sign for mark in facts.slope_marks(record.runs[0])]


def test_inverts_between_which_water_would_stand_are_both_marked(closeout: Closeout) -> None:
    record = closeout.record.model_copy(deep=True)
    basin = record.subject("CB-1")
    assert isinstance(basin, Structure)
    basin.invert_in_ft, basin.invert_out_ft = 97.79, 97.84
    basin.evidence += said(invert_in_ft=20, invert_out_ft=21)
    facts = gather(closeout.model_copy(update={"record": record, "findings": check(record)}))
    (number,) = [number for number, item in enumerate(facts.open, 1) if item.check == "in_above_out"]
    for field in ("invert_in_ft", "invert_out_ft"):
        assert f"‡{number}" in [str(mark) for mark in facts.level_marks(basin, field)]


def test_a_doubt_about_a_size_is_none_about_a_height(closeout: Closeout) -> None:
    record = closeout.record.model_copy(deep=True)
    record.questions = [Question(about="CB-1", field="size_in", why="low_confidence", evidence=said(size_in=3))]
    facts = gather(closeout.model_copy(update={"record": record}))
    height = Finding(check="elevation", subject="CB-1 rim", outcome="ok", message="agrees", evidence=said(rod_ft=7))
    size = Finding(check="fit", subject="CB-1", outcome="ok", message="fits", evidence=said(size_in=3))
    assert facts.finding_marks(height) == []
    assert {str(mark) for mark in facts.finding_marks(size)} == {"†1"}


def test_each_reading_of_a_point_keeps_its_own_elevation(closeout: Closeout) -> None:
    record = closeout.record.model_copy(deep=True)
    record.levels.append(Level(point="CD-1 rim", kind="foresight", rod_ft=3.99, evidence=said(rod_ft=9)))
    facts = gather(closeout.model_copy(update={"record": record}))
    assert [facts.readings[place].elevation_ft for place in (1, 2)] == pytest.approx([100.42, 100.22])


def test_a_question_about_a_test_marks_the_test_and_no_field_of_its_run() -> None:
    water = Test(kind="hose", at="R-1", duration_s=600, evidence=said(duration_s=9))
    doubts = asked(Question(about="R-1", field="duration_s", why="low_confidence"), tests=[water])
    assert marks(doubts, "R-1", "length_ft") == marks(doubts, "R-1", "fittings") == []
    assert [doubt.number for doubt in doubts.on_entry(water, "R-1", "duration_s")] == [1]


def test_a_question_about_fittings_marks_the_fittings_alone() -> None:
    doubts = asked(Question(about="R-1", field="fittings", why="low_confidence", evidence=said(fittings=5)))
    assert marks(doubts, "R-1", "fittings") == ["†1"]
    assert marks(doubts, "R-1", "length_ft", "drop_in", "slope_pct") == []


def test_a_rod_that_was_never_read_puts_no_figure_in_doubt_but_its_own_row() -> None:
    level = Level(point="benchmark", kind="backsight", elevation_ft=100, evidence=said(size_in=3))
    missing = Question(about="benchmark", field="rod_ft", why="missing", evidence=said(size_in=3))
    doubts = asked(missing, levels=[level])
    assert marks(doubts, "CB-1", "rim_ft", "size_in") == marks(doubts, "CB-2", "invert_out_ft") == []
    assert [doubt.number for doubt in doubts.on_entry(level)] == [1]


def test_the_two_places_of_a_crossing_are_told_with_their_unit() -> None:
    gas = Crossing(what="gas line", at_ft=14.0, depth_in=18.0)
    ask = Question(about="R-1", field="crossings", why="conflict", choices=[12.0, 14.0])
    record = Record(runs=[Run(label="R-1", crossings=[gas])], questions=[ask])
    assert Doubts(record).all[0].why == (
        "being confirmed: heard gas line at 12 ft, 18 in deep and later gas line at 14 ft, 18 in deep"
    )


def test_fittings_to_choose_from_are_told_as_fittings() -> None:
    choices = [[{"kind": "elbow", "angle_deg": 45.0, "count": each}] for each in (1, 2)]
    ask = Question(about="R-1", field="fittings", why="low_confidence", choices=choices)
    assert Doubts(Record(runs=[Run(label="R-1")], questions=[ask])).all[0].why == (
        "being confirmed: the recording is not clear; it may be 1 × 45° elbow or 2 × 45° elbow"
    )
