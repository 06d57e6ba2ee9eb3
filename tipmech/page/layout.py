"""The page: what stands on it, where, and which control asks the tab for what."""

import asyncio
from collections.abc import Callable
from functools import partial
from pathlib import Path
from typing import Any

from nicegui import ui

from .. import CAUTION
from .board import Board, Words
from .controls import SHARED, STEP_MM, STROKE, TURN, Setting
from .dial import Dial
from .drawing import Drawing
from .keyboard import Keyboard
from .keys import KEYS
from .lane_view import COLOURS, EnergyTable, LaneView
from .lesson_view import LessonView
from .looks import SCREEN_BOX, screen_shapes
from .process import Process
from .space_view import SpaceView
from .tab import Tab
from .wire_view import WireView

STYLE = Path(__file__).with_name("layout.css").read_text(encoding="utf-8")
TURN_COUNT = 5  # increments of a turn by the button: 15 degrees
OWN_LOADS_AFTER = 4.0  # s: after the first pictures
INVENTED = "Wires, vessel and tear are invented."


class Page:
    """A tab's page; shows what its tab hears (`tab.View`).

    Parameters
    ----------
    folder : Path
        where records and films go
    take_worker : callable
        gives a process that solves
    refused : callable
        asked once the browser has opened its socket (whoever only asks for the page costs nothing): why there is no
        process for this tab, or None
    """

    def __init__(self, folder: Path, take_worker: Callable[[], Process], refused: Callable[[], str | None]) -> None:
        self.tab = Tab(self, folder, take_worker)
        self._client = ui.context.client
        self._refused = refused
        self._client.on_connect(self._connected)
        self._client.on_delete(self.tab.close)
        self._folder = folder
        self._lay_out()
        ui.timer(OWN_LOADS_AFTER, self._ask_own_loads, once=True)

    def _connected(self) -> None:
        """The browser is there, or there again."""
        if self.tab.started:
            return
        if (reason := self._refused()) is not None:
            self.say("note", reason)
            return
        self.tab.start()

    def _lay_out(self) -> None:
        ui.colors(**COLOURS)
        ui.add_css(STYLE)
        keyboard = Keyboard(self._asked, lambda: self.tab.push(None))
        self._client.on_disconnect(keyboard.let_go)
        self._board = board = Board()
        with ui.element("header").classes("top"):
            with ui.element("h1"):
                ui.label("tipmech lab: a wire tip at a dissected wall")
            ui.label(f"{CAUTION} {INVENTED}").classes("caution").props('role="note"')
        with ui.element("div").classes("page") as self._page:
            self._lesson = LessonView(board, self._set_up)
            with ui.element("div").classes("work"):
                self._messages = ui.element("div").props('role="alert"')
                self._hand()
                with ui.element("div").classes("lanes"):
                    self._lanes = [LaneView(board, k, self.tab.painted if k == 1 else None) for k in (1, 2)]
                self._lanes[1].root.set_visibility(False)
            with ui.element("div").classes("set"):
                self._controls()
            with ui.element("div").classes("views"):
                self._space = SpaceView(board, self.tab)
                self._beside()

    def _controls(self) -> None:
        with ui.element("section").classes("card").props('aria-label="wires"'):
            with ui.element("h2"):
                ui.label("Wires")
            self._wires = [WireView(k, self._wire_set) for k in (1, 2)]
        with ui.element("section").classes("card").props('aria-label="bench"'):
            with ui.element("h2"):
                ui.label("Bench")
            self._dials = {c.name: Dial(c, self._number_set(c.name)) for c in SHARED}
            self._again = ui.checkbox("after a change, make the same moves again", value=True)

    def _hand(self) -> None:
        with ui.element("section").classes("card").props('aria-label="hand"'):
            with ui.element("div").classes("hand"):
                for words, step in (("Advance", "advance"), ("Withdraw", "withdraw")):
                    _button(words, self._stroke(step)).props(f'data-do="{step}"')
                for words, step in (("Turn left 15°", "turn_left"), ("Turn right 15°", "turn_right")):
                    _button(words, partial(self.tab.push, step, TURN_COUNT)).props(f'data-do="{step}"')
                self._keep = _button("Keep advancing", self._keep_or_rest).props('data-do="keep" aria-pressed="false"')
                _button("Back 1 mm", self.tab.back).props('data-do="back"')
                _button("Reset", self.tab.reset).props('data-do="reset"')
            self._status = Words(self._board, "feed 0.0 mm").classes("status").props('data-say="status"')
            self._aloud = Words(self._board).classes("aloud").props('role="status" aria-live="polite" data-say="aloud"')
            with ui.element("div").classes("hand-more"):
                self._stroke_dial = Dial(STROKE, self._stroke_set)
                ui.label(f"Keys: {KEYS}.").classes("hint")

    def _beside(self) -> None:
        with ui.element("div"):
            with ui.element("section").classes("card").props('aria-label="as on a screen"'):
                with ui.element("h2"):
                    ui.label("As on a screen: the wire alone, projected")
                self._screens = [
                    Drawing(self._board, screen_shapes(0.356), f"wire {k} projected", SCREEN_BOX).classes("screen")
                    for k in (1, 2)
                ]
                self._screens[1].set_visibility(False)
                self._view_words = Words(self._board).classes("hint")
                self._view = Dial(TURN, self.tab.look)
            with ui.element("section").classes("card").props('aria-label="energies"'):
                with ui.element("h2"):
                    ui.label("Where the work went (µJ)")
                self._energies = EnergyTable(self._board)
            with ui.element("section").classes("card").props('aria-label="save"'):
                with ui.element("div").classes("hand"):
                    _button("Save record and table", self.tab.save).props('data-do="save"')
                self._saved = ui.element("div").classes("saved").props('data-say="saved"')

    def _stroke_set(self, value: float) -> None:
        """The hand moves in increments: show the length that it takes."""
        self._stroke_dial.set(round(max(1, round(value / STEP_MM)) * STEP_MM, 6))

    def _stroke(self, step: str) -> Callable[[], None]:
        return lambda: self.tab.stroke(step, self._stroke_dial.value)

    def _keep_or_rest(self) -> None:
        self.tab.push(None if self.tab.pushing == "advance" else "advance")

    def _asked(self, what: str) -> None:
        """A key asks for something: a move, which lasts as long as it is held, or something done once."""
        if what in ("reset", "back"):
            getattr(self.tab, what)()
        else:
            self.tab.push(None if what == "rest" else what)

    def _number_set(self, name: str) -> Callable[[float], None]:
        return lambda value: self._set(self.tab.setting.with_number(name, value))

    def _ask_own_loads(self) -> None:
        self.tab.ask_own_loads([wire.preset for view in self._wires if (wire := view.wire) is not None])

    def _wire_set(self) -> None:
        self._ask_own_loads()
        self._set(self.tab.change(wires=tuple(w for view in self._wires if (w := view.wire) is not None)))

    def _set(self, setting: Setting) -> None:
        self.say("input", "")
        self.tab.set(setting, again=self._again.value)

    def _set_up(self, setting: Setting) -> None:
        """Put a step of the lesson in place: the controls show it, nothing is carried out."""
        self.show_setting(setting)
        self.tab.set(setting, again=False)

    def show_setting(self, setting: Setting) -> None:
        """Have the controls show a setting."""
        for name, dial in self._dials.items():
            dial.set(getattr(setting, name))
        for k, view in enumerate(self._wires):
            view.set(setting.wires[k] if k < len(setting.wires) else None)

    def show(self, frame: dict[str, Any]) -> None:
        """Show a frame of the worker."""
        lanes = frame["lanes"]
        two = len(lanes) == 2
        self._page.classes(add="two" if two else "", remove="" if two else "two")
        self._lanes[1].root.set_visibility(two)
        self._screens[1].set_visibility(two)
        for view, screen, data in zip(self._lanes, self._screens, lanes, strict=False):
            view.show(data, frame["number"])
            if data["screen"]:
                screen.draw(data["screen"])
        self._energies.show(lanes)
        self._space.lanes(len(lanes))
        status = _status(frame)
        self._status.say(status)
        self._aloud.say(_aloud(frame, status))
        keeps = frame["pushing"] == "advance"
        self._keep.text = "Rest" if keeps else "Keep advancing"
        self._keep.props(f'aria-pressed="{str(keeps).lower()}"')
        self._view_words.say(frame["view"])
        self._board.send()

    def say(self, level: str, text: str) -> None:
        """Show a message, instead of the one before; an empty text takes it away."""
        self._messages.clear()
        if not text:
            return
        with self._messages, ui.element("div").classes(f"message {level}").props(f'data-level="{level}"'):
            ui.label(text)
            with ui.element("div").classes("hand"):
                if level == "crash":
                    _button("Start it again", self.tab.restart).props('data-do="restart"')
                if level in ("failure", "end"):
                    _button("Back 1 mm", self.tab.back)
                    _button("Reset", self.tab.reset)
                if level == "input":
                    _button("Understood", lambda: self.say("note", ""))

    def picture(self, url: str) -> None:
        """Show a picture of the scene in space."""
        self._space.picture(url)

    def no_picture(self, text: str) -> None:
        """Say why there is none."""
        self._space.say(text)

    def own_loads(self, loads: dict[str, float]) -> None:
        """Show what presets have as designed."""
        for view in self._wires:
            view.own_loads(loads)

    def saved(self, names: list[str]) -> None:
        """Say what was saved, and offer it."""
        self._saved.clear()
        with self._saved:
            ui.label(f"saved in {self._folder}:").classes("hint")
            for name in names:
                with ui.element("div").classes("hand"):
                    _button(f"Download {name}", partial(self._download, name)).props("dense")
                    if name.endswith(".nc"):
                        _button("Film it", partial(self._film, [name])).props('dense data-do="film"')
            records = [name for name in names if name.endswith(".nc")]
            if len(records) > 1:
                _button("Film both side by side", partial(self._film, records)).props('dense data-do="film-both"')

    def _download(self, name: str) -> None:
        with self._client:
            ui.download.file(self._folder / name)

    async def _film(self, names: list[str]) -> None:
        """Have records filmed, then offer the film."""
        with self._saved:
            waiting = ui.label(f"{' and '.join(names)}: being filmed; this takes a while.").classes("hint")
        try:
            made = await self.tab.film(names)
        except RuntimeError as error:
            waiting.text = str(error)
            return
        except asyncio.CancelledError:
            return
        waiting.text = f"filmed: {made}"
        self._download(made)


