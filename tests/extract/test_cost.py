"""What reading costs: it grows with the notes, and no note blows up. Bounds have room for a busy machine.

`FALLBOOK_WHOLE=1` reads the costly ones of the long notes too.
"""

import os
import time
import timeit

import pytest
from extract_readings import record, say

from extract.assemble import LONGEST_READ, assemble
from extract.record import Note


def cost(texts):
    """Processor time of reading those notes, seconds; the best of three, so that nothing else is charged to them.

    The collector rests meanwhile, as `timeit` has it: one walk over all that earlier tests left would outweigh the
    notes. All but the first time do without the network, which is run once for each input (tests/conftest.py) and
    whose input has a largest size (`read/test_read_model.py`): what grows with the notes stands out the more.
    """
    notes = [Note(text=text) for text in texts]
    return min(timeit.repeat(lambda: assemble(notes), timer=time.process_time, number=1, repeat=3))


@pytest.mark.parametrize(
    "said",
    [
        "Set another basin.",
        "Run {n} from basin {n} to basin {m}, forty feet of four-inch SDR 35, drop five inches.",
        "Hit roots on run {n}, cut them out.",
        "Need to buy two couplings and a can of primer.",
    ],
)
def test_four_times_the_notes_cost_about_four_times_as_much(said):
    assemble([Note(text="Run one is in.")])  # the start-up is not the notes'
    few, many = ([said.format(n=i % 98 + 1, m=i % 98 + 2) for i in range(count)] for count in (20, 80))
    assert cost(many) < 8 * cost(few) + 0.1


UNITS = ["1,", "two 45s ", "make that 4 feet "]


@pytest.mark.parametrize("unit", UNITS if "FALLBOOK_WHOLE" in os.environ else UNITS[2:])
def test_a_note_of_a_hundred_thousand_characters_ends_soon_and_is_asked_about(unit):
    start = time.process_time()
    record = assemble([Note(text=(unit * 100_000)[:100_000])])
    assert "note 0" in {question.about for question in record.questions}
    assert time.process_time() - start < 60


@pytest.mark.parametrize("unit", UNITS[:2])
def test_a_tenth_of_the_longest_note_ends_soon(unit):
    """In place of the whole."""
    start = time.process_time()
    assemble([Note(text=(unit * LONGEST_READ)[: LONGEST_READ // 10])])
    assert time.process_time() - start < 15


def withdrawing(count):
    """Notes that each name another basin, every tenth taken back, with what a reader makes of them."""
    notes = []
    for number in range(1, count + 1):
        basin = (f"basin {number}", "mention", {"name": "CB", "thing": f"CB.{number}", "number": number})
        size = ("12 by 12", "size_in", {"thing": f"CB.{number}"})
        notes.append(say(f"basin {number} is set, 12 by 12", basin, size))
        if number % 10 == 0:
            notes.append(say("scratch that", ("scratch that", "order", {"name": "withdraw_note"})))
    return notes


def test_what_a_note_comes_to_costs_the_same_among_many_things_and_many_that_were_taken_back():
    def seconds(notes):
        start = time.process_time()
        assert len(record(*notes).structures) == len(notes) * 9 // 11
        return time.process_time() - start

    few, many = withdrawing(400), withdrawing(4000)
    assert seconds(many) < 40 * max(seconds(few), seconds(few)) + 0.1  # ten times the notes; their squares: a hundred
