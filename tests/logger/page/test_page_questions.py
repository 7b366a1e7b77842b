"""Each question on a page of its own, answered with one tap and taken back with another."""

import re
from html import unescape

import pytest
from pages import SAID, Client, take, words

from logger import changes, jobs
from logger.ask import open_questions
from logger.book import Book


@pytest.fixture
def client(store):
    for text in SAID:
        jobs.say(store, "j", text)
    return Client(store.folder)


def asked(store):
    return open_questions(Book(store, "j"))


def test_the_most_costly_question_comes_first_with_what_was_heard(client, store):
    first = asked(store)[0]
    page = words(client.get("/jobs/j").text)
    assert first.text in page
    assert f"{len(asked(store))} questions left" in page
    assert len(asked(store)) > 1
    assert all(heard.words in page for heard in first.heard)


def test_a_recording_that_is_not_heard_yet_is_named_where_questions_are_counted(client, store, hearing, make_sound):
    assert "Not heard yet" not in client.get("/jobs/j/questions").text
    hearing.missing = True
    take(store, hearing, make_sound("20260514_110000.wav"))
    assert "Not heard yet: 20260514_110000.wav" in words(client.get("/jobs/j/questions").text)


def test_one_tap_settles_and_one_undoes(client, store):
    before = [each.id for each in asked(store)]
    first = next(each for each in asked(store) if each.stands)
    page = client.post("/jobs/j/questions", data={"id": first.id, "answer": "yes"}).text
    assert first.id not in [each.id for each in asked(store)]
    assert re.search(r"role=.status. class=.said. lang=.en.>[^<]+ is ", page)
    client.post("/jobs/j/undo", data={"last": last_of(page)})
    assert [each.id for each in asked(store)] == before


def test_a_page_that_puts_the_answer_in_place_gets_the_next_question_at_once(client, store):
    first = next(each for each in asked(store) if each.stands)
    answer = client.post(
        "/jobs/j/questions", data={"id": first.id, "answer": "yes"}, headers={"X-In-Place": "1"}, follow_redirects=False
    )
    assert answer.status_code == 200
    assert asked(store)[0].text in words(answer.text)
    assert words(client.get(answer.headers["Content-Location"]).text) == words(answer.text)


def test_after_an_answer_the_job_is_held_as_the_answer_left_it(client, store):
    client.get("/jobs/j/questions")
    first = next(each for each in asked(store) if each.stands)
    client.post("/jobs/j/questions", data={"id": first.id, "answer": "yes"}, headers={"X-In-Place": "1"})
    held = client.app.app.state.books["j"]
    assert held.state == store.state("j")
    assert "record" in vars(held)


def last_of(page: str) -> str:
    """What the page would take back."""
    return re.search(r'name="last" value="([^"]*)"', page)[1]


def test_a_double_tap_takes_back_one_change(client, store):
    changes.amend(store, "j", "R-1", "length", "41 ft")
    changes.amend(store, "j", "R-2", "length", "31 ft")
    last = last_of(client.get("/jobs/j/questions?said=done").text)
    assert client.post("/jobs/j/undo", data={"last": last}).status_code == 200
    answer = client.post("/jobs/j/undo", data={"last": last})
    assert answer.status_code == 400
    assert "something else was changed or taken back meanwhile" in words(answer.text)
    assert [each.length_ft for each in Book(store, "j").record.runs] == [41, 30]


def test_what_another_changed_meanwhile_is_not_taken_back(client, store):
    changes.amend(store, "j", "R-1", "length", "41 ft")
    last = last_of(client.get("/jobs/j/questions?said=done").text)
    changes.amend(store, "j", "R-2", "length", "31 ft")
    assert client.post("/jobs/j/undo", data={"last": last}).status_code == 400
    assert [each.length_ft for each in Book(store, "j").record.runs] == [41, 31]


def test_a_figure_in_plain_words_is_taken(client, store):
    first = next(each for each in asked(store) if each.field == "length_ft")
    client.post("/jobs/j/questions", data={"id": first.id, "answer": "41 6"})
    assert Book(store, "j").record.subject(first.subject).length_ft == 41.5


