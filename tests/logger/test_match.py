from datetime import datetime, timedelta, timezone

import pytest

from extract.assemble import assemble
from extract.photo_told import Told
from extract.record import Note
from logger.match import match
from logger.spoken import spoken_of
from reports.job import Photo

ZONE = timezone(timedelta(hours=-5))


def at(clock: str) -> datetime:
    return datetime.fromisoformat(f"2026-05-14T{clock}-05:00")


def log(*said: tuple[str, str]) -> list[Note]:
    return [Note(text=text, at=at(clock)) for clock, text in said]


def photo(number: int, clock: str | None, place: tuple[float, float] | None = None, **more) -> Photo:
    """`place` is metres north and east of a spot in the grass."""
    lat, lon = (None, None) if place is None else (41.5 + place[0] / 111_100, -93.25 + place[1] / 83_300)
    return Photo(
        number=number,
        sha256=f"{number:064x}",
        name=f"{number}.jpg",
        taken_at=at(clock) if clock else None,
        time_source=more.get("time_source", "EXIF time and offset"),
        lat=lat,
        lon=lon,
        gps_error_m=more.get("error_m", 4),
    )


def matched(photos: list[Photo], notes: list[Note], told: dict[int, Told] | None = None) -> list[Photo]:
    """`told` is what a person said, by the photo's number."""
    record = assemble(notes)
    by_hash = {f"{number:064x}": each for number, each in (told or {}).items()}
    return match(photos, spoken_of(notes, record), record, by_hash)


MORNING = log(
    ("09:48:00", "Basin one is set. Twelve by twelve."),
    ("09:55:00", "Run one is laid, from basin one to basin two. Four-inch SDR 35."),
)


@pytest.mark.parametrize(
    ("clock", "about", "note", "reason"),
    [
        ("09:48:40", "CB-1", 0, "taken 09:48:40, 40 s after note 0 about CB-1"),
        ("09:47:30", "CB-1", 0, "taken 09:47:30, 30 s before note 0 about CB-1"),
        ("09:55:00", "R-1", 1, "taken 09:55:00, during note 1 about R-1"),
        ("09:58:05", "R-1", 1, "taken 09:58:05, 3 min 5 s after note 1 about R-1"),
    ],
)
def test_a_photo_shows_what_was_spoken_of_nearest_in_time(clock, about, note, reason):
    (found,) = matched([photo(1, clock)], MORNING)
    assert (found.about, found.note, found.reason) == (about, note, reason)


@pytest.mark.parametrize("clock", ["09:37:59", "10:05:01"])
def test_nothing_near_in_time_is_no_match(clock):
    (found,) = matched([photo(1, clock)], MORNING)
    assert (found.about, found.note, found.backfill) == (None, None, "unknown")
    assert found.reason == f"taken {clock}; nothing about the work was said within 10 min of it"


def test_a_photo_of_no_known_time_is_no_match():
    (found,) = matched([photo(1, None)], MORNING)
    assert (found.about, found.reason) == (None, "nothing about the work was said within 10 min of it")


def test_talk_about_no_part_of_the_work_is_passed_over():
    notes = log(("09:48:00", "Basin one is set."), ("09:49:00", "Lunch. Two burritos."))
    (found,) = matched([photo(1, "09:49:05")], notes)
    assert (found.about, found.note) == ("CB-1", 0)


def test_a_note_that_names_a_photo_counts_more():
    notes = log(
        ("09:48:00", "Basin one is set."), ("09:50:00", "Run one is 12 feet long."), ("09:52:00", "Photo of basin one.")
    )
    (found,) = matched([photo(1, "09:50:40")], notes)
    assert (found.about, found.note) == ("CB-1", 2)
    assert found.reason == "taken 09:50:40, 80 s before note 2 about CB-1, which names a photo"


def test_a_photo_that_is_still_to_be_taken_names_none():
    notes = log(
        ("09:48:00", "Outlet one is in. Pop-up."),
        ("09:50:00", "Run one is 12 feet long."),
        ("09:52:00", "Need a photo of outlet one after the next rain."),
    )
    (found,) = matched([photo(1, "09:50:40")], notes)
    assert found.about == "R-1"


def test_a_photo_of_it_is_of_what_was_spoken_of_last():
    notes = log(("09:48:00", "Basin one is set."), ("09:58:00", "Got a picture of it."))
    (found,) = matched([photo(1, "09:58:10")], notes)
    assert (found.about, found.note) == ("CB-1", 1)


