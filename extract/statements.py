"""One note into sentences of items: names, trade words, quantities, in the order they were said."""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field

from extract.clauses import number_after, pieces, segments, starts_number, told_before_asking, word_at
from extract.lexicon import PREFIX, Term, find_terms
from extract.spelling import normalise
from extract.text.quantities import FRACTIONS, SMALL, TENS, UNIT_OF, Quantity, find_quantities, ordinal_before
from extract.text.tokens import Token, moved

INDEFINITE = {"a", "an", "another", "new", "one"}
DEFINITE = {"the", "that", "this", "same", "our"}
ARTICLES = INDEFINITE | DEFINITE
BEFORE_A_NOUN = {*DEFINITE, "a", "another", "new", "last", "old", "existing", "each", "every", "other"}
PLACE_WORDS = set("by at in under near behind across along off over on beside next out inside past down".split())
TELLS_WHERE = set("at by near below above under behind around past beside in off over".split())
ENDS_A_PLACE = PLACE_WORDS | set("from to and of is 's for as planning set put found".split())
STOP = set(
    "the a an of and to from by at in on is 's it we that this there over next under near with was are be for so you "
    "out right up down here now one okay just also then old new existing big little other side end uh um".split()
)
NOT_A_PLACE = set(
    "pipe drain inch foot wall white black green solid perforated plastic smooth pvc same more our sewer of ran run "
    "laid lay put some all glued cut whole each every okay existing old new catch junction area back plan set but and "
    "so".split()
)
TITLES = {"mr", "mrs", "ms", "dr"}
MANY = {"both": 2, "two": 2, "three": 3, "four": 4, "2": 2, "3": 3, "4": 4}
ENDS = {".", "?", "!", ";"}
ONLY_WITH_NUMBER = {"r", "cd", "out", "co", "ad", "ds", "dw", "cb", "jb"}
TELLS_A_MEASURE = {"is", "'s", "was", "really", "actual", "actually", "out", "says", "reads", "measured"}
"""Words before a bare number that is told of a run as the number before it was."""
OWN_FIGURE = {"got", "has", "have", "had", "used", "laid", "did", "at"}
"""The same where a figure that was wanted went before, and "at" behind "is"."""
SPREAD = 5
"""How many times larger or smaller a measure of the next run may be to have the same unit."""
VERBS_WITH_OUT = set("took take pulled cut came come put ran runs dug tore ripped got go goes going".split())
LONGEST_READ = 4_000
"""Characters read in one go; a longer note is cut at a space, for some patterns cost more than they are long."""


@dataclass
class Mention:
    """A structure or run that was named, over the tokens [start, end)."""

    what: str
    """A structure kind, `outlet` for one of unsaid kind, `one` for "the one by the oak", or `run`."""
    start: int
    end: int
    number: int | None = None
    through: int | None = None
    """The last number of a list such as "runs one through three"."""
    how: str = "bare"
    """indefinite, definite, bare, many (with `number` as the count), other, or, of "that one", that, old or new."""
    place: frozenset[str] = frozenset()
    """Words that say which one: {heat, pump} of "the heat pump basin"."""
    role: str = "subject"
    """subject, from, to or near."""
    label: str | None = None
    places: tuple[frozenset[str], ...] = ()
    """Of several: where each of them is."""
    fresh: bool = False
    """Said to be new."""
    old: bool = False
    """Said to be there already."""

    @property
    def prefix(self) -> str:
        return "R" if self.what == "run" else PREFIX.get(self.what, "")


