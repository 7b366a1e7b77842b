"""Write one small library with the code of another commit: `python make.py WORKTREE OUT [--killed]`.

WORKTREE is a checkout of that commit, OUT the folder to make. With `--killed`, a second process adds to the library
and is killed (-9) while it hears a second recording, so that the last changes stand only in the write-ahead log.
README.md beside this tells what each library is for.
"""

from __future__ import annotations

import importlib.util
import inspect
import json
import os
import shutil
import signal
import sys
import tempfile
import wave
from datetime import date, datetime
from pathlib import Path
from typing import Any

JOB = "front-walk"
VISIT = "front-walk-roots"
TALK = """\
[08:10:00] Plan. Channel drain one across the walk, five inch, ten feet.
[08:20:00] Basin one is set, twelve by twelve, at the corner of the walk.
[08:31:00] Basin two is set, nine inch round, by the maple.
[08:40:00] Outlet one is a pop-up at the curb, four inch. It is in.
[08:52:00] Run one is in, basin one to basin two, four inch SDR 35, twenty-two feet long.
[09:05:00] Drop on run one is four and a half inches.
[09:15:00] Run two is in, basin two to outlet one, four inch SDR 35, thirty-four feet long. One elbow, forty-five.
[09:30:00] Benchmark, elevation one hundred even. Backsight four point five six.
[09:32:00] Foresight on basin one rim, six point one four.
[09:35:00] Foresight on basin one invert out, seven point six four.
[09:40:00] Cover on run two is thirteen inches.
[09:41:00] Correction, cover on run two is fifteen inches.
[10:20:00] Hose test on run two, ten minutes, six gallons a minute. It passed.
"""
HEARD: list[dict[str, Any]] = [
    {"text": "Roots in the trench of run two.", "start_s": 0.4, "sure": 0.97},
    {
        "text": "Drop on run two is 4.25 inches.",
        "heard": "Drop on run to is four and a quarter inches.",
        "start_s": 2.1,
        "sure": 0.58,
        "alternatives": ["Drop on run two is 4.75 inches.", "Drop on run two is 4.5 inches."],
    },
    {
        "text": "Cover on run one is 11 inches.",
        "heard": "La cobertura de la corrida uno es once pulgadas.",
        "language": "es",
        "start_s": 4.2,
        "sure": 0.81,
        "alternatives": ["Cover on run one is 12 inches."],
    },
]
COMPANY = """\
name = "Sedgeway Drainage"
address = "2 Tarn Lane, Oxholt"
phone = "555-0100"
email = "yard@sedgeway.example"
crew = ["Jory", "Tam"]

[warranty]
workmanship_months = 12
covers = ["joints we made"]
excludes = [{ what = "roots", why = "they grow" }]
how_to_claim = "Call us."
respond_days = 5

[policy]
min_slope_3_to_6_in_pct = 1.5
"""
STORM = '\n[storm]\nintensity_in_h = 3.2\nfound_in = "rainfall table of the local code"\n'


def main() -> None:
    worktree, out = (Path(each).resolve() for each in sys.argv[1:3])
    sys.path[:0] = [str(worktree), str(worktree / "tests")]
    # An editable install would lend the modules that this commit does not have.
    sys.meta_path[:] = [each for each in sys.meta_path if "__editable__" not in getattr(each, "__module__", "")]
    with tempfile.TemporaryDirectory() as folder:
        phone = Path(folder)
        fill(phone)
        build(out, phone)
        if "--killed" in sys.argv:
            child = os.fork()
            if not child:
                be_killed(out, phone)
            assert os.WIFSIGNALED(os.waitpid(child, 0)[1])
            (out / "library.db-shm").unlink()  # it is memory; whoever opens the library makes it anew
        write_expected(out, phone / "copy")
    floors = [each for name, each in sys.modules.items() if name.split(".")[0] in ("extract", "reports", "logger")]
    strays = [each.__file__ for each in floors if not Path(str(each.__file__)).is_relative_to(worktree)]
    assert not strays, f"not this commit's code: {strays}"


def fill(phone: Path) -> None:
    """What a phone and a laptop brought home: a text log, two photos and, apart, two recordings."""
    import pillow_heif
    from conftest import exif_bytes, quarters

    pillow_heif.register_heif_opener()
    (phone / "day").mkdir()
    (phone / "day" / "notes.txt").write_text(TALK, encoding="utf-8")
    tags = exif_bytes(taken="2026:09:15 09:16:30", gps_utc="2026:09:15 14:16:30")
    quarters((160, 120)).save(phone / "day" / "IMG_0001.jpg", quality=80, exif=tags)
    tags = exif_bytes(taken="2026:09:15 08:32:10", gps=(41.50004, -93.25))
    quarters((160, 120)).save(phone / "day" / "IMG_0002.heic", format="HEIF", quality=80, exif=tags)
    sound(phone / "day" / "20260915_100500.wav", 1)
    sound(phone / "20260915_143000.wav", 2)
    for path in phone.rglob("*.*"):
        os.utime(path, (datetime(2026, 9, 15, 20).timestamp(),) * 2)


def sound(path: Path, loud: int) -> None:
    """Six seconds of a hum; what is said in it is up to the stand-in recogniser."""
    with wave.open(str(path), "wb") as file:
        file.setparams((1, 1, 4000, 0, "NONE", ""))
        file.writeframes(bytes([128 + loud, 128 - loud]) * 12000)


def heard() -> list[Any]:
    """The stand-in's notes, in the shape of that commit: the language only where it is kept."""
    from extract.record import Note

    return [Note(**shape(**each)) for each in HEARD if each.get("language", "en") == "en" or has(Note, "language")]


