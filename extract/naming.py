"""Who a sentence speaks of: the structures and runs it names, and the ends it gives a run."""

from __future__ import annotations

from extract.clauses import starts_number
from extract.context import Context
from extract.record import Run
from extract.site import Site
from extract.statements import Mention, Sentence
from extract.text.quantities import Quantity

TIES = {"tied", "tie", "ties", "tying", "piped", "hooked"}
BEHIND_BOTH = {"are", "have", "got", "is", "of", "at", "in", "about"}
"""Words that may follow "both" where it stands alone; any other is a noun of its own: "both trucks"."""
RUN_VERBS = {"ran", "laid", "run", "glued", "lay"}
COMES_OUT = {"out", "ends", "discharges", "empties", "dumps"}


def name_subjects(site: Site, context: Context, sentence: Sentence) -> list[str]:
    """Resolve every mention, set the ends of a run, and return the labels the sentence is about, in order."""
    _misnamed(site, context, sentence)
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
    if not spoken and "both" in sentence.words and not sentence.mentions:
        spoken = _last_two(site, sentence)
        context.named.update(spoken)
    for label in [*[m.label for m in sentence.mentions if m.label and m.role == "near"], *subjects, *runs]:
        site.focus(label)
    return spoken


def _misnamed(site: Site, context: Context, sentence: Sentence) -> None:
    """As in "not run one, that was run two" and "I said run one, I meant run two": the name was wrong.

    Where this note or the one before was the first to speak of the one, what was said is of the other; else somebody is
    asked."""
    runs = [m for m in [*sentence.mentions, *sentence.denied_mentions] if m.what == "run" and m.number is not None]
    numbers = sorted(runs, key=lambda m: m.start)
    if len(numbers) != 2 or not _takes_back(sentence, *numbers):
        return
    wrong, right = (f"R-{m.number}" for m in numbers)
    entry = site.entry(wrong)
    if entry is None or wrong == right:
        return
    fresh = entry.evidence and entry.evidence[0].note >= context.index - 1
    if fresh and site.entry(right) is None:
        site.rename(wrong, right)
    else:
        for label in (wrong, right):
            site.ask(label, None, "conflict", evidence=[context.evidence(sentence)], heard=context.note.text)
    sentence.mentions[:] = [m for m in sentence.mentions if m not in numbers[:1]]


def _takes_back(sentence: Sentence, wrong: Mention, right: Mention) -> bool:
    tokens = sentence.tokens
    between = [token for token in tokens[wrong.end : right.start] if token != ","]
    denied = tokens[: wrong.start] == ["not"] and between in (["that", "was"], ["that", "'s"], ["it", "was"], [])
    said = tokens[wrong.start - 2 : wrong.start] == ["i", "said"] and between in (["i", "meant"], ["i", "mean"])
    return (denied or said) and right.end == len(tokens)


def _last_two(site: Site, sentence: Sentence) -> list[str]:
    """The two that "both" means in a sentence that names none: the last two of the kind spoken of."""
    after = sentence.word(sentence.tokens.index("both") + 1)
    noun = after.isalpha() and after not in BEHIND_BOTH and not starts_number(after)
    alike = site.labels((site.last or "R-").rsplit("-", 1)[0])
    touched = sorted(alike, key=lambda label: site.touched.get(label, 0))
    return sorted(touched[-2:]) if len(touched) > 1 and not noun else []


def _join_appositions(site: Site, context: Context, sentence: Sentence) -> None:
    """As in "The old basin by the garage, … that's basin one" and "outlet one, a pop-up" each name one thing."""
    mentions = [m for m in sentence.mentions if m.what != "run"]
    _outlet_of_this_note(site, context, sentence, mentions)
    for first, second in zip(mentions, mentions[1:], strict=False):
        if first.prefix != second.prefix or {first.role, second.role} & {"from", "to"} == {"from", "to"}:
            continue
        if _numbers_late(site, sentence, first, second):
            continue
        if first.number is not None and second.how == "indefinite" and _is_a(sentence, first, second):
            second.number, second.how = first.number, "named"
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


def _is_a(sentence: Sentence, first: Mention, second: Mention) -> bool:
    """As in "basin one is a twelve-inch basin"."""
    between = sentence.tokens[first.end : second.start]
    is_a = between[:1] in (["is"], ["'s"], ["was"]) and between[1:2] in (["a"], ["an"])
    return is_a and not {"and", ",", "to", "by"} & set(between)


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
        planned = [label for label in site.labels("OUT") if (entry := site.entry(label)) and entry.state == "planned"]
        outlets = outlets or (planned if len(planned) == 1 else [])
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
    if not sentence.mentions and "from" not in sentence.words:
        return [site.run] if site.run and _that_pipe(sentence) else []
    start, end = _ends(site, sentence)
    named = [m for m in sentence.mentions if m.what == "run" and m.role == "subject"]
    numbered = [m for m in named if m.number is not None]
    labels = [label for m in numbered for label in site.resolve(m)]
    if len(labels) > 1:
        site.listed = labels
    placed = [m for m in named if m.number is None and m.place and site.at_place(m.place, "R")]
    if branch := _branch(site, sentence):
        labels, start = [site.free_label("R")], branch
        site.add(labels[0])
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


