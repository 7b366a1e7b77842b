"""The CSV tables: read back by the csv module they hold what the record holds, and nothing in them runs."""

from __future__ import annotations

import csv
import io
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from extract.additions import crossing_words
from extract.check import check
from extract.record import Area, Crossing, Evidence, Issue, Purchase, Question, Record, Run, Structure, Task, Tie
from reports import words
from reports.facts import Facts, gather
from reports.job import Closeout
from reports.tables import FORMULA, Table, guarded, tables

NAMES = [
    'gas, "old" line',
    "two\nlines",
    "one\r\ntwo",
    "\rback",
    "=1+1",
    "+1",
    "-1",
    "@SUM(A1)",
    "\t=1",
    "  =1",
    "'=1",
    "'tis a pipe",
    "\uff1d1",
    "🌧️ drain",
    "בור ניקוז",
    "",
]


def unguarded(cell: str) -> str:
    """The text that a cell was written from."""
    return cell[1:] if cell.startswith("'") and FORMULA.match(cell[1:]) else cell


def of(closeout: Closeout, record: Record) -> Facts:
    return gather(closeout.model_copy(update={"record": record, "photos": [], "findings": []}))


def read(table: Table) -> list[dict[str, str]]:
    """The table as another program reads it."""
    text = table.csv().decode("utf-8")
    return [
        {key: unguarded(cell) for key, cell in row.items()} for row in csv.DictReader(io.StringIO(text, newline=""))
    ]


def named(facts: Facts) -> dict[str, Table]:
    return {table.name: table for table in tables(facts)}


def said(value: Any) -> str:
    return "" if value is None else f"{value:g}" if isinstance(value, float) else str(value)


def test_every_row_is_an_entry_of_the_record_and_every_cell_its_field(closeout: Closeout) -> None:
    facts = gather(closeout)
    found, record = named(facts), closeout.record
    entries = {"structures": record.structures, "runs": record.runs, "levels": record.levels}
    entries |= {"issues": record.issues, "tests": record.tests}
    for name, each in entries.items():
        shapes = [entry.model_dump(by_alias=True) for entry in each]
        rows = read(found[name])
        assert len(rows) == len(shapes) > 0
        for row, shape in zip(rows, shapes, strict=True):
            plain = {key: value for key, value in shape.items() if key in row and not isinstance(value, list)}
            assert {key: row[key] for key in plain} == {key: said(value) for key, value in plain.items()}
    fittings = [(run.label, each.kind, str(each.count)) for run in record.runs for each in run.fittings]
    assert [(row["run"], row["kind"], row["count"]) for row in read(found["fittings"])] == fittings


def test_sizes_pieces_stations_and_areas_stand_in_one_cell(closeout: Closeout) -> None:
    record = Record(
        structures=[
            Structure(label="CB-1", size_in=[12, 12.5], areas=[Area(sqft=1200, surface="roof"), Area(sqft=40)])
        ],
        runs=[Run(label="R-1", pieces_ft=[1000, 10, 4.5], stations_ft=[0, 1014.5])],
    )
    found = named(of(closeout, record))
    assert (read(found["structures"])[0]["size_in"], read(found["structures"])[0]["areas"]) == (
        "12 x 12.5",
        "1200 roof + 40",
    )
    run = read(found["runs"])[0]
    assert (run["pieces_ft"], run["stations_ft"]) == ("1000 + 10 + 4.5", "0 to 1014.5")


@pytest.mark.parametrize("name", NAMES)
def test_a_name_comes_back_as_it_was_and_never_as_a_formula(closeout: Closeout, name: str) -> None:
    record = Record(
        structures=[Structure(label="CB-1", ties=[Tie(from_=name, distance_ft=4)])],
        runs=[Run(label="R-1", bedding=name, crossings=[Crossing(what=name, at_ft=2)])],
        issues=[Issue(kind="other", text=name)],
    )
    found = named(of(closeout, record))
    assert read(found["ties"])[0]["from"] == name
    assert read(found["crossings"])[0]["what"] == name
    assert read(found["runs"])[0]["bedding"] == name
    assert read(found["issues"])[0]["text"] == name
    for table in found.values():
        rows = csv.reader(io.StringIO(table.csv().decode(), newline=""))
        assert not [cell for row in rows for cell in row if FORMULA.match(cell) and not cell.startswith("'")]


@given(st.text(st.characters(codec="utf-8")))
def test_any_text_that_is_guarded_is_unguarded_again(text: str) -> None:
    assert unguarded(guarded(text)) == text
    assert not guarded(text).lstrip().startswith(("=", "+", "-", "@"))


def test_a_number_below_zero_stays_a_number(closeout: Closeout) -> None:
    run = Run(label="R-1", drop_in=-2.5, slope_pct=-0.25)
    (line,) = named(of(closeout, Record(runs=[run])))["runs"].csv().decode().splitlines()[1:]
    assert ",-2.5,-0.25," in line


def test_signs_that_turn_the_way_of_reading_or_are_none_are_shown_as_such(closeout: Closeout) -> None:
    record = Record(issues=[Issue(kind="other", text="12\u202e34\x00")])
    assert read(named(of(closeout, record))["issues"])[0]["text"] == "12\ufffd34\ufffd"


def test_lines_end_as_rfc_4180_has_it_and_an_empty_record_has_its_heads(closeout: Closeout) -> None:
    for table in tables(of(closeout, Record())):
        assert table.csv() == (",".join(f'"{column}"' for column in table.columns) + "\r\n").encode()


