"""What one sentence says of structures and runs: which ones, their ends and state, sizes, measures, pipe, fittings."""

from __future__ import annotations

import re

from extract.context import Context, Correction
from extract.fittings import read_fittings
from extract.quantities import Quantity, elevation_of, lost_its_point, rod_of
from extract.record import Run, Structure
from extract.site import Site
from extract.statements import Mention, Sentence

STRENGTH = {"planned": 0, "installed": 1, "existing": 2, "removed": 3, "abandoned": 4}
RUN_VERBS = {"ran", "laid", "run", "glued", "lay"}
PIECES = {"stick", "sticks", "piece", "pieces", "joint", "joints", "length", "lengths", "cut", "cutoff"}
SIZE_NOUNS = {"round", "square", "diameter"}
NOT_YET = {"before", "until", "to", "gotta", "will", "then"}
LONGEST_ROD_FT = 25
LINKS = {"is", "'s", "of", "on", "a", "at", "about", "was", "=", ":"}
NO_LENGTH_AFTER = {"deep", "down", "away", "apart", "high", "thick", "below", "above", "past", "off", "behind", "under"}
LEVELS = ("invert", "invert_in", "invert_out", "rim", "elevation")


def read_facts(site: Site, context: Context, sentence: Sentence, corrections: list[Correction]) -> None:
    """Put what the (masked) sentence says of structures and runs into the site."""
    subjects = name_subjects(site, context, sentence)
    read_states(site, context, sentence, subjects)
    corrected = {id(c.quantity): c for c in corrections}
    used = _attributive_sizes(site, context, sentence, subjects, corrected)
    used |= read_fittings(site, context, sentence, subjects, corrected)
    _pipe(site, context, sentence, subjects)
    _pieces(site, context, sentence, subjects, used)
    _measures(site, context, sentence, subjects, used, corrected)
    _texts(site, context, sentence, subjects)


# -- who is spoken of


def name_subjects(site: Site, context: Context, sentence: Sentence) -> list[str]:
    """Resolve every mention, set the ends of a run, and return the labels the sentence is about, in order."""
    _join_appositions(site, context, sentence)
    installed = not context.planned and sentence.has("state", "installed")
    subjects: list[str] = []
    for mention in sentence.mentions:
        if mention.what != "run":
            labels = [mention.label] if mention.label else site.resolve(mention, installed)
            subjects += labels if mention.role == "subject" else []
    runs = _runs(site, context, sentence)
    context.named.update(subjects, runs, [m.label for m in sentence.mentions if m.label])
    spoken = list(dict.fromkeys([*runs, *subjects] if runs else subjects))
    for label in [*[m.label for m in sentence.mentions if m.label and m.role == "near"], *subjects, *runs]:
        site.focus(label)
    return spoken


def _join_appositions(site: Site, context: Context, sentence: Sentence) -> None:
    """As in "The old basin by the garage, … that's basin one" and "outlet one, a pop-up" each name one thing."""
    mentions = [m for m in sentence.mentions if m.what != "run"]
    _outlet_of_this_note(site, context, sentence, mentions)
    for first, second in zip(mentions, mentions[1:], strict=False):
        if first.prefix != second.prefix or {first.role, second.role} & {"from", "to"} == {"from", "to"}:
            continue
        if _numbers_late(site, sentence, first, second):
            continue
        fresh = second.number is not None and site.entry(f"{second.prefix}-{second.number}") is None
        if (
            first.number is None
            and second.how == "named"
            and (not site.knows(first) or (fresh and first.how == "bare"))
        ):
            first.number, first.how = second.number, "named"
        elif first.number is not None and second.number is None and first.prefix == "OUT":
            second.number, second.how = first.number, "named"
        elif first.number is None and second.number is None and first.prefix == "OUT" and second.how != "indefinite":
            first.label = site.resolve(first)[0]
            first.number = second.number = int(first.label.rsplit("-", 1)[1])


def _numbers_late(site: Site, sentence: Sentence, first: Mention, second: Mention) -> bool:
    """As in "The porch cleanout is cleanout two": what is known takes the number."""
    if first.number is not None or second.how != "named" or not site.knows(first):
        return False
    if sentence.tokens[first.end : second.start][-1:] not in (["is"], ["'s"]):
        return False
    label, new = site.resolve(first)[0], f"{second.prefix}-{second.number}"
    if label != new and site.entry(new) is None:
        site.rename(label, new)
        first.label = new
    return True


