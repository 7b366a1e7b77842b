"""What goes over a run or a structure, as said: "carts cross it", "under the driveway", "truck traffic"."""

from __future__ import annotations

from typing import get_args

from extract.context import Context
from extract.lexicon import Term
from extract.naming import subject_for
from extract.record import Run, Structure, Traffic
from extract.site import Site
from extract.statements import Sentence

HEAVIER = {kind: rank for rank, kind in enumerate(get_args(Traffic))}


def read_traffic(site: Site, context: Context, sentence: Sentence, subjects: list[str]) -> None:
    """Put the traffic a sentence tells of where it belongs; of two said of one thing the heavier stands."""
    for term in sentence.find("traffic"):
        label = subject_for(site, sentence, subjects, term.start, Run, Structure)
        entry = site.entry(label)
        if (
            label is None
            or not isinstance(entry, Run | Structure)
            or _denied(sentence, term)
            or _a_place(sentence, term)
        ):
            continue
        if entry.traffic is None or HEAVIER[term.value] > HEAVIER[entry.traffic]:
            site.put(label, "traffic", context.said(term.value, sentence, corrected=True))


def _denied(sentence: Sentence, term: Term) -> bool:
    """As in "no cars park on it": a no in front of it, in the same part of the sentence."""
    low = next((a for a, b in sentence.segments if a <= term.start < b), 0)
    return any(no.start < term.start for no in sentence.find("negation", within=(low, term.start)))


def _a_place(sentence: Sentence, term: Term) -> bool:
    """As in "the basin across the driveway" or "across the driveway from the porch": a place, no load."""
    if sentence.word(term.end) == "from":
        return True
    across = sentence.word(term.start) in ("across", "below", "beneath", "under")
    named = any(m.end == term.start and m.prefix not in ("R", "CD") for m in sentence.mentions)
    return across and named
