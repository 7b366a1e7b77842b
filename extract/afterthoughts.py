"""What a note means for the ones before it where its numbers found no place of their own: an answer to an open
question, a correction with no name, or something taken back. A value is put only by a note that says nothing else;
all that is less plain is asked about, and what stood before stands meanwhile.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import NamedTuple

from extract.context import Context
from extract.corrections import FARTHEST_SLIP_FT
from extract.dispositions import Met, is_free
from extract.entering import put_right
from extract.loose import SAID_BEFORE, SAID_BEHIND, stands_loose
from extract.record import BENCHMARK, ELEVATIONS, Level
from extract.recount import FACTORS
from extract.site import Site
from extract.statements import Sentence
from extract.text.quantities import Quantity, elevation_of, rod_of

REACH = 3
"""Notes back that an afterthought may speak of."""
ALIKE, NEAR = 3.0, 2.0
"""How many times larger or smaller a corrected value, or an answer, may be."""
CONTRAST = set("not isn't isnt wasn't wrong no instead forget don't dont said but should".split())
"""With one of these, of two numbers one may take the other's place."""


class Stands(NamedTuple):
    """A value that a note before gave."""

    about: str
    name: str
    value: float
    note: int


def read_afterthoughts(site: Site, context: Context, sentences: Sequence[Sentence]) -> None:
    """Called when a note was read. Puts an answer or a correction where it is plain, else asks."""
    loose = [met for met in site.ledger.met_in(context.index) if is_free(site, met)]
    for met in site.ledger.met_in(context.index):
        if not site.ledger.uses.get(met.span) and met.standing == "told":
            _of_test(site, context, met)
    corrects = any(sentence.has("last") for sentence in sentences)
    takes_back = any(sentence.has("taken_back") for sentence in sentences)
    asked = site.taken
    values = {met.quantity.value: met for met in loose}  # "one fifty. One-five-zero." is one
    if not any(met.sentence.has("fitting") for met in loose) and not context.planned:
        if len(values) == 1:
            _place(site, context, loose[0], corrects or takes_back)
        elif len(values) == 2 and (corrects or takes_back or any(CONTRAST & each.words for each in sentences)):
            _replace(site, context, *values.values())
    if site.taken != asked or context.corrected or any(sentence.denied for sentence in sentences):
        return
    used = any(site.ledger.uses.get(met.span) for met in site.ledger.met_in(context.index))
    if takes_back or (corrects and loose and not used):
        _ask_what_was_taken_back(site, context, sentences)


def _of_test(site: Site, context: Context, met: Met) -> None:
    """As in "actually we gave it fifteen minutes", after a test: a time or a flow that differs is asked about."""
    name = {"s": "duration_s", "gpm": "flow_gpm"}.get(met.quantity.unit or "")
    test = site.record.tests[-1] if site.record.tests else None
    if name is None or test is None or not test.evidence or test.evidence[-1].note < context.index - REACH:
        return
    held, value = getattr(test, name), met.quantity.value
    if held is not None and held != value and 1 / ALIKE <= value / (held or 1) <= ALIKE:
        evidence = [context.evidence(met.sentence)]
        site.ask(
            test.at or "tests", name, "conflict", evidence=evidence, heard=context.note.text, choices=[held, value]
        )


def _place(site: Site, context: Context, met: Met, cue: bool) -> None:
    plain = says_nothing_else(met)
    answered = [each for each in _open(site, context) if _value(met.quantity, each, NEAR) is not None]
    if len(answered) == 1 and plain:
        question, value = site.question(answered[0].about, answered[0].name), _value(met.quantity, answered[0], NEAR)
        third = question is not None and question.why == "conflict" and value not in (question.choices or [])
        (_ask if third else _put)(site, context, met, answered[0])
        return
    before = next((each for each in _before(site, context) if _value(met.quantity, each, ALIKE) is not None), None)
    given = site.ledger.given[before.about] if before else set()
    if before is None or (before.name, _value(met.quantity, before, ALIKE)) in given:
        return  # it names what was said before
    if cue and plain and before.note < context.index:
        _put(site, context, met, before)
    elif cue or (met.quantity.unit is None and stands_loose(met.sentence, met.quantity)):
        _ask(site, context, met, before)


def _replace(site: Site, context: Context, one: Met, other: Met) -> None:
    """As in "the 26 isn't right, she's 28": of two numbers the one that stood before may give way to the other."""
    for old, new in ((one, other), (other, one)):
        for each in _before(site, context):
            same = _value(old.quantity, each, ALIKE) == round(each.value, 4)
            if same and each.note < context.index and _value(new.quantity, each, ALIKE) is not None:
                (_put if says_nothing_else(new) else _ask)(site, context, new, each)
                return


def _open(site: Site, context: Context) -> Iterator[Stands]:
    """The open questions of the last notes about the things that this note names, or about any where it names none."""
    named = {label for label in context.named if site.entry(label)}
    for question in site.questions():
        notes = [each.note for each in question.evidence]
        recent = notes and context.index - REACH <= max(notes) < context.index
        if not recent or question.field is None or (named and question.about not in named):
            continue
        held = getattr(site.entry(question.about), question.field, None)
        for value in question.choices or [held]:
            if isinstance(value, int | float):
                yield Stands(question.about, question.field, float(value), max(notes))
                break