def test_a_long_note_lasts_until_its_end():
    notes = [
        Note(text="Basin one is set.", at=at("09:48:00"), start_s=0, end_s=90),
        Note(text="Run one is 12 feet long.", at=at("09:49:40"), start_s=100, end_s=103),
    ]
    (found,) = matched([photo(1, "09:49:28")], notes)
    assert (found.about, found.reason) == ("CB-1", "taken 09:49:28, during note 0 about CB-1")


TWO_BASINS = log(
    ("09:00:00", "Basin one is set."),
    ("10:00:00", "Basin two is set."),
    ("11:00:00", "Basin one rim is 99.4."),
    ("11:04:00", "Basin two rim is 99.2."),
)


def known_places(apart_m: float = 60, **more) -> list[Photo]:
    """Two photos of each basin that time alone settles."""
    return [
        photo(1, "09:00:20", (0, 0), **more),
        photo(2, "09:01:00", (1, 1), **more),
        photo(3, "10:00:20", (apart_m, 0), **more),
        photo(4, "10:01:00", (apart_m + 1, 1), **more),
    ]


def test_place_overrules_time_where_it_tells_two_structures_apart():
    found = matched([*known_places(), photo(5, "11:01:00", (60, 2))], TWO_BASINS)
    assert [each.about for each in found] == ["CB-1", "CB-1", "CB-2", "CB-2", "CB-2"]
    assert found[4].note == 3
    assert found[4].reason == (
        "taken 11:01:00, 3 min 0 s before note 3 about CB-2; "
        "by GPS 2 m from CB-2 but 59 m from CB-1, which was spoken of nearer in time"
    )


def test_what_a_person_says_goes_before_place_and_time():
    there = photo(5, "11:01:00", (60, 2))
    found = matched([*known_places(), there], TWO_BASINS, {5: Told("CB-1", "before")})
    assert (found[4].about, found[4].note, found[4].backfill) == ("CB-1", None, "before")
    assert found[4].reason == "by hand: it shows CB-1, from before backfill"
    (nothing,) = matched([photo(1, "09:00:20")], TWO_BASINS, {1: Told(None)})
    assert (nothing.about, nothing.reason) == (None, "by hand: it shows no part of the work")


def test_photos_told_by_hand_tell_where_a_thing_is():
    far = [photo(number, f"10:3{number}:00", (60, number)) for number in (3, 4)]
    told = {3: Told("CB-2"), 4: Told("CB-2")}
    near = photo(5, "11:01:00", (60, 2))
    assert matched([*known_places()[:2], *far, near], TWO_BASINS)[4].about == "CB-1"
    assert matched([*known_places()[:2], *far, near], TWO_BASINS, told)[4].about == "CB-2"


def test_a_photo_told_to_show_nothing_tells_no_place():
    told = {3: Told(None)}
    found = matched([*known_places(), photo(5, "11:01:00", (60, 2))], TWO_BASINS, told)
    assert found[4].about == "CB-1"  # of basin two one sighting is left, which is not enough


def test_place_within_the_errors_overrules_nothing():
    found = matched([*known_places(apart_m=20), photo(5, "11:01:00", (20, 2))], TWO_BASINS)
    assert found[4].about == "CB-1"


def test_poor_fixes_overrule_nothing():
    found = matched([*known_places(error_m=30), photo(5, "11:01:00", (60, 2), error_m=30)], TWO_BASINS)
    assert found[4].about == "CB-1"


def test_one_photo_gives_a_structure_no_place():
    found = matched([*known_places()[:3], photo(5, "11:01:00", (60, 2))], TWO_BASINS)
    assert found[3].about == "CB-1"


def test_a_photo_far_from_its_structure_and_near_no_other_stays():
    found = matched([*known_places(), photo(5, "11:01:00", (400, 2))], TWO_BASINS)
    assert found[4].about == "CB-1"


def test_place_does_not_reach_beyond_what_was_spoken_of_at_that_time():
    found = matched([*known_places(), photo(5, "09:02:00", (60, 2))], TWO_BASINS)
    assert found[4].about == "CB-1"


@pytest.mark.parametrize(
    "told",
    [
        "Run one is backfilled.",
        "Backfill on run one is gravel and topsoil.",
        "OK, run one is all buried.",
        "We covered up run one.",
        "Run one is backfilled before lunch.",
    ],
)
def test_a_photo_is_before_or_after_the_note_that_says_backfilled(told):
    notes = log(("09:48:00", "Run one is laid. 12 feet."), ("10:00:00", told), ("10:05:00", "Run one is done."))
    first, last = matched([photo(1, "09:50:00"), photo(2, "10:05:10")], notes)
    assert (first.about, first.backfill) == ("R-1", "before")
    assert (last.about, last.backfill) == ("R-1", "after")


