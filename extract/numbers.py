"""Numbers as they are said aloud: cardinals, digits after a point, fractions, "forty-fives".

Every function looks at tokens from a place on, and gives what stands there with the place where it ends. Tokens are
padded with empty words at the end, so that a number may look at what follows without asking whether anything does.
"""

from __future__ import annotations

import re
from collections.abc import Sequence

SMALL = {
    word: value
    for value, word in enumerate(
        "zero one two three four five six seven eight nine ten eleven twelve thirteen fourteen fifteen sixteen "
        "seventeen eighteen nineteen".split()
    )
} | {"oh": 0, "o": 0}
TENS = {word: 10 * i for i, word in enumerate("twenty thirty forty fifty sixty seventy eighty ninety".split(), start=2)}
FRACTIONS = {"half": 2, "halves": 2, "third": 3, "thirds": 3, "quarter": 4, "quarters": 4, "fourth": 4, "fourths": 4}
FRACTIONS |= {"tenth": 10, "tenths": 10, "hundredth": 100, "hundredths": 100}
FRACTIONS |= {
    "eighth": 8,
    "eighths": 8,
    "8th": 8,
    "8ths": 8,
    "sixteenth": 16,
    "sixteenths": 16,
    "16th": 16,
    "16ths": 16,
}
PLURALS = {"fives": 5, "twos": 2} | {f"{word[:-1]}ies": value for word, value in TENS.items()}
DIGIT = {str(value): value for value in range(1, 10)}
DIGITS = re.compile(r"\d+(?:\.\d+)?|\.\d+")
FRACTION = re.compile(r"(\d{1,3})/(\d{1,3})")


def groups_at(tokens: Sequence[str], i: int, taken: set[int] | frozenset[int]) -> tuple[list[float], int]:
    """Cardinals said side by side: "ninety-seven thirty" is [97, 30]; none of them in `taken`."""
    groups: list[float] = []
    while i < len(tokens) and i not in taken and len(groups) < 6:
        if groups and (plural_angle_at(tokens, i) or fraction_at(tokens, i)):
            break
        group, end = _cardinal(tokens, i)
        if group is None or (not groups and tokens[i] == "oh"):
            break
        groups.append(group)
        i = end
    return groups, i


def _cardinal(tokens: Sequence[str], i: int) -> tuple[float | None, int]:
    """One cardinal as it is read aloud: 7, 42, a hundred and one, twelve thousand, three hundred and six."""
    value, end = _below_thousand(tokens, i)
    if value is None or tokens[end] != "thousand":
        return value, end
    start = end + 2 if tokens[end + 1] in ("and", ",") else end + 1
    rest, after = _below_thousand(tokens, start)
    return (value * 1000, end + 1) if rest is None else (value * 1000 + rest, after)


def _below_thousand(tokens: Sequence[str], i: int) -> tuple[float | None, int]:
    value: float | None
    if DIGITS.fullmatch(tokens[i]):
        value, end = float(tokens[i][:15]), i + 1
    elif tokens[i] == "a" and tokens[i + 1] in ("hundred", "thousand"):
        value, end = 1, i + 1
    elif tokens[i] == "hundred":
        value, end = 1, i
    else:
        value, end = _below_hundred(tokens, i)
    if value is None or tokens[end] != "hundred":
        return value, end
    start = end + 2 if tokens[end + 1] == "and" else end + 1
    rest, after = _below_hundred(tokens, start)
    return (value * 100 + rest, after) if rest else (value * 100, end + 1)


def _below_hundred(tokens: Sequence[str], i: int) -> tuple[float | None, int]:
    word = tokens[i]
    if word in TENS:
        unit = SMALL.get(tokens[i + 1], 0)
        if 1 <= unit <= 9:
            return TENS[word] + unit, i + 2
        return TENS[word], i + 1
    if word in SMALL and word != "o":
        return SMALL[word], i + 1
    return None, i


def decimals_at(tokens: Sequence[str], i: int) -> tuple[str, int]:
    """The digits said after a point, as text: "oh eight" is 08."""
    digits = ""
    while i < len(tokens) and len(digits) < 4:
        if tokens[i].isascii() and tokens[i].isdigit():
            digits, i = digits + tokens[i][:4], i + 1
            continue
        below, end = _below_hundred(tokens, i)
        if below is None:
            break
        digits, i = digits + str(int(below)), end
    return digits, i


def concatenated(groups: list[float]) -> str:
    """Cardinals side by side as one number in digits; where one has a fraction, the first alone."""
    return "".join(f"{group:g}" if group == int(group) else str(group) for group in groups) if all(
        group == int(group) for group in groups
    ) else f"{groups[0]:g}"  # fmt: skip


def fraction_at(tokens: Sequence[str], i: int) -> tuple[float, int] | None:
    """A fraction below one: `1/2`, a half, three quarters, five eighths; with where it ends."""
    word = tokens[i]
    if word in ("half", "quarter", "eighth", "8th", "sixteenth", "16th"):
        return 1 / FRACTIONS[word], i + 1
    written = FRACTION.fullmatch(word) if "/" in word else None
    if written and int(written[2]) and int(written[1]) < int(written[2]):
        return int(written[1]) / int(written[2]), i + 1
    after = tokens[i + 1]
    if after not in FRACTIONS:
        return None
    if word in ("a", "an"):
        return 1 / FRACTIONS[after], i + 2
    top, bottom = SMALL.get(word) or DIGIT.get(word), FRACTIONS[after]
    if top and top < bottom and after not in ("third", "fourth"):
        return top / bottom, i + 2
    return None


def plural_angle_at(tokens: Sequence[str], i: int) -> tuple[float, int] | None:
    """The degrees of a bend said in the plural: forty-fives, nineties; with where it ends."""
    word, after = tokens[i], tokens[i + 1]
    if word in TENS and after in ("fives", "twos"):
        return TENS[word] + PLURALS[after], i + 2
    if word in PLURALS and PLURALS[word] in (20, 30, 40, 60, 90) and word.endswith("ies"):
        return PLURALS[word], i + 1
    return None
