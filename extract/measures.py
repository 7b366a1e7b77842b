"""What is measured of structures and runs: which measure a number is, and of what."""

from __future__ import annotations

from typing import NamedTuple

from extract.context import Context, Correction
from extract.corrections import correct, corrects_another
from extract.entering import put
from extract.heights import LEVELS, LOWEST_BARE_FT, goes_down, read_height, side_said
from extract.lexicon import Term
from extract.meant import field_meant
from extract.naming import opens_at, subject_for
from extract.record import Run, Structure
from extract.site import Site
from extract.statements import Sentence
from extract.text.quantities import Quantity

TOGETHER = {"each", "both", "all", "apiece"}
GROUND = {"yard", "lawn", "ground", "street", "driveway", "walk", "sidewalk", "patio", "slab", "hill", "lot", "grade"}
DUG = {"dug", "dig", "digging", "trench", "trenched", "trenching"}
SPACED = {"every", "each"}
TAKEN_OUT = {"took", "pulled", "tore", "ripped", "dug"}
NO_LENGTH_AFTER = set(
    "deep down away apart high thick below above past off behind under short shy left over longer shorter more less "
    "lower higher upstream downstream wide".split()
)
FAR_OFF = (NO_LENGTH_AFTER | {"from"}) - {"more", "longer", "shorter", "less"}
FALLS = {"drops", "falls", "fell", "dropped", "falling", "dropping", "covers"}
CUES = ("cover", "drop", "slope", "length", "width", "invert", "invert_in", "invert_out", "rim", "elevation")


def read_measures(
    site: Site,
    context: Context,
    sentence: Sentence,
    subjects: list[str],
    used: set[int],
    corrected: dict[int, Correction],
) -> None:
    _stations(site, context, sentence, subjects)
    runs = [label for label in subjects if label.startswith("R-")]
    _lengths_in_order(site, context, sentence, runs, used)
    met_an_issue = sentence.has("issue") and not sentence.has("pipe")
    priced, cues = _priced(sentence), _cues(sentence)
    for quantity in sentence.quantities:
        if id(quantity) in used or quantity.unit in (
            "money",
            "clock",
            "other",
            "psi",
            "gpm",
            "s",
            "gal",
            "sqft",
            "angle",
            "deg",
        ):
            continue
        cue = (
            _cue(sentence, cues, quantity)
            or _two_sides(sentence, quantity)
            or _cue_of_what_was_wanted(sentence, quantity)
        )
        answers = context.asked and not met_an_issue and not (sentence.mentions and not sentence.continues)
        if cue is None and answers and (_fits(context.asked or "", quantity) or _feet_asked(context, sentence)):
            cue = context.asked
        correction = corrected.get(id(quantity))
        meant = correction if correction and corrects_another(site, subjects, correction, cue) else None
        if meant and correct(site, context, sentence, subjects, meant):
            continue
        if quantity.start in priced or (met_an_issue and cue is None):
            continue
        taken, name = site.taken, _run_field(quantity, cue)
        several = runs if len(runs) > 1 else _together_in_note(context, sentence, quantity, runs)
        if len(several) > 1 and name:
            _of_several(site, context, sentence, several, name, quantity)
        else:
            _measure(site, context, sentence, subjects, quantity, cue, correction is not None)
        unplaced = correction is not None and quantity.unit in (None, "ft", "in", "pct") and not quantity.plural
        spoken = [*subjects, *(m.label for m in sentence.mentions if m.label), *([site.run] if site.run else [])]
        if site.taken == taken and spoken and (unplaced or _means_something(context, sentence, subjects, quantity)):
            about = (runs or spoken)[0]
            name = name if about.startswith(("R-", "CD-")) else None
            name = name or _bare_measure(sentence, quantity) or field_meant(about, quantity, sentence)
            site.ask(about, name, "low_confidence", evidence=[context.evidence(sentence)], heard=context.note.text)


def _run_field(quantity: Quantity, cue: str | None) -> str | None:
    """The field of a run that a quantity with that cue is for, or None."""
    if cue in ("cover", "drop"):
        return f"{cue}_in"
    if quantity.unit is None:
        return None
    if quantity.unit == "pct":
        return "slope_pct"
    return "length_ft" if cue == "length" or (cue is None and quantity.unit == "ft") else None


