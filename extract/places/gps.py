"""Where photos were taken, laid on what was taped: which way north is, which photo stands apart, and which of two
places the photos favour.

Tapes are a hundred times better than phones. So the tapes hold the shape, and the photos' positions, with the errors of
both, tell how it lies on the earth by weighted least squares: a shift and a turn, and no stretch and no mirror image.
What was taped is not moved, and nothing is placed by photos.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from itertools import combinations, product
from statistics import fmean, median

from extract.check.places import FOOT_M
from extract.check.policy import Policy
from extract.places.adjust import ALIKE_FT, FITS, FITS_MORE, NORMAL_95, SURE, WITHIN_95, Ellipse
from extract.places.circles import XY
from extract.places.measures import table

SEMI_MAJOR_M = 6_378_137.0
"""Half the equator's width."""
FLATTENING = 1 / 298.257223563
"""Both: WGS 84. Source: NIMA TR8350.2, third edition, table 3.1 (from memory)."""
MOST_ERROR_M = 1000.0
"""A phone that is off by more has no fix of satellites, and its position tells nothing of a yard. Common practice."""
LEAST = 3
"""With fewer things photographed a false position could not be told from a true one, and north is not taken."""
MOST_WAYS = 64
Ways = Sequence[Mapping[str, XY]]
"""The ways in which a group of things can lie, each with the place of every thing."""


@dataclass(frozen=True)
class Position:
    """Where a photo of something was taken."""

    photo: int
    about: str
    """The label of what it shows."""
    lat: float
    lon: float
    """Degrees, WGS 84."""
    error_m: float | None


@dataclass(frozen=True)
class Fix:
    """Where a thing lies by its photos."""

    key: str
    photos: tuple[int, ...]
    at: XY
    """Feet east and north of the middle of all photos."""
    sd_ft: float
    """Standard deviation of each axis."""
    stated: bool
    """Whether every photo states its error."""

    @property
    def ellipse(self) -> Ellipse:
        half = math.sqrt(WITHIN_95) * self.sd_ft
        return Ellipse(half, half, 0.0)


@dataclass(frozen=True)
class Lie:
    """How the tapes' axes lie on the earth: a place on the tapes' axes, turned counterclockwise, then shifted."""

    middle: XY
    """Of the things photographed, by tape."""
    earth: XY
    """Where that lies, feet east and north."""
    turn_deg: float
    """So the way north is so many degrees clockwise from y."""
    turn_sd_deg: float
    misfit: float
    """The sum of squared residuals over their standard deviations."""

    def on_earth(self, at: XY) -> XY:
        """A place on the tapes' axes in feet east and north."""
        turn = math.radians(self.turn_deg)
        x, y = at[0] - self.middle[0], at[1] - self.middle[1]
        east, north = x * math.cos(turn) - y * math.sin(turn), x * math.sin(turn) + y * math.cos(turn)
        return self.earth[0] + east, self.earth[1] + north


@dataclass
class Earth:
    """What the photos' positions tell of where things lie."""

    fixes: dict[str, Fix]
    lie: Lie | None = None
    """None where there is nothing taped to lay on the earth, or the photos do not fit it."""
    laid: list[Fix] = field(default_factory=list)
    """What it rests on."""
    north: bool = False
    """Whether the lie is good enough to tell north."""
    apart: list[tuple[Fix, float]] = field(default_factory=list)
    """Photos that stand apart from the tapes, all others fitting them, and by how many feet."""
    contradicting: list[Fix] = field(default_factory=list)
    """Photos that do not fit the tapes, where nothing tells which of them are wrong."""
    turned_over: bool = False
    """Whether these would fit the tapes' mirror image."""
    favoured: dict[str, XY] = field(default_factory=dict)
    """Of things that can lie in several places by tape, the one that the photos rule out all others for."""
    scattered: dict[str, tuple[int, ...]] = field(default_factory=dict)
    """Things whose own photos were taken too far from each other, which gives no fix."""

    @property
    def within_deg(self) -> float:
        """How far north may be off, 95 times in 100."""
        return math.inf if self.lie is None else NORMAL_95 * self.lie.turn_sd_deg


# -- positions to fixes


def earth_of(positions: Sequence[Position], names: Mapping[str, str], policy: Policy) -> Earth:
    """The photos' positions of what has a name in the survey, on a plane about their middle. Positions that are no
    numbers, or good to no yard, are passed over."""
    taken: dict[str, list[Position]] = {}
    for each in positions:
        near = each.error_m is None or each.error_m <= MOST_ERROR_M
        if near and each.about in names and abs(each.lat) <= 90 and abs(each.lon) <= 180:
            taken.setdefault(each.about, []).append(each)
    found = Earth({})
    if not taken:
        return found
    all_of = [each for group in taken.values() for each in group]
    plane = _Plane.about(all_of)
    for key, group in taken.items():
        places, sds = [plane.feet(each) for each in group], [_sd_ft(each, policy) for each in group]
        photos = tuple(each.photo for each in group)
        if any(_far((one, a), (other, b)) for (one, a), (other, b) in combinations(zip(places, sds, strict=True), 2)):
            found.scattered[key] = photos
            continue
        # Photos of one phone, minutes apart, are off alike: together they are no better than the worst of them.
        stated = all(_told(each.error_m) for each in group)
        found.fixes[key] = Fix(
            key, photos, (fmean(x for x, _ in places), fmean(y for _, y in places)), max(sds), stated
        )
    return found


