"""Cautions by what was said and measured; none of them judges a trench."""

import re

import pytest

from extract.check import check
from extract.check.safety import client_cautions, safety_limits
from extract.record import Evidence, Finding, Issue, Note, Record, Run, Structure


def cautions(record: Record, *notes: str, overrides: dict[str, float] | None = None) -> list[Finding]:
    said = [Note(text=text) for text in notes] if notes else None
    return [each for each in check(record, overrides, notes=said) if each.check == "caution"]


def basin(**fields) -> Record:
    return Record(structures=[Structure.model_validate({"label": "CB-1", "kind": "catch_basin"} | fields)])


@pytest.mark.parametrize(
    ("depth_in", "count"),
    [(43.9, 0), (44, 1), (55.9, 1), (56, 2), (240, 2), (None, 0)],
)
def test_a_way_out_is_asked_for_from_four_feet_and_protection_from_five(depth_in, count):
    found = cautions(basin(state="installed", invert_depth_in=depth_in))
    assert len(found) == count
    assert all(each.outcome == "attention" for each in found)


def test_the_caution_gives_the_depth_the_rule_and_who_decides():
    way_out, walls = cautions(basin(state="installed", invert_depth_in=66))
    start = (
        "The invert of catch basin 1 is 5.5 feet down, and with 4 inches of bedding its trench is 5.83 feet deep or "
        "more."
    )
    assert way_out.message.startswith(f"{start} In a trench 4 feet deep or more a ladder")
    assert walls.message.startswith(f"{start} At 5 feet and more the walls must be sloped, shored or shielded")
    assert (walls.computed, walls.limit, walls.unit) == (5.8333, 5, "ft")
    assert "1926.651(c)(2)" in (way_out.source or "")
    assert "1926.652(a)(1)" in (walls.source or "")
    assert all("competent person" in each.message for each in (way_out, walls))


def test_a_depth_by_rim_and_invert_counts():
    found = cautions(basin(state="installed", rim_ft=100.0, invert_in_ft=95.9, invert_out_ft=95.5))
    assert len(found) == 1
    assert found[0].computed == 4.8333


def test_cover_and_pipe_count_for_a_run():
    (found,) = cautions(Record(runs=[Run(label="R-1", state="planned", cover_in=44, nominal_in=6)]))
    assert (found.subject, found.computed) == ("R-1", 4.5)


@pytest.mark.parametrize("state", ["existing", "abandoned", "removed"])
def test_what_was_there_before_was_not_dug_for(state):
    assert cautions(basin(state=state, invert_depth_in=90)) == []


@pytest.mark.parametrize(
    ("text", "count"),
    [
        ("The trench is five and a half feet deep by the garage.", 2),
        ("Trench here is 52 inches deep.", 1),
        ("We dug the hole four feet down.", 1),
        ("The trench is five feet.", 2),
        ("We dug a five foot trench.", 2),
        ("Dug five feet at the corner.", 2),
        ("Trench depth is six feet.", 2),
        ("The trench is five feet wide.", 0),
        ("The trench is forty feet.", 0),
        ("Dug five feet of it by hand.", 0),
        ("The trench is two feet deep.", 0),
        ("The trench is sixty feet long.", 0),
        ("Water was five feet deep in the creek.", 0),
    ],
)
def test_a_depth_said_of_the_trench_counts(text, count):
    found = cautions(Record(), text)
    assert len(found) == count
    assert all(each.subject == "job" and each.evidence[0].quote == text for each in found)


def test_only_the_deepest_place_is_told():
    record = basin(state="installed", invert_depth_in=50)
    record.structures.append(Structure(label="CB-2", kind="catch_basin", state="installed", invert_depth_in=55))
    (found,) = cautions(record)
    assert found.subject == "CB-2"


@pytest.mark.parametrize(
    "text",
    ["We saw-cut the walk this morning.", "Sawcutting the slab.", "Cut the concrete at the gate.", "Demo saw is out."],
)
def test_cutting_asks_for_water_and_names_the_respirator(text):
    (found,) = cautions(Record(), text)
    assert "water feed" in found.message
    assert "1926.1153" in (found.source or "")


@pytest.mark.parametrize("text", ["I never saw any of it.", "Cut the pipe at four feet.", "Walk was swept."])
def test_what_is_no_cutting_asks_for_nothing(text):
    assert cautions(Record(), text) == []


@pytest.mark.parametrize("text", ["Gas line crosses at the porch.", "Utilities are marked.", "Called 811 yesterday."])
def test_a_buried_line_asks_for_its_marks_and_the_zone(text):
    (found,) = cautions(Record(), text)
    assert "Within 24 inches of a mark, or whatever the local rule says" in found.message
    assert "811" in found.message
    assert "1926.651(b)" in (found.source or "")


def test_the_zone_is_the_states_to_set():
    (found,) = cautions(Record(), "Gas line at the porch.", overrides={"utility_zone_in": 18})
    assert "Within 18 inches" in found.message


def test_a_utility_met_is_a_buried_line_with_no_notes_at_hand():
    words = [Evidence(note=3, quote="Hit a wire.", confidence=1)]
    (found,) = cautions(Record(issues=[Issue(kind="utility", text="a wire", evidence=words)]))
    assert found.evidence == words


def test_what_the_record_quotes_is_read_where_there_are_no_notes():
    words = [Evidence(note=0, quote="Run one is in where we saw cut the walk.", confidence=1)]
    (found,) = cautions(Record(runs=[Run(label="R-1", evidence=words)]))
    assert "Cutting was spoken of" in found.message


@pytest.mark.parametrize(("traffic", "count"), [("truck", 1), ("car", 1), ("cart", 0), ("foot", 0), (None, 0)])
def test_vehicles_ask_for_care(traffic, count):
    found = cautions(Record(runs=[Run(label="R-1", traffic=traffic)]))
    assert len(found) == count
    assert all("Vehicles go over run 1." in each.message for each in found)


def test_a_record_with_nothing_to_go_by_gets_no_caution():
    assert cautions(basin(state="installed", invert_depth_in=18)) == []


def test_nothing_certifies_and_every_caution_can_be_read_aloud():
    record = basin(state="installed", invert_depth_in=70, traffic="truck")
    found = cautions(record, "Saw cut the walk by the gas line.")
    assert len(found) == 5
    texts = [*(each.message for each in found), *(each.text.format(made="notes") for each in client_cautions())]
    for text in texts:
        assert not re.search(r"\b(?:is|are|was) safe\b|\bcompl(?:ies|iant)\b|\bcertified\b", text), text
        assert "{" not in text
        assert text.endswith(".")
    assert all(limit.source for limit in safety_limits().values())


@pytest.mark.parametrize(
    "said", ["Dug the trench to 6 feet.", "Dug down 66 inches on run two.", "Basin two is six feet deep."]
)
def test_a_depth_said_in_other_words_counts(said):
    found = check(Record(), notes=[Note(text=said)])
    assert any(each.check == "caution" for each in found)


def test_a_measured_depth_comes_before_what_may_have_been_a_length():
    way_out, walls = cautions(basin(state="installed", invert_depth_in=66), "Dug fourteen feet for run one.")
    assert (way_out.subject, walls.subject) == ("CB-1", "CB-1")
    way_out, walls = cautions(basin(state="installed", invert_depth_in=50), "Dug fourteen feet for run one.")
    assert (way_out.subject, walls.subject) == ("CB-1", "job")
