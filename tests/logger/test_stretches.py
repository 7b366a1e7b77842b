import numpy as np

from logger.sound import RATE, Samples
from logger.stretches import UNSETTLED, WINDOW, Span, stretches


def loud_spans(samples: Samples) -> list[Span]:
    """Wherever the sound is not nought, taken for speech."""
    edges = np.flatnonzero(np.diff(np.concatenate([[0], samples != 0, [0]]).astype(int)))
    return [(int(start), int(end)) for start, end in edges.reshape(-1, 2)]


def recording(seconds: int, *speech: tuple[float, float]) -> list[Samples]:
    """In blocks of ten seconds; each stretch of speech holds its own number, from 1."""
    samples = np.zeros(seconds * RATE, np.float32)
    for number, (start, end) in enumerate(speech, 1):
        samples[int(start * RATE) : int(end * RATE)] = number
    return np.split(samples, range(10 * RATE, len(samples), 10 * RATE))


def heard(seconds: int, *speech: tuple[float, float]) -> list[tuple[float, float]]:
    found = list(stretches(recording(seconds, *speech), loud_spans))
    assert [set(stretch.samples) for stretch in found] == [{number} for number in range(1, len(speech) + 1)]
    return [(stretch.start_s, stretch.start_s + len(stretch.samples) / RATE) for stretch in found]


def test_every_stretch_comes_once_whole_and_in_its_place():
    speech = [(3, 8), (10, 12.5), (100, 118)]
    assert heard(200, *speech) == speech


def test_speech_across_the_end_of_a_window_is_not_cut():
    border = WINDOW / RATE
    speech = [(border - 10, border + 10), (2 * border - 1, 2 * border - 0.5), (3 * border - 25, 3 * border)]
    assert heard(400, *speech) == speech


def test_speech_that_begins_just_after_a_window_keeps_its_head():
    border = WINDOW / RATE
    speech = [(border + 0.25, border + 3), (2 * border - UNSETTLED / RATE / 2, 2 * border + 1)]
    assert heard(300, *speech) == speech


def test_no_speech_gives_no_stretch():
    assert heard(300) == []


def test_an_empty_recording_gives_no_stretch():
    assert list(stretches([], loud_spans)) == []


def test_a_long_recording_is_never_held_whole():
    longest = 0

    def spans(samples: Samples) -> list[Span]:
        nonlocal longest
        longest = max(longest, len(samples))
        return loud_spans(samples)

    assert list(stretches(recording(1800, (500, 520)), spans))
    assert longest < WINDOW + 40 * RATE
