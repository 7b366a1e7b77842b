"""GeoJSON and DXF: true in every distance, read by other programs, and only where enough is known."""

from __future__ import annotations

import io
import json
import math
from typing import Any

import ezdxf
import pytest
from ezdxf.document import Drawing as Document
from geographiclib.geodesic import Geodesic
from geojson_pydantic import FeatureCollection
from shapely.geometry import shape
from test_report_scaled import PLACES, POINTS, WIDE, XY, basin, pipe, yard

from extract.check import check
from extract.record import Crossing, Question, Record, Run, Structure, Tie
from reports.closeout import shown
from reports.export import OWN, Export, export_of
from reports.facts import gather
from reports.job import Closeout, Photo
from reports.scaled import ground_under, to_scale

ORIGIN = (45.0, -93.0)
M_PER_FT = 0.3048


def photo(number: int, about: str, at: XY | None, error_m: float | None = 4.0) -> Photo:
    """A photo taken so many feet east and north of the origin."""
    found: dict[str, Any] = {}
    if at is not None:
        line = Geodesic.WGS84.Direct(*ORIGIN, math.degrees(math.atan2(*at)), math.hypot(*at) * M_PER_FT)
        found = {"lat": line["lat2"], "lon": line["lon2"], "gps_error_m": error_m}
    return Photo(
        number=number, sha256=f"{number:064}", name="a.jpg", taken_at=None, time_source="EXIF", about=about, **found
    )


def made(closeout: Closeout, record: Record, photos: list[Photo] | None = None) -> Export:
    update = {"record": record, "findings": check(record), "photos": photos or []}
    return export_of(closeout.model_copy(update=update))


def features(export: Export) -> dict[str, dict[str, Any]]:
    text = export.files["places.geojson"].decode("utf-8")
    FeatureCollection.model_validate_json(text)
    return {each["id"]: each for each in json.loads(text)["features"]}


def drawing(export: Export, name: str) -> Document:
    document = ezdxf.read(io.StringIO(export.files[name].decode("utf-8")))
    audit = document.audit()
    assert (audit.errors, audit.fixes) == ([], [])
    return document


def texts(document: Document, layer: str | None = None) -> list[str]:
    return [each.dxf.text for each in document.modelspace().query("TEXT") if layer in (None, each.dxf.layer)]


def open_length() -> Question:
    return Question(id="a1", about="R-1", field="length_ft", choices=[20, 24], why="conflict")


# -- GeoJSON


@pytest.mark.parametrize("bearing", [90, 0, 215])
def test_places_by_tape_lie_on_the_earth_as_they_were_taped(closeout: Closeout, bearing: float) -> None:
    record = yard(bearing)  # the meter post, seen from the garage corner: where that is east, x is
    found = features(made(closeout, record, [photo(1, "CB-1", (0.0, 0.0))]))
    assert list(found) == ["CB-1", "CB-2", "OUT-1", "R-1", "R-2"]
    at = {label: shape(each["geometry"]) for label, each in found.items()}
    assert all(each.is_valid and not each.is_empty for each in at.values())
    for one, other in (("CB-1", "CB-2"), ("CB-2", "OUT-1"), ("CB-1", "OUT-1")):
        line = Geodesic.WGS84.Inverse(at[one].y, at[one].x, at[other].y, at[other].x)
        wanted = PLACES[other][0] - PLACES[one][0], PLACES[other][1] - PLACES[one][1]
        assert line["s12"] / M_PER_FT == pytest.approx(math.hypot(*wanted), abs=0.1)
        way = math.degrees(math.atan2(*wanted)) + bearing - 90
        assert abs((line["azi1"] - way + 180) % 360 - 180) < 0.5
    assert list(at["R-1"].coords) == [*at["CB-1"].coords, *at["CB-2"].coords]
    assert (at["CB-1"].x, at["CB-1"].y) == pytest.approx((ORIGIN[1], ORIGIN[0]), abs=1e-6)


def test_the_error_grows_with_what_a_compass_can_be_off(closeout: Closeout) -> None:
    found = features(made(closeout, yard(bearing=90), [photo(1, "CB-1", (0.0, 0.0))]))
    far = math.dist(PLACES["CB-1"], PLACES["OUT-1"]) * M_PER_FT
    errors = {label: found[label]["properties"]["position_error_m"] for label in ("CB-1", "OUT-1")}
    assert 4.0 <= errors["CB-1"] < 4.5
    assert errors["OUT-1"] == pytest.approx(errors["CB-1"] + far * math.sin(math.radians(20)), abs=0.3)
    assert found["CB-1"]["properties"]["position_from"] == "tapes, laid where photo 1 was taken, north by compass"


