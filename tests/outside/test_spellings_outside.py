"""The published names and sizes of pipe and fittings, as the standards spell them and as they are said.

Each row of spellings.csv names its standard, and whether the spelling was seen (in a page that quotes the standard) or
is from memory. A pipe row with no pipe names something that is none of the record's families, and must not pass for
one of them.
"""

from __future__ import annotations

import csv
from collections import Counter
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


def laid(record: Record) -> tuple[str | None, float | None, float | None] | None:
    """Pipe, size and length of the only run."""
    runs = record.runs
    return (runs[0].pipe, runs[0].nominal_in, runs[0].length_ft) if len(runs) == 1 else None


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


def outcome(record: Record, right: bool) -> str:
    """Of a sentence: right, asked about, or wrong with nobody asked."""
    asked = any(question.why != "missing" for question in record.questions)
    return "right" if right else "asked" if asked else "silent"


def test_fittings_are_known_by_their_published_names() -> None:
    found: Counter[str] = Counter()
    for row in rows("fitting"):
        names = (f"one {row['spelling']}", f"two {row['plural']}", with_article(row["spelling"]))
        for count, name in zip((1, 2, 1), names, strict=True):
            record = record_of(f"Run one is in, forty feet of 4 inch SDR 35, {name}.")
            told = [each for run in record.runs for each in run.fittings]
            found[outcome(record, told == [fitting(row, count)])] += 1
    assert found["right"] >= 140, found
    assert found["silent"] <= 25, found


PIPES = ("forty feet of 4 inch {}", "forty feet of {}, 4 inch", "four-inch {}, forty feet")


def test_pipe_is_known_by_its_published_names() -> None:
    found: Counter[str] = Counter()
    for row in rows("pipe"):
        for said in PIPES:
            record = record_of(f"Run one is in, {said.format(row['spelling'])}.")
            found[outcome(record, laid(record) == (row["pipe"] or None, 4, 40))] += 1
    assert found["right"] >= 156, found
    assert found["silent"] <= 21, found


def test_nominal_sizes_are_known_in_digits_and_words() -> None:
    found: Counter[str] = Counter()
    for row in rows("size"):
        published, size = row["spelling"], float(row["nominal_in"])
        said = (published, published.replace(" in.", "-inch"), published.replace(" in.", '"'), f"{in_words(size)} inch")
        for each in said:
            record = record_of(f"Run one is in, forty feet of {each} {row['pipe']}.")
            found[outcome(record, laid(record) == (row["pipe"], size, 40))] += 1
    assert found["right"] >= 109, found
    assert found["silent"] <= 0, found


@pytest.mark.parametrize("row", ROWS, ids=spelling)
def test_every_spelling_names_its_standard(row: Row) -> None:
    assert row["standard"].startswith(("ASTM ", "AASHTO ", "ASME "))
    assert row["edition_section"]
    assert row["mark"] in ("seen", "from memory")