def _outlet_of_this_note(site: Site, context: Context, sentence: Sentence, mentions: list[Mention]) -> None:
    """In "outlet one … it's daylight at the ditch" the kind belongs to the outlet just named."""
    outlets = [label for label in context.named if label.startswith("OUT-")]
    if sentence.has("neutral", "change") or context.changes_plan:
        context.changes_plan = True
        kinds = [m for m in mentions if m.prefix == "OUT" and m.what != "outlet"]
        for denied in kinds[1:]:  # "a pop-up, not a daylight outlet", however the "not" was heard
            mentions.remove(denied)
            sentence.mentions.remove(denied)
    for mention in mentions:
        if mention.prefix == "OUT" and mention.number is None and len(outlets) == 1:
            entry = site.entry(outlets[0])
            if entry and (entry.state in (None, "planned") or mention.what in ("outlet", getattr(entry, "kind", None))):
                mention.number = int(outlets[0].rsplit("-", 1)[1])


def _runs(site: Site, context: Context, sentence: Sentence) -> list[str]:
    """The runs spoken of: by number, by their ends, or by "that run"; their ends are set."""
    start, end = _ends(site, sentence)
    named = [m for m in sentence.mentions if m.what == "run" and m.role == "subject"]
    numbered = [m for m in named if m.number is not None]
    labels = [label for m in numbered for label in site.resolve(m)]
    if len(labels) > 1:
        site.listed = labels
    placed = [m for m in named if m.number is None and m.place and site.at_place(m.place, "R")]
    if not labels and placed:
        labels = site.resolve(placed[-1])
    if not labels and end and not start and not named:
        start = _tied_in(sentence)
    if not labels and (start or end):
        labels = _run_by_ends(site, context, sentence, start, end)
    if not labels and (known := [m for m in named if not m.place or site.run]):
        labels = site.resolve(known[-1])
    if not labels and _that_pipe(sentence) and site.run:
        labels = [site.run]
    for mention in named:
        if len(labels) == 1 and mention.place:
            site.places.setdefault(labels[0], set()).update(mention.place)
    if len(labels) == 1 and (start or end):
        _set_ends(site, context, sentence, labels[0], start, end)
    return list(dict.fromkeys(labels))


def _tied_in(sentence: Sentence) -> str | None:
    """As in "Basin two is in with a three-inch line to basin one": the structure spoken of is the upper end."""
    end = next((m for m in sentence.mentions if m.role == "to"), None)
    if end is None:
        return None
    before = [m.label for m in sentence.mentions if m.end <= end.start and m.role == "subject" and m.what != "run"]
    return before[-1] if before else None


def _that_pipe(sentence: Sentence) -> bool:
    return any(
        sentence.tokens[term.end - 1] in ("pipe", "line") and sentence.word(term.start - 1) in ("that", "the", "this")
        for term in [*sentence.find("run", "pipe"), *sentence.find("issue", "existing_line")]
    )


def _ends(site: Site, sentence: Sentence) -> tuple[str | None, str | None]:
    start = next((m.label for m in sentence.mentions if m.role == "from" and m.what != "run"), None)
    end = next((m.label for m in sentence.mentions if m.role == "to" and m.what != "run"), None)
    if start is None:
        for i, token in enumerate(sentence.tokens):
            if token == "from" and sentence.word(i + 1) in ("it", "there", "that"):
                before = [m for m in sentence.mentions if m.start < i and m.what != "run"]
                start = before[-1].label if before else site.structure
    if end is None:
        end = _comes_out(sentence)
    return start or _end_by_place(site, sentence, "from"), end or _end_by_place(site, sentence, "to")


def _end_by_place(site: Site, sentence: Sentence, word: str) -> str | None:
    """As in "From the low spot to the oak": a structure named by nothing but its place."""
    if word == "to" and "from" not in sentence.tokens:
        return None
    for i, token in enumerate(sentence.tokens):
        if token == word and sentence.word(i + 1) == "the":
            words = [w for w in sentence.tokens[i + 2 : i + 4] if w not in ("to", ",", "'s", "is")]
            return site.at_place(set(words[:1] if sentence.word(i + 3) in ("to", ",", "") else words))
    return None


def _comes_out(sentence: Sentence) -> str | None:
    """As in "Comes out at the pond bank, daylight": the outlet named after is the lower end."""
    for i, token in enumerate(sentence.tokens):
        if token in ("out", "ends", "discharges", "empties", "dumps") and sentence.word(i + 1) in (
            "at",
            "to",
            "in",
            "into",
        ):
            after = [m for m in sentence.mentions if m.start > i and m.prefix in ("OUT", "DW")]
            return after[0].label if after else None
    return None


