"""What happened besides pipe: issues met, tests made, things to do, decisions."""

from __future__ import annotations

import itertools
import re

from extract.context import Context
from extract.lexicon import Term
from extract.limits import plausible
from extract.record import Decision, Issue, Task, Test
from extract.site import Site
from extract.statements import Sentence
from extract.text.quantities import Quantity

ALONG_A_RUN = {"roots", "utility", "existing_line", "rock", "reverse_slope", "blockage"}
OPENERS = set(
    "please 's we i you , and tomorrow still just also only somebody someone then so 've me okay oh to should "
    "now".split()
)
DONE_ALREADY = {"took", "got", "have", "shot", "had"}
ENDS_A_LIST = set("next at from they before so for tomorrow today when 'cause because".split())
NOT_AN_ITEM = {"i", "we", "also", "then"}
COUNTED = {"a": 1, "an": 1, "some": None}
ANSWERS = {"yes", "yeah", "yep"}
UNDERWAY = set("bucket wait waited glue came filled cure".split())
"""Words after which a time is of something on the way, not of the test."""
WHOLE = {"whole", "system", "line", "pipe", "run", "lot", "thing", "drain", "new"}
"""Words after "the" with which a test is of what was laid."""
REMEMBERED_NOTES = 10


# -- tests


def read_test(site: Site, context: Context, sentence: Sentence, masked: Sentence) -> bool:
    """A test, or more about the test of this note; whether the sentence was about one."""
    cue = next(iter(masked.find("test")), None)
    if cue and context.planned and not masked.has("result"):
        return True  # "we'll hose test run one after lunch, ten minutes"
    if cue and _is_test(sentence, cue):
        _begin_named(site, context, sentence, masked, cue)
    elif cue is None and (next_one := _next_test(site, context, masked)):
        _begin(site, context, masked, next_one)
    elif cue is None and context.test is None and context.test_waits and _tells_of_test(masked):
        _begin(site, context, masked, context.test_waits)
    test = context.test
    if test is None or (cue is None and not _tells_of_test(masked)):
        return False
    _measures(site, context, test, masked)
    result = _result(sentence)
    if result:
        test.result = result  # type: ignore[assignment]
    site.witness(test, context.evidence(sentence))
    _of_each(site, test, masked)
    return True


def _begin_named(site: Site, context: Context, sentence: Sentence, masked: Sentence, cue: Term) -> None:
    """Enter the test that a sentence names; where it does not say of what, it is of the run spoken of."""
    tested = _tested(masked)
    at = tested or site.run
    elsewhere = _of_something_else(masked, cue)
    if at and elsewhere:
        heard = context.note.text
        site.ask(at, "duration_s", "low_confidence", evidence=[context.evidence(sentence)], heard=heard)
    if asked := _asked_test(site, context, sentence, cue.value, at):
        context.test = asked
    else:
        test = Test.model_validate({"kind": cue.value, "at": at})
        _begin(site, context, masked, test, placed=tested is not None or elsewhere)


def _asked_test(site: Site, context: Context, sentence: Sentence, kind: str, at: str | None) -> Test | None:
    """The test that something is asked about, where this note answers and tells of no further test: it gives no result,
    or says yes or that it corrects."""
    if _results(sentence) and not (ANSWERS & sentence.words or sentence.has("last", "correction")):
        return None
    asked = [site.question(at or "tests", name) for name in ("duration_s", "flow_gpm")]
    notes = {item.note for question in asked if question for item in question.evidence} - {context.index}
    made = [each for each in site.record.tests if (each.kind, each.at) == (kind, at)]
    return next((each for each in reversed(made) if notes & {item.note for item in each.evidence}), None)


