"""Sound cut as it comes: each piece decodes alone, and without what two share they are the whole sound, once."""

import io
import re
import wave
from datetime import UTC, datetime, timedelta
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from logger import cutting
from logger.cutting import LONG, LONGEST, SHORT, TICKS_S, Cutter

RATE = 1000
BEGAN = datetime(2026, 5, 14, 15, tzinfo=UTC)


RECORDER = Path(__file__).parent.parent.parent / "logger/page/static/recorder.js"


def added(pieces):
    """The sound of the pieces of one recording, what two share once; each meets the one before it, or overlaps."""
    whole = np.empty(0, np.int16)
    for piece in pieces:
        shared = len(whole) - piece.first
        assert shared >= 0
        assert np.array_equal(whole[piece.first :], piece.samples[:shared])
        whole = np.concatenate([whole, piece.samples[shared:]])
    return whole


def sound(*parts):
    """Seconds of speech (above 0) and of quiet (below 0); no two samples in a row are alike, so none can be swapped."""
    dice = np.random.default_rng(7)
    loud = [dice.integers(-9000, 9000, round(each * RATE)) if each > 0 else dice.integers(-9, 9, round(-each * RATE))
            for each in parts]  # fmt: skip
    return np.concatenate(loud).astype(np.int16)


def cut(samples, blocks=(100,), rate=RATE):
    """The pieces, the sound given in blocks of those lengths over and over."""
    cutter, at, made, number = Cutter(rate), 0, [], 0
    while at < len(samples):
        block = samples[at : at + blocks[number % len(blocks)]]
        made += cutter.feed(block, BEGAN + timedelta(seconds=at / rate))
        at, number = at + len(block), number + 1
    return [*made, *cutter.finish()]


@settings(deadline=None)
@given(
    st.lists(st.floats(0.2, 40).flatmap(lambda each: st.sampled_from([each, -each])), min_size=1, max_size=6),
    st.lists(st.integers(20, 700), min_size=1, max_size=4),
)
def test_the_pieces_make_the_whole_sound_once(parts, blocks):
    whole = sound(*parts)
    pieces = cut(whole, blocks)
    assert (pieces[0].first, pieces[0].at) == (0, BEGAN)
    assert np.array_equal(added(pieces), whole)
    assert [each.to_s for each in pieces] == sorted({each.to_s for each in pieces})
    for piece in pieces:
        assert np.array_equal(piece.samples, whole[piece.first : piece.first + len(piece.samples)])
        assert piece.at == BEGAN + timedelta(seconds=piece.from_s)
    assert max(len(each.samples) for each in pieces) <= (LONGEST + LONG + 1) * RATE // 10


def test_no_last_piece_holds_only_what_the_one_before_held():
    (only,) = cut(sound((LONGEST + SHORT) / 10))
    assert only.to_s == (LONGEST + SHORT) / 10


def test_it_cuts_in_the_pause_after_speech():
    first, second = cut(sound(-1, 2, -2, 2))
    assert second.from_s == pytest.approx(1 + 2 + 0.9)
    assert first.to_s - second.from_s == pytest.approx(SHORT / 10)
    assert second.to_s == 7


def test_where_nobody_is_silent_it_cuts_with_a_long_overlap():
    cutter = cut(sound(-1, 40))
    assert cutter[1].from_s == 25
    assert cutter[0].to_s - cutter[1].from_s == pytest.approx(LONG / 10)


def test_a_second_of_quiet_alone_is_no_reason_to_cut():
    assert len(cut(sound(-20))) == 1


def test_an_engine_that_starts_is_not_speech_for_ever():
    steady = np.concatenate([sound(-1), sound(60)])
    pieces = cut(steady)
    assert pieces[-2].to_s - pieces[-1].from_s == pytest.approx(SHORT / 10)


def test_less_than_a_tick_is_no_piece_and_nothing_is_none():
    assert cut(sound(-0.05)) == cut(sound(-0.0)) == []


def test_each_piece_is_a_wav_of_its_own():
    piece = cut(sound(-1, 2, -2, 2))[1]
    with wave.open(io.BytesIO(piece.wav())) as file:
        assert (file.getnchannels(), file.getframerate()) == (1, RATE)
        assert np.array_equal(np.frombuffer(file.readframes(-1), "<i2"), piece.samples)


@pytest.mark.parametrize("name", ["PAUSE", "SHORT", "LONG", "LONGEST", "LOUDER_DB", "RISE_DB"])
def test_it_cuts_by_the_same_numbers_as_the_page(name):
    in_page = name if name.endswith("_DB") else f"{name}_MS"
    (value,) = re.findall(rf"^const {in_page} = ([\d.]+);", RECORDER.read_text(), re.M)
    ours = getattr(cutting, name)
    assert float(value) == (ours if name.endswith("_DB") else ours * 1000 / TICKS_S)


def test_as_much_speech_makes_a_piece_worth_ending_as_on_the_page():
    (more_than,) = re.findall(r"this\.heard > (\d+)", RECORDER.read_text())
    assert int(more_than) + 1 == cutting.SPOKEN