def test_a_photo_that_does_not_fit_the_tapes_widens_the_error(closeout: Closeout) -> None:
    photos = [photo(1, "CB-1", PLACES["CB-1"]), photo(2, "CB-2", (PLACES["CB-2"][0] + 100, PLACES["CB-2"][1]))]
    found = features(made(closeout, yard(bearing=90), photos))
    assert found["CB-1"]["properties"]["position_error_m"] > 100 * M_PER_FT / 2


def test_without_a_bearing_structures_lie_where_their_photos_were_taken_and_runs_nowhere(closeout: Closeout) -> None:
    photos = [photo(1, "CB-1", (0.0, 0.0), 3.0), photo(2, "CB-1", (10.0, 0.0), None), photo(3, "CB-2", None)]
    export = made(closeout, yard(), photos)
    found = features(export)
    assert {label for label, each in found.items() if each["geometry"]} == {"CB-1"}
    told = found["CB-1"]["properties"]
    assert (told["position_error_m"], told["position_from"]) == (4.9, "where photos 1 and 2 were taken")
    east = Geodesic.WGS84.Inverse(*ORIGIN, *reversed(found["CB-1"]["geometry"]["coordinates"]))["s12"]
    assert east / M_PER_FT == pytest.approx(5.0, abs=0.1)
    assert any("no bearing tells north" in line for line in export.lines)


def test_photos_that_tell_north_lay_what_was_taped_without_a_bearing(closeout: Closeout) -> None:
    """Three structures far apart; what is x on the tapes' axes lies north."""
    record = yard()
    record.structures = [basin(label, at) for label, at in WIDE.items()]
    record.runs = [pipe("R-1", "CB-1", "CB-2", WIDE)]
    photos = [photo(n, label, (-y, x), 2.0) for n, (label, (x, y)) in enumerate(WIDE.items(), 1)]
    export = made(closeout, record, photos)
    found = features(export)
    assert found["R-1"]["geometry"]["type"] == "LineString"
    told = found["CB-1"]["properties"]
    assert told["position_from"] == "tapes, laid where photos 1, 2 and 3 were taken, north by their positions"
    at = {label: found[label]["geometry"]["coordinates"] for label in WIDE}
    line = Geodesic.WGS84.Inverse(*reversed(at["CB-1"]), *reversed(at["OUT-1"]))
    wanted = WIDE["OUT-1"][0] - WIDE["CB-1"][0], WIDE["OUT-1"][1] - WIDE["CB-1"][1]
    assert line["s12"] / M_PER_FT == pytest.approx(math.hypot(*wanted), abs=0.1)
    assert line["azi1"] == pytest.approx(math.degrees(math.atan2(-wanted[1], wanted[0])), abs=0.1)
    (told_north,) = [text for text in texts(drawing(export, "plan.dxf")) if text.startswith("North")]
    assert told_north.startswith("North by the positions of photos: 90 degrees clockwise from y, ± ")


@pytest.mark.parametrize(("turn", "by"), [(0, "compass"), (90, None)])
def test_plan_and_places_tell_one_north_or_none(closeout: Closeout, turn: int, by: str | None) -> None:
    """With a bearing the plan's y is north; photos that put north a quarter away leave none."""
    record = yard(bearing=90)
    record.structures = [basin(label, at) for label, at in WIDE.items()]
    record.runs = [pipe("R-1", "CB-1", "CB-2", WIDE)]
    photos = [photo(n, label, (-y, x) if turn else (x, y), 2.0) for n, (label, (x, y)) in enumerate(WIDE.items(), 1)]
    export = made(closeout, record, photos)
    (told_north,) = [text for text in texts(drawing(export, "plan.dxf")) if text.startswith("North")]
    found = features(export)
    if by:
        assert told_north == "North by compass, not corrected: 0 degrees clockwise from y."
        assert found["CB-1"]["properties"]["position_from"].endswith("north by compass")
        return
    assert told_north.startswith("North not shown, as the bearing and the positions of photos disagree")
    assert found["R-1"]["geometry"] is None
    assert found["CB-1"]["properties"]["position_from"] == "where photo 1 was taken"
    assert any("disagree on north; take the bearing again" in line for line in export.lines)


FIVE = {"CB-1": (-30.0, 40.0), "CB-2": (70.0, 50.0), "CB-3": (20.0, -60.0), "CB-4": (90.0, -70.0), "CB-5": (30.0, 70.0)}


