"""Where one breath holds two things: at the next run, the next test, a decision, and between commas."""

from __future__ import annotations

from collections.abc import Sequence

from extract.lexicon import Term
from extract.text.quantities import SMALL, TENS, UNIT_OF

LEADS_IN = set("on for then and , that 's so i we she he they it is somebody".split())
OPENS_A_CLAUSE = set("it we that then yes i they the slope drop".split())
OPENS_A_RUN_ON = OPENS_A_CLAUSE | {"there", "then", "back", "we're", "there's", "she", "he"}
HEADS = {"cover", "drop", "slope", "invert", "invert_in", "invert_out", "rim"}
LONG_BREATH = 16
"""Words in a breath from which an "and" before a new subject is taken for a stop."""
RUNS = {"run", "r"}
DIVIDES = {",", ":", "but", "and"}
SAID_OF = {"on", "over", "for", "in", "of", "at"}
STOP_REACH = 10
KINDS = ("test", "test_again", "decision", "task")


def pieces(tokens: Sequence[str], terms: Sequence[Term], start: int, end: int) -> list[tuple[int, int]]:
    """The sentence [start, end) in the pieces that are to be read apart: "run one is …, and on run two it's …"."""
    begins = {term.start: term.category for term in terms if term.category in KINDS and start <= term.start < end}
    found: list[tuple[int, int]] = []
    seen: set[str] = set()
    begins |= _clauses_of_a_run_on(tokens, terms, start, end)
    if not RUNS.isdisjoint(tokens[start:end]):
        begins |= {i: "run" for i in range(start, end) if tokens[i] in RUNS and number_after(tokens, i + 1)[0]}
    for i, kind in sorted(begins.items()):
        lead = i
        while lead > start and tokens[lead - 1] in LEADS_IN:
            lead -= 1
        if kind == "clause":
            lead = i - 1
        if kind == "run" and _listed_with(tokens, start, i):
            continue
        if kind == "run" and "run" in seen and not {"and", ","} & set(tokens[lead:i]):
            lead = _stop_before(tokens, start, i)
        if _corrects(tokens, terms, lead):
            continue
        if lead > start and _apart(kind, seen, {"and", ","} & set(tokens[lead:i]), tokens[start:lead]):
            found.append((start, lead))
            start = next(k for k in range(lead, i + 1) if tokens[k] not in (",", "and"))
            seen = set()
        seen.add(kind)
    return [*found, (start, end)] if end > start else found


def _listed_with(tokens: Sequence[str], start: int, i: int) -> bool:
    """Whether the run at `i` stands in one list with the run before it: "on run one and run two, ten minutes each"."""
    run = next((k for k in range(i - 2, max(start, i - 4) - 1, -1) if tokens[k] in RUNS), None)
    if run is None or tokens[i - 1] != "and" or number_after(tokens, run + 1)[2] != i - 1:
        return False
    after = word_at(tokens, number_after(tokens, i + 1)[2])
    return after in ("", ",", "are", "were", "both", "each", "have", "got")


def _corrects(tokens: Sequence[str], terms: Sequence[Term], lead: int) -> bool:
    """Whether a correction's cue stands right before: "…, correction, the cover on run one is 17 inches"."""
    return any(term.category == "last" and set(tokens[term.end : lead]) <= {","} for term in terms if term.end <= lead)


def _stop_before(tokens: Sequence[str], start: int, i: int) -> int:
    """The "and" or comma where what is said of the run at `i` begins, or `i`.

    "… and the pipe of run four is …"; "two percent on run three and one percent on run four"."""
    stop = next((k for k in range(i - 1, max(start, i - STOP_REACH), -1) if tokens[k] in ("and", ",")), i)
    if word_at(tokens, stop + 1) == "the" and not any(starts_number(word) for word in tokens[stop:i]):
        return stop
    first = next(k for k in range(start, i) if tokens[k] in RUNS)
    after = number_after(tokens, first + 1)[2]
    behind = any(starts_number(word) for word in tokens[start:first])
    said_of = {tokens[i - 1], tokens[first - 1]} <= SAID_OF
    return after if behind and said_of and word_at(tokens, after) in ("and", ",") else i


def starts_number(word: str) -> bool:
    """Whether a word is a number or begins one."""
    return word in SMALL or word in TENS or word[:1].isdigit()


def _clauses_of_a_run_on(tokens: Sequence[str], terms: Sequence[Term], start: int, end: int) -> dict[int, str]:
    """Where a recogniser's breath without a stop goes on to something else: "… ten inches and the cover is …"."""
    if end - start < LONG_BREATH or {",", ":"} & set(tokens[start:end]) or "between" in tokens[start:end]:
        return {}
    heads = {term.start for term in terms if term.category in ("level", "test") or term.value in HEADS}
    return {
        i + 1: "clause"
        for i in range(start + 1, end - 1)
        if tokens[i] == "and" and (tokens[i + 1] in OPENS_A_RUN_ON or i + 1 in heads)
    }


