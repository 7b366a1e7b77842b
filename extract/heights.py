"""Inverts and rims as they are told: heights in feet, or depths in inches below the rim."""

from __future__ import annotations

from extract.context import Context
from extract.corrections import SLIP_FT
from extract.entering import put, put_right
from extract.limits import limits, plausible
from extract.naming import subject_for
from extract.record import Level, Run, Structure
from extract.site import Site
from extract.statements import Sentence
from extract.text.quantities import FRACTIONS, Quantity, elevation_of, lost_its_point, rod_of

DEEPEST_FT = 12
LOWEST_BARE_FT = 60
"""A whole number below is more likely inches down than a height on a job's datum, which is 100 as a rule."""
UPPER_END = {"start", "upper", "upstream", "top", "high", "head"}
LOWER_END = {"end", "lower", "downstream", "bottom", "low", "outlet"}
LEVELS = ("invert", "invert_in", "invert_out", "rim", "elevation")


def read_height(
    site: Site, context: Context, sentence: Sentence, subjects: list[str], quantity: Quantity, cue: str, correct: bool
) -> None:
    """Inverts and rims: an elevation in feet, or a depth in inches below the rim."""
    label = subject_for(site, sentence, subjects, quantity.start, Structure)
    near = [m.label for m in sentence.mentions if m.role in ("near", "from", "to") and m.what != "run" and m.label]
    named = any(not each.startswith("R-") for each in subjects) or near
    if subjects and not named:
        label = _end_said(site, sentence, subjects[0])
        if label is None:
            evidence, heard = [context.evidence(sentence)], context.note.text
            site.ask(subjects[0], None, "low_confidence", evidence=evidence, heard=heard)
            return
    elif not any(not each.startswith("R-") for each in subjects) and near:
        label = near[0]
    entry = site.entry(label)
    if label is None or not isinstance(entry, Structure):
        return
    of_inches = _fraction_of_an_inch(sentence, quantity)
    depth = quantity.unit == "in" or (cue == "invert" and goes_down(sentence, quantity))
    depth = depth or (of_inches and entry.invert_depth_in is not None)
    if depth and not _relative(sentence, quantity):
        inches = quantity.value * 12 if quantity.unit == "ft" else quantity.value
        put(site, context, sentence, label, "invert_depth_in", inches, quantity, correct)
        return
    cue = side_said(sentence, quantity) or cue
    if correct and _correct_rod(site, context, sentence, f"{label} {side_field(label, cue)[:-3]}", quantity):
        return
    evidence, heard = [context.evidence(sentence)], context.note.text
    if any(_relative(sentence, each) for each in sentence.quantities):
        site.ask(label, side_field(label, cue), "low_confidence", evidence=evidence, heard=heard)
        return
    elevation = elevation_of(quantity)
    if elevation is None and quantity.parts and quantity.parts[0] >= 20:
        # "Ninety-seven four": four tenths, or four hundredths?
        site.ask(label, side_field(label, cue), "low_confidence", evidence=evidence, heard=heard)
        return
    if elevation is None or elevation < 1 or cue == "elevation" and context.point is None:
        return
    point = f"{label} {side_field(label, cue)[:-3]}"
    if quantity.unit is None and (quantity.pointed or quantity.parts) and plausible("rod_ft", elevation):
        if not correct and _datum_is_high(site):
            read_bare_rod(site, context, sentence, point, quantity)
            return
        site.ask(label, side_field(label, cue), "low_confidence", evidence=evidence, heard=heard)
    low = (of_inches or not quantity.pointed) and not quantity.parts and elevation < LOWEST_BARE_FT
    if low or (quantity.unit == "ft" and cue != "rim" and elevation < DEEPEST_FT):
        # "The invert's two foot one": below what, nobody said.
        site.ask(label, side_field(label, cue), "low_confidence", evidence=evidence, heard=heard)
        return
    if lost_its_point(quantity):
        elevation = with_point(elevation)
        side = side_field(label, cue)
        site.ask(label, side, "low_confidence", evidence=evidence, heard=heard, choices=[elevation])
    name = side_field(label, context.point.split(" ")[-1] if cue == "elevation" and context.point else cue)
    put(site, context, sentence, label, name, elevation, quantity, correct)


