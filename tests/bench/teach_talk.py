"""The lines that the speech model is taught by: how each is said, and how it is to be written.

A third are made from sentences of teach_talk.toml, half are notes of the worked examples with other numbers put in,
and the rest is general English, so that what the model knew before is not lost. Notes of the jobs in KEPT_BACK are
left out, and every line that says what they say but for its numbers: on those jobs the lesson is measured.
"""

from __future__ import annotations

import random
import re
import tomllib
from collections.abc import Iterator
from functools import cache
from pathlib import Path
from typing import Any

from extract.notes import parse_log

HERE = Path(__file__).parent
EXAMPLES = HERE.parent / "examples"
GENERAL = Path("/usr/share/games/fortunes")
"""General English, from Debian's package fortunes."""

KEPT_BACK = ("a", "d", "c", "e", "g", "r", "x", "y")
SHORTHAND = ("h", "k", "t", "ab")
"""Jobs thumbed in a shorthand that nobody speaks."""

UNITS = "one two three four five six seven eight nine".split()
TEENS = "ten eleven twelve thirteen fourteen fifteen sixteen seventeen eighteen nineteen".split()
TENS = "twenty thirty forty fifty sixty seventy eighty ninety".split()
VALUES = {word: n for n, word in enumerate(UNITS, 1)} | {word: n for n, word in enumerate(TEENS, 10)}
VALUES |= {word: 10 * n for n, word in enumerate(TENS, 2)} | {"oh": 0, "zero": 0}
ALWAYS = ("35", "40", "80", "1785", "2729", "3034")
"""Numbers that are names of pipe, and stay."""
NAMES = re.compile(
    r"(?i)\b(D twenty[ -]seven twenty[ -]nine|(?:schedule|SDR|S D R) (?:forty|eighty|thirty[ -]five)|"
    r"forty[ -]fives|nineties|twenty[ -]twos|"
    r"(?:forty[ -]five|ninety|twenty[ -]two)(?![ -](?:feet|foot|inch|and|point|percent|min|gal)))\b"
)
"""Numbers in words that are names of pipe or bends, and stay."""
ALIKE = 0.9
"""How many of all words of two lines must be in both for one to say what the other says."""

_UNIT, _TEEN, _TEN = ("|".join(words) for words in (UNITS, TEENS, TENS))
_ONE = rf"(?:(?:{_TEN})(?:[ -](?:{_UNIT}))?|{_TEEN}|{_UNIT}|zero|oh)"
_WORD = re.compile(rf"\b(?:{_UNIT}|{_TEEN}|{_TEN})\b", re.IGNORECASE)
_FIGURE = re.compile(r"(?<![\d/])\d+(?:\.\d+)?(?![\d/])")


def lines(count: int, seed: int) -> Iterator[str]:
    """`count` lines as they are said."""
    chance = random.Random(seed)
    taught = [job for job in _jobs() if job not in (*KEPT_BACK, *SHORTHAND)]
    notes, general = [note for job in taught for note in _notes(job)], _general()
    chance.shuffle(general)
    parts = [part for note in notes for part in sentences(note)]
    kept_back = [gist(part) for job in KEPT_BACK for note in _notes(job) for part in sentences(note)]
    made_so_far = 0
    while made_so_far < count:
        line = _line(chance, notes, parts, general)
        if not any(alike(gist(part), kept) for part in sentences(line) for kept in kept_back):
            made_so_far += 1
            yield line


def _line(chance: random.Random, notes: list[str], parts: list[str], general: list[str]) -> str:
    kind = chance.random()
    if kind < 0.15:
        return chance.choice(general)
    if kind < 0.45:
        return other_numbers(chance.choice(notes), chance)
    if kind < 0.6:
        return other_numbers(" ".join(chance.choices(parts, k=chance.choice((1, 1, 2, 2, 3)))), chance)
    return " ".join(made(chance) for _ in range(chance.choice((1, 1, 1, 2, 2, 3))))