def _branch(site: Site, sentence: Sentence) -> str | None:
    """As in "tied downspout two into run one with 12 feet of three-inch": the upper end of a line of its own."""
    into = next((i for i, token in enumerate(sentence.tokens) if token == "into"), None)
    if into is None or not TIES & sentence.words:
        return None
    run = sentence.word(into + 1) == "it" or any(m.what == "run" and m.start == into + 1 for m in sentence.mentions)
    before = [m.label for m in sentence.mentions if m.end <= into and m.what != "run" and m.label]
    measured = any(
        q.unit == "ft" and (sentence.word(q.start - 1) == "with" or _of_pipe(sentence, q))
        for q in sentence.quantities
        if q.start > into
    )
    if not (run and before and measured):
        return None
    of_the_run = [r for r in site.record.runs if before[-1] in (r.from_, r.to)]
    return None if of_the_run else before[-1]


def _of_pipe(sentence: Sentence, quantity: Quantity) -> bool:
    """As in "twelve feet of three-inch"."""
    return sentence.word(quantity.end) == "of" and starts_number(sentence.word(quantity.end + 1))


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
    structures = [m for m in sentence.mentions if m.what != "run" and m.label and not m.label.startswith("R-")]
    start = next((m.label for m in structures if m.role == "from"), None)
    end = next((m.label for m in structures if m.role == "to"), None)
    if start is None and "from" in sentence.words:
        for i, token in enumerate(sentence.tokens):
            if token == "from" and sentence.word(i + 1) in ("it", "there", "that"):
                before = [m for m in structures if m.start < i]
                start = before[-1].label if before else site.structure
    if end is None and COMES_OUT & sentence.words:
        end = _comes_out(sentence)
    return start or _end_by_place(site, sentence, "from"), end or _end_by_place(site, sentence, "to")


def _end_by_place(site: Site, sentence: Sentence, word: str) -> str | None:
    """As in "From the low spot to the oak": a structure named by nothing but its place."""
    if "from" not in sentence.words:
        return None
    for i, token in enumerate(sentence.tokens):
        if token == word and sentence.word(i + 1) == "the":
            words = [w for w in sentence.tokens[i + 2 : i + 4] if w not in ("to", ",", "'s", "is")]
            return site.at_place(set(words[:1] if sentence.word(i + 3) in ("to", ",", "") else words))
    return None


def _comes_out(sentence: Sentence) -> str | None:
    """As in "Comes out at the pond bank, daylight": the outlet named after is the lower end."""
    for i, token in enumerate(sentence.tokens):
        if token in COMES_OUT and sentence.word(i + 1) in ("at", "to", "in", "into"):
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
        or bool(RUN_VERBS & sentence.words)
        or any(mention.what == "run" for mention in sentence.mentions)
        or any(q.attributive for q in sentence.quantities)
        or (start and end and (sentence.has("state") or context.planned))
        or (start and end and (_opens_with_its_ends(sentence) or _likened(sentence)))
    )
    if not speaks_of_pipe or (not (start and end) and not RUN_VERBS & sentence.words):
        return []
    label = site.free_label("R")
    site.add(label)
    return [label]


def _opens_with_its_ends(sentence: Sentence) -> bool:
    """As in "basin one to basin two is 44 feet"."""
    first = sentence.mentions[0] if sentence.mentions else None
    opens = first is not None and first.role == "from" and first.start <= 2
    return opens and any(q.unit == "ft" for q in sentence.quantities)


def _likened(sentence: Sentence) -> bool:
    """As in "from basin one to basin two, same size and same pipe as the last one"."""
    return any(sentence.tokens[i : i + 2] in (["same", "size"], ["same", "pipe"]) for i in range(len(sentence.tokens)))


def _set_ends(site: Site, context: Context, sentence: Sentence, label: str, start: str | None, end: str | None) -> None:
    run = site.entry(label)
    if not isinstance(run, Run):
        return
    both = start is not None and end is not None
    for name, held, value in (("from", run.from_, start), ("to", run.to, end)):
        # One end in passing ("one adapter to get out of the basin") never moves a run that has it.
        if value and (held is None or both or run.state in (None, "planned")):
            site.put(label, name, context.said(value, sentence, corrected=held is not None and run.state == "planned"))


def opens_at(sentence: Sentence) -> str | None:
    """The structure of "starts at a channel drain, five-inch, nineteen foot long": what follows is said of it."""
    first = next(iter(sentence.mentions), None)
    opens = sentence.word(0) in ("starts", "begins") and sentence.word(1) == "at"
    return first.label if opens and first and len(sentence.mentions) == 1 else None


def subject_for(site: Site, sentence: Sentence, subjects: list[str], at: int, *kinds: type) -> str | None:
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
