"""A text log into notes: times, order, and lines too long for one note."""

from datetime import datetime, time
from time import process_time

import pytest

from extract.notes import LONGEST_LINE, parse_log


@pytest.mark.parametrize(
    ("line", "clock"),
    [
        ("[14:05:30] Basin one is set.", time(14, 5, 30)),
        ("[1:20 PM] Basin one is set.", time(13, 20)),
        ("[12:05 am] Basin one is set.", time(0, 5)),
        ("[12:05pm] Basin one is set.", time(12, 5)),
        ("1:25 pm - Basin one is set.", time(13, 25)),
        ("7:05 \u2013 Basin one is set.", time(7, 5)),
        ("1:25 p.m. - Basin one is set.", time(13, 25)),
    ],
)
def test_a_time_in_front_is_the_notes_own(line, clock):
    (note,) = parse_log(line)
    assert (note.at, note.text) == (datetime.combine(datetime(1900, 1, 1), clock), "Basin one is set.")


@pytest.mark.parametrize("line", ["[13:20 PM] Basin.", "[25:10] Basin.", "1:80 is the slope", "14 - basin", "[] x"])
def test_what_is_no_time_stays_in_the_words(line):
    (note,) = parse_log(line)
    assert (note.at, note.text) == (None, line)


def test_lines_keep_their_order_whatever_their_times():
    text = "[2:10 PM] a\nb\n[1:00 PM] c\n"
    assert [note.text for note in parse_log(text)] == ["a", "b", "c"]


@pytest.mark.parametrize("unit", ["Run one is 34 feet. ", "34 feet ", "x"])
def test_a_long_line_is_cut_and_loses_nothing(unit):
    line = unit * (100_000 // len(unit))
    notes = parse_log(f"[14:05] {line}")
    assert all(len(note.text) <= LONGEST_LINE for note in notes)
    assert "".join(note.text for note in notes).replace(" ", "") == line.replace(" ", "")
    assert {note.at.time() for note in notes} == {time(14, 5)}
    if "." in unit:
        assert all(note.text.endswith(".") for note in notes)


@pytest.mark.parametrize("sign", ["(", "<", "'", ".", "é", "x "])
def test_a_long_line_of_nonsense_is_cut_in_no_time(sign):
    """spaCy's own tokeniser takes minutes over a hundred thousand brackets."""
    began = process_time()
    assert "".join(note.text for note in parse_log(sign * 100_000)).replace(" ", "") == (sign * 100_000).replace(
        " ", ""
    )
    assert process_time() - began < 5


def test_a_long_line_is_cut_behind_no_decimal_point():
    notes = parse_log("Run one drops 4.25 inches " * 2000)
    assert all(not note.text.endswith("4.") for note in notes)