def test_what_photos_alone_would_choose_is_drawn_for_nobody(closeout: Closeout) -> None:
    """Good phones, and no side said: which of two places it is, only a person tells."""
    record = Record(structures=[basin(label, at) for label, at in FIVE.items()], points=yard().points)
    for each in record.structures:
        each.ties[0].side = None
    photos = [photo(n, label, at, 0.5) for n, (label, at) in enumerate(FIVE.items(), 1)]
    whole = closeout.model_copy(update={"record": record, "photos": photos})
    for reader in ("record", "client", "locate"):
        facts = gather(shown(whole, reader))
        found = ground_under(facts)
        assert found.earth is not None
        assert set(found.earth.favoured) == set(FIVE)
        assert to_scale(facts, found) is None
    export = made(closeout, record, photos)
    assert "plan.dxf" not in export.files
    assert {each["properties"]["position_from"] for each in features(export).values()} == {
        f"where photo {n} was taken" for n in range(1, 6)
    }


def test_a_job_at_the_date_line_stays_together(closeout: Closeout) -> None:
    photos = [photo(1, "CB-1", (0.0, 0.0)), photo(2, "CB-1", (0.0, 0.0))]
    photos = [each.model_copy(update={"lon": lon}) for each, lon in zip(photos, (179.99999, -179.99999), strict=True)]
    lon, _ = features(made(closeout, yard(), photos))["CB-1"]["geometry"]["coordinates"]
    assert abs(lon) > 179.999


def test_geojson_holds_the_rows_of_the_tables(closeout: Closeout) -> None:
    record = yard(bearing=90)
    record = record.model_copy(update={"questions": [open_length()]})
    found = features(made(closeout, record, [photo(1, "CB-1", (0.0, 0.0))]))
    for run in record.runs:
        told = found[run.label]["properties"]
        assert (told["from"], told["to"], told["length_ft"], told["pipe"]) == (
            run.from_,
            run.to,
            run.length_ft,
            run.pipe,
        )
    asked = "R-1 length_ft: being confirmed: heard 20 ft and later 24 ft"
    assert [found[label]["properties"]["open_question"] for label in ("R-1", "R-2")] == [asked, None]
    assert found["OUT-1"]["properties"]["position_open_question"] == asked


def test_a_question_about_a_tape_marks_all_that_hangs_on_it(closeout: Closeout) -> None:
    record = yard(bearing=90)
    asked = Question(id="a1", about="CB-1", field="ties", why="low_confidence")
    record = record.model_copy(update={"questions": [asked]})
    export = made(closeout, record, [photo(1, "CB-1", (0.0, 0.0))])
    for each in features(export).values():
        assert each["properties"]["position_open_question"].startswith("CB-1 ties: ")
    told = texts(drawing(export, "plan.dxf"), "OPEN_QUESTIONS")
    assert any(line.startswith("places rest on open question: CB-1 ties") for line in told)
    assert sum(line.endswith("ft (open question)") for line in told) == 2


@pytest.mark.parametrize("field", ["pieces_ft", "stations_ft", "from", "to", "state", "length_ft", "fittings"])
def test_a_question_about_what_a_run_s_length_rests_on_marks_places(closeout: Closeout, field: str) -> None:
    record = yard().model_copy(update={"questions": [Question(id="a1", about="R-1", field=field, why="conflict")]})
    told = texts(drawing(made(closeout, record), "plan.dxf"), "OPEN_QUESTIONS")
    assert any(line.startswith(f"places rest on open question: R-1 {field}") for line in told)


def test_a_thing_that_crosses_lies_there_by_the_stations_alone_too(closeout: Closeout) -> None:
    record = yard()
    told = {"crossings": [{"what": "gas line", "at_ft": 10}], "length_ft": None, "stations_ft": [0, 21.6]}
    record.runs[0] = pipe("R-1", "CB-1", "CB-2", PLACES, **told)
    assert len(drawing(made(closeout, record), "plan.dxf").modelspace().query("LWPOLYLINE[layer=='CROSSINGS']")) == 1


def test_no_position_on_the_earth_is_one_line_and_no_file(closeout: Closeout) -> None:
    export = made(closeout, yard(), [photo(1, "CB-1", None), photo(2, "R-1", (0.0, 0.0))])
    assert "places.geojson" not in export.files
    assert [line for line in export.lines if "geojson" in line] == [
        "places.geojson is not written: no photo that shows a structure tells a position on the earth"
    ]


# -- DXF


def test_the_plan_is_in_feet_and_true(closeout: Closeout) -> None:
    document = drawing(made(closeout, yard()), "plan.dxf")
    assert (document.units, document.header["$MEASUREMENT"]) == (ezdxf.units.FT, 0)
    space = document.modelspace()
    places = [(each.dxf.center.x, each.dxf.center.y) for each in space.query("CIRCLE[layer=='STRUCTURES']")]
    assert len(places) == len(PLACES)
    wanted = list(PLACES.values())
    for i, one in enumerate(places):
        for j, other in enumerate(places[:i]):
            assert math.dist(one, other) == pytest.approx(math.dist(wanted[i], wanted[j]), abs=0.05)
    runs = [each.get_points("xy") for each in space.query("LWPOLYLINE[layer=='RUNS']")]
    assert [(run[0], run[-1]) for run in runs] == [(places[0], places[1]), (places[1], places[2])]
    assert len(space.query("POINT[layer=='FIXED_POINTS']")) == len(POINTS)


