"""Where photos were taken, beside what was taped: north, false photos and mirror images, on yards known beforehand."""

from __future__ import annotations

import math
import os
import random
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import pytest
from geographiclib.geodesic import Geodesic
from scipy.optimize import least_squares
from test_places import CORNER, GRID, NORMAL, POLICY, POST, XY, bent, point, structure

from extract.check import check
from extract.check.evidence import Photo
from extract.check.places import FOOT_M
from extract.places.adjust import residual
from extract.places.gps import Fix, Position, earth_of, fits, lie_of, north_within_deg
from extract.places.measures import survey_of
from extract.places.solve import Ground, North, ground_of
from extract.record import Finding, FixedPoint, Record, Run, Structure

WHOLE = "FALLBOOK_WHOLE" in os.environ
Entry = Structure | FixedPoint | Run
ORIGIN = (45.0, -93.0)
SQUARE = {
    "CB-1": (10.0, 30.0),
    "CB-2": (90.0, 40.0),
    "CB-3": (20.0, -60.0),
    "CB-4": (100.0, -70.0),
    "CB-5": (50.0, 80.0),
}
"""An invented yard about the corner at (0, 0) and the post at (50, 0)."""


def taken(photo: int, about: str, at: XY, error_m: float | None = 3.0, origin: XY = ORIGIN) -> Position:
    """Of a phone so many feet east and north of an origin, by geodesics."""
    line = Geodesic.WGS84.Direct(*origin, math.degrees(math.atan2(*at)), math.hypot(*at) * FOOT_M)
    return Position(photo, about, line["lat2"], line["lon2"], error_m)


def turned(at: XY, degrees: float) -> XY:
    """Counterclockwise."""
    turn = math.radians(degrees)
    return at[0] * math.cos(turn) - at[1] * math.sin(turn), at[0] * math.sin(turn) + at[1] * math.cos(turn)


def fix(key: str, at: XY, sd_ft: float = 10.0) -> Fix:
    return Fix(key, (1,), at, sd_ft, True)


def record_of(entries: Sequence[Entry]) -> Record:
    return Record(
        structures=[each for each in entries if isinstance(each, Structure)],
        points=[each for each in entries if isinstance(each, FixedPoint)],
        runs=[each for each in entries if isinstance(each, Run)],
    )


def ground(entries: Sequence[Entry], positions: Sequence[Position] = ()) -> Ground:
    return ground_of(survey_of(record_of(entries), POLICY), POLICY, positions)


def taped(places: dict[str, XY], *, sides: bool) -> list[Entry]:
    """Two tapes to each, from the corner and the post."""
    entries: list[Entry] = [point(CORNER), point(POST, (CORNER, 50))]
    for label, at in places.items():
        tapes = [(CORNER, math.hypot(*at)), (POST, math.dist(at, (50, 0)))]
        side = ("left" if at[1] > 0 else "right",) if sides else ()
        entries.append(structure(label, (*tapes[0], *side), tapes[1]))
    return entries


def photographed(places: dict[str, XY], turn: float = 0.0, error_m: float | None = 3.0) -> list[Position]:
    return [taken(n, key, turned(at, turn), error_m) for n, (key, at) in enumerate(places.items(), 1)]


# -- the plane, and the fit worked by hand


@pytest.mark.parametrize("origin", [(0.0, 10.0), (45.0, -93.0), (-33.0, 179.9999), (64.0, 179.99995), (-71.0, 0.0)])
def test_the_plane_is_true_to_geodesics_within_a_yard(origin: XY) -> None:
    """A thousandth of a foot in two hundred, and over the date line too. Source: Karney's geodesics (geographiclib)."""
    places = {"CB-1": (0.0, 0.0), "CB-2": (150.0, 120.0), "CB-3": (-90.0, 180.0), "CB-4": (30.0, -200.0)}
    positions = [taken(1, key, at, 3.0, origin) for key, at in places.items()]
    fixes = earth_of(positions, dict.fromkeys(places, ""), POLICY).fixes
    zero = fixes["CB-1"].at
    for key, at in places.items():
        found = fixes[key].at[0] - zero[0], fixes[key].at[1] - zero[1]
        assert found == pytest.approx(at, abs=2e-3)


