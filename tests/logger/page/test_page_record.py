"""The record's tables and drawings, and each thing with its words, sound, photos, and a field put right."""

import gzip
import html
import re
import sqlite3
from contextlib import closing
from datetime import date
from threading import Thread
from xml.etree import ElementTree

import pytest
from pages import Client, say, take, words

from extract import listed
from extract.record import Note
from logger import changes, drawn, jobs
from logger.ask import open_questions
from logger.book import Book
from logger.page import record
from logger.page.links import of, pieces

LOG = (
    "09:48 Basin one is set. Twelve by twelve. Invert out 98.20.",
    "09:55 Run one is in, from basin one to basin two, about 34 feet of four-inch SDR 35. It drops four inches.",
    "10:00 Benchmark elevation 100. Backsight 4.32.",
    "10:05 Hose test on run one, ten minutes, it passed.",
    "10:10 Roots in the trench on run one. Need to buy two 45s.",
    "10:15 We haven't decided on the grate.",
)


@pytest.fixture
def client(store, hearing, make_photo, make_sound):
    say(store, *LOG)
    heard = "Cover on run one is 12 inches."
    hearing.answers.append([Note(text=heard, heard=heard, confidence=0.5, start_s=0.25, end_s=0.75)])
    take(store, hearing, make_photo(taken="2026:05:14 09:55:20"), make_sound("20260514_110000.wav"))
    return Client(store.folder)


def hidden(text: str, name: str) -> str:
    return re.search(f'name="{name}" value="([^"]+)"', text)[1]


def put(client, subject: str, field: str, value: str):
    """The form of a thing's page, sent."""
    page = client.get(f"/jobs/j/record/{subject}").text
    form = {"subject": hidden(page, "subject"), "key": hidden(page, "key"), "field": field, "value": value}
    return client.post(f"/jobs/j/record/{subject}", data=form)


# -- the record


def test_every_entry_of_the_record_leads_to_its_page(client, store):
    changes.amend(store, "j", "changes", "run one goes around the maple")
    changes.amend(store, "j", "points", "garage corner 42.5 from meter post")
    changes.amend(store, "j", "purchases", "3 drain grates")
    page, lists = client.get("/jobs/j/record").text, [kind for kind in listed.LISTS if kind != "acceptance"]
    for subject in ("CB-1", "CB-2", "R-1", *(f"{kind}:1" for kind in lists)):
        assert f'href="/jobs/j/record/{subject}"' in page
        assert client.get(f"/jobs/j/record/{subject}").status_code == 200


def test_what_an_entry_rests_on_leads_to_the_note(client):
    """Catch basin 1 rests on the note that tells of it and on the one that names it as an end of run 1."""
    basin = 'notes <a href="/jobs/j/day#note-0">0</a>, <a href="/jobs/j/day#note-1">1</a></td>'
    assert basin in client.get("/jobs/j/record").text


def test_a_job_with_nothing_in_it_has_an_empty_record(store):
    answer = Client(store.folder).get("/jobs/j/record")
    assert answer.status_code == 200
    assert "Structures: 0" in answer.text
    assert "<img" not in answer.text


# -- the drawings


def test_the_drawings_stand_in_the_record(client):
    page = client.get("/jobs/j/record").text
    addresses = re.findall(r'<img class="sheet" src="([^"]+)" alt="([^"]+)"', page)
    assert [address for address, _ in addresses] == ["/jobs/j/drawing/plan.svg", "/jobs/j/drawing/profile.svg"]
    assert all("R-1" in alt for _, alt in addresses)
    for address, _ in addresses:
        answer = client.get(address)
        assert answer.headers["content-type"] == "image/svg+xml"
        assert ElementTree.fromstring(answer.text).tag.endswith("svg")


def test_a_drawing_is_opened_large_and_alone(client):
    page = client.get("/jobs/j/record").text
    assert re.findall(r'href="(/jobs/j/drawing/[^"]+)"', page) == ["/jobs/j/drawing/plan", "/jobs/j/drawing/profile"]
    alone = client.get("/jobs/j/drawing/profile").text
    assert re.findall(r'<img class="sheet" src="([^"]+)"', alone) == ["/jobs/j/drawing/profile.svg"]
    assert 'href="/jobs/j/record#profile">Back to: Record</a>' in alone
    assert 'id="profile"' in page
    assert "Elevations are on the job's own datum" in words(alone) or "relative" in words(alone)
    assert "†1 Run R-1" in words(alone)


def test_a_drawing_is_sent_small_to_whoever_can_unpack_it(client):
    plain = client.get("/jobs/j/drawing/plan.svg", headers={"accept-encoding": "identity"})
    assert "content-encoding" not in plain.headers
    with client.stream("GET", "/jobs/j/drawing/plan.svg", headers={"accept-encoding": "gzip"}) as packed:
        raw = b"".join(packed.iter_raw())
    assert gzip.decompress(raw) == plain.content
    assert len(raw) < 20_000


