"""Coordinates from tapes, run lengths and bearings, against places that were known beforehand."""

import math
import random
from collections.abc import Callable
from typing import Any

import pytest

from extract.check.policy import load_policy
from extract.places.adjust import residual
from extract.places.circles import azimuth_of, off_line, sight_meets_tape, tapes_meet
from extract.places.measures import bends_of, long_of, path_of, side_of, survey_of
from extract.places.solve import Ground, ground_of
from extract.record import FixedPoint, Record, Run, Structure

XY = tuple[float, float]
CORNER, POST, PORCH = "garage corner", "meter post", "porch post"
POLICY = load_policy()


def structure(label: str, *ties: tuple[Any, ...], **said: Any) -> Structure:
    rows = [dict(zip(("from", "distance_ft", "side"), tie, strict=False)) for tie in ties]
    return Structure.model_validate({"label": label, "kind": "catch_basin", "state": "installed", "ties": rows} | said)


def point(name: str, *to: tuple[Any, ...], at: XY | None = None) -> FixedPoint:
    rows = [dict(zip(("point", "distance_ft", "bearing_deg"), sight, strict=False)) for sight in to]
    place = {"x_ft": at[0], "y_ft": at[1]} if at else {}
    return FixedPoint.model_validate({"name": name, "to": rows or None} | place)


def run(label: str, upper: str, lower: str, length: float | None, **said: Any) -> Run:
    shape = {"label": label, "from": upper, "to": lower, "length_ft": length, "state": "installed", "pipe": "SDR 35"}
    return Run.model_validate(shape | said)


def bent(label: str, upper: str, lower: str, far: float) -> Run:
    """A run with one bend, told in full, whose ends lie so far apart: the legs are 3 to 4 to a distance of 5."""
    bend = {"kind": "elbow", "angle_deg": 90, "at_ft": 0.6 * far, "turn": "left"}
    return run(label, upper, lower, 1.4 * far, fittings=[bend])


def ground(*entries: Structure | FixedPoint | Run) -> Ground:
    record = Record(
        structures=[each for each in entries if isinstance(each, Structure)],
        points=[each for each in entries if isinstance(each, FixedPoint)],
        runs=[each for each in entries if isinstance(each, Run)],
    )
    return ground_of(survey_of(record, POLICY), POLICY)


def near(found: Ground, key: str, at: XY, within: float = 0.02) -> bool:
    return math.dist(found.xy(key), at) <= within


BASE = point(CORNER), point(POST, (CORNER, 50))
"""The corner at (0, 0), the post at (50, 0)."""
GRID = point(CORNER, at=(0, 0)), point(POST, at=(50, 0)), point(PORCH, at=(20, -15))


# -- plane geometry, worked by hand


def test_two_tapes_of_a_right_triangle_meet_on_both_sides():
    assert [(round(x, 9), round(y, 9)) for x, y in tapes_meet((0, 0), 3, (5, 0), 4)] == [(1.8, 2.4), (1.8, -2.4)]


@pytest.mark.parametrize(("one", "other", "x"), [(10, 12, 24), (5, 70, -12.5), (70, 5, 62.5)])
def test_tapes_that_do_not_meet_give_the_place_that_misses_both_alike(one, other, x):
    ((found, y),) = tapes_meet((0, 0), one, (50, 0), other)
    assert (found, y) == (x, 0)
    assert abs(abs(found) - one) == pytest.approx(abs(abs(50 - found) - other))


def test_one_point_twice_gives_no_place():
    assert tapes_meet((3, 3), 5, (3, 3), 5) == []


def test_a_line_of_sight_meets_a_tape_before_the_eye_alone():
    assert sight_meets_tape((0, 0), 90, (0, 0), 7) == [(pytest.approx(7), pytest.approx(0))]
    (far, close) = sight_meets_tape((-10, 0), 90, (0, 0), 4)
    assert (far[0], close[0]) == (pytest.approx(4), pytest.approx(-4))


