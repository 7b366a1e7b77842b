"""Notes as the library keeps them: each word's place and confidence in few bytes, for a day holds ten thousand."""

from __future__ import annotations

from collections.abc import Iterable
from itertools import accumulate
from typing import Any

from extract.record import Note, Word

CENTI, MILLI = 100, 1000
"""The recogniser's seconds are kept to the hundredth, its confidence to the thousandth, as it gives them."""


def shapes_of(notes: Iterable[Note]) -> list[dict[str, Any]]:
    """Notes as JSON can hold them; fields at their defaults are left out."""
    return [_shape(note) for note in notes]


def notes_of(shapes: Iterable[dict[str, Any]]) -> list[Note]:
    """The notes again, whichever version kept them."""
    return [_note(dict(shape)) for shape in shapes]


def _shape(note: Note) -> dict[str, Any]:
    shape = note.model_dump(mode="json", exclude_defaults=True)
    columns = _columns(note.words)
    if columns is None:
        return shape
    said = [word.text for word in note.words]
    del shape["words"]
    return shape | columns | ({} if said == (note.heard or "").split() else {"said": said})


def _note(shape: dict[str, Any]) -> Note:
    if "begins" not in shape:
        return Note.model_validate(shape)
    begins, lasts, sure = (shape.pop(name) for name in ("begins", "lasts", "sure"))
    said = shape.pop("said", None) or shape["heard"].split()
    words = [
        Word(text=text, start_s=start / CENTI, end_s=(start + length) / CENTI, confidence=confidence / MILLI)
        for text, start, length, confidence in zip(said, accumulate(begins), lasts, sure, strict=True)
    ]
    return Note.model_validate(shape | {"words": words})


def _columns(words: list[Word]) -> dict[str, list[int]] | None:
    """When each word begins after the one before, how long it lasts, and how sure it is; None where that would lose a
    digit of one."""
    starts = [round(word.start_s * CENTI) for word in words]
    ends = [round(word.end_s * CENTI) for word in words]
    sure = [round(word.confidence * MILLI) for word in words]
    exact = all(
        (word.start_s, word.end_s, word.confidence) == (start / CENTI, end / CENTI, confidence / MILLI)
        for word, start, end, confidence in zip(words, starts, ends, sure, strict=True)
    )
    if not words or not exact:
        return None
    begins = [start - before for start, before in zip(starts, [0, *starts], strict=False)]
    return {"begins": begins, "lasts": [end - start for start, end in zip(starts, ends, strict=True)], "sure": sure}