@pytest.mark.parametrize("name", ["plan.png", "x.svg", "profile-9.svg", "..%2Fplan.svg", "profile-9", "x"])
def test_a_drawing_that_is_not_there_is_one_line(client, name):
    answer = client.get(f"/jobs/j/drawing/{name}")
    assert answer.status_code in (404, 409)
    assert "Traceback" not in answer.text


def test_the_signs_of_a_drawing_are_explained(client):
    assert "†1 Run R-1 , length: being confirmed" in words(client.get("/jobs/j/record").text)


def test_drawings_are_kept_until_something_changes(client, store, monkeypatch):
    import reports.drawings

    drawn_, draw = [], reports.drawings.draw
    monkeypatch.setattr(reports.drawings, "draw", lambda facts: drawn_.append(1) or draw(facts))
    first = drawn.drawings(Book(store, "j"))
    assert drawn.drawings(Book(store, "j")) == first
    assert len(drawn_) == 1
    changes.amend(store, "j", "R-1", "length", "40 ft")
    assert drawn.drawings(Book(store, "j")) != first
    assert len(drawn_) == 2


def test_drawings_that_are_kept_wait_for_no_report(client):
    client.get("/jobs/j/record")
    got = []
    with record.ONE_DRAWS:  # as a report holds it while it is made
        asking = Thread(target=lambda: got.append(client.get("/jobs/j/record").status_code))
        asking.start()
        asking.join(10)
        assert got == [200]


# -- a thing


def test_each_figure_leads_to_its_words_its_sound_and_its_photo(client):
    page = client.get("/jobs/j/record/R-1").text
    assert '<a href="/jobs/j/day#note-1">note:1</a>, 09:55:00' in page
    (address,) = set(re.findall(r'href="([^"]+)" data-play', page))
    assert client.get(html.unescape(address)).headers["content-type"] == "audio/wav"
    assert re.search(r"Cover on run one is 12 inches. \(confidence 0\.[45]\d\)", words(page))
    assert re.search(r'<img src="/jobs/j/photo/[0-9a-f]{64}" loading="lazy" alt="photo 1, R-1">', page)


def test_a_question_about_a_thing_leads_to_where_it_is_answered(client, store):
    asked = next(each for each in open_questions(Book(store, "j")) if each.subject == "R-1")
    assert f'href="/jobs/j/questions?id={asked.id}"' in client.get("/jobs/j/record/R-1").text


def test_a_field_is_put_right_in_plain_words(client, store):
    answer = put(client, "R-1", "length", "34 8")
    assert "R-1 length is now 34 ft 8 in (was 34 ft)" in words(answer.text.partition('id="put-right"')[2])
    assert "<option selected>length</option>" in answer.text
    assert Book(store, "j").record.runs[0].length_ft == pytest.approx(34.6667)


def test_no_field_is_chosen_before_a_person_chooses_one(client):
    page = client.get("/jobs/j/record/R-1").text
    chosen = re.findall(r"<option[^>]* selected>([^<]*)</option>", page)
    assert chosen == ["Choose"]
    assert re.search(r'<select id="field-1" name="field" lang="en" required>', page)


def test_what_was_just_put_right_is_taken_back_where_it_was_done(client, store):
    answer = put(client, "R-1", "length", "34 8")
    form = {"last": hidden(answer.text, "last"), "at": "R-1", "to": "record"}
    back = client.post("/jobs/j/undo", data=form)
    assert back.url.path == "/jobs/j/record/R-1"
    assert "taken back: R-1 length" in words(back.text)
    assert 'name="last"' not in back.text
    assert Book(store, "j").record.runs[0].length_ft == 34


def test_what_is_taken_back_leads_to_no_page_that_is_not_there(client):
    last = hidden(put(client, "R-1", "length", "34 8").text, "last")
    answer = client.post("/jobs/j/undo", data={"last": last, "at": "../../x", "to": "record"})
    assert answer.status_code == 404


def test_an_entry_of_a_list_is_put_right_too(client, store):
    assert "test 1" in put(client, "test:1", "duration", "12 minutes").text
    assert Book(store, "j").record.tests[0].duration_s == 720


def test_every_reading_of_a_point_has_its_form(client, store):
    say(store, "10:30 Foresight on the benchmark 4.33.")
    page = client.get("/jobs/j/record/benchmark").text
    assert re.findall(r'name="subject" value="([^"]+)"', page) == ["level:1", "level:2"]


def test_what_makes_no_sense_is_refused_beside_what_was_typed(client, store):
    answer = put(client, "R-1", "slope", "purple <b>")
    assert answer.status_code == 400
    assert "R-1 slope cannot be purple" in words(answer.text.partition('id="put-right"')[2])
    assert 'value="purple &lt;b&gt;"' in answer.text
    assert "<option selected>slope</option>" in answer.text
    assert Book(store, "j").record.runs[0].slope_pct is None


