"""What joins what, and whether a run can be rodded."""

import pytest

from extract.check import check
from extract.check.fit import mating
from extract.check.policy import load_policy
from extract.record import Finding, Fitting, Record, Run, Structure


def run(label: str, start: str, end: str, **fields) -> Run:
    return Run.model_validate({"label": label, "from": start, "to": end, "state": "installed"} | fields)


def found(record: Record, name: str, overrides: dict[str, float] | None = None) -> list[Finding]:
    return [each for each in check(record, overrides) if each.check == name]


def at_a_cleanout(lower: dict, upper: dict | None = None, kind: str = "cleanout", fittings=()) -> list[Finding]:
    """Two runs that meet: by default 4 inch SDR 35 comes in."""
    meet = Structure.model_validate({"label": "CO-1", "kind": kind, "state": "installed"})
    above = {"nominal_in": 4, "pipe": "SDR 35"} | (upper or {})
    runs = [run("R-1", "CB-1", "CO-1", fittings=list(fittings), **above), run("R-2", "CO-1", "OUT-1", **lower)]
    return found(Record(structures=[meet], runs=runs), "fit")


def test_pipe_of_another_outside_diameter_asks_for_an_adapter():
    (finding,) = at_a_cleanout({"nominal_in": 4, "pipe": "Schedule 40"})
    assert (finding.outcome, finding.subject) == ("attention", "R-2")
    assert finding.message == (
        "Run 1, 4 inch SDR 35, meets run 2, 4 inch Schedule 40: 4.215 against 4.5 inches outside; "
        "no adapter or transition coupling between them was said."
    )
    assert "D3034" in (finding.source or "")
    assert "D1785" in (finding.source or "")


@pytest.mark.parametrize(
    ("kind", "outcome", "words"),
    [
        ("adapter", "ok", "an adapter was counted for it"),
        ("increaser", "attention", "no adapter"),
        ("coupling", "attention", "nobody said that it is one made for the two"),
        ("elbow", "attention", "no adapter"),
    ],
)
def test_a_fitting_that_joins_the_two_settles_it(kind, outcome, words):
    (finding,) = at_a_cleanout({"nominal_in": 4, "pipe": "Schedule 40"}, fittings=[Fitting(kind=kind)])
    assert finding.outcome == outcome
    assert words in finding.message


def test_a_change_of_size_is_settled_by_an_increaser_and_not_by_a_reducer():
    wider = {"nominal_in": 6, "pipe": "Schedule 40"}
    assert at_a_cleanout(wider, fittings=[Fitting(kind="increaser")])[0].outcome == "ok"
    assert at_a_cleanout(wider, fittings=[Fitting(kind="reducer")])[0].outcome == "attention"


def test_one_adapter_settles_one_joint():
    ends = [Structure(label=f"CO-{n}", kind="cleanout", state="installed") for n in (1, 2)]
    middle = run("R-2", "CO-1", "CO-2", nominal_in=4, pipe="Schedule 40", fittings=[Fitting(kind="adapter")])
    sdr = {"nominal_in": 4, "pipe": "SDR 35"}
    record = Record(
        structures=ends, runs=[run("R-1", "CB-1", "CO-1", **sdr), middle, run("R-3", "CO-2", "OUT-1", **sdr)]
    )
    assert sorted(each.outcome for each in found(record, "fit")) == ["attention", "ok"]
    middle.fittings[0].count = 2
    assert [each.outcome for each in found(record, "fit")] == ["ok", "ok"]


def test_d2729_goes_onto_sdr_35_and_is_still_the_weaker_pipe():
    (finding,) = at_a_cleanout({"nominal_in": 4, "pipe": "D2729"})
    assert finding.outcome == "ok"
    assert "not of one strength: SDR 35 holds 46 psi and D2729 11" in finding.message


@pytest.mark.parametrize("kind", ["catch_basin", "junction_box", "channel_drain", "dry_well"])
def test_pipes_that_meet_in_a_basin_need_not_go_into_each_other(kind):
    assert at_a_cleanout({"nominal_in": 4, "pipe": "Schedule 40"}, kind=kind) == []


@pytest.mark.parametrize("lower", [{"nominal_in": 4}, {"pipe": "Schedule 40"}, {"nominal_in": 5, "pipe": "SDR 35"}])
def test_what_was_not_said_or_is_not_listed_is_not_judged(lower):
    assert at_a_cleanout(lower) == []


def test_a_run_that_ends_at_another_run_meets_it_pipe_to_pipe():
    runs = [
        run("R-1", "CB-1", "OUT-1", nominal_in=4, pipe="SDR 35"),
        run("R-2", "DS-1", "R-1", nominal_in=3, pipe="D2729"),
    ]
    (finding,) = found(Record(runs=runs), "fit")
    assert finding.message.startswith("Run 2, 3 inch D2729, meets run 1, 4 inch SDR 35: 3.25 against 4.215")


def test_corrugated_goes_only_onto_its_own():
    policy = load_policy()
    for other in ("SDR 35", "dual-wall", "D2729"):
        assert mating("corrugated", 4, other, 4, policy).mates is False
    assert mating("corrugated", 4, "corrugated", 4, policy).mates is True
    assert mating("corrugated", 4, "corrugated", 6, policy).mates is False


