"""Ready?, and close-out: what is open leads to where it is settled, and the report comes down whole."""

import io
import re

import pytest
from docx import Document
from pages import Client, say, take, words

from logger import accept, changes, jobs
from logger.ask import open_questions
from logger.book import Book
from logger.page import closeout
from logger.ready import ready

LOG = (
    "09:00 Basin one is set. Basin two is set.",
    "09:05 Run one is laid, from basin one to basin two. Four-inch SDR 35, 12 feet long.",
    "09:06 Run one is 15 feet long. Drop on run one is 3 inches, slope is 5 percent.",
    "09:10 Run two is in, from basin two to the pop-up.",
    "09:15 Run three is going to go from the downspout to basin one.",
)


@pytest.fixture
def client(store):
    say(store, *LOG)
    return Client(store.folder)


def links(html: str) -> dict[str, str]:
    return {text: address for address, text in re.findall(r'<a class="to" href="([^"]+)">([^<]+)</a>', html)}


# -- Ready?


def test_each_run_has_its_answer(client, store):
    page = words(client.get("/jobs/j/ready").text)
    for answer in ready(store, "j").runs:
        assert f"{answer.name} {answer.verdict[:1].upper()}{answer.verdict[1:]}" in page
        assert all(each in page for each in (*answer.missing, *answer.questions, *answer.fails, *answer.accepted))
    assert "Run 3 Nothing to cover, for it is planned" in page


def test_what_was_asked_leads_to_its_question(client, store):
    found = links(client.get("/jobs/j/ready").text)
    ids = {(each.subject, each.field): each.id for each in open_questions(Book(store, "j"))}
    assert found["its length"] == f"/jobs/j/questions?id={ids['R-2', 'length_ft']}"
    assert found["its length (12 ft or 15 ft)"] == f"/jobs/j/questions?id={ids['R-1', 'length_ft']}"
    for address in found.values():
        assert client.get(address).status_code == 200


def test_nothing_is_called_safe_or_right(client):
    page = words(client.get("/jobs/j/ready").text)
    caution = "It does not say that the work is right or a trench safe"
    assert caution in page
    assert not re.search(r"\bsafe\b|\bcorrect\b", page.replace(caution, ""), re.I)


def test_an_accepted_check_stands_with_its_sentence(client, store):
    (failing,) = [each for each in Book(store, "j").findings if each.outcome == "fail" and each.subject == "R-1"]
    accept.accept(store, "j", f"R-1 {failing.check}", "Agreed with the <b>owner</b>.")
    page = client.get("/jobs/j/ready").text
    assert "Checks that fail and were accepted" in page
    assert "(“Agreed with the &lt;b&gt;owner&lt;/b&gt;.”)" in page


def test_each_run_has_its_answer_in_the_page_s_language(client, store):
    client.post("/language", data={"language": "es"})
    html = client.get("/jobs/j/ready").text
    page, found = words(html), links(html)
    for answer in ready(store, "j", "es").runs:
        assert f"{answer.name} {answer.verdict[:1].upper()}{answer.verdict[1:]}" in page
        assert all(each in page for each in (*answer.missing, *answer.questions, *answer.fails, *answer.accepted))
    ids = {(each.subject, each.field): each.id for each in open_questions(Book(store, "j"))}
    assert found["su largo"] == f"/jobs/j/questions?id={ids['R-2', 'length_ft']}"
    assert "Tramo 3 No hay nada que tapar" in page
    assert 'lang="en"' not in html.split("<main", 1)[1].split("</main>")[0]
    assert not re.search(r"\b(missing|run|catch basin|photo|length)\b", page, re.I)


def test_a_job_with_no_run_says_so(store):
    assert "No run is in the book yet." in Client(store.folder).get("/jobs/j/ready").text


def test_a_recording_not_heard_yet_is_named(client, store, hearing, make_sound):
    hearing.answers.append(KeyboardInterrupt())
    with pytest.raises(KeyboardInterrupt):
        take(store, hearing, make_sound("late.wav"))
    for view in ("ready", "closeout"):
        assert "late.wav" in client.get(f"/jobs/j/{view}").text


# -- close-out


def test_what_is_open_leads_to_where_it_is_settled(client, store, hearing, make_photo):
    take(store, hearing, make_photo(taken="2026:05:14 15:00:00"))
    html = client.get("/jobs/j/closeout").text
    found, book = links(html), Book(store, "j")
    for asked in open_questions(book):
        assert found[asked.text] == f"/jobs/j/questions?id={asked.id}"
    photo = "photo:1, taken 15:00:00; nothing about the work was said within 10 min of it"
    assert found[photo] == "/jobs/j/day?open=photo-1#photo-1"
    failing = [each.message for each in book.findings if each.outcome == "fail"]
    assert failing
    assert all(found[message] == "/jobs/j/questions#failed" for message in failing)