def correct_test(site: Site, context: Context, sentence: Sentence) -> bool:
    """As in "make that fifteen minutes": the time of the last test; whether the sentence was that."""
    cue = next(iter(sentence.find("last", "correction")), None)
    time = next((q for q in sentence.quantities if q.unit == "s"), None)
    tests = site.record.tests
    if cue is None or time is None or not tests or sentence.mentions or not plausible("duration_s", time.value):
        return False
    if time.start < cue.end or not set(sentence.tokens[cue.end : time.start]) <= {"it", "that", "was", "more", "like"}:
        return False
    tests[-1].duration_s = time.value
    context.use(site, sentence, time, None, "tests")
    site.settle(tests[-1].at or "tests", "duration_s", context.said(time.value, sentence, time))
    site.witness(tests[-1], context.evidence(sentence, time))
    return True


def _begin(site: Site, context: Context, sentence: Sentence, test: Test, *, placed: bool = True) -> None:
    """Enter a test, or take it for the one before in the same note: `placed` where it was said what it is of."""
    before = context.test
    alike = before if before and before.kind == test.kind and before.result is None else None
    if alike and (test.at == alike.at or _goes_on(context, alike, sentence, placed=placed)):
        alike.at = test.at if placed else alike.at
        context.test_placed = context.test_placed or placed
        return
    context.test, context.test_placed = test, placed
    site.record.tests.append(test)


def _goes_on(context: Context, before: Test, sentence: Sentence, *, placed: bool) -> bool:
    """Whether a sentence is of the test before though it names another place: what one of them is of was not said, as
    in "Hose test, ten minutes. Run one passed.", or only what the hose gives was; and one alone says how long it ran.
    """
    of_the_hose = before.duration_s is None and before.flow_gpm is not None
    timed = any(quantity.unit == "s" for quantity in sentence.quantities)
    return (not placed or not context.test_placed or of_the_hose) and not (timed and before.duration_s is not None)


def _of_each(site: Site, test: Test, sentence: Sentence) -> None:
    """As in "hose test on run one and run two, ten minutes each": one test of each."""
    runs = [m.label for m in sentence.mentions if m.what == "run" and m.label]
    if not ({"each", "both"} & sentence.words) or len(runs) < 2 or test.at not in runs:
        return
    for label in runs:
        if label != test.at and not any(t.kind == test.kind and t.at == label for t in site.record.tests):
            site.record.tests.append(test.model_copy(update={"at": label, "evidence": list(test.evidence)}))


def ask_after_test(site: Site, context: Context, sentence: Sentence) -> None:
    """As in "How'd the hose test on run one go?", which the next words answer."""
    cue = next(iter(sentence.find("test")), None)
    if cue and cue.end - cue.start > 1:
        known = [site.resolve(m) for m in sentence.mentions if site.knows(m) or m.number]
        named = [labels[0] for labels in known if labels]
        context.test_waits = Test.model_validate({"kind": cue.value, "at": named[0] if named else site.run})


def _next_test(site: Site, context: Context, sentence: Sentence) -> Test | None:
    """The test of a further piece, or the last one made again: "redid it, passed"."""
    last = context.test or next(reversed(site.record.tests), None)
    if last is None or not _tells_of_test(sentence):
        return None
    if sentence.has("test_again") and last.result is not None:
        return Test(kind=last.kind, at=last.at)
    at = _tested_next(sentence) if context.test else None
    return Test(kind=last.kind, at=at) if at not in (None, last.at) else None


def _tested_next(sentence: Sentence) -> str | None:
    """The run of a further piece: "hose tests, run one five minutes, pass, run two …"."""
    if not _tells_of_test(sentence):
        return None
    return next((m.label for m in sentence.mentions if m.what == "run"), None)


def _of_something_else(sentence: Sentence, cue: Term) -> bool:
    """As in "flood test on the drive wall", which is nothing that a drain has: the run in focus may not be meant."""
    on, of_what = sentence.word(cue.end), sentence.word(cue.end + 2)
    named = any(cue.end < m.start <= cue.end + 4 for m in sentence.mentions)
    return on in ("on", "of") and sentence.word(cue.end + 1) in ("the", "a") and of_what not in WHOLE and not named


