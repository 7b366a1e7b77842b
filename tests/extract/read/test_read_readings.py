"""Notes into readings, with a model whose answers are laid down by the test."""

import json
import re

import numpy as np
import pytest

from extract.assemble import assemble
from extract.read.labels import ROLES, SIDES, SIGHTS, STANDINGS, TYPES
from extract.read.model import Encoded
from extract.read.readings import (
    DOUBT_OF_PLAIN,
    OF_NOTE,
    Reader,
    Reading,
    makes_no_odds,
    number_said,
    one_sentence,
    row_of,
    run_beside,
    sort_of,
    with_ordinals,
    with_whole_names,
)
from extract.read.scene import CONTEXT, NOT_HELD
from extract.read.words import quantities_of
from extract.record import Note

NEW, NOTHING = -2, -1


class Fake:
    """A model whose pieces are words. It is told by the words of each span what it is and what it speaks of."""

    def __init__(self, spans=(), roles=(), links=(), sure=0.95, flags=()):
        self.sure, self.flags, self.held, self.mending = sure, flags, [], 0.0
        self.spans, self.roles_of, self.links_of = dict(spans), dict(roles), dict(links)
        self.before = []

    def pieces(self, text):
        return re.findall(r"\w+", text)

    def encode(self, text, before, told):
        self.before.append(list(before))
        self.words = [found[0] for found in re.finditer(r"\w+", text)]
        offsets = [found.span() for found in re.finditer(r"\w+", text)]
        vectors = np.arange(len(offsets), dtype=np.float32)[:, None]
        return Encoded(vectors, [np.zeros(2, np.float32) for _ in told], offsets, list(range(len(offsets))))

    def tags(self, vectors):
        odds = np.zeros((len(vectors), len(TYPES), 2), np.float32)
        for words, (what, _) in self.spans.items():
            parts = words.split()
            for i in range(len(self.words) - len(parts) + 1):
                if self.words[i : i + len(parts)] == parts:
                    odds[i : i + len(parts), TYPES.index(what), 0] = self.sure
                    odds[i, TYPES.index(what), 1] = self.sure
        return odds

    def span(self, vectors, low, high):
        return np.array([vectors[low, 0], vectors[high - 1, 0] + 1], np.float32)

    def said(self, vector):
        return " ".join(self.words[int(vector[0]) : int(vector[1])])

    def class_of(self, vector, type_):
        return self.spans[self.said(vector)][1], 1.0

    def roles(self, vector, form):
        return one_hot(ROLES.index(self.roles_of[self.said(vector)]), len(ROLES))

    def standings(self, vector, what, held):
        self.held.append((what, list(held)))
        return np.array([float(name in self.flags) for name in STANDINGS], np.float32)

    def sides(self, vector):
        return one_hot(SIDES.index("rim"), len(SIDES))

    def sights(self, vector):
        return one_hot(SIGHTS.index("foresight"), len(SIGHTS))

    def mends(self, vectors):
        return self.mending

    def links(self, vector, what, relation, known, rows):
        return one_hot(self.links_of.get((self.said(vector), relation), NOTHING), len(known) + 2)


def sort(name):
    return name.split(".")[0]


def met(reader, prefix):
    """The first thing of that kind in the reader's scene."""
    return next(known for known in reader.scene.known.values() if known.prefix == prefix)


def one_hot(place, size):
    row = np.zeros(size, np.float32)
    row[place] = 1
    return row


def test_a_new_thing_gets_a_name_and_its_value_finds_it():
    model = Fake(
        {"the pipe": ("mention", "R")}, {"40 feet": "length_ft"},
        {("the pipe", "main"): NEW, ("40 feet", "main"): 0},
    )  # fmt: skip
    pipe, length = Reader(lambda: model).read(0, "the pipe is 40 feet")
    assert (pipe.what, pipe.name, sort(pipe.thing), (pipe.start, pipe.end)) == ("mention", "R", "R", (0, 8))
    assert (length.what, length.thing, length.quantity.value) == ("length_ft", pipe.thing, 40)