def test_what_is_settled_stands_in_the_way_no_more(client, store, hearing, make_photo):
    take(store, hearing, make_photo(taken="2026:05:14 15:00:00"))
    changes.amend(store, "j", "photo:1", "shows", "none")
    for each in [each for each in Book(store, "j").findings if each.outcome == "fail"]:
        accept.accept(store, "j", f"{each.subject} {each.check}".replace("_", " "), "Agreed with the owner.")
    page = words(client.get("/jobs/j/closeout").text)
    assert "Photos that no note tells of" not in page
    assert "Checks that fail" not in page


def test_a_photo_that_no_note_tells_of_is_shown_and_stands_in_nobody_s_way(store, hearing, make_photo):
    take(store, hearing, make_photo(taken="2026:05:14 15:00:00"))
    page = words(Client(store.folder).get("/jobs/j/closeout").text)
    assert "Nothing is open." in page
    assert "Photos that no note tells of" in page


def test_nothing_open_is_said(store):
    assert "Nothing is open." in Client(store.folder).get("/jobs/j/closeout").text


def test_a_file_that_is_amiss_is_told(client, store, tmp_path):
    log = tmp_path / "n.txt"
    log.write_text("[10:00] Basin three is set.\n")
    take(store, None, log)
    (original,) = (path for path in (store.folder / "originals").rglob("*") if path.is_file())
    original.chmod(0o600)
    original.unlink()
    assert "n.txt: " in words(client.get("/jobs/j/closeout").text)


def test_the_report_comes_down_whole_and_leaves_nothing_behind(client, store, tmp_path, monkeypatch):
    cache = tmp_path / "cache"
    cache.mkdir()
    monkeypatch.setattr(closeout, "user_cache_path", lambda name, ensure_exists: cache)
    for query, name, said in (
        ("", "report", "Not settled yet"),
        ("?for=record", "record", "What was built"),
        ("?for=locate", "locate", "Where the drain lies"),
        ("?language=es", "report-es", "Lo que falta aclarar"),
        ("?for=locate&language=es", "locate-es", "Dónde está el drenaje"),
    ):
        answer = client.get(f"/jobs/j/report.docx{query}")
        assert answer.status_code == 200
        assert answer.headers["content-disposition"] == f'attachment; filename="j-{name}.docx"'
        assert said in "\n".join(each.text for each in Document(io.BytesIO(answer.content)).paragraphs)
        assert list(cache.iterdir()) == []


def test_the_client_s_copy_is_a_draft_until_all_is_settled(client, store):
    assert "A draft of the client's copy" in words(client.get("/jobs/j/closeout").text)
    for each in [each for each in Book(store, "j").findings if each.outcome == "fail"]:
        accept.accept(store, "j", f"{each.subject} {each.check}".replace("_", " "), "Agreed with the owner.")
    for asked in open_questions(Book(store, "j")):
        figure = "installed" if asked.field == "state" else "20 feet"
        client.post("/jobs/j/questions", data={"id": asked.id, "answer": "yes" if asked.stands else figure})
    page = words(client.get("/jobs/j/closeout").text)
    assert [each.text for each in open_questions(Book(store, "j"))] == []
    assert "A draft" not in page
    assert "The client's copy" in page
    assert page.count("“Agreed with the owner.”") == len(Book(store, "j").record.acceptances) > 0


def test_a_report_that_cannot_be_made_is_one_line(client, monkeypatch):
    def full(*_: object, **__: object) -> None:
        raise OSError(28, "No space left on device", "report.docx")

    monkeypatch.setattr(jobs, "report", full)
    answer = client.get("/jobs/j/report.docx")
    assert answer.status_code == 507
    assert "The laptop's disk is full; nothing was lost. Make room on it and try again." in words(answer.text)


@pytest.mark.parametrize("path", ["ready", "closeout", "report.docx", "day", "record", "drawing/plan.svg"])
def test_a_job_that_is_not_there_is_one_line(client, path):
    answer = client.get(f"/jobs/gone/{path}")
    assert answer.status_code == 409
    assert "gone" in answer.text


def test_the_other_language_is_offered_as_well(client):
    html = client.get("/jobs/j/closeout").text
    for query in ("language=es", "for=locate&amp;language=es"):
        assert f'href="/jobs/j/report.docx?{query}"' in html
    assert "In Spanish:" in html
