from __future__ import annotations

import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from extract.additions_said import bought_said
from extract.errors import UsageError
from extract.record import Fitting, Purchase, Record, Run, Structure
from reports.takeoff import Line, Unmatched, against, takeoff


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


# -- against what was bought


def yard() -> list[Run | Structure]:
    bends = [Fitting(kind="elbow", count=5, angle_deg=45), Fitting(kind="wye", nominal_in=4)]
    return [
        Run(label="R-1", state="installed", nominal_in=4, pipe="SDR 35", length_ft=87.5, fittings=bends),
        Run(label="R-2", state="installed", nominal_in=4, pipe="corrugated", length_ft=60),
        Structure(label="CB-1", kind="catch_basin", state="installed", size_in=[12, 12]),
        Structure(label="CB-2", kind="catch_basin", state="installed", size_in=[9]),
        Structure(label="CH-1", kind="channel_drain", state="installed", size_in=[5], length_ft=10),
    ]


def bought(*words: str, built: list[Run | Structure] | None = None) -> tuple[dict[str, Line], list[Unmatched]]:
    """The take-off by item, and what matches none of it, of what a person typed."""
    built = yard() if built is None else built
    record = Record(
        runs=[each for each in built if isinstance(each, Run)],
        structures=[each for each in built if isinstance(each, Structure)],
    )
    lines = takeoff(record)
    unmatched = against(lines, [Purchase.model_validate(bought_said(record, each)[1]) for each in words])
    return {line.item: line for line in lines}, unmatched


@pytest.mark.parametrize(
    ("words", "item", "amount", "left"),
    [
        ("10 sticks of 4 inch SDR 35", "4 in SDR 35", 100, 12.5),
        ('4 20 ft sticks of 4" sdr35 pipe', "4 in SDR 35", 80, -7.5),
        ("5 20-foot lengths SDR 35 4 in", "4 in SDR 35", 100, 12.5),
        ("100 ft of 4 inch corrugated", "4 in corrugated", 100, 40),
        ("1 catch basin 12x12", "Catch basin, 12 × 12 in", 1, 0),
        ("3 12 x 12 catch basins", "Catch basin, 12 × 12 in", 3, 2),
        ("1 9 inch round catch basin", "Catch basin, 9 in round", 1, 0),
        ("6 45 degree elbows for 4 inch SDR 35", "45° elbow on 4 in SDR 35", 6, 1),
        ("4 45° ells, 4 in sdr 35", "45° elbow on 4 in SDR 35", 4, -1),
        ("2 4 inch wyes", "Wye (4 in)", 2, 1),
        ("12 ft of 5 inch channel drain", "Channel drain, 5 in", 12, 2),
        ("2 12 inch square catch basins", "Catch basin, 12 × 12 in", 2, 1),
        ("two 45 elbows on 4 inch SDR 35", "45° elbow on 4 in SDR 35", 2, -3),
        ("ten sticks of 4 inch SDR 35", "4 in SDR 35", 100, 12.5),
        ("diez tubos de 4 pulgadas SDR 35", "4 in SDR 35", 100, 12.5),
        ("seis codos de 45 grados para SDR 35 de 4 pulgadas", "45° elbow on 4 in SDR 35", 6, 1),
        ("10 joints of 4 inch SDR 35", "4 in SDR 35", 100, 12.5),
        ("2 100 ft rolls of 4 inch corrugated", "4 in corrugated", 200, 140),
        ("1,000 ft of 4 inch SDR 35", "4 in SDR 35", 1000, 912.5),
        ("100' of 4 inch SDR 35", "4 in SDR 35", 100, 12.5),
        ("3 pieces 12x12 catch basin", "Catch basin, 12 × 12 in", 3, 2),
    ],
)
def test_what_was_bought_is_held_against_what_went_in(words: str, item: str, amount: float, left: float) -> None:
    lines, unmatched = bought(words)
    assert unmatched == []
    assert {name: line.bought for name, line in lines.items() if line.bought is not None} == {item: amount}
    assert lines[item].left == left


def test_what_is_bought_twice_adds_up() -> None:
    lines, _ = bought("5 sticks of 4 inch SDR 35", "40 ft of 4 inch SDR 35")
    assert (lines["4 in SDR 35"].bought, lines["4 in SDR 35"].left) == (90, 2.5)


@pytest.mark.parametrize(
    ("words", "why"),
    [
        ("3 drain grates", "used 0"),
        (
            "2 catch basins",
            "used 0; is it Catch basin, 12 × 12 in or Catch basin, 9 in round?",
        ),
        ("1 9 inch square catch basin", "used 0"),
        ("1 9 inch catch basin", "used 0; is it Catch basin, 9 in round?"),
        ("1 12 inch round catch basin", "used 0"),
        ("100 ft of 4 mm SDR 35", "used 0"),
        ("10 pieces of 4 inch SDR 35", "4 in SDR 35 is measured in feet or sticks"),
        ("6 45 elbows", "used 0; is it 45° elbow on 4 in SDR 35?"),
        ("10 sticks of 6 inch SDR 35", "used 0"),
        ("10 4 inch SDR 35", "4 in SDR 35 is measured in feet or sticks"),
        (
            "2 sticks of 4 inch corrugated",
            "nobody said how long a stick of it is, as in: 5 20 ft sticks of 4 inch corrugated",
        ),
        ("5 ft of 12x12 catch basin", "Catch basin, 12 × 12 in is counted in pieces"),
        ("3 木", "used 0"),
    ],
)
def test_what_matches_nothing_is_told_and_counted_nowhere(words: str, why: str) -> None:
    lines, unmatched = bought(words)
    assert [each.why for each in unmatched] == [why]
    assert all(line.bought is None for line in lines.values())


