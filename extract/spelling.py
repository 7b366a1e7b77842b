"""Text as people and recognisers write it, put into plain lower-case words that the rest can read."""

from __future__ import annotations

import re
from collections.abc import Iterator

from extract.text.grammar import TABLE
from extract.text.quantities import find_quantities
from extract.text.tokens import Into, Line, Token

VULGAR = {"½": "1/2", "¼": "1/4", "¾": "3/4", "⅛": "1/8", "⅜": "3/8", "⅝": "5/8", "⅞": "7/8", "⅓": "1/3", "⅔": "2/3"}
ANY_DIGIT = tuple("0123456789")
AFTER_A_SIZE = (
    "sdr|sch|sched|schedule|pvc|wye|y|tee|sanitary|bend|elbow|long|short|street|cap|coupling|repair|spigot|hub|adapter|"
    "reducer|increaser"
)
"""Words that go on after "4 in." where any other word would begin a new sentence."""
FEW = "one|two|three|four|five|six|seven|eight|nine|ten|eleven|twelve|\\d{1,2}"
A_NUMBER = "|".join(["[0-9]+", *(word for kind in ("ones", *TABLE["slips"]["of"]) for word in TABLE["words"][kind])])
"""What stands before "footer" where it is a stick; else it is a footing."""
MEASURES = "cover|drop|fall|slope|pitch|length"
A_RUN = r"(?:one|two|three|four|five|six|seven|eight|nine|ten|1?[0-9])"
"""What follows "cover on" and goes before "is" is the number of a run."""
UNITS = "|".join(re.escape(word) for row in TABLE["units"].values() for word in row["words"].split()) + "|in|sq"
TENS = "|".join(TABLE["words"]["tens"])
BEHIND_TENS = "|".join(word for kind in ("ones", "nth", "bend_tail") for word in TABLE["words"][kind])
BENT = r"(?:11|22|30|45|60|90)(?:\.\d+)?(?:[ -]?(?:degrees?|degs?|°)|'?s\b)"
"""Bends in figures, behind their number: "3-45s", "2-90 degree"."""
LONGEST_NUMBER = 12
"""Words of a number that figures in brackets may say again."""
IN_FIGURES = (
    rf"\b((?:[\w./]+[ -]){{0,{LONGEST_NUMBER - 1}}}[a-z]+) ?\((\d+(?:\.\d+)?)\) ?(?:(?=({UNITS})\b)|(?=[.,;]|$))"
)
"""Figures in brackets behind a number word, as in "forty-five (45)"."""


IN_WORDS = rf"(?<![\d.])(\d+(?:\.\d+)?) ?\(((?:[a-z]+[ -]){{0,{LONGEST_NUMBER - 1}}}[a-z]+)\)"
"""Number words in brackets behind figures, as in "45 (forty-five)"."""


def _said_in_words(match: re.Match[str]) -> str:
    """The figures alone where the words say the same number again; else both."""
    figures, words = match.groups()
    number = _number_at_the_end(words)
    return f"{figures} " if number == float(figures) else match[0]


def _said_again(match: re.Match[str]) -> str:
    """The words alone where the figures say the same number again; else both, so that it is asked which one it is."""
    words, figures, unit = match.groups()
    number = _number_at_the_end(words)
    if number is None:
        return match[0]
    return f"{words} " if number == float(figures) else f"{words} {unit or ''}, {figures} "


def _number_at_the_end(words: str) -> float | None:
    """The bare number with which the words end, as long as it can be read; None where they end with none."""
    tokens = Line(words, PLAIN).tokens(SLIPS)
    for start in range(len(tokens)):
        found = find_quantities(tokens[start:])
        if len(found) == 1 and (found[0].start, found[0].end) == (0, len(tokens) - start) and found[0].unit is None:
            return found[0].value
    return None


