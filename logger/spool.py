"""Pieces of sound on disk, on their way from the microphone into the library: a folder for each job."""

from __future__ import annotations

import json
from contextlib import suppress
from dataclasses import dataclass
from datetime import tzinfo
from pathlib import Path

from platformdirs import user_data_path

from logger.cutting import Piece
from logger.store import Store
from logger.upload import Upload
from reports.scratch import settle, write_whole

FOLDER = "fallbook-recorded"
"""In the user's data folder, beside the default library."""


@dataclass(frozen=True)
class Recorded:
    """A piece as the library takes it."""

    name: str
    """Its file's name, with the time at which it began."""
    raw: bytes
    """The whole WAV file."""
    upload: Upload

    @classmethod
    def of(cls, piece: Piece, recording_id: str, zone: tzinfo) -> Recorded:
        """The piece of that recording; its name has the time of that zone."""
        upload = _upload(recording_id, f"{piece.from_s:.3f}", f"{piece.to_s:.3f}", piece.at.isoformat())
        return cls(f"talk {piece.at.astimezone(zone):%Y-%m-%d %H.%M.%S}.wav", piece.wav(), upload)


class Spool:
    """The pieces of one job that the library does not hold yet. Each is a WAV file, and beside it a JSON file that says
    which stretch of which recording it is."""

    def __init__(self, folder: Path) -> None:
        """`folder` is made where a piece is put into it."""
        self.folder = folder

    @classmethod
    def of(cls, store: Store, job: str) -> Spool:
        """That of a job, wherever its library lies: a job of the same name in another library has another."""
        row = next(store.rows("SELECT digest FROM jobs WHERE name = ?", [job]))
        return cls(user_data_path(FOLDER, appauthor=False) / f"{job}-{row['digest'].hex()[:8]}")

    def waiting(self) -> list[Path]:
        """What lies here, the oldest first."""
        return sorted(self.folder.glob("*.wav"))

    def put(self, piece: Recorded) -> Path:
        """Write a piece: it is here whole and outlasts a power cut once this returns. Raises OSError."""
        if not self.folder.is_dir():
            self.folder.mkdir(parents=True, mode=0o700, exist_ok=True)
            settle(self.folder.parent)
        told = piece.upload
        beside = {
            "recording_id": told.recording_id, "from": f"{told.from_s:.3f}", "to": f"{told.to_s:.3f}",
            "at": told.at.isoformat() if told.at else "",
        }  # fmt: skip
        path = self.folder / f"{Path(piece.name).stem} {told.recording_id}-{round(told.from_s * 1000):09}.wav"
        write_whole(path.with_suffix(".json"), json.dumps(beside).encode())
        write_whole(path, piece.raw)
        return path

    def read(self, path: Path) -> Recorded:
        """A piece that lies here; one that lost its JSON file has its name and sound. Raises OSError."""
        raw = path.read_bytes()
        try:
            told = json.loads(path.with_suffix(".json").read_bytes())
            upload = _upload(told["recording_id"], told["from"], told["to"], told["at"])
        except Exception:  # whatever is wrong with it, the sound is what counts
            upload = Upload()
        return Recorded(f"{path.stem.rpartition(' ')[0]}.wav", raw, upload)

    def drop(self, path: Path) -> None:
        """The library holds it. Where it cannot be deleted the next `listen` finds that out, and tries again."""
        with suppress(OSError):
            path.unlink(missing_ok=True)
            path.with_suffix(".json").unlink(missing_ok=True)
            self.folder.rmdir()  # which fails where more lies in it


def _upload(recording_id: str, from_s: str, to_s: str, at: str) -> Upload:
    return Upload.of({"recording_id": recording_id, "from": from_s, "to": to_s, "at": at})
