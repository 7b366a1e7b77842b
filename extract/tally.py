"""Enters each quantity that was said into the ledger, in the standing that it was said in (see `dispositions`)."""

from __future__ import annotations

import re

from extract.context import Context
from extract.dispositions import Met, in_words
from extract.site import Site
from extract.statements import Sentence, read_note
from extract.text.quantities import Quantity

FIGURE = re.compile(r"[0-9]{1,15}(?:\.[0-9]{1,6})?")
NAME = re.compile(r"[a-z]{1,4}[0-9]{1,5}|[0-9]+(?:st|nd|rd|th)")
"""A product's or a thing's name, and a place number."""


def enter_told(site: Site, context: Context, sentence: Sentence, grown: str | None) -> None:
    """What standing each quantity of a sentence has; `grown` is the list in whose words it stands."""
    unread = _unread(sentence)
    if not sentence.quantities and not unread:
        return
    kept = {quantity.start for quantity in context.counted}
    about = next((mention.label for mention in sentence.mentions if mention.label), site.last)
    for quantity in sentence.quantities:
        if "astm" in sentence.tokens[max(0, quantity.start - 4) : quantity.start]:
            continue  # a standard's number, and its year
        if sentence.question or (quantity.start not in kept and quantity not in context.replaced):
            standing = "not_fact"
        elif quantity.start not in kept:
            standing = "withdrawn"
        elif grown:
            standing = grown
        elif context.planned:
            standing = "not_fact"
        elif sentence.has("issue") and context.issue:
            standing = "issues"
        else:
            standing = in_words(sentence, quantity, about)
        _enter(site, context, sentence, quantity, standing, about)
    for quantity in unread:
        standing = "not_fact" if sentence.question or context.planned else grown or "told"
        _enter(site, context, sentence, quantity, standing, about)


def _unread(sentence: Sentence) -> list[Quantity]:
    """The figures that stand in no quantity and in no name: something was written that the grammar does not know."""
    taken = {i for quantity in sentence.quantities for i in range(quantity.start, quantity.end)}
    taken |= {i for term in sentence.terms for i in range(term.start, term.end)}
    taken |= {i for each in [*sentence.mentions, *sentence.denied_mentions] for i in range(each.start, each.end)}
    found = []
    for i, token in enumerate(sentence.tokens):
        named = "astm" in sentence.tokens[max(0, i - 4) : i]
        if i not in taken and not named and (figure := FIGURE.search(token)) and not NAME.fullmatch(token):
            found.append(Quantity(float(figure[0]), None, i, i + 1, glued=True))
    return found


def enter_withdrawn(site: Site, context: Context, end: int) -> None:
    """The quantities of the first `end` characters of a note, which were taken back."""
    for sentence in read_note(context.note.text[:end]):
        for quantity in sentence.quantities:
            _enter(site, context, sentence, quantity, "withdrawn", None)


def _enter(
    site: Site, context: Context, sentence: Sentence, quantity: Quantity, standing: str, about: str | None
) -> None:
    span = context.span(sentence, quantity)
    words = context.note.text[span[1] : span[2]]
    near = tuple(label for label in (site.run, site.structure) if label)
    site.ledger.met.append(Met(span, words, quantity, sentence, standing, about, near))
    site.ledger.named[context.index] = context.named
