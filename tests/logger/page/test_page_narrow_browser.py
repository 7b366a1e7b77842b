"""The day and the drawings on a phone, in a real browser: folded hours, photos and lettering at 360 px."""

import pytest
from browser import THEMES, Served, chromium, faults, join, needs_chromium
from pages import say, take
from PIL import Image

from logger.page import media

pytestmark = needs_chromium
PHONE = {"width": 360, "height": 740}
MOST_BYTES = 150_000
"""Of a page with all that it loads, the photos of its open hour included."""
NOTES = [
    f"{hour:02}:{minute:02} Run {hour} is in, from basin {hour} to basin {hour + 1}, {20 + minute} feet of SDR 35. "
    "It drops four inches."
    for hour in range(7, 13)
    for minute in range(0, 60, 12)
]
"""Five notes an hour from seven to one; note 17 was said at 10:24. A photo was taken at half past each from nine on."""
LANDS = ("#note-0", "#note-17", "#photo-2")
MEASURE = """async (image) => {
    const drawn = new DOMParser().parseFromString(await (await fetch(image.src)).text(), "image/svg+xml");
    const root = document.importNode(drawn.documentElement, true);
    for (const name of ["width", "height"]) root.setAttribute(name, image.getBoundingClientRect()[name]);
    image.replaceWith(root);
    const texts = [...root.querySelectorAll("text")];
    return texts.map((each) => [parseFloat(getComputedStyle(each).fontSize) * each.getScreenCTM().a,
                                each.getBoundingClientRect().height, each.textContent]);
}"""
"""The drawing put into the page at the size of its image: font size and height of each text, in CSS pixels."""


@pytest.fixture(scope="module")
def browser():
    with chromium() as made:
        yield made


@pytest.fixture
def served(store, hearing, make_photo):
    say(store, *NOTES)
    photos = [
        make_photo(f"{hour}.jpg", image=Image.effect_noise((1600, 1200), 60), taken=f"2026:05:14 {hour:02}:31:00")
        for hour in range(9, 13)
    ]
    take(store, hearing, *photos)
    made = Served(store.folder)
    yield made
    made.stop()


def on_a_phone(browser, served, **options):
    page = browser.new_page(viewport=PHONE, **options)
    join(page, served, "j")
    return page


def open_hours(page) -> list[str]:
    return page.eval_on_selector_all("details.hour[open] > div", "(every) => every.map((each) => each.id)")


def in_sight(page, selector: str) -> bool:
    """Whether the upper edge of it comes to be on the screen: a browser goes to an anchor when it has laid out."""
    for _ in range(50):
        box = page.locator(selector).bounding_box()
        if box and 0 <= box["y"] < PHONE["height"]:
            return True
        page.wait_for_timeout(100)
    return False


@pytest.mark.parametrize("scripts", [True, False])
def test_a_link_into_a_folded_hour_opens_it_and_lands_there(browser, served, scripts):
    page = on_a_phone(browser, served, java_script_enabled=scripts)
    for anchor in LANDS:
        page.goto("about:blank")
        page.goto(f"{served.root}/jobs/j/day{anchor}")
        assert in_sight(page, anchor), anchor
    page.goto(f"{served.root}/jobs/j/record/R-10")
    page.locator('a[href="/jobs/j/day#note-17"]').first.click()
    assert in_sight(page, "#note-17")
    page.goto(f"{served.root}/jobs/j/day?open=note-17#note-17")
    assert in_sight(page, "#note-17 textarea")


@pytest.mark.parametrize("scripts", [True, False])
def test_a_row_of_links_opens_the_hours(browser, served, scripts):
    page = on_a_phone(browser, served, java_script_enabled=scripts)
    page.goto(f"{served.root}/jobs/j/day")
    assert page.locator("details.hour[open]").count() == 1
    assert not page.locator("#note-17").is_visible()
    page.locator("nav.hours").get_by_role("link", name="10:00").click()
    assert in_sight(page, 'summary:has-text("10:00")')
    assert in_sight(page, "#note-15")


def test_the_script_opens_an_hour_where_the_browser_does_not(browser, served):
    page = on_a_phone(browser, served)
    page.goto(f"{served.root}/jobs/j/day")
    page.evaluate("""() => {
        history.replaceState(null, "", "#note-17");  // goes to no anchor, so the browser opens nothing
        dispatchEvent(new HashChangeEvent("hashchange"));
    }""")
    page.locator("#note-17").wait_for(state="visible")
    assert open_hours(page) == ["hour-20260514T10", "hour-20260514T12"]
    assert in_sight(page, "#note-17")


def test_a_day_of_sixty_notes_folds_to_a_few_screens(browser, served):
    page = on_a_phone(browser, served)
    page.goto(f"{served.root}/jobs/j/day")
    page.locator("details.hour[open] summary").click()
    assert page.evaluate("document.documentElement.scrollHeight") <= 2 * PHONE["height"]
    for each in page.locator("nav.hours a, summary").all():
        assert each.bounding_box() is None or each.bounding_box()["height"] >= 48, each.inner_text()


