"""Tokens that know where they stand in the text they came from, and text that keeps its places when it is rewritten."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Callable, Mapping

PARTS = re.compile(
    r"\.(?!\d)|[,;:?!()\[\]]|(?<=\w)'(?:s|ll)\b"
    r"|\.?(?:[^\s.,;:?!()\[\]'\"\-¿¡«»]+|\.(?<=\d\.)(?=\d)|'(?!(?<=\w')(?:s|ll)\b|(?<=[a-z]')(?!\w))|-(?<![a-z]-)(?![a-z]))+"
)
Into = str | Callable[[re.Match[str]], str]
"""What a rewrite puts in the place of what it found: a template as `re` has it, or what works it out."""
CONTROL = re.compile(r"[\x00-\x1f\x7f\s]{2,}|[\x00-\x1f\x7f]|[^\S ]")


class Token(str):
    """A word or sign as the reader takes it, with the characters [start, end) of the text that it came from."""

    __slots__ = ("end", "start")
    start: int
    end: int


def moved(tokens: list[Token], by: int) -> list[Token]:
    """The tokens of a text that begins `by` characters into a longer one, with their places in the longer one."""
    for token in tokens if by else ():
        token.start += by
        token.end += by
    return tokens


class Line:
    """A text that is rewritten, and for each of its characters the characters of the first text it stands for."""

    def __init__(self, text: str, signs: Mapping[str, str]) -> None:
        self.text = text.lower()
        self.starts: list[int] | None = None
        self.ends: list[int] | None = None
        if not text.isascii():
            self._plain(text, signs)
        if not self.text.isprintable() or "  " in self.text:
            self.rewrite(CONTROL, " ")

    def _plain(self, text: str, signs: Mapping[str, str]) -> None:
        """Each character, with the marks that combine with it, as plain signs and letters."""
        out: list[str] = []
        self.starts, self.ends = [], []
        i = 0
        while i < len(text):
            end = i + 1
            while end < len(text) and unicodedata.combining(text[end]):
                end += 1
            said = text[i:end]
            plain = said.lower() if said.isascii() else _signs(said, signs)
            out.append(plain)
            self.starts += [i] * len(plain)
            self.ends += [end] * len(plain)
            i = end
        self.text = "".join(out)

    def rewrite(self, pattern: re.Pattern[str], into: Into) -> None:
        """Put `into` wherever the pattern is found; what stays of a match keeps its place."""
        found = list(pattern.finditer(self.text))
        if not found:
            return
        starts = range(len(self.text)) if self.starts is None else self.starts
        ends = range(1, len(self.text) + 1) if self.ends is None else self.ends
        text, last = [], 0
        new_starts: list[int] = []
        new_ends: list[int] = []
        for match in found:
            low, high = match.span()
            new = match.expand(into) if isinstance(into, str) else into(match)
            head, tail = _kept(match[0], new)
            text += [self.text[last:low], new]
            new_starts += starts[last : low + head]
            new_ends += ends[last : low + head]
            if low + head < high - tail:
                place = starts[low + head], ends[high - tail - 1]
            else:
                place = (ends[low + head - 1],) * 2 if low + head else (0, 0)
            new_starts += [place[0]] * (len(new) - head - tail)
            new_ends += [place[1]] * (len(new) - head - tail)
            last = high - tail
            new_starts += starts[last:high]
            new_ends += ends[last:high]
            last = high
        self.text = "".join([*text, self.text[last:]])
        self.starts, self.ends = [*new_starts, *starts[last:]], [*new_ends, *ends[last:]]

    def tokens(self, slips: Mapping[str, str]) -> list[Token]:
        """The words and signs, hyphens opened, possessive `'s` and punctuation apart; a slip as what was meant."""
        found, starts, ends = [], self.starts, self.ends
        for match in PARTS.finditer(self.text):
            word = match[0]
            token = Token(slips.get(word, word))
            low, high = match.span()
            token.start, token.end = (low, high) if starts is None or ends is None else (starts[low], ends[high - 1])
            found.append(token)
        return found


def _signs(said: str, signs: Mapping[str, str]) -> str:
    plain = signs.get(said) or "".join(signs.get(each, each) for each in unicodedata.normalize("NFKC", said))
    return plain.lower()


def _kept(old: str, new: str) -> tuple[int, int]:
    """How many characters at the head and at the tail of a match stay as they are."""
    most = min(len(old), len(new))
    head = next((i for i in range(most) if old[i] != new[i]), most)
    tail = next((i for i in range(most - head) if old[-1 - i] != new[-1 - i]), most - head)
    return head, tail
