"""A phone joins in a real browser: the warning, the certificate, a live microphone over HTTPS and none over HTTP."""

import sys

import pytest
from browser import THEMES, WIDTHS, Served, chromium, faults, join, needs_chromium

from logger.page import server

pytestmark = [
    needs_chromium,
    pytest.mark.skipif(sys.platform != "linux", reason="only Linux answers at 127.0.0.2 unasked"),
]
OUTER = "127.0.0.2"
HEARS = "navigator.mediaDevices.getUserMedia({audio: true}).then((stream) => stream.getTracks().length)"


@pytest.fixture(scope="module")
def browser():
    options = "--use-fake-device-for-media-stream", "--use-fake-ui-for-media-stream"
    with chromium(*options) as made:
        yield made


@pytest.fixture
def served(store, monkeypatch):
    monkeypatch.setattr(server, "own_address", lambda: OUTER)
    made = Served(store.folder, job="j", lan="https")
    yield made
    made.stop()


def link_of(laptop, served):
    laptop.goto(f"{served.root}/devices")
    laptop.get_by_role("button", name="Make a link for a phone").click()
    return laptop.locator("p.long code").inner_text()


def test_a_phone_is_warned_joins_by_the_code_s_link_and_has_a_live_microphone(browser, served):
    laptop = browser.new_page()
    join(laptop, served)
    link = link_of(laptop, served)
    wary = browser.new_page()
    with pytest.raises(Exception, match="ERR_CERT_AUTHORITY_INVALID"):
        wary.goto(link)
    phone = browser.new_context(ignore_https_errors=True, viewport={"width": 360, "height": 740}).new_page()
    phone.goto(link)
    phone.get_by_label("What this device is called").fill("Dora's phone")
    phone.get_by_role("button", name="Open", exact=True).click()
    phone.wait_for_url("**/jobs/j/questions")
    assert phone.evaluate("isSecureContext")
    assert phone.evaluate(HEARS) == 1
    laptop.goto(f"{served.root}/devices")
    laptop.get_by_role("button", name="Put out: Dora's phone").click()
    assert laptop.get_by_text("Dora's phone").count() == 0
    assert phone.reload().status == 401


@pytest.mark.parametrize("theme", THEMES)
def test_the_code_s_page_is_free_of_faults_and_within_its_own_policy(browser, served, theme):
    laptop, said = browser.new_page(color_scheme=theme), []
    laptop.on("console", lambda message: said.append(message.text))
    join(laptop, served)
    link_of(laptop, served)
    for width in WIDTHS:
        laptop.set_viewport_size({"width": width, "height": 800})
        assert (width, faults(laptop)) == (width, [])
        assert laptop.evaluate("document.documentElement.scrollWidth") <= width
        box = laptop.locator("svg.code").bounding_box()
        assert box["width"] == box["height"] >= 300
        assert laptop.locator("svg.code path").first.evaluate("(each) => getComputedStyle(each).fill") == (
            "rgb(255, 255, 255)"
        )
    assert said == []
