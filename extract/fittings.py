"""Fittings of a run as they are counted aloud: "one long sweep ninety", "two 45s", "a three-to-four increaser"."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from extract.context import Context, Correction
from extract.lexicon import Term
from extract.record import Fitting, Run
from extract.site import Site
from extract.statements import Sentence
from extract.text.quantities import Quantity, angle_of, find_quantities

if TYPE_CHECKING:
    from collections.abc import Mapping

CHANGES_SIZE = ("reducer", "increaser", "adapter")
BRANCHES = ("wye", "tee")
BENDS = ("elbow", "long_sweep")
BEND_ANGLE = {
    word: 360 / part
    for part, words in {4: "1/4 quarter", 6: "1/6 sixth 6th", 8: "1/8 eighth 8th", 16: "1/16 sixteenth 16th"}.items()
    for word in words.split()
}
"""A bend named by its part of a full turn: an eighth bend turns 45 degrees."""
BETWEEN = {"degree", "inch", "more", "extra", "additional", "other", "new", "short"}
"""Words that may stand between a count and what is counted."""
SWAPS = {"swapped", "swap", "traded", "replaced"}
TAKES = {"took", "pulled", "taken"}
IN_ALL = {"total", "altogether"}
HOLDS = {"has", "have", "had", "got", "gets", "'s", "is", "are", "were", "was"}
"""What a run holds is told with one of these; what is put on it is more."""
SAID_AGAIN = {"yes", "yeah", "yep", "yup", "right", "correct", "again", "said", "still"}
FURTHER = {"more", "another", "extra", "also", "too", "plus", "other", "second", "third", "additional", "added", "add"}
THE_ONE = {"the", "that", "this"}
COUNTS = {"a": 1, "an": 1, "one": 1, "single": 1, "pair": 2, "couple": 2}
SEVERAL = 0
"""The count of "some 45s", which nobody has told: it is asked and not put down."""


def read_fittings(
    site: Site, context: Context, sentence: Sentence, subjects: list[str], corrected: Mapping[int, Correction]
) -> set[int]:
    """Add the fittings the sentence counts to its run; returns ids of the quantities they used up."""
    used: set[int] = set()
    if not sentence.quantities and not sentence.has("fitting"):
        return used
    found: list[tuple[int, Fitting, bool]] = []
    for term in _names(sentence):
        if sentence.word(term.start - 1) in ("my", "his", "her", "your"):
            continue  # an arm's elbow
        if sentence.word(term.start - 1) == "any":
            continue  # a question, whatever the answer
        if any(low <= term.start < high and "truck" in sentence.tokens[low:high] for low, high in sentence.segments):
            continue  # what is in the truck is not in the ground
        if _heading(sentence, term):
            continue
        fitting, parts = _named(sentence, term, used)
        used |= parts
        doubted = [q for q in sentence.quantities if id(q) in parts]
        badly_heard = any((q.glued and not q.pointed) or q.bound for q in doubted) or context.mumbled
        why = next((doubt for q in doubted if (doubt := context.said(0, sentence, q).doubt)), None)
        why = "low_confidence" if badly_heard else why
        if why and site.run:
            site.ask(site.run, "fittings", why, evidence=[context.evidence(sentence)], heard=context.note.text)
        found.append((term.start, fitting, bool(parts & set(corrected))))
    for quantity in sentence.quantities:
        if site.level_last and id(quantity) in corrected:
            continue  # "make that five eleven" of a rod is no five bends
        bend = _bend(sentence, quantity, used, listed=bool(found))
        if bend and bend[0].angle_deg:
            used |= bend[1]
            doubts = (context.said(0, sentence, q).doubt for q in sentence.quantities if id(q) in bend[1])
            if site.run and (why := next(filter(None, doubts), None)):
                heard = context.note.text
                site.ask(site.run, "fittings", why, evidence=[context.evidence(sentence)], heard=heard)
            found.append((quantity.start, bend[0], bool(bend[1] & set(corrected))))
    for quantity in sentence.quantities:
        if id(quantity) in used:
            context.use(site, sentence, quantity, site.run, "fittings")
    found = _without_sums(sentence, found)
    taken_back = [c for c in corrected.values() if c.quantity.unit is None and not c.quantity.parts]
    if len(found) == 1 and len(taken_back) == 1 and found[0][1].count == 1:
        found[0][1].count, used = int(taken_back[0].quantity.value), used | {id(taken_back[0].quantity)}
    olds = [c.old for c in corrected.values() if c.quantity.unit == "angle" and c.old]
    listed: list[tuple[str, Fitting]] = []
    for at, fitting, corrects in found if not context.planned else ():
        for label in _runs_for(site, context, sentence, subjects, at):
            if len(found) == 1:
                _replace_denied(site, sentence, label, fitting)
                _replace_angle(site, label, fitting, olds)
            if _swapped_out(sentence, at):
                _take_out(site, label, fitting)
                continue
            if _told_before(site, sentence, label, at, fitting):
                continue
            if fitting.count == SEVERAL:
                heard = context.note.text
                site.ask(label, "fittings", "missing", evidence=[context.evidence(sentence)], heard=heard)
                continue
            over_again = "fittings" in sentence.words and not any(
                label == on and _same(fitting, other) for on, other in listed
            )
            _add(site, context, sentence, label, fitting.model_copy(), corrects, over_again)
            listed.append((label, fitting))
    return used


def _heading(sentence: Sentence, term: Term) -> bool:
    """As in "elbows: two 45s"."""
    follows = any(q.plural for q in sentence.quantities if q.start > term.end)
    return ":" in sentence.tokens[term.end : term.end + 4] and term.value in BENDS and follows


def _without_sums(sentence: Sentence, found: list[tuple[int, Fitting, bool]]) -> list[tuple[int, Fitting, bool]]:
    """As in "two elbows, one 45 and one 90": the two are the ones told after."""
    told = sum(fitting.count for _, fitting, _ in found if fitting.kind == "elbow" and fitting.angle_deg)
    first = found[0] if found else None
    if first is None or not told or first[1].kind != "elbow" or first[1].angle_deg or first[1].count != told:
        return found
    follows = found[1][0]
    return found[1:] if {",", ":"} & set(sentence.tokens[first[0] : follows]) else found


def _runs_for(site: Site, context: Context, sentence: Sentence, subjects: list[str], at: int) -> list[str]:
    """The run a fitting sits on: "two 45s on run one, a wye on run two"; "on run two, two 45s"; "one on each"."""
    if "each" in sentence.words:
        return sorted(label for label in context.named if label.startswith("R-"))
    runs = [m for m in sentence.mentions if m.what == "run" and m.label and m.role == "subject"]
    if len(runs) > 1:
        after = [m for m in runs if m.start > at]
        before = [m for m in runs if m.start < at]
        follows = not before or sentence.word(runs[0].start - 1) == "on" and runs[0].start > 3
        chosen = after[0] if follows and after else (before or after)[-1]
        return [chosen.label] if chosen.label else []
    label = next((each for each in subjects if each.startswith("R-")), site.run)
    return [label] if label else []


def count_cleanouts(sentence: Sentence) -> Sentence:
    """A cleanout counted among fittings ("two 45s, one coupling and a cleanout") is a fitting, not a structure."""
    ends = [term.end for term in sentence.find("fitting")] + [q.end for q in sentence.quantities if q.plural]
    if not ends:
        return sentence
    counted = [
        m
        for m in sentence.mentions
        if m.what == "cleanout" and m.how in ("indefinite", "bare") and not m.place
        if any(0 < m.start - end <= 3 for end in ends)
    ]
    if not counted:
        return sentence
    terms = [*sentence.terms, *(Term("fitting", "cleanout", m.start, m.end) for m in counted)]
    mentions = [m for m in sentence.mentions if m not in counted]
    return replace(sentence, terms=sorted(terms, key=lambda t: t.start), mentions=mentions)


def without_sleeve(sentence: Sentence) -> Sentence:
    """The sentence without the length and pipe of a sleeve: "sleeve is six-inch Schedule 40, five feet long"."""
    sleeve = next(iter(sentence.find("fitting", "sleeve")), None)
    if sleeve is None:
        return sentence
    low = next((a for a, b in sentence.segments if a <= sleeve.start < b), 0)
    runs = [m.start for m in sentence.mentions if m.what == "run" and m.start > sleeve.end]
    high = next((a for a, b in sentence.segments for run in runs if a <= run < b), len(sentence.tokens))
    kept = [q for q in sentence.quantities if not (low <= q.start < high and q.unit == "ft")]
    size = next((q for q in sentence.quantities if sleeve.end <= q.start < high and q.unit == "in"), None)
    kept = [q._replace(start=sleeve.start, end=sleeve.start) if q is size else q for q in kept]
    terms = [t for t in sentence.terms if t.category != "pipe" or not low <= t.start < high]
    return replace(sentence, quantities=sorted(kept, key=lambda q: q.start), terms=terms)


def _add(
    site: Site,
    context: Context,
    sentence: Sentence,
    label: str,
    fitting: Fitting,
    corrects: bool,
    over_again: bool,
) -> None:
    """`over_again` is true of a list of what is on the run: it may hold what was told before."""
    run = site.entry(label)
    if not isinstance(run, Run):
        return
    same = next((f for f in run.fittings if _same(f, fitting)), None)
    further = bool({"more", "another", "extra"} & sentence.words)
    corrects = corrects or (bool(IN_ALL & sentence.words) and not further) or sentence.has("last", "correction")
    if _taken_out(sentence):
        _take_out(site, label, fitting)
    elif same and over_again and not corrects and not further:
        site.ask(label, "fittings", "conflict", evidence=[context.evidence(sentence)], heard=context.note.text)
        same.count = fitting.count
    elif same and not corrects and _retold(site, context, sentence, label, same, fitting):
        pass
    elif same:
        asked = corrects or site.is_asked(label, "fittings")  # which a later note may answer
        if _tells_otherwise(context, run, same, fitting, sentence) and not asked:
            both = [same.count + fitting.count, fitting.count]
            evidence = [context.evidence(sentence)]
            site.ask(label, "fittings", "conflict", evidence=evidence, heard=context.note.text, choices=both)
        same.count = fitting.count if corrects else same.count + fitting.count
    else:
        run.fittings.append(fitting)
    site.fitting_last = same or fitting
    site.witness(run, context.evidence(sentence), "fittings")


def _tells_otherwise(context: Context, run: Run, same: Fitting, fitting: Fitting, sentence: Sentence) -> bool:
    """As in "two 45s and the wye" after "three 45s": another count of the same, and no word that it is more."""
    before = any(e.field == "fittings" and e.note < context.index for e in run.evidence)
    return before and not FURTHER & sentence.words and fitting.count > 1 and same.count != fitting.count


def _retold(site: Site, context: Context, sentence: Sentence, label: str, same: Fitting, fitting: Fitting) -> bool:
    """As in "yeah, run one's got two 45s on it" after "run one has two 45s": the same count told again, not more."""
    run = site.entry(label)
    before = run is not None and any(e.field == "fittings" and e.note < context.index for e in run.evidence)
    further = FURTHER & sentence.words or "fittings" in sentence.words
    if not before or further or same.count != fitting.count:
        return False
    if fitting.count == 1 and not sentence.words & (HOLDS | SAID_AGAIN):
        return False  # "put a 45 on run one" is one more
    site.settle(label, "fittings")
    return True


def _taken_out(sentence: Sentence) -> bool:
    """As in "took one 45 out of run one"."""
    if not TAKES & sentence.words:
        return False
    ends = ("", ",", "of")
    return any(token == "out" and sentence.word(i + 1) in ends for i, token in enumerate(sentence.tokens))


def _swapped_out(sentence: Sentence, at: int) -> bool:
    """Whether the fitting at the word `at` is the one that went: "swapped one of the 45s for a 22"."""
    verb = next((i for i, token in enumerate(sentence.tokens) if token in SWAPS), None)
    instead = next((i for i, token in enumerate(sentence.tokens) if token in ("for", "with")), None)
    return verb is not None and instead is not None and verb < at < instead


def _told_before(site: Site, sentence: Sentence, label: str, at: int, fitting: Fitting) -> bool:
    """Whether "the cap" at the word `at` is one that is there, and no other: "the cap is cracked, we replaced it"."""
    run = site.entry(label)
    there = isinstance(run, Run) and any(each.kind == fitting.kind for each in run.fittings)
    mended = sentence.has("issue") or "replaced" in sentence.words
    return sentence.word(at - 1) in THE_ONE and (there or mended)


def _take_out(site: Site, label: str, fitting: Fitting) -> None:
    run = site.entry(label)
    same = next((f for f in run.fittings if _same(f, fitting)), None) if isinstance(run, Run) else None
    if same is None or not isinstance(run, Run):
        return
    same.count -= fitting.count
    if same.count < 1:
        run.fittings.remove(same)


def _replace_angle(site: Site, label: str, fitting: Fitting, olds: list[float]) -> None:
    """As in "those were 22s, not 45s": as many as there were of the wrong angle."""
    run = site.entry(label)
    if not isinstance(run, Run):
        return
    wrong = next((f for f in run.fittings if f.kind == fitting.kind and f.angle_deg in olds), None)
    if wrong:
        fitting.count = max(fitting.count, wrong.count)
        run.fittings.remove(wrong)


def _replace_denied(site: Site, sentence: Sentence, label: str, fitting: Fitting) -> None:
    """As in "Tee, not wye": the tee stands where the wye stood, as many of them."""
    run = site.entry(label)
    if not isinstance(run, Run):
        return
    for term in sentence.denied:
        wrong = next((f for f in run.fittings if term.category == "fitting" and f.kind == term.value), None)
        if wrong:
            fitting.count = wrong.count
            run.fittings.remove(wrong)


def _same(a: Fitting, b: Fitting) -> bool:
    return (a.kind, a.angle_deg, a.nominal_in, a.to_nominal_in) == (b.kind, b.angle_deg, b.nominal_in, b.to_nominal_in)


def _named(sentence: Sentence, term: Term, used: set[int]) -> tuple[Fitting, set[int]]:
    """A fitting by its name, with the count, angle and sizes said around it."""
    fitting = Fitting.model_validate({"kind": term.value})
    parts: set[int] = set()
    before = [q for q in sentence.quantities if q.end <= term.start and id(q) not in used]
    after = [q for q in sentence.quantities if q.start >= term.end and id(q) not in used]
    if fitting.kind in (*CHANGES_SIZE, *BRANCHES):
        parts |= _sizes(sentence, term, fitting, before, after)
    if fitting.kind in ("elbow", "long_sweep") and after and _angle_follows(sentence, term, after[0]):
        fitting.angle_deg, parts = angle_of(after[0]), parts | {id(after[0])}
    at = _set_turn(sentence, term, fitting)
    inside = [q for q in sentence.quantities if at < q.end <= term.end]
    parts |= {id(q) for q in inside}
    if inside and inside[0].start < at:  # "two 1/8 bends" and "two eighth bends" were read as one number
        counted = find_quantities(sentence.tokens[inside[0].start : at])
        fitting.count = int((counted[0].parts or (counted[0].value,))[0]) if counted else 1
        return fitting, parts
    at = _before_pipes(sentence, min([at, *_starts(sentence, parts)]))
    numbered = False
    for quantity in reversed([q for q in before if id(q) not in parts]):
        if at - quantity.end > 1 or (at - quantity.end == 1 and sentence.word(quantity.end) not in BETWEEN):
            break
        at = quantity.start
        parts.add(id(quantity))
        if quantity.unit == "in":
            fitting.nominal_in = quantity.value
        elif fitting.kind in (*BENDS, "wye") and angle_of(quantity) and quantity.value > 10:
            fitting.angle_deg = angle_of(quantity)
        elif quantity.unit is None and quantity.parts[:1] and angle_of(_last_part(quantity)):
            fitting.count, fitting.angle_deg = int(quantity.parts[0]), angle_of(_last_part(quantity))
            numbered = True
            break
        elif quantity.unit is None and 1 <= quantity.value <= 200:
            fitting.count = int(quantity.value)
            numbered = True
            break
    if not numbered and fitting.count == 1:
        several = sentence.tokens[term.end - 1].endswith("s")
        fitting.count = _count_word(sentence, min([at, *_starts(sentence, parts)]), several)
        if fitting.count in (SEVERAL, 1) and (told := _count_after(sentence, term.end, after)):
            fitting.count, parts = int(told.value), parts | {id(told)}
    return fitting, parts


def _names(sentence: Sentence) -> list[Term]:
    """The fittings named; "long turn 1/4 bend" and "1/4 bend, long turn" are one name of two words."""
    names: list[Term] = []
    for term in sentence.find("fitting"):
        last = names[-1] if names else None
        if last and _one_bend(sentence, last, term):
            kind = "long_sweep" if "long_sweep" in (last.value, term.value) else "elbow"
            names[-1] = Term("fitting", kind, last.start, term.end)
        else:
            names.append(term)
    return names


def _one_bend(sentence: Sentence, first: Term, second: Term) -> bool:
    if first.value not in BENDS or second.value not in BENDS:
        return False
    gap = sentence.tokens[first.end : second.start]
    if second.value == "elbow" and (first.value == "long_sweep" or sentence.tokens[first.end - 1] == "sweep"):
        between = [q for q in sentence.quantities if first.end <= q.start and q.end <= second.start]
        turn = between[0] if len(between) == 1 and between[0].end - between[0].start == len(gap) else None
        named = gap == [] or (len(gap) == 1 and gap[0] in BEND_ANGLE)
        return named or (turn is not None and angle_of(turn) is not None)
    follows = next((q for q in sentence.quantities if q.start >= second.end), None)
    angle_to_come = follows is not None and _angle_follows(sentence, second, follows)
    return second.value == "long_sweep" and gap in ([], [","]) and not angle_to_come


def _set_turn(sentence: Sentence, term: Term, fitting: Fitting) -> int:
    """Set the angle that a bend's name holds ("1/8 bend", "long sweep 90 elbow"); returns where the name begins."""
    if fitting.kind not in BENDS:
        return term.start
    for i in range(term.start - 1, term.end):
        if sentence.word(i) in BEND_ANGLE:
            fitting.angle_deg = BEND_ANGLE[sentence.word(i)]
            at = min(i, term.start)
            return at - (sentence.word(at - 1) == "street")
    inner = next((q for q in sentence.quantities if term.start < q.start < term.end), None)
    fitting.angle_deg = angle_of(inner) if inner else fitting.angle_deg
    return term.start


