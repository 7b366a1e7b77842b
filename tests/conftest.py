"""What every test stands on: its own folders, no network, a stand-in for the recogniser, photos made on the spot."""

from __future__ import annotations

import io
import ipaddress
import os
import socket
from collections import OrderedDict, deque
from collections.abc import Callable, Iterable, Iterator, Sequence
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import piexif
import platformdirs
import pytest
from hypothesis import settings
from PIL import Image

import logger  # noqa: F401  # before the libraries that it keeps from the network
from extract.errors import FallbookError
from extract.read.model import Model
from extract.record import Note
from logger import cli, jobs
from logger.store import Store, open_store

COMPANY = """
name = "Sedgeway Drainage"
address = "2 Tarn Lane, Oxholt"
phone = "555-0100"
email = "yard@sedgeway.example"

[warranty]
workmanship_months = 12
covers = ["joints we made"]
excludes = [{ what = "roots", why = "they grow" }]
how_to_claim = "Call us."
"""
# `make test` draws the same examples each time, so that it tells of the change alone; `make endure` draws new ones.
settings.register_profile("same", derandomize=True)
settings.register_profile("new", derandomize=False)
settings.load_profile("same")
LONG = (
    "tests/logger/test_kills.py",
    "tests/logger/page/test_page_browser.py",
    "tests/extract/test_measure_grid.py",
    "tests/talk/test_corpus.py",
    "tests/test_main_job.py",
    "tests/extract/test_cost.py",
    "tests/logger/test_migrations.py",
    "tests/logger/test_archive.py",
    "tests/test_examples.py",
    "tests/extract/read/test_weights.py",
    "tests/extract/test_dispositions.py",
    "tests/outside/test_report_outside.py",
    "tests/outside/test_speech_outside.py",
    "tests/logger/test_report_cost.py",
    "tests/logger/test_offline.py",
)
"""The files that take longest, longest first: begun first, so that none of them runs on alone at the end. It
needs `--no-loadscope-reorder` (Makefile): pytest-xdist would begin the files with the most tests first."""
ENCODINGS = 2000
"""How many encodings of notes are held in one process: some 100 kB each."""
CACHE = os.environ.get("XDG_CACHE_HOME") or str(Path(platformdirs.user_cache_dir("fallbook")).parent)


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    places = {name: place for place, name in enumerate(LONG)}
    items.sort(key=lambda item: places.get(item.nodeid.partition("::")[0], len(LONG)))


@pytest.fixture(scope="session", autouse=True)
def _encoded_once() -> Iterator[None]:
    """The reader's network is run once for each input: many tests read the same notes, the network is four fifths of
    the reading, and the same input gives the same vectors. All that is made of the vectors is worked out each time."""
    run, held = Model._encode, OrderedDict[tuple[object, ...], Any]()

    def once(self: Model, ids: list[int], before: list[int], things: Sequence[list[int]]) -> Any:
        key = (id(self.session), tuple(ids), tuple(before), tuple(map(tuple, things)))
        if key not in held:
            held[key] = self.session, run(self, ids, before, things)  # kept too, so that its ID is no other's
            if len(held) > ENCODINGS:
                held.popitem(last=False)
        _, (vectors, known) = held[key]
        return vectors.copy(), [each.copy() for each in known]

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(Model, "_encode", once)
        yield


@pytest.fixture
def store(tmp_path: Path, company: Path) -> Iterator[Store]:
    """A library with one job, `j`, that has no note yet."""
    with open_store(tmp_path / "library", create=True) as opened:
        jobs.new(
            opened, "j", client="A. Client", address="2 Tarn Lane", company=str(company),
            day=datetime(2026, 5, 14, tzinfo=UTC).date(), zone="-05:00",
        )  # fmt: skip
        yield opened