def _bare_measure(sentence: Sentence, quantity: Quantity) -> str | None:
    """The field of a run that a number with no unit may be for: "measured again, forty-two"."""
    said = sentence.find("attribute", "length", "drop", "slope")
    fields = {"length": "length_ft", "drop": "drop_in", "slope": "slope_pct"}
    return fields[said[-1].value] if said and quantity.unit is None else None


def _together_in_note(context: Context, sentence: Sentence, quantity: Quantity, runs: list[str]) -> list[str]:
    """As in "run one is thirty feet and run two is twenty, both at one percent"."""
    low, high = next((s for s in sentence.segments if s[0] <= quantity.start < s[1]), (0, 0))
    both = {"both", "all"} & set(sentence.tokens[low:high])
    return sorted(label for label in context.named if label.startswith("R-")) if both and runs else runs


def _of_several(
    site: Site, context: Context, sentence: Sentence, runs: list[str], name: str, quantity: Quantity
) -> None:
    """One measure of several runs: "both have a foot of cover". With no "each" or "both" nobody knows whose it is."""
    inches = quantity.value * 12 if quantity.unit == "ft" else quantity.value
    value = {"in": inches, "ft": inches / 12, "ct": quantity.value}[name[-2:]]
    for label in runs:
        if TOGETHER & sentence.words:
            put(site, context, sentence, label, name, value, quantity, False)
        else:
            site.ask(label, name, "low_confidence", evidence=[context.evidence(sentence)], heard=context.note.text)


def _means_something(context: Context, sentence: Sentence, subjects: list[str], quantity: Quantity) -> bool:
    """Whether a measure that found no place was said of what is spoken of, so that somebody should look."""
    if context.planned or sentence.has("issue"):
        return False
    if _of_pipe_in_the_ground(sentence, quantity):
        return True
    if sentence.word(quantity.end) in FAR_OFF:
        return False
    if _of_groundwork(sentence, quantity) or _of_the_ground(sentence) or _at_a_place(sentence, quantity):
        return False
    if any(sentence.has("attribute", each) for each in ("bedding", "backfill")):
        return False
    if quantity.unit is not None:
        return bool(subjects or sentence.mentions) and quantity.unit in ("ft", "in", "pct")
    if quantity.pointed and subjects and not subjects[0].startswith("R-"):
        return 20 <= quantity.value < 10_000  # as high as an elevation
    if subjects and subjects[0].startswith("R-") and sentence.word(quantity.start - 1) in ("is", "'s", "was"):
        return any(quantity.end == high for _, high in sentence.segments)  # "run one is forty-four and a quarter"
    if sentence.continues and context.measured and quantity.end == len(sentence.tokens):
        return True  # "run one twenty-five feet, run two thirty-five"
    return _bare_measure(sentence, quantity) is not None and sentence.word(quantity.end) in ("", ",", "long", "even")


def _of_pipe_in_the_ground(sentence: Sentence, quantity: Quantity) -> bool:
    """As in "it's 14 inches down" (a cover, or a depth?) and "take a foot off that"."""
    about_it = bool({"it", "pipe", "that"} & sentence.words)
    down = quantity.unit == "in" and sentence.word(quantity.end) == "down"
    off = quantity.unit in ("ft", "in") and sentence.word(quantity.end) == "off" and "take" in sentence.words
    short = quantity.unit == "ft" and sentence.word(quantity.end) in ("short", "shy", "longer", "shorter")
    runs = any(m.what == "run" for m in sentence.mentions)
    return (about_it and (down or off)) or (short and runs)


def _feet_asked(context: Context, sentence: Sentence) -> bool:
    """Whether a bare number is the whole answer to "how long is it?" or "what's the drop?"."""
    alone = len(sentence.quantities) == 1 and sentence.quantities[0].end == len(sentence.tokens)
    alone = alone and sentence.quantities[0].unit is None
    return context.asked in ("length", "drop") and alone and not sentence.mentions and not sentence.quantities[0].parts