@dataclass
class Sentence:
    tokens: Sequence[Token]
    """Each with the characters of the note's text that it came from."""
    terms: list[Term]
    mentions: list[Mention]
    quantities: list[Quantity]
    segments: list[tuple[int, int]] = field(default_factory=list)
    """Token ranges between commas and the like."""
    question: bool = False
    """Asked, not told: it says what the answer is about and nothing else."""
    continues: bool = False
    """A further piece of the same breath: "… and run two is …"."""
    denied: list[Term] = field(default_factory=list)
    """Trade words that were denied: the wye of "tee, not wye"."""

    denied_mentions: list[Mention] = field(default_factory=list)
    """Names that were denied: the run one of "not run one, run two"."""

    def __post_init__(self) -> None:
        self.words = frozenset(self.tokens)
        self._terms: dict[str, list[Term]] = {}
        for term in self.terms:
            self._terms.setdefault(term.category, []).append(term)

    def has(self, category: str, *values: str, within: tuple[int, int] | None = None) -> bool:
        if not values and not within:
            return category in self._terms
        return category in self._terms and bool(self.find(category, *values, within=within))

    def find(self, category: str, *values: str, within: tuple[int, int] | None = None) -> list[Term]:
        found = self._terms.get(category)
        if not found:
            return []
        if values:
            found = [term for term in found if term.value in values]
        if within:
            found = [term for term in found if within[0] <= term.start < within[1]]
        return found

    def word(self, i: int) -> str:
        return self.tokens[i] if 0 <= i < len(self.tokens) else ""

    def text(self, start: int = 0, end: int | None = None) -> str:
        """The words again as one reads them."""
        words = " ".join(self.tokens[start:end]).replace(" 's", "'s").replace(" sqft", " square feet")
        for mark in ",.?!;:":
            words = words.replace(f" {mark}", mark)
        return words


def read_note(text: str) -> list[Sentence]:
    """The sentences of one note, a sentence about two runs in two pieces. What was asked is marked as a question."""
    found = []
    for low, part in _cut(text):
        words = moved(normalise(part), low)
        found += _sentences(words, find_terms(words))
    return found


def _cut(text: str) -> Iterator[tuple[int, str]]:
    """The pieces of a text that are read in one go, each with the place in the text where it begins."""
    low = 0
    while len(text) - low > LONGEST_READ:
        cut = text.rfind(" ", low, low + LONGEST_READ)
        cut = cut if cut > low else low + LONGEST_READ
        yield low, text[low:cut]
        low = cut
    yield low, text[low:]


def _sentences(tokens: list[Token], terms: list[Term]) -> list[Sentence]:
    sentences: list[Sentence] = []
    start = 0
    for i, token in enumerate([*tokens, "."]):
        if token in ENDS and not (token == "." and i and tokens[i - 1] in TITLES):
            told = start + told_before_asking(tokens[start:i]) if token == "?" else i
            breath = [_sentence(tokens, terms, low, high) for low, high in pieces(tokens, terms, start, told)]
            for further in breath[1:]:
                further.continues = True
            _carry_units(breath)
            sentences += breath
            if told < i:
                sentences.append(_sentence(tokens, terms, told, i))
                sentences[-1].question = True
            start = i + 1
    return sentences


def _sentence(tokens: list[Token], terms: list[Term], low: int, high: int) -> Sentence:
    """The tokens [low, high) of a note as a sentence: names first, then quantities among what is left."""
    first, last = bisect_left(terms, low, key=_start), bisect_left(terms, high, key=_start)
    own = [term for term in terms[first:last] if term.end <= high]
    if low:
        own = [Term(t.category, t.value, t.start - low, t.end - low) for t in own]
    part = tokens[low:high]
    mentions, plain = _mentions(part, own)
    taken = {i for mention in mentions for i in range(mention.start, mention.end)}
    taken |= {
        i
        for term in plain
        if term.category in ("pipe", "decision") or term.value == "other_pipe"
        for i in range(term.start, term.end)
    }
    quantities = find_quantities(part, taken)
    inside = {i for quantity in quantities for i in range(quantity.start, quantity.end)}
    plain = [term for term in plain if term.category == "pipe" or term.start not in inside]
    _set_roles(part, mentions)
    return Sentence(part, plain, mentions, quantities, segments(part))


def _carry_units(breath: list[Sentence]) -> None:
    """As in "run one's 44 feet and run two's 52": a bare measure of a run has the unit said before it in one breath."""
    if sum(len(sentence.quantities) for sentence in breath) < 2:
        return
    unit, size = None, 0.0
    waiting: list[tuple[Sentence, int]] = []
    for sentence in breath:
        for i, quantity in enumerate(sentence.quantities):
            if quantity.unit in ("ft", "in", "pct") and not quantity.attributive:
                unit, size = quantity.unit, quantity.value
                for earlier, at in waiting:  # "run one 44, run two 52, run three 18 feet"
                    if unit == "ft":
                        earlier.quantities[at] = earlier.quantities[at]._replace(unit=unit)
                waiting = []
            elif unit is None and quantity.unit is None and _right_behind_a_run(sentence, quantity):
                waiting.append((sentence, i))
            elif (
                unit
                and quantity.unit is None
                and size / SPREAD <= quantity.value <= size * SPREAD
                and _tells_a_measure(sentence, quantity)
            ):
                sentence.quantities[i] = quantity._replace(unit=unit)


