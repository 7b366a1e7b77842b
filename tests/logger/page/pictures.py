"""Pictures of the page for the README: `pictures.py LIBRARY JOB OUT`, in Debian's Chromium, on a phone's screen."""

from __future__ import annotations

import sys
from pathlib import Path

from browser import Served, chromium, join

VIEWS = ("questions", "talk", "day", "ready", "record", "closeout")
WIDE, HIGH = 390, 780


def main() -> None:
    library, job, out = Path(sys.argv[1]), sys.argv[2], Path(sys.argv[3])
    served = Served(library)
    with chromium() as browser:
        page = browser.new_page(viewport={"width": WIDE, "height": HIGH})
        join(page, served, job)
        for view in VIEWS:
            page.goto(f"{served.root}/jobs/{job}/{view}")
            page.wait_for_load_state("networkidle")
            page.screenshot(path=out / f"{view}.png")
    served.stop()


if __name__ == "__main__":
    main()