def _run_by_ends(site: Site, context: Context, sentence: Sentence, start: str | None, end: str | None) -> list[str]:
    known = site.run_between(start, end)
    if known:
        return [known]
    current = site.entry(site.run)
    if start and end and isinstance(current, Run) and not (current.from_ or current.to) and site.last == site.run:
        return [current.label]
    speaks_of_pipe = (
        sentence.has("pipe")
        or sentence.has("run")
        or sentence.has("issue", "existing_line")
        or bool(RUN_VERBS & set(sentence.tokens))
        or any(mention.what == "run" for mention in sentence.mentions)
        or any(q.attributive for q in sentence.quantities)
        or (start and end and (sentence.has("state") or context.planned))
    )
    if not speaks_of_pipe or (not (start and end) and not RUN_VERBS & set(sentence.tokens)):
        return []
    label = site.free_label("R")
    site.add(label)
    return [label]


def _set_ends(site: Site, context: Context, sentence: Sentence, label: str, start: str | None, end: str | None) -> None:
    run = site.entry(label)
    if not isinstance(run, Run):
        return
    both = start is not None and end is not None
    for name, held, value in (("from", run.from_, start), ("to", run.to, end)):
        # One end in passing ("one adapter to get out of the basin") never moves a run that has it.
        if value and (held is None or both or run.state in (None, "planned")):
            site.put(label, name, context.said(value, sentence, corrected=held is not None and run.state == "planned"))


# -- in what state


def read_states(site: Site, context: Context, sentence: Sentence, subjects: list[str]) -> None:
    """Which of the subjects are planned, installed, existing, abandoned or removed by this sentence."""
    strongest: dict[str, str] = {}
    planned = context.planned
    for low, high in sentence.segments:
        cues = [term.value for term in sentence.find("state", within=(low, high))]
        cues += ["installed"] * sentence.has("attribute", "bedding", within=(low, high))
        if sentence.word(high - 1) == "in" and any(m.end == high - 1 for m in sentence.mentions):
            cues.append("installed")
        if "planned" in cues:
            planned = True
        elif cues and _starts_anew(sentence, low, high):
            planned = context.planned_note
        for label in _who(site, context, sentence, subjects, (low, high)):
            for cue in cues:
                state = "planned" if planned and cue == "installed" else cue
                if STRENGTH[state] >= STRENGTH[strongest.get(label, "planned")]:
                    strongest[label] = state
    if planned:
        ends = [m.label for m in sentence.mentions if m.role in ("from", "to") and m.label]
        for label in [*subjects, *ends]:
            strongest.setdefault(label, "planned")
    for label, state in strongest.items():
        _set_state(site, context, sentence, label, state)


def _starts_anew(sentence: Sentence, low: int, high: int) -> bool:
    """A segment with its own subject and "is in" leaves the plan of the segment before."""
    return any(low <= m.start < high and m.role == "subject" for m in sentence.mentions)


def _who(site: Site, context: Context, sentence: Sentence, subjects: list[str], within: tuple[int, int]) -> list[str]:
    """Whom a state in that segment belongs to."""
    low, high = within
    here = [m for m in sentence.mentions if low <= m.start < high and m.role == "subject" and m.label]
    runs = [label for label in subjects if label.startswith("R-")]
    if here:
        labels = list(dict.fromkeys(label for m in here for label in _labels(site, m)))
        has_ends = any(low <= m.start < high and m.role in ("from", "to") for m in sentence.mentions)
        return [*runs, *labels] if has_ends else labels
    if runs and any(low <= m.start < high and m.role in ("from", "to") for m in sentence.mentions):
        return runs
    if subjects:
        earlier = [m for m in sentence.mentions if m.start < low and m.role == "subject" and m.label]
        return [earlier[-1].label] if earlier and earlier[-1].label else runs or subjects[:1]
    if sentence.has("pronoun", "it", within=within) or _opens_with_cue(sentence, low):
        if context.asked_of is not None:
            labels = site.resolve(context.asked_of)
            site.focus(labels[0])
            return labels
        return [site.last] if site.last else []
    return []


def _labels(site: Site, mention: Mention) -> list[str]:
    if mention.how == "many":
        return site.labels(mention.prefix)[: mention.number]
    if mention.through and mention.number:
        return [f"{mention.prefix}-{n}" for n in range(mention.number, mention.through + 1)]
    return [mention.label] if mention.label else []


def _opens_with_cue(sentence: Sentence, low: int) -> bool:
    return any(term.start <= low + 1 and term.start >= low for term in sentence.find("state"))


