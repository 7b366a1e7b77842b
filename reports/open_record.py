"""The record as JSON, and its JSON Schema (draft 2020-12), which the models of the record give."""

from __future__ import annotations

import json
import sys
from importlib.resources import files
from typing import Any, get_args

from pydantic import Field, create_model

from extract.record import Entry, Record
from reports.facts import Facts
from reports.open_questions import open_questions
from reports.words import known

DIALECT = "https://json-schema.org/draft/2020-12/schema"
ASKED = "Open questions about figures of this entry: such a figure may be wrong. Absent where there is none."


def _marked(model: type[Entry]) -> type[Entry]:
    """The model of an entry that may tell what is open about it."""
    asked: Any = (list[str] | None, Field(default=None, description=ASKED))
    return create_model(model.__name__, __base__=model, open_question=asked)


def _marked_record() -> type[Record]:
    lists: dict[str, Any] = {}
    for name, told in Record.model_fields.items():
        (model,) = get_args(told.annotation)
        if issubclass(model, Entry):
            lists[name] = (list[_marked(model)], [])  # type: ignore[misc]
    return create_model("Record", __base__=Record, **lists)


MarkedRecord = _marked_record()
"""The record whose entries may each have `open_question`; a plain record is one too."""


def record_json(facts: Facts) -> bytes:
    """The record, each entry with the open questions about it."""
    record = facts.record
    shape = record.as_json()
    for name in Record.model_fields:
        for entry, told in zip(getattr(record, name), shape[name], strict=True):
            if isinstance(entry, Entry) and name != "questions" and (asked := open_questions(facts, entry)):
                told["open_question"] = asked
    return _written(_finite(shape))


def schema_json() -> bytes:
    """The schema as the repository holds it, in `record.schema.json`."""
    return files("reports").joinpath("record.schema.json").read_bytes()


def schema_of_models() -> bytes:
    """The schema as the models give it."""
    shape = {"$schema": DIALECT} | MarkedRecord.model_json_schema(by_alias=True)
    return _written(shape | {"description": "A record of exterior drainage as built. Units stand in the names."})


def _finite(shape: Any) -> Any:
    """The same without numbers that JSON cannot write: they are none."""
    if isinstance(shape, dict):
        return {key: _finite(each) for key, each in shape.items() if _is_known(each)}
    return [_finite(each) for each in shape if _is_known(each)] if isinstance(shape, list) else shape


def _is_known(value: object) -> bool:
    return not isinstance(value, float) or known(value)


def _written(shape: Any) -> bytes:
    return (json.dumps(shape, ensure_ascii=False, indent=1, allow_nan=False) + "\n").encode()


if __name__ == "__main__":
    sys.stdout.buffer.write(schema_of_models())
