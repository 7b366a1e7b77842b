"""A job's log as notes in order, its record as amended, and its photos."""

import os
from datetime import UTC, date, datetime
from pathlib import Path

import pytest

from extract.errors import FallbookError, UsageError
from extract.record import Note, Word
from logger import changes, jobs
from logger.book import Book
from logger.show import fields
from logger.store import open_store
from logger.worker import Unusable
from reports.job import Closeout


@pytest.fixture
def store(tmp_path, company):
    with open_store(tmp_path / "library", create=True) as opened:
        jobs.new(
            opened,
            "j",
            client="A. Client",
            address="1 Larch Walk",
            company=str(company),
            day=date(2026, 5, 14),
            zone="-05:00",
        )
        yield opened


def take(store, hearing, *paths) -> list[str]:
    found = jobs.take(store, "j", map(Path, paths), listening=lambda name: lambda done, total: None, hearing=hearing)
    return [result.outcome for result in found]


def texts(store) -> list[str]:
    return [note.text for note in Book(store, "j").notes]


def written(path: Path, text: str, modified: str = "2026-05-14T20:00:00+00:00") -> Path:
    path.write_text(text)
    moment = datetime.fromisoformat(modified).timestamp()
    os.utime(path, (moment, moment))
    return path


def spoken(text: str, start_s: float, end_s: float, confidence: float = 0.9) -> Note:
    words = [Word(text=word, start_s=start_s, end_s=end_s, confidence=confidence) for word in text.split()]
    return Note(text=text, heard=text, confidence=confidence, words=words, start_s=start_s, end_s=end_s)


def test_notes_of_all_sources_stand_in_order_of_time(store, hearing, tmp_path, make_sound):
    sound = make_sound("20260514_094800.wav")
    hearing.answers.append([spoken("Run one is in.", 2, 4), spoken("Run one is 12 feet long.", 300, 303)])
    typed = written(tmp_path / "n.txt", "[09:50] Basin one is set.\nIt is 12 by 12.\n[2026-05-14T14:47:00Z] Morning.\n")
    take(store, hearing, sound, typed)
    jobs.say(store, "j", "Lunch.", "09:52")
    assert texts(store) == [
        "Run one is in.",
        "Basin one is set.",
        "It is 12 by 12.",
        "Morning.",  # its time runs backwards in its file, where it keeps its place
        "Lunch.",
        "Run one is 12 feet long.",
    ]
    found = Book(store, "j").notes
    assert [note.at.isoformat() if note.at else None for note in found] == [
        "2026-05-14T09:48:02-05:00",
        "2026-05-14T09:50:00-05:00",
        None,
        "2026-05-14T09:47:00-05:00",
        "2026-05-14T09:52:00-05:00",
        "2026-05-14T09:53:00-05:00",
    ]
    sources = Book(store, "j").sources
    assert [sources.get(note.source or "") for note in found] == [
        "20260514_094800.wav",
        "n.txt",
        "n.txt",
        "n.txt",
        None,
        "20260514_094800.wav",
    ]


def test_a_text_log_with_no_times_stands_at_its_files_own_time_in_its_order(store, hearing, tmp_path):
    jobs.say(store, "j", "Early.", "14:59")
    jobs.say(store, "j", "Late.", "15:01")
    take(store, hearing, written(tmp_path / "n.txt", "One.\nTwo.\nThree.\n"))
    assert texts(store) == ["Early.", "One.", "Two.", "Three.", "Late."]


def test_a_day_in_a_text_logs_name_dates_its_times(store, hearing, tmp_path):
    take(store, hearing, written(tmp_path / "notes 2026-05-15.txt", "[09:50] Basin one is set.\n"))
    assert Book(store, "j").notes[0].at.isoformat() == "2026-05-15T09:50:00-05:00"


def test_an_amended_field_has_a_witness_that_can_be_followed(store):
    jobs.say(store, "j", "Run one is laid, from basin one to basin two. 12 feet long.", "09:50")
    done = changes.amend(store, "j", "r-1", "length_ft", "14.5")
    assert (done.what, done.now, done.before) == ("R-1 length", "14 ft 6 in", "12 ft")
    book = Book(store, "j")
    run = book.record.subject("R-1")
    assert run.length_ft == 14.5
    (witness,) = [item for item in run.evidence if item.field == "length_ft"]
    assert witness.note == len(book.notes) == 1
    assert book.closeout(date(2026, 5, 15)).notes[witness.note].text == "Amended by hand: R-1 length: 14 ft 6 in"


