"""The day by the hour; notes and photos put right, taken out and put back; a note typed and read back."""

import io
import re

import pytest
from pages import Client, say, take, words
from PIL import Image

from extract.record import Note
from logger import changes, jobs
from logger.book import Book
from logger.page import media

LOG = (
    "09:48 Basin one is set. Twelve by twelve.",
    "09:55 Run one is laid, from basin one to basin two. Four-inch SDR 35.",
    "10:20 Run one is 34 feet long.",
)


@pytest.fixture
def client(store, hearing, make_photo, make_sound):
    """A day with three typed notes, one heard, two photos."""
    say(store, *LOG)
    photos = [make_photo(f"{n}.jpg", taken=f"2026:05:14 {at}") for n, at in enumerate(("09:48:40", "09:55:20"), 1)]
    heard = "Cover on run one is 12 inches."
    hearing.answers.append([Note(text=heard, heard=heard, confidence=0.9, start_s=0.25, end_s=0.75)])
    take(store, hearing, *photos, make_sound("20260514_110000.wav"))
    return Client(store.folder)


def hidden(html: str, name: str) -> str:
    return re.search(f'name="{name}" value="([^"]+)"', html)[1]


def test_notes_and_photos_stand_in_order_of_time(client):
    html = client.get("/jobs/j/day").text
    anchors = re.findall(r'<li id="([^"]+)"', html)
    assert anchors == ["note-0", "photo-1", "note-1", "photo-2", "note-2", "note-3"]
    assert [each for each in re.findall(r"<h2>([^<]+)</h2>", html)] == ["09:00", "10:00", "11:00"]


def test_an_hour_of_another_day_bears_its_date(client, store):
    say(store, "2026-05-15T09:10 Basin three is set.")
    assert "15 May 2026 09:00" in re.findall(r"<h2>([^<]+)</h2>", client.get("/jobs/j/day").text)


# -- the hours


def hours(html: str) -> dict[str, tuple[bool, str]]:
    """Whether each hour stands open, and all that is in it, by its anchor."""
    found = re.findall(r'<details class="hour"( open)?>(.*?)<div id="([^"]+)">(.*?)</ol>', html, re.S)
    return {name: (bool(opened), head + within) for opened, head, name, within in found}


def unfolded(html: str) -> list[str]:
    return [name for name, (opened, _) in hours(html).items() if opened]


def test_a_row_of_links_leads_to_the_hours(client):
    html = client.get("/jobs/j/day").text
    (row,) = re.findall(r'<nav class="hours"[^>]*>(.*?)</nav>', html)
    assert re.findall(r'<a href="#([^"]+)">([^<]+)</a>', row) == [
        ("hour-20260514T09", "09:00"),
        ("hour-20260514T10", "10:00"),
        ("hour-20260514T11", "11:00"),
    ]
    assert [*hours(html)] == ["hour-20260514T09", "hour-20260514T10", "hour-20260514T11"]


def test_an_hour_says_how_much_is_in_it_and_of_what(client):
    html = client.get("/jobs/j/day").text
    heads = [words(head) for head in re.findall(r"<summary><h2>.*?</summary>", html)]
    assert heads == ["09:00 2 notes 2 photos CB-1 CB-2 R-1", "10:00 1 note R-1", "11:00 1 note R-1"]
    client.post("/language", data={"language": "es"})
    assert "09:00 2 notas 2 fotos CB-1" in words(client.get("/jobs/j/day").text)


@pytest.mark.parametrize(
    ("asked", "hour"),
    [
        ("", 11),
        ("?open=note-0", 9),
        ("?open=photo-2", 9),
        ("?open=note-2", 10),
        ("?said=done&at=note-2", 10),
        ("?said=done&at=hour-20260514T09", 9),
        ("?said=done&at=note-99", 11),
        ("?open=nothing", 11),
    ],
)
def test_one_hour_stands_open_that_of_what_is_named_or_the_last(client, asked, hour):
    assert unfolded(client.get(f"/jobs/j/day{asked}").text) == [f"hour-20260514T{hour:02}"]


def test_what_was_done_is_told_at_the_top_where_its_place_is_gone(client):
    for at, name in (("note-2", "note-2"), ("photo-9", "")):
        html = client.get("/jobs/j/day", params={"said": "it is done", "at": at}).text
        assert html.count("it is done") == 1
        assert ("it is done" in html.split('<details class="hour"')[0]) == (name == "")


def test_a_note_bears_its_time_and_leads_to_what_it_speaks_of(client):
    (head,) = re.findall(r'<li id="note-2" lang="en">\s*<p class="where">(.*?)</p>', client.get("/jobs/j/day").text)
    assert words(head) == "10:20:00 note:2 R-1"
    assert '<a href="/jobs/j/record/R-1">R-1</a>' in head


