"""Whatever a record holds, it is written: no exception, and each file is one that its standard's reader takes."""

from __future__ import annotations

import csv
import io
import json
import math
import sys
from pathlib import Path

import ezdxf
from geojson_pydantic import FeatureCollection
from hypothesis import given, settings
from hypothesis import strategies as st
from jsonschema import Draft202012Validator

from extract.check import check
from extract.record import Crossing, Issue, Question, Record
from reports.export import export_of
from reports.job import Closeout, Photo
from reports.open_record import schema_json

sys.path.insert(0, str(Path(__file__).parent.parent / "extract"))

from test_check_any_record import FIXED_POINTS, LEVELS, RUNS, STRUCTURES  # noqa: E402

SCHEMA = Draft202012Validator(json.loads(schema_json()))
TEXT = st.text(st.characters(codec="utf-8"), max_size=12)
CROSSINGS = st.builds(Crossing, what=TEXT, at_ft=st.none() | st.floats() | st.floats(0, 40))
QUESTIONS = st.builds(
    Question,
    about=st.sampled_from(["R-1", "CB-1", "CB-1 rim", "benchmark", "photo 1", "note 3", ""]),
    field=st.sampled_from(["length_ft", "ties", "rim_ft", "shows", None]),
    choices=st.none() | st.just([4, "four", None]),
    heard=st.none() | TEXT,
    why=st.sampled_from(["conflict", "missing", "implausible", "hedged", "low_confidence"]),
)
PHOTOS = st.builds(
    Photo,
    number=st.integers(1, 9),
    sha256=st.just("0" * 64),
    name=TEXT,
    taken_at=st.none(),
    time_source=st.just("file name"),
    lat=st.floats(-90, 90),
    lon=st.floats(-180, 180),
    gps_error_m=st.none() | st.floats(0, 1e6),
    about=st.sampled_from(["CB-1", "CB-2", "R-1", "OUT-1", None]),
)


def taped(record: Record) -> list[float]:
    """The numbers that an entry cannot be without."""
    sights = [sight.distance_ft for point in record.points for sight in point.to or []]
    return [tie.distance_ft for each in record.structures for tie in each.ties] + sights


def refuse(constant: str) -> None:
    raise AssertionError(f"{constant} is no JSON")


@settings(max_examples=60, deadline=None)
@given(
    st.lists(STRUCTURES, max_size=5),
    st.lists(RUNS, max_size=5),
    st.lists(LEVELS, max_size=4),
    st.lists(FIXED_POINTS, max_size=3),
    st.lists(CROSSINGS, max_size=2),
    st.lists(QUESTIONS, max_size=3),
    st.lists(PHOTOS, max_size=4),
    TEXT,
)
def test_any_record_is_written(
    closeout: Closeout, structures, runs, levels, points, crossings, questions, photos, words
):
    for run in runs:
        run.crossings = crossings
    record = Record(structures=structures, runs=runs, levels=levels, points=points, questions=questions)
    record.issues = [Issue(kind="other", text=words)]
    made = export_of(closeout.model_copy(update={"record": record, "findings": check(record), "photos": photos}))
    for name, content in made.files.items():
        text = content.decode("utf-8")
        if name.endswith(".csv"):
            head, *rows = csv.reader(io.StringIO(text, newline=""), strict=True)
            assert {len(row) for row in rows} <= {len(head)}, name
        elif name.endswith(".dxf"):
            audit = ezdxf.read(io.StringIO(text)).audit()
            assert (audit.errors, audit.fixes) == ([], []), name
        else:
            shape = json.loads(text, parse_constant=refuse)
            if name == "record.json" and all(map(math.isfinite, taped(record))):
                SCHEMA.validate(shape)
            elif name == "places.geojson":
                FeatureCollection.model_validate(shape)
