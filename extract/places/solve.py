"""Where things lie: from what was taped, said and sighted to places, or to why there is none.

A frame comes first: coordinates said, else the line between two fixed points. Then each thing is placed by what ties
it to what is placed already; its tapes come before run lengths, which are rougher. Two tapes meet in two places. Which
of them is meant must be decided by a side, a third tape or the length of a run whose bends were told; where nothing
decides, all is worked out for both, and only what comes out alike in either stands.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from itertools import combinations
from typing import Literal

from extract.check.policy import Policy
from extract.check.saying import feet
from extract.places.adjust import ALIKE_FT, FITS, FITS_MORE, SURE, Ellipse, adjust, ellipse_of, misfit, residual
from extract.places.circles import XY, azimuth_of, direction, off_line, sight_meets_tape, tapes_meet
from extract.places.gps import Earth, Position, decided, earth_of, lay, north_within_deg
from extract.places.measures import Measure, Survey, side_of
from extract.record import FixedPoint

MOST_BRANCHES = 32
COMPASS = {"north": 0.0, "east": 90.0, "south": 180.0, "west": 270.0}
LEAST_ACROSS = 0.3
"""A line that runs within some 17 degrees of north has no north side."""
FRAME_SD_DEG = 0.005
"""How firmly the first line holds its direction, which it gives to all others."""


@dataclass(frozen=True)
class Doubt:
    """Measures of one thing that do not fit each other, and by how much each would have to be out alone, in its unit:
    what was said less what the others give. None may be named: then no single one explains it."""

    key: str
    measures: tuple[Measure, ...]
    out: tuple[tuple[Measure, float], ...]


@dataclass
class Branch:
    """One way in which all could lie."""

    known: dict[str, XY]
    dropped: list[Doubt] = field(default_factory=list)
    """One tape each that was left out, as it alone does not fit."""
    doubts: dict[str, Doubt] = field(default_factory=dict)
    against: dict[str, Measure] = field(default_factory=dict)
    """Things whose side as said is none of their places'."""
    chosen: dict[str, str] = field(default_factory=dict)
    """What decided between two places: `side`, `tape` or `run`."""
    open: dict[str, list[XY]] = field(default_factory=dict)
    """The places that are possible, where nothing decides."""
    ways: list[list[dict[str, XY]]] = field(default_factory=list)
    """Of each group of such things, the ways in which all of it can lie."""
    weak: dict[str, Ellipse] = field(default_factory=dict)
    """Things whose tapes run too nearly in one line."""
    misfit: float = 0.0

    @property
    def wrong(self) -> int:
        return len(self.doubts) + len(self.against) + len(self.dropped)

    def places(self, key: str) -> list[XY]:
        """Where a thing can lie."""
        return [self.known[key]] if key in self.known else self.open.get(key, [])

    def copy(self) -> Branch:
        return replace(self, **{name: type(value)(value) for name, value in vars(self).items() if name != "misfit"})


@dataclass(frozen=True)
class Place:
    x_ft: float
    y_ft: float
    ellipse: Ellipse


@dataclass(frozen=True)
class North:
    way_deg: float
    """Degrees clockwise from y."""
    within_deg: float
    """How far it may be off, 95 times in 100."""
    by: Literal["bearing", "photos"]


@dataclass(frozen=True)
class Ground:
    """What is known of where things lie. Feet, x to the right and y up; north is up where it is known by a bearing."""

    survey: Survey
    at: dict[str, Place]
    """By key: structure labels and fixed points."""
    north_deg: float | None
    """The way north, degrees clockwise from y; None where no bearing tells it."""
    branch: Branch
    frame: tuple[str, ...]
    """The points that all else is measured from: two, or all whose coordinates were said; none without a frame."""
    used: list[Measure]
    """The measures between things placed that fit."""
    left_out: list[tuple[Measure, float]]
    """Measures of things placed that do not fit, and what was said less what the places give."""
    earth: Earth | None = None
    """What the positions of photos tell; None where none was given."""

    @property
    def north(self) -> North | None:
        """The way north by a bearing, else by the positions of photos where these are good enough; None where neither
        tells it, or where both do and contradict each other."""
        if self.north_contradicted:
            return None
        return self._by_bearing or self._by_photos

    @property
    def north_off_deg(self) -> float | None:
        """How far the bearing's north lies from the photos'; None where not both tell it."""
        bearing, photos = self._by_bearing, self._by_photos
        return abs(math.remainder(bearing.way_deg - photos.way_deg, 360)) if bearing and photos else None

    @property
    def north_contradicted(self) -> bool:
        """Whether bearing and photos tell north farther apart than both may be off."""
        bearing, photos, off = self._by_bearing, self._by_photos, self.north_off_deg
        return bool(bearing and photos and off and off > bearing.within_deg + photos.within_deg)

    @property
    def _by_bearing(self) -> North | None:
        return None if self.north_deg is None else North(self.north_deg, north_within_deg(), "bearing")

    @property
    def _by_photos(self) -> North | None:
        if self.earth is None or not self.earth.north or self.earth.lie is None:
            return None
        return North(self.earth.lie.turn_deg, self.earth.within_deg, "photos")

    def xy(self, key: str) -> XY:
        return self.at[key].x_ft, self.at[key].y_ft


