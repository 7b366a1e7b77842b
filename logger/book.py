"""All that is computed from one job's log, each part once: notes, record, findings, photos."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta
from functools import cached_property
from typing import TYPE_CHECKING, Literal

from extract.amend import Amendment
from extract.errors import FallbookError
from extract.notes import parse_log
from extract.record import Finding, Note, Record
from logger import photos as pictures
from logger.clocks import Shot, taken_times
from logger.intake import SOUND_READER, read_sound
from logger.sniff import read_text
from logger.spoken import Spoken, spoken_of
from logger.store import LogEntry, Store
from logger.times import MODIFIED, When, aware, named_day, named_time, sound_start, timezone_of
from reports.job import Closeout, Photo

if TYPE_CHECKING:
    from extract.check.evidence import Photo as ShownOpen

REACH_S = 0.5
"""How far apart two hearings of the same words may begin."""


@dataclass(frozen=True)
class Line:
    """One note with where it stands in the log."""

    note: Note
    mark: str
    """What tells its place for ever: a recording's SHA-256, `SHA-256:n` in a text file, `log:n` typed straight in."""
    when: datetime
    """What it is sorted by, aware; the file's own time where the note has none."""
    amended: tuple[str, ...] = ()
    """What its words were before, oldest first."""


@dataclass(frozen=True)
class FileLine:
    """A file of the job, with its time."""

    entry: LogEntry
    when: When