def test_a_fitting_of_another_size_than_its_run_asks_for_a_reducer():
    elbow = Fitting(kind="elbow", nominal_in=3, angle_deg=45)
    odd = run("R-1", "CB-1", "CB-2", nominal_in=4, fittings=[elbow])
    (finding,) = found(Record(runs=[odd]), "fit")
    assert finding.message == "Run 1 is 4 inch pipe with a 3 inch elbow in it, and no reducer or increaser was said."
    odd.fittings.append(Fitting(kind="increaser", nominal_in=3, to_nominal_in=4))
    assert found(Record(runs=[odd]), "fit") == []


def test_a_sleeve_or_a_reducing_wye_is_no_odd_fitting():
    fittings = [Fitting(kind="sleeve", nominal_in=6), Fitting(kind="wye", nominal_in=4, to_nominal_in=3)]
    assert found(Record(runs=[run("R-1", "CB-1", "CB-2", nominal_in=4, fittings=fittings)]), "fit") == []


@pytest.mark.parametrize(("size", "asked"), [(4, 1), (3, 0)])
def test_a_pop_up_of_another_size_than_its_pipe_asks_for_an_increaser(size, asked):
    pop_up = Structure(label="OUT-1", kind="popup_outlet", state="installed", size_in=[size])
    record = Record(structures=[pop_up], runs=[run("R-1", "CB-1", "OUT-1", nominal_in=3)])
    assert len(found(record, "fit")) == asked


# -- cleanouts


def between(upper: str = "catch_basin", lower: str = "catch_basin", **fields) -> Record:
    ends = [
        Structure.model_validate({"label": label, "kind": kind, "state": "installed"})
        for label, kind in (("A-1", upper), ("B-1", lower))
    ]
    return Record(structures=ends, runs=[run("R-1", "A-1", "B-1", **fields)])


def bends(*angles: float) -> list[Fitting]:
    return [Fitting(kind="elbow", angle_deg=angle) for angle in angles]


@pytest.mark.parametrize(("length", "asked"), [(100, 0), (101, 1)])
def test_a_run_longer_than_the_spacing_asks_for_a_cleanout(length, asked):
    assert len(found(between(length_ft=length), "cleanout")) == asked


def test_the_finding_gives_its_numbers_and_where_they_come_from():
    (finding,) = found(between(length_ft=120), "cleanout")
    assert finding.message == "Run 1 is 120 feet long with no cleanout in it; a way in is asked for every 100 feet."
    assert (finding.computed, finding.limit, finding.unit) == (120, 100, "ft")
    assert finding.source == "International Plumbing Code, 2018 and 2021, 708.1.1, from memory"


def test_a_cleanout_of_its_own_halves_the_length():
    cleanout = [Fitting(kind="cleanout", count=1)]
    assert found(between(length_ft=190, fittings=cleanout), "cleanout") == []
    (finding,) = found(between(length_ft=210, fittings=cleanout), "cleanout")
    assert "with one cleanout in it" in finding.message


def test_a_local_rule_takes_the_place_of_the_model_code():
    (finding,) = found(between(length_ft=60), "cleanout", {"cleanout_spacing_ft": 50})
    assert (finding.limit, finding.source) == (50, "company policy")


def test_large_pipe_is_reached_by_manholes():
    assert found(between(length_ft=300, nominal_in=10), "cleanout") == []
    assert found(between(length_ft=300, nominal_in=8), "cleanout") != []


def test_a_sharp_bend_out_of_reach_asks_for_a_cleanout():
    (finding,) = found(between(length_ft=81, fittings=bends(90)), "cleanout")
    assert finding.message == (
        "Run 1 has a bend of 90 degrees in 81 feet and no cleanout of its own; "
        "one is asked for within 40 feet of a turn of more than 45 degrees."
    )
    assert (finding.computed, finding.limit) == (90, 45)


@pytest.mark.parametrize(
    ("fields", "asked"),
    [
        ({"length_ft": 80, "fittings": bends(90)}, 0),
        ({"length_ft": 81, "fittings": bends(45, 45)}, 0),
        ({"length_ft": 81, "fittings": bends(45, 45, 22.5)}, 1),
        ({"length_ft": 41, "fittings": bends(90), "upper": "downspout"}, 1),
        ({"length_ft": 40, "fittings": bends(90), "upper": "downspout"}, 0),
        ({"length_ft": 90, "fittings": [*bends(90), Fitting(kind="cleanout")]}, 0),
        ({"fittings": bends(90, 90, 90)}, 0),
    ],
)
def test_when_bends_ask_for_a_cleanout(fields, asked):
    assert len(found(between(**fields), "cleanout")) == asked


def test_many_small_bends_are_told_by_their_sum():
    (finding,) = found(between(length_ft=90, fittings=bends(45, 45, 45)), "cleanout")
    assert "has bends of 135 degrees in all" in finding.message
    assert (finding.computed, finding.limit) == (135, 90)


def test_a_fitting_of_other_sizes_is_none_for_the_joint():
    odd = Fitting(kind="increaser", nominal_in=2, to_nominal_in=3)
    (finding,) = at_a_cleanout({"nominal_in": 6, "pipe": "SDR 35"}, fittings=[odd])
    assert finding.outcome == "attention"
