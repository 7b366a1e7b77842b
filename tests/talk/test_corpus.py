"""The marked days: well marked, no two alike, and the assembly makes the marks' own record of true readings."""

import json
import os
import random
import re
from collections import Counter, defaultdict
from itertools import islice
from pathlib import Path

import pytest
from talk.augment import edited, names_of, varied
from talk.check import check
from talk.dataset import ToldBefore
from talk.evaluate import days_of, record_of, scored
from talk.markup import MarkupError, read_day, read_meaning, read_note
from talk.oracle import readings_of

HERE = Path(__file__).parent
DAYS = sorted((HERE / "days").glob("*.txt"))
PARTS = json.loads((HERE / "parts.json").read_text(encoding="utf-8"))
ALIKE = 0.6
"""Share of word triples in common from which two notes are too much alike."""


def test_each_day_is_well_marked():
    errors = []
    for path in DAYS:
        wrong = [each for each in check(read_day(path), path) if ": error:" in each]
        example = PARTS[path.name[:3]] == "examples"  # these are as long as they were
        errors += [each for each in wrong if not (example and "a day has 20 to 30" in each)]
    assert not errors


def test_no_writer_wrote_more_than_five_days_and_each_belongs_to_one_part():
    writers = Counter(path.name[:3] for path in DAYS)
    assert max(writers.values()) <= 5
    assert set(writers) <= set(PARTS)


def test_no_two_notes_of_different_days_are_nearly_the_same():
    holders, notes = defaultdict(list), []
    for path in DAYS:
        if PARTS[path.name[:3]] == "examples":
            continue
        day = path.stem
        for note in read_day(path).notes:
            words = re.findall(r"\w+", note.text.lower())
            triples = set(zip(words, words[1:], words[2:], strict=False))
            if len(triples) >= 8:
                for triple in triples:
                    holders[triple].append(len(notes))
                notes.append((day, note.line, len(triples)))
    shared = Counter()
    for rows in holders.values():
        if 1 < len(rows) < 40:
            shared.update((a, b) for i, a in enumerate(rows) for b in rows[i + 1 :] if notes[a][0] != notes[b][0])
    alike = [
        (notes[a][:2], notes[b][:2]) for (a, b), n in shared.items() if n / (notes[a][2] + notes[b][2] - n) > ALIKE
    ]
    assert not alike


@pytest.mark.parametrize("part", ["train", "tune", "examples"])
def test_the_assembly_makes_the_marks_own_record_of_true_readings(part):
    total = Counter()
    step = 8 if part == "train" and "FALLBOOK_WHOLE" not in os.environ else 1
    for path, day, gold in islice(days_of(part), 0, None, step):
        total.update(scored(gold, record_of(readings_of(day), [note.text for note in day.notes]), path, show=False))
    assert 2 * total["tp"] / (total["gold"] + total["pred"]) > 0.97
    assert total["silent"] / total["num_pred"] < 0.04


def test_a_varied_day_keeps_its_marks_on_their_words():
    days = [read_day(path) for path in DAYS[:3]]
    names = names_of(days)
    for seed in range(4):
        for day in days:
            told = varied(day, random.Random(seed), names)
            assert len(told.notes) == len(day.notes)
            for note in told.notes:
                assert all(0 <= span.start < span.end <= len(note.text) for span in note.spans)


def test_edits_move_the_marks_with_their_words():
    note = read_note("{the box|CB.x} is {forty|R.a.length_ft=40} feet, {in|CB.x.state=installed}, ok")
    told = edited(note, [(11, 16, "sixty-two"), (21, 22, "")])
    assert told.text == "the box is sixty-two feet in, ok"
    assert [told.words(span) for span in told.spans] == ["the box", "sixty-two", "in"]


@pytest.mark.parametrize(
    "line", ["{open|R.a", "words|R.a}", "{|R.a}", "{x|R.a.length_ft=3!maybe}", "{x|Q.a}", "{x|-cheese}", "{x|@shout}"]
)
def test_marks_that_cannot_be_read_are_told_of(line):
    with pytest.raises(MarkupError):
        read_note(line)


def test_a_note_reads_into_its_words_and_marks():
    note = read_note("[07:40] {the {big|R.a} one|CB.x#2;R.a.from} is {34 ft|R.a.length_ft=34!hedged}")
    assert note.text == "the big one is 34 ft"
    assert [(note.words(span), span.depth) for span in note.spans] == [("the big one", 0), ("big", 1), ("34 ft", 0)]
    assert note.spans[0].meanings[0].number == 2
    assert read_meaning("R.a.length_ft=34!hedged!planned").flags == {"hedged", "planned"}


@pytest.mark.parametrize(
    ("notes", "does"),
    [
        (
            ["{run one|R.a#1} is {forty|R.a.length_ft=40}", "make it {forty-four|R.a.length_ft=44!corrects}"],
            (True, False),
        ),
        (
            ["{run one|R.a#1} is {forty|R.a.length_ft=40}", "{that was run two|R.b.length_ft=40!corrects}"],
            (True, False),
        ),
        (["{run one|R.a#1} is {forty|R.a.length_ft=40}", "{never taped it|@clear=R.a.length_ft}"], (True, False)),
        (["{run one|R.a#1} is {forty|R.a.length_ft=40!hedged}", "{forty it is|R.a.length_ft=40}"], (False, True)),
        (
            ["{run one|R.a#1} is {forty|R.a.length_ft=40!hedged}", "about {forty|R.a.length_ft=40!hedged}"],
            (False, False),
        ),
        (["{run one|R.a#1} is {forty|R.a.length_ft=40}", "{run two|R.b#2} is {ten|R.b.length_ft=10}"], (False, False)),
        (["{forty|R.a.length_ft=40}, no, {forty-four|R.a.length_ft=44!corrects}"], (False, False)),
    ],
)
def test_what_a_note_does_to_what_was_told_before(notes, does):
    before = ToldBefore()
    *_, last = [before.take(index, read_note(line)) for index, line in enumerate(notes)]
    assert last == does