REWRITES: list[tuple[tuple[str, ...], re.Pattern[str], Into]] = [
    (signs, re.compile(pattern), into)
    for signs, pattern, into in (
        (("*", "_", "•", "+", "@", "^"), r"(?:^|(?<=[\s(:=]))[*_•+@^]+(?=\.?\d)", " "),
        (("*", "_"), r"(?<=[0-9a-z])[*_]+(?=[^0-9a-z]|$)", " "),
        (("..",), r"\.{2,}(?=\d)", " "),
        (("-",), r"^\s*-+(?=\.?\d)", "- "),
        ((",",), r",(?<=\d,)(?=\d{3}\b)", ""),
        ((",",), r",(?<=\d,)(?=\d{1,2}\s?(?:percent|%|m\b|meters|metros|cm|ft|feet|pies|inch|pulg))", "."),
        ((" 000",), r"(?<=\d) (?=000\b)", ""),
        (("k",), r"(?<=\d)k\b", " thousand"),
        (("&",), r" & ", " and "),
        (("ty",), rf"\b({TENS})(?=(?:{BEHIND_TENS})\b)", r"\1 "),
        (("(",), IN_FIGURES, _said_again),
        (("(",), IN_WORDS, _said_in_words),
        (("- ", "-,"), r"(?<=\d)-(?=,| (?:to|or|and) )", ""),
        (("-",), rf"(?<=\d)\s?({UNITS})-(\d+(?:\.\d+)?)(?=\s?\1\b)", r" \1 - \2"),
        (("-",), r"(?<=\d )-(?=~?\d)", "- "),
        (("m",), r"(?<=\d)m(\d\d)\b", r" m \1 cm"),
        (("<",), r"<\s?=?\s*(?=[-.]?\d)", " under "),
        ((">",), r"(?:^|(?<=\s))>(?:= ?)?(?=\.?\d)", " over "),
        (("=",), r"=", " "),
        (("ft.", "in."), r"(?<=\d)(?<![a-z]\d)(?<![a-z]\d\d)\s?(ft|in)\.(?=\s?(?:- )?\d)", r" \1 "),
        (("in.",), r"(?<=\d)\s?in\.(?=\s(?:x|by|to) \d)", " in "),
        (("in.",), rf"(?<=\d)\s?in\.(?=\s(?:{AFTER_A_SIZE})e?s?\b)", " in "),
        (("sch.", "sched."), r"\bsch(?:ed)?\.", "sch"),
        (("sq",), r"\bsq\.", "sq "),
        (("ft.",), r"(?<=sq )\s?-?ft\.(?=\s?(?:of|to)\b)", "ft"),
        (("/",), r"(?:(?<=/\d)|(?<=/\d\d))-(?=\d{1,2}/\d)", " - "),
        (("/",), r"(?<=\d)-(?=\d{1,2}/\d)", " "),
        (("-",), rf"(?<![\d.-])(\d{{1,2}})-(?={BENT})", r"\1 "),
        ((" on ", " for "), rf"\b({MEASURES}) (on|for) (?={A_RUN}(?: is| was|'s|,) )", r"\1 \2 run "),
        (
            (" on ", " for "),
            rf"\b({MEASURES}) (on|for) (?={A_RUN} and {A_RUN}(?: is| was| are| were|,) )",
            r"\1 \2 runs ",
        ),
        (("-",), r"(?<![\d-])(\d{1,3})-(\d|10|11)(?=[.,;]|$| long\b| of\b| by the tape\b)", r"\1 ft \2 inch"),
        (("turning point",), r"\bturning point\b(?: number)?", "tp"),
        (("tot",), r"(?<=ft )tot\b|(?<=' )tot\b", "total"),
        (("x", "×"), r"(\d)\s?[x×]\s?(\d+)\s?(?:'(?![\w'])|ft\b)", r"\1 \2 foot sticks "),
        (("'",), r"(?<=\d)\s?'\s?s\b", "s"),
        (("'",), r"(?<=\d)\s?'\s?-?\s?(?=\d)", " ft "),
        (("'",), r"(?<=\d)\s?'(?![\w'])", " ft "),
        (('"', "''"), r"(?<=\d)\s?(?:\"|'')", " inch "),
        (("inch /", "ft /"), r"(?<=inch |..ft )/(?=\d)", ", "),
        (("%",), r"(?<=\d)\s?%", " percent"),
        (("/",), r"\s?/\s?(?=(?:ft|foot|m|metre|meter|min|minute|sec|second|hour|hr)\b)", " per "),
        ((":",), r"(?<![\d:])1\s?:\s?(?=\d{2,3}\b(?!:))", "1 in "),
        (("$", "£", "€"), r"[$£€]\s?-?(\d+(?:\.\d+)?)", r"\1 dollars "),
        (("x", "×"), r"(\d)\s?[x×]\s?(11|22|45|90)s?\b", r"\1 \2s"),
        (("x", "×"), r"\b(\d{1,2})[x×] (?=[a-z])", r"\1 "),
        (("(",), r"\((\d{1,2})\) ?(?=[a-z]|\d{2}s\b|(?:11|22|45|90)(?:,|$))", r"\1 "),
        (("~",), r"~\s?(?=\d)", "about "),
        (("10s", "20s"), rf"\b({FEW}) (10|20)s\b", r"\1 \2 foot sticks"),
        (("tens",), rf"\b({FEW}) tens\b", r"\1 ten foot sticks"),
        (("twenties",), rf"\b({FEW}) twenties\b", r"\1 twenty foot sticks"),
        (("footer", "foots"), rf"\b({A_NUMBER})[ -]foot(?:ers?|s)\b", r"\1 foot sticks"),
        (("ish",), r"(\d)ish (feet|foot|ft|inches|percent)\b", r"\1 \2 ish"),
        (("ish",), r"(?<=\d)ish\b", " ish"),
        (("ish",), r"(?<=ty|en)ish\b", " ish"),
        (("x", "×"), r"(?<=\d)\s?[x×]\s?(?=\d)", " by "),
        (
            ANY_DIGIT,
            r"\b(cd|cb|ad|ds|co|jb|dw|out|r|run|basin|outlet|channel|downspout|cleanout|sdr|sch|sched)-?(?=\d{1,2}\b)",
            r"\1 ",
        ),
        (("in ",), r"(?<=\d)(?<!\.\d\d)in(?= (?:on|and|at|by|to)\b)", " inch"),
        (ANY_DIGIT, rf"(\d)(?=(?:{UNITS})\b)", r"\1 "),
        (("-",), r"(?<=[a-z] )-(?=\d)", "minus "),
        ((">", "→"), r"->|→|>", " to "),
        (("@",), r"\s@\s", " at "),
        (("°",), r"(?<=\d)°", " degrees "),
        (("#",), r"#\s?(?=\d)", " number "),
        (("per cent", "por ciento"), r"\bp(?:er cent|or ciento)\b", "percent"),
        (("psi", "p.s", "p s", "p. s"), r"\bp\.?\s?s\.?\s?i\b\.?", "psi"),
        (("gpm", "g.p", "g p", "g. p"), r"\bg\.?\s?p\.?\s?m\b\.?", "gpm"),
        (("a.", "p."), r"\b([ap])\.\s?m\b\.?", r"\1m"),
        (("clock",), r"\bo'\s?clock\b", "o'clock"),
        (("-",), r"\b(run|basin|outlet|downspout) (\d)-(?=\d+ (?:inch|feet|foot|ft)\b)", r"\1 \2 , "),
        (("-",), r"\b(\d)-(\d+)(?=[ -]foot (?:piece|stick))", r"\1 \2"),
    )
]
"""What a text must hold for a rewrite to be tried, what it looks for, and what it puts there.

A pattern that opens with its sign, and looks back behind it, is found sooner than one that looks back first."""
MAKES_A_NUMBER = re.compile(r"\d")
WITHOUT_A_NUMBER = [each for each in REWRITES if r"\d" not in each[1].pattern.replace(r"(?!\d)", "")]
"""The rewrites that are left where no digit is written; most talk has none."""
PLAIN = dict(zip("’‘′“”″–—−⁄", "'''\"\"\"---/", strict=True)) | {sign: f" {plain}" for sign, plain in VULGAR.items()}
LONG = 6
"""Letters of a word from which its slips are worked out; a shorter one is too near to others."""


