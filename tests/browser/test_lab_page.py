"""The lab page in a real browser (marker `browser`): every control, keys alone, narrow and enlarged, tabs, crashes."""

import http.client
import os
import re
import signal
import subprocess
import time
from collections.abc import Iterator
from functools import partial
from pathlib import Path
from typing import Any

import pytest

from tests.benchmarks.lab_page import FLAGS, PAINTED, PICTURES, answers_at, family, goto, start
from tipmech import CAUTION
from tipmech.insertion.record_file import load
from tipmech.insertion.run import advance
from tipmech.page.controls import SHARED, STROKE, TURN
from tipmech.page.lesson import STEPS

pytestmark = pytest.mark.browser
BROWSER = os.environ.get("CHROMIUM") or "/usr/bin/chromium"
LONG = 120_000  # ms: the machine may be doing other things
EVERY = 50  # ms between looks at what is waited for: by itself it looks at each frame, and not where none is drawn
STATUS = "document.querySelector('[data-say=status]').innerText"
FED = f"parseFloat({STATUS}.split('feed ')[1])"


class Server:
    """A page that is being served: process, address, folder."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.process, self.address, _ = start(folder)
        answers_at(self.address)
        self.port = int(self.address.rstrip("/").rsplit(":", 1)[1])

    def workers(self) -> list[int]:
        return [pid for pid, name in family(self.process.pid).items() if name == "worker"]


@pytest.fixture(scope="module")
def server(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Server]:
    served = Server(tmp_path_factory.mktemp("lab"))
    yield served
    served.process.send_signal(signal.SIGINT)
    served.process.wait(30)


@pytest.fixture(scope="module")
def browser() -> Iterator[Any]:
    from playwright.sync_api import sync_playwright

    with sync_playwright() as play:
        found = play.chromium.launch(executable_path=BROWSER, args=FLAGS)
        yield found
        found.close()


@pytest.fixture
def page(server: Server, browser: Any) -> Iterator[Any]:
    opened = open_page(server, browser)
    yield opened
    opened.close()


def open_page(server: Server, browser: Any, **options: Any) -> Any:
    page = browser.new_page(viewport={"width": 1280, "height": 800}, **options)
    page.set_default_timeout(LONG)
    page.wait_for_function = partial(page.wait_for_function, polling=EVERY)
    page.errors = []
    page.asked = []
    page.on("pageerror", lambda error: page.errors.append(str(error)))
    page.on("request", lambda request: page.asked.append(request.url))
    goto(page, server.address)
    page.wait_for_function(f"{PAINTED} > 0")
    return page


def said(page: Any, what: str) -> str:
    return str(page.inner_text(f"[data-say={what}]"))


def wait_for_words(page: Any, what: str, words: str) -> None:
    page.wait_for_function(f"document.querySelector('[data-say={what}]').innerText.includes({words!r})")


def fed(page: Any) -> float:
    return float(re.search(r"feed ([-0-9.]+) mm", said(page, "status"))[1])  # type: ignore[index]


def wait_for_feed(page: Any, value: float) -> None:
    page.wait_for_function(f"{STATUS}.startsWith('at rest') && Math.abs({FED} - {value}) < 0.01")


def slider(page: Any, name: str) -> Any:
    """The part of a control's slider that takes the focus."""
    return page.locator(f"[data-control={name}] [role=slider]")


def wait_for_dial(page: Any, name: str, value: float) -> None:
    """Until slider and field stand there."""
    page.wait_for_function(
        """([name, value]) => {
            const dial = document.querySelector(`[data-control=${name}]`).closest(".dial");
            const shown = [dial.querySelector("[role=slider]").ariaValueNow, dial.querySelector("input").value];
            return shown.every((one) => Math.abs(Number(one) - value) <= 1e-6 * Math.abs(value));
        }""",
        arg=[name, value],
    )


def press_and_wait_for_dial(page: Any, key: str, name: str, value: float) -> None:
    """Until the dial stands there and the bench has been drawn anew."""
    before = page.evaluate(PAINTED)
    page.keyboard.press(key)
    wait_for_dial(page, name, value)
    page.wait_for_function(f"{PAINTED} > {before}")


def wait_for_number(page: Any, name: str, text: str) -> None:
    page.wait_for_function(f"document.querySelector('[data-lane=\"1\"] [data-number={name}]').innerText === {text!r}")