def ground_of(survey: Survey, policy: Policy, positions: Sequence[Position] = ()) -> Ground:
    """Every place that the survey gives. Pure; whatever was said, it raises nothing.

    `positions` are where photos of things were taken. They place nothing and move nothing that was taped: they tell how
    it lies on the earth, and which of two places they favour where they are good enough for that.
    """
    found = _by_tape(_agreeing(survey), policy)
    earth = earth_of(positions, survey.names, policy)
    if not earth.fixes and not earth.scattered:
        return found
    at = {key: found.xy(key) for key in found.at}
    settled = decided(earth, at, found.branch.ways)
    earth.favoured = {key: place for key, place in settled.items() if key in found.branch.open}
    lay(earth, at, {key: each.ellipse for key, each in found.at.items()})
    return replace(found, earth=earth)


def _by_tape(survey: Survey, policy: Policy) -> Ground:
    """Every place by what was taped."""
    known, north, pin = _frame(survey)
    solver = _Solver(_turned(survey.measures, north), policy, list(survey.names), north)
    branch = solver.solve(Branch(dict(known)))
    used, left_out = solver.fitting(branch)
    places, weak = solver.adjusted(branch, used + pin, fixed=set(survey.given) or set(list(known)[:1]))
    branch.weak |= weak
    return Ground(survey, places, north, branch, tuple(known), used, left_out)


# -- the frame


def _agreeing(survey: Survey) -> Survey:
    """Without the tapes between two fixed points that disagree, where no coordinates tell which is wrong."""
    tapes: dict[frozenset[str], list[Measure]] = {}
    for each in survey.measures:
        if each.kind == "tape" and isinstance(each.entry, FixedPoint):
            tapes.setdefault(frozenset({each.one, each.other}), []).append(each)
    measures, unusable = survey.measures, list(survey.unusable)
    for ends, found in tapes.items():
        short, long = min(found, key=lambda each: each.value), max(found, key=lambda each: each.value)
        if ends <= set(survey.given) or (long.value - short.value) ** 2 <= FITS * (long.sd**2 + short.sd**2):
            continue
        measures = [each for each in measures if not any(each is tape for tape in found)]
        said = " and ".join(f"{each.words} ({feet(each.value)})" for each in found)
        unusable.append((found[0].entry, f"{said} disagree, and nothing tells which is wrong; tape it again"))
    return replace(survey, measures=measures, unusable=unusable)


