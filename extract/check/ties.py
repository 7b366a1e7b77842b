"""Places: tapes that do not fit, two places where one must be told, and the one tape that would settle each; and what
the positions of photos tell beside the tapes."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence
from itertools import combinations

from extract.check.evidence import Photo
from extract.check.places import FOOT_M
from extract.check.policy import Policy
from extract.check.saying import evidence, feet, finding, listed, name
from extract.places.adjust import Ellipse
from extract.places.circles import XY, azimuth_of, off_line
from extract.places.gps import Earth, Fix, Position
from extract.places.lengths import told_longer
from extract.places.measures import Measure, long_of, survey_of
from extract.places.solve import Doubt, Ground, ground_of
from extract.record import Entry, Finding, FixedPoint, Outcome, Record, Run, Structure

POINTS = "points"
"""The subject of what is said of the fixed points."""
IN_LINE_FT = 1.0
"""Points no farther off a line than this lie in it; a tape whose readings differ less tells no two places apart."""
LONG = 1.5
"""An ellipse so much longer than it is wide has a direction worth telling."""
OF_PHOTOS = ("photo_reach_ft",)
SOURCES = ("tape_sd_ft", "run_sd_ft", "bearing_sd_deg", "place_ft", "bent_over_pct")


def check_ties(record: Record, policy: Policy, photos: Sequence[Photo] = ()) -> list[Finding]:
    """Of every structure that was taped, and of the fixed points; nothing of tapes where none was said. Then of every
    structure whose photos tell where they were taken."""
    survey, positions = survey_of(record, policy), list(_positions(photos))
    taped = survey.unusable or any(each.kind == "tape" for each in survey.measures)
    if not taped and not positions:
        return []
    told = _Told(ground_of(survey, policy, positions), policy)
    return [*(told.all() if taped else ()), *told.photographed()]


def _positions(photos: Iterable[Photo]) -> Iterator[Position]:
    for each in photos:
        if each.about is not None and each.lat is not None and each.lon is not None:
            yield Position(each.number, each.about, each.lat, each.lon, each.error_m)


class _Told:
    """The findings on one ground, in words."""

    def __init__(self, ground: Ground, policy: Policy) -> None:
        self.ground, self.branch, self.policy = ground, ground.branch, policy
        self.names, self.points, self.known = ground.survey.names, ground.survey.points, ground.branch.known

    def all(self) -> Iterator[Finding]:
        for entry, words in self.ground.survey.unusable:
            subject = entry.label if isinstance(entry, Structure) else POINTS
            yield self.found("tie_fit", subject, "unknown", f"{words}.", [entry])
        if not self.ground.frame:
            yield from self.no_frame()
            return
        yield from map(self.dropped, self.branch.dropped)
        yield from (self.left_out(measure, out) for measure, out in self.ground.left_out)
        yield from self.longer()
        for key in self.names:
            yield from self.of(key)

    def of(self, key: str) -> Iterator[Finding]:
        """What is to be said of one thing."""
        if key in self.branch.doubts:
            yield self.doubt(self.branch.doubts[key])
        if key in self.branch.against:
            yield self.against(self.branch.against[key])
        elif key in self.branch.open:
            yield self.either(key, self.branch.open[key])
        elif key in self.branch.weak:
            yield self.weak(key)
        elif key in self.ground.at:
            if key not in self.points:
                yield self.placed(key)
        elif key not in self.branch.doubts and key not in self.points and self.tapes(key):
            yield self.too_few(key)

    # -- what does not fit

    def dropped(self, doubt: Doubt) -> Finding:
        ((measure, out),) = doubt.out
        others = listed(each.words for each in doubt.measures if each is not measure)
        message = f"{_looks(measure, out)}, against {others}. It was left out; tape it again."
        return self.found("tie_fit", self.label(doubt.key), "fail", message, [measure.entry], measure, out)

    def left_out(self, measure: Measure, out: float) -> Finding:
        if isinstance(measure.entry, Run):
            return self.run_apart(measure.entry, measure, out)
        subject = measure.entry.label if isinstance(measure.entry, Structure) else POINTS
        message = f"{_looks(measure, out)}, against all the others. It was left out; take it again."
        return self.found("tie_fit", subject, "fail", message, [measure.entry], measure, out)

    def run_apart(self, run: Run, measure: Measure, out: float) -> Finding:
        apart = math.dist(self.known[measure.one], self.known[measure.other])
        message = (
            f"{measure.words} was said to be {feet(long_of(run) or measure.value)} long, but by the tapes its ends "
            f"lie {feet(round(apart, 1))} apart; "
        )
        if out < 0:
            message += "a pipe is no shorter than that, so its length, or a tape to one of its ends, is wrong."
            return self.found("tie_fit", run.label, "fail", message, [run], measure, out)
        message += "it bends more than was said, or its length or a tape to one of its ends is wrong."
        return self.found("tie_fit", run.label, "attention", message, [run], measure, out)

    def longer(self) -> Iterator[Finding]:
        """Runs that fit the tapes only with bends that nobody told."""
        for measure in told_longer(self.ground, self.policy):
            if isinstance(measure.entry, Run) and not any(measure is each for each, _ in self.ground.left_out):
                apart = math.dist(self.ground.xy(measure.one), self.ground.xy(measure.other))
                yield self.run_apart(measure.entry, measure, measure.value - apart)

    def doubt(self, doubt: Doubt) -> Finding:
        said = listed(f"{each.words} ({_value(each)})" for each in doubt.measures)
        message = f"{said} do not meet in one place"
        if doubt.out:
            message += f": {_or(_looks(each, out) for each, out in doubt.out)}"
        called = self.call(doubt.key)
        message += f". {called[:1].upper()}{called[1:]} is not placed; tape it again."
        entries = [each.entry for each in doubt.measures]
        return self.found("tie_fit", self.label(doubt.key), "fail", message, entries)

    def against(self, tie: Measure) -> Finding:
        message = (
            f'{self.call(tie.other)} was said to lie "{tie.side}" of the tape from {self.call(tie.one)}, but what else '
            "was said puts it on the other side; say the side again, or tape it again."
        )
        return self.found("tie_side", tie.other, "fail", message, [tie.entry])

    # -- what is missing

    def no_frame(self) -> Iterator[Finding]:
        if len(self.points) > 1:
            one, other = map(self.call, self.points[:2])
            unsure = any(isinstance(entry, FixedPoint) for entry, _ in self.ground.survey.unusable)
            message = (
                f"{'it is not sure' if unsure else 'nobody said'} how far {one} and {other} lie apart, so nothing can "
                f"be placed; tape from {one} to {other}."
            )
        elif self.points:
            message = (
                f"{self.call(self.points[0])} is the only fixed point, so nothing can be placed; tape from it to a "
                "second one, and from both to each structure."
            )
        else:
            message = "no fixed point was said, so nothing can be placed; tape from two, such as corners of the house."
        entries = [each.entry for each in self.ground.survey.measures if each.kind == "tape"]
        yield self.found("tie_missing", POINTS, "unknown", message, entries)

    def either(self, key: str, places: Sequence[XY]) -> Finding:
        """Where more than one place fits: what they are, what would tell, and which of them photos favour."""
        tapes = [each for each in self.tapes(key) if each.joins(key) in self.known]
        starts = [str(each.joins(key)) for each in tapes]
        side, line = "say on which side it lies", ""
        if len(starts) > 1:
            one, other = map(self.call, starts[:2])
            line = f", on either side of the line from {one} to {other}"
            what = "a structure taped from it" if key in self.points else "it"
            side = f"say whether {what} lies left or right, looking from {one} to {other}"
        if len(starts) > 2 and self.in_line(starts):
            line += f" ({listed(map(self.call, starts))} lie in one line, so no tape from them tells which)"
        message = f"{self.call(key)} can lie in {len(places)} places{line}; {side}, or {self.tells(places, starts)}."
        hint = self.favoured(key, places, starts)
        outcome: Outcome = "attention" if hint else "unknown"
        return self.found("tie_side", self.label(key), outcome, message + hint, [each.entry for each in tapes])

    def favoured(self, key: str, places: Sequence[XY], starts: Sequence[str]) -> str:
        """Which place the photos favour, as a sentence behind the others; empty where they favour none."""
        earth = self.ground.earth
        which = self.which(earth.favoured[key], places, starts) if earth and key in earth.favoured else ""
        if not earth or not which:
            return ""
        fix = earth.fixes.get(key)
        own = f", {_photos(fix.photos)} of it among them," if fix else ""
        return f" The positions of photos{own} favour the one {which}; it is not drawn by them, as one may be false."

    def which(self, place: XY, places: Sequence[XY], starts: Sequence[str]) -> str:
        """`left of the line from garage corner to meter post`, else how far from what; empty where neither tells."""
        if len(starts) > 1:
            start, end = (self.known[key] for key in starts[:2])
            left = [off_line(each, start, end) > 0 for each in (place, *places)]
            if left[1:].count(left[0]) == 1:
                return f"{'left' if left[0] else 'right'} of the line from {' to '.join(map(self.call, starts[:2]))}"
        best = self.teller(places, starts)
        return f"{feet(round(math.dist(self.known[best], place), 1))} from {self.call(best)}" if best else ""

    def tells(self, places: Sequence[XY], starts: Sequence[str]) -> str:
        """The tape that tells places apart best, and what it reads for each."""
        best = self.teller(places, starts)
        if best is None:
            return "tape it from a third point off that line"
        reads = " or ".join(feet(round(math.dist(self.known[best], place), 1)) for place in places)
        return f"tape it from {self.call(best)}, which reads {reads}"

    def teller(self, places: Sequence[XY], starts: Sequence[str]) -> str | None:
        """What was placed, and not taped from, whose distances tell those places apart best; None where none does."""

        def apart(key: str) -> float:
            far = [math.dist(self.known[key], place) for place in places]
            return min(abs(one - other) for one, other in combinations(far, 2))

        keys = [key for key in self.known if key not in starts and apart(key) >= IN_LINE_FT]
        return max(keys, key=lambda key: (key in self.points, apart(key)), default=None)

    def weak(self, key: str) -> Finding:
        tapes = [each for each in self.tapes(key) if each.joins(key) in self.known]
        starts = [str(each.joins(key)) for each in tapes]
        message = (
            f"the tapes to {self.call(key)} from {listed(map(self.call, starts))} run nearly in one line, so its place "
            f"across that line is not known; {self.one_more(key, starts)} would settle it."
        )
        return self.found("tie_missing", self.label(key), "unknown", message, [each.entry for each in tapes])

    def too_few(self, key: str) -> Finding:
        tapes = self.tapes(key)
        starts = [str(each.joins(key)) for each in tapes]
        bare = [each for each in starts if each not in self.known]
        from_ = listed(f"{_value(each)} from {self.call(str(each.joins(key)))}" for each in tapes)
        message = f"{self.call(key)} cannot be placed by {from_}"
        if bare and len(starts) > 1:
            frame = listed(map(self.call, self.ground.frame[:2]))
            message += f", as nobody said where {self.call(bare[0])} lies; tape from there to {frame}."
        else:
            message += f" alone; {self.one_more(key, starts)} would settle it."
        return self.found("tie_missing", self.label(key), "unknown", message, [each.entry for each in tapes])

    def one_more(self, key: str, starts: Sequence[str]) -> str:
        """The one tape to take: from the point that lies farthest from those taped from."""
        taped = [self.known[each] for each in starts if each in self.known]
        left = [each for each in self.known if each not in starts and each != key]
        points = [each for each in left if each in self.points] or left
        if not points:
            return "a tape from another fixed point"
        far = {each: min((math.dist(self.known[each], at) for at in taped), default=0.0) for each in points}
        return f"a tape from {self.call(max(points, key=lambda each: far[each]))}"

    # -- what stands

    def placed(self, key: str) -> Finding:
        """How sure a place is, and what decided where two fitted."""
        ellipse = self.ground.at[key].ellipse
        long, short = feet(_up(ellipse.half_long_ft)), feet(_up(ellipse.half_short_ft))
        tapes = [each for each in self.tapes(key) if each.joins(key) in self.known]
        message = (
            f"{name(key)} is placed to {long} one way{self.way(ellipse)} and {short} across, 95 times in 100, if a "
            f"tape's standard deviation is {feet(self.policy['tape_sd_ft'])}"
        )
        how, side = self.branch.chosen.get(key), next((each for each in tapes if each.side), None)
        if how == "side" and side:
            message += f'; of two places the one "{side.side}" from {self.call(side.one)} was taken, as said'
        elif how == "run":
            message += "; of two places the one that the lengths of its runs fit was taken"
        elif len(tapes) > 2:
            message += "; of the two places of two tapes the one that the others fit was taken"
        if sum(each.exact and bool(each.joins(key)) for each in self.ground.used) < 3:
            message += "; nothing else was taped to check its two tapes"
        entries = [each.entry for each in tapes]
        return self.found("place", key, "ok", f"{message}.", entries, out=ellipse.half_long_ft)

    def way(self, ellipse: Ellipse) -> str:
        """The direction of a long axis that is one, from the line that all is measured from."""
        if ellipse.half_long_ft < LONG * ellipse.half_short_ft or len(self.ground.frame) < 2:
            return ""
        start, end = self.ground.frame[:2]
        turned = (ellipse.direction_deg - azimuth_of(self.known[start], self.known[end])) % 180
        return f" ({turned:.0f} degrees clockwise from the line from {self.call(start)} to {self.call(end)})"

    # -- where photos were taken

    def photographed(self) -> Iterator[Finding]:
        """What the positions of photos tell."""
        earth = self.ground.earth
        if earth is None:
            return
        for key, photos in earth.scattered.items():
            message = (
                f"{_photos(photos)} were taken too far from each other to show {name(key)} alike; one shows something "
                "else, or its position is wrong."
            )
            yield self.found("photo_place", key, "attention", message, [])
        yield from (self.apart(fix, out) for fix, out in earth.apart)
        if earth.contradicting:
            yield self.contradicting(earth)
        if earth.north:
            yield self.north(earth)
        for key, fix in earth.fixes.items():
            if key not in self.ground.at and key not in self.branch.open:
                yield self.by_photos_alone(fix)

    def apart(self, fix: Fix, out: float) -> Finding:
        message = (
            f"{_photos(fix.photos)} {_was(fix.photos)} taken {feet(round(out))} from where the tapes put "
            f"{name(fix.key)}, where up to {feet(round(fix.ellipse.half_long_ft))} is usual; it shows something else, "
            "or its position is wrong. No tape was moved for it."
        )
        return self.found("photo_place", fix.key, "attention", message, [], out=out)

    def contradicting(self, earth: Earth) -> Finding:
        photos = _photos(sorted(number for fix in earth.contradicting for number in fix.photos))
        message = f"the positions of {photos} do not fit the tapes, and nothing tells which of them are wrong"
        if earth.turned_over:
            message = f"the positions of {photos} fit only if the plan is turned over; check the sides that were said"
        return self.found("photo_place", POINTS, "attention", f"{message}. North is not taken from them.", [])

    def north(self, earth: Earth) -> Finding:
        """How well photos tell north, and whether a bearing says otherwise."""
        photos = _photos(sorted(number for fix in earth.laid for number in fix.photos))
        within = math.ceil(earth.within_deg)
        message = f"north is told by the positions of {photos}, ± {within} degrees 95 times in 100"
        off = self.ground.north_off_deg
        if off is None:
            return self.found("photo_north", POINTS, "ok", f"{message}.", [], out=earth.within_deg)
        if not self.ground.north_contradicted:
            return self.found("photo_north", POINTS, "ok", f"{message}; the bearing agrees.", [], out=off)
        message += f", but the bearing puts it {off:.0f} degrees from there; take the bearing again"
        message += "; until then no north is drawn."
        return self.found("photo_north", POINTS, "attention", message, [], out=off)

    def by_photos_alone(self, fix: Fix) -> Finding:
        half = fix.ellipse.half_long_ft
        message = (
            f"{name(fix.key)} is known by the {'position' if len(fix.photos) == 1 else 'positions'} of "
            f"{_photos(fix.photos)} alone, to {feet(math.ceil(half))} ({math.ceil(half * FOOT_M)} m) on any side 95 "
            "times in 100"
        )
        if not fix.stated:
            message += ", if its phone does no worse than is common, as it states no error"
        message += "; it is not drawn to scale by that."
        return self.found("photo_only", fix.key, "ok", message, [], out=half)

    # -- words

    def call(self, key: str) -> str:
        return self.names.get(key, key)

    def label(self, key: str) -> str:
        """The subject of a finding about a thing."""
        return POINTS if key in self.points else key

    def tapes(self, key: str) -> list[Measure]:
        return [each for each in self.ground.survey.measures if each.kind == "tape" and each.joins(key)]

    def in_line(self, keys: Sequence[str]) -> bool:
        at = [self.known[key] for key in keys]
        start, end = max(combinations(at, 2), key=lambda pair: math.dist(*pair))
        return all(abs(off_line(place, start, end)) <= IN_LINE_FT for place in at)

    def found(
        self,
        check: str,
        subject: str,
        outcome: Outcome,
        message: str,
        entries: Iterable[Entry],
        measure: Measure | None = None,
        out: float | None = None,
    ) -> Finding:
        """A finding; of a measure with what was said, and what it should be as it is `out` by so much."""
        stated = measure.value if measure else None
        computed = stated - out if stated is not None and out is not None else out
        return finding(
            check,
            subject,
            outcome,
            message,
            stated=stated,
            computed=computed,
            unit="degrees" if check == "photo_north" or (measure and measure.kind == "bearing") else "ft",
            source=self.policy.source(*(OF_PHOTOS if check.startswith("photo") else SOURCES)),
            evidence=[item for each in entries for item in evidence(each, "ties", "to", "length_ft")],
        )


def _photos(numbers: Sequence[int]) -> str:
    return f"photo{'' if len(numbers) == 1 else 's'} {listed(map(str, numbers))}"


def _was(numbers: Sequence[int]) -> str:
    return "was" if len(numbers) == 1 else "were"


def _value(measure: Measure) -> str:
    return feet(measure.value) if measure.kind != "bearing" else f"{measure.value:g} degrees"


def _looks(measure: Measure, out: float) -> str:
    """`the tape from garage corner to catch basin 1 looks 1 foot long`."""
    if measure.kind == "bearing":
        return f"{measure.words} looks {abs(out):.0f} degrees off"
    return f"{measure.words} looks {feet(max(round(abs(out), 1), 0.1))} {'long' if out > 0 else 'short'}"


def _or(words: Iterable[str]) -> str:
    """`either a, or b, or c`; a single one as it is."""
    each = list(words)
    return f"either {', or '.join(each)}" if len(each) > 1 else each[0]


def _up(value: float) -> float:
    """To the next tenth."""
    return math.ceil(value * 10 - 1e-6) / 10