def test_left_of_a_line_and_azimuths():
    assert (off_line((1, 2), (0, 0), (10, 0)), off_line((1, -2), (0, 0), (10, 0))) == (2, -2)
    assert [azimuth_of((0, 0), at) for at in ((0, 1), (1, 0), (0, -1), (-1, 0))] == [0, 90, 180, 270]


def test_a_run_is_drawn_by_its_bends():
    """Ten feet, 45 to the left, ten feet, 45 back, ten feet: 20 and 10 times the root of a half along, that across."""
    bends = [{"kind": "elbow", "angle_deg": 45, "at_ft": 10, "turn": "left"}]
    bends.append({"kind": "long_sweep", "angle_deg": 45, "at_ft": 20, "turn": "right"})
    path = path_of(run("R-1", "CB-1", "CB-2", 30, fittings=bends[::-1]))
    half = 10 * math.sqrt(0.5)
    assert path is not None
    assert [(round(x, 9), round(y, 9)) for x, y in path] == [
        (0, 0), (10, 0), (round(10 + half, 9), round(half, 9)), (round(20 + half, 9), round(half, 9))
    ]  # fmt: skip


@pytest.mark.parametrize(
    "missing", [{"at_ft": None}, {"turn": None}, {"angle_deg": None}, {"count": 2}, {"at_ft": 31}, {"kind": "wye"}]
)
def test_bends_not_fully_said_give_no_path(missing):
    bend = {"kind": "elbow", "angle_deg": 45, "at_ft": 10, "turn": "left"} | missing
    assert bends_of(run("R-1", "CB-1", "CB-2", 30, fittings=[bend])) is None


def test_stations_give_a_length_that_nobody_said():
    assert long_of(run("R-1", "CB-1", "CB-2", None, stations_ft=[12, 54])) == 42
    assert long_of(run("R-1", "CB-1", "CB-2", 40, stations_ft=[12, 54])) == 40
    assert long_of(run("R-1", "CB-1", "CB-2", None, stations_ft=[math.nan, 54])) is None
    assert long_of(run("R-1", "CB-1", "CB-2", None, stations_ft=[54, 54])) is None


@pytest.mark.parametrize(
    ("words", "side"),
    [("left", "left"), ("on the Right side", "right"), ("north of it", "north"), ("street side", None), (None, None)],
)
def test_sides_as_said(words, side):
    assert side_of(words) == side


# -- placing


def test_two_tapes_and_a_side():
    found = ground(*BASE, structure("CB-1", (CORNER, 30, "left"), (POST, 40)))
    assert near(found, "CB-1", (18, 24))
    found = ground(*BASE, structure("CB-1", (CORNER, 30), (POST, 40, "left")))  # looking back from the post
    assert near(found, "CB-1", (18, -24))


def test_two_places_are_both_possible_where_nothing_tells():
    found = ground(*BASE, structure("CB-1", (CORNER, 30), (POST, 40)))
    assert "CB-1" not in found.at
    assert sorted(round(y, 6) for _, y in found.branch.open["CB-1"]) == [-24, 24]


def test_a_third_tape_tells():
    found = ground(*GRID, structure("CB-1", (CORNER, 30), (POST, 40), (PORCH, 39.05)))
    assert near(found, "CB-1", (18, 24))


@pytest.mark.parametrize(("length", "y"), [(10, 24), (49, -24)])
def test_a_run_length_tells(length, y):
    """The other basin lies straight up the sheet from one place and farther off from the other."""
    first = structure(
        "CB-1", (CORNER, math.hypot(18, 34 if y > 0 else 25), "left"), (POST, math.hypot(32, 34 if y > 0 else 25))
    )
    found = ground(*BASE, first, structure("CB-2", (CORNER, 30), (POST, 40)), bent("R-1", "CB-1", "CB-2", length))
    assert near(found, "CB-2", (18, y), 0.1)
    assert found.branch.chosen["CB-2"] == "run"


