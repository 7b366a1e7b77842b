"""Notes in order -> one record: withdrawals first, then every sentence in its turn."""

from __future__ import annotations

import re
from collections.abc import Sequence

from extract.afterthoughts import read_afterthoughts
from extract.alternatives import fitting, offer_others
from extract.amend import Change, with_changes
from extract.answered import close_told_again, counted, lists_fittings
from extract.context import Context, mask
from extract.facts import read_facts
from extract.fittings import count_cleanouts
from extract.happenings import (
    ask_after_test,
    correct_test,
    is_intention,
    read_decision,
    read_issues,
    read_task,
    read_test,
)
from extract.levels_said import ask_for_rod, read_levels
from extract.naming import name_subjects
from extract.questions import name_questions
from extract.record import Entry, Evidence, Note, Record
from extract.recount import agree
from extract.site import Site
from extract.statements import Sentence, read_each, read_note
from extract.states import read_states
from extract.tally import enter_told, enter_withdrawn
from extract.text.quantities import Quantity

WITHDRAW = re.compile(
    r"\b(?:(?:scratch|strike)\s+that|(?:delete|erase|scratch|strike)\s+(?:the|that|my)\s+last(?:\s+note|\s+one)?)\b[\s,.:;]*",
    re.I,
)
WITHDRAWS = ("scratch", "strike", "delete", "erase")
"""A withdrawal holds one of these, and to look for them costs less than the pattern does."""
BEARS_OUT = ("elevation", "repeat_reading", "depth", "drop", "slope")
"""Checks in which two numbers of the crew's own meet."""
LEVELLED = ("rod_ft", "rim_ft", "invert_in_ft", "invert_out_ft")
MEASURED = ("cover", "drop", "slope", "length", "invert", "invert_in", "invert_out", "rim")
HEADING_WORDS = 7
"""A note as short as "Change of plan on outlet one." only says what the next one is about."""
OF_TIME = set("take takes took till until ago since wait run did 'd gonna".split())
"""Words that make "how long" ask for a time."""
ROUNDS = 3
"""How often the notes are read again without those that could not be read, since such a note may leave half a fact."""
LONGEST_QUOTE = 200
FILLER = re.compile(r"(?:(?:no|okay|ok|wait|uh|um|oh|ah|well|actually|hey|and|so|sorry|now)\b[\s,.!]*){0,4}", re.I)


def assemble(notes: Sequence[Note], changes: Sequence[Change] = ()) -> Record:
    """The record that those notes make, then a person's changes to it (see `extract.amend`).

    A change's witness is the INDEX after the last note, in its own order. Any text makes a record, perhaps an
    empty one.
    """
    chosen, settled = fitting(notes, _record)
    record = _record(chosen)
    record.questions += settled
    offer_others(record, chosen, _record)
    settle_borne_out(record)
    agree(record)
    name_questions(record)
    return with_changes(record, changes, len(notes)) if changes else record


def _record(notes: Sequence[Note]) -> Record:
    """A note that cannot be read costs itself: it is left out, and asked about."""
    failed: set[int] = set()
    for _ in range(ROUNDS):
        known = len(failed)
        left = [note.model_copy(update={"text": ""}) if i in failed else note for i, note in enumerate(notes)]
        site = _built(left, failed)
        if len(failed) == known:
            break
    for index in sorted(failed):
        words = notes[index].text[:LONGEST_QUOTE]
        witness = Evidence(note=index, quote=words, confidence=1)
        site.ask(f"note {index}", None, "low_confidence", evidence=[witness], heard=words)
    return site.finish()


def _built(notes: Sequence[Note], failed: set[int]) -> Site:
    """The site that those notes make; the INDEX of each note that could not be read is entered in `failed`."""
    site, before, withdrawn = Site(), None, dict[int, str]()
    texts = standing_texts(notes, withdrawn)
    read, unread = read_each(texts)
    failed |= unread
    for index, (text, sentences) in enumerate(zip(texts, read, strict=True)):
        if len(text) < len(notes[index].text) and index not in failed:
            enter_withdrawn(site, Context(index, notes[index]), len(notes[index].text) - len(text))
        if text:
            context = Context(index, notes[index], offset=len(notes[index].text) - len(text))
            context.unsure = any(sentence.has("hedge", "note") for sentence in sentences)
            if index in withdrawn:
                _keep_talk_of(site, context, sentences, withdrawn[index])
            if before is not None and before.waits:
                context.asked, context.asked_of = before.asked, before.asked_of
                context.rod_waits, context.point = before.rod_waits, before.point
                context.test_waits = before.test_waits
            if before is not None and before.changes_plan and len(before.note.text.split()) <= HEADING_WORDS:
                context.changes_plan, context.named = True, set(before.named)
            try:
                fittings = counted(site) if any(map(lists_fittings, sentences)) else {}
                _read(site, context, sentences)
                close_told_again(site, context, sentences, fittings)
                read_afterthoughts(site, context, sentences)
                if notes[index].words:
                    _ask_what_was_lost(site, context, sentences)
            except Exception:  # whatever the reader met, it is this note's
                failed.add(index)
            before = context
    return site