def sentences(note: str) -> list[str]:
    return re.split(r"(?<=[.?!]) (?=[A-Z0-9])", note)


def gist(sentence: str) -> frozenset[str]:
    """The words of `sentence` but for its numbers."""
    words = re.findall(r"[a-z']+", sentence.lower())
    return frozenset(word for word in words if word not in VALUES)


def alike(one: frozenset[str], other: frozenset[str]) -> bool:
    """Whether two gists of four words or more say the same."""
    return len(one) >= 4 and len(one & other) >= ALIKE * len(one | other)


def _jobs() -> list[str]:
    return [log.name.removeprefix("job-").split(".")[0] for log in sorted(EXAMPLES.glob("job-*.notes.txt"))]


def _notes(job: str) -> list[str]:
    return [note.text for note in parse_log((EXAMPLES / f"job-{job}.notes.txt").read_text())]


def _general() -> list[str]:
    files = (GENERAL / name for name in ("fortunes", "literature", "riddles", "wisdom", "people"))
    sayings = [" ".join(saying.split("--")[0].split()) for file in files for saying in file.read_text().split("\n%\n")]
    plain = [saying for saying in sayings if re.fullmatch(r"[A-Za-z ,.?!';:-]{20,160}", saying)]
    return [saying for saying in plain if not re.search(r"(?i)\b(hundred|thousand|million)", saying)]


