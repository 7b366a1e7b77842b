"""Figures put right by pointing at what was said, and slips of which only the words tell."""

import pytest

from extract.assemble import assemble
from extract.record import Note, Record

TWO = ("Run one is 42 feet.", "Run two is 30 feet.")
RIMS = ("Basin one rim is 99.5.", "Basin two rim is 99.1.")
HEIGHTS = ("Basin one, rim 99.5, invert out 97.2.", "Basin two, rim 99.1, invert in 96.8, invert out 96.7.")


def read(*texts: str) -> Record:
    return assemble([Note(text=text) for text in texts])


def asked(record: Record) -> set[tuple[str | None, str | None]]:
    return {(each.about, each.field) for each in record.questions}


@pytest.mark.parametrize("said", ["Hold on, 42's backwards, 24.", "The 42 is wrong, it's 24.", "42 should be 24."])
def test_a_figure_called_wrong_is_put_right_where_it_stands(said):
    one, two = read(*TWO, said).runs
    assert (one.length_ft, two.length_ft) == (24, 30)


def test_a_height_called_wrong_is_put_right_where_it_stands():
    one, two = read(*RIMS, "The 99.5's wrong, it's 99.2.").structures
    assert (one.rim_ft, two.rim_ft) == (99.2, 99.1)


def test_a_lesser_cover_called_wrong_does_not_stand():
    (run,) = read("Run one is 50 feet, 14 inches of cover.", "The fourteen was wrong, should be sixteen.").runs
    assert run.cover_in == 16


@pytest.mark.parametrize(
    ("said", "stands"),
    [
        ("The 42 isn't wrong.", 42),
        ("The 42 should be good, that's what the tape said.", 42),
        ("The 42 was wrong.", None),
        ("Basin two, that 42 wasn't glued.", 42),
    ],
)
def test_a_figure_is_taken_back_alone_where_the_words_say_so(said, stands):
    assert read("Run one is 42 feet.", said).subject("R-1").length_ft == stands


def test_what_a_note_taken_back_says_is_wrong_stands():
    (run,) = read("Run one is 50 feet.", "The fifty was wrong.", "Scratch that.").runs
    assert run.length_ft == 50


@pytest.mark.parametrize("said", ["Other way about.", "Other way round, mate.", "Vice versa."])
def test_a_slip_of_which_nothing_comes_puts_what_was_told_last_in_doubt(said):
    record = read("Run one is 30 feet, run two is 34 feet.", said)
    assert {("R-1", "length_ft"), ("R-2", "length_ft")} <= asked(record)


def test_a_figure_said_to_be_of_another_run_is_asked_about():
    assert ("R-2", "length_ft") in asked(read("Run two is sixty-eight foot.", "Hang about, that was run three."))


def test_what_puts_a_figure_right_leaves_the_rest_of_what_was_told_alone():
    record = read("Run one is 30 feet, 4 inch.", "My mistake, run one is 34 feet.")
    assert (record.runs[0].length_ft, record.runs[0].nominal_in) == (34, 4)
    assert ("R-1", "nominal_in") not in asked(record)


@pytest.mark.parametrize(
    ("order", "left"),
    [
        ("Scratch the invert in.", (99.1, None, 96.7)),
        ("Scratch the outgoing invert on basin two.", (99.1, 96.8, None)),
    ],
)
def test_an_order_calls_a_height_by_two_words(order, left):
    basin = read(*HEIGHTS, order).structures[1]
    assert (basin.rim_ft, basin.invert_in_ft, basin.invert_out_ft) == left


@pytest.mark.parametrize("order", ["Scratch the last number.", "Ignore that last measurement."])
def test_an_order_that_calls_a_figure_takes_back_no_note(order):
    record = read("Run one is 50 feet, 14 inches of cover and drops 5 inches.", order)
    (run,) = record.runs
    assert (run.length_ft, run.cover_in) == (50, 14)
    assert run.drop_in is None or ("R-1", "drop_in") in asked(record)


def test_an_order_whose_words_were_cut_takes_back_what_it_calls_and_where():
    record = read("Run one is 50 feet and drops 5 inches.", "Run two is 30 feet and drops 3 inches.",
                  "Scratch run one's drop.")  # fmt: skip
    assert [(run.length_ft, run.drop_in) for run in record.runs] == [(50, None), (30, 3)]


@pytest.mark.parametrize(
    "said", ["Camera went 40 feet into run one, clean.", "50 foot hose on run one, ran clear.",
             "Run one, water drops 3 inches in ten minutes."]
)  # fmt: skip
def test_what_a_test_measures_is_asked_about_where_it_stands_as_the_pipes_own(said):
    (run,) = read(said).runs
    stands = {name for name in ("length_ft", "drop_in") if getattr(run, name) is not None}
    assert {("R-1", name) for name in stands} <= asked(read(said))