def _before_pipes(sentence: Sentence, at: int) -> int:
    """Where "SDR 35 to Schedule 40" begins in front of "adapter", or "SDR 35" in front of "couplings"."""
    starts = {term.end: term.start for term in sentence.find("pipe")}
    while (end := at - (sentence.word(at - 1) in ("to", "by", "x"))) in starts:
        at = starts[end]
    return at


def _starts(sentence: Sentence, parts: set[int]) -> list[int]:
    return [q.start for q in sentence.quantities if id(q) in parts]


def _count_word(sentence: Sentence, at: int, several: bool) -> int:
    """The count that a word before `at` stands for; with none it is SEVERAL, or 1 of what is named in the singular."""
    at -= sentence.tokens[max(0, at - 2) : at] == ["of", "the"]
    word = sentence.word(at - 1)
    if word == "of":
        word = sentence.word(at - 2)
    return COUNTS.get(word, SEVERAL if several else 1)


def _count_after(sentence: Sentence, end: int, after: list[Quantity]) -> Quantity | None:
    """The count of "wyes two" and "couplings on run one: five", said after the name."""
    told = next(iter(after), None)
    if told is None or told.unit is not None or told.parts or not sentence.tokens[end - 1].endswith("s"):
        return None
    gap = sentence.tokens[end : told.start]
    named = {i for m in sentence.mentions for i in range(m.start, m.end)}
    plain = [token for i, token in enumerate(gap, start=end) if i not in named]
    last = sentence.word(told.end) in ("", ",", ".", "and")
    listed = plain == [":"] or plain == ["on", ":"] or (gap == [] and last)
    return told if listed and last and 1 <= told.value <= 200 else None