def _frame(survey: Survey) -> tuple[dict[str, XY], float | None, list[Measure]]:
    """The first places, the way north, and what holds their direction in the adjustment."""
    tapes = [each for each in survey.measures if each.kind == "tape" and isinstance(each.entry, FixedPoint)]
    bearings = {(each.one, each.other): each for each in survey.measures if each.kind == "bearing"}
    if len(survey.given) > 1:
        known = dict(survey.given)
        seen = next((each for key, each in bearings.items() if set(key) <= set(known)), None)
        north = None if seen is None else azimuth_of(known[seen.one], known[seen.other]) - seen.value
        return known, north, []
    given = set(survey.given)
    lines = [each for each in tapes if each.exact and (not given or given & {each.one, each.other})]
    if not lines:
        return (dict(survey.given), None, []) if survey.given else ({}, None, [])
    ties = {key: sum(key in (each.one, each.other) for each in survey.measures) for key in survey.names}
    line = max(
        lines,
        key=lambda each: (
            (each.one, each.other) in bearings,
            {each.one, each.other} <= set(survey.points),
            min(ties[each.one], ties[each.other]),
            each.value,
        ),
    )
    sight = bearings.get((line.one, line.other))
    azimuth = 90.0 if sight is None else sight.value
    start, end = (line.one, line.other) if line.other not in given else (line.other, line.one)
    azimuth = azimuth if start == line.one else (azimuth + 180) % 360
    origin, way = survey.given.get(start, (0.0, 0.0)), direction(azimuth)
    known = {start: origin, end: (origin[0] + line.value * way[0], origin[1] + line.value * way[1])}
    pin = replace(line, kind="bearing", one=start, other=end, value=azimuth, sd=FRAME_SD_DEG)
    return known, None if sight is None else 0.0, [pin]


def _turned(measures: Iterable[Measure], north: float | None) -> list[Measure]:
    """The measures with bearings turned to the sheet; without them where nothing tells north."""
    return [
        replace(each, value=(each.value + (north or 0.0)) % 360) if each.kind == "bearing" else each
        for each in measures
        if each.kind != "bearing" or north is not None
    ]


# -- placing


@dataclass(frozen=True)
class _Fit:
    """The places of one thing that fit best, and how well."""

    places: list[XY]
    misfit: float
    measures: list[Measure]

    @property
    def spare(self) -> int:
        return len(self.measures) - 2

    @property
    def fits(self) -> bool:
        return self.misfit <= FITS + FITS_MORE * max(self.spare - 1, 0)


