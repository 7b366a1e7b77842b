"""What is said of tapes and places, word for word."""

import math

import pytest
from test_places import BASE, CORNER, GRID, PORCH, POST, bent, point, run, structure

from extract.check import check
from extract.record import Finding, FixedPoint, Record, Run, Structure

CHECKS = ("tie_fit", "tie_side", "tie_missing", "place")


def found(*entries: Structure | FixedPoint | Run) -> list[Finding]:
    record = Record(
        structures=[each for each in entries if isinstance(each, Structure)],
        points=[each for each in entries if isinstance(each, FixedPoint)],
        runs=[each for each in entries if isinstance(each, Run)],
    )
    return [each for each in check(record) if each.check in CHECKS]


def told(*entries: Structure | FixedPoint | Run) -> list[tuple[str, str, str, str]]:
    return [(each.check, each.subject, each.outcome, each.message) for each in found(*entries)]


def test_nothing_is_said_where_nothing_was_taped():
    assert told(structure("CB-1"), run("R-1", "CB-1", "CB-2", 10)) == []
    assert told(*GRID, structure("CB-1")) == []


def test_a_place_tells_how_sure_it_is_and_that_the_side_decided():
    (place,) = found(*BASE, structure("CB-1", (CORNER, 30, "on the left"), (POST, 40)))
    assert (place.check, place.outcome, place.subject, place.unit) == ("place", "ok", "CB-1", "ft")
    assert place.message == (
        "Catch basin 1 is placed to 0.4 feet one way and 0.3 feet across, 95 times in 100, if a tape's standard "
        'deviation is 0.1 feet; of two places the one "on the left" from garage corner was taken, as said; nothing '
        "else was taped to check its two tapes."
    )
    assert place.source == "common practice"


def test_a_long_ellipse_tells_its_direction():
    """Two tapes from points 40 ft apart that cross at 30 degrees, far up the sheet: sure along them, unsure across."""
    far = math.hypot(20, 20 / math.tan(math.radians(15)))
    grid = point(CORNER, at=(0, 0)), point(POST, at=(40, 0))
    (place,) = found(*grid, structure("CB-1", (CORNER, far, "left"), (POST, far)))
    assert place.message.startswith(
        "Catch basin 1 is placed to 0.7 feet one way (0 degrees clockwise from the line from garage corner to meter "
        "post) and 0.2 feet across, 95 times in 100"
    )


def test_a_place_tells_that_a_run_length_decided():
    basin = structure("CB-1", (CORNER, math.hypot(18, 34), "left"), (POST, math.hypot(32, 34)))
    places = told(*BASE, basin, structure("CB-2", (CORNER, 30), (POST, 40)), bent("R-1", "CB-1", "CB-2", 10))
    assert places[1][3].endswith("; of two places the one that the lengths of its runs fit was taken.")


def test_a_run_of_which_no_bend_was_told_leaves_both_places_and_the_tape_that_tells():
    basin = structure("CB-1", (CORNER, math.hypot(18, 34), "left"), (POST, math.hypot(32, 34)))
    *_, (check_, subject, outcome, message) = told(
        *BASE, basin, structure("CB-2", (CORNER, 30), (POST, 40)), run("R-1", "CB-1", "CB-2", 10)
    )
    assert (check_, subject, outcome) == ("tie_side", "CB-2", "unknown")
    assert message.startswith("Catch basin 2 can lie in 2 places")
    assert message.endswith("or tape it from catch basin 1, which reads 58 feet or 10 feet.")


def test_a_place_tells_that_a_third_tape_decided():
    ((*_, message),) = told(*GRID, structure("CB-1", (CORNER, 30), (POST, 40), (PORCH, 39.05)))
    assert message.endswith("; of the two places of two tapes the one that the others fit was taken.")


def test_two_places_ask_for_the_side_or_the_one_tape_that_tells():
    basin = structure("CB-1", (CORNER, 30), (POST, 40))
    assert told(*BASE, basin) == [
        (
            "tie_side",
            "CB-1",
            "unknown",
            "Catch basin 1 can lie in 2 places, on either side of the line from garage corner to meter post; say "
            "whether it lies left or right, looking from garage corner to meter post, or tape it from a third "
            "point off that line.",
        )
    ]
    ((_, _, _, message),) = told(*GRID, basin)
    assert message.endswith("or tape it from porch post, which reads 9.2 feet or 39.1 feet.")


def test_three_points_in_a_line_do_not_tell_the_side():
    middle = point("stoop", at=(25, 0.1))
    basin = structure("CB-1", (CORNER, 30), (POST, 40), ("stoop", math.hypot(7, 24)))
    ((check_, _, outcome, message),) = told(*GRID[:2], middle, basin)
    assert (check_, outcome) == ("tie_side", "unknown")
    assert "(garage corner, meter post and stoop lie in one line, so no tape from them tells which)" in message