def test_notes_of_no_known_time_stand_last_and_folded_like_the_others(client, store, tmp_path, hearing, monkeypatch):
    """Nothing that comes in today is without a time; an earlier log could hold it."""
    lines = Book(store, "j").lines
    monkeypatch.setattr(Book, "lines", [*lines[:-1], lines[-1].__class__(**vars(lines[-1]) | {"when": None})])
    html = client.get("/jobs/j/day").text
    assert [*hours(html)][-1] == "hour-unknown"
    assert re.findall(r"<h2>([^<]+)</h2>", html)[-1] == "At no known time"


# -- what stands in an hour


def test_each_number_says_what_became_of_it(client):
    assert "“34 feet” stands in R-1 length" in words(client.get("/jobs/j/day").text)
    assert '<a href="/jobs/j/record/R-1">R-1</a>' in client.get("/jobs/j/day").text


def test_a_heard_note_has_its_player_and_a_typed_one_has_none(client):
    html = client.get("/jobs/j/day").text
    (address,) = re.findall(r'href="([^"]+)" data-play', html)
    assert client.get(address.replace("&amp;", "&")).headers["content-type"] == "audio/wav"


def test_a_photo_says_what_it_shows_and_why(client):
    page = words(client.get("/jobs/j/day").text)
    assert "photo:1 CB-1 , taken 09:48:40, 40 s after note 0 about CB-1 ; backfill: unknown" in page