def _priced(sentence: Sentence) -> set[int]:
    """The tokens behind a price up to the comma: "paid 300 dollars for 40 feet" measures nothing."""
    prices = {q.start for q in sentence.quantities if q.unit == "money"}
    if not prices:
        return prices
    return {i for low, high in sentence.segments for price in prices if low <= price < high for i in range(price, high)}


def _lengths_in_order(site: Site, context: Context, sentence: Sentence, runs: list[str], used: set[int]) -> None:
    """As in "runs one and two are in, thirty and forty feet", or, after such a list, "lengths in order are …"."""
    runs = site.listed if "lengths" in sentence.words else runs
    if len(runs) < 2:
        return
    feet = [q for q in sentence.quantities if q.unit == "ft" and id(q) not in used]
    bare = [q for q in sentence.quantities if q.unit is None and not q.parts and id(q) not in used]
    numbers = feet if len(feet) == len(runs) else sorted([*feet, *bare], key=lambda q: q.start)
    if not feet or len(numbers) != len(runs):
        return
    for label, quantity in zip(runs, numbers, strict=True):
        used.add(id(quantity))
        put(site, context, sentence, label, "length_ft", quantity.value, quantity, False)


def _stations(site: Site, context: Context, sentence: Sentence, subjects: list[str]) -> None:
    """As in "From zero plus ten to zero plus fifty-two": the stations a run starts and ends at, feet."""
    stations = [q.value for q in sentence.quantities if q.unit == "station"]
    if not stations:
        return
    label = subject_for(site, sentence, subjects, len(sentence.tokens), Run)
    run = site.entry(label)
    if len(stations) == 2 and isinstance(run, Run) and not context.planned:
        run.stations_ft = stations
        for quantity in sentence.quantities:
            if quantity.unit == "station":
                context.use(site, sentence, quantity, label, "stations_ft")
        site.witness(run, context.evidence(sentence), "stations_ft")


class Cues(NamedTuple):
    """The words of a sentence that say what is measured, and by a quantity's start the one that follows it."""

    terms: list[Term]
    behind: dict[int, Term]


def _cues(sentence: Sentence) -> Cues:
    terms = sentence.find("attribute", *CUES)
    at = {term.start: term for term in terms}
    behind = {q.start: term for q in sentence.quantities if (term := _cue_behind(sentence, at, q))} if terms else {}
    return Cues(terms, behind)


def _cue(sentence: Sentence, cues: Cues, quantity: Quantity) -> str | None:
    """Which measure a quantity is of: "14 inches of cover", "twenty feet long", else the last cue before it."""
    if not cues.terms:
        return None
    behind = cues.behind.get(quantity.start)
    if behind and behind.value == "drop" and quantity.unit is None and sentence.word(quantity.end) == "of":
        return "drop"  # "six of fall" is inches
    if behind:
        return behind.value if _fits(behind.value, quantity) else None
    served = {term.start for term in cues.behind.values()}
    before = [t for t in cues.terms if t.end <= quantity.start and t.start not in served]
    before = [t for t in before if not _let_fall(sentence, t, quantity)]
    if (
        not before
        and sentence.word(quantity.end) in ("at", "by", "near")
        and any(term.value == "cover" for term in cues.behind.values())
    ):
        return "cover" if quantity.unit in ("in", None) else None  # "16 inches of cover at the basin and only 9 at …"
    if not before:
        down = quantity.unit is not None and goes_down(sentence, quantity)
        return "invert" if down and sentence.has("attribute", "invert") else None
    cue = before[-1].value
    if cue == "elevation" and len(before) > 1 and before[-1].start - before[-2].end <= 3 and before[-2].value in LEVELS:
        cue = before[-2].value  # "the rim is at elevation 99.80"
    taken = [
        q
        for q in sentence.quantities
        if before[-1].end <= q.start < quantity.start
        and (q.unit == quantity.unit or (cue == "drop" and q.unit in ("in", "ft")))
    ]
    if cue in ("cover", *LEVELS) or not taken:
        return cue if _fits(cue, quantity) else None
    return None


