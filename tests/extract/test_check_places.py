"""Photos of both ends bound a run's length from below, and with its bends from above."""

import pytest

from extract.check import check
from extract.check.evidence import Photo
from extract.record import Finding, Fitting, Record, Run

FAR = 0.0003
"""Degrees of latitude, 33.31 m or 109.3 ft."""


def photo(number: int, about: str, north: float = 0.0, error_m: float | None = 3.0) -> Photo:
    return Photo(number=number, about=about, backfill="open", lat=40.0 + north, lon=-75.0, error_m=error_m)


def found(length: float | None, *photos: Photo, **said: object) -> list[Finding]:
    ends = {"label": "R-1", "from": "CB-1", "to": "CB-2", "state": "installed", "length_ft": length}
    pipe = Run.model_validate(ends | said)
    return [each for each in check(Record(runs=[pipe]), photos=list(photos)) if each.check == "photo_distance"]


def test_a_length_under_the_least_distance_is_told_with_its_numbers():
    (finding,) = found(30, photo(1, "CB-1"), photo(2, "CB-2", FAR))
    assert finding.outcome == "attention"
    assert finding.message == (
        "Run 1 was said to be 30 feet long, but photos 1 and 2 of its ends were taken 109.29 feet apart, "
        "give or take 19.69 feet; the length, or what a photo was taken to show, is wrong."
    )


@pytest.mark.parametrize(("length", "count"), [(69.5, 1), (69.7, 0), (109, 0), (400, 0), (None, 0)])
def test_it_bounds_and_does_not_measure(length, count):
    assert len(found(length, photo(1, "CB-1"), photo(2, "CB-2", FAR))) == count


def test_a_photo_with_no_error_counts_with_that_of_phones():
    ends = photo(1, "CB-1", error_m=None), photo(2, "CB-2", FAR, error_m=None)
    assert (len(found(57, *ends)), len(found(58, *ends))) == (1, 0)


def test_the_surer_photo_of_an_end_counts():
    ends = photo(1, "CB-1"), photo(2, "CB-2", FAR, error_m=60), photo(3, "CB-2", FAR, error_m=1)
    (finding,) = found(30, *ends)
    assert "photos 1 and 3" in finding.message


def test_no_place_or_one_end_alone_tells_nothing():
    assert found(30, photo(1, "CB-1")) == []
    assert found(30, photo(1, "CB-1"), Photo(number=2, about="CB-2", backfill="open")) == []


def bend(angle: float | None, count: int = 1, kind: str = "elbow") -> Fitting:
    return Fitting.model_validate({"kind": kind, "angle_deg": angle, "count": count})


@pytest.mark.parametrize(("length", "count"), [(211.5, 1), (210, 0), (125, 0)])
def test_a_length_that_its_bends_cannot_bring_back_within_the_photos_is_told(length, count):
    """Two 45s leave 0.7071 of the length; 109.29 ft and 19.69 ft of error and 20 ft of reach are 148.98 ft."""
    ends = photo(1, "CB-1"), photo(2, "CB-2", FAR)
    assert len(found(length, *ends, fittings=[bend(45, 2)], pipe="SDR 35")) == count


def test_its_message_gives_the_bends_and_the_distances():
    ends = photo(1, "CB-1"), photo(2, "CB-2", FAR)
    (finding,) = found(240, *ends, fittings=[bend(45, 2), bend(None, kind="coupling")], pipe="SDR 35")
    assert finding.outcome == "attention"
    assert finding.message == (
        "Run 1 was said to be 240 feet long with bends of 90 degrees in all, so its ends lie 169.71 feet apart or "
        "more, but photos 1 and 2 of its ends were taken 109.29 feet apart, give or take 19.69 feet; the length, a "
        "bend that was not said, or what a photo was taken to show, is wrong."
    )


@pytest.mark.parametrize(
    ("pipe", "fittings"),
    [
        ("SDR 35", []),
        ("SDR 35", [bend(45), bend(None)]),
        ("SDR 35", [bend(45), bend(45, kind="wye")]),
        ("SDR 35", [bend(90, 2)]),
        ("corrugated", [bend(45)]),
        (None, [bend(45)]),
    ],
    ids=[
        "no bends said",
        "a bend of no angle",
        "a wye",
        "bends that can come back",
        "pipe that bends",
        "pipe not said",
    ],
)
def test_with_bends_that_cannot_be_told_a_length_has_no_upper_bound(pipe, fittings):
    ends = photo(1, "CB-1"), photo(2, "CB-2", FAR)
    assert found(5000, *ends, fittings=fittings, pipe=pipe) == []