def test_none_empties_a_field(store):
    jobs.say(store, "j", "Run one is laid. 12 feet long.", "09:50")
    changes.amend(store, "j", "R-1", "length_ft", "none")
    assert Book(store, "j").record.subject("R-1").length_ft is None


@pytest.mark.parametrize(
    ("field", "typed", "value"),
    [
        ("size_in", "12x12", [12, 12]),
        ("size_in", "9", [9]),
        ("size_in", "[12, 18]", [12, 18]),
        ("rim_ft", "99.4", 99.4),
        ("state", "existing", "existing"),
    ],
)
def test_a_value_is_read_as_its_field_holds_it(store, field, typed, value):
    jobs.say(store, "j", "Basin one is set.", "09:50")
    changes.amend(store, "j", "CB-1", field, typed)
    assert getattr(Book(store, "j").record.subject("CB-1"), field) == value


def test_words_that_look_like_a_number_stay_words_where_the_field_holds_words(store):
    jobs.say(store, "j", "Run one is laid. 12 feet long.", "09:50")
    changes.amend(store, "j", "R-1", "bedding", "57")
    assert Book(store, "j").record.subject("R-1").bedding == "57"


@pytest.mark.parametrize("value", ["nan", "NaN", "inf", "Infinity", "1e999", "-inf"])
def test_what_is_no_number_cannot_be_a_length(store, value):
    jobs.say(store, "j", "Run one is laid. 12 feet long.", "09:50")
    with pytest.raises(UsageError, match="R-1 length cannot be .*; write it as 34.67, 34 ft 8 in"):
        changes.amend(store, "j", "R-1", "length_ft", value)
    assert Book(store, "j").record.subject("R-1").length_ft == 12


@pytest.mark.parametrize(
    ("subject", "field", "value", "message"),
    [
        ("R-9", "length_ft", "12", "no R-9 in j; there are: CB-1, R-1"),
        ("R-1", "colour", "red", "R-1 has no field colour; its fields: "),
        ("R-1", "label", "R-2", "R-1 has no field label"),
        ("R-1", "length_ft", "long", "R-1 length cannot be long; write it as 34.67, 34 ft 8 in or"),
        ("R-1", "length_ft", "true", "R-1 length cannot be"),
        ("R-1", "pipe", "clay", "R-1 pipe cannot be clay; write it as one of: SDR 35, Schedule 40, "),
        ("R-1", "to", "CB-7", "R-1 to cannot be CB-7; it can be CB-1, or none"),
        ("R-1", "nominal_in", "7", "R-1 size cannot be 7; it can be 1.25, 1.5, 2, 3, 4, "),
        ("R-1", "fittings", "two bananas", "R-1 fittings cannot be two bananas; write it as "),
        ("R-1", "bedding", "57 \udcbd", "the value holds bytes that are no UTF-8 text"),
        ("note:1", "text", "x", "no note:1 in j; its notes go from 0 to 0"),
        ("note:0", "at", "x", "only its text can be amended"),
    ],
)
def test_an_amendment_that_does_not_fit_is_refused_and_not_logged(store, subject, field, value, message):
    jobs.say(store, "j", "Run one is laid, from basin one. 12 feet long.", "09:50")
    with pytest.raises(UsageError, match=message):
        changes.amend(store, "j", subject, field, value)
    assert len(store.entries("j")) == 1


def test_a_value_no_yard_could_hold_is_refused_with_what_could_be(store):
    jobs.say(store, "j", "Run one is laid. 12 feet long.", "09:50")
    with pytest.raises(UsageError, match="R-1 length cannot be 3600; it can be 0.25 to 1000"):
        changes.amend(store, "j", "R-1", "length_ft", "3600")


