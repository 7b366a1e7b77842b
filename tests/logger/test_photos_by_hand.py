"""What a person says of a photo: what it shows, before or after backfill; kept for the thing that it was said of."""

import pytest
from typed import say

from extract.errors import UsageError
from extract.record import Note
from logger import changes, cli, jobs
from logger.ask import find, open_questions
from logger.book import Book
from logger.match import NO_PART
from logger.ready import ready
from logger.reply import reply
from logger.undo import undo

LOG = (
    "09:48 Basin one is set. Twelve by twelve.",
    "09:55 Run one is laid, from basin one to basin two. Four-inch SDR 35.",
)


@pytest.fixture
def photos(store, hearing, make_photo):
    """Two photos: of basin one and of run one, by their times."""
    say(store, *LOG)
    paths = [make_photo(f"{n}.jpg", taken=f"2026:05:14 {at}") for n, at in enumerate(("09:48:40", "09:55:20"), 1)]
    list(jobs.take(store, "j", paths, listening=lambda name: lambda done, total: None, hearing=hearing))
    assert shown(store) == [(1, "CB-1", "unknown"), (2, "R-1", "unknown")]
    return paths


def shown(store) -> list[tuple[int, str | None, str]]:
    return [(each.number, each.about, each.backfill) for each in Book(store, "j").photos]


def asked(store) -> list[tuple[str, str | None]]:
    return [(each.about, each.field) for each in Book(store, "j").record.questions]


def test_a_photo_shows_what_a_person_says(store, photos):
    done = changes.amend(store, "j", "photo:1", "shows", "run one")
    assert (done.words, done.before) == ("what photo:1 shows is now R-1", "CB-1")
    photo = Book(store, "j").photos[0]
    assert (photo.about, photo.note, photo.reason) == ("R-1", None, "by hand: it shows R-1")


def test_a_photo_of_no_part_of_the_work(store, photos):
    assert (
        changes.amend(store, "j", "photo:1", "shows", "none").words == "what photo:1 shows is now no part of the work"
    )
    photo = Book(store, "j").photos[0]
    assert (photo.about, photo.reason, photo.backfill) == (None, NO_PART, "unknown")


@pytest.mark.parametrize("side", ["before", "after"])
def test_a_photo_is_from_before_or_after_backfill_as_a_person_says(store, photos, side):
    done = changes.amend(store, "j", "photo:2", "backfill", side.title())
    assert (done.words, done.before) == (f"photo:2 backfill is now {side}", "unknown")
    assert shown(store)[1] == (2, "R-1", side)
    changes.amend(store, "j", "photo:2", "backfill", "none")
    assert shown(store)[1] == (2, "R-1", "unknown")


def test_it_goes_before_what_the_time_tells(store, photos):
    say(store, "09:50 Basin one is backfilled.")
    assert shown(store)[0] == (1, "CB-1", "before")
    changes.amend(store, "j", "photo:1", "backfill", "after")
    assert shown(store)[0] == (1, "CB-1", "after")


def test_the_last_word_counts(store, photos):
    for words in ("R-1", "none", "CB-2"):
        changes.amend(store, "j", "photo:1", "shows", words)
    assert shown(store)[0][1] == "CB-2"


def test_before_backfill_is_said_of_what_the_photo_shows(store, photos):
    changes.amend(store, "j", "photo:1", "backfill", "before")
    changes.amend(store, "j", "photo:1", "shows", "R-1")
    assert shown(store)[0] == (1, "R-1", "unknown")
    changes.amend(store, "j", "photo:1", "shows", "CB-1")
    assert shown(store)[0] == (1, "CB-1", "before")


def test_whoever_says_before_backfill_has_seen_what_it_shows(store, photos):
    changes.amend(store, "j", "photo:1", "backfill", "before")
    say(store, "09:48:41 Photo of basin two.")
    assert shown(store)[0] == (1, "CB-1", "before")


def test_a_photo_of_a_thing_covered_says_that_it_is_covered(store, photos):
    assert not ready(store, "j").of("R-1").covered
    changes.amend(store, "j", "photo:2", "backfill", "after")
    answer = ready(store, "j").of("R-1")
    assert answer.covered
    assert "a photo of it from before it was covered" in answer.missing
    changes.amend(store, "j", "photo:2", "backfill", "before")
    assert not any(each.startswith("a photo of it") for each in ready(store, "j").of("R-1").missing)