@pytest.mark.parametrize("length", [10, 14, 49, 60])
def test_a_run_of_which_no_bend_was_told_chooses_no_place(length):
    """Not said is not none: a pipe may be longer than its ends lie apart."""
    first = structure("CB-1", (CORNER, math.hypot(18, 34), "left"), (POST, math.hypot(32, 34)))
    found = ground(*BASE, first, structure("CB-2", (CORNER, 30), (POST, 40)), run("R-1", "CB-1", "CB-2", length))
    assert sorted(round(y, 6) for _, y in found.branch.open["CB-2"]) == [-24, 24]


def test_a_run_of_which_no_bend_was_told_moves_nothing_and_is_no_longer_than_its_pipe():
    first = structure("CB-1", (CORNER, 30, "left"), (POST, 40))
    second = structure("CB-2", (CORNER, math.hypot(28, 24), "left"), (POST, math.hypot(22, 24)))
    bare, found = ground(*BASE, first, second), ground(*BASE, first, second, run("R-1", "CB-1", "CB-2", 10.5))
    assert found.xy("CB-2") == pytest.approx(bare.xy("CB-2"), abs=1e-6)
    assert found.at["CB-2"].ellipse.half_long_ft == pytest.approx(bare.at["CB-2"].ellipse.half_long_ft)
    assert ground(*BASE, first, second, run("R-1", "CB-1", "CB-2", 8)).left_out


def test_a_run_that_bends_somewhere_bounds_only():
    first = structure("CB-1", (CORNER, math.hypot(18, 34), "left"), (POST, math.hypot(32, 34)))
    second = structure("CB-2", (CORNER, 30), (POST, 40))
    bend = [{"kind": "elbow", "count": 2, "angle_deg": 45}]
    for loose in ({"pipe": "corrugated"}, {"pipe": None}, {"fittings": bend}):
        found = ground(*BASE, first, second, run("R-1", "CB-1", "CB-2", 14, **loose))
        assert "CB-2" in found.branch.open


def test_one_side_settles_all_that_runs_join():
    """Three basins, a tape more to none of them; the sides of two come from the third's by the runs between."""
    basins = [
        structure("CB-1", (CORNER, 30), (POST, 40)),
        structure("CB-2", (CORNER, math.hypot(30, 24)), (POST, math.hypot(20, 24))),
        structure("CB-3", (CORNER, math.hypot(40, 30)), (POST, math.hypot(10, 30))),
    ]
    runs = [bent("R-1", "CB-1", "CB-2", 12), bent("R-2", "CB-2", "CB-3", math.hypot(10, 6))]
    found = ground(*BASE, *basins, *runs)
    assert set(found.branch.open) == {"CB-1", "CB-2", "CB-3"}
    basins[2] = structure("CB-3", (CORNER, math.hypot(40, 30), "left"), (POST, math.hypot(10, 30)))
    found = ground(*BASE, *basins, *runs)
    assert all(
        near(found, label, at, 0.1) for label, at in {"CB-1": (18, 24), "CB-2": (30, 24), "CB-3": (40, 30)}.items()
    )


def test_three_points_by_distances_alone_leave_the_whole_plan_to_be_turned_over():
    porch = point(PORCH, (CORNER, 25), (POST, math.hypot(30, 15)))
    ties = [(CORNER, 30), (POST, 40), (PORCH, math.hypot(2, 39))]
    found = ground(*BASE, porch, structure("CB-1", *ties))
    assert set(found.branch.open) == {"porch post", "CB-1"}
    found = ground(*BASE, porch, structure("CB-1", (CORNER, 30, "left"), *ties[1:]))
    assert near(found, "CB-1", (18, 24), 0.1)
    assert near(found, "porch post", (20, -15), 0.1)


