"""The plan to scale: true in every distance, nothing written over anything, and only where enough was taped."""

from __future__ import annotations

import math
import random
from collections.abc import Callable
from functools import partial
from pathlib import Path
from typing import Any

import pytest
from geographiclib.geodesic import Geodesic

from extract.record import Crossing, Evidence, FixedPoint, Question, Record, Run, Structure
from reports import canvas, scaled
from reports.cad import plan_dxf
from reports.canvas import Area, Labels, Sheet
from reports.closeout import write_closeout
from reports.drawings import draw
from reports.facts import Facts, gather
from reports.job import Closeout, Photo

XY = tuple[float, float]
POINTS = {"garage corner": (0.0, 0.0), "meter post": (42.0, 0.0)}
PLACES = {"CB-1": (22.0, 14.0), "CB-2": (40.0, 26.0), "OUT-1": (75.0, 40.0)}

WIDE = {"CB-1": (-30.0, 40.0), "CB-2": (70.0, 50.0), "OUT-1": (20.0, -60.0)}
"""Far enough apart for phones to tell which way north is."""


def basin(label: str, at: XY, **said: Any) -> Structure:
    ties: list[dict[str, Any]] = [
        {"from": name, "distance_ft": round(math.dist(at, place), 2)} for name, place in POINTS.items()
    ]
    ties[0]["side"] = "left" if at[1] > 0 else "right"
    kind = "popup_outlet" if label.startswith("OUT") else "catch_basin"
    return Structure.model_validate({"label": label, "kind": kind, "state": "installed", "ties": ties} | said)


def pipe(label: str, upper: str, lower: str, places: dict[str, XY], **said: Any) -> Run:
    long = round(math.dist(places[upper], places[lower]), 2)
    shape = {"label": label, "from": upper, "to": lower, "state": "installed", "pipe": "SDR 35", "nominal_in": 4}
    return Run.model_validate(shape | {"length_ft": long} | said)


def yard(bearing: float | None = None) -> Record:
    sight = {"point": "garage corner", "distance_ft": 42} | ({} if bearing is None else {"bearing_deg": bearing})
    return Record(
        structures=[basin(label, at) for label, at in PLACES.items()],
        runs=[pipe("R-1", "CB-1", "CB-2", PLACES), pipe("R-2", "CB-2", "OUT-1", PLACES)],
        points=[FixedPoint(name="garage corner"), FixedPoint.model_validate({"name": "meter post", "to": [sight]})],
    )


def of(closeout: Closeout, record: Record) -> Facts:
    return gather(closeout.model_copy(update={"record": record, "photos": []}))


def seen(monkeypatch: pytest.MonkeyPatch, place: Any, name: str, keep: Callable[..., Any]) -> list[Any]:
    """What `keep` makes of each call of a function of the drawing."""
    kept: list[Any] = []
    call = getattr(place, name)

    def listen(*args: Any, **more: Any) -> Any:
        kept.append(keep(*args))
        return call(*args, **more)

    monkeypatch.setattr(place, name, listen)
    return kept


@pytest.fixture
def written(monkeypatch: pytest.MonkeyPatch) -> list[str]:
    return seen(monkeypatch, Sheet, "text", lambda sheet, at, text, *_: text)


@pytest.fixture
def areas(monkeypatch: pytest.MonkeyPatch) -> list[Area]:
    return seen(monkeypatch, Labels, "_write", lambda labels, text, area, *_: area)


@pytest.mark.parametrize("bearing", [None, 90, 200])
def test_every_distance_is_true_to_the_bar_of_scale(
    closeout: Closeout, monkeypatch: pytest.MonkeyPatch, bearing: float | None
) -> None:
    symbols = seen(monkeypatch, scaled, "symbol", lambda sheet, entry, at: (getattr(entry, "label", ""), at))
    points = seen(monkeypatch, scaled, "fixed_point", lambda sheet, at: at)
    texts = seen(monkeypatch, Sheet, "text", lambda sheet, at, text, *_: (text, at))
    draw(of(closeout, yard(bearing)))
    at = dict(symbols) | dict(zip(POINTS, points, strict=False))
    bar = dict(texts)
    (end, feet) = next((place, float(text.split()[0])) for text, place in texts if text in ("10 ft", "20 ft", "40 ft"))
    scale = (end[0] - bar["0"][0]) / feet
    true = PLACES | POINTS
    for one in true:
        for other in true:
            assert math.dist(at[one], at[other]) == pytest.approx(math.dist(true[one], true[other]) * scale, abs=0.03)
    # Nor is it turned over: from the corner to the post, the basins lie to the left.
    across = canvas.between(at["garage corner"], at["meter post"], 1.0)
    way = across[0] - at["garage corner"][0], across[1] - at["garage corner"][1]
    to = at["CB-1"][0] - at["garage corner"][0], at["CB-1"][1] - at["garage corner"][1]
    assert way[0] * to[1] - way[1] * to[0] > 0