def _right_behind_a_run(sentence: Sentence, quantity: Quantity) -> bool:
    named = any(m.end == quantity.start and m.what == "run" for m in sentence.mentions)
    return named and not quantity.parts and sentence.word(quantity.end) in ("", ",")


def _tells_a_measure(sentence: Sentence, quantity: Quantity) -> bool:
    """Whether a bare number is told of a run, as a measure and not as a count, an angle or a height."""
    low, high = next((s for s in sentence.segments if s[0] <= quantity.start < s[1]), (0, len(sentence.tokens)))
    others = [m for m in sentence.mentions if low <= m.start < high and m.what != "run"]
    attributes = [t for t in sentence.find("attribute", within=(low, high)) if t.value not in ("length", "slope")]
    if quantity.parts or others or attributes or sentence.has("fitting", within=(low, high)) or sentence.has("level"):
        return False
    before, after = sentence.word(quantity.start - 1), sentence.word(quantity.end)
    runs = [m for m in sentence.mentions if low <= m.start < high]
    of_a_run = after in ("on", "for") and any(m.start == quantity.end + 1 for m in runs)
    wanted = sentence.has("hearsay") or (before == "at" and sentence.word(quantity.start - 2) in ("is", "'s"))
    told = before in TELLS_A_MEASURE or (wanted and before in OWN_FIGURE) or any(m.end == quantity.start for m in runs)
    return of_a_run or (told and after in ("", ",", "and", "even", "total"))


def _start(term: Term) -> int:
    return term.start


def _mentions(tokens: Sequence[str], terms: list[Term]) -> tuple[list[Mention], list[Term]]:
    mentions: list[Mention] = _ones(tokens)
    plain: list[Term] = []
    for term in terms:
        if (term.category, term.value) == ("run", "pipe") and (placed := _placed_pipe(tokens, term)):
            mentions.append(placed)
            continue
        if term.category == "structure" or (term.category == "run" and term.value == "run"):
            mention = _mention(tokens, term)
            if mention:
                mentions += [mention, *_listed(tokens, mention)]
            continue
        plain.append(term)
    return _without_appositions(tokens, sorted(mentions, key=lambda m: m.start)), plain


def _without_appositions(tokens: Sequence[str], mentions: list[Mention]) -> list[Mention]:
    """As in "downspout one, the one on the porch corner, …": what follows tells where the first one is."""
    kept: list[Mention] = []
    for mention in mentions:
        if mention.what == "one" and kept and tokens[kept[-1].end : mention.start] == [",", "the"]:
            kept[-1].place |= mention.place
        else:
            kept.append(mention)
    return kept


def _ones(tokens: Sequence[str]) -> list[Mention]:
    """As in "The one by the oak", "the driveway one": a structure named by its place alone."""
    found = []
    for i, token in enumerate(tokens):
        if token != "one" or word_at(tokens, i - 1) == "each" or _counts_on(tokens, i + 1):
            continue
        if word_at(tokens, i - 1) in ("that", "this", "old", "existing", "new") and _leads_to_an_end(tokens, i - 1):
            found.append(Mention("one", i - 1, i + 1, how=tokens[i - 1]))
            continue
        if tokens[max(0, i - 2) : i] == ["a", "new"] or word_at(tokens, i - 1) == "another":
            place = frozenset(_content(_place_after(tokens, i + 1)))
            sure = place or word_at(tokens, i - 3) in ("set", "put", "installed")
            found += [Mention("one", i, i + 1, how="indefinite", place=place)] if sure else []
            continue
        if ordinal := ordinal_before(tokens, i):
            found.append(Mention("one", ordinal[1], i + 1, ordinal[0], how="definite"))
            continue
        named = word_at(tokens, i - 2) == "the" and tokens[i - 1] not in ("old", "new")
        before = [tokens[i - 1]] if named else []
        after = _place_after(tokens, i + 1) if word_at(tokens, i - 1) == "the" else []
        place = frozenset(_content([*before, *after]))
        if place:
            found.append(Mention("one", i - len(before), i + 1, how="definite", place=place))
    return found


