"""Cuts sound into pieces as it comes, each of which decodes alone; two pieces in a row overlap. Pure.

It cuts as the page's recorder does (`page/static/recorder.js`): where somebody has spoken and then falls silent, or
where nobody does that for long.
"""

from __future__ import annotations

import io
import wave
from collections import deque
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime, timedelta

import numpy as np
from numpy.typing import NDArray

Samples = NDArray[np.int16]
"""One channel, 16 bits."""
TICKS_S = 10
"""Ticks in a second: all below is counted in ticks."""
PAUSE = 9
"""Of silence after speech end a piece."""
SPOKEN = 3
"""Of speech make a piece worth ending."""
SHORT = 4
"""Two pieces overlap so long in a pause,"""
LONG = 30
"""and so long where somebody may be in mid-sentence."""
LONGEST = 250
LOUDER_DB = 6.0
"""Than the quietest of late: speech."""
RISE_DB = 0.2
"""A tick by which what counts as quiet goes up, as an engine starts."""
SILENT_DB = -80.0
FULL = 32768.0


@dataclass(frozen=True)
class Piece:
    """A stretch of one recording."""

    at: datetime
    """When it began: aware."""
    first: int
    """Its first sample, counted from the recording's own first."""
    samples: Samples
    rate: int
    """Samples a second [Hz]."""

    @property
    def from_s(self) -> float:
        """Where it begins in the recording [s]."""
        return self.first / self.rate

    @property
    def to_s(self) -> float:
        """Where it ends in the recording [s]."""
        return (self.first + len(self.samples)) / self.rate

    def wav(self) -> bytes:
        """The whole WAV file."""
        out = io.BytesIO()
        with wave.open(out, "wb") as file:
            file.setnchannels(1)
            file.setsampwidth(2)
            file.setframerate(self.rate)
            file.writeframes(self.samples.astype("<i2").tobytes())
        return out.getvalue()


@dataclass
class _Open:
    first: int
    """Its first tick."""
    at: datetime
    end: int | None = None
    """The tick that it ends before; None while nobody knows."""


class Cutter:
    """Takes the sound of one recording, and gives each piece when it is whole."""

    def __init__(self, rate: int) -> None:
        """`rate` is the samples a second [Hz]."""
        self._rate, self._tick = rate, rate // TICKS_S
        self._rest: Samples = np.empty(0, np.int16)
        self._ticks: deque[Samples] = deque()
        self._dropped = 0
        """Ticks that no open piece needs any more."""
        self._open: list[_Open] = []
        self._floor_db: float | None = None
        self._spoken = self._quiet = 0
        self._given = 0
        """Samples that pieces held so far."""

    def feed(self, samples: Samples, at: datetime) -> Iterator[Piece]:
        """More sound, of which the first sample was recorded at `at` (aware); the pieces that it makes whole."""
        at -= timedelta(seconds=len(self._rest) / self._rate)
        sound = np.concatenate([self._rest, samples])
        whole = len(sound) - len(sound) % self._tick
        self._rest = sound[whole:]
        for start in range(0, whole, self._tick):
            yield from self._take(sound[start : start + self._tick], at + timedelta(seconds=start / self._rate))

    def finish(self) -> Iterator[Piece]:
        """The last piece, once no more sound comes: the oldest that is open holds all that the others hold.

        None where that would hold only what the piece before held.
        """
        heard = (self._dropped + len(self._ticks)) * self._tick + len(self._rest)
        if heard > self._given:
            for last in self._open[:1]:
                yield self._piece(last, [*self._since(last), self._rest])
        self._open = []

    def _take(self, tick: Samples, at: datetime) -> Iterator[Piece]:
        if not self._open:
            self._open.append(_Open(0, at))
        self._ticks.append(tick)
        count = self._dropped + len(self._ticks)
        self._cut(_level_db(tick), count, at + timedelta(seconds=1 / TICKS_S))
        for each in [each for each in self._open if each.end is not None and each.end <= count]:
            self._open.remove(each)
            self._given = count * self._tick
            yield self._piece(each, self._since(each))
        while self._dropped < self._open[0].first:
            self._ticks.popleft()
            self._dropped += 1

    def _cut(self, level_db: float, count: int, at: datetime) -> None:
        """Begin another piece where this is the moment for it: never while two overlap."""
        self._floor_db = level_db if self._floor_db is None else min(level_db, self._floor_db + RISE_DB)
        speaking = level_db > self._floor_db + LOUDER_DB
        self._spoken += speaking
        self._quiet = 0 if speaking else self._quiet + 1
        pause = self._quiet >= PAUSE
        if len(self._open) > 1:
            return
        if (pause and self._spoken >= SPOKEN) or count - self._open[-1].first >= LONGEST:
            self._open[-1].end = count + (SHORT if pause else LONG)
            self._open.append(_Open(count, at))
            self._spoken = 0

    def _since(self, piece: _Open) -> list[Samples]:
        return list(self._ticks)[piece.first - self._dropped :]

    def _piece(self, piece: _Open, ticks: list[Samples]) -> Piece:
        return Piece(piece.at, piece.first * self._tick, np.concatenate(ticks), self._rate)


def _level_db(tick: Samples) -> float:
    power = float(np.mean(np.square(tick.astype(np.float64) / FULL)))
    return max(SILENT_DB, 10 * float(np.log10(power + 1e-9)))
