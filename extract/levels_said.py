"""Rod readings and elevations said at the level: benchmark, backsight, foresight, intermediate sight."""

from __future__ import annotations

import itertools

from extract.context import Context, Correction
from extract.entering import put_right
from extract.heights import side_field, with_point
from extract.lexicon import Term
from extract.limits import plausible
from extract.record import BENCHMARK, Level, Structure
from extract.site import Said, Site
from extract.statements import Sentence
from extract.text.quantities import SMALL, Quantity, elevation_of, lost_its_point, rod_of

KINDS = ("backsight", "foresight", "intermediate")
COUNTING = {word: str(value) for word, value in SMALL.items() if value}
SIDES = ("rim", "invert", "invert_in", "invert_out")


def read_levels(site: Site, context: Context, sentence: Sentence, corrections: list[Correction]) -> bool:
    """Take the rod readings of a sentence; whether it was about levels at all."""
    kinds = sentence.find("level", *KINDS)
    elevations = sentence.find("attribute", "elevation")
    _aim(site, context, sentence, len(sentence.tokens))
    first = next((q for q in sentence.quantities if q.unit in (None, "ft")), None)
    if first is None and kinds and all(sentence.tokens[kind.start : kind.end] == ["reads"] for kind in kinds):
        return False  # "the slope reads ninety percent" is no rod
    waiting = context.rod_waits if not kinds and first and first.start == 0 else None
    if not (kinds or waiting or sentence.has("level") or (elevations and context.point)):
        return False
    context.rod_waits = kinds[-1].value if kinds and first is None else None
    if kinds and corrections and _correct_last(site, context, sentence, kinds[-1].value, corrections[0]):
        return True
    heights = [q for q in sentence.quantities if q.unit in (None, "ft")]
    for quantity, after in itertools.zip_longest(heights, heights[1:]):
        if "hi" in (sentence.word(quantity.start - 1), sentence.word(quantity.end)):
            context.use(site, sentence, quantity, None, "levels")  # the height of instrument follows from the others
            continue
        if _height_of_benchmark(sentence, quantity) or _called(sentence, kinds, heights, quantity):
            context.point = BENCHMARK
            _elevation(site, context, sentence, quantity, corrections)
            continue
        if waiting:
            _aim_behind(site, context, sentence, quantity, after.start if after else len(sentence.tokens))
            _rod(site, context, sentence, waiting, quantity)
            continue
        cue = max([*kinds, *elevations], key=lambda t: (t.end <= quantity.start, t.end), default=None)
        if cue is None or cue.end > quantity.start:
            continue
        _aim(site, context, sentence, quantity.start)
        if len(heights) > 1:
            _aim_behind(site, context, sentence, quantity, after.start if after else len(sentence.tokens))
        if cue.category == "level" and not _told_of_benchmark(context, quantity):
            _rod(site, context, sentence, cue.value, quantity)
        else:
            _elevation(site, context, sentence, quantity, corrections)
    return True


def _called(sentence: Sentence, kinds: list[Term], heights: list[Quantity], quantity: Quantity) -> bool:
    """As in "benchmark is the garage slab, call it 100": the one height of a sentence on the benchmark with no rod."""
    told = sentence.has("level", "benchmark") and not kinds and len(heights) == 1
    called = {"call", "calling", "called", "say", "saying", "calls"} & sentence.words
    return bool(told and called) and not plausible("rod_ft", elevation_of(quantity) or 0)


def _told_of_benchmark(context: Context, quantity: Quantity) -> bool:
    """As in "backsight on the nail is 5.20 and that's 99.25": a height behind the rod on the benchmark."""
    level = context.level if context.point == BENCHMARK else None
    read = level is not None and level.point == BENCHMARK and level.elevation_ft is None
    return read and not plausible("rod_ft", elevation_of(quantity) or 0)


def ask_for_rod(site: Site, context: Context, sentence: Sentence) -> None:
    """As in "What's the rod on the junction box?", which the next words answer."""
    kinds = sentence.find("level", *KINDS)
    if kinds and not sentence.quantities:
        context.rod_waits, context.point = kinds[-1].value, site.structure


def _aim(site: Site, context: Context, sentence: Sentence, at: int) -> None:
    """Which point the rod stands on when the word `at` is reached: the benchmark, a turning point, or a structure's
    side."""
    if sentence.has("level", "benchmark", within=(0, at)):
        context.point = BENCHMARK
    turning = next((i for i, token in enumerate(sentence.tokens[:at]) if token == "tp"), None)
    if turning is not None:
        context.point = _turning_point(site, sentence, sentence.word(turning + 1))
        return
    sides = sentence.find("attribute", *SIDES)
    side = next((t.value for t in reversed(sides) if t.start < at), sides[0].value if sides else None)
    named = [m for m in sentence.mentions if m.label and m.what != "run"]
    label = next((m.label for m in reversed(named) if m.start < at), named[0].label if named else None)
    if label is None and side and context.point and context.point != BENCHMARK:
        label = context.point.split(" ")[0]
    if label is None and side and sentence.has("level"):
        label = site.structure
    if label:
        context.point = f"{label} {side_field(label, side)[:-3]}" if side else label