@pytest.fixture(autouse=True)
def _own_folders(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """No test sees the user's folders; only the cache of the speech model stays, for it is never written to twice."""
    home = tmp_path / "home"
    monkeypatch.setenv("HOME", str(home))
    monkeypatch.setenv("FALLBOOK_LIBRARY", str(tmp_path / "library"))
    for name in ("DATA", "CONFIG", "STATE"):
        monkeypatch.setenv(f"XDG_{name}_HOME", str(home / name.lower()))
    monkeypatch.setenv("XDG_CACHE_HOME", CACHE)


@pytest.fixture(autouse=True)
def _no_network(monkeypatch: pytest.MonkeyPatch) -> None:
    for name in ("connect", "connect_ex"):
        monkeypatch.setattr(socket.socket, name, _local_only(getattr(socket.socket, name)))


def _local_only(connect: Callable[..., Any]) -> Callable[..., Any]:
    def guarded(self: socket.socket, address: Any) -> Any:
        if self.family in (socket.AF_INET, socket.AF_INET6) and not _is_local(address[0]):
            raise OSError(f"a test tried to reach {address[0]}")
        return connect(self, address)

    return guarded


def _is_local(host: str) -> bool:
    try:
        return host == "localhost" or ipaddress.ip_address(host).is_loopback
    except ValueError:
        return False


class FakeHearing:
    """A recogniser that answers from a queue: notes to return, or an error to raise; it keeps what it was asked."""

    def __init__(self, answers: Iterable[list[Note] | BaseException] = ()) -> None:
        self.answers = deque(answers)
        self.asked: list[Path] = []
        self.version = "1"
        self.missing = False

    def hear(
        self, path: Path, *, model: Any = None, language: Any = None, progress: Any = None, kept: Any = None
    ) -> list[Note]:
        self.asked.append(path)
        self.language = language
        if not self.answers:
            pytest.fail(f"nobody told the stand-in what it hears in {path}")
        answer = self.answers.popleft()
        if isinstance(answer, BaseException):
            raise answer
        if progress:
            progress(1.0, 1.0)
        return answer

    def describe(self, model: str | None = None, language: str | None = None) -> dict[str, Any]:
        if self.missing:
            raise FallbookError("the speech model is not installed")
        return {"model": model or "stand-in", "language": language, "version": self.version}


@pytest.fixture
def hearing() -> FakeHearing:
    return FakeHearing()


@pytest.fixture
def company(tmp_path: Path) -> Path:
    path = tmp_path / "company.toml"
    path.write_text(COMPANY, encoding="utf-8")
    return path


def exif_bytes(
    taken: str | None = "2026:05:14 09:48:40",
    offset: str | None = "-05:00",
    gps: tuple[float, float] | None = (41.5, -93.25),
    gps_utc: str | None = None,
    error_m: float | None = 5,
    heading: float | None = 95.5,
    orientation: int = 1,
    device: str = "Ombrel",
    extra_gps: dict[int, Any] | None = None,
) -> bytes:
    """An Exif block by piexif. `gps_utc` is `2026:05:14 14:48:40`."""
    tag = piexif.GPSIFD
    first: dict[int, Any] = {piexif.ImageIFD.Make: device, piexif.ImageIFD.Orientation: orientation}
    shot: dict[int, Any] = {}
    place: dict[int, Any] = {}
    if taken:
        shot[piexif.ExifIFD.DateTimeOriginal] = taken
    if offset:
        shot[piexif.ExifIFD.OffsetTimeOriginal] = offset
    if gps:
        place |= {tag.GPSLatitudeRef: "N" if gps[0] >= 0 else "S", tag.GPSLatitude: _sixties(gps[0])}
        place |= {tag.GPSLongitudeRef: "E" if gps[1] >= 0 else "W", tag.GPSLongitude: _sixties(gps[1])}
    if gps and error_m is not None:
        place[tag.GPSHPositioningError] = (round(error_m * 100), 100)
    if gps and heading is not None:
        place |= {tag.GPSImgDirectionRef: "T", tag.GPSImgDirection: (round(heading * 100), 100)}
    if gps_utc:
        day, clock = gps_utc.split(" ")
        place |= {tag.GPSDateStamp: day, tag.GPSTimeStamp: tuple((int(part), 1) for part in clock.split(":"))}
    return bytes(piexif.dump({"0th": first, "Exif": shot, "GPS": place | (extra_gps or {})}))


def _sixties(angle: float) -> tuple[tuple[int, int], ...]:
    parts, seconds = [], round(abs(angle) * 3600 * 10000)
    minutes, seconds = divmod(seconds, 600_000)
    parts = [(minutes // 60, 1), (minutes % 60, 1), (seconds, 10000)]
    return tuple(parts)


def quarters(size: tuple[int, int] = (80, 40)) -> Image.Image:
    """A picture whose four quarters differ: red, green over blue, white."""
    image = Image.new("RGB", size, "white")
    half = size[0] // 2, size[1] // 2
    image.paste((220, 20, 20), (0, 0, *half))
    image.paste((20, 180, 20), (half[0], 0, size[0], half[1]))
    image.paste((20, 20, 220), (0, half[1], half[0], size[1]))
    return image


@pytest.fixture
def make_photo(tmp_path: Path) -> Callable[..., Path]:
    """Write a photo: `make_photo("a.jpg", taken=..., gps=...)`; HEIC and PNG by the name; `tags` as raw Exif bytes.

    Each photo differs from every other in its pixels, as real ones do.
    """
    made: list[Path] = []

    def write(name: str = "a.jpg", *, image: Image.Image | None = None, tags: bytes | None = None, **exif: Any) -> Path:
        import pillow_heif

        pillow_heif.register_heif_opener()
        path = tmp_path / name
        path.parent.mkdir(parents=True, exist_ok=True)
        picture = image or quarters()
        if image is None:
            picture.paste((len(made) * 29 % 256, 0, 0), (36, 16, 44, 24))
        form = {".heic": "HEIF", ".png": "PNG"}.get(path.suffix.lower(), "JPEG")
        picture.save(path, format=form, quality=92, exif=exif_bytes(**exif) if tags is None else tags)
        made.append(path)
        return path

    return write


@pytest.fixture
def make_sound(tmp_path: Path) -> Callable[..., Path]:
    """Write a short WAV of a quiet hum; what is "said" in it is up to the stand-in recogniser."""
    import wave

    made: list[Path] = []

    def write(name: str = "a.wav", seconds: float = 1.0) -> Path:
        path = tmp_path / name
        path.parent.mkdir(parents=True, exist_ok=True)
        made.append(path)
        hum = bytes([len(made), 0, len(made), 1]) * round(8000 * seconds / 2)
        out = io.BytesIO()
        with wave.open(out, "wb") as file:
            file.setnchannels(1)
            file.setsampwidth(2)
            file.setframerate(8000)
            file.writeframes(hum)
        path.write_bytes(out.getvalue())
        return path

    return write


@pytest.fixture
def fallbook(capsys):
    """Run one command as typed; its exit code, standard output and standard error."""

    def run(*words: object) -> tuple[int, str, str]:
        code = cli.run([str(word) for word in words])
        return (code, *capsys.readouterr())

    return run


@pytest.fixture
def job(fallbook, company):
    new(fallbook, company)
    return "front-walk"


def new(fallbook, company, name="front-walk", **more):
    words = {"client": "A. Client", "address": "1 Larch Walk", "day": "2026-05-14", "zone": "-05:00"} | more
    options = [part for key, value in words.items() for part in (f"--{key}", value)]
    return fallbook("new", name, "--company", company, *options)