def test_a_note_is_found_put_right_and_left_where_it_stands(browser, served):
    page = on_a_phone(browser, served)
    page.goto(f"{served.root}/jobs/j/day")
    page.locator("nav.hours").get_by_role("link", name="10:00").click()
    page.locator("#note-17").get_by_role("link", name="Put right").click()
    page.locator("#note-17 textarea").fill("Run 10 is in, 41 feet.")
    page.get_by_role("button", name="Correct").click()
    said = page.get_by_role("status").filter(has_text="note:17 text is now")
    said.wait_for()
    assert in_sight(page, "#note-17 [role=status]")
    assert open_hours(page) == ["hour-20260514T10"]
    page.get_by_role("button", name="Take back the last one").click()
    page.get_by_role("status").filter(has_text="taken back").wait_for()
    assert in_sight(page, "#note-17 [role=status]")


def test_a_photo_is_small_in_its_hour_and_large_when_opened(browser, served):
    page = on_a_phone(browser, served)
    page.goto(f"{served.root}/jobs/j/day#photo-2")
    small = page.locator("#photo-2 img")
    small.scroll_into_view_if_needed()
    page.wait_for_function("() => document.querySelector('#photo-2 img').naturalWidth > 0")
    assert small.evaluate("(each) => each.naturalWidth") == media.SMALL_PX
    assert small.bounding_box()["width"] < PHONE["width"] / 3
    small.click()
    page.wait_for_url("**/day?open=photo-2#photo-2")
    assert page.locator("#photo-2 img").bounding_box()["width"] > PHONE["width"] * 3 / 4


def test_a_page_with_its_small_photos_is_light(browser, served):
    page = on_a_phone(browser, served)
    for view in ("day", "day#photo-2", "day?open=note-17#note-17", "record", "drawing/profile"):
        page.goto("about:blank")
        with page.expect_response(f"{served.root}/jobs/j/{view}".split("#")[0]) as first:
            page.goto(f"{served.root}/jobs/j/{view}")
        page.wait_for_load_state("networkidle")
        sizes = page.evaluate("performance.getEntriesByType('resource').map((each) => each.decodedBodySize)")
        assert 0 < len(first.value.body()) + sum(sizes) < MOST_BYTES, view


@pytest.mark.parametrize("theme", THEMES)
def test_an_hour_with_photos_is_free_of_faults_where_a_link_lands(browser, served, theme):
    page = on_a_phone(browser, served, color_scheme=theme)
    for view in ("day#photo-2", "day?open=photo-2#photo-2", "day?open=note-17#note-17", "drawing/profile"):
        page.goto("about:blank")
        page.goto(f"{served.root}/jobs/j/{view}")
        assert (view, faults(page)) == (view, [])
        assert page.evaluate("document.documentElement.scrollWidth") == PHONE["width"], view


# -- the drawings


def test_lettering_can_be_read_on_a_phone(browser, served):
    page = on_a_phone(browser, served)
    views = {"record": 11, "closeout": 11, "drawing/plan": 16, "drawing/profile": 16}
    for view, least_px in views.items():
        page.goto(f"{served.root}/jobs/j/{view}")
        page.wait_for_load_state("networkidle")
        for image in page.locator("img.sheet").element_handles():
            texts = image.evaluate(MEASURE)
            assert {"Plan", "Profile"} & {text for _, _, text in texts}
            for size, height, text in texts:
                assert min(size, height) >= least_px, (view, text)


def test_a_drawing_is_scrolled_with_the_keys_and_the_page_is_not(browser, served):
    page = on_a_phone(browser, served)
    for view in ("record", "drawing/plan"):
        page.goto(f"{served.root}/jobs/j/{view}")
        frame = page.get_by_role("region", name="plan")
        frame.focus()
        page.keyboard.press("ArrowRight")
        page.wait_for_function("() => document.querySelector('.wide').scrollLeft > 0")
        assert page.evaluate("document.documentElement.scrollWidth") == PHONE["width"]
        assert frame.evaluate("(each) => getComputedStyle(each).outlineStyle") == "solid"


def test_a_drawing_is_opened_large_and_left_again(browser, served):
    page = on_a_phone(browser, served)
    page.goto(f"{served.root}/jobs/j/record")
    wide = page.locator("#profile img.sheet").bounding_box()["width"]
    page.locator("#profile").get_by_role("link", name="Open it large").click()
    page.wait_for_url("**/drawing/profile")
    assert page.locator("img.sheet").bounding_box()["width"] >= 1.5 * wide
    assert page.locator(".wide").bounding_box()["height"] <= PHONE["height"]
    page.get_by_role("link", name="Back to: Record").click()
    page.wait_for_url("**/record#profile")
    assert in_sight(page, "#profile")