def _set_state(site: Site, context: Context, sentence: Sentence, label: str, state: str) -> None:
    entry = site.entry(label)
    if entry is None or entry.state == state:
        return
    if entry.state in ("existing", "abandoned", "removed") and state == "installed" and "new" not in sentence.tokens:
        return
    if state == "planned" and entry.state is not None:
        return
    said = context.said(state, sentence)
    entry.state = state  # type: ignore[assignment]
    site.said[(label, "state")] = said
    site.witness(entry, said.evidence, "state")


# -- what of it


def _subject_for(site: Site, sentence: Sentence, subjects: list[str], at: int, *kinds: type) -> str | None:
    """The nearest subject of a fitting kind before the word `at`, else the one in focus."""
    before = [
        m.label
        for m in sentence.mentions
        if m.start < at and m.role == "subject" and m.label and isinstance(site.entry(m.label), kinds)
    ]
    if before:
        return before[-1]
    fitting = [label for label in subjects if isinstance(site.entry(label), kinds)]
    if fitting:
        return fitting[0]
    for label in (site.last, site.run, site.structure):
        if label and isinstance(site.entry(label), kinds):
            return label
    return None


def _attributive_sizes(
    site: Site, context: Context, sentence: Sentence, subjects: list[str], corrected: dict[int, Correction]
) -> set[int]:
    """As in "A 12 by 12 basin", "six-inch round area drain", "four-inch SDR 35", "it's a four-inch"."""
    used: set[int] = set()
    if sentence.has("issue") and not sentence.has("pipe"):
        return used
    for quantity in sentence.quantities:
        if not _is_size(sentence, quantity):
            continue
        used.add(id(quantity))
        if _before_fitting(sentence, quantity):
            used.discard(id(quantity))
            continue
        for label in _all_named(context, sentence, subjects, _sized(site, sentence, subjects, quantity)):
            values = list(quantity.values) or [quantity.value]
            correct = id(quantity) in corrected or sentence.has("negation") and len(sentence.quantities) > 1
            said = context.said(
                quantity.value if label.startswith("R-") else values, sentence, quantity, corrected=correct
            )
            site.put(label, "nominal_in" if label.startswith("R-") else "size_in", said)
    return used


def _all_named(context: Context, sentence: Sentence, subjects: list[str], label: str | None) -> list[str]:
    """Every run of "runs one through three are all four-inch"; else the one it is about."""
    if label is None:
        return []
    runs = [each for each in subjects if each.startswith("R-")]
    if "both" in sentence.tokens or "each" in sentence.tokens:
        runs = sorted(each for each in context.named if each.startswith("R-"))
    together = {"all", "both", "each"} & set(sentence.tokens) and len(runs) > 1
    return runs if together and label in runs else [label]


def _is_size(sentence: Sentence, quantity: Quantity) -> bool:
    after = sentence.word(quantity.end)
    if quantity.unit == "size":
        return True
    if any(term.start == quantity.end for term in sentence.find("attribute", "cover", "drop")):
        return False  # "a three inch drop"
    if quantity.unit != "in" or after in ("deep", "thick", "down", "lift", "lifts"):
        return False
    if quantity.attributive and not _cued(sentence, quantity):
        return True
    pipes = any(term.start == quantity.end for term in [*sentence.find("pipe"), *sentence.find("run", "pipe")])
    return pipes or after in SIZE_NOUNS


def _cued(sentence: Sentence, quantity: Quantity) -> bool:
    """Whether "cover" or "drop" right before claims the inches."""
    named = {i for mention in sentence.mentions for i in range(mention.start, mention.end)}
    for term in sentence.find("attribute", "cover", "drop", "invert"):
        gap = [sentence.tokens[i] for i in range(term.end, quantity.start) if i not in named]
        if term.end <= quantity.start and len(gap) <= 3 and all(word in LINKS for word in gap):
            return True
    return False


def _before_fitting(sentence: Sentence, quantity: Quantity) -> bool:
    return any(0 <= term.start - quantity.end <= 1 for term in sentence.find("fitting"))


def _sized(site: Site, sentence: Sentence, subjects: list[str], quantity: Quantity) -> str | None:
    after = quantity.end + (1 if sentence.word(quantity.end) in (*SIZE_NOUNS, "wide") else 0)
    after += sentence.word(after) in ("new", "plastic", "concrete")
    follows = next((m for m in sentence.mentions if m.start == after and m.label), None)
    if follows and sentence.word(after) != "from" and follows.role != "to":
        return follows.label
    if quantity.unit == "size" or sentence.word(quantity.end) in SIZE_NOUNS:
        return _subject_for(site, sentence, subjects, quantity.start, Structure)
    if any(term.start - quantity.end in (0, 1) for term in [*sentence.find("pipe"), *sentence.find("run", "pipe")]):
        return _subject_for(site, sentence, subjects, quantity.start, Run)
    runs = [label for label in subjects if label.startswith("R-")]
    outlet = [m for m in sentence.mentions if m.start < quantity.start and m.role == "subject" and m.prefix == "OUT"]
    if runs and not outlet:
        return runs[0]
    return _subject_for(site, sentence, subjects, quantity.start, Run, Structure)


