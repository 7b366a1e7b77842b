"""Files and folders that are being written: locked by whoever writes them, and removed at the next start where a kill
left them."""

from __future__ import annotations

import errno
import os
import shutil
from collections.abc import Iterable, Iterator, Mapping
from contextlib import ExitStack, contextmanager, suppress
from dataclasses import dataclass
from pathlib import Path
from typing import BinaryIO

PREFIX = ".unfinished-"
FOLDER = ".folder"
"""How the name of an unfinished folder ends; the file of the same name without it is its lock."""


@dataclass
class Scratch:
    """A file that nobody else knows of yet. It goes away with its context unless it is moved or set to stay."""

    path: Path
    file: BinaryIO
    stays: bool = False

    def move(self, target: Path) -> None:
        """Give it its place, whole or not at all; what stood there before is replaced. May raise OSError."""
        self.file.flush()
        os.fsync(self.file.fileno())
        if os.name == "nt":  # an open file cannot be moved there
            self.file.close()
        os.replace(self.path, target)
        settle(target.parent)

    @property
    def folder(self) -> Path:
        """The folder that comes with the file (see `scratch_folder`)."""
        return self.path.with_name(self.path.name + FOLDER)

    def move_folder(self, target: Path) -> None:
        """Give the folder its place, once all in it is on the disk: whole or not at all. Raises OSError, where another
        folder that holds something has taken that place too."""
        for path in self.folder.rglob("*"):
            settle(path)
        settle(self.folder)
        os.rename(self.folder, target)
        settle(target.parent)


@contextmanager
def scratch(folder: Path, mode: int = 0o600) -> Iterator[Scratch]:
    """A new empty file in `folder`, which is made where it is missing. May raise OSError.

    `mode` says who may read and write it, as in open(2): nobody else unless it says so.
    """
    folder.mkdir(parents=True, exist_ok=True, mode=0o700)
    made = _locked_file(folder, mode)
    try:
        yield made
    finally:
        if not made.stays:
            made.path.unlink(missing_ok=True)
        made.file.close()


@contextmanager
def scratch_folder(folder: Path) -> Iterator[Scratch]:
    """A new empty folder in `folder`, as `folder` of what comes back. It goes away with its context unless it is moved
    or set to stay. May raise OSError."""
    with scratch(folder) as lock:
        lock.folder.mkdir(mode=0o700)
        try:
            yield lock
        finally:
            if not lock.stays:
                remove_folder(lock.folder)


def write_whole(target: Path, content: bytes) -> None:
    """Write a file for anybody, so that it appears whole or not at all, and remove what was left of earlier tries.

    May raise OSError, where its folder is missing too.
    """
    if not target.parent.is_dir():
        raise FileNotFoundError(errno.ENOENT, os.strerror(errno.ENOENT), str(target.parent))
    sweep(target.parent)
    with scratch(target.parent, mode=0o666) as part:
        part.file.write(content)
        part.move(target)


def write_together(folder: Path, files: Mapping[str, bytes], gone: Iterable[str] = ()) -> None:
    """Write files that belong together into a folder, which is made where it is missing, each whole. Nothing there is
    touched before the disk holds all of them; then files named in `gone` that are not among them are removed, for they
    are of an earlier time.

    May raise OSError, also where the folder that it lies in is missing.
    """
    fresh = not folder.exists()
    folder.mkdir(exist_ok=True)
    try:
        sweep(folder)
        for name in (*files, *gone):
            if (folder / name).is_dir():
                raise IsADirectoryError(errno.EISDIR, os.strerror(errno.EISDIR), str(folder / name))
        with ExitStack() as stack:
            parts = [(stack.enter_context(scratch(folder, mode=0o666)), name) for name in files]
            for part, name in parts:
                part.file.write(files[name])
                part.file.flush()
                os.fsync(part.file.fileno())
            for name in gone:
                if name not in files:
                    (folder / name).unlink(missing_ok=True)
            for part, name in parts:
                part.move(folder / name)
    except OSError:
        if fresh:
            with suppress(OSError):  # something came into it meanwhile
                folder.rmdir()
        raise


def left_behind(folder: Path) -> Iterator[Path]:
    """Every unfinished file in `folder` whose writer is gone; it is locked while the caller looks at it."""
    for path in sorted(folder.glob(f"{PREFIX}*")):
        with suppress(OSError), path.open("rb") as file:  # another process may have finished with it meanwhile
            if _lock(file, wait=False):
                yield path


def folders_left_behind(folder: Path) -> Iterator[Path]:
    """The same of unfinished folders, once the files of `left_behind` are removed: they have lost their lock."""
    for path in sorted(folder.glob(f"{PREFIX}*{FOLDER}")):
        if not path.with_name(path.name.removesuffix(FOLDER)).exists():
            yield path


def sweep(folder: Path) -> None:
    """Remove what a kill left unfinished in `folder`."""
    for path in left_behind(folder):
        with suppress(OSError):
            path.unlink()
    for path in folders_left_behind(folder):
        remove_folder(path)


def remove_folder(folder: Path) -> None:
    """Remove a folder with all that is in it, as far as that can be done."""
    if os.name == "nt":  # a read-only file cannot be removed there
        for path in folder.rglob("*"):
            path.chmod(0o700)
    shutil.rmtree(folder, ignore_errors=True)


def settle(path: Path) -> None:
    """Let a new name in the folder, or what a file holds, outlast a power cut."""
    if os.name == "posix":
        handle = os.open(path, os.O_RDONLY)
        try:
            os.fsync(handle)
        except OSError as error:
            if error.errno != errno.EINVAL:  # a network disk that knows no such thing
                raise
        finally:
            os.close(handle)


def _locked_file(folder: Path, mode: int) -> Scratch:
    flags = os.O_RDWR | os.O_CREAT | os.O_EXCL | getattr(os, "O_BINARY", 0)
    while True:
        path = folder / f"{PREFIX}{os.urandom(8).hex()}"
        file = os.fdopen(os.open(path, flags, mode), "w+b")
        _lock(file, wait=True)
        if os.fstat(file.fileno()).st_nlink or os.name == "nt":
            return Scratch(path, file)
        file.close()  # a sweep took it between the two calls


def _lock(file: BinaryIO, *, wait: bool) -> bool:
    """Lock the file until it is closed, or its process ends however it ends. False where another holds it."""
    if os.name != "posix":
        return True  # there a file that is open cannot be removed
    import fcntl

    try:
        fcntl.flock(file, fcntl.LOCK_EX | (0 if wait else fcntl.LOCK_NB))
    except OSError:
        return False
    return True
