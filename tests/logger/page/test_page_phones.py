"""Links as codes for phones: made on the laptop alone, good once, withdrawn; what the page says of the certificate."""

import re
from datetime import UTC, datetime
from pathlib import Path

import pytest
import segno
from pages import Client, words

from logger.page.access import MOST_SESSIONS, WRONG_MOST
from logger.page.certificate import Certificate
from logger.page.devices import svg
from logger.page.lan import Outside

PRINT = ":".join(f"{n:02X}" for n in range(32))
HTTPS = Outside("192.168.1.20:8440", Certificate(Path("page.pem"), PRINT, datetime(2026, 6, 1, tzinfo=UTC)))
HTTP = Outside("192.168.1.20:8440", None)
ADDRESS = re.compile(r"(https?://192\.168\.1\.20:8440)(/join/[\w-]{32}\?job=j)")


@pytest.fixture
def laptop(store):
    return Client(store.folder, outside=HTTPS, job="j")


def phone_of(laptop, store, *, let_in=True):
    return Client(
        store.folder, access=laptop.access, outside=HTTPS, job="j", origin=f"https://{HTTPS.host}", let_in=let_in
    )


def linked(laptop):
    """The page that the button leads to, and the link on it."""
    answer = laptop.post("/devices/link")
    assert answer.status_code == 200
    return answer.text, ADDRESS.search(answer.text)


def test_a_button_makes_a_link_and_shows_it_as_a_code(laptop):
    html, found = linked(laptop)
    assert found[1] == "https://192.168.1.20:8440"
    assert svg(found[0]) in html
    assert "within 10 minutes" in html


def test_the_code_holds_the_link_and_no_style_of_its_own():
    address = HTTPS.link("t" * 32, "j")
    drawn = svg(address)
    assert not re.search(r"style|script|xlink|url\(", drawn)
    code = segno.make_qr(address, error="m")
    width = len(code.matrix[0]) + 8
    assert f'viewBox="0 0 {width} {width}"' in drawn
    assert 'fill="#fff"' in drawn


def test_a_phone_enters_by_the_link_once(laptop, store):
    _, found = linked(laptop)
    phone = phone_of(laptop, store, let_in=False)
    assert phone.get(found[2]).status_code == 200
    answer = phone.post(found[2].partition("?")[0], data={"name": "Dora's phone", "job": "j"}, follow_redirects=False)
    assert answer.headers["location"] == "https://192.168.1.20:8440/jobs/j"
    cookie = answer.headers["set-cookie"]
    assert cookie.startswith("__Host-fallbook=")
    assert "Secure" in cookie
    assert "Path=/" in cookie
    assert "Domain" not in cookie
    assert phone.get("/").status_code == 200
    assert "Dora's phone" in words(laptop.get("/devices").text)
    assert phone_of(laptop, store, let_in=False).get(found[2]).status_code == 401


def test_the_page_tells_of_a_code_that_was_used(laptop, store):
    _, found = linked(laptop)
    token = found[2].split("/")[-1].partition("?")[0]
    assert laptop.get(f"/devices/link/{token}").status_code == 200
    phone_of(laptop, store, let_in=False).post(f"/join/{token}")
    answer = laptop.get(f"/devices/link/{token}")
    assert answer.status_code == 410
    assert "<svg" not in answer.text


def test_links_that_wait_are_counted_and_withdrawn(laptop, store):
    assert "Withdraw" not in laptop.get("/devices").text
    links = [linked(laptop)[1] for _ in range(2)]
    assert "2 links wait to be used, the last until" in words(laptop.get("/devices").text)
    page = words(laptop.post("/devices/links/withdraw").text)
    assert "wait" not in page
    stranger = phone_of(laptop, store, let_in=False)
    assert [stranger.get(each[2]).status_code for each in links] == [401, 401]


def test_a_phone_makes_no_link_sees_none_and_puts_out_no_other(laptop, store):
    token = laptop.access.token()
    phone = phone_of(laptop, store)
    mine, other = laptop.access.sessions()
    asked = [
        phone.post("/devices/link"),
        phone.get(f"/devices/link/{token}"),
        phone.post("/devices/links/withdraw"),
        phone.post("/devices/leave", data={"id": other.id}),
    ]
    for answer in asked:
        assert answer.status_code == 403
        assert "Links are made, and other devices put out, on the laptop itself." in words(answer.text)
    assert laptop.access.waits(token)
    assert laptop.access.sessions() == [mine, other]
    page = phone.get("/devices").text
    assert "/devices/link" not in page
    assert re.findall(r'name="id" value="(\w+)"', page) == [mine.id]