def save(page: Any, server: Server, wires: int = 1) -> list[str]:
    before = set(server.folder.glob("insertion_*.csv"))
    page.click("[data-do=save]")
    until(lambda: len(set(server.folder.glob("insertion_*.csv")) - before) == wires)
    return sorted(path.name for path in set(server.folder.glob("insertion_*.csv")) - before)


def until(met: Any, seconds: float = 60.0) -> None:
    end = time.monotonic() + seconds
    while not met():
        assert time.monotonic() < end, "it did not happen"
        time.sleep(0.1)


def test_the_numbers_are_those_of_the_library_and_nothing_comes_from_elsewhere(page: Any, server: Server) -> None:
    for k in (1, 2, 3):
        page.click("[data-do=advance]")
        wait_for_feed(page, float(k))
    page.click("[data-do=withdraw]")
    wait_for_feed(page, 2.0)
    page.click("[data-do=turn_left]")
    page.wait_for_function(f"{STATUS}.startsWith('at rest') && {STATUS}.includes('turned 15')")
    page.click("[data-do=advance]")
    wait_for_feed(page, 3.0)
    name = save(page, server)[0]
    record = load(server.folder / name.replace(".csv", ".nc"))
    again = advance(record.case)
    for shown, quantity in (("push", again.push), ("front", again.force_front), ("tip", again.tip_force)):
        wait_for_number(page, shown, f"{quantity[-1] * 1e3:.2f} mN")
    wait_for_words(page, "regime", f"push force {again.push[-1] * 1e3:.1f} mN")
    with page.expect_download() as download:
        page.click(f"text=Download {name}")
    assert Path(download.value.path()).read_bytes() == (server.folder / name).read_bytes()
    assert page.errors == []
    assert all(url.startswith((server.address, "data:", "blob:")) for url in page.asked)


def test_every_slider_and_every_field_is_answered(page: Any) -> None:
    for control in SHARED:
        slider(page, control.name).focus()
        press_and_wait_for_dial(page, "ArrowRight", control.name, control.start + control.step)
        page.get_by_label(f"{control.words}, typed").fill(f"{control.start:g}")
        press_and_wait_for_dial(page, "Enter", control.name, control.start)
    slider(page, TURN.name).focus()
    page.keyboard.press("ArrowRight")
    page.wait_for_function("document.body.innerText.includes('RAO 25, cranial 25')")
    stroke = page.get_by_label(f"{STROKE.words}, typed")
    stroke.fill("0.3")
    stroke.press("Enter")
    wait_for_dial(page, STROKE.name, 0.3)
    page.click("[data-do=advance]")
    wait_for_feed(page, 0.3)


def test_what_takes_the_focus_of_a_slider_says_its_name_its_value_and_its_range(page: Any) -> None:
    for control in (*SHARED, TURN, STROKE):
        found = page.get_by_role("slider", name=control.words, exact=True)
        assert found.count() == 1
        found.focus()
        part = page.evaluate_handle("document.activeElement")
        said = {name: part.get_attribute(f"aria-{name}") for name in ("valuenow", "valuemin", "valuemax")}
        assert [float(v) for v in said.values()] == [control.start, control.low, control.high]
        assert part.get_attribute("aria-valuetext") == f"{control.start:g} {control.unit}".strip()
    assert page.locator("[role=slider]:not([aria-label])").count() == 0
    slider(page, "front_force_mN").focus()
    page.keyboard.press("ArrowRight")
    page.wait_for_selector("[role=slider][aria-label='front holds'][aria-valuenow='33'][aria-valuetext='33 mN']")
    for wire, on in (("wire 1", "true"), ("wire 2", "true")):
        group = page.get_by_role("group", name=wire, exact=True)
        assert group.get_by_role("slider", name="tip load").get_attribute("aria-disabled") == on


def test_steps_of_the_lesson_are_read_aloud(page: Any) -> None:
    aloud = page.locator("[role=status][aria-live=polite][data-say=lesson-aloud]")
    assert aloud.inner_text() == ""
    page.click("[data-do=next]")
    wait_for_words(page, "lesson-aloud", f"step 2 of {len(STEPS)}: {STEPS[1].title}. {STEPS[1].text}")
    page.click("[data-do=set-up]")
    wait_for_words(page, "lesson-aloud", f"Step 2 is set up. Do: {STEPS[1].do}")