def settle_borne_out(record: Record) -> None:
    """Drop the doubt about a number that another number of the same record bears out.

    A rod and the elevation said with it, or a drop, a length and a slope, say the same thing twice; where the check
    module finds them agreed, a low confidence of the recogniser is no reason to ask.
    """
    doubted = [question for question in record.questions if question.why == "low_confidence" and not question.choices]
    if not doubted:
        return
    from extract.check import check_figures  # the check module is larger than the reader; most logs do without it

    borne_out = {
        (finding.subject.split(" ")[0], witness.note, witness.field)
        for finding in check_figures(record)
        if finding.outcome == "ok" and finding.check in BEARS_OUT and finding.stated is not None
        for witness in finding.evidence
    }
    for question in doubted:
        # A rod reading and its elevation are one witness, with no field of its own.
        field = None if question.field in LEVELLED else question.field
        about = question.about.split(" ")[0]
        if question.evidence and all((about, witness.note, field) in borne_out for witness in question.evidence):
            record.questions.remove(question)


def standing_texts(notes: Sequence[Note], withdrawn: dict[int, str] | None = None) -> list[str]:
    """What is left of each note's words after "scratch that" and its like: at the head it withdraws the note before,
    inside a note what that note said up to there. What was withdrawn is entered in `withdrawn` by that note's index."""
    texts = [note.text for note in notes]
    withdrawn = {} if withdrawn is None else withdrawn
    for index, text in enumerate(texts):
        folded = text.casefold()
        cues = list(WITHDRAW.finditer(text)) if any(word in folded for word in WITHDRAWS) else []
        if not cues:
            continue
        filler = FILLER.match(text)
        if cues[0].start() <= (filler.end() if filler else 0):
            before = next((i for i in range(index - 1, -1, -1) if texts[i]), None)
            if before is not None:
                withdrawn[index] = texts[before]
                texts[before] = ""
        else:
            withdrawn[index] = text[: cues[-1].start()]
        texts[index] = text[cues[-1].end() :]
    return texts


def _keep_talk_of(site: Site, context: Context, sentences: list[Sentence], withdrawn: str) -> None:
    """In "run one is 44, scratch that, 46 feet" the measure goes, and the talk is of run one all the same."""
    first = next((s for s in sentences if s.tokens), None)
    if first is None or first.mentions or not first.quantities:
        return
    gone = read_note(withdrawn)
    named = [m for s in gone for m in s.mentions if m.number is not None]
    cues = [cue for s in gone for cue in s.find("attribute", *MEASURED)]
    units = [q.unit for s in gone for q in s.quantities if q.unit in ("ft", "in", "pct") and not q.attributive]
    for label in site.resolve(named[-1])[:1] if named else ():
        site.focus(label)
    context.asked = cues[-1].value if cues else None
    if units and first.quantities[0].unit is None and not cues:
        first.quantities[0] = first.quantities[0]._replace(unit=units[-1])


def _ask_what_was_lost(site: Site, context: Context, sentences: list[Sentence]) -> None:
    """A number in doubt, a measure or said of a thing by its name, in a note that nothing was made of: "Headings on
    run two, who 45s?" for "Fittings on run two. Two 45s.", "Make 10 34 foot 8." for "Make that thirty-four foot eight."
    """
    doubted = [q for s in sentences for q in s.quantities if context.said(0, s, q).doubted]
    measures = [q for q in doubted if q.unit in ("ft", "in", "pct")]
    named = [f"{m.prefix}-{m.number}" for s in sentences for m in s.mentions if m.number is not None]
    about = named[-1] if named else site.last if measures else None
    if doubted and about and not _cited(site, context.index):
        field = "fittings" if any(q.plural for q in doubted) else "length_ft" if _is_length(about, measures) else None
        evidence = [context.evidence(sentences[0])]
        site.ask(about, field, "low_confidence", evidence=evidence, heard=context.note.text)


def _is_length(about: str, measures: list[Quantity]) -> bool:
    return about.startswith(("R-", "CD-")) and bool(measures) and all(quantity.unit == "ft" for quantity in measures)


def _cited(site: Site, index: int) -> bool:
    newest: list[Entry] = [*site.record.levels[-1:], *site.record.tasks[-1:], *site.record.decisions[-1:]]
    return index in site.cited or any(each.note == index for entry in newest for each in entry.evidence)