def test_three_things_turned_a_quarter_by_hand() -> None:
    """Taped at (0, 0), (40, 0) and (0, 30), whose middle is (40/3, 10). Turned a quarter counterclockwise, (x, y)
    becomes (-y, x), and shifted by (5, 7). Squares about the middle: 2500 / 9 + 7300 / 9 + 5200 / 9 = 5000 / 3."""
    places = {"CB-1": (0.0, 0.0), "CB-2": (40.0, 0.0), "CB-3": (0.0, 30.0)}
    lie = lie_of([fix("CB-1", (5, 7)), fix("CB-2", (5, 47)), fix("CB-3", (-25, 7))], places)
    assert lie.turn_deg == pytest.approx(90)
    assert lie.misfit == pytest.approx(0, abs=1e-9)
    assert lie.middle == pytest.approx((40 / 3, 10))
    assert lie.turn_sd_deg == pytest.approx(math.degrees(10 / math.sqrt(5000 / 3)))
    assert lie.on_earth((40, 30)) == pytest.approx((-25, 47))


def test_two_things_by_tape_50_and_by_phone_70_feet_apart_are_off_by_10_each() -> None:
    places = {"CB-1": (0.0, 0.0), "CB-2": (50.0, 0.0)}
    lie = lie_of([fix("CB-1", (0, 0), 4.0), fix("CB-2", (0, 70), 4.0)], places)
    assert lie.misfit == pytest.approx(2 * (10 / 4) ** 2)
    assert not fits(lie, 2)
    assert lie.on_earth((0, 0)) == pytest.approx((0, 10))


def test_the_mirror_image_of_three_things_fits_only_turned_over() -> None:
    places = {"CB-1": (0.0, 0.0), "CB-2": (40.0, 0.0), "CB-3": (0.0, 30.0)}
    fixes = [fix(key, (-x, y), 1.0) for key, (x, y) in places.items()]
    assert lie_of(fixes, places).misfit > 100
    assert lie_of(fixes, places, mirrored=True).misfit == pytest.approx(0, abs=1e-9)


def test_the_error_of_a_fix() -> None:
    """Stated, with half of 20 feet to stand back over the root of six, and a tape's; the worst of several."""
    positions = [taken(1, "A", (0, 0), 3.0), taken(2, "A", (8, 0), 6.0), taken(3, "B", (50, 0), None)]
    fixes = earth_of([*positions, taken(4, "C", (0, 0), 0.0)], dict.fromkeys("ABC", ""), POLICY).fixes
    spare = 100 / 6 + 0.1**2
    assert fixes["A"].sd_ft == pytest.approx(math.sqrt((6 / FOOT_M) ** 2 + spare))
    assert fixes["B"].sd_ft == pytest.approx(math.sqrt((10 / FOOT_M) ** 2 + spare))
    assert [fixes[key].stated for key in "ABC"] == [True, False, False]
    assert fixes["A"].at[0] - fixes["B"].at[0] == pytest.approx(4 - 50, abs=1e-3)


@pytest.mark.parametrize(
    "wrong", [{"lat": math.nan}, {"lon": math.inf}, {"lat": 91.0}, {"error_m": 5000.0}, {"about": "X"}]
)
def test_positions_of_nothing_are_passed_over(wrong: dict[str, float]) -> None:
    whole = vars(taken(1, "CB-1", (0, 0)))
    assert ground([*GRID, structure("CB-1")], [Position(**whole)]).earth is not None
    assert ground([*GRID, structure("CB-1")], [Position(**whole | wrong)]).earth is None


# -- with tapes


def test_photos_tell_north_and_move_nothing_that_was_taped() -> None:
    entries = taped(SQUARE, sides=True)
    bare, found = ground(entries), ground(entries, photographed(SQUARE, turn=37))
    assert (bare.north, bare.earth) == (None, None)
    assert (found.at, found.used, found.branch, found.north_deg) == (bare.at, bare.used, bare.branch, None)
    assert found.north is not None
    assert found.north.way_deg == pytest.approx(37, abs=0.01)
    assert 5 < found.north.within_deg < 15
    assert found.north.by == "photos"