class _Solver:
    def __init__(self, measures: list[Measure], policy: Policy, order: list[str], north: float | None) -> None:
        self.measures, self.policy, self.order, self.north = measures, policy, order, north

    def solve(self, branch: Branch) -> Branch:
        """Places all that can be, then branches where two places are left."""
        self._settle(branch)
        for group in self._groups(branch):
            self._branch(branch, group)
        return branch

    def _settle(self, branch: Branch, within: frozenset[str] | None = None) -> None:
        """Places one thing after another until nothing more can be placed."""
        if len(branch.known) < 2 and not any(each.kind == "bearing" for each in self.measures):
            return
        moved = True
        while moved:
            moved = False
            for key in self.order:
                if key not in branch.known and (within is None or key in within):
                    moved = self._place(branch, key) or moved

    def _place(self, branch: Branch, key: str) -> bool:
        for name in ("doubts", "against", "weak", "open"):
            getattr(branch, name).pop(key, None)
        own = self._own(branch, key)
        tapes, runs = [each for each in own if each.kind != "run"], _exact_runs(own)
        best = self._fit(tapes, key, branch.known)
        if best is not None and not best.fits and not (best := self._less_one(branch, key, tapes, best)):
            return False
        how = "tape"
        if best is not None:
            best = self._on_side(branch, key, best)
        if (best is None or len(best.places) != 1) and runs:
            with_runs = self._fit([*(best.measures if best else tapes), *runs], key, branch.known)
            if with_runs is not None and with_runs.fits:
                sided = self._on_side(branch, key, with_runs)
                best, how = sided, "run"
            elif with_runs is not None:
                branch.doubts[key] = self._doubt(key, with_runs, branch.known)
        if best is None or key in branch.against:
            return False
        if len(best.places) > 1:
            branch.open[key] = best.places
            return False
        return self._take(branch, key, best, how)

    def _take(self, branch: Branch, key: str, fit: _Fit, how: str) -> bool:
        place = fit.places[0]
        ellipse = ellipse_of(fit.measures, {**branch.known, key: place}, key)
        if ellipse.half_long_ft > self.policy["place_ft"]:
            branch.weak[key] = ellipse
            return False
        branch.known[key] = place
        branch.misfit += fit.misfit
        branch.chosen.setdefault(key, how)
        return True

    def _own(self, branch: Branch, key: str) -> list[Measure]:
        """What ties a thing to what is placed, without what was left out."""
        gone = [measure for doubt in branch.dropped for measure, _ in doubt.out]
        return [
            each
            for each in self.measures
            if each.joins(key) in branch.known and not any(each is other for other in gone)
        ]

    def _fit(self, measures: Sequence[Measure], key: str, known: Mapping[str, XY]) -> _Fit | None:
        """The places that fit these measures about equally well; None where they do not give a place."""
        exact = [each for each in measures if each.exact]
        if len(exact) < 2:
            return None
        tried: list[tuple[float, XY]] = []
        for start in _starts(exact, key, known):
            place, off = start, misfit(measures, {**known, key: start})
            if len(measures) > 2:
                adjusted = adjust(measures, {**known, key: start}, [key])
                place, off = adjusted.at[key], adjusted.misfit
            if all(math.dist(place, other) > ALIKE_FT for _, other in tried):
                tried.append((off, place))
        if not tried:
            return None
        tried.sort()
        places = [place for off, place in tried if off <= tried[0][0] + SURE]
        return _Fit(places, tried[0][0], list(measures))

    def _less_one(self, branch: Branch, key: str, tapes: list[Measure], fit: _Fit) -> _Fit | None:
        """The fit without the one tape that is out; None where it cannot be told which one it is."""
        doubt = self._doubt(key, fit, branch.known)
        if len(doubt.out) != 1:
            branch.doubts[key] = doubt
            return None
        rest = [each for each in tapes if each is not doubt.out[0][0]]
        branch.dropped.append(doubt)
        return self._fit(rest, key, branch.known)

    def _doubt(self, key: str, fit: _Fit, known: Mapping[str, XY]) -> Doubt:
        """Which of the measures, left out alone, lets the others agree."""
        out = []
        for each in fit.measures:
            rest = [other for other in fit.measures if other is not each]
            less = self._fit(rest, key, known)
            if less is not None and less.fits:
                errors = [residual(each, *_ends(each, key, place, known)) * each.sd for place in less.places]
                out.append((each, min(errors, key=abs)))
        return Doubt(key, tuple(fit.measures), tuple(out))

    # -- sides

    def _on_side(self, branch: Branch, key: str, fit: _Fit) -> _Fit:
        """The places on the side that was said; all of them where no side was, or where it tells nothing."""
        told = [each for each in fit.measures if each.other == key and side_of(each.side)]
        left = fit.places
        for each in told:
            right = [place for place in left if self._agrees(key, each, fit.measures, place, branch.known) is not False]
            if not right:
                branch.against[key] = each
                return fit
            if len(right) < len(left):
                branch.chosen[key] = "side"
            left = right
        return replace(fit, places=left)

    def _agrees(
        self, key: str, tie: Measure, measures: Sequence[Measure], place: XY, known: Mapping[str, XY]
    ) -> bool | None:
        """Whether a place of a thing lies on the side of its tie; None where the side does not tell."""
        start, side = known[tie.one], side_of(tie.side)
        ends = [each.joins(key) for each in measures if each.kind == "tape"]
        others = [known[end] for end in ends if end is not None and end != tie.one]
        found = {_sided(side or "", start, end, place, self.north) for end in others}
        return found.pop() if len(found) == 1 else None

    # -- branching

    def _groups(self, branch: Branch) -> list[frozenset[str]]:
        """What is not placed yet, in groups that hang together."""
        left = [key for key in self.order if key not in branch.known]
        groups: list[set[str]] = [{key} for key in left]
        for each in self.measures:
            touched = [group for group in groups if group & {each.one, each.other}]
            if len(touched) == 2:
                touched[0].update(touched[1])
                groups.remove(touched[1])
        return [frozenset(group) for group in groups]

    def _branch(self, branch: Branch, group: frozenset[str]) -> None:
        """Works a group out for each place that its first doubtful thing can have; what comes out alike stands."""
        leaves = self._leaves(branch, group, MOST_BRANCHES)
        if len(leaves) < 2:
            return
        fewest = min(leaf.wrong for leaf in leaves)
        leaves = [leaf for leaf in leaves if leaf.wrong == fewest]
        best = min(leaf.misfit for leaf in leaves)
        leaves = [leaf for leaf in leaves if leaf.misfit <= best + SURE]
        if len(leaves) == 1:
            for name in vars(branch):
                setattr(branch, name, getattr(leaves[0], name))
            return
        branch.dropped, branch.doubts = leaves[0].dropped, branch.doubts | leaves[0].doubts
        branch.ways.append([{key: leaf.known[key] for key in group & set(leaf.known)} for leaf in leaves])
        for key in group:
            spots = _distinct(place for leaf in leaves for place in leaf.places(key))
            if len(spots) == 1 and all(key in leaf.known for leaf in leaves):
                branch.known[key] = spots[0]
                branch.open.pop(key, None)
            elif spots:
                branch.open[key] = spots

    def _leaves(self, branch: Branch, group: frozenset[str], most: int) -> list[Branch]:
        first = next((key for key in self.order if key in group and key in branch.open), None)
        if first is None or most < 2:
            return [branch]
        leaves: list[Branch] = []
        for place in branch.open[first]:
            leaf = branch.copy()
            leaf.known[first] = place
            leaf.open.pop(first)
            leaf.chosen[first] = "run"
            self._settle(leaf, group)
            leaves += self._leaves(leaf, group, most // 2)
        return leaves

    # -- all together

    def fitting(self, branch: Branch) -> tuple[list[Measure], list[tuple[Measure, float]]]:
        """The measures between things placed that fit, and those that do not with how far they are out."""
        gone = [measure for doubt in branch.dropped for measure, _ in doubt.out]
        used, out = [], []
        for each in self.measures:
            if each.one not in branch.known or each.other not in branch.known:
                continue
            off = residual(each, branch.known[each.one], branch.known[each.other])
            if any(each is other for other in gone):
                continue
            if abs(off) <= math.sqrt(FITS):
                used.append(each)
            else:
                out.append((each, off * each.sd))
        return used, out

    def adjusted(
        self, branch: Branch, measures: list[Measure], fixed: set[str]
    ) -> tuple[dict[str, Place], dict[str, Ellipse]]:
        """All places adjusted together, and those too unsure to stand."""
        free = [key for key in branch.known if key not in fixed]
        sure = Ellipse(0.0, 0.0, 0.0)
        if not free:
            return {key: Place(*at, sure) for key, at in branch.known.items()}, {}
        found = adjust(measures, branch.known, free)
        places = {key: Place(*branch.known[key], sure) for key in branch.known if key in fixed}
        weak = {key: each for key, each in found.ellipses.items() if each.half_long_ft > self.policy["place_ft"]}
        places |= {key: Place(*at, found.ellipses[key]) for key, at in found.at.items() if key not in weak}
        return places, weak


def _exact_runs(measures: Iterable[Measure]) -> list[Measure]:
    """The runs that give a distance; a mere bound of one chooses no place."""
    return [each for each in measures if each.kind == "run" and each.exact]


def _ends(measure: Measure, key: str, place: XY, known: Mapping[str, XY]) -> tuple[XY, XY]:
    return (place, known[measure.other]) if measure.one == key else (known[measure.one], place)


def _starts(exact: Sequence[Measure], key: str, known: Mapping[str, XY]) -> list[XY]:
    """Where each two of the measures meet."""
    found: list[XY] = []
    for one, other in combinations(exact, 2):
        if one.kind != "bearing" and other.kind != "bearing":
            found += tapes_meet(known[str(one.joins(key))], one.value, known[str(other.joins(key))], other.value)
        elif (one.kind == "bearing") != (other.kind == "bearing"):
            sight, tape = (one, other) if one.kind == "bearing" else (other, one)
            azimuth = sight.value if sight.other == key else sight.value + 180
            found += sight_meets_tape(known[str(sight.joins(key))], azimuth, known[str(tape.joins(key))], tape.value)
    return found


def _sided(side: str, start: XY, end: XY, place: XY, north: float | None) -> bool | None:
    """Whether a place lies on that side of the line from start to end; None where the side does not tell."""
    off = off_line(place, start, end)
    if side in ("left", "right"):
        return (off > 0) == (side == "left") if off else None
    if north is None or side not in COMPASS:
        return None
    way = direction(north + COMPASS[side])
    across = off_line((start[0] + way[0], start[1] + way[1]), start, end)
    if abs(across) < LEAST_ACROSS:
        return None
    return (off > 0) == (across > 0) if off else None


def _distinct(places: Iterable[XY]) -> list[XY]:
    found: list[XY] = []
    for place in places:
        if all(math.dist(place, other) > ALIKE_FT for other in found):
            found.append(place)
    return found
