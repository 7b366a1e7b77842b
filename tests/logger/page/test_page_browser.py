"""The page in a real browser: joined by its link, every view free of faults, questions settled by tap and by key."""

import os

import pytest
from browser import THEMES, WIDTHS, Served, chromium, faults, join, needs_chromium
from pages import SAID

from logger import jobs
from logger.ask import open_questions
from logger.book import Book

pytestmark = needs_chromium
VIEWS = (
    "/",
    "/devices",
    "/jobs/j/questions",
    "/jobs/j/day",
    "/jobs/j/day?open=note-0",
    "/jobs/j/record",
    "/jobs/j/record/R-1",
    "/jobs/j/drawing/plan",
    "/jobs/j/ready",
    "/jobs/j/closeout",
    "/jobs/j/talk",
)
MOST_BYTES = 150_000
"""Of a page with all that it loads, photos and sound aside."""


@pytest.fixture(scope="module")
def browser():
    with chromium() as made:
        yield made


@pytest.fixture
def served(store):
    for text in SAID:
        jobs.say(store, "j", text)
    made = Served(store.folder)
    yield made
    made.stop()


@pytest.mark.parametrize("theme", THEMES)
def test_every_view_is_free_of_faults_at_every_width(browser, served, theme):
    # what the dark colours do to a page does not hang on its width, and the narrowest and widest show most
    some = WIDTHS[::2] if theme == "light" else WIDTHS[:1]
    for width in WIDTHS if "FALLBOOK_WHOLE" in os.environ else some:
        page = browser.new_page(viewport={"width": width, "height": 800}, color_scheme=theme)
        page.goto(served.link("j"))
        assert faults(page) == []
        page.get_by_role("button", name="Open", exact=True).click()
        page.wait_for_url(lambda url: "/join/" not in url)
        for view in VIEWS:
            page.goto(served.root + view)
            assert (view, width, faults(page)) == (view, width, [])
            assert page.evaluate("document.documentElement.scrollWidth") <= width, view
        page.close()


def test_buttons_are_large_enough_for_a_glove(browser, served):
    page = browser.new_page(viewport={"width": 360, "height": 800})
    join(page, served, "j")
    for each in page.get_by_role("button").all():
        box = each.bounding_box()
        assert box["height"] >= 48, each.inner_text()


def test_pages_are_light(browser, served):
    page = browser.new_page()
    join(page, served, "j")
    for view in VIEWS:
        with page.expect_response(served.root + view) as first:
            page.goto(served.root + view)
        page.wait_for_load_state("networkidle")
        sizes = page.evaluate("performance.getEntriesByType('resource').map((each) => each.decodedBodySize)")
        assert 0 < len(first.value.body()) + sum(sizes) < MOST_BYTES, view


def test_a_question_is_settled_with_a_key_and_taken_back_with_a_tap(browser, served, store):
    page = browser.new_page()
    join(page, served, "j")
    before = len(open_questions(Book(store, "j")))
    page.locator('[accesskey="y"]').focus()
    page.keyboard.press("Enter")
    page.get_by_role("status").filter(has_text="is").wait_for()
    assert len(open_questions(Book(store, "j"))) == before - 1
    page.get_by_role("button", name="Take back the last one").click()
    page.get_by_text(f"{before} questions left").wait_for()
    assert len(open_questions(Book(store, "j"))) == before


def test_a_tap_loads_no_page_and_goes_back_as_pages_do(browser, served, store):
    page = browser.new_page()
    join(page, served, "j")
    first = page.locator("h1").inner_text()
    page.evaluate("window.same = true")
    page.get_by_role("button", name="Leave open").click()
    page.locator("h1").filter(has_not_text=first).wait_for()
    assert page.evaluate("window.same")
    assert "passed=" in page.url
    page.go_back()
    page.locator("h1").filter(has_text=first).wait_for()


def test_an_answer_that_cannot_be_sent_is_said_and_kept(browser, served, store):
    page = browser.new_page()
    join(page, served, "j")
    page.get_by_label("in plain words").fill("41 ft")
    page.route("**/questions", lambda route: route.abort())
    page.get_by_role("button", name="Enter", exact=True).click()
    page.get_by_text("The laptop is out of reach").wait_for()
    assert page.locator("#figure").input_value() == "41 ft"


def test_nothing_on_the_page_is_refused_by_its_own_policy(browser, served):
    page, said = browser.new_page(), []
    page.on("console", lambda message: said.append(message.text))
    page.on("pageerror", lambda error: said.append(str(error)))
    join(page, served, "j")
    for view in VIEWS:
        page.goto(served.root + view)
    assert said == []
