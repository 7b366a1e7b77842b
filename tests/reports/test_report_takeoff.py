from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from extract.record import Fitting, Record, Run, Structure
from reports.takeoff import takeoff


def quantities(record: Record) -> dict[str, str]:
    return {line.item: line.quantity for line in takeoff(record)}


def test_pipe_is_summed_by_family_and_size() -> None:
    runs = [
        Run(label="R-1", state="installed", nominal_in=4, pipe="SDR 35", length_ft=34.6667),
        Run(label="R-2", state="installed", nominal_in=4, pipe="SDR 35", length_ft=10.3333),
        Run(label="R-3", state="installed", nominal_in=3, pipe="SDR 35", length_ft=6.5),
        Run(label="R-4", state="installed", nominal_in=4, pipe="Schedule 40", length_ft=1),
    ]
    assert quantities(Record(runs=runs)) == {
        "4 in SDR 35": "45 ft",
        "3 in SDR 35": "6 ft 6 in",
        "4 in Schedule 40": "1 ft",
    }


def test_a_run_with_no_length_is_named_beside_the_sum() -> None:
    runs = [
        Run(label="R-1", state="installed", nominal_in=4, pipe="SDR 35", length_ft=10),
        Run(label="R-2", state="installed", nominal_in=4, pipe="SDR 35"),
    ]
    assert quantities(Record(runs=runs)) == {"4 in SDR 35": "10 ft, and R-2: length not recorded"}
    assert quantities(Record(runs=runs[1:])) == {"4 in SDR 35": "R-2: length not recorded"}


def test_only_what_was_put_in_is_counted() -> None:
    states = ["planned", "existing", "abandoned", "removed"]
    runs = [Run(label=f"R-{state}", state=state, nominal_in=4, length_ft=10) for state in states]
    assert takeoff(Record(runs=runs)) == []
    assert quantities(Record(runs=[Run(label="R-9", nominal_in=4, length_ft=10)])) == {
        "4 in pipe (state not recorded)": "10 ft"
    }


def test_fittings_are_counted_by_kind_angle_and_size() -> None:
    runs = [
        Run(
            label="R-1",
            state="installed",
            nominal_in=3,
            pipe="Schedule 40",
            length_ft=5,
            fittings=[Fitting(kind="elbow", count=2, angle_deg=45), Fitting(kind="elbow", angle_deg=90)],
        ),
        Run(
            label="R-2",
            state="installed",
            nominal_in=3,
            pipe="Schedule 40",
            length_ft=5,
            fittings=[Fitting(kind="elbow", count=1, angle_deg=45), Fitting(kind="wye", nominal_in=4)],
        ),
    ]
    found = quantities(Record(runs=runs))
    assert found["45° elbow on 3 in Schedule 40"] == "3"
    assert found["90° elbow on 3 in Schedule 40"] == "1"
    assert found["Wye (4 in)"] == "1"


def test_structures_are_counted_and_channels_are_measured(record: Record) -> None:
    found = quantities(record)
    assert found["Channel drain, 5 in"] == "9 ft 2 in"
    assert found["Catch basin, 12 × 12 in"] == "1"
    assert not any("Pop-up" in item for item in found)


@given(st.lists(st.floats(0.125, 200).map(lambda feet: round(feet * 8) / 8), min_size=1, max_size=12))
def test_the_sum_of_pipe_is_the_sum_of_its_runs(lengths: list[float]) -> None:
    runs = [
        Run(label=f"R-{index}", state="installed", nominal_in=4, pipe="SDR 35", length_ft=length)
        for index, length in enumerate(lengths, 1)
    ]
    (line,) = takeoff(Record(runs=runs))
    assert abs(line.total - sum(lengths)) < 1e-9
    assert len(line.labels) == len(lengths)


def test_an_unsized_structure_says_so() -> None:
    found = quantities(Record(structures=[Structure(label="DW-1", kind="dry_well", state="installed")]))
    assert found == {"Dry well, size not recorded": "1"}