def test_north_is_known_by_a_bearing_alone():
    assert ground(*BASE).north_deg is None
    post = point(POST, (CORNER, 50, 0))
    found = ground(point(CORNER), post, structure("CB-1", (CORNER, 30, "west side"), (POST, 40)))
    assert found.north_deg == 0
    assert near(found, "CB-1", (-24, 18))
    grid = point(CORNER, at=(0, 0)), point(POST, (CORNER, 50, 0), at=(50, 0))
    found = ground(*grid, structure("CB-1", (CORNER, 30, "west"), (POST, 40)))
    assert found.north_deg == 90
    assert near(found, "CB-1", (18, 24))


def test_a_structure_by_bearing_and_distance():
    found = ground(point(CORNER), point(POST, (CORNER, 50, 90)), point("CB-1", (CORNER, 10, 0)), structure("CB-1"))
    assert near(found, "CB-1", (0, 10))


def test_a_tape_from_a_structure_counts_by_its_label_or_name():
    first = structure("CB-1", (CORNER, 30, "left"), (POST, 40))
    found = ground(*BASE, first, structure("CB-2", ("CB-1", 10), (CORNER, math.hypot(28, 24)), ("basin", 3)))
    assert "CB-2" in found.branch.open
    found = ground(
        *BASE, first, structure("CB-2", ("catch basin 1", 10), (CORNER, math.hypot(28, 24)), (POST, math.hypot(22, 24)))
    )
    assert near(found, "CB-2", (28, 24), 0.1)


def test_a_side_is_told_where_a_tape_runs_from_the_structure_to_one_that_is_placed():
    second = structure("CB-2", (POST, math.hypot(22, 24), "right"), (CORNER, math.hypot(28, 24)), ("CB-1", 10))
    found = ground(*BASE, second, structure("CB-1", (CORNER, 30, "left")))
    assert near(found, "CB-1", (18, 24), 0.1)


def test_names_are_the_same_with_and_without_an_article():
    found = ground(
        *BASE, structure("CB-1", ("the Garage  corner", 30, "left"), ("corner of the garage", 3), (POST, 40))
    )
    assert near(found, "CB-1", (18, 24))


@pytest.mark.parametrize(("one", "other"), [("A", "B"), ("corner A", "the corner B"), ("corner", "the corner A")])
def test_a_letter_that_names_a_point_is_no_article(one, other):
    found = ground(point(one), point(other, (one, 50)), structure("CB-1", (one, 30, "left"), (other, 40)))
    assert near(found, "CB-1", (18, 24))
    assert len(found.survey.points) == 2


def test_one_tape_of_four_that_is_a_foot_long_is_named_and_left_out():
    hydrant = point("hydrant", at=(60, 30))
    true = {CORNER: (0, 0), POST: (50, 0), PORCH: (20, -15), "hydrant": (60, 30)}
    ties = [(name, math.dist(at, (18, 24)) + (name == POST)) for name, at in true.items()]
    found = ground(*GRID, hydrant, structure("CB-1", *ties))
    ((measure, out),) = found.branch.dropped[0].out
    assert measure.words == "the tape from meter post to catch basin 1"
    assert out == pytest.approx(1, abs=0.05)
    assert near(found, "CB-1", (18, 24), 0.05)


def test_of_three_tapes_nobody_can_tell_which_is_long():
    found = ground(*GRID, structure("CB-1", (CORNER, 30), (POST, 40), (PORCH, 40.05)))
    assert "CB-1" not in found.at
    assert [round(out, 1) for _, out in found.branch.doubts["CB-1"].out][-1] == 1.0
    assert len(found.branch.doubts["CB-1"].out) == 3


def test_a_run_that_does_not_fit_moves_no_basin():
    """A pipe of six feet between ends ten feet apart is a finding; its basins stay where their tapes put them."""
    first = structure("CB-1", (CORNER, 30, "left"), (POST, 40))
    second = structure("CB-2", (CORNER, math.hypot(28, 24), "left"), (POST, math.hypot(22, 24)))
    found = ground(*BASE, first, second, run("R-1", "CB-1", "CB-2", 6))
    assert [(measure.kind, round(out)) for measure, out in found.left_out] == [("run", -4)]
    assert near(found, "CB-1", (18, 24))
    assert near(found, "CB-2", (28, 24))


