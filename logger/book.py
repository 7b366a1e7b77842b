"""All that is computed from one job's log, each part once: notes, record, findings, photos."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from functools import cached_property
from typing import TYPE_CHECKING, Any, Literal

from extract import additions, listed, photo_told
from extract.amend import Amendment, Change, Dismissal, Removal, changed
from extract.errors import FallbookError
from extract.listed import as_read
from extract.notes import parse_log
from extract.photo_told import Told, told
from extract.record import Entry, Finding, Language, Note, Record
from extract.same_thing import place_of
from logger import decoding, job_facts
from logger.echo import is_echo
from logger.lines import FORMER, Line, amend_line, find_line, place_witnesses, remove_line, witnesses_of
from logger.overlap import Piece, without_overlap
from logger.program import program
from logger.removal import Removed
from logger.shapes import notes_of
from logger.spoken import Spoken, spoken_of
from logger.store import LogEntry, Store
from logger.taken import Taken, modified
from logger.times import BY_RECORDER, MODIFIED, When, aware, named_day, named_time, sound_start
from logger.typed_in import notes_before
from logger.upload import Upload
from reports.job import Closeout, Photo
from reports.words import field as plainly

if TYPE_CHECKING:
    from extract.assemble import Kept
    from extract.check.evidence import Photo as ShownOpen

HELD = 4
"""The jobs last looked at, whose books a process holds."""
WORKED_OUT = ("notes", "known", "_read", "_changed", "record", "findings", "spoken", "withdrawn", "photos")
"""What follows from the log as it stands, and takes long; with `_read` the notes and what was known before them, which
are compared with the next book's when its own library is closed."""


@dataclass(frozen=True)
class FileLine:
    """A file of the job, with its time."""

    entry: LogEntry
    when: When


