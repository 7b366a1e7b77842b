"""Where water enters, where it leaves, and whether it gets there."""

import pytest

from extract.check import check
from extract.record import Fitting, Record, Run, Structure

KINDS = {
    "CD": "channel_drain",
    "CB": "catch_basin",
    "DS": "downspout",
    "JB": "junction_box",
    "CO": "cleanout",
    "DW": "dry_well",
    "OUT": "daylight_outlet",
}


def structure(label: str, state: str | None = "installed", **said) -> Structure:
    return Structure.model_validate({"label": label, "kind": KINDS[label.split("-")[0]], "state": state, **said})


def run(label: str, upper: str | None, lower: str | None, state: str | None = "installed", **said) -> Run:
    return Run.model_validate({"label": label, "from": upper, "to": lower, "state": state, **said})


def record(structures: list[str | Structure], *runs: Run) -> Record:
    return Record(structures=[structure(s) if isinstance(s, str) else s for s in structures], runs=list(runs))


def outcomes(name: str, site: Record) -> dict[str, str]:
    return {f.subject: f.outcome for f in check(site) if f.check == name}


def message(name: str, subject: str, site: Record) -> str:
    (found,) = [f for f in check(site) if f.check == name and f.subject == subject]
    return found.message


def test_every_inlet_that_reaches_an_outlet_is_ok_and_says_which():
    site = record(["CD-1", "CB-1", "OUT-1"], run("R-1", "CD-1", "CB-1"), run("R-2", "CB-1", "OUT-1", "existing"))
    assert outcomes("reaches_outlet", site) == {"CD-1": "ok", "CB-1": "ok"}
    assert message("reaches_outlet", "CD-1", site) == "Channel drain 1 drains to outlet 1."


def test_a_dry_well_is_an_outlet():
    assert outcomes("reaches_outlet", record(["CB-1", "DW-1"], run("R-1", "CB-1", "DW-1"))) == {"CB-1": "ok"}


def test_two_outlets_from_one_basin_are_both_named():
    site = record(["CB-1", "OUT-1", "OUT-2"], run("R-1", "CB-1", "OUT-1"), run("R-2", "CB-1", "OUT-2"))
    assert message("reaches_outlet", "CB-1", site) == "Catch basin 1 drains to outlet 1 and outlet 2."


def test_an_installed_inlet_with_no_run_out_fails_and_an_existing_one_wants_a_look():
    site = record(["CB-1", structure("CB-2", "existing"), "OUT-1"])
    assert outcomes("reaches_outlet", site) == {"CB-1": "fail", "CB-2": "attention"}


def test_a_way_that_stops_at_a_junction_box_fails_there():
    site = record(["CB-1", "JB-1"], run("R-1", "CB-1", "JB-1"))
    assert outcomes("reaches_outlet", site) == {"CB-1": "fail", "JB-1": "fail"}
    assert "gets as far as junction box 1" in message("reaches_outlet", "CB-1", site)


def test_a_run_whose_lower_end_nobody_said_is_unknown():
    site = record(["CB-1"], run("R-1", "CB-1", None))
    assert outcomes("reaches_outlet", site) == {"CB-1": "unknown"}
    assert outcomes("run_ends", site) == {"R-1": "unknown"}


def test_an_outlet_that_nothing_runs_to_wants_a_look():
    site = record(["CB-1", "OUT-1", "OUT-2"], run("R-1", "CB-1", "OUT-1"))
    assert outcomes("reaches_outlet", site)["OUT-2"] == "attention"


def test_what_is_abandoned_or_removed_is_left_out():
    gone = [structure("CB-1", "removed"), structure("OUT-1", "abandoned")]
    assert check(record(gone, run("R-1", "CB-1", "OUT-1", "abandoned"))) == []


def test_a_live_run_to_a_removed_structure_fails():
    site = record(["CB-1", structure("CB-2", "removed")], run("R-1", "CB-1", "CB-2"))
    assert outcomes("run_ends", site) == {"R-1": "fail"}
    assert "which is removed" in message("run_ends", "R-1", site)


def test_a_run_to_a_structure_the_record_does_not_hold_fails():
    site = record(["CB-1"], run("R-1", "CB-1", "OUT-9"))
    assert outcomes("run_ends", site) == {"R-1": "fail"}
    assert outcomes("reaches_outlet", site) == {"CB-1": "fail"}


def test_what_is_planned_is_named_as_planned_and_fails_nothing():
    planned = [structure("CB-2", "planned"), structure("OUT-2", "planned")]
    site = record(planned, run("R-4", "CB-2", "OUT-2", "planned"))
    assert {(f.check, f.outcome) for f in check(site)} == {("planned", "attention")}
    assert message("planned", "R-4", site) == "Run 4 is planned, not built."