def test_what_has_the_focus_from_the_keyboard_is_outlined(page: Any) -> None:
    outlined = set()
    for _ in range(60):
        page.keyboard.press("Tab")
        tag, look = page.evaluate(
            """() => {
                const part = document.activeElement, look = getComputedStyle(part);
                const tag = part.getAttribute("role") ?? part.tagName.toLowerCase();
                return [tag, `${look.outlineStyle} ${look.outlineWidth} ${look.outlineColor}`];
            }"""
        )
        if tag == "body":
            break
        assert look == "solid 3px rgb(31, 95, 168)", tag
        outlined.add(tag)
    assert {"button", "slider", "checkbox", "switch"} <= outlined


def test_home_and_end_take_a_slider_to_its_ends(page: Any) -> None:
    for control in (STROKE, SHARED[1]):
        slider(page, control.name).focus()
        for key, end in (("End", control.high), ("Home", control.low)):
            page.keyboard.press(key)
            wait_for_dial(page, control.name, end)
    slider(page, "angle_deg").focus()
    page.keyboard.press("End")
    page.wait_for_selector("[data-level=input] >> text=approach angle is 60")
    wait_for_dial(page, "angle_deg", 30.0)
    load = page.get_by_role("group", name="wire 1", exact=True).get_by_role("slider", name="tip load")
    before = load.get_attribute("aria-valuenow")
    load.dispatch_event("keydown", {"key": "End"})
    page.wait_for_timeout(500)
    assert load.get_attribute("aria-valuenow") == before


def test_state_is_read_aloud_when_it_changes_and_in_a_known_language(page: Any) -> None:
    assert page.evaluate("document.documentElement.lang") == "en-US"
    page.evaluate(
        """() => {
            window.heard = [];
            const part = document.querySelector("[role=status][data-say=aloud]");
            const hear = () => window.heard.push(part.innerText);
            new MutationObserver(hear).observe(part, { childList: true, characterData: true, subtree: true });
        }"""
    )
    for _ in range(3):
        page.click("[data-do=advance]")
    wait_for_feed(page, 3.0)
    page.wait_for_function("window.heard.at(-1)?.startsWith('at rest; feed 3.0 mm')")
    heard = page.evaluate("window.heard")
    assert any(text.startswith("advancing. ") for text in heard)
    assert said(page, "regime") in heard[-1]
    assert len(heard) < 10, "nobody can listen to every increment"


def test_a_number_beyond_its_range_is_refused_with_what_is_allowed(page: Any) -> None:
    field = page.get_by_label("friction of the wire, typed")
    for text in ("7", "-1", "1e999"):
        field.fill(text)
        field.press("Enter")
        page.wait_for_selector("text=allowed: a finite number at least 0 and at most 0.6")
        assert field.get_attribute("aria-invalid") == "true"
    assert slider(page, "friction").get_attribute("aria-valuenow") == "0.12"
    field = page.get_by_label("approach angle, typed")
    field.fill("60")
    field.press("Enter")
    page.wait_for_selector(
        "[data-level=input] >> text=approach angle is 60; allowed: 5 to 52 °, beside the other numbers"
    )
    wait_for_dial(page, "angle_deg", 30.0)
    page.click("text=Understood")
    page.wait_for_selector("[data-level=input]", state="detached")
    other = page.get_by_label("friction of the wire, typed")
    other.fill("0.3")
    other.press("Enter")
    wait_for_dial(page, "friction", 0.3)
    page.wait_for_function("!document.querySelector('[aria-invalid=true]')")
    page.click("[data-do=advance]")
    wait_for_feed(page, 1.0)
    assert page.locator("[data-level=input]").count() == 0


def test_wires_lesson_view_in_space_and_the_rest(page: Any) -> None:
    for k in range(1, len(STEPS)):
        page.click("[data-do=next]")
        wait_for_words(page, "lesson", f"step {k + 1} of {len(STEPS)}")
    for _ in range(3):
        page.click("[data-do=before]")
    page.click("[data-do=set-up]")
    page.wait_for_selector("[data-lane='2']")
    page.wait_for_function("document.querySelector('[data-lane=\"2\"]').innerText.includes('scaled to 4 gf')")
    page.click("[data-do=advance]")
    wait_for_feed(page, 1.0)
    page.wait_for_function(f"{PICTURES} > 0")
    for turned in ("left", "right", "up", "down", "larger", "smaller"):
        drawn = page.evaluate(PICTURES)
        page.click(f"[data-turn={turned}]")
        page.wait_for_function(f"{PICTURES} > {drawn}")
    page.click("text=Other wire")
    page.wait_for_function("document.querySelector('[data-say=space]').innerText.startsWith('wire 2')")
    page.click("[data-do=space]")
    page.click("text=after a change, make the same moves again")
    page.click("[data-wire='2'] .q-select")
    page.click(".q-menu >> text=no second wire")
    page.wait_for_selector("[data-lane='2']", state="hidden")
    wait_for_feed(page, 0.0)
    page.click("[data-do=advance]")
    wait_for_feed(page, 1.0)
    page.click("[data-do=back]")
    wait_for_feed(page, 0.0)
    page.click("[data-do=advance]")
    wait_for_feed(page, 1.0)
    page.click("[data-do=reset]")
    wait_for_feed(page, 0.0)
    page.click("[data-wire='1'] .q-checkbox")
    assert page.errors == []


