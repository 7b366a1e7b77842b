"""Make the sample day again from day.toml: `python -m sample_logs.make_samples [sound|photos|logo|notes|manifest ...]`.

With no word given, everything is made, in that order. Sound needs the packages of the `samples` extra and Debian's
flite; the rest needs only what the program itself needs.
"""

from __future__ import annotations

import hashlib
import sys
from pathlib import Path

from sample_logs.script import HERE, Day, load_day

DAY = HERE / "day"
MADE = "made by sample_logs/make_samples.py from sample_logs/day.toml"
ORIGINS = {
    "sound": f"{MADE}; spoken by synthetic voices (joe: data set CC0; rms: flite's licence, see README.md)",
    "photo": f"{MADE}; drawn by code",
    "logo": "drawn by sample_logs/logo.py",
    "typed": MADE,
    "written": "written by hand for this sample",
}
SOUNDS, TYPED = {".m4a", ".ogg", ".wav"}, {".txt"}


def main(words: list[str]) -> None:
    """Make the named parts, or all of them."""
    day = load_day()
    DAY.mkdir(exist_ok=True)
    parts = {"sound": make_sound, "photos": make_photos, "logo": make_logo, "notes": make_notes}
    parts["manifest"] = make_manifest
    unknown = [word for word in words if word not in parts]
    if unknown:
        raise SystemExit(f"{unknown[0]}: no such part; give any of {', '.join(parts)}")
    for name in words or parts:
        parts[name](day)


def make_sound(day: Day) -> None:
    from sample_logs.sounds import make_recording
    from sample_logs.speak import missing_tools

    missing = missing_tools()
    if missing:
        raise SystemExit(f"sound needs {', '.join(missing)}; install that, or make the other parts by name")
    for recording in day.recording:
        _say(make_recording(day, recording, DAY))


def make_photos(day: Day) -> None:
    from sample_logs.camera import take_photo

    for photo in day.photo:
        _say(take_photo(day, photo, DAY))


def make_logo(day: Day) -> None:
    from sample_logs.logo import draw_logo

    _say(draw_logo(HERE / "logo.png"))


def make_notes(day: Day) -> None:
    path = DAY / "notes.txt"
    path.write_text(notes_text(day), encoding="utf-8")
    _say(path)


def notes_text(day: Day) -> str:
    """The typed notes as a text log."""
    return "".join(f"[{note.at}] {note.text}\n" for note in day.typed)


def make_manifest(day: Day) -> None:
    """Name every file of the sample with its SHA-256, its origin and its licence."""
    listed = sorted(path for path in DAY.iterdir() if path.is_file())
    written = [HERE / name for name in ("company.toml", "day.toml", "expected.json", "logo.png", "mistakes.toml")]
    text = "# Made by `python -m sample_logs.make_samples manifest`. Paths are from this file's folder.\n"
    text += "".join(_entry(path) for path in [*written, *listed])
    (HERE / "manifest.toml").write_text(text, encoding="utf-8")
    _say(HERE / "manifest.toml")


def _entry(path: Path) -> str:
    digest = hashlib.sha256(path.read_bytes()).hexdigest()
    lines = [
        "",
        "[[file]]",
        f'path = "{path.relative_to(HERE).as_posix()}"',
        f'sha256 = "{digest}"',
        f'origin = "{ORIGINS[_sort(path)]}"',
        'licence = "MIT"',
    ]
    return "\n".join(lines) + "\n"


def _sort(path: Path) -> str:
    if path.name == "logo.png":
        return "logo"
    if path.parent == HERE:
        return "written"
    if path.suffix in SOUNDS:
        return "sound"
    return "typed" if path.suffix in TYPED else "photo"


def _say(path: Path) -> None:
    print(path.relative_to(HERE.parent), file=sys.stderr)


if __name__ == "__main__":
    main(sys.argv[1:])
