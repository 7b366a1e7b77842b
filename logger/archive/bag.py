"""The bag as a folder with checksums, by the library `bagit`: made, and looked at before anything in it is used."""

from __future__ import annotations

import logging
import os
import stat
from contextlib import chdir
from pathlib import Path
from typing import Any

from extract.errors import FallbookError, UsageError

ALGORITHM = "sha256"
DECLARATION = "BagIt-Version: 1.0\nTag-File-Character-Encoding: UTF-8\n"
"""RFC 8493, section 2.1.1. The library writes the number of the last draft, 0.97, and makes what 1.0 asks for."""
PAYLOAD = "data"
MOST_BYTES = 1 << 28
"""No list of files and no log is larger: some forty days of talk from morning to night. Originals may be."""


def make(folder: Path, info: dict[str, str]) -> None:
    """Make a folder's files the payload of a bag, `info` its bag-info.txt. May raise OSError."""
    bagit, folder = _library(), folder.absolute()
    with chdir(folder.parent):  # the library goes elsewhere, and stays there where it fails
        bagit.make_bag(str(folder), info, checksums=[ALGORITHM])
        (folder / "bagit.txt").write_text(DECLARATION, encoding="utf-8")
        bagit.Bag(str(folder)).save()


def checked(folder: Path) -> dict[str, str]:
    """The files of a bag's payload, each path below `data` with its SHA-256, once every file of the bag was read and
    held against its checksum.

    Raises UsageError for a folder that is no bag, FallbookError for a bag that is damaged.
    """
    if not (folder / "bagit.txt").is_file():
        raise UsageError(f"{folder}: no packed job here; give the folder that fallbook pack made")
    try:
        _look_at_all(folder)
        bag = _library().Bag(str(folder))
        bag.info.pop("Payload-Oxum", None)  # the manifests say the same, and which file is wrong
        bag.validate()
        return {_plain(path): of[ALGORITHM] for path, of in bag.payload_entries().items()}
    except Exception as error:  # whatever the library meets in a stranger's tag files
        raise damaged(folder, _in_words(error)) from error


def damaged(folder: Path, what: str) -> FallbookError:
    """The one line that a bag is refused with."""
    return FallbookError(f"{folder}: this packed job is damaged: {what}; nothing was written; copy or pack it again")


def _look_at_all(folder: Path) -> None:
    """Refuse links, which the library would follow, out of the bag as well; devices, for it would wait for ever at a
    pipe; and texts that are larger than memory. Raises ValueError, OSError."""
    for root, folders, files in os.walk(folder, onerror=_raise):
        for path in (Path(root) / name for name in (*folders, *files)):
            facts, name = path.lstat(), path.relative_to(folder)
            if not stat.S_ISREG(facts.st_mode) and not stat.S_ISDIR(facts.st_mode):
                raise ValueError(f"{name} is no file of its own but a link or a device")
            if len(name.parts) <= len((PAYLOAD, "log.jsonl")) and facts.st_size > MOST_BYTES:
                raise ValueError(f"{name} is larger than any job's")


def _raise(error: OSError) -> None:
    raise error


def _plain(path: str) -> str:
    return path.removeprefix(PAYLOAD + os.sep).replace(os.sep, "/")


def _in_words(error: Exception) -> str:
    """The first thing that is wrong."""
    bagit = _library()
    details = getattr(error, "details", [])
    for kind, what in ((bagit.FileMissing, "is missing"), (bagit.UnexpectedFile, "is in no manifest")):
        if found := [each.path for each in details if isinstance(each, kind)]:
            return f"{min(found)} {what}"
    if details:
        return f"{details[0].path} was altered"
    if isinstance(error, KeyError):
        return "it has no checksums by SHA-256"
    return " ".join(str(error).split()) or type(error).__name__


def _library() -> Any:
    import bagit

    bagit.LOGGER.addHandler(logging.NullHandler())  # else it prints what it raises as well
    bagit.LOGGER.propagate = False
    return bagit