def test_it_takes_the_place_of_the_schematic_and_says_how_sure_it_is(closeout: Closeout) -> None:
    plan, *_ = draw(of(closeout, yard()))
    assert plan.name == "plan"
    assert plan.caption.startswith("Plan to scale, by taped distances and run lengths. Structures lie within ")
    assert "95 times in 100" in plan.caption
    assert plan.caption.endswith("It is no survey and does not replace them.")
    assert "from garage corner to catch basin CB-1 26.08 ft" in plan.alt


@pytest.mark.parametrize(("language", "told"), [("en", "R-1 told as longer"), ("es", "De R-1 se dijo un largo mayor")])
def test_a_run_told_as_longer_than_it_can_be_drawn_is_named(closeout: Closeout, language: str, told: str) -> None:
    given, record = closeout.model_copy(update={"language": language}), yard()
    assert told not in draw(of(given, record))[0].caption
    record.runs[0].length_ft = 200
    facts = of(given, record)
    assert told in draw(facts)[0].caption
    drawn = plan_dxf(facts, scaled.ground_under(facts))
    assert drawn is not None
    assert b"told as longer than its ends lie apart" in drawn


def test_without_fixed_points_it_is_the_schematic_that_says_so(closeout: Closeout) -> None:
    record = yard()
    record.points = []
    drawings = draw(of(closeout, record))
    assert [each.name for each in drawings][:1] == ["plan"]
    assert "Schematic, not to scale" in drawings[0].caption


def test_with_a_part_placed_both_are_drawn_and_the_rest_is_named(closeout: Closeout, tmp_path: Path) -> None:
    record = yard()
    record.structures[2].ties = []
    record.runs[1].length_ft = None
    drawings = draw(of(closeout, record))
    assert [each.name for each in drawings][:2] == ["plan", "schematic"]
    assert "Not placed, for too little was taped: OUT-1" in drawings[0].caption
    given = closeout.model_copy(update={"record": record, "photos": []})
    for reader in ("client", "locate"):
        paths = write_closeout(given, tmp_path / f"{reader}.docx", reader=reader)  # type: ignore[arg-type]
        assert [path.name for path in paths[1:]] == [f"{reader}-plan.png", f"{reader}-schematic.png"]


def test_ties_crossings_and_points_are_written(closeout: Closeout, written: list[str]) -> None:
    record = yard()
    record.runs[0].crossings = [Crossing(what="gas line", at_ft=12, depth_in=18)]
    record.questions = [Question(about="CB-1", field="ties", why="low_confidence")]
    draw(of(closeout, record))
    assert {"garage corner", "meter post", "42", "26.08 †1", "gas line at 12 ft, 18 in deep"} <= set(written)
    assert {"Fixed point", "Taped distance, in feet", "North not recorded", "0"} <= set(written)
    assert "To scale, by tape; no survey. Arrows on the pipe show the way the water flows." in written


def test_an_open_question_about_a_crossing_or_the_points_is_marked(closeout: Closeout, written: list[str]) -> None:
    record = yard()
    record.runs[0].crossings = [Crossing(what="gas line", at_ft=12, depth_in=18)]
    heard = Evidence(note=3, quote="42 to the garage corner", confidence=0.5)
    record.points[1].evidence = [heard]
    record.questions = [
        Question(about="R-1", field="crossings", why="low_confidence"),
        Question(about="meter post", field="to", why="low_confidence", evidence=[heard]),
    ]
    plan, *_ = draw(of(closeout, record))
    assert {"gas line at 12 ft, 18 in deep †1", "42 †2"} <= set(written)
    assert [mark.number for mark in plan.marks] == [1, 2]


def test_a_crossing_is_drawn_where_the_stations_alone_tell_the_length(closeout: Closeout) -> None:
    told = {"crossings": [{"what": "gas line", "at_ft": 12}], "length_ft": None, "stations_ft": [0, 24]}
    run = pipe("R-1", "CB-1", "CB-2", PLACES, **told)
    ((_, (place, _)),) = scaled.crossings_of(run, [(0, 0), (10, 0)])
    assert place == (5, 0)
    assert list(scaled.crossings_of(run.model_copy(update={"stations_ft": []}), [(0, 0), (10, 0)])) == []