class Book(Taken):
    """A job's book. Everything in it follows from the log, and is computed when it is asked for."""

    def __init__(self, store: Store, name: str, *, until: int | None = None, removed: bool = False) -> None:
        super().__init__(store, name, until=until, removed=removed)
        self.job = store.job(name, removed=removed)
        self._earlier = None if until else store.books.get(name)
        if self._earlier and self._earlier.state == self.state:
            have = vars(self._earlier)
            vars(self).update({part: have[part] for part in WORKED_OUT if part in have})

    def hold(self) -> None:
        """Hold what was worked out, for the next book of this job: a change by hand then reads no note again.

        Books are held by one process, `keep` keeps for all.
        """
        self.record  # noqa: B018  (worked out while the book before is at hand)
        self._earlier = None
        if self._until is None and self.whole:
            books = self.store.books
            books.pop(self.name, None)
            books[self.name] = self
            for name in list(books)[:-HELD]:
                books.pop(name, None)

    @cached_property
    def problems(self) -> list[str]:
        self.lines, self.files  # noqa: B018  (they meet them)
        if why := self._former[1]:
            self._problems[why] = None
        return super().problems

    @cached_property
    def remarks(self) -> list[str]:
        """Those of the log, and what a person should know of notes removed."""
        self.lines  # noqa: B018  (it meets them)
        return super().remarks

    # -- notes

    @cached_property
    def lines(self) -> list[Line]:
        """All notes in order of time, with their words as amended; a removed one keeps its place, without words."""
        found = sorted(self._found(), key=lambda line: line.when)
        for amendment in self._amendments:
            if amendment.subject == "note" and not amend_line(found, amendment):
                found.append(self._on_its_own(amendment))
        found.sort(key=lambda line: line.when)
        if old := self.job.callback_of:
            note = Note(text=f"What lay here before this visit is told by job {old}.")
            found.insert(0, Line(note, f"{FORMER}{old}", found[0].when if found else self._first))
        for _, removed in self._standing.values():
            if removed.what == "note" and (why := remove_line(found, removed)):
                self._remarks[why] = None
        return found

    @cached_property
    def notes(self) -> list[Note]:
        """The notes the record is made from; INDEX everywhere else is the place in this list."""
        return [line.note for line in self.lines]

    @property
    def said(self) -> list[Note]:
        """The notes as they are read: the one that stands for an old job says nothing itself."""
        return [Note(text=""), *self.notes[1:]] if self.job.callback_of else self.notes

    @cached_property
    def withdrawn(self) -> set[int]:
        """INDEX of every note of which nothing stands, as "scratch that" took it back."""
        if self._kept:
            return set(self._kept["withdrawn"])
        from extract.assemble import withdrawn

        return withdrawn(self.said, self.readings, self.known)

    @cached_property
    def witnesses(self) -> list[Note]:
        """One note for each change by hand of the record: their INDEX goes on after the last of `notes`."""
        return [Note(text=_by_hand(change), at=change.at) for change in self.changes]

    @cached_property
    def sources(self) -> dict[str, str]:
        """SHA-256 to file name, of all sound and text."""
        return {e.sha256: e.name for e in self.entries if e.sha256 and e.kind in ("sound", "text")}

    def _found(self) -> Iterator[Line]:
        for entry, at, when in self.typed.notes:
            yield Line(Note(text=entry.body["text"], at=at), f"log:{entry.id}", when)
        sounds = self._usable("sound")
        for entry, notes in zip(sounds, without_overlap([*map(self._piece, sounds)]), strict=True):
            yield from self._heard(entry, notes)
        for entry in self._usable("text"):
            yield from self._typed(entry)

    def _piece(self, entry: LogEntry) -> Piece:
        """A recording with what was heard in it, but for what its page said aloud itself."""
        kept = self.store.recall(entry.sha256, "heard")
        upload = Upload.in_entry(entry.body)
        notes = [note for note in notes_of(kept["notes"] if kept else []) if not is_echo(note, upload.spoken)]
        return Piece(upload.recording_id, upload.from_s, self._facts[entry.id].get("length_s", 0.0), notes)

    def _heard(self, entry: LogEntry, notes: list[Note]) -> Iterator[Line]:
        start = self._sound_start(entry).at
        for note in notes:
            at = start + timedelta(seconds=note.start_s or 0)
            yield Line(note.model_copy(update={"at": at, "source": entry.sha256}), entry.sha256, at)

    def _typed(self, entry: LogEntry) -> Iterator[Line]:
        """Notes keep the file's order: one with no time, or one that runs backwards, stands with the one before."""
        notes = parse_log(self._facts[entry.id]["text"], named_day(entry.name) or self.job.day)
        times = [aware(note.at, self.zone) if note.at else None for note in notes]
        first = next(filter(None, times), None)
        own = self._text_time(entry).at
        when = min(own, first) if first else own
        for place, (note, at) in enumerate(zip(notes, times, strict=True)):
            when = max(at, when) if at else when
            yield Line(note.model_copy(update={"at": at, "source": entry.sha256}), f"{entry.sha256}:{place}", when)

    def _on_its_own(self, amendment: Amendment) -> Line:
        """A person's words for a note that a new hearing of the sound no longer has: they stand at its second."""
        start_s = amendment.note_start_s or 0
        began = next((f.when.at for f in self.files if f.entry.sha256 == amendment.note_source), None)
        at = (began or self._first) + timedelta(seconds=start_s)
        source = amendment.note_source if began else None
        text = str(amendment.value or "") if began else ""  # with its file removed, it says nothing
        note = Note(text=text, at=at, source=source, start_s=start_s, end_s=start_s)
        return Line(note, amendment.note_source or "", at, ("",))

    # -- a person's changes

    @cached_property
    def removed(self) -> list[str]:
        """What was taken out and not put back, by the words that name it: `R-2`, `note:14`, `photo:7`, `file:NAME`."""
        names = (self._removed_name(each) for _, each in self._standing.values() if each.what != "job")
        return [name for name in names if name]

    def _removed_name(self, removed: Removed) -> str | None:
        """None for a note whose file is not here."""
        if removed.what == "note":
            place = find_line(self.lines, removed.name, removed.start_s, removed.words)
            return None if place is None else f"note:{place}"
        if removed.what == "thing":
            return removed.name
        if removed.name in self.photo_numbers:
            return f"photo:{self.photo_numbers[removed.name]}"
        return f"file:{next(entry.name for entry in self.log if entry.sha256 == removed.name)}"

    @cached_property
    def _amendments(self) -> list[Amendment]:
        return [Amendment(**entry.body) for entry in self.entries if entry.kind == "amendment"]

    @cached_property
    def changes(self) -> list[Change]:
        """Amendments and removals of the record in the log's order, each with the INDEX of what it rests on; and what
        was said of photos that are here."""
        found: list[tuple[int, Change]] = []
        for entry in self.entries:
            if entry.kind == "amendment" and entry.body["subject"] == photo_told.SUBJECT:
                found += [(entry.id, each) for each in self._of_photo(Amendment(**entry.body))]
            elif entry.kind == "amendment" and entry.body["subject"] not in ("note", job_facts.SUBJECT):
                found.append((entry.id, self._anchored(entry)))
            elif entry.kind == "answer" and entry.body["what"] == "dismissed":
                found.append((entry.id, self._dismissal(entry)))
                if given := entry.body.get("amendment"):
                    found.append((entry.id, self._placed(Amendment(**given), entry)))
        for number, removed in self._standing.values():
            if removed.what == "thing":
                rests_on = place_witnesses(removed.rests_on, self.lines)
                change = Removal(
                    subject=removed.name, at=removed.at, rests_on=rests_on, was=removed.was, place=removed.place
                )
                found.append((number, change))
        return [change for _, change in sorted(found, key=lambda each: self.place[each[0]])]

    def _of_photo(self, amendment: Amendment) -> Iterator[Amendment]:
        """What was said of a photo under the number that it has now; nothing where the photo is gone."""
        number = next((each.number for each in self.taken_photos if each.sha256 == amendment.photo), None)
        if number is not None:
            rests_on = place_witnesses(amendment.rests_on, self.lines)
            yield amendment.model_copy(update={"subject": f"{photo_told.SUBJECT}:{number}", "rests_on": rests_on})

    def _dismissal(self, entry: LogEntry) -> Dismissal:
        given = Dismissal(**entry.body["question"])
        asked = place_witnesses(given.asked, self.lines) or []
        return given.model_copy(
            update={"rests_on": place_witnesses(given.rests_on, self.lines), "asked": asked},
        )

    def _anchored(self, entry: LogEntry) -> Amendment:
        """An amendment with the INDEX of what it was given for. Of an earlier version's, that is what its label meant
        in the log as it stood then."""
        amendment = Amendment(**entry.body)
        if amendment.rests_on is None:
            then = Book(self.store, self.job.name, until=entry.id, removed=True)
            amendment = then.anchored(amendment)
        return self._placed(amendment, entry)

    def _placed(self, amendment: Amendment, entry: LogEntry) -> Amendment:
        from logger.show import kept_text

        rests_on, of_value = (
            place_witnesses(each, self.lines) for each in (amendment.rests_on, amendment.value_rests_on)
        )
        after = notes_before(self.lines, entry.id, self.typed.when[entry.id], self.place)
        told = {"after": after, "words": kept_text(amendment.field, amendment.value)}
        return amendment.model_copy(update={"rests_on": rests_on, "value_rests_on": of_value, **told})

    def anchored(self, amendment: Amendment) -> Amendment:
        """The amendment with the notes that its subject, and an end that it names, rest on."""
        end = str(amendment.value) if amendment.field in ("from", "to") else None
        anchor = self.anchor(amendment.subject) | {"value_rests_on": end and self.anchor(end)["rests_on"]}
        return amendment.model_copy(update=anchor)

    def anchor(self, subject: str) -> dict[str, Any]:
        """What a thing, or an entry of a list, rests on, and what was read of it, as a change of it keeps them."""
        thing, entry = self._read.subject(subject), self.as_said(subject)
        if entry is None:
            added = listed.listed(self._changed[0], subject)
            if added is None:
                return {"rests_on": [], "was": {}}
            return {"rests_on": [], "was": as_read(added), "place": listed.place_among(self._changed[0], subject)}
        keys: set[tuple[int | None, str | None]] = {(item.note, item.field) for item in entry.evidence}
        place = place_of(self._read, thing.label, keys) if thing else listed.place_of(self._read, entry)
        return {"rests_on": witnesses_of(entry, self.lines), "was": as_read(entry), "place": place}

    def as_said(self, subject: str) -> Entry | None:
        """A thing or an entry of a list as the notes make it, without what a person changed; None where they do not."""
        return self._read.subject(subject) or self._listed_as_read(subject)

    def _listed_as_read(self, subject: str) -> Entry | None:
        """The entry as read that `test:1` of the record is made of."""
        record, became = self._changed
        entry = listed.listed(record, subject)
        every = (each for name in listed.LISTS.values() for each in getattr(self._read, name))
        return next((each for each in every if entry is not None and became.get(id(each), each) is entry), None)

    # -- files and their times

    @cached_property
    def files(self) -> list[FileLine]:
        """Every file of the job with when it was made, in order of time."""
        shot = dict(zip([e.id for e in self._usable_photos], self._taken, strict=True))
        found = []
        for entry in self.entries:
            if entry.kind == "sound":
                found.append(FileLine(entry, self._sound_start(entry)))
            elif entry.kind == "text":
                found.append(FileLine(entry, self._text_time(entry)))
            elif entry.kind == "photo" and entry.id in shot:
                found.append(FileLine(entry, shot[entry.id]))
            elif entry.kind == "photo":
                found.append(FileLine(entry, When(aware(modified(entry), self.zone), MODIFIED)))
        return sorted(found, key=lambda line: line.when.at)

    def file(self, sha256: str) -> FileLine:
        """The file of that hash. Raises FallbookError where the job has none."""
        for line in self.files:
            if line.entry.sha256 == sha256:
                return line
        raise FallbookError(f"job {self.job.name} holds no file {sha256[:12]}")

    def _sound_start(self, entry: LogEntry) -> When:
        facts = self._facts[entry.id]
        if told := Upload.in_entry(
            entry.body
        ).at:  # to the thousandth, and the same clock for all pieces of a recording
            return When(aware(told, self.zone), BY_RECORDER)
        started = datetime.fromisoformat(facts["started_at"]) if facts.get("started_at") else None
        return sound_start(started, entry.name, modified(entry), facts.get("length_s", 0), self.zone)

    def _text_time(self, entry: LogEntry) -> When:
        named = named_time(entry.name)
        return (
            When(aware(named, self.zone), "file name") if named else When(aware(modified(entry), self.zone), MODIFIED)
        )

    # -- the job before a visit

    @property
    def former(self) -> Book | None:
        """The book of the job that this one is a visit to; None where it is none, or that one cannot be read."""
        return self._former[0]

    @cached_property
    def _former(self) -> tuple[Book | None, str | None]:
        """That book, and why it or one before it cannot be read."""
        before = self.store.way_back(self.name)
        if not before:
            return None, None
        name_it = f"fallbook amend {self.name} callback-of NAME"
        if self.name in before:
            return None, f"{self.name}: by way of {before[0]} it is a visit to itself; put that right with: {name_it}"
        try:
            former = Book(self.store, before[0])
        except FallbookError as error:
            gone = f"{before[0]}: no such job is here; unpack its archive too, or say which job it is with: {name_it}"
            why = str(error) if self.store.has_job(before[0]) else gone
            return None, f"{why}; what it left there, and its warranty, cannot be told"
        return former, former._former[1]

    @property
    def whole(self) -> bool:
        """Whether all that this follows from could be read this time, of a visit the jobs before it too."""
        self.notes  # noqa: B018  (every file is met)
        return not self.passing and not self._former[1] and (self.former is None or self.former.whole)

    @cached_property
    def known(self) -> Record | None:
        """What the job before left there; None for a job that is no visit."""
        from extract.read.known import lying_there

        return lying_there(self.former.record, self.notes[0].text) if self.former else None

    # -- the record

    @cached_property
    def _read(self) -> Record:
        """The record as the notes make it, without what a person changed in it."""
        from extract.assemble import assemble

        earlier = self._earlier
        if earlier and "_read" in vars(earlier) and (earlier.notes, earlier.known) == (self.notes, self.known):
            return earlier._read
        return assemble(self.said, kept=self.readings, known=self.known)

    @cached_property
    def readings(self) -> Kept:
        """What was read of each note by this version of the program."""
        from extract.assemble import Kept

        if self._earlier and (held := vars(self._earlier).get("readings")):
            return Kept(dict(held.shapes), dict(held.used), held.new, self.store.reading)
        read = self.store.cached(self.job.name, "readings", program()) or {}
        return Kept(read, progress=self.store.reading)

    @cached_property
    def _kept(self) -> dict[str, Any]:
        """What was worked out of the log as it stands by this version of the program, or nothing."""
        known = self.store.cached(self.job.name, "book", self._made_with) if self._until is None else None
        return known or {}

    @property
    def _made_with(self) -> str:
        return f"{self.state}/{program()}"

    def keep(self) -> None:
        """Keep what takes long to work out, for whoever asks next, unless a file could not be read this time."""
        if not self._kept:
            shapes = {
                "record": self.record.model_dump(mode="json", exclude_defaults=True),
                "spoken": [each.as_shape() for each in self.spoken],
                "withdrawn": sorted(self.withdrawn),
                "photos": [each.model_dump(mode="json") for each in self.photos],
                "findings": [each.model_dump(mode="json", exclude_defaults=True) for each in self.findings],
            }
            if self.whole:
                self.store.cache(self.job.name, "book", self._made_with, shapes)
        if "_read" in vars(self) and self.readings.new:
            self.readings.prune()
        self.keep_readings()

    def keep_readings(self) -> None:
        """Keep what was read of each note."""
        read = self.__dict__.get("readings")
        if read is not None and read.new:
            self.store.cache(self.job.name, "readings", program(), read.shapes)
            read.new = False

    @cached_property
    def record(self) -> Record:
        if self._kept:
            return Record.model_validate(self._kept["record"])
        return self._changed[0]

    @cached_property
    def _changed(self) -> tuple[Record, dict[int, Entry]]:
        return changed(self._read, self.changes, len(self.notes)) if self.changes else (self._read, {})

    @cached_property
    def findings(self) -> list[Finding]:
        if self._kept:
            return [Finding.model_validate(shape) for shape in self._kept["findings"]]
        return self._checked()

    def _checked(self) -> list[Finding]:
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
        if self._kept:
            return [Spoken.of(shape) for shape in self._kept["spoken"]]
        return spoken_of(self.said, self.record)

    # -- photos

    @cached_property
    def photos(self) -> list[Photo]:
        """All photos in order of time, matched; `jpeg` is left empty."""
        if self._kept:
            return [Photo.model_validate(shape) for shape in self._kept["photos"]]
        from logger.match import match

        return match(self.taken_photos, self.spoken, self.record, self.told)

    @cached_property
    def told(self) -> dict[str, Told]:
        """What a person said of photos, by their SHA-256."""
        return told(self._read, self.record, self.changes)

    @cached_property
    def covered(self) -> set[str]:
        """The labels of all that a note says is backfilled, or a person who said that a photo shows it so."""
        shown = {each.about for each in self.photos if each.about and each.backfill == "after"}
        return shown | {label for each in self.spoken for label in each.backfilled}

    @cached_property
    def evidence_photos(self) -> list[ShownOpen]:
        """All photos as the checks of evidence take them."""
        from extract.check.evidence import Photo as ShownOpen

        def seen(photo: Photo) -> Literal["start", "open", "before", "after", "unknown"]:
            if photo.before_work:
                return "start"
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

    # -- the report

    def closeout(
        self,
        prepared: date,
        meanwhile: Callable[[Closeout], object] = lambda closeout: None,
        language: Language = "en",
    ) -> Closeout:
        """All that a report is made from, upright copies of the photos included; `meanwhile` is given it without those
        while they are decoded."""
        bare = self.bare(prepared, language)
        return bare.model_copy(update={"photos": self._with_pictures(lambda: meanwhile(bare))})

    def bare(self, prepared: date, language: Language = "en") -> Closeout:
        """The same without pictures: all that a drawing needs."""
        return Closeout(
            job=self.job,
            notes=[*self.notes, *self.witnesses],
            sources=self.sources,
            record=self.record,
            findings=self.findings,
            photos=self.photos,
            prepared=prepared,
            language=language,
            former=self.former.bare(prepared, language) if self.former else None,
        )

    def _with_pictures(self, meanwhile: Callable[[], object]) -> list[Photo]:
        """The photos with their pictures; one whose original cannot be read goes without."""
        found: dict[int, bytes] = {}
        whole = [photo for photo in self.photos if self.store.originals.holds(photo.sha256)]
        files = [(self.store.originals.place(photo.sha256), photo.name) for photo in whole]
        for photo, jpeg in zip(whole, decoding.plates(files, meanwhile), strict=True):
            if isinstance(jpeg, FallbookError):
                self._problems[str(jpeg)] = None
            else:
                found[photo.number] = jpeg
        return [photo.model_copy(update={"jpeg": found.get(photo.number, b"")}) for photo in self.photos]


def _by_hand(change: Change) -> str:
    if isinstance(change, Removal):
        return f"Removed by hand: {change.subject}"
    if isinstance(change, Dismissal):
        name = plainly(change.field) if change.field else None
        return f"Needs no answer, by hand: {' '.join(filter(None, [change.subject, name]))}"
    if change.photo:
        return f"Said by hand: {photo_told.in_words(change)}"
    if additions.is_addition(change.field, change.value):
        return f"Added by hand: {additions.in_words(change)}"
    from logger.show import field_of

    subject, name = change.subject.replace(":", " "), field_of(change.subject, change.field)
    return f"Amended by hand: {subject} {name}: {change.words}"
