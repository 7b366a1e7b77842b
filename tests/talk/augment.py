"""The same day said with other numbers and in another spelling, its marks kept: more examples from the training days.

The meaning of each span stays; a mark's own value no longer fits its words, so a varied day is for teaching alone.
"""

from __future__ import annotations

import random
import re
from collections.abc import Iterable
from dataclasses import replace

from num2words import num2words
from talk.markup import Day, Marked

ONES = "one two three four five six seven eight nine".split()
TEENS = "ten eleven twelve thirteen fourteen fifteen sixteen seventeen eighteen nineteen".split()
TENS = "twenty thirty forty fifty sixty seventy eighty ninety".split()
WORDS = {word: i for i, word in enumerate(ONES, 1)} | {word: i for i, word in enumerate(TEENS, 10)}
ALONE = "|".join([*TENS, *TEENS, *ONES[1:]])
SAID = re.compile(
    rf"\b(?:(?P<tens>{'|'.join(TENS)})(?P<join>[- ])(?P<ones>{'|'.join(ONES)})|(?P<word>{ALONE}))\b"
    r"|(?<![\d./:A-Za-z#-])(?P<digits>\d{1,3})(?![\d:/A-Za-z-]|\.\d)",
    re.IGNORECASE,
)
KEPT = {22, 45, 90, 30, 60}
"""Angles of bends: another number would be none."""
SPOKEN = {"fitting", "nominal_in", "pipe"}
"""Meanings whose numbers are of stock: they are left as they are."""
ARTICLE = re.compile(r"(?:the|that|this) ")
LONGEST_NAME = 32
RENAMED = 0.5
"""How often a thing is called otherwise in a varied day."""
CUT = 0.25
"""How often a varied day is cut into pieces."""
BROKEN = 0.12
"""How often a measure gets a fraction or decimals in a varied day."""
BEFORE_UNIT = re.compile(r"[ -]?(?:feet|foot|ft|inch(?:es)?|in|metres?|meters?|cm|mm)\b", re.IGNORECASE)
IN_WORDS = (" and a half", " and a quarter", " and three quarters", " and an eighth", " and one fourth",
            " and three eighths", " point five", " point two five", " point oh eight")  # fmt: skip
IN_DIGITS = (" 1/2", " 1/4", " 3/4", "-3/8", ".5", ".25", ".75", ".08", "½", "¼")
PUNCTUATION = re.compile(r"[^\w\s'’#/.\"-]|(?<!\d)\.|\.(?!\d)")


def varied(day: Day, dice: random.Random, names: dict[str, list[str]]) -> Day:
    """The day with other figures nearly everywhere, some of them broken ones, some of its things called otherwise
    (`names`: how people call a kind), now and then in digits, now and then without stops or capitals."""
    day = _renamed(day, dice, names)
    shift = {n: _other(n, dice) for n in range(1, 1000)}
    digits, plain = dice.random() < 0.2, dice.random() < 0.25
    return Day(
        day.head, [_plain(each) if plain else each for each in (_numbers(n, shift, digits, dice) for n in day.notes)]
    )


def in_pieces(day: Day, dice: random.Random) -> list[Day]:
    """Now and then the day cut into short stretches, each read as a day of its own: what is said with nothing before
    it."""
    if dice.random() > CUT:
        return [day]
    out, low = [], 0
    while low < len(day.notes):
        high = low + dice.choice((1, 1, 2, 3, 5, 8))
        out.append(Day(day.head, day.notes[low:high]))
        low = high
    return out


def names_of(days: Iterable[Day]) -> dict[str, list[str]]:
    """How people call each kind of thing, with an article and no number."""
    names: dict[str, set[str]] = {}
    for day in days:
        for note in day.notes:
            for span in note.spans:
                words = note.words(span).lower()
                mentions = [m for m in span.meanings if m.kind == "mention"]
                plain = ARTICLE.match(words) and len(words) < LONGEST_NAME and not any(c.isdigit() for c in words)
                if len(mentions) == 1 and mentions[0].number is None and plain:
                    names.setdefault((mentions[0].thing or "").split(".")[0], set()).add(words)
    return {kind: sorted(each) for kind, each in sorted(names.items())}


def _renamed(day: Day, dice: random.Random, names: dict[str, list[str]]) -> Day:
    """Some names called otherwise, the same way throughout the day."""
    called: dict[tuple[str, str], str | None] = {}
    notes = []
    for note in day.notes:
        edits = []
        for span in note.spans:
            words = note.words(span).lower()
            mentions = [m for m in span.meanings if m.kind == "mention"]
            alone = not any(o is not span and o.start < span.end and span.start < o.end for o in note.spans)
            if len(mentions) != 1 or mentions[0].number is not None or not ARTICLE.match(words) or not alone:
                continue
            thing = mentions[0].thing or ""
            if (thing, words) not in called:
                others = names.get(thing.split(".")[0], [])
                called[thing, words] = dice.choice(others) if others and dice.random() < RENAMED else None
            new = called[thing, words]
            if new:
                edits.append((span.start, span.end, new))
        notes.append(edited(note, edits))
    return Day(day.head, notes)


def _other(number: int, dice: random.Random) -> int:
    if number in KEPT or number == 100:
        return number
    low, high = (1, 10) if number < 10 else (10, 100) if number < 100 else (100, 1000)
    near = round(number * dice.uniform(0.65, 1.5))
    return min(max(near, low + (low == 1)), high - 1)


def _numbers(note: Marked, shift: dict[int, int], digits: bool, dice: random.Random) -> Marked:
    edits = []
    for found in SAID.finditer(note.text):
        start, end = found.span()
        around = [span for span in note.spans if span.start < end and start < span.end]
        fixed = any(m.kind == "mention" or m.field in SPOKEN for span in around for m in span.meanings)
        if not around or fixed:
            continue
        broken = BEFORE_UNIT.match(note.text, end) is not None and dice.random() < BROKEN
        if found["digits"]:
            other = shift.get(int(found["digits"]), int(found["digits"]))
            edits.append((start, end, f"{other}{dice.choice(IN_DIGITS) if broken else ''}"))
            continue
        value = (
            10 * (TENS.index(found["tens"].lower()) + 2) + WORDS[found["ones"].lower()]
            if found["tens"]
            else _value(found["word"])
        )
        other = shift[value]
        said = str(other) if digits else num2words(other).replace("-", found["join"] or "-")
        edits.append((start, end, said + (dice.choice(IN_DIGITS if digits else IN_WORDS) if broken else "")))
    return edited(note, edits)


def _value(word: str) -> int:
    word = word.lower()
    return 10 * (TENS.index(word) + 2) if word in TENS else WORDS[word]


def _plain(note: Marked) -> Marked:
    """As a recogniser may write it: no capitals, no stops."""
    lower = replace(note, text=note.text.lower())
    return edited(lower, [(*found.span(), "") for found in PUNCTUATION.finditer(lower.text)])


def edited(note: Marked, edits: list[tuple[int, int, str]]) -> Marked:
    """The note with the characters [start, end) of each edit replaced, and its spans moved along."""
    text, last, moves = [], 0, []
    for start, end, new in sorted(edits):
        text += [note.text[last:start], new]
        moves.append((start, end, len(new) - (end - start)))
        last = end
    text.append(note.text[last:])

    def moved(place: int, is_end: bool) -> int:
        by = 0
        for start, end, grown in moves:
            if end <= place or (start < place and is_end):
                by += grown
        return place + by

    spans = [replace(span, start=moved(span.start, False), end=moved(span.end, True)) for span in note.spans]
    return replace(note, text="".join(text), spans=[span for span in spans if span.end > span.start])
