"""What the book lacks of each thing built, before the ground closes."""

from typing import get_args

import pytest

from extract.check import check
from extract.check.evidence import PHOTOS, Lack, Photo, What, held_of, table
from extract.record import Finding, Level, Record, Run, Structure


def basin(label: str = "CB-1", **fields) -> Structure:
    return Structure(label=label, kind="catch_basin", state="installed", **fields)


def run(**fields) -> Run:
    return Run.model_validate({"label": "R-1", "from": "CB-1", "to": "CB-2", "state": "installed"} | fields)


def open_photos(*labels: str) -> list[Photo]:
    return [Photo(number=number, about=label, backfill="open") for number, label in enumerate(labels, 1)]


def found(record: Record, photos: list[Photo]) -> dict[str, Finding]:
    return {each.subject: each for each in check(record, photos=photos) if each.check == "evidence"}


def lacks(pipe: Run, photos: list[Photo], *structures: Structure) -> str:
    return found(Record(runs=[pipe], structures=list(structures)), photos)["R-1"].message


def test_nothing_is_said_where_nobody_knows_which_photos_there_are():
    assert [each for each in check(Record(runs=[run()])) if each.check == "evidence"] == []


def test_a_run_with_its_photo_fall_and_length_is_in_order():
    record = Record(runs=[run(length_ft=20, drop_in=3)])
    assert found(record, open_photos("R-1"))["R-1"].outcome == "ok"


def test_what_is_missing_is_named():
    assert lacks(run(), []) == (
        "Missing from the book of run 1: a photo of it open, "
        "the inverts at catch basin 1 and catch basin 2 and its length."
    )


def test_an_invert_by_rod_counts_and_the_other_end_is_named():
    record = Record(
        runs=[run(length_ft=20)],
        structures=[basin(), basin("CB-2", invert_in_ft=98.0)],
        levels=[Level(point="CB-1 invert_out", kind="foresight", rod_ft=5.0)],
    )
    assert found(record, open_photos("R-1"))["R-1"].outcome == "ok"
    record.levels.clear()
    message = found(record, open_photos("R-1"))["R-1"].message
    assert message == "Missing from the book of run 1: the invert at catch basin 1."


@pytest.mark.parametrize("fall", [{"drop_in": 3}, {"slope_pct": 1.0}])
def test_a_drop_or_a_slope_stands_for_the_inverts(fall):
    assert "invert" not in lacks(run(length_ft=20, **fall), [])


def test_a_run_with_an_end_unsaid_lacks_its_drop():
    assert "its drop or slope" in lacks(run(to=None), [])


def test_stations_stand_for_a_length():
    assert "length" not in lacks(run(drop_in=3, stations_ft=[0, 42]), [])


@pytest.mark.parametrize(
    ("backfill", "words"),
    [
        ("after", "a photo of it from before it was covered"),
        ("unknown", "known to be from before it was covered (the time of photo 4 is not sure)"),
    ],
)
def test_a_photo_that_does_not_show_it_open_does_not_count(backfill, words):
    photo = Photo(number=4, about="R-1", backfill=backfill)
    assert words in lacks(run(length_ft=20, drop_in=3), [photo])


def test_one_photo_from_before_is_enough():
    photos = [Photo(number=n, about="R-1", backfill=each) for n, each in enumerate(("after", "before"))]
    assert found(Record(runs=[run(length_ft=20, drop_in=3)]), photos)["R-1"].outcome == "ok"


def test_a_photo_of_another_thing_does_not_count():
    assert "a photo of it open" in lacks(run(), open_photos("R-2", "CB-1"))


def test_what_each_kind_of_structure_needs():
    record = Record(
        structures=[
            basin(),
            basin("CB-2", invert_depth_in=20),
            Structure(label="DS-1", kind="downspout", state="installed"),
            Structure(label="CD-1", kind="channel_drain", state="installed", invert_out_ft=98.0),
        ]
    )
    messages = {label: each.message for label, each in found(record, open_photos("CB-1", "CB-2", "DS-1")).items()}
    assert "its invert" in messages["CB-1"]
    assert "a photo of catch basin 2 from before anyone noted it covered, and the measures" in messages["CB-2"]
    assert "a photo of downspout 1 from before anyone noted it covered, and the measures" in messages["DS-1"]
    assert messages["CD-1"] == "Missing from the book of channel drain 1: a photo of it open and its length."


@pytest.mark.parametrize("state", ["existing", "planned", "abandoned", "removed"])
def test_what_the_crew_did_not_build_is_left_in_peace(state):
    assert found(Record(runs=[run(state=state)], structures=[basin().model_copy(update={"state": state})]), []) == {}


def test_the_other_invert_of_a_structure_does_not_stand_for_the_one_at_the_pipe():
    upper, lower = basin(invert_out_ft=98.0), basin("CB-2", invert_out_ft=97.5)
    assert "the incoming invert of catch basin 2" in lacks(run(length_ft=20), [], upper, lower)
    assert "invert" not in lacks(run(length_ft=20), [], upper, basin("CB-2", invert_in_ft=97.5))


# -- what is missing, as it is handed on


def test_what_is_missing_is_told_by_kind_label_and_photo():
    photos = [Photo(number=4, about="R-1", backfill="unknown"), Photo(number=7, about="R-1", backfill="unknown")]
    (held,) = held_of(Record(runs=[run()]), {}, photos)
    assert held.missing == (
        Lack("photo_known_before", photos=(4, 7)),
        Lack("inverts_at", ("CB-1", "CB-2")),
        Lack("length"),
    )


@pytest.mark.parametrize("what", get_args(What))
def test_every_kind_of_lack_has_its_words(what):
    of = ("CB-1",) if "_at" in what or what in ("invert_in", "invert_out") else ()
    words = Lack(what, of, (4,)).words
    assert words
    assert "{" not in words
    assert set(table()["words"]) == set(get_args(What)) >= {*table()["field"], *PHOTOS}


@pytest.mark.parametrize(
    ("lack", "words"),
    [
        (Lack("photo_open", ("CB-1",)), "a photo of catch basin 1 open"),
        (Lack("photo_before"), "a photo of it from before it was covered"),
        (
            Lack("photo_known_before", ("OUT-1",), (4, 7)),
            "a photo of outlet 1 known to be from before it was covered (the time of photo 4 and 7 is not sure)",
        ),
        (Lack("invert_at", ("CB-1",)), "the invert at catch basin 1"),
        (Lack("invert_out", ("CB-1",)), "the outgoing invert of catch basin 1"),
        (Lack("start"), "where it starts"),
    ],
)
def test_what_is_missing_is_said_in_plain_words(lack, words):
    assert lack.words == words


@pytest.mark.parametrize(
    ("covered", "lacks"), [(None, "a photo of it open"), ("dug soil", "a photo of it from before it was covered")]
)
def test_a_photo_from_before_the_work_shows_nothing_open(covered, lacks):
    start = Photo(number=1, about="R-1", backfill="start")
    record = Record(runs=[run(length_ft=20, drop_in=2, backfill=covered)])
    finding = found(record, [start])["R-1"]
    assert (finding.outcome, finding.message) == ("attention", f"Missing from the book of run 1: {lacks}.")
    finding = found(record, [start, Photo(number=2, about="R-1", backfill="before")])["R-1"]
    assert finding.outcome == "ok"
