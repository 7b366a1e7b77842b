"""The published names and sizes of pipe and fittings, as the standards spell them and as they are said.

Each row of spellings.csv names its standard, and whether the spelling was seen (in a page that quotes the standard) or
is from memory. A pipe row with no pipe names something that is none of the record's families, and must not pass for
one of them.
"""

from __future__ import annotations

import csv
from pathlib import Path

import pytest
from num2words import num2words

from extract.assemble import assemble
from extract.record import Fitting, Note, Record

pytestmark = pytest.mark.outside

with Path(__file__).with_name("spellings.csv").open(newline="", encoding="utf-8") as table:
    ROWS = list(csv.DictReader(table))

Row = dict[str, str]


def rows(what: str) -> list[Row]:
    return [row for row in ROWS if row["what"] == what]


def spelling(row: Row) -> str:
    return f"{row['spelling']} {row['pipe']}".strip() if row["what"] == "size" else row["spelling"]


def record_of(text: str) -> Record:
    return assemble([Note(text=text)])


def laid(record: Record) -> tuple[str | None, float | None, float | None]:
    (run,) = record.runs
    return run.pipe, run.nominal_in, run.length_ft


def number(written: str) -> float | None:
    return float(written) if written else None


def fitting(row: Row, count: int) -> Fitting:
    angle, size, to_size = (number(row[field]) for field in ("angle_deg", "nominal_in", "to_nominal_in"))
    return Fitting.model_validate(
        {"kind": row["kind"], "count": count, "angle_deg": angle, "nominal_in": size, "to_nominal_in": to_size}
    )


def with_article(name: str) -> str:
    return f"an {name}" if name.startswith(("8", "e")) else f"a {name}"


def in_words(size: float) -> str:
    return num2words(int(size)) if size == int(size) else f"{num2words(int(size))} and a half"


@pytest.mark.parametrize("row", rows("fitting"), ids=spelling)
@pytest.mark.parametrize("counted", ["one", "two", "a"])
def test_a_fitting_is_known_by_its_published_name(row: Row, counted: str) -> None:
    names = {"one": f"one {row['spelling']}", "two": f"two {row['plural']}", "a": with_article(row["spelling"])}
    record = record_of(f"Run one is in, forty feet of 4 inch SDR 35, {names[counted]}.")
    assert record.runs[0].fittings == [fitting(row, 2 if counted == "two" else 1)]
    assert laid(record) == ("SDR 35", 4, 40)
    assert (record.structures, record.questions) == ([], [])


@pytest.mark.parametrize("row", rows("pipe"), ids=spelling)
@pytest.mark.parametrize("said", ["forty feet of 4 inch {}", "forty feet of {}, 4 inch", "four-inch {}, forty feet"])
def test_a_pipe_family_is_known_by_its_published_name(row: Row, said: str) -> None:
    record = record_of(f"Run one is in, {said.format(row['spelling'])}.")
    assert laid(record) == (row["pipe"] or None, 4, 40)
    assert (record.structures, record.runs[0].fittings, record.questions) == ([], [], [])


@pytest.mark.parametrize("row", rows("size"), ids=spelling)
@pytest.mark.parametrize("said", ["as published", "hyphened", "with a mark", "in words"])
def test_a_nominal_size_is_known_in_digits_and_words(row: Row, said: str) -> None:
    published, size = row["spelling"], float(row["nominal_in"])
    spoken = {
        "as published": published,
        "hyphened": published.replace(" in.", "-inch"),
        "with a mark": published.replace(" in.", '"'),
        "in words": f"{in_words(size)} inch",
    }
    record = record_of(f"Run one is in, forty feet of {spoken[said]} {row['pipe']}.")
    assert laid(record) == (row["pipe"], size, 40)
    assert record.questions == []


@pytest.mark.parametrize("row", ROWS, ids=spelling)
def test_every_spelling_names_its_standard(row: Row) -> None:
    assert row["standard"].startswith(("ASTM ", "AASHTO ", "ASME "))
    assert row["edition_section"]
    assert row["mark"] in ("seen", "from memory")