def _pipe(site: Site, context: Context, sentence: Sentence, subjects: list[str]) -> None:
    label = (
        _subject_for(site, sentence, subjects, 0, Run) if sentence.has("pipe") or sentence.has("attribute") else None
    )
    if label is None:
        return
    runs = _all_named(context, sentence, subjects, next((each for each in subjects if each.startswith("R-")), label))
    denied = sentence.has("negation")
    for term in sentence.find("pipe"):
        for each in runs:
            site.put(each, "pipe", context.said(term.value, sentence, corrected=denied))
    model = _likened_to(site, sentence, label)
    run = site.entry(label)
    if model is None or (isinstance(run, Run) and run.pipe and "as" not in sentence.tokens):
        return  # "same pipe went back in" speaks of the run's own
    if sentence.has("attribute", "same_pipe") and model.pipe:
        site.put(label, "pipe", context.said(model.pipe, sentence))
    if sentence.has("attribute", "same_size") and model.nominal_in:
        site.put(label, "nominal_in", context.said(model.nominal_in, sentence))


def _likened_to(site: Site, sentence: Sentence, label: str) -> Run | None:
    """The run of "same pipe as run one"; with none named, the one touched before this."""
    for mention in sentence.mentions:
        if mention.what == "run" and mention.role == "near" and mention.number:
            entry = site.entry(f"R-{mention.number}")
            return entry if isinstance(entry, Run) else None
    others = [each for each in site.labels("R") if each != label]
    entry = site.entry(max(others, key=lambda each: site.touched.get(each, 0))) if others else None
    return entry if isinstance(entry, Run) else None


def _pieces(site: Site, context: Context, sentence: Sentence, subjects: list[str], used: set[int]) -> None:
    """As in "Three ten-foot sticks and a four-foot piece" is a length of 34."""
    pieces: list[float] = []
    for i, quantity in enumerate(sentence.quantities):
        named = PIECES & set(sentence.tokens[max(0, quantity.start - 3) : quantity.start])
        added = bool(pieces) and (sentence.word(quantity.start - 1) in ("+", "plus") or bool(named))
        if quantity.unit == "ft" and added:
            used.add(id(quantity))
            pieces.append(quantity.value)
            continue
        counted = _sticks_of(sentence, i)
        if counted:
            used |= {id(quantity), id(sentence.quantities[i - 1])}
            pieces += [quantity.value] * counted
            continue
        if quantity.unit != "ft" or not PIECES & set(sentence.tokens[quantity.end : quantity.end + 3]):
            continue
        if sentence.word(quantity.end) == "of" or not _piece_noun(sentence, quantity):
            continue
        before = sentence.quantities[i - 1] if i else None
        count = int(before.value) if before and _counts(sentence, before, quantity) else 1
        if before and count > 1:
            used.add(id(before))
        used.add(id(quantity))
        pieces += [quantity.value] * min(count, 200)
    label = _subject_for(site, sentence, subjects, len(sentence.tokens), Run)
    if not pieces or label is None:
        return
    first = next(q for q in sentence.quantities if q.unit == "ft")
    run = site.entry(label)
    if not isinstance(run, Run):
        return
    if not context.planned:
        more = {"another", "more", "plus", "also"} & set(sentence.tokens)
        run.pieces_ft = [*run.pieces_ft, *pieces] if more else pieces
    if _unmeasured_sticks(sentence):
        site.ask(label, "length_ft", "low_confidence", evidence=[context.evidence(sentence)], heard=context.note.text)
    total_said = [q for q in sentence.quantities if q.unit == "ft" and id(q) not in used]
    if not total_said:
        site.put(label, "length_ft", context.said(round(sum(pieces), 4), sentence, first))


def _unmeasured_sticks(sentence: Sentence) -> bool:
    """Whether pieces are counted with no length ("four full sticks and a three-foot piece") or taken off."""
    ends = [q.end for q in sentence.quantities if q.unit == "ft"]
    starts = [q.start for q in sentence.quantities if q.unit == "ft"]
    bare = any(
        token in ("stick", "sticks")
        and not any(0 <= i - end <= 2 for end in ends)
        and not any(1 <= start - i <= 2 for start in starts)
        for i, token in enumerate(sentence.tokens)
    )
    return bare or bool({"minus", "less"} & set(sentence.tokens))