def test_what_is_left_is_not_known_where_what_went_in_is_not() -> None:
    pipe = {"nominal_in": 4, "pipe": "SDR 35"}
    measured = Run(label="R-1", state="installed", length_ft=20, **pipe)
    for more in (Run(label="R-2", state="installed", **pipe), Run(label="R-2", length_ft=5, **pipe)):
        lines, unmatched = bought("3 sticks of 4 inch SDR 35", built=[measured, more])
        assert (unmatched, lines["4 in SDR 35"].bought, lines["4 in SDR 35"].left) == ([], 30, None)


def test_of_a_thing_that_two_lines_may_be_nothing_is_guessed() -> None:
    fittings = [Fitting(kind="elbow", angle_deg=45, nominal_in=4), Fitting(kind="elbow", angle_deg=4, nominal_in=45)]
    run = Run(label="R-1", state="installed", nominal_in=4, pipe="SDR 35", length_ft=20, fittings=fittings)
    _, (unmatched,) = bought("2 4 45 elbows", built=[run])
    assert unmatched.why == "used 0; is it 45° elbow (4 in) or 4° elbow (45 in)?"


NOTHING_MORE = {"label": "R-1", "state": "installed", "nominal_in": 4}


@pytest.mark.parametrize(
    ("words", "built", "why"),
    [
        ("100 ft of 4 inch pipe", Run(**NOTHING_MORE, length_ft=20), "4 in pipe: kind"),
        (
            "4 elbows on 4 inch SDR 35",
            Run(**NOTHING_MORE, pipe="SDR 35", fittings=[Fitting(kind="elbow")]),
            "Elbow on 4 in SDR 35: angle",
        ),
        (
            "2 couplings on 4 inch",
            Run(**NOTHING_MORE, fittings=[Fitting(kind="coupling")]),
            "Coupling on 4 in pipe: kind of its pipe",
        ),
        (
            "2 dry wells",
            Structure(label="DW-1", kind="dry_well", state="installed"),
            "Dry well, size not recorded: size",
        ),
    ],
)
def test_nothing_is_held_against_what_was_not_recorded_in_full(words: str, built: Run | Structure, why: str) -> None:
    lines, (unmatched,) = bought(words, built=[built])
    assert unmatched.why == f"used is not known ({why} not recorded)"
    assert all(line.bought is None for line in lines.values())


def test_what_is_left_is_not_known_where_more_of_it_may_stand_on_a_line_that_lacks_something() -> None:
    bends = [Fitting(kind="elbow", angle_deg=45), Fitting(kind="elbow")]
    pipe = Run(label="R-1", state="installed", nominal_in=4, pipe="SDR 35", length_ft=20, fittings=bends)
    bare = Run(label="R-2", state="installed", nominal_in=4, length_ft=20)
    lines, _ = bought("4 45 elbows on 4 inch SDR 35", "3 sticks of 4 inch SDR 35", built=[pipe, bare])
    told = {name: (line.bought, line.left) for name, line in lines.items() if line.bought is not None}
    assert told == {"45° elbow on 4 in SDR 35": (4, None), "4 in SDR 35": (30, None)}


@pytest.mark.parametrize(
    ("words", "why"),
    [
        ("12 x 12 catch basins", "begins with a size; say first how many"),
        ("12x12 catch basins", "begins with a size; say first how many"),
        ("3 x 4 inch wyes", "begins with a size; say first how many"),
        ("90 elbows on 4 inch SDR 35", "say how many as well, as in: 6 90 elbows on 4 inch SDR 35"),
        ("22 1/2 elbows", "say how many as well, as in: 6 22 1/2 elbows"),
        ("45 codos de SDR 35", "say how many as well"),
        ("10 ft sticks of 4 inch SDR 35", "say how many of them as well, as in: 5 10 ft sticks of 4 inch SDR 35"),
        ("3 rolls of 4 inch corrugated", "say how long a roll is"),
        ("0 sticks of 4 inch SDR 35", "its count can be 0.1 to 100000"),
        ("2.5 catch basins 12x12", "its count is a whole number"),
        ("2.5 sticks of 4 inch SDR 35", "its count is a whole number"),
        ("4 inch SDR 35", "write how many and of what"),
        ("some SDR 35", "write how many and of what"),
    ],
)
def test_what_tells_no_count_is_refused(words: str, why: str) -> None:
    with pytest.raises(UsageError, match=re.escape(why)):
        bought(words)


def test_of_pipe_of_no_recorded_kind_both_are_told_what_it_may_be_and_what_lacks() -> None:
    _, (unmatched,) = bought("100 ft of 4 inch pipe", built=[*yard(), Run(**NOTHING_MORE, length_ft=20)])
    assert unmatched.why == ("used is not known (4 in pipe: kind not recorded); is it 4 in SDR 35 or 4 in corrugated?")


def test_sticks_of_no_said_length_are_marked_as_assumed() -> None:
    lines, _ = bought("3 20 ft sticks of 4 inch SDR 35")
    assert not lines["4 in SDR 35"].assumed
    lines, _ = bought("3 20 ft sticks of 4 inch SDR 35", "3 sticks of 4 inch SDR 35")
    assert lines["4 in SDR 35"].assumed


@given(
    st.lists(
        st.sampled_from(["9 ft of 4 in SDR 35", "3 couplings", "2 catch basins 12x12", "1 stick of 4 in corrugated"])
    )
)
def test_no_purchase_is_dropped(words: list[str]) -> None:
    lines, unmatched = bought(*words)
    pipe, basin = lines["4 in SDR 35"].bought or 0, lines["Catch basin, 12 × 12 in"].bought or 0
    assert pipe / 9 + basin / 2 + len(unmatched) == len(words)