def _last_part(quantity: Quantity) -> Quantity:
    return Quantity(quantity.parts[-1], None, quantity.start, quantity.end)


def _angle_follows(sentence: Sentence, term: Term, quantity: Quantity) -> bool:
    gap = sentence.tokens[term.end : quantity.start]
    return gap in ([], ["of"]) and angle_of(quantity) is not None


def _sizes(sentence: Sentence, term: Term, fitting: Fitting, before: list[Quantity], after: list[Quantity]) -> set[int]:
    """As in "A three-to-four increaser", "one reducer, six to four": from a size to a size, with a count in front."""
    written = next((q for q in before if q.unit == "size" and q.end == term.start), None)
    if written:
        fitting.nominal_in, fitting.to_nominal_in = written.values
        return {id(written)}
    for near in (before[-2:], after[:2]):
        joints = (["by"], ["x"]) if fitting.kind in BRANCHES else (["to"], ["by"], ["x"])
        if len(near) != 2 or sentence.tokens[near[0].end : near[1].start] not in joints:
            continue
        if min(abs(near[1].end - term.start), abs(near[0].start - term.end)) > 2:
            continue
        first = near[0].parts or (near[0].value,)
        if len(first) == 2:
            fitting.count = int(first[0])
        fitting.nominal_in, fitting.to_nominal_in = first[-1], near[1].value
        return {id(q) for q in near}
    return set()