def test_a_thing_that_changed_meanwhile_is_looked_at_again(client, store):
    page = client.get("/jobs/j/record/R-1").text
    form = {"subject": "R-1", "key": hidden(page, "key"), "field": "length", "value": "40"}
    changes.amend(store, "j", "R-1", "length", "35 ft")
    answer = client.post("/jobs/j/record/R-1", data=form)
    assert answer.status_code == 409
    assert "R-1 has changed meanwhile; look at it and enter it again" in words(answer.text)
    assert Book(store, "j").record.runs[0].length_ft == 35


def test_nobody_else_writes_between_the_look_and_the_change(client, store, monkeypatch):
    busy, amend = [], changes.amend

    def tried(*given):
        try:
            with closing(sqlite3.connect(store.folder / "library.db", timeout=0)) as other:
                other.execute("BEGIN IMMEDIATE")
            busy.append(False)
        except sqlite3.OperationalError:
            busy.append(True)
        return amend(*given)

    monkeypatch.setattr(changes, "amend", tried)
    put(client, "R-1", "length", "34 8")
    note = hidden(client.get("/jobs/j/day?open=note-0").text, "note")
    client.post("/jobs/j/day/note", data={"note": note, "text": "Basin one is set."})
    assert busy == [True, True]
    assert Book(store, "j").notes[0].text == "Basin one is set."


@pytest.mark.parametrize("form", [{}, {"subject": "R-1"}, {"subject": "R-9", "key": "x"}, {"subject": "job"}])
def test_a_form_of_nothing_is_one_line(client, store, form):
    entries = len(store.entries("j"))
    assert client.post("/jobs/j/record/R-1", data=form).status_code in (400, 409)
    assert len(store.entries("j")) == entries


@pytest.mark.parametrize("subject", ["R-9", "test:9", "x" * 300, "<b>", "%00", "..%2F..%2Fetc", "file:a.jpg", "job"])
def test_a_thing_that_is_not_there_is_one_line(client, subject):
    answer = client.get(f"/jobs/j/record/{subject}")
    assert answer.status_code in (400, 404)
    assert "<b>" not in answer.text


@pytest.mark.parametrize("subject", ["run one", "CB-1", "benchmark", "the benchmark", "level:1"])
def test_any_name_that_amend_takes_leads_to_its_thing(client, subject):
    assert client.get(f"/jobs/j/record/{subject}").status_code == 200


@pytest.mark.parametrize("subject", ["note:1", "Photo:1"])
def test_a_note_or_photo_is_looked_at_in_the_day(client, subject):
    answer = client.get(f"/jobs/j/record/{subject}", follow_redirects=False)
    assert (answer.status_code, answer.headers["location"]) == (303, f"/jobs/j/day#{subject.lower().replace(':', '-')}")


# -- names as links


def test_names_in_words_lead_to_what_they_name():
    text = "taken 9 s after note 24 about R-5; see note:3, photo:12, notes 1, 14 and R-6 or SDR-35"
    found = [each for each in pieces(text, "j", ["R-5"]) if each[1]]
    assert found == [
        ("24", "/jobs/j/day#note-24"),
        ("R-5", "/jobs/j/record/R-5"),
        ("note:3", "/jobs/j/day#note-3"),
        ("photo:12", "/jobs/j/day#photo-12"),
        ("1", "/jobs/j/day#note-1"),
        ("14", "/jobs/j/day#note-14"),
    ]
    assert "".join(words for words, _ in pieces(text, "j", ["R-5"])) == text


@pytest.mark.parametrize(
    ("subject", "address"),
    [
        ("", ""),
        ("note:3", "/jobs/j/day#note-3"),
        ("question:3fb20c", "/jobs/j/questions?id=3fb20c"),
        ("test:1", "/jobs/j/record/test:1"),
        ("R-2", "/jobs/j/record/R-2"),
    ],
)
def test_a_row_leads_to_what_it_is_of(subject, address):
    assert of("j", subject) == address


def test_a_visit_is_looked_at_and_changed_on_the_page_again_and_again(store):
    say(store, "10:00 Run one is in, 34 feet of four inch SDR 35, from basin one to basin two.")
    jobs.new(store, "back", callback_of="j", day=date(2026, 9, 1))
    client = Client(store.folder)
    for number in range(3):
        jobs.say(store, "back", f"Run two is {20 + number} feet.", f"09:0{number}")
        for view in ("record", "day", "questions", "closeout", "ready"):
            for _ in range(2):
                answer = client.get(f"/jobs/back/{view}")
                assert answer.status_code == 200, (number, view, answer.text)