def _datum_is_high(site: Site) -> bool:
    """Whether the job's elevations are so high that a small number can be none of them, but a rod reading."""
    shot = [level for level in site.record.levels if level.rod_ft is not None]
    known = [level.elevation_ft for level in shot if level.elevation_ft is not None]
    return bool(known) and min(known) > limits()["range"]["rod_ft"]["high"]


def read_bare_rod(site: Site, context: Context, sentence: Sentence, point: str, quantity: Quantity) -> None:
    """As in "coming out of basin one it's 4.85", once a benchmark was shot: with no kind it is a foresight."""
    rod = rod_of(quantity) or 0.0
    said = context.said(rod, sentence, quantity)
    site.record.levels.append(Level(point=point, kind="foresight", rod_ft=round(rod, 4), evidence=[said.evidence]))
    context.use(site, sentence, quantity, None, "levels")
    site.taken += 1
    if said.doubt:
        site.ask(point, "rod_ft", said.doubt, evidence=[said.evidence], heard=context.note.text)


def goes_down(sentence: Sentence, quantity: Quantity) -> bool:
    """As in "two foot one from the grate down to the invert": a depth, not a height."""
    high = next((b for a, b in sentence.segments if a <= quantity.start < b), len(sentence.tokens))
    return "depth" in sentence.words or bool({"down", "deep", "below"} & set(sentence.tokens[quantity.end : high]))


def _fraction_of_an_inch(sentence: Sentence, quantity: Quantity) -> bool:
    """As in "make that 19 and three quarters": so low, and in no tenths or hundredths, it is no height in feet."""
    said = sentence.tokens[quantity.start : quantity.end]
    bare = quantity.unit is None and quantity.value < LOWEST_BARE_FT
    return bare and any(FRACTIONS.get(token) in (2, 4, 8, 16) or "/" in token for token in said)


def _end_said(site: Site, sentence: Sentence, run: str) -> str | None:
    """The structure at the end of a run that "run four's invert at the start" speaks of."""
    entry = site.entry(run)
    if not isinstance(entry, Run):
        return None
    upper, lower = UPPER_END & sentence.words, LOWER_END & sentence.words
    return entry.from_ if upper and not lower else entry.to if lower and not upper else None


def side_said(sentence: Sentence, quantity: Quantity) -> str | None:
    """The side of "98.04 in, 97.94 out" and "98.04 coming in", where a height stands before the word."""
    i = quantity.end + (sentence.word(quantity.end) in ("coming", "going"))
    side = {"in": "invert_in", "out": "invert_out"}.get(sentence.word(i))
    return side if side and sentence.word(i + 1) in ("", ",", "and") and quantity.pointed else None


def _correct_rod(site: Site, context: Context, sentence: Sentence, point: str, quantity: Quantity) -> bool:
    """As in "the rim shot should be 5.01": the reading on that point, where there is one."""
    level = next((each for each in reversed(site.record.levels) if each.point == point), None)
    rod = rod_of(quantity)
    if level is None or level.rod_ft is None or rod is None or abs(rod - level.rod_ft) > SLIP_FT:
        return False
    if _relative(sentence, quantity):
        return False
    put_right(site, context, sentence, quantity, level, "rod_ft", rod)
    return True


def _relative(sentence: Sentence, quantity: Quantity) -> bool:
    """ "A foot lower than the basin" is no elevation and no depth of its own."""
    after = sentence.tokens[quantity.end : quantity.end + 3]
    against = any(quantity.end < m.start <= quantity.end + 3 for m in sentence.mentions)
    return bool({"lower", "higher"} & set(after)) or (bool({"below", "above"} & set(after)) and against)


def with_point(value: float) -> float:
    """9890 on a job whose datum is about 100 is 98.90."""
    while value >= 1000:
        value /= 10
    return round(value / 10, 2) if value > 300 else value


def side_field(label: str, side: str) -> str:
    """The elevation field of a structure that a spoken side means. An outlet has no way on but out."""
    if side in ("rim", "rim_ft"):
        return "rim_ft"
    if side == "invert_in" or label.startswith(("OUT-", "DW-")):
        return "invert_in_ft"
    return "invert_out_ft"