class Book:
    """A job's book. Everything in it follows from the log, and is computed when it is asked for.

    Raises FallbookError where there is no such job, or an original is gone.
    """

    def __init__(self, store: Store, name: str) -> None:
        self.store = store
        self.job = store.job(name)
        self.zone = timezone_of(self.job.zone)
        self.entries = store.entries(name)

    # -- notes

    @cached_property
    def lines(self) -> list[Line]:
        """All notes in order of time, with their words as amended."""
        found = [line for entry in self.entries for line in self._lines_of(entry)]
        for amendment in self._amendments:
            if amendment.subject == "note" and not _amend(found, amendment):
                found.append(self._on_its_own(amendment))
        return sorted(found, key=lambda line: line.when)

    @cached_property
    def notes(self) -> list[Note]:
        """The notes the record is made from; INDEX everywhere else is the place in this list."""
        return [line.note for line in self.lines]

    @cached_property
    def withdrawn(self) -> set[int]:
        """INDEX of every note of which nothing stands, as "scratch that" took it back."""
        from extract.assemble import WITHDRAW, standing_texts

        def said(text: str) -> bool:
            return any(each.isalnum() for each in text)

        pairs = enumerate(zip(self.notes, standing_texts(self.notes), strict=True))
        return {index for index, (note, left) in pairs if said(WITHDRAW.sub("", note.text)) and not said(left)}

    @cached_property
    def unheard(self) -> list[str]:
        """The names of the recordings that nobody has listened to yet."""
        sounds = [entry for entry in self.entries if entry.kind == "sound"]
        return [entry.name for entry in sounds if self.store.recall(entry.sha256, "heard") is None]

    @cached_property
    def witnesses(self) -> list[Note]:
        """One note for each amendment of the record: their INDEX goes on after the last of `notes`."""
        return [
            Note(text=f"Amended by hand: {each.subject} {each.field}: {_put(each.value)}", at=each.at)
            for each in self.record_amendments
        ]

    @cached_property
    def sources(self) -> dict[str, str]:
        """SHA-256 to file name, of all sound and text."""
        return {e.sha256: e.name for e in self.entries if e.sha256 and e.kind in ("sound", "text")}

    @cached_property
    def _amendments(self) -> list[Amendment]:
        return [Amendment(**entry.body) for entry in self.entries if entry.kind == "amendment"]

    @cached_property
    def record_amendments(self) -> list[Amendment]:
        return [each for each in self._amendments if each.subject != "note"]

    def _lines_of(self, entry: LogEntry) -> Iterator[Line]:
        if entry.kind == "said":
            at = aware(datetime.fromisoformat(entry.body["at"]), self.zone)
            yield Line(Note(text=entry.body["text"], at=at), f"log:{entry.id}", at)
        elif entry.kind == "sound":
            yield from self._heard(entry)
        elif entry.kind == "text":
            yield from self._typed(entry)

    def _heard(self, entry: LogEntry) -> Iterator[Line]:
        kept = self.store.recall(entry.sha256, "heard")
        start = self._sound_start(entry).at
        for shape in kept["notes"] if kept else []:
            note = Note.model_validate(shape)
            at = start + timedelta(seconds=note.start_s or 0)
            yield Line(note.model_copy(update={"at": at, "source": entry.sha256}), entry.sha256, at)

    def _typed(self, entry: LogEntry) -> Iterator[Line]:
        """Notes with no time of their own stand after the one before, or at the file's own time."""
        text = read_text(self.store.original(entry.sha256), entry.name)
        when = self._text_time(entry).at
        for place, note in enumerate(parse_log(text, named_day(entry.name) or self.job.day)):
            at = aware(note.at, self.zone) if note.at else None
            when = at or when
            yield Line(note.model_copy(update={"at": at, "source": entry.sha256}), f"{entry.sha256}:{place}", when)

    def _on_its_own(self, amendment: Amendment) -> Line:
        """A person's words for a note that a new hearing of the sound no longer has: they stand at its second."""
        start_s = amendment.note_start_s or 0
        began = self.file(amendment.note_source or "").when.at
        at = began + timedelta(seconds=start_s)
        note = Note(
            text=str(amendment.value or ""), at=at, source=amendment.note_source, start_s=start_s, end_s=start_s
        )
        return Line(note, amendment.note_source or "", at, ("",))

    # -- files and their times

    @cached_property
    def files(self) -> list[FileLine]:
        """Every file of the job with when it was made, in order of time."""
        shot = dict(zip([e.id for e in self._photo_entries], self._taken, strict=True))
        found = []
        for entry in self.entries:
            if entry.kind == "sound":
                found.append(FileLine(entry, self._sound_start(entry)))
            elif entry.kind == "text":
                found.append(FileLine(entry, self._text_time(entry)))
            elif entry.kind == "photo":
                found.append(FileLine(entry, shot[entry.id]))
        return sorted(found, key=lambda line: line.when.at)

    def file(self, sha256: str) -> FileLine:
        """The file of that hash. Raises FallbookError where the job has none."""
        for line in self.files:
            if line.entry.sha256 == sha256:
                return line
        raise FallbookError(f"job {self.job.name} holds no file {sha256[:12]}")

    def _sound_start(self, entry: LogEntry) -> When:
        facts = self.store.recall(entry.sha256, "sound", SOUND_READER)
        if facts is None:
            facts = read_sound(self.store.original(entry.sha256), entry.name)
            self.store.remember(entry.sha256, "sound", SOUND_READER, facts)
        started = datetime.fromisoformat(facts["started_at"]) if facts["started_at"] else None
        return sound_start(started, entry.name, _modified(entry), facts["length_s"], self.zone)

    def _text_time(self, entry: LogEntry) -> When:
        named = named_time(entry.name)
        return (
            When(aware(named, self.zone), "file name") if named else When(aware(_modified(entry), self.zone), MODIFIED)
        )

    # -- the record

    @cached_property
    def record(self) -> Record:
        return self.amended_record(())

    def amended_record(self, more: tuple[Amendment, ...]) -> Record:
        """The record, with more amendments than the log holds. Raises UsageError where one does not fit."""
        from extract.assemble import assemble

        return assemble(self.notes, [*self.record_amendments, *more])

    @cached_property
    def findings(self) -> list[Finding]:
        from extract.check import check
        from extract.check.evidence import no_photos

        found = check(
            self.record,
            self.job.company.policy,
            storm=self.job.company.storm,
            photos=self.evidence_photos or None,
            notes=self.notes,
        )
        # With no photo at all a line about each thing would tell nobody anything; one says it all.
        return found if self.evidence_photos else [*found, *no_photos(self.record)]

    @cached_property
    def spoken(self) -> list[Spoken]:
        """What each note speaks of, values given or not."""
        return spoken_of(self.notes, self.record)

    # -- photos

    @cached_property
    def photos(self) -> list[Photo]:
        """All photos in order of time, matched; `jpeg` is left empty."""
        from logger.match import match

        return match(self.taken_photos, self.spoken, self.record)

    @cached_property
    def covered(self) -> set[str]:
        """The labels of all that a note says is backfilled."""
        return {label for each in self.spoken for label in each.backfilled}

    @cached_property
    def evidence_photos(self) -> list[ShownOpen]:
        """All photos as the checks of evidence take them."""
        from extract.check.evidence import Photo as ShownOpen

        def seen(photo: Photo) -> Literal["open", "before", "after", "unknown"]:
            return photo.backfill if photo.about in self.covered else "open"

        return [
            ShownOpen(
                number=each.number,
                about=each.about,
                backfill=seen(each),
                lat=each.lat,
                lon=each.lon,
                error_m=each.gps_error_m,
            )
            for each in self.photos
        ]

    @cached_property
    def taken_photos(self) -> list[Photo]:
        """All photos in order of time, numbered from 1, not yet matched."""
        found = sorted(
            zip(self._photo_entries, self._shots, self._taken, strict=True),
            key=lambda each: (each[2].at, each[0].sha256),
        )
        return [_photo(number, entry, shot, when) for number, (entry, shot, when) in enumerate(found, 1)]

    @cached_property
    def _photo_entries(self) -> list[LogEntry]:
        return [entry for entry in self.entries if entry.kind == "photo"]

    @cached_property
    def _shots(self) -> list[Shot]:
        return [Shot(self._photo_facts(e), e.name, _modified(e)) for e in self._photo_entries]

    @property
    def camera_zones(self) -> Counter[str]:
        """How many photos tell each offset from UTC in their EXIF, `-05:00`."""
        return Counter(shot.facts.offset for shot in self._shots if shot.facts.offset)

    @cached_property
    def _taken(self) -> list[When]:
        return taken_times(self._shots, self.zone)

    def _photo_facts(self, entry: LogEntry) -> pictures.PhotoFacts:
        kept = self.store.recall(entry.sha256, "photo", pictures.READER)
        if kept is not None:
            return pictures.PhotoFacts.model_validate(kept)
        facts = pictures.read_photo(self.store.original(entry.sha256), entry.name)
        self.store.remember(entry.sha256, "photo", pictures.READER, facts.model_dump(mode="json"))
        return facts

    # -- the report

    def closeout(self, prepared: date) -> Closeout:
        """All that a report is made from, upright copies of the photos included."""
        return Closeout(
            job=self.job,
            notes=[*self.notes, *self.witnesses],
            sources=self.sources,
            record=self.record,
            findings=self.findings,
            photos=[self._with_picture(photo) for photo in self.photos],
            prepared=prepared,
        )

    def _with_picture(self, photo: Photo) -> Photo:
        jpeg = pictures.upright_jpeg(self.store.original(photo.sha256), photo.name)
        return photo.model_copy(update={"jpeg": jpeg})


