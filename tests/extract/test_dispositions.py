"""Every number that was said stands in the record's `numbers`, with what became of it."""

import os
import re
from pathlib import Path

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from extract import lexicon
from extract.assemble import Kept, assemble, read
from extract.notes import parse_log
from extract.record import Note
from extract.text.grammar import TABLE

EXAMPLES = Path(__file__).parent.parent / "examples"
JOBS = sorted(path.name.removesuffix(".notes.txt") for path in EXAMPLES.glob("job-*.notes.txt"))
FIGURE = re.compile(r"[0-9]+(?:\.[0-9]+)?")
NAMED = re.compile(r"\b2729\b|[a-z]+[0-9]+|[0-9]+(?:st|nd|rd|th)|(?:s ?d ?r|schedule|sch\.?|d|s)[ -]?[0-9]+", re.I)


def loose(texts: list[str], numbers) -> list[tuple[int, int]]:
    """The figures that stand in no number of the record and in no name: the note and the place of each."""
    found = []
    rows = read([Note(text=text) for text in texts], Kept(), set())
    names = {(one.note, one.start, one.end) for row in rows for one in row if one.what in ("mention", "pipe")}
    for note, text in enumerate(texts):
        spans = [(each.start, each.end) for each in numbers if each.note == note]
        spans += [(start, end) for told, start, end in names if told == note]
        spans += [match.span() for match in NAMED.finditer(text)]
        found += [
            (note, match.start())
            for match in FIGURE.finditer(text)
            if not any(a <= match.start() < b for a, b in spans)
        ]
    return found


@pytest.mark.parametrize("job", JOBS)
def test_no_figure_of_a_whole_job_is_left_out(job):
    notes = parse_log((EXAMPLES / f"{job}.notes.txt").read_text())
    assert loose([note.text for note in notes], assemble(notes).numbers) == []


@pytest.mark.parametrize("job", JOBS)
def test_a_number_that_stands_is_in_the_field_that_is_named(job):
    record = assemble(parse_log((EXAMPLES / f"{job}.notes.txt").read_text()))
    asked = {f"{each.about}.{each.field}" if each.field else each.about for each in record.questions}
    for number in record.numbers:
        label, _, name = (number.to or "").partition(".")
        entry = record.subject(label)
        if number.went in ("field", "restated") and entry is not None:
            assert getattr(entry, "from_" if name == "from" else name), number
        if number.went == "question":
            assert number.to in asked, number
        assert (number.went == "irrelevant") == (number.reason is not None)


WORDS = sorted(
    {
        word
        for values in lexicon.load().values()
        for phrases in values.values()
        for phrase in phrases
        for word in phrase.split()
    }
    - {"'s"}
)
NUMBERS = sorted({word for words in TABLE["words"].values() for word in words})
UNITS = sorted({word for row in TABLE["units"].values() for word in row["words"].split() if word.isalpha()})
NONSENSE = st.lists(
    st.one_of(
        st.sampled_from(WORDS),
        st.sampled_from(NUMBERS),
        st.sampled_from(UNITS),
        st.integers(0, 2000).map(str),
        st.sampled_from(["12.5", "3/4", "6'4\"", "98.42", "1:80", "2x4", "$5", ".", ",", "?", "run", "basin"]),
    ),
    max_size=25,
).map(" ".join)


@settings(max_examples=400 if "FALLBOOK_WHOLE" in os.environ else 150, deadline=None)
@given(st.lists(NONSENSE, min_size=1, max_size=3))
@example(["16th drywell 1"])
def test_no_figure_of_nonsense_is_left_out_and_nothing_raises(texts):
    record = assemble([Note(text=text) for text in texts])
    assert loose(texts, record.numbers) == []
    for number in record.numbers:
        assert 0 <= number.start < number.end <= len(texts[number.note])


@pytest.mark.parametrize(
    ("said", "went"),
    [
        ("Run one is in, 34 ft 8.", ["field"]),
        ("Run one is 34 feet. It's 34 feet.", ["field", "restated"]),
        ("Run one is 34 feet, no, 36 feet.", ["withdrawn", "field"]),
        ("Plan is run one, forty feet.", ["field"]),
        ("Is run one forty feet?", ["not_fact"]),
        ("Lunch was twelve dollars.", ["irrelevant"]),
        ("Scratch that. It is 71 degrees out.", ["irrelevant"]),
        ("Need to buy three four inch caps.", ["field", "text"]),
        ("Run one has two 45s.", ["field", "field"]),
        ("Backsight on the porch slab 4.85, elevation 100.", ["field", "field"]),
        ('Run one, cover 12"/18".', ["field", "question"]),
    ],
)
def test_what_became_of_each(said, went):
    assert [each.went for each in assemble([Note(text=said)]).numbers] == went


def test_what_was_taken_back_is_listed_all_the_same():
    record = assemble([Note(text="Run one is in, 34 feet."), Note(text="Scratch that. Run one is in, 43 feet.")])
    assert [(each.note, each.text, each.went) for each in record.numbers] == [
        (0, "34 feet", "withdrawn"),
        (1, "43 feet", "field"),
    ]