@pytest.mark.parametrize(
    ("text", "number", "end"),
    [
        ("basin one hundred and four is set", 104, 26),
        ("basin one hundred four is set", 104, 22),
        ("basin one oh four is set", 104, 17),
        ("basin one hundred is set", 100, 17),
        ("basin one hundred feet from it", 1, 9),
        ("basin one forty four", 1, 9),
        ("basin one one hundred even", 1, 9),
        ("basin one and four", 1, 9),
    ],
)
def test_a_name_is_not_cut_inside_its_number(text, number, end):
    spans = [Reading(0, 0, 9, "mention", "CB", number=1)]
    if "four" in text:
        spans.append(Reading(0, text.index("four"), text.index("four") + 4, "mention", "CB", number=4))
    first, *rest = with_whole_names(text, spans)
    assert (first.number, first.end) == (number, end)
    assert [one.number for one in rest] == ([4] if "four" in text and number == 1 else [])


@pytest.mark.parametrize(
    ("text", "cut", "number", "whole"),
    [
        ("the seventh cleanout is in", "the seventh cleanout", 7, "the seventh cleanout"),
        ("we set the thirty-first catch basin", "first catch basin", 31, "thirty-first catch basin"),
        ("we set the twenty first catch basin", "catch basin", 21, "twenty first catch basin"),
        ("the 21st downspout is tied in", "downspout", 21, "21st downspout"),
        ("the 21st downspout is tied in", "the 21st downspout", 21, "the 21st downspout"),
        ("the third basin is in", "the third basin", None, "the third basin"),
        ("a seventh cleanout went in", "a seventh cleanout", None, "a seventh cleanout"),
        ("the 5th street basin is in", "the 5th street basin", None, "the 5th street basin"),
        ("a forty second basin", "basin", None, "basin"),
    ],
)
def test_an_ordinal_past_the_first_few_names_whatever_the_model_makes_of_it(text, cut, number, whole):
    low = text.index(cut)
    (one,) = with_ordinals(text, [Reading(0, low, low + len(cut), "mention", "CO")])
    assert (one.number, text[one.start : one.end]) == (number, whole)
    assert ("numbered" in one.standing) is (number is not None)


def test_things_are_called_by_their_ordinals():
    record = assemble([Note(text="The seventh cleanout is in."), Note(text="We set the thirty-first catch basin.")])
    assert [each.label for each in record.structures] == ["CO-7", "CB-31"]
    assert record.numbers == []


def test_a_measure_is_no_name():
    model = Fake({"2 litres": ("mention", "CB")}, {"2 litres": "other"})
    assert [one.what for one in Reader(lambda: model).read(0, "it took 2 litres")] == ["other"]


def test_a_volume_is_no_bedding_and_a_depth_may_be():
    model = Fake({"2 litres": ("bedding", ""), "2 inches": ("bedding", "")}, {"2 litres": "other", "2 inches": "text"})
    reader = Reader(lambda: model)
    assert [one.what for one in reader.read(0, "it took 2 litres")] == ["other"]
    assert {one.what for one in reader.read(1, "it lies on 2 inches")} == {"bedding", "text"}


def test_a_bound_is_a_hedge():
    model = Fake(roles={"40 feet": "length_ft"})
    (one,) = Reader(lambda: model).read(0, "at least 40 feet")
    assert "hedged" in one.standing


def test_a_name_of_a_hundred_and_more_is_one_thing():
    record = assemble([Note(text="Basin one hundred and four is set.")])
    assert [each.label for each in record.structures] == ["CB-104"]


def test_what_is_said_of_an_unsure_thing_is_unsure():
    model = Fake(
        {"the pipe": ("mention", "R")}, {"40 feet": "length_ft"}, {("the pipe", "main"): NEW, ("40 feet", "main"): 0},
        sure=0.92,
    )  # fmt: skip
    _, length = Reader(lambda: model).read(0, "the pipe is 40 feet")
    assert length.sure == pytest.approx(1 - (1 - 0.92) * DOUBT_OF_PLAIN)


