"""Sound into stretches of speech: what lies between two pauses is taken for one note."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass

import numpy as np

from logger.sound import RATE, Samples

Span = tuple[int, int]
"""First sample of a stretch and the one after its last."""

Seconds = tuple[float, float]
"""Start and end of a stretch, seconds into the recording, to the thousandth."""

WINDOW = 120 * RATE
"""Samples looked at in one go: all that is held of a recording, however long."""

UNSETTLED = 2 * RATE
"""A stretch that ends nearer than this to the window's end may go on in the next window."""


@dataclass(frozen=True)
class Stretch:
    """Speech between two pauses."""

    start_s: float
    """Seconds into the recording."""
    samples: Samples

    @property
    def seconds(self) -> Seconds:
        """Where it begins and ends in the recording: its name among all stretches of that recording."""
        return round(self.start_s, 3), round(self.start_s + len(self.samples) / RATE, 3)


def stretches(blocks: Iterable[Samples], spans: Callable[[Samples], list[Span]]) -> Iterator[Stretch]:
    """The stretches of speech in a recording that comes in `blocks`; `spans` finds those in one window of samples."""
    held: list[Samples] = []
    passed = 0
    for block in blocks:
        held.append(block)
        if sum(map(len, held)) < WINDOW:
            continue
        window = np.concatenate(held)
        settled, keep_from = _settled(spans(window), len(window))
        yield from _cut(window, settled, passed)
        held = [window[keep_from:].copy()]
        passed += keep_from
    if held:
        window = np.concatenate(held)
        yield from _cut(window, spans(window), passed)


def _settled(found: list[Span], length: int) -> tuple[list[Span], int]:
    """The spans that are over, and the sample from which the next window must start."""
    done = [span for span in found if span[1] <= length - UNSETTLED]
    if len(done) < len(found):
        return done, found[len(done)][0]
    return done, max(length - UNSETTLED, done[-1][1] if done else 0)


def _cut(window: Samples, found: list[Span], passed: int) -> Iterator[Stretch]:
    for start, end in found:
        yield Stretch((passed + start) / RATE, window[start:end])