def _sticks_of(sentence: Sentence, i: int) -> int:
    """How many, in "five sticks of ten-foot pipe"; 0 for anything else."""
    quantity, before = sentence.quantities[i], sentence.quantities[i - 1] if i else None
    if before is None or before.unit is not None or quantity.unit != "ft" or before.parts:
        return 0
    gap = sentence.tokens[before.end : quantity.start]
    return int(before.value) if len(gap) == 2 and gap[0] in PIECES and gap[1] == "of" and before.value <= 200 else 0


def _counts(sentence: Sentence, number: Quantity, piece: Quantity) -> bool:
    """Whether a bare number before a piece is how many there are; a recogniser puts a comma between ("5, 10-foot")."""
    gap = sentence.tokens[number.end : piece.start]
    sticks = any(word in PIECES and word.endswith("s") for word in sentence.tokens[piece.end : piece.end + 2])
    return number.unit is None and not number.parts and (gap == [] or (gap == [","] and sticks and number.value <= 20))


def _piece_noun(sentence: Sentence, quantity: Quantity) -> bool:
    if sentence.word(quantity.end) in PIECES:
        return True
    return quantity.attributive and sentence.word(quantity.end + 1) in PIECES


def _measures(
    site: Site,
    context: Context,
    sentence: Sentence,
    subjects: list[str],
    used: set[int],
    corrected: dict[int, Correction],
) -> None:
    _stations(site, context, sentence, subjects)
    _lengths_in_order(site, context, sentence, used)
    met_an_issue = sentence.has("issue") and not sentence.has("pipe")
    for quantity in sentence.quantities:
        if id(quantity) in used or quantity.unit in (
            "money",
            "clock",
            "other",
            "psi",
            "gpm",
            "s",
            "gal",
            "angle",
            "deg",
        ):
            continue
        cue = _cue(sentence, quantity)
        if cue is None and context.asked and _fits(context.asked, quantity):
            cue = context.asked
        correction = corrected.get(id(quantity))
        if correction and cue is None and _correct(site, context, sentence, subjects, correction):
            continue
        if _of_money(sentence, quantity) or (met_an_issue and cue is None):
            continue
        _measure(site, context, sentence, subjects, quantity, cue, correction is not None)


def _of_money(sentence: Sentence, quantity: Quantity) -> bool:
    low, high = next(((a, b) for a, b in sentence.segments if a <= quantity.start < b), (0, len(sentence.tokens)))
    return any(q.unit == "money" and low <= q.start < high for q in sentence.quantities)


def _lengths_in_order(site: Site, context: Context, sentence: Sentence, used: set[int]) -> None:
    """As in "Lengths in order are twenty-two, thirty-one six …", after a list of runs."""
    feet = [q for q in sentence.quantities if q.unit == "ft"]
    if "lengths" not in sentence.tokens or len(feet) != len(site.listed) or len(feet) < 2:
        return
    for label, quantity in zip(site.listed, feet, strict=True):
        used.add(id(quantity))
        _put(site, context, sentence, label, "length_ft", quantity.value, quantity, False)


def _stations(site: Site, context: Context, sentence: Sentence, subjects: list[str]) -> None:
    """As in "From zero plus ten to zero plus fifty-two": the stations a run starts and ends at, feet."""
    stations = [q.value for q in sentence.quantities if q.unit == "station"]
    label = _subject_for(site, sentence, subjects, len(sentence.tokens), Run)
    run = site.entry(label)
    if len(stations) == 2 and isinstance(run, Run) and not context.planned:
        run.stations_ft = stations
        site.witness(run, context.evidence(sentence), "stations_ft")


def _cue(sentence: Sentence, quantity: Quantity) -> str | None:
    """Which measure a quantity is of: "14 inches of cover", "twenty feet long", else the last cue before it."""
    names = ("cover", "drop", "slope", "length", "width", *LEVELS)
    after = quantity.end + (1 if sentence.word(quantity.end) == "of" else 0)
    behind = [t for t in sentence.find("attribute", *names) if t.start == after]
    if behind and (after > quantity.end or behind[0].value in ("length", "width", "drop", "cover")):
        return behind[0].value if _fits(behind[0].value, quantity) else None
    before = [t for t in sentence.find("attribute", *names) if t.end <= quantity.start]
    if not before:
        down = sentence.word(quantity.end) == "down" and sentence.has("attribute", "invert")
        return "invert" if down else None
    cue = before[-1].value
    taken = [
        q
        for q in sentence.quantities
        if before[-1].end <= q.start < quantity.start
        and (q.unit == quantity.unit or (cue == "drop" and q.unit in ("in", "ft")))
    ]
    if cue in ("cover", *LEVELS) or not taken:
        return cue if _fits(cue, quantity) else None
    return None