def test_a_bearing_stands_before_photos_that_agree_and_where_they_do_not_neither_tells_north() -> None:
    entries = [point(CORNER), point(POST, (CORNER, 50, 90)), *taped(SQUARE, sides=True)[2:]]
    agreeing, other = (ground(entries, photographed(SQUARE, turn=turn)) for turn in (20, 90))
    assert agreeing.north == North(0, north_within_deg(), "bearing")
    assert (agreeing.north_contradicted, agreeing.north_off_deg) == (False, pytest.approx(20, abs=0.1))
    assert (other.north, other.north_contradicted) == (None, True)


@pytest.mark.parametrize("count", [1, 2])
def test_two_photographed_things_tell_no_north(count: int) -> None:
    """A false one could not be told from a true one, however far apart they lie."""
    few = dict(list(SQUARE.items())[:count])
    found = ground(taped(SQUARE, sides=True), photographed(few, error_m=0.5))
    assert found.north is None


def test_adjusting_all_together_gives_the_same_north_and_moves_no_tape() -> None:
    """Why photos are laid on what was taped, and not adjusted with it: the taped places would move by a small part of
    what they are unsure by anyway. Source: all at once by scipy.optimize.least_squares, from the same measures."""
    random_ = random.Random(5)
    positions = [
        taken(n, key, (turned(at, 50)[0] + random_.gauss(0, 10), turned(at, 50)[1] + random_.gauss(0, 10)))
        for n, (key, at) in enumerate(SQUARE.items(), 1)
    ]
    found = ground(taped(SQUARE, sides=True), positions)
    assert found.earth is not None
    assert found.earth.lie is not None
    lie, fixes = found.earth.lie, found.earth.fixes

    def residuals(x: np.ndarray) -> list[float]:
        at = {key: (x[2 * n], x[2 * n + 1]) for n, key in enumerate(SQUARE)} | {CORNER: (0, 0), POST: (50, 0)}
        off = [residual(each, at[each.one], at[each.other]) for each in found.used if each.other in SQUARE]
        for key, each in fixes.items():
            east, north = turned(at[key], x[-1])
            off += [(east + x[-3] - each.at[0]) / each.sd_ft, (north + x[-2] - each.at[1]) / each.sd_ft]
        return off

    start = [part for key in SQUARE for part in found.xy(key)] + [*lie.on_earth((0, 0)), lie.turn_deg]
    joint = least_squares(residuals, start, x_scale="jac").x
    assert math.remainder(joint[-1] - lie.turn_deg, 360) == pytest.approx(0, abs=0.01)
    for n, key in enumerate(SQUARE):
        assert math.dist(found.xy(key), joint[2 * n : 2 * n + 2]) < found.at[key].ellipse.half_long_ft / 10


def test_a_photo_that_stands_apart_is_named_and_the_others_tell_north() -> None:
    positions = photographed(SQUARE, turn=37)
    positions[2] = taken(3, "CB-3", (400, 400))
    found = ground(taped(SQUARE, sides=True), positions)
    assert found.earth is not None
    assert [each.key for each, _ in found.earth.apart] == ["CB-3"]
    assert found.north is not None
    assert found.north.way_deg == pytest.approx(37, abs=0.01)
    assert found.at == ground(taped(SQUARE, sides=True)).at


def test_photos_that_fit_only_the_mirror_image_tell_no_north_and_blame_no_photo() -> None:
    """Every side was said from the wrong end."""
    over = {key: (x, -y) for key, (x, y) in SQUARE.items()}
    found = ground(taped(over, sides=True), photographed(SQUARE, error_m=1))
    assert found.earth is not None
    assert (found.earth.turned_over, found.earth.apart, found.north) == (True, [], None)


def favoured(found: Ground) -> dict[str, XY]:
    """What the photos favour."""
    assert found.earth is not None
    return found.earth.favoured


def test_of_two_places_photos_favour_one_where_phones_are_good_enough_and_place_none() -> None:
    near, far = (ground(taped(SQUARE, sides=False), photographed(SQUARE, 37, error)) for error in (1.0, 12.0))
    assert all(math.dist(favoured(near)[key], at) < 0.1 for key, at in SQUARE.items())
    assert favoured(far) == {}
    for each in (near, far):
        assert set(each.at) == {CORNER, POST}
        assert set(each.branch.open) == set(SQUARE)
        assert each.north is None