def test_north_only_where_a_bearing_tells_it(
    closeout: Closeout, monkeypatch: pytest.MonkeyPatch, written: list[str]
) -> None:
    arrows = seen(monkeypatch, scaled, "north_arrow", lambda sheet, at, turned: turned)
    draw(of(closeout, yard()))
    assert arrows == []
    assert "North not recorded" in written
    draw(of(closeout, yard(90)))
    draw(of(closeout, yard(0)))  # the same yard, taller than wide: turned a quarter, and the arrow with it
    assert arrows == [0, 90]


@pytest.mark.parametrize("error_m", [2.0, 20.0])
def test_north_where_photos_are_good_enough_to_tell_it(
    closeout: Closeout, monkeypatch: pytest.MonkeyPatch, written: list[str], error_m: float
) -> None:
    """Photos of three structures, of which each was taken where it lies; x on the tapes' axes is north on the earth."""
    arrows = seen(monkeypatch, scaled, "north_arrow", lambda sheet, at, turned: turned)
    record = yard().model_copy(update={"structures": [basin(label, at) for label, at in WIDE.items()], "runs": []})
    photos = [a_photo(n, label, (-y, x), error_m) for n, (label, (x, y)) in enumerate(WIDE.items(), 1)]
    facts = gather(closeout.model_copy(update={"record": record, "photos": photos}))
    plan, *_ = draw(facts)
    if error_m > 10:
        assert arrows == []
        assert "North not recorded" in written
        return
    (arrow,) = arrows
    assert arrow == pytest.approx(180, abs=0.1)  # x is north, and the sheet of a yard taller than wide is turned
    assert any(text.startswith("North by photos, ± ") for text in written)
    assert not any(f"{each.lat:.3f}" in f"{plan.caption} {plan.alt} {written}" for each in photos)
    bare, *_ = draw(of(closeout, record))
    assert (plan.caption, plan.alt) == (bare.caption, bare.alt)


@pytest.mark.parametrize(
    ("language", "why"),
    [
        ("en", "North not shown: bearing and photos disagree"),
        ("es", "Sin norte: el rumbo y las fotos no coinciden"),
    ],
)
def test_no_north_where_bearing_and_photos_disagree(
    closeout: Closeout, written: list[str], monkeypatch: pytest.MonkeyPatch, language: str, why: str
) -> None:
    arrows = seen(monkeypatch, scaled, "north_arrow", lambda sheet, at, turned: turned)
    record = yard(bearing=90).model_copy(update={"structures": [basin(label, at) for label, at in WIDE.items()]})
    photos = [a_photo(n, label, (-y, x), 2.0) for n, (label, (x, y)) in enumerate(WIDE.items(), 1)]
    facts = gather(closeout.model_copy(update={"record": record, "photos": photos, "language": language}))
    scaled.to_scale(facts, scaled.ground_under(facts))
    assert arrows == []
    assert why in written


def a_photo(number: int, about: str, at: XY, error_m: float) -> Photo:
    """Taken so many feet east and north of a place."""
    line = Geodesic.WGS84.Direct(41.5, -93.25, math.degrees(math.atan2(*at)), math.hypot(*at) * 0.3048)
    place = {"lat": line["lat2"], "lon": line["lon2"], "gps_error_m": error_m}
    shape = {"number": number, "sha256": f"{number:064}", "name": "a.jpg", "taken_at": None, "time_source": "EXIF"}
    return Photo.model_validate(shape | place | {"about": about})


def test_what_was_left_out_is_not_drawn_as_a_tie(closeout: Closeout, written: list[str]) -> None:
    record = yard()
    grid = POINTS | {"hydrant": (60.0, 40.0), "oak": (-5.0, 30.0), "stoop": (20.0, -12.0)}
    record.points = [FixedPoint(name=name, x_ft=x, y_ft=y) for name, (x, y) in grid.items()]
    ties = [
        {"from": name, "distance_ft": round(math.dist(PLACES["CB-1"], place) + (name == "stoop"), 2)}
        for name, place in grid.items()
    ]
    record.structures[0] = basin("CB-1", PLACES["CB-1"], ties=ties)
    plan, *_ = draw(of(closeout, record))
    assert f"{math.dist(PLACES['CB-1'], grid['hydrant']):.2f}" in written
    assert "from hydrant to catch basin CB-1" in plan.alt
    assert "from stoop to catch basin CB-1" not in plan.alt
    assert not any(text.startswith(f"{math.dist(PLACES['CB-1'], grid['stoop']) + 1:.2f}") for text in written)


