"""fallbook export: what it writes, what it says, and what it does not touch."""

from __future__ import annotations

import csv
import json

import pytest

from reports.export import OWN, SOMETIMES

SAID = "Run one is in, 34 feet of 4 inch SDR 35, from basin one to basin two."


def test_it_writes_every_table_and_the_record_with_its_schema_and_says_what_is_lacking(fallbook, job, tmp_path):
    fallbook("say", job, SAID, "--at", "10:00")
    fallbook("say", job, "Run one is 43 feet.", "--at", "10:05")
    out = tmp_path / "out"
    code, said, err = fallbook("export", job, "-o", out)
    assert (code, err) == (0, "")
    written = sorted(str(each) for each in out.iterdir())
    lines = said.splitlines()
    assert sorted(lines[: len(written)]) == written
    assert lines[len(written)] == (
        f"1 question is open, marked open_question in each file. Settle with: fallbook ask {job}"
    )
    assert [line.split()[0] for line in lines[len(written) + 1 : -1]] == ["plan.dxf", "profile.dxf", "places.geojson"]
    assert lines[-1] == OWN
    with (out / "runs.csv").open(encoding="utf-8", newline="") as file:
        (run,) = csv.DictReader(file)
    record = json.loads((out / "record.json").read_text(encoding="utf-8"))
    asked = "R-1 length_ft: being confirmed: heard 34 ft and later 43 ft"
    assert (run["length_ft"], run["open_question"]) == ("43", asked)
    assert (record["runs"][0]["length_ft"], record["runs"][0]["open_question"]) == (43, [asked])


def test_check_reads_the_record_that_export_wrote(fallbook, job, tmp_path):
    fallbook("say", job, SAID, "--at", "10:00")
    fallbook("say", job, "Run one is 43 feet.", "--at", "10:05")
    fallbook("export", job, "-o", tmp_path / "out")
    code, said, err = fallbook("check", tmp_path / "out" / "record.json")
    assert (code, err) == (0, "")
    assert "R-1" in said


def test_a_drawing_that_is_no_longer_true_goes_and_what_is_not_ours_stays(fallbook, job, tmp_path):
    for name in (*SOMETIMES, "letter.txt"):
        (tmp_path / name).write_text("old")
    assert fallbook("export", job, "-o", tmp_path)[0] == 0
    assert not [name for name in SOMETIMES if (tmp_path / name).exists()]
    assert (tmp_path / "letter.txt").read_text() == "old"


def test_it_takes_a_folder_of_the_job_s_name_where_none_is_given(fallbook, job, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    assert fallbook("export", job)[0] == 0
    assert (tmp_path / f"{job}-export" / "record.json").exists()


@pytest.mark.parametrize("where", ["file", "file/under", "gone/out"])
def test_a_place_that_cannot_be_is_one_line_and_nothing_is_written(fallbook, job, tmp_path, where):
    (tmp_path / "file").write_text("mine")
    before = sorted(tmp_path.rglob("*"))
    code, said, err = fallbook("export", job, "-o", tmp_path / where)
    assert (code, said, err.count("\n")) == (1, "", 1)
    assert err.startswith(f"fallbook: {tmp_path}")
    assert [each for each in sorted(tmp_path.rglob("*")) if each not in before and "library" not in str(each)] == []
    assert (tmp_path / "file").read_text() == "mine"


def test_a_folder_in_the_way_of_a_file_is_one_line(fallbook, job, tmp_path):
    (tmp_path / "out" / "runs.csv").mkdir(parents=True)
    code, said, err = fallbook("export", job, "-o", tmp_path / "out")
    assert (code, said) == (1, "")
    assert err.startswith(f"fallbook: {tmp_path / 'out'}: cannot be written (Is a directory)")
    assert [each.name for each in (tmp_path / "out").iterdir()] == ["runs.csv"]


def test_a_job_that_is_not_there_is_one_line(fallbook, job, tmp_path):
    assert fallbook("export", "gone", "-o", tmp_path / "out")[0] == 1
    assert not (tmp_path / "out").exists()