@pytest.mark.parametrize(
    "told",
    [
        "Run one is not backfilled yet.",
        "Run one gets checked before it is backfilled.",
        "Run one will be backfilled tomorrow.",
        "We found a buried cable on run one.",
        "Don't leave until run one is covered up.",
    ],
)
def test_a_backfill_that_is_still_to_come_says_nothing(told):
    notes = log(("09:48:00", "Run one is laid. 12 feet."), ("10:00:00", told))
    (found,) = matched([photo(1, "09:50:00")], notes)
    assert (found.about, found.backfill) == ("R-1", "unknown")


def test_a_time_that_copying_may_have_changed_proves_no_open_trench():
    notes = log(("09:48:00", "Run one is laid. 12 feet."), ("10:00:00", "Run one is backfilled."))
    (found,) = matched([photo(1, "09:50:00", time_source="file modification time")], notes)
    assert (found.about, found.backfill) == ("R-1", "unknown")


DAY = [
    ("07:41:00", "Plan. Channel drain one is going to go across the walk."),
    ("07:42:00", "Basin one is the old catch basin. It is existing."),
    ("09:00:00", "Channel drain one is set. Eight feet long."),
]


@pytest.mark.parametrize(("clock", "stage"), [("07:41:05", "start"), ("07:42:00", "start"), ("07:45:00", "unknown")])
def test_a_photo_among_the_notes_ahead_of_all_work_is_from_before_it(clock: str, stage: str) -> None:
    (found,) = matched([photo(1, clock)], log(*DAY))
    assert (found.about is not None, found.stage) == (True, stage)


@pytest.mark.parametrize("side", ["before", "after", None])
def test_whoever_tells_a_side_of_backfill_has_seen_that_it_is_not_from_before_the_work(side) -> None:
    (found,) = matched([photo(1, "07:41:05")], log(*DAY), {1: Told("CB-1", side)})
    assert (found.before_work, found.stage) == (side is None, side or "start")


def test_a_crew_that_says_nothing_before_it_digs_leaves_it_open() -> None:
    (found,) = matched([photo(1, "08:55:00")], log(*DAY[2:]))
    assert (found.about, found.stage) == ("CD-1", "unknown")


def test_what_was_met_and_dealt_with_is_work_too() -> None:
    cleared = ("07:41:30", "Basin one was plugged with leaves. Cleared the blockage.")
    found = matched([photo(1, "07:41:05"), photo(2, "07:42:00")], log(DAY[0], cleared, *DAY[1:]))
    assert [each.stage for each in found] == ["unknown", "unknown"]


def test_a_time_that_copying_may_have_changed_proves_nothing_of_the_start() -> None:
    (found,) = matched([photo(1, "07:41:05", time_source="file modification time")], log(*DAY))
    assert found.stage == "unknown"


def test_of_two_such_notes_the_first_counts():
    notes = log(
        ("09:48:00", "Run one is laid. 12 feet."),
        ("10:00:00", "Run one is backfilled."),
        ("10:20:00", "Backfill on run one is gravel."),
    )
    (found,) = matched([photo(1, "10:10:00")], notes)
    assert found.backfill == "after"


def test_the_photos_given_are_not_changed():
    given = photo(1, "09:48:40")
    matched([given], MORNING)
    assert given.about is None


def test_what_is_to_decide_or_to_do_is_not_in_the_picture():
    notes = log(
        ("09:48:00", "The channel drain is set. Basin one is set."),
        ("09:50:00", "Basin one rim is 99.4."),
        ("09:51:00", "We haven't decided on the channel grate. Black or gray."),
    )
    (found,) = matched([photo(1, "09:51:05")], notes)
    assert (found.about, found.note) == ("CB-1", 1)


def test_what_is_there_goes_before_what_is_still_to_come():
    notes = log(
        ("09:48:00", "Basin one is the old basin. It is existing."),
        ("09:48:30", "Basin two is going to go by the gate."),
    )
    (found,) = matched([photo(1, "09:49:00")], notes)
    assert (found.about, found.note) == ("CB-1", 0)
    (later,) = matched([photo(1, "09:51:00")], [*notes, *log(("09:50:00", "Basin two is set."))])
    assert (later.about, later.note) == ("CB-2", 2)
