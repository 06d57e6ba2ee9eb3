"""The picture of docs/lab.md: the lab page at step 3 of its lesson, two wires advanced by one hand, in a real browser.

    python -m experiments.lab_picture [--out docs/figures/lab.png] [--browser /usr/bin/chromium]

Starts the page, sets the step up, advances, waits until all is drawn, takes the picture. Needs playwright and
a chromium.
"""

import argparse
import os
import tempfile
from collections.abc import Sequence
from pathlib import Path

from playwright.sync_api import Page, sync_playwright

from tests.benchmarks.lab_page import FLAGS, PAINTED, PICTURES, goto, start
from tipmech.whole import whole_file

FIGURE = Path(__file__).parent.parent / "docs" / "figures" / "lab.png"
STEP = 3  # of the lesson
STROKES = (5.0, 5.0, 2.9)  # mm
SIZE = {"width": 1280, "height": 2150}
STATUS = "document.querySelector('[data-say=status]').innerText"
FOLDS = "document.body.innerText.split('In the pocket:').length === 3"  # what folds either wire is known
LONG = 300_000  # ms: the machine may be doing other things
SETTLE = 6000  # ms until the view in space is that of the last increment


def advanced(page: Page) -> None:
    """Set the step up and advance by the strokes."""
    for _ in range(STEP - 1):
        page.click("[data-do=next]")
    page.click("[data-do=set-up]")
    page.wait_for_function("document.querySelectorAll('svg.section').length === 2")
    feed = 0.0
    for stroke in STROKES:
        typed = page.get_by_label("stroke, typed")
        typed.fill(f"{stroke:g}")
        typed.press("Enter")
        feed += stroke
        page.click("[data-do=advance]")
        page.wait_for_function(
            f"{STATUS}.startsWith('at rest') && Math.abs(parseFloat({STATUS}.split('feed ')[1]) - {feed}) < 0.01"
        )


def main(arguments: Sequence[str] | None = None) -> None:
    """Command line."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--out", type=Path, default=FIGURE)
    parser.add_argument("--browser", default=os.environ.get("CHROMIUM", "/usr/bin/chromium"))
    args = parser.parse_args(arguments)
    with sync_playwright() as play, tempfile.TemporaryDirectory() as folder:
        browser = play.chromium.launch(executable_path=args.browser, args=FLAGS)
        server, address, _ = start(Path(folder))
        try:
            page = browser.new_page(viewport=SIZE)
            page.set_default_timeout(LONG)
            goto(page, address)
            page.wait_for_function(f"{PAINTED} > 0")
            advanced(page)
            page.wait_for_function(FOLDS)
            page.wait_for_function(f"{PICTURES} > 0")
            page.wait_for_timeout(SETTLE)
            with whole_file(args.out) as temporary:
                temporary.write_bytes(page.screenshot())
        finally:
            server.terminate()
            server.wait()
            browser.close()


if __name__ == "__main__":
    main()
