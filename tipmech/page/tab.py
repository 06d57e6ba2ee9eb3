"""One tab of the page: its processes, what it asks them, and what it shows of their answers."""

import asyncio
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from time import monotonic
from typing import Any, Protocol

from .controls import STEP_MM, Setting
from .process import Process

TAKEN_ANYWAY = 1.0  # s after which a frame counts as drawn, should the browser not say so (a tab in the background)
CRASHED = "The solver's process has ended unexpectedly. Way on: start it again, up to before the last increment."


class View(Protocol):
    """What a tab needs of its page."""

    def show(self, frame: dict[str, Any]) -> None:
        """Show a frame of the worker."""

    def say(self, level: str, text: str) -> None:
        """Show a message: `failure`, `input`, `end`, `note`; an empty text takes it away."""

    def picture(self, url: str) -> None:
        """Show a picture of the scene in space."""

    def no_picture(self, text: str) -> None:
        """Say why there is no picture."""

    def saved(self, names: list[str]) -> None:
        """Say what was saved, and offer it."""

    def own_loads(self, loads: dict[str, float]) -> None:
        """Tip loads of presets as designed, gf."""

    def show_setting(self, setting: Setting) -> None:
        """Have the controls show a setting: one that was asked for was refused."""


class Tab:
    """A tab's bench: a process that solves and, while it is wanted, one that draws in space.

    Parameters
    ----------
    view : View
        what shows it
    folder : Path
        where records and films go
    take_worker : callable
        gives a process that solves
    """

    def __init__(self, view: View, folder: Path, take_worker: Callable[[], Process]) -> None:
        self._view, self.folder, self._take_worker = view, folder, take_worker
        self.setting = self._accepted = Setting()
        self._waiting: dict[int, Setting] = {}
        self.pushing: str | None = None
        self._worker: Process | None = None
        self._space: Process | None = None
        self._made: list[list[Any]] = []
        self._asked = self._restored = 0
        self._heard_number, self._shown_number, self._shown_at = 0, 0, 0.0
        self._space_of, self._space_busy = 0, False
        self._row: dict[str, Any] | None = None
        self._cases: list[str] = []
        self._films: set[asyncio.Task[str]] = set()
        self._closed = self.started = False

    def start(self) -> None:
        """Take a worker and listen to it."""
        self.started = True
        self._heard_number = self._shown_number = 0
        self._worker = self._take_worker()
        self._worker.listen(self._heard, self._ended)

    def close(self) -> None:
        """End the tab's processes, whatever they are doing."""
        self._closed = True
        for process in (self._worker, self._space):
            if process is not None:
                process.stop()
        self._worker = self._space = None
        for film in self._films:
            film.cancel()

    def _send(self, **command: Any) -> None:
        if self._worker is not None:
            self._worker.send(**command)

    def set(self, setting: Setting, *, again: bool) -> None:
        """Ask for another setting."""
        self.setting = setting
        self._asked += 1
        self._waiting[self._asked] = setting
        self._send(do="set", setting=setting.plain(), again=again, asked=self._asked)

    def push(self, step: str | None, count: int | None = None) -> None:
        """Push until told otherwise, for a number of increments, or (None) rest."""
        self.pushing = step
        self._send(do="push", step=step, count=count)

    def stroke(self, step: str, length_mm: float) -> None:
        """Push for a length."""
        self.push(step, max(1, round(length_mm / STEP_MM)))

    def reset(self) -> None:
        """The wires as laid."""
        self._view.say("note", "")
        self._send(do="reset")

    def back(self) -> None:
        """Take the last millimetre back."""
        self._view.say("note", "")
        self._send(do="back")

    def look(self, lao_deg: float) -> None:
        """Turn the screen's direction of view."""
        self._asked += 1
        self._send(do="view", lao_deg=lao_deg, asked=self._asked)

    def save(self) -> None:
        """Save record and table of what was carried out."""
        self._send(do="save")

    def ask_own_loads(self, presets: list[str]) -> None:
        """Ask for tip loads of presets as designed."""
        self._send(do="own_loads", presets=presets)

    def painted(self, number: int) -> None:
        """A frame has been drawn in the browser."""
        number = min(number, self._heard_number)  # the worker before had numbers of its own
        self._shown_number, self._shown_at = max(self._shown_number, number), monotonic()
        self._send(do="taken", number=self._shown_number)

    def restart(self) -> None:
        """After a crash: a new worker goes on from before the last increment."""
        if self._made:
            *before, (step, count) = self._made
            self._made = [*before, [step, count - 1]] if count > 1 else before
        self.start()
        self._view.say("note", "")
        self._waiting.clear()
        self._show_accepted()
        self._asked += 1
        self._restored = self._asked
        self._send(do="restore", setting=self.setting.plain(), made=self._made, asked=self._restored)
        if self._space is not None:
            self._send(do="solid", on=True)

    def _heard(self, message: dict[str, Any]) -> None:
        """Show what the worker says."""
        kind = message["kind"]
        if kind == "frame":
            self.pushing, self._heard_number = message["pushing"], message["number"]
            if message["asked"] >= self._restored and (message["made"] or not message["ahead"]):
                self._made = message["made"]  # else a crash before all is repeated would lose what was there
            self._carried_out(message["asked"])
            if monotonic() - self._shown_at > TAKEN_ANYWAY:
                self._send(do="taken", number=message["number"])
            self._view.show(message)
            self._to_space(message)
        elif kind == "message":
            self._view.say(message["level"], message["text"])
            if message["level"] == "input":
                self._refused(message.get("asked", 0))
        elif kind == "saved":
            self._view.saved(message["names"])
        elif kind == "own_loads":
            self._view.own_loads(message["loads"])

    def _carried_out(self, asked: int) -> None:
        """The bench has the last setting asked for up to this one."""
        for number in [number for number in self._waiting if number <= asked]:
            self._accepted = self._waiting.pop(number)

    def _refused(self, asked: int) -> None:
        """Back to the bench's own setting, unless another one is still on its way."""
        for number in [number for number in self._waiting if number <= asked]:
            del self._waiting[number]  # also those that it overtook (`worker.latest`)
        if not self._waiting:
            self._show_accepted()

    def _show_accepted(self) -> None:
        """Have the controls show the bench's own setting."""
        if self.setting != self._accepted:
            self.setting = self._accepted
            self._view.show_setting(self.setting)

    def _ended(self) -> None:
        """The worker is gone though nobody asked it to."""
        if not self._closed:
            self._worker, self.pushing = None, None
            self._view.say("crash", CRASHED)

    def space(self, on: bool) -> None:
        """Start or end the drawing in space."""
        if on and self._space is None and self.started:
            self._space = Process("space")
            self._space_busy = False
            self._space.listen(self._drawn, self._space_ended)
        elif not on and self._space is not None:
            self._space.stop()
            self._space = None
        self._send(do="solid", on=on)

    def space_of(self, lane: int) -> None:
        """Draw another wire (0 or 1) in space."""
        self._space_of = lane
        self._send(do="solid", on=self._space is not None)

    def turn_space(self, azimuth: float, elevation: float, zoom: float) -> None:
        """Turn the view in space."""
        if self._space is not None:
            self._space.send(do="turn", azimuth=azimuth, elevation=elevation, zoom=zoom)

    def _to_space(self, frame: dict[str, Any]) -> None:
        """Hand the last row on, unless the one before is still being drawn: then when it is."""
        rows = frame.get("rows")
        if self._space is None or rows is None:
            return
        lane = min(self._space_of, len(rows) - 1)
        if frame["cases"] is not None:
            self._space.send(do="case", case=frame["cases"][lane])
        self._row = rows[lane]
        if not self._space_busy:
            self._hand_on()

    def _hand_on(self) -> None:
        if self._space is not None and self._row is not None:
            self._space_busy = True
            self._space.send(do="row", row=self._row)
            self._row = None

    def _drawn(self, message: dict[str, Any]) -> None:
        self._space_busy = False
        if message["kind"] == "picture":
            self._view.picture(f"data:image/jpeg;base64,{message['jpeg']}")
        else:
            self._view.no_picture(message["text"])
        self._hand_on()

    def _space_ended(self) -> None:
        self._space = None
        self._view.no_picture("The process that draws in space has ended; switch it off and on to start it again.")

    def change(self, **values: Any) -> Setting:
        """The setting with values changed."""
        return replace(self.setting, **values)

    async def film(self, names: list[str]) -> str:
        """Have a record of the folder, or two side by side, filmed by a process of its own, which ends with the tab;
        returns the film's name.

        Raises
        ------
        RuntimeError
            with what went wrong
        """
        film = asyncio.create_task(_filmed(Process("film", *names, folder=self.folder)))
        self._films.add(film)
        try:
            return await film
        finally:
            self._films.discard(film)


async def _filmed(process: Process) -> str:
    """Wait for the film of a process; returns its name."""
    done: asyncio.Future[str] = asyncio.get_running_loop().create_future()

    def heard(message: dict[str, Any]) -> None:
        if done.done():
            return
        if message["kind"] == "film":
            done.set_result(message["name"])
        else:
            done.set_exception(RuntimeError(message["text"]))

    def ended() -> None:
        if not done.done():
            done.set_exception(RuntimeError("the film's process ended before it was done"))

    process.listen(heard, ended)
    try:
        return await done
    finally:
        process.stop()
