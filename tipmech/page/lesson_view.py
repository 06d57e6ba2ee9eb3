"""The lesson on the page: one step at a time, set up by a button."""

from collections.abc import Callable

from nicegui import ui

from .board import Board, Words
from .controls import Setting
from .lesson import STEPS


class LessonView:
    """The lesson.

    Parameters
    ----------
    board : Board
        what takes what is read aloud
    on_set_up : callable
        called with the setting of a step
    """

    def __init__(self, board: Board, on_set_up: Callable[[Setting], None]) -> None:
        self._at, self._board, self._on_set_up = 0, board, on_set_up
        with ui.element("section").classes("card lesson").props('aria-label="lesson"'):
            with ui.element("h2"):
                self._title = ui.label().props('data-say="lesson"')
            self._text, self._ask, self._do, self._watch = (ui.label().classes("row") for _ in range(4))
            self._aloud = (
                Words(board).classes("aloud").props('role="status" aria-live="polite" data-say="lesson-aloud"')
            )
            with ui.element("div").classes("hand"):
                for words, act, name in (
                    ("Set it up", self._set_up, "set-up"),
                    ("Before", lambda: self._go(-1), "before"),
                    ("Next", lambda: self._go(1), "next"),
                ):
                    ui.button(words, on_click=act).props(f'no-caps unelevated outline dense data-do="{name}"')
        self._show()

    def _go(self, by: int) -> None:
        self._at = min(max(self._at + by, 0), len(STEPS) - 1)
        self._show()
        self._say(f"{self._title.text}. {STEPS[self._at].text} {self._ask.text}")

    def _set_up(self) -> None:
        self._on_set_up(STEPS[self._at].setting)
        self._say(f"Step {self._at + 1} is set up. {self._do.text}")

    def _say(self, text: str) -> None:
        """Have words read aloud."""
        self._aloud.say(text)
        self._board.send()

    def _show(self) -> None:
        step = STEPS[self._at]
        self._title.text = f"Lesson, step {self._at + 1} of {len(STEPS)}: {step.title}"
        self._text.text = step.text
        self._ask.text = f"Ask first: {step.ask}"
        self._do.text = f"Do: {step.do}"
        self._watch.text = f"Watch: {step.watch}"