@pytest.mark.parametrize(
    ("guess", "told"),
    [
        ("Rod on the basin one rim five point six, I think, it was windy.",
         "Reshot it calm. Basin one rim, rod five point six three."),
        ("Roughly eighty-five feet, run one.", "Eighty-three point four, run one, off the total station."),
    ],
)  # fmt: skip
def test_a_figure_near_the_guess_that_it_settles_is_not_asked_about(guess, told):
    assert not {each.why for each in read(guess, told).questions} & {"hedged", "low_confidence"}


@pytest.mark.parametrize(
    "said", ["oh wait that was run two I taped. Run one's still not been measured.", "Hang about, that was run two."]
)
def test_a_figure_that_may_be_of_another_thing_is_asked_about_there(said):
    record = read("run one, 41 feet long, that's in", said)
    assert {run.label: run.length_ft for run in record.runs}["R-2"] is None
    assert {("R-1", "length_ft"), ("R-2", "length_ft")} <= asked(record)


def test_all_that_was_told_of_another_thing_is_asked_about():
    record = read("Run two is 30 feet.", "Run one is 41 feet with two 45s.", "That was run two.")
    assert {run.label: run.length_ft for run in record.runs} == {"R-1": 41, "R-2": 30}
    assert {("R-1", "length_ft"), ("R-2", "length_ft"), ("R-1", "fittings")} <= asked(record)


@pytest.mark.parametrize("said", ["That's run two in.", "Run two is next, and the dog fell in."])
def test_talk_of_the_next_thing_puts_no_figure_in_doubt(said):
    record = read("Run one is 40 feet, glued up.", said)
    assert record.subject("R-1").length_ft == 40
    assert ("R-1", "length_ft") not in asked(record)


@pytest.mark.parametrize(
    ("said", "length_ft"),
    [("Not sixty. Sixteen. One six.", 16), ("Fifty-three, sorry, five three.", 53), ("No, it's five three.", 5.25)],
)
def test_a_number_told_again_by_its_digits_is_the_same(said, length_ft):
    (run,) = read("Run one is sixty feet.", said).runs
    assert run.length_ft == length_ft


def test_digits_of_another_thing_s_figure_are_none_of_it():
    record = read("Run one is fifty three feet long, run two is five three.")
    assert [run.length_ft for run in record.runs] == [53, 5.25]


def test_digits_that_put_a_number_right_are_asked_about():
    assert ("R-2", "length_ft") in asked(read("Run two is fifty three feet. No wait, five three."))


def test_what_may_be_hearsay_is_asked_about():
    said = "Tell Wilma that run three measures 55 and a half feet, she'll want it for the drawing."
    assert ("R-3", "length_ft") in asked(read(said))


def test_a_figure_meant_for_another_run_in_the_same_breath_is_asked_about_at_both():
    record = read("Drop on run two is eight inches, I mean for run three.")
    assert {("R-2", "drop_in"), ("R-3", "drop_in")} <= asked(record)


def test_a_test_that_may_have_been_of_another_run_is_asked_about():
    record = read("Hose test on run one, four minutes, passed.", "Sorry, that was run two.")
    assert ("R-1", "duration_s") in asked(record)


def test_a_measure_said_to_be_the_same_is_asked_about():
    record = read("Run one two percent. Run two is 30 feet.", "Run two has the same slope as run one.")
    assert record.subject("R-2").slope_pct is None
    assert ("R-2", "slope_pct") in asked(record)


def test_a_figure_that_is_another_things_is_asked_about_there():
    record = read("From the channel to basin one is 22 feet.", "Twenty-two's the channel itself, the pipe's thirty.")
    assert ("CD-1", "length_ft") in asked(record)


def test_the_elevation_that_was_put_right_stands_when_the_old_one_is_taken_back():
    record = read("Benchmark is the step, elevation 100.", "Benchmark is 97.5, forget the 100.")
    assert [level.elevation_ft for level in record.levels] == [97.5]


def test_two_elevations_of_the_benchmark_in_one_note_are_asked_about():
    record = read(
        "Benchmark is the step, elevation 100.", "The benchmark is 97.5, the plan has it at 97.5, bin the 100."
    )
    assert ("benchmark", "elevation_ft") in asked(record) or [each.elevation_ft for each in record.levels] == [97.5]


@pytest.mark.parametrize("said", ["Maybe 48.", "Checked it, probably 40.", "Checked it twice, still can't tell."])
def test_a_guess_stays_one_that_no_sure_figure_settles(said):
    assert ("R-1", "length_ft") in asked(read("Run one is 42 feet, I think.", said))


def test_a_run_called_off_does_not_come_back_with_what_is_put_right():
    record = read("Run one is four inch. Run two is 30 feet.", "Forget run one, run two is 32 feet, sorry.")
    assert {run.label: run.length_ft for run in record.runs} == {"R-2": 32}