def _is_test(sentence: Sentence, cue: Term) -> bool:
    """A bare "hose" is a tool unless a time or a result stands with it."""
    return cue.end - cue.start > 1 or _tells_of_test(sentence)


def _tested(sentence: Sentence) -> str | None:
    """What the test was of: "on run two", else the first thing named."""
    named = [m for m in sentence.mentions if m.label]
    on = [m for m in named if {"on", "of", "through", "for"} & set(sentence.tokens[max(0, m.start - 2) : m.start])]
    runs = [m for m in named if m.what == "run"]
    first = next(iter([*on, *runs]), None)
    if first:
        return first.label
    cue = sentence.find("test")[0]
    return next((m.label for m in named if abs(m.start - cue.end) <= 4 or m.end <= cue.start), None)


def _tells_of_test(sentence: Sentence) -> bool:
    return bool(_results(sentence)) or any(q.unit in ("s", "gpm", "psi") for q in sentence.quantities)


def _measures(site: Site, context: Context, test: Test, sentence: Sentence) -> None:
    for quantity in sentence.quantities:
        name = {"s": "duration_s", "gpm": "flow_gpm"}.get(quantity.unit or "")
        if not name or (name == "duration_s" and _not_the_test(sentence, quantity)):
            continue
        evidence = context.evidence(sentence, quantity)
        held = getattr(test, name)
        if not plausible(name, quantity.value):
            site.ask(test.at or "tests", name, "implausible", evidence=[evidence], heard=evidence.quote)
            continue
        said = context.said(quantity.value, sentence, quantity)
        if site.answers(test.at or "tests", name, said):
            site.settle(test.at or "tests", name)
            held = None
        if held not in (None, quantity.value):
            site.ask(test.at or "tests", name, "conflict", evidence=[evidence], choices=[held, quantity.value])
        if why := said.doubt:
            site.ask(test.at or "tests", name, why, evidence=[evidence], heard=evidence.quote)
        setattr(test, name, quantity.value)
        context.use(site, sentence, quantity, None, "tests")


def _not_the_test(sentence: Sentence, quantity: Quantity) -> bool:
    """As in "came out after two minutes", "a bucket in 33 seconds": a time in the test that is not how long it ran."""
    before = sentence.tokens[max(0, quantity.start - 3) : quantity.start]
    return bool(UNDERWAY & set(before)) or before[-1:] == ["after"] or sentence.word(quantity.end) == "to"


def _results(sentence: Sentence) -> list[Term]:
    """The words for how a test came out; "held" stands alone: "held up by a truck" and "held off" tell of no test."""
    ends = ("", ",", "fine", "pressure", "steady", "for", "an", "the")
    return [
        cue
        for cue in sentence.find("result")
        if sentence.tokens[cue.start : cue.end] != ["held"] or sentence.word(cue.end) in ends
    ]


def _result(sentence: Sentence) -> str | None:
    found = None
    if any(q.unit == "psi" and "lost" in sentence.tokens[max(0, q.start - 2) : q.start] for q in sentence.quantities):
        return "fail"
    for cue in _results(sentence):
        if found == "fail" and sentence.tokens[cue.start] == "no":
            continue  # "failed, no leaks at the cap though"
        near = sentence.tokens[max(0, cue.start - 3) : cue.start]
        near = near[len(near) - near[::-1].index(",") :] if "," in near else near
        denied = any(cue.start - len(near) <= no.start < cue.start for no in sentence.find("negation"))
        if not denied:
            found = cue.value
        elif cue.value == "pass":
            found = "fail"  # "nothing leaked" tells nothing of the water; "didn't pass" does
    return found


# -- issues