def _fits(cue: str, quantity: Quantity) -> bool:
    units = {
        "cover": ("in", "ft", None),
        "drop": ("in", "ft"),
        "slope": ("pct",),
        "length": ("ft", "in"),
        "width": ("in",),
        "rim": ("ft", None),
        "elevation": ("ft", None),
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
    if cue in LEVELS:
        _level_field(site, context, sentence, subjects, quantity, cue or "", correct)
        return
    if cue == "length":
        label = _long_thing(site, sentence, subjects, quantity) or site.run
        feet = quantity.value / 12 if quantity.unit == "in" else quantity.value
        _put(site, context, sentence, label, "length_ft", feet, quantity, correct)
    elif cue == "width":
        label = next((each for each in subjects if each.startswith("CD-")), None)
        _put(site, context, sentence, label, "size_in", [quantity.value], quantity, correct)
    elif cue in ("cover", "drop"):
        label = _subject_for(site, sentence, subjects, len(sentence.tokens), Run)
        inches = quantity.value * 12 if quantity.unit == "ft" else quantity.value
        _put(site, context, sentence, label, f"{cue}_in", inches, quantity, correct)
    elif quantity.unit == "pct":
        label = _subject_for(site, sentence, subjects, len(sentence.tokens), Run)
        _put(site, context, sentence, label, "slope_pct", quantity.value, quantity, correct)
    elif quantity.unit == "ft" and _is_distance(site, sentence, quantity, subjects):
        label = _long_thing(site, sentence, subjects, quantity)
        _put(site, context, sentence, label, "length_ft", quantity.value, quantity, correct)


def _one_or_other(sentence: Sentence, quantity: Quantity) -> bool:
    """ "Forty or forty-one feet", "between thirty and forty": two numbers for one."""
    before = sentence.word(quantity.start - 1)
    other = any(q.end == quantity.start - 1 for q in sentence.quantities)
    return other and (before == "or" or (before == "and" and "between" in sentence.tokens[: quantity.start]))


def _long_thing(site: Site, sentence: Sentence, subjects: list[str], quantity: Quantity) -> str | None:
    """The run or channel drain that a length is of; a basin has none."""
    channels = [
        m.label for m in sentence.mentions if m.start < quantity.start and m.role == "subject" and m.prefix == "CD"
    ]
    runs = [label for label in subjects if label.startswith("R-")]
    if channels or runs:
        return channels[-1] if channels else runs[0]
    label = _subject_for(site, sentence, subjects, quantity.start, Run, Structure)
    return label if label and label.startswith(("R-", "CD-")) else None


def _put(
    site: Site,
    context: Context,
    sentence: Sentence,
    label: str | None,
    name: str,
    value: object,
    quantity: Quantity,
    correct: bool,
) -> None:
    if label and _one_or_other(sentence, quantity):
        site.ask(
            label, name, "low_confidence", evidence=[context.evidence(sentence, quantity)], heard=context.note.text
        )
    if label:
        rounded = round(value, 4) if isinstance(value, float) else value
        site.put(label, name, context.said(rounded, sentence, quantity, corrected=correct))


def _is_distance(site: Site, sentence: Sentence, quantity: Quantity, subjects: list[str]) -> bool:
    """Whether bare feet are the length of what is spoken of, and not how far off or deep something is."""
    after, then = sentence.word(quantity.end), sentence.word(quantity.end + 1)
    if quantity.attributive or after in NO_LENGTH_AFTER:
        return False
    if after in ("in", "to", "from") and not any(m.start - quantity.end in (1, 2, 3) for m in sentence.mentions):
        return after == "in" and then in ("the", "all") and "ground" in sentence.tokens
    return bool(subjects) or sentence.has("pipe") or sentence.has("pronoun", "it") or quantity.start <= 2


def _level_field(
    site: Site, context: Context, sentence: Sentence, subjects: list[str], quantity: Quantity, cue: str, correct: bool
) -> None:
    """Inverts and rims: an elevation in feet, or a depth in inches below the rim."""
    label = _subject_for(site, sentence, subjects, quantity.start, Structure)
    near = [m.label for m in sentence.mentions if m.role in ("near", "from", "to") and m.what != "run" and m.label]
    if not any(not each.startswith("R-") for each in subjects) and near:
        label = near[0]
    entry = site.entry(label)
    if label is None or not isinstance(entry, Structure):
        return
    depth = quantity.unit == "in" or sentence.word(quantity.end) in ("down", "deep", "below")
    if depth and not _relative(sentence, quantity):
        inches = quantity.value * 12 if quantity.unit == "ft" else quantity.value
        _put(site, context, sentence, label, "invert_depth_in", inches, quantity, correct)
        return
    if _relative(sentence, quantity):
        site.ask(
            label,
            side_field(site, label, cue),
            "low_confidence",
            evidence=[context.evidence(sentence)],
            heard=context.note.text,
        )
        return
    elevation = elevation_of(quantity)
    if elevation is None or elevation < 1 or cue == "elevation" and context.point is None:
        return
    if lost_its_point(quantity):
        elevation = _with_point(site, elevation)
        site.ask(
            label,
            side_field(site, label, cue),
            "low_confidence",
            evidence=[context.evidence(sentence)],
            heard=context.note.text,
            choices=[elevation],
        )
    name = side_field(site, label, context.point.split(" ")[-1] if cue == "elevation" and context.point else cue)
    _put(site, context, sentence, label, name, elevation, quantity, correct)


def _relative(sentence: Sentence, quantity: Quantity) -> bool:
    """ "A foot lower than the basin" is no elevation and no depth of its own."""
    after = sentence.tokens[quantity.end : quantity.end + 3]
    against = any(quantity.end < m.start <= quantity.end + 3 for m in sentence.mentions)
    return bool({"lower", "higher"} & set(after)) or (bool({"below", "above"} & set(after)) and against)


def _with_point(site: Site, value: float) -> float:
    """9890 on a job whose datum is about 100 is 98.90."""
    while value >= 1000:
        value /= 10
    return round(value / 10, 2) if value > 300 else value


def side_field(site: Site, label: str, side: str) -> str:
    """The elevation field of a structure that a spoken side means. An outlet has no way on but out."""
    if side in ("rim", "rim_ft"):
        return "rim_ft"
    if side == "invert_in" or label.startswith(("OUT-", "DW-")):
        return "invert_in_ft"
    return "invert_out_ft"


def _correct(site: Site, context: Context, sentence: Sentence, subjects: list[str], correction: Correction) -> bool:
    """As in "Make that thirty-four foot eight": put the value where the one it replaces stands."""
    quantity = correction.quantity
    fields = {
        "ft": ["length_ft", "rim_ft", "invert_in_ft", "invert_out_ft"],
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
            "nominal_in",
        ],
    }.get(quantity.unit)
    if fields is None:
        return False
    if quantity.attributive and quantity.unit == "in":
        fields = ["nominal_in", "size_in"]
    focus = [label for label in (site.last, site.run) if label]
    target = site.correctable(fields, subjects or focus, correction.old, only=correction.old is None)
    about = next((label for label in subjects or focus if label.startswith(("R-", "CD-"))), None)
    if target is None and about and quantity.unit == "ft":
        target = (about, "length_ft")
    level = site.record.levels[-1] if site.record.levels and site.rod_last else None
    rod = rod_of(quantity) if level and quantity.unit in (None, "ft") else None
    if level and rod is not None and rod < LONGEST_ROD_FT:
        level.rod_ft = round(rod, 4)
        site.settle(level.point, "rod_ft")
        site.witness(level, context.evidence(sentence, quantity), "rod_ft")
        return True
    if target is None:
        return False
    label, name = target
    value: object = elevation_of(quantity) if name.endswith(("rim_ft", "in_ft", "out_ft")) else round(quantity.value, 4)
    if name == "size_in":
        value = list(quantity.values) or [quantity.value]
    site.put(label, name, context.said(value, sentence, quantity, corrected=True))
    return True


def _texts(site: Site, context: Context, sentence: Sentence, subjects: list[str]) -> None:
    """Bedding and backfill as short text, as said."""
    for name in ("bedding", "backfill"):
        for term in sentence.find("attribute", name):
            if NOT_YET & set(sentence.tokens[max(0, term.start - 3) : term.start]):
                continue
            label = _subject_for(site, sentence, subjects, len(sentence.tokens), Run)
            end = next((b for a, b in sentence.segments if a <= term.start < b), len(sentence.tokens))
            text = sentence.text(term.end, end).strip(" ,").removeprefix("is ").removeprefix("'s ").strip()
            text = re.sub(r"^(?:on )?(?:run (?:number )?\w+|it|that)?\s*(?:is |was )?(?:with )?", "", text)
            text = text or sentence.text(term.start, term.end)
            if label and not context.planned and len(text) <= 120:
                site.put(label, name, context.said(text, sentence, corrected=True))
