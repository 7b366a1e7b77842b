"""Whatever is asked of any route, let in or not: no fault of the program, no trace of one, and always the headers."""

import re
from urllib.parse import quote

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from pages import Client

from logger import jobs
from logger.page.app import VIEWS
from logger.page.guard import COOKIE, HEADERS
from logger.page.lan import Outside

ROUTES = sorted({(method, path) for each in VIEWS for method, path, _, _ in each.ROUTES})
OFTEN = settings(max_examples=25, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
SAID = (
    "Run one from basin one to the pop-up is in, about forty feet, SDR 35.",
    "Cover over run one is maybe nine inches.",
)
METHODS = ["GET", "HEAD", "POST", "PUT", "DELETE", "OPTIONS", "TRACE", "BREW"]
NASTY = [
    "",
    "..",
    "../../etc/passwd",
    "%00",
    "\0",
    "j\n",
    "'; --",
    "<b>&",
    "{{7*7}}",
    "\u202e",
    "\ud800",
    "9" * 5000,
    "1e999",
]
TEXT = st.one_of(
    st.sampled_from(["j", "gone", "R-1", "R-1 cover", "note:0", "yes", "skip", "not there", "a", "34 8", "-1", "nan"]),
    st.sampled_from(["0" * 64, *NASTY]),
    st.text(max_size=40),
)
FIELDS = st.dictionaries(
    st.one_of(
        st.sampled_from(
            "id answer passed q said what words from to name job language text at photo note field value run".split()
        ),
        st.text(max_size=8),
    ),
    TEXT,
    max_size=5,
)
HEAD = st.fixed_dictionaries(
    {},
    optional={
        "accept-language": st.text(st.characters(min_codepoint=32, max_codepoint=126), max_size=30),
        "content-type": st.sampled_from(["text/plain", "application/json", "multipart/form-data; boundary=x", "x/"]),
        "range": st.sampled_from(["bytes=0-1", "bytes=-", "bytes=9-1", "chairs=1"]),
        "if-none-match": st.just("*"),
        "x-forwarded-for": st.just("127.0.0.1"),
        "x-forwarded-host": st.just("evil.example"),
    },
)


@pytest.fixture
def client(store):
    for text in SAID:
        jobs.say(store, "j", text)
    made = Client(store.folder, outside=Outside("192.168.1.20:8440", None), job="j")
    made.follow_redirects = False
    return made


@st.composite
def asked(draw, path):
    """That route with something in each of its gaps, and what may follow a question mark."""

    def something(gap):
        return in_address(draw(st.one_of(st.just("j"), st.just("j"), TEXT) if gap[1] == "job" else TEXT))

    filled = re.sub(r"\{(\w+)(?::\w+)?\}", something, path)
    query = "&".join(f"{in_address(name)}={in_address(value)}" for name, value in draw(FIELDS).items())
    return f"{filled}?{query}" if query else filled


def in_address(text):
    return quote(text.encode("utf-8", "surrogatepass"), safe="")


def body_of(fields):
    return "&".join(f"{in_address(name)}={in_address(value)}" for name, value in fields.items()).encode()


def is_sound(answer):
    assert answer.status_code < 500, answer.text
    assert "Traceback" not in answer.text
    for name, value in HEADERS.items():
        assert answer.headers[name] == value or name == "Cache-Control", name


@pytest.mark.parametrize(("method", "path"), ROUTES, ids=lambda each: each)
def test_whatever_a_browser_asks_that_is_let_in(client, method, path):
    @OFTEN
    @given(asked(path), FIELDS, HEAD, st.one_of(st.none(), st.binary(max_size=60)))
    def any_request(address, fields, headers, odd):
        content = None if method == "GET" else body_of(fields) if odd is None else odd
        is_sound(client.request(method, address, headers=headers, content=content))
        if not client.access.session(client.cookies.get(COOKIE)):  # it left of its own accord
            client.post(f"/join/{client.access.token()}")

    any_request()


@pytest.mark.parametrize(("method", "path"), ROUTES, ids=lambda each: each)
def test_whatever_a_stranger_asks(client, method, path):
    own = client.cookies[COOKIE]
    client.cookies.clear()

    @OFTEN
    @given(asked(path), FIELDS, HEAD, st.sampled_from(["", "x", own[:-1], own.lower(), '"', "a=b; c"]))
    def any_request(address, fields, headers, cookie):
        headers["cookie"] = f"{COOKIE}={cookie}"
        answer = client.request(method, address, headers=headers, content=None if method == "GET" else body_of(fields))
        is_sound(answer)
        assert answer.status_code in (401, 404, 429), answer.status_code
        assert "set-cookie" not in answer.headers

    any_request()


@OFTEN
@given(st.sampled_from(METHODS), st.sampled_from(ROUTES), TEXT)
def test_whatever_method_and_wherever(client, method, route, text):
    for address in (re.sub(r"\{\w+\}", "j", route[1]), "/" + in_address(text), "/static/" + in_address(text)):
        is_sound(client.request(method, address))


@pytest.mark.parametrize("way", "../app.py ..%2fapp.py %2e%2e/app.py ..%5capp.py /etc/passwd //etc/passwd %00".split())
def test_nothing_but_what_lies_in_static_is_served(client, way):
    answer = client.get(f"/static/{way}")
    is_sound(answer)
    assert answer.status_code == 404
