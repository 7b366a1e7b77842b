"""How soon a spoken note is on the page, and how soon a tap is answered while sound is heard.

Run by `make bench-page`, ten minutes or so; needs Debian's chromium, whose microphone plays notes of the sample day.
A note is late from the end of its last word, by the clock of the page that recorded it, to the moment that its line
stands on the page. A tap takes from its event until the frame with the next question is drawn (`Event.timeStamp`, DOM;
requestAnimationFrame, HTML).
"""

from __future__ import annotations

import logger  # noqa: F401  # isort: skip  # before other libraries, so that nothing is sent
import statistics
import sys
import tempfile
import wave
from datetime import timedelta
from pathlib import Path
from typing import Any

import numpy as np

sys.path.append(str(Path(__file__).parents[1] / "logger" / "page"))
from browser import Served, chromium, join

from logger import jobs, sound, speech
from logger.book import Book
from logger.model import find_second
from logger.page.hearing_worker import HearingWorker
from logger.store import Store, open_store

DAY = Path("sample_logs/day/pocket.m4a")
COMPANY = "sample_logs/company.toml"
NOTES, TIMES = 8, 3
"""Notes of the sample day, and how often all are said."""
GAP_S = 2.5
MARGIN_S = 0.25
LIMITS = {"tiny.en": 3.0, "the default model": 6.0}
"""By model the seconds within which a note should stand on the page."""
TAP_MS = 100
SEEN = """() => {
  window.seen = {};
  const note = (line) => { seen[line.id.slice(5)] ??= Date.now(); };
  const look = () => document.querySelectorAll("#notes li").forEach(note);
  new MutationObserver(look).observe(document.querySelector("#notes"), { childList: true, subtree: true });
}"""
TIMED = """() => {
  let from = 0;
  addEventListener("click", (event) => { from = event.timeStamp; }, true);
  const shown = () => requestAnimationFrame(() => setTimeout(() => { window.took = performance.now() - from; }));
  new MutationObserver(shown).observe(document.body, { childList: true });
}"""


def talk(path: Path) -> float:
    """Writes the notes with GAP_S of silence between; how long it is, seconds."""
    samples = np.concatenate(list(sound.decode(DAY)))
    gap = np.zeros(round(GAP_S * sound.RATE), np.float32)
    parts = [np.zeros(4 * sound.RATE, np.float32)]  # while the page is opened
    for note in TIMES * speech.hear(DAY)[:NOTES]:
        low, high = (round((at + by) * sound.RATE) for at, by in ((note.start_s, -MARGIN_S), (note.end_s, MARGIN_S)))
        parts += [samples[max(0, low) : high], gap]
    whole = np.concatenate([*parts, gap])
    with wave.open(str(path), "wb") as file:
        file.setparams((1, 2, sound.RATE, 0, "NONE", ""))
        file.writeframes((np.clip(whole, -1, 1) * 32767).astype("<i2").tobytes())
    return len(whole) / sound.RATE


def library(folder: Path) -> None:
    """A job to talk to, and one with questions to answer."""
    with open_store(folder, create=True) as store:
        for name in ("talk", "asks"):
            jobs.new(store, name, client="A client", address="1 Tarn Lane", company=COMPANY, zone="+00:00")
        for number in range(1, 41):
            jobs.say(store, "asks", f"Run {number} is in, about {number + 20} feet of four inch SDR 35.", "10:00")
        jobs.settle(store, "asks")


def late(store: Store, seen: dict[str, int]) -> list[float]:
    """How late each note was that was seen, seconds."""
    from logger.page.feed import place

    out = []
    for line in Book(store, "talk").lines:
        if place(line) in seen and line.note.at and line.note.end_s is not None:
            ended = line.note.at + timedelta(seconds=line.note.end_s - (line.note.start_s or 0))
            out.append(seen[place(line)] / 1000 - ended.timestamp())
    return out


def measure(model: str, at: Path, sound_file: Path, length_s: float) -> None:
    folder = at / model
    library(folder)
    fake = ("--use-fake-ui-for-media-stream", "--use-fake-device-for-media-stream")
    served = Served(folder, hearing_worker=HearingWorker.of(folder, str(find_second()) if model == "tiny.en" else None))
    with chromium(*fake, f"--use-file-for-fake-audio-capture={sound_file}%noloop") as browser:
        context = browser.new_context(permissions=["microphone"])
        page, other = context.new_page(), context.new_page()
        join(page, served, "talk")
        page.goto(f"{served.root}/jobs/talk/talk")
        page.evaluate(SEEN)
        page.get_by_role("button", name="Start talking").click()
        other.goto(f"{served.root}/jobs/asks/questions")
        other.evaluate(TIMED)
        taps = [tap(other) for _ in range(int(length_s / 6)) if not other.wait_for_timeout(6000)]
        page.get_by_role("button", name="Stop").click()
        page.get_by_text("All is heard.").wait_for(timeout=60_000)
        page.wait_for_timeout(2000)
        seen = page.evaluate("window.seen")
    served.stop()
    with open_store(folder) as store:
        told(model, late(store, seen), taps)


def tap(page: Any) -> float:
    """Presses the figure that stands, as right; milliseconds until the next question is there."""
    page.bring_to_front()
    page.evaluate("window.took = 0")
    page.locator("button[value=yes]").click()
    while not (took := page.evaluate("window.took")):
        page.wait_for_timeout(20)
    return float(took)


def told(model: str, notes: list[float], taps: list[float]) -> None:
    for what, found, limit, unit in (
        (f"a spoken note, {model}", notes, LIMITS[model], "s"),
        (f"a tap while {model} hears", taps, TAP_MS, "ms"),
    ):
        middle, most = statistics.median(found), max(found)
        held = "yes" if middle <= limit else "NO"
        print(
            f"| {what} | {len(found)} | {middle:.3g} {unit} | {most:.3g} {unit} | {limit:g} {unit} | {held} |",
            flush=True,
        )


def main() -> None:
    print("| what | how many | median | most | limit of the median | held |\n|---|---|---|---|---|---|", flush=True)
    with tempfile.TemporaryDirectory() as place:
        sound_file = Path(place) / "talk.wav"
        length_s = talk(sound_file)
        for model in LIMITS:
            measure(model, Path(place), sound_file, length_s)


if __name__ == "__main__":
    main()
