"""What a file is, by its first bytes; its name is only asked where the bytes are plain text."""

from __future__ import annotations

import codecs
from pathlib import Path
from typing import Literal

from extract.errors import FallbookError

FileKind = Literal["sound", "photo", "text"]
HEAD = 4096
TEXT_NAMES = {"", ".txt", ".text", ".md", ".log"}
PICTURE_BRANDS = {b"heic", b"heix", b"heim", b"heis", b"hevc", b"hevx", b"mif1", b"msf1", b"mif2"}
"""ISO/IEC 23008-12 (HEIF), brands in the file type box; from memory."""
SOUND_STARTS = (
    b"OggS",
    b"fLaC",
    b"ID3",
    b"caff",
    b".snd",
    b"#!AMR",
    b"FORM",  # AIFF
    b"\x1aE\xdf\xa3",  # Matroska and WebM
    b"\x30\x26\xb2\x75\x8e\x66\xcf\x11",  # ASF
    b"\x0b\x77",  # AC-3
)
OTHER_STARTS = {
    b"%PDF": "a PDF",
    b"PK\x03\x04": "a zip archive or an office document",
    b"GIF8": "a GIF picture",
    b"II*\0": "a TIFF or raw picture",
    b"MM\0*": "a TIFF or raw picture",
    b"\x1f\x8b": "a compressed archive",
    b"SQLite format 3": "a database",
    b"{\\rtf": "a rich-text document",
}
REMEDY = {
    "picture": "save it as JPEG and take that",
    "document": "save its words as plain text (.txt) and take that",
    "archive": "unpack it and take what is inside",
}


def kind_of(path: Path, name: str) -> FileKind:
    """Sound, photo or text. Raises FallbookError for anything else, OSError where the file cannot be read."""
    with path.open("rb") as file:
        head = file.read(HEAD)
    if not head:
        raise FallbookError(f"{name}: the file is empty; copy it from the phone or recorder again")
    if _is_text(head) and not _other(head):
        return _text(path, name)
    if head.startswith((b"\xff\xd8\xff", b"\x89PNG\r\n\x1a\n")):
        return "photo"
    if head[4:8] == b"ftyp":
        return _boxed(head, name)
    if head.startswith(SOUND_STARTS) or _is_wave(head) or _is_frames(head):
        return "sound"
    if other := _other(head):
        raise FallbookError(f"{name}: {other}, which is not taken; {_remedy(other)}")
    raise FallbookError(
        f"{name}: neither sound, photo nor text, or damaged; open it where it came from and copy it again"
    )


def _boxed(head: bytes, name: str) -> FileKind:
    """ISO base media: the brands tell a picture from a recording."""
    size = int.from_bytes(head[:4], "big")
    brands = {head[8:12]} | {head[at : at + 4] for at in range(16, min(size, 256), 4)}
    if b"avif" in brands:
        raise FallbookError(f"{name}: an AVIF picture, which is not taken; {REMEDY['picture']}")
    return "photo" if brands & PICTURE_BRANDS else "sound"


def _is_wave(head: bytes) -> bool:
    return head[:4] in (b"RIFF", b"RF64", b"RIFX") and head[8:12] in (b"WAVE", b"AVI ")


def _is_frames(head: bytes) -> bool:
    """MPEG sound with no header of its own: a frame's sync bits (ISO/IEC 11172-3 and 13818-7; from memory)."""
    return len(head) > 3 and head[0] == 0xFF and head[1] & 0xE0 == 0xE0 and head[:2] not in (b"\xff\xfe", b"\xff\xff")


def _other(head: bytes) -> str | None:
    if head[:4] == b"RIFF" and head[8:12] == b"WEBP":
        return "a WebP picture"
    if head[:2] == b"BM" and head[6:10] == bytes(4):  # a note may well begin with BM, for benchmark
        return "a bitmap picture"
    return next((what for start, what in OTHER_STARTS.items() if head.startswith(start)), None)


def _remedy(other: str) -> str:
    return next((remedy for word, remedy in REMEDY.items() if word in other), "take sound, photos or text notes")


def _is_text(head: bytes) -> bool:
    if head.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)):
        return True
    return not any(byte < 32 and byte not in b"\t\n\r\f\x1b" for byte in head)


def _text(path: Path, name: str) -> FileKind:
    if path.suffix.lower() not in TEXT_NAMES:
        raise FallbookError(
            f"{name}: holds text under a name that says otherwise; if it is notes, rename it to end in .txt"
        )
    return "text"


def decoded(raw: bytes, name: str) -> str:
    """Bytes as text: UTF-8, UTF-16 with its mark, or a Windows text. Raises FallbookError for what is none."""
    encoding = "utf-16" if raw.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)) else "utf-8-sig"
    try:
        text = raw.decode(encoding)
    except UnicodeDecodeError:
        text = raw.decode("cp1252", "replace")
    if "\0" in text:
        raise FallbookError(f"{name}: not plain text; save it as a text file (.txt)")
    return text


def refuse_other(raw: bytes, name: str) -> None:
    """Raises FallbookError for a document, picture or archive that was given as a text."""
    if other := _other(raw[:HEAD]):
        raise FallbookError(f"{name}: {other}, which is no text; {_remedy(other)}")


def read_text(path: Path, name: str) -> str:
    """A text file's words, whichever way they were saved. Raises FallbookError."""
    return decoded(path.read_bytes(), name)