@pytest.mark.parametrize("angle", [30, 60, 90, 120, 150])
def test_the_ellipse_of_two_tapes_is_that_of_the_book(angle):
    """Standard deviation over the root of one plus and minus the cosine of the angle at which they cross; 2.4477 of
    them hold 95 in 100 of two normal errors (from memory, -2 ln 0.05 is 5.991). Between sure points."""
    half = math.radians(angle) / 2
    across = 20 / math.tan(half)
    grid = point(CORNER, at=(0, 0)), point(POST, at=(40, 0))
    far = math.hypot(20, across)
    ellipse = ground(*grid, structure("CB-1", (CORNER, far, "left"), (POST, far))).at["CB-1"].ellipse
    axes = [0.1 * 2.4477 / math.sqrt(1 + sign * math.cos(2 * half)) for sign in (1, -1)]
    assert (ellipse.half_long_ft, ellipse.half_short_ft) == pytest.approx((max(axes), min(axes)), rel=1e-3)
    if angle != 90:  # long across the way that the tapes run
        away = min(ellipse.direction_deg, 180 - ellipse.direction_deg)
        assert away == pytest.approx(0 if angle > 90 else 90, abs=0.1)


def test_tapes_nearly_in_one_line_place_nothing():
    found = ground(*BASE, structure("CB-1", (CORNER, 70.003, "left"), (POST, 20.01)))
    assert "CB-1" in found.branch.weak
    assert "CB-1" not in found.at


def test_residuals_of_bounds_and_bearings():
    (bent,) = survey_of(
        Record(
            structures=[structure("CB-1"), structure("CB-2")], runs=[run("R-1", "CB-1", "CB-2", 10, pipe="corrugated")]
        ),
        POLICY,
    ).measures
    assert [residual(bent, (0, 0), (x, 0)) for x in (2, 10, 11)] == [0, 0, -2]


# -- many yards


Error = Callable[[random.Random], float]


def yard(
    random_: random.Random, error: Error, *, sides: bool, third: bool, runs: bool
) -> tuple[Ground, dict[str, XY], dict[str, float]]:
    """An invented yard: what the tapes make of it, the true places, and the angle at which each one's tapes cross."""
    wide = random_.uniform(25, 50)
    points = {CORNER: (0.0, 0.0), POST: (wide, 0.0)}
    if third:
        points[PORCH] = (random_.uniform(0, wide), -random_.uniform(5, 20))
    true = {
        f"CB-{number}": (random_.uniform(-15, wide + 15), random_.choice((1, -1)) * random_.uniform(3, 45))
        for number in range(1, 4)
    }

    def tape(one: XY, other: XY) -> float:
        return max(round(math.dist(one, other) + error(random_), 2), 0.25)

    entries: list[Structure | FixedPoint | Run] = []
    if third:
        entries += [point(name, at=at) for name, at in points.items()]
    else:
        entries += [point(CORNER), point(POST, (CORNER, tape(points[CORNER], points[POST])))]
    for label, at in true.items():
        ties = [(name, tape(place, at)) for name, place in points.items()]
        if sides:
            ties[0] = (*ties[0], "left" if at[1] > 0 else "right")  # type: ignore[assignment]
        entries.append(structure(label, *ties))
    labels = list(true)
    if runs:
        entries += [
            run(f"R-{n}", a, b, round(math.dist(true[a], true[b]) + random_.uniform(0, 0.5), 1))
            for n, (a, b) in enumerate(zip(labels, labels[1:], strict=False), 1)
        ]
    crossing = {
        label: abs(
            math.degrees(math.remainder(math.atan2(at[1], at[0]) - math.atan2(at[1], at[0] - wide), 2 * math.pi))
        )
        for label, at in true.items()
    }
    return ground(*entries), true, crossing