def test_of_what_runs_join_the_photographed_one_is_told() -> None:
    """The other hangs on its place by a run, and was not photographed: the side of the first settles both."""
    known = {key: SQUARE[key] for key in ("CB-2", "CB-3", "CB-4")}
    entries = [*taped(known, sides=True), *taped({"CB-1": (10, 40), "CB-5": (50, 40)}, sides=False)[2:]]
    entries.append(bent("R-1", "CB-1", "CB-5", 40))
    found = ground(entries, photographed(known | {"CB-1": (10, 40)}, error_m=1))
    assert set(found.branch.open) == {"CB-1", "CB-5"}
    assert set(favoured(found)) == {"CB-1"}
    assert math.dist(favoured(found)["CB-1"], (10, 40)) < 0.1
    assert favoured(ground(entries, photographed(known, error_m=1))) == {}


# -- what is told


TOLD = ("photo_place", "photo_north", "photo_only")


def told(
    entries: Sequence[Entry], positions: Sequence[Position], checks: Sequence[str] = TOLD, subject: str = ""
) -> list[Finding]:
    photos = [
        Photo(number=each.photo, about=each.about, backfill="open", lat=each.lat, lon=each.lon, error_m=each.error_m)
        for each in positions
    ]
    found = check(record_of(entries), photos=photos)
    return [each for each in found if each.check in checks and subject in ("", each.subject)]


def test_by_photos_alone_places_are_told_to_metres_and_none_is_drawn() -> None:
    entries, positions = (
        [structure("CB-1"), structure("CB-2")],
        [taken(1, "CB-1", (0, 0), 4), taken(2, "CB-2", (90, 0), None)],
    )
    one, other = told(entries, positions)
    assert (one.check, one.subject, one.outcome) == ("photo_only", "CB-1", "ok")
    assert one.message == (
        "Catch basin 1 is known by the position of photo 1 alone, to 34 feet (11 m) on any side 95 times in 100; it is "
        "not drawn to scale by that."
    )
    assert other.message.startswith("Catch basin 2 is known by the position of photo 2 alone, to 81 feet (25 m)")
    assert "if its phone does no worse than is common, as it states no error" in other.message
    assert ground(entries, positions).at == {}


def test_north_a_photo_apart_and_photos_unlike_are_told() -> None:
    positions = [*photographed(SQUARE, turn=37), taken(6, "CB-5", (400, 0))]
    positions[2] = taken(3, "CB-3", (400, 400))
    scattered, apart, north = told(taped(SQUARE, sides=True), positions)
    assert (scattered.subject, scattered.outcome) == ("CB-5", "attention")
    assert scattered.message.startswith(
        "Photos 5 and 6 were taken too far from each other to show catch basin 5 alike;"
    )
    assert (apart.subject, apart.outcome, apart.evidence) == ("CB-3", "attention", [])
    assert apart.message.startswith("Photo 3 was taken ")
    assert "No tape was moved for it." in apart.message
    assert (north.check, north.outcome) == ("photo_north", "ok")
    within = math.ceil(north.computed or 0)
    assert north.message == f"North is told by the positions of photos 1, 2 and 4, ± {within} degrees 95 times in 100."


@pytest.mark.parametrize(("off", "outcome"), [(10, "ok"), (90, "attention")])
def test_a_bearing_that_photos_contradict_is_told(off: float, outcome: str) -> None:
    entries = [point(CORNER), point(POST, (CORNER, 50, 90)), *taped(SQUARE, sides=True)[2:]]
    (north,) = told(entries, photographed(SQUARE, turn=off))
    assert (north.check, north.outcome, round(north.computed or 0)) == ("photo_north", outcome, off)
    assert ("; until then no north is drawn" in north.message) == (outcome == "attention")


def test_photos_that_do_not_fit_are_told_and_what_would_mend_it() -> None:
    few = {key: SQUARE[key] for key in ("CB-1", "CB-2")}
    positions = [taken(1, "CB-1", (0, 0)), taken(2, "CB-2", (500, 0))]
    (contradicting,) = told(taped(few, sides=True), positions)
    assert contradicting.message == (
        "The positions of photos 1 and 2 do not fit the tapes, and nothing tells which of them are wrong. North is not "
        "taken from them."
    )
    over = {key: (x, -y) for key, (x, y) in SQUARE.items()}
    (contradicting,) = told(taped(over, sides=True), photographed(SQUARE, error_m=1))
    assert "fit only if the plan is turned over; check the sides that were said" in contradicting.message