def test_keys_alone(page: Any) -> None:
    page.keyboard.down("a")
    page.wait_for_function(f"{STATUS}.startsWith('advancing') && {FED} >= 0.3")
    page.keyboard.up("a")
    page.wait_for_function(f"{STATUS}.startsWith('at rest')")
    reached = fed(page)
    assert reached > 0.0
    page.wait_for_timeout(700)
    assert fed(page) == reached
    page.keyboard.down("w")
    page.wait_for_function(f"{FED} < {reached}")
    page.keyboard.up("w")
    page.keyboard.down("t")
    page.wait_for_function(f"{STATUS}.includes('turned')")
    page.keyboard.up("t")
    page.keyboard.press("r")
    wait_for_feed(page, 0.0)
    for _ in range(60):
        page.keyboard.press("Tab")
        if page.evaluate("document.activeElement.dataset.do") == "advance":
            break
    assert page.evaluate("document.activeElement.dataset.do") == "advance"
    page.keyboard.press("Enter")
    wait_for_feed(page, 1.0)
    page.keyboard.press("b")
    wait_for_feed(page, 0.0)


def hold(page: Any, key: str = "a") -> None:
    """Hold a key down until the wire moves."""
    page.keyboard.down(key)
    page.wait_for_function(f"{STATUS}.startsWith('advancing')")


def assert_rests(page: Any) -> None:
    page.wait_for_function(f"{STATUS}.startsWith('at rest')", timeout=10_000)
    reached = fed(page)
    page.wait_for_timeout(700)
    assert fed(page) == reached


def test_a_move_ends_with_its_key_under_a_modifier_and_in_a_field(page: Any) -> None:
    hold(page)
    page.keyboard.down("Control")
    page.keyboard.up("a")
    page.keyboard.up("Control")
    assert_rests(page)
    page.keyboard.press("r")
    wait_for_feed(page, 0.0)
    slider(page, STROKE.name).focus()
    hold(page)
    page.keyboard.press("Tab")
    assert page.evaluate("document.activeElement.tagName") == "INPUT"
    page.keyboard.up("a")
    assert_rests(page)
    page.click("[data-do=keep]")
    page.wait_for_function(f"{STATUS}.startsWith('advancing')")
    page.get_by_label(f"{STROKE.words}, typed").focus()
    page.keyboard.press("s")
    assert_rests(page)
    assert page.get_by_label(f"{STROKE.words}, typed").input_value() == f"{STROKE.start:g}"


def test_a_move_ends_when_window_or_tab_is_left(server: Server, browser: Any) -> None:
    context = browser.new_context()
    page, other = context.new_page(), context.new_page()
    page.set_default_timeout(LONG)
    goto(page, server.address)
    page.wait_for_function(f"{PAINTED} > 0")
    session = page.context.new_cdp_session(page)
    session.send("Emulation.setFocusEmulationEnabled", {"enabled": False})
    page.bring_to_front()
    page.evaluate("window.left = 0; window.addEventListener('blur', () => { window.left += 1; })")
    hold(page)
    other.bring_to_front()
    page.wait_for_function("window.left > 0", polling=100)
    other.keyboard.up("a")
    assert_rests(page)
    page.bring_to_front()
    page.keyboard.up("a")
    page.keyboard.press("r")
    wait_for_feed(page, 0.0)
    hold(page)
    page.evaluate(
        """() => {
            Object.defineProperty(document, "hidden", { get: () => true, configurable: true });
            document.dispatchEvent(new Event("visibilitychange"));
            delete document.hidden;
        }"""
    )
    assert_rests(page)
    page.keyboard.up("a")
    page.click("[data-do=keep]")
    page.wait_for_function(f"{STATUS}.startsWith('advancing')")
    page.evaluate("window.dispatchEvent(new Event('blur'))")
    there = fed(page)
    page.wait_for_function(f"{FED} > {there + 0.5}")
    context.close()


