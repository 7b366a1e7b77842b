"""What became of each number; no sentence here is of the corpus of talk."""

import pytest
from extract_readings import BASIN, HOSE, PIPE, ROD, asked, record, say

LENGTH = {"thing": "R.1"}


def fates(got):
    return [(each.text, each.went, each.to, each.reason) for each in got.numbers]


def test_a_number_that_stands_tells_where():
    got = record(
        say("the pipe is 40 feet", PIPE, ("40 feet", "length_ft", LENGTH)),
        say("the basin reads 4.2 feet", BASIN, ("4.2 feet", "rod_ft", ROD)),
        say("ran the hose 5 minutes", HOSE, ("5 minutes", "duration_s", {"thing": "T.1"})),
        say("50 bucks", ("50", "money")),
    )
    assert fates(got)[:3] == [
        ("40 feet", "field", "R-1.length_ft", None),
        ("4.2 feet", "field", "levels", None),
        ("5 minutes", "field", "tests", None),
    ]


@pytest.mark.parametrize(
    ("second", "standing", "fate"),
    [
        ("40 feet", "", [("40 feet", "field"), ("40 feet", "restated")]),
        ("42 feet", "corrects", [("40 feet", "withdrawn"), ("42 feet", "field")]),
        ("42 feet", "hearsay", [("40 feet", "field"), ("42 feet", "question")]),
        ("42 feet", "hypothetical", [("40 feet", "field"), ("42 feet", "question")]),
        ("42 feet", "planned", [("40 feet", "field"), ("42 feet", "not_fact")]),
        ("42 feet", "implausible", [("40 feet", "withdrawn"), ("42 feet", "question")]),
    ],
)
def test_what_a_second_value_makes_of_the_first(second, standing, fate):
    got = record(
        say("the pipe is 40 feet", PIPE, ("40 feet", "length_ft", LENGTH)),
        say(second, (second, "length_ft", LENGTH | {"standing": standing})),
    )
    assert [each[:2] for each in fates(got)] == fate


def test_a_planned_length_of_what_was_built_is_no_fact():
    got = record(
        say("the pipe will be 40 feet", PIPE, ("40 feet", "length_ft", LENGTH | {"standing": "planned"})),
        say("it's in", ("in", "state", {"name": "installed", "thing": "R.1"})),
    )
    assert fates(got) == [("40 feet", "not_fact", None, None)]


def test_a_measure_of_nothing_known_is_asked_about():
    got = record(say("it's 40 feet", ("40 feet", "length_ft")))
    assert fates(got) == [("40 feet", "question", "job.length_ft", None)]
    assert ("job", "length_ft", "low_confidence") in asked(got)


def test_a_measure_inside_other_words_than_a_name_is_asked_about():
    held = ("held 40 feet", "state", {"name": "installed", "thing": "R.1"})
    got = record(say("the pipe held 40 feet", PIPE, held, ("40 feet", "none")))
    assert fates(got) == [("40 feet", "question", "job", None)]
    assert ("job", None, "low_confidence") in asked(got)


def test_a_number_that_a_name_cuts_is_listed():
    pipe = ("pipe 3", "mention", {"name": "R", "thing": "R.1"})
    assert fates(record(say("pipe 3/4", pipe, ("3/4", "none")))) == [("3/4", "irrelevant", None, "other")]


def test_a_bare_number_inside_other_words_than_a_name_is_listed():
    held = ("held 40", "state", {"name": "installed", "thing": "R.1"})
    got = record(say("the pipe held 40", PIPE, held, ("40", "none")))
    assert fates(got) == [("40", "irrelevant", None, "other")]


@pytest.mark.parametrize(("sure", "listed"), [(0.95, []), (0.4, [("0", "irrelevant", None, "name")])])
def test_a_number_that_is_hardly_a_name_is_listed(sure, listed):
    assert fates(record(say("lateral 0", ("0", "name", {"sure": sure})))) == listed


@pytest.mark.parametrize(("sure", "went"), [(0.95, "irrelevant"), (0.4, "question")])
def test_a_measure_is_of_other_things_only_where_that_is_sure(sure, went):
    got = record(say("it's 40 feet", ("40 feet", "tool", {"sure": sure})))
    assert [each.went for each in got.numbers] == [went]


@pytest.mark.parametrize(("what", "reason"), [("weather", "weather"), ("name_of", "name"), ("other", "other")])
def test_a_number_of_other_things_has_its_reason(what, reason):
    assert fates(record(say("5 of them", ("5", what)))) == [("5", "irrelevant", None, reason)]


def test_a_number_in_the_words_of_an_entry_stands_in_its_text():
    got = record(
        say("rock 30 feet in", ("rock 30 feet in", "issue", {"name": "rock", "thing": "I.1"}), ("30 feet", "text"))
    )
    assert fates(got) == [("30 feet", "text", "issues", None)]


def test_the_number_of_a_name_is_none():
    assert fates(record(say("basin 2", ("2", "name")))) == []