def test_a_photo_is_small_in_the_list_and_large_when_opened(client, store, hearing, make_photo):
    image = Image.effect_noise((1000, 800), 80)
    take(store, hearing, make_photo("3.jpg", image=image, taken="2026:05:14 12:00:00"))
    listed, opened = client.get("/jobs/j/day").text, client.get("/jobs/j/day?open=photo-3").text
    assert opened.count("?small") == listed.count("?small") - 1 == 2
    (small,) = re.findall(r'<a href="\?open=photo-3#photo-3"><img src="([^"]+)\?small"', listed)
    assert f'<a href="{small}"><img src="{small}"' in opened  # the file by itself
    sizes = [Image.open(io.BytesIO(client.get(each).content)).size for each in (f"{small}?small", small)]
    assert sizes == [(media.SMALL_PX, media.SMALL_PX * 4 // 5), (1000, 800)]


def test_a_small_photo_is_decoded_once(client, monkeypatch):
    (address,) = re.findall(r'img src="([^"]+)\?small"', client.get("/jobs/j/day?open=photo-2").text)
    first, decoded = client.get(f"{address}?small").content, []
    picture = media.decoding.picture
    monkeypatch.setattr(media.decoding, "picture", lambda *file: decoded.append(file) or picture(*file))
    assert client.get(f"{address}?small").content == first
    assert decoded == []
    assert len(client.get(address).content) > len(first)
    assert len(decoded) == 1


def test_a_change_by_hand_stands_in_the_day_too(client, store):
    changes.amend(store, "j", "R-1", "length", "35 ft")
    html = client.get("/jobs/j/day").text
    assert 'id="note-4"' in html
    assert "Amended by hand: R-1 length: 35 ft" in words(html)
    assert 'href="?open=note-4' not in html


def test_a_photo_looked_at_before_a_change_leaves_the_day_whole(client, store):
    """The book that a photo was looked up in is held for the next, without the store that it read from."""
    (address,) = re.findall(r'img src="([^"?]+)"', client.get("/jobs/j/day?open=photo-2").text)
    assert client.get(address).status_code == 200
    changes.remove(store, "j", "photo:2")
    answer = client.get("/jobs/j/day")
    assert answer.status_code == 200, words(answer.text)


# -- a note put right


def test_a_note_is_opened_with_what_is_known_of_it(client):
    closed, opened = client.get("/jobs/j/day").text, client.get("/jobs/j/day?open=note-3").text
    assert '<textarea id="words"' not in closed
    assert ">Cover on run one is 12 inches.</textarea>" in opened
    assert "0:00.2 to 0:00.8" in words(opened)
    assert 'href="/jobs/j/day#note-3">Close' in opened


def test_the_words_of_a_note_are_put_right(client, store):
    key = hidden(client.get("/jobs/j/day?open=note-2").text, "note")
    answer = client.post("/jobs/j/day/note", data={"note": key, "text": "Run one is 36 feet long."})
    assert "note:2 text is now Run one is 36 feet long." in words(answer.text)
    assert Book(store, "j").record.runs[0].length_ft == 36
    assert answer.url.fragment == "note-2"


def test_a_note_without_words_is_empty(client, store):
    key = hidden(client.get("/jobs/j/day?open=note-2").text, "note")
    client.post("/jobs/j/day/note", data={"note": key, "text": " "})
    assert Book(store, "j").notes[2].text == ""


def test_the_note_is_meant_and_not_its_number(client, store):
    key = hidden(client.get("/jobs/j/day?open=note-2").text, "note")
    say(store, "08:00 Morning.")
    client.post("/jobs/j/day/note", data={"note": key, "text": "Run one is 36 feet long."})
    assert Book(store, "j").notes[3].text == "Run one is 36 feet long."


def test_a_note_that_another_put_right_meanwhile_is_left_alone(client, store):
    key = hidden(client.get("/jobs/j/day?open=note-2").text, "note")
    changes.amend(store, "j", "note:2", "text", "Run one is 35 feet long.")
    answer = client.post("/jobs/j/day/note", data={"note": key, "text": "Run one is 36 feet long."})
    assert answer.status_code == 400
    assert "that note reads otherwise by now; load the day again" in answer.text
    assert Book(store, "j").record.runs[0].length_ft == 35


def test_a_note_is_taken_out_and_put_back(client, store):
    key = hidden(client.get("/jobs/j/day?open=note-2").text, "note")
    html = client.post("/jobs/j/day/note", data={"note": key, "what": "remove"}).text
    assert Book(store, "j").removed == ["note:2"]
    assert 'href="?open=note-2' not in html
    assert 'name="what" value="note:2"' in html
    client.post("/jobs/j/day/back", data={"what": "note:2"})
    assert Book(store, "j").removed == []


# -- a photo put right


def photo_of(client, number: int) -> str:
    return hidden(client.get(f"/jobs/j/day?open=photo-{number}").text, "photo")


def shown(store) -> list[tuple[str | None, str]]:
    return [(each.about, each.backfill) for each in Book(store, "j").photos]


def test_a_photo_is_moved_to_another_thing_or_to_none(client, store):
    sha256 = photo_of(client, 1)
    answer = client.post("/jobs/j/day/photo", data={"photo": sha256, "what": "shows", "value": "R-1"})
    assert "what photo:1 shows is now R-1" in words(answer.text)
    assert shown(store)[0] == ("R-1", "unknown")
    client.post("/jobs/j/day/photo", data={"photo": sha256, "what": "shows", "value": "none"})
    assert shown(store)[0] == (None, "unknown")


def test_a_move_is_taken_back_where_it_was_made(client, store):
    page = client.post("/jobs/j/day/photo", data={"photo": photo_of(client, 1), "what": "shows", "value": "R-1"}).text
    assert '<button name="to" value="day"' in page
    answer = client.post("/jobs/j/undo", data={"to": "day", "last": hidden(page, "last")})
    assert answer.url.path == "/jobs/j/day"
    assert "taken back: photo:1 shows R-1" in answer.text
    assert shown(store)[0][0] == "CB-1"


def test_what_is_taken_back_is_told_where_it_stands(client):
    form = {"photo": photo_of(client, 1), "what": "shows", "value": "R-1"}
    page = client.post("/jobs/j/day/photo", data=form).text
    form = {"to": "day", "last": hidden(page, "last"), "at": hidden(page, "at")}
    answer = client.post("/jobs/j/undo", data=form)
    assert answer.url.fragment == "photo-1"
    assert "taken back: photo:1 shows R-1" in hours(answer.text)["hour-20260514T09"][1]


def test_a_photo_that_is_asked_about_stands_beside_its_question(client, store):
    changes.amend(store, "j", "photo:1", "shows", "CB-1")
    say(store, "09:00 Basin by the shed is set.", "09:01 Correction, basin one is nine by nine.")
    key = hidden(client.get("/jobs/j/day?open=note-2").text, "note")
    client.post("/jobs/j/day/note", data={"note": key, "what": "remove"})
    asked = next(each for each in Book(store, "j").record.questions if each.field == "shows")
    for language, text in (("en", "What does photo 1 show?"), ("es", "¿Qué muestra la foto 1?")):
        client.post("/language", data={"language": language})
        page = client.get(f"/jobs/j/questions?id={asked.id}").text
        assert text in page
        assert f"/photo/{photo_of(client, 1)}" in page
        assert text in client.get("/jobs/j/closeout").text


def test_what_a_photo_shows_is_chosen_when_it_is_opened(client):
    html = client.get("/jobs/j/day?open=photo-1").text
    assert re.findall(r'<option value="([^"]+)"( selected)?', html) == [
        ("none", ""), ("CB-1", " selected"), ("CB-2", ""), ("R-1", ""),
    ]  # fmt: skip


def test_a_photo_is_told_to_be_from_before_backfill(client, store):
    html = client.get("/jobs/j/day?open=photo-2").text
    form = {"photo": hidden(html, "photo"), "about": hidden(html, "about"), "what": "backfill", "value": "before"}
    client.post("/jobs/j/day/photo", data=form)
    assert shown(store)[1] == ("R-1", "before")
    changes.amend(store, "j", "photo:2", "shows", "CB-1")
    answer = client.post("/jobs/j/day/photo", data=form)
    assert answer.status_code == 400
    assert "photo:2 shows something else by now; look at it again" in answer.text
    assert shown(store)[1] == ("CB-1", "unknown")


def test_a_photo_is_taken_out_and_put_back(client, store):
    answer = client.post("/jobs/j/day/photo", data={"photo": photo_of(client, 1), "what": "remove"})
    assert "removed: photo:1, 1.jpg" in hours(answer.text)["hour-20260514T09"][1]  # its own place is gone
    assert answer.url.fragment == "hour-20260514T09"
    assert [each.number for each in Book(store, "j").photos] == [2]
    assert "photo-1" not in re.findall(r'<li id="([^"]+)"', client.get("/jobs/j/day").text)
    answer = client.post("/jobs/j/day/back", data={"what": "photo:1"})
    assert answer.url.fragment == "photo-1"
    assert [each.number for each in Book(store, "j").photos] == [1, 2]


def test_no_path_of_this_machine_is_told(client, store):
    assert str(store.folder) not in client.get("/jobs/j/day?open=photo-1").text
    (store.folder / "library.db").rename(store.folder / "elsewhere.db")
    for path in ("/", "/jobs/j/day"):
        gone = client.get(path).text
        assert str(store.folder) not in gone
        assert "the library: library.db is gone or empty" in gone


# -- a note typed


def test_a_typed_note_is_kept_and_read_back(client, store):
    page = words(client.post("/jobs/j/day/say", data={"text": "Run two is in, 12 feet.", "at": "11:30"}).text)
    assert "noted at 11:30:00. R-2: state installed, length 12 ft." in page
    assert Book(store, "j").record.runs[1].length_ft == 12


@pytest.mark.parametrize(
    ("form", "why"),
    [
        ({}, "the note is empty; write what there is to say"),
        ({"text": "x", "at": "teatime"}, "teatime"),
    ],
)
def test_a_note_that_cannot_be_kept_is_one_line(client, store, form, why):
    before = len(Book(store, "j").notes)
    answer = client.post("/jobs/j/day/say", data=form)
    assert answer.status_code == 400
    assert why in words(answer.text)
    assert len(Book(store, "j").notes) == before


# -- whatever is sent


@pytest.mark.parametrize(
    ("path", "form"),
    [
        ("note", {}),
        ("note", {"note": "gone", "text": "x"}),
        ("photo", {}),
        ("photo", {"photo": "0" * 64, "what": "shows", "value": "R-1"}),
        ("back", {}),
        ("back", {"what": "../../etc"}),
    ],
)
def test_a_change_of_what_is_not_there_is_one_line(client, store, path, form):
    entries = len(store.entries("j"))
    answer = client.post(f"/jobs/j/day/{path}", data=form)
    assert answer.status_code == 400
    assert len(store.entries("j")) == entries


@pytest.mark.parametrize("name", ["x", "note-", "note-1' or 1", "note-" + "9" * 50, "<b>"])
def test_a_name_of_nothing_opens_nothing(client, name):
    answer = client.get("/jobs/j/day", params={"open": name})
    assert answer.status_code == 200
    assert "<b>" not in answer.text


@pytest.mark.parametrize("name", ["note-99", "photo-99"])
def test_a_note_or_photo_that_is_not_there_is_one_line(client, name):
    answer = client.get("/jobs/j/day", params={"open": name})
    assert answer.status_code == 400
    assert f"no {name.replace('-', ':')} in j" in answer.text


def test_words_of_a_stranger_stay_words(client, store, hearing, make_photo):
    jobs.say(store, "j", "<script>alert(1)</script> run one is 40 feet", "12:00")
    evil = make_photo('"><script>x.jpg', taken="2026:05:14 12:00:10")
    take(store, hearing, evil)
    for path in ("/jobs/j/day?open=note-4", "/jobs/j/day?open=photo-3", "/jobs/j/day?said=<script>&at="):
        assert "<script>" not in client.get(path).text.replace('<script type="module"', "")


def test_a_day_with_nothing_in_it_says_so(store):
    assert "Nothing was said or photographed yet." in Client(store.folder).get("/jobs/j/day").text


def test_a_note_whose_time_nobody_told_shows_none(store, tmp_path):
    log = tmp_path / "n.txt"
    log.write_text("Basin one is set.\nRun one is in, 34 feet.\n")
    take(store, None, log)
    html = Client(store.folder).get("/jobs/j/day").text
    assert "Basin one is set." in html
    assert "<time>" not in html