def _bend(sentence: Sentence, quantity: Quantity, used: set[int], listed: bool) -> tuple[Fitting, set[int]] | None:
    """A bend named by its angle alone: "two 45s", "a single 22", "then one forty-five"."""
    if id(quantity) in used:
        return None
    if quantity.plural and quantity.unit == "angle":
        if sentence.tokens[max(0, quantity.start - 2) : quantity.start] == ["out", "of"]:
            return None  # "ran out of 45s"
        size = next((q for q in sentence.quantities if q.end == quantity.start and q.unit == "in"), None)
        start = size.start if size else quantity.start - (sentence.word(quantity.start - 1) in BETWEEN)
        count = next((q for q in sentence.quantities if q.end == start and q.unit is None), None)
        if count is None and _count_word(sentence, start, several=True) in (SEVERAL, 1):
            count = _count_after(sentence, quantity.end, [q for q in sentence.quantities if q.start >= quantity.end])
        number = int(count.value) if count and not count.parts else _count_word(sentence, start, several=True)
        nominal = size.value if size else None
        fitting = Fitting(kind="elbow", count=number, angle_deg=angle_of(quantity), nominal_in=nominal)
        return fitting, {id(q) for q in (quantity, size, count) if q}
    if quantity.unit not in (None, "deg"):
        return None
    alone = len(quantity.parts) == 2 and quantity.parts[0] == 1 and (quantity.start, quantity.end) in sentence.segments
    on_a_run = (
        alone
        or sentence.word(quantity.end) == "on"
        or (sentence.word(quantity.end) == "at" and not sentence.has("attribute"))
        or "fittings" in sentence.words
        or any(q.plural for q in sentence.quantities)
        or _taken_out(sentence)
        or sentence.has("last", "correction")
    )
    if (
        (listed or on_a_run)
        and len(quantity.parts) == 2
        and quantity.parts[0] <= 12
        and angle_of(_last_part(quantity))
        and _ends(sentence, quantity)
    ):
        fitting = Fitting(kind="elbow", count=int(quantity.parts[0]), angle_deg=angle_of(_last_part(quantity)))
        return fitting, {id(quantity)}
    before = sentence.word(quantity.start - 1)
    single = before in ("a", "single", "an", "another", "more") and _ends(sentence, quantity)
    sure = listed or before in ("single", "another", "more") or quantity.value in (22.5, 45, 90)
    if single and sure and not quantity.parts and angle_of(quantity):
        return Fitting(kind="elbow", count=1, angle_deg=angle_of(quantity)), {id(quantity)}
    return None


def _ends(sentence: Sentence, quantity: Quantity) -> bool:
    """Whether nothing after the number makes it a measure of something else."""
    after = ("", ",", "and", "on", "at", "in", "out", "bend", "elbow", "plus", "then", "right", "total")
    return sentence.word(quantity.end) in after
