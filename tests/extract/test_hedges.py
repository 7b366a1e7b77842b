"""A figure that its speaker was not sure of stands nowhere, or is asked about."""

import itertools

import pytest

from extract.assemble import assemble
from extract.record import Note

FRAMES = [
    "I think {thing} {is_} {value}.",
    "{thing} might be {value}.",
    "{thing} could be {value}.",
    "{thing} could be {other}, could be {value}.",
    "Didn't measure it, call {thing} {value}.",
    "{thing} {is_} a shade under {value}.",
    "{thing} {is_} a hair over {value}, don't quote me.",
    "Don't quote me but {thing} {is_} {value}.",
    "{thing} {is_} {value}, give or take.",
    "{thing} {is_} {value} or so.",
    "{thing} {is_} {value} I guess.",
    "If I remember right {thing} {is_} {value}.",
    "{thing} {is_} somewhere around {value}.",
    "{thing} {is_} {other} or {value}.",
    "{thing} {is_} between {other} and {value}.",
    "{thing} {is_} {value}, I'd have to check.",
    "{thing} {is_} {value}. I could be wrong.",
    "{thing} {is_} roughly {value}.",
    "I want to say {thing} {is_} {value}.",
    "{thing} looks like {value} to me.",
    "I'd say {thing} {is_} {value}.",
    "{thing} {is_} at least {value}.",
    "{thing} {is_} no more than {value}.",
    "{thing} {is_} up to {value}.",
    "By eye {thing} {is_} {value}.",
    "{thing} {is_} {value}, that's a guess.",
    "{thing} {is_} {value}, haven't measured it.",
    "Off the top of my head {thing} {is_} {value}.",
    "Pretty sure {thing} {is_} {value}.",
    "{thing} must be {value}.",
    "Mike says {thing} {is_} {value}.",
    "Supposedly {thing} {is_} {value}.",
    "{thing} {is_} {value} tops.",
    "{thing} {is_} something like {value}.",
]
FACTS = [
    ("run one", "is", "38 feet", "forty feet", "length_ft"),
    ("the drop on run one", "is", "five inches", "six inches", "drop_in"),
    ("cover on run one", "is", "fourteen inches", "sixteen inches", "cover_in"),
    ("the slope on run one", "is", "one percent", "two percent", "slope_pct"),
    ("run one", "is", "three inch", "four inch", "nominal_in"),
]
SAID = [
    pytest.param(frame.format(thing=thing, is_=is_, value=value, other=other), field, id=f"{number}-{field}")
    for (number, frame), (thing, is_, other, value, field) in itertools.product(enumerate(FRAMES), FACTS)
]


@pytest.mark.parametrize(("text", "field"), SAID)
def test_a_hedged_figure_is_asked_about_or_stands_nowhere(text, field):
    record = assemble([Note(text=text)])
    run = record.subject("R-1")
    stands = run is not None and getattr(run, field) is not None
    asked = [question.field for question in record.questions if question.about == "R-1"]
    assert not stands or field in asked or None in asked


@pytest.mark.parametrize(
    "text",
    [
        "I think run one is forty feet.",
        "Run one's about forty feet.",
        "Run one is forty feet. Don't quote me.",
        "Two 45s on run one, I think.",
        "Basin one rim is 98.2, I'm guessing.",
    ],
)
def test_a_hedge_is_the_reason_given(text):
    (question,) = [each for each in assemble([Note(text=text)]).questions if each.why != "missing"]
    assert question.why == "hedged"


def test_a_measure_said_later_settles_a_hedge():
    record = assemble([Note(text="I think run one is forty feet."), Note(text="Run one is thirty-eight feet.")])
    assert record.runs[0].length_ft == 38
    assert record.questions == []


def test_the_benchmark_is_given_its_height():
    record = assemble([Note(text="Backsight on the benchmark 4.85, call it 100.")])
    assert record.questions == []
