"""The view in three dimensions: pictures of a process that draws, turned by buttons."""

from typing import Any

from nicegui import ui

from .board import Board, Picture, Words
from .looks import SPACE_SIZE
from .tab import Tab

TURN_DEG, LARGER, LARGEST, STEEPEST = 15.0, 1.25, 4.0, 75.0


class SpaceView:
    """The view in three dimensions, with its buttons.

    Parameters
    ----------
    board : Board
        what takes its changes
    tab : Tab
        whose wire is drawn
    """

    def __init__(self, board: Board, tab: Tab) -> None:
        self._board = board
        self._tab, self._turned, self._of, self._count = tab, [0.0, 0.0, 1.0], 0, 1
        with ui.element("section").classes("card solid").props('aria-label="in three dimensions"'):
            with ui.element("h2"):
                ui.label("In three dimensions, the wall cut open")
            with ui.element("div").classes("hand"):
                self._on = ui.switch("draw", value=True, on_change=self._switched)
                self._on.props('data-do="space"')
                for words, change in (
                    ("Left", (TURN_DEG, 0.0, 1.0)),
                    ("Right", (-TURN_DEG, 0.0, 1.0)),
                    ("Up", (0.0, TURN_DEG, 1.0)),
                    ("Down", (0.0, -TURN_DEG, 1.0)),
                    ("Larger", (0.0, 0.0, LARGER)),
                    ("Smaller", (0.0, 0.0, 1.0 / LARGER)),
                ):
                    ui.button(words, on_click=lambda change=change: self._turn(*change)).props(
                        f'no-caps unelevated outline dense data-turn="{words.lower()}"'
                    )
                self._other = ui.button("Other wire", on_click=self._swap).props("no-caps unelevated outline dense")
                self._other.set_visibility(False)
            self._words = Words(board, "The view is being started.").classes("hint").props('data-say="space"')
            self._image = Picture(board, SPACE_SIZE, "wire and wall in space")
        ui.timer(1.0, lambda: tab.space(bool(self._on.value)), once=True)

    def picture(self, url: str) -> None:
        """Show a picture."""
        self._image.show(url)
        self._words.say(f"wire {self._of + 1}; colour: bending strain; flap red, false lumen orange, front black")
        self._board.send()

    def say(self, text: str) -> None:
        """Say why there is no picture."""
        self._words.say(text)
        self._board.send()

    def _switched(self, event: Any) -> None:
        self._tab.space(bool(event.value))
        if not event.value:
            self.say("not drawn")

    def lanes(self, count: int) -> None:
        """There are so many wires."""
        if count == self._count:
            return
        self._count = count
        self._other.set_visibility(count > 1)
        if self._of >= count:
            self._of = 0
        self._tab.space_of(self._of)

    def _swap(self) -> None:
        self._of = 1 - self._of
        self._tab.space_of(self._of)

    def _turn(self, azimuth: float, elevation: float, zoom: float) -> None:
        now = self._turned
        now[0] = (now[0] + azimuth) % 360.0
        now[1] = min(max(now[1] + elevation, -STEEPEST), STEEPEST)
        now[2] = min(max(now[2] * zoom, 1.0 / LARGEST), LARGEST)
        self._tab.turn_space(*now)