@pytest.mark.parametrize(
    ("field", "typed", "value"),
    [
        ("length_ft", "34 ft 8 in", 34.6667),
        ("length_ft", "34'8\"", 34.6667),
        ("length_ft", "36 ft", 36),
        ("drop_in", "3 1/4", 3.25),
        ("drop_in", "3.25 in", 3.25),
        ("drop_in", "1 ft 2 in", 14),
        ("slope_pct", "2%", 2),
        ("from", "cb-1", "CB-1"),
        ("pieces_ft", "[10, 10, 4]", [10, 10, 4]),
    ],
)
def test_a_measure_is_typed_as_crews_write_it(store, field, typed, value):
    jobs.say(store, "j", "Run one is laid, from basin one to outlet one. 12 feet long.", "09:50")
    changes.amend(store, "j", "R-1", field, typed)
    held = getattr(Book(store, "j").record.subject("R-1"), "from_" if field == "from" else field)
    assert held == value


def test_bytes_that_are_no_text_are_refused_and_older_ones_still_show(store):
    with pytest.raises(UsageError, match="the note holds bytes that are no UTF-8 text"):
        jobs.say(store, "j", "Basin one \udcbd is set.")
    with pytest.raises(UsageError, match="the search holds bytes"):
        jobs.find(store, "basin \ud800")
    at = "2026-05-14T09:50:00-05:00"
    store.append("j", "said", {"text": "Basin \udcbd is set.", "at": at}, datetime.fromisoformat(at))
    assert texts(store) == ["Basin \ufffd is set."]
    assert jobs.find(store, "basin")


def test_a_notes_words_can_be_put_right_and_are_then_sure(store, hearing, make_sound):
    sound = make_sound("20260514_094800.wav")
    hearing.answers.append([spoken("Run one is 40 feet long.", 2, 4, confidence=0.2)])
    take(store, hearing, sound)
    assert any(question.field == "length_ft" for question in Book(store, "j").record.questions)
    changes.amend(store, "j", "note:0", "text", "Run one is 14 feet long.")
    (line,) = Book(store, "j").lines
    assert (line.note.text, line.note.heard) == ("Run one is 14 feet long.", "Run one is 40 feet long.")
    assert (line.note.confidence, line.amended) == (1.0, ("Run one is 40 feet long.",))
    record = Book(store, "j").record
    assert record.subject("R-1").length_ft == 14
    assert not [question for question in record.questions if question.field == "length_ft"]


def test_an_amended_note_keeps_its_words_when_earlier_notes_come_in(store):
    jobs.say(store, "j", "Basin two is set.", "09:50")
    changes.amend(store, "j", "note:0", "text", "Basin one is set.")
    jobs.say(store, "j", "Morning.", "07:00")
    assert texts(store) == ["Morning.", "Basin one is set."]


def test_each_note_of_a_text_file_is_amended_by_itself(store, hearing, tmp_path):
    take(store, hearing, written(tmp_path / "n.txt", "One.\nTwo.\nThree.\n"))
    changes.amend(store, "j", "note:1", "text", "Zwei.")
    changes.amend(store, "j", "note:1", "text", "Deux.")
    changes.amend(store, "j", "note:2", "text", "none")
    assert texts(store) == ["One.", "Deux.", ""]
    assert Book(store, "j").lines[1].amended == ("Two.", "Zwei.")


def test_an_amended_note_outlives_a_new_hearing(store, hearing, make_sound):
    sound = make_sound("20260514_094800.wav")
    hearing.answers.extend([[spoken("Run one is 40 feet.", 2, 4)], [spoken("Run won is 40 feet.", 2.3, 4)]])
    take(store, hearing, sound)
    changes.amend(store, "j", "note:0", "text", "Run one is 14 feet.")
    hearing.version = "2"
    take(store, hearing, sound)
    assert texts(store) == ["Run one is 14 feet."]


def test_amended_words_stand_alone_where_a_new_hearing_has_no_such_note(store, hearing, make_sound):
    sound = make_sound("20260514_094800.wav")
    hearing.answers.extend([[spoken("Run one is 40 feet.", 2, 4)], [spoken("Something else.", 60, 61)]])
    take(store, hearing, sound)
    changes.amend(store, "j", "note:0", "text", "Run one is 14 feet.")
    hearing.version = "2"
    take(store, hearing, sound)
    found = Book(store, "j").notes
    assert [(note.text, note.at.isoformat()) for note in found] == [
        ("Run one is 14 feet.", "2026-05-14T09:48:02-05:00"),
        ("Something else.", "2026-05-14T09:49:00-05:00"),
    ]