def test_an_end_of_a_run_is_as_sure_as_its_link():
    model = Fake({"the box": ("mention", "CB")}, {}, {("the box", "main"): NEW, ("the box", "from_of"): NEW})
    new = {"main": 1.0, "from_of": 0.6, "to_of": 0.0}
    model.links = lambda vector, what, relation, known, rows: np.array(
        [0.0] * len(known) + [new[relation], 1 - new[relation]], np.float32
    )
    reader = Reader(lambda: model)
    reader.read(0, "from the box")
    assert met(reader, "CB").sure == pytest.approx(0.95)
    assert met(reader, "R").sure == pytest.approx(0.95 * 0.6)


def test_how_a_value_stands_is_told_with_what_was_told_before():
    model = Fake(
        {"the pipe": ("mention", "R")}, {"40 feet": "length_ft", "42 feet": "length_ft"},
        {("the pipe", "main"): NEW, ("40 feet", "main"): 0, ("42 feet", "main"): 0},
    )  # fmt: skip
    reader = Reader(lambda: model)
    reader.read(0, "the pipe is 40 feet")
    model.links_of[("the pipe", "main")] = 0
    reader.read(1, "the pipe is 42 feet")
    reader.read(2, "the pipe is 42 feet")
    lengths = [held for what, held in model.held if what == "length_ft"][1::2]
    assert lengths == [[1, 0, 0, 0], [0, 0, 1, 0], [0, 1, 0, 0]]


def test_a_count_is_that_of_the_fitting_around_it():
    span = Reading(0, 0, 8, "fitting", "elbow")
    count = Reading(0, 0, 3, "fitting")
    assert sort_of(count, [span, count]) == "elbow"
    assert sort_of(Reading(0, 9, 12, "fitting"), [span, count]) == ""


def test_a_later_note_speaks_of_what_an_earlier_one_named():
    model = Fake({"the box": ("mention", "CB"), "it": ("state", "installed")}, {}, {("the box", "main"): NEW})
    reader = Reader(lambda: model)
    reader.read(0, "the box")
    model.links_of = {("it", "main"): 0}
    (state,) = reader.read(1, "it is in")
    assert (state.what, state.name, sort(state.thing)) == ("state", "installed", "CB")
    assert met(reader, "CB").state == "installed"


def test_a_structure_is_the_end_of_a_new_run():
    model = Fake({"the box": ("mention", "CB")}, {}, {("the box", "main"): NEW, ("the box", "from_of"): NEW})
    reader = Reader(lambda: model)
    (box,) = reader.read(0, "from the box")
    assert (sort(box.from_of), box.to_of) == ("R", "")
    assert met(reader, "R").ends == {box.thing}


def test_a_number_of_other_things_speaks_of_nothing():
    model = Fake(roles={"50": "money"})
    (money,) = Reader(lambda: model).read(0, "that was 50")
    assert (money.what, money.thing) == ("money", "")


def test_a_rod_reading_has_its_side_and_sight():
    model = Fake(
        {"the box": ("mention", "CB")}, {"4 feet": "rod_ft"}, {("the box", "main"): NEW, ("4 feet", "main"): 0}
    )
    _, rod = Reader(lambda: model).read(0, "the box 4 feet")
    assert (rod.side, rod.sight, sort(rod.thing)) == ("rim", "foresight", "CB")


def test_so_many_pieces_of_the_notes_before_go_in():
    model = Fake()
    reader = Reader(lambda: model)
    for i in range(3):
        reader.read(i, "word " * (CONTEXT - 10))
    assert [len(each) for each in model.before] == [0, CONTEXT - 10, CONTEXT]


def test_an_empty_note_has_no_readings():
    assert Reader(Fake).read(0, "") == []


@pytest.mark.parametrize(
    ("words", "number"),
    [
        ("basin two", 2),
        ("the second box", 2),
        ("the 12 inch basin two", 2),
        ("the second 12 inch box", 2),
        ("run three's", 3),
        ("box one", 1),
        ("CB3 3", 3),
        ("R1 drop", 1),
        ("basin 120", 120),
        ("CB-8000", 8000),
        ("the box", None),
    ],
)
def test_the_number_that_a_name_bears(words, number):
    assert number_said(words) == number