def _turning_point(site: Site, sentence: Sentence, number: str) -> str:
    """TP-n by its number; with none, a backsight stands on the last one and any other sight makes the next."""
    said = COUNTING.get(number, number)
    known = [level.point for level in site.record.levels if level.point.startswith("TP-")]
    if said.isdigit():
        return f"TP-{said}"
    if known and sentence.has("level", "backsight"):
        return known[-1]
    return f"TP-{len(set(known)) + 1}"


def _height_of_benchmark(sentence: Sentence, quantity: Quantity) -> bool:
    """As in "BM 100.00" and "on the benchmark at 100": a height with no unit, and longer than any rod."""
    ends = [term.end for term in sentence.find("level", "benchmark") if term.end <= quantity.start]
    gap = sentence.tokens[ends[-1] : quantity.start] if ends else ["none"]
    sure = quantity.unit is None and (quantity.pointed or bool({"at", "is", "'s"} & set(gap)))
    instrument = "hi" in (sentence.word(quantity.end), sentence.word(quantity.start - 1))
    # "Backsight on the benchmark 48.5": the one number that is said right behind a sight is its rod.
    rod = not gap and sentence.has("level", *KINDS) and len(sentence.quantities) == 1
    return (
        sure
        and not instrument
        and not rod
        and set(gap) <= {"at", "is", "'s", ",", ":"}
        and not plausible("rod_ft", elevation_of(quantity) or 0)
    )


def _aim_behind(site: Site, context: Context, sentence: Sentence, quantity: Quantity, limit: int) -> None:
    """As in "5.10 on basin one rim and 6.75 on the invert": each reading is of the point said behind it."""
    if sentence.word(quantity.end) not in ("on", "at", "for"):
        return
    side = next(iter(t.value for t in sentence.find("attribute", *SIDES, within=(quantity.end, limit))), None)
    named = [m.label for m in sentence.mentions if quantity.end <= m.start < limit and m.label and m.what != "run"]
    label = named[0] if named else (context.point or "").split(" ")[0]
    if label and label != BENCHMARK and (side or named):
        context.point = f"{label} {side_field(label, side)[:-3]}" if side else label


def _rod(site: Site, context: Context, sentence: Sentence, kind: str, quantity: Quantity) -> None:
    value = rod_of(quantity)
    point = context.point or (BENCHMARK if kind == "backsight" else None)
    if value is None or context.level is not None and context.level.point == point and context.level.kind == kind:
        return
    if point and " " in point and "misread" in sentence.words and not plausible("rod_ft", value):
        _elevation(site, context, sentence, quantity, [])  # "misread the rod, the rim's 99.04"
        return
    if point is None or not plausible("rod_ft", value):
        site.ask(
            point or "levels",
            "rod_ft",
            "implausible" if point else "missing",
            evidence=[context.evidence(sentence)],
            heard=context.note.text,
        )
        return
    evidence = context.evidence(sentence, quantity)
    context.use(site, sentence, quantity, None, "levels")
    if _read_again(site, context, sentence, point, kind, quantity):
        return
    context.point = point
    level = Level.model_validate({"point": point, "kind": kind, "rod_ft": round(value, 4), "evidence": [evidence]})
    if point == BENCHMARK:
        _take_elevation(site, context, level)
    why = "low_confidence" if lost_its_point(quantity) else context.said(value, sentence, quantity).doubt
    if why:
        site.ask(point, "rod_ft", why, evidence=[context.evidence(sentence)], heard=context.note.text)
    context.level = site.level_last = level
    site.record.levels.append(level)
    if point != BENCHMARK and " " not in point and not point.startswith("TP-"):
        site.ask(point, "rod_ft", "missing", evidence=[context.evidence(sentence)], heard=context.note.text)


def _take_elevation(site: Site, context: Context, level: Level) -> None:
    """A reading on the benchmark takes the elevation that was said before it, and stands in its place; a sight back on
    it does not."""
    shot = any(each.point == BENCHMARK and each.rod_ft is not None for each in site.record.levels)
    unread = site.unread() if level.kind == "backsight" or not shot else None
    if unread is None:
        level.elevation_ft = context.elevation
        return
    level.elevation_ft = unread.elevation_ft
    before = [item for item in unread.evidence if item.note != context.index]
    level.evidence = [*(item.model_copy(update={"field": "elevation_ft"}) for item in before), *level.evidence]
    site.record.levels = [each for each in site.record.levels if each is not unread]