def test_photos_are_numbered_in_order_of_time_and_matched(store, hearing, make_photo):
    take(
        store,
        hearing,
        make_photo("late.jpg", taken="2026:05:14 11:00:00"),
        make_photo("early.heic", taken="2026:05:14 09:50:30", gps=None),
    )
    jobs.say(store, "j", "Basin one is set.", "09:50")
    found = Book(store, "j").photos
    assert [(each.number, each.name, each.about, each.note) for each in found] == [
        (1, "early.heic", "CB-1", 0),
        (2, "late.jpg", None, None),
    ]
    assert found[1].taken_at == datetime(2026, 5, 14, 16, tzinfo=UTC)
    assert (found[0].lat, found[1].lat) == (None, pytest.approx(41.5))


def test_a_closeout_holds_all_a_report_needs(store, hearing, make_photo):
    take(store, hearing, make_photo())
    jobs.say(store, "j", "Run one is laid, from basin one to basin two. 12 feet long. Drop is 3 inches.", "09:50")
    bare: list[Closeout] = []
    closeout = Book(store, "j").closeout(date(2026, 5, 15), bare.append)
    assert isinstance(closeout, Closeout)
    assert [(each.photos[0].jpeg, each.record, each.job) for each in bare] == [(b"", closeout.record, closeout.job)]
    assert closeout.photos[0].jpeg.startswith(b"\xff\xd8")
    assert closeout.findings
    assert (closeout.job.client, closeout.prepared) == ("A. Client", date(2026, 5, 15))


def test_what_was_read_of_a_file_can_be_thrown_away_and_is_read_again(store, hearing, make_photo, make_sound):
    hearing.answers.append([spoken("Run one is in.", 0, 1)])
    take(store, hearing, make_photo(), make_sound("20260514_094800.wav"))
    before = Book(store, "j")
    files = [(line.entry.name, line.when) for line in before.files]
    store.db.execute("DELETE FROM derived WHERE what <> 'heard'")
    store.db.execute("DELETE FROM cached")
    assert [(line.entry.name, line.when) for line in Book(store, "j").files] == files


def test_the_firms_storm_reaches_the_findings_and_areas_are_shown(store, tmp_path, company):
    company.write_text(company.read_text() + '\n[storm]\nintensity_in_h = 3.2\nfound_in = "the local table"\n')
    jobs.new(store, "k", client="B", address="2", company=str(company))
    jobs.say(store, "k", "Roof to downspout one is 600 square feet.")
    book = Book(store, "k")
    (runoff,) = [f for f in book.findings if f.check == "runoff"]
    assert runoff.outcome == "ok"
    assert "3.2 inches an hour (the local table)" in runoff.message
    assert fields(book.record.structures[0])[-1] == ("areas", "600 square feet of roof")
    changes.amend(store, "k", "DS-1", "areas", '[{"sqft": 90, "surface": "lawn"}]')
    assert fields(Book(store, "k").record.structures[0])[-1] == ("areas", "90 square feet of lawn")


def test_the_firms_policy_reaches_the_findings(store, tmp_path, company):
    text = company.read_text() + "\n[policy]\nmin_slope_8_in_up_pct = 3\n"
    company.write_text(text)
    assert jobs.new(store, "k", client="B", address="2", company=str(company)).company.policy == {
        "min_slope_8_in_up_pct": 3
    }
    company.write_text(text.replace("min_slope_8_in_up_pct", "shoe_size"))
    with pytest.raises(UsageError, match="company.toml: policy: .*shoe_size"):
        jobs.new(store, "l", client="B", address="2", company=str(company))


@pytest.mark.parametrize("name", ["", "a b", "-a", "a/b", "../a", "a" * 61, "é"])
def test_a_name_that_cannot_be_typed_is_refused(store, company, name):
    with pytest.raises(UsageError, match="cannot name a job; use letters, digits and dashes"):
        jobs.new(store, name, client="A", address="1", company=str(company))