def _counts_on(tokens: Sequence[str], i: int) -> bool:
    """Whether "one" is the number of "the level one and a half percent"."""
    word, then = word_at(tokens, i), word_at(tokens, i + 1)
    half = word == "and" and (then in FRACTIONS or word_at(tokens, i + 2) in FRACTIONS)
    return half or word in UNIT_OF or word in ("point", "oh", "hundred")


def _leads_to_an_end(tokens: Sequence[str], i: int) -> bool:
    """Whether "from" or "to" stands before "that one" or "the old one"."""
    i -= word_at(tokens, i - 1) == "the"
    return word_at(tokens, i - 1) in ("from", "to", "into")


def _placed_pipe(tokens: Sequence[str], term: Term) -> Mention | None:
    """As in "The driveway line": a run named by its place."""
    word = word_at(tokens, term.start - 1)
    if not _content([word]) or word in NOT_A_PLACE:
        return None
    return Mention("run", term.start - 1, term.end, how="definite", place=frozenset([word]))


def _mention(tokens: Sequence[str], term: Term) -> Mention | None:
    number, through, end = number_after(tokens, term.end)
    start = term.start
    if number is None and tokens[start] in ONLY_WITH_NUMBER and term.end == start + 1:
        return None
    if tokens[start] == "out" and (word_at(tokens, start - 1) in VERBS_WITH_OUT or word_at(tokens, end) == "of"):
        return None  # "took out one of the 90s" is no outlet one
    if term.value == "outlet" and number is None and _hole_of_a_basin(tokens, start):
        return None
    if term.value == "run" and number is not None and word_at(tokens, end) == "to" and _measure_at(tokens, end + 1):
        return None  # "cover runs 12 to 16 inches"
    before = tokens[start - 1] if start else ""
    if term.value == "run" and number is None and not _run_is_noun(tokens, term):
        return None
    if number is None and (ordinal := ordinal_before(tokens, start)):
        number, start = ordinal
    how, place, count = _described(tokens, start, end)
    if before == "other" and number is None:
        how = "other"
    if number is not None:
        return Mention(term.value, start, end, number, through, "named", place)
    places = _places_of_each(tokens, end) if how == "many" else ()
    mention = Mention(term.value, start, end, count, None, how, place, places=places)
    mention.fresh = "new" in tokens[max(0, start - 2) : start]
    mention.old = before in ("old", "existing")
    return mention


def _hole_of_a_basin(tokens: Sequence[str], start: int) -> bool:
    """As in "a basin with a four-inch outlet": no outlet is named."""
    before = tokens[max(0, start - 4) : start]
    return before[-1:] == ["inch"] and "with" in before and bool({"a", "an"} & set(before))


def _measure_at(tokens: Sequence[str], i: int) -> bool:
    return starts_number(word_at(tokens, i)) and word_at(tokens, i + 1) in UNIT_OF


def _leading_place(tokens: Sequence[str], start: int) -> list[str]:
    """The first word of "driveway basin's set", which needs no article."""
    opening = start - 1 == 0 or word_at(tokens, start - 2) in (",", "okay", "so", "now", "then")
    return [tokens[start - 1]] if start and opening and tokens[start - 1] not in NOT_A_PLACE else []


def _places_of_each(tokens: Sequence[str], i: int) -> tuple[frozenset[str], ...]:
    """As in "Two new basins, one beside the driveway and one in the low spot"."""
    starts = [at for at in range(i, len(tokens)) if tokens[at] == "one" and word_at(tokens, at + 1) in PLACE_WORDS]
    return tuple(frozenset(_content(_place_after(tokens, at + 1))) for at in starts)


