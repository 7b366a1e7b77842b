"""Talking in a real browser: pieces of a day's sound, a photo and a question, with the laptop out of reach half-way."""

import sys
import wave

import numpy as np
import pytest
from browser import Served, chromium, faults, join, needs_chromium

from logger import jobs
from logger.book import Book
from logger.page.hearing_worker import HearingWorker

pytestmark = needs_chromium
RATE = 48_000
STAND_IN = """
import json, sys
from pathlib import Path
from extract.record import Note
from logger.page.hearing_worker import _requests, serve

class Ear:
    def describe(self, model=None, language=None):
        return {"model": "stand-in"}
    def hear(self, path, **options):
        return [Note(text="Run two is 34 feet long.", heard="Run two is 34 feet long.", start_s=0.1, end_s=0.2)]

def answer(shape):
    print(json.dumps(shape), flush=True)

serve(Path(sys.argv[1]), Ear(), _requests(sys.stdin.buffer), answer)
"""


@pytest.fixture(scope="module")
def browser(tmp_path_factory):
    """Its microphone hears somebody who talks for 1.2 seconds and is silent for 1.6, over and over."""
    talk = tmp_path_factory.mktemp("microphone") / "talk.wav"
    sound = np.zeros(round(2.8 * RATE), dtype="<i2")
    sound[: round(1.2 * RATE)] = np.random.default_rng(1).integers(-6000, 6000, round(1.2 * RATE))
    with wave.open(str(talk), "wb") as file:
        file.setparams((1, 2, RATE, 0, "NONE", ""))
        file.writeframes(sound.tobytes())
    fake = ("--use-fake-ui-for-media-stream", "--use-fake-device-for-media-stream")
    with chromium(*fake, f"--use-file-for-fake-audio-capture={talk}") as made:
        yield made


@pytest.fixture
def served(store):
    made = Served(store.folder, hearing_worker=HearingWorker([sys.executable, "-c", STAND_IN, str(store.folder)]))
    yield made
    made.stop()


@pytest.fixture
def page(browser, served):
    context = browser.new_context(viewport={"width": 360, "height": 800}, permissions=["microphone", "geolocation"],
                                  geolocation={"latitude": 41.5, "longitude": -93.25, "accuracy": 5})  # fmt: skip
    made = context.new_page()
    made.said = []
    made.on("pageerror", lambda error: made.said.append(str(error)))
    join(made, served, "j")
    made.goto(f"{served.root}/jobs/j/talk")
    yield made
    assert made.said == []
    context.close()


def sounds(store):
    return [entry for entry in store.entries("j") if entry.kind == "sound"]


def wait(page, what, seconds=30):
    for _ in range(seconds * 10):
        if what():
            return
        page.wait_for_timeout(100)
    pytest.fail("it did not come")


def test_talk_is_sent_in_pieces_heard_and_told(page, store):
    page.get_by_role("button", name="Start talking").click()
    page.get_by_text("Recording since").wait_for()
    wait(page, lambda: len(sounds(store)) >= 3)
    page.locator("#notes .told", has_text="R-2: length 34 ft").first.wait_for()
    page.get_by_role("button", name="Stop").click()
    page.get_by_text("All is sent. All is heard.").wait_for()
    upload = [entry.body["upload"] for entry in sounds(store)]
    assert len({each["recording_id"] for each in upload}) == 1
    assert all(0 < one["to_s"] - two["from_s"] < 4 for one, two in zip(upload, upload[1:], strict=False))
    assert [line.when.source for line in Book(store, "j").files] == [
        "the clock of the page or program that made it"
    ] * len(upload)


def test_out_of_reach_all_is_kept_and_goes_in_after_a_reload(page, store, served, make_photo):
    page.get_by_role("button", name="Start talking").click()
    wait(page, lambda: sounds(store))
    page.context.set_offline(True)
    page.locator("#photo").set_input_files(make_photo("front.jpg"))
    page.get_by_label("A note or a question").fill("Basin one is set.")
    page.keyboard.press("Enter")
    page.get_by_text("The laptop is out of reach").wait_for()
    page.wait_for_timeout(3000)
    page.get_by_role("button", name="Stop").click()
    page.get_by_text("pieces wait for the laptop").wait_for()
    before = len(store.entries("j"))
    page.context.set_offline(False)
    page.reload()
    page.get_by_text("All is sent.").wait_for()
    kinds = [entry.kind for entry in store.entries("j")]
    assert len(kinds) >= before + 3
    assert (kinds.count("photo"), kinds.count("said")) == (1, 1)
    pieces = [entry.body["upload"]["from_s"] for entry in sounds(store)]
    assert pieces == sorted(pieces)


def test_a_page_closed_in_mid_sentence_leaves_what_it_recorded(page, store, served):
    page.get_by_role("button", name="Start talking").click()
    page.get_by_text("Recording since").wait_for()
    page.wait_for_timeout(2600)
    page.context.set_offline(True)
    page.wait_for_timeout(500)
    before = len(sounds(store))
    other = page.context.new_page()
    page.close(run_before_unload=False)
    page.context.set_offline(False)
    other.goto(f"{served.root}/jobs/j/talk")
    wait(other, lambda: len(sounds(store)) > before, seconds=40)
    assert Book(store, "j").problems == []


def test_a_photo_has_the_place_where_that_was_allowed(page, store, make_photo):
    page.get_by_label("Put the place beside photos").check()
    page.wait_for_timeout(500)
    page.locator("#photo").set_input_files(make_photo("front.jpg", taken=None, offset=None, gps=None))
    wait(page, lambda: store.entries("j"))
    (photo,) = Book(store, "j").photos
    assert (photo.lat, photo.lon, photo.gps_error_m) == (41.5, -93.25, 5)


def test_a_question_is_answered_and_a_file_that_is_none_stays_with_its_line(page, store, tmp_path):
    jobs.say(store, "j", "Run two is in, thirty four feet long.")
    page.get_by_label("A note or a question").fill("How long is run two?")
    page.keyboard.press("Enter")
    page.get_by_role("status").filter(has_text="Run 2: length 34 ft.").wait_for()
    (tmp_path / "front.jpg").write_bytes(b"PK\x03\x04 and more of a zip")
    page.locator("#photo").set_input_files(tmp_path / "front.jpg")
    refused = page.locator("#refused li")
    refused.filter(has_text="front.jpg: a zip archive").wait_for()
    refused.get_by_role("button", name="Leave it out").click()
    refused.wait_for(state="detached")


@pytest.mark.parametrize("theme", ["light", "dark"])
def test_the_page_is_free_of_faults(page, theme):
    page.emulate_media(color_scheme=theme)
    for width in (360, 1280):
        page.set_viewport_size({"width": width, "height": 800})
        for button in ("Start talking", "Stop"):
            page.get_by_role("button", name=button).wait_for()
            assert faults(page) == []
            assert page.evaluate("document.documentElement.scrollWidth") <= width
            page.get_by_role("button", name=button).click()
