"""Cautions against the federal rules and the one-call rules they are taken from."""

import pytest
from test_check_outside import ROWS, agrees

from extract.check import check
from extract.check.policy import load_policy
from extract.check.safety import client_cautions, safety_limits
from extract.record import Finding, Note, Record, Structure

pytestmark = pytest.mark.outside


def cautions(*notes: str, depth_in: float | None = None) -> list[Finding]:
    hole = Structure(label="CB-1", kind="catch_basin", state="installed", invert_depth_in=depth_in)
    found = check(Record(structures=[hole]), notes=[Note(text=text) for text in notes])
    return [each for each in found if each.check == "caution"]


@pytest.mark.parametrize(
    ("row_id", "limit"),
    [
        ("SAFE-001", "exit_depth_ft"),
        ("SAFE-002", "exit_travel_ft"),
        ("SAFE-003", "setback_ft"),
        ("SAFE-004", "walls_depth_ft"),
        ("SAFE-005", "slope_h_per_v"),
        ("SAFE-006", "locate_wait_h"),
        ("SAFE-007", "engineer_depth_ft"),
        ("SAFE-008", "walkway_depth_ft"),
    ],
)
def test_limits_of_osha_excavation_rules(row_id, limit):
    found = safety_limits()[limit]
    assert agrees(row_id, found.value)
    assert found.read == ROWS[row_id]["provenance"]
    assert found.source.removeprefix("29 CFR ").split("(")[0] in ROWS[row_id]["source"]


def test_the_two_triggers_differ():
    """A way out from 4 ft, protection from cave-in from 5 ft, as at 1926.651(c)(2) and 1926.652(a)(1)."""
    out, walls = (float(ROWS[row_id]["expected"]) for row_id in ("SAFE-001", "SAFE-004"))
    bedding = load_policy()["bedding_in"]
    assert [len(cautions(depth_in=ft * 12 - bedding)) for ft in (out - 0.01, out, walls - 0.01, walls)] == [0, 1, 1, 2]


def test_silica_table_1_as_told_to_the_crew():
    (found,) = cautions("We saw cut the walk.")
    handheld, longer, indoors = (ROWS[row_id]["expected"] for row_id in ("SAFE-020", "SAFE-021", "SAFE-022"))
    assert (handheld, longer, indoors) == ("none", "APF 10", "APF 10")
    factor = f"{safety_limits()['saw_apf'].value:g}"
    hours = f"{safety_limits()['saw_hours'].value:g}"
    assert f"<={hours} h" in ROWS["SAFE-020"]["inputs"]
    assert f">{hours} h" in ROWS["SAFE-021"]["inputs"]
    assert longer.endswith(factor)
    assert (
        f"With a handheld saw outdoors no respirator is asked for up to {hours} hours a day; "
        f"for longer, or indoors, one of protection factor {factor}." in found.message
    )
    assert (ROWS["SAFE-023"]["expected"], ROWS["SAFE-024"]["expected"]) == ("none", f"APF {factor}")
    assert f"With a walk-behind saw outdoors none; indoors {factor} as well." in found.message
    assert "water feed" in ROWS["SAFE-025"]["expected"]
    assert "the saw's own water feed as its maker says" in found.message


def test_silica_housekeeping():
    (found,) = cautions("We saw cut the walk.")
    assert "1926.1153(f)(1)" in ROWS["SAFE-026"]["source"]
    assert "1926.1153(f)(2)" in ROWS["SAFE-027"]["source"]
    assert "No dry sweeping and no compressed air where it puts dust up." in found.message
    assert "(f)(1) and (f)(2)" in (found.source or "")


@pytest.mark.parametrize("row_id", ["SAFE-030", "SAFE-031", "SAFE-032", "SAFE-033", "SAFE-034", "SAFE-035"])
def test_the_zone_beside_a_mark_is_the_larger_of_the_one_call_rules(row_id):
    assert load_policy()["utility_zone_in"] >= float(ROWS[row_id]["expected"])


def test_the_default_zone_is_one_that_was_seen_and_the_others_are_told():
    zone = load_policy().limits["utility_zone_in"]
    assert agrees("SAFE-033", zone.value)
    assert agrees("SAFE-034", zone.value)
    assert agrees("SAFE-035", zone.value)
    assert f"{float(ROWS['SAFE-030']['expected']):g} in by Common Ground Alliance" in zone.why
    for place in ("Mississippi", "Massachusetts", "New Hampshire", "Maine"):
        assert place in zone.why
        assert any(place in ROWS[row_id]["inputs"] for row_id in ("SAFE-031", "SAFE-032"))


def test_the_clients_caution_has_the_same_numbers():
    """One text for the client, one for the crew, out of one file: what both say must not differ."""
    limits = {name: f"{limit.value:g}" for name, limit in safety_limits().items()}
    (text,) = [each.text for each in client_cautions() if each.name == "walls"]
    assert f"within {limits['exit_travel_ft']} ft" in text
    assert f"a trench {limits['exit_depth_ft']} ft deep or more" in text
    assert f"less than {limits['walls_depth_ft']} ft deep" in text