GOOD_TO_A_TENTH: Error = lambda random_: random_.uniform(-0.1, 0.1)  # noqa: E731
NORMAL: Error = lambda random_: random_.gauss(0, 0.1)  # noqa: E731


def test_a_thousand_yards_with_tapes_good_to_a_tenth():
    """Two tapes and a side: within 0.3 ft in 95 of 100 where the tapes cross at 30 to 150 degrees."""
    random_, off = random.Random(21), []
    for _ in range(1000):
        found, true, crossing = yard(random_, GOOD_TO_A_TENTH, sides=True, third=False, runs=False)
        off += [math.dist(found.xy(key), true[key]) for key in found.at if 30 <= crossing.get(key, 0) <= 150]
    assert len(off) > 2000
    assert sum(each <= 0.3 for each in off) >= 0.95 * len(off)
    assert max(off) < 1


def test_ellipses_hold_what_they_say():
    """Normal errors of the standard deviation that is assumed: 95 in 100 lie in their ellipse."""
    random_, inside = random.Random(22), []
    for _ in range(300):
        found, true, _ = yard(random_, NORMAL, sides=True, third=False, runs=False)
        for key in set(found.at) & set(true):
            ellipse, turn = found.at[key].ellipse, math.radians(found.at[key].ellipse.direction_deg)
            x, y = found.xy(key)[0] - true[key][0], found.xy(key)[1] - true[key][1]
            along, across = x * math.sin(turn) + y * math.cos(turn), x * math.cos(turn) - y * math.sin(turn)
            inside.append((along / ellipse.half_long_ft) ** 2 + (across / ellipse.half_short_ft) ** 2 <= 1)
    assert 0.93 <= sum(inside) / len(inside) <= 0.97


@pytest.mark.parametrize(
    ("third", "runs", "least_placed"),
    [(False, False, 0.0), (True, False, 0.95), (False, True, 0.0), (True, True, 0.95)],
)
def test_the_mirror_place_is_never_taken_in_silence(third, runs, least_placed):
    """With no side said: a basin is placed where it lies, or both of its places are told and one of them is it."""
    random_, placed, told = random.Random(23), 0, 0
    for _ in range(200):
        found, true, _ = yard(random_, NORMAL, sides=False, third=third, runs=runs)
        for key, at in true.items():
            if key in found.at:
                placed += 1
                assert math.dist(found.xy(key), at) < 3
            elif key in found.branch.open:
                told += 1
                assert min(math.dist(each, at) for each in found.branch.open[key]) < 3
            else:
                assert key in found.branch.weak or key in found.branch.doubts
    assert placed >= least_placed * 600
    assert placed + told >= 0.95 * 600


def test_one_tape_of_four_that_is_feet_out_places_nothing_wrong():
    """It is named, or it is among those of which one is said to be out; no other is ever named alone."""
    random_ = random.Random(3)
    for _ in range(100):
        wide = random_.uniform(25, 50)
        points = {CORNER: (0.0, 0.0), POST: (wide, 0.0)}
        points |= {
            PORCH: (random_.uniform(0, wide), -random_.uniform(5, 20)),
            "oak": (wide / 2, random_.uniform(30, 50)),
        }
        at = random_.uniform(-15, wide + 15), random_.choice((1, -1)) * random_.uniform(3, 45)
        long, out = random_.choice(list(points)), random_.choice((1, -1)) * random_.uniform(1, 5)
        ties = [
            (name, max(round(math.dist(place, at) + NORMAL(random_) + (out if name == long else 0), 2), 0.25))
            for name, place in points.items()
        ]
        found = ground(*(point(name, at=place) for name, place in points.items()), structure("CB-1", *ties))
        doubts = [*found.branch.dropped, *found.branch.doubts.values()]
        if "CB-1" in found.at:
            assert math.dist(found.xy("CB-1"), at) < 1.5
        for doubt in doubts:
            assert not doubt.out or long in [measure.one for measure, _ in doubt.out]