def _state(frame: dict[str, Any]) -> str:
    """What the hand does, in a word or two."""
    words = {"advance": "advancing", "withdraw": "withdrawing", "turn_left": "turning", "turn_right": "turning"}
    return "repeating" if frame["ahead"] else words.get(frame["pushing"] or "", "at rest")


def _status(frame: dict[str, Any]) -> str:
    """What the hand does and has done."""
    left = f": {frame['ahead']} increments left" if frame["ahead"] else ""
    turned = f", turned {frame['turn_deg']:.0f}°" if frame["turn_deg"] else ""
    return f"{_state(frame)}{left}; feed {frame['feed_mm']:.1f} mm, travel {frame['travel_mm']:.1f} mm{turned}"


def _aloud(frame: dict[str, Any], status: str) -> str:
    """What is read aloud: while the hand moves, words that change seldom; at rest, status and states as they stand."""
    rests = _state(frame) == "at rest"
    states = [lane["regime"] if rests else lane["regime"].split(";")[0] for lane in frame["lanes"]]
    if len(states) > 1:
        states = [f"Wire {k}: {state}" for k, state in enumerate(states, start=1)]
    return " ".join([f"{status if rests else _state(frame)}.", *states])


def _button(words: str, act: Callable[[], Any]) -> ui.button:
    """A button in plain words."""
    return ui.button(words, on_click=act).props("no-caps unelevated outline")