def test_the_tape_that_is_long_is_named():
    true = {CORNER: (0, 0), POST: (50, 0), PORCH: (20, -15), "hydrant": (60, 30)}
    ties = [(name, round(math.dist(at, (18, 24)) + (name == CORNER), 2)) for name, at in true.items()]
    finding, place = found(*GRID, point("hydrant", at=(60, 30)), structure("CB-1", *ties))
    assert (finding.check, finding.outcome, finding.stated) == ("tie_fit", "fail", 31)
    assert finding.computed == pytest.approx(30, abs=0.05)
    assert finding.message.startswith(
        "The tape from garage corner to catch basin 1 looks 1 foot long, against the tape"
    )
    assert finding.message.endswith("It was left out; tape it again.")
    assert place.check == "place"


def test_of_three_tapes_each_may_be_the_one():
    ((check_, subject, outcome, message),) = told(*GRID, structure("CB-1", (CORNER, 30), (POST, 40), (PORCH, 40.05)))
    assert (check_, subject, outcome) == ("tie_fit", "CB-1", "fail")
    assert "do not meet in one place: either the tape from garage corner to catch basin 1 looks" in message
    assert "or the tape from porch post to catch basin 1 looks 1 foot long. Catch basin 1 is not placed" in message


def test_tapes_that_cannot_meet():
    assert told(*BASE, structure("CB-1", (CORNER, 10), (POST, 12))) == [
        (
            "tie_fit",
            "CB-1",
            "fail",
            "The tape from garage corner to catch basin 1 (10 feet) and the tape from meter post to catch basin 1 (12 "
            "feet) do not meet in one place. Catch basin 1 is not placed; tape it again.",
        )
    ]


@pytest.mark.parametrize("bad", [0, -3, math.nan, math.inf, 1e9])
def test_a_tape_that_reads_nothing(bad):
    messages = [each[3] for each in told(*BASE, structure("CB-1", (CORNER, bad), (POST, 12)))]
    assert messages == [
        "The tape from garage corner to catch basin 1 reads nothing that can be taped; tape it again.",
        "Catch basin 1 cannot be placed by 12 feet from meter post alone; a tape from garage corner would settle it.",
    ]


def test_a_structure_with_one_tie_names_the_other_to_take():
    ((*_, outcome, message),) = told(*GRID, structure("CB-1", (CORNER, 30)))
    assert outcome == "unknown"
    assert (
        message
        == "Catch basin 1 cannot be placed by 30 feet from garage corner alone; a tape from meter post would settle it."
    )


def test_a_tape_from_a_point_that_nobody_placed():
    ((*_, message),) = told(*BASE, structure("CB-1", (CORNER, 30), ("shed", 12)))
    assert message == (
        "Catch basin 1 cannot be placed by 30 feet from garage corner and 12 feet from shed, as nobody said where shed "
        "lies; tape from there to garage corner and meter post."
    )


def test_no_fixed_points_are_one_line():
    basins = structure("CB-1", (CORNER, 30), (POST, 40)), structure("CB-2", (CORNER, 12))
    assert told(*basins) == [
        (
            "tie_missing",
            "points",
            "unknown",
            "Nobody said how far garage corner and meter post lie apart, so nothing can be placed; tape from garage "
            "corner to meter post.",
        )
    ]
    ((*_, message),) = told(basins[1])
    assert message.startswith(
        "Garage corner is the only fixed point, so nothing can be placed; tape from it to a second"
    )
    assert [each[3] for each in told(structure("CB-1", ("unnamed", 30)))] == [
        "A tape to catch basin 1 starts from a point that nobody named.",
        "No fixed point was said, so nothing can be placed; tape from two, such as corners of the house.",
    ]


@pytest.mark.parametrize("turned", [False, True])
def test_two_distances_of_two_fixed_points_that_disagree_are_both_left_out(turned):
    points = [point(CORNER, (POST, 45)), point(POST, (CORNER, 50))]
    messages = [each[3] for each in told(*points[:: -1 if turned else 1], structure("CB-1", (CORNER, 30), (POST, 40)))]
    assert len(messages) == 2
    assert "the tape from meter post to garage corner (45 feet)" in messages[0].casefold()
    assert "the tape from garage corner to meter post (50 feet)" in messages[0].casefold()
    assert messages[0].endswith(" disagree, and nothing tells which is wrong; tape it again.")
    assert messages[1].startswith("It is not sure how far ")


def test_two_distances_of_two_fixed_points_that_agree_are_both_used():
    points = point(CORNER, (POST, 50.1)), point(POST, (CORNER, 50))
    assert [each[0] for each in told(*points, structure("CB-1", (CORNER, 30, "left"), (POST, 40)))] == ["place"]


def test_two_tapes_from_one_point_that_differ():
    messages = [each[3] for each in told(*BASE, structure("CB-1", (CORNER, 30), ("the garage corner", 31), (POST, 40)))]
    assert (
        messages[0] == "The tape from garage corner to catch basin 1 was said to be 30 feet and 31 feet; tape it again."
    )