def _listed(tokens: Sequence[str], mention: Mention) -> list[Mention]:
    """The others of "runs one, two and three"."""
    others: list[Mention] = []
    several = tokens[mention.end - 2 : mention.end - 1] == ["run"] and _of_several(tokens, mention.end)
    if mention.number is None or not (tokens[mention.end - 2].endswith("s") or several):
        return others
    i = mention.end
    while word_at(tokens, i) in ("and", ",", "&"):
        number, _, end = number_after(tokens, i + 1)
        if number is None:
            break
        others.append(Mention(mention.what, i + 1, end, number, None, "named"))
        i = end
    return others


def _of_several(tokens: Sequence[str], i: int) -> bool:
    """As in "run one and two come to …"."""
    number, _, end = number_after(tokens, i + 1)
    after = ("are", "were", "come", "came", "both", "together", "have", "got")
    return word_at(tokens, i) == "and" and number is not None and word_at(tokens, end) in after


def _run_is_noun(tokens: Sequence[str], term: Term) -> bool:
    before = tokens[term.start - 1] if term.start else ""
    return before in BEFORE_A_NOUN or ordinal_before(tokens, term.start) is not None


def _described(tokens: Sequence[str], start: int, end: int) -> tuple[str, frozenset[str], int | None]:
    """How a structure was named, which words tell it from its like, and how many there are."""
    how, words, i = "bare", [], start - 1
    while i >= 0 and start - i <= 7 and tokens[i] not in (",", ".", ":"):
        word = tokens[i]
        if word == "new" and word_at(tokens, i - 1) in MANY:
            i -= 1
            continue
        if word in DEFINITE or word in INDEFINITE:
            how = "definite" if word in DEFINITE else "indefinite"
            break
        if word in MANY and tokens[end - 1].endswith("s"):
            return "many", frozenset(), MANY[word]
        if word in ENDS_A_PLACE:
            break
        words.append(word)
        i -= 1
    if how == "bare":
        words = _leading_place(tokens, start)
    return how, frozenset(_content([*words, *_place_after(tokens, end)])), None


def _place_after(tokens: Sequence[str], i: int) -> list[str]:
    if (
        word_at(tokens, i) == "'s"
        and word_at(tokens, i + 1) == "in"
        or word_at(tokens, i) in ("'s", "is")
        and word_at(tokens, i + 1) in ("set", "installed")
        and word_at(tokens, i + 2) != "in"
    ):
        i += 2
    if word_at(tokens, i) not in PLACE_WORDS:
        return []
    words = []
    for word in tokens[i : i + 8]:
        if word in (",", ".", ":", "'s", "is", "and", "to", "from", "with"):
            break
        words.append(word)
    return words


def _content(words: Sequence[str]) -> list[str]:
    return [w for w in words if w.isalpha() and w not in STOP and w not in UNIT_OF and w not in SMALL and w not in TENS]


def _set_roles(tokens: Sequence[str], mentions: list[Mention]) -> None:
    """Which mentions are a run's ends, which merely tell where, and which one the sentence is about."""
    for mention in mentions:
        mention.role = _role(tokens, mention)
    for first, second in zip(mentions, mentions[1:], strict=False):
        joined = [
            t for t in tokens[first.end : second.start] if t not in ("the", "a", "an", "that", "over", "out", "down")
        ]
        between = joined == ["and"] and tokens[max(0, first.start - 2) : first.start][:2].count("between")
        if (joined == ["to"] or between) and "run" not in (first.what, second.what):
            first.role, second.role = "from", "to"


def _role(tokens: Sequence[str], mention: Mention) -> str:
    i = mention.start - 1
    while (
        i >= 0
        and mention.start - i <= 6
        and (tokens[i] in ARTICLES or tokens[i] in mention.place or tokens[i] in ("old", "existing", "first", "second"))
    ):
        i -= 1
    before, earlier = word_at(tokens, i), word_at(tokens, i - 1)
    if before in ("as", "like", "than"):
        return "near"
    if earlier == "back" and before in ("to", "at", "on"):
        return "subject"  # "back to the mailbox basin"
    if mention.what == "run" or (before == "in" and earlier in ("tie", "tied", "put", "cut", "set")):
        return "subject"
    if (
        before == "from"
        or (before == "of" and earlier == "out")
        or (before == "at" and earlier in ("starts", "begins"))
    ):
        return "from"
    if before in ("to", "into") or (before == "at" and earlier in ("ends", "out", "discharges")):
        return "to"
    return "near" if before in TELLS_WHERE else "subject"