def _read_again(site: Site, context: Context, sentence: Sentence, point: str, kind: str, quantity: Quantity) -> bool:
    """Whether this is the reading that was asked about, said once more: it answers, and is no second reading."""
    asked, value = site.question(point, "rod_ft"), rod_of(quantity)
    if asked is None or value is None or context.said(value, sentence, quantity).doubted:
        return False
    notes = {witness.note for witness in asked.evidence}
    read = [each for each in site.record.levels if each.point == point and each.kind == kind]
    same = [each for each in read if each.rod_ft is not None and abs(each.rod_ft - value) < 1e-6]
    same = [each for each in same if notes & {item.note for item in each.evidence}]
    if not same or context.index in notes:
        return False
    site.settle(point, "rod_ft")
    site.witness(same[-1], context.evidence(sentence, quantity), "rod_ft")
    context.level = site.level_last = same[-1]
    return True


def _elevation(
    site: Site, context: Context, sentence: Sentence, quantity: Quantity, corrections: list[Correction]
) -> None:
    value = elevation_of(quantity)
    if value is None or context.point is None:
        return
    context.use(site, sentence, quantity, None, "levels")
    if lost_its_point(quantity) and with_point(value) != value:
        value = with_point(value)
        site.ask(
            context.point.split(" ")[0],
            None,
            "low_confidence",
            evidence=[context.evidence(sentence)],
            heard=context.note.text,
            choices=[value],
        )
    if context.point == BENCHMARK:
        corrected = any(each.quantity.start == quantity.start for each in corrections)
        said = context.said(round(value, 4), sentence, quantity, corrected=corrected)
        _of_benchmark(site, context, said)
        return
    label, _, side = context.point.partition(" ")
    entry = site.entry(label)
    if side and isinstance(entry, Structure):
        site.put(label, f"{side}_ft", context.said(round(value, 4), sentence, quantity))
        if getattr(entry, f"{side}_ft", None) != round(value, 4):
            return  # too far from every other height: asked about
    if context.level and context.level.point == context.point:
        context.level.elevation_ft = round(value, 4)


def _of_benchmark(site: Site, context: Context, said: Said) -> None:
    """The benchmark's elevation: of the reading on it, or of a level of its own until one is read."""
    context.elevation = said.value
    level = _level_of_benchmark(site, context, said)
    if level is None:
        level = Level(point=BENCHMARK, kind="backsight", elevation_ft=said.value)
        site.witness(level, said.evidence)
        site.record.levels.append(level)
    if said.corrected or site.answers(BENCHMARK, "elevation_ft", said):
        site.settle(BENCHMARK, "elevation_ft")
    elif level.elevation_ft not in (None, said.value):
        choices = [level.elevation_ft, said.value]
        evidence, heard = [said.evidence], context.note.text
        site.ask(BENCHMARK, "elevation_ft", "conflict", evidence=evidence, heard=heard, choices=choices)
    if said.doubt == "low_confidence":  # "call it 100" gives a datum
        site.ask(BENCHMARK, "elevation_ft", "low_confidence", evidence=[said.evidence])
    level.elevation_ft = said.value
    site.level_last = level
    if all(item.note != context.index for item in level.evidence):
        site.witness(level, said.evidence, "elevation_ft")


def _level_of_benchmark(site: Site, context: Context, said: Said) -> Level | None:
    """The level on the benchmark whose elevation was said: the one of this note, the one that has it already or is put
    right, the last backsight where it has none. Another elevation than a reading has is of another benchmark."""
    if context.level and context.level.point == BENCHMARK:
        return context.level
    on_it = [each for each in site.record.levels if each.point == BENCHMARK]
    known = [each for each in on_it if each.elevation_ft is not None]
    same = [each for each in known if each.elevation_ft == said.value or said.corrected]
    if same:
        return same[-1]
    last = [each for each in on_it if each.kind == "backsight"] or on_it
    return last[-1] if last and last[-1].elevation_ft is None else site.unread()


def _correct_last(site: Site, context: Context, sentence: Sentence, kind: str, correction: Correction) -> bool:
    level, value = site.last_reading(kind), rod_of(correction.quantity)
    if level is None or value is None or not plausible("rod_ft", value):
        return False
    put_right(site, context, sentence, correction.quantity, level, "rod_ft", value)
    said = sentence.find("attribute", "elevation")
    height = next((q for q in sentence.quantities if said and q.start >= said[0].end), None)
    if height is not None and (elevation := elevation_of(height)) is not None and not lost_its_point(height):
        level.elevation_ft = round(elevation, 4)
        label, _, side = level.point.partition(" ")
        if side and isinstance(site.entry(label), Structure):
            site.put(label, f"{side}_ft", context.said(round(elevation, 4), sentence, height, corrected=True))
    return True
