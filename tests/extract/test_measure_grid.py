"""Every way of saying a measure, in every sentence that gives one: what is right, wrong and unasked, or lost.

A pattern grid: the phrases of each kind of measure are crossed with the sentences that take that kind. Of feet and
inches every third is read, and all with `FALLBOOK_WHOLE=1`.
"""

import os
from collections import Counter

import pytest
from num2words import num2words

from extract.assemble import assemble
from extract.record import Note


def words(number: int) -> str:
    return num2words(number).replace(",", "")


def feet() -> dict[str, float]:
    found = {}
    for whole in (6, 13, 21, 34, 48, 60, 77, 104):
        found |= {
            f"{whole} feet": whole,
            f"{whole} ft": whole,
            f"{whole}'": whole,
            f"{words(whole)} feet": whole,
            f"{words(whole)} foot": whole,
            f"{whole}.5 feet": whole + 0.5,
            f"{words(whole)} point two five feet": whole + 0.25,
            f"{words(whole)} and a half feet": whole + 0.5,
            f"{whole} 1/2 ft": whole + 0.5,
            f"{words(whole)} and three quarter feet": whole + 0.75,
            f"{words(whole)} feet and a half": whole + 0.5,
        }
        for inches in (2, 8, 11):
            found |= {
                f"{whole} ft {inches} in": whole + inches / 12,
                f"{whole}'{inches}\"": whole + inches / 12,
                f"{words(whole)} feet {words(inches)} inches": whole + inches / 12,
                f"{words(whole)} foot {words(inches)}": whole + inches / 12,
                f"{words(whole)} feet and {words(inches)} inches": whole + inches / 12,
                f"{words(whole)} feet {words(inches)} and a quarter inches": whole + (inches + 0.25) / 12,
            }
    found |= {"two yards and one foot": 7, "eleven yards": 33, "12.2 meters": 12.2 / 0.3048}
    found |= {"ten metres": 10 / 0.3048, "three metres and forty centimetres": 3.4 / 0.3048}
    found |= {"a hundred and twelve feet": 112, "one hundred and three quarter feet": 100.75}
    return found


def inches() -> dict[str, float]:
    found = {}
    for whole in (4, 9, 12, 16, 23):
        found |= {
            f"{whole} inches": whole,
            f'{whole}"': whole,
            f"{words(whole)} inches": whole,
            f"{words(whole)} and a half inches": whole + 0.5,
            f"{whole}.25 inches": whole + 0.25,
            f"{whole} 3/4 inches": whole + 0.75,
            f"{words(whole)} and three eighths inches": whole + 0.375,
            f"{words(whole)} inches and a quarter": whole + 0.25,
        }
    found |= {"a foot": 12, "a foot and a half": 18, "one foot two inches": 14, "a foot and two inches": 14}
    return found | {"thirty centimetres": 30 / 2.54, "250 mm": 250 / 25.4}


