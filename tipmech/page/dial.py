"""A number that is set: a slider and a field to type in, both checked here, whatever the browser sends."""

from collections.abc import Callable
from typing import Any

from nicegui import ui

from ..checks import FieldError
from .controls import Control
from .slider import Slider


class Dial:
    """Slider and number field of a control.

    Parameters
    ----------
    control : Control
        what is set
    on_set : callable
        called with each new value, in range
    """

    def __init__(self, control: Control, on_set: Callable[[float], None]) -> None:
        self.control, self._on_set, self.value = control, on_set, control.start
        self._quiet = False
        with ui.element("div").classes("dial"):
            with ui.element("div").classes("dial-words"):
                ui.label(control.words).classes("dial-name")
                ui.label(control.hint).classes("hint")
            self._slider = Slider(control, self._slid)
            self._field = ui.number(value=control.start, step=control.step).props(
                f'dense outlined suffix="{control.unit}" hide-bottom-space no-error-icon '
                f'input-aria-label="{control.words}, typed" aria-label="{control.words}, typed"'
            )
            self._field.on("change", lambda event: self._typed(event.args))

    def set(self, value: float) -> None:
        """Show a value without reporting it."""
        self.value, self._quiet = value, True
        self._slider.value = value
        self._field.value = value
        self._field.props(remove="error error-message aria-invalid")
        self._quiet = False

    def enable(self, on: bool) -> None:
        """Let it be used or not."""
        for part in (self._slider, self._field):
            part.set_enabled(on)

    def _slid(self, event: Any) -> None:
        if not self._quiet:
            self._take(event.value)

    def _typed(self, text: Any) -> None:
        try:
            value: Any = float(text)
        except (TypeError, ValueError):
            value = text
        self._take(value)

    def _take(self, value: Any) -> None:
        """Take a value that came from the browser."""
        try:
            number = self.control.check(value)
        except FieldError as error:
            self._field.props["error"] = True
            self._field.props["aria-invalid"] = "true"
            self._field.props["error-message"] = f"allowed: {error.allowed}"
            self._field.update()
            return
        changed = number != self.value
        self.set(number)
        if changed:
            self._on_set(number)
