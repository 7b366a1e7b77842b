"""Talk into a record: who it is, plan and fact, corrections, questions."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from extract import assemble as assembling
from extract.amend import Amendment
from extract.assemble import Kept, assemble, withdrawn
from extract.read.assembly import SAYS
from extract.record import Note, Word


def read(*texts):
    return assemble([Note(text=text) for text in texts])


def structure(record, label):
    return next(s for s in record.structures if s.label == label)


def run(record, label):
    return next(r for r in record.runs if r.label == label)


def asked(record):
    return {(q.about, q.field, q.why) for q in record.questions}


def test_a_planned_basin_that_is_set_becomes_installed():
    record = read("Plan is a catch basin by the steps.", "Basin's set, 12 by 12.")
    assert [(s.label, s.state, s.size_in) for s in record.structures] == [("CB-1", "installed", [12, 12])]


def test_a_number_or_ordinal_names_the_structure_and_others_take_the_lowest_free():
    record = read("The second basin is set.", "Also set a basin by the shed.")
    assert [s.label for s in record.structures] == ["CB-2", "CB-1"]


def test_a_descriptor_leads_back_to_its_basin():
    record = read(
        "Set a basin by the shed, nine-inch round.",
        "Set another basin by the gate, 12 by 12.",
        "Ran four-inch SDR 35 from the shed basin to the gate basin, 20 feet.",
    )
    assert (run(record, "R-1").from_, run(record, "R-1").to) == ("CB-1", "CB-2")
    assert run(record, "R-1").length_ft == 20


def test_pieces_are_summed_and_kept():
    record = read("Run one is laid, three ten-foot sticks and a four-foot piece.")
    assert run(record, "R-1").length_ft == 34
    assert run(record, "R-1").pieces_ft == [10, 10, 10, 4]


@pytest.mark.parametrize(
    "second",
    [
        "Make that thirty-six feet.",
        "Not thirty-four, thirty-six feet.",
        "36 feet, not 34.",
        "Correction, run one is 36 feet.",
        "That first run, I said 34, it's 36.",
    ],
)
def test_a_correction_replaces_the_value_and_asks_nothing(second):
    record = read("Run one is laid, four-inch SDR 35, thirty-four feet.", "Basin one is set.", second)
    assert run(record, "R-1").length_ft == 36
    assert record.questions == []


def test_two_values_with_no_correction_are_a_conflict_and_the_later_stands():
    record = read("Run one is in, 43 feet.", "Walked run one again, it says 45 feet.")
    assert run(record, "R-1").length_ft == 45
    question = next(q for q in record.questions if q.field == "length_ft")
    assert (question.why, question.choices) == ("conflict", [43, 45])


def test_an_implausible_number_leaves_its_field_empty_and_is_asked():
    record = read("Run one is in, 30 feet.", "Slope on run one is eighty percent.")
    assert run(record, "R-1").slope_pct is None
    assert ("R-1", "slope_pct", "implausible") in asked(record)


def test_an_installed_run_with_no_length_is_asked_about():
    assert ("R-1", "length_ft", "missing") in asked(read("Run one is in, four-inch SDR 35."))


def test_a_number_heard_with_low_confidence_is_asked_about():
    words = [
        Word(text=w, start_s=0, end_s=1, confidence=0.2 if w == "fifty" else 0.9)
        for w in "Run one is in fifty feet".split()
    ]
    record = assemble([Note(text="Run one is in, fifty feet.", words=words)])
    assert ("R-1", "length_ft", "low_confidence") in asked(record)


@pytest.mark.parametrize(
    ("heard", "why"), [("Headings on run two, who 45s?", "hedged"), ("A comma on run two, 45?", "low_confidence")]
)
def test_a_number_badly_heard_in_a_note_that_nothing_was_made_of_is_asked(heard, why):
    words = [Word(text=w, start_s=0, end_s=1, confidence=0.4 if "45" in w else 0.9) for w in heard.split()]
    record = assemble([Note(text="Run two is in, 40 feet."), Note(text=heard, confidence=0.8, words=words)])
    assert [(q.about, q.why) for q in record.questions] == [("R-2", why)]
    assert {q.field for q in record.questions} <= {"fittings", "length_ft"}  # of an ell or of a length


def test_a_number_badly_heard_that_found_no_place_is_answered_by_a_plain_note():
    said = Note(text="Run two is laid, 40 feet, four inch SDR 35."), heard("Headings on run two, who 45s?", sure=0.4)
    assert ("R-2", "fittings") in {(about, name) for about, name, _ in asked(assemble(said))}
    record = assemble([*said, Note(text="Run two has two 45s.")])
    assert [(each.count, each.angle_deg) for each in record.runs[0].fittings] == [(2, 45)]
    assert record.questions == []


def test_how_many_notes_are_read_is_told_forwards_alone():
    told = []
    words = [Word(text=word, start_s=0, end_s=1, confidence=0.4) for word in "Run one is fifty feet.".split()]
    doubted = Note(text="Run one is fifty feet.", words=words, alternatives=["Run one is fifteen feet."])
    assemble([doubted, Note(text="Run two is in, 12 feet.")], kept=Kept(progress=lambda *each: told.append(each)))
    assert told == [(1, 2), (2, 2)]


def heard(text, sure=0.9):
    words = [Word(text=word, start_s=0, end_s=1, confidence=sure) for word in text.split()]
    return Note(text=text, confidence=0.9, words=words)


def test_a_doubted_measure_that_nothing_was_made_of_is_asked_about():
    record = assemble([Note(text="Run one is in, 40 feet."), heard("Then 34 foot 8.", sure=0.4)])
    assert [(q.heard, q.why) for q in record.questions] == [("Then 34 foot 8.", "low_confidence")]


@pytest.mark.parametrize(("said", "choices"), [("40 and a half", [40.5, 14.5]), ("14 and a half", None)])
def test_a_depth_of_forty_may_have_been_fourteen(said, choices):
    record = assemble([heard(f"Basin one is set, 12 by 12, invert {said} inches down.")])
    assert [q.choices for q in record.questions] == ([choices] if choices else [])


def test_no_catch_basin_is_as_small_as_a_pipe():
    record = read("Basin one is set, 3-inch.")
    assert record.structures[0].size_in is None
    assert [(q.about, q.field, q.why) for q in record.questions] == [("CB-1", "size_in", "implausible")]


def test_a_change_of_plan_told_in_a_note_of_its_own_is_of_the_outlet_it_names():
    said = [
        "Plan. Outlet one is a pop-up by the sidewalk.",
        "Change of plan on outlet one.",
        "It's daylight, and it's in.",
    ]
    record = read(*said)
    assert [(s.label, s.kind, s.state) for s in record.structures] == [("OUT-1", "daylight_outlet", "installed")]


def test_a_but_before_a_thing_is_no_place_of_it():
    assert [s.label for s in read("Channel drain across the walk.", "But channel is set.").structures] == ["CD-1"]


def test_a_change_of_plan_that_is_not_in_yet_is_planned():
    record = read("Change of plan, run two goes around the maple, it's not in yet.")
    assert [(run.label, run.state) for run in record.runs] == [("R-2", "planned")]


def test_a_planned_length_is_no_length_as_built():
    record = read(
        "Run one's gonna go from the cleanout to the dry well, maybe sixty feet.", "Run one is in the ground."
    )
    assert run(record, "R-1").length_ft is None
    assert ("R-1", "length_ft", "missing") in asked(record)


@pytest.mark.parametrize("planned", ["20", "30"])
@pytest.mark.parametrize(
    ("said", "name"), [("Run one is {} feet long", "length_ft"), ("Cover on run one is {} inches", "cover_in")]
)
def test_a_plan_told_after_the_work_takes_nothing_from_it(said, name, planned):
    record = read("Run one is in.", f"{said.format(20)}.", f"Plan. {said.format(planned)}.")
    assert getattr(record.runs[0], name) == 20


def test_scratch_that_at_the_head_withdraws_the_note_before():
    notes = [Note(text="Found an old catch basin."), Note(text="Okay scratch that, it's a planter.")]
    assert 0 in withdrawn(notes)
    assert assemble(notes).structures == []


def test_what_is_told_in_place_of_a_note_taken_back_is_of_the_thing_by_its_number():
    record = read("Run two falls two percent.", "Scratch that, it's one percent.")
    assert [(each.label, each.slope_pct) for each in record.runs] == [("R-2", 1)]


def test_strike_that_inside_a_note_withdraws_what_it_said_so_far():
    record = read(
        "Run one is laid, 20 feet.", "Cover on run one is 15 inches, strike that, cover on run one is 17 inches."
    )
    assert run(record, "R-1").cover_in == 17


def test_of_two_covers_the_least_stands_and_nobody_is_asked():
    record = read("Run one is laid, 20 feet.", "Cover is thirty inches under the path and thirteen at the bank.")
    assert run(record, "R-1").cover_in == 13
    assert record.questions == []


def test_stations_of_a_run_are_kept_for_the_check():
    record = read("Run one is laid from zero plus ten to zero plus fifty-two, four-inch SDR 35.")
    assert run(record, "R-1").stations_ft == [10, 52]
    assert record.questions == []


def test_fittings_with_counts_angles_and_sizes():
    record = read(
        "Run one is laid, 20 feet.",
        "Fittings on it, one long sweep ninety, two forty-fives, a four-inch wye. No tee on this one.",
        "On run one, one three-to-four increaser, then one twenty-two.",
    )
    found = [(f.kind, f.count, f.angle_deg, f.nominal_in, f.to_nominal_in) for f in run(record, "R-1").fittings]
    assert ("long_sweep", 1, 90, None, None) in found
    assert ("elbow", 2, 45, None, None) in found
    assert ("wye", 1, None, 4, None) in found
    assert ("increaser", 1, None, 3, 4) in found
    assert ("elbow", 1, 22.5, None, None) in found
    assert all(kind != "tee" for kind, *_ in found)


def test_levels_carry_point_kind_rod_and_elevation():
    record = read(
        "Benchmark, elevation one hundred even. Backsight four point five six.",
        "Existing catch basin one, foresight on basin one rim, 6.14. That is elevation 98.42.",
        "Intermediate sight on basin one invert, five point three oh.",
        "Correction, that intermediate is five point three two.",
    )
    assert [(x.point, x.kind, x.rod_ft, x.elevation_ft) for x in record.levels] == [
        ("benchmark", "backsight", 4.56, 100),
        ("CB-1 rim", "foresight", 6.14, 98.42),
        ("CB-1 invert_out", "intermediate", 5.32, None),
    ]
    assert structure(record, "CB-1").rim_ft == 98.42


def test_an_issue_met_twice_is_one_entry_with_its_last_action():
    record = read(
        "Run one is laid, 20 feet.",
        "Maple roots in the trench on run one.",
        "Roots on run one are cut out and cleared.",
    )
    assert [(i.kind, i.at, i.action) for i in record.issues] == [("roots", "R-1", "cleared")]


def test_a_test_made_again_is_a_second_entry():
    record = read(
        "Hose test on run one, eight minutes, fail.",
        "Hose test again on run one, fifteen minutes, 6 gallons a minute, pass.",
    )
    assert [(t.kind, t.at, t.duration_s, t.result) for t in record.tests] == [
        ("hose", "R-1", 480, "fail"),
        ("hose", "R-1", 900, "pass"),
    ]


def test_tasks_one_entry_an_item():
    record = read(
        "Need to buy two four-inch couplings and a can of primer.",
        "Need a photo of basin one.",
        "Gotta ask the owner about sod.",
    )
    assert [(t.kind, t.count) for t in record.tasks] == [("buy", 2), ("buy", None), ("photo", None), ("ask", None)]


@pytest.mark.parametrize(
    "talk",
    [
        "Coffee was four bucks and it's terrible.",
        "Kid asks, is that two percent? Told him get your own level.",
        "Is that thirty feet or forty to the fence?",
        "The rod man's extension is four four one two.",
        "They told us the old pipe was six-inch.",
        "My back is ninety years old.",
    ],
)
def test_chatter_puts_no_number_into_the_record(talk):
    before = read("Run one is laid, four-inch SDR 35, 20 feet.")
    after = read("Run one is laid, four-inch SDR 35, 20 feet.", talk)
    assert [r.model_dump(exclude={"evidence"}) for r in after.runs] == [
        r.model_dump(exclude={"evidence"}) for r in before.runs
    ]
    assert after.levels == []


def test_every_field_leads_back_to_its_note():
    record = read("Run one is in.", "Length of run one, twenty-two and a half feet.")
    witness = [e for e in run(record, "R-1").evidence if e.field == "length_ft"]
    assert [e.note for e in witness] == [1]


def test_an_amendment_stands_over_the_talk_and_answers_the_question():
    notes = [Note(text="Run one is in, 43 feet."), Note(text="Run one, it says 45 feet.")]
    record = assemble(notes, [Amendment(subject="R-1", field="length_ft", value=44.5)])
    assert run(record, "R-1").length_ft == 44.5
    assert record.questions == []
    assert [e.note for e in run(record, "R-1").evidence if e.field == "length_ft"] == [2]


def test_an_amendment_that_no_longer_fits_is_asked_about_and_costs_nothing_else():
    record = assemble([Note(text="Run one is in, 43 feet.")], [Amendment(subject="R-1", field="lenght", value=4)])
    assert run(record, "R-1").length_ft == 43
    assert [(q.about, q.field, q.heard) for q in record.questions] == [("R-1", "lenght", "4 by hand")]


@pytest.mark.parametrize(
    "text",
    [
        "",
        "\x00\x07\x1b",
        "木管 10 メートル",
        "1 2 3 4 5 6 7 8 9",
        "run basin run basin one two three four",
        "a " * 50_000,
        "9" * 100_000,
    ],
)
def test_nonsense_makes_a_record_and_no_error(text):
    assert read(text).as_json().keys() == {
        "structures", "runs", "levels", "issues", "tests", "tasks", "decisions", "changes", "points",
        "acceptances", "purchases", "questions", "numbers",
    }  # fmt: skip


TALK = st.sampled_from(
    "run one two basin the a from to is in four-inch SDR 35 feet 12 by inches not make that , . ? cover invert rod "
    "ninety-seven thirty channel outlet pop-up scratch gonna drop percent foresight benchmark forty-fives 45".split()
)


@settings(deadline=None, max_examples=300)
@given(st.lists(st.lists(TALK, max_size=25).map(" ".join), max_size=6))
def test_any_order_of_trade_words_makes_a_record(texts):
    read(*texts).as_json()


def test_no_run_ends_in_a_run():
    plan = (
        "Run two goes from basin one to basin two. I'm gonna make that second one a 12 by 12, and run three from there."
    )
    record = read(plan, "Run three is in.")
    assert [(run.from_, run.to) for run in record.runs] == [("CB-1", "CB-2"), ("CB-2", None)]


@pytest.mark.parametrize(("holder", "name"), [(assembling.Reader, "_read"), (assembling.Assembly, "_state")])
def test_a_note_that_cannot_be_read_costs_itself_and_is_asked_about(monkeypatch, holder, name):
    def burst(self, *given):
        if any("glued" in getattr(each, "text", each) for each in given if isinstance(each, Note | str)):
            raise IndexError("list index out of range")
        return whole(self, *given)

    whole = getattr(holder, name)
    monkeypatch.setattr(holder, name, burst)
    monkeypatch.setitem(SAYS, "state", assembling.Assembly._state)
    record = read("Basin one is set.", "Run two is glued, 12 feet.", "Run one is in, 34 feet.")
    assert ([s.label for s in record.structures], [r.label for r in record.runs]) == (["CB-1"], ["R-1"])
    assert [(q.about, q.why, q.heard) for q in record.questions] == [
        ("note 1", "low_confidence", "Run two is glued, 12 feet.")
    ]


@pytest.mark.parametrize("said", ["two downspouts to a daylight outlet.", "Run one goes to the daylight outlet."])
def test_the_words_of_an_outlet_tell_its_kind(said):
    outlet = next(each for each in assemble([Note(text=said)]).structures if each.label == "OUT-1")
    assert outlet.kind == "daylight_outlet"