SLOPES = {
    "one percent": 1,
    "1.5 percent": 1.5,
    "two percent": 2,
    "a percent and a half": 1.5,
    "one and a quarter percent": 1.25,
    "point eight percent": 0.8,
    "0.75%": 0.75,
    "an eighth per foot": 100 / 96,
    "an eighth inch per foot": 100 / 96,
    "a quarter inch per foot": 100 / 48,
    "a quarter a foot": 100 / 48,
    '1/8" per foot': 100 / 96,
    '1/4" to the foot': 100 / 48,
    "three eighths of an inch per foot": 100 / 32,
    "one-fourth of an inch per foot": 100 / 48,
    "1 in 80": 1.25,
    "one in fifty": 2,
    "1:100": 1,
    "three sixteenths to the foot": 100 / 64,
}
HEIGHTS = {
    "98.42": 98.42,
    "ninety-eight forty-two": 98.42,
    "ninety-eight point four two": 98.42,
    "ninety-seven oh five": 97.05,
    "97.5": 97.5,
    "ninety-nine and a half": 99.5,
    "one hundred point two": 100.2,
    "a hundred and one point three five": 101.35,
    "101.35 ft": 101.35,
}
RODS = {
    "5.44": 5.44,
    "five forty-four": 5.44,
    "five point four four": 5.44,
    "four oh six": 4.06,
    "4.85": 4.85,
    "six point o eight": 6.08,
    "twelve twenty": 12.2,
    "11.07": 11.07,
}
COUNTS = {"two": 2, "three": 3, "a couple of": 2, "a pair of": 2, "4": 4, "half a dozen": 6, "a dozen": 12, "five": 5}
TIMES = {
    "ten minutes": 600,
    "10 min": 600,
    "fifteen minutes": 900,
    "half an hour": 1800,
    "an hour": 3600,
    "an hour and a half": 5400,
    "one hour thirty": 5400,
    "a minute and a half": 90,
    "ninety seconds": 90,
    "two minutes thirty seconds": 150,
    "20 mins": 1200,
}
FLOWS = {"six gallons a minute": 6, "5 gpm": 5, "five and a half gallons per minute": 5.5, "8 gal per minute": 8}
SIZES = {"four-inch": 4, "4 inch": 4, '4"': 4, "three-inch": 3, "6 in": 6, "6in": 6, "six inch": 6, "8-inch": 8}
GRID = [
    ("length_ft", "R-1", "Run one is {} long.", feet()),
    ("length_ft", "R-1", "Run one came out {}.", feet()),
    ("length_ft", "R-1", "Run one is in. It's {}.", feet()),
    ("length_ft", "R-1", "We laid {} of pipe on run one.", feet()),
    ("length_ft", "R-1", "Run one measured {}.", feet()),
    ("length_ft", "CD-1", "Channel drain one is {} long.", feet()),
    ("length_ft", "R-1", "The length of run one is {}.", feet()),
    ("length_ft", "R-1", "Taped run one at {}.", feet()),
    ("length_ft", "R-1", "Run one's done, {} of it.", feet()),
    ("length_ft", "R-1", "Basin one to basin two is run one and that's {}.", feet()),
    ("length_ft", "R-1", "Run one, {}, four-inch.", feet()),
    ("cover_in", "R-1", "There's {} over the pipe on run one.", inches()),
    ("cover_in", "R-1", "Backfilled run one with {} of cover on it.", inches()),
    ("drop_in", "R-1", "From end to end run one loses {}.", inches()),
    ("drop_in", "R-1", "Run one, total fall {}.", inches()),
    ("slope_pct", "R-1", "Pitch on run one is {}.", SLOPES),
    ("slope_pct", "R-1", "The level says run one's {}.", SLOPES),
    ("invert_out_ft", "CB-1", "Coming out of basin one it's {}.", HEIGHTS),
    ("rim_ft", "CB-1", "Grate on basin one sits at {}.", HEIGHTS),
    ("rod", "CB-1 invert_in", "Rod reads {} on the invert coming into basin one.", RODS),
    ("cover_in", "R-1", "Cover on run one is {}.", inches()),
    ("cover_in", "R-1", "We've got {} of cover on run one.", inches()),
    ("cover_in", "R-1", "Run one has {} of cover.", inches()),
    ("cover_in", "R-1", "Run one, cover {}.", inches()),
    ("drop_in", "R-1", "Run one drops {}.", inches()),
    ("drop_in", "R-1", "The drop on run one is {}.", inches()),
    ("drop_in", "R-1", "Run one falls {} end to end.", inches()),
    ("invert_depth_in", "CB-1", "Basin one is {} down to the invert.", inches()),
    ("invert_depth_in", "CB-1", "Basin one's invert is {} below the rim.", inches()),
    ("slope_pct", "R-1", "The slope on run one is {}.", SLOPES),
    ("slope_pct", "R-1", "Run one's at {}.", SLOPES),
    ("slope_pct", "R-1", "Run one is laid at {}.", SLOPES),
    ("slope_pct", "R-1", "Run one slopes {}.", SLOPES),
    ("rim_ft", "CB-1", "The rim on basin one is {}.", HEIGHTS),
    ("rim_ft", "CB-1", "Basin one, rim {}.", HEIGHTS),
    ("invert_out_ft", "CB-1", "The invert out of basin one is {}.", HEIGHTS),
    ("invert_in_ft", "CB-1", "Basin one's invert in is {}.", HEIGHTS),
    ("invert_in_ft", "OUT-1", "The invert of outlet one is {}.", HEIGHTS),
    ("rod", "CB-1 rim", "Foresight on basin one rim, {}.", RODS),
    ("rod", "benchmark", "Backsight on the benchmark {}.", RODS),
    ("rod", "CB-1 invert_out", "Rod on the basin one invert is {}.", RODS),
    ("count", "R-1", "We used {} 45s on run one.", COUNTS),
    ("count", "R-1", "Run one has {} 45s.", COUNTS),
    ("duration_s", "R-1", "Hose test on run one, {}, pass.", TIMES),
    ("duration_s", "R-1", "Ran the hose test on run one for {} and it passed.", TIMES),
    ("flow_gpm", "R-1", "Hose test on run one, ten minutes at {}, pass.", FLOWS),
    ("nominal_in", "R-1", "Run one is {} SDR 35.", SIZES),
    ("nominal_in", "R-1", "Run one is in, {} Schedule 40.", SIZES),
]
CASES = [
    (field, about, frame.format(phrase), value)
    for field, about, frame, phrases in GRID
    for phrase, value in phrases.items()
]
READ = (
    CASES
    if "FALLBOOK_WHOLE" in os.environ
    else [
        (field, about, frame.format(phrase), value)
        for row, (field, about, frame, phrases) in enumerate(GRID)
        for place, (phrase, value) in enumerate(phrases.items())
        if len(phrases) < 20 or (row + place) % 3 == 0
    ]
)
"""Another third in each sentence than in the one before, so that every phrase is read in some and every sentence with
all kinds of them. Short lists stand in too few sentences for that, and are read whole."""


def stands(record, field, about):
    if field == "rod":
        return next((level.rod_ft for level in record.levels if level.point == about), None)
    if field in ("duration_s", "flow_gpm"):
        return next((getattr(test, field) for test in record.tests if test.at == about), None)
    entry = record.subject(about)
    if entry is None:
        return None
    if field == "count":
        return sum(each.count for each in entry.fittings if each.angle_deg == 45) or None
    return getattr(entry, field)


def outcome(field, about, text, value) -> str:
    record = assemble([Note(text=text)])
    told = {"rod": "rod_ft", "count": "fittings"}.get(field, field)
    asked = any(q.about == about and q.field in (told, None) for q in record.questions)
    found = stands(record, field, about)
    if found is not None and abs(found - value) < 0.001:
        return "asked though right" if asked else "right"
    return "asked" if asked else "lost" if found is None else "silent"


@pytest.fixture(scope="module")
def outcomes():
    return [(outcome(*case), case) for case in READ]


def test_the_grid_is_large():
    assert len({text for _, _, text, _ in CASES}) >= 2500


def test_no_measure_is_wrong_or_lost_without_a_question(outcomes):
    assert [case for what, case in outcomes if what in ("silent", "lost")] == []


def test_nearly_all_are_right_and_few_asked_about(outcomes):
    counts = Counter(what for what, _ in outcomes)
    assert counts["right"] >= 0.96 * len(outcomes), counts