def other_numbers(note: str, chance: random.Random) -> str:
    """`note` with most of its numbers changed for others of the same kind."""

    def word(match: re.Match[str]) -> str:
        said = match[0]
        group = next(group for group in (UNITS, TEENS, TENS) if said.lower() in group)
        other = chance.choice(group[:6] if chance.random() < 0.6 else group)
        return said if chance.random() < 0.15 else other.capitalize() if said[0].isupper() else other

    def figure(match: re.Match[str]) -> str:
        said = match[0]
        if said in ALWAYS or chance.random() < 0.15:
            return said
        if said in ("45", "90"):
            return chance.choice(("45", "90", "22", "11"))
        whole, point, parts = said.partition(".")
        near = int(whole) + chance.randint(-3, 3) if point else chance.randint(int(whole) // 2, 2 * int(whole))
        return f"{max(0 if point else 1, near)}{point}{''.join(str(chance.randint(0, 9)) for _ in parts)}"

    parts = NAMES.split(note)  # every second one is a name
    parts[::2] = [_FIGURE.sub(figure, _WORD.sub(word, part)) for part in parts[::2]]
    return "".join(parts)


@cache
def _talk() -> dict[str, Any]:
    return tomllib.loads((HERE / "teach_talk.toml").read_text())


def made(chance: random.Random) -> str:
    """A sentence of teach_talk.toml with its slots filled."""
    talk = _talk()
    numbers = {
        "run": lambda: f"{chance.choice(('run', 'run', 'run', 'run number'))} {_count(chance, 1, 7)}",
        "basin": lambda: f"{chance.choice(talk['slots']['place'])} {_count(chance, 1, 5)}",
        "count": lambda: _count(chance, 2, 20),
        "feet": lambda: _feet(chance),
        "inches": lambda: _inches(chance),
        "reading": lambda: _decimal(chance, 2, 12),
        "elevation": lambda: _decimal(chance, 90, 109),
        "percent": lambda: f"{_decimal(chance, 0, 3)} percent",
    }

    def slot(match: re.Match[str]) -> str:
        name = match[1]
        return numbers[name]() if name in numbers else chance.choice(talk["slots"][name])

    sentence = chance.choice(talk["sentences"])
    while "{" in sentence:
        sentence = re.sub(r"\{(\w+)\}", slot, sentence)
    return sentence[0].upper() + sentence[1:]


def _count(chance: random.Random, low: int, high: int) -> str:
    number = chance.randint(low, high)
    return _spelled(number) if chance.random() < 0.6 else str(number)


def _spelled(number: int) -> str:
    if number < 20:
        return ("zero", *UNITS, *TEENS)[number]
    tens, unit = divmod(number, 10)
    return TENS[tens - 2] + (f"-{UNITS[unit - 1]}" if unit else "")


def _decimal(chance: random.Random, low: int, high: int) -> str:
    whole = chance.randint(low, high)
    parts = "".join(str(chance.randint(0, 9)) for _ in range(chance.choice((1, 2, 2))))
    if whole > 99 or chance.random() < 0.5:
        return f"{whole}.{parts}"
    return f"{_spelled(whole)} point {' '.join(UNITS[int(d) - 1] if d != '0' else 'oh' for d in parts)}"


def _fraction(chance: random.Random) -> str:
    return chance.choice(
        ("a quarter", "a half", "three quarters", "an eighth", "three eighths", "five eighths", "seven eighths")
    )


def _inches(chance: random.Random) -> str:
    number, fraction = _count(chance, 1, 36), _fraction(chance)
    forms = (
        f"{number} inches",
        f"{number} and {fraction} inches",
        f"{number} and {fraction}",
        f"an inch and {fraction}",
    )
    return chance.choices(forms, (50, 30, 10, 10))[0]


def _feet(chance: random.Random) -> str:
    number = _count(chance, 2, 60)
    forms = (
        f"{number} feet",
        f"{number} foot {_count(chance, 1, 11)}",
        f"{number} and a half feet",
        f"{number} feet {_inches(chance)}",
        f"{_decimal(chance, 5, 60)} feet",
    )
    return chance.choices(forms, (35, 25, 15, 13, 12))[0]


def written(said: str) -> str:
    """How `said` is to be written: figures from ten up and for decimals, words below ten."""
    text = re.sub(r"\bS D R\b", "SDR", re.sub(r"\bP V C\b", "PVC", said))
    text = re.sub(r"(?i)\bD twenty[ -]seven twenty[ -]nine\b", "D2729", text)
    text = re.sub(rf"(?i)\b(schedule|SDR) ({_ONE})\b", lambda m: f"{m[1]} {_value(m[2])}", text)
    text = re.sub(rf"(?i)\b(?:a|one) hundred(?: and)? ({_ONE}) point", lambda m: f"{100 + _value(m[1])} point", text)
    text = re.sub(r"(?i)\b(?:a|one) hundred point", "100 point", text)
    text = re.sub(rf"(?i)\b(\d+) point ({_ONE}(?: {_ONE})*)\b", lambda m: f"{m[1]}.{_digits(m[2])}", text)
    text = re.sub(r"(?i)\b(forty|ninety|twenty)[ -](five|two)s\b", lambda m: f"{_value(m[0][:-1])}s", text)
    text = re.sub(r"(?i)\bnineties\b", "90s", text)
    text = re.sub(rf"(?i)\b({_ONE}) point ({_ONE}(?: {_ONE})*)\b", _point, text)
    text = re.sub(rf"(?i)\b(?:{_TEN})[ -](?:{_UNIT})\b(?!-?(?:foot|inch))", lambda m: str(_value(m[0])), text)
    alone = rf"(?i)(?<!hundred )(?<!hundred and )\b(?:{_TEEN}|{_TEN})\b(?![ -](?:hundred|{_ONE}\b))"
    text = re.sub(alone, lambda m: str(_value(m[0])), text)
    labelled = r"(?i)\b(runs?|basin|box|drain|channel|outlet|cleanout|downspout|number) ([1-9])\b(?![.\d/-])"
    return re.sub(labelled, lambda m: f"{m[1]} {UNITS[int(m[2]) - 1]}", text)


def _value(words: str) -> int:
    return sum(VALUES[word] for word in re.split("[ -]", words.lower()))


def _point(match: re.Match[str]) -> str:
    return f"{_value(match[1])}.{_digits(match[2])}"


def _digits(words: str) -> str:
    return "".join(str(_value(word)) for word in words.split())