def test_of_two_places_the_finding_tells_which_the_photos_favour_and_asks_for_the_side() -> None:
    (side,) = told(taped(SQUARE, sides=False), photographed(SQUARE, error_m=1), ("tie_side",), "CB-2")
    assert side.outcome == "attention"
    assert side.message.startswith(f"Catch basin 2 can lie in 2 places, on either side of the line from {CORNER} to ")
    assert f"; say whether it lies left or right, looking from {CORNER} to {POST}" in side.message
    assert side.message.endswith(
        f" The positions of photos, photo 2 of it among them, favour the one left of the line from {CORNER} to {POST}; "
        "it is not drawn by them, as one may be false."
    )
    (bare,) = told(taped(SQUARE, sides=False), photographed(SQUARE, error_m=12), ("tie_side",), "CB-2")
    assert (bare.outcome, "photo" in bare.message) == ("unknown", False)


def test_of_two_places_on_one_side_of_the_tapes_the_favoured_one_is_told_by_a_distance() -> None:
    """One tape and a run: nothing but the post tells the places apart."""
    known = {key: SQUARE[key] for key in ("CB-2", "CB-3", "CB-4", "CB-5")}
    entries = [*taped(known, sides=True), structure("CB-1", (CORNER, math.hypot(60, 20)))]
    entries.append(bent("R-1", "CB-1", "CB-5", math.hypot(10, 60)))
    (side,) = told(entries, photographed(known | {"CB-1": (60, 20)}, error_m=1), ("tie_side",), "CB-1")
    assert f" favour the one {math.hypot(10, 20):.1f} feet from {POST};" in side.message


def test_no_finding_tells_a_coordinate() -> None:
    found = told(taped(SQUARE, sides=True), photographed(SQUARE))
    assert found
    assert not any(word in each.message for each in found for word in ("45.", "93."))


# -- many yards


@dataclass
class Count:
    """What became of many yards."""

    basins: int = 0
    favoured: int = 0
    """Of two places one, by photos."""
    wrong: int = 0
    """Of these and of what is placed."""
    north: int = 0
    north_held: int = 0
    apart: int = 0
    blamed: int = 0
    """Photos said to stand apart that do not."""


def many(
    seed: int, yards: int, *, sides: float, error_m: float | None, false: int = 0, sd_m: float | None = None
) -> Count:
    """Yards of five basins with normal errors, of which a share has its side said, seen by a phone whose errors are as
    it states, in some `false` photos 60 to 300 feet away."""
    random_, count = random.Random(seed), Count()
    for _ in range(yards):
        wide, turn = random_.uniform(25, 50), random_.uniform(-180, 180)
        true = {
            f"CB-{n}": (random_.uniform(-40, wide + 40), random_.choice((1, -1)) * random_.uniform(5, 60))
            for n in range(1, 6)
        }
        entries: list[Entry] = [point(CORNER), point(POST, (CORNER, round(wide + NORMAL(random_), 2)))]
        positions, wrong = [], random_.sample(list(true), false)
        for n, (label, at) in enumerate(true.items(), 1):
            tapes = [
                (p, max(round(math.dist((x, 0), at) + NORMAL(random_), 2), 0.25))
                for p, x in ((CORNER, 0), (POST, wide))
            ]
            side = ("left" if at[1] > 0 else "right",) if random_.random() < sides else ()
            entries.append(structure(label, (*tapes[0], *side), tapes[1]))
            back, way, sd = random_.uniform(0, 10), random_.uniform(0, 2 * math.pi), (sd_m or error_m or 0) / FOOT_M
            far = random_.uniform(60, 300) if label in wrong else 0.0
            east, north = turned(at, turn)
            east += (back + far) * math.sin(way) + random_.gauss(0, sd)
            north += (back + far) * math.cos(way) + random_.gauss(0, sd)
            positions.append(taken(n, label, (east, north), error_m))
        found = ground(entries, positions)
        assert found.earth is not None
        count.basins += len(true)
        count.favoured += len(found.earth.favoured)
        at = {key: found.xy(key) for key in found.at} | found.earth.favoured
        count.wrong += sum(math.dist(at[key], true[key]) > 3 for key in set(true) & set(at))
        if found.earth.north and found.earth.lie is not None:
            count.north += 1
            count.north_held += abs(math.remainder(found.earth.lie.turn_deg - turn, 360)) <= found.earth.within_deg
        count.apart += len(found.earth.apart)
        count.blamed += sum(fix.key not in wrong for fix, _ in found.earth.apart)
    return count


