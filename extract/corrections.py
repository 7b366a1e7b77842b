"""What a correction with no name means: "make that thirty-four foot eight" takes the place of the value it is like."""

from __future__ import annotations

from extract.context import Context, Correction
from extract.entering import put_right
from extract.loose import stands_loose
from extract.record import BENCHMARK, ELEVATIONS, Level
from extract.site import Site
from extract.statements import Sentence
from extract.text.quantities import Quantity, elevation_of, rod_of

LONGEST_ROD_FT = 25
IN_INCHES = ("drop_in", "cover_in", "invert_depth_in")
FARTHEST_SLIP_FT = 10
SLIP_FT = 2
"""A height is seldom misread by more; a length of the same size is another thing."""


def correct(site: Site, context: Context, sentence: Sentence, subjects: list[str], correction: Correction) -> bool:
    """As in "Make that thirty-four foot eight": put the value where the one it replaces stands."""
    quantity = correction.quantity
    counted = site.fitting_last
    whole = quantity.unit is None and quantity.value == int(quantity.value)
    if counted and whole and correction.old in (None, counted.count):
        counted.count = int(quantity.value)
        context.use(site, sentence, quantity, site.run, "fittings")
        return True
    fields = {
        "ft": ["length_ft", *ELEVATIONS, *IN_INCHES],
        "in": ["drop_in", "cover_in", "invert_depth_in", "nominal_in", "size_in"],
        "pct": ["slope_pct"],
        "size": ["size_in"],
        None: [
            "length_ft",
            "drop_in",
            "cover_in",
            "slope_pct",
            "rim_ft",
            "invert_in_ft",
            "invert_out_ft",
            "invert_depth_in",
            "nominal_in",
        ],
    }.get(quantity.unit)
    if fields is None:
        return False
    held = site.holding(subjects, correction.old)
    held = held if held and held[1] in fields else None
    focus = [label for label in (site.last, site.run) if label]
    if quantity.attributive and quantity.unit == "in" and not corrects_inches(site, subjects, quantity):
        fields = ["nominal_in", "size_in"]
    target = (
        held
        or _height_near(site, quantity)
        or site.correctable(fields, subjects or focus, correction.old, only=correction.old is None)
    )
    about = next((label for label in subjects or focus if label.startswith(("R-", "CD-"))), None)
    if target and correction.old is None and _unlike(site, target, quantity):
        target = _nearest(site, fields, subjects or focus, quantity) or target
    if target is None and about and quantity.unit == "ft":
        target = (about, "length_ft")
    if site.level_last and (right := _of_level(site.level_last, quantity)):
        put_right(site, context, sentence, quantity, site.level_last, *right)
        return True
    if target is None:
        return False
    label, name = target
    if quantity.unit == "ft" and name in IN_INCHES:
        quantity = quantity._replace(value=quantity.value * 12)
    if (quantity.parts and quantity.unit is None and name not in ELEVATIONS) or (
        _unlike(site, target, quantity) and not site.is_asked(*target)
    ):
        # "One 45" is no 145 of anything, and a tenth of what was said before is another thing.
        site.ask(label, name, "low_confidence", evidence=[context.evidence(sentence)], heard=context.note.text)
        return True
    value: object = elevation_of(quantity) if name in ELEVATIONS else round(quantity.value, 4)
    if name == "size_in":
        value = list(quantity.values) or [quantity.value]
    loose = quantity.unit is not None or stands_loose(sentence, quantity)
    unknown = (
        correction.old is not None and held is None and target in site.said and not _old_of(site, target, correction)
    )
    if (correction.old is None and not loose) or unknown:
        # "Wait, we got 36 left on the truck" may be of something else, "not 28, 38" of a value that nobody knows.
        choices = [site.said[target].value, value] if target in site.said else None
        evidence = [context.evidence(sentence)]
        site.ask(label, name, "conflict", evidence=evidence, heard=context.note.text, choices=choices)
        return True
    site.put(label, name, context.said(value, sentence, quantity, corrected=True))
    return True


def _of_level(level: Level, quantity: Quantity) -> tuple[str, float] | None:
    """What a correction means of the level last taken: its rod reading, or the elevation of the benchmark."""
    if quantity.unit not in (None, "ft"):
        return None
    rod, height = rod_of(quantity), elevation_of(quantity)
    if level.point == BENCHMARK and level.elevation_ft is not None and height is not None:
        apart = abs(height - level.elevation_ft)
        nearer = level.rod_ft is None or rod is None or apart < abs(rod - level.rod_ft)
        if nearer and apart <= FARTHEST_SLIP_FT:
            return "elevation_ft", height
    return ("rod_ft", rod) if level.rod_ft is not None and rod is not None and rod < LONGEST_ROD_FT else None


def corrects_another(site: Site, subjects: list[str], correction: Correction, cue: str | None) -> bool:
    """Whether a correction is of what was said before; "twelve foot three, make that thirteen" corrects itself."""
    if site.holding(subjects, correction.old):
        return True
    return cue is None and (correction.old is None or not any(label.startswith("R-") for label in subjects))


def _height_near(site: Site, quantity: Quantity) -> tuple[str, str] | None:
    """The elevation that a bare decimal corrects: "make that 96.40" after an invert of 96.20."""
    if quantity.unit is not None or not quantity.pointed:
        return None
    heights = (pair for pair in reversed(site.history) if pair[1] in ELEVATIONS)
    return next((pair for pair in heights if abs(site.said[pair].value - quantity.value) <= SLIP_FT), None)


def _nearest(site: Site, fields: list[str], labels: list[str], quantity: Quantity) -> tuple[str, str] | None:
    """The last value so near that a correction means it: "make that 44 and a half" is no cover of 14, but the 44."""
    runs = [pair for pair in reversed(site.history) if pair[1] in fields and pair[1] not in (*ELEVATIONS, "size_in")]
    near = (p for p in runs if 0.8 <= quantity.value / (site.said[p].value or quantity.value + 1) <= 1.25)
    return next((p for p in near if p[0] in labels or p[0].startswith("R-")), None)


def _unlike(site: Site, target: tuple[str, str], quantity: Quantity) -> bool:
    """Whether a correction is so far from what it would replace that it means something else."""
    before = site.said[target].value if target in site.said else None
    if not isinstance(before, int | float) or not before or not quantity.value:
        return False
    if target[1] in ELEVATIONS:
        height = elevation_of(quantity)
        return height is None or abs(height - before) > FARTHEST_SLIP_FT
    value = quantity.value
    return not 1 / 3 <= value / before <= 3


def corrects_inches(site: Site, subjects: list[str], quantity: Quantity) -> bool:
    """Whether inches are so like a drop, a cover or a depth said before that a correction means it, and no size."""
    focus = [label for label in (site.last, site.run) if label]
    return quantity.unit == "in" and _nearest(site, list(IN_INCHES), subjects or focus, quantity) is not None


def _old_of(site: Site, target: tuple[str, str], correction: Correction) -> bool:
    """Whether the value that a correction takes back is what stands, in feet or inches."""
    stands, old = site.said[target].value, correction.old or 0.0
    if not isinstance(stands, int | float):
        return True
    return any(abs(stands - each) < 0.01 or int(stands) == each for each in (old, old * 12, old / 12, old / 100))