def normalise(text: str) -> list[Token]:
    """Lower-case tokens of one sentence: hyphens opened, symbols spelled, possessive `'s` and punctuation apart."""
    line = Line(text, PLAIN)
    for signs, pattern, into in REWRITES if MAKES_A_NUMBER.search(line.text) else WITHOUT_A_NUMBER:
        for sign in signs:
            if sign in line.text:
                line.rewrite(pattern, into)
                break
    return line.tokens(SLIPS)


def _slips() -> dict[str, str]:
    """Number and unit words typed with a letter doubled, left out or changed about inside, by what was meant."""
    numbers = [word for kind in TABLE["slips"]["of"] for word in TABLE["words"][kind]]
    words = [*numbers, *(word for row in TABLE["units"].values() for word in row["words"].split())]
    typed = {wrong: word for word in words if len(word) >= LONG and word.isalpha() for wrong in _typed(word)}
    right = {*words, *TABLE["slips"]["no_slips"]}
    return {**{wrong: word for wrong, word in typed.items() if wrong not in right}, **TABLE["slips"]["short"]}


def _typed(word: str) -> Iterator[str]:
    for i in range(1, len(word) - 1):
        yield word[:i] + word[i + 1 :]
        yield word[: i + 1] + word[i:]
        yield word[:i] + word[i + 1] + word[i] + word[i + 2 :] if i < len(word) - 2 else word


SLIPS = _slips()
