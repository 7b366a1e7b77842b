"""The reader with its taught weights: the worked examples, sentences, and what must never end it."""

import os
from collections import Counter
from pathlib import Path

import pytest
from talk.evaluate import record_of, scored, with_match
from talk.examples import SHORT
from talk.gold import compute
from talk.markup import read_short

from extract.read.model import Model
from extract.read.readings import Reader

WEIGHTS = Path(__file__).parents[3] / "extract" / "read" / "weights"


@pytest.fixture(scope="module")
def model():
    return Model(lambda name: (WEIGHTS / name).read_bytes())


def read(model, *texts):
    reader = Reader(lambda: model)
    return record_of([reader.read(i, text) for i, text in enumerate(texts)], list(texts))


OF_THE_TESTS = "assemble assemble-es fittings hedges levels measures others others-es".split()


def test_it_reads_the_sentences_of_the_tests(model):
    """Each a job by itself; it was taught on them. Every other is read, and all with `FALLBOOK_WHOLE=1`."""
    total, step = Counter(), 1 if "FALLBOOK_WHOLE" in os.environ else 2
    for path in (SHORT / f"{name}.txt" for name in OF_THE_TESTS):
        for day in read_short(path)[::step]:
            gold = with_match(compute(day))
            total.update(scored(gold, read(model, *(note.text for note in day.notes)), path, show=False))
    assert 2 * total["tp"] / (total["gold"] + total["pred"]) >= 0.97, total
    assert total["silent"] <= 12 // step, total
    assert total["lost"] <= 28 // step, total


def test_a_correction_takes_the_place_of_what_was_said(model):
    record = read(model, "Run one is laid, four inch, forty feet.", "No, I mis-said that, run one is forty-two feet.")
    (run,) = record["runs"]
    assert (run["label"], run["length_ft"], run["nominal_in"]) == ("R-1", 42, 4)


def test_chat_makes_no_record(model):
    record = read(model, "need somebody to turn that radio down", "lunch was forty bucks, forty! for two sandwiches")
    groups = ("structures", "runs", "issues", "tests", "tasks", "levels", "decisions", "changes", "questions")
    assert {name: record[name] for name in groups} == {name: [] for name in groups}


@pytest.mark.parametrize(
    "text",
    ["", " ", "\x00\x1b[31m", "零一二三 привет", "12 13 14 15 16", "run run basin two of of the", "a " * 20_000],
    ids=["empty", "blank", "control", "alphabets", "numbers", "trade words", "long"],
)
def test_odd_notes_end_in_a_record(model, text):
    assert 40 in [run.get("length_ft") for run in read(model, text, "Run one is laid, forty feet.")["runs"]]