def test_a_second_tape_that_reads_nothing_differs_from_the_first():
    messages = [each[3] for each in told(*BASE, structure("CB-1", (CORNER, 30), (CORNER, 0), (POST, 40)))]
    assert messages[0] == (
        "The tape from garage corner to catch basin 1 was said to be 30 feet and 0 feet; tape it again."
    )


def test_two_tapes_from_one_point_on_different_sides_give_none():
    ties = (CORNER, 30, "left"), ("the garage corner", 30, "on the right"), (POST, 40)
    messages = [each[3] for each in told(*BASE, structure("CB-1", *ties))]
    assert messages[0] == (
        'The tape from garage corner to catch basin 1 was said to have catch basin 1 "left" and "on the right"; say '
        "the side again."
    )
    assert not any("is placed" in each for each in messages)


@pytest.mark.parametrize(
    ("length", "outcome", "why"),
    [
        (6, "fail", "a pipe is no shorter than that, so its length, or a tape to one of its ends, is wrong."),
        (14, "attention", "it bends more than was said, or its length or a tape to one of its ends is wrong."),
    ],
)
def test_a_run_against_the_distance_of_its_ends(length, outcome, why):
    first = structure("CB-1", (CORNER, 30, "left"), (POST, 40))
    second = structure("CB-2", (CORNER, math.hypot(28, 24), "left"), (POST, math.hypot(22, 24)))
    bends = [{"kind": "elbow", "count": 2, "angle_deg": 22.5}]
    of_run = told(*BASE, first, second, run("R-1", "CB-1", "CB-2", length, fittings=bends))[0]
    assert of_run == (
        "tie_fit",
        "R-1",
        outcome,
        f"Run 1 from catch basin 1 to catch basin 2 was said to be {length} feet long, but by the tapes its ends lie "
        f"10 feet apart; {why}",
    )


def test_a_side_that_the_third_tape_contradicts():
    ((check_, subject, outcome, message),) = told(
        *GRID, structure("CB-1", (CORNER, 30, "right"), (POST, 40), (PORCH, 39.05))
    )
    assert (check_, subject, outcome) == ("tie_side", "CB-1", "fail")
    assert message.startswith('Catch basin 1 was said to lie "right" of the tape from garage corner, but what else')


def test_tapes_nearly_in_one_line():
    ((check_, _, outcome, message),) = told(*GRID, structure("CB-1", (CORNER, 70.003, "left"), (POST, 20.01)))
    assert (check_, outcome) == ("tie_missing", "unknown")
    assert message.endswith("its place across that line is not known; a tape from porch post would settle it.")


def test_a_fixed_point_that_does_not_fit_the_others_is_no_exception():
    grid = point(CORNER, at=(0, 0)), point(POST, (CORNER, 45), at=(50, 0))
    finding, *_ = found(*grid, structure("CB-1", (CORNER, 30, "left"), (POST, 40)))
    assert (finding.subject, finding.outcome) == ("points", "fail")
    assert finding.message.startswith("The tape from garage corner to meter post looks 5 feet short")


APART = 9.5
PAIR = (
    structure("CB-1", (CORNER, 30, "left"), (POST, 40)),
    structure("CB-2", (CORNER, math.hypot(18 + APART, 24), "left"), (POST, math.hypot(32 - APART, 24))),
)
"""At (18, 24) and 9.5 ft to the right of it."""
BEND = {"kind": "elbow", "angle_deg": 90}


@pytest.mark.parametrize(
    ("length", "said"),
    [
        (32, {}),
        (32, {"pipe": None}),
        (14, {}),
        (32, {"pipe": "corrugated"}),
        (32, {"fittings": [BEND, BEND]}),
        (32, {"fittings": [{"kind": "wye"}]}),
        (32, {"fittings": [{"kind": "elbow"}]}),
    ],
)
def test_a_run_much_longer_than_its_ends_lie_apart_is_asked_about(length, said):
    (finding,) = [
        each for each in found(*BASE, *PAIR, run("R-1", "CB-1", "CB-2", length, **said)) if each.check == "tie_fit"
    ]
    assert (finding.subject, finding.outcome, finding.stated) == ("R-1", "attention", length)
    assert finding.computed == pytest.approx(APART, abs=0.01)
    assert finding.message == (
        f"Run 1 from catch basin 1 to catch basin 2 was said to be {length} feet long, but by the tapes its ends lie "
        "9.5 feet apart; it bends more than was said, or its length or a tape to one of its ends is wrong."
    )


@pytest.mark.parametrize(
    ("length", "said"),
    [
        (10.5, {}),
        (14, {"fittings": [BEND, BEND]}),
        (14, {"pipe": "corrugated"}),
        (14, {"fittings": [{"kind": "wye"}]}),
    ],
)
def test_a_run_that_bends_or_errors_explain_is_not_asked_about(length, said):
    run_1 = run("R-1", "CB-1", "CB-2", length, **said)
    assert {each.check for each in found(*BASE, *PAIR, run_1)} == {"place"}