PIPE = {"the pipe": ("mention", "R")}
LONG = {("the pipe", "main"): NEW, ("40 feet", "main"): 0, ("42 feet", "main"): 0}
LENGTHS = {"40 feet": "length_ft", "42 feet": "length_ft"}


def no_model():
    raise AssertionError("a note is read again")


def test_what_is_kept_is_not_read_again():
    kept, model = {}, Fake(PIPE, LENGTHS, LONG)
    first = Reader(lambda: model, kept).read(0, "the pipe is 40 feet")
    again = Reader(no_model, json.loads(json.dumps(kept)))
    assert [row_of(one) for one in again.read(0, "the pipe is 40 feet")] == [row_of(one) for one in first]
    assert met(again, "R").fields["length_ft  number"] == 40


def test_a_note_put_in_before_that_names_nothing_costs_the_later_ones_nothing_once_it_is_far():
    model, kept, texts = Fake(PIPE, LENGTHS, LONG), {}, ["the pipe is 40 feet", *(["word " * 90] * 5)]
    reader = Reader(lambda: model, kept)
    for i, text in enumerate(texts):
        reader.read(i, text)
    read = len(model.before)
    reader = Reader(lambda: model, kept)
    for i, text in enumerate([texts[0], "chat", *texts[1:]]):
        reader.read(i, text)
    assert len(model.before) - read == 3  # itself, the next, and one that the pipe is farther back from


def test_whether_an_angle_is_told_again_makes_no_odds():
    """It is compared with the count before it, and is none itself."""
    (_, _, count), (_, _, angle) = quantities_of("two 45s")
    held = [0.0, 0.0, 1.0, 1.0]
    assert "again" in makes_no_odds(Reading(0, 4, 7, "fitting", quantity=angle), held)
    assert "again" not in makes_no_odds(Reading(0, 0, 3, "fitting", quantity=count), held)
    assert "again" in makes_no_odds(Reading(0, 0, 3, "fitting", quantity=count), NOT_HELD)


RUNS = [
    Reading(0, 0, 7, "mention", name="R", thing="R.1"),
    Reading(0, 15, 22, "mention", name="R", thing="R.2"),
]
TWO_RUNS = "Run one is in. Run two is in, 18 feet. It is 4.5 inch."


@pytest.mark.parametrize(("at", "run"), [(3, "R.1"), (30, "R.2"), (45, "")])
def test_a_sentence_names_a_run_or_none(at, run):
    assert run_beside(Reading(0, at, at + 2, "length_ft"), RUNS, TWO_RUNS) == run


def test_a_sentence_of_two_runs_names_no_one():
    text = "Run one meets run two at 18 feet"
    runs = [RUNS[0], Reading(0, 14, 21, "mention", name="R", thing="R.2")]
    assert run_beside(Reading(0, 25, 32, "length_ft"), runs, text) == ""


def test_the_ends_told_beside_one_run_are_its_ends():
    record = assemble([Note(text="Run one is in. Run two is in, from basin one to outlet one, 18 feet.")])
    ends = {each.label: (each.from_, each.to) for each in record.runs}
    assert ends == {"R-1": (None, None), "R-2": ("CB-1", "OUT-1")}


def test_a_figure_read_as_another_runs_than_its_sentence_names_is_asked_about():
    record = assemble([Note(text="Run two is in. Run one is 42 feet.")])
    told = {each.label: each.length_ft for each in record.runs}
    asked = [each.about for each in record.questions if each.field == "length_ft"]
    assert told["R-1"] == 42 or asked


@pytest.mark.parametrize(
    ("text", "one"), [("Run one falls 1.5 percent.", True), ("It is in; 40 feet", False), ("Done. 5 percent", False)]
)
def test_a_point_in_a_figure_ends_no_sentence(text, one):
    assert one_sentence(text) == one


def test_a_note_that_likely_puts_something_right_has_a_reading_of_no_words():
    model = Fake()
    model.mending = OF_NOTE + 0.1
    (one,) = Reader(lambda: model).read(0, "other way about")
    assert (one.what, one.start, one.end) == ("mends", 0, 0)