def _apart(kind: str, seen: set[str], joined: set[str], before: Sequence[str]) -> bool:
    """Whether a run, test, decision or task begins a piece of its own after what was said before it."""
    if kind == "run" and before[0] in RUNS and number_after(before, 1)[2] >= len(before):
        return False  # "run one and run two are in" is said of both
    if kind == "clause":
        return True
    if kind == "decision":
        return "task" in seen or bool(joined and ("decision" in seen or UNIT_OF.keys() & set(before)))
    if kind == "task":
        return bool(joined) and "decision" in seen
    if kind == "test_again":
        return bool(seen & {"test", "test_again"})
    return bool(joined or (kind == "run" and before[-1] in UNIT_OF)) and kind in seen


def told_before_asking(tokens: Sequence[str]) -> int:
    """How many tokens of a question were told first: "ran it to basin one, how long?" tells its first half."""
    end = tokens.index("asks") if "asks" in tokens else len(tokens)
    return next((i for i in range(end - 1, -1, -1) if tokens[i] == ","), 0)


def segments(tokens: Sequence[str]) -> list[tuple[int, int]]:
    """Token ranges between commas, colons, "but", and an "and" that opens a clause."""
    if DIVIDES.isdisjoint(tokens):
        return [(0, len(tokens))] if tokens else []
    cuts = [i for i, token in enumerate(tokens) if token in DIVIDES and (token != "and" or _new(tokens, i))]
    edges = [-1, *cuts, len(tokens)]
    return [(a + 1, b) for a, b in zip(edges, edges[1:], strict=False) if b > a + 1]


def _new(tokens: Sequence[str], i: int) -> bool:
    return word_at(tokens, i + 1) in OPENS_A_CLAUSE


MOST_OF_RUNS, MOST_OF_A_KIND = 99, 9_999
"""The highest number that a run, and anything else, is called by; "we run 120 of four-inch" names no run."""


def number_after(tokens: Sequence[str], i: int) -> tuple[int | None, int | None, int]:
    """A name's number, the last of a list, and where it ends: "basin one", "run number 2", "runs one through three".

    A measurement is none."""
    if i < len(tokens) and tokens[i] in ("number", "no", "numbers"):
        i += 1
        if i < len(tokens) and tokens[i] == ".":
            i += 1
    most = MOST_OF_RUNS if word_at(tokens, i - 1) in RUNS else MOST_OF_A_KIND
    number, end = _name_number(tokens, i, most)
    if number is None:
        return None, None, i if i < len(tokens) else len(tokens)
    after = word_at(tokens, end)
    unit = UNIT_OF.get(after)
    if (unit and after != "second") or after in ("percent", "point", "oh", "plus", "fives", "hundred", "thousand"):
        return None, None, i
    if after == ":" and word_at(tokens, end + 1).isdigit() and _written_together(tokens, end - 1):
        return None, None, i  # "out 4:30" is a time, and "run one: 40 feet" a name
    if after == "by" and _name_number(tokens, end + 1, most)[0]:
        return None, None, i
    if after in TENS and word_at(tokens, end + 1) in ("fives", "twos"):
        return None, None, i
    if after in ("through", "thru"):
        last, behind = _name_number(tokens, end + 1, most)
        if last is not None and number < last <= number + 30 and not UNIT_OF.get(word_at(tokens, behind)):
            return number, last, behind
    return number, None, end


def _written_together(tokens: Sequence[str], i: int) -> bool:
    """Whether the tokens i, i + 1 and i + 2 stand with no space between them."""
    places = [(getattr(token, "start", 0), getattr(token, "end", 1)) for token in tokens[i : i + 3]]
    return all(one[1] == then[0] for one, then in zip(places, places[1:], strict=False))


def _name_number(tokens: Sequence[str], i: int, most: int) -> tuple[int | None, int]:
    """A number that a thing is called by, and where it ends: 7, 120, twelve, twenty-one."""
    word = word_at(tokens, i)
    if word.isascii() and word.isdigit() and len(word) <= 4:
        return (int(word), i + 1) if 0 < int(word) <= most else (None, i)
    if word in TENS and most == MOST_OF_A_KIND:
        ones = SMALL.get(word_at(tokens, i + 1), 0)
        said_of_it = UNIT_OF.get(word_at(tokens, i + 2)) or word_at(tokens, i + 2) in TENS
        if 0 < ones < 10:
            return (None, i) if said_of_it else (TENS[word] + ones, i + 2)
        return TENS[word], i + 1
    return (SMALL[word], i + 1) if SMALL.get(word) and word not in ("o", "oh") else (None, i)


def word_at(tokens: Sequence[str], i: int) -> str:
    """The word at that place, or an empty one beyond the ends."""
    return tokens[i] if 0 <= i < len(tokens) else ""