def read_issues(site: Site, context: Context, sentence: Sentence, ends_named: bool) -> None:
    """Enter what was met and what was done about it; an issue met again is the same entry with its last action."""
    terms = sentence.find("issue")
    if len(sentence.tokens) <= 2:
        terms += sentence.find("issue_alone")
    if ends_named or _speaks_of_that_pipe(sentence):
        terms = [term for term in terms if term.value != "existing_line"]
    if len({term.value for term in terms}) > 1 or not sentence.mentions:
        terms = [term for term in terms if term.value != "other"]
    entered: dict[str, Issue] = {}
    for term in terms:
        if term.value not in entered:
            entered[term.value] = _enter(site, context, sentence, term)
    if context.asked == "place" and context.issue and (labels := [m.label for m in sentence.mentions if m.label]):
        context.issue.at, context.asked = labels[0], None
    for action in sentence.find("action"):
        near = [term for term in terms if term.start < action.start]
        if near:
            context.issue = entered[near[-1].value]
        _act(site, context, sentence, action.value)


def _speaks_of_that_pipe(sentence: Sentence) -> bool:
    cues = sentence.find("issue", "existing_line")
    return bool(cues) and sentence.word(cues[0].start - 1) in ("that", "this")


def _enter(site: Site, context: Context, sentence: Sentence, term: Term) -> Issue:
    kind = term.value
    said = _place_said(sentence, term)
    at = said or _place_meant(site, context, sentence, term)
    alike = [i for i in site.record.issues if i.kind == kind]
    known = [i for i in alike if at is None or i.at in (at, None)]
    if said is None and sentence.has("action"):
        known = [i for i in alike if i.action is None] or known
    if known:
        issue = known[-1]
        issue.at = issue.at or at
    else:
        issue = Issue.model_validate({"kind": kind, "at": at, "text": context.note.text[:400]})
        site.record.issues.append(issue)
    context.issue = issue
    site.witness(issue, context.evidence(sentence))
    return issue


def _place_said(sentence: Sentence, term: Term) -> str | None:
    named = [m for m in sentence.mentions if m.label and m.role not in ("from", "to")]
    right_after = [m for m in named if 0 <= m.start - term.end <= 2 and m.what == "run"]
    subjects = [m.label for m in right_after or [m for m in named if m.role == "subject"] or named]
    return subjects[0] if subjects else None


def _place_meant(site: Site, context: Context, sentence: Sentence, term: Term) -> str | None:
    """Where an issue was met that was named with no place: along the run spoken of."""
    if term.value not in ALONG_A_RUN:
        return site.last if {"it", "there"} & set(sentence.tokens[term.end : term.end + 3]) else None
    in_note = [label for label in context.named if label.startswith("R-")]
    return in_note[0] if len(in_note) == 1 else site.run


def _act(site: Site, context: Context, sentence: Sentence, action: str) -> None:
    issue = context.issue
    if issue is None:
        open_ones = [i for i in site.record.issues if i.action is None]
        named = [m.label for m in sentence.mentions if m.label]
        about = [i for i in open_ones if i.at in named] if named else open_ones[-1:]
        recent = about and context.index - about[-1].evidence[-1].note <= REMEMBERED_NOTES
        if not recent or not (named or sentence.has("pronoun", "it") or len(sentence.tokens) <= 4):
            return
        issue = about[-1]
    issue.action = action  # type: ignore[assignment]
    site.witness(issue, context.evidence(sentence), "action")


# -- tasks and decisions


def read_task(site: Site, context: Context, sentence: Sentence) -> bool:
    """Things to buy, ask, photograph or do, each with its own words; whether the sentence was one."""
    cues = [c for c in sentence.find("task") if _asks_for_it(sentence, c.start, c.end)]
    taken = False
    for cue, after in itertools.zip_longest(cues, cues[1:]):
        end = after.start if after else len(sentence.tokens)
        if end - cue.end < 2 and cue.value == "do":
            continue  # "remind me, gotta ask …"
        if sentence.word(cue.end) == "be" and not sentence.word(cue.end + 1).endswith(("ed", "en")):
            continue  # "this has got to be a pound and a half"
        taken = True
        if cue.value == "buy":
            _shopping(site, context, sentence, cue.end, end)
            continue
        text = sentence.text(cue.start, end).strip(" ,").removesuffix(" and").strip(" ,")
        evidence = [context.evidence(sentence)]
        site.record.tasks.append(Task.model_validate({"kind": cue.value, "text": text, "evidence": evidence}))
    return taken