def _before(site: Site, context: Context) -> Iterator[Stands]:
    """What was said last first, of the things that this note names, or of any where it names none."""
    named = {label for label in context.named if site.entry(label)}
    for level in reversed(site.record.levels[-2:]):
        note = level.evidence[-1].note
        if context.index - REACH <= note < context.index and (not named or level.point.split(" ")[0] in named):
            yield from (Stands(level.point, name, value, note) for name, value in _of_level(level))
    for label, name in reversed(site.history):
        said = site.said[label, name]
        if said.evidence.note < context.index - REACH:
            return
        if isinstance(said.value, int | float) and (not named or label in named):
            yield Stands(label, name, float(said.value), said.evidence.note)


def _of_level(level: Level) -> Iterator[tuple[str, float]]:
    """What a word of correction may mean of a level: its rod reading, or the benchmark's elevation."""
    if level.rod_ft is not None:
        yield "rod_ft", level.rod_ft
    if level.point == BENCHMARK and level.elevation_ft is not None:
        yield "elevation_ft", level.elevation_ft


def _value(quantity: Quantity, stands: Stands, most: float) -> float | None:
    """The quantity as a value of that field; None where it cannot be one, or is too far from what stands."""
    unit = stands.name.rpartition("_")[2]
    if stands.name == "nominal_in" and quantity.unit is None:
        return None
    heights = (*ELEVATIONS, "elevation_ft")
    value = elevation_of(quantity) if stands.name in heights else quantity.value
    if stands.name == "rod_ft":
        value = rod_of(quantity)
    elif quantity.parts and stands.name not in heights:
        return None
    if quantity.unit not in (None, unit):
        value = value and value * FACTORS.get((quantity.unit or "", unit), 0.0)
    if not value or not stands.value:
        return None
    alike = 1 / most <= value / stands.value <= most or sorted(f"{value:g}") == sorted(f"{stands.value:g}")
    if stands.name == "elevation_ft":
        alike = abs(value - stands.value) <= FARTHEST_SLIP_FT
    return round(value, 4) if alike else None


def _put(site: Site, context: Context, met: Met, stands: Stands) -> None:
    """The value takes the other's place. It names no field, so that a change by hand is not overruled by it unasked."""
    value = _value(met.quantity, stands, ALIKE)
    said = context.said(value, met.sentence, met.quantity, corrected=True)._replace(named=False)
    context.corrected = True
    at_it = [each for each in site.record.levels if each.point == stands.about]
    holding = [each for each in at_it if getattr(each, stands.name, None) is not None]
    if holding:
        put_right(site, context, met.sentence, met.quantity, holding[-1], stands.name, value or stands.value)
        return
    site.put(stands.about, stands.name, said)


def _ask(site: Site, context: Context, met: Met, stands: Stands) -> None:
    value, evidence = _value(met.quantity, stands, ALIKE), [context.evidence(met.sentence)]
    if value != stands.value:
        choices = [stands.value, value]
        site.ask(stands.about, stands.name, "conflict", evidence=evidence, heard=context.note.text, choices=choices)


def says_nothing_else(met: Met) -> bool:
    """Whether the sentence is the number, a thing's name or a measure's, and words that answer or correct."""
    sentence = met.sentence
    known = set(range(met.quantity.start, met.quantity.end))
    known |= {i for mention in sentence.mentions for i in range(mention.start, mention.end)}
    for category in ("attribute", "last", "taken_back"):
        known |= {i for term in sentence.find(category) for i in range(term.start, term.end)}
    others = (token for i, token in enumerate(sentence.tokens) if i not in known and token[0].isalnum())
    return all(token in SAID_BEFORE or token in SAID_BEHIND for token in others)


def _ask_what_was_taken_back(site: Site, context: Context, sentences: Sequence[Sentence]) -> None:
    """As in "take that off" and "swap those": each value that the last note gave, or that a word here means."""
    fields = {f"{term.value}_" for sentence in sentences for term in sentence.find("attribute")}
    fitting = any(sentence.has("fitting") for sentence in sentences)
    found = list(_before(site, context))
    newest = max((each.note for each in found), default=-1)
    for each in found:
        meant = any(each.name.startswith(field) for field in fields) or not (fields or fitting)
        if each.note == newest and meant:
            _doubt(site, context, each.about, each.name, sentences)
    for run in site.record.runs:
        told = [item.note for item in run.evidence if item.field == "fittings" and item.note < context.index]
        if told and max(told) >= max(newest, context.index - REACH) and not fields:
            _doubt(site, context, run.label, "fittings", sentences)
    for level in site.record.levels[-2:]:
        if level.evidence and context.index - REACH <= level.evidence[-1].note < context.index and not fields:
            for name, _ in _of_level(level):
                _doubt(site, context, level.point, name, sentences)
    for test in site.record.tests[-1:]:
        if test.evidence and context.index - REACH <= test.evidence[-1].note < context.index and not fields:
            for name in ("duration_s", "flow_gpm"):
                if getattr(test, name) is not None:
                    _doubt(site, context, test.at or "tests", name, sentences)


def _doubt(site: Site, context: Context, about: str, name: str, sentences: Sequence[Sentence]) -> None:
    evidence = [context.evidence(sentences[0])]
    site.ask(about, name, "low_confidence", evidence=evidence, heard=context.note.text)