def test_a_run_is_drawn_by_its_bends_and_says_where_they_are_not_told(
    closeout: Closeout, monkeypatch: pytest.MonkeyPatch
) -> None:
    strokes = seen(monkeypatch, scaled, "stroke", lambda sheet, state, path, *_: len(path))
    record = yard()
    bends = [
        {"kind": "elbow", "angle_deg": 45, "at_ft": 10, "turn": "left"},
        {"kind": "elbow", "angle_deg": 45, "at_ft": 30, "turn": "right"},
    ]
    record.runs[1] = pipe("R-2", "CB-2", "OUT-1", PLACES, fittings=bends, length_ft=40.3)
    plan, *_ = draw(of(closeout, record))
    assert sorted(strokes) == [2, 4]
    assert "drawn straight" not in plan.caption
    record.runs[1] = pipe("R-2", "CB-2", "OUT-1", PLACES, fittings=[{"kind": "elbow", "count": 2, "angle_deg": 45}])
    plan, *_ = draw(of(closeout, record))
    assert "R-2 drawn straight, as its bends were not all told" in plan.caption


def _keep(lines: list[tuple[float, str]], path: object, colour: str, width: float, dash: str = "-") -> None:
    lines.append((width, dash))


def test_states_are_told_apart_without_colour(monkeypatch: pytest.MonkeyPatch) -> None:
    """By weight, dash and crosses."""
    looks = {}
    for state in ("installed", "existing", "abandoned", "planned", None):
        lines: list[tuple[float, str]] = []
        draw_line = partial(_keep, lines)
        monkeypatch.setattr(Sheet, "line", lambda _, *how, draw_line=draw_line: draw_line(*how))
        scaled.stroke(Sheet(4, 2), state, [(0, 0), (3, 0)], 4)  # type: ignore[arg-type]
        looks[state] = (*lines[0], len(lines) > 1)
    assert len(set(looks.values())) == 5
    assert looks["abandoned"] == (1.2, "-", True)


@pytest.mark.parametrize("seed", range(12))
def test_no_label_lies_on_another(closeout: Closeout, areas: list[Area], seed: int) -> None:
    """Yards of three to six structures, by two tapes each."""
    random_ = random.Random(seed)
    places: dict[str, XY] = {}
    while len(places) < 3 + seed % 4:
        spot = random_.uniform(-10, 60), random_.choice((1, -1)) * random_.uniform(6, 40)
        if all(math.dist(spot, other) > 9 for other in [*places.values(), *POINTS.values()]):
            places[f"CB-{len(places) + 1}"] = spot
    labels = list(places)
    record = yard()
    record.structures = [basin(label, at, size_in=[12, 12]) for label, at in places.items()]
    record.runs = [pipe(f"R-{n}", a, b, places) for n, (a, b) in enumerate(zip(labels, labels[1:], strict=False), 1)]
    facts = of(closeout, record)
    assert scaled.to_scale(facts, scaled.ground_under(facts)) is not None
    assert len(areas) == len(labels) + len(record.runs) + 2 + 2 * len(labels) + 1
    for number, area in enumerate(areas):
        assert max((area.overlap(other) for other in areas[:number]), default=0.0) < 0.002


def test_the_figures_of_tapes_that_lie_close_keep_clear_of_one_another(
    closeout: Closeout, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Six things on one side of the yard, three of them one behind another as seen from the corner."""
    texts = seen(monkeypatch, Labels, "_write", lambda labels, text, area, *_: (text, area))
    places = {"CB-1": (18.0, 16.0), "CB-2": (23.0, 19.0), "CB-3": (47.0, 37.0), "CB-4": (8.0, 50.0)}
    places |= {"CB-5": (15.0, 56.0), "OUT-1": (80.0, 50.0)}
    record = yard()
    record.structures = [basin(label, at, size_in=[12, 12]) for label, at in places.items()]
    record.runs = [pipe("R-1", "CB-1", "CB-2", places), pipe("R-2", "CB-2", "CB-3", places)]
    record.runs += [pipe("R-3", "CB-4", "CB-5", places), pipe("R-4", "CB-3", "OUT-1", places)]
    facts = of(closeout, record)
    scaled.to_scale(facts, scaled.ground_under(facts))
    figures = [area.grown(0.04) for text, area in texts if text.replace(".", "").isdigit()]
    assert len(figures) == 2 * len(places) + 1
    for number, area in enumerate(figures):
        assert max((area.overlap(other) for other in figures[:number]), default=0.0) == 0


def test_a_strange_ground_is_drawn_all_the_same(closeout: Closeout) -> None:
    record = yard()
    record.structures += [basin("CB-3", PLACES["CB-1"]), basin("$x_1$ \x00", (0.0, 0.001))]
    record.runs += [
        pipe("R-3", "CB-1", "CB-1", PLACES),
        pipe("R-4", "CB-1", "CB-2", PLACES, length_ft=1e9, crossings=[{"what": "gas", "at_ft": 5e8}, {"what": "x"}]),
        Run(label="R-5"),
    ]
    assert [each.name for each in draw(of(closeout, record))][:2] == ["plan", "schematic"]