def test_a_phone_leaves_and_the_laptop_puts_one_out(laptop, store):
    first, second = phone_of(laptop, store), phone_of(laptop, store)
    first.post("/devices/leave")
    assert first.get("/").status_code == 401
    ours, _ = laptop.access.sessions()
    laptop.post("/devices/leave", data={"id": ours.id})
    assert second.get("/").status_code == 401
    assert laptop.get("/").status_code == 200


def test_a_cookie_of_plain_http_lets_nobody_in_over_https(laptop, store):
    secret = laptop.access.enter(laptop.access.token(), "x")
    phone = phone_of(laptop, store, let_in=False)
    assert phone.get("/", headers={"cookie": f"fallbook={secret}"}).status_code == 401
    assert phone.get("/", headers={"cookie": f"__Host-fallbook={secret}"}).status_code == 200


@pytest.mark.parametrize("language", ["en", "es"])
def test_the_page_says_what_the_phone_will_show(laptop, language):
    laptop.headers["accept-language"] = language
    html, _ = linked(laptop)
    rows = HTTPS.certificate.rows(8)
    assert [len(row) for row in rows] == [23] * 4
    assert ":".join(rows) == PRINT
    assert all(row in html for row in rows)
    assert "2026-06-01" in html
    assert "iPhone" in html
    assert "Android" in html
    assert {"en": "not private", "es": "no es privada"}[language] in html


@pytest.mark.parametrize(("language", "said"), [("en", "can read it"), ("es", "puede leerla")])
def test_over_plain_http_it_says_who_reads_along_and_that_there_is_no_live_microphone(store, language, said):
    laptop = Client(store.folder, outside=HTTP, job="j")
    laptop.headers["accept-language"] = language
    html, found = linked(laptop)
    assert found[1] == "http://192.168.1.20:8440"
    assert said in html
    assert {"en": "no live microphone", "es": "micrófono en vivo"}[language] in html
    assert "SHA-256" not in html


def test_without_a_way_in_for_phones_it_says_how_to_open_one(store):
    laptop = Client(store.folder)
    assert "fallbook serve --lan" in words(laptop.get("/devices").text)
    assert laptop.post("/devices/link").status_code == 403


def test_too_many_wrong_links_are_slowed_down_and_a_right_one_waits_with_them(laptop, store):
    token = laptop.access.token()
    stranger = phone_of(laptop, store, let_in=False)
    seen = [stranger.get(f"/join/guess-{n}").status_code for n in range(WRONG_MOST + 1)]
    assert seen == [401] * WRONG_MOST + [429]
    for answer in (stranger.get(f"/join/{token}"), stranger.post(f"/join/{token}")):
        assert answer.status_code == 429
        assert answer.headers["retry-after"] == "60"
        assert "Wait 60 seconds" in answer.text
    assert laptop.access.waits(token)
    assert laptop.get("/").status_code == 200


def test_another_site_s_pages_shut_nobody_out(laptop, store):
    _, found = linked(laptop)
    phone = phone_of(laptop, store, let_in=False)
    foreign = {"Sec-Fetch-Site": "cross-site"}
    assert {phone.get("/join/wrong", headers=foreign).status_code for _ in range(WRONG_MOST + 1)} == {200}
    assert phone.get(found[2]).status_code == 200
    assert phone.post("/join/wrong", headers=foreign | {"Origin": "https://elsewhere.invalid"}).status_code == 403


def test_where_there_is_no_room_the_link_stays_good(laptop, store):
    while not laptop.access.full():
        laptop.access.enter(laptop.access.token(), "x")
    _, found = linked(laptop)
    answer = phone_of(laptop, store, let_in=False).post(found[2].partition("?")[0])
    assert answer.status_code == 503
    assert f"{MOST_SESSIONS} devices are let in" in answer.text
    assert "1 link waits" in words(laptop.get("/devices").text)


def test_a_name_is_shown_as_text_and_reaches_the_terminal_without_commands(store):
    told = []
    from logger.page.access import Access

    client = Client(store.folder, let_in=False, access=Access(tell=told.append))
    client.post(f"/join/{client.access.token()}", data={"name": "<b>\x1b[2J\u202eIda"})
    assert told == ["let in: <b> [2J Ida, from testclient"]
    assert "<b>" not in client.get("/devices").text
