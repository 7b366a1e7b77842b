from __future__ import annotations

from datetime import UTC, datetime

import pytest

from extract.check.policy import load_policy
from extract.record import Evidence, Fitting, Run, Structure
from reports import words


@pytest.mark.parametrize(
    ("feet", "text"),
    [
        (9.1667, "9 ft 2 in (9.17 ft)"),
        (34.6667, "34 ft 8 in (34.67 ft)"),
        (6.5, "6 ft 6 in (6.5 ft)"),
        (42, "42 ft"),
        (12.37, "12.37 ft"),
        (0.5, "6 in (0.5 ft)"),
        (0.0, "0 ft"),
        (11.9999, "12 ft"),
        (10.0104, "10 ft 1/8 in (10.01 ft)"),
        (None, "not recorded"),
        (float("nan"), "not recorded"),
        (float("inf"), "not recorded"),
    ],
)
def test_a_length_is_told_in_feet_and_inches_beside_its_decimals(feet: float | None, text: str) -> None:
    assert words.length(feet) == text


@pytest.mark.parametrize(
    ("inches", "text"),
    [(4.25, "4 1/4 in"), (16, "16 in"), (0.5, "1/2 in"), (7.4, "7.4 in"), (-2, "-2 in"), (None, "not recorded")],
)
def test_inches_are_told_in_sixteenths_where_they_are_sixteenths(inches: float | None, text: str) -> None:
    assert words.inches(inches) == text


@pytest.mark.parametrize(
    ("percent", "text"),
    [
        (1.0417, "1.04% (1/8 in per ft)"),
        (2.0833, "2.08% (1/4 in per ft)"),
        (2.0, "2.00%"),
        (0.0, "0.00%"),
        (-0.5, "-0.50%"),
        (None, "not recorded"),
    ],
)
def test_a_slope_names_its_fall_per_foot_only_where_it_is_one(percent: float | None, text: str) -> None:
    assert words.slope(percent) == text


def test_nothing_unknown_prints_as_zero_or_blank() -> None:
    formats = (words.inches, words.length, words.short_length, words.elevation, words.slope, words.duration, words.flow)
    assert {show(None) for show in formats} == {"not recorded"}
    assert words.plain("state", None) == "not recorded"
    assert words.size(Structure(label="CB-1", kind="catch_basin")) == "not recorded"
    assert words.notes([]) == "not recorded"
    assert words.pipe(Run(label="R-1")) == "pipe not recorded"
    assert words.pipe(Run(label="R-1", pipe="SDR 35")) == "SDR 35, size not recorded"


def test_sizes_are_told_by_kind() -> None:
    assert words.size(Structure(label="CB-1", kind="catch_basin", size_in=[12, 12])) == "12 × 12 in"
    assert words.size(Structure(label="CB-2", kind="catch_basin", size_in=[9])) == "9 in round"
    assert words.size(Structure(label="CD-1", kind="channel_drain", size_in=[5])) == "5 in wide"
    assert words.size(Structure(label="OUT-1", kind="daylight_outlet", size_in=[4])) == "4 in"


def test_a_fitting_shows_only_the_sizes_that_were_said_of_it() -> None:
    assert words.fitting(Fitting(kind="long_sweep", angle_deg=90)) == "90° long-sweep elbow"
    assert words.fitting(Fitting(kind="reducer", nominal_in=6, to_nominal_in=4)) == "reducer (6 in to 4 in)"


def test_a_moment_is_shown_in_the_time_of_the_site() -> None:
    assert words.moment(datetime(2026, 5, 14, 14, 48, tzinfo=UTC), "-05:00") == "14 May 2026 09:48"
    assert words.moment(datetime(2026, 5, 14, 9, 48), "-05:00") == "14 May 2026 09:48"
    assert words.moment(datetime(2026, 5, 15, 1, 0, tzinfo=UTC), "-05:00") == "14 May 2026 20:00"
    assert words.moment(None, "-05:00") == "time not recorded"


def test_hostile_characters_are_shown_and_not_dropped() -> None:
    assert words.clean("a\x00b\x0bc\ud800d\uffffe") == "a�b�c�d�e"
    assert words.clean("43 \u202eft 54\u2066") == "43 �ft 54�"
    assert words.clean("two\nlines\tand\r\na tab") == "two lines and a tab"
    assert words.clean("Zoë, 12 × 12, 90°, 一") == "Zoë, 12 × 12, 90°, 一"


def test_a_figure_behind_words_from_right_to_left_stays_behind_them() -> None:
    assert words.on_paper("For אינה וקסקומב, 14 May") == "For אינה וקסקומב\u200e, 14 May"
    assert words.on_paper("إينا 3 إينا") == "إينا\u200e 3 إينا\u200e"
    assert words.on_paper("Zoë, 14 \u202eMay") == "Zoë, 14 �May"


def test_note_numbers_are_listed_once_and_in_order() -> None:
    evidence = [Evidence(note=note, quote="", confidence=1) for note in (14, 3, 14)]
    assert words.notes(evidence) == "notes 3, 14"
    assert words.notes(evidence[:1]) == "note 14"


def test_every_key_of_the_record_has_plain_words() -> None:
    from typing import get_args

    from extract import record

    groups = {
        "structure": record.StructureKind,
        "meaning": record.StructureKind,
        "pipe": record.Pipe,
        "state": record.State,
        "fitting": record.FittingKind,
        "issue": record.IssueKind,
        "action": record.IssueAction,
        "outcome": record.Outcome,
    }
    kept = words.load("words")
    missing = {group: set(get_args(kind)) - set(kept[group]) for group, kind in groups.items()}
    assert not any(missing.values()), missing


def test_every_limit_of_the_checks_has_a_plain_name_and_no_other_does() -> None:
    assert set(words.load("words")["limit"]) == set(load_policy().limits)


@pytest.mark.parametrize(
    ("value", "unit", "text"),
    [
        (1.5, "percent", "1.5 percent"),
        (0.0104, "Manning n", "0.0104"),
        (0.2917, "share of the area", "0.2917 of its area"),
        (100.0, "ft", "100 ft"),
    ],
)
def test_a_limit_is_told_with_its_unit(value: float, unit: str, text: str) -> None:
    assert words.limit(value, unit) == text