def test_what_makes_no_sense_is_refused_on_the_same_page(client, store):
    first = next(each for each in asked(store) if each.field == "length_ft")
    answer = client.post("/jobs/j/questions", data={"id": first.id, "answer": "purple <b>"})
    assert answer.status_code == 400
    assert first.text in words(answer.text)
    assert "<b>" not in answer.text
    assert 'value="purple &lt;b&gt;"' in answer.text  # what was typed is not lost
    assert first.id in [each.id for each in asked(store)]


def test_a_question_left_open_makes_room_for_the_next(client, store):
    first, second = asked(store)[:2]
    page = words(client.post("/jobs/j/questions", data={"id": first.id, "answer": "skip", "passed": ""}).text)
    assert second.text in page
    assert first.id in [each.id for each in asked(store)]


def test_two_people_who_settle_the_same_question_do_no_harm(client, store):
    first = next(each for each in asked(store) if each.stands)
    other = Client(store.folder)
    client.post("/jobs/j/questions", data={"id": first.id, "answer": "yes"})
    page = words(other.post("/jobs/j/questions", data={"id": first.id, "answer": "99 ft"}).text)
    assert "that was answered meanwhile" in page
    assert Book(store, "j").record.subject("R-1").length_ft != 99


@pytest.mark.parametrize("form", [{}, {"id": "gone"}, {"id": "gone", "answer": "yes"}, {"answer": "x" * 5000}])
def test_an_answer_to_nothing_is_one_line(client, form):
    assert client.post("/jobs/j/questions", data=form).status_code == 200


def test_nothing_to_take_back_is_said(client):
    answer = client.post("/jobs/j/undo")
    assert answer.status_code == 400
    assert "there is no answer to take back" in answer.text


def test_a_failed_check_is_accepted_with_a_sentence(client, store):
    page = client.get("/jobs/j/questions").text
    what, message = (hidden(page, name) for name in ("what", "message"))
    client.post("/jobs/j/accept", data={"what": what, "message": message, "words": "Agreed with the owner."})
    assert [each.text for each in Book(store, "j").record.acceptances] == ["Agreed with the owner."]
    assert f'value="{what}"' not in client.get("/jobs/j/questions").text


def hidden(page: str, name: str) -> str:
    return unescape(re.search(rf'name="{name}" value="([^"]+)"', page)[1])


def test_a_check_that_reads_otherwise_by_now_is_not_accepted(client, store):
    page = client.get("/jobs/j/questions").text
    form = {name: hidden(page, name) for name in ("what", "message")}
    changes.amend(store, "j", "R-2", "drop", "half an inch")
    answer = client.post("/jobs/j/accept", data={**form, "words": "Agreed with the owner."})
    assert answer.status_code == 409
    assert "that check reads otherwise by now; look at it again" in answer.text
    assert Book(store, "j").record.acceptances == []


def test_a_question_that_is_open_no_more_makes_room_for_the_next(client, store):
    page = words(client.get("/jobs/j/questions?id=gone").text)
    assert asked(store)[0].text in page
    assert "that was answered meanwhile" in page


def test_words_of_a_stranger_are_escaped(client, store):
    jobs.say(store, "j", "<script>alert(1)</script> run one is about fifty feet")
    assert "<script>alert" not in client.get("/jobs/j/questions").text
    assert "<script>alert" not in client.get("/?q=alert").text


def test_a_question_is_asked_in_spanish(client, store):
    first = next(each for each in asked(store) if each.field == "length_ft")
    client.post("/language", data={"language": "es"})
    page = words(client.get(f"/jobs/j/questions?id={first.id}").text)
    assert "¿Cuánto mide de largo el tramo 1?" in page
    assert "quien lo dijo no estaba seguro" in page


def test_what_the_book_says_in_english_bears_its_language(client, store):
    client.post("/language", data={"language": "es"})
    first = next(each for each in asked(store) if each.stands)
    page = client.get(f"/jobs/j/questions?id={first.id}").text
    assert f'<strong lang="en">{first.stands}</strong>' in page
    assert f'<span lang="en">{first.stands}</span> <small>Está bien</small>' in page
    assert '<section class="failed">\n<p lang="en">' in page
    assert '<p role="status" class="said" lang="en">' in page