def is_intention(sentence: Sentence) -> bool:
    """As in "Need to set basin three tomorrow" plans a structure; it is no task."""
    return sentence.has("task", "do") and sentence.has("install_verb") and bool(sentence.mentions)


def _asks_for_it(sentence: Sentence, start: int, end: int) -> bool:
    before = sentence.word(start - 1)
    long_enough = end - start > 1
    if sentence.word(start) == "need" and end - start == 1 and not _counts_next(sentence, end):
        return False
    if before in DONE_ALREADY or before in ("don't", "nobody", "kid", "not"):
        return False
    return start == 0 or before in OPENERS or (long_enough and before in ("'re", "need", "gotta", "to"))


def _counts_next(sentence: Sentence, at: int) -> bool:
    at += sentence.word(at) == ":"
    return sentence.word(at) in ("a", "some", "more") or any(q.start == at for q in sentence.quantities)


def _shopping(site: Site, context: Context, sentence: Sentence, start: int, end: int) -> None:
    """One task an item: "two four-inch couplings and a can of primer"."""
    for low, high in _items(sentence, start, end):
        text = sentence.text(low, high)
        evidence = [context.evidence(sentence)]
        site.record.tasks.append(Task(kind="buy", text=text, item=text, count=_count(sentence, low), evidence=evidence))


def _items(sentence: Sentence, start: int, end: int) -> list[tuple[int, int]]:
    """Token ranges of the things to buy: cut at commas, at "and", and at the next count where no pause was written."""
    end = next((i for i in range(start, end) if sentence.tokens[i] in ENDS_A_LIST), end)
    counts = {q.start for q in sentence.quantities if q.unit is None}
    found, low = [], start
    for i in range(start, end + 1):
        pause = i == end or sentence.tokens[i] in ("and", ",", ":")
        if pause or (i in counts and i > low + 1 and i - 1 not in counts):
            if not set(sentence.tokens[low:i]) <= NOT_AN_ITEM:
                found.append((low, i))
            low = i + 1 if pause else i
    return found


def _count(sentence: Sentence, at: int) -> float | None:
    quantity = next((q for q in sentence.quantities if q.start == at), None)
    if quantity and quantity.unit is None:
        return _first_part(quantity)
    return COUNTED.get(sentence.word(at))


def _first_part(quantity: Quantity) -> float:
    return quantity.parts[0] if quantity.parts else quantity.value


def read_decision(site: Site, context: Context, sentence: Sentence) -> bool:
    """Something said to be decided or still open; whether the sentence was one.

    A later word on the same topic closes the entry that was open."""
    cue = next(reversed(sentence.find("decision")), None)
    if cue is None or sentence.word(cue.start - 1) in ("if", "until", "when"):
        return False
    text = sentence.text() if len(sentence.tokens) > 4 else context.note.text[:200]
    topic = _topic(text)
    for decision in site.record.decisions:
        if decision.state == "open" and topic & _topic(decision.text):
            decision.state, decision.text = cue.value, text  # type: ignore[assignment]
            site.witness(decision, context.evidence(sentence))
            return True
    site.record.decisions.append(
        Decision.model_validate({"text": text, "state": cue.value, "evidence": [context.evidence(sentence)]})
    )
    return True


def _topic(text: str) -> set[str]:
    dull = set("about still with that this decided undecided haven't going gonna".split())
    return {word for word in re.findall(r"[a-z']+", text.lower()) if len(word) > 3} - dull
