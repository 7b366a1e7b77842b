from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from extract.record import Record, Run, Structure
from reports.facts import gather
from reports.job import Closeout
from reports.network import chains, connected
from reports.stations import profile


def run(label: str, upper: str | None, lower: str | None, **more: object) -> Run:
    return Run(label=label, from_=upper, to=lower, **({"state": "installed"} | more))


def named(record: Record) -> list[list[str]]:
    return [[run.label for run in chain.runs] for chain in chains(record)]


def test_the_longest_way_comes_first_and_branches_end_where_they_join() -> None:
    record = Record(
        runs=[
            run("R-1", "CD-1", "CB-1", length_ft=5),
            run("R-2", "CB-1", "CB-2", length_ft=30),
            run("R-3", "CB-2", "OUT-1", length_ft=20),
            run("R-4", "DS-1", "CB-1", length_ft=12),
            run("R-5", "AD-1", "CB-2"),
        ]
    )
    assert named(record) == [["R-4", "R-2", "R-3"], ["R-1"], ["R-5"]]
    assert [chain.joins for chain in chains(record)] == [False, True, True]


def test_what_is_planned_or_abandoned_carries_no_water() -> None:
    record = Record(runs=[run("R-1", "A", "B", state="planned"), run("R-2", "A", "B", state="abandoned")])
    assert chains(record) == []


def test_loops_and_open_ends_are_set_aside_and_named() -> None:
    record = Record(runs=[run("R-1", "A", "B"), run("R-2", "B", "A"), run("R-3", "B", None), run("R-4", "A", "A")])
    joined, loose = connected(record)
    assert [item.label for item in joined] == ["R-1"]
    assert [item.label for item in loose] == ["R-2", "R-3", "R-4"]


LABELS = st.sampled_from(["A", "B", "C", "D", "E", None])


@given(st.lists(st.tuples(LABELS, LABELS, st.one_of(st.none(), st.floats(0, 100))), max_size=14))
def test_every_connected_run_is_told_exactly_once(ends: list[tuple[str | None, str | None, float | None]]) -> None:
    record = Record(runs=[run(f"R-{i}", a, b, length_ft=feet) for i, (a, b, feet) in enumerate(ends, 1)])
    joined, _ = connected(record)
    told = [item.label for chain in chains(record) for item in chain.runs]
    assert sorted(told) == sorted(item.label for item in joined)
    for chain in chains(record):
        assert all(one.to == two.from_ for one, two in zip(chain.runs, chain.runs[1:], strict=False))


def drawn(closeout: Closeout, record: Record) -> tuple[list[list[tuple[float, float]]], list[str]]:
    found = profile(gather(closeout.model_copy(update={"record": record})))
    levels = [[(round(leg.high_ft, 3), round(leg.low_ft, 3)) for leg in panel.legs] for panel in found.panels]
    return levels, [f"{run.label}: {why}" for run, why in found.undrawn]


def test_a_profile_stands_on_inverts_where_they_are_recorded(closeout: Closeout) -> None:
    record = Record(
        structures=[
            Structure(label="CB-1", kind="catch_basin", invert_out_ft=99.0),
            Structure(label="CB-2", kind="catch_basin", invert_in_ft=98.5, invert_out_ft=98.4),
            Structure(label="OUT-1", kind="daylight_outlet"),
        ],
        runs=[run("R-1", "CB-1", "CB-2", length_ft=40), run("R-2", "CB-2", "OUT-1", length_ft=50, drop_in=6)],
    )
    assert drawn(closeout, record) == ([[(99.0, 98.5), (98.4, 97.9)]], [])


def test_a_profile_with_no_elevations_puts_its_lowest_invert_at_zero(closeout: Closeout) -> None:
    record = Record(
        runs=[
            run("R-1", "CB-1", "CB-2", length_ft=40, drop_in=6),
            run("R-2", "CB-2", "OUT-1", length_ft=50, drop_in=12),
        ]
    )
    assert drawn(closeout, record) == ([[(1.5, 1.0), (1.0, 0.0)]], [])


def test_a_run_that_falls_the_wrong_way_is_drawn_so(closeout: Closeout) -> None:
    record = Record(runs=[run("R-1", "CB-1", "OUT-1", length_ft=40, drop_in=-3)])
    assert drawn(closeout, record) == ([[(0.0, 0.25)]], [])


def test_runs_with_no_length_or_fall_are_named_and_not_drawn(closeout: Closeout) -> None:
    record = Record(
        runs=[
            run("R-1", "CB-1", "CB-2", drop_in=6),
            run("R-2", "CB-2", "CB-3", length_ft=10),
            run("R-3", "CB-3", "OUT-1", length_ft=10, slope_pct=1),
        ]
    )
    levels, undrawn = drawn(closeout, record)
    assert levels == [[(0.1, 0.0)]]
    assert undrawn == ["R-1: no length recorded", "R-2: no levels or fall recorded"]


def test_a_long_chain_is_cut_into_panels_that_a_page_can_hold(closeout: Closeout) -> None:
    record = Record(runs=[run(f"R-{i}", f"CB-{i}", f"CB-{i + 1}", length_ft=10, drop_in=1) for i in range(1, 20)])
    levels, _ = drawn(closeout, record)
    assert [len(panel) for panel in levels] == [7, 7, 5]
