"""The talk page and its news: each note once, as it was heard, and again when more is known of it."""

import pytest
from pages import Client, words

from logger import jobs
from logger.book import Book
from logger.changes import amend, remove
from logger.page.feed import FIRST, key
from logger.read_back import Told


@pytest.fixture
def client(store):
    return Client(store.folder)


class StandIn:
    """In place of the process that hears."""

    def __init__(self):
        self.asked = []
        self.ask = self.asked.append


def since(client, news=None):
    query = {"feed": news["feed"], "note": news["note"]} if news else {}
    return client.get("/jobs/j/since", params=query).json()


def said(news):
    return [note.get("words", "gone") for note in news["notes"]]


def test_a_page_is_given_the_last_notes_and_then_what_is_new(client, store):
    for number in range(FIRST + 5):
        jobs.say(store, "j", f"Note {number}.", f"8:{number:02d}")
    news = since(client)
    assert said(news) == [f"Note {number}." for number in range(5, FIRST + 5)]
    assert said(since(client, news)) == []
    jobs.say(store, "j", "One more.", "9:30")
    more = since(client, news)
    assert said(more) == ["One more."]
    assert said(since(client, more)) == []
    assert said(since(client, news)) == ["One more."]


def test_the_count_of_another_program_s_run_begins_anew(client, store):
    jobs.say(store, "j", "Basin one is set.")
    assert said(since(client, {"feed": "another", "note": 900})) == ["Basin one is set."]


@pytest.mark.parametrize("number", ["-1", "x", "9" * 30, ""])
def test_a_number_that_is_none_gives_the_last_notes(client, store, number):
    jobs.say(store, "j", "Basin one is set.")
    assert said(client.get("/jobs/j/since", params={"note": number}).json()) == ["Basin one is set."]


def test_a_note_comes_again_when_it_is_understood(store):
    client = Client(store.folder, hearing_worker=(hearing_worker := StandIn()))
    jobs.say(store, "j", "Run two is thirty four feet long.")
    news = since(client)
    (first,) = news["notes"]
    assert not first["read"]
    (line,) = Book(store, "j").lines
    hearing_worker.answer({"job": "j", "told": {key(line): Told("R-2: length 34 ft.", "run 2", answers=False).shape}})
    (again,) = since(client, news)["notes"]
    assert again == first | {"read": True, "understood": "R-2: length 34 ft.", "aloud": "run 2"}


def test_an_answer_comes_with_its_language_for_the_voice_that_reads_it(client, store):
    jobs.say(store, "j", "Run two is in, thirty four feet long.", "8:00")
    for asked in ("How long is run two?", "¿Cuánto mide el tramo dos?"):
        client.post("/jobs/j/talk", data={"words": asked})
    told = [(each["language"], each["aloud"]) for each in since(client)["notes"] if each["answers"]]
    assert sorted(told) == [("en", "Run 2: length 34 feet."), ("es", "Tramo 2: largo 34 pies.")]
    page = client.get("/jobs/j/talk").text
    assert '<p class="told" lang="es">Tramo 2: largo 34 pies.</p>' in page
    assert '<p class="told" lang="en">Run 2: length 34 ft.</p>' in page


def test_what_went_wrong_with_hearing_is_told_until_it_goes_on(store):
    client = Client(store.folder, hearing_worker=(hearing_worker := StandIn()))
    hearing_worker.answer({"job": "j", "trouble": "hearing stopped"})
    assert since(client)["trouble"] == "hearing stopped"
    hearing_worker.answer({"job": "j", "began": True})
    assert since(client)["trouble"] == ""


def test_whoever_opens_the_page_has_what_waits_heard(store):
    client = Client(store.folder, hearing_worker=(hearing_worker := StandIn()))
    client.get("/jobs/j/talk")
    client.post("/jobs/j/talk", data={"words": "Basin one is set."})
    assert hearing_worker.asked[:2] == ["j", "j"]


def test_a_note_put_right_comes_again_and_one_taken_out_goes(client, store):
    jobs.say(store, "j", "Basin one is sad.")
    news = since(client)
    amend(store, "j", "note:0", "text", "Basin one is set.")
    fixed = since(client, news)
    assert said(fixed) == ["Basin one is set."]
    remove(store, "j", "note:0")
    (gone,) = since(client, fixed)["notes"]
    assert gone["gone"]
    assert said(since(client)) == []


def test_a_note_of_an_earlier_time_is_news_too(client, store):
    jobs.say(store, "j", "Later.", "10:00")
    news = since(client)
    jobs.say(store, "j", "Earlier.", "9:00")
    (note,) = since(client, news)["notes"]
    assert note["place"] < news["notes"][0]["place"]


def test_a_job_that_is_not_there_is_one_line(client):
    answer = client.get("/jobs/gone/since")
    assert (answer.status_code, "gone" in answer.json()["error"]) == (409, True)
    assert client.get("/jobs/gone/talk").status_code == 409


def test_the_page_shows_the_newest_note_first_and_escapes_it(client, store):
    jobs.say(store, "j", "First <b>.", "9:00")
    jobs.say(store, "j", "Second.", "10:00")
    page = client.get("/jobs/j/talk").text
    assert "<b>" not in page
    assert words(page).index("Second.") < words(page).index("First <b>.")


def test_the_page_s_own_words_come_in_its_language(client):
    client.post("/language", data={"language": "es"})
    page = client.get("/jobs/j/talk").text
    assert "Empezar a hablar" in page
    assert "Start talking" not in page


def test_both_languages_have_the_same_words_for_scripts(client):
    from logger.page.render import words as every

    names = [{name for name in every()[each] if name.startswith("talk_")} for each in ("en", "es")]
    assert names[0] == names[1] != set()