def _read(site: Site, context: Context, sentences: list[Sentence]) -> None:
    for sentence in sentences:
        tasks, decisions = len(site.record.tasks), len(site.record.decisions)
        context.counted, context.replaced = sentence.quantities, []
        _read_one(site, context, sentence)
        lists = {"tasks": len(site.record.tasks) > tasks, "decisions": len(site.record.decisions) > decisions}
        grown = next((name for name, grew in lists.items() if grew), None)
        enter_told(site, context, sentence, grown)


def _read_one(site: Site, context: Context, sentence: Sentence) -> None:
    context.waits = sentence.question
    if sentence.question:
        _ask(site, context, sentence)
        return
    _call_off(site, sentence)
    if not read_decision(site, context, sentence):
        _read_sentence(site, context, sentence)
    cues = sentence.find("attribute", *MEASURED)
    if cues or (sentence.mentions and not sentence.continues):
        context.asked, context.asked_of = (cues[-1].value if cues else None), None


def _ask(site: Site, context: Context, sentence: Sentence) -> None:
    """A question tells only what the answer will be about."""
    for mention in sentence.mentions:
        if site.knows(mention) or (mention.number and site.entry(f"{mention.prefix}-{mention.number}")):
            site.focus(site.resolve(mention)[0])
        elif mention.what != "run":
            context.asked_of = mention
    ask_after_test(site, context, sentence)
    ask_for_rod(site, context, sentence)
    context.planned_note = context.planned_note or {"what", "plan"} <= sentence.words
    cues = sentence.find("attribute", *MEASURED)
    if cues:
        context.asked = cues[-1].value
    elif "long" in sentence.words and context.test is None and not OF_TIME & sentence.words:
        context.asked = "length"
    elif "where" in sentence.words:
        context.asked = "place"


def _read_sentence(site: Site, context: Context, sentence: Sentence) -> None:
    intention = is_intention(sentence)
    if not intention and read_task(site, context, sentence):
        site.fitting_last = None
        return
    masked, corrections = mask(count_cleanouts(sentence))
    context.counted = masked.quantities
    context.replaced = [q for q in sentence.quantities for c in corrections if c.old == q.value]
    _set_mood(context, masked, intention)
    if masked.has("level") or context.rod_waits or (context.point and masked.has("attribute", "elevation")):
        subjects = name_subjects(site, context, masked)
        if read_levels(site, context, masked, corrections):
            site.fitting_last = None
            read_states(site, context, masked, subjects)
            return
    if context.test or context.test_waits or masked.speaks_of("test", "test_again"):
        name_subjects(site, context, masked)
        if read_test(site, context, sentence, masked):
            site.fitting_last = None
            read_issues(site, context, masked, ends_named=False)
            return
    if correct_test(site, context, masked):
        return
    read_facts(site, context, masked, corrections)
    ends_named = "from" in masked.words and any(m.role == "to" for m in masked.mentions)
    read_issues(site, context, masked, ends_named)


def _set_mood(context: Context, sentence: Sentence, intention: bool) -> None:
    """Whether this sentence plans. "Plan." makes the whole note a plan; a sentence with no word on it goes on."""
    if sentence.has("state", "planned") and (len(sentence.tokens) <= 3 or sentence.tokens[0] in ("plan", "planning")):
        context.planned_note = True
    cues = sentence.find("state")
    if intention or context.planned_note:
        context.planned = True
    elif sentence.continues and not cues:
        return
    elif cues or any(m.role == "subject" for m in sentence.mentions):
        # "Once basin one is set we'll run …" plans, though "set" comes first.
        awaited = sentence.word(0) in ("once", "when", "after", "before", "until") and sentence.has("state", "planned")
        context.planned = awaited or (bool(cues) and cues[0].value == "planned")


def _call_off(site: Site, sentence: Sentence) -> None:
    """Drop what was only planned and is not to be built: "skip the cleanout", "the area drain, that's called off"."""
    for cue in sentence.find("call_off"):
        after = [m for m in sentence.mentions if 0 <= m.start - cue.end <= 2]
        before = [m for m in sentence.mentions if m.end <= cue.start]
        chosen = after[:1] or before[-1:]
        if not chosen and sentence.tokens[cue.end - 1] in ("off", "it"):
            _drop_planned(site, site.last)
        for mention in chosen:
            known = mention.number is not None or site.knows(mention)
            if not known or _drop_planned(site, next(iter(site.resolve(mention)), None)):
                sentence.mentions.remove(mention)


def _drop_planned(site: Site, label: str | None) -> bool:
    entry = site.entry(label)
    if label is None or entry is None or entry.state not in (None, "planned"):
        return False
    site.drop(label)
    return True
