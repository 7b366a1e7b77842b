"""The record as JSON, held against its published schema by a validator of that standard."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from jsonschema import Draft202012Validator

import reports.open_record as open_record
from extract.record import Question, Record, Run, Structure, Tie
from reports.facts import gather
from reports.job import Closeout
from reports.open_record import MarkedRecord, record_json, schema_json, schema_of_models

SCHEMA = json.loads(schema_json())


def test_the_schema_in_the_repository_is_what_the_models_give() -> None:
    held = Path(open_record.__file__).with_name("record.schema.json")
    assert held.read_bytes() == schema_of_models(), "write it anew: see DEVELOPERS.md, How to add"


def test_the_schema_is_one_of_draft_2020_12() -> None:
    assert SCHEMA["$schema"] == "https://json-schema.org/draft/2020-12/schema"
    Draft202012Validator.check_schema(SCHEMA)


def test_the_record_fits_the_schema_and_comes_back_as_it_was(closeout: Closeout) -> None:
    shape = json.loads(record_json(gather(closeout)))
    Draft202012Validator(SCHEMA).validate(shape)
    marked = MarkedRecord.model_validate(shape)
    bare = {
        name: [{key: value for key, value in each.items() if key != "open_question"} for each in entries]
        for name, entries in marked.as_json().items()
    }
    assert Record.model_validate(bare) == closeout.record
    assert bare == closeout.record.as_json()


@pytest.mark.parametrize("shape", [{"runs": [{"label": 3}]}, {"runs": [{}]}, {"pipes": []}])
def test_what_is_no_record_does_not_fit(shape: object) -> None:
    assert not Draft202012Validator(SCHEMA).is_valid(shape)


def test_an_entry_with_an_open_question_says_so_and_no_other(closeout: Closeout) -> None:
    question = Question(id="a1", about="R-2", field="length_ft", choices=[43, 45], why="conflict")
    record = Record(runs=[Run(label="R-1"), Run(label="R-2", length_ft=45)], questions=[question])
    shape = json.loads(record_json(gather(closeout.model_copy(update={"record": record}))))
    Draft202012Validator(SCHEMA).validate(shape)
    asked = ["R-2 length_ft: being confirmed: heard 43 ft and later 45 ft"]
    assert [each.get("open_question") for each in shape["runs"]] == [None, asked]


def test_names_of_any_kind_and_numbers_that_are_none(closeout: Closeout) -> None:
    name = '=1, "a"\r\n🌧️ בור \u202e'
    record = Record(
        structures=[Structure(label="CB-1", ties=[Tie(from_=name, distance_ft=4)])],
        runs=[Run(label="R-1", length_ft=float("inf"), pieces_ft=[10, float("nan")])],
    )
    shape = json.loads(record_json(gather(closeout.model_copy(update={"record": record, "findings": []}))))
    Draft202012Validator(SCHEMA).validate(shape)
    assert shape["structures"][0]["ties"][0]["from"] == name
    assert (shape["runs"][0].get("length_ft"), shape["runs"][0]["pieces_ft"]) == (None, [10.0])


def test_an_empty_record_fits(closeout: Closeout) -> None:
    shape = json.loads(record_json(gather(closeout.model_copy(update={"record": Record(), "findings": []}))))
    Draft202012Validator(SCHEMA).validate(shape)
    assert set(shape) == set(Record.model_fields)