def _two_sides(sentence: Sentence, quantity: Quantity) -> str | None:
    """As in "basin one, 98.04 in, 97.94 out", with no word for what they are."""
    high = quantity.unit is None and quantity.value >= LOWEST_BARE_FT
    return side_said(sentence, quantity) if high and {"in", "out"} <= sentence.words else None


def _cue_of_what_was_wanted(sentence: Sentence, quantity: Quantity) -> str | None:
    """As in "the city wants 18 inches of cover, we've got 20": the crew's own figure is of the same measure."""
    wanted = [t.value for t in sentence.denied if t.category == "attribute" and t.value in CUES]
    own = len(wanted) == 1 and not sentence.has("attribute", *CUES)
    fits = own and _fits(wanted[0], quantity) and not (wanted[0] in ("cover", "drop") and quantity.unit == "ft")
    return wanted[0] if fits else None


def _cue_behind(sentence: Sentence, at: dict[int, Term], quantity: Quantity) -> Term | None:
    """The cue that follows its number: "14 inches of cover", "six inches fall", "twenty feet long".

    One that goes on to a number of its own does not: "thirty feet, drops five inches", "five inches, cover is ten"."""
    of = sentence.word(quantity.end) == "of"
    term = at.get(quantity.end + of)
    if term is None or not (of or term.value in ("length", "width", "drop", "cover")):
        return None
    leads_on = sentence.word(term.end) in ("is", "'s", "was", ":") or (
        sentence.tokens[term.start] in FALLS and any(q.start == term.end for q in sentence.quantities)
    )
    return None if leads_on and not of else term


def _let_fall(sentence: Sentence, term: Term, quantity: Quantity) -> bool:
    """As in "dropped a twelve-foot board on it": no fall of a run."""
    off = sentence.word(quantity.end) == "off"
    return term.value == "drop" and (off or (sentence.word(term.end) in ("a", "the") and quantity.attributive))


def _fits(cue: str, quantity: Quantity) -> bool:
    units = {
        "cover": ("in", "ft", None),
        "drop": ("in", "ft"),
        "slope": ("pct",),
        "length": ("ft", "in"),
        "width": ("in",),
        "rim": ("ft", None),
        "elevation": ("ft", None),
        "place": (),
    }
    return quantity.unit in units.get(cue, ("ft", "in", None))


def _measure(
    site: Site,
    context: Context,
    sentence: Sentence,
    subjects: list[str],
    quantity: Quantity,
    cue: str | None,
    correct: bool,
) -> None:
    if _of_the_ground(sentence):
        return
    if cue in LEVELS:
        read_height(site, context, sentence, subjects, quantity, cue or "", correct)
        return
    if cue == "length":
        label = _long_thing(site, sentence, subjects, quantity) or site.run
        feet = quantity.value / 12 if quantity.unit == "in" else quantity.value
        put(site, context, sentence, label, "length_ft", feet, quantity, correct)
    elif cue == "width":
        label = next((each for each in subjects if each.startswith("CD-")), None)
        put(site, context, sentence, label, "size_in", [quantity.value], quantity, correct)
    elif cue in ("cover", "drop") and (sentence.word(quantity.end) != "of" or _cue_follows(sentence, quantity)):
        label = subject_for(site, sentence, subjects, len(sentence.tokens), Run)
        inches = quantity.value * 12 if quantity.unit == "ft" else quantity.value
        put(site, context, sentence, label, f"{cue}_in", inches, quantity, correct)
    elif quantity.unit == "pct" and (cue == "slope" or not _no_slope(sentence, quantity)):
        label = subject_for(site, sentence, subjects, len(sentence.tokens), Run)
        put(site, context, sentence, label, "slope_pct", quantity.value, quantity, correct)
    elif quantity.unit == "ft" and _is_distance(site, sentence, quantity, subjects):
        label = _long_thing(site, sentence, subjects, quantity)
        put(site, context, sentence, label, "length_ft", quantity.value, quantity, correct)


def _of_the_ground(sentence: Sentence) -> bool:
    """As in "the yard slopes two percent to the street", which is no slope of a run."""
    opening = sentence.tokens[:2]
    return not sentence.mentions and bool(GROUND & set(opening)) and opening != ["grade", "on"]