def _photo(number: int, entry: LogEntry, shot: Shot, when: When) -> Photo:
    facts = shot.facts
    return Photo(
        number=number,
        sha256=entry.sha256,
        name=entry.name,
        taken_at=when.at,
        time_source=when.source,
        lat=facts.lat,
        lon=facts.lon,
        gps_error_m=facts.gps_error_m,
        heading_deg=facts.heading_deg,
    )


def _modified(entry: LogEntry) -> datetime:
    return datetime.fromisoformat(entry.body["modified"])


def _amend(lines: list[Line], amendment: Amendment) -> bool:
    """Put a person's words in place of a note's; False where no such note is left."""
    text = str(amendment.value or "")
    for place in [i for i, line in enumerate(lines) if line.mark == amendment.note_source]:
        line = lines[place]
        if amendment.note_start_s is None or _same_moment(line.note, amendment.note_start_s):
            # A person's words are sure: the doubts of the recogniser were about other words.
            note = line.note.model_copy(update={"text": text, "confidence": 1.0, "words": [], "alternatives": []})
            lines[place] = replace(line, note=note, amended=(*line.amended, line.note.text))
            return True
    return False


def _put(value: object) -> str:
    return "emptied" if value is None else str(value)


def _same_moment(note: Note, start_s: float) -> bool:
    return note.start_s is not None and abs(note.start_s - start_s) <= REACH_S
