"""Depth and cover at a run's ends, and the cover said against them."""

import pytest

from extract.check import check
from extract.check.depths import top_of
from extract.record import Evidence, Finding, Level, Record, Run, Structure

BASIN = Structure(label="CB-1", kind="catch_basin", rim_ft=100.0, invert_out_ft=98.5)
POPUP = Structure(label="OUT-1", kind="popup_outlet", rim_ft=99.0, invert_in_ft=97.75)


def run(**fields) -> Run:
    said = {"label": "R-1", "from": "CB-1", "to": "OUT-1", "state": "installed", "nominal_in": 4, "pipe": "SDR 35"}
    return Run.model_validate(said | fields)


def found(pipe: Run, *structures: Structure, levels: list[Level] | None = None) -> list[Finding]:
    record = Record(structures=list(structures) or [BASIN, POPUP], runs=[pipe], levels=levels or [])
    return [each for each in check(record) if each.check == "cover_along"]


def test_the_top_of_a_pipe_is_its_outside_diameter_less_one_wall():
    assert top_of(run()).above_in == pytest.approx(4.215 - 0.120)
    assert top_of(run(pipe="corrugated")).above_in == pytest.approx((4.7 + 4.0) / 2)


@pytest.mark.parametrize("pipe", [run(pipe=None), run(nominal_in=5)])
def test_where_the_outside_diameter_is_not_known_the_nominal_size_stands_and_is_said(pipe):
    assert top_of(pipe).above_in == pipe.nominal_in
    (finding,) = found(pipe)
    assert "by the pipe's nominal size, as its outside diameter is not known" in finding.message


@pytest.mark.parametrize(
    ("cover", "outcome"), [(8, "ok"), (10.9, "ok"), (11.5, "ok"), (11.6, "attention"), (18, "attention")]
)
def test_the_cover_said_is_no_more_than_the_shallower_end_allows(cover, outcome):
    """Outlet 1 allows 15 inches less 4.095, and readings and tape may be out by 0.6 together."""
    (finding,) = found(run(cover_in=cover))
    assert (finding.outcome, finding.stated, finding.computed) == (outcome, cover, 10.905)
    assert finding.limit == pytest.approx(0.605, abs=0.001)


def test_the_message_gives_depth_and_cover_at_each_end():
    (finding,) = found(run(cover_in=18))
    assert finding.message == (
        "Run 1: at catch basin 1 the invert lies 18 inches below the rim, with 13.9 inches over the pipe; "
        "at outlet 1 the invert lies 15 inches below the rim, with 10.9 inches over the pipe; "
        "18 inches of cover at the least was said, more than there is at outlet 1 unless the ground beside it stands "
        "above its rim."
    )
    assert "ASTM D3034" in (finding.source or "")


def test_with_no_cover_said_the_ends_are_told():
    (finding,) = found(run())
    assert finding.outcome == "ok"
    assert finding.message.endswith("no cover was said.")


def test_a_pipe_that_would_stand_out_of_the_ground_fails():
    shallow = Structure(label="CB-1", kind="catch_basin", rim_ft=100.0, invert_out_ft=99.75)
    (finding,) = found(run(), shallow)
    assert finding.outcome == "fail"
    assert finding.message.endswith("the top of the pipe would stand 1.1 inches above that of catch basin 1.")


def test_rods_on_no_datum_and_a_depth_said_give_depths_too():
    levels = [
        Level(point="benchmark", kind="backsight", rod_ft=4.0),
        Level(point="CB-1 rim", kind="foresight", rod_ft=4.0),
        Level(point="CB-1 invert_out", kind="foresight", rod_ft=5.0),
    ]
    (finding,) = found(run(cover_in=9), Structure(label="CB-1", kind="catch_basin"), levels=levels)
    assert (finding.outcome, finding.computed) == ("attention", 7.905)
    (finding,) = found(run(), Structure(label="CB-1", kind="catch_basin", rim_ft=50, invert_depth_in=14))
    assert finding.computed == 9.905


@pytest.mark.parametrize(("cover", "outcome"), [(11, "ok"), (14, "attention")])
def test_a_depth_told_from_rim_to_invert_bounds_the_cover_where_no_heights_do(cover, outcome):
    """16 inches less 4.095."""
    basin = Structure(label="CB-1", kind="catch_basin", invert_depth_in=16)
    (finding,) = found(run(cover_in=cover), basin)
    assert (finding.outcome, finding.stated, finding.computed) == (outcome, cover, 11.905)
    (by_heights,) = found(run(cover_in=cover), BASIN)
    assert (finding.source, finding.limit) == (by_heights.source, by_heights.limit)
    basin = Structure(label="CB-1", kind="catch_basin", invert_depth_in=16, rim_ft=50, invert_out_ft=48)
    (finding,) = found(run(cover_in=cover), basin)
    assert finding.computed == 19.905


def test_a_depth_told_at_the_lower_end_is_that_of_the_way_out():
    (finding,) = found(
        run(**{"from": "CB-2", "to": "CB-1", "cover_in": 14}),
        Structure(label="CB-1", kind="catch_basin", invert_depth_in=16),
    )
    assert "at catch basin 1 the outgoing invert lies 16 inches below the rim, with at the most" in finding.message


def test_the_way_out_stands_in_for_a_way_in_but_never_the_other_way_round():
    pipe = run(**{"from": "CB-2", "to": "CB-1", "cover_in": 14})
    (finding,) = found(pipe)
    assert finding.message.startswith(
        "Run 1: at catch basin 1 the outgoing invert lies 18 inches below the rim, with at the most 13.9 inches over"
    )
    assert found(run(), Structure(label="CB-1", kind="catch_basin", rim_ft=100, invert_in_ft=99.9)) == []


@pytest.mark.parametrize(
    ("pipe", "structures"),
    [
        (run(cover_in=30), [Structure(label="CB-1", kind="catch_basin", rim_ft=100)]),
        (run(cover_in=30), [Structure(label="CB-1", kind="catch_basin", invert_out_ft=98)]),
        (run(cover_in=30, nominal_in=None), [BASIN, POPUP]),
        (run(cover_in=30, state="planned"), [BASIN, POPUP]),
        (run(cover_in=30), [POPUP.model_copy(update={"kind": "daylight_outlet"})]),
    ],
    ids=["no invert", "no rim", "no size", "planned", "where the pipe comes out of the ground"],
)
def test_nothing_is_said_where_the_ends_tell_nothing(pipe, structures):
    assert found(pipe, *structures) == []


def test_the_words_of_all_three_numbers_are_its_evidence():
    def said(note: int, field: str) -> Evidence:
        return Evidence(note=note, quote=field, confidence=1, field=field)

    basin = BASIN.model_copy(update={"evidence": [said(1, "rim_ft"), said(2, "invert_out_ft")]})
    (finding,) = found(run(cover_in=18, evidence=[said(3, "cover_in"), said(4, "length_ft")]), basin)
    assert sorted(item.note for item in finding.evidence) == [1, 2, 3]
