"""What a person types for a field: read by the grammar of measures and the trade's words, or refused in one line."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from extract.answers import answered
from extract.assemble import assemble
from extract.errors import UsageError
from extract.field_names import field_named
from extract.listed import listed
from extract.record import Note

RECORD = assemble(
    [
        Note(text=text)
        for text in (
            "Basin one is set, twelve by twelve.",
            "Basin two is set.",
            "Channel drain is in.",
            "Outlet one is a pop-up. It is in.",
            "Run one is in, from the channel to basin one, 20 feet.",
            "Run two is laid, 34 feet.",
            "Benchmark elevation 100. Backsight 4.32.",
            "Foresight on basin one rim 4.92 elevation 99.4.",
            "Hose test on run two, 8 minutes, 6 gallons a minute, passed.",
            "Roots in run two, we cleared them.",
            "Need to buy two couplings.",
        )
    ]
)


def read(subject: str, field: str, text: str):
    entry = RECORD.subject(subject) or listed(RECORD, subject)
    return answered(RECORD, entry, subject, field_named(entry, field), text)


@pytest.mark.parametrize(
    ("subject", "field", "text", "value"),
    [
        ("R-2", "length", "34 8", 34.6667),
        ("R-2", "length", "34 ft 8", 34.6667),
        ("R-2", "length", "34'8\"", 34.6667),
        ("R-2", "length", "416 in", 34.6667),
        ("R-2", "slope", "an eighth per foot", 1.0417),
        ("R-2", "slope", "1 in 96", 1.0417),
        ("R-2", "slope", "2", 2),
        ("R-2", "cover", "1 foot", 12),
        ("R-2", "size", "four inch", 4),
        ("CB-1", "size", "twelve by twelve", [12, 12]),
        ("CB-1", "size", "12 inch square", [12, 12]),
        ("CB-1", "invert", "98 42", 98.42),
        ("OUT-1", "invert", "97.1", 97.1),
        ("R-2", "from", "basin 2", "CB-2"),
        ("R-2", "from", "the channel", "CD-1"),
        ("R-2", "state", "it's in", "installed"),
        ("R-2", "pipe", "schedule 40", "Schedule 40"),
        ("R-2", "pieces", "10, 10 and 4 feet", [10, 10, 4]),
        ("R-2", "pieces", "10 10 4", [10, 10, 4]),
        ("R-2", "pieces", "10 10 4 feet", [10, 10, 4]),
        ("R-2", "pieces", "10 4", [10, 4]),
        ("R-2", "pieces", "thirty four feet", [34]),
        ("R-2", "pieces", "10 1 4", [10, 1, 4]),
        ("R-2", "pieces", "10 10 20", [10, 10, 20]),
        ("R-2", "pieces", "two tens and a four", [10, 10, 4]),
        ("R-2", "pieces", "two of ten and one of four", [10, 10, 4]),
        ("R-2", "pieces", "10 ft 6 in and 4", [10.5, 4]),
        ("R-2", "stations", "0 42", [0, 42]),
        ("R-2", "traffic", "trucks", "truck"),
        ("CB-1", "kind", "junction box", "junction_box"),
        ("CB-1", "areas", "600 square feet of roof", [{"sqft": 600, "surface": "roof"}]),
        ("test:1", "duration", "eight minutes", 480),
        ("test:1", "flow", "6 gpm", 6),
        ("test:1", "result", "it failed", "fail"),
        ("test:1", "at", "run 1", "R-1"),
        ("issue:1", "action", "left it", "left"),
        ("task:1", "count", "3", 3),
        ("level:1", "rod", "4 32", 4.32),
        ("level:2", "place", "basin 2 invert in", "CB-2 invert_in"),
        ("level:2", "place", "the incoming invert", "CB-1 invert_in"),
        ("level:2", "place", "rim", "CB-1 rim"),
        ("R-2", "fittings", "one 90", [{"kind": "elbow", "count": 1, "angle_deg": 90}]),
        ("R-2", "fittings", "none", []),
        ("R-2", "length", "none", None),
    ],
)
def test_plain_words(subject, field, text, value):
    assert read(subject, field, text) == (pytest.approx(value) if isinstance(value, float) else value)


@pytest.mark.parametrize(
    ("subject", "field", "text", "why"),
    [
        ("R-2", "pieces", "10104", "it can be 0.25 to 1000"),
        ("R-2", "pieces", "two bananas", "write it as"),
        ("R-2", "slope", "eighth", "say per what: an eighth per foot, or 1 percent"),
        ("R-2", "slope", "1/8", "say per what"),
        ("R-2", "slope", "a quarter inch", "say per what"),
        ("R-2", "slope", "50", "it can be 0 to 30"),
        ("R-2", "length", "-3", "it can be 0.25 to 1000"),
        ("R-2", "length", "4000", "it can be 0.25 to 1000"),
        ("R-2", "length", "40 or 50 feet", "two ways"),
        ("R-2", "length", "about 40", "write it as"),
        ("R-2", "length", "40 feet of bananas", "write it as"),
        ("R-2", "length", "", "write it as"),
        ("R-2", "length", "9" * 100_000, "at most 400 characters"),
        ("R-2", "bedding", "gravel " * 100, "at most 400 characters"),
        ("R-2", "size", "7", "it can be 1.25"),
        ("R-2", "fittings", "two 45s and a banana", "write it as"),
        ("R-2", "fittings", "45", "write it as"),
        ("R-2", "state", "not installed", "one of: planned"),
        ("R-2", "from", "basin 9", "it can be CB-1, CB-2"),
        ("CB-1", "size", "4 by 4", "it can be 6 to 60"),
        ("CB-1", "invert", "212", "more than 40 feet from every other elevation"),
        ("CB-1", "invert", "12", 'say "rod 12" for a rod reading, or "elevation 12"'),
        ("test:1", "duration", "8", "minutes or seconds"),
        ("test:1", "result", "camera", "one of: pass"),
        ("level:2", "rod", "none", "cannot be none"),
        ("R-2", "banana", "1", "its fields: from, to"),
    ],
)
def test_what_does_not_fit_is_refused(subject, field, text, why):
    with pytest.raises(UsageError, match=why):
        read(subject, field, text)


FIELDS = [
    *(("R-2", name) for name in ("length", "slope", "drop", "cover", "size", "pipe", "fittings", "from", "state")),
    *(("CB-1", name) for name in ("size", "rim", "invert", "depth", "kind", "areas", "traffic")),
    *(("test:1", name) for name in ("duration", "flow", "result", "at")),
    *(("level:1", name) for name in ("rod", "elevation", "place")),
]
TALK = "two 45s a wye 34 ft 8 in per foot eighth percent by basin run one not about minutes or and of 12 9.5 - ' / x"
WORDS = st.lists(st.sampled_from(TALK.split()), max_size=6).map(" ".join)


@settings(max_examples=400, deadline=None)
@given(where=st.sampled_from(FIELDS), text=st.one_of(st.text(max_size=60), WORDS))
def test_whatever_is_typed_fits_or_is_refused_in_one_line(where, text):
    subject, field = where
    entry = RECORD.subject(subject) or listed(RECORD, subject)
    name = field_named(entry, field)
    try:
        value = read(subject, field, text)
    except UsageError as why:
        refused = str(why)
    else:
        assert type(entry).model_validate(entry.model_dump(by_alias=True) | {name: value})
        refused = "taken"
    assert len(refused.splitlines()) == 1
    assert "pydantic" not in refused


def test_the_benchmarks_rod_may_be_emptied_and_its_elevation_stays():
    assert read("level:1", "rod", "none") is None
    given = assemble([Note(text="Benchmark elevation 100.")])
    for field, text, why in (
        ("elevation_ft", "none", "cannot be none"),
        ("point", "CB-1 rim", "it stays a backsight on the benchmark until its rod is read"),
        ("kind", "foresight", "it stays a backsight on the benchmark until its rod is read"),
    ):
        with pytest.raises(UsageError, match=why):
            answered(given, given.levels[0], "benchmark", field, text)
