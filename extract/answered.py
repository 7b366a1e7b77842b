"""A later note that answers a question which no field's own value tells of: fittings told again in plain words."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from extract.context import Context
from extract.limits import limits
from extract.loose import SAID_BEFORE
from extract.record import Fitting, Run
from extract.site import Site
from extract.statements import Sentence

FURTHER = {"more", "another", "extra", "also", "plus", "add", "added", "additional", "second", "third"}
"""Words that tell of fittings beside those that were asked about."""
ANSWERS = {"has", "have", "fittings", "yes", "yeah", "yep", "correct", "right", "no"}
"""Words with which what a run holds is told, and not what is put on it besides."""
Counts = dict[tuple[str, float | None, float | None, float | None], int]


def counted(site: Site) -> dict[str, Counts]:
    """How many of each fitting stand on each run whose fittings are asked about."""
    runs = [run for run in site.record.runs if site.question(run.label, "fittings")]
    return {run.label: {_key(each): each.count for each in run.fittings} for run in runs}


def close_told_again(site: Site, context: Context, sentences: Sequence[Sentence], before: Mapping[str, Counts]) -> None:
    """Close the question about a run's fittings that this note lists or confirms without a doubt of its own.

    `before` is what was `counted` before it. What it counts of a kind that was in doubt takes the place of that.
    """
    told = [each for each in sentences if lists_fittings(each) and not each.question]
    if not told or context.planned or any(FURTHER & each.words for each in told):
        return
    named = {mention.label for each in told for mention in each.mentions if mention.what == "run" and mention.label}
    if not named and not all(_only_lists(each) for each in told):
        return  # "he has two 45s at home"
    for label in named or ({site.run} if site.run else set()):
        run = site.entry(label)
        asked = site.question(label, "fittings")
        if asked is None or not isinstance(run, Run) or not run.fittings or asked.why == "conflict":
            continue
        unchanged = before.get(run.label) == {_key(each): each.count for each in run.fittings} and _plain(context)
        own = any(witness.note >= context.index for witness in asked.evidence)  # a doubt of this note's own
        if not asked.evidence or (own and not unchanged):
            continue
        summed = [each for each in run.fittings if 0 < before.get(run.label, {}).get(_key(each), 0) < each.count]
        if summed and not any(ANSWERS & each.words for each in told):
            continue  # more of them, or another count? It stays asked
        for each in summed:
            each.count -= before[run.label][_key(each)]
        site.settle(run.label, "fittings")


def _plain(context: Context) -> bool:
    """Whether no word of the note was heard badly."""
    return all(word.confidence >= limits()["confidence"]["number"] for word in context.note.words)


def _key(fitting: Fitting) -> tuple[str, float | None, float | None, float | None]:
    return fitting.kind, fitting.angle_deg, fitting.nominal_in, fitting.to_nominal_in


def lists_fittings(sentence: Sentence) -> bool:
    """Whether it counts fittings, and tells none of a plan or by hearsay."""
    counted = any(quantity.unit == "angle" for quantity in sentence.quantities) or sentence.has("fitting")
    denied = any(term.start > 0 for term in sentence.find("negation"))  # "no, three 90s" denies what was there before
    return counted and not sentence.has("hearsay") and not denied


def _only_lists(sentence: Sentence) -> bool:
    """Whether it says nothing beside the fittings and a word that answers."""
    known = {i for each in sentence.find("fitting") for i in range(each.start, each.end)}
    known |= {i for each in sentence.quantities for i in range(each.start, each.end)}
    others = {token for i, token in enumerate(sentence.tokens) if i not in known and token.isalpha()}
    return others <= ANSWERS | SAID_BEFORE | {"and", "a", "fittings", "of", "them"}
