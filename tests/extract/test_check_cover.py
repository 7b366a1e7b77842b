"""Cover, weak pipe and grates against the traffic that was said."""

import pytest

from extract.check import check
from extract.check.cover import load_class, loads
from extract.record import Finding, Record, Run, Structure


def run(**fields) -> Run:
    return Run.model_validate({"label": "R-1", "from": "CB-1", "to": "CB-2", "state": "installed"} | fields)


def found(entry: Run | Structure, name: str, overrides: dict[str, float] | None = None) -> list[Finding]:
    record = Record(runs=[entry]) if isinstance(entry, Run) else Record(structures=[entry])
    return [each for each in check(record, overrides) if each.check == name]


def test_nothing_is_said_where_no_traffic_was():
    assert found(run(cover_in=1, pipe="D2729"), "cover") == []
    assert found(run(cover_in=1, pipe="D2729"), "load") == []
    assert found(Structure(label="CB-1", kind="catch_basin", state="installed"), "load") == []


@pytest.mark.parametrize(
    ("traffic", "pipe", "cover", "outcome"),
    [
        ("car", "SDR 35", 24, "ok"),
        ("car", "SDR 35", 23, "attention"),
        ("car", "SDR 35", 12, "attention"),
        ("car", "SDR 35", 11, "fail"),
        ("truck", "Schedule 40", 36, "ok"),
        ("truck", "Schedule 40", 30, "attention"),
        ("truck", "dual-wall", 12, "ok"),
        ("truck", "dual-wall", 11, "fail"),
        ("car", None, 20, "attention"),
        ("cart", "corrugated", 12, "ok"),
        ("cart", "corrugated", 8, "attention"),
        ("car", "SDR 35", None, "unknown"),
    ],
)
def test_cover_by_traffic_and_family(traffic, pipe, cover, outcome):
    (finding,) = found(run(traffic=traffic, pipe=pipe, cover_in=cover), "cover")
    assert finding.outcome == outcome


def test_the_message_gives_the_numbers():
    (finding,) = found(run(traffic="car", pipe="SDR 35", cover_in=9), "cover")
    assert finding.message == (
        "Run 1 has 9 inches of cover at the least and cars go over it; 24 inches is asked for, "
        "and under vehicles never less than 12 inches."
    )
    assert (finding.stated, finding.limit, finding.unit) == (9, 24, "in")
    assert "Tamalpais" in (finding.source or "")


def test_a_firm_may_ask_for_less_or_more():
    (finding,) = found(run(traffic="car", cover_in=20), "cover", {"cover_car_in": 18})
    assert finding.outcome == "ok"
    assert "company policy" in (finding.source or "")


def test_feet_ask_for_no_cover():
    assert found(run(traffic="foot", cover_in=2), "cover") == []


def test_d2729_under_vehicles_is_a_finding_of_its_own():
    (finding,) = found(run(traffic="car", pipe="D2729", nominal_in=4, cover_in=30), "load")
    assert finding.outcome == "attention"
    assert "a stiffness of 11 psi against 46" in finding.message
    assert found(run(traffic="cart", pipe="D2729", nominal_in=4), "load") == []
    assert found(run(traffic="car", pipe="SDR 35", nominal_in=4), "load") == []


def test_d2729_of_a_size_not_listed_is_weak_all_the_same():
    (finding,) = found(run(traffic="truck", pipe="D2729"), "load")
    assert "much the weaker pipe" in finding.message


@pytest.mark.parametrize(("traffic", "words"), [("cart", "class B125"), ("car", "class B125"), ("truck", "class D400")])
def test_a_grate_is_told_its_class(traffic, words):
    grate = Structure(label="CD-1", kind="channel_drain", state="installed", traffic=traffic)
    (finding,) = found(grate, "load")
    assert finding.outcome == "attention"
    assert words in finding.message
    assert ("H-20" in finding.message) == (traffic == "truck")


@pytest.mark.parametrize(("kind", "traffic"), [("channel_drain", "foot"), ("downspout", "car")])
def test_no_class_is_told_for_feet_or_where_there_is_no_grate(kind, traffic):
    assert found(Structure.model_validate({"label": "X-1", "kind": kind, "traffic": traffic}), "load") == []


def test_every_traffic_has_one_class_and_heavier_is_never_weaker():
    kn = [load_class(traffic).kn for traffic in ("foot", "cart", "car", "truck")]
    assert kn == sorted(kn)
    assert all(value.startswith(("EN", "AASHTO", "seen")) for value in loads().source.values())


def test_cover_is_judged_by_what_rims_and_inverts_leave_where_that_is_less():
    ends = [
        Structure(label="CB-1", kind="catch_basin", state="installed", rim_ft=100, invert_out_ft=98.9),
        Structure(label="CB-2", kind="catch_basin", state="installed"),
    ]
    for said in ({"cover_in": 26}, {}):
        pipe = run(traffic="car", pipe="SDR 35", nominal_in=4, **said)
        (finding,) = [f for f in check(Record(structures=ends, runs=[pipe])) if f.check == "cover"]
        assert (finding.outcome, finding.stated) == ("fail", said.get("cover_in"))
        assert finding.computed == pytest.approx(13.2 - 4.095 + 0.605, abs=0.01)
        assert "by the rims and inverts at its ends" in finding.message


def test_the_cover_of_dual_wall_names_what_it_hangs_on():
    (finding,) = found(run(traffic="truck", pipe="dual-wall", cover_in=12), "cover")
    assert "in good embedment, well compacted" in finding.message