def test_north_by_phones_that_state_three_metres() -> None:
    found = many(31, 200, sides=1, error_m=3)
    assert (found.wrong, found.apart) == (0, 0)
    assert found.north >= 0.9 * 200
    assert found.north_held >= 0.92 * found.north


def test_phones_that_state_ten_metres_or_nothing_tell_no_north_in_a_yard() -> None:
    assert many(32, 50, sides=1, error_m=10).north == 0
    assert many(32, 50, sides=1, error_m=None, sd_m=5).north == 0


def test_one_false_photo_is_named_and_never_another() -> None:
    found = many(33, 200, sides=1, error_m=3, false=1)
    assert (found.wrong, found.blamed) == (0, 0)
    assert found.apart >= 0.8 * 200


def test_mirror_places_are_told_apart_by_good_phones_and_by_no_others() -> None:
    good, common, poor = (many(34, 100, sides=0, error_m=error) for error in (1, 3, 10))
    assert good.favoured >= 0.5 * good.basins
    assert good.favoured > common.favoured
    assert poor.favoured == 0
    assert good.wrong + common.wrong == 0


def test_one_false_photo_where_no_side_was_said_hardly_favours_a_mirror_place() -> None:
    """It may favour a place of its own basin, so nothing is drawn by it; one in a hundred at the most."""
    found = many(35, 100, sides=0, error_m=3, false=1)
    assert found.wrong <= 0.01 * found.basins


def test_half_the_sides_said_help_the_other_half() -> None:
    bare, half = many(36, 100, sides=0, error_m=3), many(36, 100, sides=0.5, error_m=3)
    assert half.favoured > bare.favoured  # of half as many that are open
    assert half.wrong <= 0.002 * half.basins


def test_a_way_that_places_nothing_photographed_settles_nothing() -> None:
    """Of one basin's two places only one leads on to the basin that was photographed."""
    entries: list[Entry] = [
        point(CORNER),
        point(POST, (CORNER, 28.71)),
        structure("CB-1", (CORNER, 58.79, "right"), (POST, 65.94)),
        structure("CB-3", (CORNER, 73.55), (POST, 57.26), ("CB-1", 54.6)),
        structure("CB-4", (CORNER, 16.76), (POST, 18.49), ("CB-3", 56.81)),
    ]
    assert ground(entries, [taken(1, "CB-3", (0, 0), 1.0)]).earth is not None


def test_whatever_was_taped_between_basins_and_photographed_nothing_raises() -> None:
    """Each from two or three of what was taped before it: corner, post or basin."""
    random_ = random.Random(41)
    for _ in range(120 if WHOLE else 40):
        true = {f"CB-{n}": (random_.uniform(-60, 90), random_.uniform(-70, 70)) for n in range(1, 6)}
        at = {CORNER: (0.0, 0.0), POST: (random_.uniform(20, 50), 0.0)} | true
        entries: list[Entry] = [point(CORNER), point(POST, (CORNER, round(at[POST][0], 2)))]
        for n, label in enumerate(true, 2):
            starts = random_.sample(list(at)[:n], random_.randint(2, min(n, 3)))
            off = random_.choice((0.0, 0.1, 5.0))
            tapes = [
                (key, max(round(math.dist(at[key], at[label]) + random_.gauss(0, off), 2), 0.25)) for key in starts
            ]
            entries.append(structure(label, *tapes))
        seen = random_.sample(list(true), random_.randint(1, 5))
        error = random_.choice((0.5, 1.0, 3.0))
        assert ground(entries, [taken(n, key, at[key], error) for n, key in enumerate(seen, 1)]).earth is not None