def test_of_two_held_keys_the_later_one_moves_and_ends(page: Any) -> None:
    page.keyboard.press("r")
    hold(page)
    page.wait_for_function(f"{FED} > 2.0")
    page.keyboard.down("w")
    page.wait_for_function(f"{STATUS}.startsWith('withdrawing')")
    page.keyboard.up("a")
    there = fed(page)
    page.wait_for_function(f"{FED} < {there - 0.2}")
    page.keyboard.up("w")
    assert_rests(page)
    page.keyboard.down("Shift")
    page.keyboard.down("T")
    page.wait_for_function(f"{STATUS}.startsWith('turning')")
    page.keyboard.up("Shift")
    page.keyboard.up("t")
    assert_rests(page)


@pytest.mark.parametrize(("width", "height"), [(640, 400), (800, 600), (375, 740)], ids=["200 %", "narrow", "phone"])
def test_narrow_and_enlarged_nothing_is_cut_and_the_caution_stays(page: Any, width: int, height: int) -> None:
    page.set_viewport_size({"width": width, "height": height})
    page.wait_for_function(f"innerWidth === {width} && document.documentElement.scrollWidth <= {width}")
    for place in ("0", "document.body.scrollHeight - innerHeight"):
        page.evaluate(f"window.scrollTo(0, {place})")
        page.wait_for_function(f"Math.abs(scrollY - ({place})) < 2")
        box = page.locator(".caution").bounding_box()
        assert CAUTION in page.inner_text(".caution")
        assert 0.0 <= box["y"] < height / 3
    page.evaluate("window.scrollTo(0, 0)")
    for name in ("advance", "withdraw", "keep", "reset"):
        box = page.locator(f"[data-do={name}]").bounding_box()
        assert box["x"] >= 0.0
        assert box["x"] + box["width"] <= width


def test_in_a_narrow_window_the_lesson_stands_before_what_it_speaks_of_and_tab_goes_that_way(page: Any) -> None:
    page.set_viewport_size({"width": 640, "height": 400})
    page.wait_for_function("innerWidth === 640")
    tops = [
        page.locator(f"section[aria-label='{name}']").bounding_box()["y"]
        for name in ("lesson", "hand", "wire 1", "bench")
    ]
    assert tops == sorted(tops)
    lesson, hand = (page.locator(f"section[aria-label={name}]").bounding_box() for name in ("lesson", "hand"))
    assert hand["y"] - (lesson["y"] + lesson["height"]) < 40.0
    page.locator("[data-do=next]").focus()
    page.keyboard.press("Tab")
    assert page.evaluate("document.activeElement.dataset.do") == "advance"
    for _ in range(40):
        page.keyboard.press("Tab")
        top = page.evaluate("document.activeElement.getBoundingClientRect().top")
        if page.evaluate("document.activeElement === document.body"):
            break
        assert top >= page.locator(".top").bounding_box()["height"], "the focus lies under the header"


def test_the_second_wire_is_chosen_scaled_and_filmed_beside_the_first(page: Any, server: Server) -> None:
    page.click("[data-wire='2'] .q-select")
    page.click(".q-menu >> text=very soft")
    page.wait_for_function("document.querySelector('[data-lane=\"2\"]').innerText.includes('very soft, as designed')")
    second = page.get_by_role("group", name="wire 2", exact=True)
    second.get_by_text("scale it to a tip load").click()
    typed = second.get_by_label("tip load, typed")
    typed.fill("0.5")
    typed.press("Enter")
    page.wait_for_function("document.querySelector('[data-lane=\"2\"]').innerText.includes('scaled to 0.5 gf')")
    second.get_by_role("slider", name="tip load").focus()
    page.keyboard.press("ArrowRight")
    page.wait_for_function("document.querySelector('[data-lane=\"2\"]').innerText.includes('scaled to 0.6 gf')")
    assert page.locator("[data-lane='1']").inner_text().startswith("workhorse, as designed")
    page.click("[data-do=advance]")
    wait_for_feed(page, 1.0)
    names = save(page, server, 2)
    records = [load(server.folder / name.replace(".csv", ".nc")) for name in names]
    assert len(records[0].feed) == len(records[1].feed)
    assert records[0].case.profile.name != records[1].case.profile.name
    for button, end in (("film", ".mp4"), ("film-both", "_and_2.mp4")):
        made = names[0].replace(".csv", end)
        with page.expect_download(timeout=5 * LONG) as download:
            page.locator(f"[data-do={button}]").first.click()
        assert download.value.suggested_filename == made
        assert Path(download.value.path()).read_bytes()[4:8] == b"ftyp"
        assert (server.folder / made).exists()
    assert page.errors == []