def test_the_profile_is_not_stretched(closeout: Closeout) -> None:
    levels = {"CB-1": (None, 98.5), "CB-2": (98.1, 98.0), "OUT-1": (97.5, None)}
    record = yard()
    for each in record.structures:
        each.invert_in_ft, each.invert_out_ft = levels[each.label]
    document = drawing(made(closeout, record), "profile.dxf")
    runs = [each.get_points("xy") for each in document.modelspace().query("LWPOLYLINE[layer=='RUNS']")]
    one, two = (run.length_ft or 0 for run in record.runs)
    for start, end in (((0, 98.5), (one, 98.1)), ((one, 98.0), (one + two, 97.5))):
        assert any(line[0] == pytest.approx(start) and line[-1] == pytest.approx(end) for line in runs)


def test_a_drawing_marks_what_is_open_on_layers_of_their_own(closeout: Closeout) -> None:
    record = yard().model_copy(update={"questions": [open_length()]})
    document = drawing(made(closeout, record), "plan.dxf")
    asked = texts(document, "OPEN_QUESTIONS")
    assert any(line.endswith("(open question)") for line in asked)
    assert any(line.startswith("R-1: open question: R-1 length_ft") for line in asked)
    assert not texts(drawing(made(closeout, yard()), "plan.dxf"), "OPEN_QUESTIONS")


def test_a_thing_that_crosses_lies_across_the_run_where_it_was_said(closeout: Closeout) -> None:
    crossing = Crossing(what="gas 50%%%c %%d ^J line, \U0001f327 בור\n=1", at_ft=10)
    record = yard()
    record.runs[0] = pipe("R-1", "CB-1", "CB-2", PLACES, crossings=[crossing.model_dump()])
    document = drawing(made(closeout, record), "plan.dxf")
    (line,) = document.modelspace().query("LWPOLYLINE[layer=='CROSSINGS']")
    ends = line.get_points("xy")
    middle = (ends[0][0] + ends[1][0]) / 2, (ends[0][1] + ends[1][1]) / 2
    (run, _) = (each.get_points("xy") for each in document.modelspace().query("LWPOLYLINE[layer=='RUNS']"))
    assert math.dist(run[0], middle) == pytest.approx(10, abs=0.05)
    assert any("gas 50% % %c % %d" in text and "בור =1 at 10 ft" in text for text in texts(document))


def test_the_same_job_gives_the_same_bytes(closeout: Closeout) -> None:
    photos = [photo(1, "CB-1", (0.0, 0.0))]
    assert made(closeout, yard(bearing=90), photos).files == made(closeout, yard(bearing=90), photos).files


# -- what is not known


def lines_of(export: Export, name: str) -> list[str]:
    assert name not in export.files
    return [line for line in export.lines if line.startswith(name)]


def test_where_nothing_was_taped_one_line_says_what_to_tape(closeout: Closeout) -> None:
    record = Record(structures=[Structure(label="CB-1", kind="catch_basin", state="installed")])
    (line,) = lines_of(made(closeout, record), "plan.dxf")
    assert line.startswith("plan.dxf is not written: nothing was taped; tape how far two fixed points")


def test_where_one_tape_is_missing_one_line_names_it(closeout: Closeout) -> None:
    record = yard()
    record.points = []
    (line,) = lines_of(made(closeout, record), "plan.dxf")
    assert "tape from garage corner to meter post" in line


def test_a_plan_that_lacks_a_structure_says_which_and_what_to_tape(closeout: Closeout) -> None:
    record = yard()
    record.structures[2].ties = record.structures[2].ties[:1]
    record.runs = record.runs[:1]
    export = made(closeout, record)
    (line,) = [line for line in export.lines if line.startswith("plan.dxf lacks OUT-1: ")]
    assert "a tape from meter post would settle it" in line


@pytest.mark.parametrize(
    "little",
    [
        Record(),
        Record(runs=[Run(label="R-1")]),
        Record(structures=[Structure(label="CB-1")]),
        Record(structures=[Structure(label="CB-1", state="removed", ties=[Tie(from_="=1", distance_ft=3)])]),
        Record(runs=[Run(label="R-1", from_="CB-1", to="CB-1", length_ft=float("inf"), nominal_in=float("nan"))]),
    ],
)
def test_a_record_with_next_to_nothing_makes_the_tables_and_no_drawing(closeout: Closeout, little: Record) -> None:
    export = made(closeout, little, [photo(1, "CB-1", None)])
    assert {name.partition(".")[2] for name in export.files} == {"csv", "json", "schema.json"}
    assert export.lines[-1] == OWN