def shape(text: str, start_s: float, sure: float, **more: Any) -> dict[str, Any]:
    said = text.split()
    words = [
        {
            "text": word,
            "start_s": round(start_s + 0.2 * place, 2),
            "end_s": round(start_s + 0.2 * place + 0.2, 2),
            "confidence": sure,
        }
        for place, word in enumerate(said)
    ]
    times = {"start_s": start_s, "end_s": words[-1]["end_s"]}
    return {"text": text, "heard": text, "confidence": sure, "words": words} | times | more


def has(model: Any, field: str) -> bool:
    return field in model.model_fields


def build(out: Path, phone: Path) -> None:
    """The whole job, in one process that closes the library as it should."""
    from conftest import FakeHearing

    from logger import jobs
    from logger.store import open_store
    from reports.job import Company

    company = phone / "company.toml"
    company.write_text(COMPANY + STORM * has(Company, "storm"), encoding="utf-8")
    of: dict[str, Any] = {"address": "27 Quillbark Row", "day": date(2026, 9, 15), "zone": "-05:00"}
    of |= {"client": "Ina Wexcombe", "company": str(company)}
    create = {"create": True} if "create" in inspect.signature(open_store).parameters else {}
    with open_store(out, **create) as store:
        jobs.new(store, JOB, **of)
        took(jobs.take(store, JOB, [phone / "day"], listening=silent, hearing=FakeHearing([heard()])))
        jobs.say(store, JOB, "Roof to basin one is 600 square feet.", "11:05")
        jobs.say(store, JOB, "Carts cross run one.", "11:10")
        jobs.say(store, JOB, "Need a photo of basin two before it is covered.", "11:20")
        amend_all(store)
        visit(store)
        assert jobs.find(store, "roots"), "nothing was found, so there is no index"
        prepare(store)
        if not hasattr(jobs, "written") and not create:  # it keeps bytes that are no text; later ones refuse them
            jobs.new(store, "bad-bytes", **of)
            jobs.say(store, "bad-bytes", "Basin one is set at \udcbd the corner.", "11:30")


def amend_all(store: Any) -> None:
    from extract.record import Record, Run, Structure
    from logger import jobs
    from logger.book import Book

    amend = getattr(jobs, "amend", None) or importlib.import_module("logger.changes").amend
    texts = [note.text for note in Book(store, JOB).notes]
    amend(store, JOB, "R-2", "length_ft", "34.67")
    amend(store, JOB, "CB-1", "size_in", "12x12")
    amend(store, JOB, "R-1", "bedding", "none")
    amend(store, JOB, f"note:{texts.index(HEARD[0]['text'])}", "text", "Maple roots in the trench of run two.")
    amend(store, JOB, f"note:{texts.index('Carts cross run one.')}", "text", "Hand carts cross run one.")
    if has(Structure, "areas"):
        amend(store, JOB, "CB-2", "areas", '[{"sqft": 150, "surface": "lawn"}]')
    if has(Run, "traffic"):
        amend(store, JOB, "R-2", "traffic", "foot")
    if importlib.util.find_spec("extract.photo_told"):
        amend(store, JOB, "photo:1", "shows", "R-2")
    if has(Record, "purchases"):
        amend(store, JOB, "purchases", "6 sticks of 4 inch SDR 35")


def visit(store: Any) -> None:
    """A visit to the job, where that commit knows visits, and a change of what lay there before."""
    from logger import jobs

    if "callback_of" in inspect.signature(jobs.new).parameters:
        jobs.new(store, VISIT, callback_of=JOB, day=date(2026, 11, 2))
        jobs.say(store, VISIT, "Run one was blocked with roots, we cleared it.", "10:00")
        importlib.import_module("logger.changes").amend(store, VISIT, "CB-1", "size_in", "12x15")


def prepare(store: Any) -> None:
    """Have the answers of `ready` kept, where that commit keeps any."""
    try:
        from logger import ready
    except ImportError:
        return
    ready.ready(store, JOB)


def silent(name: str) -> Any:
    return lambda done, whole: None


def took(results: Any) -> None:
    bad = [each.line for each in results if each.outcome == "failed"]
    assert not bad, bad


def be_killed(out: Path, phone: Path) -> None:
    """One more note, one more amendment, and half of a recording."""
    from conftest import FakeHearing

    from logger import jobs
    from logger.store import open_store

    class Cut(FakeHearing):
        def hear(self, path: Path, *, kept: Any, **rest: Any) -> Any:
            kept[0.4, 1.8] = heard()[:1]
            kept[2.1, 3.5] = heard()[1:2]
            os.kill(os.getpid(), signal.SIGKILL)

    with open_store(out) as store:
        jobs.say(store, JOB, "Run one is backfilled.", "14:10")
        jobs.amend(store, JOB, "R-1", "cover_in", "14")
        took(jobs.take(store, JOB, [phone / "20260915_143000.wav"], listening=silent, hearing=Cut()))


def write_expected(out: Path, copy: Path) -> None:
    """What that commit itself reads in a copy of the library, so that the library stays as it was left."""
    from logger.book import Book
    from logger.store import open_store

    shutil.copytree(out, copy)
    with open_store(copy) as store:
        book = Book(store, JOB)
        notes = [note.model_dump(mode="json", exclude_defaults=True) for note in book.notes]
        photos = [photo.model_dump(mode="json", exclude_none=True) for photo in book.photos]
        parts = {"expected": book.record.as_json(), "notes": notes, "photos": photos}
        if VISIT in store.job_names():
            parts["visit"] = Book(store, VISIT).record.as_json()
    for name, part in parts.items():
        (out / f"{name}.json").write_text(json.dumps(part, indent=1, ensure_ascii=False) + "\n", encoding="utf-8")


if __name__ == "__main__":
    main()