def test_an_empty_client_address_or_note_is_refused(store, company):
    with pytest.raises(UsageError, match="the client is empty"):
        jobs.new(store, "k", client=" ", address="1", company=str(company))
    with pytest.raises(UsageError, match="the note is empty"):
        jobs.say(store, "j", "  ")


def test_a_missing_company_file_is_one_line(store):
    with pytest.raises(FallbookError, match="gone.toml: cannot be read"):
        jobs.new(store, "k", client="A", address="1", company="gone.toml")


def test_whoever_types_a_note_is_told_all_that_the_book_tells(store, hearing, tmp_path, make_sound, make_photo):
    (tmp_path / "cut.jpg").write_bytes(make_photo("whole.jpg").read_bytes()[:900])
    lost, gone = make_photo("lost.jpg", heading=12), make_photo("gone.jpg", heading=13)
    sounds = [make_sound(f"2026-05-14T10000{place}.wav") for place in range(3)]
    failed = FallbookError("the model failed on it")
    hearing.answers += [Unusable("the decoder failed on it"), failed, [Note(text="Basin one is set.")]]
    take(store, hearing, tmp_path / "cut.jpg", lost, gone, *sounds)
    for entry in Book(store, "j").log:
        if entry.name in ("lost.jpg", "gone.jpg"):
            store.originals.place(entry.sha256).unlink()
    changes.remove(store, "j", "file:gone.jpg")
    told = jobs.amiss(store, "j")
    assert [line.partition(":")[0] for line in told] == [
        "cut.jpg", "2026-05-14T100000.wav", "lost.jpg", "2026-05-14T100001.wav"
    ]  # fmt: skip
    book = Book(store, "j")
    assert told == [*book.problems, *book.remarks]


def test_how_many_notes_are_read_is_told_where_none_was_kept(store, company):
    for text in ("Run one is 34 feet.", "Run two is 12 feet.", "Run three is 9 feet."):
        jobs.say(store, "j", text)
    told = []
    store.reading = lambda done, total: told.append((done, total))
    with store.writing():
        store.db["cached"].delete_where("what IN ('readings', 'book')")
    book = Book(store, "j")
    assert len(book.record.runs) == 3
    assert told == [(1, 3), (2, 3), (3, 3)]
    told.clear()
    with store.writing():
        book.keep()
    assert len(Book(store, "j").record.runs) == 3
    assert told == []


def reads_nothing(store) -> bool:
    """Whether a book of the job is made without a model."""
    told = []
    store.reading = lambda done, total: told.append(done)
    store.db["cached"].delete_where("what = 'book'")
    assert Book(store, "j").record.runs
    return not told


def test_what_was_read_of_each_note_is_kept_with_the_record(store):
    jobs.say(store, "j", "Run one is in, 40 feet of four inch SDR 35.", "10:00")
    jobs.settle(store, "j")
    assert reads_nothing(store)


def test_a_book_that_was_held_keeps_what_it_read(store):
    jobs.say(store, "j", "Run one is in, 40 feet of four inch SDR 35.", "10:00")
    first = Book(store, "j")
    assert first.record.runs
    first.hold()
    changes.amend(store, "j", "R-1", "length", "41 ft")
    second = Book(store, "j")
    assert second.record.subject("R-1").length_ft == 41
    second.keep()
    assert reads_nothing(store)
    first.keep()
    assert reads_nothing(store)


def test_a_change_after_a_held_book_is_in_the_next_one(store):
    jobs.say(store, "j", "Run one is in, 40 feet of four inch SDR 35.", "10:00")
    Book(store, "j").hold()
    jobs.say(store, "j", "No, run one is 42 feet.", "10:01")
    book = Book(store, "j")
    assert book.record.subject("R-1").length_ft == 42
    book.hold()
    assert Book(store, "j").record is book.record


def test_a_log_of_as_many_entries_is_another_state(store, company):
    jobs.say(store, "j", "Run one is in, 40 feet.", "10:00")
    before = store.state("j")
    with open_store(store.folder.parent / "other", create=True) as other:
        jobs.new(other, "j", client="A. Client", address="1 Larch Walk", company=str(company), zone="-05:00")
        jobs.say(other, "j", "Run two is in, 30 feet.", "10:00")
        assert before.split("/")[:2] == other.state("j").split("/")[:2]
        assert before != other.state("j")
