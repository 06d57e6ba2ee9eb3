"""A slider that can be read aloud: name, value and range stand on the part of it that takes the focus."""

from nicegui.elements.mixins.disableable_element import DisableableElement
from nicegui.elements.mixins.value_element import ValueElement
from nicegui.events import Handler, ValueChangeEventArguments

from .controls import Control

THROTTLE = 0.05  # s between values that the browser sends while it is drawn, as the framework's own


class Slider(ValueElement[float | None], DisableableElement, component="slider.js"):
    """The slider of a control.

    Parameters
    ----------
    control : Control
        its name, range, step, unit and start
    on_change : callable
        called with the framework's event of each new value
    """

    def __init__(self, control: Control, on_change: Handler[ValueChangeEventArguments[float | None]]) -> None:
        super().__init__(value=control.start, on_value_change=on_change, throttle=THROTTLE)
        self.props["min"], self.props["max"], self.props["step"] = control.low, control.high, control.step
        self.props["label"], self.props["unit"] = control.words, control.unit
        self.props(f'dense data-control="{control.name}"')