def test_a_photo_from_before_the_work_is_no_proof_and_is_shown_so_until_a_side_is_told(
    store, hearing, make_photo, capsys
):
    say(store, "07:41 Plan. Basin one is going to go by the gate.", "09:48 Basin one is set. Twelve by twelve.")
    path = make_photo("1.jpg", taken="2026:05:14 07:41:00")
    list(jobs.take(store, "j", [path], listening=lambda name: lambda done, total: None, hearing=hearing))
    assert [each.backfill for each in Book(store, "j").evidence_photos] == ["start"]
    assert cli.run(["show", "j", "photo:1"]) == 0
    assert "before the work" in capsys.readouterr().out
    changes.amend(store, "j", "photo:1", "backfill", "before")
    assert [each.backfill for each in Book(store, "j").evidence_photos] == ["open"]
    assert cli.run(["show", "j", "photo:1"]) == 0
    assert "before the work" not in capsys.readouterr().out


def test_it_is_taken_back(store, photos):
    changes.amend(store, "j", "photo:1", "shows", "R-1")
    changes.amend(store, "j", "photo:1", "backfill", "before")
    assert undo(store, "j") == "taken back: photo:1 shows R-1 before backfill"
    assert shown(store)[0] == (1, "R-1", "unknown")
    assert undo(store, "j") == "taken back: photo:1 shows R-1"
    assert shown(store)[0] == (1, "CB-1", "unknown")


def test_it_stays_with_its_photo_when_an_earlier_one_comes_in(store, photos, hearing, make_photo):
    changes.amend(store, "j", "photo:1", "shows", "R-1")
    early = make_photo("0.jpg", taken="2026:05:14 08:00:00")
    list(jobs.take(store, "j", [early], listening=lambda name: lambda done, total: None, hearing=hearing))
    assert shown(store) == [(1, None, "unknown"), (2, "R-1", "unknown"), (3, "R-1", "unknown")]


def test_it_waits_with_a_photo_that_is_taken_out(store, photos):
    changes.amend(store, "j", "photo:1", "shows", "R-1")
    changes.remove(store, "j", "photo:1")
    assert Book(store, "j").changes == []
    with pytest.raises(UsageError, match="photo:1 was removed; put it back with: fallbook remove j photo:1 --undo"):
        changes.amend(store, "j", "photo:1", "shows", "R-1")
    changes.remove(store, "j", "photo:1", undo=True)
    assert shown(store)[0][1] == "R-1"


def test_a_thing_taken_out_is_shown_by_no_photo(store, photos):
    changes.amend(store, "j", "photo:1", "shows", "R-1")
    changes.remove(store, "j", "R-1")
    assert shown(store)[0][1] == "CB-1"
    assert ("photo 1", "shows") not in asked(store)


# -- where the label means another thing by now


@pytest.fixture
def moved(store, hearing, make_photo):
    """A photo said to be of the basin by the gate, which an earlier note then gave another label."""
    say(store, "10:00 Basin by the gate is set.", "10:30 Run one is in, 34 feet.")
    path = make_photo(taken="2026:05:14 10:30:10")
    list(jobs.take(store, "j", [path], listening=lambda name: lambda done, total: None, hearing=hearing))
    changes.amend(store, "j", "photo:1", "shows", "CB-1")
    assert shown(store) == [(1, "CB-1", "unknown")]
    say(store, "09:00 Basin by the shed is set.")
    return store


def test_a_photo_passes_to_no_other_thing_and_is_asked_about(moved):
    assert shown(moved) == [(1, "R-1", "unknown")]
    assert ("photo 1", "shows") in asked(moved)
    question = next(each for each in open_questions(Book(moved, "j")) if each.field == "shows")
    assert question.text == "What does photo 1 show?"
    assert [each.words for each in question.readings] == ["CB-2"]
    assert question.stands == "R-1"
    assert question.heard[0].words == "Said by hand: photo:1 shows CB-1"


@pytest.mark.parametrize(
    ("answer", "about"), [("a", "CB-2"), ("yes", "R-1"), ("basin one", "CB-1"), ("not there", None), ("none", None)]
)
def test_the_question_is_answered(moved, answer, about):
    book = Book(moved, "j")
    question = next(each for each in open_questions(book) if each.field == "shows")
    got, book = reply(book, question, answer)
    assert got.what == "taken"
    assert [each.about for each in book.photos] == [about]
    assert find(book, question.id) is None
    undo(moved, "j")
    assert find(Book(moved, "j"), question.id) is not None


def test_an_answer_that_names_nothing_is_refused(moved):
    book = Book(moved, "j")
    question = next(each for each in open_questions(book) if each.field == "shows")
    got, _ = reply(book, question, "the barn")
    assert (got.what, got.words.partition(";")[0]) == ("refused", "no the barn in j")


