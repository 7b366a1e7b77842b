"""Pipe told in pieces: "three ten-foot sticks and a four-foot piece" is 34 feet."""

from __future__ import annotations

from extract.context import Context
from extract.naming import subject_for
from extract.record import Run
from extract.site import Site
from extract.statements import Sentence
from extract.text.quantities import Quantity

LEFT_OVER = {"left", "leftover", "spare", "waste", "short"}
MORE = {"another", "more", "plus", "also"}
PIECES = {"stick", "sticks", "piece", "pieces", "joint", "joints", "length", "lengths", "cut", "cutoff"}


def read_pieces(site: Site, context: Context, sentence: Sentence, subjects: list[str], used: set[int]) -> None:
    """As in "Three ten-foot sticks and a four-foot piece" is a length of 34."""
    told = _told(sentence, used)
    pieces = [feet for feet, _ in told]
    alone = not pieces and not context.planned and _sticks_alone(sentence, used)
    if not pieces and not alone:
        return
    label = subject_for(site, sentence, subjects, len(sentence.tokens), Run)
    run = site.entry(label)
    if label is None or not isinstance(run, Run):
        return
    if alone:
        site.ask(label, "length_ft", "low_confidence", evidence=[context.evidence(sentence)], heard=context.note.text)
        return
    first = told[0][1]
    for _, quantity in told[1:]:
        context.use(site, sentence, quantity, label, "pieces_ft")
    more = bool(MORE & sentence.words) and bool(run.pieces_ft)
    if not context.planned:
        run.pieces_ft = [*run.pieces_ft, *pieces] if more else pieces
    if _unmeasured_sticks(sentence):
        site.ask(label, "length_ft", "low_confidence", evidence=[context.evidence(sentence)], heard=context.note.text)
    if any(q.unit == "ft" and id(q) not in used for q in sentence.quantities):
        return  # the total was said too
    corrected = more or sentence.has("last", "correction")
    total = run.pieces_ft if more else pieces
    site.put(label, "length_ft", context.said(round(sum(total), 4), sentence, first, corrected=corrected))
    if not context.planned:
        run.pieces_ft = total
    loose = [q for q in sentence.quantities if q.unit is None and not q.plural and not q.parts and q.value > 3]
    if not context.planned and any(id(q) not in used for q in loose):
        # "Three tens and a cut of eight, 38 total": what the others count nobody knows.
        site.ask(label, "length_ft", "low_confidence", evidence=[context.evidence(sentence)], heard=context.note.text)


def _told(sentence: Sentence, used: set[int]) -> list[tuple[float, Quantity]]:
    """The pieces of a sentence, feet, in order, each with its quantity; those they were said with are used up."""
    pieces: list[tuple[float, Quantity]] = []
    for i, quantity in enumerate(sentence.quantities):
        near = sentence.tokens[max(0, quantity.start - 3) : quantity.start]
        named = "," not in near and any(word in PIECES and not word.endswith("s") for word in near)
        lead = quantity.start - 1 - (sentence.word(quantity.start - 1) == "a")
        added = bool(pieces) and (sentence.word(lead) in ("+", "plus") or bool(named))
        after = sentence.quantities[i + 1] if i + 1 < len(sentence.quantities) else None
        chained = after is not None and after.unit == "ft" and _joined(sentence, quantity, after)
        if not pieces and quantity.unit == "ft" and chained:  # "10' + 10' + 4'6""
            used.add(id(quantity))
            pieces.append((quantity.value, quantity))
            continue
        cut_off = quantity.unit == "ft" and sentence.word(quantity.end) == "off" and "cut" in sentence.words
        if cut_off or LEFT_OVER & set(sentence.tokens[quantity.end : quantity.end + 2]):
            continue  # "three feet left over" is taken off, not on
        if quantity.unit == "ft" and added:
            used.add(id(quantity))
            pieces.append((quantity.value, quantity))
            continue
        if quantity.unit == "in" and pieces and _piece_noun(sentence, quantity):
            used.add(id(quantity))
            pieces.append((quantity.value / 12, quantity))
            continue
        counted = _sticks_of(sentence, i)
        if counted:
            used |= {id(quantity), id(sentence.quantities[i - 1])}
            pieces += [(quantity.value, quantity)] * int(counted)
            pieces += [(quantity.value * (counted % 1), quantity)] if counted % 1 else []
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
        pieces += [(quantity.value, quantity)] * min(count, 200)
    return pieces


def _joined(sentence: Sentence, first: Quantity, second: Quantity) -> bool:
    return sentence.tokens[first.end : second.start] in (["+"], ["plus"])


def _sticks_alone(sentence: Sentence, used: set[int]) -> bool:
    """As in "took four and a half sticks", of nobody knows what length; feet said with them are no total."""
    counted = any(
        q.unit is None and sentence.word(q.end) in ("stick", "sticks", "joint", "joints") for q in sentence.quantities
    )
    if counted:
        used.update(
            id(q) for q in sentence.quantities if q.unit == "ft" and sentence.word(q.start - 1) in ("and", "plus")
        )
    return counted


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
    bare = bare or any(
        token == "piece" and not any(-5 <= start - i <= 5 for start in starts)
        for i, token in enumerate(sentence.tokens)
    )
    cut = "cut" in sentence.words and bool({"off", "to", "down"} & sentence.words)
    ends_bare = any(
        q.unit is None and q.end == len(sentence.tokens) and sentence.word(q.start - 1) == "a"
        for q in sentence.quantities
    )
    return bare or cut or ends_bare or bool((LEFT_OVER | {"minus", "less"}) & sentence.words)


def _sticks_of(sentence: Sentence, i: int) -> float:
    """How many, in "five sticks of ten-foot pipe" and "thirteen sticks at ten foot each"; 0 for anything else."""
    quantity, before = sentence.quantities[i], sentence.quantities[i - 1] if i else None
    bare = quantity.unit is None and quantity.value in (10, 12.5, 13, 14, 20)  # "three sticks of ten"
    if before is None or before.unit is not None or not (quantity.unit == "ft" or bare) or before.parts:
        return 0
    gap = sentence.tokens[before.end : quantity.start]
    each = quantity.attributive or sentence.word(quantity.end) in ("each", "apiece")
    counted = len(gap) == 2 and gap[0] in PIECES and (gap[1] == "of" or (gap[1] == "at" and each))
    return before.value if counted and before.value <= 200 else 0


def _counts(sentence: Sentence, number: Quantity, piece: Quantity) -> bool:
    """Whether a bare number before a piece is how many there are; a recogniser puts a comma between ("5, 10-foot")."""
    gap = sentence.tokens[number.end : piece.start]
    sticks = any(word in PIECES and word.endswith("s") for word in sentence.tokens[piece.end : piece.end + 2])
    return number.unit is None and not number.parts and (gap == [] or (gap == [","] and sticks and number.value <= 20))


def _piece_noun(sentence: Sentence, quantity: Quantity) -> bool:
    if sentence.word(quantity.end) in PIECES:
        return True
    return quantity.attributive and sentence.word(quantity.end + 1) in PIECES
