"""Nothing without the token, nothing for another site, and the headers that every answer carries."""

import pytest
from pages import HOST, Client

from logger.page.guard import COOKIE, FORM_BYTES, HEADERS

PATHS = [
    "/",
    "/devices",
    "/jobs/j",
    "/jobs/j/questions",
    "/jobs/j/day",
    "/jobs/j/record",
    "/jobs/j/record/R-1",
    "/jobs/j/ready",
    "/jobs/j/closeout",
    "/jobs/j/report.docx",
    "/jobs/j/drawing/plan.svg",
    "/jobs/j/sound/" + "0" * 64,
    "/jobs/j/photo/" + "0" * 64,
]


@pytest.fixture
def stranger(store):
    return Client(store.folder, let_in=False)


@pytest.fixture
def client(store):
    return Client(store.folder)


@pytest.mark.parametrize("path", [*PATHS, "/nowhere"])
def test_nothing_is_shown_to_who_was_not_let_in(stranger, path):
    for answer in (stranger.get(path), stranger.post(path, data={"answer": "yes"})):
        assert answer.status_code == 401
        assert answer.text == "fallbook: not let in; open the link or scan the code that fallbook serve shows\n"


def test_a_link_lets_one_browser_in_and_the_cookie_is_kept_from_scripts(stranger):
    token = stranger.access.token()
    assert stranger.get(f"/join/{token}").status_code == 200
    answer = stranger.post(f"/join/{token}", data={"name": "x"}, follow_redirects=False)
    assert answer.status_code == 303
    cookie = answer.headers["set-cookie"].lower()
    assert cookie.startswith(f"{COOKIE}=")
    assert "httponly" in cookie
    assert "samesite=strict" in cookie
    assert stranger.get("/").status_code == 200
    assert stranger.get(f"/join/{token}").status_code == 401
    assert stranger.post(f"/join/{token}").status_code == 401


def test_looking_at_a_link_does_not_use_it_up(stranger):
    token = stranger.access.token()
    for _ in range(3):
        assert stranger.get(f"/join/{token}").status_code == 200
    assert stranger.post(f"/join/{token}").status_code == 200


@pytest.mark.parametrize("path", PATHS)
def test_every_answer_carries_the_headers(client, stranger, path):
    for answer in (client.get(path), stranger.get(path), client.post(path)):
        assert {name: answer.headers[name] for name in HEADERS if name != "Cache-Control"} == {
            name: value for name, value in HEADERS.items() if name != "Cache-Control"
        }


@pytest.mark.parametrize("origin", [None, "null", "http://evil.example", "https://" + HOST, "http://127.0.0.1:9"])
def test_a_change_asked_for_by_another_site_is_refused(client, origin):
    headers = {"origin": origin} if origin else {}
    if origin is None:
        del client.headers["origin"]
    for path in ("/jobs/j/questions", "/jobs/j/undo", "/devices/leave", "/language", "/join/x"):
        assert client.post(path, headers=headers).status_code == 403


@pytest.mark.parametrize("host", ["evil.example", "127.0.0.1:9", "127.0.0.1", ""])
def test_another_host_s_name_is_refused(client, host):
    assert client.get("/", headers={"host": host}).status_code == 421


def test_a_browser_that_was_put_out_is_out(client):
    (session,) = client.access.sessions()
    assert client.post("/devices/leave", data={"id": session.id}).status_code == 401
    assert client.get("/").status_code == 401


def test_a_form_that_is_too_large_is_refused(client):
    answer = client.post("/jobs/j/questions", content=b"answer=" + b"x" * FORM_BYTES)
    assert answer.status_code == 400
    assert "more than 64 kB in one form" in answer.text


@pytest.mark.parametrize("body", [b"\xff\xfe=\xff", b"&".join(b"a=1" for _ in range(100)), b"%zz", b"\0"])
def test_a_form_that_cannot_be_read_is_one_line(client, body):
    answer = client.post("/jobs/j/questions", content=body)
    assert answer.status_code in (200, 400)
    assert "Traceback" not in answer.text


def test_a_page_that_is_not_there_says_so(client):
    answer = client.get("/nowhere/<b>")
    assert answer.status_code == 404
    assert "there is no page /nowhere/&lt;b&gt;" in answer.text


def test_a_job_that_is_not_there_is_one_line(client):
    answer = client.get("/jobs/gone/questions")
    assert answer.status_code == 409
    assert "gone" in answer.text


def test_the_page_speaks_the_browser_s_language_or_the_one_chosen(client):
    assert "Trabajos" in client.get("/", headers={"accept-language": "es-MX,en;q=0.5"}).text
    client.post("/language", data={"language": "es"})
    assert "Trabajos" in client.get("/").text
    client.post("/language", data={"language": "xx"})
    assert "Trabajos" in client.get("/").text


@pytest.mark.parametrize(
    ("referer", "to"),
    [
        (f"http://{HOST}/jobs/j/questions?id=q1#x", "/jobs/j/questions?id=q1"),
        (f"http://{HOST}/jobs/j/record/R-1", "/jobs/j/record/R-1"),
        (f"http://{HOST}/devices", "/devices"),
        (f"http://{HOST}/", "/"),
        (f"http://{HOST}/jobs/j/undo", None),  # which only a form asks for
        (f"http://{HOST}/nowhere", None),
        (f"http://{HOST}//evil.example/jobs/j", None),
        (f"http://{HOST}/\\evil.example", None),
        (f"http://{HOST}.evil.example/jobs/j/day", None),
        (f"http://{HOST}@evil.example/jobs/j/day", None),
        (f"https://{HOST}/jobs/j/day", None),
        ("http://evil.example/jobs/j/day", None),
        ("http://[", None),
        ("javascript:alert(1)", None),
        ("", None),
    ],
)
def test_the_language_is_chosen_without_leaving_the_page(client, referer, to):
    headers = {"referer": referer} if referer else {}
    answer = client.post("/language", data={"language": "es"}, headers=headers, follow_redirects=False)
    assert answer.status_code == 303
    assert answer.headers["location"] == (to or f"http://{HOST}/")


def test_what_went_wrong_bears_its_language(client):
    client.post("/language", data={"language": "es"})
    assert '<p role="alert">no hay ninguna página /nowhere</p>' in client.get("/nowhere").text
    assert '<p role="alert" lang="en">no job &#39;gone&#39;' in client.get("/jobs/gone/questions").text


def test_both_languages_have_all_words():
    from logger.page.render import words

    assert words()["en"].keys() == words()["es"].keys()