def test_an_inlet_that_drains_to_a_planned_outlet_wants_a_look():
    site = record(["CB-1", structure("OUT-1", "planned")], run("R-1", "CB-1", "OUT-1"))
    assert outcomes("reaches_outlet", site) == {"CB-1": "attention"}


def test_a_loop_fails_once_and_ends_of_one_run_at_one_place_fail_too():
    runs = [run("R-1", "CB-1", "CB-2"), run("R-2", "CB-2", "CB-1"), run("R-3", "JB-1", "JB-1")]
    site = record(["CB-1", "CB-2", "JB-1"], *runs)
    assert outcomes("loop", site) == {"CB-1": "fail"}
    assert outcomes("run_ends", site)["R-3"] == "fail"
    assert outcomes("reaches_outlet", site)["CB-1"] == "fail"


def test_a_run_out_of_an_outlet_wants_a_look():
    site = record(["CB-1", "OUT-1"], run("R-1", "OUT-1", "CB-1"))
    assert outcomes("run_ends", site) == {"R-1": "attention"}


@pytest.mark.parametrize(("into", "out", "outcome"), [(97.1, 96.92, "ok"), (96.92, 96.92, "ok"), (96.5, 96.92, "fail")])
def test_the_incoming_invert_lies_above_the_outgoing_one(into, out, outcome):
    site = record([structure("CB-1", invert_in_ft=into, invert_out_ft=out)])
    (found,) = [f for f in check(site) if f.check == "in_above_out"]
    assert (found.outcome, found.computed) == (outcome, pytest.approx(into - out))


def test_inverts_not_said_at_a_structure_in_the_line_are_unknown():
    basin = structure("CB-1", invert_out_ft=96.92)
    site = record(["CD-1", basin, "OUT-1"], run("R-1", "CD-1", "CB-1"), run("R-2", "CB-1", "OUT-1"))
    assert outcomes("in_above_out", site) == {"CB-1": "unknown"}
    assert "for the incoming invert" in message("in_above_out", "CB-1", site)


@pytest.mark.parametrize(("above", "below", "outcome"), [(3, 4, "ok"), (4, 4, "ok"), (6, 4, "fail")])
def test_pipe_is_not_made_smaller_downstream(above, below, outcome):
    runs = [run("R-1", "CD-1", "CB-1", nominal_in=above), run("R-2", "CB-1", "OUT-1", nominal_in=below)]
    assert outcomes("pipe_size", record(["CD-1", "CB-1", "OUT-1"], *runs)) == {"R-2": outcome}


def test_a_reducer_in_a_run_wants_a_look():
    site = record(["CB-1", "OUT-1"], run("R-1", "CB-1", "OUT-1", fittings=[Fitting(kind="reducer")]))
    assert outcomes("pipe_size", site) == {"R-1": "attention"}


def test_two_entries_of_one_label_fail():
    record = Record(runs=[Run(label="R-1", state="installed"), Run(label="R-1", state="installed")])
    assert [each.outcome for each in check(record) if each.check == "label"] == ["fail"]


def test_an_outlet_whose_kind_nobody_said_is_one_by_its_label():
    site = record(["CB-1", Structure(label="OUT-1", state="installed")], run("R-1", "CB-1", "OUT-1"))
    assert outcomes("reaches_outlet", site) == {"CB-1": "ok"}


def test_a_run_may_end_at_another_run_and_its_water_goes_on_there():
    site = record(["DS-1", "CB-1", "OUT-1"], run("R-1", "CB-1", "OUT-1"), run("R-2", "DS-1", "R-1"))
    assert outcomes("run_ends", site) == {"R-1": "ok", "R-2": "ok"}
    assert outcomes("reaches_outlet", site) == {"CB-1": "ok", "DS-1": "ok"}
    lost = record(["DS-1"], run("R-2", "DS-1", "R-9"))
    assert outcomes("run_ends", lost) == {"R-2": "fail"}


@pytest.mark.parametrize(("state", "outcome"), [("planned", "attention"), ("abandoned", "fail")])
def test_an_end_at_a_run_that_is_not_in_place_says_so(state, outcome):
    site = record(["DS-1", "CB-1", "OUT-1"], run("R-1", "CB-1", "OUT-1", state), run("R-2", "DS-1", "R-1"))
    assert outcomes("run_ends", site)["R-2"] == outcome
    assert state in message("run_ends", "R-2", site)


def test_a_run_that_begins_at_another_is_asked_for_its_structure():
    site = record(["CB-1", "OUT-1"], run("R-1", "CB-1", "OUT-1"), run("R-2", "R-1", "OUT-1"))
    assert "begins at run 1" in message("run_ends", "R-2", site)