@dataclass(frozen=True)
class _Plane:
    """An equirectangular map about a place: feet east and north, by the ellipsoid's radii of curvature there.

    Source: the radii of the meridian and of the prime vertical, any textbook of geodesy (from memory).
    """

    lat: float
    lon: float

    @classmethod
    def about(cls, positions: Sequence[Position]) -> _Plane:
        """About the median, since one false position far away would carry the mean with it."""
        first = positions[0].lon
        lon = first + median(math.remainder(each.lon - first, 360) for each in positions)
        return cls(median(each.lat for each in positions), lon)

    def feet(self, at: Position) -> XY:
        square = FLATTENING * (2 - FLATTENING)
        lat = math.radians(self.lat)
        bulge = 1 - square * math.sin(lat) ** 2
        across, along = SEMI_MAJOR_M / math.sqrt(bulge), SEMI_MAJOR_M * (1 - square) / bulge**1.5
        east = math.radians(math.remainder(at.lon - self.lon, 360)) * across * math.cos(lat)
        return east / FOOT_M, math.radians(at.lat - self.lat) * along / FOOT_M


def _sd_ft(position: Position, policy: Policy) -> float:
    """Of each axis: the phone's own error, and that one stands back from what one photographs.

    One stands anywhere up to half of what the policy allows for two ends of a run, on any side, so that each axis is
    off by the reach over the root of six. No place is better than a tape would make it.
    """
    own = position.error_m if _told(position.error_m) else table()["gps"]["unstated_m"]
    return math.hypot(float(own or 0) / FOOT_M, policy["photo_reach_ft"] / 2 / math.sqrt(6), policy["tape_sd_ft"])


def _told(error_m: float | None) -> bool:
    """Whether a photo states its error; a zero is none."""
    return error_m is not None and error_m > 0


def _far(one: tuple[XY, float], other: tuple[XY, float]) -> bool:
    """Whether two places with those standard deviations cannot well be one."""
    return math.dist(one[0], other[0]) ** 2 > FITS * (one[1] ** 2 + other[1] ** 2)


# -- fixes and tapes


def lie_of(fixes: Sequence[Fix], at: Mapping[str, XY], mirrored: bool = False) -> Lie:
    """How those places lie on the earth, by weighted least squares; of their mirror image where asked for.

    Source: a rotation and a shift that carry one set of points to another, in closed form: the Helmert transformation
    of the plane with its scale held at one (from memory).
    """
    weights = [1 / each.sd_ft**2 for each in fixes]
    taped = [(-at[each.key][0], at[each.key][1]) if mirrored else at[each.key] for each in fixes]
    middle, earth = _middle(taped, weights), _middle([each.at for each in fixes], weights)
    along = across = spread = wide = 0.0
    for (x, y), fix, weight in zip(taped, fixes, weights, strict=True):
        x, y, east, north = x - middle[0], y - middle[1], fix.at[0] - earth[0], fix.at[1] - earth[1]
        along += weight * (x * east + y * north)
        across += weight * (x * north - y * east)
        wide += weight * (x**2 + y**2)
        spread += weight * (east**2 + north**2)
    turn = math.degrees(math.atan2(across, along))
    sd = math.degrees(1 / math.sqrt(wide)) if wide > 0 else math.inf
    return Lie(middle, earth, turn, sd, max(wide + spread - 2 * math.hypot(along, across), 0.0))


def _middle(places: Sequence[XY], weights: Sequence[float]) -> XY:
    total = sum(weights)
    return (
        sum(weight * x for weight, (x, _) in zip(weights, places, strict=True)) / total,
        sum(weight * y for weight, (_, y) in zip(weights, places, strict=True)) / total,
    )


def fits(lie: Lie, count: int) -> bool:
    """Whether so many fixes meet the tapes. Each gives two measures; a shift and a turn take three."""
    return lie.misfit <= FITS + FITS_MORE * max(2 * count - 4, 0)


