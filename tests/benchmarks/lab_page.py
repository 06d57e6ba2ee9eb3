"""How fast the lab page is in a real browser: first picture, updates a second, answer to a slider.

    .venv/bin/python -m tests.benchmarks.lab_page [--browser /usr/bin/chromium] [--seconds 4]

Needs playwright and a chromium. Prints measured figures, the load of the machine, and the processor time that each
process takes for an update: on a machine that does other things too, the rates are less than what they would be.
"""

import argparse
import os
import socket
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit

from playwright.sync_api import Page, sync_playwright

FLAGS = (
    "--headless --no-sandbox --disable-gpu --disable-quic --no-first-run --disable-background-networking "
    "--disable-component-update --disable-sync"
).split()
PAINTED = "Number(document.querySelector('svg.section')?.dataset.painted ?? 0)"
PICTURES = "Number(document.querySelector('[data-pictures]')?.dataset.pictures ?? 0)"
WATCH = """(slider) => {
    const drawing = document.querySelector('svg.section');
    slider.focus();
    window.answered = new Promise((done) => {
        let start = null;
        document.addEventListener('keydown', () => { start = performance.now(); }, { capture: true, once: true });
        const observer = new MutationObserver(() => {
            if (start === null) return;
            observer.disconnect();
            done(performance.now() - start);
        });
        observer.observe(drawing, { attributes: true, attributeFilter: ['data-painted'] });
        setTimeout(() => { observer.disconnect(); done(null); }, 5000);
    });
}"""
TRIALS = 2  # of each slider
TICK = os.sysconf("SC_CLK_TCK")


def start(folder: Path) -> tuple[subprocess.Popen[str], str, float]:
    """Start the page; returns process, address and the time of its start."""
    command = [sys.executable, "-m", "tipmech", "lab", "--no-open", "--port", "0", "--out", str(folder)]
    began = time.perf_counter()
    # the framework takes a server started by a test for a test of its own
    environment = {name: value for name, value in os.environ.items() if not name.startswith("PYTEST_")}
    server = subprocess.Popen(command, stdout=subprocess.PIPE, text=True, env=environment)
    assert server.stdout is not None
    return server, server.stdout.readline().split()[0], began


def answers_at(address: str) -> None:
    """Wait until something answers: a browser that was refused once loads again by itself, later."""
    where = urlsplit(address)
    for _ in range(600):
        try:
            socket.create_connection((where.hostname, where.port), 1.0).close()
            return
        except OSError:
            time.sleep(0.02)
    raise SystemExit(f"{address} does not answer")


def goto(page: Page, address: str) -> None:
    """Load the page as soon as it answers."""
    answers_at(address)
    page.goto(address, wait_until="commit")


def processes() -> Iterator[tuple[int, int, list[str]]]:
    """Every process: its number, its parent's, the words of its command."""
    for entry in sorted(Path("/proc").iterdir(), key=lambda p: p.name):
        if entry.name.isdigit():
            try:
                parent = int((entry / "stat").read_text().rsplit(")", 1)[1].split()[1])
                words = (entry / "cmdline").read_text().replace("\0", " ").split() or [""]
            except OSError:
                continue
            yield int(entry.name), parent, words


def browsers(path: str) -> dict[int, str]:
    """Processes of the browser, by its program."""
    return {
        pid: "browser " + next((w.split("=")[1] for w in words if w.startswith("--type=")), "main")
        for pid, _, words in processes()
        if Path(words[0]).name == Path(path).name
    }


def family(root: int) -> dict[int, str]:
    """Processes below one, with what they are."""
    below = {
        pid: next((w.rsplit(".", 1)[1] for w in words if "tipmech.page." in w), words[0])
        for pid, parent, words in processes()
        if parent == root
    }
    return {root: "server"} | below


def seconds_of(pid: int) -> float:
    """Processor time of a process so far, s."""
    try:
        fields = Path(f"/proc/{pid}/stat").read_text().rsplit(")", 1)[1].split()
    except OSError:
        return 0.0
    return (int(fields[11]) + int(fields[12])) / TICK


def rates(page: Page, seconds: float, pids: dict[int, str]) -> dict[str, Any]:
    """Updates a second while the wire is advanced, and processor time of each process for one."""
    page.click("[data-do=keep]")
    page.wait_for_timeout(2500)  # the first increments of a move are taken in parts
    before = {pid: seconds_of(pid) for pid in pids}
    first, drawn, began = page.evaluate(PAINTED), page.evaluate(PICTURES), time.perf_counter()
    page.wait_for_timeout(1000 * seconds)
    last, more, took = page.evaluate(PAINTED), page.evaluate(PICTURES), time.perf_counter() - began
    used = {f"{name} {pid}": seconds_of(pid) - before[pid] for pid, name in pids.items()}
    page.click("[data-do=keep]")
    page.click("[data-do=reset]")
    return {
        "updates": (last - first) / took,
        "pictures": (more - drawn) / took,
        "used_ms": {name: 1e3 * value / max(last - first, 1) for name, value in used.items()},
        "space_ms": 1e3 * sum(v for n, v in used.items() if n.startswith("space")) / max(more - drawn, 1),
    }


def answers(page: Page) -> list[float]:
    """Time from a key on each slider of the bench to the changed drawing, ms."""
    out = []
    for _ in range(TRIALS):
        for slider in page.query_selector_all("[aria-label=bench] [role=slider]"):
            page.wait_for_timeout(1200)  # at rest, and what folds the wire is known again
            page.evaluate(WATCH, slider)
            page.keyboard.press("ArrowRight")
            value = page.evaluate("window.answered")
            if value is not None:
                out.append(float(value))
    return out


def main() -> None:
    """Measure and print."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--browser", default="/usr/bin/chromium")
    parser.add_argument("--seconds", type=float, default=4.0)
    args = parser.parse_args()
    print(f"load of the machine {os.getloadavg()[0]:.1f} on {os.cpu_count()} processors")
    with sync_playwright() as play, tempfile.TemporaryDirectory() as folder:
        browser = play.chromium.launch(executable_path=args.browser, args=FLAGS)
        page = browser.new_page(viewport={"width": 1280, "height": 800})
        server, address, began = start(Path(folder))
        try:
            goto(page, address)
            page.wait_for_function(f"{PAINTED} > 0", timeout=60000, polling=10)
            print(f"first picture {time.perf_counter() - began:.2f} s after start")
            page.wait_for_function(f"{PICTURES} > 0", timeout=60000)
            page.wait_for_timeout(2000)
            found = rates(page, args.seconds, family(server.pid) | browsers(args.browser))
            print(f"section and forces {found['updates']:.1f} updates/s, in space {found['pictures']:.1f} pictures/s")
            print("processor time for an update, ms:", {k: round(v, 1) for k, v in found["used_ms"].items()})
            print(f"processor time for a picture in space: {found['space_ms']:.0f} ms")
            page.click("[data-do=space]")
            page.wait_for_timeout(1000)
            found = rates(page, args.seconds, family(server.pid) | browsers(args.browser))
            print(f"without the view in space: {found['updates']:.1f} updates/s")
            times = answers(page)
            print(f"answer to a slider: median {statistics.median(times):.0f} ms of {len(times)}, max {max(times):.0f}")
        finally:
            server.terminate()
            server.wait()
            browser.close()
    print(f"load of the machine {os.getloadavg()[0]:.1f}")


if __name__ == "__main__":
    main()
