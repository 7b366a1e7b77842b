"""The notes of a job in order, each with where it stands in the log, and with a person's words where it was amended."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import datetime

from extract.amend import Amendment, Witness
from extract.record import Entry, Note
from logger.removal import Removed

FORMER = "job:"
"""How the mark begins of a line that no note stands in, but what lay there from another job."""
REACH_S = 0.5
"""How far apart two hearings of the same words may begin."""


@dataclass(frozen=True)
class Line:
    """One note with where it stands in the log."""

    note: Note
    mark: str
    """What tells its place for ever: a recording's SHA-256, `SHA-256:n` in a text file, `log:n` typed straight in,
    `job:NAME` for what lay there from that job."""
    when: datetime
    """What it is sorted by, aware; the file's own time where the note has none."""
    amended: tuple[str, ...] = ()
    """What its words were before, oldest first."""
    removed: bool = False

    @property
    def former(self) -> str:
        """The name of the job that it stands for, of which a visit tells; empty where it is a note of this one."""
        return self.mark.removeprefix(FORMER) if self.mark.startswith(FORMER) else ""

    @property
    def words(self) -> str:
        """What was heard or typed, or put in its place by hand: not what the program makes of it."""
        return self.note.text if self.amended or self.note.heard is None else self.note.heard


def amend_line(lines: list[Line], amendment: Amendment) -> bool:
    """Put a person's words in place of a note's; False where no such note is left."""
    place = find_line(lines, amendment.note_source or "", amendment.note_start_s, amendment.note_words)
    if place is None:
        return False
    line, text = lines[place], str(amendment.value or "")
    # A person's words are sure: the doubts of the recogniser were about other words.
    note = line.note.model_copy(update={"text": text, "confidence": 1.0, "words": [], "alternatives": []})
    lines[place] = replace(line, note=note, amended=(*line.amended, line.note.text))
    return True


def remove_line(lines: list[Line], removed: Removed) -> str | None:
    """Empty a note that was removed. Where its words are others by now it stands, and a line says so."""
    place = find_line(lines, removed.name, removed.start_s, removed.words)
    if place is None:
        return None
    line = lines[place]
    if removed.words is not None and plain(line.words) != plain(removed.words):
        return (
            f"note:{place} was removed when it read {removed.words!r}, and reads {line.words!r} by now; "
            "it stands unless it is removed again"
        )
    note = line.note.model_copy(update={"text": "", "words": [], "alternatives": []})
    lines[place] = replace(line, note=note, amended=(*line.amended, line.note.text), removed=True)
    return None


def find_line(lines: Sequence[Line], mark: str, start_s: float | None, words: str | None) -> int | None:
    """The INDEX of the note with that mark: at that second, or in a text file with those words, wherever they stand."""
    near = [i for i, line in enumerate(lines) if line.mark == mark and _same_moment(line.note, start_s)]
    here = sorted(near, key=lambda i: (plain(lines[i].words) != plain(words or ""), _apart(lines[i].note, start_s)))
    file, _, place = mark.partition(":")
    if words is None or not place or (here and plain(lines[here[0]].words) == plain(words)):
        return here[0] if here else None
    same = [i for i, line in enumerate(lines) if line.note.source == file and plain(line.words) == plain(words)]
    return next(iter(same or here), None)


def witnesses_of(entry: Entry, lines: Sequence[Line]) -> list[Witness]:
    """The notes that a thing rests on, as a change of it keeps them."""
    return [
        Witness(source=line.mark, start_s=line.note.start_s, words=line.words, field=item.field)
        for item in entry.evidence
        if item.note < len(lines)
        for line in [lines[item.note]]
    ]


def place_witnesses(kept: Iterable[Witness] | None, lines: Sequence[Line]) -> list[Witness] | None:
    """The same with the INDEX that each note has now; None for one that is gone or whose words are others."""
    if kept is None:
        return None
    return [witness.model_copy(update={"note": _index(witness, lines)}) for witness in kept]


def _index(witness: Witness, lines: Sequence[Line]) -> int | None:
    place = find_line(lines, witness.source, witness.start_s, witness.words)
    if place is None:
        return None
    # A person who puts a note's words right means the same note.
    known = (lines[place].words, *lines[place].amended)
    return place if plain(witness.words) in map(plain, known) else None


def plain(words: str) -> str:
    """Words without case, points and spaces: what a new spelling of the same words leaves alone."""
    return "".join(each for each in words.casefold() if each.isalnum())


def _apart(note: Note, start_s: float | None) -> float:
    return 0.0 if start_s is None else abs((note.start_s or 0) - start_s)


def _same_moment(note: Note, start_s: float | None) -> bool:
    return start_s is None or (note.start_s is not None and abs(note.start_s - start_s) <= REACH_S)
