from datetime import UTC, datetime, timedelta, timezone

from logger.clocks import Shot, taken_times
from logger.photos import PhotoFacts

ZONE = timezone(timedelta(hours=-5))
MODIFIED = datetime(2026, 5, 15, 1, 0, tzinfo=UTC)


def shot(clock: str | None = None, gps: str | None = None, device: str = "Ombrel", **more) -> Shot:
    facts = PhotoFacts(
        taken=datetime.fromisoformat(f"2026-05-14T{clock}") if clock else None,
        gps_time=datetime.fromisoformat(f"2026-05-14T{gps}+00:00") if gps else None,
        device=device,
        offset=more.get("offset"),
    )
    return Shot(facts, more.get("name", "a.jpg"), MODIFIED)


def times(*shots: Shot) -> list[tuple[str, str]]:
    return [(f"{when.at:%H:%M:%S}", when.source) for when in taken_times(shots, ZONE)]


def test_a_time_comes_from_exif_then_gps_then_name_then_file():
    assert times(
        shot("09:48:40", offset="-06:00"),
        shot("09:48:40", device="other"),
        shot(gps="14:48:38"),
        shot(name="20260514_094841.jpg"),
        shot(),
    ) == [
        ("10:48:40", "EXIF time and offset"),
        ("09:48:40", "EXIF time, the job's zone assumed"),
        ("09:48:38", "GPS time"),
        ("09:48:41", "file name, the job's zone assumed"),
        ("20:00:00", "file modification time"),
    ]


def test_a_slow_camera_clock_is_corrected_on_all_photos_of_that_device():
    slow = "EXIF time, camera clock 7 min slow against GPS time, corrected"
    assert times(
        shot("09:41:40", "14:48:40"),
        shot("09:51:40", "14:58:41"),
        shot("10:00:00"),
        shot("10:00:00", device="other"),
    ) == [
        ("09:48:40", slow),
        ("09:58:40", slow),
        ("10:07:00", slow),
        ("10:00:00", "EXIF time, the job's zone assumed"),
    ]


def test_a_clock_an_hour_fast_is_corrected():
    assert times(shot("10:48:40", "14:48:40")) == [
        ("09:48:40", "EXIF time, camera clock 60 min fast against GPS time, corrected")
    ]


def test_a_clock_within_a_minute_and_a_half_is_left_alone():
    assert times(shot("09:48:40", "14:50:05")) == [("09:48:40", "EXIF time, the job's zone assumed")]


def test_one_photo_whose_gps_time_differs_from_its_fellows_is_not_corrected_by_them():
    found = times(
        shot("09:41:40", "14:48:40"),
        shot("09:42:40", "14:49:40"),
        shot("09:43:40", "14:43:42"),
    )
    assert [at for at, _ in found] == ["09:48:40", "09:49:40", "09:43:40"]
    assert "disagrees with this device's other photos, not corrected" in found[2][1]


def test_photos_of_no_known_device_are_not_corrected():
    nameless = Shot(
        PhotoFacts(taken=datetime(2026, 5, 14, 9), gps_time=datetime(2026, 5, 14, 15, tzinfo=UTC)), "a", MODIFIED
    )
    assert times(nameless) == [("09:00:00", "EXIF time, the job's zone assumed")]