def test_the_question_keeps_its_name_when_the_photo_gets_another_number(moved, hearing, make_photo):
    def name() -> str | None:
        return next(each.id for each in open_questions(Book(moved, "j")) if each.field == "shows")

    before = name()
    early = make_photo("0.jpg", taken="2026:05:14 08:00:00")
    list(jobs.take(moved, "j", [early], listening=lambda name: lambda done, total: None, hearing=hearing))
    assert ("photo 2", "shows") in asked(moved)
    assert name() == before


def test_a_later_word_closes_it(moved):
    changes.amend(moved, "j", "photo:1", "shows", "CB-2")
    assert ("photo 1", "shows") not in asked(moved)
    assert shown(moved) == [(1, "CB-2", "unknown")]


def test_a_side_said_of_another_thing_is_asked_about_too(store, hearing, make_photo):
    say(store, "10:00 Basin by the gate is set.")
    path = make_photo(taken="2026:05:14 10:00:10")
    list(jobs.take(store, "j", [path], listening=lambda name: lambda done, total: None, hearing=hearing))
    changes.amend(store, "j", "photo:1", "backfill", "before")
    say(store, "09:00 Basin by the shed is set.")
    assert shown(store) == [(1, "CB-2", "unknown")]
    assert ("photo 1", "shows") in asked(store)


def test_words_that_are_gone_leave_nothing_to_choose(store, hearing, make_sound, make_photo):
    hearing.answers += [[Note(text="Basin by the gate is set.", heard="Basin by the gate is set.", start_s=1, end_s=3)]]
    files = [make_sound("2026-05-14T100000.wav"), make_photo(taken="2026:05:14 10:00:10")]
    list(jobs.take(store, "j", files, listening=lambda name: lambda done, total: None, hearing=hearing))
    changes.amend(store, "j", "photo:1", "shows", "CB-1")
    hearing.version = "2"
    hearing.answers += [[Note(text="Mumble.", heard="Mumble.", start_s=1, end_s=3)]]
    list(jobs.take(store, "j", files, listening=lambda name: lambda done, total: None, hearing=hearing))
    (question,) = Book(store, "j").record.questions
    assert (question.about, question.choices) == ("photo 1", None)


# -- refused


@pytest.mark.parametrize(
    ("subject", "field", "value", "why"),
    [
        ("photo:9", "shows", "R-1", "no photo:9 in j; its photos are listed by: fallbook show j"),
        ("photo:1", "shows", "R-9", "no R-9 in j; there are: CB-1, CB-2, R-1"),
        ("photo:1", "colour", "red", "of a photo only shows and backfill can be amended, not colour"),
        ("photo:1", "backfill", "soon", "photo:1 backfill cannot be 'soon'; write before or after, or none"),
    ],
)
def test_what_does_not_fit_is_one_line(store, photos, subject, field, value, why):
    with pytest.raises(UsageError, match=why):
        changes.amend(store, "j", subject, field, value)


def test_a_photo_of_nothing_is_before_no_backfill(store, photos):
    changes.amend(store, "j", "photo:1", "shows", "none")
    with pytest.raises(
        UsageError, match="photo:1 shows no part of the work; say first what it shows: fallbook amend j"
    ):
        changes.amend(store, "j", "photo:1", "backfill", "before")


def test_an_entry_of_a_list_is_shown_by_no_photo(store, photos):
    say(store, "10:00 Hose test on run one, ten minutes, it passed.")
    with pytest.raises(UsageError, match=r"photo:1 can show a structure or a run, or none; test 1 \(hose, R-1\) is"):
        changes.amend(store, "j", "photo:1", "shows", "test:1")


# -- the commands


def test_the_commands_say_and_show_it(store, photos, capsys):
    assert cli.run(["amend", "j", "photo:1", "shows", "run", "one"]) == 0
    assert capsys.readouterr().out == "j: what photo:1 shows is now R-1\nwas: CB-1\n"
    assert cli.run(["amend", "j", "photo:1", "backfill", "before"]) == 0
    assert cli.run(["show", "j", "photo:1"]) == 0
    lines = capsys.readouterr().out
    assert "by hand: it shows R-1, from before backfill" in lines
    assert cli.run(["ask", "j", "--undo"]) == 0
    assert capsys.readouterr().out == "j: taken back: photo:1 shows R-1 before backfill\n"


def test_a_photo_is_shown_by_its_number_when_one_before_it_was_taken_out(store, photos, capsys):
    changes.remove(store, "j", "photo:1")
    assert cli.run(["show", "j", "photo:2"]) == 0
    assert "2.jpg" in capsys.readouterr().out
    assert cli.run(["show", "j", "photo:1"]) == 2
    assert capsys.readouterr().err == "fallbook: no photo:1 in j; its photos go from 2 to 2\n"