def test_a_tab_that_closes_while_it_films_leaves_nothing_half_written(server: Server, browser: Any) -> None:
    page = open_page(server, browser)
    page.click("[data-do=advance]")
    wait_for_feed(page, 1.0)
    save(page, server)
    page.click("[data-do=film]")
    until(lambda: list(server.folder.glob(".*.part")) != [], 300.0)
    page.close()
    until(lambda: list(server.folder.glob(".*.part")) == [], 120.0)
    until(lambda: "film" not in family(server.process.pid).values(), 120.0)


def test_two_tabs_each_have_their_own_bench_and_a_closed_one_leaves_nothing(server: Server, browser: Any) -> None:
    one, other = open_page(server, browser), open_page(server, browser)
    one.click("[data-do=advance]")
    wait_for_feed(one, 1.0)
    assert fed(other) == 0.0
    other.click("[data-do=keep]")
    other.wait_for_function(f"{STATUS}.startsWith('advancing')")
    there = set(server.workers())
    other.close()
    until(lambda: len(there - set(server.workers())) == 1, 120.0)
    one.click("[data-do=advance]")
    wait_for_feed(one, 2.0)
    one.close()


def test_a_crash_of_the_solver_is_said_and_there_is_a_way_on(page: Any, server: Server) -> None:
    page.click("[data-do=advance]")
    wait_for_feed(page, 1.0)
    kill_all_that_solve(page, server)
    start_again(page)
    kill_all_that_solve(page, server)  # before it has repeated anything
    start_again(page)
    wait_for_feed(page, 0.8)
    page.click("[data-do=keep]")
    page.wait_for_function(f"{FED} >= 2")
    kill_all_that_solve(page, server)
    start_again(page)
    page.wait_for_function(f"{STATUS}.startsWith('at rest') && {FED} >= 1.9")
    reached = fed(page)
    page.click("[data-do=advance]")
    wait_for_feed(page, round(reached + 1.0, 1))
    assert page.errors == []


def kill_all_that_solve(page: Any, server: Server) -> None:
    """Those of tabs, whatever they are doing, and the one that waits for a tab to come."""
    for pid in server.workers():
        os.kill(pid, signal.SIGKILL)
    page.wait_for_selector("[data-level=crash] >> text=Way on")


def start_again(page: Any) -> None:
    page.click("[data-do=restart]")
    page.wait_for_selector("[data-level=crash]", state="detached")


@pytest.mark.parametrize(
    "headers",
    [
        {"Host": "evil.example"},
        {"Host": "evil.example:{port}"},
        {"Host": "127.0.0.1:{port}", "Origin": "http://evil.example"},
    ],
)
@pytest.mark.parametrize("path", ["/", "/_nicegui_ws/socket.io/?EIO=4&transport=websocket", "/no/such"])
def test_foreign_hosts_and_origins_are_refused(server: Server, headers: dict[str, str], path: str) -> None:
    socket = {"Connection": "Upgrade", "Upgrade": "websocket", "Sec-WebSocket-Version": "13"}
    more = {**socket, "Sec-WebSocket-Key": "dGhlIHNhbXBsZSBub25jZQ=="} if "websocket" in path else {}
    connection = http.client.HTTPConnection("127.0.0.1", server.port, timeout=30)
    connection.putrequest("GET", path, skip_host=True)
    for name, value in {**headers, **more}.items():
        connection.putheader(name, value.format(port=server.port))
    connection.endheaders()
    assert connection.getresponse().status == 403
    connection.close()


@pytest.mark.parametrize(
    "path", ["/_nicegui/anything", "/_nicegui/1/components/none.js", "/_nicegui_ws/none", "/no/such"]
)
def test_paths_that_are_no_part_of_the_page_are_not_found(server: Server, path: str) -> None:
    connection = http.client.HTTPConnection("127.0.0.1", server.port, timeout=30)
    connection.request("GET", path)
    assert connection.getresponse().status == 404
    connection.close()


def test_files_are_written_into_the_folder_only(server: Server) -> None:
    names = {path.name for path in server.folder.iterdir()}
    assert all(
        re.fullmatch(r"insertion_\d{3}_wire_\d\.(nc|csv)|insertion_\d{3}_wire_1(_and_2)?\.mp4", name) for name in names
    ), names
    assert subprocess.run(["git", "status", "--porcelain", ".nicegui"], capture_output=True).stdout == b""