def _no_slope(sentence: Sentence, quantity: Quantity) -> bool:
    """As in "a hundred percent sure", "two percent over budget", "ninety percent compaction"."""
    return quantity.value >= 90 or sentence.word(quantity.end) in (
        "over",
        "of",
        "sure",
        "done",
        "compaction",
        "compacted",
    )


def _cue_follows(sentence: Sentence, quantity: Quantity) -> bool:
    return any(term.start == quantity.end + 1 for term in sentence.find("attribute", "cover", "drop"))


def _long_thing(site: Site, sentence: Sentence, subjects: list[str], quantity: Quantity) -> str | None:
    """The run or channel drain that a length is of; a basin has none."""
    if (opened := opens_at(sentence)) and opened.startswith("CD-"):
        return opened
    channels = [
        m.label for m in sentence.mentions if m.start < quantity.start and m.role == "subject" and m.prefix == "CD"
    ]
    runs = [label for label in subjects if label.startswith("R-")]
    if channels or runs:
        return channels[-1] if channels else runs[0]
    label = subject_for(site, sentence, subjects, quantity.start, Run, Structure)
    return label if label and label.startswith(("R-", "CD-")) else None


def _is_distance(site: Site, sentence: Sentence, quantity: Quantity, subjects: list[str]) -> bool:
    """Whether bare feet are the length of what is spoken of, and not how far off or deep something is."""
    after, then = sentence.word(quantity.end), sentence.word(quantity.end + 1)
    if quantity.attributive or after in NO_LENGTH_AFTER or sentence.word(quantity.start - 1) in ("down", "deep"):
        return False
    if after in ("up", "along") and (then == "from" or any(m.start == quantity.end + 1 for m in sentence.mentions)):
        return False  # "put a cleanout 20 feet up run one"
    if after in ("in", "to", "from") and not any(m.start - quantity.end in (1, 2, 3) for m in sentence.mentions):
        return after == "in" and then in ("the", "all") and "ground" in sentence.words
    alone = (quantity.start, quantity.end) in sentence.segments
    if _of_groundwork(sentence, quantity) or sentence.word(quantity.start - 1) in SPACED:
        return False
    if _at_a_place(sentence, quantity):
        return False
    if after == "from" and "to" not in sentence.tokens[quantity.end :]:
        return False  # "twenty feet from run one"
    return bool(subjects) or sentence.has("pipe") or sentence.has("pronoun", "it") or quantity.start <= 2 or alone


def _at_a_place(sentence: Sentence, quantity: Quantity) -> bool:
    """As in "wye at 22 feet", "goes under the path at twenty-six feet": how far along, not how long."""
    before = sentence.word(quantity.start - 2)
    long = {"out", "in", "taped", "measured", "done", "finished", "up", "it"}
    return (
        sentence.word(quantity.start - 1) == "at"
        and before not in long
        and not any(m.end >= quantity.start - 1 and m.start < quantity.start for m in sentence.mentions)
    )


def _of_groundwork(sentence: Sentence, quantity: Quantity) -> bool:
    """As in "twelve feet of driveway", "dug run one, sixty feet", "took out thirty feet of pipe": no pipe was laid."""
    follows = sentence.tokens[quantity.end + 1 : quantity.end + 7]
    pipe = bool({"pipe", "line", "tubing"} & set(follows)) or sentence.has("pipe")
    groundwork = any(0 < term.start - quantity.end <= 2 for term in sentence.find("groundwork"))
    if sentence.word(quantity.end) == "of" and groundwork and not pipe:
        return True
    low, high = next((s for s in sentence.segments if s[0] <= quantity.start < s[1]), (0, len(sentence.tokens)))
    tokens = sentence.tokens[low:high]
    dug = DUG & sentence.words and not sentence.has("pipe") and not sentence.has("state", "installed")
    lost = sentence.word(quantity.start - 1) == "lost" or sentence.tokens[high - 3 : high] == ["on", "the", "truck"]
    taken = any(token in TAKEN_OUT and sentence.word(i + low + 1) == "out" for i, token in enumerate(tokens))
    return bool(dug) or lost or taken