def lay(earth: Earth, at: Mapping[str, XY], ellipses: Mapping[str, Ellipse]) -> Earth:
    """The tapes' axes laid on the earth by the fixes of what was taped, without those that stand apart."""
    fixes = [_with(each, ellipses[key]) for key, each in earth.fixes.items() if key in at]
    if not fixes:
        return earth
    kept, apart = _agreeing(fixes, at)
    if not kept:
        earth.contradicting = fixes
        mirror = lie_of(fixes, at, mirrored=True)
        earth.turned_over = len(fixes) >= LEAST and fits(mirror, len(fixes))
        return earth
    lie = lie_of(kept, at)
    earth.lie, earth.laid = lie, kept
    earth.apart = [(each, math.dist(lie.on_earth(at[each.key]), each.at)) for each in apart]
    earth.north = len(kept) >= LEAST and earth.within_deg <= north_within_deg()
    return earth


def north_within_deg() -> float:
    """Where north is known no better than this 95 times in 100, photos do not tell it; so far off a compass may be."""
    return float(table()["gps"]["north_within_deg"])


def _with(fix: Fix, ellipse: Ellipse) -> Fix:
    """With the error of the taped place in its own."""
    sd = math.hypot(fix.sd_ft, ellipse.half_long_ft / math.sqrt(WITHIN_95))
    return Fix(fix.key, fix.photos, fix.at, sd, fix.stated)


def _agreeing(fixes: Sequence[Fix], at: Mapping[str, XY]) -> tuple[list[Fix], list[Fix]]:
    """Those that fit, and those that stand apart; none that fit where it cannot be told which is which."""
    kept, apart = list(fixes), list[Fix]()
    while not fits(lie_of(kept, at), len(kept)):
        # The mirror image is another account of why they do not fit, and no photo is to blame for it.
        if len(kept) < LEAST or (not apart and fits(lie_of(kept, at, mirrored=True), len(kept))):
            return [], []
        without = sorted(
            ((lie_of([each for each in kept if each is not gone], at).misfit, gone) for gone in kept),
            key=lambda each: each[0],
        )
        if without[1][0] < without[0][0] + SURE or 2 * (len(apart) + 1) >= len(fixes):
            return [], []
        kept.remove(without[0][1])
        apart.append(without[0][1])
    return kept, apart


# -- which of two places the photos favour


def decided(earth: Earth, at: Mapping[str, XY], ways: Sequence[Ways]) -> dict[str, XY]:
    """The places of things that can lie in more than one, where the photos rule out all others; where they do not, or
    do not fit each other, the thing is left out."""
    found: dict[str, XY] = {}
    ways = [each for each in ways if any(key in earth.fixes for way in each for key in way)]
    taped = [fix for key, fix in earth.fixes.items() if key in at]
    sound, _ = _agreeing(taped, at) if len(taped) > 1 else (taped, [])
    if taped and not sound:
        return {}
    more = True
    while ways and more:
        more = False
        for group in _portions(ways):
            settled = _surely([*sound, *(f for k, f in earth.fixes.items() if k not in at)], {**at, **found}, group)
            fresh = {key: place for key, place in settled.items() if key not in found}
            found, more = found | fresh, more or bool(fresh)
        ways = [each for each in ways if not any(key in found for way in each for key in way)]
    return found


def _portions(ways: Sequence[Ways]) -> Iterator[Sequence[Ways]]:
    """As many groups at a time as have no more ways together than `MOST_WAYS`; a group with more stands alone. All
    ways of a portion are tried, since one left untried would rule nothing out."""
    portion: list[Ways] = []
    for each in ways:
        if portion and math.prod(map(len, portion)) * len(each) > MOST_WAYS:
            yield portion
            portion = []
        portion.append(each)
    yield portion


def _surely(fixes: Sequence[Fix], at: Mapping[str, XY], ways: Sequence[Ways]) -> dict[str, XY]:
    """What is settled, and would be settled alike without any one photo of something else: where many things can lie
    in two places, some way can be found to suit one false photo."""
    found = _settled(fixes, at, ways)
    for gone in fixes if found else ():
        less = _settled([each for each in fixes if each is not gone], at, ways)
        found = {
            key: place
            for key, place in found.items()
            if key == gone.key or (key in less and math.dist(place, less[key]) <= ALIKE_FT)
        }
    return found


def _settled(fixes: Sequence[Fix], at: Mapping[str, XY], ways: Sequence[Ways]) -> dict[str, XY]:
    """What is the same in all ways that are not ruled out; nothing where no way fits."""
    tried: list[tuple[float, dict[str, XY]]] = []
    for each in product(*ways):
        places = {key: place for way in each for key, place in way.items()}
        whole = {**at, **places}
        seen = [fix for fix in fixes if fix.key in whole]
        if len(seen) >= LEAST and fits(lie := lie_of(seen, whole), len(seen)):
            tried.append((lie.misfit, places))
    if not tried:
        return {}
    best = min(misfit for misfit, _ in tried)
    left = [places for misfit, places in tried if misfit <= best + SURE]
    return {
        key: place
        for key, place in left[0].items()
        if all(key in other and math.dist(place, other[key]) <= ALIKE_FT for other in left)
    }