def test_no_number_is_none_and_none_is_no_number(closeout: Closeout) -> None:
    found = named(
        of(closeout, Record(runs=[Run(label="R-1", length_ft=float("inf"), cover_in=float("nan"), drop_in=0)]))
    )
    run = read(found["runs"])[0]
    assert (run["length_ft"], run["cover_in"], run["drop_in"], run["slope_pct"]) == ("", "", "0", "")


def test_a_row_with_an_open_question_says_so_and_no_other(closeout: Closeout) -> None:
    ties = [Tie(from_="porch post", distance_ft=9)]
    record = Record(
        structures=[Structure(label="CB-1", ties=ties), Structure(label="CB-2", ties=ties)],
        runs=[Run(label="R-1", state="installed", length_ft=45), Run(label="R-2", state="installed", length_ft=9)],
        questions=[
            Question(id="a1", about="R-1", field="length_ft", choices=[43, 45], why="conflict"),
            Question(id="b2", about="CB-2", field="ties", why="low_confidence", heard="nine-ish, =1"),
        ],
    )
    found = named(of(closeout, record))
    length = "R-1 length_ft: being confirmed: heard 43 ft and later 45 ft"
    assert [row["open_question"] for row in read(found["runs"])] == [length, ""]
    (pipe,) = read(found["takeoff"])[:1]
    assert (pipe["quantity"], pipe["open_question"]) == ("54", length)
    tie = "CB-2 ties: being confirmed: the recording is not clear (heard as “nine-ish, =1”)"
    assert [row["open_question"] for row in read(found["ties"])] == ["", tie]
    assert [(row["id"], row["about"], row["field"], row["choices"]) for row in read(found["questions"])] == [
        ("a1", "R-1", "length_ft", "43; 45"),
        ("b2", "CB-2", "ties", ""),
    ]


def test_a_figure_that_a_failed_check_contradicts_says_so_and_no_other(closeout: Closeout) -> None:
    def run(label: str, note: int, pieces: list[float]) -> Run:
        words = [Evidence(note=note, quote="so it was said", confidence=1, field="length_ft")]
        return Run(label=label, state="installed", length_ft=45, pieces_ft=pieces, evidence=words)

    record = Record(runs=[run("R-1", 1, [10, 10]), run("R-2", 2, [40, 5])])
    facts = gather(closeout.model_copy(update={"record": record, "findings": check(record)}))
    (failed,) = (each for each in facts.open if each.outcome == "fail" and each.check == "pieces")
    found = named(facts)
    told = [row["open_check"] for row in read(found["runs"])]
    assert f": fail: {failed.message}" in told[0]
    assert told[1] == ""
    assert failed.message in read(found["takeoff"])[0]["open_check"]


def test_the_takeoff_counts_sticks_and_names_what_has_no_length(closeout: Closeout) -> None:
    pipe: dict[str, Any] = {"state": "installed", "nominal_in": 4, "pipe": "SDR 35"}
    coil: dict[str, Any] = {"state": "installed", "nominal_in": 4, "pipe": "corrugated"}
    record = Record(
        runs=[
            Run(label="R-1", length_ft=34.6667, **pipe),
            Run(label="R-2", length_ft=5.3333, **pipe),
            Run(label="R-3", **pipe),
            Run(label="R-4", length_ft=50, **coil),
        ],
        tasks=[
            Task(kind="buy", text="need to buy four couplings", count=4, item="couplings"),
            Task(kind="do", text="seed it"),
        ],
    )
    rows = read(named(of(closeout, record))["takeoff"])
    told = [(row["item"], row["quantity"], row["no_length"], row["stick_ft"], row["sticks_at_least"]) for row in rows]
    assert told == [
        ("4 in SDR 35", "40", "R-3", "10", "4"),
        ("4 in corrugated", "50", "", "", ""),
        ("couplings", "4", "", "", ""),
    ]
    assert [row["group"] for row in rows] == ["Pipe", "Pipe", "To buy"]


def test_what_was_bought_stands_beside_what_went_in_and_else_by_itself(closeout: Closeout) -> None:
    record = Record(
        runs=[Run(label="R-1", state="installed", nominal_in=4, pipe="SDR 35", length_ft=34.5)],
        purchases=[
            Purchase(item="4 inch SDR 35", count=3, unit="stick"),
            Purchase(item="drain grates", count=2, unit="each"),
        ],
    )
    pipe, grates = read(named(of(closeout, record))["takeoff"])
    assert (pipe["quantity"], pipe["bought"], pipe["left_over"], pipe["not_matched"]) == ("34.5", "30", "-4.5", "")
    assert (grates["group"], grates["item"], grates["quantity"], grates["bought"]) == (
        "Bought",
        "drain grates",
        "",
        "2",
    )
    assert grates["not_matched"] == "used 0"


def test_what_is_crossed_and_has_no_name_is_not_called_unnamed(closeout: Closeout) -> None:
    crossing = Crossing(what="unnamed", at_ft=12)
    found = named(of(closeout, Record(runs=[Run(label="R-1", crossings=[crossing])])))
    assert [row["what"] for row in read(found["crossings"])] == [""]
    assert words.crossing(crossing) == crossing_words(crossing) == "a thing with no name yet at 12 ft"
    assert words.crossing(crossing, "es") == "algo sin nombre todavía a 12 pies"
