"""Pieces of one recording overlap, so that no word falls between them: what both heard is one note. Pure.

A page cuts its recording where nobody speaks, if it can; then a note lies whole in one piece, or in both. Where it had
to cut through a sentence each piece holds a part of it, and the words that both heard join them.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from extract.record import Note, Word

EDGE_S = 0.5
"""A note that begins or ends so near to the edge of its piece may have been cut there."""
MORE_S = 0.3
"""A note that begins or ends so much further out than the other holds a word that the other lacks."""
APART_S = 0.7
"""How far apart two hearings put the same word at most."""
PAUSE_S = 0.9
"""Who is silent for so long has ended a note."""


@dataclass(frozen=True)
class Piece:
    """A recording, or a part of one, with what was heard in it."""

    recording_id: str
    """Which recording it is a part of; empty where it is one by itself."""
    from_s: float
    """Where it begins, on one clock for all parts of a recording."""
    length_s: float
    notes: list[Note]
    """With seconds into this piece."""


def without_overlap(pieces: Sequence[Piece]) -> list[list[Note]]:
    """The notes of each piece; what two heard is told once, by the one that heard more of it."""
    recordings: dict[str, list[int]] = defaultdict(list)
    for number in sorted(range(len(pieces)), key=lambda each: pieces[each].from_s):
        if pieces[number].recording_id:
            recordings[pieces[number].recording_id].append(number)
    notes = [piece.notes if not piece.recording_id else [] for piece in pieces]
    for numbers in recordings.values():
        for told in _of_reel(pieces, numbers):
            notes[told.piece].append(told.note)
    return notes


@dataclass(frozen=True, eq=False)
class _Told:
    """A note on the clock of its recording."""

    note: Note
    piece: int
    at_s: float
    """Where its piece begins."""

    @property
    def start(self) -> float:
        return self.at_s + (self.note.start_s or 0.0)

    @property
    def end(self) -> float:
        return self.at_s + (self.note.end_s or self.note.start_s or 0.0)

    @property
    def words(self) -> list[Word]:
        """With seconds on the clock of the recording."""
        return [_moved(word, self.at_s) for word in self.note.words]

    def with_words(self, words: Sequence[Word]) -> _Told:
        """The same note with those words for its own, which are as sure as they now are."""
        own = [_moved(word, -self.at_s) for word in words]
        return _Told(self.note.model_copy(update={"words": own}), self.piece, self.at_s)

    def of(self, words: Sequence[Word]) -> _Told:
        """The note as it would be if those words had been heard."""
        return _Told(_of_words(self.note, [_moved(word, -self.at_s) for word in words]), self.piece, self.at_s)


def _of_reel(pieces: Sequence[Piece], numbers: Sequence[int]) -> Iterator[_Told]:
    """The notes of the pieces of one recording, which begin one after another."""
    open_: list[_Told] = []
    end = 0.0
    for number in numbers:
        start = round(pieces[number].from_s - pieces[numbers[0]].from_s, 2)  # as finely as words are placed
        yield from (told for told in open_ if told.end <= start)
        open_ = [told for told in open_ if told.end > start]
        more = [_Told(note, number, start) for note in pieces[number].notes]
        open_ = [*open_, *more] if start >= end else _Seam(start, end).between(open_, more)
        end = max(end, start + pieces[number].length_s)
    yield from open_


@dataclass(frozen=True)
class _Seam:
    """Where a piece begins and the one before it ends."""

    begins_s: float
    ends_s: float

    def between(self, first: list[_Told], second: list[_Told]) -> list[_Told]:
        """What was told before the seam and what the next piece tells, without what stands in both."""
        kept = [*first, *second]
        for ours, theirs in _groups(first, second):
            kept = [each for each in kept if each not in ours and each not in theirs] + self._settled(ours, theirs)
        return _in_order(kept)

    def _settled(self, ours: list[_Told], theirs: list[_Told]) -> list[_Told]:
        """Of notes that both heard in part, those to keep."""
        ours, theirs = self._held_against(ours, theirs), self._held_against(theirs, ours)
        (our_from, our_to), (their_from, their_to) = _span(ours), _span(theirs)
        cut_at_end, cut_at_start = our_to > self.ends_s - EDGE_S, their_from < self.begins_s + EDGE_S
        more_before, more_after = our_from < their_from - MORE_S, their_to > our_to + MORE_S
        if (more_before or cut_at_start) and (more_after or cut_at_end):
            return self._joined(ours, theirs)
        if more_before or cut_at_start:
            return ours
        return theirs if more_after or cut_at_end or _sure(theirs) > _sure(ours) else ours

    def _joined(self, ours: list[_Told], theirs: list[_Told]) -> list[_Told]:
        """The first piece's notes up to a word that both heard, the second's from there on; as one note where nobody
        drew breath between."""
        our_words, their_words = ([each.words for each in notes] for notes in (ours, theirs))
        if not any(our_words) or not any(their_words):
            return [*ours, *theirs]
        count, start, agreed = self._meeting(sum(our_words, []), sum(their_words, []))
        before, after = _first(ours, our_words, count), _rest(theirs, their_words, start)
        if not before or not after or after[0].start - before[-1].end > PAUSE_S:
            return [*before, *after]
        words = [*before[-1].words, *after[0].words]
        return [*before[:-1], before[-1].of(words if agreed else self._doubted(words)), *after[1:]]

    def _meeting(self, ours: list[Word], theirs: list[Word]) -> tuple[int, int, bool]:
        """How many of our words come before theirs, from which of theirs on, and whether a word of both says so."""
        first = sum(word.end_s <= self.begins_s - EDGE_S for word in ours)
        last = sum(word.start_s < self.ends_s + EDGE_S for word in theirs)
        size, ours_at, theirs_at = _longest_same(ours[first:], theirs[:last])
        if size:
            return first + ours_at + size, theirs_at + size, True
        middle = (self.begins_s + self.ends_s) / 2
        return _until(ours, middle), _until(theirs, middle), False

    def _doubted(self, words: list[Word]) -> list[Word]:
        """Words within the overlap may be misheard, and are asked about."""
        return [_doubtful(word) if self._shared(word) else word for word in words]

    def _held_against(self, notes: list[_Told], others: list[_Told]) -> list[_Told]:
        """The notes with each figure within the overlap in doubt that the other piece did not hear there."""
        heard = [word for other in others for word in other.words]

        def held(word: Word) -> Word:
            return word if not self._shared(word) or _borne_out(word, heard) else _doubtful(word)

        return [note.with_words([held(word) for word in note.words]) for note in notes]

    def _shared(self, word: Word) -> bool:
        return word.end_s > self.begins_s and word.start_s < self.ends_s


def _doubtful(word: Word) -> Word:
    from logger.readings import DOUBTFUL

    return word.model_copy(update={"confidence": min(word.confidence, DOUBTFUL)})


def _borne_out(word: Word, heard: Sequence[Word]) -> bool:
    """Whether the figures of the word, if any, were heard by the other piece at the same time."""
    from logger.readings import numbers

    near = [other.text for other in heard if abs(other.start_s - word.start_s) <= APART_S]
    return {figure for text in near for figure in numbers(text)}.issuperset(numbers(word.text))


def _groups(first: Sequence[_Told], second: Sequence[_Told]) -> Iterator[tuple[list[_Told], list[_Told]]]:
    """Notes of the first and of the second that fall into the same seconds, together with all that touch them."""
    left, right = list(first), list(second)
    while pair := next(((one, two) for one in left for two in right if _meet(one, two)), None):
        ours, theirs = [pair[0]], [pair[1]]
        while True:
            more = [each for each in left if each not in ours and any(_meet(each, other) for other in theirs)]
            others = [each for each in right if each not in theirs and any(_meet(other, each) for other in ours)]
            if not more and not others:
                break
            ours, theirs = ours + more, theirs + others
        yield _in_order(ours), _in_order(theirs)
        left, right = [each for each in left if each not in ours], [each for each in right if each not in theirs]


def _meet(one: _Told, two: _Told) -> bool:
    return one.start < two.end and two.start < one.end


def _span(notes: Sequence[_Told]) -> tuple[float, float]:
    return min(each.start for each in notes), max(each.end for each in notes)


def _in_order(notes: list[_Told]) -> list[_Told]:
    return sorted(notes, key=lambda each: each.start)


def _sure(notes: Sequence[_Told]) -> float:
    return sum(each.note.confidence for each in notes) / len(notes)


def _longest_same(ours: Sequence[Word], theirs: Sequence[Word]) -> tuple[int, int, int]:
    """How many words in a row both heard at the same time, at most, and where those begin."""
    from logger.readings import plain

    said, again = ([plain(word.text) or word.text for word in words] for words in (ours, theirs))
    longest, before = (0, 0, 0), [0] * (len(again) + 1)
    for one in range(len(said)):
        row = [0] * (len(again) + 1)
        for two in range(len(again)):
            if said[one] == again[two] and abs(ours[one].start_s - theirs[two].start_s) <= APART_S:
                row[two + 1] = size = before[two] + 1
                longest = max(longest, (size, one + 1 - size, two + 1 - size))
        before = row
    return longest


def _until(words: Sequence[Word], moment: float) -> int:
    """How many of the words have their middle before that moment."""
    return sum((word.start_s + word.end_s) / 2 < moment for word in words)


def _first(notes: Sequence[_Told], words: Sequence[list[Word]], count: int) -> list[_Told]:
    """The notes as far as their first `count` words go; `words` are those of each."""
    kept = []
    for note, own in zip(notes, words, strict=True):
        if count >= len(own):
            kept.append(note)
        elif count > 0:
            kept.append(note.of(own[:count]))
        count -= len(own)
    return kept


def _rest(notes: Sequence[_Told], words: Sequence[list[Word]], start: int) -> list[_Told]:
    """The notes from the word `start` of all on."""
    kept = []
    for note, own in zip(notes, words, strict=True):
        if start <= 0:
            kept.append(note)
        elif start < len(own):
            kept.append(note.of(own[start:]))
        start -= len(own)
    return kept


def _moved(word: Word, by_s: float) -> Word:
    return word.model_copy(
        update={"start_s": round(word.start_s + by_s, 2), "end_s": round(word.end_s + by_s, 2)},
    )


def _of_words(note: Note, words: list[Word]) -> Note:
    """The note as it would be if those words had been heard. Of Spanish only their English is known by the word."""
    from extract.repair import repair

    heard = " ".join(word.text for word in words)
    return note.model_copy(
        update={
            "text": repair(heard) if note.language == "en" else heard,
            "heard": heard,
            "words": words,
            "confidence": round(sum(word.confidence for word in words) / len(words), 3),
            "alternatives": [],
            "start_s": words[0].start_s,
            "end_s": words[-1].end_s,
        }
    )
