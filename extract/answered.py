"""A later note that answers a question which no field's own value tells of: fittings told again in plain words."""

from __future__ import annotations

from collections.abc import Sequence

from extract.context import Context
from extract.record import Run
from extract.site import Site
from extract.statements import Sentence

FURTHER = {"more", "another", "extra", "also", "plus", "add", "added", "additional", "second", "third"}
"""Words that tell of fittings beside those that were asked about."""


def close_told_again(site: Site, context: Context, sentences: Sequence[Sentence]) -> None:
    """Close the question about a run's fittings that this note lists or confirms without a doubt of its own."""
    told = [each for each in sentences if _lists(each) and not each.question]
    if not told or context.planned or any(FURTHER & each.words for each in told):
        return
    named = {mention.label for each in told for mention in each.mentions if mention.what == "run" and mention.label}
    labels = named or {site.run}
    for label in labels - {None}:
        run = site.entry(label)
        asked = site.question(label, "fittings")
        if asked is None or not isinstance(run, Run) or not run.fittings or asked.why == "conflict":
            continue
        if asked.evidence and all(witness.note < context.index for witness in asked.evidence):
            site.settle(label, "fittings")


def _lists(sentence: Sentence) -> bool:
    """Whether it counts fittings, and tells none of a plan or by hearsay."""
    counted = any(quantity.unit == "angle" for quantity in sentence.quantities) or sentence.has("fitting")
    return counted and not sentence.has("hearsay") and not sentence.has("negation")
